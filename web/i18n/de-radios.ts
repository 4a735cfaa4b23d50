// Words about Bluetooth adapters and radios in other rooms, in German.

import type { enRadios } from './en-radios.ts';

export const deRadios: typeof enRadios = {
  title: 'Bluetooth-Adapter und Funkgeräte',
  firstAdapter: 'Bluetooth-Adapter',
  adapter: (number, name) => `Bluetooth-Adapter ${number} (${name})`,
  adapterAt: (address) => `Bluetooth-Adapter unter ${address}`,
  here: 'am Rechner des Hubs',
  elsewhere: 'in einem anderen Raum',
  state: {
    on: 'arbeitet',
    starting: 'wird gestartet',
    off: 'arbeitet nicht',
    away: 'über das Netz nicht erreichbar; was seine Sensoren senden, wird dort zehn Minuten aufgehoben',
  },
  links: (count) => (count === 1 ? '1 Sensor verbunden' : `${count} Sensoren verbunden`),
  free: (count) =>
    count === 0
      ? 'voll: Stecke einen weiteren Adapter ein, die nächsten Sensoren benutzen ihn von selbst'
      : count === 1
        ? '1 freier Platz'
        : `${count} freie Plätze`,
  freeUnknown: 'hat bisher keine Verbindung abgelehnt; viele Adapter nehmen etwa sieben',
  clock: (ms) => `Ankunftszeiten auf ${ms}\u202fms genau bekannt`,
  lost: (count) => `${count} Pakete wurden nicht aufgehoben: Es war zu lange nicht erreichbar`,
  more: 'Ein weiterer Adapter wird benutzt, sobald er eingesteckt ist; Sensoren gehen dorthin, wo das Signal gut ist und wenige verbunden sind. Ein kleiner Rechner in einem anderen Raum wird durch einen Code (als: Funkgerät, oben) und den Befehl, der dabei steht, zum Funkgerät.',
  sameAs: (sensor) => `${sensor} fehlt. Ist es einer von diesen, unter einer anderen Adresse?`,
  notAmong: 'Nein, oder nicht bekannt',
  isSame: (sensor, address) => `${sensor}, auch bekannt unter der Adresse, die auf ${address} endet`,
  notSame: 'Das ist ein anderer Sensor',
  codeSteps:
    'Führe das auf dem Rechner im anderen Raum aus; Slackwater muss dort installiert und ein Adapter eingesteckt sein. Es fragt, ob der Code des Zertifikats der hier gezeigte ist.',
  may: 'Ein Funkgerät bringt, was seine Sensoren senden. Es sieht niemanden und ändert nichts, ein Jahr lang.',
  via: (radio) => `über Funkgerät ${radio}`,
};
