// What one second of signal says for or against a hold, as log-likelihood ratios against quiet breathing.
// Shared by the live filter and the two-sided pass. Every number is from physiology or is a stated choice.

/** Logarithm of a Student t density with scale `scale` and `dof` degrees of freedom, less a constant. */
export function logStudent(value: number, scale: number, dof: number): number {
  const z = value / scale;
  return -Math.log(scale) - ((dof + 1) / 2) * Math.log1p((z * z) / dof);
}

const clamp = (value: number, low: number, high: number): number =>
  value < low ? low : Math.min(value, high);

/**
 * Hold lengths as a prior: log-normal around 75 s, wide enough for 10 s and 10 min alike. Published dry holds
 * run from 102 s (controls, 3.10) to 302 s (trained divers, 3.12); training tables use 15 to 240 s.
 */
const durationMedianS = 75;
const durationSigma = 1.0;
/** Shorter stillness than this is a pause or a swallow, not a hold. A choice. */
export const shortestHoldS = 8;
/** The longest hold the detector will believe. */
export const longestHoldS = 720;
/** Least breathing between two holds. A choice. */
export const shortestBreathingS = 8;
/** Holds begin about once in this many seconds of breathing, before anything is known. A choice. */
export const breathingMeanS = 300;

/** Log density of a hold of `seconds`, per second. */
export function logDurationDensity(seconds: number): number {
  if (seconds < shortestHoldS || seconds > longestHoldS) {
    return Number.NEGATIVE_INFINITY;
  }
  const z = (Math.log(seconds) - Math.log(durationMedianS)) / durationSigma;
  return -0.5 * z * z - Math.log(seconds * durationSigma * Math.sqrt(2 * Math.PI));
}

/** Complement of the error function after Abramowitz & Stegun 7.1.26 (error below 1.5e-7). */
export function normalTail(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  const t = 1 / (1 + 0.3275911 * x);
  const poly =
    t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
  const half = 0.5 * poly * Math.exp(-x * x);
  return z >= 0 ? half : 1 - half;
}

/** Probability that a hold that has lasted `seconds` ends in the next second. */
export function endHazard(seconds: number): number {
  if (seconds < shortestHoldS) {
    return 0;
  }
  if (seconds >= longestHoldS) {
    return 1;
  }
  const survival = normalTail((Math.log(seconds) - Math.log(durationMedianS)) / durationSigma);
  return Math.min(1, Math.exp(logDurationDensity(seconds)) / Math.max(survival, 1e-9));
}

/** Spread of a signal's in-band part while breathing and while holding, and how much to trust the difference. */
export interface ModulationScale {
  readonly breathing: number;
  readonly holding: number;
}

/**
 * A second of respiratory modulation. In-band samples one second apart are about two thirds independent
 * (bandwidth near 0.35 Hz), hence the weight. Bounded, so no single second decides.
 */
export function modulationEvidence(value: number, scale: ModulationScale, weight = 0.65): number {
  const ratio = logStudent(value, scale.holding, 6) - logStudent(value, scale.breathing, 5);
  return weight * clamp(ratio, -4, 1.6);
}

/**
 * A second of heart-rate level against the rate before the hold, `holdSeconds` into it. In a hold the rate falls
 * by about 14 /min within 30 s (3.02), in some people not at all (3.10), and may rise at first (3.08); it does
 * not stay far above. `spread` is how much the person's rate wanders at rest, as a fraction.
 * Neighbouring seconds say nearly the same, hence the small weight.
 */
export function levelEvidence(fraction: number, holdSeconds: number, spread: number): number {
  const breathing = Math.exp(logStudent(fraction, spread, 4)) * 0.37 + 0.15;
  const ramp = clamp((holdSeconds - 4) / 22, 0, 1);
  const still = Math.exp(logStudent(fraction, spread * 0.9, 6)) * 0.38 + 0.02;
  // Uniform fall between +4 % and -40 %.
  const fallen = fraction < 0.04 && fraction > -0.42 ? 1 / 0.46 : 0.02;
  const early = fraction < 0.6 && fraction > -0.35 ? 1 / 0.95 : 0.02;
  const holding = ramp * (0.55 * still + 0.45 * fallen) + (1 - ramp) * (0.5 * still + 0.5 * early) + 0.01;
  const ratio = Math.log(holding / breathing);
  // Past the first half minute a resting hold's rate is at or near rest (3.02, 3.10): well above is exercise.
  if (fraction > 0.16 && ramp === 1) {
    return 0.6 * clamp(-8 * (fraction - 0.1), -2, 0);
  }
  return 0.12 * clamp(ratio, -3, 2);
}

/**
 * The jump of heart rate that the first breaths bring: mean of the seconds after less mean of the seconds before.
 * Control rate is regained in about 5 s (3.09), so a rise of many beats in a few seconds marks an end.
 */
export function riseEvidence(riseBpm: number, restlessnessBpm: number): number {
  const scale = Math.max(1.2, restlessnessBpm);
  const no = Math.exp(logStudent(riseBpm, scale, 4)) * 0.37;
  const rise = riseBpm > 0 ? Math.exp(-0.5 * ((riseBpm - 10) / 7) ** 2) / (7 * 2.5066) : 0;
  return clamp(Math.log((0.35 * no + 0.65 * rise + 1e-4) / (no + 1e-4)), -1.2, 5);
}
