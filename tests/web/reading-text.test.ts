import { describe, expect, test } from 'vitest';
import { percent } from '../../shared/units.ts';
import { readoutSchema } from '../../shared/views.ts';
import { en } from '../../web/i18n/en.ts';
import { formatAge, formatDuration, formatMeasure, formatSigned } from '../../web/state/format.ts';
import { lostAfterMs, staleAfterMs } from '../../web/state/freshness.ts';
import { marginPercent, readingText } from '../../web/state/reading-text.ts';

const readout = (value: number, quality = 'good', reasons: string[] = []) =>
  readoutSchema.parse({ value, atMs: 100_000, quality, reasons, sensorId: 'x' });
const at = (ageMs: number, silent = false, quality = 'good', reasons: string[] = []) =>
  readingText(readout(91.4, quality, reasons), 100_000 + ageMs, silent, 1, en);

describe('a reading', () => {
  test('fresh shows its number and its age', () => {
    expect(at(1_200)).toEqual({ number: '91', freshness: 'fresh', quality: 'good', note: '1\u202fs old' });
  });
  test('stale says so in words', () => {
    expect(at(staleAfterMs).freshness).toBe('stale');
    expect(at(staleAfterMs).note).toContain('STALE');
  });
  test('lost takes the number away and keeps it only in words', () => {
    const lost = at(lostAfterMs);
    expect(lost.number).not.toContain('91');
    expect(lost.note).toContain('last 91');
  });
  test('a silent hub makes even a young one stale', () => {
    expect(at(200, true).freshness).toBe('stale');
  });
  test('doubt and mistrust give their reason', () => {
    expect(at(0, false, 'suspect', ['motionDip']).note).toContain('uncertain: movement');
    expect(at(0, false, 'bad', ['noContact'])).toMatchObject({ number: '(91)' });
  });
  test('none is none', () => {
    expect(readingText(null, 0, false, 1, en).note).toBe('No reading yet');
  });
  test('a fast demo widens the limits by its scale', () => {
    expect(readingText(readout(91), 100_000 + staleAfterMs, false, 20, en).freshness).toBe('fresh');
  });
});

test('no margin from what is old or not trusted', () => {
  expect(marginPercent(readout(91.4), percent(88), 'fresh')).toBe(3);
  expect(marginPercent(readout(91.4), percent(88), 'stale')).toBeNull();
  expect(marginPercent(readout(91.4, 'bad'), percent(88), 'fresh')).toBeNull();
  expect(marginPercent(null, percent(88), 'none')).toBeNull();
});

test('numbers in words', () => {
  expect(formatDuration(83_999)).toBe('1:23');
  expect(formatDuration(3_600_000)).toBe('1:00:00');
  expect(formatAge(119_999)).toBe('119\u202fs');
  expect(formatAge(120_000)).toBe('2\u202fmin');
  expect(formatSigned(3)).toBe('+3');
  expect(formatSigned(-2)).toBe('\u22122');
  expect(formatMeasure(38.42, 'ms')).toBe('38.4\u202fms');
  expect(formatMeasure(3, 'count')).toBe('3');
  expect(formatMeasure(54.25, '/min')).toBe('54.3\u202f/min');
});
