// Another device as a test drives it: talks to the hub over TLS and keeps its cookie as a browser does.

import { Agent, request } from 'node:https';
import type { TLSSocket } from 'node:tls';
import { openTestPage, type TestPage } from './test-page.ts';

export interface DeviceAnswer {
  readonly status: number;
  readonly headers: Record<string, string | string[] | undefined>;
  readonly text: string;
  // biome-ignore lint/suspicious/noExplicitAny: tests look into answers of every kind
  readonly body: any;
  /** SHA-256 of the certificate the hub showed. */
  readonly fingerprint: string;
}

export interface TestDevice {
  ask(method: string, path: string, body?: object, headers?: Record<string, string>): Promise<DeviceAnswer>;
  join(code: string, deviceName?: string): Promise<DeviceAnswer>;
  openPage(headers?: Record<string, string>): TestPage;
  /** The cookie as it would be sent, or null. */
  cookie: string | null;
  /** Lets its connections go. */
  close(): void;
}

/** A device with no cookie yet, for a hub at `url`. */
export function createTestDevice(url: string): TestDevice {
  // One handshake a device; no cached session, since a resumed one shows no certificate.
  const agent = new Agent({ keepAlive: true, maxCachedSessions: 0 });
  const device: TestDevice = {
    cookie: null,
    ask: (method, path, body, headers = {}) =>
      new Promise((resolve, reject) => {
        const text = body === undefined ? undefined : JSON.stringify(body);
        const asked = request(
          `${url}${path}`,
          {
            method,
            rejectUnauthorized: false,
            agent,
            headers: {
              ...(text !== undefined && { 'content-type': 'application/json' }),
              ...(device.cookie !== null && { cookie: device.cookie }),
              ...headers,
            },
          },
          (response) => {
            const fingerprint = (response.socket as TLSSocket).getPeerCertificate().fingerprint256;
            const chunks: Buffer[] = [];
            response.on('data', (chunk: Buffer) => chunks.push(chunk));
            response.on('end', () => {
              const answer = Buffer.concat(chunks).toString();
              const json = String(response.headers['content-type']).includes('json');
              const set = response.headers['set-cookie']?.[0];
              if (set !== undefined) device.cookie = set.split(';')[0] ?? null;
              resolve({
                status: response.statusCode ?? 0,
                headers: response.headers,
                text: answer,
                body: json ? JSON.parse(answer) : null,
                fingerprint,
              });
            });
          },
        );
        asked.on('error', reject);
        asked.end(text);
      }),
    join: (code, deviceName) =>
      device.ask('POST', '/api/join', { code, ...(deviceName !== undefined && { deviceName }) }),
    openPage: (headers = {}) =>
      openTestPage(url, { ...(device.cookie !== null && { cookie: device.cookie }), ...headers }),
    close: () => agent.destroy(),
  };
  return device;
}
