// Looking closely at traces, without a page: readings at a time, differences, jumps, lanes, which holds are drawn, and the picture.

import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../shared/units.ts';
import type { Trace } from '../../shared/views.ts';
import { emptyOverlay } from '../../web/charts/overlay.ts';
import { alarmLanes } from '../../web/state/alarm-lanes.ts';
import { differenceOf, jumpFrom, readingAt } from '../../web/state/trace-reading.ts';
import { leftOutAtFirst, shownAtFirst } from '../../web/views/holds-compare/deepest-holds.ts';
import { reviewOverlays } from '../../web/views/recording/review-overlays.ts';
import { type PictureParts, tracePicture } from '../../web/views/recording/trace-picture.ts';

const trace: Trace = {
  channel: 'spo2Percent',
  atMs: [0, 1_000, 2_000, 9_000, 10_000],
  value: [98, 97, null, 90, 88],
  quality: 'gsggb',
};

describe('a reading at a time', () => {
  test('the nearest, with its quality; none where none is near', () => {
    expect(readingAt(trace, 0.4)).toEqual({ atSeconds: 0, value: 98, quality: 'good' });
    expect(readingAt(trace, 0.6)).toEqual({ atSeconds: 1, value: 97, quality: 'suspect' });
    expect(readingAt(trace, 60)).toBeNull();
    expect(readingAt(trace, 5.5)).toBeNull();
    // A silence that the hub told of is no reading.
    expect(readingAt(trace, 2.1)).toBeNull();
    expect(readingAt(trace, 10.2)).toEqual({ atSeconds: 10, value: 88, quality: 'bad' });
    expect(readingAt(null, 1)).toBeNull();
  });

  test('two points: time, change and rate by the readings\u2019 own times', () => {
    const at = (seconds: number) => ({ atSeconds: seconds, reading: readingAt(trace, seconds) });
    expect(differenceOf(at(0.2), at(9.1))).toEqual({
      seconds: 8.9,
      change: -8,
      changePerMinute: (60 * -8) / 9,
    });
    expect(differenceOf(at(9.1), at(0.2)).change).toBe(8);
    expect(differenceOf(at(0), at(5.5))).toEqual({ seconds: 5.5, change: null, changePerMinute: null });
    expect(differenceOf(at(0), at(0.1)).changePerMinute).toBeNull();
  });
});

test('jumps go to the next and the previous, and never stay', () => {
  const times = [10, 20, 20, 30];
  expect(jumpFrom(times, 5, 1)).toBe(0);
  expect(jumpFrom(times, 10, 1)).toBe(1);
  expect(jumpFrom(times, 20, 1)).toBe(3);
  expect(jumpFrom(times, 30, 1)).toBeNull();
  expect(jumpFrom(times, 20, -1)).toBe(0);
  expect(jumpFrom(times, 10, -1)).toBeNull();
  expect(jumpFrom([], 10, 1)).toBeNull();
});

const alarm = (
  alarmId: string,
  kind: 'floorBreached' | 'pageUnresponsive' | 'sensorLost',
  highestPriority: 'high' | 'medium' | 'low',
  fromS: number,
  toS: number | null,
) => ({
  alarm: { alarmId, kind, highestPriority, raisedAtMs: monotonicMs(fromS * 1_000) },
  clearedAtMs: toS === null ? null : toS * 1_000,
});

test('a long alarm of the system and a short one of the floor have a lane each, the floor\u2019s first', () => {
  const lanes = alarmLanes(
    [
      alarm('a', 'pageUnresponsive', 'medium', 5, null),
      alarm('b', 'floorBreached', 'high', 200, 215),
      alarm('c', 'floorBreached', 'medium', 100, 110),
      alarm('d', 'sensorLost', 'medium', 2, 4),
    ],
    600,
  );
  expect(
    lanes.map(({ kind, priority, alarms }) => [kind, priority, alarms.map((each) => each.alarmId)]),
  ).toEqual([
    ['floorBreached', 'high', ['c', 'b']],
    ['sensorLost', 'medium', ['d']],
    ['pageUnresponsive', 'medium', ['a']],
  ]);
  expect(lanes[2]!.alarms[0]).toMatchObject({ fromSeconds: 5, toSeconds: 600 });
});

test('what is missing is marked on the channel that misses it, and what nobody watched on all', () => {
  const gap = (sensorId: string, code: string, fromMs: number) => ({
    sensorId,
    fromMs: monotonicMs(fromMs),
    toMs: monotonicMs(fromMs + 1_000),
    reason: { code, params: {} },
  });
  const athlete = {
    athlete: { settings: { floorSpo2Percent: 88, thresholdsPercent: [] } },
    holds: [],
    marks: [],
    alarms: [],
    gaps: [
      gap('clip', 'gap.spo2Percent', 1_000),
      gap('clip', 'gap.pulseRateBpm', 2_000),
      gap('strap', 'gap.heartRateBpm', 3_000),
      gap('clip', 'gap.pleth', 4_000),
      gap('hub', 'gap.slept', 5_000),
    ],
  } as never;
  const shown = reviewOverlays(athlete, '', null, 'heartRateBpm');
  const begins = ({ gaps }: { readonly gaps: readonly { readonly fromSeconds: number }[] }) =>
    gaps.map(({ fromSeconds }) => fromSeconds);
  expect([begins(shown.spo2), begins(shown.heartRate), begins(shown.pleth)]).toEqual([
    [1, 5],
    [3, 5],
    [4, 5],
  ]);
  // Where the clip's pulse rate is drawn, a silence of the strap is not its own.
  expect(begins(reviewOverlays(athlete, '', null, 'pulseRateBpm').heartRate)).toEqual([2, 5]);
});

test('of many holds the deepest are drawn, of equals the longer; few are all drawn', () => {
  const hold = (index: number, lowest: number | null, lastsMs: number) => ({
    key: `h${index}`,
    times: { startAtMs: 0, endAtMs: lastsMs, firstContractionAtMs: null },
    window: { hold: { lowestSpo2: lowest === null ? null : { value: lowest } }, traces: [] } as never,
  });
  const holds = Array.from({ length: 20 }, (_, index) => hold(index, 98 - index, 60_000));
  expect([...leftOutAtFirst(holds)]).toEqual(
    holds
      .slice(0, 20 - shownAtFirst)
      .reverse()
      .map(({ key }) => key),
  );
  expect(leftOutAtFirst(holds.slice(0, shownAtFirst)).size).toBe(0);
  const alike = Array.from({ length: 13 }, (_, index) => hold(index, 90, 60_000 + index));
  expect([...leftOutAtFirst(alike)]).toEqual(['h0']);
  expect([...leftOutAtFirst([...holds, hold(99, null, 500_000)])]).toContain('h99');
});

describe('the picture', () => {
  const theme = {
    ink: '#000',
    faint: '#555',
    grid: '#ddd',
    surface: '#fff',
    spo2: '#00f',
    heartRate: '#a0a',
    hold: '#efe',
    holdEdge: '#0a0',
    watermark: '#eee',
    alarmHigh: '#c00',
    alarmMedium: '#fd0',
    alarmLow: '#08a',
  };
  const parts = (changes: Partial<PictureParts> = {}): PictureParts => ({
    title: 'Evening <quiet> & "warm"\u0000',
    lines: ['3 May 2025'],
    footer: 'Recorded with Slackwater. Not a medical device.',
    watermark: 'SIMULATED',
    missing: 'no data',
    range: { fromSeconds: 0, toSeconds: 12 },
    acrossSeconds: 3.5,
    plots: [
      {
        label: 'SpO2 %',
        colour: '#00f',
        isFaint: false,
        trace,
        overlay: {
          ...emptyOverlay,
          floorPercent: 89,
          floorLabel: 'Floor 89 %',
          holds: [{ fromSeconds: 1, toSeconds: 9 }],
          gaps: [{ fromSeconds: 2, toSeconds: 9 }],
        },
        least: 80,
        greatest: 101,
        ticks: [80, 90, 100],
        height: 200,
      },
    ],
    lanes: [],
    points: { a: 1, b: 9 },
    theme,
    ...changes,
  });

  test('says what it is: not a medical device, SIMULATED when so, and nobody unless asked', () => {
    const svg = tracePicture(parts());
    expect(svg).toContain('Not a medical device.');
    expect(svg).toContain('>SIMULATED</text>');
    expect(svg).toContain('Floor 89 %');
    expect(svg).toContain('>no data</text>');
    expect(tracePicture(parts({ watermark: null }))).not.toContain('SIMULATED');
  });

  test('is well-formed whatever a title holds, and draws no line over a silence or through a bad reading', () => {
    const svg = tracePicture(parts());
    expect(svg).toContain('Evening &lt;quiet&gt; &amp; &quot;warm&quot;?');
    expect(svg).not.toContain('\u0000');
    expect(svg).not.toContain('NaN');
    const line = /<path d="(M[^"]*)" fill="none" stroke="#00f"/.exec(svg)![1]!;
    // Two readings, a silence, one reading; the bad one is left out.
    expect(line.match(/M/g)).toHaveLength(2);
    expect(line.match(/L/g)).toHaveLength(1);
  });
});
