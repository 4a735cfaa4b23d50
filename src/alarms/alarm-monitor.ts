// What the alarm engine has seen of one athlete: a pure step from one event to the next state of knowledge.
// It judges nothing but what single watches decide (floor, heart rate); conditions are read off it elsewhere.

import type { Phase, SampleQuality } from '../../shared/schema-parts.ts';
import type { Forecast } from '../oxygen/forecast.ts';
import type { AlarmEvent } from './alarm.ts';
import { alarmLimits as limits } from './alarm-limits.ts';
import type { SettingsInForce } from './floor-setting.ts';
import { forgetFall, freshHeartRateWatch, type HeartRateWatch, watchHeartRate } from './heart-rate-watch.ts';
import { isBlind, type OximeterScene } from './oximeter-faults.ts';
import {
  decidingFloor,
  freshOximeterWatch,
  type OximeterWatch,
  watchOximeterPulse,
  watchOximeterTime,
  watchSaturation,
} from './oximeter-watch.ts';
import {
  linkOf,
  type Measure,
  noSupply,
  type SensorLink,
  type Supply,
  withSeen,
  withUnusable,
  withUsable,
} from './supply-watch.ts';

/** Everything remembered of one athlete. Times in session ms, null for never. */
export interface AlarmMonitor {
  readonly nowMs: number;
  /** When monitoring of this athlete began: 0, but for one who joined a session that ran. */
  readonly startedAtMs: number;
  readonly settings: SettingsInForce;
  readonly phase: Phase;
  /** The newest hold, going on or over. */
  readonly holdId: string | null;
  readonly holdStartedAtMs: number | null;
  readonly holdEndedAtMs: number | null;
  /** When it was last said that a hold is over or was none; its end may lie well before. */
  readonly holdEndSaidAtMs: number | null;
  /** The hold under way is probably over: a clear and lasting sign of breathing stands (`Hold.probableEnd`). */
  readonly probablyOver: boolean;
  /** Last sign of breathing: an end of a hold, a mark, or the phase of recovery. */
  readonly breathedAtMs: number | null;
  /** When this stretch of alarms to stop began, or null when there is none or breathing was seen. */
  readonly abortSinceMs: number | null;
  /** In this stretch something asked to stop that no later reading takes back. */
  readonly abortIsFirm: boolean;
  /** The last time the athlete answered, or somebody by them for them. */
  readonly answeredAtMs: number | null;
  /** In the order they were first heard of. */
  readonly oximeters: readonly OximeterWatch[];
  /** Slow mean of readings at rest, and the one that stood when the hold began. */
  readonly restPercent: number | null;
  readonly recoveryAnswered: boolean;
  readonly heartRate: HeartRateWatch;
  readonly lastHeartRateBpm: number | null;
  readonly heartRateSupply: Supply;
  /** In the order they were first heard of. */
  readonly breathingSensors: readonly BreathingSensor[];
  readonly links: readonly SensorLink[];
  readonly batteries: readonly { readonly sensorId: string; readonly percent: number }[];
  readonly forecast: Forecast | null;
  readonly forecastAlarming: boolean;
  readonly outputsKnown: boolean;
  readonly livingPageCount: number;
  readonly noOutputSinceMs: number | null;
}

export interface BreathingSensor {
  readonly sensorId: string;
  readonly supply: Supply;
}

/** What is known at the start of monitoring: nothing. */
export function freshMonitor(settings: SettingsInForce, startedAtMs = 0): AlarmMonitor {
  return {
    nowMs: startedAtMs,
    startedAtMs,
    settings,
    phase: 'unknown',
    holdId: null,
    holdStartedAtMs: null,
    holdEndedAtMs: null,
    holdEndSaidAtMs: null,
    probablyOver: false,
    breathedAtMs: null,
    abortSinceMs: null,
    abortIsFirm: false,
    answeredAtMs: null,
    oximeters: [],
    restPercent: null,
    recoveryAnswered: true,
    heartRate: freshHeartRateWatch,
    lastHeartRateBpm: null,
    heartRateSupply: noSupply,
    breathingSensors: [],
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
  for (let at = 0; at < m.oximeters.length; at++) {
    const one = m.oximeters[at]!;
    const later = watchOximeterTime(one, nowMs);
    if (later !== one) m.oximeters = m.oximeters.with(at, later);
  }

  switch (event.type) {
    case 'spo2':
      observeSpo2(m, event);
      break;
    case 'heartRate':
      observeHeartRate(m, event.heartRateBpm, event.quality, isFromOximeter(m, event.sensorId));
      break;
    case 'pulseRate':
      if (event.pulseRateBpm > 0 && m.oximeters.some((one) => one.sensorId === event.sensorId))
        withOximeter(m, event.sensorId, (one) => watchOximeterPulse(one, nowMs, event.pulseRateBpm));
      break;
    case 'noValue': {
      const link = linkOf(m.links, event.sensorId);
      const measures: readonly Measure[] = link?.measures ?? ['oximeter'];
      if (measures.includes('oximeter'))
        withOximeter(m, event.sensorId, (one) => ({
          ...one,
          supply: withUnusable(one.supply, nowMs, event.reasons),
        }));
      else if (measures.includes('heartRate'))
        m.heartRateSupply = withUnusable(m.heartRateSupply, nowMs, event.reasons);
      break;
    }
    case 'breathing':
      withBreathingSensor(m, event.sensorId, (supply) =>
        event.isWorn ? withUsable(supply, nowMs, false) : withUnusable(supply, nowMs, ['noContact']),
      );
      break;
    case 'forecast':
      m.forecast = event.forecast;
      break;
    case 'phase':
      m.phase = event.phase;
      if (event.phase === 'holding') m.holdStartedAtMs ??= nowMs;
      else if (event.phase !== 'unknown' && m.holdStartedAtMs !== null) {
        m.holdStartedAtMs = null;
        m.probablyOver = false;
        m.holdEndedAtMs = nowMs;
        m.holdEndSaidAtMs = nowMs;
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
      if (m.holdStartedAtMs !== null) {
        m.holdEndedAtMs = nowMs;
        m.holdEndSaidAtMs = nowMs;
      }
      m.holdStartedAtMs = null;
      m.probablyOver = false;
      m.recoveryAnswered = true;
      if (m.phase === 'holding') m.phase = 'unknown';
      break;
    case 'breathingSeen':
      m.breathedAtMs = nowMs;
      break;
    case 'answered':
      m.answeredAtMs = nowMs;
      break;
    case 'link':
      observeLink(m, event.sensorId, event.measures, event.connected);
      break;
    case 'sensorGone':
      forgetSensor(m, event.sensorId);
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
    case 'unwatched':
      if (event.known !== undefined) observeOtherProcess(m, event.known);
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
    const { floorSpo2Percent } = m.settings;
    const holding = m.holdStartedAtMs !== null;
    m.forecastAlarming = forecastAlarms(m.forecast, m.forecastAlarming, holding, floorSpo2Percent);
  }
  m.abortSinceMs = abortSince(m);
  m.abortIsFirm = m.abortSinceMs !== null && (m.abortIsFirm || asksFirmly(m));
  return m;
}

/** Another process watches now: no link and no output is there until it says so. */
function observeOtherProcess(
  m: DraftMonitor,
  { settings, alarms }: NonNullable<Extract<AlarmEvent, { type: 'unwatched' }>['known']>,
): void {
  m.settings = settings;
  m.links = m.links.map((link) => ({ ...link, connected: false }));
  m.livingPageCount = 0;
  const wasUnheard = alarms.some(
    ({ kind, conditionPresent }) => kind === 'pageUnresponsive' && conditionPresent,
  );
  m.outputsKnown = wasUnheard;
  m.noOutputSinceMs = wasUnheard ? m.nowMs - limits.noOutputMs : null;
}

/** The newest hold began, was revised or ended. What becomes of an older one changes nothing now. */
function observeHold(m: DraftMonitor, { change, hold }: Extract<AlarmEvent, { type: 'hold' }>): void {
  if (change === 'started') m.holdId = hold.holdId;
  if (hold.holdId !== m.holdId) return;
  m.probablyOver = hold.end === undefined && hold.probableEnd !== undefined;
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
  m.holdEndSaidAtMs = m.nowMs;
  m.breathedAtMs = m.nowMs;
  m.recoveryAnswered = false;
  if (m.phase === 'holding') m.phase = 'recovering';
}

/** A copy to write on. Field by field, because spreading so many fields costs most of a step's time. */
function draftOf(m: AlarmMonitor): DraftMonitor {
  return {
    nowMs: m.nowMs,
    startedAtMs: m.startedAtMs,
    settings: m.settings,
    phase: m.phase,
    holdId: m.holdId,
    holdStartedAtMs: m.holdStartedAtMs,
    holdEndedAtMs: m.holdEndedAtMs,
    holdEndSaidAtMs: m.holdEndSaidAtMs,
    probablyOver: m.probablyOver,
    breathedAtMs: m.breathedAtMs,
    abortSinceMs: m.abortSinceMs,
    abortIsFirm: m.abortIsFirm,
    answeredAtMs: m.answeredAtMs,
    oximeters: m.oximeters,
    restPercent: m.restPercent,
    recoveryAnswered: m.recoveryAnswered,
    heartRate: m.heartRate,
    lastHeartRateBpm: m.lastHeartRateBpm,
    heartRateSupply: m.heartRateSupply,
    breathingSensors: m.breathingSensors,
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

/** Changes what is known of one oximeter; one not heard of before is begun. */
function withOximeter(
  m: DraftMonitor,
  sensorId: string,
  change: (oximeter: OximeterWatch) => OximeterWatch,
): void {
  const at = m.oximeters.findIndex((one) => one.sensorId === sensorId);
  m.oximeters =
    at < 0
      ? [...m.oximeters, change(freshOximeterWatch(sensorId))]
      : m.oximeters.with(at, change(m.oximeters[at]!));
}

function withBreathingSensor(m: DraftMonitor, sensorId: string, change: (supply: Supply) => Supply): void {
  const at = m.breathingSensors.findIndex((one) => one.sensorId === sensorId);
  m.breathingSensors =
    at < 0
      ? [...m.breathingSensors, { sensorId, supply: change(noSupply) }]
      : m.breathingSensors.with(at, { sensorId, supply: change(m.breathingSensors[at]!.supply) });
}

function observeSpo2(m: DraftMonitor, event: Extract<AlarmEvent, { type: 'spo2' }>): void {
  const { nowMs } = m;
  const { spo2Percent: percent, quality } = event;
  withOximeter(m, event.sensorId, (one) => watchSaturation(one, nowMs, event, m.settings.floorSpo2Percent));
  if (quality === 'bad' || !(percent > 0 && percent <= 100)) return;
  if (m.holdStartedAtMs === null && !isVigilant(m) && quality === 'good') {
    // Slow mean: a new reading counts for 5 %, about 20 readings of memory. Our choice.
    m.restPercent = m.restPercent === null ? percent : m.restPercent + 0.05 * (percent - m.restPercent);
  }
  if (!m.recoveryAnswered && m.holdEndedAtMs !== null && (lowestNowPercent(m) ?? 0) >= recoveredPercent(m)) {
    // Only readings that can belong to the breathing after the hold count: the finger lags.
    if (nowMs - m.holdEndedAtMs >= limits.recoveryMs) m.recoveryAnswered = true;
  }
}

/** The lowest that any oximeter reads now; of readings all too old, the newest. */
export function lowestNowPercent({
  oximeters,
  nowMs,
}: Pick<AlarmMonitor, 'oximeters' | 'nowMs'>): number | null {
  let lowest: { readonly atMs: number; readonly percent: number } | null = null;
  for (let i = 0; i < oximeters.length; i++) {
    const oximeter = oximeters[i]!;
    const { last } = decidingFloor(oximeter);
    if (last === null) continue;
    const recent = nowMs - last.atMs <= limits.recentReadingMs;
    const lowestIsRecent = lowest !== null && nowMs - lowest.atMs <= limits.recentReadingMs;
    const decides: boolean =
      lowest === null ||
      (recent
        ? !lowestIsRecent || last.percent < lowest.percent
        : !lowestIsRecent && last.atMs > lowest.atMs);
    if (decides) lowest = last;
  }
  return lowest === null ? null : lowest.percent;
}

const noOximeters: readonly OximeterWatch[] = [];

/** The oximeters whose readings are below the floor, less those that fell silent while another read well for long. */
export function breachedOximeters({
  oximeters,
  nowMs,
}: Pick<AlarmMonitor, 'oximeters' | 'nowMs'>): readonly OximeterWatch[] {
  // Asked some times a step, and mostly of nothing: then nothing is made.
  let breached: OximeterWatch[] | undefined;
  for (let i = 0; i < oximeters.length; i++) {
    const one = oximeters[i]!;
    if (!decidingFloor(one).breached) continue;
    breached ??= [];
    breached.push(one);
  }
  if (breached === undefined) return noOximeters;
  if (breached.length === oximeters.length) return breached;
  const readsWell = oximeters.some(({ floor, averagedFloor }) => {
    if (floor.breached || averagedFloor.breached || floor.okSinceMs === null || floor.last === null)
      return false;
    return (
      nowMs - floor.okSinceMs >= limits.supersededMs && nowMs - floor.last.atMs <= limits.recentReadingMs
    );
  });
  return readsWell
    ? breached.filter((one) => nowMs - (decidingFloor(one).last?.atMs ?? 0) < limits.supersededMs)
    : breached;
}

export const sceneOf = (m: AlarmMonitor): OximeterScene => ({
  oximeters: m.oximeters,
  links: m.links,
  nowMs: m.nowMs,
  vigilant: isVigilant(m),
  holdStartedAtMs: m.holdStartedAtMs,
  floorPercent: m.settings.floorSpo2Percent,
  forecastAlarming: m.forecastAlarming && m.settings.forecastAlarm !== 'off',
  strapBpm: isRecent(m, m.heartRateSupply.usableAtMs) ? m.lastHeartRateBpm : null,
});

const isRecent = ({ nowMs }: AlarmMonitor, atMs: number | null): boolean =>
  atMs !== null && nowMs - atMs <= limits.recentReadingMs;

/** An oximeter gives a pulse, which stands in for a heart rate. */
export function isPulseRead(m: AlarmMonitor): boolean {
  for (let i = 0; i < m.oximeters.length; i++)
    if (isRecent(m, m.oximeters[i]!.display.pulseAtMs)) return true;
  return false;
}

/** An oximeter's pulse stands in for a heart rate; its silence is told once, as the oximeter's. */
function isFromOximeter(m: DraftMonitor, sensorId: string): boolean {
  const link = linkOf(m.links, sensorId);
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
  if (measures.includes('oximeter'))
    withOximeter(m, sensorId, (one) => ({ ...one, supply: withSeen(one.supply, m.nowMs) }));
  if (measures.includes('heartRate')) m.heartRateSupply = withSeen(m.heartRateSupply, m.nowMs);
  if (measures.includes('breathing')) withBreathingSensor(m, sensorId, (supply) => withSeen(supply, m.nowMs));
}

/**
 * It is worn by somebody else from now on, or by nobody: what it told stays told, what it does no longer counts. In a hold
 * the want of an oximeter is an alarm by itself (`oximeterFaults`).
 */
function forgetSensor(m: DraftMonitor, sensorId: string): void {
  m.links = m.links.filter((link) => link.sensorId !== sensorId);
  m.oximeters = m.oximeters.filter((one) => one.sensorId !== sensorId);
  m.breathingSensors = m.breathingSensors.filter((one) => one.sensorId !== sensorId);
  m.batteries = m.batteries.filter((battery) => battery.sensorId !== sensorId);
  if (m.links.some(({ measures }) => measures.includes('heartRate'))) return;
  m.heartRateSupply = noSupply;
  m.heartRate = freshHeartRateWatch;
  m.lastHeartRateBpm = null;
}

/** True during a hold and in the minute after it. */
export function isVigilant(m: AlarmMonitor): boolean {
  return (
    m.holdStartedAtMs !== null ||
    (m.holdEndedAtMs !== null && m.nowMs - m.holdEndedAtMs <= limits.vigilanceAfterHoldMs)
  );
}

/** The minute after it was said that a hold is over: a late word of an end long ago unlocks nothing at once. */
export function isEndFresh({ holdEndSaidAtMs, nowMs }: AlarmMonitor): boolean {
  return holdEndSaidAtMs !== null && nowMs - holdEndSaidAtMs <= limits.vigilanceAfterHoldMs;
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

function forecastAlarms(
  forecast: Forecast,
  already: boolean,
  holding: boolean,
  floorPercent: number,
): boolean {
  // In a hold, doubt is no all-clear.
  if (!forecast.known) return already && holding;
  if (forecast.stopAdvised) return true;
  return already && forecast.lowestIfStoppedNow.lowPercent < floorPercent + limits.forecastClearPercent;
}

/** Silence or useless data in a hold: nobody can see the saturation, so it counts as an alarm to stop. */
function isBlindInHold(m: AlarmMonitor): boolean {
  return m.holdStartedAtMs !== null && isBlind(sceneOf(m));
}

function abortSince(m: AlarmMonitor): number | null {
  const holding = m.holdStartedAtMs !== null;
  const overMaximum = isOverMaximum(m);
  const asksToStop =
    breachedOximeters(m).length > 0 ||
    (m.forecastAlarming && m.settings.forecastAlarm !== 'off') ||
    (holding && (m.heartRate.fallenFromBpm !== null || overMaximum || isBlindInHold(m)));
  if (!asksToStop) {
    // In a hold the wait for breathing goes on although the reason to stop has gone: breathing ends it, or readings that
    // show that there was none.
    const waits = holding && !breathedSince(m, m.abortSinceMs) && (m.abortIsFirm || !isReadWell(m));
    return waits ? m.abortSinceMs : null;
  }
  const since = m.abortSinceMs ?? m.nowMs;
  if (!breathedSince(m, since)) return since;
  // Breathing was seen after the alarm began; while no new hold begins, falling readings are only the lag.
  return holding ? m.nowMs : null;
}

/**
 * What asks to stop now is more than lost readings, readings below the floor by a jump that blood cannot make, and a
 * forecast: these are taken back by readings that show a saturation well above the floor again.
 */
function asksFirmly(m: AlarmMonitor): boolean {
  const breached = breachedOximeters(m).some((oximeter) => {
    const { last, doubt } = decidingFloor(oximeter);
    return last !== null && last.percent < m.settings.floorSpo2Percent && doubt !== 'fellTooFast';
  });
  return breached || (m.holdStartedAtMs !== null && (m.heartRate.fallenFromBpm !== null || isOverMaximum(m)));
}

/**
 * Breathing has been seen in the hold for long, by signals that show it, and every oximeter has read well above the floor for
 * the last seconds. One of the two alone says too little: lungs that were full keep saturation up for minutes without a breath,
 * and a chest that moves may move no air.
 */
export function isBreathingBorneOut(m: AlarmMonitor): boolean {
  if (!m.probablyOver || !isReadWell(m)) return false;
  for (let i = 0; i < m.oximeters.length; i++)
    if (!hasReadClear(m.oximeters[i]!, clearPercent(m))) return false;
  return true;
}

const clearPercent = (m: AlarmMonitor): number => m.settings.floorSpo2Percent + limits.closeToFloorPercent;

/** The believed readings of the last seconds, if they reach back far enough, all say so. */
function hasReadClear(oximeter: OximeterWatch, clear: number): boolean {
  const { trail } = decidingFloor(oximeter);
  const first = trail[0];
  const last = trail.at(-1);
  if (first === undefined || last!.atMs - first.atMs < limits.fastFallMs) return false;
  return trail.every(({ percent }) => percent >= clear);
}

/** Every oximeter's last reading is new and well above the floor, and none of the signs of somebody in need is there. */
function isReadWell(m: AlarmMonitor): boolean {
  for (let i = 0; i < m.oximeters.length; i++) {
    const { last } = decidingFloor(m.oximeters[i]!);
    if (last === null || !(last.percent >= clearPercent(m)) || !isRecent(m, last.atMs)) return false;
  }
  return m.oximeters.length > 0 && !isSaturationGrave(m);
}

function breathedSince(m: AlarmMonitor, sinceMs: number | null): boolean {
  if (m.breathedAtMs === null) return false;
  if (m.holdStartedAtMs !== null) return sinceMs !== null && m.breathedAtMs >= sinceMs;
  // Outside a hold, breathing seen within the last minute still counts: the finger lags.
  return sinceMs === null || m.breathedAtMs >= sinceMs - limits.vigilanceAfterHoldMs;
}

/** Low, falling faster than a hold explains, or not known: somebody who does not breathe now may not be able to answer. */
export function isSaturationGrave(m: AlarmMonitor): boolean {
  const nowPercent = lowestNowPercent(m);
  if (nowPercent === null || isBlind(sceneOf(m)) || breachedOximeters(m).length > 0) return true;
  // A heart that slowed at once can be a faint, whatever the finger still reads (reference 9.05).
  if (m.heartRate.fallenFromBpm !== null) return true;
  if (nowPercent < m.settings.floorSpo2Percent + limits.nearFloorPercent) return true;
  for (let i = 0; i < m.oximeters.length; i++) if (fallsFast(m.oximeters[i]!, m.nowMs)) return true;
  return false;
}

/** By its last readings, which must reach back far enough. */
function fallsFast(oximeter: OximeterWatch, nowMs: number): boolean {
  const { last, trail } = decidingFloor(oximeter);
  if (last === null || nowMs - last.atMs > limits.recentReadingMs) return false;
  // The trail reaches back over the last seconds of believed readings.
  const first = trail[0];
  if (first === undefined || last.atMs - first.atMs < limits.fastFallMs) return false;
  return (first.percent - last.percent) / ((last.atMs - first.atMs) / 1000) > limits.fastFallPercentPerSecond;
}

/**
 * An oximeter belongs to this athlete, their monitoring is a minute old, and no oximeter has given a usable saturation in
 * it. An assigned one without a link counts, because a session begins by telling each sensor's link, but only if its
 * kind is known: of one not heard of since the hub started it is not.
 */
export function isSaturationNeverRead({ oximeters, links, nowMs, startedAtMs }: AlarmMonitor): boolean {
  if (nowMs - startedAtMs < limits.neverReadMs) return false;
  if (oximeters.length === 0) return links.some(({ measures }) => measures.includes('oximeter'));
  return oximeters.every(
    ({ supply, averagedFloor }) => supply.usableAtMs === null && averagedFloor.last === null,
  );
}

/** The hold has reached the longest the athlete allowed. */
export function isOverMaximum(m: AlarmMonitor): boolean {
  const longest = m.settings.maxHoldDurationMs;
  return longest !== null && m.holdStartedAtMs !== null && m.nowMs - m.holdStartedAtMs >= longest;
}
