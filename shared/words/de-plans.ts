// Plans in German: names of steps, what a plan is, its warnings, suggestions, cues, and faults of a plan file.

import type { SaidWords } from './en.ts';
import type { planWordsInEnglish } from './en-plans.ts';
import { lengthText } from './lengths.ts';

const apnoen = (count: number) => `${count} ${count === 1 ? 'Apnoe' : 'Apnoen'}`;
const maximale = (count: number) =>
  count === 1 ? 'eine maximale Apnoe' : count === 2 ? 'zwei maximale Apnoen' : `${count} maximale Apnoen`;
const wer = ({ label, moreCount }: { readonly label: string; readonly moreCount: number }) =>
  moreCount === 0 ? label : `${label} und ${moreCount} weitere`;
const wasLaengenHeissen =
  'Jede Länge ist das Höchste, was eine Apnoe dauern darf; hör auf, wann immer du magst.';

/** Names that the parser of JSON gives its faults. */
const jsonFehler: Readonly<Record<string, string>> = {
  InvalidSymbol: 'ungültiges Zeichen',
  InvalidNumberFormat: 'ungültige Zahl',
  PropertyNameExpected: 'Feldname erwartet',
  ValueExpected: 'Wert erwartet',
  ColonExpected: 'Doppelpunkt erwartet',
  CommaExpected: 'Komma erwartet',
  CloseBraceExpected: 'schließende geschweifte Klammer erwartet',
  CloseBracketExpected: 'schließende eckige Klammer erwartet',
  EndOfFileExpected: 'Ende der Datei erwartet',
  InvalidCommentToken: 'Kommentare sind nicht erlaubt',
  UnexpectedEndOfComment: 'Kommentar ohne Ende',
  UnexpectedEndOfString: 'Text ohne schließendes Anführungszeichen',
  UnexpectedEndOfNumber: 'Zahl ohne Ende',
  InvalidUnicode: 'ungültiges Unicode-Zeichen',
  InvalidEscapeCharacter: 'ungültiges Zeichen nach einem Rückstrich',
  InvalidCharacter: 'ungültiges Zeichen',
};

export const planWordsInGerman: Pick<SaidWords, keyof typeof planWordsInEnglish> = {
  'plan.step.hold': ({ number }) => `Apnoe ${number}`,
  'plan.step.warmUp': ({ number }) => `Aufwärmen ${number}`,
  'plan.step.maximal': ({ number }) => `Maximale Apnoe ${number}`,
  'plan.step.round': ({ number }) => `Runde ${number}`,
  'plan.step.repetition': ({ number }) => `Wiederholung ${number}`,
  'plan.step.swim': 'Schwimmen',
  'plan.step.added': ({ number }) => `Zusätzlich ${number}`,
  'plan.step.outside': ({ number }) => `Außerhalb des Plans ${number}`,

  'plan.warning.recoveryShort': (p, { clock }) =>
    `${p.label} bis zu ${clock(p.effortMs)} würde ${clock(p.plannedMs)} Erholung lassen; mindestens ${clock(p.minimumMs)} bleiben, spätere Starts verschieben sich also.`,
  'plan.warning.intervalShort': (p, { clock }) =>
    `Der Abstand von ${clock(p.everyMs)} ist kürzer als die kleinste Erholung von ${clock(p.leastMs)}; Starts verschieben sich.`,
  'plan.warning.floorLikely': (p, { number }) =>
    `${wer(p)}: wohl unter der Untergrenze von ${number(p.floorPercent)}\u202f% (etwa ${number(p.lowestPercent)}\u202f%).`,
  'plan.warning.floorPossible': (p, { number }) =>
    `${wer(p)}: könnte unter die Untergrenze von ${number(p.floorPercent)}\u202f% gehen (etwa ${number(p.lowestPercent)}\u202f% erwartet, mit einer Wahrscheinlichkeit von mindestens eins zu zehn darunter).`,
  'plan.warning.maximalHold':
    'Eine maximale Apnoe endet, wo das Angenehme endet. Leg dich hin, im Trockenen, mit einem Menschen neben dir, der zuschaut und weiß, was bei einer Ohnmacht zu tun ist. Keine Hyperventilation. Lass sie weg, wenn sich etwas nicht richtig anfühlt.',
  'plan.warning.twoMaximal':
    'Zwei maximale Apnoen in einer Sitzung sind viel. Die zweite kann jederzeit entfallen.',
  'plan.warning.walk':
    'Gehen auf einen Atemzug kann mit einem Sturz enden: ebener, weicher Boden, keine Kanten, kein Wasser, keine Straße und ein Mensch neben dir, der zuschaut und dich auffangen kann. Atme beim ersten Zweifel.',
  'plan.warning.inWaterOneBreath':
    'Im Wasser: nur mit einem ausgebildeten Buddy, der dich und sonst nichts beobachtet, in einem beaufsichtigten Becken, nach örtlichen Regeln und deinem Ausbilder. Dieses Programm überwacht dich im Wasser nicht.',
  'plan.warning.inWater':
    'Im Wasser: nie allein, in einem beaufsichtigten Becken und nach örtlichen Regeln. Dieses Programm überwacht dich im Wasser nicht.',

  'plan.shape.intervalSeries': (p, { clock }) =>
    `${p.starts} Starts, einer alle ${clock(p.everyMs)}. Du entscheidest, wann jede Apnoe endet; der Rest des Abstands ist Erholung.`,
  'plan.shape.carbonDioxide': `Kohlendioxid-Tabelle: gleich lange Apnoen, kürzer werdende Erholung. ${wasLaengenHeissen}`,
  'plan.shape.oxygen': `Sauerstoff-Tabelle: gleich lange Erholung, länger werdende Apnoen. ${wasLaengenHeissen}`,
  'plan.shape.own': `Eine Tabelle von Apnoen und Erholungen. ${wasLaengenHeissen}`,
  'plan.shape.maximalAttempts': (p) =>
    `${apnoen(p.warmUps)} zum Aufwärmen, dann ${maximale(p.attempts)}. Du entscheidest, wann jede endet.`,
  'plan.shape.walkTime': (p, { clock }) =>
    `${p.rounds}-mal Gehen auf einen Atemzug, je bis zu ${clock(p.ceilingMs)}.`,
  'plan.shape.walkSteps': (p) => `${p.rounds}-mal Gehen auf einen Atemzug, je bis zu ${p.steps} Schritte.`,
  'plan.shape.free': (p, { clock }) => `Apnoen, wann du magst, für ${clock(p.lengthMs)}.`,
  'plan.shape.pool': (p, { clock, number }) =>
    `${p.repetitions}-mal ${lengthText(p.distanceMeters, number)}, einmal alle ${clock(p.everyMs)}, ${p.onOneBreath ? 'je auf einen Atemzug' : 'frei atmend'}.`,
  'plan.shape.swim': (p, { clock }) => `Schwimm ${clock(p.lengthMs)} lang, frei atmend, und zähle Bahnen.`,

  'plan.title.intervalSeries': (p, { clock }) => `${p.starts} Starts, einer alle ${clock(p.everyMs)}`,
  'plan.title.carbonDioxide': (p, { clock }) =>
    `${apnoen(p.holds)} bis zu ${clock(p.longestMs)}, kürzer werdende Erholung`,
  'plan.title.oxygen': (p, { clock }) => `${apnoen(p.holds)}, länger werdend bis zu ${clock(p.longestMs)}`,
  'plan.title.own': (p, { clock }) => `${apnoen(p.holds)} bis zu ${clock(p.longestMs)}`,
  'plan.title.maximalAttempts': (p) => `${p.warmUps}-mal Aufwärmen, ${maximale(p.attempts)}`,
  'plan.title.walkTime': (p, { clock }) => `${p.rounds}-mal Gehen bis zu ${clock(p.ceilingMs)}`,
  'plan.title.walkSteps': (p) => `${p.rounds}-mal Gehen bis zu ${p.steps} Schritte`,
  'plan.title.free': (p) => `Freie Apnoen für ${p.minutes} Minuten`,
  'plan.title.pool': (p, { clock, number }) =>
    `${p.repetitions}-mal ${lengthText(p.distanceMeters, number)}, einmal alle ${clock(p.everyMs)}`,
  'plan.title.swim': (p) => `${p.minutes}-Minuten-Schwimmen`,

  'plan.effort.distance': (p, { number }) => lengthText(p.meters, number),
  'plan.effort.steps': (p) => `bis zu ${p.steps} Schritte`,
  'plan.effort.withLungs': (p) => `${p.effort}, ${p.lungs}`,
  'plan.effort.open': 'du entscheidest',
  'plan.effort.length': (p, { clock }) => clock(p.lengthMs),
  'plan.effort.upTo': (p, { clock }) => `bis zu ${clock(p.ceilingMs)}`,

  'plan.minimum.rule': (p, { number }) =>
    `Mindestens ${p.leastSeconds} s und mindestens ${Math.abs(p.times - 1 / 3) < 0.001 ? 'ein Drittel' : `das ${number(p.times, Number.isInteger(p.times) ? 0 : 2)}-Fache`} der Dauer davor.`,
  'plan.minimum.own': (p) => `${p.rule} In diesem Plan festgelegt.`,
  'plan.minimum.dry': (p) =>
    `${p.rule} Der tiefste Messwert am Finger kommt bis zu etwa 40 s nach dem ersten Atemzug; früher zu starten hieße zu starten, bevor er gesehen wurde. Ein Drittel der Apnoe ist gängige Praxis, ohne veröffentlichte Quelle.`,
  'plan.minimum.double': (p) =>
    `${p.rule} Veröffentlichte Empfehlungen fürs Apnoetauchen verlangen mindestens das Doppelte des Tauchgangs; hier gilt das für maximale Apnoen und für Bewegung auf einen Atemzug als vorsichtige Wahl.`,
  'plan.minimum.swim': (p) =>
    `${p.rule} Das ist Schwimmen mit Atmung; ruh dich so lange aus, wie es angenehm ist.`,

  'plan.suggest.stopToday': 'Hör für heute hier auf.',
  'plan.suggest.calledOff':
    'Eine Apnoe wurde abgebrochen. Ruh dich aus, besprecht es, und halte die Luft nicht wieder an, bevor alle überzeugt sind, dass alles gut ist.',
  'plan.suggest.stopOrRest': 'Hör hier auf, oder ruh dich aus, so lange du magst.',
  'plan.suggest.comfortWas': (p) =>
    `Das Befinden in der letzten Apnoe wurde mit ${p.comfort} von 5 angegeben.`,
  'plan.suggest.moreRecovery': (p) => `Plane ${p.seconds} s mehr Erholung.`,
  'plan.suggest.notBack':
    'Sättigung oder Herzfrequenz waren noch nicht nahe am Ruhewert, als der nächste Start kam.',
  'plan.suggest.lowerCeiling': (p, { clock }) =>
    `Plane die nächsten Apnoen bis zu ${clock(p.ceilingMs)}, oder hör hier auf.`,
  'plan.suggest.nearFloor': (p, { number }) =>
    `Der tiefste Messwert der letzten Apnoe war ${number(p.lowestPercent)} %, bei einer Untergrenze von ${number(p.floorPercent)} %. Die Sättigung im Körper kann tiefer gewesen sein, als ein Finger zeigt (Lindholm 2007, Aviat Space Environ Med 78:770-773).`,
  'plan.suggest.lengthenInterval': (p, { clock }) => `Setze den Abstand auf ${clock(p.everyMs)}.`,
  'plan.suggest.shortRecoveries': (p) =>
    `${p.short} von ${p.all} Apnoen ließen etwa eine Minute Erholung oder weniger.`,

  'plan.noEffect.moving':
    'Für Gehen oder Schwimmen gibt es keine Vorschau der Sättigung: Das Modell gilt für Apnoen in Ruhe.',
  'plan.noEffect.free':
    'Für eine freie Sitzung gibt es keine Vorschau: Ihre Apnoen sind vorher nicht bekannt.',
  'plan.noEffect.lengthUnknown': 'Ohne die Länge der längsten Apnoe gibt es keine Vorschau.',
  'lungs.full': 'volle Lunge',
  'lungs.half': 'halb volle Lunge',
  'lungs.emptied': 'entleerte Lunge',
  'lungs.displayTooLate': (p, { clock }) =>
    `Zu spät zu sehen (${p.lungs}): Ein Pulsoximeter am Finger zeigt den Abfall nicht rechtzeitig. Halte die Luft nicht länger an als ${clock(p.breatheByMs)}, und weniger, wenn sich etwas nicht gut anfühlt.`,
  'lungs.noHoldShortEnough': (p) =>
    `Zu spät zu sehen (${p.lungs}): Ein Pulsoximeter am Finger zeigt den Abfall nicht rechtzeitig. Keine Apnoe ist kurz genug, um über dieser Grenze zu bleiben.`,
  'plan.preview.ofPeople':
    'Von diesem Athleten ist noch nichts bekannt: Die Bänder sind die von Menschen im Allgemeinen.',
  'plan.preview.ofAthlete': (p) =>
    `Angepasst an ${p.holds} frühere ${p.holds === 1 ? 'Apnoe' : 'Apnoen'} dieses Athleten.`,
  'plan.preview.caution':
    'Eine Rechnung, keine Messung: Atmung vor der Apnoe, Bewegung und der Tag selbst ändern sie. Sie sagt, was ein Plan belastet, nicht, was jemand kann.',

  'cue.prepare': 'Noch eine Minute bis zum nächsten Start. Atme ruhig.',
  'cue.countdown': 'Zehn Sekunden.',
  'cue.tick': 'Einen Moment.',
  'cue.start': 'Starte, wenn du bereit bist.',
  'cue.startSwim': 'Schwimm, wenn du bereit bist.',
  'cue.ceilingNear': 'Noch zehn Sekunden bis zum geplanten Ende. Atme, wann immer du magst.',
  'cue.breathe': 'Atme jetzt.',
  'cue.check': 'Atme jetzt. Buddy, sieh nach dem Athleten.',
  'cue.aborted': 'Atme jetzt. Buddy, sieh nach dem Athleten. Besser hier aufhören.',
  'cue.recover': 'Erhol dich. Atme ruhig.',
  'cue.rest': 'Ruh dich aus.',
  'cue.lastDone': 'Das war die letzte. Bleib noch eine Minute, wo du bist.',
  'cue.moved': 'Der nächste Start wartet.',
  'cue.replanned': 'Der nächste Start ist neu geplant.',
  'cue.skipped': 'Ein Start entfällt.',
  'cue.minimumOver': 'Die Mindesterholung ist vorbei.',
  'cue.paused': 'Pause.',
  'cue.resumed': 'Es geht weiter.',
  'cue.back': 'Der Hub war weg. Starts dazwischen sind entfallen.',
  'cue.timeUp': 'Die Zeit ist um. Hör auf und ruh dich aus.',
  'cue.finished': 'Der Plan ist zu Ende.',

  'calendar.caution':
    'Nie allein: Jemand sieht neben dir zu, an Land, fern vom Wasser. Hör auf, wann immer du willst. Slackwater ist kein Medizinprodukt.',
  'planFile.tooLong': (p) =>
    `Die Datei ist zu lang für einen Plan (${p.characters} Zeichen; höchstens ${p.most}).`,
  'planFile.empty': 'Die Datei ist leer.',
  'planFile.tooDeep': 'Die Datei ist für einen Plan zu tief verschachtelt.',
  'planFile.notJson': 'Das ist kein JSON: Es ist nicht zu lesen.',
  'planFile.notJsonAt': (p) => `Das ist kein JSON: ${jsonFehler[p.fault] ?? p.fault}.`,
  'planFile.notObject': 'Ein Plan ist ein JSON-Objekt, in geschweiften Klammern.',
  'planFile.unknownField': 'ist kein Feld dieser Art von Plan',
  'json.missing': 'fehlt',
  'json.atLeast': (p) => `muss mindestens ${p.least} sein`,
  'json.atLeastEntries': (p) => `muss mindestens ${p.least} Einträge haben`,
  'json.atLeastCharacters': (p) => `muss mindestens ${p.least} Zeichen lang sein`,
  'json.atMost': (p) => `darf höchstens ${p.most} sein`,
  'json.atMostEntries': (p) => `darf höchstens ${p.most} Einträge haben`,
  'json.atMostCharacters': (p) => `darf höchstens ${p.most} Zeichen lang sein`,
  'json.wholeNumber': 'muss eine ganze Zahl sein',
  'json.text': 'muss ein Text in Anführungszeichen sein',
  'json.list': 'muss eine Liste in eckigen Klammern sein',
  'json.group': 'muss eine Gruppe in geschweiften Klammern sein',
  'json.kind': (p) => `muss vom Typ ${p.kind} sein`,
  'planFile.format': (p) => `muss "${p.format}" sein; das ist die Datei eines anderen Programms`,
  'planFile.version': (p) => `muss ${p.versions} sein; diese Datei hat eine andere Version`,
  'json.oneOf': (p) => `muss eines davon sein: ${p.values}`,
  'json.exactly': (p) => `muss ${p.value} sein`,
  'json.noSuchKind': 'ist keine der vorhandenen Arten',
  'json.invalid': 'ist nicht gültig',
};
