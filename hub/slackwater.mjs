#!/usr/bin/env node
// Starts the built program; says what to do when it has not been built.
import { existsSync } from 'node:fs';

const entry = new URL('../dist/hub/main.js', import.meta.url);
if (!existsSync(entry)) {
  console.error('Slackwater has not been built yet. Run "npm run build" in its folder and try again.');
  process.exit(2);
}
const { main } = await import(entry.href);
await main(process.argv.slice(2));
