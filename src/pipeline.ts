// The first file to read: how the bytes of one athlete's sensors become samples, holds, a forecast and alarms.
// One pipeline serves live sessions, replays, the demo and later analysis. It has no clock: time comes with events.

import type { AlarmPriority, Channel, Phase } from '../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../shared/units.ts';
import type { AthleteSettings } from '../shared/views.ts';
import type { ActiveAlarm, AlarmEvent, EndedAlarm } from './alarms/alarm.ts';
import { createAlarmState, isFloorLocked, soundOf, stepAlarms } from './alarms/alarm-engine.ts';
import { settingsInForce } from './alarms/floor-setting.ts';
import type { Hold, HoldDetector, HoldEvent } from './holds/hold.ts';
import { createHoldDetector } from './holds/live-detector.ts';
import { type AthletePrior, populationPrior } from './oxygen/athlete-prior.ts';
import type { Forecast } from './oxygen/forecast.ts';
import { createForecaster, type Forecaster } from './oxygen/forecaster.ts';
import type { SensorProfile } from './profiles/sensor-profile.ts';
import { lungsOfMark, type Mark } from './samples/mark.ts';
import type { Sample } from './samples/sample.ts';
import { timeOfEvent } from './sessions/merge-events.ts';
import { createGapWatch, type Gap } from './signal/gap-watch.ts';
import { createPacketReader } from './signal/packet-reader.ts';
import { createSignalCleaner } from './signal/signal-cleaner.ts';
import { createThresholdWatch } from './thresholds/threshold-watch.ts';

/** Everything that can happen to one athlete, in time order. */
export type PipelineEvent =
  /** Bytes from a sensor, already recorded. `characteristic` as in the hub's SensorPacket. */
  | {
      readonly type: 'packet';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly characteristic: string;
      readonly bytes: Uint8Array;
    }
  /** A value that never was bytes (an imported file). */
  | { readonly type: 'sample'; readonly sample: Sample }
  | {
      readonly type: 'link';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly measures: readonly ('heartRate' | 'oximeter')[];
      readonly connected: boolean;
      /** A link is being made anew: half a frame or a beat's place from before means nothing any more. */
      readonly isNew?: boolean;
    }
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
  /** Monitoring is over: alarms that stand end with it. Nothing comes after. */
  | { readonly type: 'sessionEnded'; readonly atMs: MonotonicMs }
  | { readonly type: 'advance'; readonly atMs: MonotonicMs };

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
  /** Lowest usable saturation from its start to 60 s after its end, if one has been read. */
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
const stepMs = 250;
/** Without a usable beat from a strap for this long, the oximeter's pulse rate stands in for the heart rate. */
const strapSilentAfterMs = 5_000;
/** Finger saturation trails the lungs by up to 40 s and more (reference 3.23-3.27): its lowest comes late. */
const lowestAfterEndMs = 60_000;

/**
 * `signals` stops after the quality of samples: for a review, which takes what was said live from the store and finds
 * its holds by the two-sided pass. Detector, forecast and alarms then stay silent; all else is the same code.
 */
export type PipelineScope = 'all' | 'signals';

export interface PipelineOptions {
  readonly scope?: PipelineScope;
  /** What earlier holds taught about this athlete's fall; nothing is known when left out. */
  readonly prior?: AthletePrior;
}

export type PipelineFactory = (settings: AthleteSettings, options?: PipelineOptions) => Pipeline;

/** Makes pipelines that read sensors by these profiles. */
export const pipelineFactory =
  (profiles: readonly SensorProfile[] = []): PipelineFactory =>
  (settings, options) =>
    createPipeline(settings, profiles, options);

const changeWords = { holdStarted: 'started', holdRevised: 'revised', holdEnded: 'ended' } as const;

const silentDetector: Pick<HoldDetector, 'push'> = { push: () => [] };
const silentForecast: Forecast = { known: false, reason: 'signals only' };
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
  const isWhole = options.scope !== 'signals';
  let settings = settingsInForce(initialSettings);
  const cleaner = createSignalCleaner();
  const detector = isWhole ? createHoldDetector() : silentDetector;
  const forecaster = isWhole
    ? createForecaster({
        floorSpo2Percent: settings.floorSpo2Percent,
        ...(options.prior !== undefined && { prior: options.prior }),
      })
    : silentForecaster;
  const thresholds = createThresholdWatch(settings.thresholdsPercent);
  const gaps = createGapWatch();
  const reader = createPacketReader(profiles);
  const holds = new Map<string, LiveHold>();
  let alarmState = createAlarmState(settings);
  let nowMs = monotonicMs(0);
  let nextStepMs = stepMs;
  let phase: Phase = 'unknown';
  let newestHoldId: string | undefined;
  let forecast: Forecast = isWhole ? { known: false, reason: 'no hold is under way' } : silentForecast;
  let latestSpo2: Sample | undefined;
  let latestHeartRate: Sample | undefined;
  let strapHeardAtMs = Number.NEGATIVE_INFINITY;
  /** The newest mark that said how full the lungs are. */
  let lungsMarkId: string | undefined;
  let outputs: PipelineOutput[] = [];

  function alarm(event: AlarmEvent): void {
    if (!isWhole) return;
    const stepped = stepAlarms(alarmState, event);
    alarmState = stepped.state;
    if (stepped.changed)
      outputs.push({
        type: 'alarms',
        atMs: event.atMs,
        alarms: alarmState.alarms,
        ended: stepped.ended,
      });
  }

  function takeForecast(next: Forecast): void {
    if (next === forecast) return;
    forecast = next;
    outputs.push({ type: 'forecast', atMs: nowMs, forecast });
    alarm({ type: 'forecast', atMs: nowMs, forecast });
  }

  function takeLungs(mark: Mark): void {
    const lungs = lungsOfMark[mark.kind];
    if (lungs === undefined) return;
    lungsMarkId = mark.markId;
    takeForecast(forecaster.push({ type: 'lungs', atMs: nowMs, lungs }));
  }

  function takeHoldEvents(events: readonly HoldEvent[]): void {
    for (const event of events) {
      if (event.type === 'phaseChanged') {
        phase = event.phase;
        alarm({ type: 'phase', atMs: nowMs, phase });
        outputs.push({ type: 'hold', event });
      } else publishHold(event);
    }
  }

  /** The one way by which a hold's start, revision, end or withdrawal reaches forecast, alarms and listeners. */
  function publishHold(event: Exclude<HoldEvent, { type: 'phaseChanged' }>): void {
    if (event.type === 'holdWithdrawn') {
      holds.delete(event.holdId);
      if (event.holdId === newestHoldId)
        takeForecast(forecaster.push({ type: 'holdWithdrawn', atMs: nowMs }));
      alarm({ type: 'holdWithdrawn', atMs: nowMs, holdId: event.holdId });
    } else {
      const { hold } = event;
      holds.set(hold.holdId, { ...holds.get(hold.holdId), hold });
      const isStart = event.type === 'holdStarted';
      if (isStart) newestHoldId = hold.holdId;
      // The forecast is of one hold only: what becomes of an older one is not its business.
      if (hold.holdId === newestHoldId)
        takeForecast(
          forecaster.push(
            hold.end === undefined
              ? { type: isStart ? 'holdStarted' : 'holdRevised', atMs: nowMs, start: hold.start }
              : { type: 'holdEnded', atMs: nowMs, endedAtMs: hold.end.atMs },
          ),
        );
      alarm({ type: 'hold', atMs: nowMs, change: changeWords[event.type], hold });
    }
    outputs.push({ type: 'hold', event });
  }

  function advanceTo(atMs: MonotonicMs): void {
    for (; isWhole && nextStepMs <= atMs; nextStepMs += stepMs) {
      nowMs = monotonicMs(nextStepMs);
      takeHoldEvents(detector.push({ type: 'advance', atMs: nowMs }));
      takeForecast(forecaster.push({ type: 'advance', atMs: nowMs }));
      alarm({ type: 'advance', atMs: nowMs });
    }
    if (atMs > nowMs) nowMs = atMs;
  }

  function noteLowest(sample: Sample): void {
    for (const [holdId, live] of holds) {
      const endMs = live.hold.end?.atMs ?? Number.POSITIVE_INFINITY;
      if (sample.atMs < live.hold.start.atMs || sample.atMs > endMs + lowestAfterEndMs) continue;
      if (live.lowestSpo2 === undefined || sample.value < live.lowestSpo2.value)
        holds.set(holdId, { ...live, lowestSpo2: sample });
    }
  }

  /** The one door for settings: what comes into force is decided here, and nobody behind it decides again. */
  function takeSettings(asked: AthleteSettings): void {
    settings = settingsInForce(asked, { settings, floorLocked: isFloorLocked(alarmState) });
    const { thresholdsPercent, floorSpo2Percent } = settings;
    thresholds.setThresholds(thresholdsPercent);
    takeForecast(forecaster.push({ type: 'settings', atMs: nowMs, floorSpo2Percent }));
    alarm({ type: 'settings', atMs: nowMs, settings });
  }

  /** `averaged`: the slower saturation reading that came with it, for the floor alone. */
  function takeSample(raw: Sample, averaged?: Sample): void {
    for (const sample of cleaner.push(raw)) {
      const gap = gaps.push(sample);
      if (gap !== undefined) outputs.push({ type: 'gap', ...gap });
      outputs.push({ type: 'sample', sample });
      const atMs = monotonicMs(Math.max(nowMs, sample.atMs));
      const { quality, reasons, sensorId } = sample;
      if (sample.channel === 'pulseRateBpm')
        alarm({ type: 'pulseRate', atMs, pulseRateBpm: sample.value, sensorId });
      if (sample.channel === 'spo2Percent') {
        latestSpo2 = sample;
        if (quality !== 'bad') noteLowest(sample);
        for (const crossing of thresholds.push(sample)) outputs.push({ type: 'threshold', ...crossing });
        alarm({
          type: 'spo2',
          atMs,
          spo2Percent: sample.value,
          // For the floor only the sensor's own word makes a reading invalid; any other doubt is said beside the alarm.
          quality: quality === 'bad' && raw.quality !== 'bad' ? 'suspect' : quality,
          reasons,
          sensorId,
          ...(averaged !== undefined && {
            averaged: {
              spo2Percent: averaged.value,
              quality: averaged.quality,
              reasons: averaged.reasons,
            },
          }),
        });
        takeForecast(
          forecaster.push({ type: 'spo2', atMs: sample.atMs, spo2Percent: sample.value, quality }),
        );
      } else if (sample.channel === 'heartRateBpm') {
        latestHeartRate = sample;
        if (quality !== 'bad') strapHeardAtMs = sample.atMs;
        alarm({ type: 'heartRate', atMs, heartRateBpm: sample.value, quality, sensorId });
        takeForecast(
          forecaster.push({ type: 'heartRate', atMs: sample.atMs, heartRateBpm: sample.value, quality }),
        );
      } else if (sample.channel === 'pulseRateBpm' && sample.atMs - strapHeardAtMs > strapSilentAfterMs) {
        latestHeartRate = sample;
        alarm({ type: 'heartRate', atMs, heartRateBpm: sample.value, quality, sensorId });
        takeForecast(
          forecaster.push({ type: 'heartRate', atMs: sample.atMs, heartRateBpm: sample.value, quality }),
        );
      }
      takeHoldEvents(detector.push({ type: 'sample', sample }));
    }
  }

  function takePacket({
    atMs,
    sensorId,
    characteristic,
    bytes,
  }: Extract<PipelineEvent, { type: 'packet' }>): void {
    const read = reader.read({ atMs, sensorId, characteristic, bytes });
    for (const reason of read.discards) {
      outputs.push({ type: 'discarded', atMs, sensorId, characteristic, reason });
    }
    const { batteryPercent } = read;
    if (batteryPercent !== undefined) {
      outputs.push({ type: 'battery', atMs, sensorId, batteryPercent });
      alarm({ type: 'battery', atMs: nowMs, sensorId, batteryPercent });
    }
    for (const sample of read.samples)
      takeSample(sample, sample.channel === 'spo2Percent' ? read.averagedSpo2 : undefined);
    for (const { channel, reasons } of read.missing) {
      if (channel === 'spo2Percent' || channel === 'heartRateBpm')
        alarm({ type: 'noValue', atMs: nowMs, sensorId, reasons });
    }
  }

  return {
    push(event) {
      outputs = [];
      advanceTo(timeOfEvent(event));
      switch (event.type) {
        case 'packet':
          takePacket(event);
          break;
        case 'sample':
          takeSample(event.sample);
          break;
        case 'link':
          if (event.isNew) reader.newLink(event.sensorId);
          alarm({
            type: 'link',
            atMs: nowMs,
            sensorId: event.sensorId,
            measures: event.measures,
            connected: event.connected,
          });
          break;
        case 'mark':
          if (event.mark.kind === 'breathing') alarm({ type: 'breathingSeen', atMs: nowMs });
          if (event.mark.kind === 'answered') alarm({ type: 'answered', atMs: nowMs });
          takeLungs(event.mark);
          takeHoldEvents(detector.push({ type: 'mark', mark: event.mark }));
          break;
        case 'markRemoved':
          if (event.markId === lungsMarkId)
            takeForecast(forecaster.push({ type: 'lungs', atMs: nowMs, lungs: undefined }));
          takeHoldEvents(detector.push({ type: 'markRemoved', markId: event.markId }));
          break;
        case 'settings':
          takeSettings(event.settings);
          break;
        case 'acknowledge':
          alarm({
            type: 'acknowledge',
            atMs: nowMs,
            ...(event.alarmIds !== undefined && { alarmIds: event.alarmIds }),
            ...(event.by !== undefined && { by: event.by }),
          });
          break;
        case 'pauseAudio':
          alarm({ type: 'pauseAudio', atMs: nowMs, paused: event.paused });
          break;
        case 'outputs':
          alarm({
            type: 'outputs',
            atMs: nowMs,
            livingPageCount: event.livingPageCount,
            soundReadyCount: event.soundReadyCount,
          });
          break;
        case 'schedule':
          takeHoldEvents(
            detector.push({ type: 'schedule', startAtMs: event.startAtMs, toleranceMs: event.toleranceMs }),
          );
          break;
        case 'sessionEnded':
          alarm({ type: 'sessionEnded', atMs: nowMs });
          break;
        case 'advance':
          break;
      }
      return outputs;
    },
    openGaps: () => gaps.openAt(nowMs),
    get prior() {
      return forecaster.prior;
    },
    get state() {
      return {
        atMs: nowMs,
        phase,
        latestSpo2,
        latestHeartRate,
        forecast,
        holds: [...holds.values()],
        alarms: alarmState.alarms,
        sound: soundOf(alarmState),
        floorLocked: isFloorLocked(alarmState),
      };
    },
  };
}
