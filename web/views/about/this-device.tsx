// What this browser lets the page do while nobody looks or the hub is gone: one row a matter, with the button that changes it.

import type { ComponentChildren } from 'preact';
import { useApp } from '../../app/app-context.ts';
import { SpokenAlarmsField } from '../../components/spoken-alarms-field.tsx';
import './this-device.css';

export function ThisDevice() {
  const { text, offlineShell, installing, alarmNotification, wakeLock } = useApp();
  const words = text.device;
  const kept = offlineShell.state.value;
  const installed = installing.state.value;
  const notices = alarmNotification.state.value;
  const canVibrate = 'vibrate' in navigator;
  return (
    <section id="this-device">
      <h2>{words.title}</h2>
      <p>{words.intro}</p>
      <dl class="this-device">
        <Row label={words.offline.label}>{words.offline[kept]}</Row>
        <Row label={words.install.label}>
          {words.install[installed]}
          {installed === 'offered' ? (
            <button type="button" class="button" onClick={() => void installing.install()}>
              {words.install.button}
            </button>
          ) : null}
        </Row>
        <Row label={words.notices.label}>
          {notices === 'granted' && kept === 'refused' ? words.notices.notKept : words.notices[notices]}
          {notices === 'default' ? (
            <button type="button" class="button" onClick={() => void alarmNotification.ask()}>
              {words.notices.button}
            </button>
          ) : null}
        </Row>
        <Row label={words.screen.label}>
          {wakeLock.refused.value || !('wakeLock' in navigator) ? words.screen.refused : words.screen.on}
        </Row>
        <Row label={words.vibration.label}>{canVibrate ? words.vibration.yes : words.vibration.no}</Row>
      </dl>
      <SpokenAlarmsField />
    </section>
  );
}

function Row({ label, children }: { readonly label: string; readonly children: ComponentChildren }) {
  return (
    <div>
      <dt>{label}</dt>
      <dd>{children}</dd>
    </div>
  );
}
