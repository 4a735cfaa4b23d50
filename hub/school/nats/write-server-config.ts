// Writes a message server's settings for a school with its users and their secrets: new passwords for who is new, everybody
// else keeps theirs. Every file is for its owner alone.

import { randomBytes } from 'node:crypto';
import { chmodSync, existsSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import * as z from 'zod/mini';
import { said } from '../../../shared/said.ts';
import { schoolNameSchema } from '../../../shared/school/subjects.ts';
import { HubError } from '../../base/hub-error.ts';
import { checkAccess, hostsBeyondLoopback } from './connect.ts';
import { ownerName, serverConfig } from './server-config.ts';

const userSchema = z.object({ name: schoolNameSchema, password: z.string().check(z.minLength(20)) });
const usersSchema = z.object({ owner: userSchema, hubs: z.array(userSchema) });
type Users = z.infer<typeof usersSchema>;

export interface ServerConfigAsked {
  readonly folder: string;
  /** Where hubs and the school reach the server: nats://localhost:4222, tls://HOST:4222. */
  readonly address: string;
  readonly school: string;
  /** Added to those that are there. */
  readonly hubs: readonly string[];
  /** Let in no more. */
  readonly without: readonly string[];
  readonly gigabytes: number;
  /** For an address beyond this computer. */
  readonly tls?: { readonly certificate: string; readonly key: string };
}

export interface WrittenServerConfig {
  readonly server: string;
  readonly school: string;
  readonly hubs: readonly { readonly name: string; readonly path: string; readonly isNew: boolean }[];
  readonly removed: readonly string[];
}

const newPassword = (): string => randomBytes(24).toString('base64url');

/** Throws a HubError that says what to write otherwise, before anything is written. */
export function writeServerConfig(asked: ServerConfigAsked): WrittenServerConfig {
  const { address, school, hubs: added, without } = asked;
  checkAccess({ url: address });
  const [beyond] = hostsBeyondLoopback({ url: address });
  if (beyond !== undefined && asked.tls === undefined)
    throw new HubError('config.badValue', said('school.needsCertificate', { host: beyond }));
  for (const name of added)
    if (!schoolNameSchema.safeParse(name).success || name === ownerName)
      throw new HubError('config.badValue', said('school.badName', { name }));
  const folder = resolve(asked.folder);
  const known = readUsers(join(folder, 'users.json'));
  const names = new Set(known.hubs.map(({ name }) => name));
  for (const name of without)
    if (!names.has(name)) throw new HubError('config.badValue', said('school.noSuchHub', { name }));
  const fresh = [...new Set(added)].filter((name) => !names.has(name) || without.includes(name));
  const users: Users = {
    owner: known.owner,
    hubs: [
      ...known.hubs.filter(({ name }) => !without.includes(name)),
      ...fresh.map((name) => ({ name, password: newPassword() })),
    ].toSorted((one, other) => (one.name < other.name ? -1 : 1)),
  };
  mkdirSync(folder, { recursive: true, mode: 0o700 });
  chmodSync(folder, 0o700);
  const write = (name: string, text: string): string => writePrivately(join(folder, name), text);
  // First, so that no password is in use that is not kept.
  write('users.json', asText(users));
  const server = write('nats-server.conf', configText(asked, folder, users));
  const settings = { school: address, 'school-name': school };
  const own = write(
    'school.json',
    asText({ ...settings, 'school-user': users.owner.name, 'school-password': users.owner.password }),
  );
  const written = users.hubs.map(({ name, password }) => ({
    name,
    isNew: fresh.includes(name),
    path: write(
      `hub-${name}.json`,
      asText({ ...settings, 'school-hub': name, 'school-user': name, 'school-password': password }),
    ),
  }));
  const removed = without.filter((name) => !fresh.includes(name));
  for (const name of removed) rmSync(join(folder, `hub-${name}.json`), { force: true });
  return { server, school: own, hubs: written, removed };
}

function configText(asked: ServerConfigAsked, folder: string, { owner, hubs }: Users): string {
  const { address, school, gigabytes, tls } = asked;
  return serverConfig({
    school,
    owner,
    hubs,
    storeFolder: join(folder, 'stream'),
    storeGigabytes: gigabytes,
    ...(tls !== undefined && { tls: { certificate: resolve(tls.certificate), key: resolve(tls.key) } }),
    port: Number(new URL(address.split(',')[0]!.trim()).port || 4222),
  });
}

const asText = (value: unknown): string => `${JSON.stringify(value, null, 2)}\n`;

/** Whole or not at all, and never for a moment readable by others. */
function writePrivately(path: string, text: string): string {
  rmSync(`${path}.new`, { force: true });
  writeFileSync(`${path}.new`, text, { mode: 0o600 });
  renameSync(`${path}.new`, path);
  return path;
}

function readUsers(path: string): Users {
  if (!existsSync(path)) return { owner: { name: ownerName, password: newPassword() }, hubs: [] };
  const users = z.safeParse(usersSchema, parsed(readFileSync(path, 'utf8')));
  // Made anew, every hub that is there would be shut out.
  if (!users.success) throw new HubError('config.badFile', said('school.badUsers', { path }));
  return users.data;
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
