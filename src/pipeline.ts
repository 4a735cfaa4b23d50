// The first file to read: how the bytes of one athlete's sensors become samples, holds, a forecast and alarms.
// One pipeline serves live sessions, replays, the demo and later analysis. It has no clock: time comes with events.

import type { AlarmPriority, Channel, Phase, SampleQuality } from '../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../shared/units.ts';
import type { AthleteSettings } from '../shared/views.ts';
import type { ActiveAlarm, AlarmEvent, EndedAlarm } from './alarms/alarm.ts';
import {
  type AlarmState,
  createAlarmState,
  isFloorLocked,
  soundOf,
  stepAlarms,
} from './alarms/alarm-engine.ts';
import { type SettingsInForce, settingsInForce } from './alarms/floor-setting.ts';
import type { Hold, HoldDetector, HoldEvent } from './holds/hold.ts';
import { createHoldDetector } from './holds/live-detector.ts';
import { countsForLowest } from './holds/lowest-reading.ts';
import { type AthletePrior, populationPrior } from './oxygen/athlete-prior.ts';
import type { Forecast } from './oxygen/forecast.ts';
import { createForecaster, type Forecaster } from './oxygen/forecaster.ts';
import type { SensorProfile } from './profiles/sensor-profile.ts';
import { lungsOfMark, type Mark } from './samples/mark.ts';
import type { Sample } from './samples/sample.ts';
import { timeOfEvent } from './sessions/merge-events.ts';
import { createGapWatch, type Gap } from './signal/gap-watch.ts';
import { createPacketReader, type PacketReader } from './signal/packet-reader.ts';
import { createSignalCleaner } from './signal/signal-cleaner.ts';
import { createThresholdWatch, type ThresholdWatch } from './thresholds/threshold-watch.ts';

/** Everything that can happen to one athlete, in time order. */
export type PipelineEvent =
  /** Bytes from a sensor, already recorded. `characteristic` as in the hub's SensorPacket. */
  | {
      readonly type: 'packet';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly characteristic: string;
      readonly bytes: Uint8Array;
      /** Heard of only now: nothing follows from it but how later bytes of the sensor are read. */
      readonly isLate?: boolean;
    }
  /** A value that never was bytes (an imported file). */
  | { readonly type: 'sample'; readonly sample: Sample }
  | {
      readonly type: 'link';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly measures: readonly ('heartRate' | 'oximeter' | 'breathing')[];
      readonly connected: boolean;
      /** A link is being made anew: half a frame or a beat's place from before means nothing any more. */
      readonly isNew?: boolean;
    }
  /** The sensor is another's from now on, or nobody's. */
  | { readonly type: 'sensorGone'; readonly atMs: MonotonicMs; readonly sensorId: string }
  | { readonly type: 'mark'; readonly mark: Mark }
  | { readonly type: 'markRemoved'; readonly atMs: MonotonicMs; readonly markId: string }
  | { readonly type: 'settings'; readonly atMs: MonotonicMs; readonly settings: AthleteSettings }
  /** `by` is a device's name, empty for the hub's own machine; left out when nobody is known. */
  | {
      readonly type: 'acknowledge';
      readonly atMs: MonotonicMs;
      readonly alarmIds?: readonly string[];
      readonly by?: string;
    }
  | { readonly type: 'pauseAudio'; readonly atMs: MonotonicMs; readonly paused: boolean }
  | {
      readonly type: 'outputs';
      readonly atMs: MonotonicMs;
      readonly livingPageCount: number;
      readonly soundReadyCount: number;
    }
  /** A planned hold start, said at `atMs`: a prior for the detector. */
  | {
      readonly type: 'schedule';
      readonly atMs: MonotonicMs;
      readonly startAtMs: MonotonicMs;
      readonly toleranceMs: number;
    }
  /**
   * Nobody watched from `fromMs` until `atMs`: what did not come in between says nothing. `known` comes once, to a
   * pipeline that another process made anew from what was recorded: it stands as it was told, whatever was found again.
   */
  | {
      readonly type: 'unwatched';
      readonly atMs: MonotonicMs;
      readonly fromMs: MonotonicMs;
      readonly known?: KnownBefore;
    }
  /** Monitoring is over: alarms that stand end with it. Nothing comes after. */
  | { readonly type: 'sessionEnded'; readonly atMs: MonotonicMs }
  | { readonly type: 'advance'; readonly atMs: MonotonicMs };

/** What was told of an athlete before another process took the session up. */
export interface KnownBefore {
  readonly settings: AthleteSettings;
  /** Those not withdrawn, in order. */
  readonly holds: readonly LiveHold[];
  /** Those that stood. */
  readonly alarms: readonly ActiveAlarm[];
  /** Of alarms to come: no id is given twice in a session. */
  readonly alarmIdPrefix: string;
}

/** What follows from an event. */
export type PipelineOutput =
  | { readonly type: 'sample'; readonly sample: Sample }
  | {
      readonly type: 'discarded';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly characteristic: string;
      readonly reason: string;
    }
  | {
      readonly type: 'battery';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly batteryPercent: number;
    }
  | {
      readonly type: 'gap';
      readonly channel: Channel;
      readonly sensorId: string;
      readonly fromMs: MonotonicMs;
      readonly toMs: MonotonicMs;
    }
  | { readonly type: 'hold'; readonly event: HoldEvent }
  | {
      readonly type: 'threshold';
      readonly atMs: MonotonicMs;
      readonly thresholdPercent: number;
      readonly direction: 'below' | 'above';
    }
  | { readonly type: 'forecast'; readonly atMs: MonotonicMs; readonly forecast: Forecast }
  /** The alarms that stand now, and those that stood before and no longer do, as they are to be kept. */
  | {
      readonly type: 'alarms';
      readonly atMs: MonotonicMs;
      readonly alarms: readonly ActiveAlarm[];
      readonly ended: readonly EndedAlarm[];
    };

/** A hold with what the live page shows of it. */
export interface LiveHold {
  readonly hold: Hold;
  /** The lowest of what has been read of it (lowest-reading.ts). */
  readonly lowestSpo2?: Sample;
}

/** What stands now; everything a page draws of the present. */
export interface PipelineState {
  readonly atMs: MonotonicMs;
  readonly phase: Phase;
  /** The newest saturation and heart rate that carried a value, whatever their quality. */
  readonly latestSpo2: Sample | undefined;
  readonly latestHeartRate: Sample | undefined;
  readonly forecast: Forecast;
  readonly holds: readonly LiveHold[];
  readonly alarms: readonly ActiveAlarm[];
  readonly sound: {
    readonly priority: AlarmPriority | null;
    readonly audioPausedUntilMs: MonotonicMs | null;
  };
  /** True while a hold, the minute after it, or a floor alarm forbids lowering the floor. */
  readonly floorLocked: boolean;
}

/** One athlete's pipeline. Deterministic: the same events in the same order give the same outputs. */
export interface Pipeline {
  push(event: PipelineEvent): readonly PipelineOutput[];
  readonly state: PipelineState;
  /** Channels that are silent now, from their last sample on. */
  openGaps(): readonly Gap[];
  /** What has been learnt of this athlete's fall so far, for the next session's pipeline. */
  readonly prior: AthletePrior;
}

/**
 * The inner time moves in steps of this size, whenever it is told how far: so it does not matter how often `advance`
 * comes. The alarm engine's stated delays hold for steps of at most this (alarm-engine.ts).
 */
export const stepMs = 250;
/**
 * Once nothing has gone in and nothing has come out for this long, nothing more comes of time alone: the longest that anything
 * waits is a recovery, watched for 5 min (alarm-limits.ts) after a hold's last minute. Steps are then left out, so that a clock
 * that jumps by days is caught up with in moments. With a hold under way: the longest marked one (marked-hold-watch.ts) and the
 * longest allowed one (15 min) are over by then. Our choices.
 */
const settledMs = 7 * 60_000;
const settledInHoldMs = 25 * 60_000;
/** Whatever still comes out: so long after the last that went in, steps are left out. */
const settledAnywayMs = 60 * 60_000;
/** Without a usable beat from a strap for this long, the oximeter's pulse rate stands in for the heart rate. */
const strapSilentAfterMs = 5_000;

/**
 * `signals` stops after the quality of samples: for a review, which takes what was said live from the store and finds
 * its holds by the two-sided pass. Detector, forecast and alarms then stay silent; all else is the same code.
 */
export type PipelineScope = 'all' | 'signals';

export interface PipelineOptions {
  readonly scope?: PipelineScope;
  /** Hears each sample as its sensor sent it, before its quality is judged, in the order of arrival (sensor-samples.ts). */
  readonly onSent?: (sample: Sample) => void;
  /** What earlier holds taught about this athlete's fall; nothing is known when left out. */
  readonly prior?: AthletePrior;
  /** When monitoring of this athlete begins, for one who joins a session that runs; 0 when left out. */
  readonly startAtMs?: MonotonicMs;
  /** Put before the ids of holds and alarms, so that those of a second stay in one session differ from the first's. */
  readonly idPrefix?: string;
  /** Made anew from a recording, until `unwatched` says what is known: after so many holds, which the prior has learnt of. */
  readonly rebuilt?: { readonly holdsBefore: number };
}

export type PipelineFactory = (settings: AthleteSettings, options?: PipelineOptions) => Pipeline;

/** Makes pipelines that read sensors by these profiles. */
export const pipelineFactory =
  (profiles: readonly SensorProfile[] = []): PipelineFactory =>
  (settings, options) =>
    createPipeline(settings, profiles, options);

const changeWords = { holdStarted: 'started', holdRevised: 'revised', holdEnded: 'ended' } as const;

const silentDetector: Pick<HoldDetector, 'push' | 'offBody'> = { push: () => [], offBody: undefined };
const silentForecast: Forecast = { known: false, reason: 'signalsOnly' };
const silentForecaster: Pick<Forecaster, 'push' | 'prior'> = {
  push: () => silentForecast,
  prior: populationPrior,
};

/**
 * Makes the pipeline of one athlete with the settings in force when monitoring begins.
 * @param profiles read the characteristics that they name; all others are read by the standard.
 */
export function createPipeline(
  initialSettings: AthleteSettings,
  profiles: readonly SensorProfile[] = [],
  options: PipelineOptions = {},
): Pipeline {
  return new AthletePipeline(settingsInForce(initialSettings), profiles, options);
}

class AthletePipeline implements Pipeline {
  readonly #isWhole: boolean;
  #settings: SettingsInForce;
  readonly #cleaner = createSignalCleaner();
  readonly #detector: Pick<HoldDetector, 'push' | 'offBody'>;
  readonly #forecaster: Pick<Forecaster, 'push' | 'prior'>;
  readonly #thresholds: ThresholdWatch;
  readonly #gaps = createGapWatch();
  readonly #reader: PacketReader;
  readonly #onSent: PipelineOptions['onSent'];
  readonly #holds = new Map<string, LiveHold>();
  /** Their values in order, made anew once one has changed. */
  #liveHolds: readonly LiveHold[] | undefined;
  #alarmState: AlarmState;
  #nowMs = monotonicMs(0);
  #nextStepMs = stepMs;
  #phase: Phase = 'unknown';
  #newestHoldId: string | undefined;
  #forecast: Forecast;
  #latestSpo2: Sample | undefined;
  #latestHeartRate: Sample | undefined;
  #strapHeardAtMs = Number.NEGATIVE_INFINITY;
  /** The second of which alarms were last told, by sensor. */
  readonly #breathingTold = new Map<string, number>();
  /** The newest mark that said how full the lungs are. */
  #lungsMarkId: string | undefined;
  #outputs: PipelineOutput[] = [];
  /** When something last went in, other than time; and when something last went in or came out. */
  #lastInputMs = monotonicMs(0);
  #lastActiveMs = monotonicMs(0);

  constructor(settings: SettingsInForce, profiles: readonly SensorProfile[], options: PipelineOptions) {
    this.#isWhole = options.scope !== 'signals';
    this.#settings = settings;
    const { startAtMs = monotonicMs(0), idPrefix = '', rebuilt } = options;
    this.#nowMs = startAtMs;
    this.#nextStepMs = (Math.floor(startAtMs / stepMs) + 1) * stepMs;
    this.#lastInputMs = startAtMs;
    this.#lastActiveMs = startAtMs;
    this.#detector = this.#isWhole
      ? createHoldDetector({ holdIdPrefix: `${idPrefix}hold-`, holdsBefore: rebuilt?.holdsBefore ?? 0 })
      : silentDetector;
    this.#forecaster = this.#isWhole
      ? createForecaster({
          floorSpo2Percent: settings.floorSpo2Percent,
          ...(options.prior !== undefined && { prior: options.prior }),
          taughtBefore: rebuilt !== undefined,
        })
      : silentForecaster;
    this.#forecast = this.#isWhole ? { known: false, reason: 'noHold' } : silentForecast;
    this.#thresholds = createThresholdWatch(settings.thresholdsPercent);
    this.#reader = createPacketReader(profiles);
    this.#onSent = options.onSent;
    this.#alarmState = createAlarmState(settings, { idPrefix: `${idPrefix}alarm`, startAtMs });
  }

  push(event: PipelineEvent): readonly PipelineOutput[] {
    this.#outputs = [];
    this.#advanceTo(event.type === 'unwatched' ? event.fromMs : timeOfEvent(event));
    if (event.type !== 'advance') {
      this.#lastInputMs = this.#nowMs;
      this.#lastActiveMs = this.#nowMs;
    }
    this.#take(event);
    return this.#outputs;
  }

  openGaps(): readonly Gap[] {
    return this.#gaps.openAt(this.#nowMs);
  }

  get prior(): AthletePrior {
    return this.#forecaster.prior;
  }

  get state(): PipelineState {
    return {
      atMs: this.#nowMs,
      phase: this.#phase,
      latestSpo2: this.#latestSpo2,
      latestHeartRate: this.#latestHeartRate,
      forecast: this.#forecast,
      holds: [...this.#holds.values()],
      alarms: this.#alarmState.alarms,
      sound: soundOf(this.#alarmState),
      floorLocked: isFloorLocked(this.#alarmState),
    };
  }

  #take(event: PipelineEvent): void {
    switch (event.type) {
      case 'packet':
        this.#takePacket(event);
        break;
      case 'sample':
        this.#takeSample(event.sample);
        break;
      case 'link':
        if (event.isNew) this.#reader.newLink(event.sensorId);
        this.#alarm(linkAlarm(event, this.#nowMs));
        break;
      case 'sensorGone':
        this.#reader.newLink(event.sensorId);
        this.#gaps.forget(event.sensorId);
        this.#alarm({ ...event, atMs: this.#nowMs });
        break;
      case 'mark':
        if (event.mark.kind === 'breathing') this.#alarm({ type: 'breathingSeen', atMs: this.#nowMs });
        if (event.mark.kind === 'answered') this.#alarm({ type: 'answered', atMs: this.#nowMs });
        this.#takeLungs(event.mark);
        this.#takeHoldEvents(this.#detector.push({ type: 'mark', mark: event.mark }));
        break;
      case 'markRemoved':
        if (event.markId === this.#lungsMarkId)
          this.#takeForecast(this.#forecaster.push({ type: 'lungs', atMs: this.#nowMs, lungs: undefined }));
        this.#takeHoldEvents(this.#detector.push({ type: 'markRemoved', markId: event.markId }));
        break;
      case 'settings':
        this.#takeSettings(event.settings);
        break;
      case 'schedule': {
        const { startAtMs, toleranceMs } = event;
        this.#takeHoldEvents(this.#detector.push({ type: 'schedule', startAtMs, toleranceMs }));
        break;
      }
      case 'acknowledge':
      case 'pauseAudio':
      case 'outputs':
        this.#alarm({ ...event, atMs: this.#nowMs });
        break;
      case 'unwatched':
        this.#passUnwatched(event);
        break;
      case 'sessionEnded':
        this.#alarm({ type: 'sessionEnded', atMs: this.#nowMs });
        break;
      case 'advance':
        break;
    }
  }

  /** Time passes without being looked at; then what is known is taken, and everything judged anew. */
  #passUnwatched({ atMs, fromMs, known }: Extract<PipelineEvent, { type: 'unwatched' }>): void {
    this.#nowMs = monotonicMs(Math.max(this.#nowMs, atMs));
    this.#nextStepMs = (Math.floor(this.#nowMs / stepMs) + 1) * stepMs;
    this.#reader.newLinks();
    if (known !== undefined) {
      this.#settings = settingsInForce(known.settings);
      const { thresholdsPercent, floorSpo2Percent } = this.#settings;
      this.#thresholds.setThresholds(thresholdsPercent);
      this.#forecaster.push({ type: 'settings', atMs: this.#nowMs, floorSpo2Percent });
      this.#forecaster.push({ type: 'learnOn', atMs: this.#nowMs });
      this.#holds.clear();
      this.#liveHolds = undefined;
      for (const live of known.holds) this.#setHold(live.hold.holdId, live);
      this.#newestHoldId = known.holds.at(-1)?.hold.holdId ?? this.#newestHoldId;
    }
    // First, so that nothing is told of alarms that were only found again.
    this.#alarm({
      type: 'unwatched',
      atMs: this.#nowMs,
      ...(known !== undefined && { known: { ...known, settings: this.#settings } }),
    });
    const holds = known?.holds.map(({ hold }) => hold);
    this.#takeHoldEvents(
      this.#detector.push({
        type: 'unwatched',
        fromMs,
        toMs: this.#nowMs,
        ...(holds !== undefined && { known: holds }),
      }),
    );
    this.#takeForecast(this.#forecaster.push({ type: 'advance', atMs: this.#nowMs }));
  }

  #alarm(event: AlarmEvent): void {
    if (!this.#isWhole) return;
    const stepped = stepAlarms(this.#alarmState, event);
    this.#alarmState = stepped.state;
    if (stepped.changed)
      this.#outputs.push({
        type: 'alarms',
        atMs: event.atMs,
        alarms: stepped.state.alarms,
        ended: stepped.ended,
      });
  }

  #takeForecast(next: Forecast): void {
    if (next === this.#forecast) return;
    this.#forecast = next;
    this.#outputs.push({ type: 'forecast', atMs: this.#nowMs, forecast: next });
    this.#alarm({ type: 'forecast', atMs: this.#nowMs, forecast: next });
  }

  #takeLungs(mark: Mark): void {
    const lungs = lungsOfMark[mark.kind];
    if (lungs === undefined) return;
    this.#lungsMarkId = mark.markId;
    this.#takeForecast(this.#forecaster.push({ type: 'lungs', atMs: this.#nowMs, lungs }));
  }

  #takeHoldEvents(events: readonly HoldEvent[]): void {
    for (let i = 0; i < events.length; i++) {
      const event = events[i]!;
      if (event.type === 'phaseChanged') {
        this.#phase = event.phase;
        this.#alarm({ type: 'phase', atMs: this.#nowMs, phase: event.phase });
      } else if (event.type === 'holdWithdrawn') this.#withdrawHold(event.holdId);
      else this.#publishHold(event);
      this.#outputs.push({ type: 'hold', event });
    }
  }

  #withdrawHold(holdId: string): void {
    this.#holds.delete(holdId);
    this.#liveHolds = undefined;
    if (holdId === this.#newestHoldId)
      this.#takeForecast(this.#forecaster.push({ type: 'holdWithdrawn', atMs: this.#nowMs }));
    this.#alarm({ type: 'holdWithdrawn', atMs: this.#nowMs, holdId });
  }

  /** The one way by which a hold's start, revision or end reaches forecast, alarms and listeners. */
  #publishHold({ type, hold }: Extract<HoldEvent, { hold: Hold }>): void {
    this.#setHold(hold.holdId, { ...this.#holds.get(hold.holdId), hold });
    const isStart = type === 'holdStarted';
    if (isStart) this.#newestHoldId = hold.holdId;
    // The forecast is of one hold only: what becomes of an older one is not its business.
    if (hold.holdId === this.#newestHoldId)
      this.#takeForecast(
        this.#forecaster.push(
          hold.end === undefined
            ? { type: isStart ? 'holdStarted' : 'holdRevised', atMs: this.#nowMs, start: hold.start }
            : { type: 'holdEnded', atMs: this.#nowMs, endedAtMs: hold.end.atMs },
        ),
      );
    this.#alarm({ type: 'hold', atMs: this.#nowMs, change: changeWords[type], hold });
  }

  #advanceTo(atMs: MonotonicMs): void {
    for (; this.#isWhole && this.#nextStepMs <= atMs; this.#nextStepMs += stepMs) {
      const isSettled = this.#isSettledAt(this.#nextStepMs);
      if (isSettled) this.#nextStepMs = Math.floor(atMs / stepMs) * stepMs;
      const outputCount = this.#outputs.length;
      this.#nowMs = monotonicMs(this.#nextStepMs);
      if (!isSettled) {
        this.#takeHoldEvents(this.#detector.push({ type: 'advance', atMs: this.#nowMs }));
        this.#takeForecast(this.#forecaster.push({ type: 'advance', atMs: this.#nowMs }));
      }
      this.#alarm({ type: 'advance', atMs: this.#nowMs });
      if (this.#outputs.length > outputCount) this.#lastActiveMs = this.#nowMs;
    }
    if (atMs > this.#nowMs) this.#nowMs = atMs;
  }

  #isSettledAt(atMs: number): boolean {
    if (atMs - this.#lastInputMs > settledAnywayMs) return true;
    const quietMs = atMs - this.#lastActiveMs;
    // Asked at every step: mostly something has just come.
    if (quietMs <= Math.min(settledInHoldMs, settledMs)) return false;
    const isHolding = this.#holds.size > 0 && [...this.#holds.values()].at(-1)?.hold.end === undefined;
    return quietMs > (isHolding ? settledInHoldMs : settledMs);
  }

  /** When the hold after one that began at `startMs` began; infinity without any. */
  #startAfter(startMs: number): number {
    let next = Number.POSITIVE_INFINITY;
    for (const { hold } of this.#holds.values())
      if (hold.start.atMs > startMs) next = Math.min(next, hold.start.atMs);
    return next;
  }

  #noteLowest(sample: Sample): void {
    // In a list of their own: every reading asks about every hold of the session.
    this.#liveHolds ??= [...this.#holds.values()];
    const lives = this.#liveHolds;
    for (let i = 0; i < lives.length; i++) {
      const live = lives[i]!;
      const { hold, lowestSpo2 } = live;
      if (lowestSpo2 !== undefined && sample.value >= lowestSpo2.value) continue;
      const startMs = hold.start.atMs;
      const endMs = hold.end?.atMs ?? Number.POSITIVE_INFINITY;
      // First as if no hold came after, which is seldom so much as asked then.
      if (!countsForLowest(sample, { startMs, endMs, nextStartMs: Number.POSITIVE_INFINITY })) continue;
      if (countsForLowest(sample, { startMs, endMs, nextStartMs: this.#startAfter(startMs) }))
        this.#setHold(hold.holdId, { ...live, lowestSpo2: sample });
    }
  }

  #setHold(holdId: string, live: LiveHold): void {
    this.#holds.set(holdId, live);
    this.#liveHolds = undefined;
  }

  /** The one door for settings: what comes into force is decided here, and nobody behind it decides again. */
  #takeSettings(asked: AthleteSettings): void {
    this.#settings = settingsInForce(asked, {
      settings: this.#settings,
      floorLocked: isFloorLocked(this.#alarmState),
    });
    const { thresholdsPercent, floorSpo2Percent } = this.#settings;
    this.#thresholds.setThresholds(thresholdsPercent);
    this.#takeForecast(this.#forecaster.push({ type: 'settings', atMs: this.#nowMs, floorSpo2Percent }));
    this.#alarm({ type: 'settings', atMs: this.#nowMs, settings: this.#settings });
  }

  #takePacket(packet: Extract<PipelineEvent, { type: 'packet' }>): void {
    const { atMs, sensorId, characteristic, bytes } = packet;
    const read = this.#reader.read({ atMs, sensorId, characteristic, bytes });
    if (packet.isLate) return;
    for (let i = 0; i < read.discards.length; i++) {
      const reason = read.discards[i]!;
      this.#outputs.push({ type: 'discarded', atMs, sensorId, characteristic, reason });
    }
    const { batteryPercent } = read;
    if (batteryPercent !== undefined) {
      this.#outputs.push({ type: 'battery', atMs, sensorId, batteryPercent });
      this.#alarm({ type: 'battery', atMs: this.#nowMs, sensorId, batteryPercent });
    }
    for (let i = 0; i < read.samples.length; i++) {
      const sample = read.samples[i]!;
      this.#takeSample(sample, sample.channel === 'spo2Percent' ? read.averagedSpo2 : undefined);
    }
    for (let i = 0; i < read.missing.length; i++) {
      const { channel, reasons } = read.missing[i]!;
      if (channel === 'spo2Percent' || channel === 'heartRateBpm')
        this.#alarm({ type: 'noValue', atMs: this.#nowMs, sensorId, reasons });
    }
  }

  /** `averaged`: the slower saturation reading that came with it, for the floor alone. */
  #takeSample(raw: Sample, averaged?: Sample): void {
    this.#onSent?.(raw);
    const cleaned = this.#cleaner.push(raw);
    for (let i = 0; i < cleaned.length; i++) {
      const sample = cleaned[i]!;
      const gap = this.#gaps.push(sample);
      if (gap !== undefined) this.#outputs.push({ type: 'gap', ...gap });
      this.#outputs.push({ type: 'sample', sample });
      if (sample.channel === 'spo2Percent') this.#takeSpo2(sample, raw.quality, averaged);
      else if (sample.channel === 'heartRateBpm') {
        if (sample.quality !== 'bad') this.#strapHeardAtMs = sample.atMs;
        this.#takeHeartRate(sample);
      } else if (sample.channel === 'pulseRateBpm') this.#takePulseRate(sample);
      if (this.#isWhole) this.#takeHoldEvents(this.#detector.push({ type: 'sample', sample }));
      if (sample.channel === 'respirationRaw') this.#takeBreathing(sample);
    }
  }

  /** Not before what has been said already. */
  #alarmTimeOf(sample: Sample): MonotonicMs {
    return monotonicMs(Math.max(this.#nowMs, sample.atMs));
  }

  #takeSpo2(sample: Sample, sensorsWord: SampleQuality, averaged: Sample | undefined): void {
    const { quality, reasons, sensorId } = sample;
    this.#latestSpo2 = sample;
    this.#noteLowest(sample);
    const crossings = this.#thresholds.push(sample);
    for (let i = 0; i < crossings.length; i++) this.#outputs.push({ type: 'threshold', ...crossings[i]! });
    this.#alarm({
      type: 'spo2',
      atMs: this.#alarmTimeOf(sample),
      spo2Percent: sample.value,
      // For the floor only the sensor's own word makes a reading invalid; any other doubt is said beside the alarm.
      quality: quality === 'bad' && sensorsWord !== 'bad' ? 'suspect' : quality,
      reasons,
      sensorId,
      ...(averaged !== undefined && {
        averaged: { spo2Percent: averaged.value, quality: averaged.quality, reasons: averaged.reasons },
      }),
    });
    this.#takeForecast(
      this.#forecaster.push({ type: 'spo2', atMs: sample.atMs, spo2Percent: sample.value, quality }),
    );
  }

  #takePulseRate(sample: Sample): void {
    this.#alarm({
      type: 'pulseRate',
      atMs: this.#alarmTimeOf(sample),
      pulseRateBpm: sample.value,
      sensorId: sample.sensorId,
    });
    if (sample.atMs - this.#strapHeardAtMs > strapSilentAfterMs) this.#takeHeartRate(sample);
  }

  /** Many samples a second come; alarms are told of each second once. */
  #takeBreathing(sample: Sample): void {
    const { sensorId } = sample;
    const second = Math.floor(sample.atMs / 1_000);
    if (second <= (this.#breathingTold.get(sensorId) ?? Number.NEGATIVE_INFINITY)) return;
    this.#breathingTold.set(sensorId, second);
    const isWorn = sample.quality !== 'bad' && this.#detector.offBody !== sensorId;
    this.#alarm({ type: 'breathing', atMs: this.#alarmTimeOf(sample), sensorId, isWorn });
  }

  /** A strap's, or an oximeter's pulse rate in its place. */
  #takeHeartRate(sample: Sample): void {
    const { value: heartRateBpm, quality, sensorId } = sample;
    this.#latestHeartRate = sample;
    this.#alarm({ type: 'heartRate', atMs: this.#alarmTimeOf(sample), heartRateBpm, quality, sensorId });
    this.#takeForecast(
      this.#forecaster.push({ type: 'heartRate', atMs: sample.atMs, heartRateBpm, quality }),
    );
  }
}

const linkAlarm = (
  { sensorId, measures, connected }: Extract<PipelineEvent, { type: 'link' }>,
  atMs: MonotonicMs,
): AlarmEvent => ({ type: 'link', atMs, sensorId, measures, connected });
