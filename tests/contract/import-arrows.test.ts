// The house's plan, held against the code: which room may import which, and that no files import each other in a ring
// when the program runs. Reads the imports of the sources as text; a planted violation shows that it can fail.

import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, normalize } from 'node:path';
import { describe, expect, test } from 'vitest';

const root = new URL('../..', import.meta.url).pathname;

/** From the ground up: a room may import the rooms before it. */
const hubRooms = [
  'base',
  'sensors',
  'recorder',
  'live',
  'recordings',
  'plans',
  'outputs',
  'devices',
  'machine',
  'server',
  'school',
  'commands',
] as const;
/** Files at the top of hub/: the entry, and what starts it. */
const hubTop = ['README.md', 'packaging', 'main.ts', 'slackwater.mjs', 'tsconfig.json'];

interface Arrow {
  readonly from: string;
  readonly to: string;
  /** False where only types are taken: nothing is left of it when the program runs. */
  readonly runs: boolean;
}

function sourcesOf(folder: string): string[] {
  return readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
    .filter((name) => /\.tsx?$/.test(name))
    .map((name) => `${folder}/${name}`);
}

const importPattern =
  /^(?:import|export)\s+(type\s+)?((?:[\w*\s,]|\{[^}]*\})*?)\s*(?:from\s*)?'(\.[^']+)'|\bimport\(\s*'(\.[^']+)'\s*\)/gm;

function arrowsOf(file: string, text: string): Arrow[] {
  return [...text.matchAll(importPattern)].map((match) => {
    const [, type, names = '', plain, dynamic] = match;
    const braces = names.match(/^\{([^}]*)\}$/)?.[1];
    const onlyTypes =
      braces?.split(',').every((name) => name.trim() === '' || name.trim().startsWith('type ')) ?? false;
    return {
      from: file,
      to: normalize(join(dirname(file), plain ?? dynamic ?? '')),
      // A dynamic import runs later, when everything is loaded.
      runs: dynamic === undefined && type === undefined && !onlyTypes,
    };
  });
}

const arrows = ['shared', 'src', 'hub', 'web'].flatMap((folder) =>
  sourcesOf(folder).flatMap((file) => arrowsOf(file, readFileSync(join(root, file), 'utf8'))),
);

const roomOf = (file: string): string => file.split('/')[1] ?? '';

function upwardArrows(all: readonly Arrow[]): string[] {
  const floor = (file: string): number => hubRooms.indexOf(roomOf(file) as (typeof hubRooms)[number]);
  return all
    .filter(({ from, to }) => from.startsWith('hub/') && to.startsWith('hub/'))
    .filter(({ from, to }) => floor(from) !== -1 && floor(to) > floor(from))
    .map(({ from, to }) => `${from} -> ${to}`);
}

/** A file of each ring, with the way round. */
function rings(all: readonly Arrow[]): string[] {
  const next = new Map<string, string[]>();
  for (const { from, to, runs } of all) if (runs) next.set(from, [...(next.get(from) ?? []), to]);
  const done = new Set<string>();
  const found: string[] = [];
  function walk(file: string, way: readonly string[]): void {
    if (way.includes(file)) {
      found.push([...way.slice(way.indexOf(file)), file].join(' -> '));
      return;
    }
    if (done.has(file)) return;
    for (const to of next.get(file) ?? []) walk(to, [...way, file]);
    done.add(file);
  }
  for (const file of next.keys()) walk(file, []);
  return found;
}

describe('the hub', () => {
  test('has at most 17 folders and files at its top, each of them known here', () => {
    const top = readdirSync(join(root, 'hub'));
    expect(top.length).toBeLessThanOrEqual(17);
    expect(top.toSorted()).toEqual([...hubRooms, ...hubTop].toSorted());
  });

  test('imports only downward between its rooms', () => {
    expect(arrows.filter(({ from }) => from.startsWith('hub/')).length).toBeGreaterThan(500);
    expect(upwardArrows(arrows)).toEqual([]);
  });

  test('every room says in a README what it is for', () => {
    for (const room of hubRooms) {
      const lines = readFileSync(join(root, 'hub', room, 'README.md'), 'utf8').split('\n');
      expect(lines.length, `${room} is longer than a screen`).toBeLessThanOrEqual(
        room === 'sensors' ? 400 : 60,
      );
    }
  });
});

test('no files import each other in a ring when the program runs', () => {
  expect(rings(arrows)).toEqual([]);
});

test('only hub/server, and hub/school that hands them on, know the messages of the wire', () => {
  const strangers = arrows.filter(
    ({ from, to }) =>
      from.startsWith('hub/') && !/^hub\/(server|school)\//.test(from) && to.startsWith('shared/messages/'),
  );
  expect(strangers).toEqual([]);
});

test('a planted arrow up and a planted ring are found', () => {
  const planted = arrowsOf('hub/base/clock.ts', "import { Hub } from '../live/hub.ts';\n");
  expect(upwardArrows(planted)).toEqual(['hub/base/clock.ts -> hub/live/hub.ts']);
  const back = arrowsOf(
    'hub/live/hub.ts',
    "import {\n  type Clock,\n  systemClock,\n} from '../base/clock.ts';\n",
  );
  expect(rings([...planted, ...back])).toEqual(['hub/base/clock.ts -> hub/live/hub.ts -> hub/base/clock.ts']);
  const typesOnly = arrowsOf('hub/live/hub.ts', "import { type Clock } from '../base/clock.ts';\n");
  expect(rings([...planted, ...typesOnly])).toEqual([]);
});
