// Join codes and devices: single use, expiry, limited tries, hashes only, and what outlasts a restart.

import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import * as fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type DeviceFile, deviceFileIn, noDeviceFile } from '../../../hub/devices/join/device-file.ts';
import {
  codeLifetimeMs,
  createDeviceRegister,
  type DeviceRegister,
  deviceLifetimeMs,
} from '../../../hub/devices/join/device-register.ts';
import { makeJoinCode, normalizeJoinCode, spellJoinCode } from '../../../hub/devices/join/join-code.ts';
import { said } from '../../../shared/said.ts';
import type { Role } from '../../../shared/schema-parts.ts';
import { createFakeClock, type FakeClock } from '../../support/fake-clock.ts';
import { inWords } from '../../support/in-words.ts';

let clock: FakeClock;
let register: DeviceRegister;
let athletes: Set<string>;
let nextId = 0;

function open(file: DeviceFile): DeviceRegister {
  return createDeviceRegister({
    clock,
    file,
    makeId: () => {
      nextId += 1;
      return `id-${nextId}`;
    },
    athleteExists: (athleteId) => athletes.has(athleteId),
  });
}

beforeEach(() => {
  clock = createFakeClock();
  athletes = new Set(['mira']);
  register = open(noDeviceFile);
});

function codeFor(role: Role, athleteId: string | null = null): string {
  const made = register.makeCode(role, athleteId);
  if (!made.ok) throw new Error(made.reason.said.code);
  return made.value.code;
}
const join_ = (code: string, address = '192.0.2.9') =>
  register.join({ code, deviceName: ' Tablet ', address });
async function joined(role: Role, athleteId: string | null = null) {
  const result = await join_(codeFor(role, athleteId));
  if (!result.ok) throw new Error(result.reason.said.code);
  return result.value;
}
const reasonOf = async (joining: ReturnType<typeof join_>) => {
  const result = await joining;
  return result.ok ? undefined : result.reason;
};

describe('letters', () => {
  test('codes are eight letters without I, L, O and U, and differ', async () => {
    const codes = Array.from({ length: 500 }, makeJoinCode);
    for (const code of codes) expect(code).toMatch(/^[0-9A-HJKMNP-TV-Z]{8}$/);
    expect(new Set(codes).size).toBe(500);
  });

  test('a code is found again however it is typed', async () => {
    fc.assert(
      fc.property(
        fc
          .constantFrom(...'0123456789ABCDEFGHJKMNPQRSTVWXYZ')
          .chain((first) =>
            fc
              .array(fc.constantFrom(...'0123456789ABCDEFGHJKMNPQRSTVWXYZ'), { minLength: 7, maxLength: 7 })
              .map((rest) => first + rest.join('')),
          ),
        fc.boolean(),
        fc.constantFrom('o', 'O', '0'),
        fc.constantFrom('i', 'l', 'L', '1'),
        (code, lower, zero, one) => {
          const typed = ` ${spellJoinCode(code)} `.replaceAll('0', zero).replaceAll('1', one);
          expect(normalizeJoinCode(lower ? typed.toLowerCase() : typed)).toBe(code);
        },
      ),
    );
  });
});

describe('codes', () => {
  test('a code lets one device in, as what it was made for', async () => {
    const { device, token } = await joined('athlete', 'mira');
    expect(device).toMatchObject({ role: 'athlete', athleteId: 'mira', name: 'Tablet' });
    expect(register.deviceOf(token)).toEqual(device);
    expect(register.openCodes()).toEqual([]);
  });

  test('a used code is refused and says so', async () => {
    const code = codeFor('coach');
    expect((await join_(code)).ok).toBe(true);
    expect(await reasonOf(join_(code))).toMatchObject({
      code: 'codeRefused',
      said: said('refusal.usedCode'),
    });
    expect(register.devices()).toHaveLength(1);
  });

  test('a code is good until its tenth minute ends, and too old from then on', async () => {
    const code = codeFor('coach');
    const other = codeFor('coach');
    clock.advance(codeLifetimeMs - 1);
    expect((await join_(code)).ok).toBe(true);
    clock.advance(1);
    expect(await reasonOf(join_(other))).toMatchObject({
      code: 'codeRefused',
      said: said('refusal.oldCode'),
    });
    expect(register.openCodes()).toEqual([]);
  });

  test('a wrong code is refused', async () => {
    codeFor('coach');
    expect(await reasonOf(join_('0000-0000'))).toMatchObject({ code: 'codeRefused' });
    expect(await reasonOf(join_(''))).toMatchObject({ code: 'codeRefused' });
  });

  test('after five wrong codes an address waits, even with a right one; others do not', async () => {
    const code = codeFor('coach');
    for (let i = 0; i < 5; i += 1) expect((await reasonOf(join_('WRNG-0000')))?.code).toBe('codeRefused');
    expect(await reasonOf(join_(code))).toMatchObject({
      code: 'tooManyRequests',
      said: said('refusal.tooManyWrongCodes', { minutes: 10 }),
    });
    expect((await join_(code, '192.0.2.10')).ok).toBe(true);
    clock.advance(10 * 60_000);
    expect((await join_(codeFor('coach'))).ok).toBe(true);
  });

  test('many addresses together may try sixty times in ten minutes, and each once beyond that', async () => {
    let refusedAsWrong = 0;
    for (let i = 0; i < 200; i += 1)
      for (let tries = 0; tries < 2; tries += 1)
        if ((await reasonOf(join_('WRNG-0000', `2001:db8::${i}`)))?.code === 'codeRefused')
          refusedAsWrong += 1;
    // Thirty addresses twice, and a hundred and seventy once.
    expect(refusedAsWrong).toBe(230);
  });

  test('thousands of addresses are stopped too', async () => {
    let refusedAsWrong = 0;
    for (let i = 0; i < 4_000; i += 1)
      if ((await reasonOf(join_('WRNG-0000', `2001:db8::${i}`)))?.code === 'codeRefused') refusedAsWrong += 1;
    expect(refusedAsWrong).toBe(3_000);
  });

  test('a withdrawn code is refused', async () => {
    const made = register.makeCode('coach', null);
    if (!made.ok) throw new Error('refused');
    expect(register.voidCode(made.value.view.codeId)).toBe(true);
    expect(register.voidCode(made.value.view.codeId)).toBe(false);
    expect((await reasonOf(join_(made.value.code)))?.code).toBe('codeRefused');
  });

  test('an athlete’s code needs an athlete of this hub, others none', async () => {
    expect(register.makeCode('athlete', null)).toMatchObject({ ok: false, reason: { code: 'badRequest' } });
    expect(register.makeCode('athlete', 'nobody')).toMatchObject({
      ok: false,
      reason: { code: 'unknownAthlete' },
    });
    expect(register.makeCode('onlooker', 'mira')).toMatchObject({ ok: false });
  });

  test('there is an end to unused codes, until some expire', async () => {
    for (let i = 0; i < 32; i += 1) codeFor('onlooker');
    expect(register.makeCode('onlooker', null)).toMatchObject({
      ok: false,
      reason: { code: 'tooManyRequests' },
    });
    clock.advance(codeLifetimeMs);
    expect(register.makeCode('onlooker', null).ok).toBe(true);
  });
});

describe('devices', () => {
  test('a made-up token is nobody', async () => {
    await joined('coach');
    expect(register.deviceOf('')).toBeUndefined();
    expect(register.deviceOf('x'.repeat(43))).toBeUndefined();
  });

  test.each(['coach', 'athlete', 'onlooker'] as const)('a token of role %s ends', async (role) => {
    const { token } = await joined(role, role === 'athlete' ? 'mira' : null);
    clock.advance(deviceLifetimeMs[role] - 1);
    expect(register.deviceOf(token)).toBeDefined();
    clock.advance(1);
    expect(register.deviceOf(token)).toBeUndefined();
    expect(register.devices()).toEqual([]);
  });

  test('a removed device is nobody from then on, and listeners hear of it at once', async () => {
    const { device, token } = await joined('coach');
    const heard: string[] = [];
    register.onRemoved((deviceId) => heard.push(deviceId));
    expect((await register.remove(device.deviceId)).ok).toBe(true);
    expect(heard).toEqual([device.deviceId]);
    expect(register.deviceOf(token)).toBeUndefined();
    expect(await register.remove(device.deviceId)).toMatchObject({
      ok: false,
      reason: { code: 'unknownDevice' },
    });
  });

  test('an athlete’s device is nobody once the athlete is gone', async () => {
    const { token } = await joined('athlete', 'mira');
    athletes.delete('mira');
    expect(register.deviceOf(token)).toBeUndefined();
  });
});

describe('kept in a file', () => {
  let directory: string;
  beforeEach(() => {
    directory = mkdtempSync(join(tmpdir(), 'slackwater-devices-'));
    register = open(deviceFileIn(directory));
  });
  afterEach(() => rmSync(directory, { recursive: true, force: true, maxRetries: 5 }));
  const path = () => join(directory, 'devices.json');

  test('a restart keeps devices and voids codes', async () => {
    const { device, token } = await joined('coach');
    const code = codeFor('coach');
    register = open(deviceFileIn(directory));
    expect(register.notice).toBeNull();
    expect(register.deviceOf(token)).toEqual(device);
    expect((await reasonOf(join_(code)))?.code).toBe('codeRefused');
  });

  test('a removed device stays removed after a restart', async () => {
    const { device, token } = await joined('coach');
    await register.remove(device.deviceId);
    expect(open(deviceFileIn(directory)).deviceOf(token)).toBeUndefined();
  });

  test('the file is private and holds neither token nor code', async () => {
    const code = codeFor('coach');
    const result = await join_(code);
    if (!result.ok) throw new Error('refused');
    expect(statSync(path()).mode & 0o777).toBe(0o600);
    const text = readFileSync(path(), 'utf8');
    expect(text).toContain(result.value.device.deviceId);
    expect(text).not.toContain(result.value.token);
    expect(text).not.toContain(code);
    expect(text).not.toContain(normalizeJoinCode(code));
  });

  test.each([
    ['not JSON', '{'],
    ['another version', '{"version":2,"devices":[]}'],
    ['a device that is none', '{"version":1,"devices":[{"deviceId":"a"}]}'],
  ])('a damaged file (%s) is set aside, said, and lets nobody in', async (_name, text) => {
    writeFileSync(path(), text);
    register = open(deviceFileIn(directory));
    expect(register.devices()).toEqual([]);
    expect(inWords(register.notice)).toContain('join again');
    expect(readFileSync(`${path()}.damaged`, 'utf8')).toBe(text);
    await joined('coach');
    expect(open(deviceFileIn(directory)).devices()).toHaveLength(1);
  });

  test('a full disk refuses the joining, keeps the code good, and says so', async () => {
    const file = deviceFileIn(directory);
    let full = true;
    register = open({
      load: file.load,
      save: async (devices) => {
        if (full) throw new Error('no space left on device');
        await file.save(devices);
      },
    });
    const code = codeFor('coach');
    expect(await reasonOf(join_(code))).toMatchObject({
      code: 'recorderFailed',
      said: said('refusal.devicesNotSaved', { reason: expect.stringContaining('no space left') }),
    });
    expect(register.devices()).toEqual([]);
    full = false;
    expect((await join_(code)).ok).toBe(true);
  });

  test('while a slow disk is waited for, the code lets nobody else in, and what is removed meanwhile stays removed', async () => {
    const file = deviceFileIn(directory);
    const waiting: (() => void)[] = [];
    register = open({
      load: file.load,
      save: async (devices) => {
        await new Promise<void>((resolve) => waiting.push(resolve));
        await file.save(devices);
      },
    });
    const code = codeFor('coach');
    const first = join_(code);
    const second = join_(code);
    expect((await reasonOf(second))?.code).toBe('codeRefused');
    const [pending] = register.devices();
    const removed = register.remove(pending!.deviceId);
    await expect.poll(() => waiting.length).toBe(1);
    waiting[0]!();
    expect((await first).ok).toBe(true);
    await expect.poll(() => waiting.length).toBe(2);
    waiting[1]!();
    expect((await removed).ok).toBe(true);
    expect(open(file).devices()).toEqual([]);
  });
});
