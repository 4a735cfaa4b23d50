import { readdirSync, readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SimulatedAthlete, simulateSession } from '../../../hub/sensors/simulated/athlete.ts';
import { heavyFaults, noFaults, ordinaryFaults } from '../../../hub/sensors/simulated/faults.ts';
import { personFromSeed, personRanges } from '../../../hub/sensors/simulated/person.ts';
import {
  quietRest,
  risingHolds,
  selfPacedIntervals,
  veryShortHolds,
  walkingAndTalking,
} from '../../../hub/sensors/simulated/session-script.ts';

describe('a simulated session', () => {
  it('is the same to the last bit for the same seed, and another for another', () => {
    const person = personFromSeed(5);
    const script = selfPacedIntervals(5, 60_000, 2);
    const once = simulateSession({ seed: 5, person, script, faults: ordinaryFaults });
    const again = simulateSession({ seed: 5, person, script, faults: ordinaryFaults });
    const other = simulateSession({ seed: 6, person, script, faults: ordinaryFaults });
    expect(JSON.stringify(again)).toBe(JSON.stringify(once));
    expect(JSON.stringify(other.beats)).not.toBe(JSON.stringify(once.beats));
  });

  it('does not depend on how its time is cut (streaming in chunks of any length)', () => {
    const person = personFromSeed(8);
    const script = risingHolds(20_000, 40_000, 2, 40_000);
    const whole = new SimulatedAthlete({ seed: 8, person, script, faults: heavyFaults }).advanceTo(400_000);
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 90_000 }), { maxLength: 30 }), (lengths) => {
        const athlete = new SimulatedAthlete({ seed: 8, person, script, faults: heavyFaults });
        const parts = [];
        let nowMs = 0;
        for (const length of lengths) {
          nowMs = Math.min(400_000, nowMs + length);
          parts.push(athlete.advanceTo(nowMs));
        }
        parts.push(athlete.advanceTo(400_000));
        expect(parts.flatMap((part) => part.beats)).toEqual(whole.beats);
        expect(parts.flatMap((part) => part.heartRate)).toEqual(whole.heartRate);
        expect(parts.flatMap((part) => part.oximetry)).toEqual(whole.oximetry);
      }),
      { numRuns: 8 },
    );
  });

  it('carries out the script: holds of the asked length, none in rest', () => {
    const person = personFromSeed(9);
    const session = simulateSession({ seed: 9, person, script: risingHolds(30_000, 60_000, 3) });
    expect(session.truth.holds.map((hold) => hold.endMs - hold.startMs)).toEqual([30_000, 45_000, 60_000]);
    const rest = simulateSession({ seed: 9, person, script: quietRest(300_000) });
    expect(rest.truth.holds).toEqual([]);
    expect(rest.durationMs).toBe(300_000);
    const walk = simulateSession({ seed: 9, person, script: walkingAndTalking(9) });
    expect(walk.truth.holds).toEqual([]);
    expect(Math.max(...walk.truth.heartRateBpm.values)).toBeGreaterThan(person.restingHeartRateBpm + 20);
  });

  it('moves no air in a hold and moves air outside', () => {
    const session = simulateSession({
      seed: 4,
      person: personFromSeed(4),
      script: veryShortHolds(4, 3),
    });
    const { holds, lungVolumeL, breathsMs } = session.truth;
    expect(holds.length).toBe(3);
    for (const hold of holds) {
      expect(breathsMs.filter((ms) => ms > hold.startMs && ms <= hold.endMs)).toEqual([]);
      const inHold = lungVolumeL.values.filter((_, i) => {
        const ms = lungVolumeL.fromMs + i * lungVolumeL.everyMs;
        return ms >= hold.startMs && ms <= hold.endMs;
      });
      // Only gas exchange shrinks the lungs: by less than 0.4 l in 25 s.
      expect(Math.max(...inHold) - Math.min(...inHold)).toBeLessThan(0.4);
    }
  });

  it('can be steered: a hold begun and ended from outside', () => {
    const athlete = new SimulatedAthlete({ seed: 3, person: personFromSeed(3) });
    athlete.advanceTo(30_000);
    athlete.beginHold();
    expect(athlete.holding).toBe(false);
    athlete.advanceTo(40_000);
    expect(athlete.holding).toBe(true);
    athlete.advanceTo(90_000);
    athlete.endHold();
    expect(athlete.holding).toBe(false);
    athlete.advanceTo(200_000);
    const [hold] = athlete.truth().holds;
    expect(hold!.endMs).toBe(90_000);
    expect(hold!.startMs).toBeGreaterThan(34_000);
    expect(hold!.startMs).toBeLessThan(37_000);
  });

  it('answers "what if breathing began now" as the session itself did where it really ended', () => {
    const person = personFromSeed(21, { trainedFraction: 0.8 });
    const session = simulateSession({
      seed: 21,
      person,
      script: [
        { kind: 'rest', durationMs: 60_000 },
        { kind: 'hold', durationMs: 170_000 },
        { kind: 'recover', durationMs: 120_000 },
      ],
    });
    const hold = session.truth.holds[0]!;
    const stopped = session.lowestIfBreathingBegan(0, 10_000);
    expect(stopped).toHaveLength(17);
    expect(stopped.at(-1)!.lowestFingerPercent).toBeCloseTo(hold.lowestFingerPercent, 6);
    expect(stopped.at(-1)!.lowestFingerAtMs).toBe(hold.lowestFingerAtMs);
    // Stopping later never gives a higher lowest reading (up to the chance in the first breaths).
    for (let i = 1; i < stopped.length; i += 1) {
      expect(stopped[i]!.lowestFingerPercent).toBeLessThan(stopped[i - 1]!.lowestFingerPercent + 0.3);
    }
  });

  it('asking "what if" in the middle of a session changes nothing in it, and gives the same answer again', () => {
    const options = {
      seed: 21,
      person: personFromSeed(21, { trainedFraction: 0.8 }),
      script: [
        { kind: 'rest' as const, durationMs: 30_000 },
        { kind: 'hold' as const, durationMs: 200_000 },
        { kind: 'recover' as const, durationMs: 60_000 },
      ],
    };
    const plain = new SimulatedAthlete(options);
    const asked = new SimulatedAthlete(options);
    // A moment after the hold, while its blood is still on the way to the finger.
    plain.advanceTo(240_000);
    asked.advanceTo(240_000);
    const answer = asked.lowestIfBreathingBegan(0, 20_000);
    expect(asked.lowestIfBreathingBegan(0, 20_000)).toEqual(answer);
    expect(asked.advanceTo(290_000)).toEqual(plain.advanceTo(290_000));
    expect(asked.truth()).toEqual(plain.truth());
    expect(asked.lowestIfBreathingBegan(0, 20_000)).toEqual(answer);
  });

  it('mixes no two holds: after a deep one and a pause of 12 s, a short one has its own lowest reading', () => {
    const person = personFromSeed(21, { trainedFraction: 0.8 });
    const { holds } = simulateSession({
      seed: 21,
      person,
      script: [
        { kind: 'rest', durationMs: 30_000 },
        { kind: 'hold', durationMs: 230_000 },
        { kind: 'recover', durationMs: 12_000 },
        { kind: 'hold', durationMs: 10_000 },
        { kind: 'recover', durationMs: 120_000 },
      ],
    }).truth;
    expect(holds[0]!.lowestFingerPercent).toBeLessThan(90);
    expect(holds[0]!.lowestFingerAtMs).toBeGreaterThan(holds[0]!.endMs);
    expect(holds[1]!.lowestFingerPercent).toBeGreaterThan(holds[0]!.lowestFingerPercent + 3);
  });

  it('draws every parameter inside its stated range, with a source for each', () => {
    for (let seed = 0; seed < 400; seed += 1) {
      const person = personFromSeed(seed);
      for (const [key, range] of Object.entries(personRanges)) {
        const value = person[key as keyof typeof person];
        expect(value, `${key} of seed ${seed}`).toBeGreaterThanOrEqual(range.least);
        expect(value, `${key} of seed ${seed}`).toBeLessThanOrEqual(range.most);
        expect(range.source.length).toBeGreaterThan(0);
      }
    }
  });

  it('shares no code with what it scores: nothing under simulated/ imports from src/ (but for the encoders)', () => {
    const folder = new URL('../../../hub/sensors/simulated/', import.meta.url);
    for (const name of readdirSync(folder)) {
      const imports = [...readFileSync(new URL(name, folder), 'utf8').matchAll(/from '([^']+)'/g)].map(
        (match) => match[1]!,
      );
      expect(imports.filter((path) => /\/src\//.test(path))).toEqual([]);
    }
  });
});

describe('simulated signals', () => {
  const person = personFromSeed(12);
  const script = selfPacedIntervals(12, 70_000, 6);

  it('without faults: one reading a second, whole percents, intervals that follow each other', () => {
    const session = simulateSession({ seed: 12, person, script, faults: noFaults });
    const expected = session.durationMs / 1000;
    expect(session.oximetry.length).toBeGreaterThan(expected - 3);
    expect(session.heartRate.length).toBeGreaterThan(expected - 3);
    for (const reading of session.oximetry) {
      expect(reading.spo2Percent).toBe(Math.round(reading.spo2Percent!));
      expect(reading.fingerInProbe).toBe(true);
    }
    for (let i = 1; i < session.beats.length; i += 1) {
      expect(session.beats[i]!.atMs - session.beats[i - 1]!.atMs).toBeCloseTo(
        session.beats[i]!.rrIntervalMs,
        6,
      );
    }
    const sent = session.heartRate.flatMap((reading) => reading.rrIntervalsMs);
    expect(sent).toEqual(session.beats.slice(0, sent.length).map((beat) => beat.rrIntervalMs));
  });

  it('with heavy faults: every kind happens, and times still rise', () => {
    const session = simulateSession({
      seed: 12,
      person,
      script: [...script, ...script, ...script, ...script],
      faults: heavyFaults,
    });
    const kinds = new Set(session.truth.faults.map((fault) => fault.kind));
    expect(kinds.size).toBe(11);
    expect(session.oximetry.some((reading) => !reading.fingerInProbe)).toBe(true);
    expect(
      session.oximetry.some((reading) => reading.fingerInProbe && reading.spo2Percent === undefined),
    ).toBe(true);
    expect(session.heartRate.some((reading) => !reading.skinContact)).toBe(true);
    for (const list of [session.beats, session.heartRate, session.oximetry]) {
      for (let i = 1; i < list.length; i += 1) expect(list[i]!.atMs).toBeGreaterThan(list[i - 1]!.atMs);
    }
    for (const beat of session.beats) expect(beat.rrIntervalMs).toBeGreaterThan(50);
  });

  it('faults come when they are scheduled', () => {
    const session = simulateSession({
      seed: 1,
      person,
      script: quietRest(60_000),
      faults: {
        perHour: {},
        scheduled: [
          { kind: 'oximeterSilence', fromMs: 20_000, toMs: 30_000 },
          { kind: 'strapContactLoss', fromMs: 40_000, toMs: 45_000 },
        ],
      },
    });
    expect(session.oximetry.filter(({ atMs }) => atMs >= 20_000 && atMs < 30_000)).toEqual([]);
    const lost = session.heartRate.filter((reading) => !reading.skinContact);
    expect(lost).toHaveLength(5);
    expect(session.truth.faults).toHaveLength(2);
  });
});
