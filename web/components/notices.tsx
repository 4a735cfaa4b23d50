// What went wrong or was left out, in plain sentences: refusals, skipped updates, misunderstood messages.

import { useLayoutEffect, useRef } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';
import { UnsavedNotices } from './unsaved-notices.tsx';

/** What an alarm of the watching says already, with its cause, is not said a second time. */
const saidByAlarm: ReadonlySet<string> = new Set(['notice.notSaved', 'notice.recordingFails']);

export function Notices() {
  const { text, say, hub, wakeLock } = useApp();
  const { value: malformed } = hub.malformed;
  const element = useRef<HTMLDivElement>(null);
  // Where a view leaves them little room they scroll, by the keyboard too.
  useLayoutEffect(() => {
    const target = element.current!;
    if (target.scrollHeight > target.clientHeight + 1) target.tabIndex = 0;
    else target.removeAttribute('tabindex');
  });
  const isAlarmed = hub.watching.value.some(({ kind }) => kind === 'recordingFails');
  const notices = hub.notices.value.filter(({ code }) => !(isAlarmed && saidByAlarm.has(code)));
  return (
    <div class="notices" role="status" ref={element}>
      {hub.refusals.value.map((refusal) => (
        <p class="notice notice--strong" key={refusal.number}>
          {say(refusal.said)}
          <button type="button" class="button" onClick={() => hub.dismissRefusal(refusal.number)}>
            {text.dismiss}
          </button>
        </p>
      ))}
      <UnsavedNotices />
      {hub.interruptedSessionId.value === null || hub.watching.value.length > 0 ? null : (
        <p class="notice notice--strong">
          {text.sessionInterrupted}
          <a class="button" href={`/recordings/${hub.interruptedSessionId.value}`}>
            {text.sessionInterruptedLink}
          </a>
        </p>
      )}
      {wakeLock.refused.value ? <p class="notice">{text.device.screen.notice}</p> : null}
      {hub.lostMarkCount.value === 0 ? null : <p class="notice">{text.lostMarks(hub.lostMarkCount.value)}</p>}
      {notices.map((notice) => (
        <p class="notice" key={JSON.stringify(notice)}>
          {say(notice)}
        </p>
      ))}
      {malformed === null ? null : (
        <p class="notice">{text.malformed(malformed.count, malformed.lastReason)}</p>
      )}
      {hub.setAside.value.length === 0 ? null : (
        <p class="notice">{text.setAside(hub.setAside.value.length, hub.setAside.value.at(-1) ?? '')}</p>
      )}
      {hub.decimatedCount.value === 0 ? null : (
        <p class="notice">{text.decimated(hub.decimatedCount.value)}</p>
      )}
    </div>
  );
}
