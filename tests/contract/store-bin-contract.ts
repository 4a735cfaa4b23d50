// What every recorder must do with recordings in the bin, with titles, and with names that change.

import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { HubError } from '../../hub/base/hub-error.ts';
import type { HubStore } from '../../hub/base/ports/hub-store.ts';
import { monotonicMs, percent, wallMs } from '../../shared/units.ts';
import { ana, ben, hold, mark, packet, type StoreUnderTest, startSession } from './store-contract.ts';

const binnedAt = wallMs(1_790_000_500_000);

export function storeBinContract(name: string, subject: StoreUnderTest): void {
  describe(`${name} and its bin`, () => {
    let store: HubStore;
    beforeEach(async () => {
      store = await subject.open();
    });
    afterEach(async () => {
      await subject.dispose(store);
    });

    const refused = (action: () => unknown): Promise<void> =>
      expect((async () => action())()).rejects.toSatisfy(
        (error) => error instanceof HubError && error.code === 'data.refused',
      );
    const sensorsOfPackets = async (sessionId: string): Promise<string[]> => {
      const ids: string[] = [];
      for await (const each of store.readPackets(sessionId)) ids.push(each.sensorId);
      return ids;
    };
    const sensorsOfColumns = async (sessionId: string): Promise<string[]> => {
      const ids = new Set<string>();
      for await (const piece of store.readPacketColumns(sessionId))
        for (const columns of piece) ids.add(columns.sensorId);
      return [...ids];
    };
    async function recordBoth(sessionId: string): Promise<void> {
      await startSession(store, sessionId);
      for (const athleteId of ['ana', 'ben']) {
        store.appendPacket(sessionId, packet(`oxi-${athleteId}`, 5, 7));
        store.saveMark(sessionId, mark(`m-${athleteId}`, athleteId, 6));
        const { hold: begun } = hold(`h-${athleteId}`, athleteId, 1_000);
        const end = { ...begun.start, atMs: monotonicMs(athleteId === 'ana' ? 91_000 : 61_000) };
        const lowestSpo2 = {
          value: percent(athleteId === 'ana' ? 84 : 90),
          atMs: monotonicMs(50_000),
          quality: 'good' as const,
          reasons: [],
          sensorId: `oxi-${athleteId}`,
        };
        store.saveHold(sessionId, { athleteId, hold: { ...begun, end, lowestSpo2 }, withdrawn: false });
      }
      store.saveLinkEvent(sessionId, {
        sensorId: 'oxi-ana',
        atMs: monotonicMs(7),
        link: 'lost',
        detail: null,
      });
      await store.endSession(sessionId, monotonicMs(100_000));
    }

    test('a whole recording is hidden, and comes back as it was', async () => {
      await recordBoth('s1');
      const before = await store.readSession('s1');
      await store.binRecording('s1', null, binnedAt);
      store = await subject.reopen(store);
      expect(await store.listSessions()).toEqual([]);
      expect(await store.readSession('s1')).toBeUndefined();
      expect(await store.listBinned()).toMatchObject([
        { athleteId: null, atWallMs: binnedAt, athletes: [{ name: 'Ana Kostić' }, { name: 'Ben' }] },
      ]);
      await refused(() => store.binRecording('s1', null, binnedAt));
      await store.unbinRecording('s1', null);
      expect(await store.readSession('s1')).toEqual(before);
      expect(await store.listBinned()).toEqual([]);
      await refused(() => store.unbinRecording('s1', null));
      expect(await sensorsOfPackets('s1')).toEqual(['oxi-ana', 'oxi-ben']);
    });

    test('one athlete’s part is hidden with all that is theirs; the last part that shows goes with the whole', async () => {
      await recordBoth('s1');
      const before = await store.readSession('s1');
      await store.binRecording('s1', 'ana', binnedAt);
      store = await subject.reopen(store);
      const shown = (await store.readSession('s1'))!;
      expect(JSON.stringify(shown)).not.toMatch(/ana/i);
      expect(shown.athletes).toEqual([ben]);
      expect(await sensorsOfPackets('s1')).toEqual(['oxi-ben']);
      expect(await sensorsOfColumns('s1')).toEqual(['oxi-ben']);
      expect(await store.listSessions()).toMatchObject([
        { athleteNames: ['Ben'], holdCount: 1, longestHoldMs: 60_000, lowestSpo2Percent: 90 },
      ]);
      await refused(() => store.binRecording('s1', 'ana', binnedAt));
      await store.binRecording('s1', 'ben', wallMs(binnedAt + 1));
      expect(await store.listSessions()).toEqual([]);
      expect(
        (await store.listBinned()).map(({ athleteId, athletes }) => [athleteId, athletes.length]),
      ).toEqual([
        [null, 1],
        ['ana', 1],
      ]);
      await store.unbinRecording('s1', null);
      await store.unbinRecording('s1', 'ana');
      expect(await store.readSession('s1')).toEqual(before);
    });

    test('a part is deleted for good, packets too, and the others are not', async () => {
      await recordBoth('s1');
      await store.binRecording('s1', 'ana', binnedAt);
      await store.deletePart('s1', 'ana');
      store = await subject.reopen(store);
      expect(await store.listBinned()).toEqual([]);
      expect((await store.readSession('s1'))?.athletes).toEqual([ben]);
      expect(await sensorsOfPackets('s1')).toEqual(['oxi-ben']);
      await store.deletePart('s1', 'ben');
      expect(await store.listSessions()).toEqual([]);
      await refused(() => store.deletePart('s1', 'ben'));
    });

    test('erasing an athlete takes what lies in the bin along', async () => {
      store.saveAthlete(ana);
      store.saveAthlete(ben);
      await recordBoth('s1');
      await startSession(store, 's2', [ana]);
      await store.endSession('s2', monotonicMs(5));
      await store.binRecording('s1', 'ana', binnedAt);
      await store.binRecording('s2', null, binnedAt);
      await store.eraseAthlete('ana');
      expect(await store.listBinned()).toEqual([]);
      expect((await store.readSession('s1'))?.athletes).toEqual([ben]);
      expect(await sensorsOfPackets('s1')).toEqual(['oxi-ben']);
    });

    test('nothing of a session under way goes into the bin', async () => {
      await startSession(store, 's1');
      await refused(() => store.binRecording('s1', null, binnedAt));
      await refused(() => store.deletePart('s1', 'ana'));
      await refused(() => store.binRecording('other', null, binnedAt));
      expect(await store.listSessions()).toHaveLength(1);
    });

    test('a title can be given afterwards', async () => {
      await recordBoth('s1');
      await store.titleSession('s1', 'Evening in the hall');
      store = await subject.reopen(store);
      expect((await store.readSession('s1'))?.session.title).toBe('Evening in the hall');
      await refused(() => store.titleSession('other', 'x'));
    });

    test('recordings have the names that athletes have now, and the last one of who left the list', async () => {
      store.saveAthlete(ana);
      store.saveAthlete(ben);
      await recordBoth('s1');
      store.saveAthlete({ ...ana, name: 'Ana Marić' });
      expect((await store.readSession('s1'))?.athletes.map(({ name: called }) => called)).toEqual([
        'Ana Marić',
        'Ben',
      ]);
      expect((await store.listSessions())[0]?.athleteNames).toEqual(['Ana Marić', 'Ben']);
      store.removeAthlete('ana');
      store = await subject.reopen(store);
      expect((await store.readSession('s1'))?.athletes[0]?.name).toBe('Ana Marić');
      await store.binRecording('s1', null, binnedAt);
      store.saveAthlete({ ...ben, name: 'Benedikt' });
      expect((await store.listBinned())[0]?.athletes.map(({ name: called }) => called)).toEqual([
        'Ana Marić',
        'Benedikt',
      ]);
    });
  });
}
