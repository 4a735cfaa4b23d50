// The files of a ZIP archive, one after another in the order in which they stand in it, unpacked no further than asked for.

import { Unzip, UnzipInflate } from 'fflate';
import type { ByteSource } from '../../../src/formats/import-file.ts';

export interface ZipEntry {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** Why there is no more to be had. */
export class ZipFault extends Error {
  override readonly name = 'ZipFault';
  readonly isTooLarge: boolean;

  constructor(isTooLarge: boolean) {
    super(isTooLarge ? 'zip.tooLarge' : 'zip.damaged');
    this.isTooLarge = isTooLarge;
  }
}

/** Packed bytes taken in at once: a thousandfold of it is what the worst archive can make of that. */
const pieceBytes = 2 ** 15;

/**
 * Throws `ZipFault` at a file larger than `mostOf` its name, at more than `mostBytes` in all, and where the archive is cut
 * off or damaged. Only what has been yielded takes memory, and the file being unpacked.
 */
export function* zipEntries(
  source: ByteSource,
  mostOf: (name: string) => number,
  mostBytes: number,
): Generator<ZipEntry> {
  const ready: ZipEntry[] = [];
  let total = 0;
  // The unpacker catches what is thrown at it and calls once more: the first reason is the one to tell.
  let fault: ZipFault | undefined;
  const end = (isTooLarge: boolean): never => {
    fault ??= new ZipFault(isTooLarge);
    throw fault;
  };
  const unzip = new Unzip((file) => {
    const most = mostOf(file.name);
    const pieces: Uint8Array[] = [];
    let length = 0;
    file.ondata = (error, data, isLast) => {
      if (error) end(false);
      length += data.length;
      total += data.length;
      if (length > most || total > mostBytes) end(true);
      pieces.push(data);
      if (isLast) ready.push({ name: file.name, bytes: Buffer.concat(pieces) });
    };
    file.start();
  });
  unzip.register(UnzipInflate);
  for (let at = 0; at < source.length; at += pieceBytes) {
    const isLast = at + pieceBytes >= source.length;
    try {
      unzip.push(source.read(at, pieceBytes).slice(), isLast);
    } catch {
      end(false);
    }
    yield* ready.splice(0);
  }
}
