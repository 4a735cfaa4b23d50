// Spoken cues as files: made by the speech program where there is one, nothing where there is none.

import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { fetchAsOwn } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';

let served: ServedTestHub;
let folder: string;
const path = process.env['PATH'];
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'spoken-cues-'));
  served = await serveTestHub();
});
afterEach(async () => {
  process.env['PATH'] = path;
  await served.close();
  rmSync(folder, { recursive: true });
});

test('the program gets the cue’s fixed text and nothing else; its sound comes back', async () => {
  // Stands in for the speech program: answers with what it was asked to say.
  writeFileSync(join(folder, 'espeak-ng'), '#!/bin/sh\nprintf "RIFF|%s|" "$@"\n');
  chmodSync(join(folder, 'espeak-ng'), 0o755);
  process.env['PATH'] = `${folder}:${path}`;
  const response = await fetchAsOwn(`${served.url}/api/spoken-cues/breathe`);
  expect(response.status).toBe(200);
  expect(response.headers.get('content-type')).toBe('audio/wav');
  expect(await response.text()).toBe('RIFF|-v|RIFF|en|RIFF|-s|RIFF|145|RIFF|--stdout|RIFF|Breathe now.|');
});

test('in German where the page asks for it', async () => {
  writeFileSync(join(folder, 'espeak-ng'), '#!/bin/sh\nprintf "RIFF|%s|" "$@"\n');
  chmodSync(join(folder, 'espeak-ng'), 0o755);
  process.env['PATH'] = `${folder}:${path}`;
  const response = await fetchAsOwn(`${served.url}/api/spoken-cues/breathe?language=de`);
  expect(await response.text()).toBe('RIFF|-v|RIFF|de|RIFF|-s|RIFF|145|RIFF|--stdout|RIFF|Atme jetzt.|');
});

test('without the program there is nothing to hear, and that is no fault', async () => {
  process.env['PATH'] = folder;
  const response = await fetchAsOwn(`${served.url}/api/spoken-cues/breathe`);
  expect(response.status).toBe(204);
  expect(await response.text()).toBe('');
});

test('what is no cue, or is never spoken, is refused', async () => {
  for (const kind of ['tick', 'constructor', '..%2f..%2fetc', 'breathe;ls'])
    expect((await fetchAsOwn(`${served.url}/api/spoken-cues/${kind}`)).status, kind).toBe(404);
});
