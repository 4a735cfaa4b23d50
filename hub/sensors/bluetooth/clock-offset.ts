// Maps another clock onto the hub's: that of the radio process, or of a radio on another computer. Each exchange bounds the
// offset between the two from both sides; the tightest recent one wins, so a slow answer can make the estimate no worse.

/** One question and answer: asked and heard on our clock, answered on the other. All milliseconds. */
export interface ClockExchange {
  readonly askedAtMs: number;
  readonly answeredAtMs: number;
  readonly heardAtMs: number;
}

export interface ClockOffset {
  /** Add to a time of the other clock to get ours. */
  readonly offsetMs: number;
  /** The true offset lies within this of `offsetMs`, whatever the pipe did. */
  readonly uncertaintyMs: number;
}

/** Exchanges kept: at one a half second, half a minute, in which crystals of 100 ppm part by 3 ms at most. */
const windowLength = 60;

/** The bound that one exchange gives: the answer was made somewhere between the question and its hearing. */
function offsetOf(exchange: ClockExchange): ClockOffset {
  const halfRoundTripMs = (exchange.heardAtMs - exchange.askedAtMs) / 2;
  return {
    offsetMs: exchange.askedAtMs + halfRoundTripMs - exchange.answeredAtMs,
    uncertaintyMs: halfRoundTripMs,
  };
}

/** Adds an exchange to the window, newest last. One that ran backwards is impossible and is left out. */
export function addExchange(
  window: readonly ClockExchange[],
  exchange: ClockExchange,
): readonly ClockExchange[] {
  if (!(exchange.heardAtMs >= exchange.askedAtMs) || !Number.isFinite(exchange.answeredAtMs)) return window;
  return [...window.slice(-(windowLength - 1)), exchange];
}

/**
 * The most by which the clocks of two computers part, as a share: crystals are made within 100 parts in a million at worst,
 * mostly within 50 (common practice, no source), and there are two.
 */
export const mostDrift = 200e-6;

/**
 * The best estimate of the window at `nowMs`, or null before the first exchange. `drift`: how fast the clocks may part, by which
 * an exchange is worth less the older it is; 0 for two processes of one computer, which read the same clock.
 */
export function bestOffset(window: readonly ClockExchange[], nowMs = 0, drift = 0): ClockOffset | null {
  let best: ClockOffset | null = null;
  for (const exchange of window) {
    const offset = offsetOf(exchange);
    const uncertaintyMs = offset.uncertaintyMs + drift * Math.max(0, nowMs - exchange.heardAtMs);
    if (best === null || uncertaintyMs <= best.uncertaintyMs) best = { ...offset, uncertaintyMs };
  }
  return best;
}

/** What the offset was when the other clock showed `theirMs`. */
export interface ClockAnchor extends ClockOffset {
  readonly theirMs: number;
}

/**
 * The offset at a time of the other clock, known before and after: in between the clocks parted evenly, as far as anybody can
 * tell. Whatever they did, the offset cannot be further from the nearer anchor than their drift allows.
 */
export function offsetBetween(before: ClockAnchor | null, after: ClockAnchor, theirMs: number): ClockOffset {
  const ageMs = Math.abs(after.theirMs - theirMs) * mostDrift;
  if (before === null || theirMs >= after.theirMs || after.theirMs <= before.theirMs)
    return {
      offsetMs: after.offsetMs,
      uncertaintyMs: after.uncertaintyMs + (theirMs >= after.theirMs ? 0 : ageMs),
    };
  const share = Math.min(1, Math.max(0, (theirMs - before.theirMs) / (after.theirMs - before.theirMs)));
  return {
    offsetMs: before.offsetMs + share * (after.offsetMs - before.offsetMs),
    uncertaintyMs:
      Math.max(before.uncertaintyMs, after.uncertaintyMs) +
      mostDrift * Math.min(Math.max(0, theirMs - before.theirMs), after.theirMs - theirMs),
  };
}
