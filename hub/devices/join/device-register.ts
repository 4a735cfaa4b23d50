// Which other devices may use this hub, and as what: makes single-use join codes, trades them for tokens, remembers
// the tokens' hashes, and forgets a device at once when a coach removes it.

import { createHash, createHmac, randomBytes, timingSafeEqual } from 'node:crypto';
import type { DeviceView, JoinCodeView } from '../../../shared/http.ts';
import type { Said } from '../../../shared/said.ts';
import { said } from '../../../shared/said.ts';
import type { DeviceRole, Role } from '../../../shared/schema-parts.ts';
import { type ProcessMs, wallMs } from '../../../shared/units.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { Refusal } from '../../base/refusal.ts';
import { refusals } from '../../live/refusals.ts';
import type { DeviceFile, StoredDevice } from './device-file.ts';
import { makeJoinCode, normalizeJoinCode, spellJoinCode } from './join-code.ts';
import { createTryLimit } from './try-limit.ts';

/** Long enough to walk across a hall with a phone, short enough to be useless on a photograph. */
export const codeLifetimeMs = 10 * 60_000;
const dayMs = 24 * 3_600_000;
/** A course lasts days to weeks; someone who only looks on is there for a day. */
export const deviceLifetimeMs: Readonly<Record<DeviceRole, number>> = {
  coach: 30 * dayMs,
  athlete: 30 * dayMs,
  onlooker: dayMs,
  /** It stands in a room, and nobody looks at it. */
  radio: 365 * dayMs,
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

/** A device that opens pages. */
export type PageDevice = DeviceView & { readonly role: Role };
export const isPageDevice = (device: DeviceView): device is PageDevice => device.role !== 'radio';

export interface DeviceRegister {
  /** A new code; its letters, spelled for people, are given here and never again. */
  makeCode(
    role: DeviceRole,
    athleteId: string | null,
    /** At a school: the rooms of a coach of some of them. */
    rooms?: readonly string[],
  ): Result<{ view: JoinCodeView; code: string }, Refusal>;
  /** Codes that can still be used. */
  openCodes(): readonly JoinCodeView[];
  /** False when there is no such open code. */
  voidCode(codeId: string): boolean;
  /** Trades a code for a token. `address` is where the request came from, for the limit on tries. */
  join(request: {
    code: string;
    deviceName: string;
    address: string;
    /** Trades a radio's code, and no other; a page's, where it is left out. */
    asRadio?: boolean;
  }): Promise<Result<{ device: DeviceView; token: string }, Refusal>>;
  /** The device of a token that is still good, where it is one that opens pages. */
  deviceOf(token: string): PageDevice | undefined;
  /** The radio of a token that is still good. */
  radioOf(token: string): DeviceView | undefined;
  devices(): readonly DeviceView[];
  /** Removes it now, for its open pages too. Fails when that could not be saved and would not outlast a restart. */
  remove(deviceId: string): Promise<Result<true, Refusal>>;
  /** Removes an athlete's devices and codes: of somebody erased not even a device's name is kept. Fails like `remove`. */
  forgetAthlete(athleteId: string): Promise<Result<true, Refusal>>;
  /** Called at once with each device that is no longer allowed. */
  onRemoved(listener: (deviceId: string) => void): () => void;
  /** What could not be read at start, or null. */
  readonly notice: Said | null;
}

export const createDeviceRegister = (ports: DeviceRegisterPorts): DeviceRegister =>
  new FiledDeviceRegister(ports);

class FiledDeviceRegister implements DeviceRegister {
  readonly notice: Said | null;
  readonly #ports: DeviceRegisterPorts;
  readonly #devices: Map<string, StoredDevice>;
  readonly #removalListeners = new Set<(deviceId: string) => void>();
  readonly #limit = createTryLimit();
  /** Codes live in memory only; a restart voids them. The key makes their hashes worthless outside this process. */
  readonly #codeKey = randomBytes(32);
  #codes: Code[] = [];
  /** One after the other, each writing what the list is when its turn comes. */
  #saving: Promise<unknown> = Promise.resolve();

  constructor(ports: DeviceRegisterPorts) {
    this.#ports = ports;
    const loaded = ports.file.load();
    this.#devices = new Map(loaded.devices.map((device) => [device.deviceId, device]));
    this.notice = loaded.notice;
  }

  makeCode(
    role: DeviceRole,
    athleteId: string | null,
    rooms?: readonly string[],
  ): Result<{ view: JoinCodeView; code: string }, Refusal> {
    if (rooms !== undefined && role !== 'coach') return failed<Refusal>(codeRefusals.roomsOfCoach);
    if ((role === 'athlete') !== (athleteId !== null))
      return failed<Refusal>(role === 'athlete' ? codeRefusals.whose : codeRefusals.ofNobody);
    if (athleteId !== null && !this.#ports.athleteExists(athleteId))
      return failed<Refusal>(refusals.unknownAthlete);
    this.#forgetOldCodes();
    if (this.#codes.filter(this.#isOpen).length >= mostOpenCodes)
      return failed<Refusal>(codeRefusals.tooManyOpen);
    let code = makeJoinCode();
    while (this.#findCode(code) !== undefined) code = makeJoinCode();
    const { clock, makeId } = this.#ports;
    const view: JoinCodeView = {
      codeId: makeId(),
      role,
      athleteId,
      expiresWallAtMs: wallMs(clock.wallNowMs() + codeLifetimeMs),
      ...(rooms !== undefined && { rooms: [...rooms] }),
    };
    const expiresAtMs = (clock.nowMs() + codeLifetimeMs) as ProcessMs;
    this.#codes.push({ view, hash: this.#hashCode(code), expiresAtMs, used: false });
    return ok({ view, code: spellJoinCode(code) });
  }

  openCodes(): readonly JoinCodeView[] {
    return this.#codes.filter(this.#isOpen).map((code) => code.view);
  }

  voidCode(codeId: string): boolean {
    const before = this.#codes.length;
    this.#codes = this.#codes.filter((code) => !(code.view.codeId === codeId && this.#isOpen(code)));
    return this.#codes.length < before;
  }

  async join(request: {
    code: string;
    deviceName: string;
    address: string;
    asRadio?: boolean;
  }): Promise<Result<{ device: DeviceView; token: string }, Refusal>> {
    const found = this.#tryCode(request.code, request.address, request.asRadio ?? false);
    if (!found.ok) return found;
    const code = found.value;
    for (const device of this.#devices.values())
      if (!this.#isGood(device)) this.#devices.delete(device.deviceId);
    if (this.#devices.size >= mostDevices) return failed<Refusal>(codeRefusals.tooManyDevices);
    const token = randomBytes(32).toString('base64url');
    const device = this.#newDevice(code.view, request.deviceName, token);
    // Used from now on: nobody else gets in by it while the disk is waited for.
    code.used = true;
    this.#devices.set(device.deviceId, device);
    const saved = await this.#save(() => {
      this.#devices.delete(device.deviceId);
      code.used = false;
    });
    return saved.ok ? ok({ device: toView(device), token }) : saved;
  }

  deviceOf(token: string): PageDevice | undefined {
    const device = this.#ofToken(token);
    return device !== undefined && isPageDevice(device) ? device : undefined;
  }

  radioOf(token: string): DeviceView | undefined {
    const device = this.#ofToken(token);
    return device?.role === 'radio' ? device : undefined;
  }

  #ofToken(token: string): DeviceView | undefined {
    const hash = hashToken(token);
    let found: StoredDevice | undefined;
    for (const device of this.#devices.values())
      if (timingSafeEqual(Buffer.from(device.tokenHash, 'hex'), hash)) found = device;
    return found !== undefined && this.#isGood(found) ? toView(found) : undefined;
  }

  devices(): readonly DeviceView[] {
    return [...this.#devices.values()].filter((device) => this.#isGood(device)).map(toView);
  }

  async remove(deviceId: string): Promise<Result<true, Refusal>> {
    if (!this.#devices.delete(deviceId)) return failed<Refusal>(codeRefusals.unknownDevice);
    for (const listener of this.#removalListeners) listener(deviceId);
    return this.#save();
  }

  async forgetAthlete(athleteId: string): Promise<Result<true, Refusal>> {
    this.#codes = this.#codes.filter(({ view }) => view.athleteId !== athleteId);
    // Not only those that are still good: once the athlete is gone, none of theirs is.
    const theirs = [...this.#devices.values()].filter((device) => device.athleteId === athleteId);
    for (const { deviceId } of theirs) this.#devices.delete(deviceId);
    for (const { deviceId } of theirs) for (const listener of this.#removalListeners) listener(deviceId);
    return theirs.length === 0 ? ok(true) : this.#save();
  }

  onRemoved(listener: (deviceId: string) => void): () => void {
    this.#removalListeners.add(listener);
    return () => this.#removalListeners.delete(listener);
  }

  /** The code typed, if it still lets somebody in. Counts a wrong one against the address it came from. */
  #tryCode(typed: string, address: string, asRadio: boolean): Result<Code, Refusal> {
    const { clock, athleteExists } = this.#ports;
    const waitMs = this.#limit.waitMs(address, clock.nowMs());
    if (waitMs > 0) return failed<Refusal>(tooManyTries(waitMs));
    this.#forgetOldCodes();
    const code = this.#findCode(typed);
    if (code === undefined || !this.#isOpen(code)) {
      this.#limit.countWrong(address, clock.nowMs());
      if (code === undefined) return failed<Refusal>(codeRefusals.wrong);
      return failed<Refusal>(code.used ? codeRefusals.used : codeRefusals.old);
    }
    const { athleteId, role } = code.view;
    // Still good: whoever holds it is told where it belongs.
    if ((role === 'radio') !== asRadio)
      return failed<Refusal>(asRadio ? codeRefusals.ofPage : codeRefusals.ofRadio);
    return athleteId !== null && !athleteExists(athleteId)
      ? failed<Refusal>(codeRefusals.athleteGone)
      : ok(code);
  }

  #newDevice({ role, athleteId, rooms }: JoinCodeView, name: string, token: string): StoredDevice {
    const joinedWallAtMs = this.#ports.clock.wallNowMs();
    return {
      deviceId: this.#ports.makeId(),
      name: name.trim(),
      role,
      athleteId,
      joinedWallAtMs,
      expiresWallAtMs: wallMs(joinedWallAtMs + deviceLifetimeMs[role]),
      ...(rooms !== undefined && { rooms }),
      tokenHash: hashToken(token).toString('hex'),
    };
  }

  #hashCode(code: string): Buffer {
    return createHmac('sha256', this.#codeKey).update(normalizeJoinCode(code)).digest();
  }

  readonly #isOpen = (code: Code): boolean => !code.used && this.#ports.clock.nowMs() < code.expiresAtMs;

  #isGood({ expiresWallAtMs, athleteId }: StoredDevice): boolean {
    const { clock, athleteExists } = this.#ports;
    return clock.wallNowMs() < expiresWallAtMs && (athleteId === null || athleteExists(athleteId));
  }

  #forgetOldCodes(): void {
    const nowMs = this.#ports.clock.nowMs();
    // Kept for one lifetime after the end, so that "used" and "too old" can be told from "wrong".
    this.#codes = this.#codes.filter((code) => nowMs < code.expiresAtMs + codeLifetimeMs);
  }

  #findCode(typed: string): Code | undefined {
    const hash = this.#hashCode(typed);
    let found: Code | undefined;
    // No early end: how long it takes says nothing about the codes.
    for (const code of this.#codes) if (timingSafeEqual(code.hash, hash)) found = code;
    return found;
  }

  /** `undo` is done at once where it fails, before the next is written. */
  #save(undo: () => void = () => undefined): Promise<Result<true, Refusal>> {
    const saved = this.#saving.then(async (): Promise<Result<true, Refusal>> => {
      try {
        await this.#ports.file.save([...this.#devices.values()]);
        return ok(true);
      } catch (error) {
        undo();
        return failed<Refusal>(listNotSaved(error instanceof Error ? error.message : String(error)));
      }
    });
    this.#saving = saved;
    return saved;
  }
}

const codeRefusals = {
  whose: { code: 'badRequest', said: said('refusal.whoseDevice') },
  ofNobody: { code: 'badRequest', said: said('refusal.codeOfAthlete') },
  roomsOfCoach: { code: 'badRequest', said: said('refusal.roomsOfCoach') },
  tooManyOpen: {
    code: 'tooManyRequests',
    said: said('refusal.tooManyCodes', { most: mostOpenCodes }),
  },
  tooManyDevices: {
    code: 'tooManyRequests',
    said: said('refusal.tooManyDevices', { most: mostDevices }),
  },
  wrong: {
    code: 'codeRefused',
    said: said('refusal.wrongCode'),
  },
  used: {
    code: 'codeRefused',
    said: said('refusal.usedCode'),
  },
  old: { code: 'codeRefused', said: said('refusal.oldCode') },
  ofRadio: { code: 'codeRefused', said: said('refusal.codeOfRadio') },
  ofPage: { code: 'codeRefused', said: said('refusal.codeOfPage') },
  athleteGone: {
    code: 'codeRefused',
    said: said('refusal.codeWithoutAthlete'),
  },
  unknownDevice: { code: 'unknownDevice', said: said('refusal.unknownDevice') },
} as const satisfies Record<string, Refusal>;

function tooManyTries(waitMs: number): Refusal {
  const minutes = Math.ceil(waitMs / 60_000);
  return {
    code: 'tooManyRequests',
    said: said('refusal.tooManyWrongCodes', { minutes }),
  };
}

const listNotSaved = (reason: string): Refusal => ({
  code: 'recorderFailed',
  said: said('refusal.devicesNotSaved', { reason }),
});

// A token is 256 random bits, so a plain hash keeps it secret; no key or salt would add anything.
const hashToken = (token: string): Buffer => createHash('sha256').update(token).digest();

function toView(device: StoredDevice): DeviceView {
  const { tokenHash: _secret, ...view } = device;
  return view;
}
