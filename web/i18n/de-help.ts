// The words about the handbook, in German.

import type { enHelp } from './en-help.ts';

export const deHelp: typeof enHelp = {
  nav: 'Hilfe',
  title: 'Hilfe',
  emergency: 'Jemand reagiert nicht? Lass diese Seite: jetzt den Notruf wählen und Erste Hilfe leisten.',
  search: 'Im Handbuch suchen',
  nothingFound: (query) =>
    `Nichts im Handbuch enthält alles von „${query}“. Weniger oder kürzere Wörter finden mehr.`,
  found: (count) => (count === 1 ? '1 Stelle' : `${count} Stellen`),
  chapters: 'Kapitel',
  more: 'Auch hier',
  aboutLink: 'Über Slackwater, Warnhinweise und Grenzen der Zahlen',
  thisDeviceLink: 'Was dieser Browser erlaubt: ohne Hub, Hinweise, Bildschirm',
  onThisPage: 'Auf dieser Seite',
  before: (title) => `Davor: ${title}`,
  next: (title) => `Weiter: ${title}`,
  allChapters: 'Alle Kapitel',
  notLoaded: 'Das Handbuch konnte nicht vom Hub geladen werden.',
  noChapter: 'Dieses Kapitel gibt es nicht.',
  whatItMeans: 'Was er bedeutet',
  whatItMeansOf: (title) => `Was er bedeutet: ${title}`,
  toFirstSession: 'Zum ersten Mal hier? Die erste Sitzung, Schritt für Schritt',
  toSensors: 'Sensoren aussuchen und finden',
  toReading: 'So liest man diese Seite',
  toBackups: 'Sicherungen, Schritt für Schritt',
  toCourse: 'Ein Kurs, Schritt für Schritt',
  toHubSilent: 'Was zu tun ist, wenn der Hub nicht antwortet',
};
