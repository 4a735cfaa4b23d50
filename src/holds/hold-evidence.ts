// What the signals of a stretch of time can say of holds at all, and how much they must say: beats and a pleth show
// breathing itself, a rate once a second and saturation only what follows from it.

import type { SecondRow } from '../signal/second-rows.ts';

/**
 * `breathing`: a chest band or the like, which shows it directly. `beats`: intervals from a strap. `pleth`: a waveform with
 * nearly every beat in it; `unsteadyPleth`: one that loses beats, as on a wrist that moves.
 * `rateAndSaturation`, `saturation`, `rate`: numbers once a second. `none`: too little of anything.
 */
export type EvidenceKind =
  | 'breathing'
  | 'beats'
  | 'pleth'
  | 'unsteadyPleth'
  | 'rateAndSaturation'
  | 'saturation'
  | 'rate'
  | 'none';

/** A signal counts as there from this share of the rows on. A choice. */
const mostRows = 0.8;
/** A pleth is steady while beats are found in this share of the rows. A choice. */
const steadyRows = 0.9;

/** What rows `from` to `to` - 1 rest on. `breathingTells`: false where a breathing channel is there and cannot tell. */
export function evidenceKindOf(
  rows: readonly SecondRow[],
  from = 0,
  to = rows.length,
  breathingTells = true,
): EvidenceKind {
  const signals = createSignalCount();
  for (let i = from; i < to; i++) signals.count(rows[i]!, 1);
  return signals.kind(breathingTells);
}

/** How many of some rows show which signal. */
export interface SignalCount {
  /** `times` 1: the row is one of them; -1: it is one no more. */
  count(row: SecondRow, times: 1 | -1): void;
  kind(breathingTells: boolean): EvidenceKind;
}

export function createSignalCount(): SignalCount {
  let rows = 0;
  let beats = 0;
  let rate = 0;
  let pulse = 0;
  let saturation = 0;
  let pleth = 0;
  let breathing = 0;
  return {
    count(row, times) {
      rows += times;
      if (row.heartRateSource === 'rr') beats += times;
      else if (row.heartRateSource === 'heartRate') rate += times;
      else if (row.heartRateSource === 'pulseRate') pulse += times;
      if (row.spo2Percent > 0) saturation += times;
      if (Number.isFinite(row.plethBreathing)) pleth += times;
      if (row.respiration !== undefined && Number.isFinite(row.respiration)) breathing += times;
    },
    kind(breathingTells) {
      const most = mostRows * rows;
      if (rows <= 0) return 'none';
      if (breathingTells && breathing >= most) return 'breathing';
      if (pleth >= most) return beats >= steadyRows * rows ? 'pleth' : 'unsteadyPleth';
      if (beats >= most) return 'beats';
      const someRate = beats + rate + pulse >= most;
      if (saturation >= most) return someRate && beats + rate > pulse ? 'rateAndSaturation' : 'saturation';
      return someRate ? 'rate' : 'none';
    },
  };
}

/** Kinds on which a hold is declared while it happens, from signals alone. */
export const carriesLiveDecision = (kind: EvidenceKind): boolean =>
  kind === 'breathing' || kind === 'beats' || kind === 'pleth';

/**
 * Log odds that a hold is there at all, from which on it is proposed to a person, and from which on it stands without
 * one. Chosen on the training half of the real people who breathe throughout and on simulated holds, so that false holds
 * stay under 2 in 20 h with beats and under 4 without (tests/training/README.md). `standsByFall`: where the saturation went as
 * in a hold (saturation-course.ts); chosen on the real people alone, who have no such fall beyond it. `standsAmongHolds`: the
 * same, beside another hold that stands by itself; chosen on the foreign generators (SIMULATED), for people who only breathe have none.
 */
interface NeededLogOdds {
  readonly proposed: number;
  readonly stands: number;
  readonly standsByFall?: number;
  readonly standsAmongHolds?: number;
}
export const neededLogOdds: Readonly<Record<EvidenceKind, NeededLogOdds>> = {
  breathing: { proposed: 0, stands: 0 },
  beats: { proposed: 0.5, stands: 1, standsAmongHolds: 0.5 },
  pleth: { proposed: 0, stands: 2.5, standsAmongHolds: 1 },
  unsteadyPleth: { proposed: 3, stands: Number.POSITIVE_INFINITY },
  rateAndSaturation: { proposed: 1, stands: 4.5, standsByFall: 2, standsAmongHolds: 1 },
  saturation: { proposed: 1, stands: 6.5, standsByFall: 2, standsAmongHolds: 1 },
  rate: { proposed: 3, stands: Number.POSITIVE_INFINITY },
  none: { proposed: 3, stands: Number.POSITIVE_INFINITY },
};
