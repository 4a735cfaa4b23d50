// Seeded sessions for the alarm bench: people, lags, depths and faults from the independent simulator, as packets.

import {
  type AthleteOptions,
  type SimulatedSession,
  simulateSession,
} from '../../../hub/sensors/simulated/athlete.ts';
import { encodeOximeterReading, encodeStrapReading } from '../../../hub/sensors/simulated/encode-readings.ts';
import { heavyFaults, ordinaryFaults } from '../../../hub/sensors/simulated/faults.ts';
import { personFromSeed } from '../../../hub/sensors/simulated/person.ts';
import { SeededRandom } from '../../../hub/sensors/simulated/seeded-random.ts';
import {
  type HoldLungs,
  type ScriptSegment,
  type SessionScript,
  selfPacedIntervals,
  walkingAndTalking,
} from '../../../hub/sensors/simulated/session-script.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';

export interface CorpusSession {
  readonly name: string;
  readonly seed: number;
  readonly faults: 'ordinary' | 'heavy';
  readonly simulated: SimulatedSession;
}

function session(
  name: string,
  seed: number,
  script: SessionScript,
  faults: CorpusSession['faults'],
): CorpusSession {
  const options: AthleteOptions & { readonly script: SessionScript } = {
    seed,
    person: personFromSeed(seed),
    script,
    faults: faults === 'heavy' ? heavyFaults : ordinaryFaults,
  };
  return { name, seed, faults, simulated: simulateSession(options) };
}

/**
 * Five long holds in one evening, most with full lungs, ended by the person or 4 points below the floor: nobody stops
 * for an alarm, so that the bench can ask what would have been at every second.
 */
export function deepHolds(seed: number, floorPercent: number): CorpusSession {
  const random = new SeededRandom(seed, 'alarm-corpus');
  const script: ScriptSegment[] = [{ kind: 'rest', durationMs: 120_000 }];
  for (let index = 0; index < 5; index++) {
    script.push(
      { kind: 'prepare', durationMs: random.between(30_000, 90_000) },
      {
        kind: 'hold',
        durationMs: 'maximal',
        lungs: random.chance(0.15) ? 'partial' : 'full',
        endAtReadingPercent: floorPercent - 4,
      },
      { kind: 'recover', durationMs: random.between(75_000, 120_000) },
      { kind: 'rest', durationMs: random.between(20_000, 90_000) },
    );
  }
  return session('deep holds', seed, script, 'ordinary');
}

/** Holds with these lungs, each to 4 points below the floor, after two minutes of rest. */
export const holdsBelowFloor = (lungs: HoldLungs, holdCount: number, floorPercent: number): SessionScript => [
  { kind: 'rest', durationMs: 120_000 },
  ...Array.from({ length: holdCount }, (): ScriptSegment[] => [
    { kind: 'prepare', durationMs: 40_000 },
    { kind: 'hold', durationMs: 'maximal', lungs, endAtReadingPercent: floorPercent - 4 },
    { kind: 'recover', durationMs: 90_000 },
    { kind: 'rest', durationMs: 40_000 },
  ]).flat(),
];

/** Three deep holds with cold hands, a dry strap and a restless person: for the sensitivity of the floor alarm. */
export function troubledHolds(seed: number, floorPercent: number): CorpusSession {
  const script = [0, 1, 2].flatMap((): ScriptSegment[] => [
    { kind: 'rest', durationMs: 60_000 },
    { kind: 'hold', durationMs: 'maximal', lungs: 'full', endAtReadingPercent: floorPercent - 4 },
    { kind: 'recover', durationMs: 100_000 },
  ]);
  return session('troubled holds', seed, script, 'heavy');
}

/** An hour without a true crossing: rest, walking, talking and short holds, with motion and dropouts. */
export function eventfulHour(seed: number): CorpusSession {
  const script: SessionScript = [
    ...walkingAndTalking(seed),
    ...selfPacedIntervals(seed, 45_000, 8),
    ...walkingAndTalking(seed + 1),
  ];
  return session('eventful hour', seed, script, seed % 2 === 0 ? 'heavy' : 'ordinary');
}

/** The session as the pipeline receives it. With `marks` a person marks every hold to the second. */
export function eventsOf(simulated: SimulatedSession, marks: boolean): PipelineEvent[] {
  const events: PipelineEvent[] = [
    { type: 'link', atMs: monotonicMs(0), sensorId: 'strap', measures: ['heartRate'], connected: true },
    { type: 'link', atMs: monotonicMs(0), sensorId: 'oximeter', measures: ['oximeter'], connected: true },
  ];
  for (const reading of simulated.heartRate)
    events.push({
      type: 'packet',
      atMs: reading.atMs,
      sensorId: 'strap',
      characteristic: '2a37',
      bytes: encodeStrapReading(reading),
    });
  for (const reading of simulated.oximetry)
    events.push({
      type: 'packet',
      atMs: reading.atMs,
      sensorId: 'oximeter',
      characteristic: '2a5f',
      bytes: encodeOximeterReading(reading),
    });
  if (marks) {
    simulated.truth.holds.forEach(({ startMs, endMs }, index) => {
      events.push(
        { type: 'mark', mark: { markId: `start-${index}`, kind: 'holdStart', atMs: startMs } },
        { type: 'mark', mark: { markId: `end-${index}`, kind: 'holdEnd', atMs: endMs } },
      );
    });
  }
  return events.sort((one, other) => timeOf(one) - timeOf(other));
}

function timeOf(event: PipelineEvent): number {
  if (event.type === 'mark') return event.mark.atMs;
  if (event.type === 'sample') return event.sample.atMs;
  if (event.type === 'schedule') return event.startAtMs;
  return event.atMs;
}
