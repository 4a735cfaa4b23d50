// Which other devices may use this hub, and as what: makes single-use join codes, trades them for tokens, remembers
// the tokens' hashes, and forgets a device at once when a coach removes it.

import { createHash, createHmac, randomBytes, timingSafeEqual } from 'node:crypto';
import type { DeviceView, JoinCodeView } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import type { Role } from '../../../shared/schema-parts.ts';
import { type ProcessMs, wallMs } from '../../../shared/units.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import type { Clock } from '../../base/ports.ts';
import type { Refusal } from '../../base/refusal.ts';
import { refusals } from '../../live/refusals.ts';
import type { DeviceFile, StoredDevice } from './device-file.ts';
import { makeJoinCode, normalizeJoinCode, spellJoinCode } from './join-code.ts';
import { createTryLimit } from './try-limit.ts';

/** Long enough to walk across a hall with a phone, short enough to be useless on a photograph. */
export const codeLifetimeMs = 10 * 60_000;
const dayMs = 24 * 3_600_000;
/** A course lasts days to weeks; someone who only looks on is there for a day. */
export const deviceLifetimeMs: Readonly<Record<Role, number>> = {
  coach: 30 * dayMs,
  athlete: 30 * dayMs,
  onlooker: dayMs,
};
const mostOpenCodes = 32;
const mostDevices = 64;

interface Code {
  readonly view: JoinCodeView;
  readonly hash: Buffer;
  readonly expiresAtMs: ProcessMs;
  used: boolean;
}

export interface DeviceRegisterPorts {
  readonly clock: Clock;
  readonly file: DeviceFile;
  readonly makeId: () => string;
  /** An athlete's device is worth nothing once the athlete is gone. */
  readonly athleteExists: (athleteId: string) => boolean;
}

export interface DeviceRegister {
  /** A new code; its letters, spelled for people, are given here and never again. */
  makeCode(role: Role, athleteId: string | null): Result<{ view: JoinCodeView; code: string }, Refusal>;
  /** Codes that can still be used. */
  openCodes(): readonly JoinCodeView[];
  /** False when there is no such open code. */
  voidCode(codeId: string): boolean;
  /** Trades a code for a token. `address` is where the request came from, for the limit on tries. */
  join(request: {
    code: string;
    deviceName: string;
    address: string;
  }): Result<{ device: DeviceView; token: string }, Refusal>;
  /** The device of a token that is still good. */
  deviceOf(token: string): DeviceView | undefined;
  devices(): readonly DeviceView[];
  /** Removes it now, for its open pages too. Fails when that could not be saved and would not outlast a restart. */
  remove(deviceId: string): Result<true, Refusal>;
  /** Called at once with each device that is no longer allowed. */
  onRemoved(listener: (deviceId: string) => void): () => void;
  /** What could not be read at start, or null. */
  readonly notice: string | null;
}

export function createDeviceRegister(ports: DeviceRegisterPorts): DeviceRegister {
  const { clock, file } = ports;
  const loaded = file.load();
  const devices = new Map(loaded.devices.map((device) => [device.deviceId, device]));
  const removalListeners = new Set<(deviceId: string) => void>();
  const limit = createTryLimit();
  // Codes live in memory only; a restart voids them. The key makes their hashes worthless outside this process.
  const codeKey = randomBytes(32);
  let codes: Code[] = [];

  const hashCode = (code: string): Buffer =>
    createHmac('sha256', codeKey).update(normalizeJoinCode(code)).digest();
  const isOpen = (code: Code): boolean => !code.used && clock.nowMs() < code.expiresAtMs;
  const isGood = (device: StoredDevice): boolean =>
    clock.wallNowMs() < device.expiresWallAtMs &&
    (device.athleteId === null || ports.athleteExists(device.athleteId));

  function forgetOldCodes(): void {
    // Kept for one lifetime after the end, so that "used" and "too old" can be told from "wrong".
    codes = codes.filter((code) => clock.nowMs() < code.expiresAtMs + codeLifetimeMs);
  }

  function findCode(typed: string): Code | undefined {
    const hash = hashCode(typed);
    let found: Code | undefined;
    // No early end: how long it takes says nothing about the codes.
    for (const code of codes) if (timingSafeEqual(code.hash, hash)) found = code;
    return found;
  }

  function save(): Result<true, Refusal> {
    try {
      file.save([...devices.values()]);
      return ok(true);
    } catch (error) {
      const reason = error instanceof Error ? error.message : String(error);
      return failed<Refusal>({
        code: 'recorderFailed',
        said: said('refusal.devicesNotSaved', { reason }),
      });
    }
  }

  function forgetExpired(): void {
    for (const device of devices.values()) if (!isGood(device)) devices.delete(device.deviceId);
  }

  return {
    makeCode(role, athleteId) {
      if ((role === 'athlete') !== (athleteId !== null)) {
        return failed<Refusal>({
          code: 'badRequest',
          said: role === 'athlete' ? said('refusal.whoseDevice') : said('refusal.codeOfAthlete'),
        });
      }
      if (athleteId !== null && !ports.athleteExists(athleteId))
        return failed<Refusal>(refusals.unknownAthlete);
      forgetOldCodes();
      if (codes.filter(isOpen).length >= mostOpenCodes)
        return failed<Refusal>({
          code: 'tooManyRequests',
          said: said('refusal.tooManyCodes', { most: mostOpenCodes }),
        });
      let code = makeJoinCode();
      while (findCode(code) !== undefined) code = makeJoinCode();
      const view: JoinCodeView = {
        codeId: ports.makeId(),
        role,
        athleteId,
        expiresWallAtMs: wallMs(clock.wallNowMs() + codeLifetimeMs),
      };
      const expiresAtMs = (clock.nowMs() + codeLifetimeMs) as ProcessMs;
      codes.push({ view, hash: hashCode(code), expiresAtMs, used: false });
      return ok({ view, code: spellJoinCode(code) });
    },
    openCodes() {
      return codes.filter(isOpen).map((code) => code.view);
    },
    voidCode(codeId) {
      const before = codes.length;
      codes = codes.filter((code) => !(code.view.codeId === codeId && isOpen(code)));
      return codes.length < before;
    },
    join({ code: typed, deviceName, address }) {
      const waitMs = limit.waitMs(address, clock.nowMs());
      if (waitMs > 0) {
        const minutes = Math.ceil(waitMs / 60_000);
        return failed<Refusal>({
          code: 'tooManyRequests',
          said: said('refusal.tooManyWrongCodes', { minutes }),
        });
      }
      forgetOldCodes();
      const code = findCode(typed);
      if (code === undefined || !isOpen(code)) {
        limit.countWrong(address, clock.nowMs());
        return failed<Refusal>({
          code: 'codeRefused',
          said:
            code === undefined
              ? said('refusal.wrongCode')
              : code.used
                ? said('refusal.usedCode')
                : said('refusal.oldCode'),
        });
      }
      const { role, athleteId } = code.view;
      if (athleteId !== null && !ports.athleteExists(athleteId))
        return failed<Refusal>({
          code: 'codeRefused',
          said: said('refusal.codeWithoutAthlete'),
        });
      forgetExpired();
      if (devices.size >= mostDevices)
        return failed<Refusal>({
          code: 'tooManyRequests',
          said: said('refusal.tooManyDevices', { most: mostDevices }),
        });
      const token = randomBytes(32).toString('base64url');
      const joinedWallAtMs = clock.wallNowMs();
      const device: StoredDevice = {
        deviceId: ports.makeId(),
        name: deviceName.trim(),
        role,
        athleteId,
        joinedWallAtMs,
        expiresWallAtMs: wallMs(joinedWallAtMs + deviceLifetimeMs[role]),
        tokenHash: hashToken(token).toString('hex'),
      };
      devices.set(device.deviceId, device);
      const saved = save();
      if (!saved.ok) {
        devices.delete(device.deviceId);
        return saved;
      }
      code.used = true;
      return ok({ device: toView(device), token });
    },
    deviceOf(token) {
      const hash = hashToken(token);
      let found: StoredDevice | undefined;
      for (const device of devices.values())
        if (timingSafeEqual(Buffer.from(device.tokenHash, 'hex'), hash)) found = device;
      return found !== undefined && isGood(found) ? toView(found) : undefined;
    },
    devices() {
      return [...devices.values()].filter(isGood).map(toView);
    },
    remove(deviceId) {
      if (!devices.delete(deviceId))
        return failed<Refusal>({ code: 'unknownDevice', said: said('refusal.unknownDevice') });
      for (const listener of removalListeners) listener(deviceId);
      return save();
    },
    onRemoved(listener) {
      removalListeners.add(listener);
      return () => removalListeners.delete(listener);
    },
    notice: loaded.notice,
  };
}

// A token is 256 random bits, so a plain hash keeps it secret; no key or salt would add anything.
const hashToken = (token: string): Buffer => createHash('sha256').update(token).digest();

function toView(device: StoredDevice): DeviceView {
  const { tokenHash: _secret, ...view } = device;
  return view;
}
