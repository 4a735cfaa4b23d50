// One athlete over weeks: advice with its reason, a calendar with load, and each measure against date.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { HistoryBody } from '../../../shared/history.ts';
import { said } from '../../../shared/said.ts';
import type { TrainingEntry } from '../../../shared/training-log.ts';
import type { Athlete } from '../../../shared/views.ts';
import { quantileOfSorted, sortedRising } from '../../../src/sessions/quantiles.ts';
import { type TrendKey, trendMeasures } from '../../../src/sessions/session-summary.ts';
import type { Advice } from '../../../src/training/advice.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { useWidth } from '../../charts/svg-plot.tsx';
import { localDay, weeksOfLoad } from '../../state/calendar.ts';
import { formatDecimal, formatDuration, formatWallTime } from '../../state/format.ts';
import { LoadCalendar } from './load-calendar.tsx';
import { TrendPlot, type TrendPoint } from './trend-plot.tsx';
import './weeks.css';

type PastSession = HistoryBody['sessions'][number];

const spansDays = [84, 182, 371] as const;
const askAgainMs = 100;

export function WeeksView({ athleteId: given }: { readonly athleteId: string | null }) {
  const { text, http, router } = useApp();
  const words = text.history.weeks;
  useDocumentTitle(words.title);
  const athletes = useSignal<readonly Athlete[] | null>(null);
  const problem = useSignal<string | null>(null);
  useEffect(() => {
    void http.athletes().then((answer) => {
      if (answer.ok) athletes.value = answer.value.athletes;
      else problem.value = words.failed(answer.reason);
    });
  }, []);
  const athleteId = given ?? athletes.value?.[0]?.athleteId ?? null;
  return (
    <article class="sheet sheet--wide weeks">
      <h1>{words.title}</h1>
      <p class="hint">{words.lead}</p>
      {problem.value === null ? null : <p class="notice notice--strong">{problem.value}</p>}
      {(athletes.value?.length ?? 0) > 1 ? (
        <label class="field recording-athlete">
          <span>{words.athlete}</span>
          <select
            value={athleteId ?? ''}
            onChange={(event) => router.go(`/weeks/${event.currentTarget.value}`)}
          >
            {athletes.value!.map((athlete) => (
              <option key={athlete.athleteId} value={athlete.athleteId}>
                {athlete.name}
              </option>
            ))}
          </select>
        </label>
      ) : null}
      {athletes.value?.length === 0 && given === null ? <Empty /> : null}
      {athleteId === null ? null : <OfAthlete key={athleteId} athleteId={athleteId} />}
    </article>
  );
}

function Empty() {
  const { text } = useApp();
  const words = text.history.weeks;
  return (
    <>
      <p class="empty">{words.empty}</p>
      <p class="button-row">
        <a class="button" href="/">
          {words.toSetup}
        </a>
        <a class="button" href="/training">
          {words.toLog}
        </a>
      </p>
    </>
  );
}

function OfAthlete({ athleteId }: { readonly athleteId: string }) {
  const { text, http, timers } = useApp();
  const words = text.history.weeks;
  const history = useSignal<HistoryBody | null>(null);
  const entries = useSignal<readonly TrainingEntry[]>([]);
  const problem = useSignal<string | null>(null);
  const span = useSignal<number>(spansDays[0]);
  const tableOpen = useSignal(false);
  useEffect(() => {
    let current = true;
    let cancel = () => {};
    const ask = async () => {
      const answer = await http.history(athleteId);
      if (!current) return;
      problem.value = answer.ok ? null : words.failed(answer.reason);
      if (!answer.ok) return;
      history.value = answer.value;
      if (answer.value.missingCount > 0) cancel = timers.after(askAgainMs, () => void ask());
    };
    void ask();
    void http.training(athleteId).then((answer) => {
      if (current && answer.ok) entries.value = answer.value.entries;
    });
    return () => {
      current = false;
      cancel();
    };
  }, [athleteId]);
  const body = history.value;
  if (body === null)
    return problem.value === null ? (
      <p class="hint">{text.recordings.loading}</p>
    ) : (
      <p class="notice notice--strong">{problem.value}</p>
    );
  const all = body.sessions.length + body.missingCount;
  const unreadable = body.sessions.filter(({ summary }) => summary === null).length;
  const held = body.sessions.filter(({ summary }) => (summary?.holdIds.length ?? 0) > 0);
  if (held.length === 0 && entries.value.length === 0 && body.missingCount === 0) return <Empty />;
  const lastDay = localDay(Date.now());
  const firstDay = lastDay - span.value;
  const simulated = held.some((session) => session.simulated);
  return (
    <>
      {problem.value === null ? null : <p class="notice notice--strong">{problem.value}</p>}
      {simulated ? <p class="notice notice--strong">{words.simulated}</p> : null}
      {body.missingCount === 0 ? null : (
        <p class="notice" role="status">
          {words.working(body.sessions.length, all)}
          <progress max={all} value={body.sessions.length} aria-label={words.sessions} />
        </p>
      )}
      {unreadable === 0 ? null : <p class="notice">{words.unreadable(unreadable)}</p>}
      <AdviceList athleteId={athleteId} />
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
      <section class="step">
        <h2>{words.calendar}</h2>
        <LoadCalendar
          weeks={weeksOfLoad(
            held.map((session) => ({ day: localDay(session.startedWallAtMs), heldMs: heldMsOf(session) })),
            entries.value.map((entry) => ({ day: localDay(entry.startedWallAtMs) })),
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
          entries={entries.value}
          firstDay={firstDay}
          lastDay={lastDay}
          watermark={simulated ? text.simulatedBand : null}
        />
      </section>
      <details class="explain" onToggle={(event) => (tableOpen.value = event.currentTarget.open)}>
        <summary>{words.table}</summary>
        {tableOpen.value ? <SessionTable sessions={held} /> : null}
      </details>
    </>
  );
}

const heldMsOf = ({ summary }: PastSession): number =>
  (summary?.measures['durationS'] ?? []).reduce<number>((sum, seconds) => sum + (seconds ?? 0), 0) * 1000;

function pointsOf(sessions: readonly PastSession[], key: TrendKey): TrendPoint[] {
  return sessions.flatMap((session) => {
    const values = (session.summary?.measures[key] ?? []).filter((value) => value !== null);
    if (values.length === 0) return [];
    const sorted = sortedRising(values);
    return [
      {
        atDay: dayWithTime(session.startedWallAtMs),
        value: quantileOfSorted(sorted, 0.5)!,
        least: sorted[0]!,
        greatest: sorted.at(-1)!,
      },
    ];
  });
}

/** Two sessions of one day stand beside each other. */
const dayWithTime = (wallAtMs: number): number => {
  const date = new Date(wallAtMs);
  return localDay(wallAtMs) + (date.getHours() * 60 + date.getMinutes()) / 1440;
};

interface TrendsProps {
  readonly sessions: readonly PastSession[];
  readonly entries: readonly TrainingEntry[];
  readonly firstDay: number;
  readonly lastDay: number;
  readonly watermark: string | null;
}

function Trends({ sessions, entries, firstDay, lastDay, watermark }: TrendsProps) {
  const { text, say } = useApp();
  const words = text.history.weeks;
  const { element, width } = useWidth();
  const columns = width >= 760 ? 2 : 1;
  const plotWidth = Math.floor((width - (columns - 1) * 24) / columns);
  const comforts = [...sessions, ...entries]
    .flatMap(({ comfort, startedWallAtMs }) =>
      comfort === null
        ? []
        : [{ atDay: dayWithTime(startedWallAtMs), value: comfort, least: comfort, greatest: comfort }],
    )
    .sort((a, b) => a.atDay - b.atDay);
  const shared = { firstDay, lastDay: lastDay + 1, width: plotWidth, watermark };
  return (
    <div class="trends" ref={element}>
      {width === 0 ? null : (
        <>
          {trendMeasures.map(({ key, unit }) => (
            <TrendPlot
              key={key}
              {...shared}
              title={words.measures[key]}
              definition={say(said(`trend.${key}.is`))}
              unit={unit}
              points={pointsOf(sessions, key)}
            />
          ))}
          <TrendPlot
            {...shared}
            title={words.comfort}
            definition={words.comfortDefinition}
            unit="comfort"
            points={comforts}
          />
        </>
      )}
    </div>
  );
}

function SessionTable({ sessions }: { readonly sessions: readonly PastSession[] }) {
  const { text } = useApp();
  const words = text.history.weeks;
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: a region that scrolls must be reachable by keyboard
    <section class="table-scroll" tabIndex={0} aria-label={words.sessions}>
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
            <tr key={session.sessionId}>
              <th scope="row">
                <a href={`/recordings/${session.sessionId}`}>{formatWallTime(session.startedWallAtMs)}</a>
              </th>
              <td>{session.summary?.holdIds.length ?? 0}</td>
              {trendMeasures.map(({ key }) => {
                const values = sortedRising(
                  (session.summary?.measures[key] ?? []).filter((value) => value !== null),
                );
                const median = quantileOfSorted(values, 0.5);
                return (
                  <td key={key} class={median === null ? 'is-unknown' : ''}>
                    {median === null
                      ? text.notKnown
                      : key === 'durationS' || key === 'timeToFirstContractionS'
                        ? formatDuration(median * 1000)
                        : formatDecimal(median, 1)}
                  </td>
                );
              })}
              <td class={session.comfort === null ? 'is-unknown' : ''}>{session.comfort ?? text.notKnown}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

function AdviceList({ athleteId }: { readonly athleteId: string }) {
  const { text, say, http } = useApp();
  const words = text.history.weeks;
  const advice = useSignal<readonly Advice[] | null>(null);
  const problem = useSignal<string | null>(null);
  useEffect(() => {
    let current = true;
    void http.advice(athleteId).then((answer) => {
      if (!current) return;
      if (answer.ok) advice.value = answer.value.advice;
      else problem.value = words.adviceFailed(answer.reason);
    });
    return () => {
      current = false;
    };
  }, [athleteId]);
  return (
    <section class="step">
      <h2>{words.advice}</h2>
      {problem.value === null ? null : <p class="problem">{problem.value}</p>}
      {advice.value?.length === 0 ? <p class="hint">{words.noAdvice}</p> : null}
      <ul class="training-list">
        {advice.value?.map((each) => (
          <li key={each.key}>
            <strong>{say(each.suggestion)}</strong>
            <span>
              {words.adviceWhy}: {say(each.reason)}
            </span>
            <small class="hint">
              {words.adviceSource}: {say(each.source)}
            </small>
          </li>
        ))}
      </ul>
    </section>
  );
}
