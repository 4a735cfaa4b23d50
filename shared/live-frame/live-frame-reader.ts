// Live frames as a page reads them: keeps what each athlete's state was, and says each block again as the `trace` and
// `latest` that it stands for. One reader a socket. What it answers is still to be checked against the schemas.

import { monotonicMs, percent } from '../units.ts';
import type { ForecastView, Readout, Trace } from '../views.ts';
import { ByteReader } from './bytes.ts';
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
  wholeHead,
} from './live-frame.ts';

/** The messages in order, not yet checked; or why the frame can't be read. Then the reader is of no more use. */
export type ReadFrame =
  | { readonly ok: true; readonly messages: readonly object[] }
  | { readonly ok: false; readonly reason: 'version' | 'cutShort' | 'unknownSlot' | 'unknownWord' };

interface Known {
  state: LiveState;
  tracedToMs: number;
}

/** Stands for a byte that names nothing. */
class UnknownWord extends Error {}

export class LiveFrameReader {
  readonly #known = new Map<number, Known>();

  read(frame: Uint8Array): ReadFrame {
    const bytes = new ByteReader(frame);
    if (bytes.byte() !== frameVersion) return { ok: false, reason: 'version' };
    const messages: object[] = [];
    try {
      while (!bytes.atEnd) {
        const told = this.#readBlock(bytes);
        if (bytes.overran) return { ok: false, reason: 'cutShort' };
        if (told === undefined) return { ok: false, reason: 'unknownSlot' };
        messages.push(...told);
      }
    } catch (error) {
      if (error instanceof UnknownWord || error instanceof SyntaxError)
        return { ok: false, reason: bytes.overran ? 'cutShort' : 'unknownWord' };
      throw error;
    }
    return { ok: true, messages };
  }

  #readBlock(bytes: ByteReader): object[] | undefined {
    const head = bytes.byte();
    if (head === wholeHead) return this.#readWhole(bytes);
    if (head === fillHead) return [readFill(bytes)];
    if (head % 2 === 1) throw new UnknownWord();
    const known = this.#known.get(bytes.varint());
    return known && this.#readChange(bytes, head, known);
  }

  #readWhole(bytes: ByteReader): object[] {
    const slot = bytes.varint();
    const athleteId = bytes.text();
    const atMs = bytes.float64();
    const fromMs = bytes.float64();
    const tracedToMs = bytes.float64();
    const droppedCount = bytes.varint();
    const decimatedCount = bytes.varint();
    const state: LiveState = {
      athleteId,
      atMs: monotonicMs(atMs),
      phase: wordOf(phases, bytes.byte()),
      spo2: readReadout(bytes, null)(),
      heartRate: readReadout(bytes, null)(),
      forecast: readForecast(bytes),
    };
    const traces = readTraces(bytes, atMs);
    this.#known.set(slot, { state, tracedToMs });
    const trace = { type: 'trace', athleteId, fromMs, toMs: tracedToMs, traces, decimatedCount };
    return [
      ...(traces.length > 0 || decimatedCount > 0 ? [trace] : []),
      { type: 'latest', ...state, droppedCount },
    ];
  }

  #readChange(bytes: ByteReader, head: number, known: Known): object[] {
    const { state: before, tracedToMs: fromMs } = known;
    const { athleteId } = before;
    const atMs = bytes.float64();
    const phase = head & changeBits.phase ? wordOf(phases, bytes.byte()) : before.phase;
    const spo2 = head & changeBits.spo2 ? readReadout(bytes, before.spo2) : () => before.spo2;
    const heartRate =
      head & changeBits.heartRate ? readReadout(bytes, before.heartRate) : () => before.heartRate;
    const forecast = head & changeBits.forecast ? readForecast(bytes) : before.forecast;
    const traces = head & changeBits.traces ? readTraces(bytes, atMs) : [];
    known.state = {
      athleteId,
      atMs: monotonicMs(atMs),
      phase,
      spo2: spo2(traces),
      heartRate: heartRate(traces),
      forecast,
    };
    const latest = { type: 'latest', ...known.state, droppedCount: 0 };
    if (traces.length === 0) return [latest];
    known.tracedToMs = atMs;
    return [{ type: 'trace', athleteId, fromMs, toMs: atMs, traces, decimatedCount: 0 }, latest];
  }
}

function readFill(bytes: ByteReader): object {
  const athleteId = bytes.text();
  const fromMs = bytes.float64();
  const toMs = bytes.float64();
  const traces = Array.from({ length: bytes.count() }, () => readPacked(bytes, toMs));
  return { type: 'trace', athleteId, fromMs, toMs, traces, decimatedCount: 0 };
}

/** Rounding puts no sample behind `toMs`. */
function readPacked(bytes: ByteReader, toMs: number): Trace {
  const channel = wordOf(channels, bytes.byte());
  const count = bytes.count();
  let timeTenths = 0;
  const atMs = Array.from({ length: count }, () => {
    timeTenths += bytes.varint();
    return Math.min(toMs, timeTenths / 10);
  });
  let valueTenths = 0;
  const value = Array.from({ length: count }, () => {
    const kind = bytes.varint();
    if (kind === packedValues.none) return null;
    if (kind === packedValues.float) return bytes.float64();
    const folded = kind - packedValues.firstTenths;
    valueTenths += folded % 2 === 1 ? -(folded + 1) / 2 : folded / 2;
    return valueTenths / 10;
  });
  let quality = '';
  while (quality.length < count) {
    const letter = wordOf([...qualityLetters], bytes.byte());
    const run = bytes.varint();
    if (run === 0 || run > count - quality.length) throw new UnknownWord();
    quality += letter.repeat(run);
  }
  return { channel, atMs, value, quality };
}

function wordOf<Word>(words: readonly Word[], index: number): Word {
  const word = words[index];
  if (word === undefined) throw new UnknownWord();
  return word;
}

/** The readout once the block's traces are known: it may be the last sample of one. */
function readReadout(bytes: ByteReader, before: Readout): (traces?: readonly Trace[]) => Readout {
  const kind = bytes.byte();
  if (kind === readoutKinds.none) return () => null;
  if (kind !== readoutKinds.full) {
    const channel = wordOf(channels, kind - readoutKinds.firstChannel);
    return (traces = []) => {
      const trace = traces.find((each) => each.channel === channel);
      const value = trace?.value.at(-1);
      if (before === null || trace === undefined || value == null) throw new UnknownWord();
      return {
        value,
        atMs: monotonicMs(trace.atMs.at(-1) ?? 0),
        quality: wordOf(qualities, qualityLetters.indexOf(trace.quality.at(-1) ?? '')),
        reasons: before.reasons,
        sensorId: before.sensorId,
      };
    };
  }
  const value = bytes.number();
  const atMs = monotonicMs(bytes.float64());
  const quality = wordOf(qualities, bytes.byte());
  const sensorId = bytes.text();
  const reasons = Array.from({ length: bytes.count() }, () => bytes.text());
  return () => ({ value, atMs, quality, reasons, sensorId });
}

function readForecast(bytes: ByteReader): ForecastView {
  const head = bytes.byte();
  const lowestIfStoppedNow =
    head & forecastBits.lowest
      ? {
          percent: percent(bytes.number()),
          lowPercent: percent(bytes.number()),
          highPercent: percent(bytes.number()),
        }
      : null;
  const secondsToStop =
    head & forecastBits.seconds
      ? { seconds: bytes.number(), lowSeconds: bytes.number(), highSeconds: bytes.number() }
      : null;
  // Checked with the whole message.
  const lungs = head & forecastBits.lungs ? (JSON.parse(bytes.text()) as ForecastView['lungs']) : null;
  return { known: (head & forecastBits.known) !== 0, lowestIfStoppedNow, secondsToStop, lungs };
}

function readTraces(bytes: ByteReader, blockAtMs: number): Trace[] {
  return Array.from({ length: bytes.count() }, () => {
    const channel = wordOf(channels, bytes.byte());
    const count = bytes.count();
    const atMs: number[] = [];
    const value: (number | null)[] = [];
    let quality = '';
    for (let index = 0; index < count; index += 1) {
      const head = bytes.byte();
      quality += wordOf([...qualityLetters], head & 3);
      atMs.push(head & sampleBits.atBlock ? blockAtMs : bytes.float64());
      value.push(head & sampleBits.none ? null : bytes.number());
    }
    return { channel, atMs, value, quality };
  });
}
