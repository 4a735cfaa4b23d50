// Cues of a running plan on the screen: the last one in words with a soft flash, and by which means they are given.

import { type ReadonlySignal, type Signal, useComputed } from '@preact/signals';
import { useRef } from 'preact/hooks';
import { monotonicMs } from '../../../shared/units.ts';
import { type Cue, cueDefinitions } from '../../../src/plans/cue.ts';
import { useApp } from '../../app/app-context.ts';
import type { CuePlayer } from '../../audio/cue-player.ts';
import { Tick } from '../../components/tick.tsx';
import type { CuePreferences } from '../../state/cue-preferences.ts';

const flashMs = 1_200;
/** A cue's words stay this long: an old one would say something that is no longer so. */
const cueShownMs = 12_000;

/** The last cue in words, and a soft flash of its frame for those who hear neither tones nor speech. */
export function CueFlash(props: {
  readonly cue: ReadonlySignal<Cue | null>;
  readonly on: ReadonlySignal<boolean>;
  readonly nowMs: ReadonlySignal<number>;
}) {
  const { say } = useApp();
  const shownAtMs = useRef<{ cue: Cue; atMs: number } | null>(null);
  const cue = props.cue.value;
  if (cue !== null && shownAtMs.current?.cue !== cue) shownAtMs.current = { cue, atMs: props.nowMs.peek() };
  const flashing = useComputed(
    () =>
      props.on.value &&
      cue !== null &&
      cueDefinitions[cue.kind].flash &&
      props.nowMs.value - (shownAtMs.current?.atMs ?? 0) < flashMs,
  );
  const shown = useComputed(
    () => cue !== null && props.nowMs.value - (shownAtMs.current?.atMs ?? 0) < cueShownMs,
  );
  return (
    <p class={`plan-cue${flashing.value ? ' is-flashing' : ''}`} aria-live="polite">
      {cue === null || !shown.value
        ? ''
        : cue.secondsLeft === undefined
          ? say(cueDefinitions[cue.kind].said)
          : String(cue.secondsLeft)}
    </p>
  );
}

export function CueSettings(props: {
  readonly player: CuePlayer;
  readonly preferences: CuePreferences;
  readonly cue: Signal<Cue | null>;
}) {
  const { text } = useApp();
  const words = text.plans;
  const { player, preferences } = props;
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
