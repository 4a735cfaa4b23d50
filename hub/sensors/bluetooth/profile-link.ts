// What the link logic needs of a sensor profile.

import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import type { ProfileLink } from './link-state.ts';

export function profileLinkOf(profile: SensorProfile): ProfileLink {
  return {
    name: profile.name,
    measures: profile.measures,
    matchServices: profile.match.services,
    matchNamePrefix: profile.match.namePrefix,
    service: profile.link.service,
    notify: profile.link.notify,
    ...(profile.link.also === undefined ? {} : { also: profile.link.also.map(({ notify }) => notify) }),
    start: profile.link.start,
    ...(profile.link.stop === undefined ? {} : { stop: profile.link.stop }),
    ...(profile.link.keepAlive === undefined ? {} : { keepAlive: profile.link.keepAlive }),
  };
}
