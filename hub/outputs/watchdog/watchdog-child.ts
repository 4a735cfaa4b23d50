// The watchdog's process: hears the hub through standard input and sounds by itself when it stops.

import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { isatty } from 'node:tty';
import { said } from '../../../shared/said.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { systemClock } from '../../base/system-clock.ts';
import { openAlarmOutputs } from '../open-alarm-outputs.ts';
import { findServiceManager } from './service-manager.ts';
import { type HubWord, heardAnswer, type WatchNews, WatchRule } from './watch-rule.ts';
import { secretVariable, type WatchdogSettings } from './watchdog.ts';

const lookEveryMs = 100;
const bellEveryMs = 1_000;
/** So long the sounds and programs that were begun have to end. */
const farewellMs = 500;

const settings = JSON.parse(process.argv[2] ?? '{}') as WatchdogSettings & { readonly hubPid?: number };
const words: Readonly<Record<string, HubWord>> = { r: 'round', i: 'idle', e: 'end' };

/** Standard error may be a full disk: what cannot be written is not worth stopping for. */
function say(text: string): void {
  try {
    writeSync(2, `${text}\n`);
  } catch {
    // Nobody can be told.
  }
}

const log = { info: () => undefined, warn: say, error: say };
const { outputs, notices } = openAlarmOutputs(
  { ...settings, 'alarm-webhook-secret': process.env[secretVariable], 'alarm-beacon': null },
  systemClock,
  log,
  () => false,
);
const hasOutput = notices.length === 0 && settings['alarm-sound'];
const manager = findServiceManager(process.env, (reason) =>
  say(sayInEnglish(said('watchdog.noManager', { reason }))),
);
const rule = new WatchRule();
let isReady = false;
let cancelBell: (() => void) | undefined;

const newest = join(
  tmpdir(),
  `slackwater-watchdog-${createHash('sha256').update(settings.data).digest('hex').slice(0, 16)}`,
);
try {
  writeFileSync(newest, String(process.pid), { mode: 0o600 });
} catch {
  // Then an older one may sound until its time is over.
}

const isNewest = (): boolean => {
  try {
    return readFileSync(newest, 'utf8') === String(process.pid);
  } catch {
    return true;
  }
};

function tell(news: WatchNews | undefined): void {
  if (news !== undefined) {
    const seconds = (news.silentMs / 1_000).toFixed(1);
    say(sayInEnglish(said(`watchdog.${news.what}`, { seconds, pid: process.pid })));
  }
  outputs.setPriority('hub', rule.sounds ? 'high' : null);
  if (rule.sounds && !hasOutput && isatty(2))
    cancelBell ??= systemClock.every(bellEveryMs, () => say('\x07'));
  if (!rule.sounds) {
    cancelBell?.();
    cancelBell = undefined;
  }
}

function end(): void {
  outputs.close();
  setTimeout(() => process.exit(0), farewellMs);
}

process.stdin.on('data', (data: Buffer) => {
  const nowMs = systemClock.nowMs();
  for (const letter of data.toString('latin1')) {
    const word = words[letter];
    if (word === undefined) continue;
    tell(rule.word(word, nowMs));
    if (word === 'end') {
      manager?.stopping();
      end();
      return;
    }
  }
  if (!isReady) manager?.ready();
  isReady = true;
  // One answer to whatever was heard, by which the hub knows that somebody listens.
  process.stdout.write(heardAnswer);
  // One piece of words, however many: what a hub wrote before it stopped does not count twice.
  manager?.alive(nowMs);
});
process.stdin.on('end', () => {
  tell(rule.pipeEnded(systemClock.nowMs()));
  if (!rule.sounds) end();
});
process.stdin.on('error', () => undefined);
// The hub may be gone, or read nothing for a while.
process.stdout.on('error', () => undefined);

/** What hangs holds its links, its port and its recordings: only its end lets another begin. */
function endHung(hubPid: number): void {
  try {
    process.kill(hubPid, 'SIGKILL');
    say(sayInEnglish(said('watchdog.endedHub', { pid: process.pid })));
  } catch {
    // It has ended by itself meanwhile.
  }
}

let looks = 0;
systemClock.every(lookEveryMs, () => {
  tell(rule.time(systemClock.nowMs()));
  const { supervised, hubPid } = settings;
  if (supervised && hubPid !== undefined && rule.isHung(systemClock.nowMs())) endHung(hubPid);
  if (process.stdin.readableEnded && !rule.sounds) end();
  looks += 1;
  if (looks % 10 === 0 && process.stdin.readableEnded && !isNewest()) end();
});
// Ctrl-C is for the hub, which says farewell; whoever means this process has its number from the log.
process.on('SIGINT', () => undefined);
process.on('SIGTERM', end);
