// The inventory says what the lock file has: who changes a dependency runs `npm run inventory` and looks at what is new.

import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { inventoryMark, tableOfLock } from '../tools/lock-table.ts';

const read = (path: string) => readFileSync(new URL(`../../${path}`, import.meta.url), 'utf8');

test('the committed table is that of the lock file', () => {
  const [byHand = '', table] = read('hub/server/inventory.md').split(inventoryMark);
  expect(table?.trim()).toBe(tableOfLock(read('package-lock.json')).trim());
  // What runs code when installed is native here: each is spoken of by hand.
  const native = (table ?? '').split('\n').filter((line) => line.endsWith('| yes                      |'));
  expect(native.length).toBeGreaterThan(2);
  for (const line of native) expect(byHand).toContain(line.split('|')[1]!.trim());
});

test('licences are permissive', () => {
  const licences = new Set(
    tableOfLock(read('package-lock.json'))
      .trim()
      .split('\n')
      .slice(2)
      .map((line) => line.split('|')[3]!.trim()),
  );
  for (const licence of licences)
    expect(licence).toMatch(/MIT|BSD|ISC|Apache-2\.0|BlueOak-1\.0\.0|0BSD|Unlicense/);
});
