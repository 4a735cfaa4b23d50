// Just enough of two open protocols to publish and to subscribe at a broker without waiting for answers: MQTT 3.1.1 at QoS 0
// (OASIS standard) and the text protocol of NATS (docs.nats.io, from memory).

import { connect, type Socket } from 'node:net';

export type BrokerProtocol = 'mqtt' | 'nats';
const topic = 'load';

const mqttText = (text: string): Buffer => {
  const bytes = Buffer.from(text);
  return Buffer.concat([Buffer.of(bytes.length >> 8, bytes.length & 255), bytes]);
};
/** Of less than 128 bytes: the length takes one. */
const mqttPacket = (head: number, body: Buffer): Buffer =>
  Buffer.concat([Buffer.of(head, body.length), body]);

/** Connects and resolves when the broker takes what comes. */
export async function openBroker(protocol: BrokerProtocol, port: number, name: string): Promise<Socket> {
  const socket = connect({ host: '127.0.0.1', port, noDelay: true });
  await new Promise<void>((resolve, reject) => {
    socket.once('error', reject);
    // MQTT: CONNACK. NATS: INFO.
    socket.once('data', () => resolve());
    if (protocol === 'mqtt')
      socket.once('connect', () =>
        // Protocol level 4, a clean session, no keep-alive.
        socket.write(
          mqttPacket(0x10, Buffer.concat([mqttText('MQTT'), Buffer.of(4, 2, 0, 0), mqttText(name)])),
        ),
      );
  });
  if (protocol === 'nats') socket.write('CONNECT {"verbose":false,"pedantic":false}\r\n');
  return socket;
}

export function publish(protocol: BrokerProtocol, socket: Socket, payload: Buffer): void {
  if (protocol === 'mqtt') socket.write(mqttPacket(0x30, Buffer.concat([mqttText(topic), payload])));
  else
    socket.write(
      Buffer.concat([Buffer.from(`PUB ${topic} ${payload.length}\r\n`), payload, Buffer.from('\r\n')]),
    );
}

/** Calls back with each payload. */
export function subscribe(protocol: BrokerProtocol, socket: Socket, take: (payload: Buffer) => void): void {
  socket.write(
    protocol === 'mqtt'
      ? mqttPacket(0x82, Buffer.concat([Buffer.of(0, 1), mqttText(topic), Buffer.of(0)]))
      : `SUB ${topic} 1\r\n`,
  );
  let pending: Buffer = Buffer.alloc(0);
  socket.on('data', (data: Buffer) => {
    pending = pending.length === 0 ? data : Buffer.concat([pending, data]);
    for (;;) {
      const taken = protocol === 'mqtt' ? takeMqtt(pending, take) : takeNats(pending, take);
      if (taken === 0) return;
      pending = pending.subarray(taken);
    }
  });
}

/** Bytes of the first whole packet; 0 when there is none yet. */
function takeMqtt(bytes: Buffer, take: (payload: Buffer) => void): number {
  if (bytes.length < 2) return 0;
  const end = 2 + bytes[1]!;
  if (bytes.length < end) return 0;
  if (bytes[0]! >> 4 === 3) take(bytes.subarray(4 + bytes.readUInt16BE(2), end));
  return end;
}

function takeNats(bytes: Buffer, take: (payload: Buffer) => void): number {
  const line = bytes.indexOf('\r\n');
  if (line < 0) return 0;
  const words = bytes.subarray(0, line).toString().split(' ');
  if (words[0] !== 'MSG') return line + 2;
  const end = line + 2 + Number(words.at(-1)) + 2;
  if (bytes.length < end) return 0;
  take(bytes.subarray(line + 2, end - 2));
  return end;
}
