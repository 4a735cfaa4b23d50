// The port of an alarm output that is not a page: the hub's loudspeaker, a user's command, a webhook.

import type { Said } from '../../shared/said.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';

export type OutputTest = { readonly ok: true } | { readonly ok: false; readonly reason: Said };

/** Told after each use, tests included: why it failed, or null when it worked. */
export type OutputHealth = (fault: Said | null) => void;

export interface AlarmOutput {
  /** What it is called: "loudspeaker (aplay)". */
  readonly name: Said;
  /** Tries the output once, audibly where it makes sound. Never rejects, and always ends. */
  test(): Promise<OutputTest>;
  /** The same without anything a person would notice, as far as the output allows. */
  probe(): Promise<OutputTest>;
  /** Sounds this priority until told otherwise; null is silence. Returns at once and never throws. */
  sound(priority: AlarmPriority | null): void;
  /** Silence, and nothing left running. */
  close(): void;
}
