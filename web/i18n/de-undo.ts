// Was sich zurücknehmen lässt, auf Deutsch: die Leiste, Entwürfe, der Papierkorb, Namen und Titel.

import type { enBackups, enBin, enList, enNames, enTakeBack } from './en-undo.ts';

const days = (number: number) => (number === 1 ? '1 Tag' : `${number} Tage`);

export const deTakeBack: typeof enTakeBack = {
  region: 'Was du zurücknehmen kannst',
  undo: 'Rückgängig',
  key: 'Strg Z',
  dismiss: 'Diese Meldung schließen',
  failed: (reason) => `Ließ sich nicht zurücknehmen: ${reason}`,
  planRunEnded: 'Der Plan wurde beendet.',
  goOn: 'Damit weitermachen',
  planDeleted: (title) => `„${title}“ liegt im Papierkorb.`,
  planRunDeleted: (title) => `Der Durchgang von „${title}“ liegt im Papierkorb.`,
  entryDeleted: 'Der Eintrag liegt im Papierkorb.',
  recordingDeleted: (title) => `„${title}“ liegt im Papierkorb.`,
  partDeleted: (name, title) => `Der Teil von ${name} in „${title}“ liegt im Papierkorb.`,
  athleteRemoved: (name) => `${name} ist von der Liste und im Papierkorb.`,
  draftKept: (what) => `${what}: Was nicht gespeichert war, ist hier als Entwurf aufgehoben.`,
  backToDraft: 'Zurück dorthin',
  dropDraft: 'Verwerfen',
  draftTaken: (at) => `Das hattest du nicht gespeichert, vom ${at}.`,
  draftDropped: 'Das nicht Gespeicherte ist weggelegt.',
  startAfresh: 'Ohne das',
  newHoldLeft: 'Die neue Apnoe wurde nicht gespeichert.',
  newMarkLeft: 'Die neue Marke wurde nicht gespeichert.',
  changedHoldLeft: 'Die Änderung an der Apnoe wurde nicht gespeichert.',
  bringBack: 'Zurückholen',
  drafts: {
    plan: (title) => `Plan „${title}“`,
    entry: 'Eintrag im Tagebuch',
    note: 'Notiz',
    correction: 'Korrektur',
  },
};

export const deBin: typeof enBin = {
  title: 'Papierkorb',
  open: 'Papierkorb',
  back: 'Alle Aufzeichnungen',
  lead: (keptDays) =>
    `Gelöschtes bleibt hier ${days(keptDays)} liegen, dann verschwindet es endgültig. Wird ein Athlet ganz gelöscht, geht das Seine sofort.`,
  empty: 'Im Papierkorb liegt nichts.',
  failed: (reason) => `Der Papierkorb konnte nicht gelesen werden: ${reason}`,
  kinds: {
    recording: 'Aufzeichnung',
    part: 'Teil einer Aufzeichnung',
    athlete: 'Athlet',
    plan: 'Plan',
    planRun: 'Durchgang eines Plans',
    entry: 'Eintrag im Tagebuch',
  },
  whom: (names) => `Betrifft: ${names}`,
  unnamed: 'jemand, der nicht auf der Liste steht',
  deletedAt: (at) => `gelöscht ${at}`,
  left: (number) => `noch ${days(number)} hier`,
  restore: 'Zurücklegen',
  restoreWhat: (what) => `Zurücklegen: ${what}`,
  restored: (what) => `Zurückgelegt: ${what}`,
  remove: 'Endgültig löschen',
  removeTitle: (what) => `Endgültig löschen: ${what}?`,
  removeText: 'Danach kann es niemand zurückholen, es sei denn aus einer früheren Sicherung.',
};

export const deNames: typeof enNames = {
  edit: (name) => `${name} ändern oder entfernen`,
  editShort: 'Ändern …',
  name: 'Name',
  rename: 'Namen speichern',
  everywhere: 'Aufzeichnungen, Berichte und Dateien tragen ab jetzt den neuen Namen, auch die früheren.',
  remove: 'Von der Liste nehmen',
  removeText: (name) =>
    `Die Aufzeichnungen von ${name} bleiben. Gemerkte Sensoren von ${name} werden frei, und für ${name} beigetretene Geräte werden entfernt.`,
  inSession: 'In der laufenden Sitzung: Beende sie zuerst.',
  sessionTitle: 'Titel',
  editTitle: 'Titel, geleitet von ...',
  saveTitle: 'Speichern',
  ledBy: 'Geleitet von',
  ledByLine: (names) => `Geleitet von ${names}`,
  ledByHint:
    'Steht in der Aufzeichnung, und Aufzeichnungen lassen sich danach finden. Mehrere mit Kommas; leer für den Namen des Geräts eines Trainers, das beigetreten ist.',
  titleHint: 'Für diese Sitzung, wenn du einen möchtest. Er lässt sich später ändern.',
};

export const deList: typeof enList = {
  search: 'Suche',
  searchHint: 'Titel, Name, Plan oder Notiz',
  narrow: 'Nach Person, Leitung, Art, Plan, Schlagwort oder Tag',
  athlete: 'Athlet',
  leader: 'Geleitet von',
  all: 'Alle',
  from: 'Von',
  until: 'Bis',
  kind: 'Art',
  kinds: {
    live: 'Mit Sensoren',
    simulated: 'Simuliert',
    replay: 'Abgespielt',
    import: 'Importiert',
    interrupted: 'Unterbrochen',
  },
  found: (shown, all) =>
    `${shown === all ? '' : `${shown} von `}${all === 1 ? '1 Aufzeichnung' : `${all} Aufzeichnungen`}`,
  none: 'Keine Aufzeichnung passt.',
  clear: 'Alle zeigen',
  page: (page, pages) => `Seite ${page} von ${pages}`,
  pages: 'Seiten der Liste',
  newer: 'Neuere',
  older: 'Ältere',
  longest: (duration) => `längste ${duration}`,
  lowest: (percent) => `tiefste ${percent}`,
  figuresBy: {
    live: 'wie live gesagt',
    liveWhy:
      'Apnoen, längste und tiefste so, wie es live gesagt wurde. Ausgewertet wird zwischen Sitzungen; dann können sie sich noch ändern.',
    earlierVersion: 'früher ausgewertet',
    earlierVersionWhy:
      'Apnoen, längste und tiefste so, wie eine frühere Version des Hubs sie ausgewertet hat. Zwischen Sitzungen werden sie neu ausgewertet.',
  },
  deleteWhole: (names) => `Alles davon: ${names}`,
  deletePart: (name) => `Nur der Teil von ${name}`,
  deleteWhat: 'Was gelöscht wird',
};

export const deBackups: typeof enBackups = {
  title: 'Sicherungen',
  open: 'Sicherungen',
  lead: 'Eine Sicherung enthält alles: Aufzeichnungen, Athleten, Pläne, das Tagebuch und den Papierkorb. Bewahre eine auf einer anderen Platte auf.',
  failed: (reason) => `Nicht gelesen: ${reason}`,
  takeAway: 'Eine zum Herunterladen',
  takeAwayText: 'Als eine Datei, nicht verschlossen: Wer sie hat, kann sie lesen.',
  makeOne: 'Eine machen und herunterladen',
  byClock: 'Nach der Uhr',
  noSchedule:
    'Noch keine. Nenne in den Einstellungen einen Ordner und eine Passphrase, dann macht der Hub von selbst verschlossene Sicherungen. Eine vergessene Passphrase lässt sich nicht umgehen.',
  settings: '--backup-folder ORDNER\n--backup-every 24\n--backup-keep 14\nSLACKWATER_BACKUP_PASSPHRASE=…',
  schedule: (hours, keep, folder) =>
    `Alle ${hours} h, verschlossen, die neuesten ${keep} bleiben, in ${folder}.`,
  noneYet: 'Noch keine wurde gemacht.',
  age: (hours) =>
    hours < 48 ? `Die neueste ist ${hours} h alt.` : `Die neueste ist ${Math.floor(hours / 24)} Tage alt.`,
  lastFailed: (reason) => `Die letzte ließ sich nicht machen: ${reason}`,
  makeNow: 'Jetzt eine machen',
  restore: 'Aus einer Sicherung zurückspielen',
  restoreText:
    'Wähle eine Sicherungsdatei. Der Hub sieht sie zuerst an und sagt, was darin ist; nichts wird geändert, bevor du es sagst.',
  notHere:
    'Dieser Hub kann nicht selbst zurückspielen. Beende ihn und starte: slackwater restore DATEI --replace',
  running: 'Es läuft eine Sitzung. Zurückspielen geht zwischen Sitzungen: Beende sie zuerst.',
  file: 'Sicherungsdatei',
  sending: 'Die Datei wird gesendet …',
  looking: 'Sie wird angesehen …',
  passphrase: 'Sie ist verschlossen. Ihre Passphrase',
  unlock: 'Aufschließen und ansehen',
  inFile: 'In der Sicherung',
  here: 'Jetzt hier',
  holds: (sessions, athletes) =>
    `${sessions === 1 ? '1 Aufzeichnung' : `${sessions} Aufzeichnungen`}, ${athletes === 1 ? '1 Athlet' : `${athletes} Athleten`}`,
  newest: (when) => `die neueste vom ${when}`,
  certain:
    'Die Sicherung an die Stelle dessen setzen, was jetzt hier ist. Was hier ist, wird beiseitegelegt, nicht gelöscht.',
  begin: 'Zurückspielen',
  restoring: 'Der Hub hält an, spielt zurück und startet neu. Diese Seite wartet auf ihn.',
  done: 'Der Hub ist wieder da. Sein Hinweis oben sagt, was zurückgespielt wurde und wo die früheren Aufzeichnungen liegen.',
};
