// npm run inventory: what the hub is made of. Writes the whole as CycloneDX into artefacts/ (npm's own `npm sbom`) and the
// table at the end of hub/server/inventory.md from the lock file.

import { execFileSync } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { inventoryMark, tableOfLock } from './lock-table.ts';

const root = new URL('../..', import.meta.url).pathname;

mkdirSync(join(root, 'artefacts'), { recursive: true });
const document = execFileSync('npm', ['sbom', '--sbom-format', 'cyclonedx', '--omit', 'dev'], {
  cwd: root,
  encoding: 'utf8',
  maxBuffer: 64 * 2 ** 20,
});
writeFileSync(join(root, 'artefacts', 'inventory.cdx.json'), document);

const path = join(root, 'hub/server/inventory.md');
const [byHand = ''] = readFileSync(path, 'utf8').split(inventoryMark);
const table = tableOfLock(readFileSync(join(root, 'package-lock.json'), 'utf8'));
writeFileSync(path, `${byHand}${inventoryMark}\n\n${table}`);
process.stdout.write(`artefacts/inventory.cdx.json and ${path} are written\n`);
