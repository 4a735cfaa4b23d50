// Sessions written straight into a store: packets as sensors send them, holds marked by hand, months in an instant.

import type { SensorStatus } from '../../hub/base/ports/sensor-source.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { encodeHeartRateMeasurement } from '../../hub/sensors/simulated/encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from '../../hub/sensors/simulated/encode-plx-continuous.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';
import type { HoldFeeling } from '../../shared/views.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { createRandom } from './corpus/seeded-random.ts';

export interface SessionToWrite {
  readonly sessionId: string;
  readonly athleteId: string;
  readonly athleteName: string;
  readonly startedWallAtMs: number;
  readonly title: string;
  readonly simulated?: boolean;
  /** Length of each hold, seconds. */
  readonly holdsS: readonly number[];
  /** Share of each hold before the first contraction mark, or null for no mark. */
  readonly onsetShare?: number | null;
  readonly seed?: number;
  /** With a pulse wave of 100 samples a second, from a sensor read by `waveProfile`. */
  readonly wave?: boolean;
  /** Others who held with them, alike but for the noise. */
  readonly others?: readonly { readonly athleteId: string; readonly athleteName: string }[];
  /** The clip sends nothing in this stretch, seconds of the session. */
  readonly clipSilentS?: { readonly fromS: number; readonly toS: number };
  /** A note at this second. */
  readonly note?: { readonly atS: number; readonly text: string };
  /** How the first hold felt. */
  readonly feeling?: HoldFeeling;
  /** False: left open, as when the hub's machine loses its power. */
  readonly ended?: boolean;
}

type Span = { readonly fromS: number; readonly toS: number };
type Wearer = { readonly athleteId: string; readonly athleteName: string };

/** An invented clip that sends ten bytes of a wave ten times a second. */
export const waveProfile: SensorProfile = {
  name: 'Wave clip (invented)',
  measures: ['oximeter'],
  match: { services: [], namePrefix: 'Wave clip' },
  link: {
    service: '7a5e1001c0de4d0a9b1f2f6e54696465',
    notify: '7a5e1002c0de4d0a9b1f2f6e54696465',
    start: [],
  },
  frame: null,
  fields: [
    {
      gives: 'pleth',
      at: 0,
      type: 'u8',
      bits: null,
      scale: 1,
      offset: 0,
      invalid: [],
      count: 10,
      rateHz: 100,
      when: null,
    },
  ],
};

const restS = 90;
const recoveryS = 150;
const lagS = 20;

/** One reading a second of each sensor: saturation falls after a delay and comes back, heart rate dips. */
export function writeSession(store: Store, session: SessionToWrite): void {
  const { sessionId, holdsS } = session;
  const simulated = session.simulated ?? true;
  const wearers: readonly Wearer[] = [session, ...(session.others ?? [])];
  store.startSession({
    sessionId,
    startedWallAtMs: wallMs(session.startedWallAtMs),
    simulated,
    source: simulated ? 'simulated' : 'replay',
    title: session.title,
    athletes: wearers.map(({ athleteId, athleteName }) => ({
      athlete: { athleteId, name: athleteName, simulated, settings: initialSettings },
      sensors: sensorsOf({ athleteId, athleteName }, simulated),
    })),
    profiles: session.wave === true ? [waveProfile] : [],
  });
  const spans: Span[] = [];
  let atS = restS;
  for (const holdS of holdsS) {
    spans.push({ fromS: atS, toS: atS + holdS });
    atS += holdS + recoveryS;
  }
  wearers.forEach((wearer, index) => {
    for (const { sensorId } of sensorsOf(wearer, simulated))
      store.saveLinkEvent(sessionId, { sensorId, atMs: monotonicMs(0), link: 'connected', detail: null });
    writePackets(store, session, wearer, spans, atS, createRandom((session.seed ?? 1) + index * 1_000));
    writeHolds(store, session, wearer.athleteId, spans);
  });
  const { note } = session;
  if (note !== undefined)
    store.saveMark(sessionId, {
      mark: {
        markId: `${sessionId}-note`,
        athleteId: session.athleteId,
        kind: 'note',
        atMs: monotonicMs(note.atS * 1_000),
        text: note.text,
      },
      removed: false,
    });
  if (session.ended !== false) store.endSession(sessionId, monotonicMs(atS * 1_000));
}

function sensorsOf({ athleteId, athleteName }: Wearer, simulated: boolean): [SensorStatus, SensorStatus] {
  const sensor = (sensorId: string, kinds: SensorStatus['kinds']): SensorStatus => ({
    sensorId,
    name: `${kinds[0] === 'oximeter' ? 'Clip' : 'Strap'} of ${athleteName}`,
    kinds,
    source: simulated ? 'simulated' : 'replay',
    link: 'connected',
    detail: null,
    batteryPercent: null,
    rssiDbm: null,
  });
  return [sensor(`strap-${athleteId}`, ['heartRate']), sensor(`clip-${athleteId}`, ['oximeter'])];
}

function writePackets(
  store: Store,
  session: SessionToWrite,
  { athleteId }: Wearer,
  spans: readonly Span[],
  lastS: number,
  random: { normal: () => number },
): void {
  const wave = createWave(random);
  for (let second = 0; second < lastS; second += 1) {
    const reading = readingAt(second, spans, random.normal());
    const at = second * 1_000;
    const packet = (sensorId: string, characteristic: string, bytes: Uint8Array, offsetMs: number) =>
      store.appendPacket(session.sessionId, {
        sensorId,
        characteristic,
        bytes,
        atMs: monotonicMs(at + offsetMs),
        wallAtMs: wallMs(session.startedWallAtMs + at + offsetMs),
      });
    if (session.wave === true)
      for (let tenth = 0; tenth < 10; tenth += 1)
        packet(`clip-${athleteId}`, waveProfile.link.notify, wave(reading.heartRateBpm), tenth * 100);
    packet(
      `strap-${athleteId}`,
      '2a37',
      encodeHeartRateMeasurement({ heartRateBpm: reading.heartRateBpm, skinContact: true }),
      120,
    );
    const { fromS, toS } = session.clipSilentS ?? { fromS: 0, toS: 0 };
    if (second >= fromS && second < toS) continue;
    packet(
      `clip-${athleteId}`,
      '2a5f',
      encodePlxContinuous({ spo2Percent: reading.spo2Percent, pulseRateBpm: reading.heartRateBpm }),
      340,
    );
  }
}

function writeHolds(
  store: Store,
  { sessionId, onsetShare, feeling }: SessionToWrite,
  athleteId: string,
  spans: readonly Span[],
): void {
  const share = onsetShare === undefined ? 0.55 : onsetShare;
  spans.forEach(({ fromS, toS }, index) => {
    const mark = (kind: 'holdStart' | 'holdEnd' | 'contraction', atSeconds: number) =>
      store.saveMark(sessionId, {
        mark: {
          markId: `${sessionId}-${athleteId}-${index}-${kind}-${atSeconds}`,
          athleteId,
          kind,
          atMs: monotonicMs(Math.round(atSeconds * 1_000)),
          text: null,
        },
        removed: false,
      });
    mark('holdStart', fromS);
    if (share !== null) mark('contraction', fromS + (toS - fromS) * share);
    mark('holdEnd', toS);
    const boundary = (atSeconds: number) => ({
      atMs: monotonicMs(atSeconds * 1_000),
      uncertaintyMs: 0,
      declaredAtMs: monotonicMs(atSeconds * 1_000),
      source: 'mark' as const,
      evidence: [],
    });
    store.saveHold(sessionId, {
      athleteId,
      withdrawn: false,
      hold: {
        holdId: `hold-${index + 1}`,
        start: boundary(fromS),
        end: boundary(toS),
        contractionCount: share === null ? 0 : 1,
        firstContractionAtMs: share === null ? null : monotonicMs((fromS + (toS - fromS) * share) * 1_000),
        lowestSpo2: null,
        ...(feeling !== undefined && index === 0 && { feeling }),
      },
    });
  });
}

/** A pulse at the heart rate of the moment, without breathing, with a little noise: a tenth of a second a call. */
function createWave(random: { normal: () => number }): (heartRateBpm: number) => Uint8Array {
  let phase = 0;
  return (heartRateBpm) =>
    Uint8Array.from({ length: 10 }, () => {
      phase += (heartRateBpm * 2 * Math.PI) / 6_000;
      const pulse = Math.sin(phase) + 0.35 * Math.sin(2 * phase + 0.6);
      return Math.max(0, Math.min(255, Math.round(128 + 70 * pulse + 2 * random.normal())));
    });
}

function readingAt(
  second: number,
  spans: readonly { fromS: number; toS: number }[],
  noise: number,
): { spo2Percent: number; heartRateBpm: number } {
  let spo2Percent = 98;
  let heartRateBpm = 66;
  for (const { fromS, toS } of spans) {
    // What the finger shows is `lagS` old.
    const shown = second - lagS;
    const heldS = Math.min(shown, toS) - fromS;
    if (shown > fromS && shown < toS + 40) {
      const fall = Math.max(0, heldS - 45) * 0.11;
      const back = shown > toS ? Math.min(1, (shown - toS) / 18) : 0;
      spo2Percent = 98 - fall * (1 - back);
    }
    if (second >= fromS && second < toS) heartRateBpm = 66 - Math.min(18, (second - fromS) * 0.4);
    else if (second >= toS && second < toS + 12) heartRateBpm = 48 + (second - toS) * 2;
  }
  return { spo2Percent: Math.round(spo2Percent), heartRateBpm: Math.round(heartRateBpm + noise) };
}

/** `count` sessions three a week up to `lastWallAtMs`, holds of 1:30 to 3:00 that vary without a trend. */
export function writeMonths(
  store: Store,
  athlete: { readonly athleteId: string; readonly name: string },
  count: number,
  lastWallAtMs: number,
  holdsEach = 6,
): void {
  const random = createRandom(11);
  const day = 86_400_000;
  for (let index = 0; index < count; index += 1) {
    const back = count - 1 - index;
    const daysBack = Math.floor(back / 3) * 7 + (back % 3) * 2;
    const base = 110 + random.normal() * 12;
    writeSession(store, {
      sessionId: `written-${athlete.athleteId}-${index}`,
      athleteId: athlete.athleteId,
      athleteName: athlete.name,
      startedWallAtMs: lastWallAtMs - daysBack * day,
      title: 'SIMULATED evening',
      holdsS: Array.from({ length: holdsEach }, (_, hold) =>
        Math.round(Math.max(60, base + hold * 9 + random.normal() * 8)),
      ),
      onsetShare: index % 7 === 3 ? null : 0.5 + random.normal() * 0.05,
      seed: index,
    });
  }
}

/** One session, 'evening', of a page hub's first athlete with one hold. */
export const writeEvening = (store: Store): void =>
  writeSession(store, {
    sessionId: 'evening',
    athleteId: 'athlete-1',
    athleteName: 'Marit Oduya',
    startedWallAtMs: Date.UTC(2026, 4, 12, 18, 30),
    title: 'Evening',
    holdsS: [90],
  });
