// The oxygen and carbon-dioxide stores of one person, second by second: lungs, arterial and venous blood, tissues,
// what the finger shows. Holds and breathing alternate; the model is deterministic and has no noise.

import { fixedBohrFactor, po2At, saturationAt } from './dissociation.ts';
import {
  alveolarPo2,
  btpsToStpd,
  dissolvedMlPerDlPerMmHg,
  huefnerMlPerGram,
  lungMlPerLitrePerMmHg,
  oxygenFractionOfAir,
  phPerPco2MmHg,
} from './gas-equations.ts';
import type { OxygenParameters } from './oxygen-parameters.ts';

/** One second of the course. Percent, mmHg. */
export interface StoreState {
  readonly arterialPercent: number;
  /** What a finger oximeter without noise and rounding would show. */
  readonly readingPercent: number;
  readonly alveolarPo2MmHg: number;
  readonly alveolarPco2MmHg: number;
  readonly arterialPh: number;
  readonly lungVolumeL: number;
}

/** Barometric pressure at sea level; the model knows no altitude. */
const barometricMmHg = 760;
/** Dive response builds up over about 30 s (Perini 2008, reference 3.02): time constant 10 s. */
const diveTimeConstantS = 10;
/** Arterial blood reaches the tissues after about 8 s (our choice; of little effect). */
const transitS = 8;
/** ml of CO2 per litre of blood per mmHg near 45 mmHg, both from reference 2.28 (slope about 4.5, from memory). */
const bloodCo2MlPerLPerMmHg = 4.5;
/** Resting lung volume while breathing, litres (textbook FRC, lying; from memory). */
const restingLungL = 2.6;
/** Extra alveolar breathing for each mmHg of PCO2 above rest, L/min: 2 when complete (textbook, from memory), half in so short a time (our choice). */
const ventilationPerMmHg = 1;
/** Three or four deep breaths after a hold: alveolar ventilation L/min for so many seconds (common practice, no source). */
const firstBreathsLPerMin = 18;
const firstBreathsS = 10;

/** The person as a running model; `step` goes on by one second. */
export class StoreModel {
  readonly #p: OxygenParameters;
  #lungL = restingLungL;
  #po2: number;
  #pco2: number;
  #tissuePco2: number;
  #venousContent: number;
  #holdS = -1;
  #breathS = 1_000;
  readonly #transit: number[] = [];
  readonly #finger: number[] = [];

  /** Begins in quiet breathing at rest. */
  constructor(parameters: OxygenParameters) {
    this.#p = parameters;
    this.#pco2 = parameters.restingPco2MmHg;
    this.#po2 = this.#airPo2(this.#pco2);
    // Mixed venous PCO2 stands above arterial by the CO2 made over what a litre of blood carries.
    this.#tissuePco2 = this.#pco2 + this.#vco2() / (parameters.cardiacOutputLPerMin * bloodCo2MlPerLPerMmHg);
    const arterial = this.#endCapillaryContent();
    this.#venousContent = arterial - this.#vo2Rest() / (parameters.cardiacOutputLPerMin * 10);
    for (let second = 0; second < transitS; second++) this.#transit.push(arterial);
    for (let second = 0; second < 120; second++) this.step(false);
    this.#breathS = 1_000;
  }

  /**
   * Goes on by one second. `holding` true keeps the airway closed, and the first such second fills the lungs, or
   * empties them, to `lungVolumeL` (the person's full ones when left out).
   */
  step(holding: boolean, lungVolumeL: number = this.#p.lungVolumeL): StoreState {
    const p = this.#p;
    if (holding && this.#holdS < 0) this.#fillLungs(lungVolumeL);
    // The first breath after a hold lets the lungs back to their resting volume.
    if (!holding && this.#holdS >= 0) this.#lungL = restingLungL;
    this.#holdS = holding ? this.#holdS + 1 : -1;
    this.#breathS = holding ? 0 : this.#breathS + 1;

    const response = this.#holdS < 0 ? 0 : 1 - Math.exp(-this.#holdS / diveTimeConstantS);
    const saved = p.diveResponseFraction * response;
    // Output falls about as uptake does, so that the arterio-venous difference stays (our choice).
    const flowLPerS = (p.cardiacOutputLPerMin * (1 - saved)) / 60;
    const vo2PerS = (this.#vo2Rest() * (1 - saved)) / 60;
    const vco2PerS = (this.#vco2() * (1 - saved)) / 60;

    // Lungs: exchange with blood, and with the air while breathing.
    const capillary = this.#endCapillaryContent();
    const oxygenOutMl = flowLPerS * 10 * (1 - p.shuntFraction) * (capillary - this.#venousContent);
    const co2InMl = flowLPerS * bloodCo2MlPerLPerMmHg * (this.#tissuePco2 - this.#pco2);
    const capacity = lungMlPerLitrePerMmHg * this.#lungL;
    if (holding) {
      // Gas leaves and the lung shrinks, which concentrates what remains (Otis, Rahn & Fenn 1948, reference 2.14).
      const oxygenMl = capacity * this.#po2 - oxygenOutMl;
      const co2Ml = capacity * this.#pco2 + co2InMl;
      this.#lungL = Math.max(1, this.#lungL - (oxygenOutMl - co2InMl) / (1000 * btpsToStpd));
      const newCapacity = lungMlPerLitrePerMmHg * this.#lungL;
      this.#po2 = Math.max(1, oxygenMl / newCapacity);
      this.#pco2 = co2Ml / newCapacity;
    } else {
      const perSecond = this.#ventilationLPerMin() / 60 / this.#lungL;
      const fresh = 1 - Math.exp(-perSecond);
      this.#po2 += -oxygenOutMl / capacity + fresh * (oxygenFractionOfAir * 713 - this.#po2);
      this.#pco2 += co2InMl / capacity - fresh * this.#pco2;
    }

    // Blood: arterial after the shunt, then tissues after the transit.
    const arterialContent = capillary - p.shuntFraction * (capillary - this.#venousContent);
    this.#transit.push(arterialContent);
    const atTissues = this.#transit.shift()!;
    const venousDl = p.bloodVolumeL * 0.75 * 10;
    this.#venousContent += (flowLPerS * 10 * (atTissues - this.#venousContent) - vo2PerS) / venousDl;
    this.#tissuePco2 += (vco2PerS - co2InMl) / p.co2StoreMlPerMmHg;

    const arterial = this.#saturationOf(arterialContent);
    const kept = Math.ceil(p.lagS + p.averagingS) + 2;
    this.#finger.push(arterial);
    if (this.#finger.length > kept) this.#finger.shift();
    return {
      arterialPercent: 100 * arterial,
      readingPercent: Math.min(100, 100 * this.#fingerMean() + p.readingOffsetPercent),
      alveolarPo2MmHg: this.#po2,
      alveolarPco2MmHg: this.#pco2,
      arterialPh: this.#ph(),
      lungVolumeL: this.#lungL,
    };
  }

  /** Saturation of mixed venous blood now. */
  get venousPercent(): number {
    return 100 * this.#saturationOf(this.#venousContent);
  }

  #vo2Rest(): number {
    return this.#p.metabolicRateMlPerMin;
  }

  #vco2(): number {
    return this.#p.metabolicRateMlPerMin * this.#p.respiratoryQuotient;
  }

  #airPo2(pco2: number): number {
    return alveolarPo2({
      inspiredOxygenFraction: oxygenFractionOfAir,
      barometricMmHg,
      alveolarPco2MmHg: pco2,
      respiratoryQuotient: this.#p.respiratoryQuotient,
    });
  }

  /** Alveolar ventilation: what keeps PCO2 at rest, more when it is high, and deep breaths at first after a hold. */
  #ventilationLPerMin(): number {
    // 863 mmHg turns ml STPD per L BTPS into a pressure (alveolar ventilation equation, textbook).
    const needed = (0.863 * this.#vco2()) / this.#p.restingPco2MmHg;
    const extra = ventilationPerMmHg * Math.max(0, this.#pco2 - this.#p.restingPco2MmHg);
    const first = this.#breathS < firstBreathsS ? firstBreathsLPerMin : 0;
    return Math.max(first, needed + extra);
  }

  /** The last breath before a hold: air fills the lungs from their resting volume, or gas leaves them. */
  #fillLungs(target: number): void {
    if (target > this.#lungL) {
      const air = target - this.#lungL;
      this.#po2 = (this.#po2 * this.#lungL + oxygenFractionOfAir * 713 * air) / target;
      this.#pco2 = (this.#pco2 * this.#lungL) / target;
    }
    this.#lungL = target;
  }

  #ph(): number {
    return 7.4 + phPerPco2MmHg * (this.#pco2 - 40);
  }

  /** Content of blood leaving the lungs, ml/dl. */
  #endCapillaryContent(): number {
    const shifted = this.#po2 * 10 ** (-fixedBohrFactor * (this.#ph() - 7.4));
    return (
      huefnerMlPerGram * this.#p.haemoglobinGPerDl * saturationAt(shifted) +
      dissolvedMlPerDlPerMmHg * this.#po2
    );
  }

  /** Saturation of blood with this content: dissolved oxygen is small, so two rounds settle it. */
  #saturationOf(contentMlPerDl: number): number {
    const full = huefnerMlPerGram * this.#p.haemoglobinGPerDl;
    let saturation = Math.min(0.999, Math.max(0.01, contentMlPerDl / full));
    for (let round = 0; round < 2; round++) {
      const dissolved = dissolvedMlPerDlPerMmHg * Math.min(po2At(saturation), 150);
      saturation = Math.min(0.999, Math.max(0.01, (contentMlPerDl - dissolved) / full));
    }
    return saturation;
  }

  /** Mean over the averaging time of what left the lungs so long ago that the lowest reading comes after `lagS`. */
  #fingerMean(): number {
    const p = this.#p;
    const newest = this.#finger.length - 1;
    // The window's newest sample is `lagS` old: the reading is then lowest `lagS` after the first breath.
    const last = newest - Math.round(p.lagS);
    const count = Math.max(1, Math.round(p.averagingS));
    let sum = 0;
    for (let index = last; index > last - count; index--) sum += this.#finger[Math.max(0, index)]!;
    return sum / count;
  }
}
