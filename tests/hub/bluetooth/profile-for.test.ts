// Which profile a sensor is recognised by, where several could be meant.

import { expect, test } from 'vitest';
import { linkPolicy } from '../../../hub/sensors/bluetooth/link-policy.ts';
import { profileFor, streamOfPacket } from '../../../hub/sensors/bluetooth/link-questions.ts';
import type { LinkConfig, ProfileLink } from '../../../hub/sensors/bluetooth/link-state.ts';

const profile = (name: string, more: Partial<ProfileLink>): ProfileLink => ({
  name,
  measures: ['oximeter'],
  matchServices: [],
  matchNamePrefix: null,
  service: 'ffe0',
  notify: 'ffe1',
  start: [],
  ...more,
});
const config = (...profiles: ProfileLink[]): LinkConfig => ({
  policy: linkPolicy,
  profiles,
  takeEverything: false,
});
const of = (settings: LinkConfig, name: string, ...services: string[]) =>
  profileFor(settings, { name, services })?.name;

test('the longest beginning of its name tells more than a shorter one, and any more than a service', () => {
  const settings = config(
    profile('any', { matchServices: ['ffe0'] }),
    profile('quay', { matchNamePrefix: 'Quay' }),
    profile('quay two', { matchNamePrefix: 'Quay 2' }),
  );
  expect(of(settings, 'Quay 17', 'ffe0')).toBe('quay');
  expect(of(settings, 'Quay 21')).toBe('quay two');
  expect(of(settings, 'Weir', 'ffe0')).toBe('any');
  expect(of(settings, 'Weir')).toBeUndefined();
});

test('a service alone is enough for a sensor of another name, unless makers share the characteristic', () => {
  const quay = profile('quay', { matchServices: ['ffe0'], matchNamePrefix: 'Quay' });
  const basin = profile('basin', { matchServices: ['ffe0'], matchNamePrefix: 'Basin' });
  expect(of(config(quay), 'Weir', 'ffe0')).toBe('quay');
  expect(of(config(quay, basin), 'Weir', 'ffe0')).toBeUndefined();
  expect(of(config(quay, basin), 'Basin 3', 'ffe0')).toBe('basin');
});

test('packets are marked only where a recording could not tell by whom they are read', () => {
  const quay = profile('quay', { matchNamePrefix: 'Quay', also: ['ffe4'] });
  const basin = profile('basin', { matchNamePrefix: 'Basin' });
  const sensor = { name: 'Quay 1', services: [] };
  expect(streamOfPacket(config(quay), sensor, 'ffe1')).toBe('ffe1');
  expect(streamOfPacket(config(quay, basin), sensor, 'ffe1')).toMatch(/^ffe1~[0-9a-f]{4}$/);
  expect(streamOfPacket(config(quay, basin), sensor, 'ffe4')).toBe('ffe4');
  expect(streamOfPacket(config(quay, basin), sensor, '2a37')).toBe('2a37');
  expect(streamOfPacket(config(quay, basin), { ...sensor, name: 'Weir' }, 'ffe1')).toBe('ffe1~');
});
