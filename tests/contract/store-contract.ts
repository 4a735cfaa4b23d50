// What every recorder must do, whatever it is made of. Run by the tests of each.

import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { HubError } from '../../hub/base/hub-error.ts';
import type { DocumentKind } from '../../hub/base/ports/documents.ts';
import type { Awaitable, HubStore } from '../../hub/base/ports/hub-store.ts';
import type { SensorStatus } from '../../hub/base/ports/sensor-source.ts';

import type {
  PacketColumns,
  StoredAlarm,
  StoredCorrection,
  StoredHold,
  StoredMark,
  StoredPacket,
} from '../../hub/base/ports/stored-session.ts';
import { said } from '../../shared/said.ts';
import { monotonicMs, percent, wallMs } from '../../shared/units.ts';
import type { Athlete, AthleteSettings } from '../../shared/views.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { waveProfile } from '../support/written-sessions.ts';
import { anyPackets, samePackets, wavePackets } from './packet-cases.ts';

/** Makes a fresh, empty store, and lets go of it. */
export interface StoreUnderTest {
  open(): Awaitable<HubStore>;
  /** Closes and opens again, for a store that outlives its process; the same store for one that does not. */
  reopen(store: HubStore): Awaitable<HubStore>;
  dispose(store: HubStore): Awaitable<void>;
  readonly outlivesProcess: boolean;
}

export const settings: AthleteSettings = {
  floorSpo2Percent: percent(88),
  thresholdsPercent: [percent(95), percent(90)],
  heartRateLowBpm: 40,
  heartRateHighBpm: null,
  maxHoldDurationMs: null,
  forecastAlarm: 'medium',
};
export const ana: Athlete = { athleteId: 'ana', name: 'Ana Kostić', simulated: true, settings };
export const ben: Athlete = { athleteId: 'ben', name: 'Ben', simulated: true, settings };

export const sensor = (sensorId: string): SensorStatus => ({
  sensorId,
  name: `Sensor ${sensorId}`,
  kinds: ['oximeter'],
  source: 'simulated',
  link: 'connected',
  detail: null,
  batteryPercent: percent(80),
  rssiDbm: null,
});

export const packet = (sensorId: string, atMs: number, ...bytes: number[]): StoredPacket => ({
  sensorId,
  characteristic: '2a5f',
  bytes: Uint8Array.from(bytes),
  atMs: monotonicMs(atMs),
  wallAtMs: wallMs(1_790_000_000_000 + atMs),
});

export const mark = (markId: string, athleteId: string, atMs: number): StoredMark => ({
  mark: { markId, athleteId, kind: 'contraction', atMs: monotonicMs(atMs), text: null },
  removed: false,
});

export const hold = (holdId: string, athleteId: string, atMs: number): StoredHold => ({
  athleteId,
  hold: {
    holdId,
    start: {
      atMs: monotonicMs(atMs),
      uncertaintyMs: 0,
      declaredAtMs: monotonicMs(atMs),
      source: 'mark',
      evidence: [],
    },
    end: null,
    contractionCount: 0,
    firstContractionAtMs: null,
    lowestSpo2: null,
  },
  withdrawn: false,
});

export const alarm = (alarmId: string, athleteId: string, atMs: number): StoredAlarm => ({
  athleteId,
  alarm: {
    alarmId,
    kind: 'floorBreached',
    priority: 'high',
    highestPriority: 'high',
    raisedAtMs: monotonicMs(atMs),
    conditionPresent: true,
    timesPresent: 1,
    passedAtMs: null,
    acknowledged: false,
    acknowledgedAtMs: null,
    acknowledgedBy: null,
    value: 87,
    worstValue: null,
    worstAtMs: null,
    limit: null,
    likely: null,
    subject: null,
    sensorId: null,
    detail: null,
    holdNear: false,
    message: 'Saturation is below the floor.',
    instruction: 'Breathe now.',
  },
  clearedAtMs: null,
});

export function startSession(
  store: Pick<HubStore, 'startSession'>,
  sessionId: string,
  athletes: readonly Athlete[] = [ana, ben],
): ReturnType<HubStore['startSession']> {
  return store.startSession({
    sessionId,
    startedWallAtMs: wallMs(1_790_000_000_000),
    simulated: true,
    source: 'simulated',
    title: `Session ${sessionId}`,
    athletes: athletes.map((athlete) => ({ athlete, sensors: [sensor(`oxi-${athlete.athleteId}`)] })),
  });
}

export function storeContract(name: string, subject: StoreUnderTest): void {
  describe(`${name} as a store`, () => {
    let store: HubStore;
    beforeEach(async () => {
      store = await subject.open();
    });
    afterEach(async () => {
      await subject.dispose(store);
    });

    /** Thrown at once, or when asked whether it is saved. */
    const refused = async (action: () => unknown): Promise<void> => {
      const attempt = async (): Promise<void> => {
        await action();
        await store.saved?.();
      };
      await expect(attempt()).rejects.toSatisfy(
        (error) => error instanceof HubError && error.code === 'data.refused',
      );
    };
    const packetsOf = async (sessionId: string): Promise<StoredPacket[]> => {
      const packets: StoredPacket[] = [];
      for await (const each of store.readPackets(sessionId)) packets.push(each);
      return packets;
    };

    const columnsOf = async (sessionId: string): Promise<(readonly PacketColumns[])[]> => {
      const pieces: (readonly PacketColumns[])[] = [];
      for await (const piece of store.readPacketColumns(sessionId)) pieces.push(piece);
      return pieces;
    };

    test('begins empty and quiet', async () => {
      expect(store.listAthletes()).toEqual([]);
      expect(await store.listSessions()).toEqual([]);
      expect(store.sensorAssignments().size).toBe(0);
      expect(store.interruptedSessionIds).toEqual([]);
      expect(store.notices).toEqual([]);
      expect(await store.readSession('nothing')).toBeUndefined();
      expect(await packetsOf('nothing')).toEqual([]);
      expect(await columnsOf('nothing')).toEqual([]);
    });

    test('keeps athletes in the order first saved, and their sensors', async () => {
      store.saveAthlete(ben);
      store.saveAthlete(ana);
      store.saveAthlete({ ...ben, name: 'Benedikt' });
      store.assignSensor('oxi-1', 'ana');
      store.assignSensor('oxi-2', 'ana');
      store.assignSensor('oxi-2', 'ben');
      store.assignSensor('hr-1', 'ana');
      store.assignSensor('hr-1', null);
      store = await subject.reopen(store);
      expect(store.listAthletes()).toEqual([{ ...ben, name: 'Benedikt' }, ana]);
      expect([...store.sensorAssignments()].sort()).toEqual([
        ['oxi-1', 'ana'],
        ['oxi-2', 'ben'],
      ]);
      await refused(async () => store.assignSensor('oxi-1', 'nobody'));
    });

    test('an athlete taken off the list leaves recordings as they were', async () => {
      store.saveAthlete(ana);
      store.assignSensor('oxi-ana', 'ana');
      await startSession(store, 's1', [ana]);
      await store.endSession('s1', monotonicMs(1_000));
      store.removeAthlete('ana');
      expect(store.listAthletes()).toEqual([]);
      expect(store.sensorAssignments().size).toBe(0);
      expect((await store.readSession('s1'))?.athletes).toEqual([ana]);
    });

    test('a session is listed and read as it was saved, in the order first saved', async () => {
      await startSession(store, 's1');
      store.saveMark('s1', mark('m2', 'ana', 2_000));
      store.saveMark('s1', mark('m1', 'ben', 1_000));
      store.saveMark('s1', { ...mark('m2', 'ana', 2_500), removed: true });
      store.saveHold('s1', hold('h1', 'ana', 3_000));
      store.saveHold('s1', hold('h1', 'ben', 3_100));
      store.saveHold('s1', { ...hold('h2', 'ben', 3_200), withdrawn: true });
      store.saveAlarm('s1', alarm('a1', 'ana', 4_000));
      store.saveAlarm('s1', { ...alarm('a1', 'ana', 4_000), clearedAtMs: monotonicMs(5_000) });
      store.saveSettingsChange('s1', 'ana', monotonicMs(4_500), { ...settings, heartRateLowBpm: 45 });
      const link = {
        sensorId: 'oxi-ana',
        atMs: monotonicMs(4_600),
        link: 'lost' as const,
        detail: said('sensor.lost', { reason: said('link.outOfRange') }),
      };
      store.saveLinkEvent('s1', link);
      store.saveLinkEvent('s1', { ...link, atMs: monotonicMs(4_700), link: 'connected', detail: null });
      store.saveSessionSensor('s1', { ...sensor('hr-9'), athleteId: 'ben', fromMs: monotonicMs(700) });
      await store.endSession('s1', monotonicMs(6_000));
      store = await subject.reopen(store);

      const stored = await store.readSession('s1');
      expect(stored?.session).toEqual({
        sessionId: 's1',
        startedWallAtMs: 1_790_000_000_000,
        endedAtMs: 6_000,
        status: 'ended',
        simulated: true,
        source: 'simulated',
        title: 'Session s1',
        athleteIds: ['ana', 'ben'],
        unwatched: [],
        leaders: [],
      });
      expect(stored?.athletes).toEqual([ana, ben]);
      expect(stored?.sensors).toEqual([
        { ...sensor('oxi-ana'), athleteId: 'ana', fromMs: 0 },
        { ...sensor('oxi-ben'), athleteId: 'ben', fromMs: 0 },
        { ...sensor('hr-9'), athleteId: 'ben', fromMs: 700 },
      ]);
      expect(stored?.marks).toEqual([
        { ...mark('m2', 'ana', 2_500), removed: true },
        mark('m1', 'ben', 1_000),
      ]);
      expect(stored?.holds).toEqual([
        hold('h1', 'ana', 3_000),
        hold('h1', 'ben', 3_100),
        { ...hold('h2', 'ben', 3_200), withdrawn: true },
      ]);
      expect(stored?.alarms).toEqual([{ ...alarm('a1', 'ana', 4_000), clearedAtMs: 5_000 }]);
      expect(stored?.settingsChanges).toEqual([
        { athleteId: 'ana', atMs: 4_500, settings: { ...settings, heartRateLowBpm: 45 } },
      ]);
      expect(stored?.linkEvents).toEqual([link, { ...link, atMs: 4_700, link: 'connected', detail: null }]);
      expect(stored?.durationMs).toBe(6_000);
      expect(stored?.damage).toEqual([]);
      expect(await store.listSessions()).toEqual([
        {
          session: stored?.session,
          athleteNames: ['Ana Kostić', 'Ben'],
          parts: ['ana', 'ben'].map((athleteId) => ({
            athleteId,
            toldLive: { holdCount: 1, longestHoldMs: null, lowestSpo2Percent: null },
            workedOut: null,
          })),
          holdCount: 2,
          longestHoldMs: null,
          lowestSpo2Percent: null,
          durationMs: 6_000,
        },
      ]);
    });

    test('a session that was broken off is recorded on, with the gap in it', async () => {
      await startSession(store, 's1');
      for (let i = 0; i < 50; i++) store.appendPacket('s1', packet('oxi-ana', 100 * i, i));
      store.commit();
      store = await subject.reopen(store);
      // One that does not outlive its process is not found broken off.
      if (!store.interruptedSessionIds.includes('s1')) await store.endSession('s1', monotonicMs(4_900));
      const gap = {
        fromMs: monotonicMs(4_900),
        toMs: monotonicMs(9_000),
        fromWallMs: wallMs(1_790_000_004_900),
        toWallMs: wallMs(1_790_000_009_000),
        cause: 'hubDied',
      } as const;
      await store.resumeSession('s1', gap);
      for (let i = 90; i < 120; i++) store.appendPacket('s1', packet('oxi-ana', 100 * i, i));
      store.saveAlive('s1', { atMs: monotonicMs(11_000), wallMs: wallMs(1), bootId: null, bootMs: 3 });
      store.saveAlive('s1', { atMs: monotonicMs(12_000), wallMs: wallMs(2), bootId: null, bootMs: 4 });
      store.commit();
      expect((await store.readSession('s1'))?.session.status).toBe('recording');
      await store.endSession('s1', monotonicMs(12_000));
      store = await subject.reopen(store);
      const stored = await store.readSession('s1');
      expect(stored?.session).toMatchObject({ status: 'ended', endedAtMs: 12_000, unwatched: [gap] });
      expect(stored?.alive?.atMs).toBe(12_000);
      expect(stored?.damage).toEqual([]);
      const times = (await packetsOf('s1')).map(({ bytes }) => bytes[0]);
      expect(times).toEqual([
        ...Array.from({ length: 50 }, (_, i) => i),
        ...Array.from({ length: 30 }, (_, i) => 90 + i),
      ]);
      expect((await store.listSessions())[0]?.session.unwatched).toEqual([gap]);
    });

    test('what is being recorded, or is not there, is not taken up', async () => {
      await startSession(store, 's1');
      const gap = {
        fromMs: monotonicMs(0),
        toMs: monotonicMs(1),
        fromWallMs: wallMs(0),
        toWallMs: wallMs(1),
        cause: 'hubDied',
      } as const;
      await expect((async () => store.resumeSession('s1', gap))()).rejects.toThrow();
      await expect((async () => store.resumeSession('none', gap))()).rejects.toThrow();
    });

    test('sensor profiles come back with their session, to the byte', async () => {
      const profile: SensorProfile = {
        ...waveProfile,
        link: {
          ...waveProfile.link,
          start: [{ characteristic: 'fff1', bytes: Uint8Array.of(0xb0, 0, 0xff), withResponse: true }],
        },
        frame: { sync: Uint8Array.of(0xd1, 0x7e), length: { fixed: 8 }, checksum: null },
      };
      await store.startSession({
        sessionId: 'own',
        startedWallAtMs: wallMs(1_790_000_000_000),
        simulated: true,
        source: 'live',
        title: 'hex',
        athletes: [{ athlete: ana, sensors: [] }],
        profiles: [profile],
      });
      await startSession(store, 'plain');
      store = await subject.reopen(store);
      expect((await store.readSession('own'))?.profiles).toEqual([profile]);
      expect((await store.readSession('plain'))?.profiles).toEqual([]);
    });

    test('lists the newest session first', async () => {
      for (const [sessionId, startedWallAtMs] of [
        ['middle', 2_000],
        ['newest', 3_000],
        ['oldest', 1_000],
      ] as const) {
        await store.startSession({
          sessionId,
          startedWallAtMs: wallMs(startedWallAtMs),
          simulated: false,
          source: 'live',
          title: '',
          athletes: [{ athlete: ana, sensors: [] }],
        });
        await store.endSession(sessionId, monotonicMs(0));
      }
      expect((await store.listSessions()).map((summary) => summary.session.sessionId)).toEqual([
        'newest',
        'middle',
        'oldest',
      ]);
    });

    test('packets are there once committed, and not before', async () => {
      await startSession(store, 's1');
      store.appendPacket('s1', packet('oxi-ana', 10, 1, 2, 3));
      expect(await packetsOf('s1')).toEqual([]);
      store.commit();
      store.appendPacket('s1', packet('oxi-ana', 20, 4));
      expect(await packetsOf('s1')).toEqual([packet('oxi-ana', 10, 1, 2, 3)]);
      expect((await store.readSession('s1'))?.durationMs).toBe(10);
      store.commit('process');
      store.commit();
      expect(await packetsOf('s1')).toHaveLength(2);
    });

    test('anything else that is saved commits the packets before it', async () => {
      await startSession(store, 's1');
      store.appendPacket('s1', packet('oxi-ana', 10, 1));
      store.saveMark('s1', mark('m1', 'ana', 11));
      expect(await packetsOf('s1')).toHaveLength(1);
      store.appendPacket('s1', packet('oxi-ana', 20, 2));
      await store.endSession('s1', monotonicMs(21));
      expect(await packetsOf('s1')).toHaveLength(2);
    });

    test('the bytes of a packet are copied, since a radio uses its buffer again', async () => {
      await startSession(store, 's1');
      const bytes = Buffer.from([1, 2, 3]);
      store.appendPacket('s1', { ...packet('oxi-ana', 10), bytes });
      bytes.fill(9);
      store.commit();
      expect((await packetsOf('s1')).map((stored) => [...stored.bytes])).toEqual([[1, 2, 3]]);
    });

    test('any packets come back the same and in order, whenever committed, sealed or reopened', async () => {
      let round = 0;
      const steps = fc.array(
        fc.oneof(
          { weight: 6, arbitrary: fc.record({ do: fc.constant('append' as const), packets: anyPackets }) },
          { weight: 2, arbitrary: fc.record({ do: fc.constant('append' as const), packets: wavePackets }) },
          {
            weight: 4,
            arbitrary: fc.constantFrom({ do: 'commit' as const }, { do: 'commitToProcess' as const }),
          },
          { weight: 1, arbitrary: fc.constantFrom({ do: 'mark' as const }, { do: 'read' as const }) },
        ),
        { maxLength: 14 },
      );
      await fc.assert(
        fc.asyncProperty(steps, fc.boolean(), async (plan, reopens) => {
          const sessionId = `round-${round++}`;
          const expected: StoredPacket[] = [];
          await startSession(store, sessionId);
          for (const step of plan) {
            if (step.do === 'append') {
              for (const each of step.packets) {
                store.appendPacket(sessionId, each);
                expected.push(each);
              }
            } else if (step.do === 'commit') store.commit();
            else if (step.do === 'commitToProcess') store.commit('process');
            else if (step.do === 'mark') store.saveMark(sessionId, mark('m', 'ana', 1));
            else expect((await packetsOf(sessionId)).length).toBeLessThanOrEqual(expected.length);
          }
          await store.endSession(sessionId, monotonicMs(0));
          if (reopens) store = await subject.reopen(store);
          expect(samePackets(await packetsOf(sessionId), expected)).toBe(true);
          let columnCount = 0;
          for (const streams of await columnsOf(sessionId))
            for (const stream of streams) {
              columnCount += stream.atMs.length;
              const theirs = expected.filter(
                (each) => each.sensorId === stream.sensorId && each.characteristic === stream.characteristic,
              );
              expect(theirs.length).toBeGreaterThanOrEqual(stream.atMs.length);
            }
          expect(columnCount).toBe(expected.length);
          expect((await store.readSession(sessionId))?.damage).toEqual([]);
        }),
        { numRuns: 25 },
      );
    }, 30_000);

    test('a reader that is slow is not disturbed by what is written meanwhile', async () => {
      await startSession(store, 's1');
      const expected = Array.from({ length: 400 }, (_, i) => packet('oxi-ana', i, i & 255, i >> 8));
      for (const each of expected.slice(0, 300)) {
        store.appendPacket('s1', each);
        store.commit('process');
      }
      const read: StoredPacket[] = [];
      for await (const each of store.readPackets('s1')) {
        read.push(each);
        if (read.length !== 7) continue;
        for (const later of expected.slice(300)) store.appendPacket('s1', later);
        await store.endSession('s1', monotonicMs(400));
        await store.saved?.();
      }
      // What was there when it began is there; of what came meanwhile as much as it came to.
      expect(read.length).toBeGreaterThanOrEqual(300);
      expect(samePackets(read, expected.slice(0, read.length))).toBe(true);
    });

    test('refuses what makes no sense, and nothing has changed', async () => {
      await startSession(store, 's1');
      await refused(async () => startSession(store, 's1'));
      await refused(async () => store.appendPacket('other', packet('oxi-ana', 1, 1)));
      await refused(async () => store.endSession('other', monotonicMs(1)));
      await refused(async () => store.saveMark('other', mark('m1', 'ana', 1)));
      await refused(async () => store.deleteSession('other'));
      await refused(async () => store.deleteSession('s1'));
      store.saveAthlete(ana);
      await refused(async () => store.eraseAthlete('ana'));
      await store.endSession('s1', monotonicMs(1));
      await refused(async () => store.endSession('s1', monotonicMs(2)));
      await refused(async () => store.appendPacket('s1', packet('oxi-ana', 1, 1)));
      expect((await store.readSession('s1'))?.session.endedAtMs).toBe(1);
      expect(store.listAthletes()).toEqual([ana]);
    });

    test('a deleted session is gone, and the others are not', async () => {
      for (const sessionId of ['s1', 's2']) {
        await startSession(store, sessionId);
        store.appendPacket(sessionId, packet('oxi-ana', 5, 7));
        store.saveMark(sessionId, mark('m1', 'ana', 6));
        await store.endSession(sessionId, monotonicMs(10));
      }
      await store.deleteSession('s1');
      store = await subject.reopen(store);
      expect(await store.readSession('s1')).toBeUndefined();
      expect(await packetsOf('s1')).toEqual([]);
      expect(await packetsOf('s2')).toEqual([packet('oxi-ana', 5, 7)]);
      await startSession(store, 's3');
      expect((await store.readSession('s3'))?.marks).toEqual([]);
      expect(await packetsOf('s3')).toEqual([]);
    });

    test('erasing an athlete takes everything of theirs, also from shared sessions and shared sensors', async () => {
      store.saveAthlete(ana);
      store.saveAthlete(ben);
      await startSession(store, 'alone', [ana]);
      await store.endSession('alone', monotonicMs(1));
      await startSession(store, 'shared');
      const bens = [packet('oxi-ben', 20, 2), packet('oxi-ana', 60, 6), packet('unworn', 61, 9)];
      store.appendPacket('shared', packet('oxi-ana', 10, 1));
      store.appendPacket('shared', bens[0]!);
      store.appendPacket('shared', packet('oxi-ana', 49, 5));
      // Ana's oximeter goes to Ben at 50 ms.
      store.saveSessionSensor('shared', { ...sensor('oxi-ana'), athleteId: 'ben', fromMs: monotonicMs(50) });
      store.appendPacket('shared', bens[1]!);
      store.appendPacket('shared', bens[2]!);
      const lost = { link: 'lost' as const, detail: null };
      store.saveLinkEvent('shared', { sensorId: 'oxi-ana', atMs: monotonicMs(30), ...lost });
      store.saveLinkEvent('shared', { sensorId: 'oxi-ana', atMs: monotonicMs(70), ...lost });
      for (const who of ['ana', 'ben']) {
        store.saveMark('shared', mark(`m-${who}`, who, 30));
        store.saveHold('shared', hold('h1', who, 30));
        store.saveAlarm('shared', alarm('a1', who, 30));
        store.saveSettingsChange('shared', who, monotonicMs(30), settings);
      }
      await store.endSession('shared', monotonicMs(100));
      await store.eraseAthlete('ana');
      store = await subject.reopen(store);

      expect(store.listAthletes()).toEqual([ben]);
      expect(await store.readSession('alone')).toBeUndefined();
      const shared = await store.readSession('shared');
      expect(shared?.athletes).toEqual([ben]);
      expect(shared?.session.athleteIds).toEqual(['ben']);
      expect(JSON.stringify(shared)).not.toContain('"ana"');
      expect(shared?.marks).toEqual([mark('m-ben', 'ben', 30)]);
      expect(shared?.holds).toEqual([hold('h1', 'ben', 30)]);
      // Nobody ended it: it ends with the session.
      expect(shared?.alarms).toEqual([{ ...alarm('a1', 'ben', 30), clearedAtMs: 100 }]);
      expect(shared?.settingsChanges).toHaveLength(1);
      expect(shared?.linkEvents.map((event) => event.atMs)).toEqual([70]);
      expect(await packetsOf('shared')).toEqual(bens);
      expect(shared?.damage).toEqual([]);
    });

    test('summaries are kept by the rules that made them, and go with a correction, their athlete or session', async () => {
      for (const id of ['one', 'two']) {
        await startSession(store, id);
        await store.endSession(id, monotonicMs(5_000));
      }
      await store.saveSummary('one', 'ana', 'rules-1', { durationS: [61, null] });
      await store.saveSummary('one', 'ben', 'rules-1', { durationS: [] });
      await store.saveSummary('two', 'ana', 'rules-2', null);
      await expect((async () => store.saveSummary('nothing', 'ana', 'rules-1', null))()).rejects.toThrow(
        'no session',
      );
      store = await subject.reopen(store);
      expect([...(await store.listSummaries('ana', 'rules-1'))]).toEqual([
        ['one', { durationS: [61, null] }],
      ]);
      expect([...(await store.listSummaries('ana', 'rules-2'))]).toEqual([['two', null]]);
      expect([...(await store.listOtherSummaries('ana', 'rules-1'))]).toEqual([['two', null]]);
      expect([...(await store.listOtherSummaries('ben', 'rules-1'))]).toEqual([]);
      await store.saveSummary('two', 'ana', 'rules-1', { durationS: [5] });
      expect([...(await store.listSummaries('ana', 'rules-2'))]).toEqual([]);
      await store.addCorrection('one', {
        athleteId: 'ana',
        step: {
          correctionId: 'c',
          madeWallAtMs: 1_700_000_000_000,
          correction: { type: 'removeHold', holdId: 'h1' },
          estimated: null,
        },
      });
      expect([...(await store.listSummaries('ana', 'rules-1')).keys()]).toEqual(['two']);
      expect([...(await store.listSummaries('ben', 'rules-1')).keys()]).toEqual(['one']);
      await store.eraseAthlete('ana');
      expect([...(await store.listSummaries('ana', 'rules-1'))]).toEqual([]);
      await store.deleteSession('one');
      expect([...(await store.listSummaries('ben', 'rules-1'))]).toEqual([]);
    });

    test('the list says what a kept summary says of a part, and by which rules, until it goes', async () => {
      const figures = { holdCount: 3, longestHoldMs: 61_250, lowestSpo2Percent: 82 };
      const ofAna = { madeBy: 'rules-1', figures };
      const workedOut = async () =>
        Object.fromEntries(
          (await store.listSessions()).map(({ session, parts }) => [
            session.sessionId,
            parts.map((part) => part.workedOut),
          ]),
        );
      for (const id of ['one', 'two']) {
        await startSession(store, id, [ana, ben]);
        await store.endSession(id, monotonicMs(5_000));
      }
      expect(await workedOut()).toEqual({ one: [null, null], two: [null, null] });
      await store.saveSummary('one', 'ana', 'rules-1', { figures, startAtMs: [] });
      // Of before figures were in it, or of none that can be read.
      await store.saveSummary('one', 'ben', 'rules-1', { startAtMs: [] });
      await store.saveSummary('two', 'ben', 'rules-1', { figures: { holdCount: 'many' } });
      expect(await workedOut()).toEqual({ one: [ofAna, null], two: [null, null] });
      store = await subject.reopen(store);
      expect(await workedOut()).toEqual({ one: [ofAna, null], two: [null, null] });
      const better = { ...figures, holdCount: 4 };
      await store.saveSummary('one', 'ana', 'rules-2', { figures: better });
      await store.saveSummary('two', 'ben', 'rules-2', { figures });
      const ofBen = { madeBy: 'rules-2', figures };
      expect(await workedOut()).toEqual({
        one: [{ madeBy: 'rules-2', figures: better }, null],
        two: [null, ofBen],
      });
      await store.addCorrection('one', {
        athleteId: 'ana',
        step: {
          correctionId: 'c',
          madeWallAtMs: 1_700_000_000_000,
          correction: { type: 'removeHold', holdId: 'h1' },
          estimated: null,
        },
      });
      expect(await workedOut()).toEqual({ one: [null, null], two: [null, ofBen] });
      await store.binRecording('two', 'ana', wallMs(1_700_000_100_000));
      expect(await workedOut()).toEqual({ one: [null, null], two: [ofBen] });
    });

    test('corrections are kept in the order they were made, once each, and go with their athlete or session', async () => {
      await startSession(store, 'one');
      await store.endSession('one', monotonicMs(5_000));
      const step = (correctionId: string, athleteId: string): StoredCorrection => ({
        athleteId,
        step: {
          correctionId,
          madeWallAtMs: 1_700_000_000_000,
          correction: { type: 'addHold', startMs: monotonicMs(100), endMs: monotonicMs(2_000) },
          estimated: null,
        },
      });
      const steps = [step('z', 'ana'), step('a', 'ben'), step('m', 'ana')];
      for (const each of steps) await store.addCorrection('one', each);
      store = await subject.reopen(store);
      expect((await store.readSession('one'))?.corrections).toEqual(steps);
      await expect((async () => store.addCorrection('one', step('a', 'ana')))()).rejects.toThrow('already');
      await expect((async () => store.addCorrection('nothing', step('b', 'ana')))()).rejects.toThrow(
        'no session',
      );
      await store.eraseAthlete('ana');
      expect((await store.readSession('one'))?.corrections).toEqual([step('a', 'ben')]);
      await store.deleteSession('one');
      await startSession(store, 'two', [ben]);
      expect((await store.readSession('two'))?.corrections).toEqual([]);
    });

    test('who led is kept, said otherwise, and goes with whoever is erased, by id and by name', async () => {
      const runa = { leaderId: 'led-1', name: 'Runa Sjöholm' };
      const jorid = { leaderId: 'led-2', name: 'Jorid Aalto' };
      await store.startSession({
        sessionId: 'one',
        startedWallAtMs: wallMs(1_790_000_000_000),
        simulated: true,
        source: 'simulated',
        title: 'One',
        athletes: [{ athlete: ben, sensors: [] }],
        leaders: [runa, jorid],
      });
      const raised = alarm('a1', 'ben', 1_000);
      store.saveAlarm('one', { ...raised, alarm: { ...raised.alarm, acknowledgedBy: 'RUNA SJOHOLM' } });
      await refused(async () => store.eraseAthlete('led-1'));
      await store.endSession('one', monotonicMs(9_000));
      await startSession(store, 'two', [ben]);
      await store.endSession('two', monotonicMs(9_000));
      // Of before its list was read: another id of the same name; and one who has the name of an athlete.
      await store.nameLeaders('two', [
        { leaderId: 'led-3', name: 'Runa Sjöholm' },
        { leaderId: 'led-4', name: ana.name },
      ]);
      store = await subject.reopen(store);
      const leadersOf = async (sessionId: string) => (await store.readSession(sessionId))?.session.leaders;
      expect(await leadersOf('one')).toEqual([runa, jorid]);
      expect((await store.listSessions()).map(({ session }) => session.leaders.length)).toEqual([2, 2]);
      await store.eraseAthlete('led-1');
      expect(await leadersOf('one')).toEqual([jorid]);
      expect(await leadersOf('two')).toEqual([{ leaderId: 'led-4', name: ana.name }]);
      expect((await store.readSession('one'))?.alarms[0]?.alarm.acknowledgedBy).toBeNull();
      store.saveAthlete(ana);
      await store.eraseAthlete('ana');
      store = await subject.reopen(store);
      expect(await leadersOf('two')).toEqual([]);
      const listed = new Map(
        (await store.listSessions()).map(({ session }) => [session.sessionId, session.leaders]),
      );
      expect(Object.fromEntries(listed)).toEqual({ one: [jorid], two: [] });
    });

    test('documents of every kind are kept', async () => {
      // A record, so that a kind added to the type and not here does not compile.
      const kinds = Object.keys({
        plan: 0,
        planRun: 0,
        planRunAthlete: 0,
        planRunEvent: 0,
        training: 0,
        oxygenPrior: 0,
        participant: 0,
        emergencyCard: 0,
        drill: 0,
        incident: 0,
        binned: 0,
        sessionDetails: 0,
        sharing: 0,
      } satisfies Record<DocumentKind, 0>) as DocumentKind[];
      for (const kind of kinds)
        store.saveDocument({ kind, documentId: 'd', groupId: null, athleteId: 'ana', body: { kind } });
      store = await subject.reopen(store);
      for (const kind of kinds) expect(store.readDocument(kind, 'd')?.body).toEqual({ kind });
      await store.eraseAthlete('ana');
      for (const kind of kinds) expect(store.readDocument(kind, 'd')).toBeUndefined();
    });

    test('one athlete’s part becomes another’s as a whole; not where that one is in it already', async () => {
      const cleo: Athlete = { ...ana, athleteId: 'cleo', name: 'Cleo' };
      store.saveAthlete(cleo);
      await startSession(store, 'one', [ana, ben]);
      store.saveMark('one', mark('m1', 'ana', 1_000));
      store.saveHold('one', hold('h1', 'ana', 2_000));
      store.saveHold('one', hold('h1', 'ben', 2_000));
      await store.endSession('one', monotonicMs(9_000));
      await store.addCorrection('one', {
        athleteId: 'ana',
        step: {
          correctionId: 'c1',
          madeWallAtMs: 1_790_000_100_000,
          correction: { type: 'removeHold', holdId: 'h1' },
          estimated: { startMs: monotonicMs(2_000), endMs: null },
        },
      });
      await store.saveSummary('one', 'ana', 'rules-1', { durationS: [61] });
      await store.reassignPart('one', 'ana', { athleteId: 'cleo', name: 'Cleo' });
      const whole = (await store.readSession('one'))!;
      expect(whole.damage).toEqual([]);
      expect(whole.session.athleteIds).toEqual(['cleo', 'ben']);
      expect(whole.athletes[0]?.name).toBe(cleo.name);
      expect(whole.marks.map(({ mark: { markId, athleteId } }) => [markId, athleteId])).toEqual([
        ['m1', 'cleo'],
      ]);
      expect(whole.holds.map(({ athleteId, hold: { holdId } }) => [athleteId, holdId])).toEqual([
        ['cleo', 'h1'],
        ['ben', 'h1'],
      ]);
      expect(whole.corrections.map(({ athleteId }) => athleteId)).toEqual(['cleo']);
      expect(whole.sensors.map(({ athleteId }) => athleteId)).toEqual(['cleo', 'ben']);
      expect([...(await store.listSummaries('cleo', 'rules-1'))]).toEqual([]);
      expect((await store.listSessions())[0]).toMatchObject({
        session: { athleteIds: ['cleo', 'ben'] },
        holdCount: 2,
      });
      for (const from of ['cleo', 'nobody'])
        await expect(
          (async () => store.reassignPart('one', from, { athleteId: 'ben', name: 'Ben' }))(),
        ).rejects.toThrow();
      store = await subject.reopen(store);
      expect((await store.readSession('one'))?.session.athleteIds).toEqual(['cleo', 'ben']);
    });

    test('documents keep their place and group, are replaced by id, and go with their athlete', async () => {
      const plan = (documentId: string, body: unknown) =>
        ({ kind: 'plan', documentId, groupId: null, athleteId: null, body }) as const;
      const event = (documentId: string, athleteId: string | null) =>
        ({ kind: 'planRunEvent', documentId, groupId: 'run-1', athleteId, body: { n: documentId } }) as const;
      const run = { ...plan('run-1', { x: 1 }), kind: 'planRun' } as const;
      for (const document of [plan('p1', { a: 1 }), plan('p2', ['ü', null]), run])
        store.saveDocument(document);
      store.saveDocument(plan('p1', { a: 2 }));
      for (const document of [event('e1', 'ana'), event('e2', 'ben'), event('e3', null)])
        store.saveDocument(document);
      store = await subject.reopen(store);
      expect(store.listDocuments('plan')).toEqual([plan('p1', { a: 2 }), plan('p2', ['ü', null])]);
      expect(store.listDocuments('planRunEvent', 'run-1')).toHaveLength(3);
      expect(store.listDocuments('planRunEvent', 'run-2')).toEqual([]);
      expect(store.readDocument('plan', 'p2')?.body).toEqual(['ü', null]);
      expect(store.readDocument('training', 'p2')).toBeUndefined();
      await store.eraseAthlete('ana');
      expect(store.listDocuments('planRunEvent', 'run-1')).toEqual([event('e2', 'ben'), event('e3', null)]);
      expect(store.removeDocument('planRun', 'run-1')).toBe(true);
      expect(store.removeDocument('planRun', 'run-1')).toBe(false);
      store = await subject.reopen(store);
      expect(store.listDocuments('planRunEvent')).toEqual([]);
      expect(store.listDocuments('plan')).toHaveLength(2);
    });

    test.runIf(subject.outlivesProcess)(
      'a session never ended is found interrupted, at the last thing committed',
      async () => {
        await startSession(store, 's1');
        store.appendPacket('s1', packet('oxi-ana', 1_234, 1));
        store.commit();
        await startSession(store, 's2');
        store.saveMark('s2', mark('m1', 'ana', 77));
        store = await subject.reopen(store);
        expect([...store.interruptedSessionIds].sort()).toEqual(['s1', 's2']);
        expect((await store.readSession('s1'))?.session).toMatchObject({
          status: 'interrupted',
          endedAtMs: 1_234,
        });
        expect((await store.readSession('s2'))?.session).toMatchObject({
          status: 'interrupted',
          endedAtMs: 77,
        });
        expect(await packetsOf('s1')).toEqual([packet('oxi-ana', 1_234, 1)]);
        await refused(async () => store.appendPacket('s1', packet('oxi-ana', 2_000, 2)));
        store = await subject.reopen(store);
        expect(store.interruptedSessionIds).toEqual([]);
        expect((await store.readSession('s1'))?.session.status).toBe('interrupted');
      },
    );
  });
}
