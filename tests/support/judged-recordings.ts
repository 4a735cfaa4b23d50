// Recordings for the judge of measures (tests/foreign/judge-measures.py): simulated ones of several simulators, sensors, faults
// and ways to set a hold, and real people's. As files for `analyze`, or as stored sessions of a hub.

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { SensorStatus } from '../../hub/base/ports/sensor-source.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { snakeName } from '../../hub/recordings/export/channel-names.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';
import type { Sample } from '../../src/samples/sample.ts';
import { createRandom } from './corpus/seeded-random.ts';
import { sketchPerson, sketchSession } from './corpus/sketched-athlete.ts';
import { type Fault, layOut, type Shape, withFault } from './corpus/sketched-corpus.ts';
import { alveolarAthlete } from './foreign-alveolar/alveolar-athlete.ts';
import { sketchAthlete } from './foreign-sketch/sketch-athlete.ts';
import { liveThrough, type SensorKit, type SessionKind } from './scoring/living-athlete.ts';
import type { Lungs } from './scoring/scored-session.ts';

export interface JudgedFile {
  readonly name: string;
  readonly csv: string;
}

interface Span {
  readonly startMs: number;
  readonly endMs: number;
}
type Row = readonly [atMs: number, channel: string, value: string];

/** Seconds with six decimals at most, as the export writes them. */
const secondsText = (ms: number): string => String(Number((ms / 1_000).toFixed(6)));

function csvOf(comment: string, rows: readonly Row[]): string {
  const lines = [...rows]
    .sort((a, b) => a[0] - b[0])
    .map(([atMs, channel, value]) => `${secondsText(atMs)},${channel},${value}\n`);
  return `# ${comment}\ntime_s,channel,value\n${lines.join('')}`;
}

const rowOf = ({ atMs, channel, value }: Sample): Row => [
  atMs,
  snakeName(channel),
  String(Number(value.toPrecision(7))),
];

/** Marks of holds a little beside whole seconds, with contractions in every second hold. */
const marksOf = (holds: readonly Span[]): Row[] =>
  holds.flatMap(({ startMs, endMs }, index): Row[] => {
    const from = startMs + 130 * (index + 1);
    const mark = (atMs: number, name: string): Row => [Math.round(atMs), 'mark', name];
    const contractions = index % 2 === 0 ? [0.6, 0.75, 0.8] : [];
    return [
      mark(from, 'hold_start'),
      ...contractions.map((share) => mark(from + share * (endMs - from), 'contraction')),
      mark(endMs, 'hold_end'),
    ];
  });

const livedFiles: readonly {
  readonly seed: number;
  readonly kind: SessionKind;
  readonly kit: SensorKit;
  readonly lungs?: Lungs;
  readonly marked: boolean;
  /** The clip freezes: it sends what it last had. Seconds. */
  readonly frozenS?: readonly [number, number];
}[] = [
  { seed: 501, kind: 'maximal', kit: 'beats and oximetry', lungs: 'full', marked: true },
  { seed: 502, kind: 'interval', kit: 'beats and oximetry', lungs: 'half', marked: false },
  { seed: 503, kind: 'beginner', kit: 'heart rate and oximetry', marked: true },
  { seed: 504, kind: 'interval', kit: 'oximetry only', lungs: 'emptied', marked: true, frozenS: [150, 235] },
  { seed: 505, kind: 'interval', kit: 'beats, oximetry and pleth', marked: false },
  { seed: 506, kind: 'maximal', kit: 'oximetry and pleth', lungs: 'half', marked: true },
  { seed: 507, kind: 'messy', kit: 'beats only', marked: true },
];

const drawnFiles: readonly {
  readonly seed: number;
  readonly shape: Shape;
  readonly fault: Fault;
  readonly marked: boolean;
  /** The file ends within the last hold. */
  readonly isCut?: boolean;
}[] = [
  { seed: 601, shape: 'rising', fault: 'dropouts', marked: true },
  { seed: 602, shape: 'intervals', fault: 'motionDips', marked: false },
  { seed: 603, shape: 'rising', fault: 'badBeats', marked: true, isCut: true },
  { seed: 604, shape: 'maximal', fault: 'badBeats', marked: false },
  { seed: 605, shape: 'short', fault: 'strapRateOnly', marked: true },
  { seed: 606, shape: 'maximal', fault: 'none', marked: false },
];

/** Files for `slackwater analyze`: 13 recordings of simulated athletes. */
export function* simulatedFiles(): Generator<JudgedFile> {
  for (const { seed, kind, kit, lungs, marked, frozenS } of livedFiles) {
    const athlete = sketchAthlete({ seed, kind, kit, ...(lungs !== undefined && { lungs }) });
    const { events, holds } = liveThrough(athlete, kind, 88);
    const samples = frozen(
      events.flatMap((event) => (event.type === 'sample' ? [event.sample] : [])),
      frozenS,
    );
    const rows = [...samples.map(rowOf), ...(marked ? marksOf(holds) : [])];
    yield { name: `lived-${seed}`, csv: csvOf('SIMULATED', rows) };
  }
  for (const { seed, shape, fault, marked, isCut } of drawnFiles) {
    const random = createRandom(seed);
    const script = layOut(shape, random);
    const samples = withFault(sketchSession(seed, sketchPerson(random), script), fault, random);
    const rows = [...samples.map(rowOf), ...(marked ? marksOf(script.holds) : [])];
    const lastMs = isCut === true ? script.holds.at(-1)!.startMs + 25_000 : Number.POSITIVE_INFINITY;
    const kept = rows.filter(([atMs]) => atMs <= lastMs);
    yield { name: `drawn-${seed}`, csv: csvOf('SIMULATED', kept) };
  }
}

function frozen(samples: readonly Sample[], span: readonly [number, number] | undefined): Sample[] {
  if (span === undefined) return [...samples];
  const last = new Map<string, number>();
  return samples.map((sample) => {
    const isFrozen = sample.atMs >= span[0] * 1_000 && sample.atMs < span[1] * 1_000;
    if (!isFrozen) last.set(sample.channel, sample.value);
    return isFrozen ? { ...sample, value: last.get(sample.channel) ?? sample.value } : sample;
  });
}

const fixtures = join(import.meta.dirname, '../../fixtures');

/** Real people who held no breath, with holds marked over what their sensors sent: licences lie beside the fixtures. */
export function* realFiles(): Generator<JudgedFile> {
  const oxygen = (file: string, holds: readonly Span[], name: string): JudgedFile => {
    const rows = readFileSync(join(fixtures, 'controlled-desaturation', file), 'utf8')
      .split('\n')
      .filter((line) => /^\d/.test(line))
      .map((line): Row => {
        const [time, channel, value] = line.split(',');
        return [Number(time) * 1_000, channel!, value!];
      });
    return { name, csv: csvOf('Real person; nobody holds their breath here', [...rows, ...marksOf(holds)]) };
  };
  yield oxygen(
    'subject-1-oximeter-a.csv',
    [
      { startMs: 40_000, endMs: 110_000 },
      { startMs: 160_000, endMs: 235_000 },
    ],
    'real-oxygen-1',
  );
  yield oxygen(
    'subject-2-oximeter-a.csv',
    [
      { startMs: 100_000, endMs: 190_000 },
      { startMs: 330_400, endMs: 480_000 },
      { startMs: 520_000, endMs: 700_250 },
    ],
    'real-oxygen-2',
  );
  let atMs = 0;
  const beats = readFileSync(join(fixtures, 'rr-intervals/real_rri.txt'), 'utf8')
    .split('\n')
    .filter((line) => /^\d/.test(line))
    .map((line): Row => {
      atMs += Number(line);
      return [atMs, 'rr_interval_ms', line.trim()];
    });
  const holds = [
    { startMs: 160_000, endMs: 225_500 },
    { startMs: 420_000, endMs: 500_000 },
    { startMs: 560_000, endMs: 640_000 },
  ].filter(({ endMs }) => endMs < atMs);
  yield {
    name: 'real-beats',
    csv: csvOf('Real person; nobody holds their breath here', [...beats, ...marksOf(holds)]),
  };
}

export interface JudgedSession {
  readonly sessionId: string;
  readonly athleteIds: readonly string[];
  /** Of the first athlete, put right by hand afterwards. */
  readonly isCorrected: boolean;
}

const storedSessions: readonly {
  readonly wearers: readonly { readonly seed: number; readonly kind: SessionKind; readonly kit: SensorKit }[];
  readonly marked: boolean;
  readonly isCorrected: boolean;
  /** Seconds nobody watched: the hub was not there. */
  readonly unwatchedS?: readonly [number, number];
}[] = [
  {
    wearers: [
      { seed: 701, kind: 'interval', kit: 'beats and oximetry' },
      { seed: 702, kind: 'interval', kit: 'heart rate and oximetry' },
    ],
    marked: true,
    isCorrected: true,
  },
  {
    wearers: [
      { seed: 703, kind: 'maximal', kit: 'beats and oximetry' },
      { seed: 704, kind: 'beginner', kit: 'oximetry only' },
    ],
    marked: false,
    isCorrected: false,
  },
  {
    wearers: [{ seed: 705, kind: 'table', kit: 'beats and oximetry' }],
    marked: true,
    isCorrected: false,
    unwatchedS: [0.55, 25],
  },
  {
    wearers: [{ seed: 706, kind: 'maximal', kit: 'beats only' }],
    marked: false,
    isCorrected: true,
  },
  {
    wearers: [{ seed: 707, kind: 'messy', kit: 'beats and oximetry' }],
    marked: true,
    isCorrected: false,
  },
];

/** Five sessions of seven simulated athletes, written into the store as their sensors' packets. */
export function writeJudgedSessions(store: Store): JudgedSession[] {
  return storedSessions.map(({ wearers, marked, isCorrected, unwatchedS }, index) => {
    const sessionId = `judged-${index + 1}`;
    const lives = wearers.map(({ seed, kind, kit }) => ({
      athleteId: `athlete-${seed}`,
      ...liveThrough(alveolarAthlete({ seed, kind, kit }), kind, 88),
    }));
    const startedWallAtMs = wallMs(Date.UTC(2025, 4, 3, 9));
    store.startSession({
      sessionId,
      startedWallAtMs,
      simulated: true,
      source: 'simulated',
      title: 'SIMULATED morning',
      athletes: lives.map(({ athleteId }) => ({
        athlete: { athleteId, name: `Athlete ${athleteId}`, simulated: true, settings: initialSettings },
        sensors: [sensorOf(`strap-${athleteId}`, 'heartRate'), sensorOf(`oximeter-${athleteId}`, 'oximeter')],
      })),
      profiles: [],
    });
    let lastMs = 0;
    for (const { athleteId, events, holds, durationMs } of lives) {
      const [share, lengthS] = unwatchedS ?? [0, 0];
      const first = holds[Math.min(1, holds.length - 1)]!;
      // Within a hold, to a fraction of a second.
      const fromMs = Math.round(first.startMs + share * (first.endMs - first.startMs));
      const gap = { fromMs, toMs: fromMs + lengthS * 1_000 };
      for (const event of events)
        if (event.type === 'packet' && !(event.atMs > gap.fromMs && event.atMs < gap.toMs))
          store.appendPacket(sessionId, {
            sensorId: `${event.sensorId}-${athleteId}`,
            characteristic: event.characteristic,
            bytes: event.bytes,
            atMs: event.atMs,
            wallAtMs: wallMs(startedWallAtMs + event.atMs),
          });
      if (unwatchedS !== undefined)
        store.saveUnwatched(sessionId, {
          fromMs: monotonicMs(gap.fromMs),
          toMs: monotonicMs(gap.toMs),
          fromWallMs: wallMs(startedWallAtMs + gap.fromMs),
          toWallMs: wallMs(startedWallAtMs + gap.toMs),
          cause: 'hubDied',
        });
      if (marked) writeMarks(store, sessionId, athleteId, holds);
      lastMs = Math.max(lastMs, durationMs);
    }
    store.endSession(sessionId, monotonicMs(Math.ceil(lastMs)));
    return { sessionId, athleteIds: lives.map(({ athleteId }) => athleteId), isCorrected };
  });
}

function sensorOf(sensorId: string, kind: SensorStatus['kinds'][number]): SensorStatus {
  return {
    sensorId,
    name: sensorId,
    kinds: [kind],
    source: 'simulated',
    link: 'connected',
    detail: null,
    batteryPercent: null,
    rssiDbm: null,
  };
}

const markKinds = { hold_start: 'holdStart', hold_end: 'holdEnd', contraction: 'contraction' } as const;

function writeMarks(store: Store, sessionId: string, athleteId: string, holds: readonly Span[]): void {
  marksOf(holds).forEach(([atMs, , name], index) => {
    store.saveMark(sessionId, {
      mark: {
        markId: `${sessionId}-${athleteId}-${index}`,
        athleteId,
        kind: markKinds[name as keyof typeof markKinds],
        atMs: monotonicMs(atMs),
        text: null,
      },
      removed: false,
    });
  });
}
