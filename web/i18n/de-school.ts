// Die Worte der Seiten einer Schule, auf Deutsch.

import type { enRooms } from './en-school.ts';

export const deRooms: typeof enRooms = {
  nav: 'Räume',
  title: 'Räume',
  intro:
    'Alle Hubs der Schule, die senden. Alarme klingen zuerst in ihrem Raum und brauchen kein Netz; hier stehen sie, sobald sie ankommen.',
  none: 'Noch war kein Hub zu hören. Auf seinem Rechner: slackwater start --school ADRESSE.',
  noSession: 'Keine Sitzung.',
  alarmsOf: (room) => `Alarme von ${room}`,
  calls: (room, age) => `${room}, seit ${age}`,
  more: (count) => (count === 1 ? '1 weiterer Alarm dort' : `${count} weitere Alarme dort`),
  silentSince: (room, time) =>
    `Von ${room} war seit ${time} nichts zu hören. Seine Alarme klingen nur im Raum.`,
  neverHeard: (room) => `Von ${room} war nichts zu hören, seit die Schule gestartet ist.`,
};
