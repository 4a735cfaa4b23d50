import { describe, expect, it } from 'vitest';
import { openStoreInMemory, type SqliteStore } from '../../../hub/recorder/sqlite-store.ts';
import { ReplaySource } from '../../../hub/sensors/replay/replay-source.ts';
import { storedRecording } from '../../../hub/sensors/replay/stored-recording.ts';
import { said } from '../../../shared/said.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { createHeard } from '../../contract/sensor-source-contract.ts';
import { ana, mark, packet, startSession } from '../../contract/store-contract.ts';
import { createFakeClock } from '../../support/fake-clock.ts';

describe('replay of one of the hub recordings', () => {
  function recorded(): SqliteStore {
    const store = openStoreInMemory();
    startSession(store, 's1', [ana]);
    for (let i = 0; i < 20; i += 1)
      store.appendPacket('s1', packet('oxi-ana', i * 500 + 3, 0, 97 - i, 0, 60, 0));
    store.saveMark('s1', mark('m1', 'ana', 4_200));
    store.saveMark('s1', { ...mark('m2', 'ana', 5_000), removed: true });
    store.saveLinkEvent('s1', {
      sensorId: 'oxi-ana',
      atMs: monotonicMs(6_100),
      link: 'lost',
      detail: said('sensor.lost', { reason: said('link.outOfRange') }),
    });
    store.saveLinkEvent('s1', {
      sensorId: 'oxi-ana',
      atMs: monotonicMs(7_100),
      link: 'connected',
      detail: null,
    });
    store.commit();
    store.endSession('s1', monotonicMs(12_000));
    return store;
  }

  it('delivers the very bytes at their times, the marks that stand, and the lost link', async () => {
    const store = recorded();
    const clock = createFakeClock();
    const source = new ReplaySource({ clock, recording: storedRecording(store, 's1') });
    const heard = createHeard();
    await source.start(heard);
    const zeroMs = clock.nowMs();
    source.sessionStarted(zeroMs);
    clock.advance(11_900);
    expect(heard.finishedCount).toBe(0);
    clock.advance(1_000);
    expect(heard.finishedCount).toBe(1);
    expect(
      heard.packets.map(({ sensorId, characteristic, bytes, receivedAtMs }) => ({
        sensorId,
        characteristic,
        bytes,
        atMs: receivedAtMs - zeroMs,
      })),
    ).toEqual(
      [...store.readPackets('s1')].map(({ sensorId, characteristic, bytes, atMs }) => ({
        sensorId,
        characteristic,
        bytes,
        atMs,
      })),
    );
    expect(heard.marks.map(({ kind, receivedAtMs }) => [kind, receivedAtMs - zeroMs])).toEqual([
      ['contraction', 4_200],
    ]);
    expect(heard.statuses.map(({ link, name }) => [link, name])).toEqual([
      ['connected', 'Replay of Sensor oxi-ana'],
      ['lost', 'Replay of Sensor oxi-ana'],
      ['connected', 'Replay of Sensor oxi-ana'],
    ]);
  });

  it('a session that does not exist is refused in one sentence', () => {
    expect(() => storedRecording(openStoreInMemory(), 'nothing')).toThrow(
      'There is no recording nothing in the data folder.',
    );
  });
});
