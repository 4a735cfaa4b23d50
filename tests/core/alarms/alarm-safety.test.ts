// What the pipeline as a whole promises of alarms: they hear of every change of a hold, rest on the settings that are in
// force, keep what they were raised with, and never speak of what has passed as of something present.

import { describe, expect, test } from 'vitest';
import { monotonicMs, percent } from '../../../shared/units.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import { alarmText } from '../../../src/alarms/alarm-texts.ts';
import { createPipeline, type PipelineEvent, type PipelineOutput } from '../../../src/pipeline.ts';
import { createRandom } from '../../support/corpus/seeded-random.ts';
import { sketchPerson, sketchSession } from '../../support/corpus/sketched-athlete.ts';

const settings: AthleteSettings = {
  floorSpo2Percent: percent(88),
  thresholdsPercent: [],
  heartRateLowBpm: null,
  heartRateHighBpm: null,
  maxHoldDurationMs: null,
  forecastAlarm: 'high',
};

/** One athlete with an oximeter at 1 Hz; time in seconds. */
class Life {
  readonly pipeline;
  readonly outputs: PipelineOutput[] = [];
  nowS = 0;
  constructor(changes: Partial<AthleteSettings> = {}) {
    this.pipeline = createPipeline({ ...settings, ...changes });
  }
  push(event: PipelineEvent): this {
    this.outputs.push(...this.pipeline.push(event));
    return this;
  }
  readings(values: readonly number[]): this {
    for (const value of values) {
      this.nowS += 1;
      // PLX Continuous (0x2A5F): SpO2 as an SFLOAT of exponent -1, pulse rate 60.
      const tenths = Math.round(value * 10);
      this.push({
        type: 'packet',
        atMs: monotonicMs(this.nowS * 1_000),
        sensorId: 'ox',
        characteristic: '2a5f',
        bytes: Uint8Array.of(0, tenths & 255, 0xf0 | (tenths >> 8), 60, 0),
      });
    }
    return this;
  }
  steady(seconds: number, value = 97): this {
    return this.readings(Array.from({ length: seconds }, () => value));
  }
  mark(markId: string, kind: 'holdStart' | 'holdEnd', atS = this.nowS): this {
    return this.push({ type: 'mark', mark: { markId, kind, atMs: monotonicMs(atS * 1_000) } });
  }
  alarm(kind: string) {
    return this.pipeline.state.alarms.find((alarm) => alarm.kind === kind);
  }
  /** When an alarm of this kind was first said. */
  raisedAtS(kind: string): number | undefined {
    for (const output of this.outputs)
      if (output.type === 'alarms' && output.alarms.some((alarm) => alarm.kind === kind))
        return output.atMs / 1_000;
    return undefined;
  }
}

const fall = (from: number, to: number, perSecond: number): number[] =>
  Array.from({ length: Math.round((from - to) / perSecond) + 1 }, (_, i) => from - i * perSecond);

describe('every change of a hold reaches the alarms', () => {
  test('the longest hold is counted from a start that was moved earlier after it was found', () => {
    const pipeline = createPipeline({ ...settings, maxHoldDurationMs: 100_000 });
    // SIMULATED: one hold from 200 s on that the detector finds by itself.
    const person = sketchPerson(createRandom(11), {
      rsaBpm: 6,
      fallFraction: 0.25,
      startRiseBpm: 4,
      plateauS: 150,
    });
    const session = sketchSession(11, person, {
      holds: [{ startMs: 200_000, endMs: 380_000 }],
      durationMs: 380_000,
    });
    let markedAtMs: number | undefined;
    let raisedAtMs: number | undefined;
    for (const sample of session) {
      const outputs = [...pipeline.push({ type: 'sample', sample })];
      const found = outputs.find((output) => output.type === 'hold' && output.event.type === 'holdStarted');
      if (found?.type === 'hold' && found.event.type === 'holdStarted' && markedAtMs === undefined) {
        markedAtMs = found.event.hold.start.atMs - 20_000;
        const mark = { markId: 'm', kind: 'holdStart' as const, atMs: monotonicMs(markedAtMs) };
        outputs.push(...pipeline.push({ type: 'mark', mark }));
        expect(pipeline.state.holds.at(-1)?.hold.start.atMs).toBe(markedAtMs);
      }
      for (const output of outputs)
        if (output.type === 'alarms' && output.alarms.some(({ kind }) => kind === 'maxDuration'))
          raisedAtMs ??= output.atMs;
    }
    expect(raisedAtMs! - markedAtMs!).toBeGreaterThanOrEqual(100_000);
    expect(raisedAtMs! - markedAtMs!).toBeLessThanOrEqual(100_250);
  });

  test('an older hold that is revised or taken back leaves the one going on as it was', () => {
    const life = new Life({ maxHoldDurationMs: 60_000 }).steady(20).mark('a', 'holdStart').steady(30);
    life.mark('a end', 'holdEnd').steady(60).mark('b', 'holdStart').steady(5);
    const { forecast } = life.pipeline.state;
    life.push({ type: 'markRemoved', atMs: monotonicMs(life.nowS * 1_000), markId: 'a end' });
    life.push({ type: 'markRemoved', atMs: monotonicMs(life.nowS * 1_000), markId: 'a' });
    expect(life.pipeline.state.holds.filter(({ hold }) => hold.end === undefined)).toHaveLength(1);
    expect(life.pipeline.state.floorLocked).toBe(true);
    expect(life.pipeline.state.forecast).toEqual(forecast);
    life.steady(60);
    expect(life.raisedAtS('maxDuration')).toBe(170);
  });
});

describe('one door for settings', () => {
  test('a lower floor asked for in a hold changes neither forecast nor forecast alarm nor floor alarm', () => {
    const story = (asked: boolean): Life => {
      const life = new Life().steady(60).mark('a', 'holdStart').steady(40);
      if (asked)
        life.push({
          type: 'settings',
          atMs: monotonicMs(life.nowS * 1_000),
          settings: { ...settings, floorSpo2Percent: percent(70) },
        });
      return life.readings(fall(97, 85, 0.2));
    };
    const [asked, unasked] = [story(true), story(false)];
    expect(unasked.raisedAtS('floorForecast')).toBeLessThan(unasked.raisedAtS('floorBreached')!);
    expect(asked.raisedAtS('floorForecast')).toBe(unasked.raisedAtS('floorForecast'));
    expect(asked.raisedAtS('floorBreached')).toBe(unasked.raisedAtS('floorBreached'));
    const forecasts = (life: Life) => life.outputs.filter((output) => output.type === 'forecast').length;
    expect(asked.pipeline.state.forecast).toEqual(unasked.pipeline.state.forecast);
    expect(forecasts(asked)).toBeGreaterThanOrEqual(forecasts(unasked));
  });

  test('a floor out of its range is brought into it for the forecast too', () => {
    const story = (floor: number): Life =>
      new Life({ floorSpo2Percent: percent(floor) })
        .steady(60)
        .mark('a', 'holdStart')
        .steady(40)
        .readings(fall(97, 70, 0.2));
    expect(story(20).raisedAtS('floorForecast')).toBe(story(70).raisedAtS('floorForecast'));
  });
});

describe('the record of an alarm', () => {
  const deep = (): Life =>
    new Life()
      .steady(60)
      .mark('a', 'holdStart')
      .readings(fall(97, 67.8, 0.4));

  test('keeps the value it was raised with beside the worst', () => {
    const life = deep();
    const said = life.outputs.find(
      (output) => output.type === 'alarms' && output.alarms.some((alarm) => alarm.kind === 'floorBreached'),
    );
    const first = said?.type === 'alarms' && said.alarms.find((alarm) => alarm.kind === 'floorBreached');
    expect(first).toMatchObject({ value: 87.4 });
    const now = life.alarm('floorBreached')!;
    expect(now).toMatchObject({
      value: 87.4,
      worstValue: 67.8,
      worstAtMs: life.nowS * 1_000,
      timesPresent: 1,
    });
    expect(alarmText(now).message).toMatch(
      /below the floor of 88\u202f%: it read 87.4\u202f%, lowest so far 67.8\u202f%/,
    );
  });

  test('keeps when it passed, who acknowledged it and when, and when it no longer stood', () => {
    const life = deep()
      .mark('b', 'holdEnd')
      .readings(fall(68, 98, -1));
    const passedAtMs = life.alarm('floorBreached')?.passedAtMs;
    // Three seconds at or above the floor end the condition.
    expect(passedAtMs).toBe((life.nowS - 7) * 1_000);
    life.push({ type: 'acknowledge', atMs: monotonicMs(life.nowS * 1_000 + 400), by: 'Poolside tablet' });
    const output = life.outputs.filter((one) => one.type === 'alarms').at(-1);
    const ended = output?.type === 'alarms' ? output.ended.filter((one) => one.kind === 'floorBreached') : [];
    expect(ended).toMatchObject([
      {
        value: 87.4,
        worstValue: 67.8,
        passedAtMs,
        acknowledged: true,
        acknowledgedAtMs: life.nowS * 1_000 + 400,
        acknowledgedBy: 'Poolside tablet',
        endedAtMs: life.nowS * 1_000 + 400,
        conditionPresent: false,
      },
    ]);
  });

  test('has an end when the session ends, whether it was acknowledged or not', () => {
    const life = deep();
    const standing = life.pipeline.state.alarms.length;
    life.push({ type: 'sessionEnded', atMs: monotonicMs(life.nowS * 1_000 + 500) });
    const output = life.outputs.at(-1);
    expect(output).toMatchObject({ type: 'alarms', alarms: [] });
    const ended = output?.type === 'alarms' ? output.ended : [];
    expect(ended).toHaveLength(standing);
    // It was there to the end: nobody saw it pass.
    for (const alarm of ended)
      expect(alarm).toMatchObject({ endedAtMs: life.nowS * 1_000 + 500, conditionPresent: true });
    expect(life.pipeline.state.sound.priority).toBeNull();
  });

  test('a priority that falls after the hold does not make it look harmless', () => {
    const life = new Life().steady(60).mark('a', 'holdStart').steady(5);
    const silentFromMs = life.nowS * 1_000;
    for (let ms = 0; ms <= 12_000; ms += 250)
      life.push({ type: 'advance', atMs: monotonicMs(silentFromMs + ms) });
    expect(life.alarm('sensorLost')).toMatchObject({ priority: 'high', highestPriority: 'high' });
    life.nowS += 13;
    life.mark('b', 'holdEnd');
    life.push({ type: 'advance', atMs: monotonicMs(silentFromMs + 90_000) });
    expect(life.alarm('sensorLost')).toMatchObject({ priority: 'low', highestPriority: 'high' });
  });
});

describe('an alarm whose condition has passed', () => {
  test('says from when to when it was, asks to look after them, and never to stop what is over', () => {
    const life = new Life()
      .steady(60)
      .mark('a', 'holdStart')
      .readings(fall(97, 84, 0.5));
    expect(alarmText(life.alarm('floorBreached')!).instruction).toMatch(/Stop and breathe now/);
    life
      .mark('b', 'holdEnd')
      .readings(fall(85, 99, -1))
      .steady(30, 99);
    const alarm = life.alarm('floorBreached')!;
    expect(alarm).toMatchObject({ conditionPresent: false, acknowledged: false, priority: 'high' });
    const { message, instruction } = alarmText(alarm);
    expect(message).toMatch(/was below the floor of 88\u202f% from 1:22 to 1:34/);
    expect(instruction).toMatch(/See that they are well/);
    expect(`${message} ${instruction}`).not.toMatch(/stop|breathe now|so far/i);
    // It waits for someone, and sounds.
    expect(life.pipeline.state.sound.priority).toBe('high');
  });

  test('that came again before anybody looked says how often', () => {
    const life = new Life()
      .readings(fall(97, 86, 0.5))
      .readings(fall(87, 97, -1))
      .readings(fall(97, 85, 0.5));
    expect(life.alarm('floorBreached')).toMatchObject({ timesPresent: 2, conditionPresent: true });
    life.readings(fall(86, 97, -1));
    expect(alarmText(life.alarm('floorBreached')!).message).toMatch(/2 times between 0:2\d and 1:\d\d/);
  });
});
