// What the terminal says about joining: addresses, the certificate's fingerprint, and a first coach's code with its QR code.

import { qrText } from '../lan/join-qr.ts';
import type { Joining } from './joining.ts';

/**
 * Lines for the person at the hub, or none while no other device is let in. Makes a coach's code, since a hub without
 * a screen of its own has no other way to get its first coach. The QR code only where a terminal can show it.
 */
export function inviteFirstCoach({ devices, lan }: Joining, isTerminal: boolean): string[] {
  if (lan === null) return [];
  const { addresses, fingerprintSha256, notice } = lan.view();
  const lines = [
    `Other devices join at ${addresses.join(' or ')}`,
    "Their browser warns that the certificate is the hub's own. It is this one if its SHA-256 fingerprint is",
    `  ${fingerprintSha256}`,
  ];
  if (notice !== null) lines.push(notice);
  const made = devices.makeCode('coach', null);
  if (!made.ok) return [...lines, made.reason.message];
  const { code } = made.value;
  if (isTerminal) lines.push(qrText(lan.joinAddress(code)));
  lines.push(
    `Code for one coach's device, good once in the next 10 minutes: ${code}`,
    "More codes, for athletes and onlookers too: on a coach's page, under Devices.",
  );
  return lines;
}
