// The one load that hub and peers carry: of each athlete a strap and an oximeter that send once a second, all at different
// moments, or in place of the oximeter a sensor with a wave of 100 Hz in ten packets a second, its readings in each.

import type { SensorListener, SensorSource } from '../../../hub/base/ports/sensor-source.ts';
import { systemClock } from '../../../hub/base/system-clock.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { announceSensors } from '../bench-sensors.ts';

export interface PeerLoad {
  readonly athleteCount: number;
  readonly pageCount: number;
  readonly waves: boolean;
  /** Hub and `ws` time each of their tasks, which costs them something: their processor time is then no figure. */
  readonly timed?: boolean;
}

/** What a peer is given of a packet: as many bytes as a sensor sends, and eight for the time. */
export const payloadBytes = { reading: 13, wave: 30 } as const;

const whole = { bits: null, scale: 1, offset: 0, invalid: [], count: 1, rateHz: null, when: null } as const;
const waveCharacteristic = 'f00d';

/** Saturation, pulse rate and ten samples of a wave in each notification. */
export const waveSensorProfile: SensorProfile = {
  name: 'Wave (invented)',
  measures: ['oximeter'],
  match: { services: ['f00c'], namePrefix: null },
  link: { service: 'f00c', notify: waveCharacteristic, start: [] },
  frame: null,
  fields: [
    { ...whole, gives: 'spo2Percent', at: 0, type: 'u8' },
    { ...whole, gives: 'pulseRateBpm', at: 1, type: 'u8' },
    { ...whole, gives: 'pleth', at: 2, type: 'u16le', count: 10, rateHz: 100 },
  ],
};

/** Calls back when a packet is due; each sensor has its own moment. Returns what ends it. */
export function startLoad(
  { athleteCount, waves }: PeerLoad,
  due: (athlete: number, kind: 'heartRate' | 'oximeter', count: number) => void,
): () => void {
  const timers: NodeJS.Timeout[] = [];
  for (let athlete = 0; athlete < athleteCount; athlete += 1)
    for (const kind of ['heartRate', 'oximeter'] as const) {
      const everyMs = waves && kind === 'oximeter' ? 100 : 1_000;
      const offsetMs = ((athlete * 2 + (kind === 'heartRate' ? 1 : 0)) * 1_000) / (2 * athleteCount);
      let count = 0;
      timers.push(
        setTimeout(() => {
          timers.push(
            setInterval(() => {
              count += 1;
              due(athlete, kind, count);
            }, everyMs),
          );
        }, offsetMs),
      );
    }
  return () => {
    for (const timer of timers) clearInterval(timer);
  };
}

/** The load as sensors of a hub. Each second athlete's saturation falls below the floor now and then. */
export function loadSource(
  load: PeerLoad,
  task: (work: () => void) => void = (work) => work(),
): SensorSource {
  let stop = (): void => undefined;
  return {
    source: 'bluetooth',
    async start(listener: SensorListener) {
      for (let athlete = 0; athlete < load.athleteCount; athlete += 1) announceSensors(listener, athlete);
      stop = startLoad(load, (athlete, kind, count) => {
        task(() =>
          listener.packet({
            sensorId: `${kind}-${athlete}`,
            characteristic: kind === 'heartRate' ? '2a37' : load.waves ? waveCharacteristic : '2a5f',
            bytes: bytesOf(load, athlete, kind, count),
            receivedAtMs: systemClock.nowMs(),
          }),
        );
      });
    },
    async stop() {
      stop();
    },
  };
}

function bytesOf(
  { waves }: PeerLoad,
  athlete: number,
  kind: 'heartRate' | 'oximeter',
  count: number,
): Uint8Array {
  const second = (waves && kind === 'oximeter' ? Math.floor(count / 10) : count) + 4 * athlete;
  if (kind === 'heartRate') return Uint8Array.of(0x16, 60 + (second % 5), 0, 4);
  const spo2Percent = athlete % 2 === 0 && second % 40 > 30 ? 85 : 97 - (second % 2);
  if (!waves) return Uint8Array.of(0, spo2Percent, 0, 60, 0);
  const bytes = new Uint8Array(22);
  bytes[0] = spo2Percent;
  bytes[1] = 60 + (second % 3);
  for (let sample = 0; sample < 10; sample += 1) {
    const value = 2_048 + Math.round(600 * Math.sin((count * 10 + sample) / 16));
    bytes[2 + 2 * sample] = value;
    bytes[3 + 2 * sample] = value >> 8;
  }
  return bytes;
}
