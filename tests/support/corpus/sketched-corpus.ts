// Sessions of sketched athletes: people, shapes and faults crossed, seeded.

import { monotonicMs } from '../../../shared/units.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import type { CorpusSession, TrueInterval } from './corpus-session.ts';
import { createRandom, type Random } from './seeded-random.ts';
import {
  type SketchedPerson,
  type SketchedScript,
  sketchedContractionsFromMs,
  sketchPerson,
  sketchSession,
} from './sketched-athlete.ts';

export type Shape = 'intervals' | 'rising' | 'maximal' | 'short' | 'quietRest' | 'walking' | 'talking';
export type Fault =
  | 'none'
  | 'dropouts'
  | 'motionDips'
  | 'badBeats'
  | 'strapRateOnly'
  | 'strapOnly'
  | 'oximeterOnly';

/** Lays out holds of a shape, milliseconds. */
export function layOut(shape: Shape, random: Random, restHours = 1): SketchedScript {
  const holds: TrueInterval[] = [];
  const walking: TrueInterval[] = [];
  const talking: TrueInterval[] = [];
  let t = random.between(90, 200);
  const hold = (seconds: number, rest: number): void => {
    holds.push({ startMs: t * 1_000, endMs: (t + seconds) * 1_000 });
    t += seconds + rest;
  };
  switch (shape) {
    case 'intervals': {
      const seconds = random.between(35, 110);
      for (let i = 0; i < 6; i++) {
        hold(seconds * random.between(0.8, 1.2), random.between(50, 150));
      }
      break;
    }
    case 'rising':
      for (let i = 0; i < 6; i++) {
        hold(30 + i * random.between(15, 28), random.between(70, 120));
      }
      break;
    case 'maximal':
      t = random.between(120, 300);
      hold(random.between(110, 330), 180);
      break;
    case 'short':
      for (let i = 0; i < 6; i++) {
        hold(random.between(11, 22), random.between(40, 90));
      }
      break;
    case 'quietRest':
      t = restHours * 3_600;
      break;
    case 'walking':
      for (let i = 0; i < 5; i++) {
        walking.push({ startMs: t * 1_000, endMs: (t + 240) * 1_000 });
        t += 240 + random.between(60, 200);
      }
      hold(random.between(40, 80), 120);
      break;
    case 'talking':
      for (let i = 0; i < 4; i++) {
        talking.push({ startMs: t * 1_000, endMs: (t + 150) * 1_000 });
        t += 150 + random.between(60, 120);
        hold(random.between(40, 90), 90);
      }
      break;
  }
  return { holds, durationMs: (t + 30) * 1_000, walking, talking };
}

/** Puts a fault on good samples. */
export function withFault(samples: readonly Sample[], fault: Fault, random: Random): Sample[] {
  const last = samples.at(-1)?.atMs ?? 0;
  switch (fault) {
    case 'none':
      return [...samples];
    case 'strapOnly':
      return samples.filter((s) => s.sensorId === 'strap');
    case 'oximeterOnly':
      return samples.filter((s) => s.sensorId === 'oximeter');
    case 'strapRateOnly':
      return samples.filter((s) => s.channel !== 'rrIntervalMs');
    case 'dropouts': {
      const gaps: [number, number, string][] = [];
      for (let t = 30_000; t < last; t += random.between(60_000, 240_000)) {
        gaps.push([t, t + random.between(3_000, 20_000), random.pick(['strap', 'oximeter'])]);
      }
      return samples.filter(
        (s) => !gaps.some(([from, to, id]) => s.sensorId === id && s.atMs >= from && s.atMs < to),
      );
    }
    case 'motionDips': {
      const dips: [number, number, number][] = [];
      for (let t = 20_000; t < last; t += random.between(40_000, 200_000)) {
        dips.push([t, t + random.between(3_000, 9_000), random.between(4, 15)]);
      }
      return samples.map((s) => {
        const dip = dips.find(([from, to]) => s.atMs >= from && s.atMs < to);
        if (dip === undefined || s.channel !== 'spo2Percent') {
          return s;
        }
        return { ...s, value: Math.max(35, Math.round(s.value - dip[2])) };
      });
    }
    case 'badBeats': {
      const out: Sample[] = [];
      let held: Sample | undefined;
      for (const s of samples) {
        if (s.channel !== 'rrIntervalMs') {
          out.push(s);
          continue;
        }
        if (held !== undefined) {
          // Missed: this beat's interval takes in the one before.
          out.push({ ...s, value: s.value + held.value });
          held = undefined;
          continue;
        }
        const draw = random.next();
        if (draw < 0.012) {
          held = s;
        } else if (draw < 0.024) {
          const part = random.between(0.3, 0.7) * s.value;
          out.push(
            { ...s, atMs: monotonicMs(s.atMs - s.value + part), value: part },
            { ...s, value: s.value - part },
          );
        } else if (draw < 0.036) {
          const early = 0.3 * s.value;
          out.push({ ...s, atMs: monotonicMs(s.atMs - early), value: s.value - early });
        } else {
          out.push(s);
        }
      }
      return out.sort((a, b) => a.atMs - b.atMs);
    }
  }
}

const personKinds: readonly { name: string; of: (random: Random) => Partial<SketchedPerson> }[] = [
  { name: 'typical', of: () => ({}) },
  {
    name: 'littleArrhythmia',
    of: (r) => ({ rsaBpm: r.between(0.6, 1.5), fallFraction: r.between(0.1, 0.3) }),
  },
  { name: 'strongArrhythmia', of: (r) => ({ rsaBpm: r.between(7, 13) }) },
  { name: 'noFall', of: (r) => ({ fallFraction: 0, rsaBpm: r.between(2.5, 8), lateFallFraction: 0 }) },
  { name: 'strongFall', of: (r) => ({ fallFraction: r.between(0.25, 0.35) }) },
  { name: 'slowBreather', of: (r) => ({ breathsPerMin: r.between(4.5, 7), rsaBpm: r.between(3, 10) }) },
];

/** Makes `count` sessions for each shape, faults and people in turn. */
export function* sketchedCorpus(
  seed: number,
  perShape: number,
  restHours: (index: number) => number,
): Generator<CorpusSession> {
  const shapes: readonly Shape[] = [
    'intervals',
    'rising',
    'maximal',
    'short',
    'quietRest',
    'walking',
    'talking',
  ];
  const faults: readonly Fault[] = [
    'none',
    'none',
    'dropouts',
    'motionDips',
    'badBeats',
    'strapRateOnly',
    'strapOnly',
    'oximeterOnly',
  ];
  let n = 0;
  for (const shape of shapes) {
    for (let i = 0; i < perShape; i++) {
      n += 1;
      const random = createRandom(seed * 10_007 + n);
      const kind = personKinds[i % personKinds.length]!;
      const fault = faults[(i + Math.floor(i / personKinds.length)) % faults.length]!;
      const script = layOut(shape, random, restHours(i));
      const person = sketchPerson(random, kind.of(random));
      const samples = withFault(sketchSession(seed * 31 + n, person, script), fault, random);
      yield {
        name: `sketch-${shape}-${kind.name}-${fault}-${n}`,
        conditions: { simulator: 'sketch', shape, person: kind.name, fault },
        durationMs: script.durationMs,
        samples,
        holds: script.holds,
        contractionOnsetsMs: script.holds.map(({ startMs, endMs }) =>
          person.contractionBpm > 0 && endMs - startMs > sketchedContractionsFromMs
            ? startMs + sketchedContractionsFromMs
            : null,
        ),
      };
    }
  }
}
