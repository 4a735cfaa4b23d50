// Wörter über den Hub als Gerät, auf Deutsch: seinen Rechner, sein Zertifikat, und wie andere Geräte ihm trauen.

import type { enComputer } from './en-appliance.ts';

export const deComputer: typeof enComputer = {
  title: 'Der Rechner des Hubs',
  link: 'Rechner des Hubs prüfen',
  lead: 'Was der Rechner unter dem Hub bietet, und was zu tun ist, wo etwas fehlt.',
  notYet: 'Noch nicht nachgesehen.',
  checking: 'Sieht nach. Das dauert einige Sekunden.',
  summary: (look, faults) =>
    faults + look === 0
      ? 'Alles gut.'
      : [
          faults === 0 ? '' : `${faults} Fehler`,
          look === 0 ? '' : look === 1 ? '1 Punkt zum Ansehen' : `${look} Punkte zum Ansehen`,
        ]
          .filter((part) => part !== '')
          .join(', ')
          .concat('.'),
  at: (time) => `Nachgesehen: ${time}.`,
  again: 'Noch einmal prüfen',
  state: { good: 'gut', warning: 'ansehen', fault: 'Fehler' },
  sameAs:
    'Dasselbe wie \u201eslackwater doctor\u201c in einem Terminal dieses Rechners. Es läuft neben dem Hub: Eine Sitzung, die aufgezeichnet wird, geht ungestört weiter, und solange wird nicht gemessen, wie schnell die Platte ist.',
};
