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

  'advice.afterAbort':
    'Besprich vor der nächsten Apnoe mit einem Ausbilder, was geschehen ist, und ruh dich aus, bis alle überzeugt sind, dass alles gut ist.',
  'advice.afterAbort.because': 'Eine Apnoe der letzten Sitzung wurde abgebrochen.',
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
  'advice.hardDaysInARow.because': ({ count }) => `${count} harte Tage hintereinander in der letzten Woche.`,
  'advice.fallingComfort.because': (p, { number }) =>
    `Das Befinden der letzten drei Sitzungen liegt im Mittel bei ${number(p.now, 1)} von 5, nach ${number(p.before, 1)} in den dreien davor.`,
  'advice.uncomfortable':
    'Mach die nächste Sitzung leicht und beende jede Apnoe, solange sie noch angenehm ist.',
  'advice.uncomfortable.because': (p) =>
    `Das Befinden in der letzten Sitzung wurde mit ${p.comfort} von 5 angegeben.`,
  'advice.tooManySessions': 'Lass diese Woche ein oder zwei Sitzungen weg.',
  'advice.tooManySessions.because': ({ count }) => `${count} Sitzungen in den letzten sieben Tagen.`,
  'advice.enoughThisWeek': 'Das reicht für diese Woche; ruh dich vor der nächsten Sitzung aus.',
  'advice.enoughThisWeek.because': 'Drei Sitzungen in den letzten sieben Tagen.',
  'advice.recoveryDay': 'Halte nach einem harten Tag einen Tag ohne Apnoen ein.',
  'advice.recoveryDay.because': 'Die letzte Sitzung, vor weniger als einem Tag, war hart.',
  'advice.maximalOften': 'Lass maximale Apnoen eine Zeit lang weg.',
  'advice.maximalOften.because': ({ count }) => `${count} maximale Versuche in den letzten sieben Tagen.`,
  'advice.afterABreak': 'Fang leicht wieder an: weniger und kürzere Apnoen als vor der Pause.',
  'advice.afterABreak.because': (p) => `Die letzte Sitzung war vor ${p.days} Tagen.`,
  'advice.lengthenInterval': 'Mach den Abstand das nächste Mal eine Minute länger, für mehr Erholung.',
  'advice.lengthenInterval.because': (p) =>
    `${p.short} von ${p.all} Apnoen der letzten Serie ließen etwa eine Minute oder weniger.`,

  'entry.walkAlone':
    'Maximales Gehen allein: Eine Ohnmacht beim Gehen ist ein Sturz, bei dem niemand hilft. Hab jemanden neben dir, auf weichem ebenem Boden, oder geh eine vorher festgelegte Länge.',
  'entry.holdAlone':
    'Eine maximale Apnoe allein: Hab jemanden im Raum, der zuschaut und weiß, was zu tun ist.',
  'entry.inWaterOneBreath':
    'Auf einen Atemzug im Wasser: Dein Buddy beobachtet dich und sonst nichts, in Reichweite und mindestens 30 s, nachdem du auftauchst.',
};
