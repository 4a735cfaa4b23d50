// Training without sensors in German: advice with its reasons and sources, and cautions of log entries.

import type { SaidWords } from './en.ts';
import type { trainingWordsInEnglish } from './en-training.ts';

export const trainingWordsInGerman: Pick<SaidWords, keyof typeof trainingWordsInEnglish> = {
  'source.commonPractice': 'gängige Praxis, ohne Quelle',
  'source.oneToOne':
    'veröffentlichte allgemeine Empfehlung: direkte Aufsicht eins zu eins (Alert Diver, Frühjahr 2016, nach dem UHMS/DAN-Workshop 2006)',
  'source.fingerLag':
    'eigene Festlegung; ein Finger misst später und flacher als der Körper (Lindholm 2007, Aviat Space Environ Med 78:770-773)',
  'source.sessionsAWeek': 'gängige Praxis, ohne Quelle: zwei je Woche sind gut, drei das Höchste',
  'source.intervalGrows':
    'gängige Praxis, ohne Quelle: Sobald die meisten Apnoen etwa eine Minute lassen, wächst der Abstand um eine Minute',

  'source.sessionLoad':
    'Anstrengung mal Minuten ganzer Sitzungen (Session-RPE; Foster et al. 2001, J Strength Cond Res 15:109-115); dass die Hälfte mehr zu viel ist, ist unsere Festlegung, keine Grenze ist belegt',

  'advice.calledOff':
    'Besprich vor der nächsten Apnoe mit einem Ausbilder, was geschehen ist, und ruh dich aus, bis alle überzeugt sind, dass alles gut ist.',
  'advice.calledOff.because': (p, { day }) =>
    `Apnoe ${p.hold} von „${p.title}“ am ${day(p.day)} wurde abgebrochen: ${p.why}.`,
  'advice.why.person': 'jemand sagte Stopp',
  'advice.why.floorBreached': 'die Sättigung lag unter der Untergrenze',
  'advice.why.heartRateSuddenFall': 'die Herzfrequenz fiel plötzlich',
  'advice.why.heartRateLow': 'die Herzfrequenz war niedrig',
  'advice.why.noBreathingSign': 'danach war keine Atmung zu sehen',
  'advice.why.saturationNotRecovering': 'die Sättigung kam danach nicht zurück',
  'advice.why.other': 'ein Alarm rief',
  'advice.endedEarly':
    'Früher aufzuhören kostet nichts. War es unangenehm geworden, plane das nächste Mal weniger oder kürzere Apnoen.',
  'advice.endedEarly.because': (p, { day }) =>
    `„${p.title}“ am ${day(p.day)} wurde nach ${p.hold} von ${p.all} Apnoen beendet.`,
  'advice.floorAlarm':
    'Besprich es mit einem Ausbilder und beende Apnoen früher, bis die Sättigung der Untergrenze fernbleibt.',
  'advice.floorAlarm.because': (p, { day }) =>
    p.count === 1
      ? `Apnoe ${p.first} am ${day(p.day)} löste den Alarm der Untergrenze aus.`
      : `${p.count} Apnoen am ${day(p.day)}, zuerst Apnoe ${p.first}, lösten den Alarm der Untergrenze aus.`,
  'advice.notAlone':
    'Hab bei harten Apnoen und maximalem Gehen jemanden neben dir; lass sie an Tagen weg, an denen niemand da ist.',
  'advice.notAlone.because': ({ count }) =>
    count === 1
      ? 'Bei 1 harten oder maximalen Sitzung in vier Wochen war niemand neben dir genannt.'
      : `Bei ${count} harten oder maximalen Sitzungen in vier Wochen war niemand neben dir genannt.`,
  'advice.lowSaturation': 'Erwäge kürzere Apnoen oder eine höhere Untergrenze, damit der Alarm früher kommt.',
  'advice.lowSaturation.because': (p) =>
    `In ${p.low} der letzten ${p.all} gemessenen Sitzungen erreichte die Sättigung die Untergrenze oder lag darunter.`,
  'advice.easyWeek': 'Erwäge eine leichte Woche: weniger Sitzungen, kürzere Apnoen, nichts Maximales.',
  'advice.hardDaysInARow.because': (p, { day }) =>
    `${p.count} harte Tage hintereinander, bis zum ${day(p.day)}.`,
  'advice.restDays':
    'Lass Apnoen ein paar Tage weg und besprich mit einem Ausbilder, wie es weitergeht. Harte Tage brauchen leichte dazwischen.',
  'advice.hardDaysFallingComfort.because': (p, { number }) =>
    `${p.count} harte Tage hintereinander, und das Befinden fiel dabei von ${number(p.before, 1)} auf ${number(p.now, 1)} von 5.`,
  'advice.fallingComfort.because': (p, { number }) =>
    `Das Befinden fiel in den letzten vier Wochen von ${number(p.before, 1)} auf ${number(p.now, 1)} von 5, nach ${p.count} Sitzungen.`,
  'advice.uncomfortable':
    'Mach die nächste Sitzung leicht und beende jede Apnoe, solange sie noch angenehm ist.',
  'advice.uncomfortable.because': (p) =>
    `Das Befinden in der letzten Sitzung wurde mit ${p.comfort} von 5 angegeben.`,
  'advice.tooManyDays':
    'Lass diese Woche ein oder zwei Tage weg: Zwei Tage mit Apnoen je Woche sind gut, mehr als drei zu viel.',
  'advice.tooManyDays.because': ({ count }) => `Training an ${count} der letzten sieben Tage.`,
  'advice.loadRose': 'Mach die nächste Woche leichter: kürzere, leichtere oder weniger Sitzungen.',
  'advice.loadRose.because': (p, { number }) =>
    `Anstrengung mal Minuten ergab ${number(p.now)} in den letzten sieben Tagen, nach ${number(p.before)} je Woche in den vier Wochen davor.`,
  'advice.enoughThisWeek': 'Das reicht für diese Woche; ruh dich vor der nächsten Sitzung aus.',
  'advice.enoughThisWeek.because': 'Training an drei der letzten sieben Tage.',
  'advice.recoveryDay': 'Halte nach einem harten Tag einen Tag ohne Apnoen ein.',
  'advice.recoveryDay.because': 'Die letzte Sitzung, vor weniger als einem Tag, war hart.',
  'advice.maximalOften': 'Lass maximale Apnoen eine Zeit lang weg.',
  'advice.maximalOften.because': ({ count }) => `${count} maximale Versuche in den letzten sieben Tagen.`,
  'advice.afterABreak': 'Fang leicht wieder an: weniger und kürzere Apnoen als vor der Pause.',
  'advice.afterABreak.because': (p) => `Die letzte Sitzung war vor ${p.days} Tagen.`,
  'advice.lengthenInterval': (p, { clock }) =>
    `Verlängere den Abstand das nächste Mal von ${clock(p.fromMs)} auf ${clock(p.toMs)}, für mehr Erholung zwischen denselben Apnoen.`,
  'advice.lengthenInterval.because': (p, { day }) =>
    `${p.short} von ${p.all} Apnoen der Serie am ${day(p.day)} ließen etwa eine Minute oder weniger.`,

  'table.ofNothing': (p, { clock }) =>
    `Von ihren Apnoen ist nichts bekannt, darum beginnt die Tabelle um eine kurze von ${clock(p.comfortableMs)}: Ändere sie auf das, was angenehm ist.`,
  'table.ofFewHolds': (p, { clock }) =>
    `Aus den letzten acht Wochen ${p.count === 1 ? 'ist nur 1 Apnoe' : `sind nur ${p.count} Apnoen`} bekannt, darum beginnt die Tabelle um eine kurze von ${clock(p.comfortableMs)}: Ändere sie auf das, was angenehm ist.`,
  'table.ofOwnHolds': (p, { clock, day }) =>
    `Gemacht um ${clock(p.comfortableMs)}: So lang oder kürzer war die Hälfte von ${p.count} angenehmen Apnoen seit ${day(p.day)}; ${p.rows} Zeilen wie üblich.`,
  'table.ofOwnHoldsAndRecovery': (p, { clock, day }) =>
    `Gemacht um ${clock(p.comfortableMs)}: So lang oder kürzer war die Hälfte von ${p.count} angenehmen Apnoen seit ${day(p.day)}; ${p.rows} Zeilen wie üblich, und Erholungen länger als die ${p.backSeconds} s, nach denen Sättigung und Herzfrequenz neun von zehn Mal zurück waren.`,
  'table.shortened': (p, { clock, number }) =>
    `${p.why} Nach dem Modell ihrer Sättigung käme das der Untergrenze von ${number(p.floorPercent)}\u202f% nahe, darum wurde auf ${clock(p.toMs)} gekürzt.`,

  'entry.walkAlone':
    'Maximales Gehen allein: Eine Ohnmacht beim Gehen ist ein Sturz, bei dem niemand hilft. Hab jemanden neben dir, auf weichem ebenem Boden, oder geh eine vorher festgelegte Länge.',
  'entry.holdAlone':
    'Eine maximale Apnoe allein: Hab jemanden im Raum, der zuschaut und weiß, was zu tun ist.',
  'entry.inWaterOneBreath':
    'Auf einen Atemzug im Wasser: Dein Buddy beobachtet dich und sonst nichts, in Reichweite und mindestens 30 s, nachdem du auftauchst.',
};
