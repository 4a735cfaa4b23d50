// The archive of an export, read by a program that is not ours (Python's zipfile): also beyond the files that a ZIP without its
// 64-bit form can hold. Beyond 4 GB it was tried by hand (hub/school/PEOPLE.md).

import { execFileSync } from 'node:child_process';
import { once } from 'node:events';
import { createWriteStream, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { afterAll, expect, test } from 'vitest';
import { type ZippedFile, zipOf } from '../../../hub/school/zip-stream.ts';

const folder = mkdtempSync(join(tmpdir(), 'slackwater-zip-'));
afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

const program = `
import json, sys, zipfile
with zipfile.ZipFile(sys.argv[1]) as archive:
    names = archive.namelist()
    print(json.dumps({'bad': archive.testzip(), 'count': len(names), 'first': names[0], 'last': names[-1],
        'text': archive.read(names[-1]).decode()}))
`;

async function readBack(files: AsyncIterable<ZippedFile>): Promise<unknown> {
  const path = join(folder, 'archive.zip');
  const written = createWriteStream(path);
  try {
    await pipeline(Readable.from(zipOf(files, new Date(2020, 0, 1))), written);
  } finally {
    // An archive that fails at once may fail before its file has been made, which then appears in a folder that is being removed.
    if (!written.closed) await once(written, 'close');
  }
  return JSON.parse(execFileSync('/usr/bin/python3', ['-c', program, path], { encoding: 'utf8' }));
}

async function* many(count: number): AsyncGenerator<ZippedFile> {
  for (let i = 0; i < count; i++)
    yield { name: `größe-${i}.txt`, bytes: new TextEncoder().encode(`file ${i}`) };
}

test('a few files, and more than a ZIP of the old form holds, are there to the byte', async () => {
  expect(await readBack(many(3))).toEqual({
    bad: null,
    count: 3,
    first: 'größe-0.txt',
    last: 'größe-2.txt',
    text: 'file 2',
  });
  expect(await readBack(many(66_000))).toMatchObject({ bad: null, count: 66_000, text: 'file 65999' });
});

test('whoever stops taking it has the next file not made', async () => {
  let made = 0;
  async function* counted(): AsyncGenerator<ZippedFile> {
    for await (const file of many(1_000)) {
      made += 1;
      yield file;
    }
  }
  for await (const _piece of zipOf(counted(), new Date(2020, 0, 1))) if (made >= 5) break;
  expect(made).toBeLessThan(20);
});

test('what cannot be made ends the archive with its reason, not as if it were whole', async () => {
  async function* broken(): AsyncGenerator<ZippedFile> {
    yield* many(2);
    throw new Error('the database is away');
  }
  await expect(readBack(broken())).rejects.toThrow('the database is away');
});
