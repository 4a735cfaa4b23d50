// Who a drawn person is: numbers of published curves (shared/reference) with their spread, no physiology behind them.

import type { Chance } from '../scoring/chance.ts';
import { drawArrhythmiaBpm } from '../scoring/drawn-arrhythmia.ts';
import type { SessionKind } from '../scoring/living-athlete.ts';
import type { Lungs } from '../scoring/scored-session.ts';

export interface FallOfSaturation {
  /** Seconds of hold before the arterial fall, and its slope in %/s once it falls. */
  readonly onsetS: number;
  readonly slopePercentPerS: number;
}

export interface SketchPerson {
  readonly restingSaturation: number;
  readonly falls: Readonly<Record<Lungs, FallOfSaturation>>;
  readonly recoveryTauS: number;
  /** Weights of arterial saturation 0, 1, 2 ... s ago in what the finger's oximeter shows. */
  readonly displayKernel: readonly number[];
  readonly displayStep: number;
  readonly meanBpm: number;
  /** Rise of the heart rate by a usual breath, and the shortening of an interval that it is. */
  readonly arrhythmiaBpm: number;
  readonly arrhythmiaMs: number;
  readonly slowWavesMs: readonly { readonly hz: number; readonly ms: number; readonly phase: number }[];
  readonly wanderMs: number;
  readonly breathsPerMin: number;
  /** Rise just after the last breath in (3.08), fall within 30 s (3.02), further fall for 100 s (3.04), /min. */
  readonly earlyRiseBpm: number;
  readonly firstFallBpm: number;
  readonly lateFallBpm: number;
  readonly overshootBpm: number;
  readonly strapSmoothingS: number;
}

/** The way to the finger (8 to 25 s, 3.19 to 3.26), its spread, and the oximeter's averaging, as one kernel by seconds. */
function drawKernel(chance: Chance): number[] {
  const transportS = Math.round(chance.range(6, 22));
  const spreadS = chance.range(1.5, 4);
  const averagingS = chance.oneOf([2, 4, 4, 8, 12, 16]);
  const kernel = new Array<number>(transportS + 40).fill(0);
  for (let a = 0; a < averagingS; a++)
    for (let j = 0; j < 22; j++) kernel[transportS + a + j]! += j ** 2 * Math.exp(-j / (spreadS / 2));
  const total = kernel.reduce((sum, w) => sum + w, 0);
  return kernel.map((w) => w / total);
}

export function drawSketchPerson(chance: Chance, kind: SessionKind): SketchPerson {
  const trained = kind === 'maximal' || (kind !== 'beginner' && chance.happens(0.4));
  // No change for 100 to 140 s at the finger, then 0.11 to 0.16 %/s and up to three times that (3.05, 3.11, 3.30).
  const onsetS = trained ? chance.range(75, 150) : chance.range(35, 85);
  const slope = chance.range(0.09, 0.28);
  const meanBpm = chance.range(47, 86);
  const arrhythmiaBpm = drawArrhythmiaBpm(chance);
  return {
    restingSaturation: chance.range(96, 99.4),
    falls: {
      full: { onsetS, slopePercentPerS: slope },
      // 60 % of vital capacity: 3 to 6 % lost within 45 s of hold (3.13).
      half: { onsetS: onsetS * chance.range(0.4, 0.62), slopePercentPerS: slope * chance.range(1.1, 1.6) },
      // From resting volume and below: 95, 90, 84 % after 22, 38, 51 s (2.29); 50 mmHg lost in 35 s (2.20).
      emptied: {
        onsetS: Math.min(chance.range(9, 26), 0.4 * onsetS),
        slopePercentPerS: chance.range(0.25, 0.52),
      },
    },
    recoveryTauS: chance.range(3, 9),
    displayKernel: drawKernel(chance),
    displayStep: chance.happens(0.8) ? 1 : 0.1,
    meanBpm,
    arrhythmiaBpm,
    arrhythmiaMs: (arrhythmiaBpm * 60_000) / meanBpm ** 2,
    slowWavesMs: Array.from({ length: 5 }, () => ({
      hz: chance.range(0.02, 0.12),
      ms: chance.range(3, 28),
      phase: chance.range(0, 6.28),
    })),
    wanderMs: chance.range(8, 40),
    breathsPerMin: chance.range(7, 19),
    earlyRiseBpm: chance.range(0, 12),
    firstFallBpm: chance.happens(0.3) ? chance.range(-2, 2) : chance.range(4, 0.34 * meanBpm),
    lateFallBpm: chance.happens(0.55) ? chance.range(4, 16) : chance.range(-8, 2),
    overshootBpm: chance.range(0, 16),
    strapSmoothingS: chance.range(1.5, 8),
  };
}
