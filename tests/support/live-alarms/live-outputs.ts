// The hub's own alarm outputs for tests that look at what comes out: the real loudspeaker, command and webhook code, with a
// player that plays by the test's clock, a shell script that is really run, and a receiver that is really posted to.

import { once } from 'node:events';
import { chmodSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import type { Clock } from '../../../hub/base/ports/clock.ts';
import { type AlarmOutputs, createAlarmOutputs } from '../../../hub/outputs/alarm-outputs.ts';
import { findLoudspeaker } from '../../../hub/outputs/loudspeaker.ts';
import { type RunCommand, runCommand } from '../../../hub/outputs/run-command.ts';
import { createUserCommand } from '../../../hub/outputs/user-command.ts';
import { createWebhook, type Post } from '../../../hub/outputs/webhook.ts';
import { said } from '../../../shared/said.ts';
import { burstDurationMs, signalPatterns } from '../../../src/alarms/signal-patterns.ts';

export type OutputName = 'loudspeaker' | 'command' | 'webhook';
export type OutputWord = 'high' | 'medium' | 'low' | 'none';

/** What a test may break. */
export interface OutputFaults {
  loudspeakerFails: boolean;
  /** The next runs of the script fail. */
  commandFailures: number;
  /** The next posts are answered with 500. */
  webhookFailures: number;
}

export interface LiveOutputs {
  readonly outputs: AlarmOutputs;
  readonly faults: OutputFaults;
  /** Runs of the script and posts that are on their way. */
  readonly inFlight: () => number;
  close(): Promise<void>;
}

const words = new Set<string>(['high', 'medium', 'low', 'none']);

/** `heard`: what each has really been given to sound, as it arrives. */
export async function openLiveOutputs(
  clock: Clock,
  heard: (output: OutputName, word: OutputWord) => void,
): Promise<LiveOutputs> {
  const folder = mkdtempSync(
    join(process.platform === 'linux' ? '/dev/shm' : tmpdir(), 'slackwater-outputs-'),
  );
  const faults: OutputFaults = { loudspeakerFails: false, commandFailures: 0, webhookFailures: 0 };
  let inFlight = 0;

  const play: RunCommand = (_program, args) => {
    const word = basename(args.at(-1) ?? '', '.wav');
    if (faults.loudspeakerFails)
      return {
        ended: Promise.resolve(said('output.endedWithCode', { program: 'player', code: 1 })),
        stop: () => undefined,
      };
    if (words.has(word)) heard('loudspeaker', word as OutputWord);
    let end: (fault: null) => void = () => undefined;
    const ended = new Promise<null>((resolve) => {
      end = resolve;
    });
    const lengthMs = burstDurationMs(signalPatterns[word === 'silence' ? 'low' : (word as 'high')].sound);
    const cancel = clock.after(lengthMs, () => end(null));
    return {
      ended,
      stop: () => {
        cancel();
        heard('loudspeaker', 'none');
        end(null);
      },
    };
  };
  const findPlayer = findLoudspeaker({ clock, run: play, hasProgram: (program) => program === 'aplay' });

  const told = join(folder, 'told');
  const script = join(folder, 'lamp.sh');
  writeFileSync(told, '');
  writeFileSync(script, `#!/bin/sh\n[ ! -e "$0.broken" ] || exit 3\nprintf '%s\\n' "$1" >> '${told}'\n`);
  chmodSync(script, 0o700);
  let readLines = 0;
  const run: RunCommand = (program, args, environment) => {
    if (faults.commandFailures > 0 && words.has(args.at(-1) ?? '')) {
      faults.commandFailures -= 1;
      writeFileSync(`${script}.broken`, '');
    } else rmSync(`${script}.broken`, { force: true });
    inFlight += 1;
    const running = runCommand(program, args, environment);
    const ended = running.ended.then((fault) => {
      inFlight -= 1;
      const lines = readFileSync(told, 'utf8').split('\n').slice(0, -1);
      for (const word of lines.slice(readLines)) if (words.has(word)) heard('command', word as OutputWord);
      readLines = lines.length;
      return fault;
    });
    return { ...running, ended };
  };

  const receiver = createServer((request, response) => {
    const chunks: Buffer[] = [];
    request.on('data', (chunk: Buffer) => chunks.push(chunk));
    request.on('end', () => {
      const { alarm, beacon } = JSON.parse(Buffer.concat(chunks).toString()) as {
        alarm: string;
        beacon?: boolean;
      };
      const fails = faults.webhookFailures > 0 && beacon !== true && words.has(alarm);
      if (fails) faults.webhookFailures -= 1;
      else if (words.has(alarm)) heard('webhook', alarm as OutputWord);
      response.writeHead(fails ? 500 : 204).end();
    });
  });
  receiver.listen(0, '127.0.0.1');
  await once(receiver, 'listening');
  const post: Post = async (url, body, headers) => {
    inFlight += 1;
    try {
      return (await fetch(url, { method: 'POST', headers, body })).status;
    } finally {
      inFlight -= 1;
    }
  };

  const outputs = createAlarmOutputs({
    clock,
    loudspeaker: findPlayer,
    others: [
      (health) => createUserCommand({ command: [script], clock, run, health }),
      (health) =>
        createWebhook({
          url: `http://127.0.0.1:${(receiver.address() as AddressInfo).port}/`,
          clock,
          beaconMs: 60_000,
          isWell: () => true,
          post,
          health,
        }),
    ],
  });
  return {
    outputs,
    faults,
    inFlight: () => inFlight,
    async close() {
      outputs.close();
      // Whatever rings is told that it is over.
      while (inFlight > 0) await new Promise((resolve) => setTimeout(resolve, 1));
      receiver.closeAllConnections();
      await new Promise((resolve) => receiver.close(resolve));
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
