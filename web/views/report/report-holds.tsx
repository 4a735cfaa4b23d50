// All holds of a report: a row a hold with how sure its length is, its parts, the lowest saturation and when it came, the time
// below, recovery to the athlete's own rest, comfort.

import type { AthleteRecording } from '../../../shared/http.ts';
import { measureOf, partsOfHold } from '../../../src/sessions/hold-parts.ts';
import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatDecimal, formatDuration, formatMeasure, isolated } from '../../state/format.ts';
import { lengthWords } from '../recording/length-words.ts';

type HoldWithMeasures = AthleteRecording['holds'][number];

export interface ReportHoldsProps {
  readonly holds: readonly HoldWithMeasures[];
  /** Whose, where there are several on a page. */
  readonly name?: string;
}

export function ReportHolds({ holds, name }: ReportHoldsProps) {
  const { text, say } = useApp();
  const words = text.history.report;
  const recorded = text.recorded;
  const named = (key: string): string => say({ code: `measure.${key}`, params: {} });
  return (
    <ScrollRegion
      label={
        name === undefined ? text.recording.holdsTitle : `${text.recording.holdsTitle}: ${isolated(name)}`
      }
    >
      <table class="report-table">
        <thead>
          <tr>
            <th scope="col">{words.number}</th>
            <th scope="col">{words.start}</th>
            <th scope="col">{words.duration}</th>
            <th scope="col">{named('timeToFirstContractionS')}</th>
            <th scope="col">{recorded.lowest}</th>
            <th scope="col">{recorded.report.below90}</th>
            <th scope="col">{named('spo2BackToBaselineS')}</th>
            <th scope="col">{named('heartRateRestBpm')}</th>
            <th scope="col">{named('heartRateLowestBpm')}</th>
            <th scope="col">{named('heartRateBackS')}</th>
            <th scope="col">{recorded.comfort}</th>
          </tr>
        </thead>
        <tbody>
          {holds.map((each, index) => (
            <HoldRow key={each.hold.holdId} recorded={each} number={index + 1} />
          ))}
        </tbody>
      </table>
    </ScrollRegion>
  );
}

function HoldRow({ recorded, number }: { readonly recorded: HoldWithMeasures; readonly number: number }) {
  const { text } = useApp();
  const words = text.recorded;
  const { hold } = recorded;
  const { length, sure } = lengthWords(hold, text);
  const afterEndS = measureOf(recorded, 'spo2LowestAfterEndS');
  const halfTimeS = measureOf(recorded, 'spo2HalfTimeS');
  return (
    <tr>
      <th scope="row">{number}</th>
      <td>{formatDuration(hold.start.atMs)}</td>
      <td>
        {length} <small>{hold.isProposed === true ? text.recording.proposal : sure}</small>
      </td>
      <td>
        <EasyPart recorded={recorded} />
      </td>
      <td>
        <Value recorded={recorded} of="spo2LowestPercent" />{' '}
        {afterEndS === null ? null : (
          <small>
            {(afterEndS < 0 ? words.beforeEnd : words.afterEnd)(formatMeasure(Math.abs(afterEndS), 's'))}
          </small>
        )}
      </td>
      <td>
        <Value recorded={recorded} of="timeBelow90S" />
      </td>
      <td>
        <Value recorded={recorded} of="spo2BackToBaselineS" />{' '}
        {halfTimeS === null ? null : <small>{words.card.halfTime(formatMeasure(halfTimeS, 's'))}</small>}
      </td>
      <td>
        <Value recorded={recorded} of="heartRateRestBpm" />
      </td>
      <td>
        <Value recorded={recorded} of="heartRateLowestBpm" />
      </td>
      <td>
        <Value recorded={recorded} of="heartRateBackS" />
      </td>
      <td>{hold.feeling?.comfort ?? words.noComfort}</td>
    </tr>
  );
}

function EasyPart({ recorded }: { readonly recorded: HoldWithMeasures }) {
  const { text } = useApp();
  const words = text.recorded;
  const parts = partsOfHold(recorded);
  if (parts === null) return <small>{text.notKnown}</small>;
  const how =
    parts.onset === 'marked'
      ? words.parts.marked
      : words.parts.estimated(words.plusMinus(formatDecimal(parts.uncertaintyMs / 1_000, 1)));
  return (
    <>
      {formatDuration(parts.easyMs)} <small>{how}</small>
    </>
  );
}

function Value({ recorded, of }: { readonly recorded: HoldWithMeasures; readonly of: string }) {
  const { text } = useApp();
  const measure = recorded.measures.find(({ key }) => key === of);
  if (measure === undefined || measure.value === null) return <small>{text.notKnown}</small>;
  return <>{formatMeasure(measure.value, measure.unit)}</>;
}
