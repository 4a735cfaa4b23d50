// Holds of one athlete side by side: within a session, or across sessions, lined up at start, contraction or end.

import { type Signal, useComputed, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { HoldWindowsBody } from '../../../shared/history.ts';
import type { SessionsBody } from '../../../shared/http.ts';
import { type Alignment, alignTrace, type HoldTimes } from '../../../src/sessions/hold-window.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { useWidth } from '../../charts/svg-plot.tsx';
import { FiguresMark } from '../../components/figures-mark.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { Tick } from '../../components/tick.tsx';
import { formatDuration, formatWallTime } from '../../state/format.ts';
import { channelsOf, type Quantity } from '../../state/quantity.ts';
import { leftOutAtFirst } from './deepest-holds.ts';
import { HoldOverlay, type OverlaidHold, sessionColours } from './hold-overlay.tsx';
import './holds-compare.css';

const alignments: readonly Alignment[] = ['start', 'contraction', 'end'];
const sessionsAtFirst = 2;
const sessionsInSight = 8;

interface Entry {
  readonly key: string;
  readonly shortName: string;
  /** Of its session among those chosen, in order of time. */
  readonly sessionIndex: number;
  readonly sessionWhen: string;
  readonly name: string;
  readonly times: HoldTimes;
  readonly window: HoldWindowsBody['holds'][number];
  readonly simulated: boolean;
}

export interface HoldsCompareProps {
  readonly athleteId: string;
  /** Null: across sessions. */
  readonly sessionId: string | null;
}

export function HoldsCompareView({ athleteId, sessionId }: HoldsCompareProps) {
  const { text, http } = useApp();
  const words = text.history.compare;
  useDocumentTitle(words.title);
  const sessions = useSignal<SessionsBody['sessions'] | null>(null);
  const chosen = useSignal<readonly string[]>([]);
  const loaded = useSignal<ReadonlyMap<string, HoldWindowsBody>>(new Map());
  const problem = useSignal<string | null>(null);
  const alignment = useSignal<Alignment>('start');
  /** Null until a person has chosen: then the page leaves out what cannot be told apart. */
  const hidden = useSignal<ReadonlySet<string> | null>(null);
  const forward = useSignal<string | null>(null);

  const loadSession = async (id: string) => {
    if (loaded.value.has(id)) return;
    const answer = await http.holdWindows(id, athleteId);
    problem.value = answer.ok ? null : words.failed(answer.reason);
    if (answer.ok) loaded.value = new Map([...loaded.value, [id, answer.value]]);
  };
  const load = async () => {
    const answer = await http.sessions();
    if (!answer.ok) {
      problem.value = words.failed(answer.reason);
      return;
    }
    problem.value = null;
    const own = answer.value.sessions.filter(
      ({ session, holdCount }) => session.athleteIds.includes(athleteId) && holdCount > 0,
    );
    sessions.value = own;
    const first =
      sessionId === null
        ? own.slice(0, sessionsAtFirst).map(({ session }) => session.sessionId)
        : [sessionId];
    chosen.value = first;
    for (const id of first) await loadSession(id);
  };
  useEffect(() => void load(), [athleteId, sessionId]);

  const entries = useComputed<readonly Entry[]>(() => {
    const bodies = chosen.value.flatMap((id) => loaded.value.get(id) ?? []);
    bodies.sort((a, b) => a.session.startedWallAtMs - b.session.startedWallAtMs);
    const several = bodies.length > 1;
    return bodies.flatMap(({ session, holds }, index) =>
      holds.map((window): Entry => {
        const when = formatWallTime(session.startedWallAtMs);
        return {
          key: `${session.sessionId} ${window.hold.holdId}`,
          sessionIndex: index,
          sessionWhen: when,
          shortName: several ? `${letterOf(index)}${window.number}` : String(window.number),
          name: several ? words.holdOf(window.number, when) : words.hold(window.number),
          times: {
            startAtMs: window.hold.start.atMs,
            endAtMs: window.hold.end?.atMs ?? null,
            firstContractionAtMs: window.hold.firstContractionAtMs,
          },
          window,
          simulated: session.simulated,
        };
      }),
    );
  });
  /** What the page leaves out by itself: all but the deepest. */
  const leftOut = useComputed(() => leftOutAtFirst(entries.value));
  const shown = useComputed(() => {
    const away = hidden.value ?? leftOut.value;
    return entries.value.filter(({ key }) => !away.has(key));
  });
  const choose = (id: string, isChosen: boolean) => {
    chosen.value = isChosen ? [...chosen.value, id] : chosen.value.filter((each) => each !== id);
    if (isChosen) void loadSession(id);
  };
  const show = (key: string, isShown: boolean) => {
    // The first choice of a person takes over from what the page left out by itself.
    const next = new Set(hidden.value ?? leftOut.value);
    if (isShown) next.delete(key);
    else next.add(key);
    hidden.value = next;
  };
  const alignable = shown.value.filter(
    ({ times }) => alignTrace({ atMs: [], value: [], quality: '' }, times, alignment.value) !== null,
  );
  const leftOutCount = shown.value.length - alignable.length;
  const simulated = shown.value.some((entry) => entry.simulated);
  const allRead = chosen.value.every((id) => loaded.value.has(id));
  const isReading = problem.value === null && (sessions.value === null || !allRead);
  return (
    <article class="sheet sheet--wide holds-compare">
      <a
        class="button button--quiet back-link"
        href={sessionId === null ? `/weeks/${athleteId}` : `/recordings/${sessionId}`}
      >
        {'\u2190'} {sessionId === null ? words.backToWeeks : words.back}
      </a>
      <h1>{words.title}</h1>
      <p class="hint">{words.lead}</p>
      <ProblemNotice problem={problem.value} onAgain={() => void load()} />
      {isReading ? (
        <p class="hint" role="status">
          {words.loading}
        </p>
      ) : null}
      {sessions.value?.length === 0 ? <p class="empty">{words.noSessions}</p> : null}
      {sessions.value === null || sessions.value.length === 0 ? null : (
        <>
          <fieldset class="choice-row">
            <legend>{words.align}</legend>
            {alignments.map((each) => (
              <label key={each} class="choice">
                <input
                  type="radio"
                  name="alignment"
                  checked={alignment.value === each}
                  onChange={() => (alignment.value = each)}
                />
                <span>{words.alignments[each]}</span>
              </label>
            ))}
          </fieldset>
          {simulated ? <p class="notice notice--strong">{words.simulated}</p> : null}
          {hidden.value === null && leftOut.value.size > 0 ? (
            <p class="notice">{text.traces.deepest(shown.value.length, entries.value.length)}</p>
          ) : null}
          {leftOutCount > 0 && alignment.value !== 'start' ? (
            <p class="notice">{words.leftOut(leftOutCount, alignment.value)}</p>
          ) : null}
          {alignable.length > 0 ? (
            <Plots
              entries={alignable}
              alignment={alignment.value}
              forward={forward.value}
              watermark={simulated ? text.simulatedBand : null}
            />
          ) : entries.value.length === 0 && allRead ? (
            <p class="empty">{words.none}</p>
          ) : null}
          <div class="compare-choices">
            <section class="step">
              <h2>{words.holds}</h2>
              <HoldChoice entries={entries.value} shown={shown.value} forward={forward} onShow={show} />
            </section>
            <section class="step">
              <h2>{words.sessions}</h2>
              <SessionChoice
                sessions={sessions.value}
                loaded={loaded.value}
                chosen={chosen.value}
                onChoose={choose}
              />
            </section>
          </div>
        </>
      )}
    </article>
  );
}

interface HoldChoiceProps {
  readonly entries: readonly Entry[];
  readonly shown: readonly Entry[];
  readonly forward: Signal<string | null>;
  readonly onShow: (key: string, isShown: boolean) => void;
}

function HoldChoice({ entries, shown, forward, onShow }: HoldChoiceProps) {
  const { text } = useApp();
  const words = text.history.compare;
  return (
    <ul class="compare-holds">
      {entries.map((entry) => {
        const isShown = shown.includes(entry);
        return (
          <li key={entry.key}>
            <Tick checked={isShown} onChange={(isChecked) => onShow(entry.key, isChecked)}>
              <strong>{entry.shortName}</strong> {entry.name}
              <small class="hint"> {detailOf(entry.times, words)}</small>
            </Tick>
            <button
              type="button"
              class="button button--quiet"
              aria-pressed={forward.value === entry.key}
              aria-label={`${words.highlight}: ${entry.name}`}
              disabled={!isShown}
              onClick={() => (forward.value = forward.value === entry.key ? null : entry.key)}
            >
              {words.highlight}
            </button>
          </li>
        );
      })}
    </ul>
  );
}

const letterOf = (index: number): string => String.fromCharCode(65 + (index % 26));

function detailOf(times: HoldTimes, words: ReturnType<typeof useApp>['text']['history']['compare']): string {
  const parts: string[] = [];
  if (times.endAtMs !== null) parts.push(words.lasted(formatDuration(times.endAtMs - times.startAtMs)));
  parts.push(
    times.firstContractionAtMs === null
      ? words.noContraction
      : words.contractionAt(formatDuration(times.firstContractionAtMs - times.startAtMs)),
  );
  return parts.join(', ');
}

function SessionChoice({
  sessions,
  loaded,
  chosen,
  onChoose,
}: {
  readonly sessions: SessionsBody['sessions'];
  /** Of those whose holds are at hand, the list's own figure is not needed. */
  readonly loaded: ReadonlyMap<string, HoldWindowsBody>;
  readonly chosen: readonly string[];
  readonly onChoose: (sessionId: string, isChosen: boolean) => void;
}) {
  const { text } = useApp();
  const words = text.history.compare;
  const figuresOf = ({ session, holdCount, figuresBy }: SessionsBody['sessions'][number]) => {
    const holds = loaded.get(session.sessionId)?.holds.filter(({ hold }) => hold.isProposed !== true);
    return holds === undefined
      ? { holdCount, figuresBy }
      : { holdCount: holds.length, figuresBy: 'analysis' as const };
  };
  const line = (listed: SessionsBody['sessions'][number]) => {
    const { session } = listed;
    const { holdCount, figuresBy } = figuresOf(listed);
    return (
      <li key={session.sessionId}>
        <Tick
          checked={chosen.includes(session.sessionId)}
          onChange={(isChosen) => onChoose(session.sessionId, isChosen)}
        >
          {formatWallTime(session.startedWallAtMs)}{' '}
          <small class="hint">
            {session.title} {'\u00b7'} {text.recordings.holdCount(holdCount)}
            <FiguresMark figuresBy={figuresBy} />
          </small>
        </Tick>
      </li>
    );
  };
  const older = sessions.slice(sessionsInSight);
  return (
    <>
      <ul>{sessions.slice(0, sessionsInSight).map(line)}</ul>
      {older.length === 0 ? null : (
        <details class="explain">
          <summary>{words.olderSessions(older.length)}</summary>
          <ul>{older.map(line)}</ul>
        </details>
      )}
    </>
  );
}

interface PlotsProps {
  readonly entries: readonly Entry[];
  readonly alignment: Alignment;
  readonly forward: string | null;
  readonly watermark: string | null;
}

function Plots({ entries, alignment, forward, watermark }: PlotsProps) {
  const { text } = useApp();
  const words = text.history.compare;
  const { element, width } = useWidth();
  const sessions = [...new Map(entries.map((entry) => [entry.sessionIndex, entry])).values()];
  const several = sessions.length > 1;
  const overlaid = (quantity: Quantity): OverlaidHold[] =>
    entries.flatMap(({ key, shortName, sessionIndex, times, window }) => {
      const trace = window.traces.find(({ channel }) => channelsOf[quantity].includes(channel));
      const aligned = trace === undefined ? null : alignTrace(trace, times, alignment);
      return aligned === null || aligned.value.length === 0
        ? []
        : [{ key, shortName, session: several ? sessionIndex : null, trace: aligned }];
    });
  const spo2 = overlaid('spo2');
  const heartRate = overlaid('heartRate');
  const ends = [...spo2, ...heartRate].flatMap(({ trace }) => [trace.atSeconds[0]!, trace.atSeconds.at(-1)!]);
  const xRange: [number, number] = [Math.min(0, ...ends), Math.max(30, ...ends)];
  const align = words.alignments[alignment];
  return (
    <div class="compare-plots" ref={element}>
      {width === 0
        ? null
        : (
            [
              ['spo2', words.spo2, spo2, 280],
              ['heartRate', words.heartRate, heartRate, 220],
            ] as const
          ).map(([quantity, title, holds, height]) =>
            holds.length === 0 ? null : (
              <figure key={quantity} class="plot-figure">
                <figcaption>{title}</figcaption>
                <HoldOverlay
                  quantity={quantity}
                  holds={holds}
                  alignment={alignment}
                  xRange={xRange}
                  width={width}
                  height={height}
                  forward={forward}
                  label={words.plot(title, align, holds.length)}
                  watermark={watermark}
                />
              </figure>
            ),
          )}
      {several ? (
        <ul class="compare-sessions" aria-label={words.sessions}>
          {sessions.map(({ sessionIndex, sessionWhen }) => (
            <li key={sessionIndex} class={`plot-session-${sessionIndex % sessionColours}`}>
              <strong>{letterOf(sessionIndex)}</strong> {sessionWhen}
            </li>
          ))}
        </ul>
      ) : null}
      <p class="hint">
        {entries.length >= 3 ? words.bandOf(entries.length) : words.bandTooFew}{' '}
        {entries.length >= 3 && alignment !== 'end' ? words.bandUntilEnd : ''}
      </p>
    </div>
  );
}
