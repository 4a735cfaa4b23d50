// Puts together who comes in, from the settings: the hub's own person, the register of devices and, with --lan, the way
// to them.

import { resolve } from 'node:path';
import { said } from '../../../shared/said.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { Config } from '../../base/config.ts';
import { HubError } from '../../base/hub-error.ts';
import type { HubLog } from '../../base/log.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { Hub } from '../../live/hub.ts';
import type { CertificateChoice } from '../lan/credentials.ts';
import { prepareLanAccess } from '../lan/lan-access.ts';
import { keepOwnKey } from '../own-person/own-key.ts';
import { createOwnPerson } from '../own-person/own-person.ts';
import { deviceFileIn } from './device-file.ts';
import { createDeviceRegister } from './device-register.ts';
import type { Joining } from './joining.ts';

/** `clock` is that of people and pages. Throws HubError when key or certificate cannot be kept. */
export async function prepareJoining(
  config: Pick<Config, 'data' | 'lan' | 'lan-host' | 'lan-port' | 'lan-authority' | 'certificate' | 'key'>,
  ports: {
    readonly hub: Hub;
    readonly clock: Clock;
    readonly log: HubLog;
    readonly makeId: () => string;
  },
): Promise<Joining> {
  const { hub, clock, log, makeId } = ports;
  const devices = createDeviceRegister({
    clock,
    makeId,
    file: deviceFileIn(config.data),
    athleteExists: (athleteId) => hub.athletes.some((athlete) => athlete.athleteId === athleteId),
  });
  if (devices.notice !== null) log.warn(sayInEnglish(devices.notice));
  const lan = config.lan
    ? await prepareLanAccess({
        dataDirectory: config.data,
        host: config['lan-host'],
        port: config['lan-port'],
        clock,
        log,
        certificate: choiceOf(config),
        mayRenew: () => hub.session === null,
      })
    : null;
  return { ownPerson: createOwnPerson(keepOwnKey(config.data), clock), devices, lan };
}

/** Throws HubError `config.badValue` where the settings contradict themselves. */
function choiceOf(config: Pick<Config, 'lan-authority' | 'certificate' | 'key'>): CertificateChoice {
  const { certificate, key, 'lan-authority': byAuthority } = config;
  if (certificate === undefined && key === undefined)
    return { kind: byAuthority ? 'ownByAuthority' : 'ownByItself' };
  if (certificate === undefined || key === undefined)
    throw new HubError('config.badValue', said('lan.given.pair'));
  if (byAuthority) throw new HubError('config.badValue', said('lan.given.orAuthority'));
  return { kind: 'given', files: { certificate: resolve(certificate), key: resolve(key) } };
}
