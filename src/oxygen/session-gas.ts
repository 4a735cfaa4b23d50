// Carbon dioxide at the end of holds that were held, by the model of plan previews over a recording's holds and pauses.
// Model, not measured.

import type { HoldLungs, MarkKind } from '../../shared/schema-parts.ts';
import { createLungsSaid } from './lungs-said.ts';
import type { AthleteOxygen } from './oxygen-parameters.ts';
import { endPco2InSteps, type PreviewBand, type PreviewSegment } from './plan-preview.ts';

export interface HeldSpan {
  readonly startMs: number;
  readonly endMs: number;
}

export interface SaidMark {
  readonly kind: MarkKind;
  readonly atMs: number;
}

/** Quiet breathing before the first hold that the model is given, s; it has found its rest before. */
const leadS = 60;

export const kpaPerMmHg = 0.133322;

const lungsOfMark: Readonly<Partial<Record<MarkKind, HoldLungs>>> = {
  lungsFull: 'full',
  lungsHalf: 'half',
  lungsEmptied: 'emptied',
};

/**
 * Alveolar PCO2 at the end of each hold, mmHg, in the order of `holds` (in time order, none over another). `marks` tell
 * how full the lungs were, where somebody said. Yields on the way, so that a page can draw and sound between.
 */
export function* endPco2OfHolds(
  holds: readonly HeldSpan[],
  marks: readonly SaidMark[],
  person: AthleteOxygen,
): Generator<undefined, PreviewBand[]> {
  const first = holds[0];
  if (first === undefined) return [];
  const second = (ms: number): number => Math.round(ms / 1_000);
  const lungs = lungsOfHolds(holds, marks);
  const segments: PreviewSegment[] = [];
  let reachedS = second(first.startMs) - leadS;
  holds.forEach(({ startMs, endMs }, index) => {
    const startS = Math.max(reachedS, second(startMs));
    // The model goes by the second: a hold has one at least.
    const endS = Math.max(startS + 1, second(endMs));
    const said = lungs[index];
    segments.push(
      { kind: 'recovery', durationMs: 1_000 * (startS - reachedS) },
      { kind: 'hold', durationMs: 1_000 * (endS - startS), ...(said !== undefined && { lungs: said }) },
    );
    reachedS = endS;
  });
  return yield* endPco2InSteps(segments, person);
}

function lungsOfHolds(holds: readonly HeldSpan[], marks: readonly SaidMark[]): (HoldLungs | undefined)[] {
  const ordered = [...marks].sort((a, b) => a.atMs - b.atMs);
  const said = createLungsSaid();
  let heard = 0;
  return holds.map(({ startMs, endMs }) => {
    while (heard < ordered.length && ordered[heard]!.atMs <= endMs) {
      const { kind, atMs } = ordered[heard]!;
      const lungs = lungsOfMark[kind];
      if (lungs !== undefined) said.say(atMs, lungs);
      heard += 1;
    }
    const lungs = said.of(startMs, endMs);
    said.ended(endMs);
    return lungs;
  });
}
