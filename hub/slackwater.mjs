#!/usr/bin/env node
// Starts the built program; says what to do when Node is too old or nothing has been built. Plain JavaScript that an old Node reads.
import { existsSync } from 'node:fs';

const [major = 0, minor = 0] = process.versions.node.split('.').map(Number);
if (major < 20 || (major === 20 && minor < 19)) {
  console.error(
    `Slackwater needs Node 20.19 or later; this is ${process.versions.node}. Install a newer one and try again.`,
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
