// What is laid over a recording's traces: holds on each, gaps on the one that misses something; floor, thresholds and marks on
// saturation, alarms on the overview (in the detail they have lanes of their own). Pure.

import type { AthleteRecording } from '../../../shared/http.ts';
import type { AlarmPriority, Channel } from '../../../shared/schema-parts.ts';
import { emptyOverlay, type Overlay } from '../../charts/overlay.ts';
import { channelsOf } from '../../state/quantity.ts';

export interface ReviewOverlays {
  readonly spo2: Overlay;
  readonly heartRate: Overlay;
  readonly pleth: Overlay;
  /** Saturation small, over the whole recording. */
  readonly overview: Overlay;
}

const seconds = (ms: number) => ms / 1000;

const urgency: Readonly<Record<AlarmPriority, number>> = { low: 0, medium: 1, high: 2 };

/** `watermark` is the word across the plots, or null; `heartRateChannel` the one that is drawn. */
export function reviewOverlays(
  athlete: AthleteRecording,
  floorLabel: string,
  watermark: string | null,
  heartRateChannel: Channel | undefined,
): ReviewOverlays {
  const { floorSpo2Percent, thresholdsPercent } = athlete.athlete.settings;
  const plain: Overlay = {
    ...emptyOverlay,
    holds: athlete.holds.map(({ hold }) => ({
      fromSeconds: seconds(hold.start.atMs),
      toSeconds: hold.end === null ? null : seconds(hold.end.atMs),
    })),
    watermark,
  };
  /** Nothing is missing from a trace because another sensor was silent; what the hub missed is missing from all. */
  const gapsOf = (channels: readonly Channel[]): Overlay['gaps'] =>
    athlete.gaps
      .filter(
        ({ reason, sensorId }) =>
          sensorId === 'hub' || channels.some((channel) => reason.code === `gap.${channel}`),
      )
      .map((gap) => ({ fromSeconds: seconds(gap.fromMs), toSeconds: seconds(gap.toMs) }));
  const spo2: Overlay = {
    ...plain,
    gaps: gapsOf(channelsOf.spo2),
    floorPercent: floorSpo2Percent,
    floorLabel,
    thresholdsPercent,
    marks: athlete.marks.map((mark) => ({ atSeconds: seconds(mark.atMs), kind: mark.kind })),
  };
  const alarms: Overlay['alarms'] = athlete.alarms
    .map(({ alarm, clearedAtMs }) => ({
      fromSeconds: seconds(alarm.raisedAtMs),
      toSeconds: clearedAtMs === null ? null : seconds(clearedAtMs),
      priority: alarm.highestPriority,
    }))
    // The most urgent is drawn last, over the others.
    .sort((a, b) => urgency[a.priority] - urgency[b.priority]);
  return {
    spo2,
    heartRate: { ...plain, gaps: gapsOf(heartRateChannel === undefined ? [] : [heartRateChannel]) },
    pleth: { ...plain, gaps: gapsOf(channelsOf.pleth) },
    overview: { ...spo2, alarms, compact: true, watermark: null, thresholdsPercent: [], marks: [] },
  };
}
