// Says whether a breathing sensor is on a body, as far as can be told. One that lies on a table is as still as a held breath; what it
// lacks is the heart, and the small stir of somebody alive.

/** How long the stir is watched to say that the sensor is off, and to know what is usual. Our choices. */
const watchedRows = 6;
const usualRows = 300;
const knownAfterRows = 20;
/**
 * Off the body: the stir is under this share of what the quieter quarter of this person's seconds has. Or, where the heart shows as
 * peaks beyond the sensor's noise, its peaks and how far they stand out are under these shares. Checked on airway pressure in real
 * pauses of 10 to 20 s, which stay above (tests/core/holds/breathing-real.test.ts). Our choices.
 */
const offShare = 0.15;
const offPeakShare = 0.6;
const offStandingShare = 0.75;
/** Seconds whose means differ by more than so many stirs move with a breath: the usual stir was that of somebody walking. */
const movingStirs = 4;

/** How much one second stirs beside its slow course. */
export interface Stir {
  /** The middle of what a sample differs from the mean of its neighbours a tenth of the second away; a heart's push is above it. */
  readonly level: number;
  /** The second largest. */
  readonly peak: number;
}

/**
 * Answers of each second, with its mean, whether the sensor is on a body: true until it is known better.
 * @param heartStandsOut how far peaks stand out of the rest where the heart shows: noise of one axis gives about 2.8, that of
 * three together 1.9 (worked out for normal noise).
 */
export function createWornWatch(heartStandsOut = 4): (mean: number, stir: Stir | undefined) => boolean {
  let stirs: Stir[] = [];
  let means: number[] = [];
  const learnt: Stir[] = [];

  function isOff(): boolean {
    if (stirs.length < watchedRows || learnt.length < knownAfterRows) return false;
    const level = quantile(stirs.map(levelOf), 0.5);
    const quietLevel = quantile(learnt.map(levelOf), 0.25);
    const peak = quantile(stirs.map(peakOf), 0.5);
    if (Math.max(...means) - Math.min(...means) >= movingStirs * Math.max(level, peak / 4)) return false;
    if (level < offShare * quietLevel) return true;
    const usualStanding = quantile(learnt.map(standingOf), 0.25);
    return (
      usualStanding >= heartStandsOut &&
      quantile(stirs.map(standingOf), 0.5) < offStandingShare * usualStanding &&
      peak < offPeakShare * quantile(learnt.map(peakOf), 0.25)
    );
  }

  return (mean, stir) => {
    means = [...means, mean].slice(-watchedRows);
    // Nothing alive holds a number still to its last digit.
    if (means.length === watchedRows && means.every((each) => each === means[0])) return false;
    stirs = stir === undefined ? [] : [...stirs, stir].slice(-watchedRows);
    if (isOff()) return false;
    if (stir !== undefined) learnt.push(stir);
    if (learnt.length > usualRows) learnt.shift();
    return true;
  };
}

const levelOf = ({ level }: Stir): number => level;
const peakOf = ({ peak }: Stir): number => peak;
/** How far the peak stands out of the rest; noise alone gives about 3. */
const standingOf = ({ level, peak }: Stir): number => (level > 0 ? peak / level : 0);

const quantile = (values: readonly number[], share: number): number =>
  values.toSorted((a, b) => a - b)[Math.floor(share * (values.length - 1))]!;
