// A process of its own with N dashboards: says hello and every second its state, counts messages, and tells how long
// after its packet each came, and how many alarm messages each dashboard got.

import { WebSocket } from 'ws';
import { LiveFrameReader } from '../../shared/live-frame/live-frame-reader.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { readFrame } from '../support/hear-feed.ts';

interface Start {
  readonly url: string;
  readonly count: number;
  readonly cookie: string;
}

/** CLOCK_MONOTONIC is the same in every process of a machine, so the parent's times can be compared with ours. */
const monotonicNowMs = () => Number(process.hrtime.bigint()) / 1e6;
let zeroMs: number | undefined;
const delaysMs: Record<'alarm' | 'latest', number[]> = { alarm: [], latest: [] };
const alarmCounts: number[] = [];
let messageCount = 0;
let byteCount = 0;

process.on('message', (message: Start | { zeroMs: number } | 'report') => {
  if (message === 'report') {
    process.send?.({ delaysMs, messageCount, byteCount, alarmCounts });
    return;
  }
  if ('zeroMs' in message) {
    zeroMs = message.zeroMs;
    return;
  }
  let welcomed = 0;
  for (let i = 0; i < message.count; i += 1) {
    alarmCounts.push(0);
    const socket = new WebSocket(message.url, { headers: { cookie: message.cookie } });
    // A message for a new heart rate carries the saturation of before: only a new one tells a delay.
    const seenAtMs = new Map<string, number>();
    socket.on('open', () => {
      socket.send(JSON.stringify({ type: 'hello', protocolVersion, resume: null }));
      setInterval(
        () =>
          socket.send(
            JSON.stringify({
              type: 'pageState',
              visible: true,
              soundReady: true,
              presented: [],
              sounding: null,
            }),
          ),
        1_000,
      );
    });
    const reader = new LiveFrameReader();
    socket.on('message', (data, isBinary) => {
      const arrivedMs = monotonicNowMs();
      const bytes = data as Buffer;
      messageCount += 1;
      byteCount += bytes.length;
      const messages = isBinary
        ? readFrame(reader, new Uint8Array(bytes))
        : [JSON.parse(String(data)) as DownMessage];
      for (const down of messages) {
        if (down.type === 'welcome') {
          welcomed += 1;
          if (welcomed === message.count) process.send?.('ready');
        }
        if (zeroMs === undefined) continue;
        if (down.type === 'alarms') alarmCounts[i] = (alarmCounts[i] ?? 0) + 1;
        if (down.type === 'alarms') delaysMs.alarm.push(arrivedMs - zeroMs - down.atMs);
        if (down.type === 'latest' && down.spo2 !== null && seenAtMs.get(down.athleteId) !== down.spo2.atMs) {
          seenAtMs.set(down.athleteId, down.spo2.atMs);
          delaysMs.latest.push(arrivedMs - zeroMs - down.spo2.atMs);
        }
      }
    });
  }
});
