// A breathing channel second by second: its mean, how it moved within, and whether it is on a body at all. A sensor that lies on
// a table is as still as a held breath; what it lacks is the heart, and the small stir of somebody alive.

/** One second of a breathing channel, in its own unit; NaN where it is not known. */
export interface BreathingSecond {
  readonly respiration: number;
  /** Of the means of its two halves, so that quick breaths show. */
  readonly respirationLow: number;
  readonly respirationHigh: number;
}

export interface BreathingSeconds {
  push(atMs: number, value: number): void;
  /** The second that ends at `rowMs`; undefined until the channel has ever come. */
  takeUntil(rowMs: number): BreathingSecond | undefined;
}

const unknown: BreathingSecond = {
  respiration: Number.NaN,
  respirationLow: Number.NaN,
  respirationHigh: Number.NaN,
};

/** Fewer samples than this in a second show no stir within it. Our choice. */
const leastSamples = 8;
/** How long the stir is watched to say that the sensor is off, and to know what is usual. Our choices. */
const watchedRows = 6;
const usualRows = 300;
const knownAfterRows = 20;
/**
 * Off the body: the stir within seconds is under this share of what the quieter quarter of this person's seconds has. Checked
 * on airway pressure in real pauses of 10 to 20 s, where it stays above (tests/core/holds/breathing-real.test.ts). Our choice.
 */
const offShare = 0.3;

/** Seconds whose means differ by more than so many stirs move with a breath: the usual stir was that of somebody walking. */
const movingStirs = 4;

/** Bounded memory. Deterministic. */
export function createBreathingSeconds(): BreathingSeconds {
  let points: { atMs: number; value: number }[] = [];
  let everCame = false;
  const worn = createWornWatch();
  return {
    push(atMs, value) {
      everCame = true;
      points.push({ atMs, value });
      if (points.length > 4_000) points = points.slice(-2_000);
    },
    takeUntil(rowMs) {
      if (!everCame) return undefined;
      const taken = points.filter(({ atMs }) => atMs > rowMs - 1_000 && atMs <= rowMs);
      points = points.filter(({ atMs }) => atMs > rowMs);
      if (taken.length === 0) return unknown;
      const mean = meanOf(taken);
      const halves = [
        taken.filter(({ atMs }) => atMs <= rowMs - 500),
        taken.filter(({ atMs }) => atMs > rowMs - 500),
      ].flatMap((half) => (half.length === 0 ? [] : [meanOf(half)]));
      if (!worn(mean, stirOf(taken))) return unknown;
      return { respiration: mean, respirationLow: Math.min(...halves), respirationHigh: Math.max(...halves) };
    },
  };
}

const meanOf = (points: readonly { readonly value: number }[]): number =>
  points.reduce((sum, { value }) => sum + value, 0) / points.length;

/**
 * How much a second stirs beside its slow course: the middle-sized difference between each sample and the mean of its
 * neighbours a tenth of the second away. Undefined with too few samples.
 */
function stirOf(points: readonly { readonly value: number }[]): number | undefined {
  if (points.length < leastSamples) return undefined;
  const reach = Math.max(1, Math.round(points.length / 10));
  const stirs: number[] = [];
  for (let i = reach; i < points.length - reach; i += 1)
    stirs.push(Math.abs(points[i]!.value - (points[i - reach]!.value + points[i + reach]!.value) / 2));
  return meanOf(stirs.map((value) => ({ value })));
}

/** Says of each second whether the sensor is on a body, as far as can be told: true until it is known better. */
function createWornWatch(): (mean: number, stir: number | undefined) => boolean {
  let stirs: number[] = [];
  let means: number[] = [];
  const learnt: number[] = [];
  return (mean, stir) => {
    means = [...means, mean].slice(-watchedRows);
    // Nothing alive holds a number still to its last digit.
    if (means.length === watchedRows && means.every((each) => each === means[0])) return false;
    if (stir === undefined) {
      stirs = [];
      return true;
    }
    stirs = [...stirs, stir].slice(-watchedRows);
    const usual = quietQuarter(learnt);
    const middle = quantile(stirs, 0.5);
    const isOff =
      stirs.length === watchedRows &&
      usual !== undefined &&
      middle < offShare * usual &&
      Math.max(...means) - Math.min(...means) < movingStirs * middle;
    if (!isOff) {
      learnt.push(stir);
      if (learnt.length > usualRows) learnt.shift();
    }
    return !isOff;
  };
}

const quietQuarter = (stirs: readonly number[]): number | undefined =>
  stirs.length < knownAfterRows ? undefined : quantile(stirs, 0.25);

const quantile = (values: readonly number[], share: number): number =>
  values.toSorted((a, b) => a - b)[Math.floor(share * (values.length - 1))]!;
