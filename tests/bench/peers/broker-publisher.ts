// The load's packets to a broker, from a process of its own.

import { type BrokerProtocol, openBroker, publish } from './broker-wire.ts';
import { type PeerLoad, payloadBytes, startLoad } from './load.ts';

const load = JSON.parse(process.argv[2] ?? '{}') as PeerLoad;
const { protocol, port } = JSON.parse(process.argv[3] ?? '{}') as { protocol: BrokerProtocol; port: number };
const socket = await openBroker(protocol, port, 'publisher');
startLoad(load, (_athlete, kind) => {
  const payload = Buffer.alloc(load.waves && kind === 'oximeter' ? payloadBytes.wave : payloadBytes.reading);
  payload.writeDoubleLE(Number(process.hrtime.bigint()) / 1e6);
  publish(protocol, socket, payload);
});
process.send?.('ready');
