// The journal's encoding: packets of one commit, one after another, plain. Cheap to write; sealed into chunks later.

import type { MonotonicMs, WallMs } from '../../shared/units.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { StoredPacket } from '../base/ports/stored-session.ts';
import { ByteReader, MalformedBytes } from './byte-reader.ts';
import { ByteWriter } from './byte-writer.ts';

const formatVersion = 1;

/** Layout: version, stream names, packet count, then stream number, two doubles, length and bytes of each. */
export function encodeBatch(packets: readonly StoredPacket[]): Uint8Array {
  const streams = new StreamNumbers();
  const numbers = packets.map((packet) => streams.numberOf(packet));
  const writer = new ByteWriter();
  writer.u8(formatVersion);
  streams.write(writer);
  writer.varint(packets.length);
  packets.forEach((packet, i) => {
    writer.varint(numbers[i]!);
    writer.f64(packet.atMs);
    writer.f64(packet.wallAtMs);
    writer.block(packet.bytes);
  });
  return writer.finish();
}

/** Never throws: a reason for anything that `encodeBatch` did not write. The packets' bytes are views of `bytes`. */
export function decodeBatch(bytes: Uint8Array): Result<readonly StoredPacket[]> {
  try {
    const reader = new ByteReader(bytes);
    const version = reader.u8();
    if (version !== formatVersion) return failed('unknownVersion');
    const streams = readStreamNames(reader);
    const count = reader.varint(bytes.length);
    const packets: StoredPacket[] = [];
    for (let i = 0; i < count; i++) {
      const stream = streams[reader.varint()];
      if (stream === undefined) return failed('noStream');
      const atMs = reader.f64() as MonotonicMs;
      const wallAtMs = reader.f64() as WallMs;
      // Views: a buffer of its own for each packet costs as much as working a recording out.
      const { sensorId, characteristic } = stream;
      packets.push({ sensorId, characteristic, bytes: reader.block(), atMs, wallAtMs });
    }
    reader.end();
    return ok(packets);
  } catch (cause) {
    if (cause instanceof MalformedBytes) return failed(cause.message);
    throw cause;
  }
}

/** Numbers the sensor-and-characteristic pairs of a run of packets in the order they first appear. */
export class StreamNumbers {
  readonly #bySensor = new Map<string, Map<string, number>>();
  readonly names: { readonly sensorId: string; readonly characteristic: string }[] = [];

  numberOf(packet: { readonly sensorId: string; readonly characteristic: string }): number {
    let ofSensor = this.#bySensor.get(packet.sensorId);
    if (ofSensor === undefined) {
      ofSensor = new Map();
      this.#bySensor.set(packet.sensorId, ofSensor);
    }
    let number = ofSensor.get(packet.characteristic);
    if (number === undefined) {
      number = this.names.length;
      ofSensor.set(packet.characteristic, number);
      this.names.push({ sensorId: packet.sensorId, characteristic: packet.characteristic });
    }
    return number;
  }

  write(writer: ByteWriter): void {
    writer.varint(this.names.length);
    for (const { sensorId, characteristic } of this.names) {
      writer.text(sensorId);
      writer.text(characteristic);
    }
  }
}

export function readStreamNames(reader: ByteReader): StreamNumbers['names'] {
  const count = reader.varint(reader.remaining);
  const names: StreamNumbers['names'] = [];
  for (let i = 0; i < count; i++) names.push({ sensorId: reader.text(), characteristic: reader.text() });
  return names;
}
