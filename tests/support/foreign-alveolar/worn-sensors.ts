// What a strap and a finger oximeter of this body send: packets of the standard Bluetooth characteristics, once a second,
// with averaging, rounding, lost packets, artefacts of movement and a strap that may give no beats; and a pleth.

import { monotonicMs } from '../../../shared/units.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';
import type { Chance } from '../scoring/chance.ts';
import type { SensorKit } from '../scoring/living-athlete.ts';
import { type Body, displayedSaturation, stepS } from './alveolar-body.ts';

/** IEEE 11073-20601 SFLOAT, little-endian (reference 5.01); NaN is 0x07FF (5.02). */
function sfloat(value: number | undefined, tenths: boolean): [number, number] {
  if (value === undefined) return [0xff, 0x07];
  const mantissa = Math.round(tenths ? value * 10 : value) & 0x0fff;
  const word = ((tenths ? 0xf : 0) << 12) | mantissa;
  return [word & 0xff, word >> 8];
}

export interface WornSensors {
  /** Hears of each step of the body, after it was made. */
  step(body: Body, isMoving: boolean, contractionL: number): void;
  /** What was sent since last asked. */
  takeSent(): PipelineEvent[];
}

export function wearSensors(kit: SensorKit, chance: Chance): WornSensors {
  const hasStrap = kit !== 'oximetry only' && kit !== 'oximetry and pleth';
  const givesBeats = kit.startsWith('beats');
  const hasOximeter = kit !== 'beats only';
  const hasPleth = kit.endsWith('pleth');
  const mayerHz = chance.range(0.07, 0.12);
  const mayerPhase = chance.range(0, 6.28);
  let drift = 0;
  let phase = 0;
  let lastBeatS = 0;
  let sent: PipelineEvent[] = [];
  let nextStrapS = chance.range(0.2, 1.2);
  let nextOximeterS = chance.range(0.2, 1.2);
  let nextPlethS = 0;
  let unsentBeatsMs: number[] = [];
  let recentBeatsMs: number[] = [];
  let strapBpm = 0;
  let pulse = 0;
  let silentUntilS = 0;
  let fingerOffUntilS = 0;
  let dipUntilS = 0;
  let dipDepth = 0;
  let noise = 0;
  let tone = 1;
  const beatsAtS: number[] = [];

  function beat(atS: number, body: Body, isMoving: boolean): void {
    let rrMs = (atS - lastBeatS) * 1_000 + chance.gauss(0, 2.5);
    lastBeatS = atS;
    beatsAtS.push(atS);
    if (beatsAtS.length > 12) beatsAtS.shift();
    if (rrMs > 2_600) return;
    recentBeatsMs = [...recentBeatsMs, rrMs].slice(-8);
    // A premature beat takes from one interval and gives to the next; movement doubles or halves some.
    const strange = chance.unit();
    if (strange < body.person.ectopicShare) rrMs *= 0.7;
    else if (strange < body.person.ectopicShare * 2) rrMs *= 1.3;
    if (isMoving && chance.happens(0.05)) {
      if (chance.happens(0.5)) unsentBeatsMs.push(rrMs / 2, rrMs / 2);
      else unsentBeatsMs.push(rrMs * 2);
    } else unsentBeatsMs.push(rrMs);
  }

  function sendStrap(atS: number, isMoving: boolean): void {
    const mean = recentBeatsMs.reduce((sum, rr) => sum + rr, 0) / Math.max(1, recentBeatsMs.length);
    strapBpm = mean > 0 ? 60_000 / mean : strapBpm;
    const beats = unsentBeatsMs;
    unsentBeatsMs = [];
    if (chance.happens(isMoving ? 0.02 : 0.003) || strapBpm === 0 || atS < silentUntilS) return;
    const bytes = [givesBeats ? 0x16 : 0x06, Math.round(strapBpm)];
    if (givesBeats)
      for (const rr of beats) {
        const ticks = Math.round((rr * 1_024) / 1_000);
        bytes.push(ticks & 0xff, (ticks >> 8) & 0xff);
      }
    sent.push({
      type: 'packet',
      atMs: monotonicMs(Math.round(atS * 1_000)),
      sensorId: 'strap',
      characteristic: '2a37',
      bytes: Uint8Array.from(bytes),
    });
  }

  function sendOximeter(atS: number, body: Body, isMoving: boolean): void {
    pulse += (body.state.heartBpm - pulse) * (pulse === 0 ? 1 : 0.22);
    noise += -0.1 * noise + chance.gauss(0, 0.12);
    if (isMoving && atS > dipUntilS && chance.happens(0.03)) {
      dipUntilS = atS + chance.range(2, 9);
      dipDepth = chance.range(2, 14);
    }
    if (chance.happens(isMoving ? 0.004 : 0.000_4)) fingerOffUntilS = atS + chance.range(4, 30);
    if (chance.happens(0.003)) return;
    const isOff = atS < fingerOffUntilS;
    const dip = atS < dipUntilS ? dipDepth : 0;
    const tenths = body.person.readsTenths;
    const shown = Math.min(100, displayedSaturation(body) + body.person.readingBias + noise - dip);
    const bytes = [
      0x00,
      ...sfloat(isOff ? undefined : shown, tenths),
      ...sfloat(isOff ? undefined : pulse + (dip > 0 ? chance.range(-12, 12) : 0), false),
    ];
    sent.push({
      type: 'packet',
      atMs: monotonicMs(Math.round(atS * 1_000)),
      sensorId: 'oximeter',
      characteristic: '2a5f',
      bytes: Uint8Array.from(bytes),
    });
  }

  function samplePleth(atS: number, body: Body, isMoving: boolean, contractionL: number): void {
    const { state } = body;
    // The pulse reaches the finger about a quarter second after the beat (from memory).
    const arrived = beatsAtS.filter((s) => s <= atS - 0.25).at(-1);
    if (arrived === undefined) return;
    const period = 60 / state.heartBpm;
    const t = (atS - 0.25 - arrived) / period;
    const wave = Math.exp(-(((t - 0.18) / 0.1) ** 2)) + 0.35 * Math.exp(-(((t - 0.45) / 0.13) ** 2));
    // Chest volume moves venous filling: baseline and height of the pulse ride on it; long holds narrow the finger.
    const chest = state.arrhythmiaFast - state.arrhythmiaSlow + contractionL;
    tone += ((state.chest === 'shut' ? 0.6 : 1) - tone) * 0.000_6;
    const value =
      tone * (1 - 0.07 * chest) * wave -
      0.22 * chest +
      0.4 * (state.arrhythmiaSlow - body.person.gas.restingL) * 0.1 +
      chance.gauss(0, isMoving ? 0.25 : 0.015) +
      (isMoving ? 0.5 * Math.sin(11 * atS) : 0);
    sent.push({
      type: 'sample',
      sample: {
        channel: 'pleth',
        atMs: monotonicMs(Math.round(atS * 1_000)),
        value: Math.round(value * 4_000) / 4_000,
        sensorId: 'oximeter',
        quality: 'good',
        reasons: [],
      },
    });
  }

  return {
    step(body, isMoving, contractionL) {
      const { state, person } = body;
      const atS = state.atS;
      drift += -0.001 * drift + chance.gauss(0, 0.05 * person.driftBpm);
      const bpm =
        state.heartBpm +
        person.mayerBpm * Math.sin(2 * Math.PI * mayerHz * atS + mayerPhase + 0.6 * Math.sin(0.13 * atS)) +
        drift +
        // Involuntary movements of the diaphragm swing the pressure in the chest, as small breaths would.
        person.arrhythmiaBpmPerL * 0.5 * contractionL;
      const before = phase;
      phase += (Math.max(26, bpm) / 60) * stepS;
      if (Math.floor(phase) > Math.floor(before))
        beat(atS - (stepS * (phase - Math.floor(phase))) / (phase - before), body, isMoving);
      if (isMoving && chance.happens(0.000_5)) silentUntilS = atS + chance.range(3, 20);
      if (hasStrap && atS >= nextStrapS) {
        nextStrapS += 1;
        sendStrap(atS, isMoving);
      }
      if (hasOximeter && atS >= nextOximeterS) {
        nextOximeterS += 1;
        sendOximeter(atS, body, isMoving);
      }
      while (hasPleth && nextPlethS <= atS) {
        samplePleth(nextPlethS, body, isMoving, contractionL);
        nextPlethS += 0.02;
      }
    },
    takeSent() {
      const taken = sent.sort((a, b) => timeOf(a) - timeOf(b));
      sent = [];
      return taken;
    },
  };
}

const timeOf = (event: PipelineEvent): number =>
  event.type === 'sample' ? event.sample.atMs : event.type === 'packet' ? event.atMs : 0;
