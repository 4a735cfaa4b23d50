// The same recorded hours (SIMULATED) in the hub's store and in what else keeps series on this machine: bytes a sample of six
// channels at 1 Hz and of a wave of 100 Hz, and how long the wave's hour takes to come back. Loads are taken in turns.

import {
  closeSync,
  fsyncSync,
  mkdtempSync,
  openSync,
  readFileSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import type { StoredPacket } from '../../../hub/base/ports/stored-session.ts';
import { openSqliteStore } from '../../../hub/recorder/sqlite-store.ts';
import { quantile } from '../hub.bench.ts';
import { hourOfReadouts, hourOfWave, record, recordedBytes } from '../recorder.bench.ts';
import { type PostgresCluster, postgresPrograms, startPostgres } from './postgres-cluster.ts';
import { pathOf } from './run-peer.ts';

const warmLoads = 40;

/** Columns of one length. */
interface Series {
  readonly channel: Uint8Array;
  readonly atMs: Int32Array;
  readonly value: Int16Array;
}

export interface StorageFigures {
  readonly readouts1HzBytesPerSample: number;
  readonly wave100HzBytesPerSample: number;
  readonly loadHour100HzMs: number;
  /** Of all rounds: on a machine that others fill the one that was disturbed least. */
  readonly loadHour100HzLeastMs: number;
  /** Of this process, the least of all rounds; null where another process does the work. */
  readonly loadHour100HzProcessorMs: number | null;
}

interface Keeper extends Pick<StorageFigures, 'readouts1HzBytesPerSample' | 'wave100HzBytesPerSample'> {
  readonly name: string;
  /** Loads the wave's hour once; how long it took. */
  load(): LoadTime;
  close(): Promise<void> | void;
}

interface LoadTime {
  readonly ms: number;
  readonly processorMs: number | null;
}

export interface StorageResults {
  readonly peers: Readonly<Record<string, StorageFigures>>;
  readonly absent: readonly string[];
}

export async function compareStorage(rounds: number): Promise<StorageResults> {
  const readoutPackets = hourOfReadouts(1);
  const wavePackets = hourOfWave(2);
  const readouts = seriesOfReadouts(readoutPackets);
  const wave = seriesOfWave(wavePackets);
  const absent = ['influxd', 'duckdb'].filter((program) => pathOf(program) === undefined);
  const keepers: Keeper[] = [
    keptByHub(readoutPackets, wavePackets),
    keptAsFile(readouts, wave),
    keptAsRows(readouts, wave),
  ];
  const programs = postgresPrograms();
  let cluster: PostgresCluster | undefined;
  if (programs === undefined) absent.push('postgres');
  else {
    cluster = await startPostgres(programs);
    try {
      keepers.push(keptByPostgres(cluster, readouts, wave), keptByPostgresInArrays(cluster, readouts, wave));
    } catch (error) {
      await cluster.close();
      throw error;
    }
  }
  for (const name of absent) console.error(`*** ${name} is not on this machine: LEFT OUT. ***`);
  const loadsMs = new Map(keepers.map(({ name }) => [name, [] as LoadTime[]]));
  for (let round = 0; round < rounds; round += 1)
    for (const keeper of round % 2 === 0 ? keepers : keepers.toReversed())
      loadsMs.get(keeper.name)?.push(keeper.load());
  for (const keeper of keepers) await keeper.close();
  await cluster?.close();
  const peers = Object.fromEntries(
    keepers.map(({ name, readouts1HzBytesPerSample, wave100HzBytesPerSample }) => [
      name,
      {
        readouts1HzBytesPerSample: rounded(readouts1HzBytesPerSample),
        wave100HzBytesPerSample: rounded(wave100HzBytesPerSample),
        ...loadFigures(loadsMs.get(name) ?? []),
      },
    ]),
  );
  return { peers, absent };
}

function loadFigures(
  loads: readonly LoadTime[],
): Pick<StorageFigures, 'loadHour100HzMs' | 'loadHour100HzLeastMs' | 'loadHour100HzProcessorMs'> {
  const times = loads.map(({ ms }) => ms);
  const processorTimes = loads.flatMap(({ processorMs }) => processorMs ?? []);
  return {
    loadHour100HzMs: rounded(quantile(times, 0.5)),
    loadHour100HzLeastMs: rounded(quantile(times, 0)),
    loadHour100HzProcessorMs: processorTimes.length === 0 ? null : rounded(quantile(processorTimes, 0)),
  };
}

export function printStorage({ peers }: StorageResults): void {
  console.log(
    '\nstorage of an hour                 1 Hz, bytes a sample   100 Hz, bytes a sample   load of 100 Hz, ms (least)',
  );
  for (const [name, each] of Object.entries(peers))
    console.log(
      [
        name.padEnd(34),
        String(each.readouts1HzBytesPerSample).padEnd(22),
        String(each.wave100HzBytesPerSample).padEnd(24),
        `${each.loadHour100HzMs} (${each.loadHour100HzLeastMs}; ${each.loadHour100HzProcessorMs ?? '-'})`,
      ].join(' '),
    );
}

const rounded = (value: number): number => Number(value.toPrecision(3));
function timeOf(work: () => void): LoadTime {
  const cpuBefore = process.cpuUsage();
  const startedMs = performance.now();
  work();
  const ms = performance.now() - startedMs;
  const { user, system } = process.cpuUsage(cpuBefore);
  return { ms, processorMs: (user + system) / 1_000 };
}

/** Heart rate and interval of one packet; saturation, pulse rate, status and amplitude of the other. */
function seriesOfReadouts(packets: readonly StoredPacket[]): Series {
  const rows = packets.flatMap(({ characteristic, bytes, atMs }) => {
    const word = (at: number): number => (bytes[at] ?? 0) | ((bytes[at + 1] ?? 0) << 8);
    return characteristic === '2a37'
      ? [
          [0, atMs, bytes[1] ?? 0],
          [1, atMs, word(2)],
        ]
      : [
          [2, atMs, bytes[1] ?? 0],
          [3, atMs, bytes[3] ?? 0],
          [4, atMs, word(5)],
          [5, atMs, word(7) & 0xfff],
        ];
  });
  return columnsOf(rows);
}

function seriesOfWave(packets: readonly StoredPacket[]): Series {
  return columnsOf(
    packets.flatMap(({ bytes, atMs }) =>
      Array.from({ length: 10 }, (_, index) => [
        0,
        atMs + 10 * index,
        (bytes[2 * index] ?? 0) | ((bytes[2 * index + 1] ?? 0) << 8),
      ]),
    ),
  );
}

const columnsOf = (rows: readonly (readonly number[])[]): Series => ({
  channel: Uint8Array.from(rows, ([channel = 0]) => channel),
  atMs: Int32Array.from(rows, ([, atMs = 0]) => atMs),
  value: Int16Array.from(rows, ([, , value = 0]) => value),
});

/** As the hub keeps it: the very bytes of the sensor, each packet with its moment. */
function keptByHub(readouts: readonly StoredPacket[], wave: readonly StoredPacket[]): Keeper {
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-storage-'));
  const store = openSqliteStore({ directory: folder });
  record(store, 's', wave, 1_000);
  const load = (): LoadTime =>
    timeOf(() => {
      let byteCount = 0;
      for (const streams of store.readPacketColumns('s'))
        for (const { bytes } of streams) byteCount += bytes.length;
      if (byteCount !== 20 * wave.length) throw new Error('the hour did not come back whole');
    });
  // As in a hub that has shown a recording before: the others are compiled as they come.
  for (let round = 0; round < warmLoads; round += 1) load();
  return {
    name: 'hub',
    readouts1HzBytesPerSample: recordedBytes(readouts) / (readouts.length * 3),
    wave100HzBytesPerSample: recordedBytes(wave) / (wave.length * 10),
    load,
    close() {
      store.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** The floor: numbers one after another in a file, nothing to find them by and nothing compressed. */
function keptAsFile(readouts: Series, wave: Series): Keeper {
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-storage-'));
  const path = join(folder, 'wave');
  const bytesOf = ({ channel, atMs, value }: Series): number => {
    const file = openSync(path, 'w');
    for (const column of [channel, atMs, value]) writeSync(file, column);
    fsyncSync(file);
    closeSync(file);
    return statSync(path).size / atMs.length;
  };
  const readouts1HzBytesPerSample = bytesOf(readouts);
  return {
    name: 'numbers in a file',
    readouts1HzBytesPerSample,
    wave100HzBytesPerSample: bytesOf(wave),
    load: () => timeOf(() => void readFileSync(path)),
    close: () => rmSync(folder, { recursive: true, force: true }),
  };
}

/** SQLite as it is mostly used: a row a sample, in the order of its key. */
function keptAsRows(readouts: Series, wave: Series): Keeper {
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-storage-'));
  const open = (name: string, { channel, atMs, value }: Series) => {
    const database = new SqliteDatabase(join(folder, name));
    database.exec(
      'CREATE TABLE sample (channel INTEGER, at_ms INTEGER, value INTEGER, PRIMARY KEY (channel, at_ms)) WITHOUT ROWID',
    );
    const insert = database.prepare('INSERT OR REPLACE INTO sample VALUES (?, ?, ?)');
    database.transaction(() => {
      for (let index = 0; index < atMs.length; index += 1)
        insert.run(channel[index], atMs[index], value[index]);
    })();
    database.exec('VACUUM');
    return { database, bytesPerSample: statSync(join(folder, name)).size / atMs.length };
  };
  const ofReadouts = open('readouts', readouts);
  const ofWave = open('wave', wave);
  const select = ofWave.database.prepare('SELECT at_ms, value FROM sample WHERE channel = 0').raw();
  return {
    name: 'SQLite, a row a sample',
    readouts1HzBytesPerSample: ofReadouts.bytesPerSample,
    wave100HzBytesPerSample: ofWave.bytesPerSample,
    load: () => timeOf(() => void select.all()),
    close() {
      ofReadouts.database.close();
      ofWave.database.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** A row a sample and an index by channel and time, both counted. */
function keptByPostgres(cluster: PostgresCluster, readouts: Series, wave: Series): Keeper {
  const bytesOf = (table: string, { channel, atMs, value }: Series): number => {
    const lines = Array.from(atMs, (at, index) => `${channel[index]}\t${at}\t${value[index]}`);
    const size = cluster.ask(
      `CREATE TABLE ${table} (channel smallint, at_ms integer, value smallint);\n` +
        `COPY ${table} FROM STDIN;\n${lines.join('\n')}\n\\.\n` +
        `CREATE INDEX ON ${table} (channel, at_ms);\nVACUUM FULL ANALYZE ${table};\n` +
        `SELECT pg_total_relation_size('${table}');\n`,
    );
    return Number(size) / atMs.length;
  };
  return {
    name: `PostgreSQL ${cluster.version.split(' ')[0]}, a row a sample`,
    readouts1HzBytesPerSample: bytesOf('readouts', readouts),
    wave100HzBytesPerSample: bytesOf('wave', wave),
    load: () => timeOfCopy(cluster, 'SELECT at_ms, value FROM wave WHERE channel = 0'),
    close: () => undefined,
  };
}

/** A row a minute and channel with its samples as arrays, which it compresses where they are long. */
function keptByPostgresInArrays(cluster: PostgresCluster, readouts: Series, wave: Series): Keeper {
  const bytesOf = (table: string, from: string, { atMs }: Series): number => {
    const size = cluster.ask(
      `CREATE TABLE ${table} AS SELECT channel, at_ms / 60000 AS minute, array_agg(at_ms - at_ms / 60000 * 60000 ORDER BY at_ms) AS at,
       array_agg(value ORDER BY at_ms) AS value FROM ${from} GROUP BY 1, 2 ORDER BY 1, 2;\n` +
        `CREATE INDEX ON ${table} (channel, minute);\nVACUUM FULL ANALYZE ${table};\n` +
        `SELECT pg_total_relation_size('${table}');\n`,
    );
    return Number(size) / atMs.length;
  };
  return {
    name: `PostgreSQL ${cluster.version.split(' ')[0]}, arrays`,
    readouts1HzBytesPerSample: bytesOf('readout_minutes', 'readouts', readouts),
    wave100HzBytesPerSample: bytesOf('wave_minutes', 'wave', wave),
    load: () => timeOfCopy(cluster, 'SELECT minute, at, value FROM wave_minutes WHERE channel = 0'),
    close: () => undefined,
  };
}

/** As psql times it, the way to it included and reading it not: the second time, when all is in memory and planned. */
function timeOfCopy(cluster: PostgresCluster, query: string): LoadTime {
  const copy = `COPY (${query}) TO STDOUT (FORMAT binary);\n`;
  const told = cluster.ask(`\\o /dev/null\n${copy}\\timing on\n${copy}`);
  const time = /Time: ([\d.]+) ms/.exec(told)?.[1];
  if (time === undefined) throw new Error('psql told no time');
  return { ms: Number(time), processorMs: null };
}
