// The one error class of the shell: a stable code for programs, and what to say to a person, with what to do.

import { type Said, said } from '../../shared/said.ts';
import { sayInEnglish } from '../../shared/words/say.ts';

/** Codes by subsystem; the exit status of the command line is 2 for each of them. */
export type HubErrorCode =
  | 'config.badFlag'
  | 'config.badValue'
  | 'config.badFile'
  | 'server.portBusy'
  | 'server.portForbidden'
  | 'server.failed'
  | 'data.unwritable'
  | 'data.corrupt'
  | 'data.notOurs'
  | 'data.newerVersion'
  | 'data.locked'
  | 'data.full'
  | 'data.failed'
  | 'data.refused'
  | 'input.notFound'
  | 'input.malformed'
  | 'sensors.failed'
  | 'build.missing';

/** The command line's own words, or those of a program below: English as they are. */
export const told = (text: string): Said => said('said.asTold', { text });

/**
 * A failure a person can act on: whoever shows it words `said` in their language. `message` is its English, for logs and
 * the terminal; `cause` keeps what the system said.
 */
export class HubError extends Error {
  override readonly name = 'HubError';
  readonly code: HubErrorCode;
  readonly said: Said;

  constructor(code: HubErrorCode, said: Said, cause?: unknown) {
    super(sayInEnglish(said), cause === undefined ? undefined : { cause });
    this.code = code;
    this.said = said;
  }
}

/** What to say of anything that was thrown; what is not ours is told in its own words. */
export const faultSaid = (error: unknown): Said =>
  error instanceof HubError ? error.said : told(error instanceof Error ? error.message : String(error));
