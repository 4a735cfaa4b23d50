// What the recorder costs: rows a second, bytes a sample, time to load an hour, and what a kill loses.

import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { deflateRawSync } from 'node:zlib';
import SqliteDatabase from 'better-sqlite3';
import type { Store } from '../../hub/base/ports/store.ts';
import type { StoredPacket } from '../../hub/base/ports/stored-session.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';
import { bundleChild, recordAndKill } from '../hub/recorder-killing.ts';

const startedWallAtMs = 1_790_000_000_000;

/** Runs everything, about 20 s. Names say the units; medians of several runs where there is a time. */
export async function benchRecorder(): Promise<Record<string, number>> {
  const readouts = hourOfReadouts(1);
  const wave = hourOfWave(2);
  return {
    ...measureSize('readouts6Channels1Hz', readouts, readouts.length * 3),
    ...measureSize('wave100HzIn20Bytes', wave, wave.length * 10),
    waveDeltaDeflatedBytesPerSample: round(deltaDeflatedBytes(wave) / (wave.length * 10), 3),
    ...measureLoad(wave),
    ...measureCommits(),
    ...measureTwentyAthletes(),
    ...(await measureKills(20)),
  };
}

/**
 * One hour of two sensors that notify once a second: heart rate with one RR interval (2a37), and saturation,
 * pulse rate, status and pulse amplitude index (2a5f): six channels in two packets. Arrival jitters by a
 * connection interval (15 ms here), stamped in whole milliseconds.
 */
export function hourOfReadouts(seed: number): StoredPacket[] {
  const random = randomFrom(seed);
  const packets: StoredPacket[] = [];
  for (let second = 0; second < 3_600; second++) {
    const hold = second % 240 < 120 ? (second % 240) / 120 : 0;
    const breathing = Math.sin(second / 0.8);
    const heartRateBpm = Math.round(68 - 18 * hold + 4 * breathing * (1 - hold) + 1.5 * random.normal());
    const rr = Math.round((60_000 / heartRateBpm) * 1.024 + 12 * random.normal());
    const spo2Percent = Math.round(98 - 9 * hold ** 3 + 0.25 * random.normal());
    const amplitude = Math.round(420 - 150 * hold + 14 * random.normal());
    packets.push(
      packetAt('hr', '2a37', 1_000 * second + 4 + 15 * random.uniform(), [
        0x16,
        heartRateBpm,
        rr & 255,
        rr >> 8,
      ]),
      packetAt('oxi', '2a5f', 1_000 * second + 430 + 15 * random.uniform(), [
        0x14,
        spo2Percent,
        0,
        heartRateBpm,
        0,
        0x20,
        0,
        amplitude & 255,
        0xe0 | (amplitude >> 8),
      ]),
    );
  }
  return packets;
}

/** One hour of a pulse wave: ten little-endian 16-bit samples in each 20-byte notification, ten a second. */
export function hourOfWave(seed: number, sensorId = 'wave', seconds = 3_600): StoredPacket[] {
  const random = randomFrom(seed);
  const packets: StoredPacket[] = [];
  let phase = 0;
  for (let tenth = 0; tenth < 10 * seconds; tenth++) {
    const bytes = new Uint8Array(20);
    for (let i = 0; i < 10; i++) {
      phase += ((62 + 6 * Math.sin(tenth / 25)) / 60 / 100) * 2 * Math.PI;
      const pulse = Math.sin(phase) + 0.4 * Math.sin(2 * phase + 0.9) + 0.12 * Math.sin(3 * phase + 1.6);
      const value = Math.round(2_048 + 600 * pulse + waveNoiseSteps * random.normal());
      bytes[2 * i] = value;
      bytes[2 * i + 1] = value >> 8;
    }
    packets.push(packetAt(sensorId, 'f00d', 100 * tenth + 15 * random.uniform(), [...bytes]));
  }
  return packets;
}

/** Noise of the synthetic wave, in steps of its 12-bit range: what a sensor's own digital filter leaves. */
const waveNoiseSteps = 2;

function packetAt(
  sensorId: string,
  characteristic: string,
  at: number,
  bytes: readonly number[],
): StoredPacket {
  const atMs = Math.round(at);
  return {
    sensorId,
    characteristic,
    bytes: Uint8Array.from(bytes),
    atMs: monotonicMs(atMs),
    wallAtMs: wallMs(startedWallAtMs + atMs),
  };
}

function measureSize(
  name: string,
  packets: readonly StoredPacket[],
  sampleCount: number,
): Record<string, number> {
  return { [`${name}BytesPerSample`]: round(recordedBytes(packets) / sampleCount, 3) };
}

/** What these packets take in the database, beyond what a session without any takes: an empty file has free pages in it. */
export function recordedBytes(packets: readonly StoredPacket[]): number {
  const bytesWith = (recorded: readonly StoredPacket[]): number =>
    withStore((store, path) => {
      record(store, 's', recorded, 1_000);
      return usedBytes(store, path);
    });
  return bytesWith(packets) - bytesWith([]);
}

/** The same wave as differences of its 16-bit samples, deflated in one piece without times: for comparison. */
function deltaDeflatedBytes(packets: readonly StoredPacket[]): number {
  const differences = new Int16Array(packets.length * 10);
  let last = 0;
  packets.forEach((packet, i) => {
    for (let k = 0; k < 10; k++) {
      const value = packet.bytes[2 * k]! | (packet.bytes[2 * k + 1]! << 8);
      differences[10 * i + k] = value - last;
      last = value;
    }
  });
  return deflateRawSync(new Uint8Array(differences.buffer), { level: 9 }).length;
}

/** Closes the store and answers with the bytes of pages in use: what the journal took and gave back is not in it. */
function usedBytes(store: Store, path: string): number {
  store.close();
  const database = new SqliteDatabase(path, { readonly: true });
  const pragma = (name: string): number => Number(database.pragma(name, { simple: true }));
  const bytes = (pragma('page_count') - pragma('freelist_count')) * pragma('page_size');
  database.close();
  return bytes;
}

function measureLoad(packets: readonly StoredPacket[]): Record<string, number> {
  return withStore((store) => {
    record(store, 's', packets, 1_000);
    let byteSum = 0;
    const asColumns = medianMs(60, () => {
      for (const streams of store.readPacketColumns('s'))
        for (const stream of streams) byteSum += stream.bytes.length;
    });
    const asPackets = medianMs(60, () => {
      for (const packet of store.readPackets('s')) byteSum += packet.bytes.length;
    });
    if (byteSum !== 120 * 20 * packets.length) throw new Error('the hour did not come back whole');
    return { loadHour100HzColumnsMs: round(asColumns, 2), loadHour100HzPacketsMs: round(asPackets, 2) };
  });
}

function measureCommits(): Record<string, number> {
  return withStore((store) => {
    const packets = hourOfWave(3, 'wave', 600);
    start(store, 's');
    const startedAt = performance.now();
    const commits: number[] = [];
    packets.forEach((packet, i) => {
      store.appendPacket('s', packet);
      if (i % 100 === 99) commits.push(timeMs(() => store.commit()));
    });
    const seconds = (performance.now() - startedAt) / 1_000;
    const toProcess: number[] = [];
    for (const packet of packets.slice(0, 2_000)) {
      store.appendPacket('s', packet);
      toProcess.push(timeMs(() => store.commit('process')));
    }
    return {
      packetsPerSecondCommittedToDisk: Math.round(packets.length / seconds),
      samplesPerSecondCommittedToDisk: Math.round((10 * packets.length) / seconds),
      commitToDiskP50Ms: round(quantile(commits, 0.5), 3),
      commitToDiskP99Ms: round(quantile(commits, 0.99), 3),
      commitToProcessP50Ms: round(quantile(toProcess, 0.5), 3),
      commitToProcessP99Ms: round(quantile(toProcess, 0.99), 3),
    };
  });
}

/** Twenty athletes with waves and readouts: how long the longest commit (the one that seals) stops the hub. */
function measureTwentyAthletes(): Record<string, number> {
  return withStore((store, path) => {
    const emptyBytes = statSync(path).size;
    const packets: StoredPacket[] = [];
    const seconds = 120;
    for (let athlete = 0; athlete < 20; athlete++) {
      packets.push(...hourOfWave(10 + athlete, `wave-${athlete}`, seconds));
      for (const packet of hourOfReadouts(50 + athlete).slice(0, 2 * seconds))
        packets.push({ ...packet, sensorId: `${packet.sensorId}-${athlete}` });
    }
    packets.sort((a, b) => a.atMs - b.atMs);
    start(store, 's');
    const commits: number[] = [];
    let next = 0;
    for (let at = 250; at <= 1_000 * seconds; at += 250) {
      while (next < packets.length && packets[next]!.atMs < at) store.appendPacket('s', packets[next++]!);
      commits.push(timeMs(() => store.commit()));
    }
    store.endSession('s', monotonicMs(1_000 * seconds));
    const bytes = usedBytes(store, path) - emptyBytes;
    return {
      twentyAthletesCommitP50Ms: round(quantile(commits, 0.5), 2),
      twentyAthletesCommitP99Ms: round(quantile(commits, 0.99), 2),
      twentyAthletesCommitWorstMs: round(Math.max(...commits), 2),
      twentyAthletesBytesPerSample: round(bytes / (20 * seconds * 106), 3),
    };
  });
}

export function record(
  store: Store,
  sessionId: string,
  packets: readonly StoredPacket[],
  packetsPerCommit: number,
): void {
  start(store, sessionId);
  packets.forEach((packet, i) => {
    store.appendPacket(sessionId, packet);
    if (i % packetsPerCommit === packetsPerCommit - 1) store.commit();
  });
  store.endSession(sessionId, packets.at(-1)?.atMs ?? monotonicMs(0));
}

function start(store: Store, sessionId: string): void {
  store.startSession({
    sessionId,
    startedWallAtMs: wallMs(startedWallAtMs),
    simulated: true,
    source: 'simulated',
    title: 'Bench',
    athletes: [],
  });
}

export function withStore<Value>(work: (store: Store, path: string) => Value): Value {
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-bench-'));
  const store = openSqliteStore({ directory });
  try {
    return work(store, join(directory, 'recordings.sqlite'));
  } finally {
    store.close();
    rmSync(directory, { recursive: true, force: true });
  }
}

function timeMs(work: () => void): number {
  const startedAt = performance.now();
  work();
  return performance.now() - startedAt;
}

function medianMs(rounds: number, work: () => void): number {
  return quantile(
    Array.from({ length: rounds }, () => timeMs(work)),
    0.5,
  );
}

function quantile(values: readonly number[], at: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(at * sorted.length))]!;
}

function round(value: number, digits: number): number {
  return Number(value.toFixed(digits));
}

function randomFrom(seed: number): { uniform(): number; normal(): number } {
  let state = seed >>> 0;
  // mulberry32 (Tommy Ettinger, public domain).
  const uniform = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
  // Box and Muller (1958), doi:10.1214/aoms/1177706645.
  const normal = (): number => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
  return { uniform, normal };
}

/**
 * Kills a recording process mid-work and counts what it had reported as committed and is not there any more, as
 * time on its clock of 8 ms a packet. What was not yet committed is lost besides: at most one commit interval.
 */
async function measureKills(rounds: number): Promise<Record<string, number>> {
  const child = await bundleChild();
  const random = randomFrom(99);
  let lostPackets = 0;
  let corrupt = 0;
  let worstLostMs = 0;
  for (let round = 0; round < rounds; round++) {
    const directory = mkdtempSync(join(tmpdir(), 'slackwater-bench-'));
    try {
      const reported = await recordAndKill(child, {
        directory,
        durability: 'process',
        sealAtBytes: 4_000,
        commitsBeforeKill: 1 + Math.floor(300 * random.uniform()),
      });
      const store = openSqliteStore({ directory });
      let kept = 0;
      for (const packet of store.readPackets('killed')) {
        kept++;
        if (packet.bytes.length === 0) corrupt++;
      }
      if (store.readSession('killed')?.damage.length !== 0) corrupt++;
      store.close();
      const lost = Math.max(0, reported - kept);
      lostPackets += lost;
      worstLostMs = Math.max(worstLostMs, 8 * lost);
    } finally {
      rmSync(directory, { recursive: true, force: true });
    }
  }
  return {
    kills: rounds,
    killsCommittedPacketsLost: lostPackets,
    killsWorstLossOfCommittedMs: worstLostMs,
    killsRecordingsDamaged: corrupt,
  };
}

if (process.argv[1] === fileURLToPath(import.meta.url))
  console.log(JSON.stringify(await benchRecorder(), null, 2));
