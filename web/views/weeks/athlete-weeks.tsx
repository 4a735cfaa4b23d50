// The weeks of one athlete: advice with its reason, a calendar with load, each measure against date, and a table.

import { type Signal, useSignal } from '@preact/signals';
import type { HistoryBody } from '../../../shared/history.ts';
import type { TrainingEntry } from '../../../shared/training-log.ts';
import { useApp } from '../../app/app-context.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { localDay, weeksOfLoad } from '../../state/calendar.ts';
import { AdviceList } from './advice-list.tsx';
import { LoadCalendar } from './load-calendar.tsx';
import { NoWeeks } from './no-weeks.tsx';
import { hasHolds, heldMsOf } from './past-sessions.ts';
import { SessionTable } from './session-table.tsx';
import { Trends } from './trends.tsx';
import { useHistory } from './use-history.ts';

const spansDays = [84, 182, 371] as const;
type SpanDays = (typeof spansDays)[number];

export function AthleteWeeks({ athleteId }: { readonly athleteId: string }) {
  const { text } = useApp();
  const { history, entries, problem } = useHistory(athleteId);
  const span = useSignal<SpanDays>(spansDays[0]);
  const body = history.value;
  if (body === null)
    return problem.value === null ? (
      <p class="hint">{text.recordings.loading}</p>
    ) : (
      <ProblemNotice problem={problem.value} />
    );
  if (!body.sessions.some(hasHolds) && entries.value.length === 0 && body.missingCount === 0)
    return <NoWeeks />;
  return (
    <>
      <ProblemNotice problem={problem.value} />
      <Completeness body={body} />
      <AdviceList athleteId={athleteId} />
      <SpanTools athleteId={athleteId} span={span} />
      <Plots body={body} entries={entries.value} spanDays={span.value} />
    </>
  );
}

/** What the sessions are, and which of them are not here yet or cannot be. */
function Completeness({ body }: { readonly body: HistoryBody }) {
  const { text } = useApp();
  const words = text.history.weeks;
  const { sessions, missingCount } = body;
  const allCount = sessions.length + missingCount;
  const unreadableCount = sessions.filter(({ summary }) => summary === null).length;
  return (
    <>
      {isSimulated(body) ? <p class="notice notice--strong">{words.simulated}</p> : null}
      {missingCount === 0 ? null : (
        <p class="notice" role="status">
          {words.working(sessions.length, allCount)}
          <progress max={allCount} value={sessions.length} aria-label={words.sessions} />
        </p>
      )}
      {unreadableCount === 0 ? null : <p class="notice">{words.unreadable(unreadableCount)}</p>}
    </>
  );
}

const isSimulated = ({ sessions }: HistoryBody): boolean =>
  sessions.some((session) => hasHolds(session) && session.simulated);

interface SpanToolsProps {
  readonly athleteId: string;
  readonly span: Signal<SpanDays>;
}

function SpanTools({ athleteId, span }: SpanToolsProps) {
  const { text } = useApp();
  const words = text.history.weeks;
  return (
    <div class="weeks-tools">
      <fieldset class="choice-row">
        <legend>{words.span}</legend>
        {spansDays.map((days) => (
          <label key={days} class="choice">
            <input
              type="radio"
              name="span"
              checked={span.value === days}
              onChange={() => (span.value = days)}
            />
            <span>{words.spans[days]}</span>
          </label>
        ))}
      </fieldset>
      <a class="button" href={`/weeks/${athleteId}/holds`}>
        {words.compare}
      </a>
    </div>
  );
}

interface PlotsProps {
  readonly body: HistoryBody;
  readonly entries: readonly TrainingEntry[];
  readonly spanDays: SpanDays;
}

function Plots({ body, entries, spanDays }: PlotsProps) {
  const { text } = useApp();
  const words = text.history.weeks;
  const tableOpen = useSignal(false);
  const held = body.sessions.filter(hasHolds);
  const lastDay = localDay(Date.now());
  const firstDay = lastDay - spanDays;
  return (
    <>
      <section class="step">
        <h2>{words.calendar}</h2>
        <LoadCalendar
          weeks={weeksOfLoad(
            held.map((session) => ({ day: localDay(session.startedWallAtMs), heldMs: heldMsOf(session) })),
            entries.map((entry) => ({ day: localDay(entry.startedWallAtMs) })),
            firstDay,
            lastDay,
          )}
        />
        <p class="hint">{words.calendarLegend}</p>
      </section>
      <section class="step">
        <h2>{words.trends}</h2>
        <p class="hint">{words.legend}</p>
        <Trends
          sessions={held}
          entries={entries}
          firstDay={firstDay}
          lastDay={lastDay}
          watermark={isSimulated(body) ? text.simulatedBand : null}
        />
      </section>
      <details class="explain" onToggle={(event) => (tableOpen.value = event.currentTarget.open)}>
        <summary>{words.table}</summary>
        {tableOpen.value ? <SessionTable sessions={held} /> : null}
      </details>
    </>
  );
}
