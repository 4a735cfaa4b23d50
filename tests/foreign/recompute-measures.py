"""Measures of holds by src/holds/MEASURES.md alone, written from that page without the program's code.

Reads JSON from standard input: {"rows": [[time_s, channel, value], ...], "holds": [{"start": s, "end": s}, ...]}, rows
as the CSV of one oximeter and one strap has them, in order of time; writes a list with one object of measures a hold.
Intervals are taken as free of artefacts.
"""

import bisect
import json
import math
import sys


def median(values):
    if not values:
        return None
    ordered = sorted(values)
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[middle]
    return (ordered[middle - 1] + ordered[middle]) / 2


def slope(points):
    if len(points) < 4:
        return None
    t0 = sum(t for t, _ in points) / len(points)
    v0 = sum(v for _, v in points) / len(points)
    below = sum((t - t0) ** 2 for t, _ in points)
    return sum((t - t0) * (v - v0) for t, v in points) / below if below else None


def rmssd(intervals):
    if len(intervals) < 2:
        return None
    return math.sqrt(sum((b - a) ** 2 for a, b in zip(intervals, intervals[1:])) / (len(intervals) - 1))


def usable(saturations, pulses):
    """Saturation without jumps and stuck readings."""
    out = []
    trusted = doubted_since = last = last_pulse = None
    same_since = pulse_since = None
    heard = 0
    for t, v in saturations:
        while heard < len(pulses) and pulses[heard][0] < t:
            if last_pulse is None or pulses[heard][1] != last_pulse:
                pulse_since = pulses[heard][0]
            last_pulse = pulses[heard][1]
            heard += 1
        if not 30 <= v <= 100:
            continue
        if v != last:
            same_since = t
        last = v
        if trusted and t - trusted[0] < 20:
            dt = max(1, t - trusted[0])
            if trusted[1] - v > 2 + 1.5 * dt or v - trusted[1] > 3 + 4 * dt:
                doubted_since = t if doubted_since is None else doubted_since
                if t - doubted_since < 6:
                    continue
        doubted_since = None
        trusted = (t, v)
        pulse_stuck = pulse_since is not None and t - pulses[heard - 1][0] < 5 and t - pulse_since >= 45
        if not (pulse_stuck and t - same_since >= 45):
            out.append((t, v))
    return out


class Rates:
    """h(k) of the page."""

    def __init__(self, beats, rates, pulses):
        self.beats, self.rates, self.pulses = beats, rates, pulses
        self.ends = [at for at, _ in beats]
        self.known = {}

    def of(self, k):
        if k not in self.known:
            self.known[k] = self.work_out(k)
        return self.known[k]

    def work_out(self, k):
        covered = weighted = 0.0
        first = bisect.bisect_right(self.ends, k - 1)
        last = self.beats[first - 1] if first else None
        for at, rr in self.beats[first:]:
            if at - 6 > k:
                break
            part = min(at, k) - max(at - rr / 1000, k - 1)
            if part > 0:
                covered += part
                weighted += part * 60000 / rr
            if at <= k:
                last = (at, rr)
        if covered >= 0.25:
            return weighted / covered
        if last and k - last[0] < 2.5:
            return 60000 / last[1]
        for channel in (self.rates, self.pulses):
            before = [v for t, v in channel if k - 5 <= t <= k]
            if before:
                return before[-1]
        return None

    def means(self, seconds, n, needed):
        """[(where it stands, mean)] over n seconds on end out of `seconds`."""
        out = []
        for i in range(len(seconds) - n + 1):
            part = [self.of(k) for k in seconds[i : i + n]]
            part = [v for v in part if v is not None]
            if len(part) >= needed:
                out.append((seconds[i + n - 1] - n / 2, sum(part) / len(part)))
        return out


def first(points, least):
    for at, value in points:
        if value >= least:
            return at
    return None


def saturation(u, start, end, after, carried):
    out = {}
    until = min(end + 60, after + 10)
    near = [(t, v) for t, v in u if start - 135 <= t <= end + 185]
    at_start = median([v for t, v in near if start - 15 < t <= start])
    within = [(t, v) for t, v in near if start + 10 <= t <= until]
    whole = [(t, v) for t, v in near if start <= t <= until]
    out["spo2AtStartPercent"] = at_start
    lowest = min((v for _, v in within), default=None)
    out["spo2LowestPercent"] = lowest
    for threshold in (95, 90, 85, 80, 75, 70):
        time = area = 0.0
        for (t, v), (later, _) in zip(whole, whole[1:]):
            if v < threshold:
                time += min(5, later - t)
                area += min(5, later - t) * (threshold - v)
        out[f"timeBelow{threshold}S"] = time if len(whole) > 1 else None
        out[f"areaBelow{threshold}PercentS"] = area if len(whole) > 1 else None
    rest = [v for t, v in near if max(start - 60, carried["end"] + 60) < t <= start]
    baseline = median(rest) if len(rest) >= 5 else carried["baseline"]
    out["spo2BaselinePercent"] = baseline
    if lowest is None:
        return out
    i = next(i for i, (_, v) in enumerate(within) if v == lowest)
    j = i
    while j + 1 < len(within) and within[j + 1][1] == lowest:
        j += 1
    t_low = (within[i][0] + within[j][0]) / 2
    fall = at_start - lowest if at_start is not None else None
    if fall is not None and fall >= 2:
        out["spo2LowestAfterEndS"] = t_low - end
    if fall is not None and fall >= 3:
        falling = [(t, v) for t, v in within if t <= t_low]
        begin = max([n for n, (_, v) in enumerate(falling) if v >= at_start - 1], default=0)
        by_line = slope(falling[begin:])
        out["spo2FallRatePercentPerMin"] = None if by_line is None else -60 * by_line
        steepest = None
        down = [(t, v) for t, v in whole if t <= within[i][0]]
        for t, _ in down:
            window = [(s, v) for s, v in down if t <= s <= t + 30]
            if len(window) >= 8 and window[-1][0] - t >= 25:
                s = -60 * slope(window)
                steepest = s if steepest is None else max(steepest, s)
        out["spo2SteepestFallPercentPerMin"] = steepest
    if lowest < 95:
        back = first([(t, v) for t, v in near if t_low < t <= until + 30], 95)
        out["timeBackTo95S"] = back - end if back is not None and back >= end else None
    if baseline is not None and baseline - lowest >= 2:
        later = [(t, v) for t, v in near if t_low < t <= min(end + 180, after)]

        def staying(least):
            for t, v in later:
                if v >= least and all(w >= least for s, w in later if t <= s <= t + 5):
                    return t
            return None

        back, half = staying(baseline - 1), staying((lowest + baseline) / 2)
        out["spo2BackToBaselineS"] = back - end if back is not None and back >= end else None
        out["spo2HalfTimeS"] = half - t_low if half is not None else None
    return out


def heart(h, start, end, before, after):
    out = {}
    seconds = [k for k in range(math.floor(start) + 1, math.floor(end) + 1) if start < k <= end]
    quiet = max(start - 60, before + 30)
    rest = [h.of(k) for k in range(math.floor(start) - 61, math.floor(start)) if quiet < k <= start - 10]
    rest = [v for v in rest if v is not None]
    rest = median(rest) if len(rest) >= 10 else None
    out["heartRateRestBpm"] = rest
    held = [v for v in map(h.of, seconds) if v is not None]
    out["heartRateMeanBpm"] = sum(held) / len(held) if held else None
    fives, threes = h.means(seconds, 5, 4), h.means(seconds, 3, 2)
    if fives:
        at, low = min(fives, key=lambda each: each[1])
        out["heartRateLowestBpm"], out["timeToLowestHeartRateS"] = low, at - start
        out["heartRateFallPercent"] = 100 * (rest - low) / rest if rest is not None else None
    early = [each for each in threes if each[0] <= start + 20]
    if early:
        peak_at, peak = max(early, key=lambda each: each[1])
        out["heartRateInitialPeakBpm"], out["heartRateInitialPeakS"] = peak, peak_at - start
        settled = [v for t, v in fives if peak_at < t <= start + 60]
        if end - start >= 30 and settled and peak - min(settled) >= 0.05 * peak:
            for name, share in (("heartRateHalfFallS", 0.5), ("heartRateMostFallS", 0.9)):
                there = [t for t, v in threes if t > peak_at and v <= peak - share * (peak - min(settled))]
                out[name] = there[0] - start if there else None
    last = [v for v in map(h.of, seconds[-5:]) if v is not None]
    if rest is not None and len(last) >= 3 and sum(last) / len(last) < 0.95 * rest:
        ended = sum(last) / len(last)
        follow = [k for k in range(math.floor(end), math.floor(end) + 123) if end <= k - 1 and k <= min(end + 120, after)]
        back, half = 0.95 * rest, min((ended + rest) / 2, 0.95 * rest)
        for name, least in (("heartRateBackS", back), ("heartRateHalfBackS", half)):
            at = first(h.means(follow, 3, 2), least)
            out[name] = at - end if at is not None else None
    return out


def variability(beats, first_at, last_at, start, end, before, after):
    out = {}

    def of(begin, until, least):
        part = [rr for t, rr in beats if begin < t <= until]
        return part if sum(part) >= max(least, 700 * (until - begin)) else []

    rest = rmssd(of(max(start - 130, first_at, before + 30), start - 10, 30000))
    out["rmssdRestMs"] = rest
    out["rmssdRecoveryMs"] = rmssd(of(end + 10, min(end + 70, last_at, after), 30000))
    limit, windows, j = min(end + 180, last_at, after), [], 0
    while end + 5 * j + 30 <= limit:
        windows.append((5 * j + 15, rmssd(of(end + 5 * j, end + 5 * j + 30, 0))))
        j += 1
    if rest is not None and windows and windows[0][1] is not None and windows[0][1] < 0.8 * rest:
        known = [each for each in windows if each[1] is not None]
        out["rmssdBackS"] = first(known, 0.8 * rest)
        out["rmssdHalfBackS"] = first(known, min((windows[0][1] + rest) / 2, 0.8 * rest))
    return out


def main():
    given = json.load(sys.stdin)
    by_channel = {}
    for t, channel, value in given["rows"]:
        by_channel.setdefault(channel, []).append((t, value))
    beats = by_channel.get("rr_interval_ms", [])
    rates = Rates(beats, by_channel.get("heart_rate_bpm", []), by_channel.get("pulse_rate_bpm", []))
    spo2 = usable(by_channel.get("spo2_percent", []), by_channel.get("pulse_rate_bpm", []))
    holds, answers = given["holds"], []
    carried = {"end": -math.inf, "baseline": None}
    for index, hold in enumerate(holds):
        start, end = hold["start"], hold["end"]
        after = holds[index + 1]["start"] if index + 1 < len(holds) else math.inf
        near = [t for t, _, _ in given["rows"] if start - 135 <= t <= end + 185]
        measures = {"durationS": end - start}
        measures |= saturation(spo2, start, end, after, carried)
        measures |= heart(rates, start, end, carried["end"], after)
        measures |= variability(beats, near[0], near[-1], start, end, carried["end"], after)
        carried = {"end": end, "baseline": measures["spo2BaselinePercent"]}
        answers.append(measures)
    json.dump(answers, sys.stdout)


main()
