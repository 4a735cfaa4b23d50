// What the list of recordings says of holds, and what that rests on: worked out, by an earlier version, or only told live; of all
// who may be seen, and of the own part.

import { beforeEach, expect, test } from 'vitest';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openStoreInMemory, type SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { ownMachineAccess, type PageAccess } from '../../hub/server/access.ts';
import { createRecordingList } from '../../hub/server/recording-list.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';
import { writeSession } from '../support/written-sessions.ts';

let store: SqliteStore;
let list: ReturnType<typeof createRecordingList>;
beforeEach(() => {
  store = openStoreInMemory();
  list = createRecordingList(store, { list: () => [] } as never, 'rules now');
});

const ada: PageAccess = { ...ownMachineAccess, role: 'athlete', athleteIds: ['ada'] };
const writeGroup = (ended = true): void =>
  writeSession(store, {
    sessionId: 'both',
    athleteId: 'ada',
    athleteName: 'Ada',
    others: [{ athleteId: 'ben', athleteName: 'Ben' }],
    startedWallAtMs: Date.UTC(2031, 4, 10),
    title: '',
    holdsS: [70, 80],
    ended,
  });

async function said(access: PageAccess = ownMachineAccess) {
  const lines = await list.listed(access);
  return lines.map((line) => ({
    names: line.athleteNames,
    figures: [line.holdCount, line.longestHoldMs, line.lowestSpo2Percent],
    by: line.figuresBy,
    missing: list.missing(line).map(({ athleteId }) => athleteId),
  }));
}
const keep = (athleteId: string, madeBy: string, holdCount: number, longestHoldMs: number, lowest: number) =>
  store.saveSummary('both', athleteId, madeBy, {
    figures: { holdCount, longestHoldMs, lowestSpo2Percent: lowest },
  });

test('told live until every part is worked out; then that, by the rules of this hub', async () => {
  writeGroup();
  expect(await said()).toMatchObject([
    { figures: [4, 80_000, null], by: 'live', missing: ['ada', 'ben'], names: ['Ada', 'Ben'] },
  ]);
  keep('ada', 'rules now', 3, 95_250, 81);
  expect(await said()).toMatchObject([{ figures: [5, 95_250, 81], by: 'live', missing: ['ben'] }]);
  keep('ben', 'rules before', 1, 60_000, 79.5);
  expect(await said()).toMatchObject([
    { figures: [4, 95_250, 79.5], by: 'earlierVersion', missing: ['ben'] },
  ]);
  keep('ben', 'rules now', 1, 61_000, 80);
  expect(await said()).toMatchObject([{ figures: [4, 95_250, 80], by: 'analysis', missing: [] }]);
});

test('an athlete sees the figures of the own part alone', async () => {
  writeGroup();
  expect(await said(ada)).toMatchObject([
    { names: ['Ada'], figures: [2, 80_000, null], by: 'live', missing: ['ada'] },
  ]);
  keep('ben', 'rules now', 9, 300_000, 60);
  keep('ada', 'rules now', 3, 95_250, 81);
  expect(await said(ada)).toMatchObject([
    { names: ['Ada'], figures: [3, 95_250, 81], by: 'analysis', missing: [] },
  ]);
});

test('nothing of a recording that still goes on is to be worked out', async () => {
  writeGroup(false);
  expect(await said()).toMatchObject([{ by: 'live', missing: [] }]);
});

test('lines that changed are those of a list read anew, whether few were or many', () => {
  const count = 700;
  store.syncOnlyOnCommit = true;
  const oda = { athleteId: 'oda', name: 'Oda', simulated: true, settings: initialSettings };
  for (let index = 0; index < count; index += 1) {
    store.startSession({
      sessionId: `s${index}`,
      startedWallAtMs: wallMs(Date.UTC(2031, 4, 10) + index * 3_600_000),
      simulated: true,
      source: 'simulated',
      title: '',
      athletes: [{ athlete: oda, sensors: [] }],
    });
    store.endSession(`s${index}`, monotonicMs(1_000));
  }
  const counts = () =>
    new Map(
      store
        .listSessions()
        .map(({ session, parts }) => [session.sessionId, parts[0]!.workedOut?.figures.holdCount ?? null]),
    );
  const expected = new Map([...counts().keys()].map((sessionId) => [sessionId, null as number | null]));
  expect(expected.size).toBe(count);
  for (const [step, changedCount] of [1, 60, 200].entries()) {
    for (let index = 0; index < changedCount; index += 1) {
      const [sessionId, holdCount] = [`s${3 * index}`, 1_000 * step + index];
      const figures = { holdCount, longestHoldMs: null, lowestSpo2Percent: null };
      store.saveSummary(sessionId, 'oda', 'rules now', { figures });
      expected.set(sessionId, holdCount);
    }
    expect(counts()).toEqual(expected);
  }
});
