// Live frames as the hub writes them: an athlete's state whole, or only what has changed of it, and packed what a page that
// joins has missed. The layout stands in live-frame.ts.

import type { MonotonicMs } from '../units.ts';
import type { ForecastView, Readout, Trace } from '../views.ts';
import { ByteWriter } from './bytes.ts';
import {
  changeBits,
  channels,
  fillHead,
  forecastBits,
  frameVersion,
  type LiveState,
  packedValues,
  phases,
  qualities,
  qualityLetters,
  readoutKinds,
  sampleBits,
  type TraceFill,
  wholeHead,
} from './live-frame.ts';

/** What a page is told that has nothing of an athlete, or has fallen behind. */
export interface WholeState {
  readonly state: LiveState;
  /** The samples cover `fromMs < atMs <= tracedToMs`. */
  readonly fromMs: MonotonicMs;
  readonly tracedToMs: MonotonicMs;
  readonly traces: readonly Trace[];
  /** Updates and samples that were left out before it. */
  readonly droppedCount: number;
  readonly decimatedCount: number;
}

/** The blocks as one message. */
export function liveFrame(blocks: readonly Uint8Array[]): Uint8Array {
  const frame = new Uint8Array(1 + blocks.reduce((sum, block) => sum + block.length, 0));
  frame[0] = frameVersion;
  let at = 1;
  for (const block of blocks) {
    frame.set(block, at);
    at += block.length;
  }
  return frame;
}

/** One for all blocks: each is written to its end before the next is begun. */
const blockWriter = new ByteWriter();

/** `slot` is the athlete's number from now on, until the socket ends. */
export function wholeBlock(slot: number, whole: WholeState): Uint8Array {
  const { state, fromMs, tracedToMs, traces, droppedCount, decimatedCount } = whole;
  const out = blockWriter.begin();
  out.byte(wholeHead);
  out.varint(slot);
  out.text(state.athleteId);
  out.float64(state.atMs);
  out.float64(fromMs);
  out.float64(tracedToMs);
  out.varint(droppedCount);
  out.varint(decimatedCount);
  out.byte(phases.indexOf(state.phase));
  writeReadout(out, undefined, state.spo2, []);
  writeReadout(out, undefined, state.heartRate, []);
  writeForecast(out, state.forecast);
  writeTraces(out, state.atMs, traces);
  return out.written();
}

/** In tenths of a unit, as far as they go into a varint with the sign folded in. */
const mostPackedTenths = 2 ** 28;

export function fillBlock({ athleteId, fromMs, toMs, traces }: TraceFill): Uint8Array {
  const out = blockWriter.begin();
  out.byte(fillHead);
  out.text(athleteId);
  out.float64(fromMs);
  out.float64(toMs);
  out.varint(traces.length);
  for (const trace of traces) writePacked(out, trace);
  return out.written();
}

function writePacked(out: ByteWriter, { channel, atMs, value, quality }: Trace): void {
  out.byte(channels.indexOf(channel));
  out.varint(atMs.length);
  let timeTenths = 0;
  for (const at of atMs) {
    const tenths = Math.max(timeTenths, Math.round(at * 10));
    out.varint(tenths - timeTenths);
    timeTenths = tenths;
  }
  let valueTenths = 0;
  for (let index = 0; index < atMs.length; index += 1) {
    const one = value[index] ?? null;
    const tenths = one === null ? 0 : Math.round(one * 10);
    if (one === null) out.varint(packedValues.none);
    else if (tenths / 10 === one && Math.abs(tenths) < mostPackedTenths) {
      const change = tenths - valueTenths;
      out.varint(packedValues.firstTenths + (change < 0 ? -2 * change - 1 : 2 * change));
      valueTenths = tenths;
    } else {
      out.varint(packedValues.float);
      out.float64(one);
    }
  }
  for (let from = 0; from < atMs.length; ) {
    let to = from + 1;
    while (to < atMs.length && quality[to] === quality[from]) to += 1;
    out.byte(Math.max(0, qualityLetters.indexOf(quality[from] ?? '')));
    out.varint(to - from);
    from = to;
  }
}

/** What a page needs that was told `before`; undefined when it needs nothing. */
export function changeBlock(
  slot: number,
  before: LiveState,
  now: LiveState,
  traces: readonly Trace[],
): Uint8Array | undefined {
  const head =
    (before.phase === now.phase ? 0 : changeBits.phase) |
    (isSameReadout(before.spo2, now.spo2) ? 0 : changeBits.spo2) |
    (isSameReadout(before.heartRate, now.heartRate) ? 0 : changeBits.heartRate) |
    (isSameForecast(before.forecast, now.forecast) ? 0 : changeBits.forecast) |
    (traces.length === 0 ? 0 : changeBits.traces);
  if (head === 0) return undefined;
  const out = blockWriter.begin();
  out.byte(head);
  out.varint(slot);
  out.float64(now.atMs);
  if (head & changeBits.phase) out.byte(phases.indexOf(now.phase));
  if (head & changeBits.spo2) writeReadout(out, before.spo2, now.spo2, traces);
  if (head & changeBits.heartRate) writeReadout(out, before.heartRate, now.heartRate, traces);
  if (head & changeBits.forecast) writeForecast(out, now.forecast);
  if (head & changeBits.traces) writeTraces(out, now.atMs, traces);
  return out.written();
}

function writeReadout(
  out: ByteWriter,
  before: Readout | undefined,
  now: Readout,
  traces: readonly Trace[],
): void {
  if (now === null) {
    out.byte(readoutKinds.none);
    return;
  }
  const from = before == null || !isSameOrigin(before, now) ? undefined : traces.find(endsWith(now));
  if (from !== undefined) {
    out.byte(readoutKinds.firstChannel + channels.indexOf(from.channel));
    return;
  }
  out.byte(readoutKinds.full);
  out.number(now.value);
  out.float64(now.atMs);
  out.byte(qualities.indexOf(now.quality));
  out.text(now.sensorId);
  out.varint(now.reasons.length);
  for (const reason of now.reasons) out.text(reason);
}

const endsWith =
  ({ value, atMs, quality }: NonNullable<Readout>) =>
  (trace: Trace): boolean =>
    trace.value.at(-1) === value &&
    trace.atMs.at(-1) === atMs &&
    trace.quality.at(-1) === qualityLetters[qualities.indexOf(quality)];

function writeForecast(
  out: ByteWriter,
  { known, lowestIfStoppedNow, secondsToStop, lungs }: ForecastView,
): void {
  out.byte(
    (known ? forecastBits.known : 0) |
      (lowestIfStoppedNow === null ? 0 : forecastBits.lowest) |
      (secondsToStop === null ? 0 : forecastBits.seconds) |
      (lungs === null ? 0 : forecastBits.lungs),
  );
  for (const numbers of [lowestIfStoppedNow, secondsToStop])
    if (numbers !== null) for (const value of numbersOf(numbers)) out.number(value);
  if (lungs !== null) out.text(JSON.stringify(lungs));
}

function writeTraces(out: ByteWriter, blockAtMs: number, traces: readonly Trace[]): void {
  out.varint(traces.length);
  for (const { channel, atMs, value, quality } of traces) {
    out.byte(channels.indexOf(channel));
    out.varint(atMs.length);
    for (let index = 0; index < atMs.length; index += 1) {
      const at = atMs[index]!;
      const one = value[index] ?? null;
      const letter = qualityLetters.indexOf(quality[index] ?? '');
      out.byte(
        Math.max(0, letter) |
          (at === blockAtMs ? sampleBits.atBlock : 0) |
          (one === null ? sampleBits.none : 0),
      );
      if (at !== blockAtMs) out.float64(at);
      if (one !== null) out.number(one);
    }
  }
}

/** In the order of the frame. */
const numbersOf = (
  numbers: NonNullable<ForecastView['lowestIfStoppedNow']> | NonNullable<ForecastView['secondsToStop']>,
): readonly number[] =>
  'percent' in numbers
    ? [numbers.percent, numbers.lowPercent, numbers.highPercent]
    : [numbers.seconds, numbers.lowSeconds, numbers.highSeconds];

const isSameOrigin = (one: NonNullable<Readout>, other: NonNullable<Readout>): boolean =>
  one.sensorId === other.sensorId &&
  one.reasons.length === other.reasons.length &&
  one.reasons.every((reason, index) => reason === other.reasons[index]);

function isSameReadout(one: Readout, other: Readout): boolean {
  if (one === null || other === null) return one === other;
  return (
    one.value === other.value &&
    one.atMs === other.atMs &&
    one.quality === other.quality &&
    isSameOrigin(one, other)
  );
}

function isSameForecast(one: ForecastView, other: ForecastView): boolean {
  const isSame = (
    these: Parameters<typeof numbersOf>[0] | null,
    those: Parameters<typeof numbersOf>[0] | null,
  ): boolean => {
    if (these === null || those === null) return these === those;
    const others = numbersOf(those);
    return numbersOf(these).every((value, index) => value === others[index]);
  };
  return (
    one.known === other.known &&
    isSame(one.lowestIfStoppedNow, other.lowestIfStoppedNow) &&
    isSame(one.secondsToStop, other.secondsToStop) &&
    (one.lungs === other.lungs || JSON.stringify(one.lungs) === JSON.stringify(other.lungs))
  );
}
