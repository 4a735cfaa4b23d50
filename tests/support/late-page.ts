// A busy machine on purpose: what the browser does after the paint, and what the hub answers and says, reach a page late.
// Hands are as quick as ever. Off unless the environment says how late.

import type { Browser } from 'playwright-core';

/** Preact runs an effect after the next frame, and after this if none comes (preact/hooks, RAF_TIMEOUT; @preact/signals, safeRaf). */
const withoutFrameMs = 35;

const msOf = (name: string): number => {
  const said = process.env[name] ?? '0';
  if (!/^\d+$/.test(said)) throw new Error(`${name} says "${said}", which is no number of milliseconds`);
  return Number(said);
};

/** A person sets it: frames, and with them every effect after the paint, come so much later. */
const paintMs = msOf('SLACKWATER_LATE_PAINT_MS');
/** Each answer of the hub comes later by up to so much, by chance and so in another order; what its socket says too, in order. */
const answerMs = msOf('SLACKWATER_LATE_ANSWER_MS');
/** Another number, another chance. */
const seed = msOf('SLACKWATER_LATE_SEED');

/** As text, because the test runner's compiler adds helpers that a page does not have. */
const paintLate = `{
  const frame = requestAnimationFrame.bind(self);
  const cancelFrame = cancelAnimationFrame.bind(self);
  const wait = setTimeout.bind(self);
  const waiting = new Map();
  let count = 0;
  self.requestAnimationFrame = (does) => {
    count += 1;
    const own = count;
    const timer = wait(() => {
      const asked = frame((at) => {
        waiting.delete(own);
        does(at);
      });
      waiting.set(own, () => cancelFrame(asked));
    }, ${paintMs});
    waiting.set(own, () => clearTimeout(timer));
    return own;
  };
  self.cancelAnimationFrame = (own) => {
    waiting.get(own)?.();
    waiting.delete(own);
  };
  self.setTimeout = (does, ms, ...rest) => wait(does, ms === ${withoutFrameMs} ? ms + ${paintMs} : ms, ...rest);
}`;

/** Half of the answers come at once, so that one asked for later overtakes another. */
const answerLate = `{
  const fetchNow = fetch.bind(self);
  const listen = WebSocket.prototype.addEventListener;
  const asked = new Map();
  // Knuth's multiplicative hash of what is asked, of how often it was asked before, and of the seed: the same in each run.
  const chanceOf = (what) => {
    const before = asked.get(what) ?? 0;
    asked.set(what, before + 1);
    let hash = ${seed} + 1;
    for (const letter of what + before) hash = (Math.imul(hash, 2654435761) + letter.codePointAt(0)) >>> 0;
    return ((hash ^ (hash >>> 15)) % 1000) / 1000;
  };
  const lateMs = (what) => Math.max(0, 2 * chanceOf(what) - 1) * ${answerMs};
  const passed = (ms) => new Promise((done) => setTimeout(done, ms));
  self.fetch = async (what, init) => {
    const url = new URL(what?.url ?? what, location.href);
    const answer = await fetchNow(what, init);
    if (url.pathname.startsWith('/api/') && !answer.headers.has('x-kept-back')) {
      await passed(lateMs((init?.method ?? 'GET') + url.pathname));
      init?.signal?.throwIfAborted();
    }
    return answer;
  };
  WebSocket.prototype.addEventListener = function (kind, does, ...rest) {
    if (kind !== 'message' && kind !== 'close') return listen.call(this, kind, does, ...rest);
    this.before ??= Promise.resolve();
    return listen.call(this, kind, (event) => {
      const due = passed(lateMs('socket'));
      this.before = Promise.all([this.before, due]).then(() => does.call(this, event));
    }, ...rest);
  };
}`;

/** Each page of the browser from now on; does nothing where the environment asks for nothing. */
export function makePagesLate(browser: Browser): void {
  if (paintMs === 0 && answerMs === 0) return;
  const newContext = browser.newContext.bind(browser);
  browser.newContext = async (options) => {
    const context = await newContext(options);
    if (paintMs > 0) await context.addInitScript(paintLate);
    if (answerMs > 0) await context.addInitScript(answerLate);
    return context;
  };
}
