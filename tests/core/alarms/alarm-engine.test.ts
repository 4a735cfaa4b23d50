// Decision table of the alarm engine: each row a story told in events, and the alarms and sound it must end in.

import { describe, expect, test } from 'vitest';
import type { AlarmKind, AlarmPriority, SampleQuality } from '../../../shared/schema-parts.ts';
import { monotonicMs, percent } from '../../../shared/units.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import { alarmTextInEnglish } from '../../../shared/words/en-alarms.ts';
import type { AlarmEvent } from '../../../src/alarms/alarm.ts';
import {
  type AlarmState,
  createAlarmState,
  isFloorLocked,
  soundOf,
  stepAlarms,
} from '../../../src/alarms/alarm-engine.ts';
import { isFloorLoweredDuringHold, settingsInForce } from '../../../src/alarms/floor-setting.ts';
import type { Forecast } from '../../../src/oxygen/forecast.ts';

const settings: AthleteSettings = {
  floorSpo2Percent: percent(88),
  thresholdsPercent: [],
  heartRateLowBpm: 35,
  heartRateHighBpm: 150,
  maxHoldDurationMs: null,
  forecastAlarm: 'high',
};

/** Tells a story: readings every second, time in seconds, with `advance` four times a second in between. */
class Story {
  state: AlarmState;
  nowS = 0;
  holds = 0;
  holdStart = { atMs: monotonicMs(0) };
  constructor(changes: Partial<AthleteSettings> = {}) {
    this.state = createAlarmState(settingsInForce({ ...settings, ...changes }));
  }
  event(event: AlarmEvent): this {
    this.state = stepAlarms(this.state, event).state;
    return this;
  }
  at(): { readonly atMs: ReturnType<typeof monotonicMs> } {
    return { atMs: monotonicMs(Math.round(this.nowS * 1000)) };
  }
  wait(seconds: number): this {
    const end = this.nowS + seconds;
    while (this.nowS < end - 1e-9) {
      this.nowS = Math.min(end, this.nowS + 0.25);
      this.event({ type: 'advance', ...this.at() });
    }
    return this;
  }
  readings(values: readonly number[], quality: SampleQuality = 'good'): this {
    for (const spo2Percent of values) {
      this.event({ type: 'spo2', ...this.at(), spo2Percent, quality, reasons: [], sensorId: 'ox' });
      this.wait(1);
    }
    return this;
  }
  heart(values: readonly number[]): this {
    for (const heartRateBpm of values) {
      this.event({ type: 'heartRate', ...this.at(), heartRateBpm, quality: 'good', sensorId: 'hr' });
      this.event({
        type: 'spo2',
        ...this.at(),
        spo2Percent: 97,
        quality: 'good',
        reasons: [],
        sensorId: 'ox',
      });
      this.wait(1);
    }
    return this;
  }
  steady(seconds: number, value = 97): this {
    return this.readings(Array.from({ length: seconds }, () => value));
  }
  holdStarts(): this {
    this.holds += 1;
    this.holdStart = this.at();
    const hold = { holdId: `h${this.holds}`, start: this.holdStart };
    return this.event({ type: 'hold', ...this.at(), change: 'started', hold });
  }
  holdEnds(): this {
    const hold = { holdId: `h${this.holds}`, start: this.holdStart, end: this.at() };
    return this.event({ type: 'hold', ...this.at(), change: 'ended', hold });
  }
  acknowledge(): this {
    return this.event({ type: 'acknowledge', ...this.at() });
  }
  pause(paused = true): this {
    return this.event({ type: 'pauseAudio', ...this.at(), paused });
  }
  link(
    connected: boolean,
    sensorId = 'ox',
    measures: readonly ('heartRate' | 'oximeter' | 'breathing')[] = ['oximeter'],
  ): this {
    return this.event({ type: 'link', ...this.at(), sensorId, measures, connected });
  }
  forecast(lowest: number, seconds: number, stopAdvised: boolean, onlyIfEmptied = false): this {
    const forecast: Forecast = {
      known: true,
      lowestIfStoppedNow: {
        percent: lowest,
        lowPercent: lowest - 2,
        highPercent: lowest + 2,
        central: { lowPercent: lowest - 1, highPercent: lowest + 1 },
      },
      secondsToStop: { seconds, lowSeconds: Math.max(0, seconds - 8), highSeconds: seconds + 8 },
      stopAdvised,
      onlyIfEmptied,
    };
    return this.event({ type: 'forecast', ...this.at(), forecast });
  }
  kinds(): readonly AlarmKind[] {
    return this.state.alarms.map((alarm) => alarm.kind);
  }
  has(kind: AlarmKind): boolean {
    return this.kinds().includes(kind);
  }
  priorityOf(kind: AlarmKind): AlarmPriority | undefined {
    return this.state.alarms.find((alarm) => alarm.kind === kind)?.priority;
  }
  sound(): AlarmPriority | null {
    return soundOf(this.state).priority;
  }
}

const fall = (from: number, to: number, step = 0.5): number[] => {
  const values: number[] = [];
  for (let value = from; value >= to - 1e-9; value -= step) values.push(value);
  return values;
};

describe('floor breached', () => {
  test('is high, and comes at most 3 s after the first reading below the floor', () => {
    const story = new Story().steady(10).readings(fall(97, 88, 0.5));
    expect(story.kinds()).toEqual([]);
    story.readings([87.5]);
    const belowAtS = story.nowS - 1;
    while (!story.has('floorBreached') && story.nowS < belowAtS + 10) {
      story.event({
        type: 'spo2',
        ...story.at(),
        spo2Percent: 87,
        quality: 'good',
        reasons: [],
        sensorId: 'ox',
      });
      if (!story.has('floorBreached')) story.wait(0.25);
    }
    expect(story.nowS - belowAtS).toBeLessThanOrEqual(3);
    expect(story.priorityOf('floorBreached')).toBe('high');
    expect(story.sound()).toBe('high');
  });
  test.each([
    { name: 'without any hold', before: (story: Story) => story },
    { name: 'in a hold', before: (story: Story) => story.holdStarts() },
    { name: 'after a hold', before: (story: Story) => story.holdStarts().steady(5).holdEnds() },
  ])('is decided $name', ({ before }) => {
    expect(before(new Story().steady(3)).readings(fall(97, 86)).wait(1).has('floorBreached')).toBe(true);
  });
  test.each([
    { name: 'one spike', values: [97, 97, 60, 97, 97, 97] },
    { name: 'two bad seconds by a jump', values: [97, 97, 80, 81, 97, 97, 97] },
    { name: 'just at the floor', values: [90, 89, 88, 88, 88, 88, 88] },
  ])('does not come for $name', ({ values }) => {
    expect(new Story().readings(values).wait(2).has('floorBreached')).toBe(false);
  });
  test.each([
    { name: 'flickering about the floor', values: [90, 89, 87.8, 88.1, 87.8, 88.1, 87.8] },
    { name: 'a jump that lasts', values: [97, 97, 80, 80, 80, 80, 80, 80, 80] },
    { name: 'suspect readings', values: [89, 88.5, 87.9, 87.5, 87, 86.5], quality: 'suspect' as const },
  ])('comes for $name', ({ values, quality }) => {
    expect(new Story().readings(values, quality ?? 'good').has('floorBreached')).toBe(true);
  });
  test('comes for one low reading that silence follows', () => {
    expect(new Story().readings([89, 87]).wait(2.75).has('floorBreached')).toBe(true);
  });
  test('comes at the second deep reading after a gap', () => {
    // Blood could have come there meanwhile: 15 points in 20 s.
    const story = new Story().readings([95]).wait(20);
    story.event({
      type: 'spo2',
      ...story.at(),
      spo2Percent: 80,
      quality: 'good',
      reasons: [],
      sensorId: 'ox',
    });
    story.wait(1);
    expect(story.has('floorBreached')).toBe(false);
    story.event({
      type: 'spo2',
      ...story.at(),
      spo2Percent: 80,
      quality: 'good',
      reasons: [],
      sensorId: 'ox',
    });
    expect(story.has('floorBreached')).toBe(true);
  });
  describe('a jump that blood cannot make', () => {
    const jumped = (story: Story, seconds: number, pulse: readonly number[]): Story => {
      const pulseAt = (index: number): void => {
        const pulseRateBpm = pulse[index % pulse.length]!;
        story.event({ type: 'pulseRate', ...story.at(), pulseRateBpm, sensorId: 'ox' });
      };
      for (let second = 0; second < 5; second++) {
        story.readings([97]);
        story.event({ type: 'pulseRate', ...story.at(), pulseRateBpm: 62 + (second % 2), sensorId: 'ox' });
      }
      for (let second = 0; second < seconds; second++) {
        story.event({
          type: 'spo2',
          ...story.at(),
          spo2Percent: 80,
          quality: 'suspect',
          reasons: ['motionDip'],
          sensorId: 'ox',
        });
        pulseAt(second);
        story.wait(1);
      }
      return story;
    };
    const hold = (): Story => new Story().steady(1).holdStarts();
    const jumping = [70, 55, 66];
    test.each([
      ['a steady pulse', [62, 63]],
      ['a jumping pulse', jumping],
    ])(
      'with %s alarms within 3 s, in a hold and outside one, and says the doubt beside it',
      (_name, pulse) => {
        for (const begin of [hold, () => new Story()]) {
          const story = jumped(begin(), 2, pulse);
          expect(story.has('floorBreached')).toBe(false);
          expect(jumped(begin(), 4, pulse).priorityOf('floorBreached')).toBe('high');
        }
        const floor = jumped(hold(), 4, pulse).state.alarms.find(({ kind }) => kind === 'floorBreached')!;
        expect(floor.detail).toBe('fellTooFast');
        expect(alarmTextInEnglish(floor).message).toMatch(/faster than blood can.*act on it all the same/);
        expect(alarmTextInEnglish(floor).instruction).toMatch(/Stop and breathe now/);
      },
    );
    test('is no longer doubted once blood could have come there', () => {
      const floor = jumped(hold(), 40, [62, 63]).state.alarms.find(({ kind }) => kind === 'floorBreached')!;
      expect(floor.detail).toBeUndefined();
    });
    test('then silence after a single low reading: the lost signal alarms', () => {
      const story = hold().readings([97, 97, 80]).wait(4);
      expect(story.has('floorBreached')).toBe(false);
      expect(story.wait(7).priorityOf('sensorLost')).toBe('high');
    });
    test('then silence after two low readings alarms', () => {
      expect(hold().readings([97, 97, 80, 80]).wait(1).has('floorBreached')).toBe(true);
    });
    test('near the floor alarms within 3 s, because blood may be below it by now', () => {
      const story = new Story().steady(1).holdStarts();
      const falling = [93, 93, 92, 92, 92, 91, 91, 91, 90, 90, 90, 89, 89];
      const pulses = [70, 50, 66];
      story.readings(falling).readings([78], 'suspect');
      for (const pulseRateBpm of pulses) {
        story.event({ type: 'pulseRate', ...story.at(), pulseRateBpm, sensorId: 'ox' });
        story.readings([77], 'suspect');
      }
      expect(story.has('floorBreached')).toBe(true);
    });
    test('after a display that stood still alarms within 3 s, though the pulse jumps with it', () => {
      const story = new Story().steady(1).holdStarts();
      for (let second = 0; second < 20; second++) {
        story.readings([93]);
        story.event({ type: 'pulseRate', ...story.at(), pulseRateBpm: 52, sensorId: 'ox' });
      }
      for (const pulseRateBpm of [69, 70, 71]) {
        story.event({
          type: 'spo2',
          ...story.at(),
          spo2Percent: 82,
          quality: 'suspect',
          reasons: [],
          sensorId: 'ox',
        });
        story.event({ type: 'pulseRate', ...story.at(), pulseRateBpm, sensorId: 'ox' });
        story.wait(1);
      }
      expect(story.has('floorBreached')).toBe(true);
    });
    test('that ends in low readings alike which blood could have reached alarms soon after it', () => {
      const story = new Story().steady(1).holdStarts().readings([96, 95, 94, 93, 92, 91, 90, 90, 89, 89]);
      const values = [76, 71, 70, 72, 78, 87, 86, 86, 86];
      values.forEach((spo2Percent, index) => {
        story.event({
          type: 'spo2',
          ...story.at(),
          spo2Percent,
          quality: 'suspect',
          reasons: index < 5 ? ['poorSignal'] : [],
          sensorId: 'ox',
        });
        story.event({
          type: 'pulseRate',
          ...story.at(),
          pulseRateBpm: index < 5 ? 50 + 9 * (index % 3) : 66,
          sensorId: 'ox',
        });
        story.wait(1);
      });
      expect(story.has('floorBreached')).toBe(true);
    });
  });
  test('is not decided on bad readings', () => {
    const story = new Story().steady(5).readings([70, 70, 70, 70, 70, 70], 'bad');
    expect(story.has('floorBreached')).toBe(false);
  });
  test('latches until acknowledged and gone', () => {
    const story = new Story()
      .readings(fall(97, 86))
      .readings(fall(86, 86))
      .readings([89, 91, 93, 95, 96, 97]);
    expect(story.state.alarms[0]).toMatchObject({
      kind: 'floorBreached',
      conditionPresent: false,
      acknowledged: false,
    });
    expect(story.sound()).toBe('high');
    story.acknowledge();
    expect(story.kinds()).toEqual([]);
    expect(story.sound()).toBeNull();
  });
  test('by its id alone leaves the others sounding, one unknown by then too', () => {
    const story = new Story().readings(fall(97, 86));
    const floor = story.state.alarms.find(({ kind }) => kind === 'floorBreached')!;
    story.event({ type: 'acknowledge', ...story.at(), alarmIds: ['alarm-99'] });
    expect(soundOf(story.state).priority).toBe('high');
    story.event({ type: 'battery', ...story.at(), sensorId: 'ox', batteryPercent: 4 });
    story.event({ type: 'acknowledge', ...story.at(), alarmIds: [floor.alarmId] });
    expect(story.state.alarms.map(({ kind, acknowledged }) => [kind, acknowledged])).toEqual([
      ['floorBreached', true],
      ['batteryLow', false],
    ]);
    expect(soundOf(story.state).priority).toBe('medium');
  });
  test('acknowledged is silent but stays until gone, and sounds again on a new breach', () => {
    const story = new Story().readings(fall(97, 86)).acknowledge();
    expect(story.sound()).toBeNull();
    expect(story.state.alarms[0]).toMatchObject({ acknowledged: true, conditionPresent: true });
    story.readings([90, 92, 94, 96, 97]);
    expect(story.kinds()).toEqual([]);
    story.readings(fall(97, 86));
    expect(story.sound()).toBe('high');
  });
  test('acknowledged sounds again when it gets 5 points deeper', () => {
    const story = new Story().readings(fall(97, 86)).acknowledge().readings(fall(86, 84));
    expect(story.sound()).toBeNull();
    story.readings(fall(83.5, 82.5));
    expect(story.sound()).toBe('high');
  });
  test('silence does not end it', () => {
    const story = new Story().readings(fall(97, 86)).readings([89]).wait(30);
    expect(story.state.alarms.find((alarm) => alarm.kind === 'floorBreached')?.conditionPresent).toBe(true);
  });
});

describe('audio pause', () => {
  test('silences for 60 s at most and pressing again does not lengthen it', () => {
    // Breathing is seen, so that no escalation ends the pause.
    const story = new Story()
      .readings(fall(97, 86))
      .event({ type: 'breathingSeen', atMs: monotonicMs(23_000) });
    story.pause();
    const startS = story.nowS;
    expect(story.sound()).toBeNull();
    for (let second = 0; second < 59; second++) story.readings([86]).pause();
    expect(story.nowS - startS).toBe(59);
    expect(story.sound()).toBeNull();
    story.readings([86]);
    expect(story.sound()).toBe('high');
  });
  test('ends at a new alarm and when a person ends it', () => {
    const story = new Story({ heartRateLowBpm: 50 }).readings(fall(97, 86)).pause().readings([86]);
    expect(story.sound()).toBeNull();
    story.pause(false);
    expect(story.sound()).toBe('high');
    story.pause();
    for (let index = 0; index < 7; index++) {
      story.event({ type: 'heartRate', ...story.at(), heartRateBpm: 45, quality: 'good', sensorId: 'hr' });
      story.readings([86]);
    }
    expect(story.has('heartRateLow')).toBe(true);
    expect(story.sound()).toBe('high');
  });
  test('cannot be taken ahead of an alarm', () => {
    const story = new Story().steady(3).pause();
    expect(soundOf(story.state).audioPausedUntilMs).toBeNull();
    expect(story.readings(fall(97, 86)).sound()).toBe('high');
  });
});

describe('forecast alarm', () => {
  const holding = (alarm: AthleteSettings['forecastAlarm']): Story =>
    new Story({ forecastAlarm: alarm }).steady(5).holdStarts().steady(5);
  test.each([
    ['high', 'high'],
    ['medium', 'medium'],
    ['off', undefined],
  ] as const)('set to %s has priority %s', (alarm, priority) => {
    expect(holding(alarm).forecast(89, 0, true).priorityOf('floorForecast')).toBe(priority);
  });
  test('says what is likely, and that it comes by risk where what is expected lies above the floor', () => {
    const messageAt = (lowest: number): string =>
      alarmTextInEnglish(
        holding('high')
          .forecast(lowest, 0, true)
          .state.alarms.find((alarm) => alarm.kind === 'floorForecast')!,
      ).message;
    expect(messageAt(settings.floorSpo2Percent + 3)).toMatch(
      /likely .* The risk of going below it is no longer small/,
    );
    expect(messageAt(settings.floorSpo2Percent - 3)).toMatch(
      /likely .* to .*%\); the floor is [0-9]+\u202f%\.$/,
    );
  });
  test('says that it comes because nobody said how full the lungs are, as long as it does', () => {
    const alarmAfter = (story: Story) => story.state.alarms.find((alarm) => alarm.kind === 'floorForecast')!;
    const story = holding('high').forecast(96, 10, true, true);
    const first = alarmAfter(story);
    expect(first).toMatchObject({ priority: 'high', detail: 'lungsUnsaid' });
    expect(alarmTextInEnglish(first).instruction).toMatch(
      /^Breathe now.* Nobody said how full the lungs are/,
    );
    const later = alarmAfter(story.forecast(90, 0, true));
    expect(later.alarmId).toBe(first.alarmId);
    expect(later.detail).toBeUndefined();
    expect(alarmTextInEnglish(later).instruction).not.toContain('lungs');
  });
  test('does not come while the forecast leaves time or knows nothing', () => {
    const story = holding('high').forecast(94, 40, false);
    story.event({ type: 'forecast', ...story.at(), forecast: { known: false, reason: 'flat' } });
    expect(story.kinds()).toEqual([]);
  });
  test('stays in doubt and goes when the hold ends', () => {
    const story = holding('high').forecast(89, 0, true);
    story.event({ type: 'forecast', ...story.at(), forecast: { known: false, reason: 'noReading' } });
    expect(story.has('floorForecast')).toBe(true);
    expect(story.holdEnds().has('floorForecast')).toBe(false);
  });
  test('stands while the range shown reaches down to the floor, and no longer', () => {
    const floor = settings.floorSpo2Percent;
    // The range of these stories begins two points below what is expected.
    const story = holding('high').forecast(floor + 2, 0, true);
    expect(story.forecast(floor + 2.4, 20, false).has('floorForecast')).toBe(true);
    expect(story.forecast(floor + 2.6, 20, false).has('floorForecast')).toBe(false);
  });
});

describe('after an alarm to stop', () => {
  test('no sign of breathing escalates after 20 s, also when the forecast alarm was acknowledged', () => {
    const story = new Story()
      .steady(5)
      .holdStarts()
      .steady(5)
      .forecast(89, 0, true)
      .acknowledge()
      .steady(19, 93);
    expect(story.sound()).toBeNull();
    story.steady(2, 92);
    expect(story.priorityOf('noBreathingSign')).toBe('high');
    expect(story.sound()).toBe('high');
    story.event({ type: 'breathingSeen', ...story.at() });
    expect(story.has('noBreathingSign')).toBe(false);
  });
  test('breathing in time does not', () => {
    const story = new Story()
      .steady(5)
      .holdStarts()
      .steady(5)
      .forecast(89, 0, true)
      .steady(10, 93)
      .holdEnds();
    expect(story.steady(40, 92).has('noBreathingSign')).toBe(false);
  });
  test('a floor reached only after breathing began does not, within the lag', () => {
    const story = new Story()
      .steady(5)
      .holdStarts()
      .readings(fall(97, 89))
      .holdEnds()
      .readings(fall(88.5, 86));
    story.readings(Array.from({ length: 25 }, () => 86));
    expect(story.has('floorBreached')).toBe(true);
    expect(story.has('noBreathingSign')).toBe(false);
  });
  test('outside any hold a breach escalates too', () => {
    expect(new Story().readings(fall(97, 86)).steady(21, 86).has('noBreathingSign')).toBe(true);
  });
  test('saturation not back a minute after the hold', () => {
    const low = new Story().steady(30).holdStarts().steady(30, 92).holdEnds().steady(61, 90);
    expect(low.priorityOf('saturationNotRecovering')).toBe('medium');
    expect(low.steady(1, 97).has('saturationNotRecovering')).toBe(false);
    const back = new Story().steady(30).holdStarts().steady(30, 92).holdEnds().steady(30, 90).steady(60, 97);
    expect(back.kinds()).toEqual([]);
  });
  test('longest hold', () => {
    const story = new Story({ maxHoldDurationMs: 30_000 }).steady(2).holdStarts().steady(29);
    expect(story.kinds()).toEqual([]);
    expect(story.steady(1).priorityOf('maxDuration')).toBe('medium');
    expect(story.holdEnds().kinds()).toEqual([]);
  });
});

describe('heart rate', () => {
  test('a sudden fall in a hold is high and latches', () => {
    const story = new Story().heart([80, 80, 80]).holdStarts().heart([78, 70, 55, 45, 38, 37, 36]);
    expect(story.priorityOf('heartRateSuddenFall')).toBe('high');
    story.heart([60, 75, 80, 80]);
    expect(story.state.alarms[0]).toMatchObject({ kind: 'heartRateSuddenFall', conditionPresent: false });
  });
  test.each([
    {
      name: 'the ordinary start of a hold',
      values: [85, 83, 80, 77, 74, 72, 70, 68, 66, 65, 64, 63, 62, 61, 60],
    },
    { name: 'one missed beat', values: [80, 80, 80, 40, 80, 80] },
  ])('not for $name', ({ values }) => {
    expect(new Story().heart([80]).holdStarts().heart(values).kinds()).toEqual([]);
  });
  test.each([
    ['heartRateLow', 33],
    ['heartRateHigh', 160],
  ] as const)('%s after 5 s beyond the limit', (kind, bpm) => {
    const story = new Story().heart([bpm, bpm, bpm, bpm]);
    expect(story.has(kind)).toBe(false);
    story.heart([bpm, bpm]);
    expect(story.priorityOf(kind)).toBe('medium');
    expect(story.heart([80]).has(kind)).toBe(false);
  });
  test('no limits set, no alarm', () => {
    const story = new Story({ heartRateLowBpm: null, heartRateHighBpm: null });
    expect(story.heart(Array.from({ length: 9 }, () => 190)).kinds()).toEqual([]);
  });
});

describe('no data is an alarm', () => {
  test.each([
    { name: 'outside a hold', hold: false, stale: 'low', lost: 'low' },
    { name: 'in a hold', hold: true, stale: 'low', lost: 'high' },
    { name: 'in a hold, close to the floor', hold: true, value: 92, stale: 'medium', lost: 'high' },
  ] as const)('$name: stale after 5 s, lost after 10 s', ({ hold, stale, lost, ...at }) => {
    const story = new Story().steady(5, 'value' in at ? at.value : 97);
    if (hold) story.holdStarts();
    story.wait(3.5);
    expect(story.kinds()).toEqual([]);
    story.wait(1);
    expect(story.priorityOf('readingsStale')).toBe(stale);
    story.wait(5);
    expect(story.kinds().filter((kind) => kind === 'readingsStale')).toEqual([]);
    expect(story.priorityOf('sensorLost')).toBe(lost);
    expect(story.steady(1).kinds()).toEqual([]);
  });
  test('in a hold with a forecast that alarms, stale readings are medium wherever they stand', () => {
    const story = new Story().steady(5).holdStarts().steady(1).forecast(89, 0, true).wait(5);
    expect(story.priorityOf('readingsStale')).toBe('medium');
  });
  test('a broken link is told at once, and again louder when a hold starts', () => {
    const story = new Story().link(true).steady(3).link(false);
    expect(story.priorityOf('sensorLost')).toBe('low');
    story.acknowledge();
    expect(story.sound()).toBeNull();
    expect(story.holdStarts().wait(0.25).sound()).toBe('high');
  });
  describe('two oximeters', () => {
    /** Both send once a second. */
    const both = (story: Story, seconds: number, one: number | null, other: number | null): Story => {
      for (let second = 0; second < seconds; second++) {
        for (const [sensorId, spo2Percent] of [
          ['ox', one],
          ['ox2', other],
        ] as const)
          if (spo2Percent !== null)
            story.event({
              type: 'spo2',
              ...story.at(),
              spo2Percent: spo2Percent + 0.1 * (second % 2),
              quality: 'good',
              reasons: [],
              sensorId,
            });
        story.wait(1);
      }
      return story;
    };
    test('one at 98 % does not speak against the other below the floor, and the lower is named', () => {
      const story = both(new Story().link(true).link(true, 'ox2').holdStarts(), 5, 98, 89);
      both(story, 4, 98, 86);
      const floor = story.state.alarms.find(({ kind }) => kind === 'floorBreached');
      expect(floor).toMatchObject({ priority: 'high', sensorId: 'ox2', conditionPresent: true });
      expect(floor!.value).toBeCloseTo(86, 0);
      expect(both(story, 10, 98, 86).has('floorBreached')).toBe(true);
    });
    test('one that is lost in a hold is told, less urgently while the other watches', () => {
      const story = both(new Story().link(true).link(true, 'ox2').holdStarts(), 5, 98, 97);
      both(story, 11, 98, null);
      const lost = story.state.alarms.find(({ kind }) => kind === 'sensorLost')!;
      expect(lost).toMatchObject({ priority: 'medium', sensorId: 'ox2' });
      expect(alarmTextInEnglish(lost).instruction).toMatch(/Another oximeter still watches/);
      const blind = both(story, 11, null, null).state.alarms.filter(({ kind }) => kind === 'sensorLost');
      expect(blind.map(({ priority }) => priority)).toEqual(['high', 'high']);
      expect(alarmTextInEnglish(blind[0]!).instruction).toMatch(/nothing is watching saturation/);
    });
    test('one that was taken off long before the hold is not missed in it', () => {
      const story = both(new Story().link(true).link(true, 'ox2'), 5, 98, 97).link(false, 'ox2');
      both(story, 70, 98, null).holdStarts();
      both(story, 12, 98, null);
      expect(story.priorityOf('sensorLost')).toBe('low');
    });
    test('one that fell silent below the floor decides no longer when the other has read well for a minute', () => {
      const story = both(new Story().link(true).link(true, 'ox2'), 5, 98, 89);
      both(story, 4, 98, 86);
      both(story, 55, 98, null);
      const floor = () => story.state.alarms.find(({ kind }) => kind === 'floorBreached');
      expect(floor()?.conditionPresent).toBe(true);
      both(story, 10, 98, null);
      expect(floor()?.conditionPresent).toBe(false);
    });
  });
  describe('a display that stands still in a hold', () => {
    const frozen = (
      story: Story,
      seconds: number,
      changes: { spo2?: number; pulse?: number } = {},
    ): Story => {
      for (let second = 0; second < seconds; second++) {
        const spo2Percent = 96 + (changes.spo2 ?? 0) * (second % 2);
        story.event({
          type: 'spo2',
          ...story.at(),
          spo2Percent,
          quality: 'good',
          reasons: [],
          sensorId: 'ox',
        });
        const pulseRateBpm = 60 + (changes.pulse ?? 0) * (second % 2);
        story.event({ type: 'pulseRate', ...story.at(), pulseRateBpm, sensorId: 'ox' });
        story.wait(1);
      }
      return story;
    };
    const holding = (): Story => new Story().steady(3).holdStarts();
    test('is told after 15 s and high after 30 s', () => {
      expect(frozen(holding(), 15).has('readingsFrozen')).toBe(false);
      expect(frozen(holding(), 17).priorityOf('readingsFrozen')).toBe('low');
      expect(frozen(holding(), 32).priorityOf('readingsFrozen')).toBe('high');
    });
    test.each([
      ['a strap whose rate is another', 97, 50, 'medium'],
      ['a strap whose rate is that of the display', 97, 62, 'low'],
      ['a saturation close to the floor', 92, null, 'medium'],
    ] as const)('with %s is %s, %s: %s after 15 s', (_, spo2Percent, strapBpm, priority) => {
      const story = new Story().steady(3, spo2Percent).holdStarts();
      for (let second = 0; second < 17; second += 1) {
        story.event({ type: 'pulseRate', ...story.at(), pulseRateBpm: 60, sensorId: 'ox' });
        if (strapBpm !== null)
          story.event({
            type: 'heartRate',
            ...story.at(),
            heartRateBpm: strapBpm,
            quality: 'good',
            sensorId: 'hr',
          });
        story.readings([spo2Percent]);
      }
      expect(story.priorityOf('readingsFrozen')).toBe(priority);
    });
    test('is nothing outside a hold, nor when saturation or pulse moves', () => {
      expect(frozen(new Story(), 60).kinds()).toEqual([]);
      expect(frozen(holding(), 60, { spo2: 1 }).kinds()).toEqual([]);
      expect(frozen(holding(), 60, { pulse: 1 }).kinds()).toEqual([]);
    });
    test('goes with the first change', () => {
      const story = frozen(holding(), 20);
      expect(story.has('readingsFrozen')).toBe(true);
      expect(frozen(story, 1, { spo2: 0, pulse: 0 }).readings([95]).has('readingsFrozen')).toBe(false);
    });
    test('is found by the averaged reading that moves on, though the pulse moves', () => {
      const story = holding();
      for (let second = 0; second < 20; second++) {
        story.event({
          type: 'spo2',
          ...story.at(),
          spo2Percent: 96,
          averaged: { spo2Percent: 96 - 0.25 * second, quality: 'good', reasons: [] },
          quality: 'good',
          reasons: [],
          sensorId: 'ox',
        });
        story.event({ type: 'pulseRate', ...story.at(), pulseRateBpm: 60 + (second % 3), sensorId: 'ox' });
        story.wait(1);
      }
      expect(story.priorityOf('readingsFrozen')).toBe('medium');
    });
    test('a fast reading that stands still above the floor does not hide the averaged one below it', () => {
      const story = new Story().steady(3);
      for (let second = 0; second < 4; second++) {
        story.event({
          type: 'spo2',
          ...story.at(),
          spo2Percent: 97,
          averaged: { spo2Percent: 87, quality: 'good', reasons: [] },
          quality: 'good',
          reasons: [],
          sensorId: 'ox',
        });
        story.wait(1);
      }
      expect(story.priorityOf('floorBreached')).toBe('high');
    });
  });
  test.each([
    ['far from the floor low', 97, 'low'],
    ['close to the floor medium', 92, 'medium'],
  ] as const)(
    'notifications without a usable value in a hold: %s after 5 s, high after 10 s',
    (_, value, first) => {
      const story = new Story().steady(5, value).holdStarts();
      const empty = (seconds: number): void => {
        for (let second = 0; second < seconds; second++) {
          story.event({ type: 'noValue', ...story.at(), sensorId: 'ox', reasons: ['noContact'] });
          story.wait(1);
        }
      };
      empty(4);
      expect(story.priorityOf('signalPoor')).toBe(first);
      empty(6);
      expect(story.priorityOf('signalPoor')).toBe('high');
    },
  );
  test('implausible readings are named as such', () => {
    const story = new Story().steady(5, 92).holdStarts().readings([300, 300, 300, 300, 300, 300]);
    expect(story.priorityOf('readingsImplausible')).toBe('medium');
  });
  test('doubtful readings for long are told at low priority', () => {
    const story = new Story().readings(
      Array.from({ length: 22 }, () => 97),
      'suspect',
    );
    expect(story.priorityOf('signalPoor')).toBe('low');
  });
  test('a hold without any oximeter', () => {
    const story = new Story().holdStarts().wait(6);
    expect(story.priorityOf('sensorLost')).toBe('medium');
  });
  describe('a saturation that was never read since the session began', () => {
    const noValues = (story: Story, seconds: number): Story => {
      for (let second = 0; second < seconds; second += 1)
        story.event({ type: 'noValue', ...story.at(), sensorId: 'ox', reasons: ['noContact'] }).wait(1);
      return story;
    };
    test('assigned but never linked: low from 60 s on, over with the first reading', () => {
      const story = new Story().link(false).wait(59.75);
      expect(story.has('saturationNeverRead')).toBe(false);
      expect(story.wait(0.25).priorityOf('saturationNeverRead')).toBe('low');
      expect(story.readings([97]).has('saturationNeverRead')).toBe(false);
      expect(story.wait(120).has('saturationNeverRead')).toBe(false);
    });
    test('assigned but never linked: in a hold it is at least of medium priority, by whatever says it best', () => {
      const story = new Story().link(false).wait(60).holdStarts().wait(0.25);
      const priorities = story.kinds().map((kind) => story.priorityOf(kind));
      expect(priorities.some((priority) => priority === 'medium' || priority === 'high')).toBe(true);
    });
    test.each([
      { name: 'linked but silent', tell: (story: Story) => story.link(true).wait(59.75) },
      { name: 'no finger in it', tell: (story: Story) => noValues(story.link(true), 59).wait(0.75) },
      {
        name: 'values that are no saturation',
        tell: (story: Story) => story.link(true).steady(59, 127).wait(0.75),
      },
      {
        name: 'values that are all called bad',
        tell: (story: Story) => story.readings(Array<number>(59).fill(97), 'bad').wait(0.75),
      },
    ])('$name: told by its own fault, and not a second time', ({ tell }) => {
      const story = tell(new Story()).wait(0.25);
      expect(story.kinds()).not.toEqual([]);
      expect(story.has('saturationNeverRead')).toBe(false);
    });
    test('one of two oximeters that reads, even doubtfully, is a reading', () => {
      const story = new Story().link(true).link(true, 'ox2').readings([97], 'suspect').wait(70);
      expect(story.has('saturationNeverRead')).toBe(false);
    });
    test('without an oximeter nothing is missed, whatever the strap sends', () => {
      const story = new Story().link(true, 'hr', ['heartRate']);
      for (let second = 0; second < 70; second += 1)
        story
          .event({ type: 'heartRate', ...story.at(), heartRateBpm: 60, quality: 'good', sensorId: 'hr' })
          .wait(1);
      expect(story.kinds()).toEqual([]);
    });
    test('says what to do now: seat it at rest, stop in a hold', () => {
      const story = new Story().link(false).wait(60);
      const instruction = () =>
        alarmTextInEnglish(story.state.alarms.find(({ kind }) => kind === 'saturationNeverRead')!)
          .instruction;
      expect(instruction()).toMatch(/do not start a hold until it reads/);
      story.holdStarts().wait(0.25);
      expect(instruction()).toMatch(/^Stop and breathe: nothing is watching saturation/);
    });
  });
  test('a lost heart rate sensor is medium in a hold', () => {
    const story = new Story().link(true, 'hr', ['heartRate']).heart([70, 70]).holdStarts().steady(10);
    expect(story.priorityOf('sensorLost')).toBe('medium');
  });
  test('... and low while the pulse of an oximeter stands in for it', () => {
    const story = new Story().link(true, 'hr', ['heartRate']).heart([70, 70]).holdStarts();
    for (let second = 0; second < 12; second += 1) {
      story.event({ type: 'pulseRate', ...story.at(), pulseRateBpm: 60 + (second % 3), sensorId: 'ox' });
      story.readings([97]);
    }
    expect(story.priorityOf('sensorLost')).toBe('low');
  });
  describe('a breathing sensor', () => {
    /** The oximeter reads beside it. */
    const breathes = (story: Story, seconds: number, isWorn = true, sensorId = 'band'): Story => {
      for (let second = 0; second < seconds; second += 1)
        story.event({ type: 'breathing', ...story.at(), sensorId, isWorn }).readings([97]);
      return story;
    };
    const worn = () => breathes(new Story().link(true).link(true, 'band', ['breathing']), 5);
    const alarmOf = (story: Story) => story.state.alarms.find(({ subject }) => subject === 'breathingSensor');
    const wordsOf = (story: Story) => alarmTextInEnglish(alarmOf(story)!);

    test('whose link breaks is told at once: low at rest, medium in a hold, and it passes', () => {
      const story = worn().link(false, 'band', ['breathing']).wait(0.25);
      expect(alarmOf(story)).toMatchObject({ kind: 'sensorLost', priority: 'low' });
      expect(wordsOf(story).message).toBe('The breathing sensor is lost: no readings arrive.');
      expect(wordsOf(story).instruction).toMatch(/mark each hold by hand/);
      story.link(true, 'band', ['breathing']);
      expect(alarmOf(breathes(story, 1))).toBeUndefined();
      const held = worn().holdStarts().link(false, 'band', ['breathing']).wait(0.25);
      expect(alarmOf(held)).toMatchObject({ kind: 'sensorLost', priority: 'medium', conditionPresent: true });
      expect(wordsOf(held).instruction).toMatch(/mark the end of the hold/);
      // The saturation is watched all the same: nothing tells anybody to stop.
      expect(held.kinds()).toEqual(['sensorLost']);
    });
    test('that falls silent over a link that stands is told 10 s after its last', () => {
      const story = worn().holdStarts().steady(8);
      expect(story.kinds()).toEqual([]);
      expect(story.steady(3).priorityOf('sensorLost')).toBe('medium');
    });
    test('that sends on but lies beside the person is told after 10 s', () => {
      const story = breathes(worn().holdStarts(), 8, false);
      expect(story.kinds()).toEqual([]);
      breathes(story, 2, false);
      expect(alarmOf(story)).toMatchObject({ kind: 'signalPoor', detail: 'noContact', priority: 'medium' });
      expect(wordsOf(story).message).toMatch(/does not seem to be on the body/);
    });
    test('that was taken off well before a hold is low in it', () => {
      const story = worn().link(false, 'band', ['breathing']).steady(65).holdStarts().steady(5);
      expect(story.priorityOf('sensorLost')).toBe('low');
    });
    test('has an alarm of its own beside the strap and the oximeter, and is named among several', () => {
      const story = worn().link(true, 'hr', ['heartRate']).heart([60, 60]).holdStarts();
      for (const [sensorId, measure] of [
        ['band', 'breathing'],
        ['hr', 'heartRate'],
        ['ox', 'oximeter'],
      ] as const)
        story.link(false, sensorId, [measure]);
      story.wait(0.25);
      expect(story.state.alarms.map(({ subject, priority }) => `${subject} ${priority}`).toSorted()).toEqual([
        'breathingSensor medium',
        'heartRateSensor medium',
        'oximeter high',
      ]);
      const two = breathes(worn().link(true, 'belt', ['breathing']), 3, true, 'belt').holdStarts();
      two
        .link(false, 'belt', ['breathing'])
        .event({ type: 'breathing', ...two.at(), sensorId: 'band', isWorn: true });
      two.wait(0.25);
      expect(two.state.alarms.map(({ sensorId }) => sensorId)).toEqual(['belt']);
    });
    test('that was given to somebody else or never came is not missed', () => {
      const given = worn()
        .holdStarts()
        .event({ type: 'sensorGone', atMs: monotonicMs(6_000), sensorId: 'band' });
      expect(given.steady(20).kinds()).toEqual([]);
      const never = new Story()
        .link(true)
        .link(false, 'band', ['breathing'])
        .steady(5)
        .holdStarts()
        .steady(20);
      expect(never.kinds()).toEqual([]);
    });
  });
  test('readings that come back well above the floor end the wait for breathing that their loss began', () => {
    const lost = () => new Story().steady(5).holdStarts().wait(15);
    expect(lost().priorityOf('sensorLost')).toBe('high');
    expect(lost().steady(30).kinds()).toEqual([]);
    // Close to the floor it is no all-clear.
    expect(lost().steady(30, 91).has('noBreathingSign')).toBe(true);
  });
  test('... and so they do after a jump below the floor that blood cannot make, not after a fall that it can', () => {
    const jump = new Story().steady(5).holdStarts().steady(3).readings([80, 80, 80, 80], 'suspect');
    expect(jump.has('floorBreached')).toBe(true);
    expect(jump.steady(40).has('noBreathingSign')).toBe(false);
    const fallen = new Story().steady(5).holdStarts().readings(fall(97, 86)).readings(fall(86, 86));
    expect(fallen.readings([89, 91, 93, 95, 96, 97]).steady(30).has('noBreathingSign')).toBe(true);
  });
  test('below the floor nothing is forecast any more', () => {
    const story = new Story().steady(5).holdStarts().forecast(86, 0, true);
    expect(story.has('floorForecast')).toBe(true);
    story.readings(fall(97, 86)).wait(2);
    expect(story.kinds()).toContain('floorBreached');
    expect(story.kinds()).not.toContain('floorForecast');
  });
  test('blind in a hold escalates like any alarm to stop', () => {
    const story = new Story().steady(5).holdStarts().wait(31);
    expect(story.has('noBreathingSign')).toBe(true);
  });
  test('no output: low outside a hold, high in it', () => {
    const story = new Story().event({
      type: 'outputs',
      atMs: monotonicMs(0),
      livingPageCount: 0,
      soundReadyCount: 0,
    });
    story.steady(4);
    expect(story.priorityOf('pageUnresponsive')).toBe('low');
    expect(story.holdStarts().steady(1).priorityOf('pageUnresponsive')).toBe('high');
    // A page on a screen without sound: someone can still see it.
    story.event({ type: 'outputs', ...story.at(), livingPageCount: 1, soundReadyCount: 0 });
    expect(story.priorityOf('pageUnresponsive')).toBe('medium');
    story.event({ type: 'outputs', ...story.at(), livingPageCount: 1, soundReadyCount: 1 });
    expect(story.kinds()).toEqual([]);
  });
  test('battery', () => {
    const story = new Story().steady(1);
    const battery = (batteryPercent: number): Story =>
      story.event({ type: 'battery', ...story.at(), sensorId: 'ox', batteryPercent });
    expect(battery(40).kinds()).toEqual([]);
    expect(battery(15).priorityOf('batteryLow')).toBe('low');
    expect(battery(5).priorityOf('batteryLow')).toBe('medium');
    expect(battery(90).kinds()).toEqual([]);
  });
});

describe('floor as a setting', () => {
  const lower = { ...settings, floorSpo2Percent: percent(80) };
  test('may not be lowered from a hold to a minute after it', () => {
    const story = new Story().steady(3);
    expect(isFloorLoweredDuringHold(settings, lower, isFloorLocked(story.state))).toBe(false);
    story.holdStarts();
    expect(isFloorLoweredDuringHold(settings, lower, isFloorLocked(story.state))).toBe(true);
    expect(isFloorLoweredDuringHold(lower, settings, isFloorLocked(story.state))).toBe(false);
    story.steady(5).holdEnds().steady(60);
    expect(isFloorLocked(story.state)).toBe(true);
    expect(isFloorLocked(story.steady(2).state)).toBe(false);
  });
  test('of what is asked, a lower floor does not come into force while it is locked; all else does', () => {
    const current = { settings: settingsInForce(settings), floorLocked: true };
    const asked = { ...lower, heartRateLowBpm: 45 };
    expect(settingsInForce(asked, current)).toEqual({ ...settings, heartRateLowBpm: 45 });
    expect(settingsInForce(asked, { ...current, floorLocked: false })).toEqual(asked);
    const raised = { ...settings, floorSpo2Percent: percent(93) };
    expect(settingsInForce(raised, current)).toEqual(raised);
  });
  test('a raised floor counts for readings from then on', () => {
    const story = new Story().steady(3).holdStarts();
    const higher = settingsInForce({ ...settings, floorSpo2Percent: percent(93) });
    story.event({ type: 'settings', ...story.at(), settings: higher });
    expect(story.readings(fall(95, 91)).has('floorBreached')).toBe(true);
  });
  test.each([
    [50, 70],
    [99, 95],
    [Number.NaN, 88],
  ])('%d becomes %d', (asked, got) => {
    const raw = { ...settings, floorSpo2Percent: percent(asked) };
    expect(settingsInForce(raw).floorSpo2Percent).toBe(got);
    // What is no number must not slip under a floor that is locked.
    const high = { ...settings, floorSpo2Percent: percent(95) };
    expect(isFloorLoweredDuringHold(high, raw, true)).toBe(got < 95);
  });
});

test('alarms are sorted by priority, then age, and say what to do', () => {
  const story = new Story({ maxHoldDurationMs: 5_000 }).steady(5);
  story.event({ type: 'battery', ...story.at(), sensorId: 'ox', batteryPercent: 10 });
  story
    .holdStarts()
    .steady(6)
    .readings(fall(97, 86, 1));
  expect(story.kinds()).toEqual(['floorBreached', 'maxDuration', 'batteryLow']);
  const floor = alarmTextInEnglish(story.state.alarms[0]!);
  expect(floor.message).toMatch(/below the floor of 88\u202f%/);
  expect(floor.instruction).toMatch(/Stop and breathe.*check on them.*emergency number/);
});
