// The radios on other computers that have joined this hub: each becomes a radio of the Bluetooth source when it connects for the
// first time, and is gone when a person removes it.

import { randomBytes } from 'node:crypto';
import type { Clock } from '../../../base/ports/clock.ts';
import type { BluetoothSource } from '../bluetooth-source.ts';
import { ElsewhereRadio, type LineFault } from './elsewhere-radio.ts';
import type { RadioLine } from './radio-wire.ts';

/** What the server needs to let a radio in. */
export interface RadioHall {
  /** The joined device has connected. */
  attach(device: { readonly deviceId: string; readonly name: string }, line: RadioLine): void;
  received(deviceId: string, line: RadioLine, text: string): LineFault | null;
  lineEnded(deviceId: string, line: RadioLine): void;
  remove(deviceId: string): void;
  tellCertificate(fingerprintSha256: string): void;
}

export function radioHallOf(
  source: BluetoothSource,
  { clock, log }: { readonly clock: Clock; readonly log: (line: string) => void },
): RadioHall {
  const hubRunId = randomBytes(12).toString('hex');
  const radios = new Map<string, ElsewhereRadio>();
  const idOf = (deviceId: string): string => `at-${deviceId}`;
  return {
    attach({ deviceId, name }, line) {
      let radio = radios.get(deviceId);
      if (radio === undefined) {
        const radioId = idOf(deviceId);
        radio = new ElsewhereRadio({ radioId, hubRunId, clock, log });
        radios.set(deviceId, radio);
        source.addRadio({ radioId, radio, transport: 'kernel', name, deviceId });
      }
      radio.attach(line);
    },
    received: (deviceId, line, text) => radios.get(deviceId)?.received(line, text) ?? null,
    lineEnded: (deviceId, line) => radios.get(deviceId)?.lineEnded(line),
    remove(deviceId) {
      if (!radios.delete(deviceId)) return;
      void source.removeRadio(idOf(deviceId));
    },
    tellCertificate(fingerprintSha256) {
      for (const radio of radios.values()) radio.tellCertificate(fingerprintSha256);
    },
  };
}
