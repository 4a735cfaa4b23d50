// Die Wörter eines Kurses auf Deutsch.

import type { Messages } from './en.ts';

export const deCourse: Messages['course'] = {
  change: {
    joined: () => 'Zur Sitzung gekommen',
    left: () => 'Aus der Sitzung gegangen',
    sensorGiven: (sensor) => `Trägt von hier an ${sensor}`,
    sensorTaken: (sensor) => `Trägt ${sensor} nicht mehr`,
  },
  changeBy: (device) => `durch ${device}`,
  changeByHub: 'am Rechner des Hubs',
  people: {
    nav: 'Personen',
    title: 'Personen und Sensoren',
    none: 'Es läuft keine Sitzung. Sensoren lassen sich hier und beim Vorbereiten einer Sitzung zuordnen.',
    inSession: 'In der Sitzung',
    noSensors: 'kein Sensor',
    leaves: 'Geht aus der Sitzung',
    leavesTitle: (name) => `Geht ${name}?`,
    leavesText:
      'Von da an passt hier niemand auf: keine Werte, keine Aufzeichnung, kein Alarm. Bestehende Alarme enden mit einem Eintrag. Zurückkommen ist möglich.',
    holdsNow: (name) =>
      `${name} hält gerade die Luft an oder erholt sich. Warte, bis geatmet wird und die Erholung da ist.`,
    leavesConfirm: 'Geht',
    later: 'Kommt später dazu',
    laterWho: 'Wer kommt',
    laterNobody: 'Wählen',
    laterNone:
      'Alle auf diesem Hub sind in der Sitzung. Andere lassen sich vor oder nach ihr unter Sitzung anlegen.',
    joins: 'Kommt zur Sitzung',
    joinsHelp: 'Von da an wird überwacht und aufgezeichnet.',
    sensors: 'Wer welchen Sensor trägt',
    sensorsHelp:
      'Ein Sensor kann während der Sitzung wechseln: Was er vorher gemessen hat, bleibt bei der Person, die ihn trug; was er danach misst, gehört der anderen. In der Aufzeichnung steht, wer das wann geändert hat.',
    exchanged: (one, other) => `Die Signale von ${one} und ${other} wirken vertauscht`,
    exchangedHelp:
      'Entweder die Fingerclips oder die Brustgurte sind bei der falschen Person. Seht nach. Ist es nicht zu erkennen, bitte unten eine der beiden.',
    exchange: { oximeter: 'Die Clips sind vertauscht', heartRate: 'Die Brustgurte sind vertauscht' },
    whose: 'Wem gehört der?',
    whoseHelp:
      'Bitte eine Person und sieh, welcher Sensor antwortet. Nicht während einer Apnoe. In einer Sitzung kann das einen Alarm auslösen: So soll es sein.',
    whoseWho: 'Wen du bittest',
    whoseAsk: 'Jetzt bitten',
    whoseAgain: 'Noch einmal bitten',
    whoseSay: (name) =>
      `Sag zu ${name}: Nimm den Finger aus dem Clip und halte den Gurt von der Haut weg. Zähl bis zehn. Dann beides zurück.`,
    whoseWaiting: 'Noch hat nichts geantwortet.',
    whoseOver: 'Die Zeit ist um. Nichts hat geantwortet: Bitte noch einmal, und länger.',
    whoseSeveral: 'Mehr als einer hat geantwortet. Alle anderen sollen stillhalten; dann noch einmal.',
    whoseGive: (sensor, name) => `${sensor} gehört ${name}`,
    whoseRight: (sensor, name) => `${sensor} hat geantwortet: Er ist ${name} schon zugeordnet.`,
    whoseWrong: (sensor, wearer) => `${sensor} hat geantwortet. Er ist ${wearer} zugeordnet.`,
    whoseNobody: (sensor) => `${sensor} hat geantwortet. Er ist niemandem zugeordnet.`,
    answer: {
      unheard: 'noch nicht gelesen',
      steady: 'misst weiter',
      silent: 'hat aufgehört',
      answered: 'hat geantwortet',
    },
  },
};
