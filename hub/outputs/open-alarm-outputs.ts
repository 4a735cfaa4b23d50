// The alarm outputs that the settings ask for, on this machine.

import { type Said, said } from '../../shared/said.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import type { Config } from '../base/config.ts';
import { hubVersion } from '../base/hub-version.ts';
import type { HubLog } from '../base/log.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { AlarmOutput, OutputHealth } from './alarm-output.ts';
import { type AlarmOutputs, createAlarmOutputs } from './alarm-outputs.ts';
import { escalateAfter } from './escalation.ts';
import { findLoudspeaker } from './loudspeaker.ts';
import { createMqttOutput } from './mqtt/mqtt-output.ts';
import { createUserCommand } from './user-command.ts';
import { createWebhook } from './webhook.ts';

type Asked = Pick<
  Config,
  | 'alarm-sound'
  | 'alarm-command'
  | 'alarm-webhook'
  | 'alarm-webhook-secret'
  | 'alarm-escalation'
  | 'mqtt'
  | 'mqtt-discovery'
> & {
  readonly 'mqtt-topic'?: string;
  /** Null for none: only the hub's own webhook may say that all is well. */
  readonly 'alarm-beacon': number | null;
};

/** `notices` are for the terminal: what there is not, and that pages must sound then. `isWell`: nothing of the hub fails. */
export function openAlarmOutputs(
  config: Asked,
  clock: Clock,
  log: HubLog,
  isWell: () => boolean,
): { readonly outputs: AlarmOutputs; readonly notices: readonly Said[] } {
  /** A fault goes into the log once, until it is another. */
  const logged = (name: string, health: OutputHealth): OutputHealth => {
    let last: string | null = null;
    return (fault) => {
      const text = fault === null ? null : sayInEnglish(fault);
      if (text !== null && text !== last) log.error(`${name}: ${text}`);
      last = text;
      health(fault);
    };
  };
  const others: ((health: OutputHealth) => AlarmOutput)[] = [];
  const [program, ...rest] = config['alarm-command']?.trim().split(/\s+/) ?? [];
  if (program !== undefined && program !== '')
    others.push((health) =>
      createUserCommand({ command: [program, ...rest], clock, health: logged('alarm command', health) }),
    );
  const url = config['alarm-webhook'];
  const secret = config['alarm-webhook-secret'];
  if (url !== undefined)
    others.push((health) =>
      createWebhook({
        url,
        clock,
        isWell,
        beaconMs: config['alarm-beacon'] === null ? null : config['alarm-beacon'] * 1_000,
        health: logged('alarm webhook', health),
        ...(secret !== undefined && { secret }),
      }),
    );
  const { mqtt, 'mqtt-topic': topic = 'slackwater', 'mqtt-discovery': discovery } = config;
  if (mqtt !== undefined)
    others.push((health) =>
      createMqttOutput({
        url: mqtt,
        topic,
        version: hubVersion,
        clock,
        health: logged('alarm broker', health),
        ...(discovery !== undefined && { discovery }),
      }),
    );
  for (const { afterMs, where } of stepsOf(config['alarm-escalation']))
    others.push((health) =>
      escalateAfter(
        afterMs,
        clock,
        /^https?:\/\//.test(where)
          ? createWebhook({
              url: where,
              clock,
              isWell,
              beaconMs: null,
              health: logged('escalation', health),
              ...(secret !== undefined && { secret }),
            })
          : createUserCommand({
              command: where.split(/\s+/) as [string, ...string[]],
              clock,
              health: logged('escalation', health),
            }),
      ),
    );
  const found = config['alarm-sound'] ? findLoudspeaker({ clock }) : null;
  const loudspeaker = found === null ? null : (health: OutputHealth) => found(logged('loudspeaker', health));
  const outputs = createAlarmOutputs({ clock, loudspeaker, others });
  return { outputs, notices: config['alarm-sound'] && found === null ? [said('output.noPlayer')] : [] };
}

/** "30 https://..., 90 program": the settings have been checked. */
const stepsOf = (list: string | undefined): { readonly afterMs: number; readonly where: string }[] =>
  (list ?? '')
    .split(',')
    .map((step) => /^\s*(\d+)\s+(.*?)\s*$/.exec(step))
    .filter((match) => match !== null)
    .map(([, seconds = '', where = '']) => ({ afterMs: Number(seconds) * 1_000, where }));
