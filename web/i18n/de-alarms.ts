// The frame's words for alarms, in German.

import type { enAlarms } from './en-alarms.ts';

export const deAlarms: typeof enAlarms = {
  tab: (title, view) => `\u25b2 ${title} \u2013 ${view}`,
  of: (name, title) => `${name}: ${title}`,
  everyone: 'Alle',
  goTo: (name) => `Zu ${name}`,
  key: 'Taste',
  keyHelp: 'quittiert den ersten gezeigten Alarm, auf jeder Seite',
  over: (title) => `Vorbei: ${title}`,
  answers: 'Antwortet',
  iAmWell: 'Mir geht es gut',
  answerTitle: 'Antwort nötig',
  unsureTitle: 'Atmung nicht sicher',
  quietHere: 'Auf dieser Seite still',
  reading: (percent) => `Messwert ${percent}\u202f%`,
  others: (count) => (count === 1 ? '1 weiterer:' : `${count} weitere:`),
  unfold: 'Aufklappen',
  fold: 'Zuklappen',
  goOn: (names) => `${names} weiter überwachen`,
  recording: 'Aufzeichnung öffnen',
  title: {
    monitoringStopped: (time) => `Überwachung endete um ${time}`,
    monitoringGap: (time, duration) => `Seit ${time} wieder überwacht, nach einer Lücke von ${duration}`,
    clockChanged: (time) => `Die Uhr des Rechners wurde um ${time} verstellt`,
    deviceDropped: () => 'Ein Gerät wurde getrennt',
    outputFailed: () => 'Ein Alarmausgang versagt',
    recordingFails: () => 'Die Aufzeichnung versagt',
    signalsExchanged: () => 'Sensoren vertauscht?',
    roomSilent: (time) => `Ein Raum schweigt seit ${time}`,
  },
  everybody: 'die Athleten',
  aDevice: 'Ein verbundenes Gerät',
  stopped: (whom, cause) => `Seitdem überwacht niemand ${whom}. ${cause}`,
  gap: (whom, duration, cause) =>
    `Für ${duration} hat niemand ${whom} überwacht: ${cause}. Jetzt wird wieder überwacht.`,
  clock: (duration) =>
    `Um ${duration}. Die Überwachung lief weiter; Uhrzeiten dieser Aufzeichnung stimmen nicht.`,
  dropped: (device) =>
    `${device} darf nicht mehr mitsehen: Die Zeit dafür ist abgelaufen. Dort ist kein Alarm zu sehen oder zu hören.`,
  output: (name, reason) => `Es geht nicht: ${name} (${reason}).`,
  exchanged: (names) =>
    `Seit einer Minute schlägt bei ${names} jeder Brustgurt mit dem Oximeter der anderen Person, nicht mit dem eigenen. Alarme der einen können die der anderen sein.`,
  silentRoom: (room) =>
    `Vom Hub von ${room} ist nichts zu hören, und dort lief eine Sitzung. Seine Alarme klingen im Raum vielleicht noch; hier ist keiner zu sehen.`,
  recordingGoesOn: (reason) => `Die Überwachung läuft weiter, und der Hub versucht es weiter. ${reason}`,
  cause: {
    hubDied: 'Der Hub endete ohne Warnung; was aufgezeichnet war, ist erhalten.',
    hubStopped: 'Der Hub wurde während der Sitzung angehalten.',
    diskFault: 'Der Datenträger versagte.',
    slept: 'Der Rechner schlief.',
    hubStalled: 'Der Hub stand still.',
    unknown: 'Der Hub führt die Sitzung nicht mehr.',
  },
  gapCause: {
    hubDied: 'Der Hub endete ohne Warnung und hat die Sitzung wieder aufgenommen',
    hubStopped: 'Der Hub wurde angehalten und hat die Sitzung wieder aufgenommen',
    diskFault: 'Der Datenträger versagte',
    slept: 'Der Rechner schlief',
    hubStalled: 'Der Hub stand still',
    unknown: 'Der Hub war fort',
  },
  endSession: 'Sitzung beenden',
  todo: {
    monitoringStopped: 'Seht nach, ob es ihnen gut geht. Dann weiter überwachen oder quittieren.',
    monitoringGap: 'Seht nach, ob es ihnen gut geht, dann quittieren.',
    clockChanged: 'Stellt die Uhr nach der Sitzung richtig.',
    deviceDropped: 'Seht nach, wer daneben liegt; verbindet es unter „Geräte“ neu.',
    outputFailed: 'Bringt ihn in Ordnung, oder haltet eine Seite mit Ton dort, wo jemand sie hört.',
    recordingFails: 'Kümmert euch um den Datenträger: Schafft Platz, oder macht ihn wieder beschreibbar.',
    roomSilent: 'Geht hin, oder ruft jemanden an, der im Raum ist.',
    signalsExchanged:
      'Seht nach, wem Clip und Brustgurt gehören, und berichtigt es unter Personen und Sensoren.',
  },
};
