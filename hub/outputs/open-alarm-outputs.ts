// The alarm outputs that the settings ask for, on this machine.

import { type Said, said } from '../../shared/said.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import type { Config } from '../base/config.ts';
import type { HubLog } from '../base/log.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { AlarmOutput } from './alarm-output.ts';
import { type AlarmOutputs, createAlarmOutputs } from './alarm-outputs.ts';
import { findLoudspeaker } from './loudspeaker.ts';
import { createUserCommand } from './user-command.ts';
import { createWebhook } from './webhook.ts';

/** `notices` are for the terminal: what there is not, and that pages must sound then. */
export function openAlarmOutputs(
  config: Pick<Config, 'alarm-sound' | 'alarm-command' | 'alarm-webhook'>,
  clock: Clock,
  log: HubLog,
): { readonly outputs: AlarmOutputs; readonly notices: readonly Said[] } {
  const failed = (name: string) => (reason: Said) => log.error(`${name}: ${sayInEnglish(reason)}`);
  const loudspeaker = config['alarm-sound']
    ? findLoudspeaker({ clock, failed: failed('loudspeaker') })
    : null;
  const others: AlarmOutput[] = [];
  const words = config['alarm-command']?.trim().split(/\s+/) ?? [];
  const [program, ...rest] = words;
  if (program !== undefined && program !== '') {
    others.push(createUserCommand({ command: [program, ...rest], failed: failed('alarm command') }));
  }
  if (config['alarm-webhook'] !== undefined) {
    others.push(createWebhook({ url: config['alarm-webhook'], failed: failed('alarm webhook') }));
  }
  const missing = config['alarm-sound'] && loudspeaker === null ? [said('output.noPlayer')] : [];
  return { outputs: createAlarmOutputs(loudspeaker, others), notices: missing };
}
