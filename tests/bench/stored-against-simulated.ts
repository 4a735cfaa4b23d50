// What the simulator of a demo sends, made anew, against what was stored of it: every packet, byte by byte. Within 1.1 s of a lost
// link they are left out, where the moment of the loss decides.

import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { scenarioAthletes } from '../../hub/sensors/simulated/scenario.ts';
import { SimulatedSource } from '../../hub/sensors/simulated/simulated-source.ts';
import { createFakeClock } from '../support/fake-clock.ts';

/** Of the first session in `directory`, recorded from `demo` with so many athletes and this seed. */
export async function storedAgainstSimulated(directory: string, athleteCount: number, seed: number) {
  const store = openSqliteStore({ directory });
  const sessionId = store.listSessions()[0]?.session.sessionId ?? '';
  const recorded = store.readSession(sessionId);
  if (recorded === undefined) throw new Error('no recording');
  const stored = new Map<string, string[]>();
  let storedCount = 0;
  const keyOf = (sensorId: string, characteristic: string, atMs: number) =>
    `${sensorId} ${characteristic} ${Math.round(atMs)}`;
  for (const { sensorId, characteristic, bytes, atMs } of store.readPackets(sessionId)) {
    storedCount += 1;
    const key = keyOf(sensorId, characteristic, atMs);
    stored.set(key, [...(stored.get(key) ?? []), Buffer.from(bytes).toString('hex')]);
  }
  const lossesOf = new Map<string, { fromMs: number; toMs: number }[]>();
  for (const { sensorId, atMs, link: state } of recorded.linkEvents) {
    const losses = lossesOf.get(sensorId) ?? [];
    lossesOf.set(sensorId, losses);
    if (state === 'lost') losses.push({ fromMs: atMs - 1_100, toMs: Number.POSITIVE_INFINITY });
    else if (losses.at(-1)?.toMs === Number.POSITIVE_INFINITY) losses.at(-1)!.toMs = atMs + 1_100;
  }
  const clock = createFakeClock();
  const athletes = scenarioAthletes(athleteCount, seed).map((one) => ({ ...one, linkLossesPerHour: 0 }));
  const source = new SimulatedSource({ clock, athletes });
  let expected = 0;
  let lost = 0;
  const beganMs = clock.nowMs();
  await source.start({
    packet({ sensorId, characteristic, bytes, receivedAtMs }) {
      const atMs = receivedAtMs - beganMs;
      if (atMs > recorded.durationMs - 1_000 || (characteristic !== '2a37' && characteristic !== '2a5f'))
        return;
      if (lossesOf.get(sensorId)?.some(({ fromMs, toMs }) => atMs >= fromMs && atMs <= toMs)) return;
      expected += 1;
      const found = [-1, 0, 1].flatMap((by) => stored.get(keyOf(sensorId, characteristic, atMs + by)) ?? []);
      if (!found.includes(Buffer.from(bytes).toString('hex'))) lost += 1;
    },
    sensorChanged: () => undefined,
    sourceNotices: () => undefined,
  });
  source.sessionStarted(clock.nowMs());
  clock.advance(recorded.durationMs);
  const { durationMs } = recorded;
  store.close();
  return {
    durationS: Math.round(durationMs / 1_000),
    packetsStored: storedCount,
    packetsComparedWithTheSimulator: expected,
    packetsLost: lost,
    linkLosses: [...lossesOf.values()].flat().length,
  };
}
