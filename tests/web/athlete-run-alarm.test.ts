// What an athlete's run of a plan says while an alarm asks to stop.

import { describe, expect, test } from 'vitest';
import { en } from '../../web/i18n/en.ts';
import { alarmedText } from '../../web/views/plans/athlete-run-text.ts';

const words = en.plans;
const floor = { kind: 'floorBreached', priority: 'high', conditionPresent: true } as const;
const forecast = { kind: 'floorForecast', priority: 'medium', conditionPresent: true } as const;
const battery = { kind: 'batteryLow', priority: 'low', conditionPresent: true } as const;

describe("an athlete's run under an alarm", () => {
  test.each([floor, forecast])('tells the holding athlete to breathe: $kind', (alarm) => {
    expect(alarmedText('holding', [battery, alarm], words)).toBe('Breathe now');
  });
  test('does not invite to a start', () => {
    expect(alarmedText('open', [floor], words)).toBe('See to the alarm first');
    expect(alarmedText('free', [floor], words)).toBe('See to the alarm first');
  });
  test('keeps its own words when nothing asks to stop, or no longer', () => {
    expect(alarmedText('holding', [], words)).toBeUndefined();
    expect(alarmedText('holding', [battery], words)).toBeUndefined();
    expect(alarmedText('holding', [{ ...floor, conditionPresent: false }], words)).toBeUndefined();
    expect(alarmedText('waiting', [floor], words)).toBeUndefined();
  });
});
