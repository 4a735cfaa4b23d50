// Above a report: back to its recording, and the button that prints it.

import { useApp } from '../../app/app-context.ts';

export interface ReportToolsProps {
  readonly sessionId: string;
  readonly isReady: boolean;
}

export function ReportTools({ sessionId, isReady }: ReportToolsProps) {
  const { text } = useApp();
  return (
    <div class="report-tools">
      <a class="button button--quiet back-link" href={`/recordings/${sessionId}`}>
        {'\u2190'} {text.history.compare.back}
      </a>
      <button type="button" class="button button--primary" disabled={!isReady} onClick={() => print()}>
        {text.history.report.print}
      </button>
    </div>
  );
}
