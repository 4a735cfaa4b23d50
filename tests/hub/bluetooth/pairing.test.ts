// A sensor that pairs, as the link logic, the agent and the words see it: what waits, for how long, who is answered, and who
// is told.

import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import {
  connectFailureOf,
  problemOfFailure,
  refusalOf,
} from '../../../hub/sensors/bluetooth/bluez/bluez-failures.ts';
import {
  type BusClient,
  CallFailure,
  type IncomingCall,
} from '../../../hub/sensors/bluetooth/bluez/bus-client.ts';
import { PairingAgent } from '../../../hub/sensors/bluetooth/bluez/pairing-agent.ts';
import { reduceLinks } from '../../../hub/sensors/bluetooth/link-machine.ts';
import { linkPolicy } from '../../../hub/sensors/bluetooth/link-policy.ts';
import {
  initialLinkState,
  type LinkEffect,
  type LinkEvent,
  type LinkState,
} from '../../../hub/sensors/bluetooth/link-state.ts';
import type { RadioCommand, RadioEvent } from '../../../hub/sensors/bluetooth/radio.ts';
import { sensorStatus } from '../../../hub/sensors/bluetooth/sensor-status.ts';
import { visibleSensors } from '../../../hub/server/visible-part.ts';
import { said } from '../../../shared/said.ts';
import { processMs } from '../../../shared/units.ts';
import type { PairingAnswer } from '../../../shared/views.ts';
import { inWords } from '../../support/in-words.ts';

const abilities = { linkParameters: 'system', bonds: 'system' } as const;

class Links {
  nowMs = 1_000;
  state: LinkState = initialLinkState(['r0'], [{ sensorId: 'bt:a', name: 'Clip', kinds: ['heartRate'] }]);
  commands: RadioCommand[] = [];

  take(event: LinkEvent): void {
    const { state, effects } = reduceLinks(
      { policy: linkPolicy, profiles: [], takeEverything: false },
      this.state,
      event,
    );
    this.state = state;
    this.commands.push(
      ...effects.flatMap((effect: LinkEffect) => (effect.type === 'command' ? [effect.command] : [])),
    );
  }
  radio(event: RadioEvent): void {
    this.take({ type: 'radio', radioId: 'r0', event, atMs: processMs(this.nowMs) });
  }
  wait(ms: number): void {
    for (const endMs = this.nowMs + ms; this.nowMs < endMs; ) {
      this.nowMs += 100;
      this.take({ type: 'tick', atMs: processMs(this.nowMs) });
    }
  }
  hear(peripheralId: string): void {
    this.radio({
      type: 'advertisement',
      peripheralId,
      name: 'Clip',
      services: ['180d'],
      rssiDbm: -60,
      connectable: true,
      atMs: processMs(this.nowMs),
    });
  }
  /** Up to the question whether its heart rate may be subscribed to. */
  setUp(can = abilities): string {
    this.radio({ type: 'on', abilities: can });
    this.hear('a');
    const { linkId } = this.last('connect');
    this.radio({ type: 'connected', linkId });
    const characteristics = [{ service: '180d', characteristic: '2a37', properties: ['notify'] }];
    this.radio({ type: 'discovered', linkId, characteristics });
    return linkId;
  }
  ask(linkId: string): void {
    this.radio({
      type: 'pairingAsked',
      linkId,
      requestId: 'q1',
      question: { kind: 'typeCode' },
      expiresInMs: 28_000,
    });
  }
  last<Type extends RadioCommand['type']>(type: Type): Extract<RadioCommand, { type: Type }> {
    return this.commands.findLast((command) => command.type === type) as Extract<
      RadioCommand,
      { type: Type }
    >;
  }
  get sensor() {
    return this.state.sensors.get('bt:a')!;
  }
  get status() {
    return sensorStatus(this.sensor, linkPolicy, this.nowMs);
  }
}

describe('the link logic', () => {
  test('waits for a person, not for the sensor, and goes on with its whole time', () => {
    const links = new Links();
    const linkId = links.setUp();
    links.ask(linkId);
    links.wait(27_000);
    expect(links.sensor.phase.phase).toBe('subscribing');
    expect(links.status).toMatchObject({
      link: 'connecting',
      pairing: { requestId: 'q1', kind: 'typeCode', code: null, secondsLeft: 1 },
      detail: { code: 'sensor.typeCode' },
    });
    const answer: PairingAnswer = { kind: 'code', code: 4_711 };
    const say = (requestId: string) =>
      links.take({
        type: 'answerPairing',
        sensorId: 'bt:a',
        requestId,
        answer,
        atMs: processMs(links.nowMs),
      });
    say('of long ago');
    expect(links.last('answerPairing')).toBeUndefined();
    say('q1');
    expect(links.last('answerPairing')).toEqual({ type: 'answerPairing', requestId: 'q1', answer });
    links.radio({ type: 'pairingOver', linkId, requestId: 'q1' });
    links.wait(linkPolicy.subscribeTimeoutMs - 200);
    expect(links.sensor.phase.phase).toBe('subscribing');
    links.radio({ type: 'subscribed', linkId, characteristic: '2a37' });
    expect(links.status.link).toBe('connected');
    expect(links.status).not.toHaveProperty('pairing');
  });

  test('a radio that never says that it is over is waited for no longer than that', () => {
    const links = new Links();
    links.ask(links.setUp());
    links.wait(28_000 + linkPolicy.pairingOverdueMs + linkPolicy.subscribeTimeoutMs + 300);
    expect(links.sensor.pairing).toBeNull();
    expect(links.sensor.phase.phase).toBe('closing');
  });

  test('a link that ends takes the question with it', () => {
    const links = new Links();
    const linkId = links.setUp();
    links.ask(linkId);
    links.radio({ type: 'disconnected', linkId, reason: said('link.outOfRange') });
    expect(links.status).not.toHaveProperty('pairing');
  });

  test('what keeps it from being paired is said, and where no radio pairs, that too', () => {
    for (const [can, words] of [
      [abilities, 'the code was not the right one'],
      [{ linkParameters: 'radio', bonds: 'nobody' }, '--radio bluez'],
    ] as const) {
      const links = new Links();
      const linkId = links.setUp(can as never);
      links.radio({
        type: 'stepFailed',
        linkId,
        step: 'subscribe',
        reason: said('link.codeRefused'),
        refusal: 'locked',
      });
      expect(inWords(links.status.detail!)).toContain(words);
    }
  });

  test('keys are told of sensors that were never heard, and forgotten by the radios that keep any', () => {
    const links = new Links();
    links.radio({ type: 'on', abilities });
    links.radio({ type: 'bond', peripheralId: 'a', isKept: true });
    links.radio({ type: 'bond', peripheralId: 'b', isKept: true });
    expect(links.status.isBonded).toBe(true);
    links.hear('b');
    expect(links.state.sensors.get('bt:b')!.isBonded).toBe(true);
    links.take({ type: 'forgetBond', sensorId: 'bt:a', atMs: processMs(links.nowMs) });
    expect(links.last('forgetBond')).toEqual({ type: 'forgetBond', peripheralId: 'a' });
    links.radio({ type: 'bond', peripheralId: 'a', isKept: false });
    expect(links.status).not.toHaveProperty('isBonded');
  });

  test('under the address that it keeps it is the same sensor, and is asked for by it', () => {
    const links = new Links();
    const linkId = links.setUp();
    links.radio({ type: 'identified', peripheralId: 'a', identity: 'i' });
    links.radio({ type: 'bond', peripheralId: 'i', isKept: true });
    expect(links.last('interest').interest.peripheralIds).toContain('i');
    links.radio({ type: 'disconnected', linkId, reason: said('link.outOfRange') });
    links.wait(1_100);
    links.hear('i');
    links.hear('i');
    expect(links.last('connect').peripheralId).toBe('i');
    expect([...links.state.sensors.keys()]).toEqual(['bt:a']);
    expect(links.status.isBonded).toBe(true);
  });
});

describe('the agent', () => {
  let calls: string[];
  let told: string[];
  let agent: PairingAgent;
  beforeEach(() => {
    vi.useFakeTimers();
    calls = [];
    told = [];
    const bus = {
      call: async ({ member }: { member: string }) => calls.push(member),
    } as unknown as BusClient;
    agent = new PairingAgent(bus, {
      linkOf: (path) => (path === '/ours' ? 'link1' : undefined),
      asked: (_link, _request, { kind }) => told.push(kind),
      over: () => told.push('over'),
    });
  });
  afterEach(() => vi.useRealTimers());
  const call = (member: string, ...body: unknown[]): IncomingCall & { readonly said: string[] } => {
    const answers: string[] = [];
    return {
      path: '/slackwater/agent',
      interfaceName: 'org.bluez.Agent1',
      sender: ':1.1',
      member,
      body,
      said: answers,
      reply: (_signature, ...values) => void answers.push(`reply ${values.join()}`.trim()),
      refuse: (name) => void answers.push(name),
    };
  };

  test('speaks for no other device, and for none by a PIN', () => {
    for (const member of [
      'RequestPasskey',
      'RequestAuthorization',
      'RequestConfirmation',
      'AuthorizeService',
    ]) {
      const stranger = call(member, '/theirs', 1);
      expect(agent.take(stranger)).toBe(true);
      expect(stranger.said).toEqual(['org.bluez.Error.Rejected']);
    }
    const pin = call('RequestPinCode', '/ours');
    agent.take(pin);
    expect(pin.said).toEqual(['org.bluez.Error.Rejected']);
    expect(told).toEqual([]);
    expect(agent.take({ ...call('RequestPasskey', '/ours'), path: '/elsewhere' })).toBe(false);
  });

  test('a question that nobody answers is refused before the pairing’s own end', () => {
    const asked = call('RequestPasskey', '/ours');
    agent.take(asked);
    vi.advanceTimersByTime(27_900);
    expect(asked.said).toEqual([]);
    vi.advanceTimersByTime(200);
    expect(asked.said).toEqual(['org.bluez.Error.Canceled']);
    expect(told).toEqual(['typeCode', 'over']);
  });

  test('an answer of another kind than was asked for is a refusal', () => {
    const asked = call('RequestConfirmation', '/ours', 815);
    agent.take(asked);
    agent.answer(`pairing-${process.pid}-1`, { kind: 'code', code: 815 });
    expect(asked.said).toEqual(['org.bluez.Error.Canceled']);
  });

  test('the desktop has its place back ten seconds after the last thing asked, and not while a person is being asked', async () => {
    await agent.holdDefault();
    await vi.advanceTimersByTimeAsync(9_000);
    await agent.holdDefault();
    expect(calls).toEqual(['RegisterAgent', 'RequestDefaultAgent']);
    agent.take(call('RequestPasskey', '/ours'));
    await vi.advanceTimersByTimeAsync(20_000);
    expect(calls).toHaveLength(2);
    await vi.advanceTimersByTimeAsync(20_000);
    expect(calls.at(-1)).toBe('UnregisterAgent');
  });
});

test('D-Bus’s errors are conditions that a person is told', () => {
  const failure = (name: string, text = '') => new CallFailure(name, text);
  const bus = 'org.freedesktop.DBus.Error.';
  const bluez = 'org.bluez.Error.';
  expect(problemOfFailure(failure(`${bus}ServiceUnknown`)).problem).toBe('noDaemon');
  expect(problemOfFailure(failure(`${bus}AccessDenied`)).problem).toBe('noPermission');
  expect(problemOfFailure(failure(`${bluez}NotReady`)).problem).toBe('adapterOff');
  expect(problemOfFailure(failure('slackwater.NoAnswer')).problem).toBe('noDaemon');
  for (const text of [
    'Not paired',
    'Encryption key size is insufficient',
    'Operation failed with ATT error: 0x0f',
  ])
    expect(refusalOf(failure(`${bluez}Failed`, text)).refusal, text).toBe('locked');
  expect(refusalOf(failure(`${bluez}NotAuthorized`)).refusal).toBe('locked');
  expect(refusalOf(failure(`${bluez}NotPermitted`, 'Read not permitted')).refusal).toBe('refused');
  expect(refusalOf(failure(`${bluez}Failed`, 'Operation failed with ATT error: 0x80')).refusal).toBe(
    'refused',
  );
  expect(refusalOf(failure('slackwater.NoAnswer')).refusal).toBe('noAnswer');
  expect(refusalOf(failure(`${bus}UnknownObject`)).refusal).toBe('missing');
  expect(connectFailureOf(failure(`${bluez}Failed`, 'Connection limit exceeded')).isLimit).toBe(true);
  expect(connectFailureOf(failure(`${bluez}AuthenticationFailed`)).reason.code).toBe('link.keyRefused');
});

test('codes of sensors that pair are for coaches; that a sensor has a key is no secret', () => {
  const sensor = { sensorId: 'bt:a', athleteId: 'mira', isBonded: true, pairing: { requestId: 'q1' } };
  const seenBy = (access: object) => visibleSensors(access as never, [sensor]);
  expect(seenBy({ role: 'coach', athleteIds: 'all' })).toEqual([sensor]);
  const { pairing: _hidden, ...rest } = sensor;
  expect(seenBy({ role: 'athlete', athleteIds: ['mira'] })).toEqual([rest]);
  expect(seenBy({ role: 'onlooker', athleteIds: 'all' })).toEqual([rest]);
  expect(seenBy({ role: 'athlete', athleteIds: ['teo'] })).toEqual([]);
});
