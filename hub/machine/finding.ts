// What a check of the computer answers.

import type { Said } from '../../shared/said.ts';

export interface Finding {
  /** Which check: its title is said by `machine.<check>`. */
  readonly check: CheckName;
  /** `warning`: Slackwater runs, with less than it could have. `fault`: something will not work. */
  readonly state: 'good' | 'warning' | 'fault';
  readonly said: Said;
}

export type CheckName =
  | 'node'
  | 'modules'
  | 'radio'
  | 'radioRight'
  | 'radioService'
  | 'sound'
  | 'clock'
  | 'disk'
  | 'folder'
  | 'port'
  | 'lanPort'
  | 'backups'
  | 'certificate'
  | 'names';
