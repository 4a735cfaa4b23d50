// English for each condition of a sensor: what is, and what to do.

import type { LockedReading, SensorCondition } from './sensor-condition.ts';

const readings: Readonly<Record<LockedReading, string>> = {
  heartRate: 'heart rate',
  saturation: 'saturation',
  readings: 'a stream',
};
const lastTime = (reason: string | null): string => (reason === null ? '' : ` Last time: ${reason}.`);
const withAbout = (text: string, about: string | null): string =>
  about === null ? text : `${text} ${about}`;

/** Null where the state needs no words. */
export function conditionText(condition: SensorCondition): string | null {
  switch (condition.code) {
    case 'inRange':
      return 'In range. Assign it to an athlete to use it; to tell it from others, switch it off and on and watch here.';
    case 'appeared':
      return `Signal appeared ${condition.agoS} s ago. Assign it to an athlete to use it.`;
    case 'signalGone':
      return `Signal gone for ${condition.forS} s.`;
    case 'notHeard':
      return `Not heard. It may be off, out of range, or connected to another device or app. Switch it on or put it on, and keep it within a few metres.${lastTime(condition.lastReason)}`;
    case 'lost':
      return `Lost: ${condition.reason ?? 'it went silent'}. Reconnecting by itself as soon as it is heard.`;
    case 'silent':
      return `Lost: nothing for ${condition.forS} s and no answer. Check that it is on and near; reconnecting by itself.`;
    case 'noReadings':
      return `Connected, but no readings for ${condition.forS} s. Check that it sits well on the finger or chest.`;
    case 'locked':
      return 'Heard and connected to, but it is locked: it wants to be paired, with a code perhaps, which this hub cannot do. See whether its own app or manual lets it work unpaired; it is tried again by itself.';
    case 'partlyLocked':
      return `Connected, but its ${readings[condition.what]} is locked: it wants to be paired for that, which this hub cannot do. The rest works.`;
    case 'partlyRefused':
      return `Connected, but it does not send ${readings[condition.what]}. The rest works.`;
    case 'takesNoLink':
      return 'Heard, but it takes no connection now: it may be connected to another device or app. Close that, or switch the sensor off and on.';
    case 'advertisesSeldom':
      return `Heard only every ${condition.everyS} s: connecting takes up to a minute. Waking it, by putting it on, mostly helps.`;
    case 'linkLimit':
      return 'The Bluetooth adapter takes no more links. Let a sensor go that is not needed, or plug in another adapter and name both (--adapter hci0,hci1).';
    case 'heardOnly':
      return `Heard; connecting when it next can be.${lastTime(condition.reason)}`;
    case 'sendsSeldom':
      return `Sends a reading only every ${condition.everyS} s: alarms come that much later.`;
    case 'onlySpotChecks':
      return 'It gives one measurement at a time and no stream of them: not fit for a hold, and no alarm rests on it.';
    case 'connecting':
      return null;
    case 'letGo':
      return condition.reason;
    case 'batteryLow':
      return withAbout(
        `Battery at ${condition.percent} %: charge or change it before the session.`,
        condition.about,
      );
    case 'well':
      return condition.about;
  }
}
