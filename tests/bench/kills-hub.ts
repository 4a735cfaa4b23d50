// The real hub with a simulated session, for a bench that kills, stalls and stops its processes: what it has confirmed to
// a page, and whether its archive has that. Alarms go to a command that writes down which process ran it, and when.

import { chmodSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { type HubProcess, startHub } from '../support/hub-process.ts';
import { hello, openTestPage, type TestPage } from '../support/test-page.ts';

/** What a page was told is saved: marks by their text, and the readings that it had been shown when it asked for them. */
export interface Confirmed {
  readonly marks: readonly string[];
  readonly readingsAtMs: readonly number[];
}

/** What the archive lacks of it. */
export interface Lacking {
  readonly marks: number;
  readonly readings: number;
  /** It doesn't open, or says that it is damaged. */
  readonly fault: string | null;
  readonly status: string | null;
}

interface AskedMark {
  readonly text: string;
  readonly shownCount: number;
}

const simulatedAthlete = 'simulated-1';
const readingsEachMs = 40;

export class WatchedHub {
  readonly hub: HubProcess;
  readonly page: TestPage;
  readonly #folder: string;
  readonly #sounded: string;
  readonly #asked = new Map<string, AskedMark>();
  #markCount = 0;
  #cursor = 0;
  readonly #shownAtMs: number[] = [];

  private constructor(hub: HubProcess, page: TestPage, folder: string, sounded: string) {
    this.hub = hub;
    this.page = page;
    this.#folder = folder;
    this.#sounded = sounded;
  }

  /** A hub in a folder of its own, with a session that has run for a moment. */
  static async start(speed: number): Promise<WatchedHub> {
    const folder = mkdtempSync(join(tmpdir(), 'slackwater-kills-'));
    const sounded = join(folder, 'sounded');
    const command = join(folder, 'command');
    writeFileSync(command, `#!/bin/sh\necho "$1 $PPID $(date +%s%3N)" >> '${sounded}'\n`);
    chmodSync(command, 0o700);
    mkdirSync(join(folder, 'tmp'));
    const hub = await startHub(
      [
        'demo',
        '--port',
        '0',
        '--data',
        join(folder, 'data'),
        '--speed',
        String(speed),
        '--alarm-command',
        command,
      ],
      { SLACKWATER_LOG: 'error', TMPDIR: join(folder, 'tmp') },
      { watched: true },
    );
    const page = openTestPage(hub.url.replace(/\/$/, ''));
    page.send(hello);
    page.send({ type: 'startSession', requestId: 's', athleteIds: [simulatedAthlete], title: 'Killed' });
    await page.until('done', ({ requestId }) => requestId === 's');
    await page.until('trace', ({ toMs }) => toMs > 1_500);
    const watched = new WatchedHub(hub, page, folder, sounded);
    await watched.watchdogListens();
    return watched;
  }

  /** Asks for a mark. */
  mark(): string {
    this.#takeShown();
    this.#markCount += 1;
    const text = `m${this.#markCount}`;
    this.#asked.set(text, { text, shownCount: this.#shownAtMs.length });
    this.page.send({
      type: 'addMark',
      requestId: text,
      athleteId: simulatedAthlete,
      kind: 'note',
      atMs: null,
      text,
    });
    return text;
  }

  /** Marks now and then until it is time. */
  async markFor(durationMs: number): Promise<void> {
    const endsAtMs = performance.now() + durationMs;
    while (performance.now() < endsAtMs) {
      this.mark();
      await pause(Math.min(readingsEachMs, Math.max(1, endsAtMs - performance.now())));
    }
  }

  markSaved(): Promise<unknown> {
    const text = this.mark();
    return this.page.until('done', ({ requestId }) => requestId === text);
  }

  confirmed(): Confirmed {
    const done = new Set(
      this.page.received.flatMap((message) => (message.type === 'done' ? message.requestId : [])),
    );
    const marks = [...this.#asked.values()].filter(({ text }) => done.has(text));
    const shownCount = Math.max(0, ...marks.map((mark) => mark.shownCount));
    return { marks: marks.map(({ text }) => text), readingsAtMs: this.#shownAtMs.slice(0, shownCount) };
  }

  /** When that process first sounded a high alarm from then on; undefined when it did not within `withinMs`. */
  async soundedBy(pid: number, fromWallMs: number, withinMs: number): Promise<number | undefined> {
    const endsAtMs = performance.now() + withinMs;
    for (;;) {
      const lines = existsSync(this.#sounded) ? readFileSync(this.#sounded, 'utf8').trim().split('\n') : [];
      for (const line of lines) {
        const [priority, by, at] = line.split(' ');
        if (priority === 'high' && Number(by) === pid && Number(at) >= fromWallMs) return Number(at);
      }
      if (performance.now() > endsAtMs) return undefined;
      await pause(20);
    }
  }

  /** Resolves when a watchdog runs and no alarm says otherwise; its process. */
  async watchdogListens(other?: number): Promise<number> {
    for (;;) {
      const pid = this.hub.watchdogPid();
      const last = this.page.received.findLast(({ type }) => type === 'supervision');
      const isMissed =
        last?.type === 'supervision' &&
        last.alarms.some(({ subject }) => subject?.code === 'output.watchdog');
      if (pid !== undefined && pid !== other && !isMissed) return pid;
      await pause(20);
    }
  }

  /** What the archive lacks; the hub must have ended. */
  lacking(): Lacking {
    const { marks, readingsAtMs } = this.confirmed();
    try {
      const store = openSqliteStore({ directory: join(this.#folder, 'data-demo'), lockWaitMs: 20_000 });
      try {
        const { sessionId, status } = store.listSessions()[0]!.session;
        const stored = store.readSession(sessionId)!;
        const texts = new Set(stored.marks.map(({ mark }) => mark.text));
        const packetsAtMs = [...store.readPackets(sessionId)].map(({ atMs }) => Math.round(atMs));
        const stand = new Set(packetsAtMs.flatMap((atMs) => [atMs - 1, atMs, atMs + 1]));
        return {
          marks: marks.filter((text) => !texts.has(text)).length,
          readings: readingsAtMs.filter((atMs) => !stand.has(Math.round(atMs))).length,
          fault: stored.damage.length === 0 ? null : JSON.stringify(stored.damage),
          status,
        };
      } finally {
        store.close();
      }
    } catch (error) {
      return { marks: marks.length, readings: readingsAtMs.length, fault: String(error), status: null };
    }
  }

  remove(): void {
    this.page.close();
    rmSync(this.#folder, { recursive: true, force: true });
  }

  #takeShown(): void {
    const { received } = this.page;
    for (; this.#cursor < received.length; this.#cursor++) {
      const message = received[this.#cursor]!;
      if (message.type !== 'trace') continue;
      for (const { channel, atMs } of message.traces)
        if (channel === 'spo2Percent') this.#shownAtMs.push(...atMs);
    }
  }
}

/** Ends a watchdog that may be sounding or stopped. */
export function endProcess(pid: number | undefined): void {
  if (pid === undefined) return;
  try {
    process.kill(pid, 'SIGKILL');
  } catch {
    // It has ended by itself.
  }
}
