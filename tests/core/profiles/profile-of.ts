// A sensor profile with everything left out that a test does not speak of.

import type { ProfileField, ProfileFraming, SensorProfile } from '../../../src/profiles/sensor-profile.ts';

export const fieldOf = (
  gives: ProfileField['gives'],
  at: number,
  rest: Partial<ProfileField> = {},
): ProfileField => ({
  gives,
  at,
  type: 'u8',
  bits: null,
  scale: 1,
  offset: 0,
  invalid: [],
  count: 1,
  rateHz: null,
  when: null,
  ...rest,
});

export const profileOf = (frame: ProfileFraming | null, fields: readonly ProfileField[]): SensorProfile => ({
  name: 'invented',
  measures: ['oximeter'],
  match: { services: [], namePrefix: 'X' },
  link: { service: 'ff00', notify: 'ff01', start: [] },
  frame,
  fields,
});
