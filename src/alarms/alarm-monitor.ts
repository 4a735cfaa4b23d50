// What the alarm engine has seen of one athlete: a pure step from one event to the next state of knowledge.
// It judges nothing but what single watches decide (floor, heart rate); conditions are read off it elsewhere.

import type { Phase, SampleQuality } from '../../shared/schema-parts.ts';
import type { Forecast } from '../oxygen/forecast.ts';
import type { QualityReason } from '../samples/sample.ts';
import type { AlarmEvent } from './alarm.ts';
import { alarmLimits as limits } from './alarm-limits.ts';
import type { SettingsInForce } from './floor-setting.ts';
import { type FloorWatch, freshFloorWatch, watchPulse, watchReading, watchTime } from './floor-watch.ts';
import { forgetFall, freshHeartRateWatch, type HeartRateWatch, watchHeartRate } from './heart-rate-watch.ts';
import {
  type Measure,
  noSupply,
  oximeterFault,
  type SensorLink,
  type Supply,
  withSeen,
  withUnusable,
  withUsable,
} from './supply-watch.ts';

/** Reasons by which the oximeter itself says that its signal is poor. */
const sensorDoubts: ReadonlySet<QualityReason> = new Set<QualityReason>([
  'poorSignal',
  'questionable',
  'noContact',
]);

/** Everything remembered of one athlete. Times in session ms, null for never. */
export interface AlarmMonitor {
  readonly nowMs: number;
  readonly settings: SettingsInForce;
  readonly phase: Phase;
  /** The newest hold, going on or over. */
  readonly holdId: string | null;
  readonly holdStartedAtMs: number | null;
  readonly holdEndedAtMs: number | null;
  /** Last sign of breathing: an end of a hold, a mark, or the phase of recovery. */
  readonly breathedAtMs: number | null;
  /** When this stretch of alarms to stop began, or null when there is none or breathing was seen. */
  readonly abortSinceMs: number | null;
  readonly floor: FloorWatch;
  /** Slow mean of readings at rest, and the one that stood when the hold began. */
  readonly restPercent: number | null;
  readonly recoveryAnswered: boolean;
  readonly heartRate: HeartRateWatch;
  readonly lastHeartRateBpm: number | null;
  readonly oximeterSupply: Supply;
  readonly heartRateSupply: Supply;
  readonly links: readonly SensorLink[];
  readonly batteries: readonly { readonly sensorId: string; readonly percent: number }[];
  readonly forecast: Forecast | null;
  readonly forecastAlarming: boolean;
  readonly outputsKnown: boolean;
  readonly livingPageCount: number;
  readonly noOutputSinceMs: number | null;
}

/** What is known at the start of monitoring: nothing. */
export function freshMonitor(settings: SettingsInForce): AlarmMonitor {
  return {
    nowMs: 0,
    settings,
    phase: 'unknown',
    holdId: null,
    holdStartedAtMs: null,
    holdEndedAtMs: null,
    breathedAtMs: null,
    abortSinceMs: null,
    floor: freshFloorWatch,
    restPercent: null,
    recoveryAnswered: true,
    heartRate: freshHeartRateWatch,
    lastHeartRateBpm: null,
    oximeterSupply: noSupply,
    heartRateSupply: noSupply,
    links: [],
    batteries: [],
    forecast: null,
    forecastAlarming: false,
    outputsKnown: false,
    livingPageCount: 0,
    noOutputSinceMs: null,
  };
}

/** Takes in one event. */
export function observe(previous: AlarmMonitor, event: AlarmEvent): AlarmMonitor {
  const nowMs = Math.max(previous.nowMs, Number.isFinite(event.atMs) ? event.atMs : previous.nowMs);
  const m = draftOf(previous);
  m.nowMs = nowMs;
  m.floor = watchTime(m.floor, nowMs);

  switch (event.type) {
    case 'spo2':
      observeSpo2(m, event.spo2Percent, event.quality, event.reasons);
      break;
    case 'heartRate':
      observeHeartRate(m, event.heartRateBpm, event.quality, isFromOximeter(m, event.sensorId));
      break;
    case 'pulseRate':
      if (event.pulseRateBpm > 0) m.floor = watchPulse(m.floor, event.pulseRateBpm);
      break;
    case 'noValue': {
      const link = m.links.find((known) => known.sensorId === event.sensorId);
      const measures: readonly Measure[] = link?.measures ?? ['oximeter'];
      if (measures.includes('oximeter'))
        m.oximeterSupply = withUnusable(m.oximeterSupply, nowMs, event.reasons);
      else m.heartRateSupply = withUnusable(m.heartRateSupply, nowMs, event.reasons);
      break;
    }
    case 'forecast':
      m.forecast = event.forecast;
      break;
    case 'phase':
      m.phase = event.phase;
      if (event.phase === 'holding') m.holdStartedAtMs ??= nowMs;
      else if (event.phase !== 'unknown' && m.holdStartedAtMs !== null) {
        m.holdStartedAtMs = null;
        m.holdEndedAtMs = nowMs;
        m.recoveryAnswered = false;
      }
      if (event.phase === 'recovering') m.breathedAtMs = nowMs;
      break;
    case 'hold':
      observeHold(m, event);
      break;
    case 'holdWithdrawn':
      // An older hold that is taken back says nothing of the one that is going on.
      if (event.holdId !== m.holdId) break;
      if (m.holdStartedAtMs !== null) m.holdEndedAtMs = nowMs;
      m.holdStartedAtMs = null;
      m.recoveryAnswered = true;
      if (m.phase === 'holding') m.phase = 'unknown';
      break;
    case 'breathingSeen':
      m.breathedAtMs = nowMs;
      break;
    case 'link':
      observeLink(m, event.sensorId, event.measures, event.connected);
      break;
    case 'battery':
      m.batteries = [
        ...m.batteries.filter((battery) => battery.sensorId !== event.sensorId),
        { sensorId: event.sensorId, percent: event.batteryPercent },
      ];
      break;
    case 'outputs': {
      m.outputsKnown = true;
      m.livingPageCount = event.livingPageCount;
      m.noOutputSinceMs = event.soundReadyCount > 0 ? null : (m.noOutputSinceMs ?? nowMs);
      break;
    }
    case 'settings':
      m.settings = event.settings;
      break;
    case 'acknowledge':
    case 'pauseAudio':
    case 'sessionEnded':
    case 'advance':
      break;
  }

  if (m.holdStartedAtMs === null) m.heartRate = forgetFall(m.heartRate);
  if (event.type === 'hold' && event.change === 'ended') {
    m.forecast = null;
    m.forecastAlarming = false;
  } else if (m.forecast !== null) {
    // A forecast may know of a fall that no detector has called a hold; it counts all the same.
    m.forecastAlarming = forecastAlarms(m.forecast, m.forecastAlarming, m.holdStartedAtMs !== null);
  }
  m.abortSinceMs = abortSince(m);
  return m;
}

/** The newest hold began, was revised or ended. What becomes of an older one changes nothing now. */
function observeHold(m: DraftMonitor, { change, hold }: Extract<AlarmEvent, { type: 'hold' }>): void {
  if (change === 'started') m.holdId = hold.holdId;
  if (hold.holdId !== m.holdId) return;
  if (hold.end === undefined) {
    m.holdStartedAtMs = Math.min(hold.start.atMs, m.nowMs);
    m.holdEndedAtMs = null;
    m.phase = 'holding';
    return;
  }
  m.holdStartedAtMs = null;
  // The end may be declared late: what follows a hold is counted from its true end, never from the future.
  m.holdEndedAtMs = Math.min(hold.end.atMs, m.nowMs);
  if (change === 'revised') return;
  m.breathedAtMs = m.nowMs;
  m.recoveryAnswered = false;
  if (m.phase === 'holding') m.phase = 'recovering';
}

/** A copy to write on. Field by field, because spreading so many fields costs most of a step's time. */
function draftOf(m: AlarmMonitor): DraftMonitor {
  return {
    nowMs: m.nowMs,
    settings: m.settings,
    phase: m.phase,
    holdId: m.holdId,
    holdStartedAtMs: m.holdStartedAtMs,
    holdEndedAtMs: m.holdEndedAtMs,
    breathedAtMs: m.breathedAtMs,
    abortSinceMs: m.abortSinceMs,
    floor: m.floor,
    restPercent: m.restPercent,
    recoveryAnswered: m.recoveryAnswered,
    heartRate: m.heartRate,
    lastHeartRateBpm: m.lastHeartRateBpm,
    oximeterSupply: m.oximeterSupply,
    heartRateSupply: m.heartRateSupply,
    links: m.links,
    batteries: m.batteries,
    forecast: m.forecast,
    forecastAlarming: m.forecastAlarming,
    outputsKnown: m.outputsKnown,
    livingPageCount: m.livingPageCount,
    noOutputSinceMs: m.noOutputSinceMs,
  };
}

type DraftMonitor = { -readonly [Key in keyof AlarmMonitor]: AlarmMonitor[Key] };

function observeSpo2(
  m: DraftMonitor,
  percent: number,
  quality: SampleQuality,
  reasons: readonly QualityReason[],
): void {
  const nowMs = m.nowMs;
  // A saturation outside 0..100 is no saturation, whatever the quality says.
  if (quality === 'bad' || !(percent >= 0 && percent <= 100)) {
    m.oximeterSupply = withUnusable(
      m.oximeterSupply,
      nowMs,
      quality === 'bad' ? reasons : [...reasons, 'outOfRange'],
    );
    return;
  }
  m.oximeterSupply = withUsable(m.oximeterSupply, nowMs, quality === 'suspect');
  const doubtedBySensor = reasons.some((reason) => sensorDoubts.has(reason));
  m.floor = watchReading(m.floor, nowMs, percent, quality, m.settings.floorSpo2Percent, doubtedBySensor);
  if (m.holdStartedAtMs === null && !isVigilant(m) && quality === 'good') {
    // Slow mean: a new reading counts for 5 %, about 20 readings of memory. Our choice.
    m.restPercent = m.restPercent === null ? percent : m.restPercent + 0.05 * (percent - m.restPercent);
  }
  if (!m.recoveryAnswered && m.holdEndedAtMs !== null && percent >= recoveredPercent(m)) {
    // Only readings that can belong to the breathing after the hold count: the finger lags.
    if (nowMs - m.holdEndedAtMs >= limits.recoveryMs) m.recoveryAnswered = true;
  }
}

/** An oximeter's pulse stands in for a heart rate; its silence is told once, as the oximeter's. */
function isFromOximeter(m: DraftMonitor, sensorId: string): boolean {
  const link = m.links.find((known) => known.sensorId === sensorId);
  return link !== undefined && !link.measures.includes('heartRate');
}

function observeHeartRate(m: DraftMonitor, bpm: number, quality: SampleQuality, standsIn: boolean): void {
  if (quality === 'bad' || !(bpm > 0)) {
    if (!standsIn) m.heartRateSupply = withUnusable(m.heartRateSupply, m.nowMs, []);
    return;
  }
  if (!standsIn) m.heartRateSupply = withUsable(m.heartRateSupply, m.nowMs, quality === 'suspect');
  m.lastHeartRateBpm = bpm;
  m.heartRate = watchHeartRate(
    m.heartRate,
    m.nowMs,
    bpm,
    m.holdStartedAtMs !== null,
    m.settings.heartRateLowBpm,
    m.settings.heartRateHighBpm,
  );
}

function observeLink(
  m: DraftMonitor,
  sensorId: string,
  measures: readonly Measure[],
  connected: boolean,
): void {
  m.links = [
    ...m.links.filter((link) => link.sensorId !== sensorId),
    { sensorId, measures: [...measures], connected },
  ];
  if (!connected) return;
  if (measures.includes('oximeter')) m.oximeterSupply = withSeen(m.oximeterSupply, m.nowMs);
  if (measures.includes('heartRate')) m.heartRateSupply = withSeen(m.heartRateSupply, m.nowMs);
}

/** True during a hold and in the minute after it. */
export function isVigilant(m: AlarmMonitor): boolean {
  return (
    m.holdStartedAtMs !== null ||
    (m.holdEndedAtMs !== null && m.nowMs - m.holdEndedAtMs <= limits.vigilanceAfterHoldMs)
  );
}

/** The reading at which saturation counts as back after a hold. */
export function recoveredPercent(m: AlarmMonitor): number {
  const wanted = Math.max(
    m.settings.floorSpo2Percent + limits.recoveredAboveFloorPercent,
    limits.recoveredPercent,
  );
  const nearRest = m.restPercent === null ? wanted : m.restPercent - limits.recoveredBelowRestPercent;
  // Never below the floor itself: below that it has not recovered, whatever the resting reading was.
  return Math.max(m.settings.floorSpo2Percent, Math.min(wanted, nearRest));
}

function forecastAlarms(forecast: Forecast, already: boolean, holding: boolean): boolean {
  // In a hold, doubt is no all-clear.
  if (!forecast.known) return already && holding;
  const { lowSeconds } = forecast.secondsToStop;
  if (forecast.stopAdvised ?? lowSeconds <= limits.forecastReactionSeconds) return true;
  return already && lowSeconds < limits.forecastClearSeconds;
}

/** Silence or useless data in a hold: nobody can see the saturation, so it counts as an alarm to stop. */
function isBlindInHold(m: AlarmMonitor): boolean {
  if (m.holdStartedAtMs === null) return false;
  const heldMs = m.nowMs - m.holdStartedAtMs;
  return oximeterFault(m.oximeterSupply, m.links, m.nowMs, true, heldMs)?.priority === 'high';
}

function abortSince(m: AlarmMonitor): number | null {
  const holding = m.holdStartedAtMs !== null;
  const overMaximum = isOverMaximum(m);
  const asksToStop =
    m.floor.breached ||
    (m.forecastAlarming && m.settings.forecastAlarm !== 'off') ||
    (holding && (m.heartRate.fallenFromBpm !== null || overMaximum || isBlindInHold(m)));
  if (!asksToStop) {
    // In a hold the wait for breathing goes on although the reason to stop has gone: only breathing ends it.
    return holding && !breathedSince(m, m.abortSinceMs) ? m.abortSinceMs : null;
  }
  const since = m.abortSinceMs ?? m.nowMs;
  if (!breathedSince(m, since)) return since;
  // Breathing was seen after the alarm began; while no new hold begins, falling readings are only the lag.
  return holding ? m.nowMs : null;
}

function breathedSince(m: AlarmMonitor, sinceMs: number | null): boolean {
  if (m.breathedAtMs === null) return false;
  if (m.holdStartedAtMs !== null) return sinceMs !== null && m.breathedAtMs >= sinceMs;
  // Outside a hold, breathing seen within the last minute still counts: the finger lags.
  return sinceMs === null || m.breathedAtMs >= sinceMs - limits.vigilanceAfterHoldMs;
}

/** The hold has reached the longest the athlete allowed. */
export function isOverMaximum(m: AlarmMonitor): boolean {
  const longest = m.settings.maxHoldDurationMs;
  return longest !== null && m.holdStartedAtMs !== null && m.nowMs - m.holdStartedAtMs >= longest;
}
