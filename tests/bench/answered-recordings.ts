// The recordings that `npm run bench answers` asks the core about: SIMULATED sessions of two generators as they are and disturbed
// (gaps, late packets, cut links, a second oximeter, a breathing belt, marks, settings, a stretch that nobody watched), every
// fault sequence of the alarm matrix over crossings of the floor, SIMULATED and real, and real people where their data are.

import { SeededRandom } from '../../hub/sensors/simulated/seeded-random.ts';
import { monotonicMs, percent } from '../../shared/units.ts';
import type { AthleteSettings } from '../../shared/views.ts';
import type { PipelineEvent } from '../../src/pipeline.ts';
import type { Mark } from '../../src/samples/mark.ts';
import { timeOfEvent } from '../../src/sessions/merge-events.ts';
import { deepHolds, eventsOf, troubledHolds } from '../support/alarm-corpus/alarm-corpus.ts';
import { realCrossings, simulatedCrossings } from '../support/alarm-corpus/crossings.ts';
import { breathingFaults, faultSequences, matrixSettings } from '../support/alarm-corpus/fault-sequences.ts';
import { breathingSamples, hasRealBreathing, repeated, restingBelt } from '../support/breathing-signals.ts';
import { alveolarAthlete } from '../support/foreign-alveolar/alveolar-athlete.ts';
import { sketchAthlete } from '../support/foreign-sketch/sketch-athlete.ts';
import { settingsWithFloor } from '../support/scoring/judge-session.ts';
import { liveThrough, type SensorKit, sensorKits, sessionKinds } from '../support/scoring/living-athlete.ts';
import { realPeople } from '../support/scoring/real-people.ts';

export interface AnsweredRecording {
  /** Those of one name are told by one number. */
  readonly name: string;
  readonly settings: AthleteSettings;
  readonly events: readonly PipelineEvent[];
  readonly durationMs: number;
  /** Worked out as a review does too. */
  readonly later: boolean;
}

const usualSettings: AthleteSettings = {
  ...settingsWithFloor(85),
  heartRateLowBpm: 35,
  thresholdsPercent: [percent(95), percent(88)],
};
const strictSettings: AthleteSettings = {
  ...usualSettings,
  floorSpo2Percent: percent(90),
  heartRateHighBpm: 120,
  maxHoldDurationMs: 100_000,
  forecastAlarm: 'high',
};

export function* answeredRecordings(): Generator<AnsweredRecording> {
  yield* simulatedSessions();
  yield* disturbedSessions();
  yield* faultsAtCrossings();
  yield* people();
}

const generators = [
  ['alveolar', alveolarAthlete],
  ['sketch', sketchAthlete],
] as const;

function* simulatedSessions(): Generator<AnsweredRecording> {
  for (const [generator, factory] of generators)
    for (const [k, kind] of sessionKinds.entries())
      for (const [s, kit] of sensorKits.entries()) {
        // Half of all pairs: each kind and each kit three times.
        if ((k + s) % 2 === 1) continue;
        const name = `${generator}, ${kind}, ${kit}`;
        const { events, durationMs } = liveThrough(
          factory({ seed: 7_000 + 10 * k + s, kind, kit }),
          name,
          85,
        );
        yield { name, settings: usualSettings, events, durationMs, later: true };
      }
}

function* disturbedSessions(): Generator<AnsweredRecording> {
  const kits: readonly SensorKit[] = ['beats and oximetry', 'beats, oximetry and pleth', 'oximetry only'];
  let seed = 0;
  for (const [generator, factory] of generators)
    for (const kit of kits)
      for (const kind of ['interval', 'maximal', 'messy'] as const) {
        const session = liveThrough(factory({ seed: 7_100 + seed, kind, kit }), kit, 85);
        yield disturbed(`disturbed ${generator}, ${kit}`, session.events, seed++);
      }
  for (const make of [deepHolds, troubledHolds])
    for (const marks of [false, true]) {
      const { name, simulated } = make(900 + seed, 86);
      yield disturbed(`disturbed ${name}`, eventsOf(simulated, marks), seed++);
    }
}

/** The same session with what can befall it, drawn by `seed`. */
function disturbed(name: string, events: readonly PipelineEvent[], seed: number): AnsweredRecording {
  const random = new SeededRandom(seed, 'answers');
  const durationMs = timeOfEvent(events.at(-1)!);
  const at = (): number => Math.round(random.between(0, durationMs));
  const gaps = Array.from({ length: 4 }, () => {
    const fromMs = at();
    return { fromMs, toMs: fromMs + random.between(2_000, 40_000), of: random.chance(0.5) };
  });
  const hasSecond = seed % 3 === 1;
  const timed: { readonly atMs: number; readonly event: PipelineEvent }[] = [];
  const say = (event: PipelineEvent, atMs: number = timeOfEvent(event)): void => {
    timed.push({ atMs, event });
  };
  for (const event of events) {
    const atMs = timeOfEvent(event);
    const isOximeter = event.type === 'sample' && event.sample.sensorId !== 'strap';
    if (gaps.some(({ fromMs, toMs, of }) => atMs >= fromMs && atMs < toMs && isOximeter === of)) continue;
    if (random.chance(0.01)) continue;
    if (event.type === 'packet' && random.chance(0.01)) {
      say({ ...event, isLate: true }, atMs + 5_000);
      continue;
    }
    say(event);
    if (hasSecond) sayOfSecond(event, random, say);
  }
  for (const event of happenings(seed, durationMs, at)) say(event);
  if (seed % 4 === 2 && hasRealBreathing)
    for (const sample of breathingSamples(repeated(restingBelt(), 2)))
      if (sample.atMs < durationMs) say({ type: 'sample', sample });
  const ordered = timed.sort((one, other) => one.atMs - other.atMs);
  return {
    name,
    settings: seed % 2 === 0 ? usualSettings : strictSettings,
    // What came late is told of when it came.
    events: ordered.map(({ atMs, event }) =>
      event.type === 'packet' ? { ...event, atMs: monotonicMs(Math.round(atMs)) } : event,
    ),
    durationMs,
    later: false,
  };
}

/** A second oximeter, a point or two off, and now and then doubtful. */
function sayOfSecond(
  event: PipelineEvent,
  random: SeededRandom,
  say: (event: PipelineEvent, atMs?: number) => void,
): void {
  if (event.type === 'sample' && event.sample.channel === 'spo2Percent') {
    const { sample } = event;
    const value = Math.max(0, sample.value + Math.round(random.between(-2, 2)));
    const quality = random.chance(0.05) ? 'suspect' : random.chance(0.02) ? 'bad' : 'good';
    say({ type: 'sample', sample: { ...sample, value, quality, sensorId: 'second' } });
  } else if (event.type === 'packet' && event.characteristic === '2a5f')
    say({ ...event, sensorId: 'second' });
}

/** Links, marks, settings and what people do, at drawn times. */
function happenings(seed: number, durationMs: number, at: () => number): readonly PipelineEvent[] {
  const time = (): ReturnType<typeof monotonicMs> => monotonicMs(at());
  const mark = (kind: Mark['kind'], number: number): PipelineEvent => ({
    type: 'mark',
    mark: { markId: `${kind}-${number}`, kind, atMs: time() },
  });
  const kinds: readonly Mark['kind'][] = [
    'holdStart',
    'holdEnd',
    'contraction',
    'breathing',
    'answered',
    'stillHolding',
    'lungsEmptied',
    'lungsHalf',
    'lungsFull',
  ];
  const cutMs = time();
  const unwatchedMs = time();
  return [
    { type: 'link', atMs: monotonicMs(0), sensorId: 'strap', measures: ['heartRate'], connected: true },
    { type: 'link', atMs: monotonicMs(0), sensorId: 'oximeter', measures: ['oximeter'], connected: true },
    ...kinds.map((kind, number) => mark(kind, number)),
    ...kinds.slice(0, seed % 9).map((kind) => mark(kind, 100)),
    { type: 'markRemoved', atMs: time(), markId: 'holdStart-0' },
    { type: 'link', atMs: cutMs, sensorId: 'oximeter', measures: ['oximeter'], connected: false },
    {
      type: 'link',
      atMs: monotonicMs(cutMs + 20_000),
      sensorId: 'oximeter',
      measures: ['oximeter'],
      connected: true,
      isNew: true,
    },
    ...(seed % 5 === 3 ? [{ type: 'sensorGone', atMs: time(), sensorId: 'second' } as const] : []),
    { type: 'settings', atMs: time(), settings: seed % 2 === 0 ? strictSettings : usualSettings },
    { type: 'acknowledge', atMs: time() },
    { type: 'pauseAudio', atMs: time(), paused: true },
    { type: 'outputs', atMs: time(), livingPageCount: 1, soundReadyCount: seed % 2 },
    { type: 'schedule', atMs: cutMs, startAtMs: monotonicMs(cutMs + 30_000), toleranceMs: 5_000 },
    ...(seed % 5 === 4
      ? [
          {
            type: 'unwatched',
            fromMs: unwatchedMs,
            atMs: monotonicMs(Math.min(durationMs, unwatchedMs + 45_000)),
          } as const,
        ]
      : []),
    { type: 'advance', atMs: monotonicMs(durationMs + 120_000) },
    { type: 'sessionEnded', atMs: monotonicMs(durationMs + 120_000) },
  ];
}

function* faultsAtCrossings(): Generator<AnsweredRecording> {
  const crossings = [...simulatedCrossings([41, 42, 43]), ...realCrossings()];
  for (const fault of [...faultSequences, ...breathingFaults])
    for (const crossing of crossings) {
      const events = fault.events(crossing);
      yield {
        name: `fault: ${fault.name}`,
        // The forecast's alarm too: without it, of these it would be seen in the readings alone.
        settings: { ...matrixSettings(crossing), forecastAlarm: 'medium' },
        events,
        durationMs: timeOfEvent(events.at(-1)!),
        later: false,
      };
    }
}

const folder =
  process.env['SLACKWATER_DATASETS'] ?? new URL('../../../shared/datasets', import.meta.url).pathname;
/** Of each real recording. */
const firstMs = 10 * 60_000;

function* people(): Generator<AnsweredRecording> {
  const onSkipped = (what: string): void => {
    process.stderr.write(`NOT THERE, and so not asked about: ${what}\n`);
  };
  for (const { conditions, events, durationMs } of realPeople({ folder, untilMs: firstMs, onSkipped }))
    yield {
      name: `people: ${conditions['set']}`,
      settings: usualSettings,
      events: events.filter((event) => timeOfEvent(event) <= firstMs),
      durationMs: Math.min(firstMs, durationMs),
      later: conditions['sensors'] === 'beats and oximetry',
    };
}
