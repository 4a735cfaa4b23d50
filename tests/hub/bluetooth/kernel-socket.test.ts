// The native socket with its blocking command taken out, against a native socket and a helper in memory.

import { EventEmitter } from 'node:events';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import {
  type Connector,
  makeKernelSocket,
  type ToConnector,
} from '../../../hub/sensors/bluetooth/kernel-socket.ts';

const hex = (text: string): Buffer => Buffer.from(text.replaceAll(' ', ''), 'hex');
const createConnection = Buffer.concat([hex('01 0d 20 19'), Buffer.alloc(25)]);
const cancel = hex('01 0e 20 00');
const scan = hex('01 0c 20 02 01 00');
const complete = Buffer.concat([hex('04 3e 13 01 00'), Buffer.alloc(17)]);

class FakeNative extends EventEmitter {
  readonly written: string[] = [];
  bindRaw(deviceId?: number): number {
    return deviceId ?? 3;
  }
  setFilter(): void {}
  start(): void {}
  stop(): void {}
  write(packet: Buffer): void {
    this.written.push(packet.toString('hex'));
  }
}

class FakeConnector implements Connector {
  readonly sent: ToConnector[] = [];
  killed = false;
  returned = (): void => {};
  send(message: ToConnector): void {
    this.sent.push(message);
  }
  onReturned(callback: () => void): void {
    this.returned = callback;
  }
  kill(): void {
    this.killed = true;
  }
  get writes(): number {
    return this.sent.filter(({ type }) => type === 'write').length;
  }
}

function open() {
  const connectors: FakeConnector[] = [];
  const socketClass = makeKernelSocket(FakeNative, 'module', () => {
    const connector = new FakeConnector();
    connectors.push(connector);
    return connector;
  });
  const socket = new socketClass() as InstanceType<typeof socketClass> & FakeNative;
  const events: string[] = [];
  socket.bindRaw();
  socket.on('data', (packet: Buffer) => events.push(packet.toString('hex')));
  return { socket, connectors, events };
}

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

test('the helper opens the same adapter and gets the same filter', () => {
  const { socket, connectors } = open();
  socket.setFilter(Buffer.from([1, 2]));
  expect(connectors[0]!.sent).toEqual([
    { type: 'open', module: 'module', deviceId: 3 },
    { type: 'filter', filter: Uint8Array.of(1, 2) },
  ]);
});

test('only the blocking command goes to the helper', () => {
  const { socket, connectors } = open();
  socket.write(scan);
  socket.write(createConnection);
  expect(socket.written).toEqual([scan.toString('hex')]);
  expect(connectors[0]!.writes).toBe(1);
});

test('a second connect waits for the helper to return from the first', () => {
  const { socket, connectors } = open();
  socket.write(createConnection);
  socket.write(createConnection);
  expect(connectors[0]!.writes).toBe(1);
  connectors[0]!.returned();
  expect(connectors[0]!.writes).toBe(2);
});

test('a cancel that the controller answers leaves the helper alone, and what the failed call sent is taken back', () => {
  const { socket, connectors } = open();
  socket.write(createConnection);
  socket.write(cancel);
  socket.emit('data', complete);
  connectors[0]!.returned();
  vi.advanceTimersByTime(1_000);
  expect(socket.written).toEqual([cancel.toString('hex'), cancel.toString('hex')]);
  expect(connectors).toHaveLength(1);
});

test('a cancel that nobody answers: the helper is replaced and the library hears that the attempt is over', () => {
  const { socket, connectors, events } = open();
  socket.write(createConnection);
  socket.write(cancel);
  vi.advanceTimersByTime(299);
  expect(connectors[0]!.killed).toBe(false);
  vi.advanceTimersByTime(1);
  expect(connectors[0]!.killed).toBe(true);
  expect(events).toHaveLength(1);
  expect(events[0]!.startsWith('043e130102')).toBe(true);
  socket.write(createConnection);
  expect(connectors[1]!.writes).toBe(1);
  // The old helper's last word changes nothing.
  connectors[0]!.returned();
  expect(socket.written).toHaveLength(1);
});

test('a stuck helper that holds links is kept until they end, and its late failure is taken back', () => {
  const { socket, connectors } = open();
  socket.write(createConnection);
  socket.emit('data', Buffer.concat([hex('04 3e 13 01 00 40 00'), Buffer.alloc(15)]));
  connectors[0]!.returned();
  socket.write(createConnection);
  socket.write(cancel);
  vi.advanceTimersByTime(300);
  expect(connectors).toHaveLength(2);
  expect(connectors[0]!.killed).toBe(false);
  connectors[0]!.returned();
  expect(socket.written).toEqual([cancel.toString('hex'), cancel.toString('hex')]);
  expect(connectors[0]!.killed).toBe(false);
  socket.emit('data', hex('04 05 04 00 40 00 13'));
  expect(connectors[0]!.killed).toBe(true);
  expect(connectors[1]!.killed).toBe(false);
});

test('a cancel without an attempt goes straight to the adapter', () => {
  const { socket, connectors } = open();
  socket.write(cancel);
  vi.advanceTimersByTime(1_000);
  expect(socket.written).toEqual([cancel.toString('hex')]);
  expect(connectors).toHaveLength(1);
});

test('stopping ends the helper', () => {
  const { socket, connectors } = open();
  socket.stop();
  expect(connectors[0]!.killed).toBe(true);
});
