// A file on the disk as the readers want it: bytes by place through a window, or text in pieces, in whatever encoding.

import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import type { ByteSource, TextSource } from '../../../src/formats/import-file.ts';

export interface FileSource extends ByteSource, TextSource {
  /** Hears how far into the file reading has got, 0 to 1, now and then. */
  onProgress: ((share: number) => void) | undefined;
  close(): void;
}

const windowBytes = 2 ** 20;
const pieceBytes = 2 ** 18;

/** Throws what the file system throws. */
export function openFileSource(path: string): FileSource {
  const file = openSync(path, 'r');
  const { size } = fstatSync(file);
  const window = new Uint8Array(windowBytes);
  let windowAt = 0;
  let windowLength = 0;
  const fill = (into: Uint8Array, at: number): number => {
    let done = 0;
    while (done < into.length) {
      const count = readSync(file, into, done, into.length - done, at + done);
      if (count === 0) break;
      done += count;
    }
    return done;
  };
  const source: FileSource = {
    length: size,
    onProgress: undefined,
    read(at, length) {
      const wanted = Math.max(0, Math.min(length, size - at));
      if (wanted > windowBytes) {
        const bytes = new Uint8Array(wanted);
        return bytes.subarray(0, fill(bytes, at));
      }
      if (at < windowAt || at + wanted > windowAt + windowLength) {
        windowAt = at;
        windowLength = fill(window.subarray(0, Math.min(windowBytes, size - at)), at);
        source.onProgress?.(at / Math.max(1, size));
      }
      return window.subarray(at - windowAt, at - windowAt + wanted);
    },
    *pieces() {
      const decoder = new TextDecoder(encodingOf(source));
      const buffer = new Uint8Array(pieceBytes);
      for (let at = 0; at < size; ) {
        const count = fill(buffer.subarray(0, Math.min(pieceBytes, size - at)), at);
        if (count === 0) break;
        at += count;
        source.onProgress?.(at / size);
        yield decoder.decode(buffer.subarray(0, count), { stream: true });
      }
      const rest = decoder.decode();
      if (rest !== '') yield rest;
    },
    close: () => closeSync(file),
  };
  return source;
}

/** The same over bytes in memory, for tests and small texts. */
export function sourceOfBytes(bytes: Uint8Array): ByteSource & TextSource {
  const source: ByteSource & TextSource = {
    length: bytes.length,
    read: (at, length) => bytes.subarray(at, Math.max(at, Math.min(bytes.length, at + length))),
    *pieces() {
      const decoder = new TextDecoder(encodingOf(source));
      for (let at = 0; at < bytes.length; at += pieceBytes)
        yield decoder.decode(bytes.subarray(at, at + pieceBytes), { stream: true });
      yield decoder.decode();
    },
  };
  return source;
}

type Encoding = 'utf-8' | 'utf-16le' | 'utf-16be' | 'windows-1252';

/** By its mark, by zeros in every other byte, or by whether its bytes are UTF-8 all through. */
function encodingOf(source: ByteSource): Encoding {
  const head = source.read(0, 4_096).slice();
  if (head[0] === 0xff && head[1] === 0xfe) return 'utf-16le';
  if (head[0] === 0xfe && head[1] === 0xff) return 'utf-16be';
  // Text of the Latin alphabet in UTF-16 has a zero beside each of its characters.
  const zeros = [0, 0];
  for (let i = 0; i < head.length; i += 1) if (head[i] === 0) zeros[i % 2]! += 1;
  const half = Math.floor(head.length / 2);
  if (half > 2 && zeros[1]! > 0.9 * half && zeros[0] === 0) return 'utf-16le';
  if (half > 2 && zeros[0]! > 0.9 * half && zeros[1] === 0) return 'utf-16be';
  // Older loggers write the system's own 8-bit characters; they stand in names and comments only.
  const decoder = new TextDecoder('utf-8', { fatal: true });
  try {
    for (let at = 0; at < source.length; at += pieceBytes)
      decoder.decode(source.read(at, Math.min(pieceBytes, source.length - at)), { stream: true });
    decoder.decode();
    return 'utf-8';
  } catch {
    return 'windows-1252';
  }
}
