// What a plan's run must hear of one athlete: from the hub's events to the run's, told only when something has changed.

import type { PlanRunEvent } from '../../shared/plan-run.ts';
import type { AlarmKind } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { ActiveAlarm } from '../../src/alarms/alarm.ts';
import {
  newRecoveryWatch,
  type RecoveryChannel,
  stepRecoveryWatch,
  vitalsOf,
} from '../../src/plans/recovery-watch.ts';
import type { Sample } from '../../src/samples/sample.ts';
import type { SessionHold } from '../live/live-event.ts';

/** The finger's lowest reading of a hold can come this long after it. */
const lowestWithinMs = 60_000;

/** A hold under its id in the run, with its times in run time. */
export interface RunHold {
  readonly holdId: string;
  readonly startedAtMs: MonotonicMs;
  readonly endedAtMs: MonotonicMs | null;
  readonly live: SessionHold;
}

export interface WatchedAthleteParts {
  readonly athleteId: string;
  readonly push: (event: PlanRunEvent) => void;
  /** The athlete's floor now; null when it is not known. */
  readonly floorSpo2Percent: () => number | null;
}

/** All times are the run's. */
export class WatchedAthlete {
  readonly #parts: WatchedAthleteParts;
  readonly #holds = new Map<string, RunHold>();
  #recovery = newRecoveryWatch;
  #toldVitals = JSON.stringify(vitalsOf(newRecoveryWatch));
  #toldAlarms: readonly AlarmKind[] = [];
  /** The last hold that ended, while its lowest reading may still come. */
  #last: {
    readonly hold: RunHold;
    readonly endedAtMs: MonotonicMs;
    lowestSpo2Percent: number | null;
  } | null = null;

  constructor(parts: WatchedAthleteParts) {
    this.#parts = parts;
  }

  time(atMs: MonotonicMs): void {
    this.#recovery = stepRecoveryWatch(this.#recovery, { type: 'time', atMs });
    this.#tellVitals(atMs);
  }

  /** A sample of good quality, read at `readAtMs`. */
  reading(channel: RecoveryChannel, { value }: Sample, readAtMs: MonotonicMs, nowMs: MonotonicMs): void {
    if (channel === 'saturation') this.#noteLowest(value, nowMs);
    this.#recovery = stepRecoveryWatch(this.#recovery, { type: 'reading', channel, atMs: readAtMs, value });
    this.#tellVitals(nowMs);
  }

  alarms(alarms: readonly ActiveAlarm[], atMs: MonotonicMs): void {
    const present = [
      ...new Set(alarms.filter((alarm) => alarm.conditionPresent).map((alarm) => alarm.kind)),
    ].toSorted();
    if (present.join() === this.#toldAlarms.join()) return;
    this.#toldAlarms = present;
    this.#parts.push({ type: 'alarms', atMs, athleteId: this.#parts.athleteId, present });
  }

  hold(hold: RunHold, atMs: MonotonicMs): void {
    const { athleteId, push } = this.#parts;
    const { holdId, startedAtMs, endedAtMs } = hold;
    const before = this.#holds.get(holdId);
    this.#holds.set(holdId, hold);
    if (before === undefined) {
      this.#recovery = stepRecoveryWatch(this.#recovery, { type: 'holdStarted', atMs });
      push({
        type: 'holdStarted',
        atMs,
        athleteId,
        holdId,
        startedAtMs,
        source: hold.live.hold.start.source,
      });
    }
    if (endedAtMs !== null && (before === undefined || before.endedAtMs === null)) {
      this.#recovery = stepRecoveryWatch(this.#recovery, { type: 'holdEnded', atMs });
      const lowestSpo2Percent = hold.live.lowestSpo2?.value ?? null;
      this.#last = { hold, endedAtMs, lowestSpo2Percent };
      this.#pushEnded(hold, endedAtMs, lowestSpo2Percent, atMs);
      return;
    }
    if (before !== undefined && (before.startedAtMs !== startedAtMs || before.endedAtMs !== endedAtMs))
      push({ type: 'holdRevised', atMs, athleteId, holdId, startedAtMs, endedAtMs });
  }

  holdWithdrawn(holdId: string, atMs: MonotonicMs): void {
    const before = this.#holds.get(holdId);
    if (before === undefined) return;
    this.#holds.delete(holdId);
    if (before.endedAtMs === null) this.#recovery = { ...this.#recovery, holding: false };
    this.#parts.push({ type: 'holdWithdrawn', atMs, athleteId: this.#parts.athleteId, holdId });
  }

  /** The lowest reading of a hold comes after it: told again when it is lower by a whole point. */
  #noteLowest(spo2Percent: number, atMs: MonotonicMs): void {
    const last = this.#last;
    if (last === null) return;
    if (atMs - last.endedAtMs > lowestWithinMs || this.#recovery.holding) {
      this.#last = null;
      return;
    }
    if (last.lowestSpo2Percent !== null && spo2Percent > last.lowestSpo2Percent - 1) return;
    last.lowestSpo2Percent = spo2Percent;
    const hold = this.#holds.get(last.hold.holdId) ?? last.hold;
    this.#pushEnded(hold, last.endedAtMs, spo2Percent, atMs);
  }

  #pushEnded(
    { holdId, live }: RunHold,
    endedAtMs: MonotonicMs,
    lowestSpo2Percent: number | null,
    atMs: MonotonicMs,
  ): void {
    const { athleteId, push } = this.#parts;
    const source = live.hold.end?.source ?? 'detected';
    const floorSpo2Percent = this.#parts.floorSpo2Percent();
    push({
      type: 'holdEnded',
      atMs,
      athleteId,
      holdId,
      endedAtMs,
      source,
      lowestSpo2Percent,
      floorSpo2Percent,
    });
  }

  #tellVitals(atMs: MonotonicMs): void {
    const vitals = vitalsOf(this.#recovery);
    const text = JSON.stringify(vitals);
    if (text === this.#toldVitals) return;
    this.#toldVitals = text;
    this.#parts.push({ type: 'vitals', atMs, athleteId: this.#parts.athleteId, ...vitals });
  }
}

/** A time of the run, never before its beginning. */
export const runTime = (ms: number): MonotonicMs => monotonicMs(Math.max(0, ms));
