// All holds of a report: a row a hold with how sure its length is, its parts, the lowest saturation and when it came, the time
// below, recovery to the athlete's own rest, comfort.

import type { AthleteRecording } from '../../../shared/http.ts';
import { measureOf, partsOfHold } from '../../../src/sessions/hold-parts.ts';
import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import type { Messages } from '../../i18n/en.ts';
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
  const named = (key: string): string => say({ code: `measure.${key}`, params: {} });
  const heads = headsOf(text, named);
  return (
    <ScrollRegion
      label={
        name === undefined ? text.recording.holdsTitle : `${text.recording.holdsTitle}: ${isolated(name)}`
      }
    >
      <table class="report-table">
        <thead>
          <tr>
            {heads.map((head) => (
              <th key={head} scope="col">
                {head}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {holds.map((each, index) => (
            <HoldRow key={each.hold.holdId} recorded={each} number={index + 1} heads={heads} />
          ))}
        </tbody>
      </table>
    </ScrollRegion>
  );
}

const headsOf = (text: Messages, named: (key: string) => string): readonly string[] => [
  text.history.report.number,
  text.history.report.start,
  text.history.report.duration,
  named('timeToFirstContractionS'),
  text.recorded.lowest,
  text.recorded.report.below90,
  named('spo2BackToBaselineS'),
  named('heartRateRestBpm'),
  named('heartRateLowestBpm'),
  named('heartRateBackS'),
  text.recorded.comfort,
];

function HoldRow(props: {
  readonly recorded: HoldWithMeasures;
  readonly number: number;
  readonly heads: readonly string[];
}) {
  const { recorded, number, heads } = props;
  const { text } = useApp();
  const words = text.recorded;
  const { hold } = recorded;
  const { length, sure } = lengthWords(hold, text);
  const afterEndS = measureOf(recorded, 'spo2LowestAfterEndS');
  const halfTimeS = measureOf(recorded, 'spo2HalfTimeS');
  return (
    <tr>
      <th scope="row" data-head={heads[0]}>
        {number}
      </th>
      <td data-head={heads[1]}>{formatDuration(hold.start.atMs)}</td>
      <td data-head={heads[2]}>
        {length} <small>{hold.isProposed === true ? text.recording.proposal : sure}</small>
      </td>
      <td data-head={heads[3]}>
        <EasyPart recorded={recorded} />
      </td>
      <td data-head={heads[4]}>
        <Value recorded={recorded} of="spo2LowestPercent" />{' '}
        {afterEndS === null ? null : (
          <small>
            {(afterEndS < 0 ? words.beforeEnd : words.afterEnd)(formatMeasure(Math.abs(afterEndS), 's'))}
          </small>
        )}
      </td>
      <td data-head={heads[5]}>
        <Value recorded={recorded} of="timeBelow90S" />
      </td>
      <td data-head={heads[6]}>
        <Value recorded={recorded} of="spo2BackToBaselineS" />{' '}
        {halfTimeS === null ? null : <small>{words.card.halfTime(formatMeasure(halfTimeS, 's'))}</small>}
      </td>
      <td data-head={heads[7]}>
        <Value recorded={recorded} of="heartRateRestBpm" />
      </td>
      <td data-head={heads[8]}>
        <Value recorded={recorded} of="heartRateLowestBpm" />
      </td>
      <td data-head={heads[9]}>
        <Value recorded={recorded} of="heartRateBackS" />
      </td>
      <td data-head={heads[10]}>{hold.feeling?.comfort ?? words.noComfort}</td>
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
