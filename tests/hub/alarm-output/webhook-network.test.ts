// The webhook over a real network: a redirect is not followed, a receiver that does not answer is given up after 3 s, and
// nothing but the address of the settings gets a post.

import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterEach, expect, test } from 'vitest';
import { systemClock } from '../../../hub/base/system-clock.ts';
import type { AlarmOutput } from '../../../hub/outputs/alarm-output.ts';
import { createWebhook } from '../../../hub/outputs/webhook.ts';

const servers: Server[] = [];
let open: AlarmOutput | undefined;
afterEach(async () => {
  open?.close();
  for (const server of servers.splice(0)) {
    server.closeAllConnections();
    await new Promise((resolve) => server.close(resolve));
  }
});

async function receiver(answer: (request: IncomingMessage, response: ServerResponse) => void) {
  const asked: IncomingMessage[] = [];
  const server = createServer((request, response) => {
    asked.push(request);
    request.resume();
    answer(request, response);
  });
  servers.push(server);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return { asked, url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/alarm` };
}

function webhook(url: string): AlarmOutput {
  open = createWebhook({
    url,
    clock: systemClock,
    secret: 'sixteen-letters-or-more',
    beaconMs: null,
    isWell: () => true,
  });
  return open;
}

test.each([301, 302, 303, 307, 308])(
  'a redirect (%d) is a fault that says what to do, and the other host is not asked',
  async (status) => {
    const other = await receiver((_request, response) => response.end());
    const first = await receiver((_request, response) =>
      response.writeHead(status, { location: other.url }).end(),
    );
    const tried = await webhook(first.url).test();
    expect(tried).toMatchObject({ ok: false, reason: { code: 'output.elsewhere', params: { status } } });
    expect(first.asked[0]?.headers['slackwater-signature']).toMatch(/^[0-9a-f]{64}$/);
    expect(other.asked).toEqual([]);
  },
);

test('a receiver that takes the post and says nothing is given up after 3 s', async () => {
  const silent = await receiver(() => undefined);
  const startedAtMs = performance.now();
  const tried = await webhook(silent.url).test();
  expect(tried).toMatchObject({ ok: false, reason: { code: 'output.noAnswer' } });
  expect(performance.now() - startedAtMs).toBeGreaterThan(2_900);
});

test('an answer whose body never ends is an answer', async () => {
  const endless = await receiver((_request, response) => {
    response.writeHead(200);
    response.write('and so on');
  });
  expect(await webhook(endless.url).test()).toEqual({ ok: true });
});
