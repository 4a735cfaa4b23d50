// How far above the floor, and what the forecast says: each in one line, or why nothing can be said.

import { type ReadonlySignal, useComputed } from '@preact/signals';
import type { AlarmKind } from '../../../shared/schema-parts.ts';
import type { AlarmView } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { useMargin } from '../../components/use-reading.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { formatDuration, formatSigned, formatWhole } from '../../state/format.ts';
import type { Freshness } from '../../state/freshness.ts';

export function MarginLine({
  model,
  freshness,
}: {
  readonly model: AthleteModel;
  readonly freshness: ReadonlySignal<Freshness>;
}) {
  const { text } = useApp();
  const margin = useMargin(model, freshness);
  const words = useComputed(() => {
    const floor = model.athlete.value.settings.floorSpo2Percent;
    const value = margin.value;
    if (value === null) return text.readout.marginUnknown(floor);
    if (value === 0) return text.readout.marginAt(floor);
    return value > 0
      ? text.readout.marginAbove(formatSigned(value), floor)
      : text.readout.marginBelow(formatSigned(value), floor);
  });
  return <p class="margin-line">{words}</p>;
}

const breathingKinds: ReadonlySet<AlarmKind> = new Set<AlarmKind>([
  'floorBreached',
  'floorForecast',
  'noBreathingSign',
  'maxDuration',
  'heartRateSuddenFall',
]);
const asksToBreathe = ({ kind, conditionPresent }: AlarmView): boolean =>
  conditionPresent && breathingKinds.has(kind);

export function ForecastLine({ model }: { readonly model: AthleteModel }) {
  const { text, hub, say } = useApp();
  const words = text.forecast;
  const main = useComputed(() => {
    const forecast = model.forecast.value;
    const stop = forecast.secondsToStop;
    if (model.phase.value !== 'holding') return '';
    if (hub.isPresentUnknown.value || !forecast.known || stop === null) return words.unknown;
    // One wording for one state: beside an alarm that says to breathe now, no seconds are left to be had.
    if (stop.seconds < 1 || model.alarms.value.some(asksToBreathe)) return words.breatheNow;
    return `${words.breatheWithin(formatDuration(stop.seconds * 1000))}, ${words.interval(
      formatDuration(stop.lowSeconds * 1000),
      formatDuration(stop.highSeconds * 1000),
    )}`;
  });
  const detail = useComputed(() => {
    const { lowestIfStoppedNow: lowest, lungs } = model.forecast.value;
    // Said beforehand and while nothing else can be said: the display will show this hold's fall too late.
    const warning = lungs?.warning == null ? '' : say(lungs.warning);
    if (main.value === '') return warning;
    if (hub.isPresentUnknown.value || lowest === null) return warning || words.unknownWhy;
    return words.ifNow(
      formatWhole(lowest.percent),
      formatWhole(lowest.lowPercent),
      formatWhole(lowest.highPercent),
    );
  });
  return (
    <div class="forecast">
      <h2 class="reading-label">{words.label}</h2>
      <p class="forecast-main">{useComputed(() => main.value || words.unknownIdle)}</p>
      <p class="reading-note">{detail}</p>
    </div>
  );
}
