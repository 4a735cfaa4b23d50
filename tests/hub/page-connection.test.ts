// A slow page: newest values only, alarms always, and what was left out is said.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { createPageConnection } from '../../hub/server/page-connection.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { monotonicMs } from '../../shared/units.ts';

type Latest = Extract<DownMessage, { type: 'latest' }>;

const forecast = { known: false, lowestIfStoppedNow: null, secondsToStop: null, lungs: null };
const latest = (athleteId: string, at: number): Latest => ({
  type: 'latest',
  athleteId,
  atMs: monotonicMs(at),
  phase: 'resting',
  spo2: null,
  heartRate: null,
  forecast,
  droppedCount: 0,
});
const trace = (athleteId: string, fromMs: number, times: number[]): DownMessage => ({
  type: 'trace',
  athleteId,
  fromMs: monotonicMs(fromMs),
  toMs: monotonicMs(times.at(-1) ?? fromMs),
  traces: [
    { channel: 'spo2Percent', atMs: times, value: times.map(() => 97), quality: 'g'.repeat(times.length) },
  ],
  decimatedCount: 0,
});
const alarms = (at: number): DownMessage => ({
  type: 'alarms',
  athleteId: 'a',
  atMs: monotonicMs(at),
  alarms: [],
  sound: { priority: null, audioPausedUntilMs: null },
});

function fakeTransport() {
  const sent: DownMessage[] = [];
  const transport = {
    bufferedBytes: 0,
    send: (text: string) => void sent.push(JSON.parse(text) as DownMessage),
    close: () => undefined,
  };
  return { sent, transport };
}

test('a quick page gets every message as it is', () => {
  const { sent, transport } = fakeTransport();
  const page = createPageConnection(transport, () => undefined);
  for (const message of [latest('a', 1), trace('a', 0, [1, 2]), alarms(2)])
    page.deliver(message, JSON.stringify(message));
  expect(sent).toEqual([latest('a', 1), trace('a', 0, [1, 2]), alarms(2)]);
});

test('a slow page gets alarms at once, then the newest values with the count of those dropped', () => {
  const { sent, transport } = fakeTransport();
  const page = createPageConnection(transport, () => undefined);
  transport.bufferedBytes = 1_000_000;
  for (let at = 1; at <= 5; at += 1) page.deliver(latest('a', at), JSON.stringify(latest('a', at)));
  page.deliver(trace('a', 0, [1, 2, 3]), '');
  page.deliver(trace('a', 3, [4, 5]), '');
  page.deliver(alarms(5), JSON.stringify(alarms(5)));
  expect(sent).toEqual([alarms(5)]);
  transport.bufferedBytes = 0;
  page.catchUp();
  expect(sent[1]).toMatchObject({
    type: 'trace',
    fromMs: 0,
    toMs: 5,
    traces: [{ atMs: [5] }],
    decimatedCount: 4,
  });
  expect(sent[2]).toEqual({ ...latest('a', 5), droppedCount: 4 });
  page.deliver(latest('a', 6), JSON.stringify(latest('a', 6)));
  expect(sent[3]).toEqual(latest('a', 6));
});

test('a page that takes nothing for long is closed, to come back and be filled in', () => {
  const { transport } = fakeTransport();
  let closed = 0;
  const page = createPageConnection(transport, () => {
    closed += 1;
  });
  transport.bufferedBytes = 100_000_000;
  page.deliver(alarms(1), JSON.stringify(alarms(1)));
  expect(closed).toBe(1);
});

test('whatever the pace, no alarm is lost and samples are sent, or counted as left out', () => {
  const step = fc.oneof(
    fc.record({ kind: fc.constant('latest' as const), athlete: fc.constantFrom('a', 'b') }),
    fc.record({
      kind: fc.constant('trace' as const),
      athlete: fc.constantFrom('a', 'b'),
      size: fc.integer({ min: 1, max: 5 }),
    }),
    fc.record({ kind: fc.constant('alarms' as const) }),
    fc.record({ kind: fc.constant('pace' as const), slow: fc.boolean() }),
  );
  fc.assert(
    fc.property(fc.array(step, { maxLength: 80 }), (steps) => {
      const { sent, transport } = fakeTransport();
      const page = createPageConnection(transport, () => undefined);
      let at = 0;
      const given = { alarms: 0, samples: 0, latest: 0 };
      const tracedTo: Record<string, number> = { a: 0, b: 0 };
      for (const s of steps) {
        at += 10;
        if (s.kind === 'pace') transport.bufferedBytes = s.slow ? 1_000_000 : 0;
        else if (s.kind === 'latest') {
          given.latest += 1;
          page.deliver(latest(s.athlete, at), JSON.stringify(latest(s.athlete, at)));
        } else if (s.kind === 'alarms') {
          given.alarms += 1;
          page.deliver(alarms(at), JSON.stringify(alarms(at)));
        } else {
          given.samples += s.size;
          const times = Array.from({ length: s.size }, (_, i) => at + i);
          const message = trace(s.athlete, tracedTo[s.athlete] ?? 0, times);
          tracedTo[s.athlete] = times.at(-1) ?? 0;
          page.deliver(message, JSON.stringify(message));
        }
      }
      transport.bufferedBytes = 0;
      page.catchUp();
      expect(sent.filter((m) => m.type === 'alarms').length).toBe(given.alarms);
      const latestSent = sent.filter((m) => m.type === 'latest');
      expect(latestSent.length + latestSent.reduce((sum, m) => sum + m.droppedCount, 0)).toBe(given.latest);
      const traces = sent.filter((m) => m.type === 'trace');
      const shown = traces.reduce((sum, m) => sum + (m.traces[0]?.atMs.length ?? 0) + m.decimatedCount, 0);
      expect(shown).toBe(given.samples);
      // The spans of one athlete's batches join without a hole.
      for (const athlete of ['a', 'b']) {
        let reached = 0;
        for (const m of traces.filter((t) => t.athleteId === athlete)) {
          expect(m.fromMs).toBe(reached);
          reached = m.toMs;
        }
      }
    }),
  );
});
