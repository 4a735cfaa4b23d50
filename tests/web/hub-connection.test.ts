import { describe, expect, test } from 'vitest';
import { closeCodes } from '../../shared/error-codes.ts';
import type { LiveState } from '../../shared/live-frame/live-frame.ts';
import { changeBlock, liveFrame, wholeBlock } from '../../shared/live-frame/write-live-frame.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import type { UpMessage } from '../../shared/messages/up.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { said } from '../../shared/said.ts';
import { monotonicMs } from '../../shared/units.ts';
import { HubConnection, type LinkState, type SocketListener } from '../../web/connection/hub-connection.ts';
import { reconnectDelayMs } from '../../web/connection/reconnect-delay.ts';
import { FakeTimers } from '../support/fake-timers.ts';

class FakeSocket {
  readonly sent: UpMessage[] = [];
  closedByPage = false;
  readonly listener: SocketListener;
  constructor(listener: SocketListener) {
    this.listener = listener;
  }
  send(text: string): void {
    this.sent.push(JSON.parse(text) as UpMessage);
  }
  close(): void {
    this.closedByPage = true;
  }
}

function setUp() {
  const timers = new FakeTimers();
  const sockets: FakeSocket[] = [];
  const links: LinkState[] = [];
  const messages: DownMessage[] = [];
  const malformed: string[] = [];
  let resume: { sessionId: string; haveToMs: number } | null = null;
  const connection = new HubConnection({
    openSocket: (listener) => {
      const socket = new FakeSocket(listener);
      sockets.push(socket);
      return socket;
    },
    timers,
    random: () => 1,
    resume: () => resume as never,
    pageState: () => ({ visible: true, soundReady: false, presented: [], sounding: null }),
    onMessage: (message) => messages.push(message),
    onMalformed: (reason) => malformed.push(reason),
    onLink: (link) => links.push(link),
  });
  const say = (message: object) => sockets.at(-1)!.listener.received(JSON.stringify(message));
  const welcomed = new Set<FakeSocket>();
  /** The hub answers the hello of the present socket if it has not, and sends a heartbeat. */
  const heartbeat = (sequence = 1) => {
    const socket = sockets.at(-1)!;
    if (!welcomed.has(socket)) {
      welcomed.add(socket);
      say({
        type: 'welcome',
        protocolVersion,
        hubVersion: '0',
        hubRunId: 'run-1',
        wallNowMs: 1,
        timeScale: 1,
        simulated: false,
        role: 'coach',
        athleteIds: 'all',
        deviceId: null,
        session: null,
        endedSessionId: null,
        athletes: [],
        sensors: [],
      });
    }
    say({ type: 'heartbeat', sequence, wallNowMs: 1, atMs: null });
  };
  return {
    timers,
    sockets,
    links,
    messages,
    malformed,
    connection,
    say,
    heartbeat,
    setResume: (value: typeof resume) => {
      resume = value;
    },
  };
}

describe('the watchdog', () => {
  test('says silent after two seconds without a message, and not before', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.heartbeat();
    expect(page.links).toEqual(['live']);
    page.timers.advance(1_800);
    expect(page.links).toEqual(['live']);
    page.timers.advance(400);
    expect(page.links).toEqual(['live', 'silent']);
  });

  test('a page that stood still reads what the hub said meanwhile before it calls the hub silent', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.heartbeat();
    page.timers.standStill(6_000);
    expect(page.links).toEqual(['live']);
    page.heartbeat(2);
    page.timers.advance(1_800);
    expect(page.links).toEqual(['live']);
    expect(page.sockets).toHaveLength(1);
  });

  test('a page that stood still and hears nothing after it calls the hub silent at the next look', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.heartbeat();
    page.timers.standStill(6_000);
    page.timers.advance(200);
    expect(page.links).toEqual(['live', 'silent']);
  });

  test.each([
    ['stands still again and again', 6_000, 4],
    ['was asleep', 60_000, 1],
    ['is in the background, where it looks once a second', 1_000, 2],
  ])('a page that %s calls a dead hub silent all the same', (_, eachMs, times) => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.heartbeat();
    for (let time = 1; time <= times; time += 1) {
      expect(page.links).toEqual(['live']);
      page.timers.standStill(eachMs);
    }
    expect(page.links).toEqual(['live', 'silent']);
  });

  test('an opened socket has as long for its welcome as for its opening', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.timers.advance(3_800);
    expect(page.links).toEqual(['silent']);
    expect(page.sockets).toHaveLength(1);
    page.heartbeat();
    expect(page.links).toEqual(['silent', 'live']);
  });

  test('stays quiet while heartbeats come', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    for (let count = 0; count < 60; count += 1) {
      page.heartbeat(count);
      page.timers.advance(500);
    }
    expect(page.links).toEqual(['live']);
    expect(page.sockets).toHaveLength(1);
  });

  test('a deaf socket is given up, another is opened, and the page heals', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.heartbeat();
    page.setResume({ sessionId: 's1', haveToMs: 41_000 });
    page.timers.advance(2_400);
    expect(page.sockets[0]!.closedByPage).toBe(true);
    expect(page.sockets).toHaveLength(2);
    page.sockets[1]!.listener.opened();
    expect(page.sockets[1]!.sent[0]).toEqual({
      type: 'hello',
      protocolVersion,
      resume: { sessionId: 's1', haveToMs: 41_000 },
    });
    page.heartbeat();
    expect(page.links).toEqual(['live', 'silent', 'live']);
  });

  test('a stream of rubbish is not a living hub', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.heartbeat();
    for (let count = 0; count < 11; count += 1) {
      page.timers.advance(200);
      page.say({ type: 'latest', nonsense: true });
    }
    expect(page.links.at(-1)).toBe('silent');
    expect(page.malformed.length).toBeGreaterThanOrEqual(10);
    expect(page.malformed[0]).toContain('latest');
  });

  test('heartbeats without a welcome are not enough, and another socket is tried', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    for (let count = 0; count < 30; count += 1) {
      page.say({ type: 'heartbeat', sequence: count, wallNowMs: 1, atMs: null });
      page.timers.advance(200);
    }
    expect(page.links).toEqual(['silent']);
    expect(page.sockets.length).toBeGreaterThan(1);
  });

  test('a hub that was never heard is silent too', () => {
    const page = setUp();
    page.connection.start();
    page.timers.advance(2_200);
    expect(page.links).toEqual(['silent']);
  });
});

describe('live frames', () => {
  const state: LiveState = {
    athleteId: 'mira',
    atMs: monotonicMs(1_000),
    phase: 'resting',
    spo2: { value: 97, atMs: monotonicMs(1_000), quality: 'good', reasons: [], sensorId: 'clip' },
    heartRate: null,
    forecast: { known: false, lowestIfStoppedNow: null, secondsToStop: null, lungs: null },
  };
  const whole = liveFrame([
    wholeBlock(0, {
      state,
      fromMs: monotonicMs(0),
      tracedToMs: monotonicMs(0),
      traces: [],
      droppedCount: 0,
      decimatedCount: 0,
    }),
  ]);
  const change = liveFrame([changeBlock(0, state, { ...state, phase: 'holding' }, [])!]);
  const latestOf = (page: ReturnType<typeof setUp>) =>
    page.messages.filter((message) => message.type === 'latest').map(({ phase }) => phase);

  test('are said as the messages they stand for', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.heartbeat();
    page.sockets[0]!.listener.received(whole);
    page.sockets[0]!.listener.received(change);
    expect(latestOf(page)).toEqual(['resting', 'holding']);
    expect(page.links).toEqual(['live']);
  });

  test('one that can’t be read is said, and the page is filled in anew instead of going on from what it may have wrong', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.heartbeat();
    page.sockets[0]!.listener.received(whole);
    page.sockets[0]!.listener.received(change.subarray(0, 5));
    page.sockets[0]!.listener.received(change);
    expect(page.malformed).toEqual(['live frame: cutShort']);
    expect(latestOf(page)).toEqual(['resting']);
    page.timers.advance(1_000);
    expect(page.sockets).toHaveLength(2);
    page.sockets[1]!.listener.opened();
    page.heartbeat();
    // What the former socket told counts no more.
    page.sockets[1]!.listener.received(change);
    expect(page.malformed.at(-1)).toBe('live frame: unknownSlot');
  });
});

describe('reconnecting', () => {
  test('waits longer from time to time, and starts anew once the hub was heard', () => {
    const page = setUp();
    page.connection.start();
    for (let count = 0; count < 8; count += 1) {
      page.sockets.at(-1)!.listener.closed(1006);
      page.timers.advance(3_100);
    }
    expect(page.sockets).toHaveLength(9);
    page.sockets.at(-1)!.listener.opened();
    page.heartbeat();
    page.sockets.at(-1)!.listener.closed(1006);
    page.timers.advance(210);
    expect(page.sockets).toHaveLength(10);
  });

  test('the delay never exceeds three seconds nor falls to nothing', () => {
    for (let attempt = 0; attempt < 60; attempt += 1) {
      for (const random of [0, 0.5, 1]) {
        const delayMs = reconnectDelayMs(attempt, random);
        expect(delayMs).toBeGreaterThanOrEqual(100);
        expect(delayMs).toBeLessThanOrEqual(3_000);
      }
    }
  });

  test('events of a socket that was given up change nothing', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.heartbeat();
    page.timers.advance(2_400);
    const count = page.sockets.length;
    page.sockets[0]!.listener.closed(1006);
    page.sockets[0]!.listener.received('{"type":"heartbeat","sequence":9,"wallNowMs":1,"atMs":null}');
    page.timers.advance(50);
    expect(page.sockets).toHaveLength(count);
    expect(page.links.at(-1)).toBe('silent');
  });

  test('another protocol version ends the trying', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.opened();
    page.say({
      type: 'refused',
      requestId: null,
      code: 'wrongProtocolVersion',
      said: said('refusal.wrongVersion', { page: 1, hub: 2 }),
    });
    page.timers.advance(30_000);
    expect(page.links).toEqual(['wrongVersion']);
    expect(page.sockets).toHaveLength(1);
  });

  test('so does a close code that says the page may not come back', () => {
    const page = setUp();
    page.connection.start();
    page.sockets[0]!.listener.closed(closeCodes.notAllowed);
    page.timers.advance(30_000);
    expect(page.links).toEqual(['refused']);
    expect(page.sockets).toHaveLength(1);
  });
});

test('tells the hub every second what the page can do', () => {
  const page = setUp();
  page.connection.start();
  page.sockets[0]!.listener.opened();
  for (let count = 0; count < 6; count += 1) {
    page.heartbeat(count);
    page.timers.advance(500);
  }
  const states = page.sockets[0]!.sent.filter((message) => message.type === 'pageState');
  expect(states).toHaveLength(4);
  expect(states[0]).toEqual({
    type: 'pageState',
    visible: true,
    soundReady: false,
    presented: [],
    sounding: null,
  });
});

test('what cannot be handed over is said, not swallowed', () => {
  const page = setUp();
  page.connection.start();
  expect(page.connection.send({ type: 'endSession', requestId: 'r1' })).toBe(false);
  page.sockets[0]!.listener.opened();
  expect(page.connection.send({ type: 'endSession', requestId: 'r1' })).toBe(false);
  page.heartbeat();
  expect(page.connection.send({ type: 'endSession', requestId: 'r1' })).toBe(true);
  page.timers.advance(2_400);
  page.sockets.at(-1)!.listener.opened();
  expect(page.connection.send({ type: 'endSession', requestId: 'r1' })).toBe(false);
});
