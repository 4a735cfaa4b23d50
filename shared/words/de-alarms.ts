// The words of every alarm in German, by the same table as in English.

import type { AlarmKind, AlarmSubject } from '../schema-parts.ts';
import type { AlarmFacts, AlarmText } from './en-alarms.ts';
import { clockText } from './formats.ts';

interface StateWords {
  readonly message: (alarm: AlarmFacts) => string;
  readonly instruction: (alarm: AlarmFacts) => string;
}

/** Message and instruction for one alarm as it stands. */
export function alarmTextInGerman(alarm: AlarmFacts): AlarmText {
  const { present, passed } = table[alarm.kind];
  const words = alarm.conditionPresent ? present : (passed ?? present);
  return { message: words.message(alarm), instruction: words.instruction(alarm) };
}

const stopAndCheck =
  'Hör auf und atme jetzt. Jemand sieht nach: Bei fehlender Reaktion den Notruf wählen und Erste Hilfe leisten.';
const stopBecauseBlind =
  'Hör auf und atme: Nichts überwacht die Sättigung. Jemand sieht nach; bringt dann den Sensor in Ordnung.';
const seeThatTheyAreWell =
  'Seht nach, ob alles gut ist: wach, atmet, antwortet. Bei fehlender Reaktion den Notruf wählen. Dann quittieren.';

type Maybe = number | null | undefined;
const isMissing = (value: Maybe): value is null | undefined => value === null || value === undefined;
const whole = (value: Maybe): string => (isMissing(value) ? '?' : String(Math.round(value)));
const tenth = (value: Maybe): string =>
  isMissing(value) ? '?' : String(Math.round(value * 10) / 10).replace('.', ',');
const percent = (value: Maybe): string => `${tenth(value)}\u202f%`;
const perMinute = (value: Maybe): string => `${whole(value)}\u202f/min`;
const seconds = (ms: Maybe): string => `${whole(isMissing(ms) ? ms : ms / 1000)}\u202fs`;
/** A length of time: "2:30", from an hour "1:02:30". */
const clock = (ms: Maybe): string => (isMissing(ms) ? '?' : clockText(ms));
/** A time of the session, as every list of its events says it: in seconds that are over. */
const at = (ms: Maybe): string => clock(isMissing(ms) ? ms : Math.floor(ms / 1000) * 1000);

/** With the article in the cases that the sentences need. */
const subjects: Readonly<
  Record<
    AlarmSubject,
    { readonly who: string; readonly whom: string; readonly of: string; readonly to: string }
  >
> = {
  oximeter: {
    who: 'Das Pulsoximeter',
    whom: 'das Pulsoximeter',
    of: 'des Pulsoximeters',
    to: 'dem Pulsoximeter',
  },
  heartRateSensor: {
    who: 'Der Herzfrequenzsensor',
    whom: 'den Herzfrequenzsensor',
    of: 'des Herzfrequenzsensors',
    to: 'dem Herzfrequenzsensor',
  },
  breathingSensor: {
    who: 'Der Atemsensor',
    whom: 'den Atemsensor',
    of: 'des Atemsensors',
    to: 'dem Atemsensor',
  },
  sensor: { who: 'Der Sensor', whom: 'den Sensor', of: 'des Sensors', to: 'dem Sensor' },
};
const subjectOf = ({ subject, sensorId }: AlarmFacts, form: 'who' | 'whom' | 'of' | 'to'): string =>
  `${subjects[subject ?? 'sensor'][form]}${sensorId === undefined || sensorId === null ? '' : ` ${sensorId}`}`;

/** "von 3:57 bis 4:40", or "3-mal zwischen 3:57 und 9:12". */
const whenPresent = ({ raisedAtMs, passedAtMs, timesPresent }: AlarmFacts): string =>
  timesPresent > 1
    ? `${timesPresent}-mal zwischen ${at(raisedAtMs)} und ${at(passedAtMs)}`
    : `von ${at(raisedAtMs)} bis ${at(passedAtMs)}`;
const isWorse = ({ value, worstValue }: AlarmFacts): boolean =>
  !isMissing(worstValue) && worstValue !== value;

/** One of several oximeters (then it is named) that is less than high: another one still watches. */
const blindWords = ({ sensorId, priority }: AlarmFacts): string =>
  sensorId !== undefined && sensorId !== null && priority !== 'high'
    ? 'Ein anderes Pulsoximeter misst noch. Jemand achtet genau auf die Person und richtet dann dieses.'
    : stopBecauseBlind;

/** A breathing sensor says when a hold begins and ends; saturation is watched without it. */
const withoutBreathing = (alarm: AlarmFacts): string =>
  alarm.holdNear
    ? `Jemand beobachtet genau und markiert das Ende der Apnoe: Von selbst wird es vielleicht nicht bemerkt. Bringt dann ${subjectOf(alarm, 'whom')} in Ordnung.`
    : `Bringt ${subjectOf(alarm, 'whom')} in Ordnung oder markiert jede Apnoe von Hand. Bis dahin zeigen nur Herzschläge Apnoen, ohne Gurt nichts.`;

const doubtWords = ({ detail }: AlarmFacts): string =>
  detail === 'fellTooFast'
    ? ' Sie fiel dorthin schneller, als Blut es kann, ein bewegter Finger ist also möglich: handle trotzdem danach.'
    : detail === 'doubtful'
      ? ' Das Pulsoximeter zweifelt selbst an seinem Signal: handle trotzdem danach.'
      : '';

const table: Readonly<Record<AlarmKind, { readonly present: StateWords; readonly passed?: StateWords }>> = {
  floorBreached: {
    present: {
      message: (alarm) =>
        `Die Sättigung fiel unter die Untergrenze von ${percent(alarm.limit)}: Gemessen wurden ${percent(alarm.value)}` +
        `${isWorse(alarm) ? `, bisher tiefster Wert ${percent(alarm.worstValue)}` : ''}.${doubtWords(alarm)}`,
      instruction: () => stopAndCheck,
    },
    passed: {
      message: (alarm) =>
        `Die Sättigung lag ${whenPresent(alarm)} unter der Untergrenze von ${percent(alarm.limit)}: Gemessen wurden ` +
        `${percent(alarm.value)}${isWorse(alarm) ? `, tiefster Wert ${percent(alarm.worstValue)}` : ''}.`,
      instruction: () => seeThatTheyAreWell,
    },
  },
  floorForecast: {
    present: {
      message: ({ value, limit, likely }) =>
        `Beginnt das Atmen jetzt, ist der tiefste Messwert nahe ${whole(value)}\u202f% zu erwarten` +
        (likely === undefined || likely === null
          ? ''
          : ` (wohl ${whole(likely.lowPercent)} bis ${whole(likely.highPercent)}\u202f%)`) +
        `; die Untergrenze ist ${percent(limit)}.` +
        (likely !== undefined && likely !== null && value! >= limit!
          ? ' Die Gefahr, sie zu unterschreiten, ist nicht mehr klein.'
          : ''),
      instruction: ({ detail }) =>
        `Atme jetzt, solange der Messwert über der Untergrenze ist.${
          detail === 'lungsUnsaid'
            ? ' Niemand hat gesagt, wie voll die Lunge ist, also wird mit einer entleerten gerechnet; sag es vor der nächsten Apnoe.'
            : ''
        }`,
    },
  },
  heartRateSuddenFall: {
    present: {
      message: (alarm) =>
        `Die Herzfrequenz fiel plötzlich auf ${perMinute(alarm.value)}` +
        `${isWorse(alarm) ? `, bisher tiefster Wert ${perMinute(alarm.worstValue)}` : ''}.`,
      instruction: () => `${stopAndCheck} Liegen lassen.`,
    },
    passed: {
      message: (alarm) =>
        `Die Herzfrequenz war ${whenPresent(alarm)} plötzlich gefallen: Gemessen wurden ${perMinute(alarm.value)}` +
        `${isWorse(alarm) ? `, tiefster Wert ${perMinute(alarm.worstValue)}` : ''}.`,
      instruction: () => seeThatTheyAreWell,
    },
  },
  heartRateLow: {
    present: {
      message: (alarm) =>
        `Die Herzfrequenz liegt unter der Grenze von ${perMinute(alarm.limit)}: Gemessen wurden ${perMinute(alarm.value)}` +
        `${isWorse(alarm) ? `, bisher tiefster Wert ${perMinute(alarm.worstValue)}` : ''}.`,
      instruction: ({ holdNear }) =>
        holdNear
          ? 'Hör auf und atme. Jemand sieht nach; bei fehlender Reaktion den Notruf wählen.'
          : 'Seht nach der Person und nach dem Sensor; beginnt keine Apnoe.',
    },
  },
  heartRateHigh: {
    present: {
      message: (alarm) =>
        `Die Herzfrequenz liegt über der Grenze von ${perMinute(alarm.limit)}: Gemessen wurden ${perMinute(alarm.value)}` +
        `${isWorse(alarm) ? `, bisher höchster Wert ${perMinute(alarm.worstValue)}` : ''}.`,
      instruction: ({ holdNear }) =>
        holdNear
          ? 'Hör auf und atme. Jemand sieht nach.'
          : 'Ruh dich aus und prüfe den Sensor; beginne keine Apnoe.',
    },
  },
  saturationNotRecovering: {
    present: {
      message: ({ value, limit }) =>
        `Eine Minute nach der Apnoe lag die Sättigung noch bei ${percent(value)}; bis dahin waren ${percent(limit)} zu erwarten.`,
      instruction: () =>
        'Seht nach: wach und atmet? Bei fehlender Reaktion den Notruf wählen. Keine weitere Apnoe.',
    },
  },
  noBreathingSign: {
    present: {
      message: ({ value, detail }) =>
        detail === 'breathingUnsure'
          ? `Der Alarm zum Aufhören kam vor ${seconds(value)}. Die Signale sehen nach Atmung aus, aber die Sättigung bestätigt es noch nicht.`
          : `Kein Zeichen von Atmung seit ${seconds(value)} nach dem Alarm zum Aufhören.`,
      instruction: ({ detail }) =>
        detail === 'answerAsked'
          ? 'Geht es dir gut? Atme, dann antworte mit einem Tippen, oder jemand bei dir tut es.'
          : 'Geht jetzt hin: ansprechen, im Gesicht berühren, Atemweg öffnen. Bei fehlender Reaktion den Notruf wählen und Erste Hilfe leisten.',
    },
  },
  sensorLost: {
    present: {
      message: (alarm) =>
        alarm.detail === 'noOximeter'
          ? 'Kein Pulsoximeter ist verbunden: Nichts überwacht die Sättigung in dieser Apnoe.'
          : `${subjectOf(alarm, 'who')} ist verloren: Es kommen keine Messwerte.`,
      instruction: (alarm) =>
        alarm.subject === 'breathingSensor'
          ? withoutBreathing(alarm)
          : alarm.subject === 'oximeter' && alarm.holdNear
            ? blindWords(alarm)
            : alarm.holdNear
              ? `Jemand beobachtet genau; beendet im Zweifel die Apnoe und bringt dann ${subjectOf(alarm, 'whom')} in Ordnung.`
              : `Prüft, ob ${subjectOf(alarm, 'whom').replace(/^den /, 'der ')} an, angelegt und in der Nähe ist; beginnt ohne keine Apnoe.`,
    },
  },
  saturationNeverRead: {
    present: {
      message: () => 'Seit Beginn der Sitzung wurde keine Sättigung gemessen.',
      instruction: ({ priority }) =>
        priority === 'low'
          ? 'Prüft, ob das Pulsoximeter an und in der Nähe ist und an einem warmen, ruhigen Finger sitzt; beginnt keine Apnoe, bis es misst.'
          : stopBecauseBlind,
    },
  },
  readingsStale: {
    present: {
      message: (alarm) =>
        `Kein neuer Messwert von ${subjectOf(alarm, 'to')} seit ${seconds(alarm.value)}: Die gezeigte Zahl ist alt.`,
      instruction: (alarm) =>
        alarm.holdNear
          ? 'Jemand beobachtet genau; hör auf und atme, wenn nicht sofort wieder Messwerte kommen.'
          : `Prüft ${subjectOf(alarm, 'whom')}; beginnt ohne keine Apnoe.`,
    },
  },
  readingsImplausible: {
    present: {
      message: (alarm) =>
        `Die Messwerte ${subjectOf(alarm, 'of')} können nicht stimmen und werden nicht benutzt.`,
      instruction: (alarm) =>
        alarm.holdNear
          ? blindWords(alarm)
          : `Haltet die Hand still und setzt ${subjectOf(alarm, 'whom')} neu an; beginnt keine Apnoe, bis die Werte ruhig sind.`,
    },
  },
  readingsFrozen: {
    present: {
      message: (alarm) =>
        `${subjectOf(alarm, 'who')} zeigt seit mehr als ${seconds(alarm.value)} genau dasselbe: Die Anzeige kann stehen geblieben sein.`,
      instruction: (alarm) => blindWords(alarm),
    },
  },
  signalPoor: {
    present: {
      message: (alarm) =>
        alarm.subject === 'breathingSensor'
          ? `${subjectOf(alarm, 'who')} sitzt anscheinend nicht am Körper: Was er sendet, wird nicht benutzt.`
          : alarm.detail === 'noContact'
            ? `${subjectOf(alarm, 'who')} sitzt nicht am Finger und gibt keinen Messwert.`
            : alarm.detail === 'unusable'
              ? `${subjectOf(alarm, 'who')} gibt keinen brauchbaren Messwert: Das Signal ist zu schlecht.`
              : alarm.detail === 'doubtful'
                ? `Die Messwerte ${subjectOf(alarm, 'of')} sind zweifelhaft: Das Signal ist schwach oder die Hand bewegt sich.`
                : `${subjectOf(alarm, 'who')} hat ein schlechtes Signal oder keinen Kontakt.`,
      instruction: (alarm) =>
        alarm.subject === 'breathingSensor'
          ? withoutBreathing(alarm)
          : alarm.holdNear && alarm.priority !== 'low' && alarm.subject === 'oximeter'
            ? blindWords(alarm)
            : alarm.subject === 'oximeter'
              ? `Wärmt die Hand, haltet sie still und setzt ${subjectOf(alarm, 'whom')} neu an.`
              : `Feuchtet ${subjectOf(alarm, 'whom')} an und setzt ihn neu an.`,
    },
  },
  pageUnresponsive: {
    present: {
      message: ({ detail }) =>
        detail === 'noSound'
          ? 'Auf keiner Seite ist der Alarmton an: Ein Alarm hier könnte ungehört bleiben.'
          : 'Keine Seite antwortet: Ein Alarm hier könnte weder gesehen noch gehört werden.',
      instruction: ({ holdNear, priority }) =>
        !holdNear
          ? 'Öffnet die Seite und schaltet ihren Ton ein, bevor jemand eine Apnoe beginnt.'
          : priority === 'high'
            ? 'Hör auf und atme, öffne dann die Seite wieder und schalte ihren Ton ein.'
            : 'Schaltet jetzt den Ton ein, oder jemand behält die Seite im Auge, bis die Apnoe vorbei ist.',
    },
  },
  batteryLow: {
    present: {
      message: (alarm) => `Die Batterie ${subjectOf(alarm, 'of')} ist bei ${whole(alarm.value)}\u202f%.`,
      instruction: () => 'Ladet oder wechselt sie vor der nächsten Apnoe.',
    },
  },
  maxDuration: {
    present: {
      message: ({ limit }) => `Die Apnoe hat ${clock(limit)} erreicht, das Längste, was du erlaubt hast.`,
      instruction: () => 'Hör auf und atme.',
    },
  },
};
