// The watchdog beside a real hub: stopped, in an endless loop, killed; and its rule without a clock.

import { chmodSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { delimiter, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import {
  hungMs,
  ListenerRule,
  silenceMs,
  soundAtMostMs,
  WatchRule,
} from '../../hub/outputs/watchdog/watch-rule.ts';
import { canFaultDisk, diskFaultEnvironment } from '../support/disk-fault.ts';
import { buildHub, startHub } from '../support/hub-process.ts';
import { hello, openTestPage } from '../support/test-page.ts';

describe('the rule', () => {
  const heard = (): WatchRule => {
    const rule = new WatchRule();
    rule.word('idle', 0);
    rule.word('round', 1_000);
    return rule;
  };

  test('a hub that is silent in a session sounds within 3 s, one that speaks never', () => {
    const rule = heard();
    for (let atMs = 1_000; atMs < 60_000; atMs += 250) {
      rule.word('round', atMs);
      expect(rule.time(atMs + 249)).toBeUndefined();
    }
    const last = 59_750;
    let atMs = last;
    while (!rule.sounds) {
      atMs += 100;
      rule.time(atMs);
    }
    expect(atMs - last).toBeLessThanOrEqual(3_000);
    expect(atMs - last).toBeGreaterThanOrEqual(silenceMs);
    expect(rule.word('round', atMs + 5_000)).toEqual({ what: 'goesOn', silentMs: atMs + 5_000 - last });
    expect(rule.sounds).toBe(false);
  });

  test('between sessions nothing sounds; in one, an end without a farewell does at once', () => {
    const idle = new WatchRule();
    idle.word('idle', 0);
    expect(idle.time(silenceMs)?.what).toBe('idleStopped');
    expect(idle.pipeEnded(9_000)?.what).toBe('gone');
    expect(idle.sounds).toBe(false);
    const running = heard();
    expect(running.pipeEnded(1_010)).toEqual({ what: 'gone', silentMs: 10 });
    expect(running.sounds).toBe(true);
    expect(running.time(1_010 + soundAtMostMs)?.what).toBe('givesUp');
    expect(running.sounds).toBe(false);
    const farewell = heard();
    expect(farewell.word('end', 1_100)).toBeUndefined();
    expect(farewell.pipeEnded(1_101)).toBeUndefined();
    expect(farewell.sounds).toBe(false);
  });

  test('one that lives and says nothing is hung after a while, one that is gone or speaks is not', () => {
    const rule = heard();
    rule.time(1_000 + hungMs - 1);
    expect(rule.isHung(1_000 + hungMs - 1)).toBe(false);
    expect(rule.isHung(1_000 + hungMs)).toBe(true);
    rule.word('round', 1_000 + hungMs + 10);
    expect(rule.isHung(1_000 + 2 * hungMs)).toBe(false);
    const gone = heard();
    gone.pipeEnded(1_100);
    expect(gone.isHung(60_000)).toBe(false);
    expect(new WatchRule().isHung(60_000)).toBe(false);
  });

  test('a hub that never spoke is not missed', () => {
    const rule = new WatchRule();
    expect(rule.time(60_000)).toBeUndefined();
    expect(rule.pipeEnded(60_000)).toBeUndefined();
    expect(rule.sounds).toBe(false);
  });
});

describe('a watchdog that no longer listens', () => {
  test('is known by eight words without an answer; one that answers never is', () => {
    const rule = new ListenerRule();
    rule.said();
    rule.answered();
    for (let i = 0; i < 500; i++) {
      for (let unanswered = 0; unanswered < 8; unanswered++) expect(rule.said()).toBe(false);
      rule.answered();
    }
    for (let unanswered = 0; unanswered < 8; unanswered++) expect(rule.said()).toBe(false);
    expect(rule.said()).toBe(true);
  });

  test('that has just been started is given time to load', () => {
    const rule = new ListenerRule();
    for (let words = 0; words < 80; words++) expect(rule.said()).toBe(false);
    expect(rule.said()).toBe(true);
  });
});

describe.runIf(process.platform !== 'win32')('a real hub', () => {
  vi.setConfig({ testTimeout: 60_000 });
  let folder = '';
  beforeAll(() => {
    buildHub();
    folder = mkdtempSync(join(tmpdir(), 'slackwater-watchdog-test-'));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

  const script = (path: string, text: string): string => {
    writeFileSync(path, `#!/bin/sh\n${text}\n`);
    chmodSync(path, 0o700);
    return path;
  };
  const linesOf = (path: string): string[] =>
    existsSync(path) ? readFileSync(path, 'utf8').trim().split('\n') : [];
  const patience = { timeout: 30_000, interval: 20 };

  /** A hub with a session running, whose alarm command writes each priority to `sounded`. */
  async function watched(name: string, env: Record<string, string> = {}) {
    const sounded = join(folder, `${name}-sounded`);
    const command = script(join(folder, `${name}-command`), `echo "$1" >> '${sounded}'`);
    const data = join(folder, name);
    const hub = await startHub(
      ['demo', '--port', '0', '--data', data, '--alarm-command', command],
      { SLACKWATER_LOG: 'error', ...env },
      { watched: true },
    );
    const page = openTestPage(hub.url.replace(/\/$/, ''));
    page.send(hello);
    page.send({ type: 'startSession', requestId: 's', athleteIds: ['simulated-1'], title: '' });
    await page.until('done');
    // By then the watchdog has heard of several rounds in the session.
    await page.until('trace', (trace) => trace.toMs > 1_500);
    return { hub, page, sounded: () => linesOf(sounded) };
  }

  /** Ends the watchdog whose number its message tells. */
  const silence = (output: string): void => {
    const pid = /kill (\d+)/.exec(output)?.[1];
    if (pid !== undefined) process.kill(Number(pid), 'SIGTERM');
  };

  test('that is stopped sounds, says so, and falls silent when it goes on', async () => {
    const { hub, sounded } = await watched('stopped');
    hub.signal('SIGSTOP');
    await vi.waitFor(() => expect(sounded()).toContain('high'), patience);
    expect(hub.output()).toMatch(/WATCHDOG: the hub has stood still for 2\.\d s in the middle of a session/);
    hub.signal('SIGCONT');
    await vi.waitFor(() => expect(sounded().at(-1)).toBe('none'), patience);
    await vi.waitFor(() => expect(hub.output()).toContain('the hub goes on'), patience);
    expect(await hub.stop('SIGTERM')).toBe(0);
  });

  test('in an endless loop sounds', async () => {
    const hang = join(folder, 'hang.cjs');
    writeFileSync(hang, `if (process.argv.length > 1) process.on('SIGUSR2', () => { for (;;); });`);
    const { hub, sounded } = await watched('hanging', { NODE_OPTIONS: `--require ${hang}` });
    hub.signal('SIGUSR2');
    await vi.waitFor(() => expect(sounded()).toContain('high'), patience);
    await hub.kill();
    silence(hub.output());
  });

  test('that is killed sounds; one that ends in order does not', async () => {
    const killed = await watched('killed');
    await killed.hub.kill();
    await vi.waitFor(() => expect(killed.sounded()).toContain('high'), patience);
    await vi.waitFor(() => expect(killed.hub.output()).toContain('ended without a farewell'), patience);
    silence(killed.hub.output());

    const ended = await watched('ended');
    expect(await ended.hub.stop('SIGINT')).toBe(0);
    // That monitoring was ended in a session is the hub's own alarm, which goes with it.
    expect(ended.sounded().at(-1)).toBe('none');
    expect(ended.hub.output()).not.toContain('WATCHDOG');
  });

  test.runIf(process.platform === 'linux').each([
    ['killed', 'SIGKILL', 'watchdog.ended'],
    ['stopped', 'SIGSTOP', 'watchdog.hung'],
    ['ended', 'SIGTERM', 'watchdog.ended'],
  ] as const)(
    'whose watchdog is %s says so, starts another, and is heard by that when it stops',
    async (how, signal, reason) => {
      const { hub, page, sounded } = await watched(`other-${how}`);
      const first = hub.watchdogPid()!;
      process.kill(first, signal);
      const told = await page.until('supervision', ({ alarms }) =>
        alarms.some(({ subject }) => subject?.code === 'output.watchdog'),
      );
      expect(told.alarms[0]).toMatchObject({
        kind: 'outputFailed',
        priority: 'medium',
        reason: { code: reason },
      });
      await page.until('sensors', ({ notices }) => notices.some(({ code }) => code === 'notice.noWatchdog'));
      await page.until('sensors', ({ notices }) =>
        notices.some(({ code }) => code === 'notice.watchdogAgain'),
      );
      expect(hub.watchdogPid()).not.toBe(first);
      expect(existsSync(`/proc/${first}`)).toBe(false);
      await vi.waitFor(
        () =>
          expect(page.received.findLast(({ type }) => type === 'supervision')).toEqual({
            type: 'supervision',
            alarms: [],
          }),
        patience,
      );
      hub.signal('SIGSTOP');
      await vi.waitFor(() => expect(sounded()).toContain('high'), patience);
      hub.signal('SIGCONT');
      await vi.waitFor(() => expect(sounded().at(-1)).toBe('none'), patience);
      page.close();
      await hub.stop('SIGTERM');
    },
  );

  test.runIf(canFaultDisk)('whose disk is slow as it ends in order is not taken for dead', async () => {
    const control = join(folder, 'slow-control');
    writeFileSync(control, '');
    const { hub, page, sounded } = await watched(
      'slow',
      diskFaultEnvironment({ folder: join(folder, 'slow-demo'), control }),
    );
    page.close();
    writeFileSync(control, 'slow 3500');
    const startedAtMs = performance.now();
    await hub.stop('SIGTERM');
    // Longer than a watchdog waits for a hub that says nothing.
    expect(performance.now() - startedAtMs).toBeGreaterThan(silenceMs + 1_000);
    expect(hub.output()).not.toContain('WATCHDOG');
    expect(sounded().at(-1)).toBe('none');
  });

  test('tells the service manager that it is ready, alive and stopping', async () => {
    const told = join(folder, 'told');
    script(join(folder, 'systemd-notify'), `echo "$1" >> '${told}'`);
    const { hub } = await watched('service', {
      PATH: `${folder}${delimiter}${process.env['PATH']}`,
      NOTIFY_SOCKET: join(folder, 'nobody-listens'),
      WATCHDOG_USEC: '1000000',
    });
    await vi.waitFor(
      () => expect(linesOf(told).filter((word) => word === 'WATCHDOG=1').length).toBeGreaterThan(1),
      patience,
    );
    await hub.stop('SIGTERM');
    await vi.waitFor(() => expect(linesOf(told).at(-1)).toBe('STOPPING=1'), patience);
    expect(linesOf(told)[0]).toBe('READY=1');
  });
});
