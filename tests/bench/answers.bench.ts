// What the core answers to many recordings, each as one number: a change that is to be quicker and nothing else leaves all of
// them as they are (`npm run bench -- --against COMMIT --rounds 1 answers` prints 1.000 everywhere). SIMULATED sessions of two
// generators, live through the pipeline and afterwards as a review works them out.

import { createHash } from 'node:crypto';
import { percent } from '../../shared/units.ts';
import { createPipeline, type PipelineEvent } from '../../src/pipeline.ts';
import { deriveRecording } from '../../src/sessions/derive-recording.ts';
import { alveolarAthlete } from '../support/foreign-alveolar/alveolar-athlete.ts';
import { sketchAthlete } from '../support/foreign-sketch/sketch-athlete.ts';
import { settingsWithFloor } from '../support/scoring/judge-session.ts';
import { liveThrough, sensorKits, sessionKinds } from '../support/scoring/living-athlete.ts';

const settings = {
  ...settingsWithFloor(85),
  heartRateLowBpm: 35,
  thresholdsPercent: [percent(95), percent(88)],
};

/** Typed arrays and maps by their contents; numbers are written so that they can be read back exactly. */
function plainly(_key: string, value: unknown): unknown {
  if (value instanceof Map) return [...value];
  if (ArrayBuffer.isView(value)) return Array.from(value as Float64Array);
  return value;
}

/** The first 48 bits of SHA-256: exact as a number. */
function digestOf(parts: Iterable<unknown>): number {
  const hash = createHash('sha256');
  for (const part of parts) hash.update(JSON.stringify(part, plainly));
  return hash.digest().readUIntBE(0, 6);
}

function* liveAnswers(events: readonly PipelineEvent[]): Generator<unknown> {
  const pipeline = createPipeline(settings);
  for (const event of events) yield pipeline.push(event);
  yield [pipeline.state, pipeline.prior, pipeline.openGaps()];
}

function laterAnswer(events: readonly PipelineEvent[], durationMs: number): unknown {
  const { columns, ...rest } = deriveRecording(
    createPipeline(settings, [], { scope: 'signals' }),
    events,
    durationMs,
  );
  return [rest, [...columns].map(([channel, column]) => [channel, column.buffers()])];
}

export async function benchAnswers(): Promise<Record<string, number>> {
  const answers: Record<string, number> = {};
  for (const [generator, factory] of [
    ['alveolar', alveolarAthlete],
    ['sketch', sketchAthlete],
  ] as const)
    for (const [k, kind] of sessionKinds.entries())
      for (const [s, kit] of sensorKits.entries()) {
        // Half of all pairs: each kind and each kit three times.
        if ((k + s) % 2 === 1) continue;
        const name = `${generator}, ${kind}, ${kit}`;
        const { events, durationMs } = liveThrough(
          factory({ seed: 7_000 + 10 * k + s, kind, kit }),
          name,
          85,
        );
        answers[`${name}: live`] = digestOf(liveAnswers(events));
        answers[`${name}: later`] = digestOf([laterAnswer(events, durationMs)]);
      }
  return answers;
}
