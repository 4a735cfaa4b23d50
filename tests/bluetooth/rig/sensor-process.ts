// A virtual sensor: a GATT server in a process of its own, on a virtual controller of its own. Numbers every
// notification in its bytes, so that a test can account for each one.

import Module, { createRequire } from 'node:module';
import { makeH4Socket } from '../../../hub/sensors/bluetooth/h4-socket.ts';
import { inWords } from '../../support/in-words.ts';
import { type FromSensor, profileUuids, type SensorPlan, type ToSensor } from './sensor-messages.ts';

const plan = JSON.parse(process.argv[2]!) as SensorPlan;
const say = (message: FromSensor): void => void process.send?.(message);

const loader = Module as unknown as { _load(request: string, ...rest: unknown[]): unknown };
const load = loader._load;
const socketClass = makeH4Socket({ kind: 'unix', path: plan.controllerSocket }, (reason) => {
  console.error(`controller lost: ${inWords(reason)}`);
  process.exit(3);
});
loader._load = (request, ...rest) =>
  request === '@abandonware/bluetooth-hci-socket' ? socketClass : load.call(loader, request, ...rest);
// biome-ignore lint/suspicious/noExplicitAny: the library has no types
const bleno = createRequire(import.meta.url)('@abandonware/bleno') as any;

let muted = false;
/** A link whose end has been ordered: what were sent now would be sent into nothing. */
let dropping = false;
let sent = 0;
const advertisedServices: string[] = [];

/** SFLOAT (IEEE 11073-20601) with exponent 0. */
const sfloat = (mantissa: number): [number, number] => [mantissa & 0xff, (mantissa >> 8) & 0x0f];
const heartRate = (number: number): Buffer =>
  // Flags: contact supported and present, RR present; the packet's number stands in the RR field.
  Buffer.from([0x16, 60 + (number % 40), number & 0xff, (number >> 8) & 0xff]);
const oximeter = (number: number): Buffer =>
  Buffer.from([0x00, ...sfloat(80 + (number % 20)), ...sfloat(number % 2_000)]);
const spotCheck = (number: number): Buffer => Buffer.from([0x00, ...sfloat(97), ...sfloat(number % 2_000)]);
/** A frame of fixtures/profiles/lantern-clip.json, with the packet's number as counter and waveform. */
const profileFrame = (number: number): Buffer => {
  const body = [number % 16, 90 + (number % 10), 60 + (number % 40), 24, number % 128];
  return Buffer.from([0xd1, 0x7e, ...body, body.reduce((sum, byte) => sum + byte, 0) & 0xff]);
};

function stream(uuid: string, property: 'notify' | 'indicate', make: (number: number) => Buffer) {
  let timer: NodeJS.Timeout | undefined;
  return new bleno.Characteristic({
    uuid,
    properties: [property],
    onSubscribe(_size: number, update: (value: Buffer) => void) {
      dropping = false;
      say({ type: 'subscribed', characteristic: uuid });
      const send = (): void => {
        if (muted || dropping) return;
        sent += 1;
        const number = sent;
        const value = make(number);
        const atNs = process.hrtime.bigint();
        update(value);
        say({ type: 'sent', characteristic: uuid, number, atNs });
      };
      if (property === 'indicate') setTimeout(send, 50);
      else {
        clearInterval(timer);
        timer = setInterval(send, plan.everyMs);
      }
    },
    onUnsubscribe() {
      clearInterval(timer);
      say({ type: 'unsubscribed', characteristic: uuid });
    },
  });
}
const fixed = (uuid: string, value: Buffer) =>
  new bleno.Characteristic({ uuid, properties: ['read'], value });

const services: unknown[] = [];
function addService(uuid: string, characteristics: unknown[], advertised: boolean): void {
  services.push(new bleno.PrimaryService({ uuid, characteristics }));
  if (advertised) advertisedServices.push(uuid);
}
if (plan.kinds.includes('heartRate')) {
  addService('180d', [stream('2a37', 'notify', heartRate), fixed('2a38', Buffer.from([1]))], true);
}
if (plan.kinds.includes('oximeter') || plan.kinds.includes('spotCheck')) {
  const characteristics = [fixed('2a60', Buffer.from([0x04, 0x00]))];
  if (plan.kinds.includes('oximeter')) characteristics.push(stream('2a5f', 'notify', oximeter));
  if (plan.kinds.includes('spotCheck')) characteristics.push(stream('2a5e', 'indicate', spotCheck));
  addService('1822', characteristics, true);
}
if (plan.kinds.includes('profile')) {
  const output = stream(profileUuids.stream, 'notify', profileFrame);
  const command = new bleno.Characteristic({
    uuid: profileUuids.command,
    properties: ['write', 'writeWithoutResponse'],
    onWriteRequest(data: Buffer, _offset: number, _noResponse: boolean, done: (result: number) => void) {
      muted = !data.equals(Buffer.from([0xb0, 0x01]));
      say({ type: 'written', bytes: Uint8Array.from(data) });
      done(0);
    },
  });
  muted = true;
  addService(profileUuids.service, [output, command], false);
}
let battery = plan.batteryPercent;
let updateBattery: ((value: Buffer) => void) | null = null;
addService(
  '180f',
  [
    new bleno.Characteristic({
      uuid: '2a19',
      properties: ['read', 'notify'],
      onReadRequest: (_offset: number, done: (result: number, value: Buffer) => void) =>
        done(0, Buffer.from([battery])),
      onSubscribe: (_size: number, update: (value: Buffer) => void) => {
        updateBattery = update;
      },
    }),
  ],
  false,
);
addService('180a', [fixed('2a24', Buffer.from('Rig 7')), fixed('2a26', Buffer.from('1.4.2'))], false);

const advertise = (): void => bleno.startAdvertising(plan.name, advertisedServices);
bleno.on('stateChange', (state: string) => {
  if (state === 'poweredOn') advertise();
});
let served = false;
bleno.on('advertisingStart', (error: unknown) => {
  if (error) throw error;
  const done = (): void =>
    say({ type: 'advertising', address: bleno.address, atNs: process.hrtime.bigint() });
  if (served) done();
  else {
    served = true;
    bleno.setServices(services, done);
  }
});
bleno.on('accept', () => say({ type: 'accepted' }));
bleno.on('disconnect', () => say({ type: 'disconnected' }));
process.on('message', (message: ToSensor) => {
  switch (message.type) {
    case 'drop':
      dropping = true;
      bleno._bindings._hci.disconnect(bleno._bindings._handle, message.reason);
      return;
    case 'stopAdvertising':
      bleno.stopAdvertising(() => say({ type: 'silent' }));
      return;
    case 'startAdvertising':
      advertise();
      return;
    case 'mute':
      muted = message.muted;
      return;
    case 'battery':
      battery = message.percent;
      updateBattery?.(Buffer.from([battery]));
      return;
  }
});
process.on('disconnect', () => process.exit(0));
