// By which means the cues of a running plan are given on this page: tones, speech, a soft flash, how loud.

import type { Signal } from '@preact/signals';
import { monotonicMs } from '../../../shared/units.ts';
import type { Cue } from '../../../src/plans/cue.ts';
import { useApp } from '../../app/app-context.ts';
import type { CuePlayer } from '../../audio/cue-player.ts';
import { Tick } from '../../components/tick.tsx';
import type { CuePreferences } from '../../state/cue-preferences.ts';

export function CueSettings(props: {
  readonly player: CuePlayer;
  readonly preferences: CuePreferences;
  readonly cue: Signal<Cue | null>;
}) {
  const { text, hub, planCues } = useApp();
  const words = text.plans;
  const { player, preferences } = props;
  const { speaking } = planCues;
  const tick = (label: string, on: Signal<boolean>) => (
    <Tick checked={on.value} onChange={(isOn) => (on.value = isOn)}>
      {label}
    </Tick>
  );
  return (
    <details class="explain">
      <summary>{words.cues}</summary>
      <div class="plan-cue-settings">
        {tick(words.tones, preferences.tones)}
        {tick(words.speech, preferences.speech)}
        {tick(words.flash, preferences.flash)}
        {tick(text.course.cues.names, preferences.names)}
        <Tick checked={speaking.where.value === 'here'} onChange={(takes) => speaking.set(takes)}>
          {text.course.cues.here}
        </Tick>
        {speaking.where.value === 'elsewhere' ? (
          <p class="hint">{text.course.cues.elsewhere(hub.cueSpeaker.value?.device ?? '')}</p>
        ) : null}
        <label class="field">
          <span>{words.volume}</span>
          <input
            type="range"
            min={0}
            max={1}
            step={0.05}
            value={preferences.volume.value}
            onInput={(event) => {
              preferences.volume.value = Number(event.currentTarget.value);
            }}
          />
        </label>
        <button
          type="button"
          class="button"
          onClick={() => {
            player.unlock();
            props.cue.value = { atMs: monotonicMs(0), athleteId: null, kind: 'prepare' };
            player.play('prepare', null);
          }}
        >
          {words.tryCue}
        </button>
        {player.canSpeak ? null : <p class="hint">{words.noVoice}</p>}
      </div>
    </details>
  );
}
