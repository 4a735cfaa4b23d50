// slackwater profile check FILE CAPTURE: what a sensor profile makes of captured bytes, as text on standard output.

import { readFile } from 'node:fs/promises';
import { said } from '../../shared/said.ts';
import type { Channel } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import { profileCheckWords } from '../../shared/words/en-command-line.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import { type CapturedPacket, hexOf, parseCapture } from '../../src/profiles/capture-file.ts';
import {
  decodeProfile,
  initialProfileState,
  type ProfileCounts,
  type ProfileState,
} from '../../src/profiles/decode-profile.ts';
import { parseProfile, profileProblemSaid } from '../../src/profiles/profile-file.ts';
import { readsCharacteristic, type SensorProfile } from '../../src/profiles/sensor-profile.ts';

interface Io {
  readonly stdout: { write(text: string): unknown };
  readonly stderr: { write(text: string): unknown };
}

/** Packets whose decoding is printed one by one; the rest goes into the summary. */
const shownPackets = 20;

/** `argv` is what follows `profile`. Answers the exit status: 0 when readings came out, 2 when anything is wrong. */
export async function runProfileCheck(argv: readonly string[], io: Io): Promise<number> {
  const [verb, profilePath, capturePath, ...rest] = argv;
  if (verb !== 'check' || profilePath === undefined || rest.length > 0) {
    io.stderr.write(profileCheckWords.usage);
    return 2;
  }
  const profileText = await readText(profilePath, io);
  if (profileText === null) return 2;
  const profile = parseProfile(profileText);
  if (!profile.ok) {
    for (const problem of profile.reason)
      io.stderr.write(`${sayInEnglish(profileProblemSaid(profilePath, problem))}\n`);
    return 2;
  }
  io.stdout.write(`${profileCheckWords.inOrder(profile.value.name)}\n`);
  if (capturePath === undefined) return 0;
  const captureText = await readText(capturePath, io);
  if (captureText === null) return 2;
  const capture = parseCapture(captureText);
  if (!capture.ok) {
    io.stderr.write(`${capturePath}: ${sayInEnglish(capture.reason)}\n`);
    return 2;
  }
  return report(profile.value, capture.value, io);
}

async function readText(path: string, io: Io): Promise<string | null> {
  try {
    return await readFile(path, 'utf8');
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    io.stderr.write(`${sayInEnglish(said('profile.unreadable', { path, reason }))}\n`);
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
        ...decoded.missing.map(({ channel }) => profileCheckWords.none(channel)),
        ...decoded.discards.map((discard) => `(${profileCheckWords.discards[discard]})`),
      ];
      io.stdout.write(
        `${packet.atMs.toFixed(1).padStart(10)} ms  ${hexOf(packet.bytes)}  ->  ${values.join(', ') || profileCheckWords.partOfFrame}\n`,
      );
    }
  }
  const taken = packets.length - others;
  if (taken > shown) io.stdout.write(`${profileCheckWords.morePackets(taken - shown)}\n`);
  const counts = sumOfCounts([...states.values()]);
  io.stdout.write(`
${profileCheckWords.packets(taken, profile.link.notify, others)}
${profileCheckWords.frames(counts)}
${profileCheckWords.outside(counts.skippedBytes, missing)}
`);
  for (const [channel, { count, least, most, last }] of channels) {
    io.stdout.write(`${profileCheckWords.channel(channel, count, round(least), round(most), round(last))}\n`);
  }
  if (batteryPercent !== undefined) io.stdout.write(`${profileCheckWords.battery(batteryPercent)}\n`);
  for (const [reason, count] of reasons) io.stdout.write(`${profileCheckWords.doubted(reason, count)}\n`);
  if (channels.size > 0) return 0;
  io.stderr.write(`${profileCheckWords.nothing}\n`);
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
