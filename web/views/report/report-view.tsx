// One page of one athlete's session for paper or PDF: loading it, and the buttons that are not printed.

import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { formatWallTime } from '../../state/format.ts';
import { ReportPage } from './report-page.tsx';
import { ReportTools } from './report-tools.tsx';
import { type ReportContent, useReport } from './use-report.ts';
import './report.css';

export interface ReportProps {
  readonly sessionId: string;
  readonly athleteId: string;
}

export function ReportView({ sessionId, athleteId }: ReportProps) {
  const { text } = useApp();
  const words = text.history.report;
  const { content, problem, tryAgain } = useReport(sessionId, athleteId);
  const recording = content.value?.recording;
  const athlete = athleteOf(content.value, athleteId);
  // The name a browser suggests for the file.
  useDocumentTitle(
    recording === undefined || athlete === undefined
      ? words.title
      : words.fileTitle(athlete.athlete.name, formatWallTime(recording.session.startedWallAtMs)),
  );
  return (
    <article class="sheet sheet--wide report">
      <ReportTools sessionId={sessionId} isReady={content.value !== null} />
      <ProblemNotice problem={problem.value} onAgain={tryAgain} />
      {content.value !== null ? (
        <Content content={content.value} athleteId={athleteId} />
      ) : problem.value === null ? (
        <p class="hint">{text.recordings.loading}</p>
      ) : null}
    </article>
  );
}

const athleteOf = (content: ReportContent | null, athleteId: string) =>
  content?.recording.athletes.find((each) => each.athlete.athleteId === athleteId);

function Content({ content, athleteId }: { readonly content: ReportContent; readonly athleteId: string }) {
  const { text } = useApp();
  const athlete = athleteOf(content, athleteId);
  if (athlete === undefined) return <p class="notice notice--strong">{text.history.report.notInIt}</p>;
  return <ReportPage recording={content.recording} athlete={athlete} trace={content.trace} />;
}
