// Looks into a write-ahead log that a crash left behind. SQLite ends at the first bad frame and says nothing of the rest.

import { readFileSync } from 'node:fs';

/** Layout and checksums: https://www.sqlite.org/fileformat2.html#the_write_ahead_log */
const headerBytes = 32;
const frameHeaderBytes = 24;
const littleEndianMagic = 0x377f0682;
const bigEndianMagic = 0x377f0683;

/**
 * True if the log holds commits that SQLite will pass over because something before them is damaged. The last
 * transaction alone may be torn by a power cut; that is not damage, it never was committed.
 */
export function losesCommits(path: string): boolean {
  let log: Buffer;
  try {
    log = readFileSync(path);
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code === 'ENOENT') return false;
    throw cause;
  }
  if (log.length <= headerBytes) return false;
  const magic = log.readUInt32BE(0);
  const pageBytes = log.readUInt32BE(8);
  if (magic !== littleEndianMagic && magic !== bigEndianMagic) return log.some((byte) => byte !== 0);
  const littleEndian = magic === littleEndianMagic;
  const headerSum = checksum(log.subarray(0, 24), 0, 0, littleEndian);
  if (headerSum[0] !== log.readUInt32BE(24) || headerSum[1] !== log.readUInt32BE(28)) return true;
  const salts = log.readBigUInt64BE(16);
  const frameBytes = frameHeaderBytes + pageBytes;
  let [sum0, sum1] = headerSum;
  let badFrameSeen = false;
  let commitsAfterBadFrame = 0;
  for (let start = headerBytes; start + frameBytes <= log.length; start += frameBytes) {
    const isCommit = log.readUInt32BE(start + 4) !== 0;
    const [head0, head1] = checksum(log.subarray(start, start + 8), sum0, sum1, littleEndian);
    const page = log.subarray(start + frameHeaderBytes, start + frameBytes);
    const [expected0, expected1] = checksum(page, head0, head1, littleEndian);
    sum0 = log.readUInt32BE(start + 16);
    sum1 = log.readUInt32BE(start + 20);
    const good = log.readBigUInt64BE(start + 8) === salts && sum0 === expected0 && sum1 === expected1;
    if (good && badFrameSeen && isCommit) commitsAfterBadFrame++;
    if (!good && !badFrameSeen) {
      badFrameSeen = true;
      // A bad frame that ends a transaction counts as one commit lost, if another follows it.
      if (isCommit) commitsAfterBadFrame++;
    }
  }
  return commitsAfterBadFrame >= 2;
}

/**
 * By page number, the pages that SQLite would take from the log: those of the last commit before the first bad frame. None
 * for a log that is damaged at its head, or of another page size.
 */
export function readWholeFrames(log: Buffer, pageBytes: number): Map<number, Buffer> {
  const committed = new Map<number, Buffer>();
  if (log.length <= headerBytes || log.readUInt32BE(8) !== pageBytes) return committed;
  const magic = log.readUInt32BE(0);
  if (magic !== littleEndianMagic && magic !== bigEndianMagic) return committed;
  const littleEndian = magic === littleEndianMagic;
  let [sum0, sum1] = checksum(log.subarray(0, 24), 0, 0, littleEndian);
  if (sum0 !== log.readUInt32BE(24) || sum1 !== log.readUInt32BE(28)) return committed;
  const salts = log.readBigUInt64BE(16);
  const frameBytes = frameHeaderBytes + pageBytes;
  const pending = new Map<number, Buffer>();
  for (let start = headerBytes; start + frameBytes <= log.length; start += frameBytes) {
    const page = log.subarray(start + frameHeaderBytes, start + frameBytes);
    const [head0, head1] = checksum(log.subarray(start, start + 8), sum0, sum1, littleEndian);
    [sum0, sum1] = checksum(page, head0, head1, littleEndian);
    const isGood =
      log.readBigUInt64BE(start + 8) === salts &&
      sum0 === log.readUInt32BE(start + 16) &&
      sum1 === log.readUInt32BE(start + 20);
    if (!isGood) break;
    pending.set(log.readUInt32BE(start), page);
    if (log.readUInt32BE(start + 4) === 0) continue;
    for (const [number, bytes] of pending) committed.set(number, bytes);
    pending.clear();
  }
  return committed;
}

function checksum(
  bytes: Buffer,
  sum0: number,
  sum1: number,
  littleEndian: boolean,
): readonly [number, number] {
  let a = sum0;
  let b = sum1;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  for (let at = 0; at + 8 <= bytes.length; at += 8) {
    a = (a + view.getUint32(at, littleEndian) + b) >>> 0;
    b = (b + view.getUint32(at + 4, littleEndian) + a) >>> 0;
  }
  return [a, b];
}
