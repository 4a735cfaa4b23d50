// The folder of sensor profiles while the hub runs: written whole, the former version kept, in use when it may be.

import { readFileSync } from 'node:fs';
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { isProfileFile, ProfileShelf } from '../../../hub/sensors/bluetooth/profile-shelf.ts';
import { wallMs } from '../../../shared/units.ts';
import { inWords } from '../../support/in-words.ts';

const example = readFileSync(
  new URL('../../../fixtures/profiles/lantern-clip.json', import.meta.url),
  'utf8',
);
const named = (name: string): string => example.replace('"Lantern clip (invented)"', JSON.stringify(name));
/** The same with a characteristic of its own. */
const apart = (index: number): string =>
  named(`Clip ${index}`).replace('"7a5e0002-', `"${(0x10000000 + index).toString(16)}-`);

let folder: string;
let now = 1_000;
const later = (): number => {
  now += 1_000;
  return now;
};
const open = (in_ = folder) => ProfileShelf.open({ folder: in_, wallNowMs: () => wallMs(later()) });
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'shelf-'));
});
afterEach(() => rm(folder, { recursive: true }));

test('good ones are in use, bad ones told with their place, a missing folder is none', async () => {
  await writeFile(join(folder, 'good.json'), example);
  await writeFile(join(folder, 'bad.json'), '{\n  "profile": 2 }');
  const shelf = await open();
  expect(shelf.inUse.map(({ name }) => name)).toEqual(['Lantern clip (invented)']);
  expect(shelf.problems.some((problem) => inWords(problem).includes('bad.json:2:'))).toBe(true);
  const nowhere = await open(join(folder, 'nowhere'));
  expect([nowhere.inUse, nowhere.problems]).toEqual([[], []]);
});

test('of two that read one characteristic the first by name is used, and the other told with why', async () => {
  await writeFile(join(folder, 'a.json'), named('First'));
  await writeFile(join(folder, 'b.json'), named('Second'));
  await writeFile(join(folder, 'c.json'), named('Third'));
  const shelf = await open();
  expect(shelf.inUse.map(({ name }) => name)).toEqual(['First']);
  const told = shelf.problems.map((problem) => inWords(problem));
  expect(told).toHaveLength(2);
  expect(told[0]).toContain('b.json: a.json reads the characteristic 7a5e0002');
  const [first] = shelf.list;
  expect(shelf.clashOf('d.json', first!.profile!)).toMatchObject({ file: 'a.json' });
  expect(shelf.clashOf('a.json', first!.profile!)).toBeNull();
  await shelf.remove('a.json');
  expect(shelf.inUse.map(({ name }) => name)).toEqual(['Second']);
});

test('two that read one characteristic are both used where the sensors are called otherwise', async () => {
  const prefixed = (name: string, prefix: string) =>
    named(name).replace(/"namePrefix": *(?:null|"[^"]*")/, `"namePrefix": ${JSON.stringify(prefix)}`);
  await writeFile(join(folder, 'a.json'), prefixed('First', 'Quay '));
  await writeFile(join(folder, 'b.json'), prefixed('Second', 'Basin '));
  await writeFile(join(folder, 'c.json'), prefixed('First', 'Ford '));
  await writeFile(join(folder, 'd.json'), prefixed('Fourth', 'Basin '));
  const shelf = await open();
  expect(shelf.inUse.map(({ match }) => match.namePrefix)).toEqual(['Quay ', 'Basin ']);
  // Recordings tell profiles by their names, and the hub sensors by theirs.
  expect(shelf.list.map(({ clash }) => clash?.file ?? null)).toEqual([null, null, 'a.json', 'b.json']);
});

test('none reads what every sensor of the standard sends', async () => {
  await writeFile(join(folder, 'a.json'), example.replace(/"7a5e0002-[^"]*"/, '"2a37"'));
  const shelf = await open();
  expect(shelf.inUse).toEqual([]);
  expect(inWords(shelf.problems[0]!)).toContain('link.notify: is read by the standard');
});

test('beyond a hundred the rest is not read, and it is said from which on', async () => {
  const name = (index: number): string => `p${String(index).padStart(3, '0')}.json`;
  await Promise.all(
    Array.from({ length: 102 }, (_, index) => writeFile(join(folder, name(index)), apart(index))),
  );
  const shelf = await open();
  expect(shelf.inUse).toHaveLength(100);
  expect(shelf.problems.map((problem) => inWords(problem))).toEqual([
    `${folder}: more than 100 profiles lie there; those from p100.json on, by name, are not read`,
  ]);
  await shelf.remove(name(0));
  await shelf.remove(name(1));
  expect([shelf.inUse.length, shelf.problems]).toEqual([100, []]);
});

test('what is saved is in use at once, and the version before can be read again, newest first', async () => {
  const shelf = await open(join(folder, 'new'));
  const heard: string[][] = [];
  shelf.onUse((profiles) => heard.push(profiles.map(({ name }) => name)));
  for (const name of ['one', 'two', 'three']) await shelf.save('clip.json', named(name));
  expect(heard).toEqual([['one'], ['two'], ['three']]);
  const former = await shelf.former('clip.json');
  expect(former.map(({ text }) => text)).toEqual([named('two'), named('one')]);
  await shelf.remove('clip.json');
  expect(shelf.inUse).toEqual([]);
  expect((await shelf.former('clip.json')).map(({ text }) => text)[0]).toBe(named('three'));
  // Nothing half written is left.
  expect((await readdir(join(folder, 'new'))).filter((name) => name.endsWith('.new'))).toEqual([]);
});

test('while a session runs nothing changes in use; when it has ended, it does', async () => {
  const shelf = await open();
  let isRunning = true;
  shelf.waitWhile(() => isRunning);
  await shelf.save('clip.json', example);
  expect(await readFile(join(folder, 'clip.json'), 'utf8')).toBe(example);
  expect([shelf.inUse, shelf.isWaiting]).toEqual([[], true]);
  shelf.settle();
  expect(shelf.inUse).toEqual([]);
  isRunning = false;
  shelf.settle();
  expect(shelf.inUse).toHaveLength(1);
  expect(shelf.isWaiting).toBe(false);
});

test('saving while saving: each is whole, the last stands, none is lost from the former ones', async () => {
  const shelf = await open();
  const names = Array.from({ length: 12 }, (_, i) => `version ${i}`);
  await Promise.all(names.map((name) => shelf.save('clip.json', named(name))));
  expect(shelf.inUse.map(({ name }) => name)).toEqual(['version 11']);
  expect(await shelf.former('clip.json')).toHaveLength(11);
});

test.each(['../x.json', 'a/b.json', '.json', 'x', '-x.json', `${'a'.repeat(70)}.json`])(
  '%s is no name of a profile',
  (name) => {
    expect(isProfileFile(name)).toBe(false);
  },
);
