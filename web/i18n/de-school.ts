// Die Worte der Seiten einer Schule und der eines Hubs über seine Schule, auf Deutsch.

import type { enRooms, enSchoolLink, enSchoolPeople } from './en-school.ts';

export const deRooms: typeof enRooms = {
  nav: 'Räume',
  link: {
    connecting: 'Schule wird gesucht',
    live: 'Schule antwortet',
    silent: 'Schule antwortet nicht',
    wrongVersion: 'Schule hat eine andere Version',
    refused: 'Nicht mit dieser Schule verbunden',
  },
  title: 'Räume',
  intro:
    'Alle Hubs, die an diese Schule senden. Alarme klingen zuerst in ihrem Raum und brauchen kein Netz; hier stehen sie, sobald sie ankommen.',
  none: 'Noch war kein Hub zu hören. Starte einen auf seinem Rechner: slackwater start --school ADRESSE.',
  noSession: 'Keine Sitzung.',
  alarmsOf: (room) => `Alarme von ${room}`,
  calling: (count) => `Alarme in ${count} Räumen`,
  calls: (room, age) => (age === null ? `${room}: Alarm, gerade eben` : `${room}: Alarm seit ${age}`),
  more: (count) => (count === 1 ? '1 weiterer Alarm dort' : `${count} weitere Alarme dort`),
  silentSince: (room, time) =>
    `Von ${room} war seit ${time} nichts zu hören. Seine Alarme klingen nur im Raum.`,
  room: 'Raum',
  coachOf: 'Trainer von',
  allRooms: 'allen Räumen',
  someRooms: 'einzelnen Räumen',
  whichRooms: 'Welche Räume',
  ofRooms: (rooms) => `Für ${rooms}`,
  roomCoachMay:
    'Sieht diese Räume, ihre Aufzeichnungen und die Wochen derer, die dort trainieren, und quittiert Alarme dort. Kann niemanden einlassen, zusammenlegen, exportieren oder löschen.',
  recordingsHint:
    'Von allen Hubs. Geändert, korrigiert und in den Papierkorb gelegt werden sie an dem Hub, der sie gemacht hat; mit allem von einem Menschen gelöscht unter Menschen.',
  neverHeard: (room) => `Von ${room} war nichts zu hören, seit die Schule gestartet ist.`,
};

export const deSchoolPeople: typeof enSchoolPeople = {
  nav: 'Menschen',
  title: 'Menschen der Schule',
  intro:
    'Alle, die ein Hub der Schule kennt, mit den Räumen, in denen sie trainieren. Namen werden an den Hubs vergeben, und zwei mit demselben Namen können zwei Menschen sein.',
  loading: 'Es wird nachgesehen, wer bekannt ist ...',
  failed: (message) => `Die Liste ließ sich nicht lesen: ${message}`,
  none: 'Noch ist niemand bekannt. Menschen erscheinen hier mit der ersten Liste oder Aufzeichnung, die ein Hub sendet.',
  notFound: 'Niemand mit diesem Namen.',
  search: 'Suchen nach Name oder Raum',
  found: (count) => (count === 1 ? '1 Mensch' : `${count} Menschen`),
  more: (count) => `${count} weitere. Tippe einen Teil des Namens oder des Raums.`,
  at: (room, hub) => (room === hub ? room : `${room} (${hub})`),
  atAs: (place, name) => `${place}, dort als ${name}`,
  counts: (recordings, holds) =>
    `${recordings === 1 ? '1 Aufzeichnung' : `${recordings} Aufzeichnungen`}, ${holds === 1 ? '1 Apnoe' : `${holds} Apnoen`}`,
  simulatedOf: (simulated, recordings) => `${simulated} von ${recordings}`,
  between: (from, until) => (from === until ? from : `${from} bis ${until}`),
  noRecordings: 'keine Aufzeichnungen',
  weeks: 'Wochen',
  weeksOf: (name) => `Wochen von ${name}`,
  takeAlong: 'Exportieren',
  takeAlongWhat: (name) => `Exportieren: alles von ${name} als eine Datei`,
  takeAlongHint:
    'Exportieren gibt eine Datei mit einer Sitzungsdatei für jede Aufzeichnung, von welchem Hub auch immer, und einer Liste (list.json). Was im Papierkorb eines Hubs liegt, ist nicht dabei. Es sind Messwerte eines Menschen: Bewahre die Datei dort auf, wo sie niemand sonst liest.',
  join: 'Zusammenlegen',
  joinWhat: (name) => `Zusammenlegen: ${name} mit jemand anders hier`,
  erase: 'Löschen ...',
  eraseWhat: (name) => `Löschen: ${name}, überall`,
  coaches: {
    title: 'Wer geleitet hat',
    lead: 'Wie es zu Beginn einer Sitzung gesagt wurde. Eine Zeile je Name: Zwei Menschen mit einem Namen stehen in einer.',
    none: 'Keine Aufzeichnung sagt, wer sie geleitet hat.',
    counts: (recordings) => (recordings === 1 ? '1 Aufzeichnung' : `${recordings} Aufzeichnungen`),
    recordings: 'Aufzeichnungen',
    recordingsOf: (name) => `Aufzeichnungen, die ${name} geleitet hat`,
    takeAlongWhat: (name) => `Exportieren: die Liste dessen, was ${name} geleitet hat`,
    eraseWhat: (name) => `Löschen: den Namen ${name}, wo steht, wer geleitet hat`,
  },
  proposals: {
    title: 'Ein Mensch oder zwei?',
    lead: 'Sie haben denselben Namen. Niemand wird zusammengelegt, außer du sagst es.',
    none: 'Niemand hat denselben Namen wie jemand anders.',
    look: 'Beide ansehen',
    lookWhat: (name, one, other) => `Beide ansehen: ${name}, ${one}, und ${name}, ${other}`,
  },
  merge: {
    title: 'Zwei zu einem Menschen zusammenlegen',
    with: 'Wer ist derselbe Mensch?',
    choose: 'Wählen ...',
    kept: 'Bleibt, mit diesem Namen',
    taken: 'Geht darin auf',
    swap: 'Umgekehrt',
    becomes: (recordings, when) => `Dann: ${recordings}, in einer Reihe von Wochen, ${when}.`,
    hubsKeep: 'Die Hubs behalten ihre Namen und Aufzeichnungen, wie sie sind. Es lässt sich zurücknehmen.',
    overlap: (count) =>
      count === 1
        ? 'Einmal wurden beide zur selben Zeit in verschiedenen Sitzungen aufgezeichnet: dann sind sie kaum ein Mensch.'
        : `${count} Mal wurden beide zur selben Zeit in verschiedenen Sitzungen aufgezeichnet: dann sind sie kaum ein Mensch.`,
    confirm: 'Zusammenlegen',
    failed: (message) => `Nicht zusammengelegt: ${message}`,
    done: (name) => `${name} ist jetzt ein Mensch.`,
  },
  merges: {
    title: 'Zusammengelegt',
    none: 'Niemand wurde zusammengelegt.',
    by: (device) => (device === '' ? 'vom Rechner der Schule' : `von ${device}`),
    undo: 'Zurücknehmen',
    undoWhat: (name) => `Zurücknehmen, und aus ${name} wieder zwei Menschen machen`,
    undone: 'Sie sind wieder zwei Menschen, jeder mit seinen Aufzeichnungen.',
    failed: (message) => `Nicht zurückgenommen: ${message}`,
  },
  erasing: {
    title: 'Überall löschen',
    goes: (name) => `Aus dem Archiv der Schule und von allen Hubs verschwindet endgültig, von ${name}:`,
    places: (places) => `wer sie sind in ${places}, mit ihren Einstellungen`,
    own: (count) =>
      count === 1
        ? '1 Aufzeichnung allein von ihnen, ganz'
        : `${count} Aufzeichnungen allein von ihnen, ganz`,
    shared: (count) =>
      count === 1
        ? 'ihr Teil von 1 Aufzeichnung mit anderen'
        : `ihr Teil von ${count} Aufzeichnungen mit anderen`,
    led: (count) =>
      count === 1
        ? 'der Name aus 1 Aufzeichnung, die jemand dieses Namens geleitet hat'
        : `der Name aus ${count} Aufzeichnungen, die jemand dieses Namens geleitet hat`,
    ledAt: (rooms) => `gemacht in ${rooms}`,
    inLogs:
      'wo steht, wer einen Alarm quittiert oder jemanden umgesetzt hat, und in den Protokollen, wer was getan hat',
    coachGoes: (name) => `Der Name ${name} verschwindet endgültig, wo steht, wer geleitet hat:`,
    coachStays:
      'Die Aufzeichnungen bleiben: Sie gehören den Athleten darin. Geräte, die den Namen tragen, werden unter Geräte entfernt.',
    coachAgain: (name) =>
      `Der Name ${name} verschwindet jetzt, an jedem Hub. Drück noch einmal, wenn das will, wer ihn trägt.`,
    holds: (count) => (count === 1 ? '1 Apnoe' : `${count} Apnoen`),
    documents: (count) =>
      count === 1
        ? '1 gelaufener Plan, Eintrag oder Notiz'
        : `${count} gelaufene Pläne, Einträge und Notizen`,
    atHubs: 'an jedem Hub auch, was in seinem Papierkorb liegt und was die Schule nie erreicht hat',
    when: 'Das Archiv tut es sofort. Ein Hub tut es zwischen Sitzungen; einer, der aus ist, sobald er wieder da ist, bevor er noch etwas von ihnen sendet. Bis dahin steht er unten als wartend.',
    notTouched:
      'Kopien anderswo bleiben: heruntergeladene Dateien, Backups der Hubs und Backups der Datenbank, die löschen muss, wer sie verwahrt. Hubs, die aus einem Backup zurückgeholt werden, löschen sie noch einmal, solange das Archiv der Schule neuer ist als dieses.',
    typeName: (name) => `Tippe den Namen, um weiterzugehen: ${name}`,
    again: (name) =>
      `Alles von ${name} verschwindet jetzt, an jedem Hub, an jedem Papierkorb vorbei. Drück noch einmal, wenn ${name} das will.`,
    confirm: 'Überall löschen',
    confirmAgain: 'Ja, alles löschen',
    failed: (message) => `Nicht gelöscht: ${message}`,
    done: (name) => `${name} ist aus dem Archiv gelöscht. Wie weit die Hubs sind, steht unten.`,
  },
  erasures: {
    title: 'Gelöscht',
    lead: 'Dass jemand gelöscht wurde, nicht wer.',
    none: 'Niemand wurde gelöscht.',
    asked: 'Verlangt',
    askedBy: (at, by) => `${at}, ${by}`,
    atHub: (room) => `in ${room}`,
    archive: 'Archiv',
    stream: 'Nachrichtenserver',
    done: (at) => `fertig ${at}`,
    waiting: 'wartet',
  },
};

export const deSchoolLink: typeof enSchoolLink = {
  title: 'Schule',
  as: (hub, school) => `An der Schule „${school}“ heißt dieser Hub „${hub}“.`,
  link: {
    connecting: 'Er ist nicht verbunden; er versucht es von selbst wieder.',
    connected: 'Er ist verbunden.',
    refused: 'Er wird nicht eingelassen.',
  },
  since: (time) => `Seit ${time}:`,
  caughtUp: 'Alles hier Aufgezeichnete ist gesendet, außer was oben genannt ist.',
  waiting: (count) =>
    count === 0
      ? 'Ob alles gesendet ist, ist zurzeit nicht bekannt.'
      : count === 1
        ? '1 Aufzeichnung ist noch nicht ganz gesendet.'
        : `${count} Aufzeichnungen sind noch nicht ganz gesendet.`,
  keptAt: (time) => `Zuletzt gesendet: ${time}.`,
};
