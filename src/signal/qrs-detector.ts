// Beats of an electrocardiogram as it comes, by the method of Pan and Tompkins: band-pass, slope, square, mean over 150 ms, and
// two thresholds that follow the signal and the noise, with a search back where a beat is missing.

/**
 * J. Pan, W. J. Tompkins, "A real-time QRS detection algorithm", IEEE Trans Biomed Eng 32(3):230-236, 1985: thresholds,
 * periods and learning rates are theirs, from memory. Theirs runs at 200 samples a second in whole numbers; here the filters
 * are made for the rate at hand. A beat is placed at the highest point of the band-passed signal.
 */
export interface QrsDetector {
  /** Takes a sample in any unit, at a time in ms that rises; answers the times of beats now certain, oldest first. */
  push(atMs: number, value: number): readonly number[];
}

const integrationMs = 150;
const refractoryMs = 200;
const twaveMs = 360;
const learningMs = 2_000;
/** A beat is looked for again when none has come for 166 % of the mean interval. */
const missingAfter = 1.66;
/** A silence this long begins anew. */
const gapMs = 1_000;

interface Peak {
  readonly atMs: number;
  readonly height: number;
  /** Of the steepest band-passed slope about it. */
  readonly slope: number;
}

/** A section of second order, by the bilinear transform as in R. Bristow-Johnson's audio EQ cookbook (from memory). */
function createSection(kind: 'low' | 'high', cutHz: number, rateHz: number): (value: number) => number {
  const w = (2 * Math.PI * cutHz) / rateHz;
  const alpha = Math.sin(w) / Math.SQRT2;
  const c = Math.cos(w);
  const gain = (kind === 'low' ? 1 - c : 1 + c) / (2 * (1 + alpha));
  const middle = kind === 'low' ? 2 * gain : -2 * gain;
  const [a1, a2] = [(-2 * c) / (1 + alpha), (1 - alpha) / (1 + alpha)];
  let [x1, x2, y1, y2] = [0, 0, 0, 0];
  return (x) => {
    const y = gain * x + middle * x1 + gain * x2 - a1 * y1 - a2 * y2;
    [x2, x1, y2, y1] = [x1, x, y1, y];
    return y;
  };
}

/** Makes a detector for a signal of `rateHz` samples a second, 80 to 2000. Bounded memory; deterministic. */
export function createQrsDetector(rateHz: number): QrsDetector {
  let stream = createStream(rateHz);
  let lastMs = Number.NaN;
  let offset = Number.NaN;
  return {
    push(atMs, value) {
      if (!Number.isFinite(value)) return [];
      if (!(atMs - lastMs <= gapMs)) {
        stream = createStream(rateHz);
        offset = value;
      }
      lastMs = atMs;
      return stream(atMs, value - offset);
    },
  };
}

function createStream(rateHz: number): (atMs: number, value: number) => readonly number[] {
  const low = createSection('low', 15, rateHz);
  const high = createSection('high', 5, rateHz);
  const width = Math.max(1, Math.round((integrationMs / 1_000) * rateHz));
  const decide = createDecision();
  const squares = new Float64Array(width);
  /** The band-passed signal of the last moments, to find the highest point in. */
  let recent: { atMs: number; value: number }[] = [];
  const delayed = [0, 0, 0, 0];
  let [sum, at] = [0, 0];
  /** The peak of the integrated signal under way, or how low that has gone since the last one. */
  let climb: { height: number; atMs: number; steepest: number } | undefined;
  let lowest = Number.POSITIVE_INFINITY;
  /** Which way the beat stands out in this lead. */
  let balance = 0;
  function summit(about: readonly { atMs: number; value: number }[]): { atMs: number } {
    const up = about.reduce((best, point) => (point.value > best.value ? point : best));
    const down = about.reduce((best, point) => (point.value < best.value ? point : best));
    // By many beats, or one would be placed now at one side of its slope and now at the other.
    balance += 0.1 * (up.value + down.value - balance);
    return balance >= 0 ? up : down;
  }
  return (atMs, value) => {
    const passed = high(low(value));
    recent.push({ atMs, value: passed });
    if (recent.length > 8 * width) recent = recent.slice(-4 * width);
    // (2x(n) + x(n-1) - x(n-3) - 2x(n-4)) / 8: theirs.
    const slope = (2 * passed + delayed[0]! - delayed[2]! - 2 * delayed[3]!) / 8;
    delayed.unshift(passed);
    delayed.pop();
    sum += slope * slope - squares[at]!;
    squares[at] = slope * slope;
    at = (at + 1) % width;
    const height = Math.max(0, sum / width);
    const beats = decide.time(atMs);
    if (climb === undefined) {
      if (height > lowest) climb = { height, atMs, steepest: Math.abs(slope) };
      lowest = Math.min(lowest, height);
      return beats;
    }
    climb.steepest = Math.max(climb.steepest, Math.abs(slope));
    if (height >= climb.height) {
      climb.height = height;
      climb.atMs = atMs;
    } else if (height < climb.height / 2 || atMs - climb.atMs > integrationMs) {
      const { height: top, atMs: topMs, steepest } = climb;
      const about = recent.filter((point) => point.atMs > topMs - 1.5 * integrationMs && point.atMs <= topMs);
      const highest = summit(about);
      beats.push(...decide.peak({ atMs: highest.atMs, height: top, slope: steepest }, atMs));
      climb = undefined;
      lowest = height;
    }
    return beats;
  };
}

/** Which peaks of the integrated signal are beats. */
function createDecision(): { peak(peak: Peak, nowMs: number): number[]; time(nowMs: number): number[] } {
  let startedMs = Number.NaN;
  let learnt: Peak[] | undefined = [];
  let [signal, noise] = [0, 0];
  let last: Peak | undefined;
  /** The last eight intervals, and those of them within 92 to 116 % of their mean. */
  let intervals: number[] = [];
  let regular: number[] = [];
  /** Peaks since the last beat that were held to be noise. */
  let passedOver: Peak[] = [];
  const mean = (values: readonly number[]): number =>
    values.reduce((sum, value) => sum + value, 0) / Math.max(1, values.length);
  const usualMs = (): number => (regular.length > 0 ? mean(regular) : 0);
  const threshold = (): number => noise + 0.25 * (signal - noise);

  function take(peak: Peak, share: number): number {
    signal = share * peak.height + (1 - share) * signal;
    if (last !== undefined) {
      const interval = peak.atMs - last.atMs;
      intervals = [...intervals, interval].slice(-8);
      const usual = usualMs();
      if (usual === 0 || (interval > 0.92 * usual && interval < 1.16 * usual))
        regular = [...regular, interval].slice(-8);
      // A rhythm that has changed for good is the usual one from then on.
      else if (
        intervals.length === 8 &&
        !intervals.some((each) => each > 0.92 * usual && each < 1.16 * usual)
      )
        regular = [...intervals];
    }
    last = peak;
    passedOver = [];
    return peak.atMs;
  }

  /** A T wave comes within 360 ms and is less than half as steep. */
  const isTwave = (peak: Peak): boolean =>
    last !== undefined && peak.atMs - last.atMs < twaveMs && peak.slope < 0.5 * last.slope;

  function judge(peak: Peak): number[] {
    if (last !== undefined && peak.atMs - last.atMs < refractoryMs) return [];
    if (peak.height > threshold() && !isTwave(peak)) return [take(peak, 0.125)];
    noise = 0.125 * peak.height + 0.875 * noise;
    passedOver.push(peak);
    return [];
  }

  function endLearning(): number[] {
    const peaks = learnt!;
    learnt = undefined;
    if (peaks.length === 0) return [];
    const heights = peaks.map(({ height }) => height);
    signal = 0.6 * Math.max(...heights);
    noise = 0.5 * mean(heights);
    if (noise > 0.5 * signal) noise = 0.5 * signal;
    return peaks.flatMap(judge);
  }

  return {
    peak(peak, nowMs) {
      if (Number.isNaN(startedMs)) startedMs = nowMs;
      if (learnt === undefined) return judge(peak);
      learnt.push(peak);
      return nowMs - startedMs > learningMs ? endLearning() : [];
    },
    time(nowMs) {
      const usual = usualMs();
      if (last === undefined || usual === 0 || nowMs - last.atMs < missingAfter * usual) return [];
      const lastMs = last.atMs;
      const found = passedOver
        .filter((peak) => peak.height > 0.5 * threshold() && peak.atMs - lastMs >= twaveMs)
        .toSorted((a, b) => b.height - a.height)[0];
      if (found === undefined) return [];
      return [take(found, 0.25)];
    },
  };
}
