// slackwater radio --to HUB: this computer as a radio of a hub elsewhere. Joins once by a code, then keeps a connection to it and
// carries what its sensors send.

import { mkdirSync, readFileSync } from 'node:fs';
import { request as httpRequest } from 'node:http';
import { connect as connectTcp, type Socket } from 'node:net';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline/promises';
import { connect as connectTls, type TLSSocket } from 'node:tls';
import { parseArgs } from 'node:util';
import { WebSocket } from 'ws';
import * as z from 'zod/mini';
import { closeCodes } from '../../shared/error-codes.ts';
import { radioJoinedSchema } from '../../shared/http.ts';
import { radioCommandWords as words } from '../../shared/words/en-command-line.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import type { CommandIo } from '../base/command-io.ts';
import { type Config, readConfig } from '../base/config.ts';
import { createLog } from '../base/create-log.ts';
import { HubError, told } from '../base/hub-error.ts';
import { isLoopback } from '../base/loopback.ts';
import { replaceFile } from '../base/replace-file.ts';
import { systemClock } from '../base/system-clock.ts';
import { comparisonCode } from '../devices/certificate/comparison-code.ts';
import { RadioPost } from '../sensors/bluetooth/elsewhere/radio-post.ts';
import { mostRadioMessageBytes } from '../sensors/bluetooth/elsewhere/radio-wire.ts';
import { oneRadio } from '../sensors/bluetooth/open-bluetooth.ts';
import { radioPath } from '../server/radio-sockets.ts';
import { radioLibraries } from './radio-libraries.ts';

const pinnedSchema = z.object({
  version: z.literal(1),
  /** Of the hub, without a path. */
  to: z.string(),
  deviceId: z.string(),
  token: z.string(),
  /** SHA-256 of the certificates that it has shown or said that it will; none where it is reached on this computer. */
  fingerprints: z.array(z.string()),
});
type Pinned = z.infer<typeof pinnedSchema>;

/** A hub renews its certificate once a year and may change back: a few are enough. */
const mostFingerprints = 4;
const connectWithinMs = 8_000;
const retryDelaysMs = [500, 1_000, 2_000, 4_000];

export async function runRadio(argv: string[], io: CommandIo): Promise<number> {
  const { own, rest } = ownFlags(argv);
  const { config, positionals } = readConfig(rest, io.env);
  if (positionals.length > 0) throw new HubError('config.badFlag', told(words.notExpected(positionals[0]!)));
  const to = hubAddress(own.to);
  const folder = `${config.data}-radio`;
  const pinned =
    own.code === undefined ? readPinned(folder, to) : await joinHub(to, own.code, own, folder, io);
  return serve(pinned, folder, config, io);
}

interface OwnFlags {
  readonly to: string | undefined;
  readonly code: string | undefined;
  readonly fingerprint: string | undefined;
  readonly name: string | undefined;
}

function ownFlags(argv: string[]): { own: OwnFlags; rest: string[] } {
  const names = ['to', 'code', 'fingerprint', 'name'] as const;
  const { values, tokens } = parseArgs({
    args: argv,
    strict: false,
    tokens: true,
    allowPositionals: true,
    options: Object.fromEntries(names.map((name) => [name, { type: 'string' as const }])),
  });
  const taken = new Set<number>();
  for (const token of tokens) {
    if (token.kind !== 'option' || !(names as readonly string[]).includes(token.name)) continue;
    taken.add(token.index);
    if (token.inlineValue === false) taken.add(token.index + 1);
  }
  const text = (name: (typeof names)[number]): string | undefined =>
    typeof values[name] === 'string' ? values[name] : undefined;
  return {
    own: { to: text('to'), code: text('code'), fingerprint: text('fingerprint'), name: text('name') },
    rest: argv.filter((_word, index) => !taken.has(index)),
  };
}

/** Encrypted, or not beyond this computer: what sensors send is nobody else's. */
function hubAddress(given: string | undefined): URL {
  if (given === undefined) throw new HubError('config.badFlag', told(words.toWhom));
  let url: URL;
  try {
    url = new URL(given);
  } catch {
    throw new HubError('config.badValue', told(words.noAddress(given)));
  }
  if (url.protocol === 'https:') return new URL(url.origin);
  const host = url.hostname.replace(/^\[|\]$/g, '');
  if (url.protocol === 'http:' && (host === 'localhost' || isLoopback(host))) return new URL(url.origin);
  throw new HubError('config.badValue', told(words.notEncrypted(given)));
}

const fileIn = (folder: string): string => join(folder, 'radio.json');

function readPinned(folder: string, to: URL): Pinned {
  let pinned: Pinned;
  try {
    pinned = z.parse(pinnedSchema, JSON.parse(readFileSync(fileIn(folder), 'utf8')));
  } catch {
    throw new HubError('config.badFlag', told(words.joinFirst));
  }
  if (pinned.to !== to.origin) throw new HubError('config.badFlag', told(words.joinFirst));
  return pinned;
}

function writePinned(folder: string, pinned: Pinned): void {
  mkdirSync(folder, { recursive: true, mode: 0o700 });
  replaceFile(fileIn(folder), `${JSON.stringify(pinned, null, 1)}\n`);
}

/** A connection to the hub, with the SHA-256 of the certificate that it showed; nothing has been sent over it. */
function openConnection(to: URL): Promise<{ socket: Socket | TLSSocket; fingerprint: string | null }> {
  const host = to.hostname.replace(/^\[|\]$/g, '');
  const isSecure = to.protocol === 'https:';
  const port = Number(to.port || (isSecure ? 443 : 80));
  return new Promise((resolve, reject) => {
    // Whom it belongs to is known by the certificate that was compared, not by who signed it.
    const socket = isSecure
      ? connectTls({ host, port, rejectUnauthorized: false, minVersion: 'TLSv1.2' })
      : connectTcp({ host, port });
    socket.setNoDelay(true);
    const stopWaiting = systemClock.after(connectWithinMs, () => socket.destroy(new Error('timeout')));
    socket.once('error', (error) => {
      stopWaiting();
      reject(error);
    });
    socket.once(isSecure ? 'secureConnect' : 'connect', () => {
      stopWaiting();
      const fingerprint = isSecure ? (socket as TLSSocket).getPeerCertificate().fingerprint256 : null;
      resolve({ socket, fingerprint });
    });
  });
}

/** Compares the certificate, then trades the code for a token. */
async function joinHub(
  to: URL,
  code: string,
  { fingerprint: given, name }: OwnFlags,
  folder: string,
  io: CommandIo,
): Promise<Pinned> {
  let connection: Awaited<ReturnType<typeof openConnection>>;
  try {
    connection = await openConnection(to);
  } catch (error) {
    throw new HubError(
      'config.badValue',
      told(words.notReached(to.origin, String((error as Error).message))),
    );
  }
  const { socket, fingerprint } = connection;
  try {
    if (fingerprint !== null) await compare(fingerprint, given, io);
    const answer = await post(socket, to, '/api/radio/join', {
      code,
      deviceName: (name ?? hostname()).slice(0, 40),
    });
    if (answer.status !== 200) throw new HubError('config.badValue', told(words.notJoined(answer.message)));
    const { deviceId, token } = z.parse(radioJoinedSchema, answer.body);
    const fingerprints = fingerprint === null ? [] : [fingerprint];
    const pinned: Pinned = { version: 1, to: to.origin, deviceId, token, fingerprints };
    writePinned(folder, pinned);
    io.stdout.write(`${words.joined(to.origin)}\n`);
    return pinned;
  } finally {
    socket.destroy();
  }
}

/** Throws where a person says, or has said, that it is another certificate than the hub's page shows. */
async function compare(fingerprint: string, given: string | undefined, io: CommandIo): Promise<void> {
  const shown = comparisonCode(fingerprint);
  if (given !== undefined) {
    const digits = given.replaceAll(/[^0-9a-fA-F]/g, '').toUpperCase();
    const isSame = digits.length >= 16 && fingerprint.replaceAll(':', '').startsWith(digits);
    if (!isSame) throw new HubError('config.badValue', told(words.otherCertificate(shown)));
    return;
  }
  if (!process.stdin.isTTY) throw new HubError('config.badFlag', told(words.compareFirst(shown)));
  const asking = createInterface({ input: process.stdin, output: io.stdout as NodeJS.WritableStream });
  const answer = await asking.question(words.compare(shown));
  asking.close();
  if (!/^y(es)?$/i.test(answer.trim()))
    throw new HubError('config.badValue', told(words.otherCertificate(shown)));
}

function post(
  socket: Socket,
  to: URL,
  path: string,
  body: object,
): Promise<{ status: number; body: unknown; message: string }> {
  return new Promise((resolve, reject) => {
    const asked = httpRequest(
      {
        method: 'POST',
        path,
        headers: { host: to.host, 'content-type': 'application/json' },
        createConnection: () => socket,
      },
      (response) => {
        const chunks: Buffer[] = [];
        response.on('data', (chunk: Buffer) => chunks.push(chunk));
        response.on('end', () => {
          const text = Buffer.concat(chunks).toString();
          let value: unknown = null;
          try {
            value = JSON.parse(text);
          } catch {
            // Not a hub's answer: its status says so.
          }
          const said = (value as { message?: unknown } | null)?.message;
          const status = response.statusCode ?? 0;
          resolve({ status, body: value, message: typeof said === 'string' ? said : String(status) });
        });
      },
    );
    asked.on('error', reject);
    asked.end(JSON.stringify(body));
  });
}

/** Until a signal, or until the hub says that it is not wanted any more. */
async function serve(pinned: Pinned, folder: string, config: Config, io: CommandIo): Promise<number> {
  const log = createLog(config);
  const opened = oneRadio({
    adapter: config.adapter.split(',')[0]!,
    library: radioLibraries[config.radio],
    clock: systemClock,
    log: (line) => log.info(line),
  });
  if (!opened.ok) throw new HubError('config.badValue', told(words.badAdapter(sayInEnglish(opened.reason))));
  let known = pinned;
  const post = new RadioPost({
    clock: systemClock,
    radio: opened.value,
    log: (line) => log.warn(line),
    newCertificate(fingerprint) {
      if (known.fingerprints.includes(fingerprint)) return;
      known = { ...known, fingerprints: [fingerprint, ...known.fingerprints].slice(0, mostFingerprints) };
      writePinned(folder, known);
    },
  });
  const connection = new HubConnection(() => known, post, io);
  const stop = (): void => connection.end(0);
  process.once('SIGINT', stop);
  process.once('SIGTERM', stop);
  io.stdout.write(`${words.serving(pinned.to)}\n`);
  const status = await connection.run();
  process.off('SIGINT', stop);
  process.off('SIGTERM', stop);
  await post.stop();
  return status;
}

/** Connects, and connects again whenever the connection breaks. */
class HubConnection {
  readonly #pinned: () => Pinned;
  readonly #post: RadioPost;
  readonly #io: CommandIo;
  #failures = 0;
  #told = '';
  #socket: WebSocket | null = null;
  #wake: () => void = () => undefined;
  #status: number | null = null;

  constructor(pinned: () => Pinned, post: RadioPost, io: CommandIo) {
    this.#pinned = pinned;
    this.#post = post;
    this.#io = io;
  }

  end(status: number): void {
    this.#status ??= status;
    this.#socket?.terminate();
    this.#wake();
  }

  async run(): Promise<number> {
    while (this.#status === null) {
      await this.#once();
      if (this.#status !== null) break;
      const delayMs = retryDelaysMs[Math.min(this.#failures, retryDelaysMs.length) - 1] ?? 0;
      await new Promise<void>((resolve) => {
        this.#wake = resolve;
        systemClock.after(delayMs, resolve);
      });
    }
    return this.#status;
  }

  /** One connection from its beginning to its end. */
  async #once(): Promise<void> {
    const { to, token, fingerprints } = this.#pinned();
    const url = new URL(to);
    this.#failures += 1;
    let connection: Awaited<ReturnType<typeof openConnection>>;
    try {
      connection = await openConnection(url);
    } catch (error) {
      this.#tell(words.notReached(to, (error as Error).message));
      return;
    }
    const { socket, fingerprint } = connection;
    if (fingerprint !== null && !fingerprints.includes(fingerprint)) {
      // Somebody in between, or a hub that was set up anew: the token is not shown to it.
      socket.destroy();
      this.#tell(words.otherCertificate(comparisonCode(fingerprint)));
      return;
    }
    const webSocket = new WebSocket(`ws://${url.host}${radioPath}`, {
      createConnection: () => socket,
      headers: { authorization: `Bearer ${token}` },
      perMessageDeflate: false,
      maxPayload: mostRadioMessageBytes,
      handshakeTimeout: connectWithinMs,
    });
    this.#socket = webSocket;
    await this.#follow(webSocket, to);
    this.#socket = null;
  }

  #follow(webSocket: WebSocket, to: string): Promise<void> {
    const line = {
      send: (text: string): void => {
        if (webSocket.readyState === WebSocket.OPEN) webSocket.send(text);
      },
      cut: (): void => webSocket.terminate(),
    };
    return new Promise((resolve) => {
      webSocket.once('unexpected-response', (_request, response) => {
        this.#tell(words.refused(to, response.statusCode ?? 0));
        if (response.statusCode === 401) this.#status ??= 2;
        webSocket.terminate();
        resolve();
      });
      webSocket.once('open', () => {
        this.#failures = 0;
        this.#tell(words.connected(to));
        this.#post.attach(line);
      });
      webSocket.on('message', (data: Buffer, isBinary) => {
        if (isBinary || !this.#post.received(line, data.toString())) webSocket.terminate();
      });
      webSocket.once('close', (code) => {
        this.#post.lineEnded(line);
        if (code === closeCodes.notAllowed || code === closeCodes.wrongProtocolVersion) {
          this.#tell(code === closeCodes.notAllowed ? words.removed : words.otherVersion);
          this.#status ??= 2;
        } else if (this.#failures === 0) this.#tell(words.broken(to));
        this.#failures = Math.max(1, this.#failures);
        resolve();
      });
      webSocket.on('error', () => undefined);
    });
  }

  /** Each state once. */
  #tell(text: string): void {
    if (text === this.#told || this.#status !== null) return;
    this.#told = text;
    this.#io.stdout.write(`${text}\n`);
  }
}
