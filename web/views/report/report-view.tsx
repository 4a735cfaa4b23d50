// One page of one athlete's session for paper or PDF: plots, measures of each hold, what happened, cautions, label.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { AthleteRecording, RecordingBody, TraceBody } from '../../../shared/http.ts';
import type { BoundaryView } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { alarmOutcome } from '../../components/alarm-outcome.ts';
import { alarmWords } from '../../components/alarm-words.ts';
import { formatDecimal, formatDuration, formatMeasure, formatWallTime } from '../../state/format.ts';
import { ReportPlot } from './report-plot.tsx';
import './report.css';

/** About what a printer resolves across the page. */
const reportPoints = 1_000;
/** So that one page stays one page. */
const mostHolds = 12;
const mostEvents = 6;

/** Of the measures table, what an athlete asks first. */
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

export interface ReportProps {
  readonly sessionId: string;
  readonly athleteId: string;
}

export function ReportView({ sessionId, athleteId }: ReportProps) {
  const { text, http } = useApp();
  const words = text.history.report;
  const recording = useSignal<RecordingBody | null>(null);
  const trace = useSignal<TraceBody | null>(null);
  const problem = useSignal<string | null>(null);
  const load = async (signal: AbortSignal) => {
    problem.value = null;
    const fail = (reason: string) => {
      if (!signal.aborted) problem.value = words.failed(reason);
    };
    const outline = await http.recordingOutline(sessionId);
    if (!outline.ok) return fail(outline.reason);
    const whole = await http.athleteRecording(sessionId, athleteId, signal);
    if (!whole.ok) return fail(whole.reason);
    const traced = await http.trace(sessionId, athleteId, 0, outline.value.durationMs, reportPoints);
    if (!traced.ok) return fail(traced.reason);
    if (signal.aborted) return;
    recording.value = { ...outline.value, athletes: [whole.value] };
    trace.value = traced.value;
  };
  const attempt = useSignal(0);
  useEffect(() => {
    const leave = new AbortController();
    void load(leave.signal);
    return () => leave.abort();
  }, [sessionId, athleteId, attempt.value]);
  const athlete = recording.value?.athletes.find((each) => each.athlete.athleteId === athleteId);
  // The name a browser suggests for the file.
  useDocumentTitle(
    recording.value === null || athlete === undefined
      ? words.title
      : words.fileTitle(athlete.athlete.name, formatWallTime(recording.value.session.startedWallAtMs)),
  );
  return (
    <article class="sheet sheet--wide report">
      <div class="report-tools">
        <a class="button button--quiet back-link" href={`/recordings/${sessionId}`}>
          {'\u2190'} {text.history.compare.back}
        </a>
        <button
          type="button"
          class="button button--primary"
          disabled={trace.value === null}
          onClick={() => print()}
        >
          {words.print}
        </button>
      </div>
      {problem.value === null ? null : (
        <p class="notice notice--strong" role="alert">
          {problem.value}
          <button type="button" class="button" onClick={() => (attempt.value += 1)}>
            {text.recordings.again}
          </button>
        </p>
      )}
      {recording.value === null || trace.value === null ? (
        problem.value === null ? (
          <p class="hint">{text.recordings.loading}</p>
        ) : null
      ) : athlete === undefined ? (
        <p class="notice notice--strong">{words.notInIt}</p>
      ) : (
        <Page recording={recording.value} athlete={athlete} trace={trace.value} />
      )}
    </article>
  );
}

interface PageProps {
  readonly recording: RecordingBody;
  readonly athlete: AthleteRecording;
  readonly trace: TraceBody;
}

function Page({ recording, athlete, trace }: PageProps) {
  const { text, say } = useApp();
  const words = text.history.report;
  const { session, durationMs } = recording;
  const floor = athlete.athlete.settings.floorSpo2Percent;
  const watermark = session.simulated ? text.simulatedBand : null;
  const notes = athlete.marks.filter(({ kind, text: note }) => kind === 'note' && note !== null);
  const events = [
    ...athlete.alarms
      .filter(({ alarm }) => alarm.highestPriority !== 'low')
      .map(({ alarm, clearedAtMs }) => ({
        key: alarm.alarmId,
        atMs: alarm.raisedAtMs as number,
        what: `${text.recording.legendAlarm}, ${text.alarm.priority[alarm.highestPriority].toLowerCase()}: ${alarmWords(alarm, text).message} ${alarmOutcome(alarm, clearedAtMs, text)}`,
      })),
    ...notes.map((note) => ({
      key: note.markId,
      atMs: note.atMs as number,
      what: `${text.markKind.note}: ${note.text}`,
    })),
  ].sort((a, b) => a.atMs - b.atMs);
  const plots = (['spo2', 'heartRate'] as const).map((quantity) => (
    <figure key={quantity} class="plot-figure">
      <figcaption>
        {quantity === 'spo2' ? text.history.compare.spo2 : text.history.compare.heartRate}
      </figcaption>
      <ReportPlot
        quantity={quantity}
        athlete={athlete}
        trace={trace}
        points={reportPoints}
        durationMs={durationMs}
        label={words.plot(
          quantity === 'spo2' ? text.history.compare.spo2 : text.history.compare.heartRate,
          athlete.holds.length,
        )}
        floorLabel={text.readout.floor(floor)}
        watermark={watermark}
      />
    </figure>
  ));
  return (
    <div class="report-page">
      <header class="report-head">
        <div>
          <h1>{words.heading(athlete.athlete.name)}</h1>
          <p>
            {session.title === '' ? text.recordings.untitled : session.title} {'\u00b7'}{' '}
            {formatWallTime(session.startedWallAtMs)} {'\u00b7'} {formatDuration(durationMs)} {'\u00b7'}{' '}
            {text.recordings.holdCount(athlete.holds.length)} {'\u00b7'} {text.readout.floor(floor)}
          </p>
        </div>
        <p class="report-label">
          <strong>{text.name}</strong>
          <br />
          {text.notMedicalDevice}
        </p>
      </header>
      {session.simulated ? <p class="report-simulated">{words.simulated}</p> : null}
      {session.status === 'ended' ? null : <p class="report-simulated">{words.notEnded}</p>}
      {recording.damage.map(say).map((sentence) => (
        <p class="report-simulated" key={sentence}>
          {sentence}
        </p>
      ))}
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: on a phone the plots scroll, by keyboard too */}
      <section class="report-plots" tabIndex={0} aria-label={text.recording.traces}>
        {plots}
      </section>
      <p class="hint report-legend">{words.legend}</p>
      <section>
        <h2>{text.recording.holdsTitle}</h2>
        {athlete.holds.length === 0 ? <p>{text.recording.noHolds}</p> : <HoldRows athlete={athlete} />}
      </section>
      {events.length === 0 ? null : (
        <section>
          <h2>{words.events}</h2>
          <ul class="report-events">
            {events.slice(0, mostEvents).map((event) => (
              <li key={event.key}>
                <strong>{formatDuration(event.atMs)}</strong> {event.what}
              </li>
            ))}
          </ul>
          {events.length > mostEvents ? (
            <p class="hint">{words.moreEvents(events.length - mostEvents)}</p>
          ) : null}
        </section>
      )}
      <section class="report-cautions">
        <h2>{text.setup.cautions}</h2>
        <ul>
          {text.cautions.map((caution) => (
            <li key={caution}>{caution}</li>
          ))}
        </ul>
        <p>{words.limits}</p>
        <p>{text.about.label}</p>
      </section>
    </div>
  );
}

function HoldRows({ athlete }: { readonly athlete: AthleteRecording }) {
  const { text, say } = useApp();
  const words = text.history.report;
  const first = athlete.holds[0]!;
  const columns = shownKeys.flatMap((key) => first.measures.find((measure) => measure.key === key) ?? []);
  return (
    <>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: a region that scrolls must be reachable by keyboard */}
      <section class="table-scroll" tabIndex={0} aria-label={text.recording.holdsTitle}>
        <table class="report-table">
          <thead>
            <tr>
              <th scope="col">{words.number}</th>
              <th scope="col">{words.start}</th>
              <th scope="col">{words.duration}</th>
              {columns.map((column) => (
                <th scope="col" key={column.key}>
                  {say({ code: `measure.${column.key}`, params: {} })}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {athlete.holds.slice(0, mostHolds).map(({ hold, measures }, index) => (
              <tr key={hold.holdId}>
                <th scope="row">{index + 1}</th>
                <td>
                  {formatDuration(hold.start.atMs)} <small>{sourceOf(hold.start, text)}</small>
                </td>
                <td>
                  {hold.end === null ? (
                    text.recording.noEnd
                  ) : (
                    <>
                      {formatDuration(hold.end.atMs - hold.start.atMs)}{' '}
                      <small>{sourceOf(hold.end, text)}</small>
                    </>
                  )}
                </td>
                {columns.map(({ key }) => {
                  const measure = measures.find((each) => each.key === key);
                  return (
                    <td key={key}>
                      {measure === undefined || measure.value === null ? (
                        <small>{text.notKnown}</small>
                      ) : (
                        formatMeasure(measure.value, measure.unit)
                      )}
                    </td>
                  );
                })}
              </tr>
            ))}
          </tbody>
        </table>
      </section>
      {athlete.holds.length > mostHolds ? (
        <p class="hint">{words.moreHolds(athlete.holds.length - mostHolds)}</p>
      ) : null}
    </>
  );
}

function sourceOf(boundary: BoundaryView, text: ReturnType<typeof useApp>['text']): string {
  const source = text.recording.boundary[boundary.source];
  return boundary.uncertaintyMs === 0
    ? source
    : `${source} ${text.recording.uncertainty(formatDecimal(boundary.uncertaintyMs / 1000, 1))}`;
}
