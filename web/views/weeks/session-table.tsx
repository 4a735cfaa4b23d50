// The sessions of the weeks in numbers: a row a session, the newest first, each measure's median.

import { type TrendKey, trendMeasures } from '../../../src/sessions/session-summary.ts';
import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatDecimal, formatDuration, formatWallTime } from '../../state/format.ts';
import { medianOf, type PastSession } from './past-sessions.ts';

export function SessionTable({ sessions }: { readonly sessions: readonly PastSession[] }) {
  const { text } = useApp();
  const words = text.history.weeks;
  return (
    <ScrollRegion label={words.sessions}>
      <table class="measures">
        <thead>
          <tr>
            <th scope="col">{words.date}</th>
            <th scope="col">{words.holds}</th>
            {trendMeasures.map(({ key, unit }) => (
              <th scope="col" key={key}>
                {words.measures[key]}, {unit}
              </th>
            ))}
            <th scope="col">{words.comfort}</th>
          </tr>
        </thead>
        <tbody>
          {[...sessions].reverse().map((session) => (
            <SessionRow key={session.sessionId} session={session} />
          ))}
        </tbody>
      </table>
    </ScrollRegion>
  );
}

const isTime = (key: TrendKey): boolean => key === 'durationS' || key === 'timeToFirstContractionS';

function SessionRow({ session }: { readonly session: PastSession }) {
  const { text } = useApp();
  const { sessionId, startedWallAtMs, summary, comfort } = session;
  return (
    <tr>
      <th scope="row">
        <a href={`/recordings/${sessionId}`}>{formatWallTime(startedWallAtMs)}</a>
      </th>
      <td>{summary?.holdIds.length ?? 0}</td>
      {trendMeasures.map(({ key }) => {
        const median = medianOf(session, key);
        if (median === null)
          return (
            <td key={key} class="is-unknown">
              {text.notKnown}
            </td>
          );
        return <td key={key}>{isTime(key) ? formatDuration(median * 1000) : formatDecimal(median, 1)}</td>;
      })}
      <td class={comfort === null ? 'is-unknown' : ''}>{comfort ?? text.notKnown}</td>
    </tr>
  );
}
