// An optional webhook: posts what should sound, at every change, as JSON. For house automation; never the only output.

import { type Said, said } from '../../shared/said.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import type { AlarmOutput, OutputTest } from './alarm-output.ts';

/** A webhook that answers later than this is taken for broken. Our choice. */
const timeoutMs = 3_000;

export interface WebhookOptions {
  readonly url: string;
  readonly post?: (url: string, body: string) => Promise<number>;
  readonly failed?: (reason: Said) => void;
}

/** The webhook as an output. Bodies are `{"alarm":"high"|"medium"|"low"|"none"|"test"}`; names of people are not sent. */
export function createWebhook(options: WebhookOptions): AlarmOutput {
  const post = options.post ?? postJson;
  const host = new URL(options.url).host;
  let last: AlarmPriority | null = null;
  const send = async (alarm: string): Promise<OutputTest> => {
    try {
      const status = await post(options.url, JSON.stringify({ alarm }));
      if (status >= 200 && status < 300) return { ok: true };
      return { ok: false, reason: said('output.answered', { host, status }) };
    } catch (error) {
      return {
        ok: false,
        reason: said('output.noAnswer', { host, reason: error instanceof Error ? error.message : '?' }),
      };
    }
  };
  return {
    name: said('output.webhook', { host }),
    test: () => send('test'),
    sound(priority) {
      if (priority === last) return;
      last = priority;
      void send(priority ?? 'none').then((result) => {
        if (!result.ok) options.failed?.(result.reason);
      });
    },
    close() {
      this.sound(null);
    },
  };
}

async function postJson(url: string, body: string): Promise<number> {
  const response = await fetch(url, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body,
    signal: AbortSignal.timeout(timeoutMs),
  });
  return response.status;
}
