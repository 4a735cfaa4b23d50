// A wave of any size through EDF+ and back: within the digital step, and from then on the same to the bit.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { digitalStepOf, type EdfFile } from '../../../src/formats/edf/edf-file.ts';
import { edfOfRecording } from '../../../src/formats/edf/edf-of-recording.ts';
import { utc } from '../../../src/formats/import-file.ts';
import { recordingOfEdfFile } from '../../support/edf-in-memory.ts';

interface WaveSample {
  readonly atMs: number;
  readonly value: number;
}

const edfOf = (samples: readonly WaveSample[]): EdfFile =>
  edfOfRecording({
    athleteName: 'Mira',
    simulated: true,
    startedWallAtMs: Date.UTC(2031, 4, 10),
    zone: utc,
    durationMs: 10_000,
    samples: samples.map(({ atMs, value }) => ({
      channel: 'pleth',
      atMs: monotonicMs(atMs),
      value,
      sensorId: 'clip',
      quality: 'good',
      reasons: [],
    })),
    marks: [],
    holds: [],
    alarms: [],
    gaps: [],
  });
const waveOf = (file: EdfFile) => recordingOfEdfFile(file).samples;

test('values come back within half a step, and the second file is the first', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: -5, max: 22 }).chain((power) =>
        fc.array(
          // Round the powers of two, where the scale changes, more often than elsewhere.
          fc.oneof(
            fc.double({ min: -(2 ** power), max: 2 ** power, noNaN: true }),
            fc.integer({ min: -4, max: 4 }).map((step) => 2 ** power * (1 + step / 131_068)),
          ),
          { minLength: 1, maxLength: 60 },
        ),
      ),
      (values) => {
        const samples = values.map((value, index) => ({ atMs: index * 10, value }));
        const first = edfOf(samples);
        const back = waveOf(first);
        const halfStep = digitalStepOf(first.signals[0]!) / 2;
        expect(back).toHaveLength(values.length);
        // Twelve digits of a value are kept beside.
        for (const [index, { value }] of back.entries())
          expect(Math.abs(value - values[index]!)).toBeLessThanOrEqual(halfStep + 1e-11 * Math.abs(value));
        expect(edfOf(back)).toEqual(first);
      },
    ),
  );
});

test('a wave of another program is read whole: not decimated, zero and below are values', () => {
  const digital = Int16Array.from({ length: 1_000 }, (_, index) => Math.round(900 * Math.sin(index / 15)));
  const file: EdfFile = {
    ...edfOf([{ atMs: 0, value: 1 }]),
    recordOnsetsS: Array.from({ length: 10 }, (_, second) => second),
    signals: [
      {
        label: 'Pleth',
        transducer: '',
        unit: 'mV',
        prefilter: '',
        physicalMin: -1_000,
        physicalMax: 1_000,
        digitalMin: -1_000,
        digitalMax: 1_000,
        samplesPerRecord: 100,
        digital,
      },
    ],
  };
  const wave = waveOf(file);
  expect(wave.map(({ value }) => value)).toEqual([...digital]);
  expect(wave[1]!.atMs).toBe(10);
});
