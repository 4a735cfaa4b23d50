// The weeks of one athlete: advice with its reason, a calendar with load, each measure against date, and a table.

import { type Signal, useSignal } from '@preact/signals';
import type { HistoryBody } from '../../../shared/history.ts';
import type { TrainingEntry } from '../../../shared/training-log.ts';
import { useApp } from '../../app/app-context.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { WeeksFilterFields } from '../../components/weeks-filter-fields.tsx';
import { localDay, weeksOfLoad } from '../../state/calendar.ts';
import {
  everySession,
  filteredSessions,
  isNarrowed,
  type WeeksFilter,
  weeksChoices,
} from '../../state/weeks-filter.ts';
import { AdviceList } from './advice-list.tsx';
import { LoadCalendar } from './load-calendar.tsx';
import { NoWeeks } from './no-weeks.tsx';
import { hasHolds, heldMsOf, ratedOf, ratedOfEntry } from './past-sessions.ts';
import { SessionTable } from './session-table.tsx';
import { Trends } from './trends.tsx';
import { useHistory } from './use-history.ts';

const spansDays = [84, 182, 371] as const;
type SpanDays = (typeof spansDays)[number];

export function AthleteWeeks({ athleteId }: { readonly athleteId: string }) {
  const { text } = useApp();
  const { history, entries, problem } = useHistory(athleteId);
  const span = useSignal<SpanDays>(spansDays[0]);
  const filter = useSignal<WeeksFilter>(everySession);
  const body = history.value;
  if (body === null)
    return problem.value === null ? (
      <p class="hint">{text.recordings.loading}</p>
    ) : (
      <ProblemNotice problem={problem.value} />
    );
  if (!body.sessions.some(hasHolds) && entries.value.length === 0 && body.missingCount === 0)
    return <NoWeeks />;
  const narrowed = isNarrowed(filter.value);
  return (
    <>
      <ProblemNotice problem={problem.value} />
      <Completeness body={body} />
      <AdviceList athleteId={athleteId} />
      <WeeksTools athleteId={athleteId} span={span} filter={filter} body={body} />
      <Plots
        body={{ ...body, sessions: [...filteredSessions(body.sessions, filter.value)] }}
        // Entries of the log have no plan, tag or lungs: where sessions are narrowed, they would be of something else.
        entries={narrowed ? [] : entries.value}
        spanDays={span.value}
        narrowed={narrowed}
      />
    </>
  );
}

/** What the sessions are, and which of them are not here yet or cannot be. */
function Completeness({ body }: { readonly body: HistoryBody }) {
  const { text } = useApp();
  const words = text.history.weeks;
  const more = text.weeksMore;
  const { sessions, missingCount, waitsForSession, allCount } = body;
  const doneCount = allCount - missingCount;
  const unreadableCount = sessions.filter(({ summary }) => summary === null).length;
  return (
    <>
      {isSimulated(body) ? <p class="notice notice--strong">{words.simulated}</p> : null}
      {missingCount === 0 ? null : (
        <p class="notice" role="status">
          {waitsForSession ? more.waits(missingCount) : words.working(doneCount, allCount)}
          <progress max={allCount} value={doneCount} aria-label={words.sessions} />
        </p>
      )}
      {unreadableCount === 0 ? null : <p class="notice">{words.unreadable(unreadableCount)}</p>}
    </>
  );
}

const isSimulated = ({ sessions }: HistoryBody): boolean =>
  sessions.some((session) => hasHolds(session) && session.simulated);

interface WeeksToolsProps {
  readonly athleteId: string;
  readonly span: Signal<SpanDays>;
  readonly filter: Signal<WeeksFilter>;
  readonly body: HistoryBody;
}

function WeeksTools({ athleteId, span, filter, body }: WeeksToolsProps) {
  const { text } = useApp();
  const words = text.history.weeks;
  const more = text.weeksMore;
  const choices = weeksChoices(body.sessions);
  const found = filteredSessions(body.sessions, filter.value).filter(hasHolds).length;
  const hasChoices = Object.values(choices).some((each) => each.length > 0);
  return (
    <>
      <p class="button-row">
        <a class="button" href={`/weeks/${athleteId}/sessions`}>
          {more.pair.open}
        </a>
        <a class="button" href={`/weeks/${athleteId}/beside`}>
          {more.beside.open}
        </a>
        <a class="button" href={`/weeks/${athleteId}/holds`}>
          {words.compare}
        </a>
      </p>
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
        {hasChoices ? (
          <form
            class="weeks-filter"
            aria-label={more.filter.title}
            onSubmit={(event) => event.preventDefault()}
          >
            <WeeksFilterFields
              filter={filter.value}
              choices={choices}
              onChange={(changed) => (filter.value = changed)}
            />
          </form>
        ) : (
          <p class="hint">{more.filter.nothing}</p>
        )}
      </div>
      {isNarrowed(filter.value) ? (
        <p class="notice" role="status">
          {more.filter.found(found, body.sessions.filter(hasHolds).length)}{' '}
          <button type="button" class="button button--quiet" onClick={() => (filter.value = everySession)}>
            {more.filter.clear}
          </button>
        </p>
      ) : null}
    </>
  );
}

interface PlotsProps {
  readonly body: HistoryBody;
  readonly entries: readonly TrainingEntry[];
  readonly spanDays: SpanDays;
  readonly narrowed: boolean;
}

function Plots({ body, entries, spanDays, narrowed }: PlotsProps) {
  const { text } = useApp();
  const words = text.history.weeks;
  const tableOpen = useSignal(false);
  const held = body.sessions.filter(hasHolds);
  const lastDay = localDay(Date.now());
  const firstDay = lastDay - spanDays;
  // Unnarrowed and empty is only while sessions are first worked out, which the notice above says.
  if (held.length === 0 && entries.length === 0)
    return narrowed ? <p class="empty">{text.weeksMore.filter.none}</p> : null;
  return (
    <>
      {narrowed ? null : (
        <section class="step">
          <h2>{words.calendar}</h2>
          <LoadCalendar
            weeks={weeksOfLoad(
              held.map((session) => ({
                day: localDay(session.startedWallAtMs),
                heldMs: heldMsOf(session),
                rated: ratedOf(session),
              })),
              entries.map((entry) => ({
                day: localDay(entry.startedWallAtMs),
                rated: ratedOfEntry(entry),
              })),
              firstDay,
              lastDay,
            )}
          />
          <p class="hint">
            {words.calendarLegend} {text.weeksMore.load.legend}
          </p>
        </section>
      )}
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
