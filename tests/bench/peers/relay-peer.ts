// Nothing but `ws`: the load's packets, made in this process, to every socket. No pipeline, nothing durable, no rights.

import { WebSocket, WebSocketServer } from 'ws';
import { type PeerLoad, payloadBytes, startLoad } from './load.ts';

const load = JSON.parse(process.argv[2] ?? '{}') as PeerLoad;
const server = new WebSocketServer({ host: '127.0.0.1', port: 0, perMessageDeflate: false });
server.on('listening', () => {
  const address = server.address();
  process.send?.({ port: typeof address === 'object' ? address?.port : 0 });
});
startLoad(load, (_athlete, kind) => {
  const isWave = load.waves && kind === 'oximeter';
  const payload = Buffer.alloc(isWave ? payloadBytes.wave : payloadBytes.reading);
  payload.writeDoubleLE(Number(process.hrtime.bigint()) / 1e6);
  for (const socket of server.clients) if (socket.readyState === WebSocket.OPEN) socket.send(payload);
});
process.on('message', (message) => {
  if (message === 'cpu') {
    const { user, system } = process.cpuUsage();
    process.send?.({ cpuMs: (user + system) / 1_000 });
  } else if (message === 'end') process.exit(0);
});
