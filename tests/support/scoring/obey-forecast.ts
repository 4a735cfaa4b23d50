// What becomes of an athlete who means to hold beyond the floor but breathes when the forecast alarm comes: is the floor
// kept, and how many seconds are given up against the latest safe stop?

import { monotonicMs } from '../../../shared/units.ts';
import type { AthletePrior } from '../../../src/oxygen/athlete-prior.ts';
import type { Forecast } from '../../../src/oxygen/forecast.ts';
import { createPipeline, type PipelineEvent } from '../../../src/pipeline.ts';
import { settingsWithFloor } from './judge-session.ts';
import type { HoldCourse, LivingAthlete } from './living-athlete.ts';
import { followedToPercent, latestSafeS, lowestAt } from './planned-holds.ts';
import type { Lungs } from './scored-session.ts';
import { quantile } from './summarise-verdicts.ts';

/** From the alarm to the first breath. Our choice, no source: a person who listens for it. */
const reactionMs = 1_000;

export interface ObeyedHold {
  readonly conditions: Readonly<Record<string, string>>;
  readonly lungs: Lungs;
  /** What made the athlete breathe. */
  readonly stoppedBy: 'forecast' | 'floorAlarm' | 'nothing';
  /** The reading without noise, rounded as an oximeter does, never fell below the floor. */
  readonly keptFloor: boolean;
  /** Latest safe stop less the stop; negative when too late. */
  readonly givenUpS: number;
  readonly holdS: number;
  /** Where the lowest reading came to lie of the 80 % interval forecast when breathing began; absent where none was. */
  readonly ofInterval?: PlaceInInterval;
  /** The same of each second with a forecast in the last 30 s before the latest safe stop, as far as the hold went. */
  readonly ofIntervals: readonly PlaceInInterval[];
}

type PlaceInInterval = 'below' | 'inside' | 'above';
const judgedBeforeS = 30;

export interface ObeyOptions {
  readonly floorPercent: number;
  /** A person says when each hold begins; else it has to be found. */
  readonly marksStarts: boolean;
  /** Says the lungs to the pipeline, if there is a way to say it. */
  readonly sayLungs?: ((atMs: number, lungs: Lungs) => PipelineEvent | undefined) | undefined;
  /** What earlier days taught of this athlete. */
  readonly prior?: AthletePrior | undefined;
}

export interface Obeyed {
  readonly holds: readonly ObeyedHold[];
  /** What is known of the athlete afterwards. */
  readonly prior: AthletePrior;
}

export function obeyForecast(
  athlete: LivingAthlete,
  { floorPercent, marksStarts, sayLungs, prior }: ObeyOptions,
): Obeyed {
  const pipeline = createPipeline(settingsWithFloor(floorPercent), [], {
    ...(prior !== undefined && { prior }),
  });
  const obeyed: ObeyedHold[] = [];
  let current: { startMs: number; lungs: Lungs; safeMs: number; course: HoldCourse } | undefined;
  let ofIntervals: PlaceInInterval[] = [];
  let stopAtMs = Number.POSITIVE_INFINITY;
  let stoppedBy: ObeyedHold['stoppedBy'] = 'nothing';
  let newest: Forecast | undefined;

  const mark = (kind: 'holdStart' | 'holdEnd', atMs: number): void => {
    if (marksStarts)
      pipeline.push({ type: 'mark', mark: { markId: `${kind}-${atMs}`, kind, atMs: monotonicMs(atMs) } });
  };

  function settle(): void {
    const truth = athlete.holds.at(-1)!;
    const ofInterval = placeIn(newest, truth.lowestSpo2Percent!);
    newest = undefined;
    obeyed.push({
      conditions: athlete.conditions,
      lungs: current!.lungs,
      stoppedBy,
      keptFloor: Math.round(truth.lowestSpo2Percent!) >= floorPercent,
      givenUpS: (current!.safeMs - truth.endMs) / 1_000,
      holdS: (truth.endMs - truth.startMs) / 1_000,
      ...(ofInterval !== undefined && { ofInterval }),
      ofIntervals,
    });
    current = undefined;
    ofIntervals = [];
    stopAtMs = Number.POSITIVE_INFINITY;
    stoppedBy = 'nothing';
    mark('holdEnd', athlete.nowMs);
    pipeline.push({ type: 'acknowledge', atMs: monotonicMs(athlete.nowMs) });
  }

  function listen(startMs: number): void {
    const heard = pipeline.state.alarms.find(
      ({ kind, conditionPresent, raisedAtMs }) =>
        (kind === 'floorForecast' || kind === 'floorBreached') && conditionPresent && raisedAtMs >= startMs,
    );
    if (heard === undefined || stopAtMs !== Number.POSITIVE_INFINITY) return;
    stopAtMs = heard.raisedAtMs + reactionMs;
    stoppedBy = heard.kind === 'floorForecast' ? 'forecast' : 'floorAlarm';
  }

  function judgeInterval({ startMs, course }: NonNullable<typeof current>): void {
    const atS = (athlete.nowMs - startMs) / 1_000;
    const leftS = latestSafeS(course, floorPercent) - atS;
    const place = leftS < 0 || leftS > judgedBeforeS ? undefined : placeIn(newest, lowestAt(course, atS));
    if (place !== undefined) ofIntervals.push(place);
  }

  while (!athlete.isOver) {
    for (const event of athlete.live()) pipeline.push(event);
    if (current === undefined && athlete.hold !== undefined) {
      const { startMs, lungs } = athlete.hold;
      // Half a per cent less is what an oximeter still shows as the floor.
      const safeMs = athlete.latestSafeStopMs(floorPercent - 0.5);
      current = { startMs, lungs, safeMs, course: athlete.courseOfHold(followedToPercent) };
      const said = sayLungs?.(startMs, lungs);
      if (said !== undefined) pipeline.push(said);
      mark('holdStart', startMs);
    }
    pipeline.push({ type: 'advance', atMs: monotonicMs(athlete.nowMs) });
    if (current === undefined) continue;
    if (athlete.hold === undefined) {
      settle();
      continue;
    }
    newest = pipeline.state.forecast;
    judgeInterval(current);
    listen(current.startMs);
    // Times are met to the second: a stop falls on the first whole second after it is due.
    if (athlete.nowMs >= stopAtMs) {
      athlete.breatheNow();
      settle();
    }
  }
  return { holds: obeyed, prior: pipeline.prior };
}

function placeIn(forecast: Forecast | undefined, lowestPercent: number): ObeyedHold['ofInterval'] {
  if (forecast?.known !== true) return undefined;
  const { lowPercent, highPercent } = forecast.lowestIfStoppedNow.central;
  return lowestPercent < lowPercent ? 'below' : lowestPercent > highPercent ? 'above' : 'inside';
}

export function summariseObeyed(holds: readonly ObeyedHold[]) {
  const share = (of: (hold: ObeyedHold) => boolean): number | null =>
    holds.length === 0 ? null : holds.filter(of).length / holds.length;
  const foretold = holds.filter((hold) => hold.ofInterval !== undefined);
  const foretoldShare = (place: ObeyedHold['ofInterval']): number | null =>
    foretold.length === 0
      ? null
      : foretold.filter((hold) => hold.ofInterval === place).length / foretold.length;
  const seconds = holds.flatMap((hold) => hold.ofIntervals);
  const secondsShare = (place: PlaceInInterval): number | null =>
    seconds.length === 0 ? null : seconds.filter((one) => one === place).length / seconds.length;
  const kept = holds.filter((hold) => hold.keptFloor).map((hold) => hold.givenUpS);
  return {
    holds: holds.length,
    keptFloor: share((hold) => hold.keptFloor),
    stoppedByForecast: share((hold) => hold.stoppedBy === 'forecast'),
    onlyTheFloorAlarmCame: share((hold) => hold.stoppedBy === 'floorAlarm'),
    noAlarmCame: share((hold) => hold.stoppedBy === 'nothing'),
    /** Of those with a forecast when they stopped. */
    interval80: {
      holds: foretold.length,
      inside: foretoldShare('inside'),
      below: foretoldShare('below'),
      above: foretoldShare('above'),
    },
    /** Of each second with a forecast in the last 30 s before the latest safe stop. */
    interval80InLast30s: {
      seconds: seconds.length,
      inside: secondsShare('inside'),
      below: secondsShare('below'),
      above: secondsShare('above'),
    },
    /** Of those who kept the floor. */
    givenUpS: { median: quantile(kept, 0.5), p90: quantile(kept, 0.9) },
    /** Of all: negative is how late. */
    medianMarginS: quantile(
      holds.map((hold) => hold.givenUpS),
      0.5,
    ),
  };
}
