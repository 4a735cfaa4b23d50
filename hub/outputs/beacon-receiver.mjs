// An example of what stands at the other end of the webhook, on another computer: checks signatures, tells alarms, and tells
// when beacons stop. Node alone, nothing to install: `node beacon-receiver.mjs --help`.

import { spawn } from 'node:child_process';
import { createHmac, timingSafeEqual } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { parseArgs } from 'node:util';

const { values } = parseArgs({
  options: {
    port: { type: 'string', default: '7411' },
    host: { type: 'string', default: '0.0.0.0' },
    'secret-file': { type: 'string' },
    'silent-after': { type: 'string', default: '150' },
    command: { type: 'string' },
    help: { type: 'boolean', default: false },
  },
});
if (values.help) {
  process.stdout.write(
    [
      'node beacon-receiver.mjs [--port 7411] [--host 0.0.0.0] [--secret-file FILE] [--silent-after SECONDS] [--command PROGRAM]',
      'Prints, and gives PROGRAM as its last word: well, unwell, silent, or the alarm (high, medium, low, none, test).',
      'Give more seconds than two beacons are apart. Without a secret anyone on the network can pretend to be the hub.',
      '',
    ].join('\n'),
  );
  process.exit(0);
}

const secret =
  values['secret-file'] === undefined ? null : readFileSync(values['secret-file'], 'utf8').trim();
const silentAfterMs = Number(values['silent-after']) * 1000;
/** A post older than this is a copy of an earlier one, or one of the two clocks is wrong. */
const staleMs = 300_000;
const mostBytes = 4096;

let last = '';
let lastAlarm = 'none';
/** Times and numbers of what was taken: a copy of an earlier post is not taken again. */
let newest = { timeMs: 0, sequence: 0 };
let timer;

function tell(word, detail = '') {
  process.stdout.write(`${new Date().toISOString()} ${word}${detail === '' ? '' : ` ${detail}`}\n`);
  if (values.command === undefined) return;
  const child = spawn(values.command, [word], { stdio: 'ignore' });
  child.on('error', (error) => process.stderr.write(`${values.command}: ${error.message}\n`));
}

function tellChange(word) {
  if (word === last) return;
  last = word;
  tell(word);
}

function expectNext(withinMs) {
  clearTimeout(timer);
  if (withinMs === null) return;
  timer = setTimeout(() => tellChange('silent'), withinMs);
}

function isSigned(body, time, signature) {
  if (secret === null) return true;
  const wanted = createHmac('sha256', secret).update(`${time}\n${body}`).digest();
  const given = Buffer.from(String(signature ?? ''), 'hex');
  return given.length === wanted.length && timingSafeEqual(given, wanted);
}

/** Why it is not taken, or null. */
function refusalOf(body, headers) {
  const time = String(headers['slackwater-time'] ?? '');
  if (!isSigned(body, time, headers['slackwater-signature'])) return 'wrong signature';
  const timeMs = Number(time);
  if (!(Math.abs(Date.now() - timeMs) < staleMs)) return 'too old';
  let content;
  try {
    content = JSON.parse(body);
  } catch {
    return 'not JSON';
  }
  const { sequence } = content;
  // A restarted hub counts from 1 again, later by the clock.
  if (secret !== null && timeMs <= newest.timeMs && sequence <= newest.sequence) return 'seen before';
  newest = { timeMs: Math.max(timeMs, newest.timeMs), sequence };
  take(content);
  return null;
}

function take({ alarm, beacon, well, nextWithinMs }) {
  if (beacon === true) {
    // A hub that is stopped says so: null. Then nothing more is to be expected of it.
    expectNext(nextWithinMs === null ? null : silentAfterMs);
    if (nextWithinMs === null) tellChange('ended');
    else tellChange(well === true ? 'well' : 'unwell');
  }
  if (alarm === 'test' || alarm !== lastAlarm) tell(alarm);
  if (alarm !== 'test') lastAlarm = alarm;
}

createServer((request, response) => {
  let body = '';
  request.setEncoding('utf8');
  request.on('data', (part) => {
    body += part;
    if (body.length > mostBytes) request.destroy();
  });
  request.on('end', () => {
    const refusal = request.method === 'POST' ? refusalOf(body, request.headers) : 'not a POST';
    if (refusal !== null) process.stderr.write(`refused: ${refusal}\n`);
    response.writeHead(refusal === null ? 204 : 403).end();
  });
}).listen(Number(values.port), values.host, function () {
  process.stdout.write(`listening on ${this.address().port}\n`);
  // A hub that never reports is silent too.
  expectNext(silentAfterMs);
});
