// What is laid over a recording's traces: holds and gaps on each; floor, thresholds, marks and alarms on saturation. Pure.

import type { AthleteRecording } from '../../../shared/http.ts';
import { emptyOverlay, type Overlay } from '../../charts/overlay.ts';

export interface ReviewOverlays {
  readonly plain: Overlay;
  readonly spo2: Overlay;
  /** Saturation small, over the whole recording. */
  readonly overview: Overlay;
}

const seconds = (ms: number) => ms / 1000;

/** `watermark` is the word across the plots, or null. */
export function reviewOverlays(
  athlete: AthleteRecording,
  floorLabel: string,
  watermark: string | null,
): ReviewOverlays {
  const { floorSpo2Percent, thresholdsPercent } = athlete.athlete.settings;
  const plain: Overlay = {
    ...emptyOverlay,
    holds: athlete.holds.map(({ hold }) => ({
      fromSeconds: seconds(hold.start.atMs),
      toSeconds: hold.end === null ? null : seconds(hold.end.atMs),
    })),
    gaps: athlete.gaps.map((gap) => ({ fromSeconds: seconds(gap.fromMs), toSeconds: seconds(gap.toMs) })),
    watermark,
  };
  const spo2: Overlay = {
    ...plain,
    floorPercent: floorSpo2Percent,
    floorLabel,
    thresholdsPercent,
    marks: athlete.marks.map((mark) => ({ atSeconds: seconds(mark.atMs), kind: mark.kind })),
    alarms: athlete.alarms.map(({ alarm, clearedAtMs }) => ({
      fromSeconds: seconds(alarm.raisedAtMs),
      toSeconds: clearedAtMs === null ? null : seconds(clearedAtMs),
      priority: alarm.priority,
    })),
  };
  return {
    plain,
    spo2,
    overview: { ...spo2, compact: true, watermark: null, thresholdsPercent: [], marks: [] },
  };
}
