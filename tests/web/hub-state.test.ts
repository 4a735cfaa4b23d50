import { describe, expect, test } from 'vitest';
import type { AddMarkMessage } from '../../shared/messages/add-mark.ts';
import { type DownMessage, downMessageSchema } from '../../shared/messages/down.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { said } from '../../shared/said.ts';
import { monotonicMs } from '../../shared/units.ts';
import { HubRequests } from '../../web/state/hub-requests.ts';
import { HubState } from '../../web/state/hub-state.ts';
import { confirmWithinMs, MarkOutbox } from '../../web/state/mark-outbox.ts';
import { PlanRunFollower } from '../../web/state/plan-run-follower.ts';
import type { WatchedSession, WatchedSessionMemory } from '../../web/state/watched-session.ts';

const athlete = (athleteId: string) => ({
  athleteId,
  name: `Name of ${athleteId}`,
  simulated: false,
  settings: {
    floorSpo2Percent: 88,
    thresholdsPercent: [],
    heartRateLowBpm: null,
    heartRateHighBpm: null,
    maxHoldDurationMs: null,
    forecastAlarm: 'medium',
  },
});
const noForecast = { known: false, lowestIfStoppedNow: null, secondsToStop: null };
const state = (athleteId: string, more: object = {}) => ({
  athlete: athlete(athleteId),
  atMs: 10_000,
  phase: 'resting',
  spo2: null,
  heartRate: null,
  holds: [],
  marks: [],
  alarms: [],
  sound: { priority: null, audioPausedUntilMs: null },
  forecast: noForecast,
  ...more,
});
const session = (sessionId: string, more: object = {}) => ({
  sessionId,
  startedWallAtMs: 1,
  endedAtMs: null,
  status: 'recording',
  simulated: false,
  source: 'live',
  title: '',
  athleteIds: ['a', 'b'],
  unwatched: [],
  leaders: [],
  ...more,
});
const welcome = (more: object = {}) => ({
  type: 'welcome',
  protocolVersion,
  hubVersion: '0.1.0',
  hubRunId: 'run-1',
  wallNowMs: 1,
  timeScale: 1,
  simulated: false,
  role: 'coach',
  athleteIds: 'all',
  deviceId: null,
  session: session('s1'),
  endedSessionId: null,
  athletes: [state('a'), state('b')],
  sensors: [],
  ...more,
});
const readout = (value: number, atMs: number) => ({
  value,
  atMs,
  quality: 'good',
  reasons: [],
  sensorId: 'x',
});
const latest = (athleteId: string, atMs: number, value: number) => ({
  type: 'latest',
  athleteId,
  atMs,
  phase: 'holding',
  spo2: readout(value, atMs),
  heartRate: null,
  forecast: noForecast,
  droppedCount: 0,
});
const trace = (athleteId: string, fromMs: number, toMs: number, decimatedCount = 0) => ({
  type: 'trace',
  athleteId,
  fromMs,
  toMs,
  traces: [{ channel: 'spo2Percent', atMs: [toMs], value: [97], quality: 'g' }],
  decimatedCount,
});
const alarms = (athleteId: string, priority: string | null, audioPausedUntilMs: number | null = null) => ({
  type: 'alarms',
  athleteId,
  atMs: 10_000,
  alarms: [],
  sound: { priority, audioPausedUntilMs },
});

function setUp(watchedSession?: WatchedSessionMemory) {
  const sent: AddMarkMessage[] = [];
  let deliverable = true;
  let number = 0;
  const outbox = new MarkOutbox(
    (message) => {
      if (deliverable) sent.push(message);
      hub.unsaved.asked(message, () => undefined);
      return deliverable;
    },
    () => `r${++number}`,
  );
  const hub: HubState = new HubState({
    outbox,
    requests: new HubRequests({
      send: () => true,
      timers: { after: () => () => undefined },
      newRequestId: () => 'unused',
    }),
    planRun: new PlanRunFollower({ nowMs: () => 0, every: () => () => undefined }),
    ...(watchedSession !== undefined && { watchedSession }),
  });
  // Through the schema, as the connection does: a test cannot say what the contract does not know.
  const say = (message: object, pageNowMs = 1_000) =>
    hub.apply(downMessageSchema.parse(message) as DownMessage, pageNowMs);
  return {
    hub,
    outbox,
    sent,
    say,
    setDeliverable: (value: boolean) => {
      deliverable = value;
    },
  };
}

test('welcome, then newest values, then the session time moves on with the page clock', () => {
  const { hub, say } = setUp();
  say(welcome());
  say(latest('a', 12_000, 97), 2_000);
  expect(hub.athleteById('a')!.spo2.value?.value).toBe(97);
  expect(hub.athleteById('a')!.phase.value).toBe('holding');
  hub.tick(2_700);
  expect(hub.nowMs.value).toBe(12_700);
});

test('messages move the shown time no oftener than the clock ticks, a jump at once', () => {
  const { hub, say } = setUp();
  say(welcome());
  say(latest('a', 12_000, 97), 2_000);
  expect(hub.nowMs.value).toBe(12_000);
  say(latest('a', 12_100, 96), 2_100);
  expect(hub.nowMs.value).toBe(12_000);
  expect(hub.athleteById('a')!.spo2.value?.value).toBe(96);
  hub.tick(2_150);
  expect(hub.nowMs.value).toBe(12_150);
  say(latest('a', 13_000, 96), 2_160);
  expect(hub.nowMs.value).toBe(13_000);
});

describe('traces', () => {
  test('a batch that does not follow on leaves a hole that is said', () => {
    const { hub, say } = setUp();
    say(welcome());
    say(trace('a', 0, 10_000));
    say(trace('a', 10_000, 11_000));
    expect(hub.athleteById('a')!.missing.value).toEqual([]);
    say(trace('a', 15_000, 16_000, 3));
    expect(hub.athleteById('a')!.missing.value).toEqual([{ fromMs: 11_000, toMs: 15_000 }]);
    expect(hub.decimatedCount.value).toBe(3);
  });

  test('resume asks from the least the page has of anyone', () => {
    const { hub, say } = setUp();
    expect(hub.resume()).toBeNull();
    say(welcome());
    say(trace('a', 0, 12_000));
    say(trace('b', 0, 9_000));
    expect(hub.resume()).toEqual({ sessionId: 's1', haveToMs: 9_000 });
  });

  test('a reconnect in the same session keeps the traces, and what overlaps is taken once', () => {
    const { hub, say } = setUp();
    say(welcome());
    say(trace('a', 0, 12_000));
    const model = hub.athleteById('a')!;
    say(welcome({ athletes: [state('a', { atMs: 20_000 }), state('b')] }));
    expect(hub.athleteById('a')).toBe(model);
    say(trace('a', 9_000, 12_000));
    say(trace('a', 12_000, 20_000));
    expect([...model.traces.spo2Percent.view().atSeconds]).toEqual([12, 20]);
    expect(model.missing.value).toEqual([]);
  });
});

describe('the sound the page makes', () => {
  test('is the highest of all athletes', () => {
    const { hub, say } = setUp();
    say(welcome());
    say(alarms('a', 'medium'));
    say(alarms('b', 'high'));
    expect(hub.soundPriority.value).toBe('high');
  });

  test('a pause is over by itself, even if the hub says no more', () => {
    const { hub, say } = setUp();
    say(welcome());
    say(latest('a', 10_000, 86), 1_000);
    say(alarms('a', 'high', 12_000), 1_000);
    expect(hub.soundPriority.value).toBeNull();
    hub.tick(3_100);
    expect(hub.soundPriority.value).toBe('high');
  });

  test('a silent hub during a session is the page’s own high alarm, until it answers', () => {
    const { hub, say } = setUp();
    say(welcome());
    hub.linkChanged('live', 1_000);
    expect(hub.pageAlarm.value).toBe(false);
    hub.linkChanged('silent', 3_000);
    expect(hub.pageAlarm.value).toBe(true);
    expect(hub.soundPriority.value).toBe('high');
    hub.tick(3_000);
    hub.pausePageAlarm(3_000);
    expect(hub.soundPriority.value).toBeNull();
    hub.tick(64_000);
    expect(hub.soundPriority.value).toBe('high');
    hub.linkChanged('live', 65_000);
    expect(hub.soundPriority.value).toBeNull();
  });

  test('a silent hub without a session does not sound', () => {
    const { hub, say } = setUp();
    say(welcome({ session: null, athletes: [] }));
    hub.linkChanged('silent', 3_000);
    expect(hub.soundPriority.value).toBeNull();
  });
});

describe('sessions', () => {
  test('a hub that comes back without the session says it was interrupted', () => {
    const { hub, say } = setUp();
    say(welcome());
    say(welcome({ session: null, athletes: [] }));
    expect(hub.interruptedSessionId.value).toBe('s1');
    expect(hub.recording.value).toBe(false);
  });

  test('an ended session is not an interrupted one', () => {
    const { hub, say } = setUp();
    say(welcome());
    say({
      type: 'session',
      session: session('s1', { status: 'ended', endedAtMs: 20_000 }),
      athletes: [athlete('a')],
    });
    expect(hub.endedSessionId.value).toBe('s1');
    say(welcome({ session: null, athletes: [] }));
    expect(hub.interruptedSessionId.value).toBeNull();
  });

  test('a new session starts with empty traces and no old time', () => {
    const { hub, say } = setUp();
    say(welcome());
    say(trace('a', 0, 12_000));
    say({ type: 'session', session: session('s2'), athletes: [athlete('a')] });
    expect(hub.athleteById('a')!.traces.spo2Percent.length).toBe(0);
    expect(hub.nowMs.value).toBeNull();
  });
});

test('holds are added, revised and withdrawn by their id', () => {
  const { hub, say } = setUp();
  say(welcome());
  const boundary = (atMs: number) => ({
    atMs,
    uncertaintyMs: 0,
    declaredAtMs: atMs,
    source: 'mark',
    evidence: [],
  });
  const hold = (holdId: string, startMs: number, endMs: number | null) => ({
    holdId,
    start: boundary(startMs),
    end: endMs === null ? null : boundary(endMs),
    contractionCount: 0,
    firstContractionAtMs: null,
    lowestSpo2: null,
  });
  say({ type: 'hold', athleteId: 'a', holdId: 'h1', hold: hold('h1', 5_000, null) });
  expect(hub.athleteById('a')!.currentHold()?.holdId).toBe('h1');
  say({ type: 'hold', athleteId: 'a', holdId: 'h1', hold: hold('h1', 4_000, 9_000) });
  expect(hub.athleteById('a')!.holds.value).toHaveLength(1);
  expect(hub.athleteById('a')!.currentHold()).toBeNull();
  say({ type: 'hold', athleteId: 'a', holdId: 'h1', hold: null });
  expect(hub.athleteById('a')!.holds.value).toEqual([]);
});

describe('marks', () => {
  const marked = (atMs: number, removed = false, requestId: string | null = null) => ({
    type: 'marked',
    mark: { markId: 'm1', athleteId: 'a', kind: 'contraction', atMs, text: null },
    removed,
    requestId,
  });

  test('is pending until the hub has it, then ours to undo, then gone', () => {
    const { hub, outbox, sent, say } = setUp();
    say(welcome());
    outbox.add('a', 'contraction', monotonicMs(11_000), null, 0);
    expect(sent[0]).toMatchObject({ type: 'addMark', kind: 'contraction', atMs: 11_000 });
    expect(outbox.pending.value[0]!.state).toBe('sent');
    say(marked(11_000, false, 'r1'));
    expect(outbox.pending.value).toEqual([]);
    expect(outbox.own.value.map((mark) => mark.markId)).toEqual(['m1']);
    say(marked(11_000, true));
    expect(outbox.own.value).toEqual([]);
    expect(hub.athleteById('a')!.marks.value).toEqual([]);
  });

  test('another page’s mark is not ours to undo', () => {
    const { outbox, say } = setUp();
    say(welcome());
    say(marked(9_000));
    expect(outbox.own.value).toEqual([]);
  });

  test('nor is one of the same kind and time that another page asked for', () => {
    const { outbox, say } = setUp();
    say(welcome());
    outbox.add('a', 'contraction', monotonicMs(11_000), null, 0);
    say(marked(11_000, false, 'of another page'));
    expect(outbox.pending.value).toHaveLength(1);
    expect(outbox.own.value).toEqual([]);
  });

  test('made while the hub is away, it is sent with its own time when the hub is back', () => {
    const { outbox, sent, say, setDeliverable } = setUp();
    say(welcome());
    setDeliverable(false);
    outbox.add('a', 'holdEnd', monotonicMs(14_000), null, 0);
    expect(outbox.pending.value[0]!.state).toBe('waiting');
    setDeliverable(true);
    say(welcome());
    expect(sent).toHaveLength(1);
    expect(sent[0]).toMatchObject({ kind: 'holdEnd', atMs: 14_000 });
    expect(outbox.pending.value[0]!.state).toBe('sent');
  });

  test('one the hub had after all is not made twice', () => {
    const { outbox, sent, say } = setUp();
    say(welcome());
    outbox.add('a', 'contraction', monotonicMs(11_000), null, 0);
    const mark = { markId: 'm1', athleteId: 'a', kind: 'contraction', atMs: 11_000, text: null };
    say(welcome({ athletes: [state('a', { marks: [mark] }), state('b')] }));
    expect(sent).toHaveLength(1);
    expect(outbox.pending.value).toEqual([]);
  });

  test('unanswered, it is said to be unconfirmed', () => {
    const { outbox } = setUp();
    outbox.add('a', 'contraction', monotonicMs(11_000), null, 0);
    outbox.tick(confirmWithinMs - 1);
    expect(outbox.pending.value[0]!.state).toBe('sent');
    outbox.tick(confirmWithinMs);
    expect(outbox.pending.value[0]!.state).toBe('unconfirmed');
  });

  test('lost with its session, it is counted', () => {
    const { hub, outbox, say, setDeliverable } = setUp();
    say(welcome());
    setDeliverable(false);
    outbox.add('a', 'contraction', monotonicMs(11_000), null, 0);
    say(welcome({ session: null, athletes: [] }));
    expect(hub.lostMarkCount.value).toBe(1);
  });

  const notSavedYet = (requestId: string) => ({
    type: 'refused',
    requestId,
    code: 'recorderFailed',
    said: { code: 'refusal.notSavedYet', params: { reason: 'full' } },
  });

  test('that stands unsaved is no refusal: it is listed, can be taken back, and is saved later', () => {
    const { hub, outbox, say } = setUp();
    say(welcome());
    hub.unsaved.checked({ hubRunId: 'run-1', saved: true });
    outbox.add('a', 'contraction', monotonicMs(11_000), null, 0);
    say(marked(11_000, false, 'r1'));
    say(notSavedYet('r1'));
    expect(hub.refusals.value).toEqual([]);
    expect(hub.unsaved.list.value).toMatchObject([{ changeId: 'r1', state: 'unsaved' }]);
    expect(outbox.own.value.map(({ markId }) => markId)).toEqual(['m1']);
    hub.unsaved.checked({ hubRunId: 'run-1', saved: true });
    expect(hub.unsaved.list.value).toEqual([]);
  });

  test('never said to be saved, and missing when the hub is back: it is sent again', () => {
    const { hub, outbox, sent, say } = setUp();
    say(welcome());
    outbox.add('a', 'contraction', monotonicMs(11_000), null, 0);
    say(marked(11_000, false, 'r1'));
    say(notSavedYet('r1'));
    say(welcome());
    expect(sent).toHaveLength(2);
    expect(sent[1]).toEqual(sent[0]);
    expect(hub.unsaved.list.value).toEqual([]);
    expect(outbox.own.value).toEqual([]);
    expect(outbox.pending.value).toHaveLength(1);
  });

  test('confirmed, and missing when the hub is back: the confirmation is taken back, and it is said', () => {
    const { hub, outbox, sent, say } = setUp();
    say(welcome());
    outbox.add('a', 'contraction', monotonicMs(11_000), null, 0);
    say(marked(11_000, false, 'r1'));
    say({ type: 'done', requestId: 'r1' });
    say(welcome());
    expect(sent).toHaveLength(1);
    expect(outbox.own.value).toEqual([]);
    expect(hub.athleteById('a')!.marks.value).toEqual([]);
    expect(hub.unsaved.list.value).toMatchObject([
      { state: 'withdrawn', change: { type: 'mark', athleteId: 'a', kind: 'contraction', atMs: 11_000 } },
    ]);
  });

  test('refused, it is dropped and the reason shown', () => {
    const { hub, outbox, sent, say } = setUp();
    say(welcome());
    outbox.add('a', 'contraction', monotonicMs(11_000), null, 0);
    say({
      type: 'refused',
      requestId: sent[0]!.requestId,
      code: 'notAllowed',
      said: said('refusal.onlookerChanges'),
    });
    expect(outbox.pending.value).toEqual([]);
    expect(hub.refusals.value[0]!.said).toEqual(said('refusal.onlookerChanges'));
  });
});

test('sensors come whole, then as they change, each at its place', () => {
  const { hub, say } = setUp();
  say(welcome());
  const sensor = (sensorId: string, link = 'connected') => ({
    sensorId,
    name: sensorId,
    kinds: ['oximeter'],
    source: 'bluetooth',
    athleteId: 'a',
    link,
    detail: null,
    batteryPercent: null,
  });
  const links = () => hub.sensors.value.map(({ sensorId, link }) => `${sensorId} ${link}`);
  say({
    type: 'sensors',
    whole: true,
    sensors: [sensor('one'), sensor('two'), sensor('three')],
    gone: [],
    notices: [],
  });
  say({
    type: 'sensors',
    whole: false,
    sensors: [sensor('two', 'lost'), sensor('four')],
    gone: ['one', 'never-there'],
    notices: [said('notice.interrupted')],
  });
  expect(links()).toEqual(['two lost', 'three connected', 'four connected']);
  expect(hub.notices.value).toEqual([said('notice.interrupted')]);
  say({ type: 'sensors', whole: true, sensors: [sensor('five')], gone: [], notices: [] });
  expect(links()).toEqual(['five connected']);
});

describe('alarms a person can have seen', () => {
  const alarm = (alarmId: string, more: object = {}) => ({
    alarmId,
    kind: 'floorBreached',
    priority: 'high',
    highestPriority: 'high',
    raisedAtMs: 9_000,
    conditionPresent: true,
    timesPresent: 1,
    passedAtMs: null,
    acknowledged: false,
    acknowledgedAtMs: null,
    acknowledgedBy: null,
    value: 86,
    worstValue: 86,
    worstAtMs: 9_000,
    limit: 88,
    likely: null,
    subject: null,
    sensorId: null,
    detail: null,
    holdNear: true,
    message: 'm',
    instruction: 'i',
    ...more,
  });
  const told = (...list: object[]) => ({ ...alarms('a', 'high'), alarms: list });

  test('one that came up as the finger was on its way is not among them', () => {
    const { hub, say } = setUp();
    say(welcome());
    say(told(alarm('one')), 2_000);
    const model = hub.athleteById('a')!;
    expect(model.seenAlarmIds(2_100)).toEqual([]);
    expect(model.seenAlarmIds(2_300)).toEqual(['one']);
    say(told(alarm('one'), alarm('two', { priority: 'medium' })), 2_900);
    expect(model.seenAlarmIds(3_000)).toEqual(['one']);
    expect(model.seenAlarmIds(3_200)).toEqual(['one', 'two']);
  });

  test('one that sounds again or got more urgent counts as new', () => {
    const { hub, say } = setUp();
    say(welcome());
    say(told(alarm('one', { priority: 'medium' }), alarm('two', { acknowledged: true })), 2_000);
    const model = hub.athleteById('a')!;
    expect(model.seenAlarmIds(3_000)).toEqual(['one']);
    say(told(alarm('one'), alarm('two')), 3_000);
    expect(model.seenAlarmIds(3_100)).toEqual([]);
    expect(model.seenAlarmIds(3_300)).toEqual(['one', 'two']);
  });
});

describe('what a page that is loaded anew has to know', () => {
  const stopped = {
    alarmId: 'w1',
    kind: 'monitoringStopped',
    priority: 'high',
    cause: 'hubStopped',
    atWallMs: 5_000,
    conditionPresent: true,
    acknowledged: false,
    subject: null,
    reason: null,
    durationMs: null,
    session: { sessionId: 's1', title: '', athletes: [{ athleteId: 'a', name: 'A' }] },
  };

  test('a session that the hub stopped in, until somebody has seen it; not one that a person ended', () => {
    let kept: WatchedSession | null = null;
    const { say } = setUp({
      load: () => null,
      save: (watched) => {
        kept = watched;
      },
    });
    say(welcome());
    expect(kept).toMatchObject({ sessionId: 's1' });
    say({ type: 'supervision', alarms: [stopped] });
    say({ type: 'session', session: { ...session('s1'), status: 'ended' }, athletes: [] });
    expect(kept).toMatchObject({ sessionId: 's1', athletes: [{ athleteId: 'a' }], seenWallAtMs: 5_000 });
    say({ type: 'supervision', alarms: [] });
    expect(kept).toBeNull();

    say(welcome());
    say({ type: 'session', session: { ...session('s1'), status: 'ended' }, athletes: [] });
    expect(kept).toBeNull();
  });
});
