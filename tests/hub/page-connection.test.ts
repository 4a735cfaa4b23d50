// A slow page: newest values only, alarms always, and what was left out is said.

import fc from 'fast-check';
import { beforeEach, describe, expect, test } from 'vitest';
import { type LiveChange, LiveChanges } from '../../hub/server/live-changes.ts';
import { createPageConnection } from '../../hub/server/page-connection.ts';
import type { LiveState } from '../../shared/live-frame/live-frame.ts';
import { LiveFrameReader } from '../../shared/live-frame/live-frame-reader.ts';
import { liveFrame } from '../../shared/live-frame/write-live-frame.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { monotonicMs, processMs, wallMs } from '../../shared/units.ts';
import type { Readout } from '../../shared/views.ts';
import type { Sample } from '../../src/samples/sample.ts';
import { readFrame } from '../support/hear-feed.ts';
import { randomStep } from '../support/random-live-states.ts';

const alarms = (at: number): DownMessage => ({
  type: 'alarms',
  athleteId: 'a',
  atMs: monotonicMs(at),
  alarms: [],
  sound: { priority: null, audioPausedUntilMs: null },
});
const forecast = { known: false, lowestIfStoppedNow: null, secondsToStop: null, lungs: null };
const stateAt = (athleteId: string, at: number): LiveState => ({
  athleteId,
  atMs: monotonicMs(at),
  phase: 'resting',
  spo2: null,
  heartRate: null,
  forecast,
});

/** A page behind a connection, as slow as a test wants it; it gets what goes through, and only if it can read it. */
function openPage() {
  const got: DownMessage[] = [];
  const reader = new LiveFrameReader();
  let closed = 0;
  const transport = {
    bufferedBytes: 0,
    sendText: (text: string | Uint8Array) =>
      void got.push(
        JSON.parse(typeof text === 'string' ? text : Buffer.from(text).toString()) as DownMessage,
      ),
    sendFrame: (frame: Uint8Array) => void got.push(...readFrame(reader, frame)),
    close: () => undefined,
  };
  const connection = createPageConnection(transport, () => {
    closed += 1;
  });
  return {
    got,
    transport,
    connection,
    tell: (message: DownMessage) => connection.deliver(message, JSON.stringify(message)),
    tellLive: (changes: readonly LiveChange[]) =>
      connection.deliverLive(changes, liveFrame(changes.map(({ block }) => block))),
    get closedCount() {
      return closed;
    },
    of: <Type extends DownMessage['type']>(type: Type) =>
      got.filter((message): message is Extract<DownMessage, { type: Type }> => message.type === type),
  };
}

/** A hub's side: whatever the states are is what is to be told. */
function openWorld(athleteIds: readonly string[]) {
  const states = new Map<string, LiveState>();
  const changes = new LiveChanges((athleteId) => states.get(athleteId));
  for (const athleteId of athleteIds) changes.join(athleteId, processMs(0));
  return {
    states,
    changes,
    sample(athleteId: string, at: number, value = at): void {
      const sample = { channel: 'spo2Percent', value, atMs: at, quality: 'good', reasons: [], sensorId: 's' };
      changes.add(athleteId, sample as unknown as Sample);
    },
    take: (nowMs = 0) => changes.take(processMs(nowMs), 'everyone'),
  };
}

let page: ReturnType<typeof openPage>;
let world: ReturnType<typeof openWorld>;
beforeEach(() => {
  page = openPage();
  world = openWorld(['a']);
});

/** At `at`, with a sample at each of `times`. */
function tellSamples(at: number, times: readonly number[]): void {
  for (const time of times) world.sample('a', time);
  world.changes.touch('a');
  world.states.set('a', { ...stateAt('a', at), phase: at % 2 === 0 ? 'resting' : 'holding' });
  page.tellLive(world.take());
}

test('a quick page gets every change as it is', () => {
  tellSamples(1, [1]);
  tellSamples(3, [2, 3]);
  page.tell(alarms(3));
  expect(page.got).toMatchObject([
    { type: 'trace', fromMs: 0, toMs: 1, traces: [{ atMs: [1] }], decimatedCount: 0 },
    { type: 'latest', atMs: 1, droppedCount: 0 },
    { type: 'trace', fromMs: 1, toMs: 3, traces: [{ atMs: [2, 3] }], decimatedCount: 0 },
    { type: 'latest', atMs: 3, droppedCount: 0 },
    alarms(3),
  ]);
});

test('a slow page gets alarms at once, then the newest values with the count of those dropped', () => {
  tellSamples(0, []);
  page.transport.bufferedBytes = 1_000_000;
  for (let at = 1; at <= 3; at += 1) tellSamples(at, []);
  tellSamples(4, [1, 2, 3]);
  tellSamples(5, [4, 5]);
  page.tell(alarms(5));
  expect(page.got.slice(1)).toEqual([alarms(5)]);
  page.transport.bufferedBytes = 0;
  page.connection.catchUp();
  expect(page.got[2]).toMatchObject({
    type: 'trace',
    fromMs: 0,
    toMs: 5,
    traces: [{ atMs: [5] }],
    decimatedCount: 4,
  });
  expect(page.got[3]).toEqual({ type: 'latest', ...world.states.get('a'), droppedCount: 4 });
  tellSamples(6, []);
  expect(page.got[4]).toMatchObject({ type: 'latest', atMs: 6, phase: 'resting', droppedCount: 0 });
});

test('any other message that gets through takes what was held back with it', () => {
  tellSamples(0, []);
  page.transport.bufferedBytes = 1_000_000;
  tellSamples(1, []);
  page.transport.bufferedBytes = 0;
  page.tell(alarms(1));
  expect(page.got.map(({ type }) => type)).toEqual(['latest', 'alarms', 'latest']);
});

test('what was held of a session comes before it is over', () => {
  tellSamples(0, []);
  page.transport.bufferedBytes = 1_000_000;
  tellSamples(1, []);
  page.tell({ type: 'session', session: null, athletes: [] });
  expect(page.got.map(({ type }) => type)).toEqual(['latest', 'latest', 'session']);
});

test('a page that takes nothing for long is closed, to come back and be filled in', () => {
  page.transport.bufferedBytes = 100_000_000;
  page.tell(alarms(1));
  expect(page.closedCount).toBe(1);
});

test('more changes at once than a person could see wait for the next tick, and none is lost', () => {
  let takenAtOnce = 0;
  for (let at = 1; at <= 100; at += 1) {
    world.states.set('a', stateAt('a', at));
    world.sample('a', at);
    const changes = world.changes.take(processMs(at), 'atOnce');
    takenAtOnce += changes.length;
    page.tellLive(changes);
  }
  expect(takenAtOnce).toBeLessThan(13);
  page.tellLive(world.take(100));
  expect(page.of('trace').flatMap(({ traces }) => traces[0]!.atMs)).toEqual(
    Array.from({ length: 100 }, (_, index) => index + 1),
  );
});

test('a reading repeated within half a second is not told again beside what has changed', () => {
  const spo2 = (atMs: number, value = 97): Readout => ({
    value,
    atMs: monotonicMs(atMs),
    quality: 'good',
    reasons: [],
    sensorId: 'clip',
  });
  const tell = (at: number, state: Partial<LiveState>) => {
    world.states.set('a', { ...stateAt('a', at), ...state });
    world.changes.touch('a');
    page.tellLive(world.take());
  };
  tell(0, { spo2: spo2(0) });
  tell(400, { spo2: spo2(400), phase: 'holding' });
  tell(450, { spo2: spo2(450), phase: 'holding' });
  tell(500, { spo2: spo2(500), phase: 'holding' });
  tell(600, { spo2: spo2(600, 96), phase: 'holding' });
  expect(page.of('latest').map(({ spo2: told, phase }) => [told?.value, told?.atMs, phase])).toEqual([
    [97, 0, 'resting'],
    [97, 0, 'holding'],
    [97, 500, 'holding'],
    [96, 600, 'holding'],
  ]);
});

describe('whatever the pace, and whenever a page joins', () => {
  const step = fc.oneof(
    {
      weight: 6,
      arbitrary: fc.record({
        kind: fc.constant('change' as const),
        athlete: fc.constantFrom('a', 'b', 'c'),
        step: randomStep,
      }),
    },
    { weight: 2, arbitrary: fc.record({ kind: fc.constant('tell' as const) }) },
    { weight: 1, arbitrary: fc.record({ kind: fc.constant('alarms' as const) }) },
    { weight: 1, arbitrary: fc.record({ kind: fc.constant('pace' as const), slow: fc.boolean() }) },
    { weight: 1, arbitrary: fc.record({ kind: fc.constant('join' as const) }) },
  );

  test('it ends with the state that full sending gives; no alarm is lost, samples come or are counted', () => {
    fc.assert(
      fc.property(fc.array(step, { maxLength: 80 }), (steps) => {
        world = openWorld(['a', 'b', 'c']);
        /** The first page is cut off and joins anew now and then; the second stays. */
        const pages = [openPage(), openPage()];
        let [, stays] = pages;
        let at = 0;
        let alarmCount = 0;
        let changeCount = 0;
        let sampleCount = 0;
        const tell = () => {
          const changes = world.take(at);
          changeCount += changes.length;
          if (changes.length > 0) for (const each of pages) each.tellLive(changes);
        };
        for (const s of steps) {
          at += 10;
          if (s.kind === 'pace')
            for (const each of pages) each.transport.bufferedBytes = s.slow ? 1_000_000 : 0;
          else if (s.kind === 'alarms') {
            alarmCount += 1;
            for (const each of pages) each.tell(alarms(at));
          } else if (s.kind === 'tell') tell();
          else if (s.kind === 'join') {
            tell();
            pages[0] = openPage();
            pages[0].connection.introduce(liveFrame(world.changes.whole(() => true)));
          } else {
            world.states.set(s.athlete, s.step.after(s.athlete, at, world.states.get(s.athlete)));
            world.sample(s.athlete, at, at);
            sampleCount += 1;
          }
        }
        for (const each of pages) each.transport.bufferedBytes = 0;
        tell();
        for (const each of pages) each.connection.catchUp();

        const known = [...world.states.values()].map((state) => ({ ...state, atMs: 0 }));
        for (const each of pages) {
          const last = new Map(each.of('latest').map((message) => [message.athleteId, message]));
          const drawn = [...world.states.keys()].map((athleteId) => last.get(athleteId)!);
          expect(
            drawn.map(({ type: _type, droppedCount: _dropped, ...state }) => ({ ...state, atMs: 0 })),
          ).toEqual(known);
        }
        stays = pages[1];
        expect(stays!.of('alarms')).toHaveLength(alarmCount);
        const told = stays!.of('latest');
        expect(told.length + told.reduce((sum, { droppedCount }) => sum + droppedCount, 0)).toBe(changeCount);
        const traces = stays!.of('trace');
        const shown = traces.reduce(
          (sum, { traces: [trace], decimatedCount }) => sum + (trace?.atMs.length ?? 0) + decimatedCount,
          0,
        );
        expect(shown).toBe(sampleCount);
        // The spans of one athlete's samples join without a hole.
        for (const athlete of ['a', 'b', 'c']) {
          let reached = 0;
          for (const trace of traces.filter(({ athleteId }) => athleteId === athlete)) {
            expect(trace.fromMs).toBe(reached);
            reached = trace.toMs;
          }
        }
      }),
    );
  });
});

describe('a page that nobody sees', () => {
  const heartbeat = (sequence: number): DownMessage => ({
    type: 'heartbeat',
    sequence,
    wallNowMs: wallMs(0),
    atMs: null,
  });

  test('gets alarms at once, and behind them its values; else a second’s worth at a time', () => {
    tellSamples(1, [1]);
    page.connection.setHidden(true);
    page.got.length = 0;
    tellSamples(2, [2]);
    tellSamples(4, [3, 4]);
    page.tell(heartbeat(1));
    expect(page.got).toEqual([heartbeat(1)]);
    page.tell(heartbeat(2));
    expect(page.got.slice(1)).toMatchObject([
      heartbeat(2),
      { type: 'trace', fromMs: 1, toMs: 4, traces: [{ atMs: [2, 3, 4] }], decimatedCount: 0 },
      { type: 'latest', atMs: 4, droppedCount: 0 },
    ]);
    page.got.length = 0;
    tellSamples(5, [5]);
    expect(page.got).toEqual([]);
    page.tell(alarms(5));
    expect(page.got).toMatchObject([alarms(5), { type: 'trace', fromMs: 4, toMs: 5 }, { type: 'latest' }]);
  });

  test('has at once what it has not yet when it is seen again, and is told as any other from then on', () => {
    tellSamples(1, [1]);
    page.connection.setHidden(true);
    tellSamples(2, [2]);
    page.got.length = 0;
    page.connection.setHidden(false);
    expect(page.got).toMatchObject([
      { type: 'trace', fromMs: 1, toMs: 2 },
      { type: 'latest', atMs: 2 },
    ]);
    tellSamples(3, [3]);
    expect(page.got.slice(2)).toMatchObject([{ type: 'trace', fromMs: 2, toMs: 3 }, { type: 'latest' }]);
  });

  test('hidden and shown at any moments, it misses no sample and no alarm, and no alarm waits', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.oneof(
            fc.record({ kind: fc.constant('samples' as const), count: fc.integer({ min: 1, max: 3 }) }),
            fc.record({ kind: fc.constant('hidden' as const), is: fc.boolean() }),
            fc.record({ kind: fc.constantFrom('heartbeat' as const, 'alarms' as const) }),
          ),
          { maxLength: 60 },
        ),
        (steps) => {
          page = openPage();
          world = openWorld(['a']);
          let at = 0;
          let beats = 0;
          for (const step of steps) {
            if (step.kind === 'samples') {
              const times = Array.from({ length: step.count }, (_, index) => at + index + 1);
              at += step.count;
              tellSamples(at, times);
            } else if (step.kind === 'hidden') page.connection.setHidden(step.is);
            else if (step.kind === 'heartbeat') page.tell(heartbeat(++beats));
            else {
              const before = page.of('alarms').length;
              page.tell(alarms(at));
              expect(page.of('alarms').length).toBe(before + 1);
            }
          }
          page.connection.setHidden(false);
          const traces = page.of('trace');
          expect(traces.flatMap((one) => one.traces.flatMap(({ atMs }) => atMs))).toEqual(
            Array.from({ length: at }, (_, index) => index + 1),
          );
          for (const [index, { fromMs }] of traces.entries())
            expect(fromMs).toBe(index === 0 ? 0 : traces[index - 1]?.toMs);
          expect(traces.every(({ decimatedCount }) => decimatedCount === 0)).toBe(true);
        },
      ),
    );
  });
});
