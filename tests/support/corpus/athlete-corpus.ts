// Sessions of the physiological simulated athlete (hub/sensors/simulated): people, shapes and faults crossed, seeded.

import { simulateSession } from '../../../hub/sensors/simulated/athlete.ts';
import { type FaultSettings, noFaults } from '../../../hub/sensors/simulated/faults.ts';
import { type PersonParameters, personFromSeed } from '../../../hub/sensors/simulated/person.ts';
import {
  quietRest,
  risingHolds,
  type ScriptSegment,
  type SessionScript,
  selfPacedIntervals,
  singleMaximalHold,
  veryShortHolds,
  walkingAndTalking,
} from '../../../hub/sensors/simulated/session-script.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import type { CorpusSession } from './corpus-session.ts';
import { createRandom, type Random } from './seeded-random.ts';

export type AthleteShape = 'intervals' | 'rising' | 'maximal' | 'short' | 'quietRest' | 'walking' | 'talking';
export type AthleteFault =
  | 'none'
  | 'dropouts'
  | 'motionDips'
  | 'badBeats'
  | 'strapRateOnly'
  | 'strapOnly'
  | 'oximeterOnly';

const personKinds: readonly { name: string; of: (random: Random) => Partial<PersonParameters> }[] = [
  { name: 'asDrawn', of: () => ({}) },
  {
    name: 'littleArrhythmia',
    of: (r) => ({ rsaAmplitudeBpm: r.between(0.3, 1), diveFallFraction: r.between(0.1, 0.3) }),
  },
  { name: 'strongArrhythmia', of: (r) => ({ rsaAmplitudeBpm: r.between(6, 10) }) },
  {
    name: 'noFall',
    of: (r) => ({ diveFallFraction: 0, phaseThreeFallFraction: 0, rsaAmplitudeBpm: r.between(2.5, 7) }),
  },
  { name: 'strongFall', of: (r) => ({ diveFallFraction: r.between(0.25, 0.35) }) },
  { name: 'longLag', of: (r) => ({ lungToFingerMs: r.between(20_000, 28_000), oximeterAveragingMs: 9_000 }) },
];

function scriptOf(shape: AthleteShape, seed: number, random: Random, restHours: number): SessionScript {
  const s = (seconds: number): number => Math.round(seconds) * 1_000;
  switch (shape) {
    case 'intervals':
      return selfPacedIntervals(seed, s(random.between(35, 100)));
    case 'rising':
      return risingHolds(s(30), s(random.between(90, 150)), 6, s(random.between(80, 120)));
    case 'maximal':
      return singleMaximalHold('full');
    case 'short':
      return veryShortHolds(seed);
    case 'quietRest':
      return quietRest(s(restHours * 3_600));
    case 'walking': {
      const script: ScriptSegment[] = [...walkingAndTalking(seed)];
      script.push({ kind: 'walk', durationMs: s(300) }, { kind: 'rest', durationMs: s(200) });
      return script;
    }
    case 'talking': {
      const script: ScriptSegment[] = [{ kind: 'rest', durationMs: s(120) }];
      for (let i = 0; i < 4; i++) {
        script.push(
          { kind: 'talk', durationMs: s(random.between(40, 120)) },
          { kind: 'rest', durationMs: s(random.between(30, 90)) },
          { kind: 'hold', durationMs: s(random.between(35, 80)) },
          { kind: 'recover', durationMs: s(40) },
        );
      }
      script.push({ kind: 'rest', durationMs: s(60) });
      return script;
    }
  }
}

function faultsOf(fault: AthleteFault): FaultSettings {
  switch (fault) {
    case 'dropouts':
      return {
        ...noFaults,
        perHour: { oximeterDropout: 10, strapContactLoss: 6, strapSilence: 6, oximeterContactLoss: 3 },
      };
    case 'motionDips':
      return { ...noFaults, perHour: { oximeterMotion: 25 } };
    case 'badBeats':
      return { ...noFaults, perHour: { missedBeat: 40, extraBeat: 40, ectopicBeat: 40 } };
    default:
      return noFaults;
  }
}

/** The session's samples as the gatt decoders would make them, RR intervals at their beats. */
export function samplesOfSession(session: ReturnType<typeof simulateSession>): Sample[] {
  const samples: Sample[] = [];
  const add = (
    channel: Sample['channel'],
    atMs: number,
    value: number,
    sensorId: string,
    bad: boolean,
  ): void => {
    samples.push({
      channel,
      atMs: monotonicMs(atMs),
      value,
      sensorId,
      quality: bad ? 'bad' : 'good',
      reasons: bad ? ['poorSignal'] : [],
    });
  };
  for (const beat of session.beats) {
    add('rrIntervalMs', beat.atMs, Math.round(beat.rrIntervalMs * 1.024) / 1.024, 'strap', false);
  }
  for (const reading of session.heartRate) {
    if (reading.skinContact) {
      add('heartRateBpm', reading.atMs, reading.heartRateBpm, 'strap', false);
    }
  }
  for (const reading of session.oximetry) {
    if (reading.spo2Percent !== undefined) {
      add('spo2Percent', reading.atMs, reading.spo2Percent, 'oximeter', reading.poorSignal);
    }
    if (reading.pulseRateBpm !== undefined) {
      add('pulseRateBpm', reading.atMs, reading.pulseRateBpm, 'oximeter', reading.poorSignal);
    }
  }
  return samples.sort((a, b) => a.atMs - b.atMs);
}

/** Makes `perShape` sessions for each shape, people and faults in turn; `restHours` of the i-th quiet rest. */
export function* athleteCorpus(
  seed: number,
  perShape: number,
  restHours: (index: number) => number,
): Generator<CorpusSession> {
  const shapes: readonly AthleteShape[] = [
    'intervals',
    'rising',
    'maximal',
    'short',
    'quietRest',
    'walking',
    'talking',
  ];
  const faults: readonly AthleteFault[] = [
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
      const random = createRandom(seed * 20_011 + n);
      const kind = personKinds[i % personKinds.length]!;
      const fault = faults[(i + Math.floor(i / personKinds.length)) % faults.length]!;
      const personSeed = seed * 1_000 + n;
      const person = { ...personFromSeed(personSeed), ...kind.of(random) };
      const session = simulateSession({
        seed: personSeed,
        person,
        script: scriptOf(shape, personSeed, random, restHours(i)),
        faults: faultsOf(fault),
      });
      let samples = samplesOfSession(session);
      if (fault === 'strapRateOnly') {
        samples = samples.filter((sample) => sample.channel !== 'rrIntervalMs');
      } else if (fault === 'strapOnly') {
        samples = samples.filter((sample) => sample.sensorId === 'strap');
      } else if (fault === 'oximeterOnly') {
        samples = samples.filter((sample) => sample.sensorId === 'oximeter');
      }
      yield {
        name: `athlete-${shape}-${kind.name}-${fault}-${n}`,
        conditions: { simulator: 'athlete', shape, person: kind.name, fault },
        durationMs: session.durationMs,
        samples,
        holds: session.truth.holds.map((hold) => ({ startMs: hold.startMs, endMs: hold.endMs })),
        contractionOnsetsMs: session.truth.holds.map((hold) => hold.contractionsMs[0] ?? null),
      };
    }
  }
}
