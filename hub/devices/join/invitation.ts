// What the terminal says about joining: addresses, the certificate's fingerprint, and a first coach's code with its QR code.

import { invitationWords } from '../../../shared/words/en-command-line.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { qrText } from '../lan/join-qr.ts';
import type { Joining } from './joining.ts';

/**
 * Lines for the person at the hub, or none while no other device is let in. Makes a coach's code, since a hub without
 * a screen of its own has no other way to get its first coach. The QR code only where a terminal can show it.
 */
export function inviteFirstCoach({ devices, lan }: Joining, isTerminal: boolean): string[] {
  if (lan === null) return [];
  const { addresses, comparisonCode, signedBy, authority, notices } = lan.view();
  const lines = [
    invitationWords.addresses(addresses),
    signedBy === 'given' ? invitationWords.givenCertificate : invitationWords.certificate,
    `  ${comparisonCode}`,
  ];
  if (authority !== null) lines.push(invitationWords.authority, `  ${authority.comparisonCode}`);
  lines.push(...notices.map(sayInEnglish));
  const made = devices.makeCode('coach', null);
  if (!made.ok) return [...lines, sayInEnglish(made.reason.said)];
  const { code } = made.value;
  if (isTerminal) lines.push(qrText(lan.joinAddress(code)));
  lines.push(invitationWords.code(code), invitationWords.moreCodes);
  return lines;
}
