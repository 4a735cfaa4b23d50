// A file locked with a passphrase, by Node's own cryptography: its native code derives the key off the main thread and locks
// gigabytes without holding an alarm up, and needs no package that has to be trusted for years. The format is told in
// hub/recorder/backup/README.md, so that a file can be opened without this program.

import { createCipheriv, createDecipheriv, randomBytes, scrypt } from 'node:crypto';
import { createReadStream, createWriteStream } from 'node:fs';
import { open } from 'node:fs/promises';
import { Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';

/** RFC 7914; 128 MB and about half a second for each guess. OWASP's least for scrypt (Password Storage Cheat Sheet, 2023). */
const cost = { N: 2 ** 17, r: 8, p: 1 } as const;
const keyBytes = 32;
const saltBytes = 16;
const tagBytes = 16;
/** What is locked at a time; a file cut between two pieces is found by its last one not saying so. */
const pieceBytes = 64 * 1024;
const headBytes = 96;
const headPattern = /^SLACKWATER-LOCKED 1 scrypt=131072,8,1 salt=([0-9a-f]{32}) *\n$/;
const headText = (salt: Buffer): string =>
  `${`SLACKWATER-LOCKED 1 scrypt=131072,8,1 salt=${salt.toString('hex')}`.padEnd(headBytes - 1, ' ')}\n`;

function keyOf(passphrase: string, salt: Buffer): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    // NFC: the same passphrase typed on another keyboard.
    scrypt(passphrase.normalize('NFC'), salt, keyBytes, { ...cost, maxmem: 256 * 2 ** 20 }, (error, key) =>
      error === null ? resolve(key) : reject(error),
    );
  });
}

/** Eleven bytes of count and one that says whether it is the last piece; the key is of this file alone. */
function nonceOf(piece: number, isLast: boolean): Buffer {
  const nonce = Buffer.alloc(12);
  nonce.writeUIntBE(piece, 5, 6);
  nonce[11] = isLast ? 1 : 0;
  return nonce;
}

/** Cuts a stream into pieces of `size` bytes and has each worked on; `work` is told which is the last. */
function byPiece(size: number, work: (piece: Buffer, number: number, isLast: boolean) => Buffer): Transform {
  let held: Buffer[] = [];
  let heldBytes = 0;
  let number = 0;
  const take = (bytes: number): Buffer => {
    const all = held.length === 1 ? held[0]! : Buffer.concat(held);
    held = [all.subarray(bytes)];
    heldBytes = all.length - bytes;
    return all.subarray(0, bytes);
  };
  return new Transform({
    transform(chunk: Buffer, _encoding, done) {
      held.push(chunk);
      heldBytes += chunk.length;
      try {
        // One more byte than a piece: whether it is the last is known only then.
        while (heldBytes > size) this.push(work(take(size), number++, false));
        done();
      } catch (error) {
        done(error as Error);
      }
    },
    flush(done) {
      try {
        this.push(work(take(heldBytes), number, true));
        done();
      } catch (error) {
        done(error as Error);
      }
    },
  });
}

/** Writes what is at `source`, locked, to `target`, which must not exist. */
export async function lockFile(source: string, target: string, passphrase: string): Promise<void> {
  const salt = randomBytes(saltBytes);
  const head = headText(salt);
  const key = await keyOf(passphrase, salt);
  const out = createWriteStream(target, { mode: 0o600, flags: 'wx', flush: true });
  out.write(head);
  const lock = byPiece(pieceBytes, (piece, number, isLast) => {
    const cipher = createCipheriv('aes-256-gcm', key, nonceOf(number, isLast));
    cipher.setAAD(Buffer.from(head));
    return Buffer.concat([cipher.update(piece), cipher.final(), cipher.getAuthTag()]);
  });
  await pipeline(createReadStream(source), lock, out);
}

/** Whether the file begins as a locked one does. */
export async function isLockedFile(path: string): Promise<boolean> {
  return (await readHead(path)) !== null;
}

/**
 * Writes what is locked in `source` to `target`, which must not exist. Throws `input.malformed` for a wrong passphrase and for
 * a file that was changed or cut off: the two cannot be told apart.
 */
export async function unlockFile(source: string, target: string, passphrase: string): Promise<void> {
  const head = await readHead(source);
  if (head === null) throw new HubError('input.malformed', said('backup.notABackup', { path: source }));
  const key = await keyOf(passphrase, head.salt);
  const unlock = byPiece(pieceBytes + tagBytes, (piece, number, isLast) => {
    if (piece.length < tagBytes) throw new HubError('input.malformed', said('backup.notUnlocked'));
    const decipher = createDecipheriv('aes-256-gcm', key, nonceOf(number, isLast), {
      authTagLength: tagBytes,
    });
    decipher.setAAD(Buffer.from(head.text));
    decipher.setAuthTag(piece.subarray(piece.length - tagBytes));
    try {
      return Buffer.concat([decipher.update(piece.subarray(0, piece.length - tagBytes)), decipher.final()]);
    } catch (cause) {
      throw new HubError('input.malformed', said('backup.notUnlocked'), cause);
    }
  });
  await pipeline(
    createReadStream(source, { start: headBytes }),
    unlock,
    createWriteStream(target, { mode: 0o600, flags: 'wx', flush: true }),
  );
}

async function readHead(path: string): Promise<{ readonly text: string; readonly salt: Buffer } | null> {
  const file = await open(path, 'r').catch((cause: unknown) => {
    throw new HubError('input.notFound', said('backup.unreadable', { path }), cause);
  });
  try {
    const bytes = Buffer.alloc(headBytes);
    const { bytesRead } = await file.read(bytes, 0, headBytes, 0);
    const text = bytes.toString('latin1', 0, bytesRead);
    const found = headPattern.exec(text);
    return found === null ? null : { text, salt: Buffer.from(found[1]!, 'hex') };
  } finally {
    await file.close();
  }
}
