// The holds of a report: a row a hold, a column for each measure that an athlete asks about first.

import type { AthleteRecording } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { boundaryWords } from '../../components/boundary-words.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatDuration, formatMeasure } from '../../state/format.ts';

/** So that one page stays one page. */
const mostHolds = 12;

/** Of the measures table. */
const shownKeys = [
  'timeToFirstContractionS',
  'spo2AtStartPercent',
  'spo2LowestPercent',
  'spo2LowestAfterEndS',
  'timeBackTo95S',
  'heartRateRestBpm',
  'heartRateLowestBpm',
  'heartRateBackS',
] as const;

type HoldWithMeasures = AthleteRecording['holds'][number];
type Measure = HoldWithMeasures['measures'][number];

export function ReportHolds({ holds }: { readonly holds: readonly HoldWithMeasures[] }) {
  const { text, say } = useApp();
  const words = text.history.report;
  const columns = shownKeys.filter((key) => holds[0]?.measures.some((measure) => measure.key === key));
  return (
    <>
      <ScrollRegion label={text.recording.holdsTitle}>
        <table class="report-table">
          <thead>
            <tr>
              <th scope="col">{words.number}</th>
              <th scope="col">{words.start}</th>
              <th scope="col">{words.duration}</th>
              {columns.map((key) => (
                <th scope="col" key={key}>
                  {say({ code: `measure.${key}`, params: {} })}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {holds.slice(0, mostHolds).map(({ hold, measures }, index) => (
              <tr key={hold.holdId}>
                <th scope="row">{index + 1}</th>
                <td>
                  {formatDuration(hold.start.atMs)} <small>{boundaryWords(hold.start, text)}</small>
                </td>
                <td>
                  {hold.end === null ? (
                    text.recording.noEnd
                  ) : (
                    <>
                      {formatDuration(hold.end.atMs - hold.start.atMs)}{' '}
                      <small>{boundaryWords(hold.end, text)}</small>
                    </>
                  )}
                </td>
                {columns.map((key) => (
                  <td key={key}>
                    <MeasureValue measure={measures.find((each) => each.key === key)} />
                  </td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </ScrollRegion>
      {holds.length > mostHolds ? <p class="hint">{words.moreHolds(holds.length - mostHolds)}</p> : null}
    </>
  );
}

function MeasureValue({ measure }: { readonly measure: Measure | undefined }) {
  const { text } = useApp();
  if (measure === undefined || measure.value === null) return <small>{text.notKnown}</small>;
  return <>{formatMeasure(measure.value, measure.unit)}</>;
}
