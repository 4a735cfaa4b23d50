// The pages of every peer, in a process of their own: how long after its packet each message came, and how many bytes.

import { WebSocket } from 'ws';
import { LiveFrameReader } from '../../../shared/live-frame/live-frame-reader.ts';
import type { DownMessage } from '../../../shared/messages/down.ts';
import { protocolVersion } from '../../../shared/protocol-version.ts';
import { type BrokerProtocol, openBroker, subscribe } from './broker-wire.ts';

interface Start {
  readonly protocol: 'hub' | 'ws' | BrokerProtocol;
  readonly port: number;
  readonly count: number;
  readonly cookie?: string;
}

/** CLOCK_MONOTONIC is the same in every process of a machine. */
const nowMs = (): number => Number(process.hrtime.bigint()) / 1e6;
let isMeasuring = false;
let zeroMs: number | undefined;
let delaysMs: number[] = [];
let alarmDelaysMs: number[] = [];
let byteCount = 0;
const allCame: Came[][] = [];

process.on('message', (message: Start | { zeroMs: number } | 'measure' | 'report') => {
  if (message === 'measure') {
    isMeasuring = true;
    delaysMs = [];
    alarmDelaysMs = [];
    byteCount = 0;
  } else if (message === 'report') {
    isMeasuring = false;
    for (const came of allCame) readAll(came);
    process.send?.({ delaysMs, alarmDelaysMs, byteCount });
  } else if ('zeroMs' in message) zeroMs = message.zeroMs;
  else void open(message);
});

async function open(start: Start): Promise<void> {
  const pages = Array.from({ length: start.count }, (_, index) =>
    start.protocol === 'hub'
      ? openHubPage(start)
      : start.protocol === 'ws'
        ? openRelayPage(start)
        : openBroker(start.protocol, start.port, `page-${index}`).then((socket) =>
            subscribe(start.protocol as BrokerProtocol, socket, takePayload),
          ),
  );
  await Promise.all(pages);
  process.send?.('ready');
}

function takePayload(payload: Buffer): void {
  if (!isMeasuring) return;
  byteCount += payload.length;
  delaysMs.push(nowMs() - payload.readDoubleLE());
}

function openRelayPage({ port }: Start): Promise<void> {
  const socket = new WebSocket(`ws://127.0.0.1:${port}`, { perMessageDeflate: false });
  socket.on('message', (data) => takePayload(data as Buffer));
  return new Promise((resolve) => socket.once('open', () => resolve()));
}

function openHubPage({ port, cookie }: Start): Promise<void> {
  const socket = new WebSocket(`ws://127.0.0.1:${port}/ws`, { headers: { cookie: cookie ?? '' } });
  const say = (message: object): void => socket.send(JSON.stringify(message));
  socket.once('open', () => {
    say({ type: 'hello', protocolVersion, resume: null });
    setInterval(
      () => say({ type: 'pageState', visible: true, soundReady: true, presented: [], sounding: null }),
      1_000,
    );
  });
  const came: Came[] = [];
  allCame.push(came);
  return new Promise((resolve) => {
    socket.on('message', (data, isBinary) => {
      came.push({ atMs: nowMs(), bytes: data as Buffer, isBinary, isMeasured: isMeasuring });
      // The welcome is the first.
      resolve();
    });
  });
}

/** What came to one page. Read at the end only: fifty pages in one process must not wait for each other's reading. */
interface Came {
  readonly atMs: number;
  readonly bytes: Buffer;
  readonly isBinary: boolean;
  readonly isMeasured: boolean;
}

function readAll(came: readonly Came[]): void {
  const reader = new LiveFrameReader();
  // A message for a new heart rate carries the saturation of before: only a new one tells a delay.
  const seenAtMs = new Map<string, number>();
  for (const { atMs, bytes, isBinary, isMeasured } of came) {
    if (isMeasured) byteCount += bytes.length;
    const read = isBinary ? reader.read(bytes) : undefined;
    const messages = (read?.ok ? read.messages : [JSON.parse(String(bytes))]) as DownMessage[];
    for (const message of messages) {
      if (message.type === 'latest') noteReadings(message, seenAtMs, atMs, isMeasured);
      if (message.type === 'alarms' && isMeasured && zeroMs !== undefined)
        alarmDelaysMs.push(atMs - zeroMs - message.atMs);
    }
  }
}

function noteReadings(
  { athleteId, spo2, heartRate }: Extract<DownMessage, { type: 'latest' }>,
  seenAtMs: Map<string, number>,
  atMs: number,
  isMeasured: boolean,
): void {
  for (const [what, readout] of Object.entries({ spo2, heartRate })) {
    const key = `${athleteId} ${what}`;
    if (readout === null || zeroMs === undefined || seenAtMs.get(key) === readout.atMs) continue;
    seenAtMs.set(key, readout.atMs);
    if (isMeasured) delaysMs.push(atMs - zeroMs - readout.atMs);
  }
}
