// The measures of every hold in one table: a column a hold, on a phone each hold's value under the measure's name; "not known"
// instead of a number; the usual reason for it stands once below the table, any other in its cell.

import type { AthleteRecording } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatMeasure } from '../../state/format.ts';
import { type Measure, type MeasureRow, measureRows, mostFrequent, whyNotKnown } from './measure-rows.ts';

export function HoldMeasures({ holds }: { readonly holds: AthleteRecording['holds'] }) {
  const { text, say } = useApp();
  const words = text.recording;
  const rows = measureRows(holds);
  const usualWhyNot = mostFrequent(
    holds
      .flatMap(({ measures }) => measures.map((each) => whyNotKnown(each, say)))
      .filter((why) => why !== ''),
  );
  return (
    <>
      <ScrollRegion label={words.holdsTitle}>
        <table class="measures measures--by-hold">
          <thead>
            <tr>
              <th scope="col">{words.measure}</th>
              {holds.map((entry, index) => (
                <th scope="col" key={entry.hold.holdId}>
                  {words.hold(index + 1)}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map(({ key, ofHolds }) => (
              <tr key={key}>
                <th scope="row">{say({ code: `measure.${key}`, params: {} })}</th>
                <MeasureCells holds={holds} ofHolds={ofHolds} usualWhyNot={usualWhyNot} />
              </tr>
            ))}
          </tbody>
        </table>
      </ScrollRegion>
      {usualWhyNot === undefined ? null : <p class="hint">{words.notKnownWhy(usualWhyNot)}</p>}
      <Definitions rows={rows} />
    </>
  );
}

interface MeasureCellsProps {
  readonly holds: AthleteRecording['holds'];
  readonly ofHolds: MeasureRow['ofHolds'];
  /** Said below the table. */
  readonly usualWhyNot: string | undefined;
}

/** Known of no hold for one reason: said once. */
function MeasureCells({ holds, ofHolds, usualWhyNot }: MeasureCellsProps) {
  const { text, say } = useApp();
  const reasons = new Set(ofHolds.map((measure) => whyNotKnown(measure, say)));
  const isOfNone = ofHolds.every((measure) => measure === undefined || measure.value === null);
  if (isOfNone && reasons.size === 1 && holds.length > 1) {
    const [whyNot] = reasons;
    return (
      <td class="is-unknown is-of-none" colSpan={holds.length}>
        {text.notKnown}
        {whyNot === usualWhyNot || whyNot === '' ? null : <small>{whyNot}</small>}
      </td>
    );
  }
  return (
    <>
      {ofHolds.map((measure, index) => (
        <MeasureCell
          key={holds[index]!.hold.holdId}
          holdName={text.recording.hold(index + 1)}
          measure={measure}
          usualWhyNot={usualWhyNot}
        />
      ))}
    </>
  );
}

interface MeasureCellProps {
  /** Said in the cell where there are no columns. */
  readonly holdName: string;
  readonly measure: Measure | undefined;
  /** Said below the table. */
  readonly usualWhyNot: string | undefined;
}

function MeasureCell({ holdName, measure, usualWhyNot }: MeasureCellProps) {
  const { text, say } = useApp();
  const ofHold = <span class="measure-of-hold">{holdName} </span>;
  if (measure !== undefined && measure.value !== null)
    return (
      <td>
        {ofHold}
        {formatMeasure(measure.value, measure.unit)}
      </td>
    );
  const whyNot = whyNotKnown(measure, say);
  return (
    <td class="is-unknown">
      {ofHold}
      {text.notKnown}
      {whyNot === usualWhyNot || whyNot === '' ? null : <small>{whyNot}</small>}
    </td>
  );
}

function Definitions({ rows }: { readonly rows: readonly MeasureRow[] }) {
  const { text, say } = useApp();
  return (
    <details class="explain">
      <summary>{text.recording.definitions}</summary>
      <dl class="definitions">
        {rows.map(({ key, source }) => (
          <div key={key}>
            <dt>{say({ code: `measure.${key}`, params: {} })}</dt>
            <dd>
              {say({ code: `measure.${key}.is`, params: {} })} <span class="hint">{say(source)}</span>
            </dd>
          </div>
        ))}
      </dl>
    </details>
  );
}
