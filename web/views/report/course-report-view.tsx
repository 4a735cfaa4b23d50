// A session of several on paper, for the coach: a part an athlete in the order in which they were set up, none beside another.

import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { Name } from '../../components/name.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { formatDuration, formatWallTime } from '../../state/format.ts';
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
import { ReportTools } from './report-tools.tsx';
import { useCourseReport } from './use-course-report.ts';
import './report.css';

export function CourseReportView({ sessionId }: { readonly sessionId: string }) {
  const { text } = useApp();
  const words = text.recorded.report;
  const loading = useCourseReport(sessionId);
  const recording = loading.recording.value;
  useDocumentTitle(
    recording === null
      ? words.courseTitle
      : words.courseFile(formatWallTime(recording.session.startedWallAtMs)),
  );
  const isWhole = recording?.athletes.every(({ workedOut }) => workedOut) === true;
  return (
    <article class="sheet sheet--wide report">
      <ReportTools sessionId={sessionId} isReady={isWhole || loading.problem.value !== null} />
      <ProblemNotice problem={loading.problem.value} onAgain={loading.tryAgain} />
      {recording === null ? (
        loading.problem.value === null ? (
          <p class="hint">{text.recordings.loading}</p>
        ) : null
      ) : (
        <CoursePage recording={recording} />
      )}
    </article>
  );
}

function CoursePage({ recording }: { readonly recording: RecordingBody }) {
  const { text } = useApp();
  const words = text.recorded.report;
  const { session, athletes, durationMs } = recording;
  return (
    <div class="report-page">
      <header class="report-head">
        <div>
          <h1>{words.courseHeading(athletes.length)}</h1>
          <p>
            {session.title === '' ? text.recordings.untitled : session.title} {'\u00b7'}{' '}
            {formatWallTime(session.startedWallAtMs)} {'\u00b7'} {formatDuration(durationMs)}
            <LedBy session={session} />
          </p>
          <p class="hint">{words.notRanked}</p>
        </div>
        <ReportLabel />
      </header>
      <ReportNotices recording={recording} />
      {athletes.map((athlete) => (
        <AthletePart key={athlete.athlete.athleteId} athlete={athlete} />
      ))}
      <ReportCautions />
    </div>
  );
}

function AthletePart({ athlete }: { readonly athlete: AthleteRecording }) {
  const { text } = useApp();
  return (
    <section class="report-athlete">
      <h2>
        <Name>{athlete.athlete.name}</Name>{' '}
        <small>{text.readout.floor(athlete.athlete.settings.floorSpo2Percent)}</small>
      </h2>
      {athlete.workedOut ? null : <p class="hint">{text.recorded.report.stillWorking}</p>}
      <SessionInShort athlete={athlete} isNamed />
      <ReportFloorAlarms athlete={athlete} />
      {athlete.holds.length === 0 ? (
        <p>{athlete.workedOut ? text.recording.noHolds : text.recording.notYet}</p>
      ) : (
        <ReportHolds holds={athlete.holds} name={athlete.athlete.name} />
      )}
      <ReportOtherEvents athlete={athlete} />
    </section>
  );
}
