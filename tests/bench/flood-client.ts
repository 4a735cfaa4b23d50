// A process of its own that floods a hub in one way until it is killed, coming back whenever it is cut off.

import { request } from 'node:https';
import { connect as connectPlain } from 'node:net';
import { connect } from 'node:tls';
import { WebSocket } from 'ws';
import { protocolVersion } from '../../shared/protocol-version.ts';

export type Flood =
  | 'frames'
  | 'longFrames'
  | 'fragments'
  | 'pings'
  | 'requests'
  | 'handshakes'
  | 'slowHeaders'
  | 'slowBodies';

export interface FloodOrder {
  readonly flood: Flood;
  readonly lanPort: number;
  readonly cookie: string;
}

const state = JSON.stringify({ type: 'pageState', visible: true, soundReady: true });
const long = JSON.stringify({ type: 'addMark', text: 'x'.repeat(15_000) });
/** So much unsent that the next would only grow this process. */
const mostUnsentBytes = 8 * 2 ** 20;

function floodSocket({ lanPort, cookie, flood }: FloodOrder): void {
  const socket = new WebSocket(`wss://127.0.0.1:${lanPort}/ws`, {
    headers: { cookie },
    rejectUnauthorized: false,
  });
  let open = false;
  const pump = (): void => {
    if (!open) return;
    for (let i = 0; i < 500 && socket.bufferedAmount < mostUnsentBytes; i += 1) {
      if (flood === 'frames') socket.send(state);
      else if (flood === 'longFrames') socket.send(long);
      else if (flood === 'fragments') socket.send('', { fin: false });
      else socket.ping('x'.repeat(100));
    }
    setImmediate(pump);
  };
  socket.on('open', () => {
    open = true;
    socket.send(JSON.stringify({ type: 'hello', protocolVersion, resume: null }));
    pump();
  });
  socket.on('error', () => undefined);
  socket.on('close', () => {
    open = false;
    setTimeout(() => floodSocket({ lanPort, cookie, flood }), 50);
  });
}

const again = (work: () => void): void => void setTimeout(work, 5);

function floodRequests(order: FloodOrder): void {
  const asked = request(
    `https://127.0.0.1:${order.lanPort}/api/athletes`,
    { headers: { cookie: order.cookie }, rejectUnauthorized: false },
    (answer) => {
      answer.resume();
      answer.on('end', () => setImmediate(() => floodRequests(order)));
    },
  );
  asked.on('error', () => again(() => floodRequests(order)));
  asked.end();
}

function floodHandshakes(order: FloodOrder): void {
  const socket = connect({ port: order.lanPort, host: '127.0.0.1', rejectUnauthorized: false });
  socket.on('secureConnect', () => socket.destroy());
  socket.on('error', () => undefined);
  socket.on('close', () => again(() => floodHandshakes(order)));
}

function floodSlowly(order: FloodOrder): void {
  const socket = connect({ port: order.lanPort, host: '127.0.0.1', rejectUnauthorized: false });
  socket.on('secureConnect', () => {
    if (order.flood === 'slowBodies')
      socket.write(
        'POST /api/join HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-type: application/json\r\ncontent-length: 900\r\n\r\n',
      );
    else socket.write('GET /api/join HTTP/1.1\r\nhost: 127.0.0.1\r\n');
    setInterval(() => socket.write('x'), 1_000).unref();
  });
  socket.on('error', () => undefined);
  socket.on('close', () => again(() => floodSlowly(order)));
}

function floodSilently(order: FloodOrder): void {
  const socket = connectPlain({ port: order.lanPort, host: '127.0.0.1' });
  socket.on('error', () => undefined);
  socket.on('close', () => again(() => floodSilently(order)));
}

process.on('message', (order: FloodOrder) => {
  const start: Record<Flood, readonly [number, (order: FloodOrder) => void]> = {
    frames: [4, floodSocket],
    longFrames: [4, floodSocket],
    fragments: [4, floodSocket],
    pings: [4, floodSocket],
    requests: [64, floodRequests],
    handshakes: [32, floodHandshakes],
    slowHeaders: [600, floodSlowly],
    slowBodies: [600, floodSlowly],
  };
  const [count, work] = start[order.flood];
  for (let i = 0; i < count; i += 1) work(order);
  if (order.flood === 'slowHeaders') for (let i = 0; i < 600; i += 1) floodSilently(order);
});
