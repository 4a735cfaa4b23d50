#!/usr/bin/env python3
"""Works out every measure of src/holds/MEASURES.md anew, from an exported CSV alone, and holds it beside what Slackwater says.

Written from that page by someone who had not read the program's measures. Plain Python 3, nothing to install.

    judge-measures.py [--json] CASE ...

A CASE is a path without extension: CASE.csv is the recording as exported, CASE.json what is said of it (`slackwater analyze
--format json`, or the answer of /api/sessions/ID/athletes/ID), CASE.txt, where it is there, `analyze --format table`
for the figures of a session. Boundaries of holds are taken as said. The exit status is 1 when a figure differs.
"""
import bisect
import json
import math
import os
import re
import sys

INF = math.inf
THRESHOLDS = (95, 90, 85, 80, 75, 70)
# The page names these by files of the program instead of a rule, so that nobody else can work them out.
RULE_IS_CODE = {
    'estimatedContractionOnsetS', 'estimatedContractionOnsetUncertaintyS', 'estimatedContractionCount',
    'breathingRateBeforePerMin', 'heartRateSwingBeforeBpm',
}


# ---- what is read -------------------------------------------------------------------------------------------------------

class Recording:
    """Rows of a CSV by channel, each a list of (second, value) in order of time; marks by kind."""

    def __init__(self, path, unwatched=()):
        self.rows, self.marks, self.all_times, self.suspect = {}, {}, [], set()
        self.unwatched = list(unwatched)
        with open(path, encoding='utf-8') as file:
            for line in file:
                if line.startswith('#') or line.startswith('time_s,'):
                    continue
                time, channel, value, *quality = line.rstrip('\n').split(',')
                if channel == 'mark':
                    self.marks.setdefault(value, []).append(float(time))
                elif channel != 'note':
                    self.rows.setdefault(channel, []).append((float(time), float(value)))
                    if channel == 'spo2_percent' and quality == ['suspect']:
                        self.suspect.add(float(time))
                    self.all_times.append(float(time))
        for rows in self.rows.values():
            rows.sort(key=lambda row: row[0])
        self.marks = {kind: sorted(times) for kind, times in self.marks.items()}
        self.all_times.sort()
        saturations = [row for row in self.rows.get('spo2_percent', []) if row[0] not in self.suspect]
        self.u = usable_saturation(saturations, self.rows.get('pulse_rate_bpm', []))
        self.u_times = [t for t, _ in self.u]
        self.beats = [(t, v) for t, v in self.rows.get('rr_interval_ms', []) if 240 <= v <= 6000]
        # Beats found in a pulse wave are used where no strap sends any, and are in no CSV.
        self.beats_are_missing = 'pleth' in self.rows and 'rr_interval_ms' not in self.rows

    def saturation(self, first, last, after=False):
        """Usable readings from `first` (or after it) up to `last`."""
        find = bisect.bisect_right if after else bisect.bisect_left
        return self.u[find(self.u_times, first):bisect.bisect_right(self.u_times, last)]

    def was_watched(self, second):
        """False for a whole second that lies in a stretch nobody watched."""
        return not any(a < second <= b for a, b in self.unwatched)


def usable_saturation(saturations, pulses):
    out = []
    trusted, jump_since = None, None
    pulse_times = [t for t, _ in pulses]
    pulse_run = []  # since when the pulse rate has stood as it stands, at each of its rows
    for index, (t, v) in enumerate(pulses):
        pulse_run.append(pulse_run[-1] if index and pulses[index - 1][1] == v else t)
    same_since, last_value = None, None
    for t, v in saturations:
        if v != last_value:
            same_since, last_value = t, v
        if not 30 <= v <= 100:
            continue
        doubted = False
        if trusted is not None and t - trusted[0] < 20:
            dt = max(1.0, t - trusted[0])
            if v < trusted[1] - (2 + 1.5 * dt) or v > trusted[1] + 3 + 4 * dt:
                jump_since = t if jump_since is None else jump_since
                doubted = t - jump_since < 6
        if doubted:
            continue
        jump_since, trusted = None, (t, v)
        at = bisect.bisect_right(pulse_times, t) - 1
        if at >= 0 and t - pulse_times[at] <= 5 and t - same_since >= 45 and t - pulse_run[at] >= 45:
            continue
        out.append((t, v))
    return out


# ---- heart rate, second by second ---------------------------------------------------------------------------------------

def screened(beats, from_s):
    """(end, interval in ms) of beats put where they were, from `from_s` on."""
    out, accepted, refused = [], [], 0
    for t, v in beats:
        if t < from_s:
            continue
        if len(accepted) < 3:
            accepted.append(v)
            out.append((t, v))
            continue
        last = sorted(accepted[-7:])
        median = last[len(last) // 2]
        if 0.65 * median <= v <= 1.5 * median and v <= 3000:
            accepted.append(v)
            refused = 0
            out.append((t, v))
            continue
        refused += 1
        if refused == 4:
            accepted, refused = [v], 0
            out.append((t, v))
            continue
        parts = min((2, 3, 4), key=lambda n: abs(v - n * median) / n)
        if abs(v - parts * median) <= 0.25 * parts * median:
            out += [(t - (parts - 1 - i) * v / parts / 1000, v / parts) for i in range(parts)]
        else:
            out.append((t, median))
    return out


class HeartRate:
    """h(k) of a hold: the rate of the second (k - 1, k], or None."""

    def __init__(self, recording, start):
        self.recording, self.known = recording, {}
        self.cover = {}
        intervals = sorted(screened(recording.beats, start - 135))
        self.ends = [t for t, _ in intervals]
        self.intervals = intervals
        for t, v in intervals:
            begin = t - v / 1000
            for k in range(math.floor(begin) + 1, math.ceil(t) + 1):
                share = min(t, k) - max(begin, k - 1)
                if share > 0:
                    self.cover.setdefault(k, []).append((share, 60000 / v))
        self.rates = [
            [row for row in recording.rows.get(name, []) if 20 <= row[1] <= 250]
            for name in ('heart_rate_bpm', 'pulse_rate_bpm')
        ]
        self.rate_times = [[t for t, _ in rows] for rows in self.rates]

    def __call__(self, k):
        if k not in self.known:
            self.known[k] = self.find(k)
        return self.known[k]

    def find(self, k):
        if not self.recording.was_watched(k):
            return None
        covers = self.cover.get(k, [])
        total = sum(share for share, _ in covers)
        if total >= 0.25 - 1e-9:
            return sum(share * rate for share, rate in covers) / total
        at = bisect.bisect_right(self.ends, k) - 1
        if at >= 0 and k - self.ends[at] < 2.5:
            return 60000 / self.intervals[at][1]
        for rows, times in zip(self.rates, self.rate_times):
            at = bisect.bisect_right(times, k) - 1
            if at >= 0 and k - times[at] <= 5:
                return rows[at][1]
        return None

    def mean(self, k, n):
        values = [h for h in (self(j) for j in range(k - n + 1, k + 1)) if h is not None]
        return mean(values) if len(values) >= {3: 2, 5: 4}[n] else None


def seconds_in(after, until):
    """Whole k with after < k <= until."""
    return range(math.floor(after) + 1, math.floor(until) + 1)


# ---- beat intervals for variability: Lipponen & Tarvainen 2019 --------------------------------------------------------------

def corrected_intervals(intervals):
    """Intervals in ms without artefacts, in one pass."""
    return without_artefacts(intervals, *find_artefacts(intervals)) if len(intervals) >= 4 else list(intervals)


def quantile(values, share):
    values = sorted(values)
    place = share * (len(values) - 1)
    low = math.floor(place)
    high = min(low + 1, len(values) - 1)
    return values[low] + (values[high] - values[low]) * (place - low)


def around(values, index, width):
    half = width // 2
    return values[max(0, index - half):index + half + 1]


def thresholds(values):
    sizes = [abs(v) for v in values]
    windows = [around(sizes, i, 91) for i in range(len(sizes))]
    return [max(50.0, 5.2 * (quantile(w, 0.75) - quantile(w, 0.25)) / 2) for w in windows]


def find_artefacts(intervals):
    """Indices of intervals: (extra, missed, ectopic, long or short)."""
    rr = list(intervals)
    n = len(rr)
    steps = [b - a for a, b in zip(rr, rr[1:])]
    steps.insert(0, mean(steps))
    d = [step / th for step, th in zip(steps, thresholds(steps))]
    at = lambda i: d[-i] if i < 0 else d[2 * (n - 1) - i] if i >= n else d[i]
    near = [max(at(i - 1), at(i + 1)) if d[i] > 0 else min(at(i - 1), at(i + 1)) if d[i] < 0 else 0.0 for i in range(n)]
    ahead = [min(at(i + 1), at(i + 2)) if d[i] >= 0 else max(at(i + 1), at(i + 2)) for i in range(n)]
    medians = [median(around(rr, i, 11)) for i in range(n)]
    off = [v - m if v >= m else 2 * (v - m) for v, m in zip(rr, medians)]
    limits = thresholds(off)
    m = [v / th for v, th in zip(off, limits)]
    extra, missed, ectopic, odd = [], [], [], []
    i = 0
    while i < n - 2:
        if abs(d[i]) <= 1:
            i += 1
            continue
        if (d[i] > 1 and near[i] < -0.13 * d[i] - 0.17) or (d[i] < -1 and near[i] > -0.13 * d[i] + 0.17):
            ectopic.append(i)
            i += 1
            continue
        for j in [i, i + 1] if abs(d[i + 1]) < abs(d[i + 2]) else [i]:
            is_long, is_short = d[j] > 1 and ahead[j] < -1, d[j] < -1 and ahead[j] > 1
            if is_long or is_short or abs(m[j]) > 3:
                if is_short and abs(rr[j] + rr[j + 1] - medians[j]) < limits[j]:
                    extra.append(j)
                elif is_long and abs(rr[j] / 2 - medians[j]) < limits[j]:
                    missed.append(j)
                else:
                    odd.append(j)
            i += 1
    return extra, missed, ectopic, odd


def without_artefacts(intervals, extra, missed, ectopic, odd):
    """A beat too many joins its interval to the next, a missed one halves it; the others are drawn over from good neighbours."""
    kinds = [
        'extra' if i in extra else 'missed' if i in missed else 'bad' if i in ectopic or i in odd else 'good'
        for i in range(len(intervals))
    ]
    out, carried = [], 0.0
    for i, (v, kind) in enumerate(zip(intervals, kinds)):
        if kind == 'extra' and i + 1 < len(intervals):
            carried += v
            continue
        if carried:
            v, carried, kind = v + carried, 0.0, 'good'
        out += [(v / 2, 'good')] * 2 if kind == 'missed' else [(v, kind)]
    good = [i for i, (_, kind) in enumerate(out) if kind != 'bad']
    if not good:
        return [v for v, _ in out]
    corrected = []
    for i, (v, kind) in enumerate(out):
        if kind == 'bad':
            at = bisect.bisect(good, i)
            a, b = good[max(0, at - 1)], good[min(at, len(good) - 1)]
            v = out[a][0] if a == b else out[a][0] + (out[b][0] - out[a][0]) * (i - a) / (b - a)
        corrected.append(v)
    return corrected


def variability(recording, begin, end, least_s=30.0):
    """(RMSSD, SDNN) of the stretch, or (None, None)."""
    values = [v for t, v in recording.beats if begin < t <= end and v <= 3000]
    total = sum(values) / 1000
    if end <= begin or total < 0.7 * (end - begin) or total < least_s or len(values) < 3:
        return None, None
    values = corrected_intervals(values)
    steps = [b - a for a, b in zip(values, values[1:])]
    centre = mean(values)
    return (
        math.sqrt(mean([step * step for step in steps])),
        math.sqrt(sum((v - centre) ** 2 for v in values) / (len(values) - 1)),
    )


# ---- small sums ---------------------------------------------------------------------------------------------------------

def mean(values):
    return sum(values) / len(values)


def median(values):
    values = sorted(values)
    half = len(values) // 2
    return values[half] if len(values) % 2 else (values[half - 1] + values[half]) / 2


def slope(points):
    t0, v0 = mean([t for t, _ in points]), mean([v for _, v in points])
    below = sum((t - t0) ** 2 for t, _ in points)
    return None if below == 0 else sum((t - t0) * (v - v0) for t, v in points) / below


# ---- measures of a hold -------------------------------------------------------------------------------------------------

def measures_of(recording, hold, before, after):
    """Every measure of one hold; `before` and `after` are its neighbours or None."""
    out = {}
    start, end = hold['start'], hold['end']
    measure_contractions(out, recording, start, end)
    measure_saturation(out, recording, hold, before, after)
    measure_heart(out, recording, start, end, before, after)
    measure_variability(out, recording, start, end, before, after)
    return out


def measure_contractions(out, recording, start, end):
    marks = [t for t in recording.marks.get('contraction', []) if start <= t <= (INF if end is None else end)]
    length = None if end is None else end - start
    easy = marks[0] - start if marks else None
    out['durationS'] = length
    out['contractionCount'] = len(marks) or None
    out['timeToFirstContractionS'] = easy
    out['timeAfterFirstContractionS'] = None if easy is None or end is None else end - marks[0]
    out['shareBeforeContractionsPercent'] = None if easy is None or end is None else 100 * easy / length


def measure_saturation(out, recording, hold, before, after):
    start, end = hold['start'], hold['end']
    ended = recording.all_times[-1] if end is None else end
    next_start = INF if after is None else after['start']
    belongs = min(ended + 60, next_start + 10)
    at_start = [v for _, v in recording.saturation(start - 15, start, after=True)]
    at_start = median(at_start) if at_start else None
    of_hold = recording.saturation(start + 10, belongs)
    lowest = min(v for _, v in of_hold) if of_hold else None
    first_low = low_at = None
    if of_hold:
        first = last = next(i for i, (_, v) in enumerate(of_hold) if v == lowest)
        while last + 1 < len(of_hold) and of_hold[last + 1][1] == lowest:
            last += 1
        first_low, low_at = of_hold[first][0], (of_hold[first][0] + of_hold[last][0]) / 2
    fall = None if at_start is None or lowest is None else at_start - lowest
    out['spo2AtStartPercent'], out['spo2LowestPercent'] = at_start, lowest
    out['spo2LowestAfterEndS'] = low_at - end if fall is not None and fall >= 2 and end is not None else None
    out['spo2FallRatePercentPerMin'] = out['spo2SteepestFallPercentPerMin'] = None
    if fall is not None and fall >= 3:
        out['spo2FallRatePercentPerMin'] = fall_rate([p for p in of_hold if p[0] <= low_at], at_start)
        out['spo2SteepestFallPercentPerMin'] = steepest_fall(recording.saturation(start, first_low))
    measure_time_below(out, recording, recording.saturation(start, belongs))
    base = baseline(recording, hold, before)
    out['spo2BaselinePercent'] = base
    out['spo2BackToBaselineS'] = out['spo2HalfTimeS'] = out['timeBackTo95S'] = None
    if end is not None and base is not None and lowest is not None and base - lowest >= 2:
        limit = min(end + 180, next_start)
        back = first_lasting(recording, low_at, limit, base - 1)
        out['spo2BackToBaselineS'] = back - end if back is not None and back >= end else None
        half = first_lasting(recording, low_at, limit, (lowest + base) / 2)
        out['spo2HalfTimeS'] = half - low_at if half is not None else None
    if end is not None and lowest is not None and lowest < 95:
        back = next((t for t, v in recording.saturation(low_at, belongs + 30, after=True) if v >= 95), None)
        out['timeBackTo95S'] = back - end if back is not None and back >= end else None
    whole = seconds_in(start, ended if end is None else ended + 30)
    seen = sum(1 for k in whole if recording.was_watched(k) and recording.saturation(k - 5, k))
    out['spo2CoveragePercent'] = 100 * seen / len(whole) if whole else None


def fall_rate(points, at_start):
    begin = max((i for i, (_, v) in enumerate(points) if v >= at_start - 1), default=0)
    points = points[begin:]
    found = slope(points) if len(points) >= 4 else None
    return None if found is None else -60 * found


def steepest_fall(points):
    steepest = None
    for i, (t, _) in enumerate(points):
        window = [p for p in points[i:] if p[0] <= t + 30]
        if len(window) < 8 or window[-1][0] - t < 25:
            continue
        found = -60 * slope(window)
        steepest = found if steepest is None else max(steepest, found)
    return steepest


def measure_time_below(out, recording, points):
    for threshold in THRESHOLDS:
        time = area = 0.0
        for (t, v), (t_next, _) in zip(points, points[1:]):
            if v >= threshold:
                continue
            until = min([t_next, t + 5] + [a for a, b in recording.unwatched if a >= t])
            time += until - t
            area += (until - t) * (threshold - v)
        known = len(points) >= 2
        out[f'timeBelow{threshold}S'] = time if known else None
        out[f'areaBelow{threshold}PercentS'] = area if known else None


def baseline(recording, hold, before):
    start = hold['start']
    recovered = -INF if before is None or before['end'] is None else before['end'] + 60
    values = [v for _, v in recording.saturation(max(start - 60, recovered), start, after=True)]
    hold['baseline'] = median(values) if len(values) >= 5 else None if before is None else before['baseline']
    return hold['baseline']


def first_lasting(recording, after, until, least):
    points = recording.saturation(after, until, after=True)
    for t, v in points:
        if v >= least and all(w >= least for s, w in points if t < s <= t + 5):
            return t
    return None


def measure_heart(out, recording, start, end, before, after):
    h = HeartRate(recording, start)
    ended = recording.all_times[-1] if end is None else end
    next_start = INF if after is None else after['start']
    keep_clear = -INF if before is None or before['end'] is None else before['end'] + 30
    resting = [h(k) for k in seconds_in(start - 60, start - 10) if k > keep_clear]
    resting = [v for v in resting if v is not None]
    rest = median(resting) if len(resting) >= 10 else None
    in_hold = seconds_in(start, ended)
    known = [v for v in map(h, in_hold) if v is not None]
    means = {n: [(k - n / 2, m) for k in in_hold[n - 1:] for m in [h.mean(k, n)] if m is not None] for n in (3, 5)}
    lowest = min(means[5], key=lambda at: at[1], default=None)
    out['heartRateRestBpm'] = rest
    out['heartRateLowestBpm'] = lowest and lowest[1]
    out['timeToLowestHeartRateS'] = lowest and lowest[0] - start
    out['heartRateMeanBpm'] = mean(known) if known else None
    out['heartRateFallPercent'] = 100 * (rest - lowest[1]) / rest if rest is not None and lowest else None
    peak = max((at for at in means[3] if at[0] <= start + 20), key=lambda at: at[1], default=None)
    out['heartRateInitialPeakBpm'] = peak and peak[1]
    out['heartRateInitialPeakS'] = peak and peak[0] - start
    out['heartRateHalfFallS'] = out['heartRateMostFallS'] = None
    if end is not None and end - start >= 30 and peak:
        settled = min((m for t, m in means[5] if peak[0] < t <= start + 60), default=None)
        if settled is not None and peak[1] - settled >= 0.05 * peak[1]:
            for key, share in (('heartRateHalfFallS', 0.5), ('heartRateMostFallS', 0.9)):
                least = peak[1] - share * (peak[1] - settled)
                out[key] = next((t - start for t, m in means[3] if t > peak[0] and m <= least + 1e-9), None)
    out['heartRateBackS'] = out['heartRateHalfBackS'] = None
    last = [v for v in map(h, in_hold[-5:]) if v is not None]
    if end is not None and rest is not None and len(last) >= 3 and mean(last) < 0.95 * rest:
        for key, least in (('heartRateBackS', 0.95 * rest), ('heartRateHalfBackS', min((mean(last) + rest) / 2, 0.95 * rest))):
            seconds = range(math.ceil(end) + 3, math.floor(min(end + 120, next_start, recording.all_times[-1] + 9)) + 1)
            means_after = ((k, h.mean(k, 3)) for k in seconds)
            out[key] = next((k - 1.5 - end for k, m in means_after if m is not None and m >= least - 1e-9), None)
    out['heartRateCoveragePercent'] = 100 * len(known) / len(in_hold) if in_hold else None


def measure_variability(out, recording, start, end, before, after):
    for key in ('rmssdRestMs', 'sdnnRestMs', 'rmssdRecoveryMs', 'sdnnRecoveryMs', 'rmssdBackS', 'rmssdHalfBackS'):
        out[key] = None
    first = next((t for t in recording.all_times if t > start - 135), INF)
    last = recording.all_times[-1]
    begin = max(start - 130, first, -INF if before is None or before['end'] is None else before['end'] + 30)
    out['rmssdRestMs'], out['sdnnRestMs'] = variability(recording, begin, start - 10)
    if end is None:
        return
    next_start = INF if after is None else after['start']
    out['rmssdRecoveryMs'], out['sdnnRecoveryMs'] = variability(recording, end + 10, min(end + 70, last, next_start))
    rest = out['rmssdRestMs']
    limit = min(end + 180, last, next_start)
    windows = []
    while end + 5 * len(windows) + 30 <= limit:
        j = len(windows)
        windows.append(variability(recording, end + 5 * j, end + 5 * j + 30, 0)[0])
    if rest is None or not windows or windows[0] is None or windows[0] >= 0.8 * rest:
        return
    for key, least in (('rmssdBackS', 0.8 * rest), ('rmssdHalfBackS', min((windows[0] + rest) / 2, 0.8 * rest))):
        out[key] = next((5 * j + 15 for j, w in enumerate(windows) if w is not None and w >= least - 1e-9), None)


# ---- a session ----------------------------------------------------------------------------------------------------------

def session_measures(holds):
    done = [hold for hold in holds if hold['end'] is not None]
    lengths = [hold['end'] - hold['start'] for hold in done]
    pauses = [b['start'] - a['end'] for a, b in zip(done, done[1:])]
    trends = [(lengths[j] - lengths[i]) / (j - i) for i in range(len(lengths)) for j in range(i + 1, len(lengths))]
    of = lambda key: [hold['found'][key] for hold in holds if hold['found'][key] is not None]
    return {
        'holdCount': len(done),
        'totalHoldS': sum(lengths) if lengths else None,
        'workToRecoveryRatio': sum(lengths[:-1]) / sum(pauses) if pauses and sum(pauses) > 0 else None,
        'durationTrendSPerHold': median(trends) if len(lengths) >= 3 else None,
        'lowestSpo2Percent': min(of('spo2LowestPercent'), default=None),
        'medianLagS': median(of('spo2LowestAfterEndS')) if of('spo2LowestAfterEndS') else None,
    }


# ---- what the program says, and the verdict -------------------------------------------------------------------------------

def snake(name):
    name = re.sub(r'(?<!spo)(?<=[A-Za-z])(\d)', r'_\1', name, flags=re.I)
    return re.sub(r'(?<=[a-z0-9])([A-Z])|(?<=[A-Z])([A-Z])(?=[a-z])', lambda m: '_' + m.group(0), name).lower()


def said_holds(said):
    """(holds with boundaries and said measures by key, stretches nobody watched)."""
    if 'athlete' in said:
        holds = [
            {
                'start': each['hold']['start']['atMs'] / 1000,
                'end': None if each['hold']['end'] is None else each['hold']['end']['atMs'] / 1000,
                'said': {measure['key']: measure['value'] for measure in each['measures']},
                'reasons': {measure['key']: measure['whyNot'] for measure in each['measures']},
            }
            for each in said['holds']
        ]
        gaps = [(gap['fromMs'] / 1000, gap['toMs'] / 1000) for gap in said['gaps'] if gap['sensorId'] == 'hub']
        return holds, gaps
    return [{'start': h['start_s'], 'end': h['end_s'], 'said': h['measures']} for h in said['holds']], []


def said_session(path):
    """Figures of a session in a table, by snake_case key, and to how much they are printed."""
    found, inside = {}, False
    with open(path, encoding='utf-8') as file:
        for line in file:
            if not line.startswith(' '):
                inside = line.strip() == 'session'
            match = re.fullmatch(r'  ([a-z][a-z0-9_]*) +(not known|-?\d+(?:\.\d+)?)', line.rstrip('\n')) if inside else None
            if match:
                found[match.group(1)] = None if match.group(2) == 'not known' else float(match.group(2))
    return found


def verdict(found, said, within):
    if found is None or said is None:
        return 'bothNotKnown' if found is None and said is None else 'different'
    return 'equal' if abs(found - said) <= within else 'different'


def needs_beats(key):
    return key.startswith(('heartRate', 'timeToLowestHeartRate', 'rmssd', 'sdnn'))


def judge(case):
    with open(f'{case}.json', encoding='utf-8') as file:
        said = json.load(file)
    holds, gaps = said_holds(said)
    recording = Recording(f'{case}.csv', gaps)
    rows = []

    def note(hold, key, found, value, within, state=None):
        state = state or verdict(found, value, within)
        rows.append({'case': os.path.basename(case), 'hold': hold, 'key': key, 'judged': found, 'said': value, 'verdict': state})

    for i, hold in enumerate(holds):
        before, after = holds[i - 1] if i else None, holds[i + 1] if i + 1 < len(holds) else None
        hold['found'] = measures_of(recording, hold, before, after)
        for key, found in hold['found'].items():
            name = key if key in hold['said'] else snake(key)
            if name not in hold['said']:
                note(i + 1, key, found, None, 0, 'notSaid')
            elif needs_beats(key) and recording.beats_are_missing:
                note(i + 1, key, None, hold['said'][name], 0, 'notInCsv')
            else:
                # Printed to a thousandth; a length also bears the rounding of both boundaries.
                note(i + 1, key, found, hold['said'][name], 0.0021)
        judged = set(hold['found']) | {snake(key) for key in hold['found']}
        for name in hold['said']:
            if name not in judged:
                is_code = any(name in (key, snake(key)) for key in RULE_IS_CODE)
                note(i + 1, name, None, hold['said'][name], 0, 'ruleIsCode' if is_code else 'noRule')
    if os.path.exists(f'{case}.txt'):
        printed = said_session(f'{case}.txt')
        for key, found in session_measures(holds).items():
            name = snake(key)
            if name not in printed:
                note(0, key, found, None, 0, 'notSaid')
            else:
                note(0, key, found, printed[name], 0.0051 if key != 'totalHoldS' else 0.0051 + 0.001 * len(holds))
    return rows


def main(arguments):
    as_json = '--json' in arguments
    cases = [a for a in arguments if a != '--json']
    rows = [row for case in cases for row in judge(case)]
    if as_json:
        json.dump(rows, sys.stdout)
        return int(any(row['verdict'] == 'different' for row in rows))
    states = ('equal', 'bothNotKnown', 'different', 'notInCsv', 'ruleIsCode', 'noRule', 'notSaid')
    table = {}
    for row in rows:
        table.setdefault(row['key'], dict.fromkeys(states, 0))[row['verdict']] += 1
    print('measure'.ljust(40) + ''.join(state.rjust(14) for state in states))
    for key, counts in table.items():
        print(key.ljust(40) + ''.join(str(counts[state]).rjust(14) for state in states))
    for row in rows:
        if row['verdict'] in ('different', 'noRule', 'notSaid'):
            print(f"{row['case']} hold {row['hold']} {row['key']}: judged {row['judged']}, said {row['said']} ({row['verdict']})")
    return int(any(row['verdict'] == 'different' for row in rows))


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
