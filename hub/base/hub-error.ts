// The one error class of the shell: a stable code for programs, a sentence that says what to do for a person.

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

/** A failure a person can act on. `message` is whole sentences; `cause` keeps what the system said. */
export class HubError extends Error {
  override readonly name = 'HubError';
  readonly code: HubErrorCode;

  constructor(code: HubErrorCode, message: string, cause?: unknown) {
    super(message, cause === undefined ? undefined : { cause });
    this.code = code;
  }
}
