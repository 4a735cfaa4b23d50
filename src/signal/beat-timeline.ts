// Puts a strap's beats where they were: the intervals say how far apart they are, the arrivals when that was. One
// timeline per link; live, in a review and in exports alike. Only beats still to come are moved by what is learnt.

import { sendDelays } from './send-clock.ts';

/**
 * How it is known. With the intervals summed up, a beat's place in the sum (`chainMs`) and its true time differ by one
 * offset. A packet cannot arrive before its last beat, so the offset is at most `arrival - chain` of that beat; the
 * packet before would have carried its first beat had that been over, so the offset is at least `arrival before -
 * chain` of that one. Packets sent by a clock of their own fall anywhere between two beats, so these limits close in on
 * the offset; packets sent at each beat give it at once. The limits open again with time, for the strap's clock is not
 * ours. Where a seldom one sends by a clock, the limits are those of the sending (`send-clock.ts`). The approach is ours (interval constraints, as for clock offsets in network time); no source for straps.
 */
interface Packet {
  readonly arrivedAtMs: number;
  /** Of the packet before, with beats or without. */
  readonly previousArrivalMs: number | undefined;
  /** Most the offset can be by this packet, and least by the one before; minus infinity where nothing is known. */
  most: number;
  least: number;
}

/** Packets and time that the offset is worked out from, and that tell whether a packet fits. */
const mostPackets = 40;
const windowMs = 45_000;
/** Arrivals that a strap's clock is told by. */
const mostArrivals = 60;
/** A strap that sends more seldom than this tells less in that time: it is listened to for longer, its clock's pace with it. */
const seldomMs = 1_300;
const longWindowMs = 150_000;
/** Crystals part by up to 200 in a million; a step that is finer tells no more in that time. Common practice, no source. */
const paceStep = 150e-6;
/** Of an interval that is cut to whole 1/1024 s instead of rounded, half of one is missing on average (Heart Rate Service s3.1.1.2). */
const cutMs = 0.5 * (1_000 / 1_024);
/** Points at which the offset is weighed between its limits. */
const weighedPoints = 24;
/** The radio holds a packet back by up to this as a rule: a connection interval and a few repeats. */
const usualDelayMs = 60;
/** So much is left of that where the strap sends by a clock: the quickest packets and the clock's pace are not known better. */
const clockedDelayMs = 15;
/** Beyond this, limits that exclude each other mean that beats are missing, or that packets were held up. */
const contradictionMs = 150;
/** Packets that were held up arrive all at once; later ones that still contradict tell of missing beats. */
const heldUpMs = 100;
/** Fewer than this know too little to be contradicted. */
const leastPackets = 6;
/** How far the intervals put in for missing ones may be wrong. */
const bridgedDoubtMs = 100;
/** Share of an interval by which a beat may be moved: quickly while far off, imperceptibly afterwards. */
const quickShare = 0.06;
const slowShare = 0.01;
const farOffMs = 60;

export interface BeatTimeline {
  /**
   * Times of the beats that end these intervals, oldest first, in a packet that arrived at `arrivedAtMs`. Rising, none
   * later than the arrival. A packet without intervals helps too: call it with none.
   */
  place(arrivedAtMs: number, intervalsMs: readonly number[]): readonly number[];
  /** A new link: what came before says nothing about it. */
  reset(): void;
}

/** Constant memory. Deterministic. */
export function createBeatTimeline(): BeatTimeline {
  let packets: Packet[] = [];
  /** Older ones, for a strap that sends seldom. */
  let older: Packet[] = [];
  let chainMs = 0;
  let offsetMs: number | undefined;
  let lastArrivalMs: number | undefined;
  /** Of all packets of the long window. */
  let arrivals: number[] = [];
  let lastBeatMs = Number.NEGATIVE_INFINITY;
  let usualIntervalMs = 0;
  /** Between packets, with intervals or without: about the middle one, which a lost packet hardly moves. */
  let usualGapMs = 0;
  /** Packets have come at a fixed time after a beat, so that one is enough to know the offset by. */
  let sentAtBeats = false;
  /** Since when packets contradict what was known. */
  let suspectSinceMs: number | undefined;

  function reset(): void {
    packets = [];
    older = [];
    arrivals = [];
    chainMs = 0;
    offsetMs = undefined;
    lastArrivalMs = undefined;
    suspectSinceMs = undefined;
    usualIntervalMs = 0;
    usualGapMs = 0;
    sentAtBeats = false;
  }

  /** Beats are missing: as many whole intervals are put in as bring the limits together best. */
  function bridge(since: number): void {
    const before = offsetMs ?? 0;
    const { known, newer, most, least } = dividedAt(packets, since);
    const likely = sentAtBeats ? most : (most + Math.max(least, most - usualIntervalMs)) / 2;
    const missing = Math.max(1, Math.round((likely - before) / usualIntervalMs));
    offsetMs = Math.min(most, before + missing * usualIntervalMs);
    const moved = offsetMs - before;
    if (sentAtBeats) {
      packets = newer;
      older = [];
      return;
    }
    // What was known of the offset still holds, but for the beats put in.
    bridgeEach(known, moved);
    packets = [...known, ...newer];
    bridgeEach(older, moved);
  }

  const isTrusted = ({ arrivedAtMs }: Packet): boolean =>
    suspectSinceMs === undefined || arrivedAtMs < suspectSinceMs;

  /** Does this packet exclude what those before it said that are trusted? */
  function contradicts(packet: Packet): boolean {
    // One after another, because a packet comes every second or more often, for each strap.
    let count = 0;
    let most = Number.POSITIVE_INFINITY;
    let loosest = Number.NEGATIVE_INFINITY;
    for (let i = 0; i < packets.length; i++) {
      const known = packets[i]!;
      if (known === packet || !isTrusted(known)) continue;
      count += 1;
      if (known.most < most) most = known.most;
      if (known.most > loosest) loosest = known.most;
    }
    if (count < (sentAtBeats ? 2 : leastPackets)) return false;
    return (
      packet.least - most > contradictionMs ||
      packet.most - loosest > Math.max(contradictionMs, 0.5 * usualIntervalMs)
    );
  }

  return {
    reset,
    place(arrivedAtMs, intervalsMs) {
      const first = intervalsMs[0];
      const previousArrivalMs = lastArrivalMs;
      lastArrivalMs = arrivedAtMs;
      if (previousArrivalMs !== undefined) usualGapMs = towards(usualGapMs, arrivedAtMs - previousArrivalMs);
      addArrival(arrivals, arrivedAtMs);
      if (first === undefined) return [];
      usualIntervalMs = intervalsMs.reduce(aQuarterTowards, usualIntervalMs);
      const beginMs = chainMs;
      chainMs += intervalsMs.reduce((sum, intervalMs) => sum + intervalMs, 0);
      const packet: Packet = {
        arrivedAtMs,
        previousArrivalMs,
        most: arrivedAtMs - chainMs,
        least:
          previousArrivalMs === undefined ? Number.NEGATIVE_INFINITY : previousArrivalMs - (beginMs + first),
      };
      packets.push(packet);
      age(packets, older, arrivedAtMs);
      const since = suspectSinceMs;
      const isContradiction = contradicts(packet);
      if (since === undefined) {
        if (isContradiction) suspectSinceMs = arrivedAtMs;
      } else if ((previousArrivalMs ?? 0) >= since + heldUpMs) {
        if (!isContradiction) {
          packets = packets.filter((known) => known === packet || known.arrivedAtMs < since);
        } else {
          bridge(since);
        }
        suspectSinceMs = undefined;
      }
      const trusted = suspectSinceMs === undefined ? packets : packets.filter(isTrusted);
      const looseMs = looseness(trusted);
      if (trusted.length >= leastPackets) sentAtBeats = looseMs < contradictionMs;
      const target =
        trusted.length >= leastPackets && !sentAtBeats && usualGapMs > seldomMs
          ? weighed([...older, ...trusted], arrivals, usualIntervalMs)
          : estimate(trusted, looseMs, usualIntervalMs);
      offsetMs ??= target;
      const times: number[] = [];
      let atChainMs = beginMs;
      for (let i = 0; i < intervalsMs.length; i++) {
        const intervalMs = intervalsMs[i]!;
        atChainMs += intervalMs;
        const error = target - offsetMs;
        const step = (Math.abs(error) > farOffMs ? quickShare : slowShare) * intervalMs;
        offsetMs += Math.max(-step, Math.min(step, error));
        // No beat is later than its packet, and none before the one before it.
        const atMs = Math.min(atChainMs + offsetMs, arrivedAtMs - (chainMs - atChainMs));
        lastBeatMs = Math.max(lastBeatMs, atMs);
        times.push(lastBeatMs);
      }
      return times;
    },
  };
}

/** Packets from before a break and since, and the limits of the offset by the newer ones. */
function dividedAt(packets: readonly Packet[], since: number) {
  const known: Packet[] = [];
  const newer: Packet[] = [];
  let most = Number.POSITIVE_INFINITY;
  let least = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < packets.length; i++) {
    const packet = packets[i]!;
    if (packet.arrivedAtMs < since) {
      known.push(packet);
      continue;
    }
    most = Math.min(most, packet.most);
    // The first one's least is by the packet before the break.
    if (newer.length > 0) least = Math.max(least, packet.least);
    newer.push(packet);
  }
  return { known, newer, most, least: least - usualDelayMs };
}

/** Intervals were put in for missing beats, `movedMs` long together. In place: of a strap that loses beats it is done again and again. */
function bridgeEach(packets: readonly Packet[], movedMs: number): void {
  for (let i = 0; i < packets.length; i++) {
    const packet = packets[i]!;
    packet.most = packet.most + movedMs + bridgedDoubtMs;
    packet.least = packet.least + movedMs - bridgedDoubtMs;
  }
}

/** Those beyond the short window become older ones, and those beyond the long one are forgotten. */
function age(packets: Packet[], older: Packet[], nowMs: number): void {
  while (packets.length > mostPackets || nowMs - packets[0]!.arrivedAtMs > windowMs)
    older.push(packets.shift()!);
  while (older.length > 0 && nowMs - older[0]!.arrivedAtMs > longWindowMs) older.shift();
}

function addArrival(arrivals: number[], atMs: number): void {
  arrivals.push(atMs);
  while (arrivals.length > mostArrivals || atMs - arrivals[0]! > longWindowMs) arrivals.shift();
}

/** Room for one looseness at a time: it is asked for at every packet. */
const limitsRoom = new Float64Array(mostPackets);

/** How far apart packets place the offset: little where each is sent at a beat. */
function looseness(packets: readonly Packet[]): number {
  const limits = limitsRoom;
  // Sorted by putting each in its place: they are few.
  for (let i = 0; i < packets.length; i++) {
    const { most } = packets[i]!;
    let at = i;
    for (; at > 0 && limits[at - 1]! > most; at--) limits[at] = limits[at - 1]!;
    limits[at] = most;
  }
  // Three quarters of them, stretched to the whole: the few that were held up say nothing.
  return (limits[Math.floor(0.75 * (packets.length - 1))]! - limits[0]!) / 0.75;
}

/** A quarter of the way to `value`; `value` itself at first. */
const aQuarterTowards = (usual: number, value: number): number =>
  usual === 0 ? value : usual + 0.25 * (value - usual);

/** A twentieth of it nearer to `value` at most; `value` itself at first. */
const towards = (usual: number, value: number): number =>
  usual === 0 ? value : usual + Math.max(-0.05 * usual, Math.min(0.05 * usual, value - usual));

/**
 * The offset now as all limits of a long time speak for it together: of each pace that the strap's clock may have against ours,
 * and of each offset that the limits leave, as likely as the radio's delays make it; their mean. Where sendings fall anywhere
 * between two beats and delays up to `usualDelayMs` are alike, no other estimate is nearer on average.
 */
function weighed(packets: readonly Packet[], arrivals: readonly number[], usualIntervalMs: number): number {
  const nowMs = arrivals.at(-1)!;
  const limitsNow = limitsOf(packets, arrivals);
  let sum = 0;
  let weights = 0;
  const cut = cutMs / usualIntervalMs;
  for (const pace of [-paceStep, 0, paceStep, cut - paceStep, cut, cut + paceStep]) {
    const limits = limitsNow.map(({ arrivedAtMs, most, least, mostDoubtMs, leastDoubtMs }) => {
      const shift = pace * (nowMs - arrivedAtMs);
      return { most: most + shift, least: least + shift - leastDoubtMs, mostDoubtMs, leastDoubtMs };
    });
    const most = Math.min(...limits.map((each) => each.most));
    const least = Math.max(...limits.map((each) => each.least), most - usualIntervalMs - usualDelayMs);
    const width = (most - least) / weighedPoints;
    if (!(width > 0)) continue;
    for (let point = 0; point < weighedPoints; point += 1) {
      const offset = least + (point + 0.5) * width;
      let weight = width;
      for (const limit of limits)
        weight *=
          chanceOf(limit.most - offset, limit.mostDoubtMs) *
          chanceOf(offset - limit.least, limit.leastDoubtMs);
      sum += weight * offset;
      weights += weight;
    }
  }
  if (weights > 0) return sum / weights;
  const newest = packets.slice(-mostPackets);
  return estimate(newest, looseness(newest), usualIntervalMs);
}

interface Limits extends Pick<Packet, 'arrivedAtMs' | 'most' | 'least'> {
  /** How long the packet that sets the limit may have been under way. */
  readonly mostDoubtMs: number;
  readonly leastDoubtMs: number;
}
/** Where the strap sends by a clock, by when it sent instead of by when that arrived. */
function limitsOf(packets: readonly Packet[], arrivals: readonly number[]): readonly Limits[] {
  const delays = sendDelays(arrivals) ?? [];
  const delayOf = new Map(arrivals.map((at, i) => [at, delays[i] ?? null]));
  return packets.map(({ arrivedAtMs, previousArrivalMs, most, least }) => {
    const own = delayOf.get(arrivedAtMs) ?? null;
    const before = previousArrivalMs === undefined ? null : (delayOf.get(previousArrivalMs) ?? null);
    return {
      arrivedAtMs,
      most: most - (own ?? 0),
      least: least - (before ?? 0),
      mostDoubtMs: own === null ? usualDelayMs : clockedDelayMs,
      leastDoubtMs: before === null ? usualDelayMs : clockedDelayMs,
    };
  });
}

/** That a delay drawn alike from 0 to `doubtMs` leaves room for so much. */
const chanceOf = (roomMs: number, doubtMs: number): number => Math.min(1, Math.max(0, roomMs / doubtMs));

/** The offset that the limits of these packets, so far apart, speak for. */
function estimate(packets: readonly Packet[], looseMs: number, usualIntervalMs: number): number {
  let most = Number.POSITIVE_INFINITY;
  let least = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < packets.length; i++) {
    const packet = packets[i]!;
    most = Math.min(most, packet.most);
    least = Math.max(least, packet.least);
  }
  const count = packets.length;
  if (count < 4) return most;
  // The smallest of `count` draws lies above the bound by the spread over one less, on average.
  const spread = Math.min(looseMs, usualIntervalMs);
  const upper = most - spread / (count - 1);
  if (!(most - least < 0.6 * usualIntervalMs)) {
    // Sent at each beat, the packets agree. Where they do not, beats and packets happen to keep step.
    return spread < contradictionMs
      ? upper
      : Math.min(upper, (most + Math.max(least, most - usualIntervalMs)) / 2);
  }
  const lower = least + spread / (count - 1) - usualDelayMs / 2;
  return Math.min(most, (upper + Math.min(lower, most)) / 2);
}
