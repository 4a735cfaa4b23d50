// One athlete of the running session: their pipeline, marks and how their holds felt. Turns what the pipeline answers
// into the hub's events; decides nothing about holds or alarms.

import type { MonotonicMs } from '../../shared/units.ts';
import type { Athlete, HoldFeeling } from '../../shared/views.ts';
import type { ActiveAlarm } from '../../src/alarms/alarm.ts';
import type { HoldEvent } from '../../src/holds/hold.ts';
import type { LiveHold, Pipeline, PipelineEvent, PipelineOutput, PipelineState } from '../../src/pipeline.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { Refusal } from '../base/refusal.ts';
import type { AlarmSound, LiveListener, SessionHold, SessionMark } from './live-event.ts';
import { refusals } from './refusals.ts';
import type { SensorRegistry } from './sensor-registry.ts';

/** What stands now of one athlete. */
export interface AthleteSnapshot extends Omit<PipelineState, 'holds' | 'alarms' | 'sound' | 'floorLocked'> {
  readonly athlete: Athlete;
  readonly holds: readonly SessionHold[];
  readonly marks: readonly SessionMark[];
  readonly alarms: readonly ActiveAlarm[];
  readonly sound: AlarmSound;
}

/** Of a session that another process began: what was told of the athlete. */
export interface ToldBefore {
  readonly marks: readonly SessionMark[];
  readonly feelings: ReadonlyMap<string, HoldFeeling>;
  readonly holds: readonly LiveHold[];
}

const nothingTold: ToldBefore = { marks: [], feelings: new Map(), holds: [] };

export class MonitoredAthlete {
  athlete: Athlete;
  readonly #pipeline: Pipeline;
  readonly #registry: SensorRegistry;
  readonly #publish: LiveListener;
  readonly #marks: SessionMark[] = [];
  readonly #feelings = new Map<string, HoldFeeling>();
  /** The lowest reading of each hold, as last told. */
  readonly #toldLowestPercent = new Map<string, number | undefined>();
  #learntHoldCount: number;

  constructor(
    athlete: Athlete,
    pipeline: Pipeline,
    registry: SensorRegistry,
    publish: LiveListener,
    before: ToldBefore = nothingTold,
  ) {
    this.athlete = athlete;
    this.#pipeline = pipeline;
    this.#registry = registry;
    this.#publish = publish;
    this.#learntHoldCount = pipeline.prior.holdCount;
    this.#marks.push(...before.marks);
    for (const [holdId, feeling] of before.feelings) this.#feelings.set(holdId, feeling);
    for (const { hold, lowestSpo2 } of before.holds)
      this.#toldLowestPercent.set(hold.holdId, lowestSpo2?.value);
  }

  get snapshot(): AthleteSnapshot {
    const { floorLocked: _locked, holds, ...state } = this.#pipeline.state;
    return {
      ...state,
      athlete: this.athlete,
      holds: holds.map((hold) => this.#withFeeling(hold)),
      marks: [...this.#marks],
    };
  }

  get floorLocked(): boolean {
    return this.#pipeline.state.floorLocked;
  }

  push(event: PipelineEvent): void {
    for (const output of this.#pipeline.push(event)) this.#take(output);
  }

  addMark(mark: SessionMark, requestId: string | undefined): void {
    this.#marks.push(mark);
    this.#publish({ type: 'mark', mark, removed: false, atMs: mark.saidAtMs, requestId });
    const { markId, kind, atMs, text } = mark;
    this.push({ type: 'mark', mark: { markId, kind, atMs, ...(text !== undefined && { text }) } });
  }

  markOf(markId: string): SessionMark | undefined {
    return this.#marks.find((mark) => mark.markId === markId);
  }

  removeMark(mark: SessionMark, atMs: MonotonicMs): void {
    this.#marks.splice(this.#marks.indexOf(mark), 1);
    this.#publish({ type: 'mark', mark, removed: true, atMs, requestId: undefined });
    this.push({ type: 'markRemoved', atMs, markId: mark.markId });
  }

  rateHold(holdId: string, feeling: HoldFeeling): Result<true, Refusal> {
    const live = this.#pipeline.state.holds.find(({ hold }) => hold.holdId === holdId);
    if (live === undefined) return failed<Refusal>(refusals.unknownHold);
    if (live.hold.end === undefined) return failed<Refusal>(refusals.holdGoesOn);
    this.#feelings.set(holdId, feeling);
    this.#publishHold(live);
    return ok(true);
  }

  changeSettings(athlete: Athlete, atMs: MonotonicMs): void {
    this.athlete = athlete;
    this.#publish({ type: 'settings', athleteId: athlete.athleteId, atMs, athlete });
    this.push({ type: 'settings', atMs, settings: athlete.settings });
  }

  /** The session is over at `atMs`. */
  end(atMs: MonotonicMs): void {
    this.push({ type: 'sessionEnded', atMs });
    this.#publishLearnt();
  }

  #take(output: PipelineOutput): void {
    const { athleteId } = this.athlete;
    switch (output.type) {
      case 'sample':
        this.#publish({ type: 'sample', athleteId, sample: output.sample });
        if (output.sample.channel === 'spo2Percent') this.#publishFallenHolds();
        return;
      case 'discarded':
        this.#registry.countDiscarded(output.sensorId);
        return;
      case 'battery':
        this.#registry.setBattery(output.sensorId, output.batteryPercent);
        return;
      case 'hold':
        this.#takeHold(output.event);
        return;
      case 'alarms': {
        const { alarms, sound } = this.#pipeline.state;
        const { atMs, ended } = output;
        this.#publish({ type: 'alarms', athleteId, atMs, alarms, ended, sound });
        return;
      }
      case 'forecast':
        this.#publish({ type: 'forecast', athleteId, atMs: output.atMs, forecast: output.forecast });
        return;
      case 'threshold':
      case 'gap':
        // Found again from the stored bytes by whoever reviews; nothing live is made of them.
        return;
    }
  }

  #takeHold(event: HoldEvent): void {
    const { athleteId } = this.athlete;
    switch (event.type) {
      case 'phaseChanged':
        this.#publish({ type: 'phase', athleteId, atMs: event.atMs, phase: event.phase });
        return;
      case 'holdWithdrawn':
        this.#toldLowestPercent.delete(event.holdId);
        this.#feelings.delete(event.holdId);
        this.#publish({ type: 'holdWithdrawn', athleteId, atMs: event.atMs, holdId: event.holdId });
        return;
      case 'holdStarted':
      case 'holdRevised':
      case 'holdEnded': {
        const { hold } = event;
        const live = this.#pipeline.state.holds.find((known) => known.hold.holdId === hold.holdId);
        this.#publishHold({ ...live, hold });
        // A hold teaches once its fall is over, which is known by the next one or the session's end.
        this.#publishLearnt();
        return;
      }
    }
  }

  /** Holds whose lowest reading has fallen since they were last told: finger saturation falls on after the end. */
  #publishFallenHolds(): void {
    for (const live of this.#pipeline.state.holds)
      if (this.#toldLowestPercent.get(live.hold.holdId) !== live.lowestSpo2?.value) this.#publishHold(live);
  }

  /** The one way a hold is told: whole, with everything known of it. */
  #publishHold(live: LiveHold): void {
    this.#toldLowestPercent.set(live.hold.holdId, live.lowestSpo2?.value);
    this.#publish({
      type: 'hold',
      athleteId: this.athlete.athleteId,
      atMs: this.#pipeline.state.atMs,
      hold: this.#withFeeling(live),
    });
  }

  #withFeeling(live: LiveHold): SessionHold {
    const feeling = this.#feelings.get(live.hold.holdId);
    return feeling === undefined ? live : { ...live, feeling };
  }

  #publishLearnt(): void {
    const { prior } = this.#pipeline;
    if (prior.holdCount === this.#learntHoldCount) return;
    this.#learntHoldCount = prior.holdCount;
    this.#publish({ type: 'learnt', athleteId: this.athlete.athleteId, prior });
  }
}
