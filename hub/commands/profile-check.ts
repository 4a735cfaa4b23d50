// slackwater profile check FILE CAPTURE: what a sensor profile makes of captured bytes, as text on standard output.

import { readFile } from 'node:fs/promises';
import type { Channel } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import {
  decodeProfile,
  initialProfileState,
  type ProfileCounts,
  type ProfileState,
} from '../../src/profiles/decode-profile.ts';
import { readsCharacteristic, type SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { type CapturedPacket, hexOf, parseCapture } from '../sensors/bluetooth/capture-file.ts';
import { parseProfile, profileProblemText } from '../sensors/bluetooth/profile-file.ts';

interface Io {
  readonly stdout: { write(text: string): unknown };
  readonly stderr: { write(text: string): unknown };
}

const usage = `Usage: slackwater profile check FILE [CAPTURE]
  FILE     a sensor profile
  CAPTURE  bytes written by "slackwater capture"; without it only the profile is checked
`;

/** Packets whose decoding is printed one by one; the rest goes into the summary. */
const shownPackets = 20;

/** `argv` is what follows `profile`. Answers the exit status: 0 when readings came out, 2 when anything is wrong. */
export async function runProfileCheck(argv: readonly string[], io: Io): Promise<number> {
  const [verb, profilePath, capturePath, ...rest] = argv;
  if (verb !== 'check' || profilePath === undefined || rest.length > 0) {
    io.stderr.write(usage);
    return 2;
  }
  const profileText = await readText(profilePath, io);
  if (profileText === null) return 2;
  const profile = parseProfile(profileText);
  if (!profile.ok) {
    for (const problem of profile.reason) io.stderr.write(`${profileProblemText(profilePath, problem)}\n`);
    return 2;
  }
  io.stdout.write(`${profile.value.name}: the profile is in order.\n`);
  if (capturePath === undefined) return 0;
  const captureText = await readText(capturePath, io);
  if (captureText === null) return 2;
  const capture = parseCapture(captureText);
  if (!capture.ok) {
    io.stderr.write(`${capturePath}: ${capture.reason}\n`);
    return 2;
  }
  return report(profile.value, capture.value, io);
}

async function readText(path: string, io: Io): Promise<string | null> {
  try {
    return await readFile(path, 'utf8');
  } catch (error) {
    io.stderr.write(`${path}: cannot be read: ${error instanceof Error ? error.message : String(error)}\n`);
    return null;
  }
}

function report(profile: SensorProfile, packets: readonly CapturedPacket[], io: Io): number {
  const states = new Map<string, ProfileState>();
  const channels = new Map<Channel, { count: number; least: number; most: number; last: number }>();
  const reasons = new Map<string, number>();
  let others = 0;
  let shown = 0;
  let missing = 0;
  let batteryPercent: number | undefined;
  for (const packet of packets) {
    if (!readsCharacteristic(profile, packet.characteristic)) {
      others += 1;
      continue;
    }
    const { characteristic, bytes } = packet;
    const before = states.get(characteristic) ?? initialProfileState;
    const decoded = decodeProfile(
      profile,
      before,
      'capture',
      bytes,
      monotonicMs(packet.atMs),
      characteristic,
    );
    states.set(characteristic, decoded.state);
    batteryPercent = decoded.batteryPercent ?? batteryPercent;
    missing += decoded.missing.length;
    for (const sample of decoded.samples) {
      const all = channels.get(sample.channel) ?? { count: 0, least: Infinity, most: -Infinity, last: 0 };
      channels.set(sample.channel, {
        count: all.count + 1,
        least: Math.min(all.least, sample.value),
        most: Math.max(all.most, sample.value),
        last: sample.value,
      });
      for (const reason of sample.reasons) reasons.set(reason, (reasons.get(reason) ?? 0) + 1);
    }
    if (shown < shownPackets) {
      shown += 1;
      const values = [
        ...decoded.samples.map(({ channel, value, reasons: why }) =>
          [`${channel} ${round(value)}`, ...why].join(' '),
        ),
        ...decoded.missing.map(({ channel }) => `${channel} none`),
        ...decoded.discards.map((discard) => `(${discard})`),
      ];
      io.stdout.write(
        `${packet.atMs.toFixed(1).padStart(10)} ms  ${hexOf(packet.bytes)}  ->  ${values.join(', ') || '(part of a frame)'}\n`,
      );
    }
  }
  const taken = packets.length - others;
  if (taken > shown) io.stdout.write(`           ... ${taken - shown} more packets\n`);
  const counts = sumOfCounts([...states.values()]);
  io.stdout.write(`
${taken} packets of ${profile.link.notify}, ${others} of other characteristics
${counts.frames} frames read, ${counts.damaged} damaged, ${counts.repeated} repeated, ${counts.missed} missing by the counter
${counts.skippedBytes} bytes outside frames, ${missing} fields without a reading
`);
  for (const [channel, { count, least, most, last }] of channels) {
    io.stdout.write(
      `${channel}: ${count} values from ${round(least)} to ${round(most)}, last ${round(last)}\n`,
    );
  }
  if (batteryPercent !== undefined) io.stdout.write(`battery: ${batteryPercent} %\n`);
  for (const [reason, count] of reasons) io.stdout.write(`doubted for ${reason}: ${count}\n`);
  if (channels.size > 0) return 0;
  io.stderr.write('No reading came out. Check the characteristic, the sync bytes and the checksum.\n');
  return 2;
}

const sumOfCounts = (states: readonly ProfileState[]): ProfileCounts =>
  states.reduce<ProfileCounts>(
    (sum, { counts }) => ({
      frames: sum.frames + counts.frames,
      damaged: sum.damaged + counts.damaged,
      skippedBytes: sum.skippedBytes + counts.skippedBytes,
      missed: sum.missed + counts.missed,
      repeated: sum.repeated + counts.repeated,
    }),
    initialProfileState.counts,
  );

const round = (value: number): number => Math.round(value * 1_000) / 1_000;
