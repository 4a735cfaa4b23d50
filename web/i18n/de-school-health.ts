// Die Worte der Seite darüber, wie es der Schule geht, auf Deutsch.

import type { enSchoolHealth } from './en-school-health.ts';

export const deSchoolHealth: typeof enSchoolHealth = {
  title: 'Wie es der Schule geht',
  lead: 'Was Hubs senden, wartet im Nachrichtenserver, bis das Archiv es hat. Kein Alarm eines Raums braucht etwas davon.',
  well: 'Das Archiv nimmt an, was kommt.',
  notWell: 'Das Archiv nimmt gerade nichts an. Hubs behalten, was sie haben, und senden es später.',
  serverAway: 'Der Nachrichtenserver antwortet nicht.',
  archiveAway: 'Die Datenbank antwortet nicht.',
  waiting: (count, bytes, most) =>
    `Auf das Archiv warten: ${count} Nachrichten, ${bytes} von höchstens ${most}.`,
  archiveSize: (bytes) => `Das Archiv belegt ${bytes} auf der Platte.`,
  diskFree: (bytes) => `Frei auf dem Rechner der Schule: ${bytes}.`,
  table: 'Hubs',
  hub: 'Hub',
  heard: 'Zuletzt gehört',
  kept: 'Zuletzt ins Archiv genommen',
  inWaiting: 'Wartet',
  putAside: 'Beiseitegelegt',
  now: 'jetzt',
  never: 'nicht, seit die Schule läuft',
  unknown: 'nicht bekannt',
  inSession: 'in einer Sitzung',
  putAsideHint:
    'Beiseitegelegt ist, was nicht zu verstehen war, etwa von einer anderen Version. Es bleibt, wie es kam, in der Tabelle „refused“.',
  none: 'Noch war kein Hub zu hören.',
  again: 'Noch einmal nachsehen',
  aside: {
    title: 'Frühere Kopien, in denen mehr steht',
    lead: 'Ein Hub, der aus einem Backup zurückgeholt wurde oder keinen Strom mehr hatte, hat diese Aufzeichnungen neu gesendet. Gezeigt wird die neue Kopie; die frühere hat Pakete, die der neuen fehlen, und bleibt.',
    packets: (aside, shown) => `${aside} Pakete darin, ${shown} in der Kopie, die gezeigt wird`,
    open: 'Aufzeichnung',
    openWhat: (what) => `Aufzeichnung öffnen: ${what}`,
    file: 'Pakete als Datei',
    fileWhat: (what) => `Herunterladen: die Pakete der früheren Kopie von ${what}`,
    failed: (message) => `Ob es frühere Kopien gibt, ließ sich nicht lesen: ${message}`,
  },
  link: 'Wie es der Schule geht',
};
