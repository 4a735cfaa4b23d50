// The program from outside: bad input gets one clear sentence and a non-zero status; kill -9 loses nothing committed.

import { createHash, X509Certificate } from 'node:crypto';
import { chmodSync, mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { WebSocket } from 'ws';
import { comparisonCode } from '../../hub/devices/certificate/comparison-code.ts';
import type { RecordingBody, SessionsBody } from '../../shared/http.ts';
import { LiveFrameReader } from '../../shared/live-frame/live-frame-reader.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { readFrame } from '../support/hear-feed.ts';
import { buildHub, runCommand, startHub } from '../support/hub-process.ts';
import { fetchAsOwn, ownCookieOf } from '../support/own-person.ts';
import { serveTestHub } from '../support/serve-test-hub.ts';
import { createTestDevice } from '../support/test-device.ts';
import { writeSession } from '../support/written-sessions.ts';

// Each test starts processes; on a loaded machine one takes seconds.
vi.setConfig({ testTimeout: 60_000, hookTimeout: 60_000 });

let folder = '';
beforeAll(() => {
  buildHub();
  folder = mkdtempSync(join(tmpdir(), 'slackwater-cli-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

/** One line on standard error that is a sentence, and the status for bad input. */
function expectSentence(done: { status: number; stderr: string }, words: readonly string[]): void {
  expect(done.stderr.trim().split('\n')).toHaveLength(1);
  expect(done.stderr.trim()).toMatch(/^slackwater: .+\.$/);
  for (const word of words) expect(done.stderr).toContain(word);
  expect(done.status).toBe(2);
}

describe('bad input', () => {
  test.each([
    ['an unknown flag', ['demo', '--loud'], ['--loud', '--help']],
    ['an unknown command', ['sing'], ['sing', 'help']],
    ['a port that is no number', ['demo', '--port', 'eighty'], ['--port', 'number']],
    ['a port out of range', ['demo', '--port', '70000'], ['--port', '65535']],
    ['a speed of nothing', ['demo', '--speed', '0'], ['--speed', '0.1']],
    ['a word too many', ['demo', 'twice'], ['twice']],
    ['a settings file that is not there', ['demo', '--config', '/nonexistent.json'], ['/nonexistent.json']],
    ['a replay of nothing', ['replay'], ['file', '--session']],
    ['a replay of a missing file', ['replay', '/nonexistent.csv'], ['/nonexistent.csv']],
    ['an unknown recording', ['replay', '--session', 'nothing'], ['nothing']],
    ['an address that other devices could reach', ['demo', '--host', '0.0.0.0'], ['--host', '--lan']],
    ['a word too many for the checks', ['doctor', 'all'], ['all', 'help']],
    ['a backup that is not there', ['restore', '/nonexistent.backup'], ['/nonexistent.backup']],
    ['an adapter that means nothing', ['start', '--adapter', 'tcp:'], ['--adapter']],
  ])('%s', async (_name, args, words) => {
    expectSentence(await runCommand([...args, '--data', join(folder, 'bad-input')]), words);
  });

  test('help about a command that there is not', async () => {
    expectSentence(await runCommand(['help', 'sing']), ['sing', 'help']);
  });

  test('a link where no hub runs is given, and that none answers is said', async () => {
    const done = await runCommand(['link', '--port', '1', '--data', join(folder, 'no-hub')]);
    expect(done.status).toBe(0);
    expect(done.stdout).toMatch(/^http:\/\/127\.0\.0\.1:1\/#own=/);
    expect(done.stderr).toContain('no hub answers at http://127.0.0.1:1 now');
  });

  test('a settings file with an unknown name, or no JSON', async () => {
    const file = join(folder, 'settings.json');
    writeFileSync(file, '{"prot": 1}');
    expectSentence(await runCommand(['demo', '--config', file]), ['prot', 'port']);
    writeFileSync(file, '{');
    expectSentence(await runCommand(['demo', '--config', file]), ['JSON']);
  });

  test('an environment variable out of range is named', async () => {
    expectSentence(await runCommand(['demo'], { SLACKWATER_ATHLETES: '99' }), ['SLACKWATER_ATHLETES', '16']);
  });

  test('a malformed CSV names the line and column, and no recording is begun', async () => {
    const file = join(folder, 'broken.csv');
    writeFileSync(file, 'time_s,channel,value\n0,spo2_percent,97\n1,spo2_percent,ninety\n');
    expectSentence(await runCommand(['replay', file, '--data', join(folder, 'broken')]), [
      'broken.csv',
      'line 3',
      'column',
    ]);
  });

  test('a busy port', async () => {
    const other = createServer();
    const port = await new Promise<number>((resolve) =>
      other.listen(0, '127.0.0.1', () => resolve((other.address() as { port: number }).port)),
    );
    expectSentence(
      await runCommand(['demo', '--no-open', '--port', String(port), '--data', join(folder, 'busy')]),
      [String(port), '--port'],
    );
    await new Promise((resolve) => other.close(resolve));
  });

  test('a data folder that is a file, or that holds something else', async () => {
    const file = join(folder, 'a-file-demo');
    writeFileSync(file, 'not a folder');
    expectSentence(await runCommand(['demo', '--no-open', '--port', '0', '--data', join(folder, 'a-file')]), [
      'a-file-demo',
    ]);
    const damaged = join(folder, 'damaged-demo');
    mkdirSync(damaged, { mode: 0o700 });
    const probe = await startHub(['demo', '--port', '0', '--data', join(folder, 'damaged')]);
    await probe.stop();
    const database = 'recordings.sqlite';
    const path = join(damaged, database);
    writeFileSync(path, 'this is not a database, it is a letter to my aunt');
    expectSentence(
      await runCommand(['demo', '--no-open', '--port', '0', '--data', join(folder, 'damaged')]),
      [database],
    );
    expect(readFileSync(path, 'utf8')).toContain('my aunt');
    chmodSync(path, 0o600);
  });

  test('help lists every command and option', async () => {
    const help = await runCommand(['--help']);
    expect(help.status).toBe(0);
    for (const word of [
      'start',
      'demo',
      'replay',
      'analyze',
      '--port',
      '--data',
      '--speed',
      'Not a medical device'.toLowerCase(),
    ]) {
      expect(help.stdout.toLowerCase()).toContain(word);
    }
  });
});

/** A bare client: says hello, starts a session, resolves when `enough` says so. */
async function watch(
  url: string,
  enough: (message: DownMessage) => boolean,
  athleteId = 'simulated-1',
): Promise<DownMessage[]> {
  const socket = new WebSocket(`${url.replace('http', 'ws')}ws`, {
    headers: { cookie: ownCookieOf(url) ?? '' },
  });
  const heard: DownMessage[] = [];
  return new Promise((resolve, reject) => {
    socket.on('error', reject);
    socket.on('close', (code) => reject(new Error(`the hub closed the socket with ${code}`)));
    socket.on('open', () => socket.send(JSON.stringify({ type: 'hello', protocolVersion, resume: null })));
    const reader = new LiveFrameReader();
    socket.on('message', (data, isBinary) => {
      const messages = isBinary
        ? readFrame(reader, new Uint8Array(data as Buffer))
        : [JSON.parse(String(data)) as DownMessage];
      for (const message of messages) take(message);
    });
    const take = (message: DownMessage): void => {
      heard.push(message);
      if (message.type === 'welcome') {
        socket.send(
          JSON.stringify({
            type: 'startSession',
            requestId: 's',
            athleteIds: [athleteId],
            title: 'killed',
          }),
        );
      }
      if (enough(message)) {
        socket.close();
        resolve(heard);
      }
    };
  });
}

describe('a hub that is killed', () => {
  test('keeps every committed packet, marks the session interrupted, and shows it for review', async () => {
    const data = join(folder, 'killed');
    const first = await startHub(['demo', '--port', '0', '--data', data, '--speed', '20']);
    const heard = await watch(first.url, (m) => m.type === 'trace' && m.toMs > 45_000);
    await first.kill();
    const shown = heard.flatMap((m) =>
      m.type === 'trace' ? m.traces.filter((t) => t.channel === 'spo2Percent').flatMap((t) => t.atMs) : [],
    );
    // Committed each 250 ms of real time, which is 5 s of session time at this speed.
    const surelyCommitted = shown.filter((atMs) => atMs < 45_000 - 5_000);
    expect(surelyCommitted.length).toBeGreaterThan(20);

    const second = await startHub(['demo', '--port', '0', '--data', data]);
    expect(second.output()).toMatch(/stopped during a session.*kept/);
    const { sessions } = (await (await fetchAsOwn(`${second.url}api/sessions`)).json()) as SessionsBody;
    expect(sessions).toHaveLength(1);
    expect(sessions[0]?.session).toMatchObject({ status: 'interrupted', simulated: true, title: 'killed' });
    const { sessionId } = sessions[0]!.session;
    const recording = (await (
      await fetchAsOwn(`${second.url}api/sessions/${sessionId}`)
    ).json()) as RecordingBody;
    expect(recording.durationMs).toBeGreaterThan(39_000);
    const trace = (await (
      await fetchAsOwn(`${second.url}api/sessions/${sessionId}/athletes/simulated-1/trace?points=8000`)
    ).json()) as { traces: { channel: string; atMs: number[] }[] };
    const kept = new Set(
      trace.traces.find((t) => t.channel === 'spo2Percent')!.atMs.map((atMs) => Math.round(atMs)),
    );
    expect(surelyCommitted.filter((atMs) => !kept.has(Math.round(atMs)))).toEqual([]);
    expect(await second.stop('SIGTERM')).toBe(0);
  });

  test('SIGINT ends the session properly', async () => {
    const data = join(folder, 'interrupted');
    const first = await startHub(['demo', '--port', '0', '--data', data, '--speed', '20']);
    await watch(first.url, (m) => m.type === 'trace' && m.toMs > 10_000);
    expect(await first.stop('SIGINT')).toBe(0);
    const second = await startHub(['demo', '--port', '0', '--data', data]);
    const { sessions } = (await (await fetchAsOwn(`${second.url}api/sessions`)).json()) as SessionsBody;
    expect(sessions[0]?.session.status).toBe('ended');
    await second.stop();
  });
});

describe('a replay', () => {
  test('of a session file reads its sensors by the profiles in the file, whatever the data folder holds', async () => {
    const recorded = await serveTestHub();
    writeSession(recorded.store, {
      sessionId: 'evening',
      athleteId: 'mira',
      athleteName: 'Mira',
      startedWallAtMs: Date.UTC(2025, 4, 3, 15),
      title: 'Evening',
      holdsS: [40],
      wave: true,
    });
    const file = join(folder, 'evening.session.zip');
    const exported = await fetchAsOwn(`${recorded.url}/api/sessions/evening/session?athleteId=mira`);
    writeFileSync(file, Buffer.from(await exported.arrayBuffer()));
    await recorded.close();
    const replay = ['replay', file, '--port', '0', '--data', join(folder, 'no-profiles'), '--speed', '20'];
    const first = await startHub(replay);
    const hash = createHash('sha256').update('Replay of evening.session.zip').digest('hex');
    const athleteId = `replay-${hash.slice(0, 12)}`;
    await watch(first.url, (m) => m.type === 'trace' && m.toMs > 20_000, athleteId);
    expect(await first.stop('SIGINT')).toBe(0);
    const hub = await startHub(replay);
    const { sessions } = (await (await fetchAsOwn(`${hub.url}api/sessions`)).json()) as SessionsBody;
    const { sessionId } = sessions[0]!.session;
    // Until it is worked out, a trace has what standard sensors sent alone.
    await fetchAsOwn(`${hub.url}api/sessions/${sessionId}`);
    const { traces } = (await (
      await fetchAsOwn(`${hub.url}api/sessions/${sessionId}/athletes/${athleteId}/trace?points=100`)
    ).json()) as { traces: { channel: string; atMs: number[] }[] };
    // The wave is sent by an invented protocol: without its profile nothing could be made of those bytes.
    expect(traces.find(({ channel }) => channel === 'pleth')?.atMs.length).toBeGreaterThan(50);
    expect(await hub.stop()).toBe(0);
  });
});

describe('other devices', () => {
  test('the terminal says where, the code of the certificate and of the authority, and a code to join by, for one device', async () => {
    const hub = await startHub([
      ...['demo', '--lan', '--lan-authority', '--lan-host', '127.0.0.1', '--lan-port', '0', '--port', '0'],
      ...['--data', join(folder, 'lan')],
    ]);
    const printed = await vi.waitUntil(() => {
      const code = /good once in the next 10 minutes: (\S+)/.exec(hub.output())?.[1];
      const address = /join at (https:\S+)/.exec(hub.output())?.[1];
      const [shown, authority] = [...hub.output().matchAll(/^ {2}((?:[0-9A-F]{4} ?){4})$/gm)].map(
        ([, each]) => each,
      );
      return code && address && shown && authority ? { code, address, shown, authority } : undefined;
    });
    const tablet = createTestDevice(printed.address);
    const joined = await tablet.join(printed.code);
    expect(joined).toMatchObject({
      status: 200,
      body: { role: 'coach' },
    });
    expect(comparisonCode(joined.fingerprint)).toBe(printed.shown);
    const authority = await tablet.ask('GET', '/api/authority/pem');
    expect(comparisonCode(new X509Certificate(authority.text).fingerprint256)).toBe(printed.authority);
    const page = tablet.openPage();
    page.send({ type: 'hello', protocolVersion, resume: null });
    expect((await page.until('welcome')).deviceId).toBe(joined.body.deviceId);
    page.close();
    expect((await createTestDevice(printed.address).join(printed.code)).status).toBe(403);
    expect(await hub.stop()).toBe(0);
    for (const name of ['devices.json', 'lan-certificate.pem', 'lan-authority.pem'])
      expect(statSync(join(folder, 'lan-demo', name)).mode & 0o777).toBe(0o600);
  });
});
