// A recording as a sensor source: its packets, marks and lost links at their times, at the speed of the given clock.

import type { Said } from '../../../shared/said.ts';
import type { ProcessMs } from '../../../shared/units.ts';
import { processMs } from '../../../shared/units.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { SensorListener, SensorSource, SensorStatus } from '../../base/ports/sensor-source.ts';
import type { Recording, RecordingEvent } from './recording.ts';

export interface ReplaySourceOptions {
  /** At another speed, give a `scaledClock`. */
  readonly clock: Clock;
  readonly recording: Recording;
}

const tickEveryMs = 20;
const isSame = (one: Said | null, other: Said | null): boolean =>
  JSON.stringify(one) === JSON.stringify(other);

/**
 * Begins at `sessionStarted` (and anew at each) and says `finished` once when the recording's time is over. An event's
 * time is its time in the recording after the session's start, never later than the clock's now.
 */
export class ReplaySource implements SensorSource {
  readonly source = 'replay' as const;
  readonly #clock: Clock;
  readonly #recording: Recording;
  #listener: SensorListener | undefined;
  #startedAtMs: ProcessMs | undefined;
  #events: Iterator<RecordingEvent> | undefined;
  #next: RecordingEvent | undefined;
  #statuses = new Map<string, SensorStatus>();
  #stopTicking: (() => void) | undefined;
  /** Told apart from a play begun anew while a listener is being called. */
  #play = 0;

  constructor(options: ReplaySourceOptions) {
    this.#clock = options.clock;
    this.#recording = options.recording;
  }

  async start(listener: SensorListener): Promise<void> {
    this.#listener = listener;
    for (const sensor of this.#recording.sensors) this.#change(sensor.sensorId, 'connected', null);
    listener.sourceNotices(this.#recording.notices);
    this.#stopTicking = this.#clock.every(tickEveryMs, () => this.deliverUntil(this.#clock.nowMs()));
  }

  async stop(): Promise<void> {
    this.#stopTicking?.();
    this.#stopTicking = undefined;
    this.#endPlay();
    if (this.#listener !== undefined) {
      for (const sensor of this.#recording.sensors) this.#change(sensor.sensorId, 'off', null);
    }
    this.#listener = undefined;
  }

  sessionStarted(startedAtMs: ProcessMs): void {
    if (this.#listener === undefined) return;
    this.#endPlay();
    this.#startedAtMs = startedAtMs;
    this.#events = this.#recording.events()[Symbol.iterator]();
    this.#advanceToNext();
    for (const sensor of this.#recording.sensors) this.#change(sensor.sensorId, 'connected', null);
  }

  sessionEnded(): void {
    this.#endPlay();
  }

  #endPlay(): void {
    this.#play += 1;
    this.#events?.return?.();
    this.#events = undefined;
    this.#next = undefined;
    this.#startedAtMs = undefined;
  }

  #advanceToNext(): void {
    const result = this.#events?.next();
    this.#next = result === undefined || result.done === true ? undefined : result.value;
  }

  deliverUntil(untilMs: ProcessMs): void {
    const startedAtMs = this.#startedAtMs;
    const play = this.#play;
    if (startedAtMs === undefined) return;
    const nowMs = untilMs - startedAtMs;
    while (this.#next !== undefined && this.#next.atMs <= nowMs) {
      const event = this.#next;
      this.#advanceToNext();
      this.#deliver(event, processMs(startedAtMs + event.atMs));
      // The listener may have ended the session or stopped this source.
      if (this.#play !== play) return;
    }
    if (this.#next === undefined && nowMs >= this.#recording.durationMs) {
      this.#endPlay();
      this.#listener?.finished?.();
    }
  }

  #deliver(event: RecordingEvent, receivedAtMs: ProcessMs): void {
    const listener = this.#listener;
    if (listener === undefined) return;
    switch (event.type) {
      case 'packet': {
        const { sensorId, characteristic, bytes, lateByMs } = event;
        const packet = { sensorId, characteristic, bytes };
        if (lateByMs === undefined) listener.packet({ ...packet, receivedAtMs });
        else listener.packet({ ...packet, receivedAtMs: processMs(receivedAtMs - lateByMs), isLate: true });
        return;
      }
      case 'mark':
        listener.mark?.({ athleteHint: event.athleteId, kind: event.kind, receivedAtMs, text: event.text });
        return;
      case 'worn': {
        const { sensorId, athleteId: athleteHint } = event;
        listener.worn?.({ sensorId, athleteHint, receivedAtMs });
        return;
      }
      case 'link':
        this.#change(event.sensorId, event.link, event.detail, receivedAtMs);
        return;
    }
  }

  #change(sensorId: string, link: SensorStatus['link'], detail: Said | null, atMs?: ProcessMs): void {
    const before = this.#statuses.get(sensorId);
    const sensor = this.#recording.sensors.find((candidate) => candidate.sensorId === sensorId);
    if (sensor === undefined || (before?.link === link && isSame(before.detail, detail))) return;
    const status: SensorStatus = {
      sensorId,
      name: sensor.name,
      kinds: [...sensor.kinds],
      source: 'replay',
      link,
      detail,
      batteryPercent: null,
      rssiDbm: null,
    };
    this.#statuses.set(sensorId, status);
    this.#listener?.sensorChanged(status, atMs);
  }
}
