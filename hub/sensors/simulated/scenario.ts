// The demo's invented scenario: a dry training evening of a course on an invented bay, and what each athlete does.

import type { FaultSettings } from './faults.ts';
import { noFaults, ordinaryFaults } from './faults.ts';
import type { PersonParameters } from './person.ts';
import { personFromSeed } from './person.ts';
import type { SessionScript } from './session-script.ts';

/** Invented first names; the place is invented too. */
const names = [
  'Maren',
  'Ilvo',
  'Tesh',
  'Odrun',
  'Kaia',
  'Bexel',
  'Sorin',
  'Vanya',
  'Loth',
  'Perrin',
  'Amsel',
  'Dagny',
  'Ruvi',
  'Halka',
  'Jorin',
  'Nesta',
] as const;

export const mostSimulatedAthletes = names.length;

export interface ScenarioAthlete {
  /** The athlete's id and the ids of the two sensors worn. */
  readonly athleteId: string;
  readonly name: string;
  readonly strapSensorId: string;
  readonly oximeterSensorId: string;
  readonly strapName: string;
  readonly oximeterName: string;
  readonly seed: number;
  readonly person: PersonParameters;
  readonly script: SessionScript;
  readonly faults: FaultSettings;
  readonly linkLossesPerHour: number;
}

/**
 * The first athlete's evening: a short hold, then one begun after breathing out, which reaches a floor of 88 % within
 * about three and a half minutes and is ended at once when the display shows 86 %; then ordinary holds with full lungs.
 */
const firstScript: SessionScript = [
  { kind: 'rest', durationMs: 12_000 },
  { kind: 'prepare', durationMs: 18_000 },
  { kind: 'hold', durationMs: 30_000 },
  { kind: 'recover', durationMs: 30_000 },
  { kind: 'hold', durationMs: 170_000, lungs: 'relaxed', endAtReadingPercent: 86.4 },
  { kind: 'recover', durationMs: 60_000 },
  { kind: 'rest', durationMs: 45_000 },
  { kind: 'prepare', durationMs: 60_000 },
  { kind: 'hold', durationMs: 120_000, endAtReadingPercent: 90 },
  { kind: 'recover', durationMs: 60_000 },
  { kind: 'talk', durationMs: 30_000 },
  { kind: 'prepare', durationMs: 60_000 },
  { kind: 'hold', durationMs: 240_000, endAtReadingPercent: 86 },
  { kind: 'recover', durationMs: 90_000 },
];

/** The others begin at different times and hold with full lungs, so that the group is never in step. */
function laterScript(index: number): SessionScript {
  const holdMs = 45_000 + 15_000 * (index % 4);
  return [
    { kind: 'rest', durationMs: 10_000 + 17_000 * (index % 7) },
    { kind: 'prepare', durationMs: 40_000 },
    { kind: 'hold', durationMs: holdMs, endAtReadingPercent: 90 },
    { kind: 'recover', durationMs: 50_000 },
    ...(index % 3 === 1 ? [{ kind: 'talk' as const, durationMs: 25_000 }] : []),
    { kind: 'rest', durationMs: 40_000 },
    { kind: 'prepare', durationMs: 60_000 },
    { kind: 'hold', durationMs: holdMs + 40_000, endAtReadingPercent: 88 },
    { kind: 'recover', durationMs: 60_000 },
    ...(index % 4 === 2 ? [{ kind: 'walk' as const, durationMs: 40_000 }] : []),
  ];
}

/** `count` athletes (at most 16), the same for the same seed. The first has faultless sensors, a
 * heart rate that shows the breath and a finger reading that lags little, so that the demo shows what is meant. */
export function scenarioAthletes(count: number, seed: number): readonly ScenarioAthlete[] {
  return names.slice(0, count).map((name, index) => {
    const number = index + 1;
    return {
      athleteId: `simulated-${number}`,
      name,
      strapSensorId: `simulated:strap:${number}`,
      oximeterSensorId: `simulated:oximeter:${number}`,
      strapName: `SIMULATED strap ${name}`,
      oximeterName: `SIMULATED oximeter ${name}`,
      seed: seed * 64 + number,
      person:
        index === 0
          ? {
              ...personFromSeed(seed * 64 + number, { trainedFraction: 0.6 }),
              rsaAmplitudeBpm: 4.5,
              lungToFingerMs: 9_000,
              oximeterAveragingMs: 4_000,
            }
          : personFromSeed(seed * 64 + number, { trainedFraction: (index * 0.37) % 1 }),
      script: index === 0 ? firstScript : laterScript(index),
      faults: index === 0 ? noFaults : ordinaryFaults,
      linkLossesPerHour: index === 0 ? 0 : 2,
    };
  });
}
