// What a hub that was recorded says live, at any later time: all times of its session moved on, live frames written anew as
// changes of what was told before, and the welcome of a page that comes in between. SIMULATED.

import { packJson, unpackJson } from '../../../hub/school/kept-bytes.ts';
import type { LiveState } from '../../../shared/live-frame/live-frame.ts';
import { LiveFrameReader } from '../../../shared/live-frame/live-frame-reader.ts';
import {
  changeBlock,
  fillBlock,
  liveFrame,
  wholeBlock,
} from '../../../shared/live-frame/write-live-frame.ts';
import type { LatestMessage } from '../../../shared/messages/latest.ts';
import type { TraceMessage } from '../../../shared/messages/trace.ts';
import type { RoomWelcome } from '../../../shared/school/room-questions.ts';
import { type MonotonicMs, monotonicMs } from '../../../shared/units.ts';
import type { AlarmView, Trace } from '../../../shared/views.ts';
import type { RecordedHub, RecordedMessage } from './recorded-hub.ts';

type Told = LatestMessage | TraceMessage;
interface AlarmsMessage {
  readonly athleteId: string;
  readonly alarms: readonly AlarmView[];
}

/** A page that comes is told so much of before; longer than was recorded, what was is repeated. */
const historyMs = 200_000;

/** Of a session's clock; times of the wall are left. */
const isSessionTime = (key: string): boolean => /(at|from|to|until)Ms$/i.test(key) && !/wall/i.test(key);

function moved<Value>(value: Value, byMs: number, key = ''): Value {
  if (typeof value === 'number') return (isSessionTime(key) ? value + byMs : value) as Value;
  if (Array.isArray(value)) return value.map((each) => moved(each, byMs, key)) as Value;
  if (value === null || typeof value !== 'object') return value;
  return Object.fromEntries(
    Object.entries(value).map(([name, each]) => [name, moved(each, byMs, name)]),
  ) as Value;
}

/** The recorded messages, read once for all hubs that are made of them. */
export class RecordedLive {
  readonly welcome: RoomWelcome;
  readonly states: readonly LiveState[];
  readonly history: readonly TraceMessage[];
  /** When the recording began, of the session's clock. */
  readonly beganAtMs: number;
  readonly #frames = new Map<RecordedMessage, readonly Told[]>();

  constructor(recorded: RecordedHub) {
    this.welcome = unpackJson(Buffer.from(recorded.welcomeBase64, 'base64')) as RoomWelcome;
    const reader = new LiveFrameReader();
    this.history = read(reader, this.welcome.fill).filter(({ type }) => type === 'trace') as TraceMessage[];
    this.states = read(reader, this.welcome.whole).flatMap((told) => (told.type === 'latest' ? [told] : []));
    this.beganAtMs = Math.max(0, ...this.states.map(({ atMs }) => atMs));
    for (const message of recorded.messages)
      if (message.kind === 'live.frame') this.#frames.set(message, read(reader, message.base64));
  }

  frame(message: RecordedMessage): readonly Told[] {
    return this.#frames.get(message) ?? [];
  }
}

function read(reader: LiveFrameReader, base64: string): readonly Told[] {
  const answer = reader.read(Buffer.from(base64, 'base64'));
  if (!answer.ok) throw new Error(`a recorded frame: ${answer.reason}`);
  return answer.messages as Told[];
}

export class ReplayedHub {
  readonly #live: RecordedLive;
  readonly #states: Map<string, LiveState>;
  readonly #slots: readonly string[];
  readonly #alarms = new Map<string, string>();
  #nowMs: number;

  constructor(live: RecordedLive) {
    this.#live = live;
    this.#slots = live.states.map(({ athleteId }) => athleteId);
    this.#states = new Map(live.states.map((state) => [state.athleteId, state]));
    this.#nowMs = live.beganAtMs;
  }

  /** As the hub would write it now; undefined where nothing of it is news. */
  frame(message: RecordedMessage, byMs: number): Uint8Array | undefined {
    const traces = new Map<string, readonly Trace[]>();
    const blocks: Uint8Array[] = [];
    for (const told of this.#live.frame(message)) {
      const now = moved(told, byMs);
      if (now.type === 'trace') {
        traces.set(now.athleteId, now.traces);
        continue;
      }
      const before = this.#states.get(now.athleteId);
      if (before === undefined) continue;
      const block = changeBlock(
        this.#slots.indexOf(now.athleteId),
        before,
        now,
        traces.get(now.athleteId) ?? [],
      );
      traces.delete(now.athleteId);
      this.#states.set(now.athleteId, now);
      this.#nowMs = Math.max(this.#nowMs, now.atMs);
      if (block !== undefined) blocks.push(block);
    }
    return blocks.length === 0 ? undefined : liveFrame(blocks);
  }

  /** `called`: whose alarms, where somebody calls now of whom all had been seen, or who was well. */
  text(
    message: RecordedMessage,
    byMs: number,
  ): { readonly text: string; readonly called: string | undefined } {
    const told = moved(JSON.parse(Buffer.from(message.base64, 'base64').toString('utf8')), byMs) as {
      readonly type: string;
    };
    const text = JSON.stringify(told);
    if (told.type !== 'alarms') return { text, called: undefined };
    const { athleteId, alarms } = told as unknown as AlarmsMessage;
    const before = this.#alarms.get(athleteId);
    const called = isCalling(alarms) && !(before !== undefined && isCalling(JSON.parse(before).alarms));
    this.#alarms.set(athleteId, text);
    return { text, called: called ? athleteId : undefined };
  }

  /** To a page that comes now. */
  welcome(toldUpTo: number): Uint8Array {
    const { welcome, beganAtMs } = this.#live;
    const byMs = this.#nowMs - beganAtMs;
    const whole = this.#slots.map((athleteId, slot) => {
      const state = this.#states.get(athleteId)!;
      const upTo = { fromMs: state.atMs, tracedToMs: state.atMs };
      return wholeBlock(slot, { state, ...upTo, traces: [], droppedCount: 0, decimatedCount: 0 });
    });
    const alarms = [...this.#alarms.values()].map((text) => JSON.parse(text));
    return packJson({
      ...welcome,
      greeting: moved(welcome.greeting, byMs),
      fill: base64(liveFrame(this.#history(byMs).map(fillBlock))),
      messages: [...moved(welcome.messages, byMs), ...alarms],
      whole: base64(liveFrame(whole)),
      toldUpTo,
    });
  }

  #history(byMs: number): Omit<TraceMessage, 'type' | 'decimatedCount'>[] {
    return this.#live.history.map(({ athleteId, fromMs, toMs, traces }) => {
      const lengthMs = Math.max(1_000, toMs - fromMs);
      const copies = Math.ceil(historyMs / lengthMs);
      // None before the session.
      const startMs = Math.max(0, toMs + byMs - copies * lengthMs);
      const repeated = traces.map((trace): Trace => {
        const all = Array.from({ length: copies }, (_, copy) => {
          const laterMs = byMs - (copies - 1 - copy) * lengthMs;
          return trace.atMs.map((atMs, index) => ({ atMs: atMs + laterMs, index }));
        })
          .flat()
          .filter(({ atMs }) => atMs > startMs);
        return {
          channel: trace.channel,
          atMs: all.map(({ atMs }) => atMs),
          value: all.map(({ index }) => trace.value[index] ?? null),
          quality: all.map(({ index }) => trace.quality[index]).join(''),
        };
      });
      const upTo = { fromMs: monotonicMs(startMs), toMs: monotonicMs(toMs + byMs) as MonotonicMs };
      return { athleteId, ...upTo, traces: repeated };
    });
  }
}

const isCalling = (alarms: readonly AlarmView[]): boolean => alarms.some(({ acknowledged }) => !acknowledged);
const base64 = (bytes: Uint8Array): string => Buffer.from(bytes).toString('base64');
