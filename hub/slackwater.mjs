#!/usr/bin/env node
// Starts the built program; says what to do when Node is too old, too new or nothing has been built. Plain JavaScript that an old
// Node reads.
import { existsSync } from 'node:fs';

const [major = 0, minor = 0] = process.versions.node.split('.').map(Number);
if (major < 20 || (major === 20 && minor < 19)) {
  console.error(
    `Slackwater needs Node 20.19 or later; this is ${process.versions.node}. Install a newer one and try again.`,
  );
  process.exit(2);
}
// From 24.19 on the database module (better-sqlite3 12), built on this machine, aborts the process when memory is tidied up: it
// was seen here on 24.21.0, and is nodejs/node issue 65446. Nobody has tried 23 (hub/server/inventory.md).
if (major > 22) {
  console.error(
    `Slackwater runs on Node 20 (20.19 or later) and 22; this is ${process.versions.node}, on which its database can abort in the middle of a session. Install Node 22, then Slackwater again.`,
  );
  process.exit(2);
}
const entry = new URL('../dist/hub/main.js', import.meta.url);
if (!existsSync(entry)) {
  console.error('Slackwater has not been built yet. Run "npm run build" in its folder and try again.');
  process.exit(2);
}
const { main } = await import(entry.href);
await main(process.argv.slice(2));
