// A review thread that takes a task and is then busy for ever, as a very long recording would keep it.
import { parentPort } from 'node:worker_threads';

parentPort.on('message', (message) => {
  if (message.type !== 'run') return;
  parentPort.postMessage({ type: 'news', news: { type: 'progress', share: 0.25 } });
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0);
});
