import { expect, test } from 'vitest';
import type { AlarmView } from '../../shared/views.ts';
import { orderAlarms } from '../../web/state/alarm-order.ts';
import { orderByUrgency, type UrgencyInput, urgency } from '../../web/state/urgency.ts';

const alarm = (priority: AlarmView['priority'], acknowledged = false, raisedAtMs = 0) =>
  ({
    alarmId: `${priority}-${raisedAtMs}`,
    kind: 'floorBreached',
    priority,
    raisedAtMs,
    conditionPresent: true,
    acknowledged,
    value: null,
    message: '',
    instruction: '',
  }) as unknown as AlarmView;
const calm: UrgencyInput = {
  alarms: [],
  phase: 'resting',
  spo2Freshness: 'fresh',
  marginPercent: 10,
  pinned: false,
};

test('the order of a wall, from the most urgent', () => {
  const people: readonly (readonly [string, UrgencyInput])[] = [
    ['resting', calm],
    ['pinned', { ...calm, pinned: true }],
    ['holding near the floor', { ...calm, phase: 'holding', marginPercent: 2 }],
    ['holding far above', { ...calm, phase: 'holding', marginPercent: 10 }],
    ['holding without readings', { ...calm, phase: 'holding', spo2Freshness: 'lost', marginPercent: null }],
    ['recovering', { ...calm, phase: 'recovering' }],
    ['high alarm', { ...calm, alarms: [alarm('high')] }],
    [
      'medium alarm',
      { ...calm, phase: 'holding', pinned: true, spo2Freshness: 'lost', alarms: [alarm('medium')] },
    ],
    ['high alarm, acknowledged', { ...calm, phase: 'recovering', alarms: [alarm('high', true)] }],
  ];
  expect(orderByUrgency(people, ([, input]) => urgency(input)).map(([name]) => name)).toEqual([
    'high alarm',
    'medium alarm',
    'pinned',
    'holding without readings',
    'holding near the floor',
    'holding far above',
    'high alarm, acknowledged',
    'recovering',
    'resting',
  ]);
});

test('equals keep their places, and a margin that moves by one does not change them', () => {
  const holding = (marginPercent: number) => urgency({ ...calm, phase: 'holding', marginPercent });
  expect(holding(9)).toBe(holding(8));
  expect(orderByUrgency(['a', 'b', 'c'], () => 1)).toEqual(['a', 'b', 'c']);
});

test('of one athlete’s alarms the highest unacknowledged comes first', () => {
  const ordered = orderAlarms([alarm('low'), alarm('high', true), alarm('high', false, 5), alarm('medium')]);
  expect(ordered.map((entry) => [entry.priority, entry.acknowledged])).toEqual([
    ['high', false],
    ['high', true],
    ['medium', false],
    ['low', false],
  ]);
});

test('what has passed comes after what asks for action now, and before what is only good to know', () => {
  const passed = { ...alarm('high'), conditionPresent: false };
  const ordered = orderAlarms([passed, alarm('low', false, 9), alarm('medium', true), alarm('high', true)]);
  expect(ordered.map((entry) => [entry.priority, entry.conditionPresent])).toEqual([
    ['high', true],
    ['medium', true],
    ['high', false],
    ['low', true],
  ]);
  const score = (alarms: readonly AlarmView[]) => urgency({ ...calm, alarms });
  expect(score([alarm('medium')])).toBeGreaterThan(score([passed]));
  expect(score([passed])).toBeGreaterThan(score([alarm('low')]));
});
