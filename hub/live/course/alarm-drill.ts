// An alarm drill: a test alarm marked as a drill, on every page and output, until a person ends it; who acknowledged it and
// how long that took is kept. It gives way to everything real: a real alarm or a hold that begins ends it at once.

import type { Drill } from '../../../shared/course.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { Refusal } from '../../base/refusal.ts';
import type { LiveEvent } from '../live-event.ts';
import { refusals } from '../refusals.ts';

/** A drill nobody ends is over. Our choice: long enough to walk over to a device. */
const longestMs = 180_000;
const mostAcknowledgements = 64;

export interface AlarmDrillParts {
  readonly clock: Pick<Clock, 'wallNowMs' | 'nowMs' | 'after'>;
  readonly makeId: () => string;
  readonly save: (drill: Drill) => void;
  /** Somebody holds or recovers now. */
  readonly somebodyHolds: () => boolean;
  /** A real alarm stands that nobody has acknowledged. */
  readonly realAlarmStands: () => boolean;
  readonly changed: () => void;
}

export class AlarmDrill {
  readonly #parts: AlarmDrillParts;
  #current: Drill | null = null;
  #startedAtMs = 0;
  #stopWaiting: () => void = () => undefined;

  constructor(parts: AlarmDrillParts) {
    this.#parts = parts;
  }

  /** The one that goes on. */
  get current(): Drill | null {
    return this.#current;
  }

  /** The hub's own outputs sound it until somebody has acknowledged it, as they would a real alarm. */
  get sounds(): boolean {
    return this.#current !== null && this.#current.acknowledgements.length === 0;
  }

  start(by: string): Result<Drill, Refusal> {
    const { clock, makeId, somebodyHolds, realAlarmStands } = this.#parts;
    if (this.#current !== null) return failed<Refusal>(refusals.drillGoesOn);
    if (realAlarmStands()) return failed<Refusal>(refusals.drillInAlarm);
    if (somebodyHolds()) return failed<Refusal>(refusals.drillInHold);
    const drill: Drill = {
      drillId: makeId(),
      startedWallAtMs: clock.wallNowMs(),
      by,
      endedWallAtMs: null,
      ending: null,
      acknowledgements: [],
    };
    this.#startedAtMs = clock.nowMs();
    this.#stopWaiting = clock.after(longestMs, () => this.end('timeOut'));
    this.#take(drill);
    return ok(drill);
  }

  /** Once for each name. */
  acknowledge(name: string, device: string): Result<true, Refusal> {
    const drill = this.#current;
    if (drill === null) return failed<Refusal>(refusals.noDrill);
    const { acknowledgements } = drill;
    if (acknowledgements.some((one) => one.name === name) || acknowledgements.length >= mostAcknowledgements)
      return ok<true>(true);
    const afterMs = Math.max(0, this.#parts.clock.nowMs() - this.#startedAtMs);
    this.#take({ ...drill, acknowledgements: [...acknowledgements, { name, device, afterMs }] });
    return ok<true>(true);
  }

  /** Answers whether one went on. */
  end(ending: NonNullable<Drill['ending']>): boolean {
    const drill = this.#current;
    if (drill === null) return false;
    this.#stopWaiting();
    this.#current = null;
    this.#parts.changed();
    this.#parts.save({ ...drill, endedWallAtMs: this.#parts.clock.wallNowMs(), ending });
    return true;
  }

  readonly hear = (event: LiveEvent): void => {
    if (this.#current === null) return;
    if (event.type === 'alarms' || event.type === 'supervisionChanged') {
      if (event.alarms.some(({ acknowledged, priority }) => !acknowledged && priority !== 'low'))
        this.end('realAlarm');
    } else if (event.type === 'phase' && event.phase === 'holding') this.end('holdBegan');
    else if (event.type === 'hold' && event.hold.hold.end === undefined) this.end('holdBegan');
  };

  #take(drill: Drill): void {
    this.#current = drill;
    // Told before it is written, as an alarm is.
    this.#parts.changed();
    this.#parts.save(drill);
  }
}
