// Who a simulated person is: lungs, blood, heart and habits, drawn wide around published group values.

import type { Chance } from '../scoring/chance.ts';
import { drawArrhythmiaBpm } from '../scoring/drawn-arrhythmia.ts';
import type { SessionKind } from '../scoring/living-athlete.ts';
import type { GasPerson } from './gas-body.ts';

export interface AlveolarPerson {
  readonly gas: GasPerson;
  readonly restingRatePerMin: number;
  /** Rise of the heart rate within a breath at rest. */
  readonly arrhythmiaBpm: number;
  /** Heart rate's answer to lung volume, /min per litre, below the corner frequency. */
  readonly arrhythmiaBpmPerL: number;
  /** One-pole corner of that answer: 7.2 ± 1.5 cycles/min, 21 dB a decade (Hirsch and Bishop 1981). */
  readonly arrhythmiaTauS: number;
  readonly restingBpm: number;
  /** Share of the resting rate by which a hold slows the heart: 0 in many dry holds (reference 3.02, 3.10). */
  readonly slowing: number;
  readonly slowingTauS: number;
  /** /min for each per cent of saturation lost below 94: phase III, in 11 of 20 (3.04). */
  readonly hypoxicSlowing: number;
  /** /min by which the heart hurries as the urge to breathe mounts; beginners. */
  readonly struggleBpm: number;
  readonly mayerBpm: number;
  readonly driftBpm: number;
  readonly ectopicShare: number;
  /** Involuntary breathing movements begin at this share of the tolerable hold (3.17, 3.18). */
  readonly contractionsFrom: number;
  /** Lung to finger at the resting rate, s (3.23 to 3.27). */
  readonly circulationS: number;
  readonly fingerTauS: number;
  readonly averagingS: number;
  readonly readingBias: number;
  readonly readsTenths: boolean;
}

export function drawPerson(chance: Chance, kind: SessionKind): AlveolarPerson {
  const trained = kind === 'maximal' || (kind !== 'beginner' && chance.happens(0.5));
  const totalLungL = chance.range(trained ? 5.6 : 4.6, trained ? 8.8 : 7);
  const residualL = totalLungL * chance.range(0.2, 0.28);
  const mass = chance.range(52, 95);
  const arrhythmiaBpm = drawArrhythmiaBpm(chance);
  const restingRatePerMin = chance.range(8, 18);
  const cornerPerMin = chance.gauss(7.2, 1.2);
  // What a usual breath of this person swings, undone of the filter: gain in /min per litre.
  const usualBreathL = 0.15 + 4.4 / restingRatePerMin;
  const arrhythmiaBpmPerL = (arrhythmiaBpm * Math.hypot(1, restingRatePerMin / cornerPerMin)) / usualBreathL;
  return {
    gas: {
      totalLungL,
      residualL,
      restingL: residualL + (totalLungL - residualL) * chance.range(0.25, 0.36),
      deadSpaceMl: chance.range(110, 170),
      haemoglobinGPerDl: chance.range(12.5, 16.5),
      venousStoreL: 0.055 * mass,
      oxygenUseMlPerMin: mass * (trained ? chance.range(2.3, 3.4) : chance.range(2.9, 3.7)),
      outputLPerMin: mass * chance.range(0.065, 0.085),
      shunt: chance.range(0.005, 0.03),
      saving: trained ? chance.range(0.1, 0.4) : chance.range(0, 0.1),
    },
    restingRatePerMin,
    arrhythmiaBpm,
    arrhythmiaBpmPerL,
    arrhythmiaTauS: 60 / (2 * Math.PI * cornerPerMin),
    restingBpm: chance.range(48, 84),
    slowing: chance.happens(0.25) ? 0 : chance.range(0.05, trained ? 0.32 : 0.2),
    slowingTauS: chance.range(6, 16),
    hypoxicSlowing: chance.happens(0.55) ? chance.range(0.3, 1.2) : 0,
    struggleBpm: trained ? chance.range(0, 4) : chance.range(0, 14),
    mayerBpm: chance.range(0.6, 3.5),
    driftBpm: chance.range(0.8, 3.5),
    ectopicShare: chance.happens(0.15) ? chance.range(0.003, 0.015) : 0,
    contractionsFrom: trained ? chance.range(0.45, 0.65) : chance.range(0.7, 0.9),
    circulationS: chance.range(9, 20),
    fingerTauS: chance.range(1.5, 5),
    averagingS: chance.oneOf([3, 4, 8, 8, 12, 16]),
    readingBias: chance.gauss(0, 1),
    readsTenths: chance.happens(0.2),
  };
}
