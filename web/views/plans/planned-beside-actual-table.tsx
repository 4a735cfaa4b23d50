// Planned beside actual for one athlete: bars for the eye, a table for the numbers and where each came from.

import { clockText } from '../../../shared/words/formats.ts';
import type { AthleteRun } from '../../../src/plans/plan-run-state.ts';
import {
  comparePlannedWithActual,
  type PlannedBesideActual,
} from '../../../src/plans/planned-beside-actual.ts';
import { useApp } from '../../app/app-context.ts';
import { Name } from '../../components/name.tsx';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatDuration, formatLength, isolated } from '../../state/format.ts';
import { startMovedWords } from './planned-words.ts';

export interface PlannedBesideActualTableProps {
  readonly athleteRun: AthleteRun;
  readonly name: string;
  /** Where the run's own clock begins in the times to be shown; 0 for the run's own. */
  readonly beginsAtMs?: number;
}

export function PlannedBesideActualTable({
  athleteRun,
  name,
  beginsAtMs = 0,
}: PlannedBesideActualTableProps) {
  const { text } = useApp();
  const words = text.plans;
  const columns = words.actualColumns;
  const rows = comparePlannedWithActual(athleteRun);
  const longestMs = Math.max(1, ...rows.map((row) => Math.max(row.ceilingMs ?? 0, row.actualMs ?? 0)));
  const hasComfort = rows.some((row) => row.comfort !== null);
  if (rows.length === 0) return null;
  return (
    <ScrollRegion label={`${words.besideActual}: ${isolated(name)}`}>
      <table class="plan-table plan-table--actual">
        <caption>
          <Name>{name}</Name>
        </caption>
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
            {hasComfort ? <th scope="col">{text.recorded.comfort}</th> : null}
          </tr>
        </thead>
        <tbody>
          {rows.map((row, index) => (
            <ComparedRow
              key={index}
              row={row}
              isOver={athleteRun.phase === 'ended'}
              longestMs={longestMs}
              hasComfort={hasComfort}
              beginsAtMs={beginsAtMs}
            />
          ))}
        </tbody>
      </table>
    </ScrollRegion>
  );
}

interface ComparedRowProps {
  readonly row: PlannedBesideActual;
  /** The athlete's part of the run has ended. */
  readonly isOver: boolean;
  /** Of all rows; what a whole bar stands for. */
  readonly longestMs: number;
  /** Somebody said of a hold how it felt. */
  readonly hasComfort: boolean;
  readonly beginsAtMs: number;
}

/** As the plan has it. */
const time = (ms: number | null): string => (ms === null ? '' : clockText(ms));
/** As it was: the recording's own way of writing a length, which never rounds up. */
const held = (ms: number | null): string => (ms === null ? '' : formatDuration(ms));

function ComparedRow({ row, isOver, longestMs, hasComfort, beginsAtMs }: ComparedRowProps) {
  const { text, say } = useApp();
  // Beside each cell on a phone, where the columns' heads have no room.
  const columns = text.plans.actualColumns;
  const inShown = (ms: number | null): number | null => (ms === null ? null : ms + beginsAtMs);
  return (
    <tr>
      <th scope="row">{say(row.label)}</th>
      <td>{outcomeWords(row, isOver, text)}</td>
      <td data-column={columns.plannedStart}>{time(inShown(row.plannedStartAtMs))}</td>
      <td data-column={columns.start}>
        {held(inShown(row.actualStartAtMs))}
        <Beside>{startMovedWords(row, beginsAtMs, text)}</Beside>
      </td>
      <td data-column={columns.ceiling}>{time(row.ceilingMs)}</td>
      <td data-column={columns.length}>
        {held(row.actualMs)}
        {row.distanceMeters === null || row.actualMs === null
          ? ''
          : ` \u00b7 ${formatLength(row.distanceMeters)}`}
        {row.actualMs === null ? null : (
          <Bar actualMs={row.actualMs} ceilingMs={row.ceilingMs} longestMs={longestMs} />
        )}
      </td>
      <td data-column={columns.recovery}>
        {held(row.actualRecoveryBeforeMs)}
        <Beside>
          {row.plannedRecoveryBeforeMs === null
            ? null
            : text.recorded.plan.planned(time(row.plannedRecoveryBeforeMs))}
        </Beside>
      </td>
      {hasComfort ? <td data-column={text.recorded.comfort}>{row.comfort ?? ''}</td> : null}
    </tr>
  );
}

function Beside({ children }: { readonly children: string | null }) {
  return children === null ? null : <small class="plan-beside">{children}</small>;
}

/** What became of a row: how it ended and who said so, the lowest reading, what it waited for. */
function outcomeWords(
  { outcome, endSource, lowestSpo2Percent, waitedFor }: PlannedBesideActual,
  isOver: boolean,
  { plans: words, readout }: ReturnType<typeof useApp>['text'],
): string {
  const ended = outcome === 'notReached' && isOver ? words.outcomeOver : words.outcome[outcome];
  const parts = [endSource === null ? ended : `${ended} (${words.sources[endSource]})`];
  if (lowestSpo2Percent !== null) parts.push(readout.lowestOf(`${Math.round(lowestSpo2Percent)}\u202f%`));
  if (waitedFor.length > 0) parts.push(waitedFor.map((why) => words.wait[why]).join(', '));
  return parts.join(' \u00b7 ');
}

interface BarProps {
  readonly actualMs: number;
  readonly ceilingMs: number | null;
  readonly longestMs: number;
}

function Bar({ actualMs, ceilingMs, longestMs }: BarProps) {
  return (
    <svg class="plan-bar" viewBox="0 0 100 6" preserveAspectRatio="none" aria-hidden="true">
      {ceilingMs === null ? null : (
        <rect class="plan-bar-planned" width={(100 * ceilingMs) / longestMs} height="6" />
      )}
      <rect class="plan-bar-actual" y="1.5" width={(100 * actualMs) / longestMs} height="3" />
    </svg>
  );
}
