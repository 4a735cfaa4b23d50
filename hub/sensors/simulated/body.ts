// The truth under the simulated signals: breathing, gas exchange, circulation and heart rate, in steps of 0.1 s.
// Written apart from src/ on purpose and sharing nothing with it: it scores the detector and the oxygen model.

import type { PersonParameters } from './person.ts';
import { SeededRandom } from './seeded-random.ts';
import type { HoldLungs } from './session-script.ts';

export const stepMs = 100;
const stepSeconds = stepMs / 1000;
const stepMinutes = stepMs / 60_000;

/** Sea level; water vapour at 37 degrees (textbook). */
const barometricMmHg = 760;
const dryMmHg = barometricMmHg - 47;
/** ml STPD in one litre BTPS at 1 mmHg: 1000 / 863 (textbook conversion). */
const mlPerLitreMmHg = 1000 / 863;
const inspiredO2Fraction = 0.2093;
/** Huefner number and solubility (textbook; reference 2.06), in ml/l. */
const o2PerHaemoglobinGram = 1.34;
const dissolvedO2MlPerLitreMmHg = 0.03;
/** Slope of the blood CO2 curve, ml/l/mmHg, and quick CO2 store of the body, ml/mmHg/kg (reference 2.12, memory). */
const bloodCo2Slope = 4.7;
const quickCo2StorePerKg = 0.85;
const deadSpaceL = 0.15;
/** Mixing volume of the left heart, in litres (textbook order of magnitude). */
const leftHeartL = 0.3;

/**
 * Saturation (0 to 1) after Kelman 1966 (J Appl Physiol 21:1375) at 37 degrees. Below 10 mmHg the quartic goes
 * negative and a quadratic stands in (from memory).
 */
export function kelmanSaturation(po2MmHg: number, ph: number, pco2MmHg: number): number {
  const shifted =
    po2MmHg * 10 ** (0.4 * (ph - 7.4) + 0.06 * (Math.log10(40) - Math.log10(Math.max(1, pco2MmHg))));
  if (shifted < 10) return Math.max(0, 0.003683 * shifted + 0.000584 * shifted * shifted);
  const x = shifted;
  return (
    (x * (x * (x * (x - 67.073989) + 2121.401) - 8532.2289)) /
    (x * (x * (x * (x - 67.104406) + 2396.1674) - 31346.258) + 935960.87)
  );
}

/** Respiratory acidosis of blood: -0.07 for +10.2 mmHg in 35 s (Sasse 1996, reference 2.20). */
const phOf = (pco2MmHg: number): number => 7.4 - 0.0072 * (pco2MmHg - 40);

interface BreathLeg {
  readonly fromL: number;
  readonly toL: number;
  readonly durationS: number;
  elapsedS: number;
}

/** What the person is doing; `closing` is the last breath, `holding` the closed airway. */
export type Activity = 'rest' | 'prepare' | 'closing' | 'holding' | 'recover' | 'walk' | 'talk';

/**
 * One body in time. Everything needed to go on from here is in it, so that a clone answers "what if breathing began
 * now" without touching the original.
 */
export class Body {
  readonly person: PersonParameters;
  #random: SeededRandom;
  activity: Activity = 'rest';
  /** Seconds since the activity began. */
  activityS = 0;
  walkingHold = false;

  // Lungs: amounts in ml STPD.
  lungVolumeL: number;
  #o2Ml: number;
  #co2Ml: number;
  #n2Ml: number;
  #legs: BreathLeg[] = [];
  #inspiredThisBreathL = 0;
  #endExpiredO2 = 0.14;
  #endExpiredCo2 = 0.056;
  #recoveryBreaths = 0;
  /** Number of breaths begun since the start. */
  breathCount = 0;

  // Blood.
  arterialSaturation = 0.975;
  #venousO2MlPerL: number;
  #tissuePco2: number;
  #arterialPoolO2MlPerL: number;
  alveolarPo2MmHg = 100;
  alveolarPco2MmHg = 40;
  cardiacOutputLPerMin: number;

  // Finger: arterial saturation in the pipe from the lungs, then dispersion.
  #pipe = new Float64Array(700);
  #pipeAt = 0;
  fingerSaturation = 0.975;
  fingerDelayMs: number;

  // Heart rate.
  heartRateBpm: number;
  #volumeTrendL: number;
  #dive = 0;
  #phaseThree = 0;
  #debt = 0;
  #overshoot = 0;
  #effort = 0;
  #arousal = 0;
  #anticipation = 0;
  #slowPhase: number;
  #slowAmplitude = 1;
  #drift = 0;
  #contractionRipple = 0;

  // Contractions.
  contractionsBegunS = -1;
  #nextContractionS = 0;
  #contractionOnsetAboveMmHg: number;

  constructor(person: PersonParameters, random: SeededRandom) {
    this.person = person;
    this.#random = random;
    this.lungVolumeL = person.functionalResidualL;
    const total = this.lungVolumeL * mlPerLitreMmHg * dryMmHg;
    this.#o2Ml = total * (100 / dryMmHg);
    this.#co2Ml = total * (person.restingPco2MmHg / dryMmHg);
    this.#n2Ml = total - this.#o2Ml - this.#co2Ml;
    this.cardiacOutputLPerMin = person.restingCardiacOutputLPerMin;
    const arterial = this.#contentOf(0.975, 95);
    this.#arterialPoolO2MlPerL = arterial;
    this.#venousO2MlPerL = arterial - person.restingVo2MlPerMin / person.restingCardiacOutputLPerMin;
    this.#tissuePco2 = person.restingPco2MmHg + 7;
    this.#pipe.fill(0.975);
    this.fingerDelayMs = person.lungToFingerMs;
    this.heartRateBpm = person.restingHeartRateBpm;
    this.#volumeTrendL = this.lungVolumeL;
    this.#slowPhase = random.next();
    this.#contractionOnsetAboveMmHg = person.contractionPco2MmHg;
  }

  /** An independent body that goes on from exactly here. */
  clone(): Body {
    // The constructor draws from its generator, so the copy gets the true one afterwards.
    const copy = new Body(this.person, new SeededRandom(0));
    copy.#random = this.#random.clone();
    copy.activity = this.activity;
    copy.activityS = this.activityS;
    copy.walkingHold = this.walkingHold;
    copy.lungVolumeL = this.lungVolumeL;
    copy.#o2Ml = this.#o2Ml;
    copy.#co2Ml = this.#co2Ml;
    copy.#n2Ml = this.#n2Ml;
    copy.#legs = this.#legs.map((leg) => ({ ...leg }));
    copy.#inspiredThisBreathL = this.#inspiredThisBreathL;
    copy.#endExpiredO2 = this.#endExpiredO2;
    copy.#endExpiredCo2 = this.#endExpiredCo2;
    copy.#recoveryBreaths = this.#recoveryBreaths;
    copy.breathCount = this.breathCount;
    copy.arterialSaturation = this.arterialSaturation;
    copy.#venousO2MlPerL = this.#venousO2MlPerL;
    copy.#tissuePco2 = this.#tissuePco2;
    copy.#arterialPoolO2MlPerL = this.#arterialPoolO2MlPerL;
    copy.alveolarPo2MmHg = this.alveolarPo2MmHg;
    copy.alveolarPco2MmHg = this.alveolarPco2MmHg;
    copy.cardiacOutputLPerMin = this.cardiacOutputLPerMin;
    copy.#pipe = this.#pipe.slice();
    copy.#pipeAt = this.#pipeAt;
    copy.fingerSaturation = this.fingerSaturation;
    copy.fingerDelayMs = this.fingerDelayMs;
    copy.heartRateBpm = this.heartRateBpm;
    copy.#volumeTrendL = this.#volumeTrendL;
    copy.#dive = this.#dive;
    copy.#phaseThree = this.#phaseThree;
    copy.#debt = this.#debt;
    copy.#overshoot = this.#overshoot;
    copy.#effort = this.#effort;
    copy.#arousal = this.#arousal;
    copy.#anticipation = this.#anticipation;
    copy.#slowPhase = this.#slowPhase;
    copy.#slowAmplitude = this.#slowAmplitude;
    copy.#drift = this.#drift;
    copy.#contractionRipple = this.#contractionRipple;
    copy.contractionsBegunS = this.contractionsBegunS;
    copy.#nextContractionS = this.#nextContractionS;
    copy.#contractionOnsetAboveMmHg = this.#contractionOnsetAboveMmHg;
    return copy;
  }

  /** True while air moves: the airway is closed only in `holding`. */
  get breathing(): boolean {
    return this.activity !== 'holding';
  }

  setActivity(activity: Exclude<Activity, 'closing' | 'holding'>): void {
    this.activity = activity;
    this.activityS = 0;
    this.walkingHold = false;
  }

  /** Begins the last breath; the hold itself begins when it has been taken. */
  beginHold(lungs: HoldLungs, walking: boolean): void {
    const person = this.person;
    this.activity = 'closing';
    this.activityS = 0;
    this.walkingHold = walking;
    const from = this.lungVolumeL;
    if (lungs === 'full') {
      const empty = person.functionalResidualL - 0.5 * (person.functionalResidualL - person.residualVolumeL);
      const full = person.totalLungCapacityL * person.holdFillFraction;
      this.#legs = [
        { fromL: from, toL: empty, durationS: 2.3, elapsedS: 0 },
        { fromL: empty, toL: full, durationS: 3.2, elapsedS: 0 },
      ];
    } else if (lungs === 'partial') {
      const filled = person.functionalResidualL + 0.25 * person.totalLungCapacityL;
      this.#legs = [{ fromL: from, toL: Math.max(from, filled), durationS: 1.8, elapsedS: 0 }];
    } else {
      this.#legs = [{ fromL: from, toL: person.functionalResidualL, durationS: 1.8, elapsedS: 0 }];
    }
    this.#inspiredThisBreathL = 0;
  }

  /** Opens the airway: breathes out, then some deep breaths. */
  endHold(): void {
    this.activity = 'recover';
    this.activityS = 0;
    this.walkingHold = false;
    this.#legs = [
      {
        fromL: this.lungVolumeL,
        toL: this.person.functionalResidualL,
        durationS: this.#random.between(0.9, 1.6),
        elapsedS: 0,
      },
    ];
    this.#recoveryBreaths = 3 + Math.floor(this.#random.next() * 5);
    this.contractionsBegunS = -1;
  }

  /**
   * Goes on by 0.1 s. Returns `contraction` when one begins in this step, `closed` when the airway has just closed.
   */
  step(): 'contraction' | 'closed' | undefined {
    this.activityS += stepSeconds;
    let happened: 'contraction' | 'closed' | undefined;
    if (this.activity === 'holding') {
      happened = this.#stepContractions();
    } else if (this.#breathe()) {
      happened = 'closed';
    }
    this.#exchangeGas();
    this.#stepHeart();
    this.#stepFinger();
    return happened;
  }

  /** True when a maximal hold would end here. */
  get atBreakingPoint(): boolean {
    return (
      this.alveolarPco2MmHg >= this.person.contractionPco2MmHg + this.person.contractionToleranceMmHg ||
      this.arterialSaturation * 100 <= this.person.breakingSaturationPercent
    );
  }

  #contentOf(saturation: number, po2MmHg: number): number {
    return (
      o2PerHaemoglobinGram * 10 * this.person.haemoglobinGPerDl * saturation +
      dissolvedO2MlPerLitreMmHg * po2MmHg
    );
  }

  /** Moves along the current leg of breath; returns true when the last breath is in and the airway closes. */
  #breathe(): boolean {
    let leg = this.#legs[0];
    if (leg === undefined) {
      this.#planBreath();
      leg = this.#legs[0]!;
    }
    leg.elapsedS += stepSeconds;
    const part = Math.min(1, leg.elapsedS / leg.durationS);
    const target = leg.fromL + (leg.toL - leg.fromL) * 0.5 * (1 - Math.cos(Math.PI * part));
    this.#moveAir(target);
    if (part < 1) return false;
    this.#legs.shift();
    if (this.activity === 'closing' && this.#legs.length === 0) {
      this.activity = 'holding';
      this.activityS = 0;
      this.contractionsBegunS = -1;
      this.#contractionOnsetAboveMmHg = this.person.contractionPco2MmHg + 0.7 * this.#random.normal();
      return true;
    }
    return false;
  }

  #planBreath(): void {
    const person = this.person;
    const random = this.#random;
    const resting = person.functionalResidualL;
    this.breathCount += 1;
    this.#inspiredThisBreathL = 0;
    // Drive: about 2 l/min more for each mmHg (textbook), less when low.
    const drive = Math.max(
      0.65,
      Math.min(2.6, 1 + 0.28 * (this.alveolarPco2MmHg - person.restingPco2MmHg - 1)),
    );
    let rate = person.breathsPerMin;
    let demand = 1;
    let variation = person.breathVariation;
    if (this.activity === 'prepare') {
      rate *= 0.62;
      demand = person.readyingVentilationFactor;
    } else if (this.activity === 'walk') {
      rate *= 1.5;
      demand = 2.6;
    } else if (this.activity === 'talk') {
      rate *= 0.8;
      demand = 1.15;
      variation = Math.max(0.3, 2 * variation);
    } else if (this.activity === 'recover' && this.activityS < 40) {
      rate *= 1.25;
    }
    const co2Production = person.restingVo2MlPerMin * person.respiratoryQuotient;
    const alveolarLPerMin = (0.863 * co2Production) / person.restingPco2MmHg;
    let durationS = (60 / rate) * Math.exp(variation * random.normal());
    let tidalL =
      (deadSpaceL + (alveolarLPerMin / rate) * demand * drive) * Math.exp(variation * random.normal());
    let inspiredPart = this.activity === 'talk' ? 0.22 : 0.4;
    if (this.#recoveryBreaths > 0) {
      // Hook breaths and their kin: deep and quick at first (common practice, no source).
      tidalL = (person.totalLungCapacityL - resting) * random.between(0.45, 0.75);
      durationS = random.between(2.2, 3.6);
      inspiredPart = 0.45;
      this.#recoveryBreaths -= 1;
    } else if (random.chance((person.sighsPerHour / 3600) * durationS)) {
      tidalL *= 2.6;
      durationS *= 1.5;
    }
    tidalL = Math.min(tidalL, (person.totalLungCapacityL - resting) * 0.95);
    durationS = Math.max(1.6, Math.min(20, durationS));
    this.#legs = [
      { fromL: this.lungVolumeL, toL: resting + tidalL, durationS: durationS * inspiredPart, elapsedS: 0 },
      { fromL: resting + tidalL, toL: resting, durationS: durationS * (1 - inspiredPart), elapsedS: 0 },
    ];
  }

  /** Lets air in or out until the lungs hold `targetL`; the first 0.15 l in are the last gas breathed out. */
  #moveAir(targetL: number): void {
    const gasMl = this.#o2Ml + this.#co2Ml + this.#n2Ml;
    const wantedMl = targetL * mlPerLitreMmHg * dryMmHg;
    const flowMl = wantedMl - gasMl;
    if (flowMl >= 0) {
      const flowL = flowMl / (mlPerLitreMmHg * dryMmHg);
      const staleL = Math.min(flowL, Math.max(0, deadSpaceL - this.#inspiredThisBreathL));
      const stale = flowL > 0 ? staleL / flowL : 0;
      this.#inspiredThisBreathL += flowL;
      const o2 = stale * this.#endExpiredO2 + (1 - stale) * inspiredO2Fraction;
      const co2 = stale * this.#endExpiredCo2;
      this.#o2Ml += flowMl * o2;
      this.#co2Ml += flowMl * co2;
      this.#n2Ml += flowMl * (1 - o2 - co2);
    } else {
      const kept = wantedMl / gasMl;
      this.#endExpiredO2 = this.#o2Ml / gasMl;
      this.#endExpiredCo2 = this.#co2Ml / gasMl;
      this.#o2Ml *= kept;
      this.#co2Ml *= kept;
      this.#n2Ml *= kept;
      this.#inspiredThisBreathL = 0;
    }
    this.lungVolumeL = targetL;
  }

  #exchangeGas(): void {
    const person = this.person;
    const gasMl = this.#o2Ml + this.#co2Ml + this.#n2Ml;
    if (this.activity === 'holding') this.lungVolumeL = gasMl / (mlPerLitreMmHg * dryMmHg);
    const po2 = (this.#o2Ml / gasMl) * dryMmHg;
    const pco2 = (this.#co2Ml / gasMl) * dryMmHg;
    this.alveolarPo2MmHg = po2;
    this.alveolarPco2MmHg = pco2;
    const ph = phOf(pco2);
    const output = this.cardiacOutputLPerMin;

    let vo2 = person.restingVo2MlPerMin * (1 - person.vo2FallFraction * this.#dive);
    vo2 *= 1 + 2.2 * this.#effort + 0.12 * this.#debt;
    if (this.contractionsBegunS >= 0) vo2 *= 1.05;
    const vco2 = vo2 * person.respiratoryQuotient;

    // Lungs: blood leaves in equilibrium but for a shunt.
    const capillarySaturation = kelmanSaturation(po2, ph, pco2);
    const capillaryContent = this.#contentOf(capillarySaturation, po2);
    const shunt = person.shuntFraction;
    const o2FluxMl = output * (1 - shunt) * (capillaryContent - this.#venousO2MlPerL) * stepMinutes;
    this.#o2Ml = Math.max(1, this.#o2Ml - o2FluxMl);
    const venousSaturation = Math.max(
      0.02,
      (this.#venousO2MlPerL - dissolvedO2MlPerLitreMmHg * 40) /
        (o2PerHaemoglobinGram * 10 * person.haemoglobinGPerDl),
    );
    const leavingSaturation = (1 - shunt) * capillarySaturation + shunt * venousSaturation;
    this.arterialSaturation +=
      (leavingSaturation - this.arterialSaturation) * Math.min(1, (output / leftHeartL) * stepMinutes);

    // Body: a small arterial pool, then one venous pool from which the tissues draw.
    const arterialContent = this.#contentOf(this.arterialSaturation, po2 * (1 - 2 * shunt));
    const arterialPoolL = 0.13 * person.bloodVolumeL;
    const venousPoolL = 0.8 * person.bloodVolumeL;
    this.#arterialPoolO2MlPerL +=
      ((arterialContent - this.#arterialPoolO2MlPerL) * output * stepMinutes) / arterialPoolL;
    this.#venousO2MlPerL = Math.max(
      3,
      this.#venousO2MlPerL +
        ((output * (this.#arterialPoolO2MlPerL - this.#venousO2MlPerL) - vo2) * stepMinutes) / venousPoolL,
    );

    // CO2: one quick store behind the lungs.
    const co2FluxMl = output * bloodCo2Slope * (this.#tissuePco2 - pco2) * stepMinutes;
    this.#co2Ml = Math.max(1, this.#co2Ml + co2FluxMl);
    this.#tissuePco2 += (vco2 * stepMinutes - co2FluxMl) / (quickCo2StorePerKg * person.massKg);
  }

  #stepContractions(): 'contraction' | undefined {
    if (this.alveolarPco2MmHg < this.#contractionOnsetAboveMmHg) return undefined;
    if (this.contractionsBegunS < 0) {
      this.contractionsBegunS = this.activityS;
      this.#nextContractionS = this.activityS;
    }
    if (this.activityS < this.#nextContractionS) return undefined;
    // From about one in 12 s to one in 3 s over a minute and a half (common practice, no source).
    const since = this.activityS - this.contractionsBegunS;
    const interval = Math.max(2.5, 12 - since * 0.1) * Math.exp(0.2 * this.#random.normal());
    this.#nextContractionS = this.activityS + interval;
    this.#contractionRipple = this.#random.between(0.3, 1);
    return 'contraction';
  }

  #stepHeart(): void {
    const person = this.person;
    const random = this.#random;
    const holding = this.activity === 'holding';
    const toward = (value: number, target: number, timeConstantS: number): number =>
      value + (target - value) * Math.min(1, stepSeconds / timeConstantS);

    // Diving response: grows from a few seconds into the hold, goes within seconds of breathing.
    if (holding) {
      if (this.activityS > 4)
        this.#dive = toward(this.#dive, this.walkingHold ? 0.7 : 1, person.diveTimeConstantMs / 1000);
    } else if (this.activity !== 'closing') {
      this.#dive = toward(this.#dive, 0, person.recoveryTimeConstantMs / 1000);
    }
    if (holding && (this.contractionsBegunS >= 0 || this.arterialSaturation < 0.95)) {
      this.#phaseThree = Math.min(1.3, this.#phaseThree + stepSeconds / 100);
    } else if (!holding) {
      this.#phaseThree = toward(this.#phaseThree, 0, person.recoveryTimeConstantMs / 1000);
    }
    // Recovery: overshoot soon after the first breaths, oxygen debt for a minute.
    const justBreathing = this.activity === 'recover' && this.activityS < 12;
    this.#overshoot = toward(this.#overshoot, justBreathing ? 1 : 0, justBreathing ? 4 : 18);
    if (holding) this.#debt = Math.min(1, this.#debt + stepSeconds / 120);
    else this.#debt = toward(this.#debt, 0, 50);
    // Effort, arousals, anticipation.
    const walking =
      this.activity === 'walk' || (this.walkingHold && (holding || this.activity === 'closing'));
    const effort = walking ? 1 : this.activity === 'talk' ? 0.1 : 0;
    this.#effort = toward(this.#effort, effort, effort > this.#effort ? 14 : 28);
    if (
      (this.activity === 'rest' || this.activity === 'prepare') &&
      random.chance((person.arousalsPerHour / 3600) * stepSeconds)
    ) {
      this.#arousal = random.between(0.4, 1);
    }
    this.#arousal = toward(this.#arousal, 0, 9);
    const anticipating = this.activity === 'prepare' || this.activity === 'closing';
    this.#anticipation = toward(this.#anticipation, anticipating ? 1 : 0, 25);

    // Slow wave near 0.1 Hz with wandering amplitude, and drift over minutes.
    this.#slowPhase += stepSeconds * 0.095 * (1 + 0.15 * random.normal());
    this.#slowAmplitude = toward(this.#slowAmplitude, 1 + 12 * random.normal(), 30);
    this.#drift += (-this.#drift / 70) * stepSeconds + 0.05 * random.normal() * Math.sqrt(stepSeconds);
    const slowWave =
      person.slowWaveAmplitudeBpm * this.#slowAmplitude * Math.sin(2 * Math.PI * this.#slowPhase);

    // Respiratory sinus arrhythmia follows volume above its own trend, so a long held breath loses it.
    this.#volumeTrendL = toward(this.#volumeTrendL, this.lungVolumeL, 5);
    const volume = this.lungVolumeL - this.#volumeTrendL;
    const breathingSwing = 2.2 * person.rsaAmplitudeBpm * Math.tanh(1.5 * volume);
    const t = this.activityS / 4;
    const onset = holding && this.activityS < 40 ? person.onsetTachycardiaBpm * t * Math.exp(1 - t) : 0;
    this.#contractionRipple = toward(this.#contractionRipple, 0, 1.2);

    const resting = person.restingHeartRateBpm;
    const slowed =
      resting *
      (1 - person.diveFallFraction * this.#dive) *
      (1 - person.phaseThreeFallFraction * this.#phaseThree);
    this.heartRateBpm = Math.max(
      28,
      slowed +
        this.#drift * resting * 0.1 +
        slowWave +
        breathingSwing * (walking ? 0.4 : 1) +
        onset +
        3.5 * this.#contractionRipple +
        36 * this.#effort +
        11 * this.#arousal +
        person.anticipationBpm * this.#anticipation * (1 - this.#dive) +
        person.recoveryOvershootBpm * this.#overshoot,
    );
    // Output follows rate; large lungs keep some blood from the heart (textbook; size from memory).
    const fullLungs = holding ? Math.max(0, (this.lungVolumeL - person.functionalResidualL) / 4) : 0;
    const wanted =
      person.restingCardiacOutputLPerMin * (this.heartRateBpm / resting) * (1 - 0.1 * Math.min(1, fullLungs));
    this.cardiacOutputLPerMin = toward(this.cardiacOutputLPerMin, wanted, 3);
  }

  #stepFinger(): void {
    const person = this.person;
    this.#pipeAt = (this.#pipeAt + 1) % this.#pipe.length;
    this.#pipe[this.#pipeAt] = this.arterialSaturation;
    // Less output and narrowed vessels lengthen the way to the finger (reference 3.24: inverse to output).
    const wanted =
      person.lungToFingerMs *
      (person.restingCardiacOutputLPerMin / this.cardiacOutputLPerMin) ** 0.8 *
      (1 + 0.15 * this.#dive);
    this.fingerDelayMs +=
      (Math.max(5_000, Math.min(40_000, wanted)) - this.fingerDelayMs) * (stepSeconds / 6);
    const steps = this.fingerDelayMs / stepMs;
    const whole = Math.floor(steps);
    const size = this.#pipe.length;
    const newer = this.#pipe[(this.#pipeAt - whole + size) % size]!;
    const older = this.#pipe[(this.#pipeAt - whole - 1 + size) % size]!;
    const arriving = newer + (older - newer) * (steps - whole);
    this.fingerSaturation += (arriving - this.fingerSaturation) * (stepSeconds / 2);
  }

  /** 0 at rest, 1 with the diving response complete: narrows the vessels of the finger. */
  get diveResponse(): number {
    return this.#dive;
  }

  /** 0 at rest, 1 when walking. */
  get effort(): number {
    return this.#effort;
  }
}
