// The native socket with its blocking command taken out, against a native socket and a helper in memory.

import { EventEmitter } from 'node:events';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import {
  type Connector,
  makeKernelSocket,
  type ToConnector,
} from '../../../hub/sensors/bluetooth/kernel-socket.ts';

const hex = (text: string): Buffer => Buffer.from(text.replaceAll(' ', ''), 'hex');
/** To a sensor whose address ends in this byte, all others alike: one maker's sensors. */
const connect = (last: number): Buffer =>
  Buffer.concat([
    hex('01 0d 20 19'),
    Buffer.alloc(6),
    Buffer.from([last, 0x11, 0x22, 0x33, 0x44, 0xc5]),
    Buffer.alloc(13),
  ]);
const connected = (last: number, handle: number): Buffer =>
  Buffer.concat([
    hex('04 3e 13 01 00'),
    Buffer.from([handle, 0, 0, 1, last, 0x11, 0x22, 0x33, 0x44, 0xc5]),
    Buffer.alloc(7),
  ]);
const refused = Buffer.concat([hex('04 3e 13 01 3e'), Buffer.alloc(17)]);
const disconnected = (handle: number): Buffer => Buffer.from([0x04, 0x05, 0x04, 0, handle, 0, 0x13]);
const cancel = hex('01 0e 20 00');
const scan = hex('01 0c 20 02 01 00');
const scanOff = hex('01 0c 20 02 00 00');

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
  ended = (): void => {};
  onEnded(callback: () => void): void {
    this.ended = callback;
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

type Opened = ReturnType<typeof open>;

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

test('a helper stands ready on the same adapter before it is needed', () => {
  const { connectors } = open();
  expect(connectors.map(({ sent }) => sent)).toEqual([[{ type: 'open', module: 'module', deviceId: 3 }]]);
});

test('only the blocking command goes to a helper', () => {
  const { socket, connectors } = open();
  socket.write(scan);
  socket.write(connect(1));
  expect(socket.written).toEqual([scan.toString('hex')]);
  expect(connectors.map(({ writes }) => writes)).toEqual([1, 0]);
});

test('every link has a helper of its own, and the end of one touches no other', () => {
  const { socket, connectors } = open();
  for (let sensor = 0; sensor < 5; sensor += 1) {
    socket.write(connect(sensor));
    // The word of the link may come before or after the call's return.
    if (sensor % 2 === 0) connectors[sensor]!.returned();
    socket.emit('data', connected(sensor, 0x40 + sensor));
    if (sensor % 2 === 1) connectors[sensor]!.returned();
  }
  vi.advanceTimersByTime(1_000);
  expect(connectors.map(({ writes }) => writes)).toEqual([1, 1, 1, 1, 1, 0]);
  socket.emit('data', disconnected(0x42));
  expect(connectors.map(({ killed }) => killed)).toEqual([false, false, true, false, false, false]);
  connectors[2]!.ended();
  socket.write(connect(2));
  expect(connectors.map(({ writes }) => writes)).toEqual([1, 1, 1, 1, 1, 1, 0]);
  expect(socket.written).toEqual([]);
});

test('a link of another program is not taken for the one under way', () => {
  const { socket, connectors } = open();
  socket.write(connect(1));
  socket.emit('data', connected(9, 0x49));
  socket.emit('data', connected(1, 0x41));
  socket.emit('data', disconnected(0x49));
  expect(connectors[0]!.killed).toBe(false);
  socket.emit('data', disconnected(0x41));
  expect(connectors[0]!.killed).toBe(true);
});

test('a refused attempt ends its helper, and the next waits until that is gone', () => {
  const { socket, connectors } = open();
  socket.write(connect(1));
  socket.emit('data', refused);
  expect(connectors[0]!.killed).toBe(true);
  socket.write(connect(1));
  expect(connectors[1]!.writes).toBe(0);
  connectors[0]!.ended();
  expect(connectors[1]!.writes).toBe(1);
});

test('a cancel ends the helper, and the library hears that the attempt is over, once', () => {
  const { socket, connectors, events } = open();
  socket.write(connect(1));
  socket.write(cancel);
  expect(connectors[0]!.killed).toBe(true);
  connectors[0]!.ended();
  expect(events).toEqual([]);
  vi.advanceTimersByTime(300);
  expect(events.map((event) => event.slice(0, 10))).toEqual(['043e130102']);
  vi.advanceTimersByTime(1_000);
  expect(events).toHaveLength(1);
});

test('a cancel that the controller answers is not answered twice', () => {
  const { socket, connectors, events } = open();
  socket.write(connect(1));
  socket.write(cancel);
  socket.emit('data', refused);
  connectors[0]!.ended();
  vi.advanceTimersByTime(1_000);
  expect(events).toEqual([refused.toString('hex')]);
});

test('a call that returns without a link: what the native code then sent bare is taken back', () => {
  const { socket, connectors, events } = open();
  socket.write(connect(1));
  connectors[0]!.returned();
  vi.advanceTimersByTime(1_000);
  expect(socket.written).toEqual([cancel.toString('hex')]);
  expect(events.map((event) => event.slice(0, 10))).toEqual(['043e130102']);
  expect(connectors[0]!.killed).toBe(true);
});

test('a helper that dies ends its attempt', () => {
  const { socket, connectors, events } = open();
  socket.write(connect(1));
  connectors[0]!.ended();
  expect(events.map((event) => event.slice(0, 10))).toEqual(['043e130102']);
  socket.write(connect(2));
  expect(connectors[1]!.writes).toBe(1);
});

test('a cancel without an attempt goes straight to the adapter', () => {
  const { socket, connectors } = open();
  socket.write(cancel);
  vi.advanceTimersByTime(1_000);
  expect(socket.written).toEqual([cancel.toString('hex')]);
  expect(connectors).toHaveLength(1);
});

test('stopping ends every helper', () => {
  const { socket, connectors } = open();
  socket.write(connect(1));
  socket.stop();
  expect(connectors.map(({ killed }) => killed)).toEqual([true, true]);
});

test.each([
  ['is linked to', ({ socket }: Opened) => socket.emit('data', connected(1, 0x41))],
  ['refuses', ({ socket }: Opened) => socket.emit('data', refused)],
  ['is given up', ({ socket }: Opened) => socket.write(cancel)],
  ['loses its helper', ({ connectors }: Opened) => connectors[0]!.ended()],
])('the adapter listens from the attempt on until the sensor %s', (_how, ends) => {
  const opened = open();
  const { socket } = opened;
  const scans = () => socket.written.filter((packet) => packet.startsWith('010c20'));
  socket.write(scan);
  socket.write(scanOff);
  socket.write(connect(1));
  expect(scans().slice(2)).toEqual([scan.toString('hex')]);
  ends(opened);
  expect(scans().slice(3)).toEqual([scanOff.toString('hex')]);
  vi.advanceTimersByTime(1_000);
  socket.emit('data', disconnected(0x41));
  expect(scans()).toHaveLength(4);
});

test('scanning that goes on beside an attempt is left alone, also where it began during the attempt', () => {
  const { socket } = open();
  socket.write(scan);
  socket.write(connect(1));
  socket.emit('data', connected(1, 0x41));
  socket.write(scanOff);
  socket.write(connect(2));
  socket.write(scan);
  socket.emit('data', connected(2, 0x42));
  const off = scanOff.toString('hex');
  const on = scan.toString('hex');
  expect(socket.written).toEqual([on, off, on, on]);
});

test.each([
  ['that was off', [scan, scanOff]],
  ['that goes on', [scan]],
])(
  'scanning %s begins anew, for controllers that tell a sensor once, until the kernel asks for the link',
  (_how, before) => {
    const { socket } = open();
    const off = scanOff.toString('hex');
    const on = scan.toString('hex');
    for (const packet of before) socket.write(packet);
    socket.write(connect(1));
    const written = socket.written.length;
    vi.advanceTimersByTime(2_500);
    expect(socket.written.slice(written)).toEqual([off, on, off, on]);
    // Command Status of LE Create Connection: the kernel has heard the sensor.
    socket.emit('data', hex('04 0f 04 00 01 0d 20'));
    vi.advanceTimersByTime(2_000);
    expect(socket.written).toHaveLength(written + 4);
    socket.emit('data', connected(1, 0x41));
    // It listens on only where it had listened before the attempt.
    expect(socket.written.slice(written + 4)).toEqual(before.length === 2 ? [off] : []);
  },
);

test('scanning begins anew for a sensor that is told once, and not for one that goes on to be heard', () => {
  const { socket } = open();
  for (const packet of [scan, scanOff, connect(1)]) socket.write(packet);
  const written = socket.written.length;
  const report = (last: number) =>
    socket.emit('data', hex(`04 3e 0c 02 01 00 01 0${last} 11 22 33 44 c5 00 c4`));
  report(1);
  vi.advanceTimersByTime(1_000);
  expect(socket.written).toHaveLength(written + 2);
  // Of another sensor nothing follows.
  for (let turn = 0; turn < 4; turn += 1) {
    report(2);
    vi.advanceTimersByTime(250);
  }
  expect(socket.written).toHaveLength(written + 4);
  for (let turn = 0; turn < 20; turn += 1) {
    report(1);
    vi.advanceTimersByTime(250);
  }
  expect(socket.written).toHaveLength(written + 4);
});

test.each([
  ['made', ({ socket }: Opened) => socket.emit('data', connected(1, 0x41))],
  ['given up', ({ socket }: Opened) => socket.write(cancel)],
  ['lost with its helper', ({ connectors }: Opened) => connectors[0]!.ended()],
])('scanning is held back while the kernel waits for the controller, until the link is %s', (_how, ends) => {
  const opened = open();
  const { socket } = opened;
  socket.write(scan);
  socket.write(connect(1));
  socket.emit('data', hex('04 0f 04 00 01 0d 20'));
  const written = socket.written.length;
  socket.write(scanOff);
  socket.write(scan);
  expect(socket.written).toHaveLength(written);
  ends(opened);
  expect(socket.written.slice(written).filter((packet) => packet.startsWith('010c20'))).toEqual([
    scan.toString('hex'),
  ]);
});

test('a link that was made stays, where the process stood still and the word on it lies unread behind others', async () => {
  vi.useRealTimers();
  const { socket, connectors } = open();
  socket.write(connect(1));
  connectors[0]!.returned();
  // One packet is read at a turn of the loop, as the native socket does.
  let waiting = 60;
  const read = (): void => {
    waiting -= 1;
    if (waiting > 0) setImmediate(read);
    socket.emit(
      'data',
      waiting > 0 ? hex('04 3e 0c 02 01 00 01 02 11 22 33 44 c5 00 c4') : connected(1, 0x41),
    );
  };
  setImmediate(() => setImmediate(read));
  for (const untilMs = performance.now() + 1_500; performance.now() < untilMs; );
  await new Promise((resolve) => setTimeout(resolve, 1_500));
  expect(connectors[0]!.killed).toBe(false);
  expect(socket.written).toEqual([]);
});
