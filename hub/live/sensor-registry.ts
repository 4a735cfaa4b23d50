// Every sensor the hub knows: what its source says of it, whose it is, and how many packets it has brought.

import type { ProcessMs, WallMs } from '../../shared/units.ts';
import type { SensorView } from '../../shared/views.ts';
import type { SensorStatus } from '../base/ports/sensor-source.ts';

interface Entry {
  status: SensorStatus;
  packetCount: number;
  discardedCount: number;
  lastPacketWallAtMs: WallMs | null;
  lastPacketAtMs: ProcessMs | null;
}

/** Sensors beyond this many are not kept: rotating addresses must not grow memory (oldest unassigned go first). */
const mostSensors = 256;

/** In-memory; assignments are remembered by the store, which the caller writes. */
export interface SensorRegistry {
  update(status: SensorStatus): void;
  countPacket(sensorId: string, atMs: ProcessMs, wallAtMs: WallMs): void;
  countDiscarded(sensorId: string): void;
  setBattery(sensorId: string, batteryPercent: number): void;
  assign(sensorId: string, athleteId: string | null): void;
  /** Drops a sensor that nobody is assigned to. */
  forget(sensorId: string): void;
  assignedSensorIds(): ReadonlySet<string>;
  athleteOf(sensorId: string): string | undefined;
  status(sensorId: string): SensorStatus | undefined;
  sensorsOf(athleteId: string): readonly SensorStatus[];
  views(): SensorView[];
}

export function createSensorRegistry(assignments: ReadonlyMap<string, string>): SensorRegistry {
  const entries = new Map<string, Entry>();
  const owner = new Map(assignments);

  function forgetOldest(): void {
    if (entries.size <= mostSensors) return;
    for (const [sensorId, entry] of entries) {
      if (owner.has(sensorId) || entry.status.link === 'connected') continue;
      entries.delete(sensorId);
      return;
    }
  }

  return {
    update(status) {
      const known = entries.get(status.sensorId);
      if (known) {
        known.status = { ...status, batteryPercent: status.batteryPercent ?? known.status.batteryPercent };
        return;
      }
      entries.set(status.sensorId, {
        status,
        packetCount: 0,
        discardedCount: 0,
        lastPacketWallAtMs: null,
        lastPacketAtMs: null,
      });
      forgetOldest();
    },
    countPacket(sensorId, atMs, wallAtMs) {
      const entry = entries.get(sensorId);
      if (!entry) return;
      entry.packetCount += 1;
      entry.lastPacketAtMs = atMs;
      entry.lastPacketWallAtMs = wallAtMs;
    },
    countDiscarded(sensorId) {
      const entry = entries.get(sensorId);
      if (entry) entry.discardedCount += 1;
    },
    setBattery(sensorId, batteryPercent) {
      const entry = entries.get(sensorId);
      if (entry)
        entry.status = { ...entry.status, batteryPercent: batteryPercent as SensorView['batteryPercent'] };
    },
    assign(sensorId, athleteId) {
      if (athleteId === null) owner.delete(sensorId);
      else owner.set(sensorId, athleteId);
    },
    forget(sensorId) {
      if (!owner.has(sensorId)) entries.delete(sensorId);
    },
    assignedSensorIds: () => new Set(owner.keys()),
    athleteOf: (sensorId) => owner.get(sensorId),
    status: (sensorId) => entries.get(sensorId)?.status,
    sensorsOf(athleteId) {
      return [...entries.values()]
        .filter((e) => owner.get(e.status.sensorId) === athleteId)
        .map((e) => e.status);
    },
    views() {
      return [...entries.values()].map((entry) => ({
        ...entry.status,
        athleteId: owner.get(entry.status.sensorId) ?? null,
        lastPacketWallAtMs: entry.lastPacketWallAtMs,
        packetCount: entry.packetCount,
        discardedCount: entry.discardedCount,
      }));
    },
  };
}
