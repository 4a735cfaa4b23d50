// A page of a hub, in a thread: writes down when it heard of each floor alarm for the first time.

import { appendFileSync } from 'node:fs';
import { workerData } from 'node:worker_threads';
import { WebSocket } from 'ws';
import { enterByLink, ownCookieOf } from '../../support/own-person.ts';
import { hello } from '../../support/test-page.ts';

const { link, witnessPath } = workerData as { link: string; witnessPath: string };
await enterByLink(link);
const { origin } = new URL(link);
const known = new Set<string>();

const socket = new WebSocket(`${origin.replace(/^http/, 'ws')}/ws`, {
  headers: { cookie: ownCookieOf(origin) ?? '' },
});
socket.on('open', () => socket.send(JSON.stringify(hello)));
socket.on('error', console.error);
socket.on('message', (data, isBinary) => {
  const heardAtMs = Number(process.hrtime.bigint()) / 1e6;
  if (isBinary) return;
  const message = JSON.parse(String(data)) as {
    type: string;
    athleteId?: string;
    alarms?: readonly { alarmId: string; kind: string; raisedAtMs: number }[];
  };
  if (message.type !== 'alarms') return;
  for (const { alarmId, kind, raisedAtMs } of message.alarms ?? []) {
    const key = `${message.athleteId} ${alarmId} ${raisedAtMs}`;
    if (kind !== 'floorBreached' || known.has(key)) continue;
    known.add(key);
    appendFileSync(witnessPath, `${JSON.stringify({ heard: key, atMs: heardAtMs })}\n`);
  }
});
