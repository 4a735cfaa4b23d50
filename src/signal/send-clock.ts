// Does a sensor send by a clock of its own? Then the least delayed of its packets tell when the others were sent.

/** Packets off the clock by more than this were held up, or the sensor has no clock. */
const heldUpMs = 80;
/** Fewer than this tell no pace. */
const leastPackets = 5;
/** Share of the packets that a clock has to explain. */
const leastShare = 0.75;

/**
 * How long each packet was under way beyond the quickest ones, ms; null where they do not come by a clock, and for a packet
 * that was held up or sent out of turn. The line below all arrivals that lies nearest to them on average, as clocks of two
 * computers are compared by one-way delays (Moon, Skelly and Towsley, INFOCOM 1999, "Estimation and removal of clock skew from
 * network delay measurements").
 * @param arrivedAtMs rising, of every packet of a stream, whether it carries anything or not; some may be missing.
 */
export function sendDelays(arrivedAtMs: readonly number[]): readonly (number | null)[] | null {
  if (arrivedAtMs.length < leastPackets) return null;
  const gaps = arrivedAtMs.slice(1).map((at, i) => at - arrivedAtMs[i]!);
  const commonest = gaps.toSorted((a, b) => a - b)[gaps.length >> 1]!;
  if (!(commonest > 2 * heldUpMs)) return null;
  const turns = turnsByPeriod(arrivedAtMs, gaps, commonest);
  const points = arrivedAtMs.flatMap((at, i) => (turns[i] === null ? [] : [{ turn: turns[i]!, at }]));
  if (points.length < leastPackets || points.length < leastShare * arrivedAtMs.length) return null;
  const line = lineBelow(points);
  const delays = arrivedAtMs.map((at, i) =>
    turns[i] === null ? null : at - (line.atMs + line.everyMs * turns[i]!),
  );
  const fits = delays.map((delay) => (delay !== null && delay <= heldUpMs ? Math.max(0, delay) : null));
  return fits.filter((delay) => delay !== null).length < leastShare * arrivedAtMs.length ? null : fits;
}

/**
 * The commonest gap is off by what one packet was delayed, and over several turns by as much again and again; the whole time by all turns is
 * not. That of the two counts which explains more packets.
 */
function turnsByPeriod(
  arrivedAtMs: readonly number[],
  gaps: readonly number[],
  commonest: number,
): readonly (number | null)[] {
  const first = turnsOf(arrivedAtMs, commonest);
  if (!first.includes(null)) return first;
  const turnCount = gaps.reduce((sum, gap) => sum + Math.max(1, Math.round(gap / commonest)), 0);
  const second = turnsOf(arrivedAtMs, (arrivedAtMs.at(-1)! - arrivedAtMs[0]!) / turnCount);
  const explained = (some: readonly (number | null)[]) => some.filter((turn) => turn !== null).length;
  return explained(second) > explained(first) ? second : first;
}

/** The number of the clock's turn by which each was sent; null where it is no whole number of them after the one before. */
function turnsOf(arrivedAtMs: readonly number[], period: number): (number | null)[] {
  let lastAt = arrivedAtMs[0]!;
  let turn = 0;
  return arrivedAtMs.map((at, i) => {
    if (i === 0) return 0;
    const passed = Math.round((at - lastAt) / period);
    if (passed < 1 || Math.abs(at - lastAt - passed * period) > heldUpMs) return null;
    lastAt = at;
    turn += passed;
    return turn;
  });
}

interface Point {
  readonly turn: number;
  readonly at: number;
}

/** The edge of the lower hull under the middle of the points. */
function lineBelow(points: readonly Point[]): { readonly atMs: number; readonly everyMs: number } {
  const hull: Point[] = [];
  for (const point of points) {
    while (hull.length >= 2 && !turnsUp(hull.at(-2)!, hull.at(-1)!, point)) hull.pop();
    hull.push(point);
  }
  const middle = points.reduce((sum, { turn }) => sum + turn, 0) / points.length;
  const after = hull.findIndex(({ turn }) => turn >= middle);
  const [from, to] = [hull[Math.max(0, after - 1)]!, hull[Math.max(1, after)]!];
  const everyMs = (to.at - from.at) / (to.turn - from.turn);
  return { atMs: from.at - everyMs * from.turn, everyMs };
}

const turnsUp = (a: Point, b: Point, c: Point): boolean =>
  (b.at - a.at) * (c.turn - b.turn) < (c.at - b.at) * (b.turn - a.turn);
