// What was written and not saved: kept by key, read in the form asked for, let go when saved, old or of somebody erased.

import { expect, test } from 'vitest';
import * as z from 'zod/mini';
import { Drafts } from '../../web/state/drafts.ts';

function begin() {
  const kept = new Map<string, string>();
  const storage = {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, value: string) => void kept.set(key, value),
  };
  const now = { wallMs: 1_900_000_000_000 };
  return { kept, storage, now, drafts: new Drafts(storage, () => now.wallMs) };
}

test('a draft comes back as it was last written, over a reload', () => {
  const { storage, now, drafts } = begin();
  drafts.keep('plan:1', null, { title: 'A' });
  now.wallMs += 5;
  drafts.keep('plan:1', null, { title: 'B' });
  drafts.keep('note:mira', 'mira', 'words');
  const again = new Drafts(storage, () => now.wallMs);
  expect(again.read('plan:1', z.object({ title: z.string() }))).toEqual({
    writtenWallAtMs: 1_900_000_000_005,
    body: { title: 'B' },
  });
  expect(again.read('note:mira', z.string())?.body).toBe('words');
  expect(again.read('plan:2', z.unknown())).toBeNull();
});

test('one of another form is as not there', () => {
  const { kept, drafts } = begin();
  drafts.keep('a', null, { title: 7 });
  expect(drafts.read('a', z.object({ title: z.string() }))).toBeNull();
  kept.set('slackwater.drafts', '{"broken');
  expect(drafts.read('a', z.unknown())).toBeNull();
  drafts.keep('b', null, 1);
  expect(drafts.read('b', z.number())?.body).toBe(1);
});

test('saved ones, those of an erased athlete and old ones go', () => {
  const { now, drafts, kept } = begin();
  drafts.keep('a', null, 1);
  drafts.keep('b', 'mira', 2);
  drafts.keep('c', 'jonas', 3);
  drafts.forget('a');
  drafts.forgetOf('mira');
  expect(kept.get('slackwater.drafts')).not.toMatch(/mira/);
  expect(['a', 'b', 'c'].map((key) => drafts.read(key, z.number())?.body)).toEqual([undefined, undefined, 3]);
  now.wallMs += 31 * 86_400_000;
  expect(drafts.read('c', z.number())).toBeNull();
});

test('storage that refuses loses nothing but the draft', () => {
  const refuse = () => {
    throw new Error('full');
  };
  const drafts = new Drafts({ getItem: refuse, setItem: refuse }, () => 0);
  drafts.keep('a', null, 1);
  expect(drafts.read('a', z.number())).toBeNull();
});
