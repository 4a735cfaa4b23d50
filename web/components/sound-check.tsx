// The sound check: unlocks audio by a gesture, plays an alarm burst, and asks whether it was heard.

import { useComputed, useSignal } from '@preact/signals';
import { useApp } from '../app/app-context.ts';
import './sound-check.css';

/** What the frame's own row offers already is not said again in the view. */
export function SoundCheckUnlessAlarmed() {
  const { hub } = useApp();
  const isAlarmed = useComputed(() =>
    hub.alarmEntries.value.some(
      (entry) => entry.type === 'athlete' && !entry.acknowledged && entry.first.kind === 'pageUnresponsive',
    ),
  );
  return isAlarmed.value ? null : <SoundCheck brief />;
}

export function SoundCheck({ brief, bare = false }: { readonly brief: boolean; readonly bare?: boolean }) {
  const { text, sounder, audioRunning, soundChecked } = useApp();
  const played = useSignal(false);
  const blocked = useSignal(false);
  const play = async () => {
    const running = await sounder.unlock();
    blocked.value = !running;
    played.value = running;
    if (running) sounder.sampleBurst('high');
  };
  const heard = () => {
    soundChecked.value = true;
  };
  const ready = soundChecked.value && audioRunning.value;
  if (brief && ready) return null;
  return (
    <div class={bare ? 'sound-check--bare' : brief ? 'sound-check sound-check--brief' : 'sound-check'}>
      <p class={bare ? 'visually-hidden' : ''}>
        {ready ? `\u2713 ${text.setup.soundReady}` : brief ? text.live.soundOff : text.setup.soundNotReady}
      </p>
      {blocked.value ? <p class="problem">{text.setup.soundBlocked}</p> : null}
      <button type="button" class="button" onClick={play}>
        {text.setup.playAlarm}
      </button>
      {played.value && !ready ? (
        <button type="button" class="button button--primary" onClick={heard}>
          {text.setup.heardIt}
        </button>
      ) : null}
    </div>
  );
}
