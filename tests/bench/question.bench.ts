// Of people who pass over the forecast alarm and heed the question for breathing alone, how many keep the floor, by lungs that nobody
// said. SIMULATED by the hub's own body simulator; beside them those who heed the forecast alarm. It shows what the question is worth
// after a forecast that comes only because nobody said the lungs. `npx tsx tests/bench/question.bench.ts [sessions]`

import { initialSettings } from '../../hub/live/initial-settings.ts';
import {
  type SimulatedSession,
  type StoppedHold,
  simulateSession,
} from '../../hub/sensors/simulated/athlete.ts';
import { ordinaryFaults } from '../../hub/sensors/simulated/faults.ts';
import { personFromSeed } from '../../hub/sensors/simulated/person.ts';
import type { HoldLungs } from '../../hub/sensors/simulated/session-script.ts';
import { createPipeline } from '../../src/pipeline.ts';
import { eventsOf, holdsBelowFloor } from '../support/alarm-corpus/alarm-corpus.ts';

const floorPercent = initialSettings.floorSpo2Percent;
/** From what is heeded to the first breath. As in the bench of how often alarms call. */
const obeyedAfterMs = 3_000;
const holdsASession = 3;

const sessionOf = (seed: number, lungs: HoldLungs): SimulatedSession =>
  simulateSession({
    seed,
    person: personFromSeed(seed, { trainedFraction: 0.4 + 0.6 * ((seed % 10) / 10) }),
    script: holdsBelowFloor(lungs, holdsASession, floorPercent),
    faults: ordinaryFaults,
  });

interface Told {
  readonly atMs: number;
  readonly kinds: readonly string[];
}

/** What called, whenever that changed; holds are marked, and nobody says how full the lungs are. */
function toldOf(simulated: SimulatedSession): readonly Told[] {
  const pipeline = createPipeline(initialSettings);
  return eventsOf(simulated, true).flatMap((event) =>
    pipeline.push(event).flatMap((output) =>
      output.type === 'alarms'
        ? {
            atMs: output.atMs,
            kinds: output.alarms
              .filter(({ conditionPresent, priority }) => conditionPresent && priority !== 'low')
              .map(({ kind, detail }) => (detail === 'lungsUnsaid' ? `${kind} unsaid` : kind)),
          }
        : [],
    ),
  );
}

function isKept(ifStopped: readonly StoppedHold[], heardAtMs: number | undefined): boolean {
  const last = ifStopped[ifStopped.length - 1]!;
  const stopMs = heardAtMs === undefined ? last.atMs : heardAtMs + obeyedAfterMs;
  return (ifStopped.find(({ atMs }) => atMs >= stopMs) ?? last).lowestFingerPercent >= floorPercent;
}

const sessionCount = Number(process.argv[2] ?? 48);
for (const [name, lungs] of [
  ['full', 'full'],
  ['half', 'partial'],
  ['emptied', 'relaxed'],
] as const) {
  const sum = { holds: 0, byForecast: 0, asked: 0, byQuestion: 0, unsaidFirst: 0 };
  for (let seed = 1; seed <= sessionCount; seed++) {
    const simulated = sessionOf(seed, lungs);
    const told = toldOf(simulated);
    for (const [index, { startMs, endMs }] of simulated.truth.holds.entries()) {
      const ifStopped = simulated.lowestIfBreathingBegan(index, 1_000);
      if (ifStopped.length === 0) continue;
      const first = (kind: string): Told | undefined =>
        told.find(
          ({ atMs, kinds }) =>
            atMs >= startMs && atMs <= endMs && kinds.some((each) => each.startsWith(kind)),
        );
      const forecast = first('floorForecast');
      const question = first('noBreathingSign');
      sum.holds++;
      if (isKept(ifStopped, forecast?.atMs)) sum.byForecast++;
      if (forecast?.kinds.includes('floorForecast unsaid')) sum.unsaidFirst++;
      if (question === undefined) continue;
      sum.asked++;
      if (isKept(ifStopped, question.atMs)) sum.byQuestion++;
    }
  }
  console.log(
    `${name}: of ${sum.holds} holds ${sum.byForecast} keep the floor by the forecast alarm (it came for unsaid lungs in ` +
      `${sum.unsaidFirst}); ${sum.asked} are asked, and ${sum.byQuestion} keep it who heed that alone`,
  );
}
