// The page's own alarm: the hub has fallen silent during a session, so nothing on this page can be trusted to be now.

import { useComputed } from '@preact/signals';
import { useApp } from '../app/app-context.ts';
import { Beacon } from './beacon.tsx';
import './alarm.css';

export function PageAlarm() {
  const { text, hub, timers } = useApp();
  const words = text.pageAlarm;
  const silentSeconds = useComputed(() => {
    const since = hub.silentSincePageMs.value;
    // The watchdog speaks two seconds after the last message.
    return since === null ? 0 : Math.max(2, Math.floor((hub.pageNowMs.value - since) / 1000) + 2);
  });
  const paused = useComputed(() => hub.pageNowMs.value < hub.pageAlarmPausedUntilMs.value);
  const link = hub.link.value;
  const final = link === 'wrongVersion' || link === 'refused';
  return (
    <div role="alert">
      {hub.pageAlarm.value ? (
        <section class="alarm alarm--high">
          <Beacon priority="high" still={false} />
          <div class="alarm-words">
            <h2 class="alarm-title">{words.title}</h2>
            <p class="alarm-instruction">{words.instruction}</p>
            <p class="alarm-message" aria-live="off">
              {hub.onlyRemembers.value ? `${text.device.rememberedOnly(hub.rememberedTitle)} ` : null}
              {words.since(silentSeconds.value)}{' '}
              {link === 'wrongVersion'
                ? words.wrongVersion
                : link === 'refused'
                  ? words.refused
                  : words.trying}
            </p>
          </div>
          <div class="alarm-actions">
            <button
              type="button"
              class="button alarm-button"
              disabled={paused.value}
              onClick={() => hub.pausePageAlarm(timers.nowMs())}
            >
              {paused.value ? words.paused : words.pause}
            </button>
            {hub.onlyRemembers.value ? (
              <button type="button" class="button alarm-button" onClick={() => hub.forgetRemembered()}>
                {text.device.sessionOver}
              </button>
            ) : null}
            {final ? (
              <button type="button" class="button alarm-button" onClick={() => location.reload()}>
                {words.reload}
              </button>
            ) : null}
          </div>
        </section>
      ) : link === 'wrongVersion' ? (
        <p class="notice notice--strong">
          {words.wrongVersion}
          <button type="button" class="button" onClick={() => location.reload()}>
            {words.reload}
          </button>
        </p>
      ) : link === 'silent' ? (
        <p class="notice notice--strong">
          {text.hubSilentNoSession}
          <a class="button" href="/help/alarms#hubSilent">
            {text.help.toHubSilent}
          </a>
        </p>
      ) : null}
    </div>
  );
}
