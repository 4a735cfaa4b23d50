// A hub that died in a session goes on with it: the same recording with the gap told, one hold, alarms armed anew. Where that is
// not right, nothing goes on without a person.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { BootClock } from '../../hub/base/ports/boot-clock.ts';
import { Hub, type HubPorts } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import type { LiveEvent } from '../../hub/live/live-event.ts';
import { longestResumedGapMs, mostAttempts } from '../../hub/live/resume-decision.ts';
import { supervisionFileIn } from '../../hub/live/supervision-file.ts';
import { PlanRuns } from '../../hub/plans/plan-runs.ts';
import { openSqliteStore, type SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { PageFeed } from '../../hub/server/page-feed.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { percent, wallMs } from '../../shared/units.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { makeIntervalSeries } from '../../src/plans/generate-plan.ts';
import { createFakeClock, type FakeClock } from '../support/fake-clock.ts';
import { hearFeed, readFill } from '../support/hear-feed.ts';
import { createScriptedSource, type ScriptedSource, scriptedSensorIds } from '../support/scripted-source.ts';
import { testLog } from '../support/serve-test-hub.ts';

/** A computer with its clocks, and hubs that live and die on it. */
class Computer {
  readonly folder = mkdtempSync(join(tmpdir(), 'slackwater-resume-'));
  /** By which the world goes: no process sees it. */
  worldMs = 0;
  wallShiftMs = 0;
  bootId = 'boot-1';
  bootedAtMs = 0;
  hubVersion = '1';
  simulated = false;
  clock: FakeClock = createFakeClock();
  store!: SqliteStore;
  source!: ScriptedSource;
  hub!: Hub;
  events: LiveEvent[] = [];
  #nextId = 0;
  #odd = false;

  async boot(
    more: Partial<HubPorts> = {},
    beforeStart: (hub: Hub) => void | Promise<void> = () => undefined,
  ): Promise<Hub> {
    this.clock = createFakeClock(5_000 + 1_000 * this.#nextId, 0);
    const zeroMs = this.clock.nowMs();
    const bornMs = this.worldMs;
    const sinceBirthMs = (): number => this.clock.nowMs() - zeroMs;
    const wallNowMs = () => wallMs(Date.UTC(2031, 4, 17, 9) + bornMs + sinceBirthMs() + this.wallShiftMs);
    const bootClock: BootClock = {
      bootId: this.bootId,
      sinceBootMs: () => bornMs + sinceBirthMs() - this.bootedAtMs,
    };
    this.store = openSqliteStore({ directory: this.folder });
    if (this.store.listAthletes().length === 0)
      this.store.saveAthlete({
        athleteId: 'mira',
        name: 'Mira',
        simulated: false,
        settings: initialSettings,
      });
    for (const sensorId of Object.values(scriptedSensorIds)) this.store.assignSensor(sensorId, 'mira');
    this.source = createScriptedSource(this.clock);
    this.hub = new Hub({
      clock: { ...this.clock, wallNowMs },
      pageClock: { ...this.clock, wallNowMs },
      store: this.store,
      sources: [this.source],
      createPipeline: pipelineFactory(),
      log: testLog,
      makeId: () => `id-${++this.#nextId}`,
      timeScale: 1,
      simulated: this.simulated,
      supervisionMemory: supervisionFileIn(this.folder),
      hubSoundCount: () => 1,
      bootClock,
      hubVersion: this.hubVersion,
      ...more,
    });
    this.events = [];
    this.hub.subscribe((event) => this.events.push(event));
    await beforeStart(this.hub);
    await this.hub.start();
    return this.hub;
  }

  /** Seconds with a reading in each; null: the sensors are silent. */
  pass(seconds: number, spo2Percent: number | null = 97): void {
    for (let i = 0; i < seconds; i += 1) {
      this.#odd = !this.#odd;
      if (spo2Percent !== null) {
        this.source.oximetry(spo2Percent, this.#odd ? 60 : 62);
        this.source.heartRate(60);
      }
      this.clock.advance(1_000);
      this.worldMs += 1_000;
    }
  }

  advance(ms: number): void {
    this.clock.advance(ms);
    this.worldMs += ms;
  }

  /** kill -9: nothing is ended, what was handed over is there. */
  kill(goneMs: number): void {
    this.store.commit('process');
    this.store.close();
    this.worldMs += goneMs;
  }

  startSession(): string {
    const started = this.hub.startSession(['mira'], 'evening');
    if (!started.ok) throw new Error('not started');
    return started.value.sessionId;
  }

  mark(kind: 'holdStart' | 'holdEnd' | 'contraction'): void {
    this.hub.addMark({ athleteId: 'mira', kind, atMs: null, text: null });
  }

  get alarms() {
    return this.hub.snapshotOf('mira')?.alarms ?? [];
  }

  get holds() {
    return (this.hub.snapshotOf('mira')?.holds ?? []).map(({ hold }) => hold);
  }
}

let computer: Computer;
beforeEach(() => {
  computer = new Computer();
});
afterEach(() => rmSync(computer.folder, { recursive: true, force: true, maxRetries: 5 }));

const kindsOf = (hub: Hub) => hub.supervision.map(({ kind, cause, priority }) => ({ kind, cause, priority }));

describe('a hub that was killed in a hold', () => {
  async function killedInHold(goneMs = 4_000): Promise<string> {
    await computer.boot();
    const sessionId = computer.startSession();
    computer.pass(30);
    computer.mark('holdStart');
    computer.pass(40);
    computer.mark('contraction');
    computer.pass(5);
    computer.kill(goneMs);
    return sessionId;
  }

  test('records on in the same session, with the gap in it and the hold going on', async () => {
    const sessionId = await killedInHold();
    const hub = await computer.boot();
    expect(hub.session).toMatchObject({ sessionId, title: 'evening', endedAtMs: undefined });
    const [span] = hub.session!.unwatched;
    expect(hub.session!.unwatched).toHaveLength(1);
    expect(span).toMatchObject({ cause: 'hubDied' });
    expect(span!.fromMs).toBeGreaterThanOrEqual(74_000);
    expect(span!.toMs - span!.fromMs).toBeGreaterThanOrEqual(4_000);
    expect(span!.toMs - span!.fromMs).toBeLessThanOrEqual(5_000);
    expect(span!.toWallMs - span!.fromWallMs).toBe(span!.toMs - span!.fromMs);
    expect(hub.sessionNowMs).toBe(span!.toMs);
    expect(computer.holds).toMatchObject([{ holdId: 'hold-1', start: { atMs: 30_000, source: 'mark' } }]);
    expect(computer.holds[0]!.end).toBeUndefined();
    expect(computer.holds[0]!.contractionsAtMs).toEqual([70_000]);
    computer.pass(20);
    computer.mark('holdEnd');
    computer.pass(5);
    expect(hub.endSession().ok).toBe(true);
    const stored = computer.store.readSession(sessionId)!;
    expect(stored.damage).toEqual([]);
    expect(stored.session).toMatchObject({ status: 'ended', unwatched: [span] });
    expect(stored.holds.map(({ hold }) => [hold.holdId, hold.start.atMs, hold.end?.atMs])).toEqual([
      ['hold-1', 30_000, span!.toMs + 20_000],
    ]);
    expect(stored.marks.map(({ mark }) => mark.kind)).toEqual(['holdStart', 'contraction', 'holdEnd']);
    const times = [...computer.store.readPackets(sessionId)].map(({ atMs }) => atMs);
    expect(times).toEqual([...times].sort((a, b) => a - b));
    expect(times.filter((atMs) => atMs > span!.fromMs && atMs < span!.toMs)).toEqual([]);
  });

  test('alarms high until it has gone on, then tells of the gap until a person has seen it', async () => {
    await killedInHold();
    const told: string[] = [];
    const file = supervisionFileIn(computer.folder);
    const hub = await computer.boot({
      supervisionMemory: {
        ...file,
        save: (alarms) => {
          told.push(alarms.map(({ kind, priority }) => `${kind} ${priority}`).join());
          file.save(alarms);
        },
      },
    });
    expect(told[0]).toBe('monitoringStopped high');
    // Never nothing in between.
    expect(told).not.toContain('');
    expect(kindsOf(hub)).toEqual([{ kind: 'monitoringGap', cause: 'hubDied', priority: 'medium' }]);
    expect(hub.supervision[0]!.durationMs).toBeGreaterThanOrEqual(4_000);
    expect(hub.notices.list).toEqual([]);
    hub.acknowledgeSupervision([hub.supervision[0]!.alarmId]);
    expect(hub.supervision).toEqual([]);
  });

  test.each(['before', 'after'])(
    'pages that are let in %s it are sent what was and what comes',
    async (when) => {
      await killedInHold();
      const feeds: PageFeed[] = [];
      const sent: DownMessage[] = [];
      const openFeed = (hub: Hub): void => {
        const feed = new PageFeed(hub, 'test', 'run');
        feed.open();
        hearFeed(feed, (message) => sent.push(message));
        feeds.push(feed);
      };
      const hub = await computer.boot({}, when === 'before' ? openFeed : () => undefined);
      if (when === 'after') openFeed(hub);
      const { welcome, fill } = feeds[0]!.welcome(null);
      expect(welcome.athletes[0]!.holds).toHaveLength(1);
      const filled = readFill(fill).flatMap((message) => (message.type === 'trace' ? message.traces : []));
      const spo2 = filled.find(({ channel }) => channel === 'spo2Percent')!;
      expect(spo2.atMs.length).toBeGreaterThan(70);
      sent.length = 0;
      computer.pass(3);
      const latest = sent.flatMap((message) => (message.type === 'latest' ? (message.spo2?.atMs ?? 0) : []));
      expect(Math.max(...latest)).toBeGreaterThan(hub.session!.unwatched[0]!.toMs);
      const traced = sent.flatMap((message) => (message.type === 'trace' ? message.traces : []));
      expect(traced.map(({ channel }) => channel)).toContain('spo2Percent');
    },
  );

  test('and again', async () => {
    const sessionId = await killedInHold();
    await computer.boot();
    computer.pass(3);
    computer.kill(2_000);
    const hub = await computer.boot();
    expect(hub.session).toMatchObject({ sessionId });
    expect(hub.session!.unwatched).toHaveLength(2);
    expect(computer.holds).toMatchObject([{ holdId: 'hold-1', start: { atMs: 30_000 } }]);
  });

  test('also where the next one died before it could say or do anything', async () => {
    const sessionId = await killedInHold();
    openSqliteStore({ directory: computer.folder }).close();
    const hub = await computer.boot();
    expect(hub.session).toMatchObject({ sessionId });
    expect(kindsOf(hub)).toEqual([{ kind: 'monitoringGap', cause: 'hubDied', priority: 'medium' }]);
  });

  test('but not when a person has seen that it stopped', async () => {
    await killedInHold(longestResumedGapMs + 1_000);
    const hub = await computer.boot();
    hub.acknowledgeSupervision(hub.supervision.map(({ alarmId }) => alarmId));
    computer.kill(1_000);
    const next = await computer.boot();
    expect(next.session).toBeNull();
    expect(next.supervision).toEqual([]);
  });

  test('is noticed below the floor within 3 s of the first readings, whatever was before', async () => {
    await killedInHold(30_000);
    await computer.boot();
    // Nothing has come yet: nobody sees the saturation.
    expect(computer.alarms[0]).toMatchObject({ kind: 'sensorLost', priority: 'high', subject: 'oximeter' });
    computer.pass(1, 84);
    computer.pass(2, 83);
    computer.source.oximetry(82);
    computer.advance(250);
    expect(computer.alarms.map(({ kind, priority }) => [kind, priority])).toContainEqual([
      'floorBreached',
      'high',
    ]);
  });

  test('ends by one tap, and then is over for good', async () => {
    const sessionId = await killedInHold();
    await computer.boot();
    expect(computer.hub.endSession().ok).toBe(true);
    computer.kill(2_000);
    const hub = await computer.boot();
    expect(hub.session).toBeNull();
    expect(computer.store.readSession(sessionId)!.session.status).toBe('ended');
  });

  test('was stopped in order and started again: it goes on all the same', async () => {
    await computer.boot();
    const sessionId = computer.startSession();
    computer.pass(30);
    computer.mark('holdStart');
    computer.pass(10);
    await computer.hub.stop();
    computer.kill(5_000);
    const hub = await computer.boot();
    expect(hub.session).toMatchObject({ sessionId });
    expect(kindsOf(hub)).toEqual([{ kind: 'monitoringGap', cause: 'hubStopped', priority: 'medium' }]);
    expect(computer.holds).toMatchObject([{ holdId: 'hold-1', start: { atMs: 30_000 } }]);
  });
});

describe('what stood', () => {
  test('an alarm that stands unseen stands on under its id; one that was seen stays seen', async () => {
    await computer.boot();
    computer.startSession();
    computer.pass(20);
    computer.mark('holdStart');
    computer.pass(20);
    computer.pass(6, 86);
    const before = computer.alarms.find(({ kind }) => kind === 'floorBreached')!;
    expect(before).toMatchObject({ acknowledged: false, conditionPresent: true });
    // Over, and latched.
    computer.pass(8, 93);
    computer.kill(3_000);
    await computer.boot();
    const { alarmId, raisedAtMs } = before;
    expect(computer.alarms).toContainEqual(
      expect.objectContaining({ alarmId, raisedAtMs, acknowledged: false, conditionPresent: false }),
    );
    computer.hub.acknowledge('mira', [alarmId]);
    computer.pass(5, 93);
    computer.kill(3_000);
    await computer.boot();
    computer.pass(5, 93);
    expect(computer.alarms.map(({ kind }) => kind)).not.toContain('floorBreached');
    // A new one is a new one.
    computer.pass(6, 85);
    const after = computer.alarms.find(({ kind }) => kind === 'floorBreached')!;
    expect(after.alarmId).not.toBe(alarmId);
  });

  test('settings as they were, and the floor not lowered by the gap', async () => {
    await computer.boot();
    computer.startSession();
    computer.pass(10);
    const settings = { ...initialSettings, floorSpo2Percent: percent(91), maxHoldDurationMs: 120_000 };
    expect(computer.hub.changeSettings('mira', settings).ok).toBe(true);
    computer.mark('holdStart');
    computer.pass(20);
    computer.kill(3_000);
    await computer.boot();
    expect(computer.hub.snapshotOf('mira')!.athlete.settings).toEqual(settings);
    const lower = { ...settings, floorSpo2Percent: percent(85) };
    expect(computer.hub.changeSettings('mira', lower)).toMatchObject({
      ok: false,
      reason: { code: 'floorLoweredDuringHold' },
    });
    computer.pass(6, 90);
    expect(computer.alarms.map(({ kind }) => kind)).toContain('floorBreached');
  });

  test('no page counts before it has reported again', async () => {
    const noLoudspeaker = { hubSoundCount: () => 0 };
    await computer.boot(noLoudspeaker);
    computer.startSession();
    const report = () =>
      computer.hub.pageState('page', {
        visible: true,
        soundReady: true,
        athleteIds: 'all',
        presented: [],
        sounding: 'high',
      });
    computer.mark('holdStart');
    expect(computer.alarms).toEqual([]);
    for (let i = 0; i < 10; i += 1) {
      report();
      computer.pass(1);
    }
    expect(computer.alarms).toEqual([]);
    computer.kill(2_000);
    await computer.boot(noLoudspeaker);
    computer.pass(5);
    expect(computer.alarms).toMatchObject([{ kind: 'pageUnresponsive', detail: 'noPage', priority: 'high' }]);
  });
});

describe('a plan under way', () => {
  const openRuns = (hub: Hub): PlanRuns => {
    const runs = new PlanRuns({ hub, store: computer.store, log: testLog, makeId: () => 'run-1' });
    runs.open();
    return runs;
  };
  const begin = (runs: PlanRuns): void => {
    const begun = runs.start(
      makeIntervalSeries(),
      {
        athletes: [{ athleteId: 'mira', offsetMs: 0 }],
        oneAtATime: false,
        assumeFromCues: false,
        acceptedWarnings: ['previewCrossesFloor'],
      },
      null,
    );
    if (!begun.ok) throw new Error('not begun');
  };
  const startsOf = (runs: PlanRuns) =>
    runs.current(0).events.flatMap((event) => (event.type === 'holdStarted' ? event.holdId : []));

  test('is where the clock says, though the clock on the wall was set back meanwhile', async () => {
    const runs = openRuns(await computer.boot());
    computer.startSession();
    computer.pass(20);
    begin(runs);
    computer.pass(15);
    computer.kill(30_000);
    computer.wallShiftMs = -3_600_000;
    // As the program does it: the plan is taken up after the session, before any sensor is heard.
    let taken: PlanRuns | undefined;
    const hub = await computer.boot({}, async (each) => {
      await each.prepare();
      taken = openRuns(each);
    });
    const { run, nowMs, events } = taken!.current(0);
    expect(run).toMatchObject({ runId: 'run-1', sessionId: hub.session!.sessionId, endedAtMs: null });
    expect(nowMs).toBeGreaterThanOrEqual(44_000);
    expect(nowMs).toBeLessThanOrEqual(47_000);
    expect(events.find(({ type }) => type === 'away')).toMatchObject({ atMs: nowMs });
  });

  test('goes on with the hold that it knew, as one', async () => {
    const runs = openRuns(await computer.boot());
    computer.startSession();
    computer.pass(20);
    begin(runs);
    computer.pass(5);
    computer.mark('holdStart');
    computer.pass(10);
    const [before] = startsOf(runs);
    expect(before).toBeDefined();
    computer.kill(5_000);
    let taken: PlanRuns | undefined;
    await computer.boot({}, async (each) => {
      await each.prepare();
      taken = openRuns(each);
    });
    computer.pass(5);
    computer.mark('holdEnd');
    computer.pass(2);
    const { events } = taken!.current(0);
    expect([...new Set(startsOf(taken!))]).toEqual([before]);
    expect(events.filter(({ type }) => type === 'holdEnded')).toMatchObject([{ holdId: before }]);
  });
});

describe('a person decides', () => {
  async function killed(goneMs: number): Promise<void> {
    await computer.boot();
    computer.startSession();
    computer.pass(20);
    computer.kill(goneMs);
  }
  const whyNot = (hub: Hub) =>
    hub.supervision.map(({ kind, priority, reason }) => [kind, priority, reason?.code]);

  test('after a long gap', async () => {
    await killed(longestResumedGapMs + 1_000);
    const hub = await computer.boot();
    expect(hub.session).toBeNull();
    expect(whyNot(hub)).toEqual([['monitoringStopped', 'high', 'resume.tooLong']]);
  });

  test('after another version was put there', async () => {
    await killed(2_000);
    computer.hubVersion = '2';
    expect(whyNot(await computer.boot())).toEqual([['monitoringStopped', 'high', 'resume.otherVersion']]);
    expect(computer.hub.session).toBeNull();
  });

  test('when the hub died each time it tried', async () => {
    await killed(2_000);
    const sessionId = await computer.boot().then(({ session }) => session?.sessionId ?? '');
    computer.kill(2_000);
    for (let i = 0; i < mostAttempts; i += 1) supervisionFileIn(computer.folder).noteAttempt(sessionId);
    expect(whyNot(await computer.boot())[0]).toEqual(['monitoringStopped', 'high', 'resume.diedTrying']);
    expect(computer.hub.session).toBeNull();
  });

  test('in a demo', async () => {
    computer.simulated = true;
    await killed(2_000);
    expect(whyNot(await computer.boot())).toEqual([['monitoringStopped', 'high', 'resume.dataOfTheHub']]);
  });

  test('when the recording is damaged', async () => {
    await killed(2_000);
    const { default: Database } = await import('better-sqlite3');
    const database = new Database(join(computer.folder, 'recordings.sqlite'));
    database.exec(`UPDATE entries SET at_ms = at_ms + 1 WHERE kind = 'link'`);
    database.close();
    expect(whyNot(await computer.boot())).toEqual([['monitoringStopped', 'high', 'resume.damaged']]);
    expect(computer.hub.session).toBeNull();
  });

  test('when the computer started anew and its clock went back: how long it was nobody knows', async () => {
    await killed(2_000);
    computer.bootId = 'boot-2';
    computer.wallShiftMs = -3_600_000;
    expect(whyNot(await computer.boot())).toEqual([['monitoringStopped', 'high', 'resume.timeUnknown']]);
  });

  test('when the session was ended in the moment before, though that was not written any more', async () => {
    await computer.boot();
    computer.startSession();
    computer.pass(20);
    const { endSession } = computer.store;
    computer.store.endSession = () => undefined;
    computer.hub.endSession();
    computer.store.endSession = endSession;
    computer.kill(1_000);
    const hub = await computer.boot();
    expect(hub.session).toBeNull();
    expect(hub.supervision).toEqual([]);
  });
});

describe('clocks', () => {
  test('one that was set back while the hub was gone changes nothing, where the computer ran on', async () => {
    await computer.boot();
    computer.startSession();
    computer.pass(20);
    computer.kill(6_000);
    computer.wallShiftMs = -7_200_000;
    const hub = await computer.boot();
    const [span] = hub.session!.unwatched;
    expect(span!.toMs - span!.fromMs).toBeGreaterThanOrEqual(6_000);
    expect(span!.toMs - span!.fromMs).toBeLessThanOrEqual(7_000);
  });

  test('a computer that started anew goes by the clock on the wall', async () => {
    await computer.boot();
    computer.startSession();
    computer.pass(20);
    computer.kill(90_000);
    computer.bootId = 'boot-2';
    computer.bootedAtMs = computer.worldMs - 20_000;
    const hub = await computer.boot();
    expect(hub.session!.unwatched[0]!.toMs).toBeGreaterThanOrEqual(109_000);
  });

  test('a sleep is a gap of the recording, and the session’s time goes on over it', async () => {
    await computer.boot();
    computer.startSession();
    computer.pass(10);
    computer.mark('holdStart');
    computer.pass(10);
    // The monotonic clock stands, the others do not: a fake one has to be told.
    const { hub } = computer;
    computer.wallShiftMs = 60_000;
    computer.bootedAtMs = -60_000;
    computer.advance(1_000);
    expect(hub.session!.unwatched).toMatchObject([{ cause: 'slept' }]);
    const [span] = hub.session!.unwatched;
    expect(span!.toMs - span!.fromMs).toBeGreaterThanOrEqual(60_000);
    expect(hub.sessionNowMs).toBeGreaterThanOrEqual(80_000);
    expect(computer.holds).toMatchObject([{ start: { atMs: 10_000 } }]);
    expect(computer.alarms[0]).toMatchObject({ kind: 'sensorLost', priority: 'high', subject: 'oximeter' });
    expect(kindsOf(hub)).toEqual([{ kind: 'monitoringGap', cause: 'slept', priority: 'high' }]);
    computer.pass(5);
    expect(computer.alarms.filter(({ conditionPresent }) => conditionPresent)).toEqual([]);
    const { sessionId } = hub.session!;
    hub.endSession();
    expect(computer.store.readSession(sessionId)!.session.unwatched).toEqual([span]);
  });

  test('one that was set on in a session is a clock that was changed, and no gap', async () => {
    await computer.boot();
    computer.startSession();
    computer.pass(10);
    computer.wallShiftMs = 3_600_000;
    computer.pass(2);
    expect(kindsOf(computer.hub)).toEqual([{ kind: 'clockChanged', cause: null, priority: 'medium' }]);
    expect(computer.hub.session!.unwatched).toEqual([]);
  });
});

test('killed at any moment, the hold is one hold with its start where it was', async () => {
  await fc.assert(
    fc.asyncProperty(
      fc.integer({ min: 0, max: 45_000 }),
      fc.integer({ min: 0, max: 200_000 }),
      fc.boolean(),
      async (killedAfterMs, goneMs, twice) => {
        computer = new Computer();
        try {
          await computer.boot();
          const sessionId = computer.startSession();
          computer.pass(20);
          computer.mark('holdStart');
          computer.pass(Math.floor(killedAfterMs / 1_000));
          computer.advance(killedAfterMs % 1_000);
          computer.kill(goneMs);
          await computer.boot();
          computer.pass(3);
          if (twice) {
            computer.kill(1_500);
            await computer.boot();
            computer.pass(2);
          }
          computer.mark('holdEnd');
          computer.pass(1);
          computer.hub.endSession();
          const stored = computer.store.readSession(sessionId)!;
          const holds = stored.holds.filter(({ withdrawn }) => !withdrawn).map(({ hold }) => hold);
          expect(holds).toHaveLength(1);
          expect(holds[0]!.start.atMs).toBe(20_000);
          const spans = stored.session.unwatched;
          expect(spans).toHaveLength(twice ? 2 : 1);
          for (const { fromMs, toMs } of spans) {
            expect(fromMs).toBeGreaterThanOrEqual(20_000);
            expect(toMs).toBeLessThanOrEqual(holds[0]!.end!.atMs);
          }
          // What passed in the world passed in the hold.
          const heldMs = holds[0]!.end!.atMs - 20_000;
          const worldMs = killedAfterMs + goneMs + 3_000 + (twice ? 3_500 : 0);
          expect(Math.abs(heldMs - worldMs)).toBeLessThanOrEqual(twice ? 3 : 2);
          expect(stored.damage).toEqual([]);
        } finally {
          rmSync(computer.folder, { recursive: true, force: true, maxRetries: 5 });
        }
      },
    ),
    { numRuns: 15 },
  );
});
