// The port of an alarm output that is not a page: the hub's loudspeaker, a user's command, a webhook.

import type { Said } from '../../shared/said.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import type { WallMs } from '../../shared/units.ts';

export type OutputTest = { readonly ok: true } | { readonly ok: false; readonly reason: Said };

/** Told after each use, tests included: why it failed, or null when it worked. */
export type OutputHealth = (fault: Said | null) => void;

/** One alarm that asks for somebody now, as outputs that can say more than a sound say it. */
export interface AlarmNews {
  /** A name where the settings allow names, else "athlete 2"; empty for an alarm of the watching itself. */
  readonly who: string;
  readonly kind: string;
  readonly priority: AlarmPriority;
  /** In the unit of the kind (%, /min, ms); null where there is none. */
  readonly value: number | null;
  readonly sinceWallMs: WallMs;
}

/** What is to be sounded: an alarm of a priority, or a drill, which is marked as one. */
export type OutputSound = AlarmPriority | 'drill';

export interface AlarmOutput {
  /** What it is called: "loudspeaker (aplay)". */
  readonly name: Said;
  /** Tries the output once, audibly where it makes sound. Never rejects, and always ends. */
  test(): Promise<OutputTest>;
  /** The same without anything a person would notice, as far as the output allows. */
  probe(): Promise<OutputTest>;
  /**
   * Sounds this until told otherwise; null is silence. Returns at once and never throws. Told again when only
   * `news` is other: what makes a sound goes on with it.
   */
  sound(what: OutputSound | null, news?: readonly AlarmNews[]): void;
  /** A session has begun or ended; for outputs that say so. */
  setInUse?(inUse: boolean): void;
  /** Silence, and nothing left running. */
  close(): void;
}
