// What happened in one hold, a line each: saturation, time below, fall, recovery, modelled carbon dioxide, plan, alarms.

import type { ComponentChildren } from 'preact';
import type { AthleteRecording } from '../../../shared/http.ts';
import type { PreviewBand } from '../../../src/oxygen/plan-preview.ts';
import { measureOf, type RecordedHold } from '../../../src/sessions/hold-parts.ts';
import { alarmGroups, alarmsByGroup } from '../../../src/sessions/session-headline.ts';
import { useApp } from '../../app/app-context.ts';
import { formatDuration, formatMeasure } from '../../state/format.ts';
import { bandWords, pressureWords } from './length-words.ts';
import { whyNotKnown } from './measure-rows.ts';

export interface HoldFactsProps {
  readonly recorded: RecordedHold;
  readonly workedOut: boolean;
  readonly endPco2: PreviewBand | null;
  readonly planned: string | null;
  readonly alarms: AthleteRecording['alarms'];
  readonly floorPercent: number;
  /** There are many holds: what is asked less often is folded away. */
  readonly isLong: boolean;
}

/** As in the measures. */
const shownThresholds = [95, 90, 85, 80, 75, 70] as const;

export function HoldFacts(props: HoldFactsProps) {
  const { recorded, workedOut, endPco2, planned, alarms, floorPercent, isLong } = props;
  const { text } = useApp();
  const { card } = text.recorded;
  return (
    <>
      <dl class="hold-facts">
        {alarms.length === 0 ? null : (
          <Line label={card.alarms}>
            <AlarmCounts alarms={alarms} />
          </Line>
        )}
        {workedOut ? <Saturation recorded={recorded} floorPercent={floorPercent} /> : null}
        {planned === null ? null : <Line label={card.plan}>{planned}</Line>}
      </dl>
      {workedOut ? (
        <details class="explain hold-more" open={!isLong}>
          <summary>{card.more}</summary>
          <dl class="hold-facts">
            <Fall recorded={recorded} />
            <AreasBelow recorded={recorded} />
            <Heart recorded={recorded} />
            <Variability recorded={recorded} />
            {endPco2 === null ? null : <ModelledPco2 band={endPco2} />}
          </dl>
        </details>
      ) : null}
    </>
  );
}

function ModelledPco2({ band }: { readonly band: PreviewBand }) {
  const { text } = useApp();
  const words = text.recorded;
  return (
    <Line label={words.card.pco2}>
      {pressureWords(band.middle, text)}
      <small>
        {bandWords(band, text)}; {words.model}
      </small>
    </Line>
  );
}

function Line({ label, children }: { readonly label: string; readonly children: ComponentChildren }) {
  return (
    <div>
      <dt>{label}</dt>
      <dd>{children}</dd>
    </div>
  );
}

function AlarmCounts({ alarms }: Pick<HoldFactsProps, 'alarms'>) {
  const { text } = useApp();
  const groups = alarmsByGroup(alarms);
  return (
    <>
      {alarmGroups
        .filter((group) => groups[group].length > 0)
        .map((group) => `${groups[group].length} ${text.recorded.alarmGroup[group]}`)
        .join(', ')}
    </>
  );
}

/** A value, or that it is not known and why. */
function useKnown(recorded: RecordedHold): (key: string, worded: (value: string) => string) => string {
  const { text, say } = useApp();
  return (key, worded) => {
    const measure = recorded.measures.find((each) => each.key === key);
    if (measure !== undefined && measure.value !== null)
      return worded(formatMeasure(measure.value, measure.unit));
    const why = whyNotKnown(measure, say);
    return why === '' ? text.notKnown : `${text.notKnown}: ${why}`;
  };
}

function Saturation({ recorded, floorPercent }: Pick<HoldFactsProps, 'recorded' | 'floorPercent'>) {
  const { text } = useApp();
  const words = text.recorded;
  const { card } = words;
  const known = useKnown(recorded);
  const plain = (value: string): string => value;
  const lowest = measureOf(recorded, 'spo2LowestPercent');
  if (lowest === null) return <Line label={card.lowest}>{known('spo2LowestPercent', plain)}</Line>;
  const afterEndS = measureOf(recorded, 'spo2LowestAfterEndS');
  const half = measureOf(recorded, 'spo2HalfTimeS');
  return (
    <>
      <Line label={card.lowest}>
        {known('spo2LowestPercent', plain)}
        {afterEndS === null
          ? null
          : `, ${(afterEndS < 0 ? words.beforeEnd : words.afterEnd)(formatMeasure(Math.abs(afterEndS), 's'))}`}
        {lowest < floorPercent ? <strong>, {card.belowFloor(floorPercent)}</strong> : null}
      </Line>
      <Line label={card.below}>
        <TimesBelow recorded={recorded} />
      </Line>
      <Line label={card.back}>
        {known('spo2BackToBaselineS', plain)}
        {half === null ? null : `, ${card.halfTime(formatMeasure(half, 's'))}`}
      </Line>
    </>
  );
}

function Fall({ recorded }: { readonly recorded: RecordedHold }) {
  const { text } = useApp();
  const { card } = text.recorded;
  const known = useKnown(recorded);
  if (measureOf(recorded, 'spo2FallRatePercentPerMin') === null) return null;
  return (
    <Line label={card.fall}>
      {known('spo2FallRatePercentPerMin', (mean) =>
        known('spo2SteepestFallPercentPerMin', (steepest) => card.fallSpeed(mean, steepest)),
      )}
    </Line>
  );
}

function TimesBelow({ recorded }: { readonly recorded: RecordedHold }) {
  const { text } = useApp();
  const { card } = text.recorded;
  const passed = shownThresholds.flatMap((percent) => {
    const belowS = measureOf(recorded, `timeBelow${percent}S`);
    return belowS === null || belowS <= 0 ? [] : [card.under(percent, formatDuration(1_000 * belowS))];
  });
  return <>{passed.length === 0 ? card.neverBelow : passed.join(', ')}</>;
}

function AreasBelow({ recorded }: { readonly recorded: RecordedHold }) {
  const { text } = useApp();
  const { card } = text.recorded;
  const areas = shownThresholds.flatMap((percent) => {
    const area = measureOf(recorded, `areaBelow${percent}PercentS`);
    return area === null || area <= 0 ? [] : [card.areaUnder(percent, formatMeasure(area, '% s'))];
  });
  return areas.length === 0 ? null : <Line label={card.area}>{areas.join(', ')}</Line>;
}

/** Only where the sensors send beats. */
function Variability({ recorded }: { readonly recorded: RecordedHold }) {
  const { text } = useApp();
  const { card } = text.recorded;
  const known = useKnown(recorded);
  if (measureOf(recorded, 'rmssdRestMs') === null) return null;
  return (
    <Line label={card.rmssd}>
      {known('rmssdRestMs', card.rmssdRest)}
      <small>
        {known('rmssdBackS', (back) => known('rmssdHalfBackS', (half) => card.rmssdBack(back, half)))}
      </small>
    </Line>
  );
}

function Heart({ recorded }: { readonly recorded: RecordedHold }) {
  const { text } = useApp();
  const { card } = text.recorded;
  const known = useKnown(recorded);
  const plain = (value: string): string => value;
  const half = measureOf(recorded, 'heartRateHalfBackS');
  const isKnown = measureOf(recorded, 'heartRateLowestBpm') !== null;
  const response = measureOf(recorded, 'heartRateHalfFallS') !== null;
  return (
    <>
      <Line label={card.heartFell}>
        {isKnown
          ? known('heartRateRestBpm', (rest) =>
              known('heartRateLowestBpm', (lowest) => card.heartFall(rest, lowest)),
            )
          : known('heartRateLowestBpm', plain)}
        {response ? (
          <small>
            {known('heartRateHalfFallS', (after) =>
              known('heartRateMostFallS', (most) => card.heartResponse(after, most)),
            )}
          </small>
        ) : null}
      </Line>
      {isKnown ? (
        <Line label={card.heartBack}>
          {known('heartRateBackS', plain)}
          {half === null ? null : `, ${card.halfBack(formatMeasure(half, 's'))}`}
        </Line>
      ) : null}
    </>
  );
}
