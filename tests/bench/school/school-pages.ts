// Pages of a school in a process of their own: a socket to each room, and how long ago each alarm was sent that comes.

import { WebSocket } from 'ws';
import { hello } from '../../support/test-page.ts';

interface Start {
  readonly url: string;
  readonly cookie: string;
  readonly rooms: readonly string[];
}

let delaysMs: number[] = [];
let messageCount = 0;
let byteCount = 0;
let closedCount = 0;

function open(url: string, cookie: string, room: string, welcomed: () => void): void {
  const socket = new WebSocket(`${url.replace(/^http/, 'ws')}/ws?room=${room}`, { headers: { cookie } });
  socket.on('open', () => socket.send(JSON.stringify(hello)));
  socket.on('error', () => undefined);
  socket.on('close', () => {
    closedCount += 1;
    setTimeout(() => open(url, cookie, room, welcomed), 1_000);
  });
  socket.on('message', (data, isBinary) => {
    const atMs = Number(process.hrtime.bigint()) / 1e6;
    messageCount += 1;
    byteCount += (data as Buffer).length;
    if (isBinary) return;
    const text = String(data);
    if (text.startsWith('{"type":"welcome"')) welcomed();
    const sent = /^\{"type":"alarms".*?"alarmId":"at([\d.]+)"/.exec(text);
    if (sent !== null) delaysMs.push(atMs - Number(sent[1]));
  });
}

process.on('message', (asked: Start | 'report') => {
  if (asked === 'report') {
    process.send?.({ delaysMs, messageCount, byteCount, closedCount });
    delaysMs = [];
    messageCount = 0;
    byteCount = 0;
    closedCount = 0;
    return;
  }
  const waiting = new Set(asked.rooms.keys());
  for (const [index, room] of asked.rooms.entries())
    open(asked.url, asked.cookie, room, () => {
      if (waiting.delete(index) && waiting.size === 0) process.send?.('ready');
    });
});
