// Live frames: what is written is read again, exactly; rubbish is answered with a reason; the layout is pinned.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { ByteReader, ByteWriter } from '../../../shared/live-frame/bytes.ts';
import { channels, type LiveState } from '../../../shared/live-frame/live-frame.ts';
import { LiveFrameReader } from '../../../shared/live-frame/live-frame-reader.ts';
import {
  changeBlock,
  fillBlock,
  liveFrame,
  wholeBlock,
} from '../../../shared/live-frame/write-live-frame.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { Trace } from '../../../shared/views.ts';
import { readFrame } from '../../support/hear-feed.ts';
import { randomStep } from '../../support/random-live-states.ts';

const resting: LiveState = {
  athleteId: 'mira',
  atMs: monotonicMs(1_000),
  phase: 'resting',
  spo2: { value: 97, atMs: monotonicMs(1_000), quality: 'good', reasons: [], sensorId: 'clip' },
  heartRate: null,
  forecast: { known: false, lowestIfStoppedNow: null, secondsToStop: null, lungs: null },
};
const whole = (state: LiveState, traces: readonly Trace[] = []) =>
  wholeBlock(3, {
    state,
    fromMs: monotonicMs(0),
    tracedToMs: state.atMs,
    traces,
    droppedCount: 0,
    decimatedCount: 0,
  });
const spo2At = (atMs: number, value: number): Trace => ({
  channel: 'spo2Percent',
  atMs: [atMs],
  value: [value],
  quality: 'g',
});
const float64 = (value: number) => [...new Uint8Array(new Float64Array([value]).buffer)];

describe('numbers and texts', () => {
  test('come back exactly as they were', () => {
    const number = fc.oneof(
      fc.integer(),
      fc.integer({ min: -3_000, max: 3_000 }).map((tenths) => tenths / 10 + 0),
      fc.double({ noNaN: true, noDefaultInfinity: true }).map((value) => value + 0),
    );
    // Any code units, halves of pairs among them.
    const text = fc
      .array(fc.oneof(fc.integer({ min: 32, max: 126 }), fc.integer({ min: 0, max: 0xffff })))
      .map((units) => String.fromCharCode(...units));
    fc.assert(
      fc.property(fc.array(number), fc.array(text), (numbers, texts) => {
        const writer = new ByteWriter();
        for (const value of numbers) writer.number(value);
        for (const value of texts) writer.text(value);
        const reader = new ByteReader(writer.written());
        expect(numbers.map(() => reader.number())).toEqual(numbers);
        expect(texts.map(() => reader.text())).toEqual(texts);
        expect(reader.atEnd).toBe(true);
        expect(reader.overran).toBe(false);
      }),
    );
  });
});

describe('what a page that joins has missed', () => {
  test('comes back: values exactly, times to a tenth of a millisecond and in order, whatever they are', () => {
    const sample = fc.record({
      gapMs: fc.oneof(fc.nat(3_000), fc.double({ min: 0, max: 5_000, noNaN: true })),
      value: fc.oneof(
        fc.constant(null),
        fc.integer({ min: 0, max: 2_500 }).map((tenths) => tenths / 10),
        fc.double({ min: -1e9, max: 1e9, noNaN: true }).map((value) => value + 0),
      ),
      quality: fc.constantFrom('g', 's', 'b'),
    });
    fc.assert(
      fc.property(fc.array(sample, { maxLength: 200 }), (samples) => {
        let at = 0;
        const atMs = samples.map(({ gapMs }) => {
          at += gapMs;
          return at;
        });
        const trace: Trace = {
          channel: 'heartRateBpm',
          atMs,
          value: samples.map(({ value }) => value),
          quality: samples.map(({ quality }) => quality).join(''),
        };
        const fill = { athleteId: 'mira', fromMs: monotonicMs(0), toMs: monotonicMs(at), traces: [trace] };
        const [message] = readFrame(new LiveFrameReader(), liveFrame([fillBlock(fill)]));
        if (message?.type !== 'trace') throw new Error('no trace');
        const { traces, ...rest } = message;
        const { traces: _traces, ...told } = fill;
        expect(rest).toEqual({ type: 'trace', ...told, decimatedCount: 0 });
        expect(traces[0]?.value).toEqual(trace.value);
        expect(traces[0]?.quality).toBe(trace.quality);
        expect(traces[0]?.atMs.length).toBe(atMs.length);
        for (const [index, read] of (traces[0]?.atMs ?? []).entries()) {
          expect(Math.abs(read - (atMs[index] ?? Number.NaN))).toBeLessThanOrEqual(0.0501);
          expect(read).toBeGreaterThanOrEqual(traces[0]?.atMs[index - 1] ?? 0);
          expect(read).toBeLessThanOrEqual(at);
        }
      }),
    );
  });

  test('cut short or with runs that lead nowhere, it is refused with a reason', () => {
    const bytes = liveFrame([
      fillBlock({
        athleteId: 'mira',
        fromMs: monotonicMs(0),
        toMs: monotonicMs(1_000),
        traces: [spo2At(1_000, 97)],
      }),
    ]);
    for (let length = 2; length < bytes.length; length += 1)
      expect(new LiveFrameReader().read(bytes.slice(0, length))).toMatchObject({ ok: false });
    const noRun = Uint8Array.from(bytes);
    noRun[noRun.length - 1] = 0;
    expect(new LiveFrameReader().read(noRun)).toEqual({ ok: false, reason: 'unknownWord' });
  });

  test('is laid out like this, written out by hand', () => {
    const trace = {
      channel: 'spo2Percent' as const,
      atMs: [1_000, 2_000, 3_000],
      value: [97, 96, null],
      quality: 'ggb',
    };
    const bytes = fillBlock({
      athleteId: 'm',
      fromMs: monotonicMs(0),
      toMs: monotonicMs(3_000),
      traces: [trace],
    });
    expect([...bytes]).toEqual([
      3, // what was missed
      ...[1, 'm'.charCodeAt(0)],
      ...float64(0),
      ...float64(3_000),
      1, // one trace
      channels.indexOf('spo2Percent'),
      3, // samples
      ...[0x90, 0x4e, 0x90, 0x4e, 0x90, 0x4e], // 10,000 tenths of a millisecond each
      ...[0x96, 0x0f], // 2 + 2 x 970
      2 + 19, // ten tenths less
      0, // none
      ...[0, 2], // two good
      ...[2, 1], // one bad
    ]);
  });
});

describe('the layout', () => {
  // Pinned bytes: a page of this protocol version must read what any hub of it writes, and the other way round.
  test('of a whole state, written out by hand', () => {
    const text = (words: string) => [words.length, ...Buffer.from(words)];
    expect([...liveFrame([whole(resting)])]).toEqual([
      1, // this layout
      1, // a whole state
      3, // slot
      ...text('mira'),
      ...float64(1_000),
      ...float64(0),
      ...float64(1_000),
      0, // none dropped
      0, // none decimated
      1, // resting
      1, // a readout in full
      0xa8, // 97.0 as 970 tenths, doubled for the sign and doubled for being short: 3880
      0x1e,
      ...float64(1_000),
      0, // good
      ...text('clip'),
      0, // no reasons
      0, // no heart rate
      0, // nothing forecast
      0, // no traces
    ]);
  });

  test('of a new saturation: 17 bytes', () => {
    const now: LiveState = {
      ...resting,
      atMs: monotonicMs(2_000),
      spo2: { ...resting.spo2!, value: 96, atMs: monotonicMs(2_000) },
    };
    const block = changeBlock(3, resting, now, [spo2At(2_000, 96)])!;
    expect([...block]).toEqual([
      0b100100, // a saturation and traces
      3, // slot
      ...float64(2_000),
      4, // the last sample of channel 2
      1, // one trace
      2, // of channel 2, the saturation
      1, // one sample
      0b100, // good, at the block's time
      0x80, // 96.0
      0x1e,
    ]);
    expect(block).toHaveLength(17);
  });
});

describe('reading', () => {
  test('any sequence of states and samples reads as if each had been sent in full', () => {
    fc.assert(
      fc.property(
        fc.array(fc.record({ slot: fc.integer({ min: 0, max: 2 }), step: randomStep }), { maxLength: 40 }),
        (steps) => {
          const reader = new LiveFrameReader();
          const told = new Map<number, { state: LiveState; tracedToMs: number }>();
          let atMs = 0;
          for (const { slot, step } of steps) {
            atMs += 250.3;
            const before = told.get(slot);
            const { traces } = step;
            const athleteId = `athlete-${slot}`;
            const state = step.after(athleteId, atMs, before?.state);
            const fromMs = monotonicMs(before?.tracedToMs ?? 0);
            const tracedToMs = monotonicMs(traces.length === 0 ? fromMs : atMs);
            const counts = { droppedCount: 0, decimatedCount: 0 };
            const block =
              before === undefined
                ? wholeBlock(slot, { state, fromMs, tracedToMs, traces, ...counts })
                : changeBlock(slot, before.state, state, traces);
            told.set(slot, { state, tracedToMs });
            const messages = block === undefined ? [] : readFrame(reader, liveFrame([block]));
            const full = [
              ...(traces.length === 0
                ? []
                : [{ type: 'trace', athleteId, fromMs, toMs: atMs, traces, decimatedCount: 0 }]),
              { type: 'latest', ...state, droppedCount: 0 },
            ];
            // Nothing is said only where nothing but the time has changed.
            if (block === undefined) expect({ ...state, atMs: 0 }).toEqual({ ...before!.state, atMs: 0 });
            else expect(messages).toEqual(full);
          }
        },
      ),
    );
  });

  test('of bytes cut off, changed or made up never throws, and says why', () => {
    const bytes = liveFrame([
      whole(resting, [spo2At(1_000, 97)]),
      changeBlock(3, resting, { ...resting, phase: 'holding' }, [spo2At(1_500, 96)])!,
    ]);
    expect(new LiveFrameReader().read(bytes)).toMatchObject({ ok: true });
    for (let length = 0; length < bytes.length; length += 1) {
      const read = new LiveFrameReader().read(bytes.subarray(0, length));
      if (length !== 1 && !read.ok) expect(['version', 'cutShort']).toContain(read.reason);
    }
    fc.assert(
      fc.property(
        fc.uint8Array({ maxLength: 80 }),
        fc.integer({ min: 1, max: bytes.length - 1 }),
        (made, at) => {
          new LiveFrameReader().read(Uint8Array.of(1, ...made));
          new LiveFrameReader().read(Uint8Array.of(...bytes.subarray(0, at), ...made));
        },
      ),
    );
  });

  test('says what cannot be: another layout, an athlete never told of, a word that is none', () => {
    const change = changeBlock(3, resting, { ...resting, phase: 'holding' }, [])!;
    expect(new LiveFrameReader().read(Uint8Array.of(2))).toEqual({ ok: false, reason: 'version' });
    expect(new LiveFrameReader().read(liveFrame([change]))).toEqual({ ok: false, reason: 'unknownSlot' });
    const reader = new LiveFrameReader();
    reader.read(liveFrame([whole(resting)]));
    const noPhase = Uint8Array.of(...change.subarray(0, -1), 99);
    expect(reader.read(liveFrame([noPhase]))).toEqual({ ok: false, reason: 'unknownWord' });
  });
});
