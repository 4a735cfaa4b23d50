// Reads trials of the open recording "Respiratory and Pulse Oximetry Waveforms from Healthy Adults During Simulated
// Apnoea Events" (Hill J et al., PhysioNet 2026, doi:10.13026/s45r-k263, CC BY 4.0) into corpus sessions.

import { existsSync, readFileSync } from 'node:fs';
import { gunzipSync } from 'node:zlib';
import { monotonicMs } from '../../../shared/units.ts';
import type { Hold } from '../../../src/holds/hold.ts';
import { estimateHolds } from '../../../src/holds/smoothing.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { createSecondRows } from '../../../src/signal/second-rows.ts';
import { smoothingWithoutHalf } from '../../training/folds/fold-networks.ts';
import type { CorpusSession } from './corpus-session.ts';

/** Label rows as in hold_labels_derived.csv, which were derived from airway pressure, not by a person. */
interface Label {
  readonly subject: string;
  readonly trial: string;
  readonly startS: number;
  readonly endS: number;
  readonly confidence: string;
  /** Photodiode column with the clearest pulse. */
  readonly channel: number;
}

function readLabels(folder: string): Label[] {
  return readFileSync(`${folder}/hold_labels_derived.csv`, 'utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((line) => line.split(','))
    .map((fields) => ({
      subject: fields[0]!,
      trial: fields[1]!,
      startS: Number(fields[3]),
      endS: Number(fields[4]),
      confidence: fields[7]!,
      channel: Number(fields[8]),
    }));
}

/**
 * All trials present under `folder`: one pleth channel at 250 Hz, 60 s, one hold of 10 or 20 s each; and for every
 * subject one of ordinary breathing.
 */
export function* apnoeaTrials(folder: string): Generator<CorpusSession> {
  const labels = readLabels(folder);
  const subjects = [...new Set(labels.map((label) => label.subject))];
  const breathing = subjects.map(
    (subject): Label => ({
      subject,
      trial: '8cmH2O_normal',
      startS: Number.NaN,
      endS: Number.NaN,
      confidence: 'breathing',
      channel: 0,
    }),
  );
  for (const label of [...labels, ...breathing]) {
    const name = `Subject${label.subject}_${label.trial}`;
    const file = `${folder}/Neck_Pulse_Oximeter_Data/Subject${label.subject}/${name}_pulse.csv.gz`;
    if (!existsSync(file)) {
      continue;
    }
    const held = Number.isFinite(label.startS);
    // Where no channel has a clear pulse, the third is taken, as it is the clearest most often.
    const column = label.channel >= 1 ? label.channel : 3;
    const rows = gunzipSync(readFileSync(file)).toString('utf8').trim().split('\n').slice(1);
    yield {
      name,
      conditions: {
        simulator: 'realPeople',
        nominal: !held ? 'no hold' : label.trial.endsWith('apnea1') ? '10 s' : '20 s',
        label: label.confidence,
      },
      durationMs: 60_000,
      samples: rows.map((row) => {
        const fields = row.split(',');
        return {
          channel: 'pleth' as const,
          atMs: monotonicMs(Number(fields[0]) * 1_000),
          value: Number(fields[column]),
          sensorId: 'neck',
          quality: 'good' as const,
          reasons: [],
        };
      }),
      holds: held ? [{ startMs: label.startS * 1_000, endMs: label.endS * 1_000 }] : [],
    };
  }
}

const firstHalf = ['1', '5', '9', '13', '17'];

/**
 * Holds of a trial by a network that was not trained on its subject: the committed one was, so that scoring it on these
 * trials would flatter it (tests/training/README.md).
 */
export function holdsWithoutSubject(name: string, cleaned: readonly Sample[]): Hold[] {
  const subject = /^Subject(\d+)_/.exec(name)?.[1] ?? '';
  const networks = smoothingWithoutHalf[firstHalf.includes(subject) ? 0 : 1];
  const stream = createSecondRows();
  const rows = [...cleaned.flatMap((sample) => [...stream.push(sample)]), ...stream.flush()];
  return estimateHolds(rows, networks).map(({ start, end, confidence, proposed }, i) => ({
    start,
    end,
    confidence,
    ...(proposed && { proposed }),
    holdId: `found-${i + 1}`,
    contractionsAtMs: [],
  }));
}
