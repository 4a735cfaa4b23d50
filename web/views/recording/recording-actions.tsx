// What can be done with a recording: reports, files for other programs, deletion.

import { type Signal, useSignal } from '@preact/signals';
import type { RecordingBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';

export interface RecordingActionsProps {
  readonly recording: RecordingBody;
  readonly athleteId: string;
  readonly giving: Signal<boolean>;
  readonly deleting: Signal<boolean>;
}

export function RecordingActions({ recording, athleteId, giving, deleting }: RecordingActionsProps) {
  const { text, http, hub } = useApp();
  const words = text.recording;
  const { session, athletes } = recording;
  const isOpen = useSignal(false);
  const path = `/recordings/${session.sessionId}`;
  return (
    <div class="recording-actions">
      {athletes.length === 0 ? null : (
        <a class="button" href={`${path}/report/${athleteId}`}>
          {text.history.report.open}
        </a>
      )}
      {athletes.length > 1 ? (
        <a class="button" href={`${path}/report`}>
          {text.recorded.report.openCourse}
        </a>
      ) : null}
      <details
        class="explain recording-files"
        onToggle={(event) => {
          isOpen.value = event.currentTarget.open;
        }}
      >
        <summary>{text.recorded.files}</summary>
        {isOpen.value ? (
          <div class="recording-actions">
            {(['session', 'csv', 'measures', 'edf', 'fhir', 'parquet', 'wfdb'] as const).map((format) => (
              <a
                key={format}
                class="button"
                href={http.filePath(session.sessionId, athleteId, format)}
                download
                aria-label={words.download(words.fileFormats[format])}
              >
                <span class="file-format">{words.fileFormats[format]}</span>
              </a>
            ))}
            <button
              type="button"
              class="button"
              disabled={session.status === 'recording'}
              onClick={() => (giving.value = true)}
            >
              {text.extract.open}
            </button>
          </div>
        ) : null}
      </details>
      {hub.role.value === 'coach' ? (
        <button
          type="button"
          class="button"
          disabled={session.status === 'recording'}
          onClick={() => (deleting.value = true)}
        >
          {words.delete}
        </button>
      ) : null}
    </div>
  );
}
