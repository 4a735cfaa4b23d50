// Whether this device says whose alarm calls, with a way to hear it beforehand, which also lets the browser speak later.

import { useSignal } from '@preact/signals';
import { useApp } from '../app/app-context.ts';
import { ChoiceField } from './choice-field.tsx';

export function SpokenAlarmsField() {
  const { text, preferences, language } = useApp();
  const words = text.spokenAlarms;
  const mute = useSignal(false);
  const chosen = preferences.spokenAlarms;
  const trial = () => {
    const voices = typeof speechSynthesis === 'undefined' ? [] : speechSynthesis.getVoices();
    mute.value = voices.length === 0;
    if (mute.value) return;
    const spoken = new SpeechSynthesisUtterance(
      chosen.value === 'places' ? words.trialPlace : words.trialName,
    );
    spoken.lang = language.language.value;
    speechSynthesis.cancel();
    speechSynthesis.speak(spoken);
  };
  return (
    <div class="spoken-alarms">
      <ChoiceField
        label={words.label}
        value={chosen.value}
        choices={(['off', 'names', 'places'] as const).map((each) => [each, words.choice[each]])}
        onChange={(choice) => (chosen.value = choice)}
      />
      {chosen.value === 'off' ? null : (
        <>
          <p class="hint">{words.hint}</p>
          <button type="button" class="button" onClick={trial}>
            {words.trial}
          </button>
          {mute.value ? <p class="problem">{words.noVoice}</p> : null}
        </>
      )}
    </div>
  );
}
