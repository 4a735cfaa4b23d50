// The words of same against same in the weeks, of what is noted of a session, and of finding recordings, in German.

import type { Messages } from './en.ts';

const sessions = (number: number) => (number === 1 ? '1 Sitzung' : `${number} Sitzungen`);
const littleData = (little: boolean) => (little ? ' Das sind wenige Daten.' : '');

export const deWeeksMore: Messages['weeksMore'] = {
  waits: (number) =>
    `${sessions(number)} ${number === 1 ? 'wird' : 'werden'} ausgewertet, wenn die laufende Aufzeichnung beendet ist.`,
  trend: {
    none: 'Keine Sitzung der letzten vier Wochen sagt etwas dazu.',
    few: (number, median) =>
      `${median} aus ${number === 1 ? '1 Sitzung' : `${number} Sitzungen`} der letzten vier Wochen: zu wenig, um zu sagen, ob es sich ändert.`,
    moved: {
      up: (from, to, days, number, little) =>
        `In ${days} Tagen von ${from} auf ${to} gestiegen, über ${sessions(number)}.${littleData(little)}`,
      down: (from, to, days, number, little) =>
        `In ${days} Tagen von ${from} auf ${to} gefallen, über ${sessions(number)}.${littleData(little)}`,
    },
    alone: (now, number, little) =>
      `${now} aus ${number === 1 ? '1 Sitzung' : `${number} Sitzungen`} der letzten vier Wochen, ohne klare Änderung, und keine in den vieren davor zum Vergleich.${littleData(little)}`,
    beside: {
      higher: (now, number, before, numberBefore, little) =>
        `Höher als davor: ${now} aus ${sessions(number)} der letzten vier Wochen, nach ${before} aus ${numberBefore} in den vieren davor.${littleData(little)}`,
      lower: (now, number, before, numberBefore, little) =>
        `Niedriger als davor: ${now} aus ${sessions(number)} der letzten vier Wochen, nach ${before} aus ${numberBefore} in den vieren davor.${littleData(little)}`,
      unclear: (now, number, before, numberBefore, little) =>
        `Keine klare Änderung: ${now} aus ${sessions(number)} der letzten vier Wochen, nach ${before} aus ${numberBefore} in den vieren davor.${littleData(little)}`,
    },
    point: (day, value) => `${day}: ${value}`,
    openPoint: (point) => `${point}. Aufzeichnung öffnen`,
  },
  load: {
    legend:
      'Last: Anstrengung (leicht 2, mittel 3, hart 5) mal Minuten der ganzen Sitzung, was auch trainiert wurde (Session-RPE, Foster et al. 2001); nur wo Anstrengung und Länge bekannt sind.',
    ofWeek: (load, unknown) => (unknown === 0 ? `Last ${load}` : `Last ${load}, ${unknown} unbekannt`),
  },
  filter: {
    title: 'Nur gleiche Sitzungen',
    all: 'Alle',
    plan: 'Plan',
    tag: 'Schlagwort',
    place: 'Ort',
    lungs: 'Lunge',
    lungsWords: { full: 'Voll', half: 'Halb', emptied: 'Geleert' },
    found: (found, all) => `${found} von ${sessions(all)}.`,
    clear: 'Wieder alle zeigen',
    none: 'Keine solche Sitzung. Wähle anders oder zeige wieder alle.',
    nothing:
      'Um Gleiches mit Gleichem zu vergleichen, übe nach einem Plan, markiere die Lunge oder notiere Ort und Schlagwörter bei einer Aufzeichnung: Dann lassen sie sich hier wählen.',
  },
  pair: {
    open: 'Sitzung gegen Sitzung',
    title: 'Sitzung gegen Sitzung',
    lead: 'Zwei Sitzungen dieser Person, Zeile für Zeile. Zeilen sind die des Plans, wenn beide nach demselben liefen, sonst die Apnoen in ihrer Reihenfolge.',
    one: 'Sitzung',
    other: 'Daneben',
    samePlan: 'Derselbe Plan, letztes Mal',
    eightWeeks: 'Acht Wochen davor',
    noSamePlan: 'Keine frühere Sitzung nach demselben Plan.',
    noEightWeeks: 'Keine Sitzung höchstens zehn Tage um acht Wochen davor.',
    few: 'Dazu braucht es zwei Sitzungen mit Apnoen. Nach der nächsten Aufzeichnung lässt sie sich hier vergleichen.',
    byPlan: (plan) => `Zeilen von „${plan}“.`,
    byOrder: 'Apnoen in ihrer Reihenfolge: nicht nach demselben Plan.',
    row: 'Zeile',
    hold: 'Apnoe',
    difference: (text) => `Unterschied ${text}`,
    noRow: 'nicht gemacht',
    caution:
      'Eine Sitzung neben einer anderen sagt wenig: Schlaf, Essen, Wärme und Stimmung allein bewegen jede dieser Zahlen.',
    plot: (measure) => `${measure}, Zeile für Zeile`,
    conditions: 'Notiert',
    notNoted: 'nichts notiert',
  },
  beside: {
    open: 'Zwei nebeneinander',
    title: 'Zwei nebeneinander',
    lead: 'Dieselben Messwerte zweimal auf einer Skala: eine Person nach zwei Plänen, Schlagwörtern, Orten oder Lungenfüllungen, oder zwei, die zugestimmt haben. Was verschieden ist, kann jede Ursache haben.',
    left: 'Links',
    right: 'Rechts',
    athlete: 'Person',
    consent: (name) => `${name} ist einverstanden, neben anderen gezeigt zu werden`,
    consentWhy:
      'Frag zuerst. Es steht mit Datum im Protokoll und lässt sich jederzeit zurücknehmen; ohne Zustimmung wird hier nichts gezeigt.',
    consentNeeded: (name) => `Von ${name} wird nichts gezeigt, solange keine Zustimmung da ist.`,
    failed: (reason) => `Nicht behalten: ${reason}`,
    all: 'alle Sitzungen',
    median: (value, number) => `Median ${value}, ${sessions(number)}`,
    noValues: 'Aus diesen Sitzungen nicht bekannt.',
    same: 'Beide Seiten zeigen dieselben Sitzungen. Wähle für eine einen anderen Plan, ein Schlagwort, einen Ort oder eine andere Person.',
  },
  details: {
    title: 'Notizen zu dieser Sitzung',
    nothing: 'Noch nichts notiert',
    effort: 'Wie anstrengend sie im Ganzen war',
    efforts: { easy: 'Leicht', medium: 'Mittel', hard: 'Hart' },
    unsaid: 'Nicht gesagt',
    company: 'Dabei war',
    companies: { alone: 'Niemand', accompanied: 'Jemand' },
    buddy: 'Wer',
    place: 'Ort',
    tags: 'Schlagwörter, durch Kommas getrennt',
    sleep: 'Schlaf in der Nacht davor',
    sleeps: { poor: 'Schlecht', fair: 'Mittel', good: 'Gut' },
    food: 'Magen',
    foods: { empty: 'Leer', light: 'Leicht gefüllt', full: 'Voll' },
    illness: 'Gesundheit',
    illnesses: { well: 'Gesund', unwell: 'Nicht ganz gesund', ill: 'Krank' },
    illCaution:
      'Halte keine Apnoen, solange du krank bist, und nach Fieber einige Tage nicht. Frag im Zweifel einen Arzt.',
    aloneCaution: 'Hab bei harten Apnoen jemanden neben dir; lass sie weg, wenn niemand da ist.',
    note: 'Was noch',
    minutes: 'Wie lange im Ganzen, Minuten',
    save: 'Notizen sichern',
    saved: 'Notiert.',
    failed: (reason) => `Nicht gesichert: ${reason}`,
    tooMany: 'Höchstens 12 Schlagwörter mit je 40 Buchstaben.',
    short: {
      effort: (word) => `Anstrengung ${word.toLowerCase()}`,
      alone: 'niemand dabei',
      with: (name) => `mit ${name}`,
      accompanied: 'jemand dabei',
      sleep: (word) => `Schlaf ${word.toLowerCase()}`,
      food: (word) => `Magen ${word.toLowerCase()}`,
    },
  },
  reassign: {
    open: 'Gehört jemand anderem',
    title: (name) => `Den Teil von ${name} jemand anderem zuordnen`,
    text: 'Alles, was hier von dieser Person aufgezeichnet ist, mit Apnoen, Markierungen, Alarmen und Korrekturen, gehört dann der anderen. Es steht für beide im Protokoll und lässt sich ebenso zurückgeben. Durchgänge von Plänen und was die Vorhersage aus diesen Apnoen gelernt hat, bleiben, wie sie sind.',
    to: 'An',
    none: 'Sonst ist niemand auf der Liste. Füge die Person zuerst hinzu.',
    choose: 'Wählen',
    give: 'Zuordnen',
    done: (name) => `Es gehört jetzt ${name}.`,
    failed: (reason) => `Nicht geändert: ${reason}`,
  },
  table: {
    comfortable: 'Eine Apnoe, die angenehm ist',
    byHand: 'Gemacht um die Apnoe, die du eingestellt hast.',
    asking: 'Es wird nachgesehen, was von ihren Apnoen bekannt ist',
  },
  list: {
    tag: 'Schlagwort',
    place: 'Ort',
    plan: 'Plan',
    condition: 'Bedingung',
    conditions: {
      hard: 'Hart',
      alone: 'Niemand dabei',
      poorSleep: 'Schlecht geschlafen',
      unwell: 'Nicht gesund',
      withoutNotes: 'Nichts notiert',
    },
    loading: 'Wird gesucht',
  },
};
