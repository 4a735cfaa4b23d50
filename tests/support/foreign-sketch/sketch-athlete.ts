// Foreign generator 2 (SIMULATED): sessions put together from published curves and random processes, in samples. Breaths
// are a renewal process, beats a recursion, saturation a closed curve: nothing in common with foreign generator 1 but the
// stream of chance, and no sight of the detector, the forecast, or the other simulators.

import type { Channel } from '../../../shared/schema-parts.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';
import { type Chance, chanceFrom } from '../scoring/chance.ts';
import {
  type AthleteFactory,
  type AthleteOptions,
  latestKeeping,
  type SessionKind,
} from '../scoring/living-athlete.ts';
import type { Lungs, TrueHold } from '../scoring/scored-session.ts';
import {
  chestAt,
  courseOf,
  displayedReading,
  holdTrendBpm,
  lowestReadingOf,
  type SketchBreath,
  type SketchHold,
} from './sketch-curves.ts';
import { drawSketchPerson } from './sketch-person.ts';

type Manner = 'quiet' | 'paced' | 'talking' | 'walking' | 'large';

/** One line of a session: how long to breathe in which manner, then perhaps a hold by a share of what is tolerable. */
interface Line {
  readonly manner: Manner;
  readonly breatheS: number;
  readonly restless: boolean;
  readonly holdShare: number | undefined;
}

function linesOf(kind: SessionKind, chance: Chance): Line[] {
  const line = (manners: readonly Manner[], low: number, high: number, holdShare?: number): Line => {
    const manner = chance.oneOf(manners);
    return {
      manner,
      breatheS: chance.range(low, high),
      restless: manner === 'walking' || chance.happens(kind === 'messy' ? 0.45 : 0.08),
      holdShare,
    };
  };
  const calm = ['quiet', 'quiet', 'paced'] as const;
  const anything = ['quiet', 'talking', 'talking', 'walking', 'paced', 'large'] as const;
  switch (kind) {
    case 'noHolds':
      return Array.from({ length: 16 }, () => line(anything, 50, 130));
    case 'maximal':
      return [
        line(calm, 100, 200, chance.range(0.5, 0.7)),
        line(calm, 150, 260, chance.range(0.9, 1.1)),
        ...(chance.happens(0.6) ? [line(calm, 200, 300, chance.range(0.95, 1.12))] : []),
        line(calm, 180, 240),
      ];
    case 'table': {
      const share = chance.range(0.42, 0.65);
      return [
        line(calm, 90, 150, share),
        ...Array.from({ length: 7 }, (_, i) => line(calm, 118 - 14 * i, 122 - 14 * i, share)),
        line(calm, 100, 140),
      ];
    }
    case 'interval':
      return [
        line(calm, 90, 150, 0.5),
        ...Array.from({ length: 4 }, () => line(calm, 40, 90, chance.range(0.4, 0.75))),
        line(anything, 100, 140),
      ];
    case 'beginner':
      return [
        ...Array.from({ length: 6 }, () =>
          line(['quiet', 'quiet', 'talking', 'large'], 40, 120, chance.range(0.2, 0.6)),
        ),
        line(['quiet', 'talking'], 80, 120),
      ];
    case 'messy':
      return [
        ...Array.from({ length: 6 }, () => line(anything, 50, 170, chance.range(0.3, 0.85))),
        line(anything, 100, 200),
      ];
  }
}

/** Time to the next breath and its size; a usual breath is 1. */
function nextBreathAfter(manner: Manner, perMin: number, paceS: number, chance: Chance) {
  switch (manner) {
    case 'quiet': {
      const meanS = 60 / perMin;
      let gapS = meanS * Math.exp(chance.gauss(0, 0.16));
      // A sigh every few minutes is twice a breath and more, and often followed by a pause (from memory).
      if (chance.happens(gapS / 280)) return { gapS: gapS + chance.range(0, 7), size: chance.range(2, 3.2) };
      if (chance.happens(gapS / 80)) gapS += chance.range(0.8, 2.2);
      return { gapS, size: Math.exp(chance.gauss(0, 0.22)) };
    }
    case 'paced':
      return { gapS: paceS * chance.gauss(1, 0.03), size: chance.gauss(2, 0.15) };
    case 'talking':
      return {
        gapS: chance.range(1.8, 5) + (chance.happens(0.35) ? chance.range(1, 7) : 0),
        size: chance.range(0.5, 2),
      };
    case 'walking':
      return { gapS: chance.gauss(2.7, 0.25), size: chance.gauss(1.8, 0.3) };
    case 'large':
      return { gapS: chance.gauss(5, 0.8), size: chance.gauss(2.8, 0.4) };
  }
}

export const sketchAthlete: AthleteFactory = (options: AthleteOptions) => {
  const first = chanceFrom(options.seed * 15_485_863 + 101);
  const person = drawSketchPerson(first, options.kind);
  const chance =
    options.visit === undefined
      ? first
      : chanceFrom(options.seed * 15_485_863 + 101 + 1_000_003 * options.visit);
  const lines = linesOf(options.kind, chance);
  const { kit } = options;
  const has = {
    beats: kit.startsWith('beats'),
    heartRate: !kit.startsWith('oximetry'),
    oximeter: kit !== 'beats only',
    pleth: kit.endsWith('pleth'),
  };
  const drawn: SketchHold[] = [];
  const truths: TrueHold[] = [];
  let breaths: SketchBreath[] = [];
  let nowS = 0;
  let lineIndex = -1;
  let line: Line | undefined;
  let isHolding = false;
  let untilS = 0;
  let nextBreathS = 1;
  let pushesFromS = Number.POSITIVE_INFINITY;
  let paceS = 12;
  let beatS = chance.range(0, 1);
  let lastRrMs = 60_000 / person.meanBpm;
  let wander = 0;
  let effortBpm = 0;
  let smoothBpm = person.meanBpm;
  let pulseBpm = person.meanBpm;
  let clippedUntilS = 0;
  let dip = { untilS: 0, depth: 0 };
  let readingNoise = 0;
  let plethS = 0;
  const beatTimes: number[] = [];
  let unsent: PipelineEvent[] = [];

  /** Nobody plans more than seven minutes, but who means to go beyond the floor must be able to. */
  const longestS = options.beyondFloorPercent === undefined ? 420 : 660;

  function startLine(): void {
    lineIndex += 1;
    line = lines[lineIndex];
    if (line === undefined) return;
    paceS = chance.range(9.8, 15.5);
    untilS = nowS + line.breatheS;
  }
  startLine();

  const safeHoldS = (floorPercent: number): number =>
    latestKeeping(600, floorPercent, (heldS) => lowestReadingOf(person, drawn, drawn.at(-1)!.startS + heldS));

  function startHold(share: number): void {
    const lungs = options.lungs ?? chance.oneOf<Lungs>(['full', 'full', 'half', 'emptied']);
    const walks = options.kind === 'messy' && chance.happens(0.2);
    drawn.push({ startS: nowS, stopS: undefined, lungs, walks });
    const tolerableS = safeHoldS(options.kind === 'maximal' ? chance.range(70, 84) : 86);
    const wishedS =
      options.beyondFloorPercent === undefined
        ? share * tolerableS
        : safeHoldS(options.beyondFloorPercent) + chance.range(15, 45);
    const forS = Math.round(Math.max(12, Math.min(longestS, wishedS)));
    untilS = nowS + forS;
    pushesFromS = nowS + chance.range(0.5, 0.9) * Math.max(forS, 0.8 * tolerableS);
    isHolding = true;
    // The breath before it: in to fill, or out to empty.
    breaths.push({
      atS: nowS - 0.8,
      size: lungs === 'emptied' ? -0.8 : lungs === 'half' ? 1 : 2.6,
      widthS: 1.6,
    });
  }

  function stopHold(): void {
    const hold = drawn.at(-1)!;
    hold.stopS = nowS;
    isHolding = false;
    truths.push({
      startMs: hold.startS * 1_000,
      endMs: nowS * 1_000,
      lungs: hold.lungs,
      lowestSpo2Percent: lowestReadingOf(person, drawn, nowS),
    });
    breaths.push({ atS: nowS + 1.3, size: 2.6, widthS: 0.8 });
    nextBreathS = nowS + 3;
    startLine();
  }

  function breatheUntil(endS: number): void {
    while (nextBreathS < endS) {
      if (isHolding) {
        // Involuntary movements look like small, quick breaths.
        if (nextBreathS > pushesFromS)
          breaths.push({ atS: nextBreathS, size: chance.range(0.1, 0.55), widthS: 0.5 });
        nextBreathS += chance.range(1.5, 5.5);
        continue;
      }
      const sinceStopS = nextBreathS - (drawn.at(-1)?.stopS ?? -1_000);
      const manner = sinceStopS < 25 ? 'walking' : (line?.manner ?? 'quiet');
      const { gapS, size } = nextBreathAfter(manner, person.breathsPerMin, paceS, chance);
      breaths.push({ atS: nextBreathS + 0.35 * gapS, size, widthS: Math.max(0.5, 0.24 * Math.min(gapS, 9)) });
      nextBreathS += Math.max(1.2, gapS);
    }
    breaths = breaths.filter((b) => b.atS > endS - 25);
  }

  const sampleOf = (channel: Channel, atS: number, value: number): PipelineEvent => ({
    type: 'sample',
    sample: {
      channel,
      atMs: monotonicMs(Math.max(0, Math.round(atS * 1_000))),
      value,
      sensorId: channel === 'rrIntervalMs' || channel === 'heartRateBpm' ? 'strap' : 'oximeter',
      quality: 'good',
      reasons: [],
    },
  });

  function beatsUntil(endS: number, out: PipelineEvent[]): void {
    while (beatS < endS) {
      const wantedEffort = line?.manner === 'walking' && !isHolding ? 30 : line?.manner === 'talking' ? 6 : 0;
      effortBpm += (wantedEffort - effortBpm) * 0.04;
      const trend = Math.max(30, person.meanBpm + effortBpm + holdTrendBpm(person, drawn.at(-1), beatS));
      wander += -0.05 * wander + chance.gauss(0, 0.3 * person.wanderMs);
      const waves = person.slowWavesMs.reduce(
        (sum, { hz, ms, phase }) => sum + ms * Math.sin(2 * Math.PI * hz * beatS + phase),
        0,
      );
      // Inspiration shortens the interval, with a beat's delay.
      const breath = person.arrhythmiaMs * Math.min(2.2, chestAt(breaths, beatS - 0.7));
      const rrMs = Math.max(320, 60_000 / trend + waves + wander - breath + chance.gauss(0, 4));
      beatS += rrMs / 1_000;
      lastRrMs = rrMs;
      beatTimes.push(beatS);
      if (beatTimes.length > 10) beatTimes.shift();
      if (!has.beats || beatS < clippedUntilS) continue;
      const odd = line?.restless === true && !isHolding ? 0.04 : 0.002;
      if (chance.happens(odd)) {
        // A missed beat makes one long interval; a spurious one splits it.
        if (chance.happens(0.5)) continue;
        const part = chance.range(0.3, 0.7);
        out.push(sampleOf('rrIntervalMs', beatS - (1 - part) * (rrMs / 1_000), part * rrMs));
        out.push(sampleOf('rrIntervalMs', beatS, (1 - part) * rrMs));
      } else out.push(sampleOf('rrIntervalMs', beatS, Math.round((rrMs * 1_024) / 1_000) / 1.024));
    }
  }

  function oximeterAt(atS: number, out: PipelineEvent[]): void {
    const restless = line?.restless === true && !isHolding;
    readingNoise += -0.15 * readingNoise + chance.gauss(0, 0.15);
    if (restless && atS > dip.untilS && chance.happens(0.025))
      dip = { untilS: atS + chance.range(2, 12), depth: chance.range(1, 16) };
    if (chance.happens(restless ? 0.004 : 0.000_5)) clippedUntilS = atS + chance.range(3, 25);
    if (atS < clippedUntilS || chance.happens(0.004)) return;
    const shown = displayedReading(person, drawn, atS) + readingNoise - (atS < dip.untilS ? dip.depth : 0);
    const rounded = Math.round(shown / person.displayStep) * person.displayStep;
    out.push(sampleOf('spo2Percent', atS, Math.min(100, Math.round(rounded * 10) / 10)));
    out.push(sampleOf('pulseRateBpm', atS, Math.round(pulseBpm)));
  }

  /** Pulses as sums of bumps over the phase of a beat, at 30 Hz, riding on the chest. */
  function plethUntil(endS: number, out: PipelineEvent[]): void {
    for (; plethS < endS; plethS += 1 / 30) {
      const begun = beatTimes.filter((b) => b <= plethS - 0.2);
      const from = begun.at(-1);
      if (from === undefined) continue;
      const angle = ((plethS - 0.2 - from) / (lastRrMs / 1_000)) * 2 * Math.PI - 1.6;
      const pulse = Math.exp(-0.5 * (angle / 0.55) ** 2) + 0.42 * Math.exp(-0.5 * ((angle - 1.9) / 0.7) ** 2);
      const chest = chestAt(breaths, plethS - 0.3);
      const restless = line?.restless === true && !isHolding;
      const value =
        120 * pulse * (1 - 0.05 * chest) -
        14 * chest +
        chance.gauss(0, restless ? 22 : 1.6) +
        8 * Math.sin(0.21 * plethS);
      out.push(sampleOf('pleth', plethS, Math.round(value * 100) / 100));
    }
  }

  return {
    conditions: {
      kind: options.kind,
      sensors: kit,
      arrhythmia: person.arrhythmiaBpm < 2.5 ? 'little' : 'usual',
      ...(options.lungs !== undefined && { lungs: options.lungs }),
    },
    get nowMs() {
      return nowS * 1_000;
    },
    get isOver() {
      return line === undefined;
    },
    get hold() {
      const last = drawn.at(-1);
      return isHolding ? { startMs: last!.startS * 1_000, lungs: last!.lungs } : undefined;
    },
    holds: truths,
    live() {
      const out: PipelineEvent[] = [];
      if (line === undefined) return out;
      if (nowS >= untilS) {
        if (isHolding) stopHold();
        else if (line.holdShare !== undefined) startHold(line.holdShare);
        else startLine();
      }
      nowS += 1;
      breatheUntil(nowS + 1);
      beatsUntil(nowS, out);
      smoothBpm += (60_000 / lastRrMs - smoothBpm) / person.strapSmoothingS;
      pulseBpm += (60_000 / lastRrMs - pulseBpm) / 6;
      if (has.heartRate && nowS >= clippedUntilS && !chance.happens(0.003))
        out.push(sampleOf('heartRateBpm', nowS - 0.4, Math.round(smoothBpm)));
      if (has.oximeter) oximeterAt(nowS - 0.1, out);
      if (has.pleth) plethUntil(nowS - 0.05, out);
      // The last beat may end past this second, and the pulse wave lags a little: what is later waits for the next one.
      const untilMs = nowS * 1_000 - 100;
      const all = [...unsent, ...out].sort((a, b) => timeOf(a) - timeOf(b));
      unsent = all.filter((event) => timeOf(event) > untilMs);
      return all.filter((event) => timeOf(event) <= untilMs);
    },
    breatheNow() {
      if (isHolding) stopHold();
    },
    latestSafeStopMs: (floorPercent) => Math.round((drawn.at(-1)!.startS + safeHoldS(floorPercent)) * 1_000),
    courseOfHold: (untilPercent) => courseOf(person, drawn, untilPercent),
  };
};

const timeOf = (event: PipelineEvent): number => (event.type === 'sample' ? event.sample.atMs : 0);
