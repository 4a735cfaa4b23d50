// Maps the radio process's clock onto the hub's. Each exchange bounds the offset between the two from both sides;
// the tightest recent one wins, so a slow answer can make the estimate no worse.

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

/** The best estimate of the window, or null before the first exchange. */
export function bestOffset(window: readonly ClockExchange[]): ClockOffset | null {
  let best: ClockOffset | null = null;
  for (const exchange of window) {
    const offset = offsetOf(exchange);
    if (best === null || offset.uncertaintyMs <= best.uncertaintyMs) best = offset;
  }
  return best;
}
