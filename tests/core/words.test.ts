// The catalogues: both languages have the same keys and fill the same parameters; what is said reaches its words.

import { describe, expect, test } from 'vitest';
import { said, saidSchema } from '../../shared/said.ts';
import { alarmDetailSchema, alarmKindSchema, alarmSubjectSchema } from '../../shared/schema-parts.ts';
import { saidInGerman } from '../../shared/words/de.ts';
import { alarmTextInGerman } from '../../shared/words/de-alarms.ts';
import { saidInEnglish } from '../../shared/words/en.ts';
import { alarmTextInEnglish } from '../../shared/words/en-alarms.ts';
import { formatsOf } from '../../shared/words/formats.ts';
import { say, sayInEnglish } from '../../shared/words/say.ts';
import { de } from '../../web/i18n/de.ts';
import { en, type Messages } from '../../web/i18n/en.ts';
import { pseudo, pseudoText } from '../../web/i18n/pseudo.ts';
import { sayInGerman } from '../support/say-in-german.ts';

type Leaf = string | ((...parameters: never[]) => string);

/** Every text of a catalogue by its path. */
function leavesOf(part: unknown, path = ''): [string, Leaf][] {
  if (typeof part === 'string' || typeof part === 'function') return [[path, part as Leaf]];
  return Object.entries(part as object).flatMap(([key, inner]) =>
    leavesOf(inner, path === '' ? key : `${path}.${key}`),
  );
}

/** Stands in for any parameter, and names the part of it that a text has read. */
function recorder(reads: Set<string>, name: string): unknown {
  return new Proxy(
    Object.assign(() => name, {}),
    {
      get(_, key) {
        if (key === Symbol.toPrimitive || key === 'toString' || key === 'valueOf') {
          reads.add(name);
          return () => '7';
        }
        if (typeof key === 'symbol') return undefined;
        if (key in String.prototype || key in Number.prototype) {
          reads.add(name);
          return () => '7';
        }
        reads.add(`${name}.${key}`);
        return recorder(reads, `${name}.${key}`);
      },
    },
  );
}

/** The parameters a text looks at; with both sides of a choice on `=== 1` or null this is what it is filled with. */
function parametersOf(leaf: Leaf): { readonly reads: string[]; readonly text: string } {
  if (typeof leaf === 'string') return { reads: [], text: leaf };
  const reads = new Set<string>();
  const parameters = Array.from({ length: Math.max(leaf.length, 2) }, (_, index) =>
    recorder(reads, `${index}`),
  );
  const text = (leaf as (...given: unknown[]) => string)(...parameters);
  return { reads: [...reads].filter((name) => !/^1\.(number|clock)/.test(name)).toSorted(), text };
}

/** The words of alarms take an alarm and are looked at by themselves, below. */
const withoutAlarms = ({ alarmText: _alarmText, ...others }: Messages): object => others;

const catalogues = [
  ['of the page', withoutAlarms(en), withoutAlarms(de)],
  ['of hub and core', saidInEnglish, saidInGerman],
] as const;

describe.each(catalogues)('the words %s', (_, english, german) => {
  const inGerman = new Map(leavesOf(german));

  test('have the same keys in both languages', () => {
    expect([...inGerman.keys()].toSorted()).toEqual(
      leavesOf(english)
        .map(([path]) => path)
        .toSorted(),
    );
  });

  test.each(leavesOf(english))('%s takes the same parameters in both', (path, leaf) => {
    const other = inGerman.get(path)!;
    expect(typeof other).toBe(typeof leaf);
    expect(parametersOf(other).reads).toEqual(parametersOf(leaf).reads);
  });

  test('are translated: no longer sentence is the same in both', () => {
    const same = leavesOf(english).filter(
      ([path, leaf]) => typeof leaf === 'string' && leaf.split(' ').length > 2 && inGerman.get(path) === leaf,
    );
    expect(same.map(([path]) => path)).toEqual([]);
  });
});

describe('what is said', () => {
  const nested = said('plan.warning.recoveryShort', {
    label: said('plan.step.hold', { number: 3 }),
    effortMs: 180_000,
    plannedMs: 30_000,
    minimumMs: 60_000,
  });

  test('is worded in the language of the reader, its parts first', () => {
    expect(sayInEnglish(nested)).toMatch(/^Hold 3 up to 3:00 would leave 0:30/);
    expect(sayInGerman(nested)).toMatch(/^Apnoe 3 bis zu 3:00 würde 0:30/);
  });

  test('has its numbers written as the language writes them', () => {
    const falling = said('advice.fallingComfort.because', { now: 2.25, before: 4, count: 6 });
    expect(sayInEnglish(falling)).toContain('from 4.0 to 2.3 of 5');
    expect(sayInGerman(falling)).toContain('von 4,0 auf 2,3 von 5');
  });

  test('passes over the wire and back', () => {
    expect(saidSchema.parse(JSON.parse(JSON.stringify(nested)))).toEqual(nested);
  });

  test('is named where this version has no words for it, also when the code is a name objects have', () => {
    for (const code of ['from.the.future', 'constructor', 'toString'])
      expect(say({ code, params: {} }, saidInEnglish, formatsOf('en'))).toContain(code);
  });
});

describe('the words of alarms', () => {
  const kinds = alarmKindSchema.options;
  const details = [null, ...alarmDetailSchema.options];
  const subjects = [null, ...alarmSubjectSchema.options];

  /** Numbers of a sentence: both languages have to say the same ones. */
  const numbersOf = (sentence: string): string[] =>
    [...sentence.replaceAll(',', '.').matchAll(/\d+(?::\d\d|\.\d)?/g)].map(([number]) => number).toSorted();

  test.each(kinds)('%s: German says the same numbers as English, at every state', (kind) => {
    for (const detail of details)
      for (const subject of subjects)
        for (const conditionPresent of [true, false])
          for (const holdNear of [true, false])
            for (const priority of ['high', 'low'] as const) {
              const alarm = {
                kind,
                detail,
                subject,
                conditionPresent,
                holdNear,
                priority,
                raisedAtMs: 237_000,
                passedAtMs: 280_000,
                timesPresent: 1,
                value: 87.8,
                worstValue: 67.5,
                limit: 88,
                likely: { lowPercent: 84, highPercent: 86 },
                sensorId: null,
              };
              const english = alarmTextInEnglish(alarm);
              const german = alarmTextInGerman(alarm);
              expect(numbersOf(german.message), german.message).toEqual(numbersOf(english.message));
              expect(german.instruction).not.toBe('');
              expect(/\bbreathe\b/i.test(english.instruction), german.instruction).toBe(
                /\batme\b/i.test(german.instruction),
              );
              expect(/emergency number/.test(english.instruction), german.instruction).toBe(
                /Notruf/.test(german.instruction),
              );
            }
  });
});

test('an alarm’s times are those of every list: seconds that are over, and hours from the first on', () => {
  const alarm = {
    kind: 'floorBreached',
    detail: null,
    subject: null,
    conditionPresent: false,
    holdNear: false,
    priority: 'high',
    raisedAtMs: 202_900,
    passedAtMs: 3_978_900,
    timesPresent: 9,
    value: 89,
    worstValue: 80,
    limit: 90,
    likely: null,
    sensorId: null,
  } as const;
  expect(alarmTextInEnglish(alarm).message).toContain('9 times between 3:22 and 1:06:18');
  expect(alarmTextInGerman(alarm).message).toContain('9-mal zwischen 3:22 und 1:06:18');
});

describe('the pseudo-language', () => {
  test('keeps numbers and single signs, turns and lengthens the rest', () => {
    expect(pseudoText('%')).toBe('%');
    expect(pseudoText('12:30')).toBe('12:30');
    const turned = pseudoText('Hold starts');
    expect(turned).toContain('\u202eHold\u202c');
    expect(turned.replaceAll(/[\u202e\u202c]/g, '').length).toBeGreaterThan('Hold starts'.length * 1.3);
    expect(pseudo.live.undo('Hold', '1:00')).toContain('1:00');
  });
});
