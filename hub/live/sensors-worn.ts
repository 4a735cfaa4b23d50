// Who of a session wore each sensor when, as the session goes: for packets that come long after they were sent.

import type { MonotonicMs } from '../../shared/units.ts';

/** Nobody of the session: null. */
type Wearer = string | null;

export class SensorsWorn {
  readonly #changes = new Map<string, { readonly fromMs: number; readonly wearer: Wearer }[]>();

  /** From `fromMs` on `now` wears the sensor, whom `before` wore until then. Called in order of time. */
  change(sensorId: string, fromMs: MonotonicMs, before: Wearer, now: Wearer): void {
    const known = this.#changes.get(sensorId) ?? [{ fromMs: Number.NEGATIVE_INFINITY, wearer: before }];
    this.#changes.set(sensorId, [...known, { fromMs, wearer: now }]);
  }

  /** Undefined for a sensor that has not changed hands: whoever wears it has worn it throughout. */
  at(sensorId: string, atMs: MonotonicMs): Wearer | undefined {
    return this.#changes.get(sensorId)?.findLast(({ fromMs }) => fromMs <= atMs)?.wearer;
  }
}
