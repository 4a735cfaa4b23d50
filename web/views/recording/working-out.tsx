// What of a recording has still to be worked out: asked for when it is shown, dropped when the page is left, with how
// far it has come.

import { useSignal } from '@preact/signals';
import type { ComponentChild } from 'preact';
import { useEffect } from 'preact/hooks';
import type { AthleteRecording } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';

const lookEveryMs = 300;

/** A notice while it lasts, or why it failed; null when there is nothing to say. */
export function useWorkingOut(
  sessionId: string,
  athlete: AthleteRecording,
  onWorkedOut: (athlete: AthleteRecording) => void,
): ComponentChild {
  const { text, http, timers } = useApp();
  const words = text.recording;
  const share = useSignal<number | null>(null);
  const problem = useSignal<string | null>(null);
  const attempt = useSignal(0);
  const { athleteId } = athlete.athlete;
  useEffect(() => {
    if (athlete.workedOut) return undefined;
    problem.value = null;
    const leave = new AbortController();
    const stopLooking = timers.every(lookEveryMs, () => {
      void http.recordingProgress(sessionId, athleteId).then((answer) => {
        if (answer.ok && !leave.signal.aborted) share.value = answer.value.share;
      });
    });
    void http.athleteRecording(sessionId, athleteId, leave.signal).then((answer) => {
      stopLooking();
      if (leave.signal.aborted) return;
      if (answer.ok) onWorkedOut(answer.value);
      else problem.value = words.workingOutFailed(answer.reason);
    });
    return () => {
      stopLooking();
      leave.abort();
    };
  }, [sessionId, athleteId, athlete.workedOut, attempt.value]);
  if (athlete.workedOut) return null;
  if (problem.value !== null)
    return (
      <ProblemNotice
        problem={problem.value}
        onAgain={() => {
          attempt.value += 1;
        }}
      />
    );
  return (
    <p class="notice working-out" role="status">
      {words.workingOut}{' '}
      {share.value === null ? (
        <progress aria-label={words.workingOutLabel} />
      ) : (
        <progress aria-label={words.workingOutLabel} max={1} value={share.value} />
      )}
    </p>
  );
}
