// Raw bytes of a sensor as text: one packet a line, for writing and checking sensor profiles by eye.

import { type Said, said } from '../../shared/said.ts';
import { failed, ok, type Result } from '../result.ts';
import { isUuid, shortUuid } from './uuid.ts';

export interface CapturedPacket {
  /** Milliseconds since the capture began. */
  readonly atMs: number;
  readonly characteristic: string;
  readonly bytes: Uint8Array;
}

export const captureHeader = (sensorName: string): string =>
  [
    '# Bytes of one sensor as they arrived. Lines that begin with # are comments.',
    `# Sensor: ${sensorName.replaceAll(/[\r\n]/g, ' ')}`,
    '# milliseconds  characteristic  bytes in hexadecimal',
    '',
  ].join('\n');

export const captureLine = (packet: CapturedPacket): string =>
  `${packet.atMs.toFixed(1)}  ${packet.characteristic}  ${hexOf(packet.bytes)}\n`;

export const hexOf = (bytes: Uint8Array): string =>
  [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join(' ');

/** The reason names the line. A capture without packets is no error. */
export function parseCapture(text: string): Result<readonly CapturedPacket[], Said> {
  const packets: CapturedPacket[] = [];
  for (const [index, line] of text.split(/\r\n|\r|\n/).entries()) {
    const clean = line.replace(/^\uFEFF/, '').trim();
    if (clean === '' || clean.startsWith('#')) continue;
    const [time, uuid, ...rest] = clean.split(/\s+/);
    const wrong = (reason: Said) => failed(said('capture.line', { line: index + 1, reason }));
    const atMs = Number(time);
    if (!Number.isFinite(atMs) || atMs < 0)
      return wrong(said('capture.notMilliseconds', { time: time ?? '' }));
    const characteristic = shortUuid(uuid ?? '');
    if (!isUuid(characteristic)) return wrong(said('capture.notUuid', { text: uuid ?? '' }));
    const hex = rest.join('');
    if (!/^(?:[0-9a-fA-F]{2})*$/.test(hex)) return wrong(said('capture.notHex'));
    packets.push({
      atMs,
      characteristic,
      bytes: Uint8Array.from(hex.match(/../g) ?? [], (pair) => Number.parseInt(pair, 16)),
    });
  }
  return ok(packets);
}
