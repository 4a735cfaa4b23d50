// The tide staff: saturation as a water level on a measuring pole, with the floor as a sill and the forecast as a bracket.

import { useComputed } from '@preact/signals';
import { useApp } from '../app/app-context.ts';
import type { AthleteModel } from '../state/athlete-model.ts';
import type { ReadingSignals } from './use-reading.ts';
import './tide-staff.css';

const topPercent = 100;
/** Oximeters declare their accuracy from 70 % up; below that the staff is empty and only the number speaks. */
const bottomPercent = 70;

/** Distance from the top of a staff of height 100. */
function depth(percent: number): number {
  return Math.min(100, Math.max(0, ((topPercent - percent) / (topPercent - bottomPercent)) * 100));
}

export function TideStaff({ model, spo2 }: { readonly model: AthleteModel; readonly spo2: ReadingSignals }) {
  const { text, hub } = useApp();
  const level = useComputed(() =>
    spo2.freshness.value === 'fresh' || spo2.freshness.value === 'stale'
      ? (model.spo2.value?.value ?? null)
      : null,
  );
  const floor = useComputed<number>(() => model.athlete.value.settings.floorSpo2Percent);
  const forecast = useComputed(() =>
    hub.isPresentUnknown.value ? null : model.forecast.value.lowestIfStoppedNow,
  );
  const top = level.value === null ? 100 : depth(level.value);
  const ahead = forecast.value;
  return (
    <svg
      class={`staff is-${spo2.freshness.value}`}
      viewBox="0 0 36 100"
      preserveAspectRatio="none"
      role="img"
      aria-label={text.staff.label(spo2.number.value, floor.value)}
    >
      <rect class="staff-pole" x="4" y="0" width="18" height="100" />
      <rect class="staff-water" x="4" y={top} width="18" height={100 - top} />
      <path class="staff-ticks" d="M4 33h7M4 67h7" />
      <path class="staff-floor" d={`M0 ${depth(floor.value)}h26`} />
      <path class="staff-floor-foot" d={`M4 ${depth(floor.value)}V100M22 ${depth(floor.value)}V100`} />
      {ahead === null ? null : (
        <path
          class="staff-forecast"
          d={`M27 ${depth(ahead.highPercent)}h6V${depth(ahead.lowPercent)}h-6M27 ${depth(ahead.percent)}h6`}
        />
      )}
    </svg>
  );
}
