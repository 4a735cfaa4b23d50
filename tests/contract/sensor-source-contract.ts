// What every sensor source that plays data of its own must do (the simulator, a replay). Run by the tests of each.

import { beforeEach, describe, expect, it } from 'vitest';
import type {
  SensorListener,
  SensorPacket,
  SensorSource,
  SensorStatus,
} from '../../hub/base/ports/sensor-source.ts';
import { scaledClock } from '../../hub/base/scaled-clock.ts';
import type { Said } from '../../shared/said.ts';
import { idSchema, markKindSchema } from '../../shared/schema-parts.ts';
import { decodePacket } from '../../src/gatt/decode-packet.ts';
import type { FakeClock } from '../support/fake-clock.ts';
import { createFakeClock } from '../support/fake-clock.ts';

export interface SourceUnderTest {
  open(clock: import('../../hub/base/ports/clock.ts').Clock): SensorSource;
  /** A length of session time in which some packets come and the source does not finish. */
  readonly playMs: number;
}

export interface Heard extends SensorListener {
  readonly packets: SensorPacket[];
  readonly statuses: SensorStatus[];
  readonly marks: { kind: string; receivedAtMs: number }[];
  readonly notices: (readonly Said[])[];
  finishedCount: number;
}

/** A listener that writes everything down. */
export function createHeard(): Heard {
  const heard: Heard = {
    packets: [],
    statuses: [],
    marks: [],
    notices: [],
    finishedCount: 0,
    packet: (packet) => void heard.packets.push(packet),
    sensorChanged: (status) => void heard.statuses.push(status),
    sourceNotices: (notices) => void heard.notices.push(notices),
    mark: (mark) => void heard.marks.push(mark),
    finished: () => {
      heard.finishedCount += 1;
    },
  };
  return heard;
}

const bytesAt = (packets: readonly SensorPacket[], zeroMs: number) =>
  packets.map(({ sensorId, characteristic, bytes, receivedAtMs }) => [
    sensorId,
    characteristic,
    [...bytes].join(' '),
    Math.round((receivedAtMs - zeroMs) * 1000) / 1000,
  ]);

export function sensorSourceContract(name: string, subject: SourceUnderTest): void {
  describe(`${name} as a sensor source`, () => {
    let clock: FakeClock;
    let heard: Heard;
    let source: SensorSource;
    beforeEach(() => {
      clock = createFakeClock();
      heard = createHeard();
      source = subject.open(clock);
    });

    it('announces its sensors when started, each with an id that may cross the wire', async () => {
      await source.start(heard);
      expect(heard.statuses.length).toBeGreaterThan(0);
      for (const status of heard.statuses) {
        expect(idSchema.safeParse(status.sensorId).success).toBe(true);
        expect(status.source).toBe(source.source);
        expect(status.link).toBe('connected');
        expect(status.kinds.length).toBeGreaterThan(0);
      }
      await source.stop();
    });

    it('sends no measurement outside a session', async () => {
      await source.start(heard);
      clock.advance(subject.playMs);
      const measurements = ({ characteristic }: SensorPacket) => ['2a37', '2a5f'].includes(characteristic);
      expect(heard.packets.filter(measurements)).toEqual([]);
      source.sessionStarted!(clock.nowMs());
      clock.advance(subject.playMs);
      source.sessionEnded!();
      const count = heard.packets.length;
      expect(heard.packets.filter(measurements).length).toBeGreaterThan(0);
      clock.advance(subject.playMs);
      expect(heard.packets.length).toBe(count);
      await source.stop();
    });

    it('stamps packets in order, from the session start to now, from announced sensors, all decodable', async () => {
      await source.start(heard);
      clock.advance(777);
      const zeroMs = clock.nowMs();
      heard.packets.length = 0;
      source.sessionStarted!(zeroMs);
      let last: number = zeroMs;
      let seen = 0;
      for (let i = 0; i < 50; i += 1) {
        clock.advance(subject.playMs / 50);
        for (const packet of heard.packets.slice(seen)) {
          expect(packet.receivedAtMs).toBeGreaterThanOrEqual(last);
          expect(packet.receivedAtMs).toBeLessThanOrEqual(clock.nowMs());
          last = packet.receivedAtMs;
        }
        seen = heard.packets.length;
      }
      const known = new Set(heard.statuses.map(({ sensorId }) => sensorId));
      for (const { sensorId, characteristic, bytes } of heard.packets) {
        expect(known.has(sensorId)).toBe(true);
        expect(characteristic).toMatch(/^(?:[0-9a-f]{4}|[0-9a-f]{32})$/);
        expect(decodePacket(characteristic, bytes).ok).toBe(true);
      }
      for (const { kind } of heard.marks) expect(markKindSchema.safeParse(kind).success).toBe(true);
      await source.stop();
    });

    it('plays the same bytes at the same session times however the clock moves, and in a second session', async () => {
      await source.start(heard);
      heard.packets.length = 0;
      const zeroMs = clock.nowMs();
      source.sessionStarted!(zeroMs);
      clock.advance(subject.playMs);
      const smooth = bytesAt(heard.packets, zeroMs);

      source.sessionEnded!();
      clock.advance(12_345);
      heard.packets.length = 0;
      const againMs = clock.nowMs();
      source.sessionStarted!(againMs);
      // As on a busy machine: three long silences.
      for (let i = 0; i < 3; i += 1) clock.jump(subject.playMs / 3);
      clock.advance(1_000);
      const upTo = ([, , , atMs]: ReturnType<typeof bytesAt>[number]) =>
        Number(atMs) <= subject.playMs - 1_000;
      expect(bytesAt(heard.packets, againMs).filter(upTo)).toEqual(smooth.filter(upTo));
      await source.stop();
    });

    it('at ten times the speed sends the same bytes at the same times of the scaled clock', async () => {
      await source.start(heard);
      heard.packets.length = 0;
      const zeroMs = clock.nowMs();
      source.sessionStarted!(zeroMs);
      clock.advance(subject.playMs);
      const slow = bytesAt(heard.packets, zeroMs);
      await source.stop();

      const fastHeard = createHeard();
      const fastClock = scaledClock(clock, 10);
      const fast = subject.open(fastClock);
      await fast.start(fastHeard);
      fastHeard.packets.length = 0;
      const fastZeroMs = fastClock.nowMs();
      fast.sessionStarted!(fastZeroMs);
      clock.advance(subject.playMs / 10);
      const upTo = ([, , , atMs]: ReturnType<typeof bytesAt>[number]) =>
        Number(atMs) <= subject.playMs - 1_000;
      expect(bytesAt(fastHeard.packets, fastZeroMs).filter(upTo)).toEqual(slow.filter(upTo));
      await fast.stop();
    });

    it('stops for good: no call and no timer afterwards, and stopping twice is nothing', async () => {
      await source.start(heard);
      source.sessionStarted!(clock.nowMs());
      clock.advance(subject.playMs / 2);
      await source.stop();
      const counts = [heard.packets.length, heard.statuses.length, heard.marks.length, heard.finishedCount];
      expect(clock.timerCount).toBe(0);
      clock.advance(subject.playMs);
      await source.stop();
      source.sessionStarted!(clock.nowMs());
      clock.advance(subject.playMs);
      expect([heard.packets.length, heard.statuses.length, heard.marks.length, heard.finishedCount]).toEqual(
        counts,
      );
      expect(heard.statuses.at(-1)?.link).toBe('off');
    });

    it('may be stopped, or its session ended, by the very packet it delivers', async () => {
      let left = 3;
      await source.start({
        ...heard,
        packet: (packet) => {
          heard.packets.push(packet);
          if (packet.characteristic === '2a37' || packet.characteristic === '2a5f') left -= 1;
          if (left === 0) source.sessionEnded!();
        },
      });
      source.sessionStarted!(clock.nowMs());
      clock.jump(subject.playMs);
      clock.advance(1_000);
      const measurements = heard.packets.filter(({ characteristic }) => /^2a(?:37|5f)$/.test(characteristic));
      expect(measurements).toHaveLength(3);
      await source.stop();
    });
  });
}
