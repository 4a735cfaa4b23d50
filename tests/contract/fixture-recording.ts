// The recording inside fixtures/databases: made once by a script, and compared with whenever a version is opened.

import type { StoredDocument } from '../../hub/base/ports/documents.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import type {
  StoredAlive,
  StoredChange,
  StoredCorrection,
  StoredPacket,
  StoredSchedule,
} from '../../hub/base/ports/stored-session.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';
import type { UnwatchedSpan } from '../../shared/views.ts';
import { alarm, ana, ben, hold, mark, packet, sensor, settings, startSession } from './store-contract.ts';

/** Two sensors, one with a wave of ten samples in a packet. */
export const fixturePackets: readonly StoredPacket[] = Array.from({ length: 400 }, (_, i) => {
  if (i % 10 === 0) return packet('oxi-ana', 100 * i, 0x14, 98 - ((i >> 6) & 3), 0, 60 + (i % 7), 0);
  const bytes: number[] = [];
  for (let k = 0; k < 10; k++) {
    const value = Math.round(2_048 + 500 * Math.sin((10 * i + k) / 16));
    bytes.push(value & 255, value >> 8);
  }
  return { ...packet('oxi-ben', 100 * i + 0.25, ...bytes), characteristic: 'f00d' };
});

/** Kept since version 2. */
export const fixtureDocument: StoredDocument = {
  kind: 'training',
  documentId: 'training-1',
  groupId: null,
  athleteId: 'ana',
  body: { note: 'easy walk', minutes: 12 },
};

/** Kept since version 3. */
export const fixtureCorrection: StoredCorrection = {
  athleteId: 'ana',
  step: {
    correctionId: 'c1',
    madeWallAtMs: 1_700_000_100_000,
    correction: { type: 'moveBoundary', holdId: 'h1', boundary: 'end', atMs: monotonicMs(20_000) },
    estimated: { startMs: monotonicMs(11_000), endMs: null },
  },
};

/** Kept since version 4. */
export const fixtureSummary = { madeBy: '1', body: { holds: [12.5, null] } } as const;

/** Kept since version 5. */
export const fixturePrior: StoredDocument = {
  kind: 'oxygenPrior',
  documentId: 'ana',
  groupId: null,
  athleteId: 'ana',
  body: { holdCount: 2 },
};

/** Kept since version 7. */
export const fixtureChange: StoredChange = {
  athleteId: 'ben',
  atMs: monotonicMs(15_000),
  change: 'sensorTaken',
  sensor: { sensorId: 'hr-ben', name: 'Strap' },
  by: '',
};
export const fixtureParticipant: StoredDocument = {
  kind: 'participant',
  documentId: 'ana',
  groupId: null,
  athleteId: 'ana',
  body: { statements: [] },
};

/** Kept since version 10. */
export const fixtureDetails: StoredDocument = {
  kind: 'sessionDetails',
  documentId: 'whole ana',
  groupId: 'whole',
  athleteId: 'ana',
  body: { tags: ['morning'] },
};

/** Kept since version 8. */
export const fixtureUnwatched: UnwatchedSpan = {
  fromMs: monotonicMs(20_000),
  toMs: monotonicMs(24_500),
  fromWallMs: wallMs(1_790_000_020_000),
  toWallMs: wallMs(1_790_000_024_500),
  cause: 'hubDied',
};
export const fixtureSchedule: StoredSchedule = {
  athleteId: 'ana',
  atMs: monotonicMs(9_000),
  startAtMs: monotonicMs(11_000),
  toleranceMs: 8_000,
};
export const fixtureAlive: StoredAlive = {
  atMs: monotonicMs(39_500),
  wallMs: wallMs(1_790_000_039_500),
  bootId: 'boot-1',
  bootMs: 81_250,
};

/** An ended session with one of everything, and one that was interrupted. */
export function fillFixture(store: Store): void {
  store.saveAthlete(ana);
  store.saveAthlete(ben);
  store.assignSensor('oxi-ana', 'ana');
  startSession(store, 'whole');
  fixturePackets.forEach((each, i) => {
    store.appendPacket('whole', each);
    if (i % 50 === 49) store.commit();
  });
  store.saveSessionSensor('whole', { ...sensor('hr-ben'), athleteId: 'ben', fromMs: monotonicMs(900) });
  store.saveMark('whole', mark('m1', 'ana', 10_000));
  store.saveHold('whole', hold('h1', 'ana', 11_000));
  store.saveAlarm('whole', alarm('a1', 'ana', 12_000));
  store.saveSettingsChange('whole', 'ana', monotonicMs(13_000), { ...settings, heartRateLowBpm: 42 });
  store.saveLinkEvent('whole', {
    sensorId: 'oxi-ana',
    atMs: monotonicMs(14_000),
    link: 'lost',
    detail: null,
  });
  store.saveSessionChange('whole', fixtureChange);
  store.saveSchedule('whole', fixtureSchedule);
  store.saveUnwatched('whole', fixtureUnwatched);
  store.saveAlive('whole', fixtureAlive);
  store.endSession('whole', monotonicMs(40_000));
  store.saveDocument(fixtureDocument);
  store.saveDocument(fixturePrior);
  store.saveDocument(fixtureParticipant);
  store.saveDocument(fixtureDetails);
  store.addCorrection('whole', fixtureCorrection);
  store.saveSummary('whole', 'ana', fixtureSummary.madeBy, fixtureSummary.body);
  startSession(store, 'left-open', [ana]);
  store.appendPacket('left-open', packet('oxi-ana', 700, 1, 2, 3));
  store.commit();
}
