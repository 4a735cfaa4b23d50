// How fast and how far breathing swings a signal: the largest rhythm of heart rate (respiratory sinus arrhythmia) or of a
// pleth's baseline, after the spectral methods reviewed in Charlton PH et al., IEEE Rev Biomed Eng 2018;11:2-20.

export interface BreathingRhythm {
  readonly breathsPerMin: number;
  /** Peak to trough, in the unit of the values. */
  readonly swing: number;
}

/**
 * Rates looked for: from one breath in 14 s, as relaxed athletes breathe, to 36 a minute. Slower rhythms are the
 * circulation's own (Task Force 1996: below 0.04 Hz), though its slow wave near 0.1 Hz lies within and can mislead.
 */
const slowestHz = 0.07;
const fastestHz = 0.6;
const stepHz = 0.005;
/** A second rhythm this far off and this strong beside the first leaves it open which is breathing. Choices. */
const apartHz = 0.035;
const rivalShare = 0.6;
/** Least share of the band's power within reach of the rhythm; noise alone has less. A choice. */
const leastShare = 0.35;
/** Shorter stretches hold too few breaths, s. A choice. */
const shortestS = 25;

/** `values` evenly spaced, `perSecond` of them, none NaN. Undefined where no rhythm stands out. */
export function breathingRhythm(values: readonly number[], perSecond: number): BreathingRhythm | undefined {
  const n = values.length;
  if (n < shortestS * perSecond) {
    return undefined;
  }
  const level = trendFree(values);
  // Hann window; the amplitude of a sine is twice its transform over the window's sum.
  const window = level.map((_, i) => 0.5 - 0.5 * Math.cos((2 * Math.PI * (i + 0.5)) / n));
  const sum = window.reduce((total, w) => total + w, 0);
  const spectrum: { hz: number; power: number }[] = [];
  for (let hz = slowestHz; hz <= Math.min(fastestHz, 0.45 * perSecond) + 1e-9; hz += stepHz) {
    let re = 0;
    let im = 0;
    for (let i = 0; i < n; i++) {
      const angle = (2 * Math.PI * hz * i) / perSecond;
      re += window[i]! * level[i]! * Math.cos(angle);
      im += window[i]! * level[i]! * Math.sin(angle);
    }
    spectrum.push({ hz, power: (4 * (re * re + im * im)) / (sum * sum) });
  }
  const top = spectrum.reduce((best, one) => (one.power > best.power ? one : best));
  const edge = top === spectrum[0] || top === spectrum.at(-1);
  const all = spectrum.reduce((total, { power }) => total + power, 0);
  if (edge || !(top.power > 0)) {
    return undefined;
  }
  // A breath in is quicker than a breath out, so that twice and three times the rate belong to it.
  const belongs = (hz: number): boolean => [1, 2, 3].some((k) => Math.abs(hz - k * top.hz) <= apartHz);
  const near = spectrum.filter(({ hz }) => belongs(hz));
  const far = spectrum.filter(({ hz }) => !belongs(hz));
  const share = near.reduce((total, { power }) => total + power, 0) / all;
  const rival = far.reduce((most, { power }) => Math.max(most, power), 0);
  if (share < leastShare || rival > rivalShare * top.power) {
    return undefined;
  }
  return { breathsPerMin: 60 * top.hz, swing: 2 * Math.sqrt(top.power) };
}

/** Less the straight line of least squares. */
function trendFree(values: readonly number[]): number[] {
  const n = values.length;
  const middle = (n - 1) / 2;
  const mean = values.reduce((sum, value) => sum + value, 0) / n;
  let top = 0;
  let bottom = 0;
  values.forEach((value, i) => {
    top += (i - middle) * (value - mean);
    bottom += (i - middle) ** 2;
  });
  const slope = bottom > 0 ? top / bottom : 0;
  return values.map((value, i) => value - mean - slope * (i - middle));
}
