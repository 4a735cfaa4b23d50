// The page of a report: plots, measures of each hold, what happened, cautions, label.

import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatDuration, formatWallTime, isolated } from '../../state/format.ts';
import type { LoadedTrace } from '../../state/loaded-trace.ts';
import { type ReportEvent, reportEvents } from './report-events.ts';
import { ReportHolds } from './report-holds.tsx';
import { ReportPlot } from './report-plot.tsx';

/** So that one page stays one page. */
const mostEvents = 6;

export interface ReportPageProps {
  readonly recording: RecordingBody;
  readonly athlete: AthleteRecording;
  readonly trace: LoadedTrace;
}

export function ReportPage({ recording, athlete, trace }: ReportPageProps) {
  const { text, say } = useApp();
  const words = text.history.report;
  const { session } = recording;
  return (
    <div class="report-page">
      <Head recording={recording} athlete={athlete} />
      {session.simulated ? <p class="report-simulated">{words.simulated}</p> : null}
      {session.status === 'ended' ? null : <p class="report-simulated">{words.notEnded}</p>}
      {recording.damage.map(say).map((sentence) => (
        <p class="report-simulated" key={sentence}>
          {sentence}
        </p>
      ))}
      <Plots recording={recording} athlete={athlete} trace={trace} />
      <p class="hint report-legend">{words.legend}</p>
      <section>
        <h2>{text.recording.holdsTitle}</h2>
        {athlete.holds.length === 0 ? <p>{text.recording.noHolds}</p> : <ReportHolds holds={athlete.holds} />}
      </section>
      <Events events={reportEvents(athlete, text)} />
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

function Head({ recording, athlete }: Pick<ReportPageProps, 'recording' | 'athlete'>) {
  const { text } = useApp();
  const { session, durationMs } = recording;
  return (
    <header class="report-head">
      <div>
        <h1>{text.history.report.heading(isolated(athlete.athlete.name))}</h1>
        <p>
          {session.title === '' ? text.recordings.untitled : session.title} {'\u00b7'}{' '}
          {formatWallTime(session.startedWallAtMs)} {'\u00b7'} {formatDuration(durationMs)} {'\u00b7'}{' '}
          {text.recordings.holdCount(athlete.holds.length)} {'\u00b7'}{' '}
          {text.readout.floor(athlete.athlete.settings.floorSpo2Percent)}
        </p>
      </div>
      <p class="report-label">
        <strong>{text.name}</strong>
        <br />
        {text.notMedicalDevice}
      </p>
    </header>
  );
}

function Plots({ recording, athlete, trace }: ReportPageProps) {
  const { text } = useApp();
  return (
    <ScrollRegion class="report-plots" label={text.recording.traces}>
      {(['spo2', 'heartRate'] as const).map((quantity) => (
        <figure key={quantity} class="plot-figure">
          <figcaption>{text.history.compare[quantity]}</figcaption>
          <ReportPlot
            quantity={quantity}
            athlete={athlete}
            trace={trace}
            durationMs={recording.durationMs}
            label={text.history.report.plot(text.history.compare[quantity], athlete.holds.length)}
            floorLabel={text.readout.floor(athlete.athlete.settings.floorSpo2Percent)}
            watermark={recording.session.simulated ? text.simulatedBand : null}
          />
        </figure>
      ))}
    </ScrollRegion>
  );
}

function Events({ events }: { readonly events: readonly ReportEvent[] }) {
  const { text } = useApp();
  const words = text.history.report;
  if (events.length === 0) return null;
  return (
    <section>
      <h2>{words.events}</h2>
      <ul class="report-events">
        {events.slice(0, mostEvents).map((event) => (
          <li key={event.key}>
            <strong>{formatDuration(event.atMs)}</strong> {event.what}
          </li>
        ))}
      </ul>
      {events.length > mostEvents ? <p class="hint">{words.moreEvents(events.length - mostEvents)}</p> : null}
    </section>
  );
}
