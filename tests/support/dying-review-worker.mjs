// A review thread that dies of its first task while the file named in the environment is there, which it removes; then
// it is the real one.
import { existsSync, rmSync } from 'node:fs';
import { parentPort } from 'node:worker_threads';
import { register } from 'tsx/esm/api';

register();
const marker = process.env.SLACKWATER_TEST_DIE_ONCE;
if (existsSync(marker)) {
  parentPort.on('message', (message) => {
    if (message.type !== 'run') return;
    rmSync(marker);
    throw new Error('invented death');
  });
} else {
  await import('../../hub/recordings/review/review-worker.ts');
}
