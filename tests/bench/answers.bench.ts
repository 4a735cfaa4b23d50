// What the core answers to many recordings, each kind as one number: a change that is to be quicker and nothing else leaves all of
// them as they are (`npm run bench -- --against COMMIT --rounds 1 answers` prints 1.000 everywhere). Live through the pipeline,
// every output of every event (samples, gaps, holds, forecasts, alarms), and afterwards as a review works some of them out.
// `BENCH_ANSWERS=text` takes only those whose name has the text.

import { createHash, type Hash } from 'node:crypto';
import { createPipeline, type PipelineOutput } from '../../src/pipeline.ts';
import { deriveRecording } from '../../src/sessions/derive-recording.ts';
import { type AnsweredRecording, answeredRecordings } from './answered-recordings.ts';

/** Typed arrays and maps by their contents; numbers are written so that they can be read back exactly. */
function plainly(_key: string, value: unknown): unknown {
  if (value instanceof Map) return [...value];
  if (ArrayBuffer.isView(value)) return Array.from(value as Float64Array);
  if (typeof value === 'number' && (!Number.isFinite(value) || Object.is(value, -0)))
    return Object.is(value, -0) ? '-0' : String(value);
  return value;
}

const text = (part: unknown): string => JSON.stringify(part, plainly);

/**
 * Two athletes at a time, event by event in turns: what the core shares between pipelines (rooms for numbers, the networks' module)
 * must not show.
 */
function digestLive(one: AnsweredRecording, other: AnsweredRecording | undefined, hashOf: HashOf): void {
  const lives = [one, other].flatMap((recording) =>
    recording === undefined
      ? []
      : [
          {
            events: recording.events[Symbol.iterator](),
            pipeline: createPipeline(recording.settings),
            // Of its own, so that it does not matter beside whom it is lived.
            hash: createHash('sha256'),
            name: `${recording.name}: live`,
            said: [] as (readonly PipelineOutput[])[],
          },
        ],
  );
  for (let under = lives.length; under > 0; ) {
    under = 0;
    for (const { events, pipeline, hash, said } of lives) {
      const next = events.next();
      if (next.done === true) continue;
      under += 1;
      said.push(pipeline.push(next.value));
      if (said.length >= 500) hash.update(text(said.splice(0)));
    }
  }
  for (const { name, pipeline, hash, said } of lives) {
    hash.update(text([said, pipeline.state, pipeline.prior, pipeline.openGaps()]));
    hashOf(name).update(hash.digest());
  }
}

function digestLater({ name, events, durationMs, settings }: AnsweredRecording, hashOf: HashOf): void {
  const { columns, ...rest } = deriveRecording(
    createPipeline(settings, [], { scope: 'signals' }),
    events,
    durationMs,
  );
  hashOf(`${name}: later`).update(
    text([rest, [...columns].map(([channel, column]) => [channel, column.buffers()])]),
  );
}

type HashOf = (name: string) => Hash;

export async function benchAnswers(): Promise<Record<string, number>> {
  const hashes = new Map<string, Hash>();
  const hashOf: HashOf = (name) => {
    const known = hashes.get(name) ?? createHash('sha256');
    hashes.set(name, known);
    return known;
  };
  const asked = process.env['BENCH_ANSWERS'] ?? '';
  let waiting: AnsweredRecording | undefined;
  for (const recording of answeredRecordings()) {
    if (!recording.name.includes(asked)) continue;
    if (recording.later) digestLater(recording, hashOf);
    if (waiting === undefined) waiting = recording;
    else {
      digestLive(waiting, recording, hashOf);
      waiting = undefined;
    }
  }
  if (waiting !== undefined) digestLive(waiting, undefined, hashOf);
  // The first 48 bits of SHA-256: exact as a number.
  return Object.fromEntries([...hashes].map(([name, hash]) => [name, hash.digest().readUIntBE(0, 6)]));
}
