// How full the lungs are when a hold begins: for each state the gas in them, the oxygen pressure they begin with, and
// how often people choose it when nobody says.

import type { HoldLungs } from '../../shared/schema-parts.ts';

export interface LungState {
  /** Gas in the lungs when the airway closes, litres BTPS. */
  readonly volumeL: number;
  /** Standard deviation among people, as a share of the volume. */
  readonly relativeSpread: number;
  /** Alveolar PO2 when the airway closes, mmHg. */
  readonly startPo2MmHg: number;
  /** One standard deviation of the start of the fall, from starting pressure and readiness, seconds. */
  readonly readinessSpreadS: number;
  /** Readings before this many seconds are mostly old blood and count less. */
  readonly earlyS: number;
  /** How well the curves follow such falls in a hold that only its fall names, against their error in general. Our choice, after the benches. */
  readonly errorFactor: number;
  /** How much wronger than for full lungs the slope of such a curve may be: the fall is so much steeper. Our choice, after the benches. */
  readonly slopeErrorFactor: number;
  /** Share of holds, while this athlete's own habit is not known. Our choice: emptied ones are counted for more than they are held, being found too late. */
  readonly share: number;
  readonly source: string;
}

export const lungStates: Readonly<Record<HoldLungs, LungState>> = {
  full: {
    volumeL: 6.3,
    relativeSpread: 0.17,
    startPo2MmHg: 125,
    readinessSpreadS: 8,
    earlyS: 35,
    errorFactor: 1,
    slopeErrorFactor: 1,
    share: 0.65,
    source: 'TLC 6-8 L (reference 2.29); alveolar PO2 126 at 7 L (2.10); 8 s is about 4 mmHg at 0.45 mmHg/s',
  },
  half: {
    volumeL: 4,
    relativeSpread: 0.22,
    startPo2MmHg: 115,
    readinessSpreadS: 6,
    earlyS: 28,
    errorFactor: 1.05,
    slopeErrorFactor: 1.4,
    share: 0.2,
    source: 'between FRC 2.4 L (reference 2.29) and TLC; 60 % of FVC and RV is about 4 L (3.13)',
  },
  emptied: {
    volumeL: 2,
    relativeSpread: 0.25,
    startPo2MmHg: 103,
    readinessSpreadS: 4,
    earlyS: 20,
    errorFactor: 1.3,
    slopeErrorFactor: 1.8,
    share: 0.15,
    source:
      '2 L lie between RV 1.2-1.5 L (textbook, from memory), more in large lungs, and FRC lying 2.0-2.4 L (reference 2.10, 2.29); alveolar PO2 of quiet to deep breathing on air (2.03, 2.04)',
  },
};

export const holdLungs: readonly HoldLungs[] = ['full', 'half', 'emptied'];
