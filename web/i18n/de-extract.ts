// The words of giving one's own marked recording as a labelled extract, in German. Part of `de`.

import type { Messages } from './en.ts';

export const deExtract: Messages['extract'] = {
  open: 'Als Auszug weitergeben',
  title: 'Diese Aufzeichnung als Auszug weitergeben',
  lead: 'Lange Apnoen wirklicher Menschen sind das, woran dieses Programm geprüft werden kann, und kaum welche sind öffentlich. Wenn der Athlet einverstanden ist, speichere diese Aufzeichnung ohne Namen und schick sie an die, die das Programm prüfen. Von hier wird nichts gesendet.',
  reading: 'Aufzeichnung wird gelesen',
  failed: (reason) => `Der Auszug konnte nicht erstellt werden: ${reason}`,
  inIt: 'Was darin ist',
  length: 'Länge',
  readings: (count) => `${count} Messwerte`,
  channels: {
    spo2Percent: 'Sättigung',
    pulseRateBpm: 'Pulsfrequenz',
    heartRateBpm: 'Herzfrequenz',
    rrIntervalMs: 'Schlagabstände',
    perfusionIndexPercent: 'Perfusionsindex',
    pleth: 'Pulswelle',
    respirationRaw: 'Atmung',
  },
  holds: 'An beiden Enden markierte Apnoen',
  noHolds:
    'Keine Apnoe ist an beiden Enden markiert. Markiere oder korrigiere zuerst ihren Beginn und ihr Ende in den Kurven: Was nur erkannt wurde, ist keine Angabe.',
  hold: (number, duration) => `Apnoe ${number}, ${duration}`,
  lungs: { unsaid: 'Nicht gesagt', full: 'Volle Lunge', half: 'Halb voll', emptied: 'Entleert' },
  site: 'Wo das Pulsoximeter saß',
  unsaid: 'Nicht gesagt',
  sites: { finger: 'Finger', ear: 'Ohr', forehead: 'Stirn', wrist: 'Handgelenk', other: 'Anderswo' },
  everyHold: 'Jede Apnoe in dieser Aufzeichnung ist markiert',
  wave: 'Mit der Pulswelle',
  notInIt: 'Nicht darin: Namen, Tag und Stunde, Sensoren, Notizen, Einstellungen, Alarme.',
  caution:
    'Herzschläge sind von Mensch zu Mensch verschieden: Wer eine andere Aufzeichnung desselben Menschen hat, könnte sie wiedererkennen. Der Athlet entscheidet.',
  agreed: 'Der Athlet ist einverstanden, sie weiterzugeben',
  save: 'Datei speichern',
  simulated: 'SIMULIERT: Kein Mensch wurde gemessen. Die Datei sagt das, und sie prüft nichts.',
};
