// What can go wrong about a crossing of the floor, as events of a whole pipeline: sensors, radio, display, people.

import { monotonicMs, percent } from '../../../shared/units.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';
import { timeOfEvent } from '../../../src/sessions/merge-events.ts';
import type { CleanReading, Crossing } from './crossings.ts';

/** One notification of a pulse oximeter; null for NaN, the standard's "no value". */
export interface Sent {
  readonly atMs: number;
  readonly sensorId: string;
  readonly spo2: number | null;
  readonly pulse: number | null;
  readonly fast?: number;
  readonly measurementBits?: number;
  readonly deviceBits?: number;
}

export interface FaultSequence {
  readonly name: string;
  readonly events: (crossing: Crossing) => readonly PipelineEvent[];
}

const ms = (seconds: number) => monotonicMs(Math.max(0, Math.round(seconds * 1_000)));

/** PLX Continuous (0x2A5F, PLXS v1.0.1 s3.2): SFLOATs of exponent -1; NaN is 0x07FF. */
function packetOf({ atMs, sensorId, spo2, pulse, fast, measurementBits, deviceBits }: Sent): PipelineEvent {
  const sfloat = (value: number | null): number[] => {
    if (value === null) return [0xff, 0x07];
    const tenths = Math.round(value * 10);
    return [tenths & 255, 0xf0 | ((tenths >> 8) & 15)];
  };
  const flags =
    (fast === undefined ? 0 : 1) +
    (measurementBits === undefined ? 0 : 4) +
    (deviceBits === undefined ? 0 : 8);
  const status = (bits: number | undefined, size: number): number[] =>
    bits === undefined ? [] : [bits & 255, (bits >> 8) & 255, (bits >> 16) & 255].slice(0, size);
  return {
    type: 'packet',
    atMs: monotonicMs(atMs),
    sensorId,
    characteristic: '2a5f',
    bytes: Uint8Array.of(
      flags,
      ...sfloat(spo2),
      ...sfloat(pulse),
      ...(fast === undefined ? [] : [...sfloat(fast), ...sfloat(pulse)]),
      ...status(measurementBits, 2),
      ...status(deviceBits, 3),
    ),
  };
}

const link = (atS: number, connected: boolean, sensorId = 'ox'): PipelineEvent => ({
  type: 'link',
  atMs: ms(atS),
  sensorId,
  measures: ['oximeter'],
  connected,
});
const mark = (atS: number, kind: 'holdStart' | 'holdEnd' | 'breathing', saidAtS = atS) => ({
  saidAtMs: saidAtS * 1_000,
  event: { type: 'mark', mark: { markId: `${kind}-${atS}`, kind, atMs: ms(atS) } } as PipelineEvent,
});

const plain = ({ atS, spo2, pulse }: CleanReading): Sent => ({
  atMs: atS * 1_000,
  sensorId: 'ox',
  spo2,
  pulse,
});

interface Plan {
  /** Each clean reading as what is sent for it. */
  readonly send?: (reading: CleanReading, crossing: Crossing, index: number) => readonly Sent[];
  readonly also?: (crossing: Crossing) => readonly PipelineEvent[];
  /** The marked beginning of a hold; false where nobody knows of one. */
  readonly hold?: boolean;
  readonly end?: (crossing: Crossing) => number;
}

function sequence(name: string, { send, also, hold = true, end }: Plan): FaultSequence {
  return {
    name,
    events(crossing) {
      const timed: { readonly saidAtMs: number; readonly event: PipelineEvent }[] = [
        { saidAtMs: 0, event: link(0, true) },
      ];
      if (hold) timed.push(mark(crossing.holdStartS, 'holdStart'));
      if (end !== undefined) timed.push(mark(end(crossing), 'holdEnd'));
      for (const event of also?.(crossing) ?? []) timed.push({ saidAtMs: timeOfEvent(event), event });
      crossing.readings.forEach((reading, index) => {
        for (const sent of send?.(reading, crossing, index) ?? [plain(reading)])
          timed.push({ saidAtMs: sent.atMs, event: packetOf(sent) });
      });
      const lastS = crossing.readings.at(-1)!.atS + 1;
      for (let atS = 0; atS <= lastS; atS += 0.25)
        timed.push({ saidAtMs: atS * 1_000, event: { type: 'advance', atMs: ms(atS) } });
      return timed.sort((one, other) => one.saidAtMs - other.saidAtMs).map(({ event }) => event);
    },
  };
}

const settingsOf = ({ floorPercent }: Crossing, floor = floorPercent): AthleteSettings => ({
  floorSpo2Percent: percent(floor),
  thresholdsPercent: [],
  heartRateLowBpm: null,
  heartRateHighBpm: null,
  maxHoldDurationMs: null,
  forecastAlarm: 'off',
});
const everySecond = (crossing: Crossing, make: (atS: number) => PipelineEvent): PipelineEvent[] =>
  crossing.readings.map(({ atS }) => make(atS + 0.5));
const before = (crossing: Crossing, seconds: number) => crossing.lowFromS - seconds;
/** The last reading that a display showed before it stopped. */
const stoppedAt = (crossing: Crossing, atS: number): CleanReading =>
  crossing.readings.findLast((one) => one.atS <= atS) ?? crossing.readings[0]!;

const poorSignal = 1 << 4;
const lowPerfusion = 1 << 5;
const erratic = 1 << 6;
const questionablePulse = 1 << 8;
const unconnected = 1 << 11;
const displaced = 1 << 13;
const questionable = 1 << 14;
const invalid = 1 << 15;

/** A second oximeter beside the true one. */
const second = (value: (reading: CleanReading, crossing: Crossing) => number | null): Plan => ({
  send(reading, crossing, index) {
    const spo2 = value(reading, crossing);
    const own = plain(reading);
    return spo2 === null
      ? [own]
      : [own, { ...own, sensorId: 'ox2', atMs: own.atMs + 400, spo2, pulse: 60 + (index % 4) }];
  },
  also: () => [link(0, true, 'ox2')],
});

export const faultSequences: readonly FaultSequence[] = [
  sequence('nothing goes wrong', {}),
  sequence('no hold is known', { hold: false }),
  sequence('the hold ended 5 s before', { end: (crossing) => before(crossing, 5) }),
  sequence(
    'a second oximeter at 98 %',
    second((_reading) => 98),
  ),
  sequence(
    'a second oximeter that flickers at 97 and 98 %',
    second(({ atS }) => 97 + (atS % 2)),
  ),
  sequence(
    'a second oximeter lost a minute before',
    second(({ atS }, c) => (atS < before(c, 60) ? 98 : null)),
  ),
  sequence(
    'a second oximeter that stood still at 99 % from the start',
    second(() => 99),
  ),
  sequence('the display stands still from 40 s before', {
    send: (reading, crossing) => {
      const stopped = stoppedAt(crossing, before(crossing, 40));
      return [plain(reading.atS < stopped.atS ? reading : { ...stopped, atS: reading.atS })];
    },
  }),
  sequence('the display stands still from 20 s before and wakes below', {
    send: (reading, crossing) => {
      const stopped = stoppedAt(crossing, before(crossing, 20));
      const still = reading.atS >= stopped.atS && reading.atS < crossing.lowFromS;
      return [plain(still ? { ...stopped, atS: reading.atS } : reading)];
    },
  }),
  sequence('the fast reading stands still beside a true normal one', {
    send: (reading, crossing) => [
      { ...plain(reading), fast: stoppedAt(crossing, Math.min(reading.atS, before(crossing, 30))).spo2 },
    ],
  }),
  sequence('the normal reading stands still beside a true fast one', {
    send: (reading, crossing) => [
      {
        ...plain(reading),
        spo2: stoppedAt(crossing, Math.min(reading.atS, before(crossing, 30))).spo2,
        fast: reading.spo2,
      },
    ],
  }),
  sequence('readings come every 4 s', {
    send: (reading) => (reading.atS % 4 === 0 ? [plain(reading)] : []),
  }),
  sequence('readings come up to 0.9 s late', {
    send: (reading, _crossing, index) => [
      { ...plain(reading), atMs: reading.atS * 1_000 + ((index * 377) % 900) },
    ],
  }),
  sequence('readings come three at a time', {
    send: (reading) => [{ ...plain(reading), atMs: Math.ceil(reading.atS / 3) * 3_000 }],
  }),
  sequence('every reading comes twice', {
    send: (reading) => [plain(reading), { ...plain(reading), atMs: reading.atS * 1_000 + 30 }],
  }),
  sequence('the fall shows as one jump', {
    send: (reading, crossing) => [
      plain(
        reading.atS >= before(crossing, 15) && reading.atS < crossing.lowFromS
          ? { ...reading, spo2: 96 }
          : reading,
      ),
    ],
  }),
  sequence('single spikes up every 5 s', {
    send: (reading, crossing) => [
      plain((reading.atS - crossing.lowFromS + 5_000) % 5 === 4 ? { ...reading, spo2: 97 } : reading),
    ],
  }),
  sequence('movement: spikes down and a jumping pulse for 10 s before', {
    send: (reading, crossing, index) => [
      plain(
        reading.atS >= before(crossing, 10) && reading.atS < crossing.lowFromS
          ? { ...reading, spo2: index % 3 === 0 ? 60 : 95, pulse: 40 + ((index * 37) % 90) }
          : reading,
      ),
    ],
  }),
  sequence('the pulse jumps throughout', {
    send: (reading, _crossing, index) => [plain({ ...reading, pulse: 40 + ((index * 37) % 90) })],
  }),
  sequence('no pulse is sent', { send: (reading) => [{ ...plain(reading), pulse: null }] }),
  sequence('the signal is called poor and erratic', {
    send: (reading) => [{ ...plain(reading), deviceBits: poorSignal | erratic }],
  }),
  sequence('low perfusion, pulse and measurement called questionable', {
    send: (reading) => [
      { ...plain(reading), measurementBits: questionable, deviceBits: lowPerfusion | questionablePulse },
    ],
  }),
  sequence('the sensor is called displaced', {
    send: (reading) => [{ ...plain(reading), deviceBits: displaced }],
  }),
  sequence('every second reading is called invalid', {
    send: (reading, _crossing, index) => [
      { ...plain(reading), measurementBits: index % 2 === 0 ? invalid : 0 },
    ],
  }),
  sequence('all readings are called invalid from 2 s before', {
    send: (reading, crossing) => [
      { ...plain(reading), measurementBits: reading.atS >= before(crossing, 2) ? invalid : 0 },
    ],
  }),
  sequence('the value is NaN from 2 s before', {
    send: (reading, crossing) => [
      reading.atS >= before(crossing, 2) ? { ...plain(reading), spo2: null, pulse: null } : plain(reading),
    ],
  }),
  sequence('the finger leaves the probe 2 s before', {
    send: (reading, crossing) => [
      reading.atS >= before(crossing, 2)
        ? { ...plain(reading), spo2: null, pulse: null, deviceBits: unconnected }
        : plain(reading),
    ],
  }),
  sequence('the placeholder 127 is sent from 2 s before', {
    send: (reading, crossing) => [
      plain(reading.atS >= before(crossing, 2) ? { ...reading, spo2: 127, pulse: 255 } : reading),
    ],
  }),
  sequence('silence from 2 s before, the link said to be up', {
    send: (reading, crossing) => (reading.atS >= before(crossing, 2) ? [] : [plain(reading)]),
  }),
  sequence('silence for 8 s before, then low readings', {
    send: (reading, crossing) =>
      reading.atS >= before(crossing, 8) && reading.atS < crossing.lowFromS ? [] : [plain(reading)],
  }),
  sequence('silence after the second low reading', {
    send: (reading, crossing) => (reading.atS > crossing.lowFromS + 1 ? [] : [plain(reading)]),
  }),
  sequence('the link breaks 2 s before', {
    send: (reading, crossing) => (reading.atS >= before(crossing, 2) ? [] : [plain(reading)]),
    also: (crossing) => [link(before(crossing, 2), false)],
  }),
  sequence('the link breaks and comes back each 5 s', {
    also: (crossing) =>
      crossing.readings
        .filter(({ atS }) => atS % 5 === 0)
        .flatMap(({ atS }) => [link(atS + 0.2, false), link(atS + 0.8, true)]),
  }),
  sequence('a floor of 70 is asked for each second of the last 30', {
    also: (crossing) =>
      crossing.readings
        .filter(({ atS }) => atS >= Math.max(crossing.holdStartS, before(crossing, 30)))
        .map(({ atS }) => ({
          type: 'settings',
          atMs: ms(atS + 0.5),
          settings: settingsOf(crossing, 70),
        })),
  }),
  sequence('alarms are acknowledged each second', {
    also: (crossing) => everySecond(crossing, (atS) => ({ type: 'acknowledge', atMs: ms(atS) })),
  }),
  sequence('the sound is paused each second', {
    also: (crossing) => everySecond(crossing, (atS) => ({ type: 'pauseAudio', atMs: ms(atS), paused: true })),
  }),
  sequence('an older hold is taken back 3 s before', {
    also: (crossing) => [
      { type: 'markRemoved', atMs: ms(before(crossing, 3)), markId: `holdStart-${crossing.holdStartS}` },
    ],
  }),
  sequence('breathing is marked again and again', {
    also: (crossing) =>
      crossing.readings.map(({ atS }) => ({
        type: 'mark',
        mark: { markId: `b${atS}`, kind: 'breathing', atMs: ms(atS) },
      })),
    hold: false,
  }),
  sequence('a heart rate strap that disagrees, and is lost', {
    also: (crossing) =>
      crossing.readings
        .filter(({ atS }) => atS < crossing.lowFromS)
        .map(({ atS }) => ({
          type: 'packet',
          atMs: ms(atS),
          sensorId: 'strap',
          characteristic: '2a37',
          bytes: Uint8Array.of(0x06, 150),
        })),
  }),
  sequence('no page and no sound', {
    also: (crossing) =>
      everySecond(crossing, (atS) => ({
        type: 'outputs',
        atMs: ms(atS),
        livingPageCount: 0,
        soundReadyCount: 0,
      })),
  }),
];

/** SIMULATED: a breathing sensor that swings with the breath until the hold, ten samples a second; off a body it only stirs. */
const breathing = (
  crossing: Crossing,
  untilS: number,
  offFromS = Number.POSITIVE_INFINITY,
): PipelineEvent[] => {
  const linked = (atS: number, connected: boolean): PipelineEvent => ({
    type: 'link',
    atMs: ms(atS),
    sensorId: 'band',
    measures: ['breathing'],
    connected,
  });
  const samples = Array.from({ length: Math.floor(untilS * 10) }, (_, i): PipelineEvent => {
    const atS = i / 10;
    const swing = atS < crossing.holdStartS ? Math.sin((2 * Math.PI * atS) / 4.5) : 0;
    const heart = 0.05 * Math.exp(-(((atS % 0.9) - 0.3) ** 2) / 0.01);
    const stir = 0.002 * Math.sin(i * 12.9898 + Math.sin(i * 78.233) * 437.5);
    return {
      type: 'sample',
      sample: {
        channel: 'respirationRaw',
        atMs: ms(atS),
        sensorId: 'band',
        value: atS < offFromS ? swing + heart + stir : stir,
        quality: 'good',
        reasons: [],
      },
    };
  });
  return [linked(0, true), ...samples, linked(untilS, false)];
};

/** With samples that have no bytes: through the pipeline only. */
export const breathingFaults: readonly FaultSequence[] = [
  sequence('a breathing sensor that decided is lost 20 s before', {
    also: (crossing) => breathing(crossing, before(crossing, 20)),
    hold: false,
  }),
  sequence('a breathing sensor slips off 30 s before and is lost 10 s before', {
    also: (crossing) => breathing(crossing, before(crossing, 10), before(crossing, 30)),
  }),
  sequence('a breathing sensor breathes on beside the person who holds', {
    also: (crossing) => breathing({ ...crossing, holdStartS: Number.POSITIVE_INFINITY }, crossing.lowToS),
    hold: false,
  }),
];

export { settingsOf as matrixSettings };
