// The sensor profiles of the data folder while the hub runs: read, written whole, the former version kept, and put in use at once;
// while a session runs, when it ends, because a recording is read by the profiles that it began with.

import { mkdir, readdir, readFile, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { type Said, said } from '../../../shared/said.ts';
import type { WallMs } from '../../../shared/units.ts';
import { type ProfileProblem, parseProfile, profileProblemSaid } from '../../../src/profiles/profile-file.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { markOfProfile } from '../../../src/profiles/stream-name.ts';
import { replaceFileLater } from '../../base/replace-file.ts';
import { streamsOf } from './link-questions.ts';
import { profileLinkOf } from './profile-link.ts';

export interface ShelvedProfile {
  /** Name of the file in the folder. */
  readonly file: string;
  readonly text: string;
  /** Null where the file is wrong. */
  readonly profile: SensorProfile | null;
  readonly problems: readonly ProfileProblem[];
  /** In order, and yet not used: bytes of this characteristic are read by the profile in that file. */
  readonly clash: ProfileClash | null;
}

export interface ProfileClash {
  readonly characteristic: string;
  readonly file: string;
}

/** A version that was replaced or taken away. */
export interface FormerProfile {
  readonly text: string;
  readonly replacedWallAtMs: number;
}

export interface ShelfSettings {
  /** Made when something is first written. */
  readonly folder: string;
  readonly wallNowMs: () => WallMs;
}

/** Of each file so many former versions are kept. Our choice. */
const mostFormer = 20;
/** More files than this are somebody's mistake: the first, by name, are read, and it is said. */
const mostFiles = 100;

export const isProfileFile = (name: string): boolean => /^[A-Za-z0-9][A-Za-z0-9._-]{0,60}\.json$/.test(name);

export class ProfileShelf {
  readonly #settings: ShelfSettings;
  #shelved: readonly ShelvedProfile[] = [];
  #inUse: readonly SensorProfile[] = [];
  #unreadable: readonly Said[] = [];
  #isSessionRunning: () => boolean = () => false;
  readonly #users = new Set<(profiles: readonly SensorProfile[]) => void>();
  /** One write at a time. */
  #writing: Promise<unknown> = Promise.resolve();

  private constructor(settings: ShelfSettings) {
    this.#settings = settings;
  }

  /** A missing folder means none. Never rejects for what is in it. */
  static async open(settings: ShelfSettings): Promise<ProfileShelf> {
    const shelf = new ProfileShelf(settings);
    await shelf.#read();
    shelf.#inUse = shelf.#good();
    return shelf;
  }

  get list(): readonly ShelvedProfile[] {
    return this.#shelved;
  }

  /** What sensors are read by now. */
  get inUse(): readonly SensorProfile[] {
    return this.#inUse;
  }

  /** What was saved in a session waits for its end. */
  get isWaiting(): boolean {
    return JSON.stringify(this.#inUse) !== JSON.stringify(this.#good());
  }

  /** For each thing wrong, with file, line and column. */
  get problems(): readonly Said[] {
    return [
      ...this.#unreadable,
      ...this.#shelved.flatMap(({ file, problems, clash }) => {
        const path = join(this.#settings.folder, file);
        return [
          ...problems.map((problem) => profileProblemSaid(path, problem)),
          ...(clash === null ? [] : [said('profile.clashOf', { file: path, clash: clashSaid(clash) })]),
        ];
      }),
    ];
  }

  /** While this says so, what is in use stays as it is; `settle` is to be called afterwards. */
  waitWhile(isSessionRunning: () => boolean): void {
    this.#isSessionRunning = isSessionRunning;
  }

  /** Hears of each change of what is in use. */
  onUse(user: (profiles: readonly SensorProfile[]) => void): void {
    this.#users.add(user);
  }

  /** Whichever other profile reads a characteristic of this one already, of sensors that cannot be told from its own. */
  clashOf(file: string, profile: SensorProfile): ProfileClash | null {
    return clashWith(
      this.#shelved.filter((each) => each.file !== file && each.clash === null),
      profile,
    );
  }

  /** A profile that is in order takes the place of the one in that file. Rejects with what the file system says. */
  save(file: string, text: string): Promise<void> {
    return this.#oneByOne(async () => {
      await mkdir(this.#settings.folder, { recursive: true, mode: 0o700 });
      await this.#keepFormer(file);
      await replaceFileLater(join(this.#settings.folder, file), text);
    });
  }

  /** Takes the file away; its text stays among the former versions. */
  remove(file: string): Promise<void> {
    return this.#oneByOne(async () => {
      await this.#keepFormer(file);
      await rm(join(this.#settings.folder, file), { force: true });
    });
  }

  /** Versions of a file that were replaced, newest first. */
  async former(file: string): Promise<readonly FormerProfile[]> {
    const names = await this.#formerNames(file);
    const former: FormerProfile[] = [];
    for (const { name, replacedWallAtMs } of names.toReversed()) {
      const text = await readFile(join(this.#formerFolder, name), 'utf8').catch(() => null);
      if (text !== null) former.push({ text, replacedWallAtMs });
    }
    return former;
  }

  /** To be told when a session has ended. */
  settle(): void {
    if (this.#isSessionRunning() || !this.isWaiting) return;
    this.#inUse = this.#good();
    for (const user of this.#users) user(this.#inUse);
  }

  #oneByOne(write: () => Promise<void>): Promise<void> {
    const written = this.#writing.then(async () => {
      await write();
      await this.#read();
      this.settle();
    });
    this.#writing = written.catch(() => undefined);
    return written;
  }

  #good(): readonly SensorProfile[] {
    return this.#shelved.flatMap(({ profile, clash }) =>
      profile === null || clash !== null ? [] : [profile],
    );
  }

  async #read(): Promise<void> {
    const { folder } = this.#settings;
    const all = await readdir(folder).catch((): string[] => []);
    const names = all.filter((name) => name.endsWith('.json')).sort();
    const shelved: ShelvedProfile[] = [];
    const unreadable: Said[] = [];
    for (const file of names.slice(0, mostFiles)) {
      const path = join(folder, file);
      const text = await readFile(path, 'utf8').catch((error: Error) => error);
      if (text instanceof Error) {
        unreadable.push(said('profile.unreadable', { path, reason: text.message }));
        continue;
      }
      const parsed = parseProfile(text);
      shelved.push({
        file,
        text,
        profile: parsed.ok ? parsed.value : null,
        problems: parsed.ok ? [] : parsed.reason,
        clash: parsed.ok
          ? clashWith(
              shelved.filter(({ clash }) => clash === null),
              parsed.value,
            )
          : null,
      });
    }
    if (names.length > mostFiles)
      unreadable.push(said('profile.tooMany', { folder, most: mostFiles, from: names[mostFiles]! }));
    this.#shelved = shelved;
    this.#unreadable = unreadable;
  }

  get #formerFolder(): string {
    return join(this.#settings.folder, 'former');
  }

  async #keepFormer(file: string): Promise<void> {
    const before = await readFile(join(this.#settings.folder, file), 'utf8').catch(() => null);
    if (before === null) return;
    await mkdir(this.#formerFolder, { recursive: true, mode: 0o700 });
    const kept = `${file}.${Math.round(this.#settings.wallNowMs())}`;
    await replaceFileLater(join(this.#formerFolder, kept), before);
    const names = await this.#formerNames(file);
    for (const { name } of names.slice(0, Math.max(0, names.length - mostFormer)))
      await rm(join(this.#formerFolder, name), { force: true });
  }

  /** Oldest first. */
  async #formerNames(file: string): Promise<readonly { name: string; replacedWallAtMs: number }[]> {
    const all = await readdir(this.#formerFolder).catch((): string[] => []);
    return all
      .flatMap((name) => {
        const stamp = name.startsWith(`${file}.`) ? name.slice(file.length + 1) : '';
        return /^\d+$/.test(stamp) ? [{ name, replacedWallAtMs: Number(stamp) }] : [];
      })
      .sort((a, b) => a.replacedWallAtMs - b.replacedWallAtMs);
  }
}

/**
 * Makers share characteristics, as those of serial ports, and a wrong byte can look like a saturation: of two profiles for one, whose
 * sensors nothing tells apart, the first by name is used.
 */
function clashWith(others: readonly ShelvedProfile[], profile: SensorProfile): ProfileClash | null {
  const own = streamsOf(profileLinkOf(profile));
  for (const { file, profile: other } of others) {
    if (other === null || areToldApart(profile, other)) continue;
    const characteristic = streamsOf(profileLinkOf(other)).find((each) => own.includes(each));
    if (characteristic !== undefined) return { characteristic, file };
  }
  return null;
}

/** By how the name begins (`profileFor`), else by services; and in recordings, by their own names. */
function areToldApart(one: SensorProfile, other: SensorProfile): boolean {
  if (markOfProfile(one.name) === markOfProfile(other.name)) return false;
  if (one.match.namePrefix !== other.match.namePrefix) return true;
  if (one.match.namePrefix !== null) return false;
  return !one.match.services.some((service) => other.match.services.includes(service));
}

export const clashSaid = ({ characteristic, file }: ProfileClash): Said =>
  said('profile.clash', { characteristic, file });
