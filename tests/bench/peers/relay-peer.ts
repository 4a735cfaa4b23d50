// Nothing but `ws`: the load's packets, made in this process, to every socket. No pipeline, nothing durable, no rights.

import { WebSocket, WebSocketServer } from 'ws';
import { type PeerLoad, payloadBytes, startLoad } from './load.ts';
import { OwnTimeWatch } from './own-time.ts';

const load = JSON.parse(process.argv[2] ?? '{}') as PeerLoad;
const server = new WebSocketServer({ host: '127.0.0.1', port: 0, perMessageDeflate: false });
server.on('listening', () => {
  const address = server.address();
  process.send?.({ port: typeof address === 'object' ? address?.port : 0 });
});
const watch = load.timed ? new OwnTimeWatch() : undefined;
function send(kind: 'heartRate' | 'oximeter'): void {
  const isWave = load.waves && kind === 'oximeter';
  const payload = Buffer.alloc(isWave ? payloadBytes.wave : payloadBytes.reading);
  payload.writeDoubleLE(Number(process.hrtime.bigint()) / 1e6);
  for (const socket of server.clients) if (socket.readyState === WebSocket.OPEN) socket.send(payload);
}
startLoad(load, (_athlete, kind) => {
  if (watch === undefined) send(kind);
  else watch.task(() => send(kind));
});
process.on('message', (message) => {
  if (message === 'cpu') {
    const { user, system } = process.cpuUsage();
    process.send?.({ cpuMs: (user + system) / 1_000 });
    watch?.begin();
  } else if (message === 'ownTime') process.send?.({ ownTime: watch?.report() });
  else if (message === 'end') process.exit(0);
});
