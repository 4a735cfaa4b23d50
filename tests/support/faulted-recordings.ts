// A short recording in a process of its own whose disk fails at its Nth write, and what is then found of it.

import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { HubError } from '../../hub/base/hub-error.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { samePackets } from '../contract/packet-cases.ts';
import { numberedPacket } from '../hub/recorder-child.ts';
import { diskFaultEnvironment } from './disk-fault.ts';

export const faultActs = ['eio', 'enospc', 'erofs', 'short', 'kill'] as const;
export type FaultAct = (typeof faultActs)[number];

/** A call that writes: which, on what file, and its number in the recording. */
export interface WritePoint {
  readonly number: number;
  /** Such as "pwrite recordings.sqlite-wal"; the number of a process in a name is left out. */
  readonly site: string;
}

export interface FaultOutcome {
  /** `whole`: it opens and has everything that was confirmed. `never`: it was never made, and nothing was confirmed. */
  readonly outcome: 'whole' | 'never' | 'lost' | 'refused';
  readonly detail: string;
}

interface Ran {
  readonly lines: readonly string[];
  readonly crash: string | null;
}

function record(child: string, folder: string, env: Record<string, string>): Promise<Ran> {
  return new Promise((resolve) => {
    execFile(
      process.execPath,
      [child, 'recordThroughFault', folder],
      { env: { PATH: process.env['PATH'] ?? '', ...env } },
      (error, stdout, stderr) =>
        resolve({
          lines: stdout.split('\n').slice(0, -1),
          crash: error === null || error.signal === 'SIGKILL' ? null : `${error.message} ${stderr}`,
        }),
    );
  });
}

async function inFolder<Value>(work: (folder: string) => Promise<Value>): Promise<Value> {
  const root = mkdtempSync(join(tmpdir(), 'slackwater-faulted-'));
  try {
    return await work(join(root, 'data'));
  } finally {
    rmSync(root, { recursive: true, force: true });
  }
}

/** Every write of the recording when nothing fails, in order. */
export const writePoints = (child: string): Promise<readonly WritePoint[]> =>
  inFolder(async (folder) => {
    const log = `${folder}.log`;
    const { crash } = await record(child, folder, diskFaultEnvironment({ folder, log }));
    if (crash !== null) throw new Error(crash);
    return pointsIn(log);
  });

const pointsIn = (log: string): readonly WritePoint[] =>
  readFileSync(log, 'utf8')
    .trim()
    .split('\n')
    .map((line) => {
      const [number, call, name] = line.split(' ') as [string, string, string];
      return { number: Number(number), site: `${call} ${name.replace(/-\d+/, '-N')}` };
    });

/** The same recording with one fault: every write of it, those after the fault too. */
export const writePointsThrough = (
  child: string,
  at: number,
  act: FaultAct,
): Promise<readonly WritePoint[]> =>
  inFolder(async (folder) => {
    const log = `${folder}.log`;
    await record(child, folder, diskFaultEnvironment({ folder, log, at, act }));
    return pointsIn(log);
  });

export const faultAt = (child: string, at: number, act: FaultAct): Promise<FaultOutcome> =>
  inFolder(async (folder) => {
    const { lines, crash } = await record(child, folder, diskFaultEnvironment({ folder, at, act }));
    if (crash !== null) return { outcome: 'lost', detail: crash };
    return outcomeOf(folder, lines);
  });

function outcomeOf(folder: string, lines: readonly string[]): FaultOutcome {
  const told = (what: string): string[] =>
    lines.flatMap((line) => (line.startsWith(`${what} `) ? [line.slice(what.length + 1)] : []));
  const committed = Math.max(0, ...told('committed').map(Number));
  try {
    const store = openSqliteStore({ directory: folder });
    try {
      const stored = store.readSession('faulted');
      if (stored === undefined)
        return committed === 0 ? { outcome: 'never', detail: '' } : { outcome: 'lost', detail: 'no session' };
      const packets = [...store.readPackets('faulted')];
      const isPrefix = samePackets(
        packets,
        packets.map((_, n) => numberedPacket(n)),
      );
      const markIds = new Set(stored.marks.map(({ mark }) => mark.markId));
      const faults = [
        ...(isPrefix ? [] : ['other packets']),
        ...(packets.length >= committed ? [] : [`${committed - packets.length} packets`]),
        ...told('marked').filter((id) => !markIds.has(id)),
        ...(lines.includes('ended') && stored.session.status !== 'ended' ? ['its end'] : []),
        ...stored.damage,
      ];
      return faults.length === 0
        ? { outcome: 'whole', detail: '' }
        : { outcome: 'lost', detail: faults.join(', ') };
    } finally {
      store.close();
    }
  } catch (error) {
    const detail = error instanceof HubError ? error.code : String(error);
    return { outcome: committed === 0 && error instanceof HubError ? 'refused' : 'lost', detail };
  }
}

/** Up to `each` points of every site, from its first to its last. */
export function sampled(points: readonly WritePoint[], each: number): readonly WritePoint[] {
  const bySite = new Map<string, WritePoint[]>();
  for (const point of points) bySite.set(point.site, [...(bySite.get(point.site) ?? []), point]);
  return [...bySite.values()].flatMap((own) => {
    if (own.length <= each) return own;
    return Array.from(
      { length: each },
      (_, i) => own[Math.round((i * (own.length - 1)) / Math.max(1, each - 1))]!,
    );
  });
}
