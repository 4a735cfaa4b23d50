// Planned beside actual for one athlete: bars for the eye, a table for the numbers and where each came from.

import { clockText } from '../../../shared/words/formats.ts';
import type { Lane } from '../../../src/plans/plan-run-state.ts';
import { comparePlannedWithActual } from '../../../src/plans/planned-beside-actual.ts';
import { useApp } from '../../app/app-context.ts';

export function PlannedBesideActualTable({ lane, name }: { readonly lane: Lane; readonly name: string }) {
  const { text, say } = useApp();
  const words = text.plans;
  const columns = words.actualColumns;
  const rows = comparePlannedWithActual(lane);
  const ended = lane.phase === 'ended';
  const longestMs = Math.max(1, ...rows.map((row) => Math.max(row.ceilingMs ?? 0, row.actualMs ?? 0)));
  const time = (ms: number | null) => (ms === null ? '' : clockText(ms));
  if (rows.length === 0) return null;
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: a region that scrolls must be reachable by keyboard
    <section class="table-scroll" tabIndex={0} aria-label={`${words.besideActual}: ${name}`}>
      <table class="plan-table plan-table--actual">
        <caption>{name}</caption>
        <thead>
          <tr>
            <th scope="col">
              <span class="visually-hidden">{words.details}</span>
            </th>
            <th scope="col">{columns.outcome}</th>
            <th scope="col">{columns.plannedStart}</th>
            <th scope="col">{columns.start}</th>
            <th scope="col">{columns.ceiling}</th>
            <th scope="col">{columns.length}</th>
            <th scope="col">{columns.recovery}</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row, index) => (
            <tr key={index}>
              <th scope="row">{say(row.label)}</th>
              <td>
                {row.outcome === 'notReached' && ended ? words.outcomeOver : words.outcome[row.outcome]}
                {row.endSource === null ? '' : ` (${words.sources[row.endSource]})`}
                {row.lowestSpo2Percent === null
                  ? ''
                  : ` \u00b7 ${text.readout.lowestOf(`${Math.round(row.lowestSpo2Percent)}\u202f%`)}`}
                {row.waitedFor.length === 0
                  ? ''
                  : ` \u00b7 ${row.waitedFor.map((why) => words.wait[why]).join(', ')}`}
              </td>
              <td>{time(row.plannedStartAtMs)}</td>
              <td>{time(row.actualStartAtMs)}</td>
              <td>{time(row.ceilingMs)}</td>
              <td>
                {time(row.actualMs)}
                {row.distanceMeters === null || row.actualMs === null
                  ? ''
                  : ` \u00b7 ${row.distanceMeters}\u202fm`}
                {row.actualMs === null ? null : (
                  <svg class="plan-bar" viewBox="0 0 100 6" preserveAspectRatio="none" aria-hidden="true">
                    {row.ceilingMs === null ? null : (
                      <rect class="plan-bar-planned" width={(100 * row.ceilingMs) / longestMs} height="6" />
                    )}
                    <rect
                      class="plan-bar-actual"
                      y="1.5"
                      width={(100 * row.actualMs) / longestMs}
                      height="3"
                    />
                  </svg>
                )}
              </td>
              <td>{time(row.actualRecoveryBeforeMs)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}
