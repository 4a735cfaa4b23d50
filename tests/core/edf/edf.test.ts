// EDF+ in both directions: published field values, an independent reader, files of another program, hostile bytes.

import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Channel, SampleQuality } from '../../../shared/schema-parts.ts';
import { monotonicMs } from '../../../shared/units.ts';
import {
  decodeAnnotations,
  encodeAnnotation,
  encodeTimekeeping,
} from '../../../src/formats/edf/annotation-lists.ts';
import { cellCodeOf } from '../../../src/formats/edf/cell-codes.ts';
import { decodeEdf } from '../../../src/formats/edf/decode-edf.ts';
import { digitalOf, digitalStepOf, physicalOf } from '../../../src/formats/edf/edf-file.ts';
import { edfOfRecording, type RecordingForEdf } from '../../../src/formats/edf/edf-of-recording.ts';
import { encodeEdf } from '../../../src/formats/edf/encode-edf.ts';
import { channelSignals } from '../../../src/formats/edf/recording-signals.ts';
import { decodeUtf8, encodeUtf8 } from '../../../src/formats/edf/utf8.ts';
import { utc } from '../../../src/formats/import-file.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { gridSamples } from '../../../src/sessions/sample-grid.ts';
import { recordingOfEdfBytes } from '../../support/edf-in-memory.ts';
import { inWords } from '../../support/in-words.ts';
import { hasLibedf, readWithLibedf, writeWithLibedf } from '../../support/libedf.ts';

const sample = (channel: Channel, atMs: number, value: number, quality: SampleQuality = 'good'): Sample => ({
  channel,
  atMs: monotonicMs(atMs),
  value,
  sensorId: 's',
  quality,
  reasons: [],
});

function recording(changes: Partial<RecordingForEdf> = {}): RecordingForEdf {
  const samples: Sample[] = [];
  for (let second = 0; second < 90; second += 1) {
    if (second > 40 && second < 50) continue;
    samples.push(sample('heartRateBpm', second * 1000 + 120, 60 + (second % 9)));
    samples.push(sample('rrIntervalMs', second * 1000 + 120, Math.round(900 * 1.024 + second) / 1.024));
    samples.push(
      sample('spo2Percent', second * 1000 + 431.7, 98 - second / 10, second === 60 ? 'suspect' : 'good'),
    );
    samples.push(sample('pulseRateBpm', second * 1000 + 431.7, 61.5));
  }
  return {
    athleteName: 'Mira Ångström',
    simulated: true,
    startedWallAtMs: Date.UTC(2025, 4, 3, 17, 5, 9, 374),
    zone: utc,
    durationMs: 90_000,
    samples: samples.sort((a, b) => a.atMs - b.atMs),
    marks: [
      { kind: 'holdStart', atMs: 10_250, text: null },
      { kind: 'contraction', atMs: 45_001.5, text: null },
      { kind: 'note', atMs: 50_000, text: `warm, ${'long '.repeat(80)}é end` },
      { kind: 'holdEnd', atMs: 70_000, text: null },
    ],
    holds: [{ startMs: 10_250, startSource: 'marked', endMs: 70_000, endSource: 'marked' }],
    alarms: [
      {
        raisedAtMs: 62_000,
        clearedAtMs: 64_000,
        priority: 'high',
        message: 'Saturation is below the floor.',
      },
    ],
    gaps: [{ fromMs: 41_000, toMs: 50_000, reason: 'no saturation' }],
    ...changes,
  };
}

const scratch = (): string => mkdtempSync(join(tmpdir(), 'slackwater-edf-'));

describe('published values', () => {
  test('annotation lists, byte for byte (reference vectors.edf_check)', () => {
    const hex = (bytes: Uint8Array): string => Buffer.from(bytes).toString('hex').toUpperCase();
    expect(hex(encodeAnnotation({ onsetS: 1.5, durationS: 2.25, text: 'Hold start' }))).toBe(
      '2B312E3515322E323514486F6C6420737461727414' + '00',
    );
    expect(hex(encodeTimekeeping(2))).toBe('2B32141400');
  });

  test('scale (reference 8.03)', () => {
    const percent = { physicalMin: 0, physicalMax: 100, digitalMin: 0, digitalMax: 1000 };
    const full = { physicalMin: 0, physicalMax: 100, digitalMin: -32_768, digitalMax: 32_767 };
    const signal = { label: '', transducer: '', unit: '', prefilter: '', samplesPerRecord: 1 };
    expect(digitalOf({ ...signal, ...percent }, 98.5)).toBe(985);
    expect(digitalOf({ ...signal, ...full }, 97.5)).toBe(31_129);
    expect(physicalOf({ ...signal, ...full }, 31_129)).toBeCloseTo(97.50057221332112, 10);
  });

  test('header: 256 bytes and 256 for each signal, exact ASCII fields (reference 8.01, 8.02, 8.04)', () => {
    const bytes = encodeEdf(edfOfRecording(recording()));
    const head = Buffer.from(bytes.subarray(0, 256)).toString('latin1');
    expect(head.slice(0, 8)).toBe('0       ');
    expect(head.slice(8, 88).trimEnd()).toBe('X X X Mira_Angstrom');
    expect(head.slice(88, 168).trimEnd()).toBe('Startdate 03-MAY-2025 X X Slackwater SIMULATED');
    expect(head.slice(168, 184)).toBe('03.05.2517.05.09');
    expect(head.slice(184, 192)).toBe(`${256 * 10}    `);
    expect(head.slice(192, 236).trimEnd()).toBe('EDF+C');
    expect(head.slice(236, 256)).toBe('90      1       9   ');
  });
});

describe.skipIf(!hasLibedf)('an independent reader (libedf)', () => {
  test('values are equal to within the digital step, annotations are equal', () => {
    const original = recording();
    const file = edfOfRecording(original);
    const path = join(scratch(), 'ours.edf');
    writeFileSync(path, encodeEdf(file));
    const read = readWithLibedf(path);
    expect(read).toMatchObject({
      filetype: 1,
      start: [2025, 5, 3, 17, 5, 9],
      subsecond: 3_740_000,
      duration: 900_000_000,
    });
    expect(read.patient.trim()).toBe('Mira Angstrom');
    expect(read.equipment.trim()).toBe('Slackwater');
    expect(read.more.trim()).toBe('SIMULATED');
    expect(read.signals.map(({ label }) => label.trim())).toEqual(file.signals.map(({ label }) => label));
    for (const { channel, label } of channelSignals) {
      const own = original.samples.filter((entry) => entry.channel === channel);
      if (own.length === 0) continue;
      const index = file.signals.findIndex((signal) => signal.label === label);
      const quality = read.signals[index + 1]!.values;
      const grid = gridSamples(own, original.durationMs);
      const step = digitalStepOf(file.signals[index]!);
      expect(quality).toEqual([...grid.quality].map((code, cell) => cellCodeOf(code, grid.steps[cell]!)));
      let compared = 0;
      grid.values.forEach((value, cell) => {
        if (Number.isNaN(value)) return;
        compared += 1;
        expect(Math.abs(read.signals[index]!.values[cell]! - value)).toBeLessThanOrEqual(step / 2 + 1e-9);
      });
      expect(compared).toBe(own.length);
    }
    // libedf counts annotations from the first record, in 100 ns.
    expect(read.annotations.map(({ onset, text }) => [onset / 1e4, text])).toEqual(
      file.annotations.map(({ onsetS, text }) => [Math.round((onsetS - 0.374) * 1e7) / 1e4, text]),
    );
    expect(read.annotations.map(({ text }) => text)).toContain('SIMULATED: no person was measured');
  });

  test('a recording without any reading, and one of an hour, are accepted too', () => {
    const path = join(scratch(), 'empty.edf');
    writeFileSync(path, encodeEdf(edfOfRecording(recording({ samples: [], durationMs: 0 }))));
    expect(readWithLibedf(path)).toMatchObject({ filetype: 1 });
    writeFileSync(path, encodeEdf(edfOfRecording(recording({ durationMs: 3_600_000 }))));
    expect(readWithLibedf(path)).toMatchObject({ filetype: 1, duration: 36_000_000_000 });
  });

  test('the reader can refuse: a record without its time is not accepted', () => {
    const bytes = encodeEdf(edfOfRecording(recording()));
    const path = join(scratch(), 'broken.edf');
    const at = Buffer.from(bytes).indexOf(Buffer.from('+5.374\x14\x14'));
    expect(at).toBeGreaterThan(0);
    bytes.fill(0, at, at + 8);
    writeFileSync(path, bytes);
    expect(readWithLibedf(path).error).toBeLessThan(0);
  });

  test('a file that libedf wrote is read with its values, annotations and start', () => {
    const path = join(scratch(), 'theirs.edf');
    writeWithLibedf(path);
    const theirs = readWithLibedf(path);
    const decoded = decodeEdf(readFileSync(path));
    if (!decoded.ok) throw new Error(inWords(decoded.reason.said));
    const file = decoded.value;
    expect(file.startMs).toBe(Date.UTC(2024, 2, 9, 18, 30, 5));
    file.signals.forEach((signal, index) => {
      expect([...signal.digital].map((digital) => physicalOf(signal, digital))).toEqual(
        theirs.signals[index]!.values.map((value) => expect.closeTo(value, 9)),
      );
    });
    expect(file.annotations.map(({ onsetS, text }) => [onsetS * 1e7, text])).toEqual(
      theirs.annotations.map(({ onset, text }) => [onset, text]),
    );
    const imported = recordingOfEdfBytes(readFileSync(path));
    expect([...new Set(imported.samples.map(({ channel }) => channel))].sort()).toEqual([
      'pulseRateBpm',
      'spo2Percent',
    ]);
    const saturations = imported.samples.filter(({ channel }) => channel === 'spo2Percent');
    expect(saturations).toHaveLength(115);
    expect(saturations[0]).toMatchObject({ atMs: 5_000, value: expect.closeTo(97.5, 3), quality: 'good' });
    expect(imported.marks).toEqual([
      { kind: 'note', atMs: 10_000, text: 'apnea start (lasts 40 s)' },
      { kind: 'note', atMs: 60_000, text: 'recovery' },
    ]);
    expect(imported.simulated).toBe(false);
  });
});

describe('there and back', () => {
  test('samples to within a cell, values to within a step, marks and SIMULATED come back', () => {
    const original = recording();
    const back = recordingOfEdfBytes(encodeEdf(edfOfRecording(original)));
    expect(back).toMatchObject({
      simulated: true,
      startedWallAtMs: original.startedWallAtMs,
      durationMs: 90_000,
    });
    expect(back.samples).toHaveLength(original.samples.length);
    for (const channel of ['heartRateBpm', 'rrIntervalMs', 'spo2Percent', 'pulseRateBpm'] as const) {
      const ours = original.samples.filter((entry) => entry.channel === channel);
      back.samples
        .filter((entry) => entry.channel === channel)
        .forEach((entry, index) => {
          expect(entry.value).toBeCloseTo(ours[index]!.value, 6);
          expect(entry.quality).toBe(ours[index]!.quality);
          // Beats have a clock of 1/1024 s: everything is at most an eighth of that from where it was.
          expect(Math.abs(ours[index]!.atMs - entry.atMs)).toBeLessThanOrEqual(1000 / 8192);
        });
    }
    expect(back.marks).toEqual(original.marks);
  });

  test('any text survives UTF-8, any notes survive the annotation lists', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'grapheme', maxLength: 50 }), (text) => {
        const bytes = Uint8Array.from(encodeUtf8(text));
        expect(Buffer.from(bytes).equals(Buffer.from(text, 'utf8'))).toBe(true);
        expect(decodeUtf8(bytes)).toBe(text);
      }),
    );
    fc.assert(
      fc.property(
        fc.array(
          fc.record({ onsetS: fc.integer({ min: 0, max: 9e9 }), text: fc.stringMatching(/^[^\p{Cc}]+$/u) }),
          {
            minLength: 1,
            maxLength: 8,
          },
        ),
        (entries) => {
          const annotations = entries.map(({ onsetS, text }) => ({ onsetS: onsetS / 1e6, text }));
          const bytes = Uint8Array.from([
            ...encodeTimekeeping(7),
            ...annotations.flatMap((entry) => [...encodeAnnotation(entry)]),
            0,
            0,
          ]);
          expect(decodeAnnotations(bytes)).toEqual({ recordOnsetS: 7, annotations, unreadable: 0 });
        },
      ),
    );
  });

  test('bytes are strict UTF-8 or nothing, as the platform reads them', () => {
    const platform = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 12 }), (bytes) => {
        let expected: string | undefined;
        try {
          expected = platform.decode(bytes);
        } catch {
          // Not UTF-8.
        }
        expect(decodeUtf8(bytes)).toBe(expected);
      }),
      { numRuns: 2_000 },
    );
  });
});

describe('hostile files', () => {
  const good = encodeEdf(edfOfRecording(recording()));

  test('a cut file is read as far as its records are whole, and says so; before the first, one sentence with its place', () => {
    const recordBytes = (good.length - 2_560) / 90;
    fc.assert(
      fc.property(fc.nat({ max: good.length - 1 }), (length) => {
        const cut = good.subarray(0, length);
        const result = decodeEdf(cut);
        expect(result.ok).toBe(length >= 2_560 + recordBytes);
        if (!result.ok) expect(inWords(result.reason.said)).toMatch(/^byte \d+: [^\n]+$/);
        else {
          const whole = Math.floor((length - 2_560) / recordBytes);
          const back = recordingOfEdfBytes(cut);
          expect(back.durationMs).toBe(1_000 * whole);
          expect(inWords(...back.notices)).toContain(`ends in record ${whole + 1} of 90`);
        }
      }),
      { numRuns: 40 },
    );
  });

  test('any bytes, and any change to a good file, end in a value or a sentence', () => {
    fc.assert(fc.property(fc.uint8Array({ maxLength: 700 }), (bytes) => void decodeEdf(bytes)));
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.nat({ max: 3_500 }), fc.integer({ min: 0, max: 255 })), {
          minLength: 1,
          maxLength: 6,
        }),
        (changes) => {
          const bytes = good.slice();
          for (const [at, byte] of changes) bytes[at] = byte;
          const result = decodeEdf(bytes);
          if (!result.ok) expect(inWords(result.reason.said)).toMatch(/^byte \d+: [\x20-\x7e]+$/);
        },
      ),
    );
  });

  const changed = (at: number, text: string): Uint8Array => {
    const bytes = good.slice();
    bytes.set(Buffer.from(text, 'latin1'), at);
    return bytes;
  };
  test.each([
    ['a PNG', Buffer.from('\x89PNG\r\n\x1a\n', 'latin1'), 'not an EDF file'],
    ['a wrong header size', changed(184, '9999    '), 'has 2560 bytes, not "9999"'],
    ['no records', changed(236, '0       '), 'no whole record'],
    ['a record of no time', changed(244, '0       '), 'must be more than 0 s'],
  ])('%s', (_name, bytes, message) => {
    const result = decodeEdf(bytes);
    expect(result.ok ? 'accepted' : inWords(result.reason.said)).toContain(message);
  });

  test.each([
    ['more records than there are', changed(236, '91      '), 90, 'ends in record 91 of 91'],
    ['fewer records than there are', changed(236, '89      '), 89, 'more bytes than its header says'],
    ['a huge record count', changed(236, '99999999'), 90, 'ends in record 91'],
    ['a record count that is none', changed(236, 'many    '), 90, ''],
    ['a date that is none', changed(168, '31.02.25').fill(0x58, 88, 97), 90, 'does not say when'],
    ['a flat digital scale', changed(256 + 9 * (16 + 80 + 8 + 8 + 8), '1000    '), 90, 'without extent'],
    ['a decimal comma', changed(256 + 9 * (16 + 80 + 8 + 8), '1000,0  '), 90, ''],
    [
      'an annotation without a time',
      changed(good.length - 3, '\x14+\x14'),
      90,
      '1 annotation could not be read',
    ],
  ])('%s is read round, which is said', (_name, bytes, seconds, notice) => {
    const back = recordingOfEdfBytes(bytes);
    expect(back.durationMs).toBe(1_000 * seconds);
    expect(inWords(...back.notices)).toContain(notice);
    expect(back.samples.filter(({ channel }) => channel === 'spo2Percent')).toHaveLength(seconds - 9);
  });
});
