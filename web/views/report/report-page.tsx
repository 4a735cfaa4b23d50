// The page of a report: in short, alarms below the floor, plots, every hold, what else happened, cautions, label.

import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { ScrollRegion } from '../../components/scroll-region.tsx';
import { formatDuration, formatWallTime, isolated } from '../../state/format.ts';
import type { LoadedTrace } from '../../state/loaded-trace.ts';
import { SessionInShort } from '../recording/session-in-short.tsx';
import { ReportHolds } from './report-holds.tsx';
import {
  LedBy,
  ReportCautions,
  ReportFloorAlarms,
  ReportLabel,
  ReportNotices,
  ReportOtherEvents,
} from './report-parts.tsx';
import { ReportPlot } from './report-plot.tsx';

export interface ReportPageProps {
  readonly recording: RecordingBody;
  readonly athlete: AthleteRecording;
  readonly trace: LoadedTrace;
}

export function ReportPage({ recording, athlete, trace }: ReportPageProps) {
  const { text } = useApp();
  const words = text.history.report;
  return (
    <div class="report-page">
      <Head recording={recording} athlete={athlete} />
      <ReportNotices recording={recording} />
      <SessionInShort athlete={athlete} />
      <ReportFloorAlarms athlete={athlete} />
      <Plots recording={recording} athlete={athlete} trace={trace} />
      <p class="hint report-legend">{words.legend}</p>
      <section>
        <h2>{text.recording.holdsTitle}</h2>
        {athlete.holds.length === 0 ? <p>{text.recording.noHolds}</p> : <ReportHolds holds={athlete.holds} />}
      </section>
      <ReportOtherEvents athlete={athlete} />
      <ReportCautions />
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
          {text.readout.floor(athlete.athlete.settings.floorSpo2Percent)}
          <LedBy session={session} />
        </p>
      </div>
      <ReportLabel />
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
