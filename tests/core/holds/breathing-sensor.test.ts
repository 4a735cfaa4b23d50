// An accelerometer on a chest (SIMULATED) through projection, rows and detector: what is a hold by it, and what is not.

import { describe, expect, test } from 'vitest';
import { monotonicMs, percent } from '../../../shared/units.ts';
import { createHoldDetector } from '../../../src/holds/live-detector.ts';
import { reestimateHolds } from '../../../src/holds/smoothing.ts';
import { createPipeline } from '../../../src/pipeline.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { createChestAccelerometer } from '../../../src/signal/chest-accelerometer.ts';
import { type ChestScript, chestAcceleration } from '../../support/breathing-signals.ts';
import { createRandom } from '../../support/corpus/seeded-random.ts';
import { sketchPerson, sketchSession } from '../../support/corpus/sketched-athlete.ts';

function samplesOf(
  seconds: number,
  script: ChestScript,
  rateHz = 25,
  seed = 1,
  comes: (atS: number) => boolean = () => true,
): Sample[] {
  const accelerometer = createChestAccelerometer();
  const came = chestAcceleration(seconds, script, rateHz, seed).filter(([atS]) => comes(atS));
  return came.map(([atS, axes]) => {
    const { breathing, isWorn } = accelerometer.push(1_000 * atS, axes);
    return {
      channel: 'respirationRaw',
      atMs: monotonicMs(1_000 * atS),
      value: breathing,
      sensorId: 'patch',
      quality: isWorn ? 'good' : 'bad',
      reasons: isWorn ? [] : ['noContact'],
    };
  });
}
function told(samples: readonly Sample[]) {
  const detector = createHoldDetector();
  const holds: [number, number][] = [];
  let phase = '';
  for (const sample of samples)
    for (const event of detector.push({ type: 'sample', sample })) {
      if (event.type === 'phaseChanged') phase = event.phase;
      if (event.type === 'holdStarted') holds.push([event.hold.start.atMs / 1_000, Number.NaN]);
      if (event.type === 'holdEnded') holds.at(-1)![1] = event.hold.end!.atMs / 1_000;
      if (event.type === 'holdWithdrawn') holds.pop();
    }
  const found = reestimateHolds(samples, []).map(({ start, end }) => [start.atMs / 1_000, end!.atMs / 1_000]);
  return { holds, phase, found };
}
const within = (from: number, to: number) => (atS: number) => atS >= from && atS < to;

describe('three axes become one channel', () => {
  test('whichever way the sensor sits, the swing is that of the breath, and no step is made', () => {
    for (const seed of [1, 2, 3]) {
      const samples = samplesOf(200, { depth: () => 1 }, 50, seed);
      const late = samples.filter(({ atMs }) => atMs > 60_000);
      const steps = late.slice(1).map(({ value }, i) => Math.abs(value - late[i]!.value));
      const window = late.slice(0, 50 * 10).map(({ value }) => value);
      const swing = Math.max(...window) - Math.min(...window);
      // 0.022 rad either way, and the heart on top of it.
      expect(swing).toBeGreaterThan(0.036);
      expect(swing).toBeLessThan(0.065);
      expect(Math.max(...steps)).toBeLessThan(0.02);
    }
  });
});

describe('holds', () => {
  test.each([25, 50, 100])(
    'of 60 and 150 s at %s samples a second are found, live and afterwards',
    (rateHz) => {
      const isHold = (atS: number): boolean => within(180, 240)(atS) || within(360, 510)(atS);
      const { holds, found } = told(samplesOf(600, { depth: (atS) => (isHold(atS) ? 0 : 1) }, rateHz));
      for (const list of [holds, found]) {
        expect(list).toHaveLength(2);
        for (const [i, [from, to]] of [
          [180, 240],
          [360, 510],
        ].entries()) {
          expect(Math.abs(list[i]![0]! - from!)).toBeLessThan(6);
          expect(Math.abs(list[i]![1]! - to!)).toBeLessThan(6);
        }
      }
    },
  );

  test('early contractions of the diaphragm do not end one', () => {
    const jerk = (atS: number): number => (atS % 7 < 0.4 ? 0.25 : 0);
    const depth = (atS: number): number => (within(180, 300)(atS) ? (atS > 240 ? jerk(atS) : 0) : 1);
    const { found, holds } = told(samplesOf(420, { depth }));
    for (const list of [found, holds]) {
      expect(list).toHaveLength(1);
      expect(Math.abs(list[0]![1]! - 300)).toBeLessThan(8);
    }
  });

  test('a jerk as large as a breath, once in a while, ends none while it goes on', () => {
    const depth = (atS: number): number =>
      within(180, 300)(atS) ? (atS > 240 && atS % 20 < 0.4 ? 0.8 : 0) : 1;
    const { holds } = told(samplesOf(420, { depth }));
    expect(holds).toHaveLength(1);
    expect(Math.abs(holds[0]![1]! - 300)).toBeLessThan(8);
  });
});

describe('seconds of the band that did not come', () => {
  /** A hold from 180 to 240 s, from which these seconds are missing, as when link or machine gave way. */
  const heldWithout = (fromS: number, toS: number) => {
    const depth = (atS: number): number => (within(180, 240)(atS) ? 0 : 1);
    const script = { depth, breathsPerMin: () => 15 };
    return told(samplesOf(300, script, 25, 1, (atS) => !within(fromS, toS)(atS)));
  };

  test.each([
    [186, 194],
    [187, 195],
    [188, 200],
    [200, 212],
    [222, 231],
    [224, 236],
  ])('from %s to %s s shorten no hold, live or afterwards', (fromS, toS) => {
    const { holds, found } = heldWithout(fromS, toS);
    for (const list of [holds, found]) {
      expect(list).toHaveLength(1);
      expect(Math.abs(list[0]![0]! - 180)).toBeLessThan(6);
      expect(Math.abs(list[0]![1]! - 240)).toBeLessThan(6);
    }
  });

  test.each([
    [172, 186],
    [182, 192],
    [232, 246],
  ])('from %s to %s s, about a boundary, move it within themselves and no further', (fromS, toS) => {
    const { holds, found } = heldWithout(fromS, toS);
    for (const list of [holds, found]) {
      expect(list).toHaveLength(1);
      const [start, end] = list[0]!;
      expect(start).toBeGreaterThan(Math.min(fromS, 180) - 6);
      expect(start).toBeLessThan(Math.max(fromS < 200 ? toS : 0, 180) + 3);
      expect(end).toBeGreaterThan(Math.min(fromS > 200 ? fromS : 999, 240) - 3);
      expect(end).toBeLessThan(Math.max(toS, 240) + 6);
    }
  });

  test.each([4, 6, 13])('make none of breaths, %s a minute', (breaths) => {
    const script = { depth: () => 1, breathsPerMin: () => breaths };
    const { holds, found } = told(samplesOf(900, script, 25, 1, (atS) => atS % 37 > 8));
    expect([holds, found]).toEqual([[], []]);
  });
});

describe('a band beside a plain oximeter, in a hold from 180 s on', () => {
  const holding = samplesOf(240, { depth: (atS) => (atS < 180 ? 1 : 0) });
  /** SIMULATED: full lungs, whose saturation shows nothing of a hold for minutes. */
  const oximeter = (untilS: number): Sample[] =>
    Array.from({ length: untilS }, (_, second) => {
      const at = {
        atMs: monotonicMs(1_000 * second),
        sensorId: 'clip',
        quality: 'good',
        reasons: [],
      } as const;
      return [
        {
          ...at,
          channel: 'spo2Percent',
          value: 97 + (second % 50 < 25 ? 0 : 1),
        } as const,
        {
          ...at,
          channel: 'pulseRateBpm',
          value: 62 + (second % 5),
        } as const,
      ];
    }).flat();
  const inOrder = (...all: readonly (readonly Sample[])[]): Sample[] =>
    all.flat().sort((a, b) => a.atMs - b.atMs);

  test('the band dies: what is left cannot tell, and ends nothing', () => {
    const { holds } = told(inOrder(holding, oximeter(600)));
    expect(holds).toHaveLength(1);
    expect(holds[0]![1]).toBeNaN();
  });

  test('nobody is held for ever by a band that died', () => {
    const { holds } = told(inOrder(holding, oximeter(180 + 21 * 60)));
    expect(holds).toHaveLength(1);
    expect(holds[0]![1]).toBeGreaterThan(240);
  });

  /** A person drawn by the sketch (SIMULATED) who holds from 240 to 360 s, with a strap; and a patch on their chest until `untilS`. */
  const heldWithStrap = (seed: number, untilS: number): Sample[] => {
    const person = sketchPerson(createRandom(seed));
    const holds = [{ startMs: 240_000, endMs: 360_000 }];
    const beats = sketchSession(seed, person, { holds, durationMs: 560_000 });
    const depth = (atS: number): number => (within(240, 360)(atS) ? 0 : 1);
    const breathsPerMin = () => person.breathsPerMin;
    return inOrder(beats, samplesOf(untilS, { depth, breathsPerMin }, 25, seed));
  };

  test.each([2, 6, 22])(
    'beside a strap (person %s) it dies in a hold: heartbeats end the hold where it ended, not with the band',
    (seed) => {
      const { holds } = told(heldWithStrap(seed, 300));
      expect(holds).toHaveLength(1);
      expect(Math.abs(holds[0]![1]! - 360)).toBeLessThan(12);
    },
  );

  test.each([7, 8])(
    'where the heartbeats of person %s have not shown the hold, they do not end it',
    (seed) => {
      const { holds } = told(heldWithStrap(seed, 300));
      expect(holds).toHaveLength(1);
      // Open still, or ended where it did.
      expect(Number.isNaN(holds[0]![1]!) || holds[0]![1]! > 352).toBe(true);
    },
  );

  test('it is back within the hold, and decides again', () => {
    const whole = samplesOf(420, { depth: (atS) => (within(180, 320)(atS) ? 0 : 1) });
    const broken = whole.filter(({ atMs }) => atMs < 220_000 || atMs > 260_000);
    const { holds } = told(inOrder(broken, oximeter(420)));
    expect(holds).toHaveLength(1);
    expect(Math.abs(holds[0]![1]! - 320)).toBeLessThan(8);
  });

  test('taken off for good before a planned hold, it is as if it had never been worn', () => {
    const script = { depth: () => 1 };
    const person = sketchPerson(createRandom(11));
    const finger = sketchSession(11, person, {
      holds: [{ startMs: 500_000, endMs: 640_000 }],
      durationMs: 700_000,
    }).filter(({ channel }) => channel === 'spo2Percent' || channel === 'pulseRateBpm');
    const session = (band: readonly Sample[]) => {
      const detector = createHoldDetector();
      const starts: number[] = [];
      let isPlanned = false;
      for (const sample of inOrder(band, finger)) {
        if (!isPlanned && sample.atMs > 490_000) {
          isPlanned = true;
          detector.push({ type: 'schedule', startAtMs: monotonicMs(500_000), toleranceMs: 5_000 });
        }
        for (const event of detector.push({ type: 'sample', sample }))
          if (event.type === 'holdStarted') starts.push(Math.round(event.hold.start.atMs / 1_000));
      }
      return starts;
    };
    expect(session([])).not.toEqual([]);
    expect(session(samplesOf(250, script))).toEqual(session([]));
  });

  test('another breathing sensor that takes its place is read, after a minute and once it is known', () => {
    const first = samplesOf(120, { depth: () => 1 });
    const depth = (atS: number): number => (within(300, 360)(atS) ? 0 : 1);
    const second = samplesOf(420, { depth })
      .filter(({ atMs }) => atMs > 130_000)
      .map((sample) => ({ ...sample, sensorId: 'belt', value: 4_000 + 90_000 * sample.value }));
    const { holds } = told(inOrder(first, second));
    expect(holds).toHaveLength(1);
    expect(Math.abs(holds[0]![0]! - 300)).toBeLessThan(6);
    expect(Math.abs(holds[0]![1]! - 360)).toBeLessThan(8);
  });

  test('a second breathing sensor with numbers of its own, which stops in the hold, ends nothing', () => {
    const belt = holding
      .filter(({ atMs }) => atMs < 220_000)
      .map((sample) => ({ ...sample, sensorId: 'belt', value: 4_000 + 90_000 * sample.value }));
    const { holds } = told(inOrder(holding, belt));
    expect(holds).toHaveLength(1);
    expect(holds[0]![1]).toBeNaN();
  });
});

describe('by a whole pipeline', () => {
  const alarmsAfter = (samples: readonly Sample[], untilS: number, markedAtS?: number) => {
    const pipeline = createPipeline({
      floorSpo2Percent: percent(80),
      thresholdsPercent: [],
      heartRateLowBpm: null,
      heartRateHighBpm: null,
      maxHoldDurationMs: null,
      forecastAlarm: 'off',
    });
    const link = { type: 'link', sensorId: 'patch', measures: ['breathing'], connected: true } as const;
    pipeline.push({ ...link, atMs: monotonicMs(0) });
    let isMarked = false;
    for (const sample of samples) {
      if (!isMarked && sample.atMs >= 1_000 * (markedAtS ?? Number.POSITIVE_INFINITY)) {
        isMarked = true;
        pipeline.push({ type: 'mark', mark: { markId: 'm', kind: 'holdStart', atMs: sample.atMs } });
      }
      pipeline.push({ type: 'sample', sample });
    }
    pipeline.push({ type: 'advance', atMs: monotonicMs(1_000 * untilS) });
    const standing = pipeline.state.alarms
      .filter(({ subject }) => subject === 'breathingSensor')
      .map(({ kind, detail, priority }) => `${kind} ${detail ?? ''} ${priority}`);
    return { standing, phase: pipeline.state.phase };
  };

  test('a patch that sends and is worn is no alarm; silent for 10 s it is, and holds are no longer known', () => {
    const samples = samplesOf(200, { depth: () => 1 });
    expect(alarmsAfter(samples, 201)).toEqual({ standing: [], phase: 'resting' });
    expect(alarmsAfter(samples, 215)).toEqual({
      standing: ['sensorLost  low'],
      phase: 'unknown',
    });
  });

  test.each([
    ['at rest', undefined, 'low'],
    ['in a hold', 190, 'medium'],
  ] as const)('one that is taken off and sends on is told, %s', (_when, markedAtS, priority) => {
    const isOff = (atS: number): boolean => atS >= 200;
    const motionG = (atS: number): number => (within(197, 201)(atS) ? 0.2 : 0);
    const { standing } = alarmsAfter(samplesOf(240, { depth: () => 1, isOff, motionG }), 240, markedAtS);
    expect(standing).toEqual([`signalPoor noContact ${priority}`]);
  });
});

describe('no hold', () => {
  test.each<readonly [string, ChestScript]>([
    ['ordinary breathing', { depth: () => 1 }],
    ['breathing 6 a minute', { depth: () => 1, breathsPerMin: () => 6 }],
    [
      'panting for two minutes',
      {
        depth: (atS) => (within(200, 320)(atS) ? 0.7 : 1),
        breathsPerMin: (atS) => (within(200, 320)(atS) ? 42 : 13),
      },
    ],
    ['breaths half as deep for two minutes', { depth: (atS) => (within(200, 320)(atS) ? 0.5 : 1) }],
    [
      'talking: breaths of all sizes and lengths',
      {
        depth: (atS) => 0.6 + 0.4 * Math.sin(atS * 0.9) * Math.sin(atS * 0.37),
        breathsPerMin: (atS) => 9 + 4 * Math.sin(atS * 0.21),
      },
    ],
    ['moving now and then', { depth: () => 1, motionG: (atS) => (atS % 40 < 6 ? 0.05 : 0) }],
    [
      'lying down after nine minutes of walking, and breathing quietly',
      { depth: (atS) => (atS < 540 ? 1 : 0.6), motionG: (atS) => (atS < 540 ? 0.15 : 0) },
    ],
  ])('%s', (_what, script) => {
    const { holds, found } = told(samplesOf(900, script));
    expect([holds, found]).toEqual([[], []]);
  });

  test('a sensor that is taken off and lies on the table is not known, not a hold', () => {
    const isOff = within(300, 900);
    const motionG = (atS: number): number => (within(292, 302)(atS) ? 0.2 : 0);
    const { holds, found, phase } = told(samplesOf(900, { depth: () => 1, motionG, isOff }));
    expect([holds, found]).toEqual([[], []]);
    expect(phase).toBe('unknown');
  });

  test('nor when it slips off with no movement, nor when it repeats one number', () => {
    const slipped = told(samplesOf(700, { depth: () => 1, isOff: within(300, 700) }));
    expect([slipped.holds, slipped.found]).toEqual([[], []]);
    const whole = samplesOf(700, { depth: () => 1 });
    const stuck = whole.map((sample) => (sample.atMs > 300_000 ? { ...sample, value: 0.5 } : sample));
    const { holds, found, phase } = told(stuck);
    expect([holds, found, phase]).toEqual([[], [], 'unknown']);
  });
});
