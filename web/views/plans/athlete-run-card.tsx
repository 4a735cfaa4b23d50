// One athlete's part of a running plan: alarms and readings, the large state, suggestions, a few big buttons.

import { type ReadonlySignal, useComputed } from '@preact/signals';
import { useRef } from 'preact/hooks';
import type { PlanRunEvent } from '../../../shared/plan-run.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { Suggestion } from '../../../src/plans/suggest-adjustments.ts';
import { useApp } from '../../app/app-context.ts';
import { lastHoldThatIsOver } from '../../components/hold-feeling.tsx';
import { useReading } from '../../components/use-reading.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import type { PlanRunFollower } from '../../state/plan-run-follower.ts';
import { AthleteRunButtons } from './athlete-run-buttons.tsx';
import {
  type AthleteRunEvent,
  alarmedText,
  athleteRunChoices,
  athleteRunOf,
  countdownText,
  nextText,
  phaseText,
} from './athlete-run-text.ts';

/** A computed value that stays the same object while it is equal: a run is told ten times a second. */
export function useUnchanged<Value>(compute: () => Value): ReadonlySignal<Value> {
  const last = useRef<{ readonly value: Value; readonly text: string } | null>(null);
  return useComputed(() => {
    const value = compute();
    const text = JSON.stringify(value);
    if (last.current?.text !== text) last.current = { value, text };
    return last.current.value;
  });
}

export function AthleteRunCard(props: {
  readonly athleteId: string;
  readonly name: string;
  readonly follower: PlanRunFollower;
  readonly mayAct: boolean;
  readonly tap: (event: PlanRunEvent) => Promise<void>;
}) {
  const { text, say, hub, commands } = useApp();
  const words = text.plans;
  const { athleteId, follower, tap } = props;
  const model = hub.recording.value ? hub.athleteById(athleteId) : undefined;
  const athleteRun = useComputed(() => athleteRunOf(follower.state.value, athleteId));
  const athleteRunText = useComputed(
    () =>
      alarmedText(athleteRun.value?.phase, model?.alarms.value ?? [], words) ??
      phaseText(athleteRun.value, words),
  );
  const next = useComputed(() =>
    athleteRun.value === undefined ? '' : nextText(athleteRun.value, words, say),
  );
  const countdown = useComputed(() =>
    athleteRun.value === undefined ? '' : countdownText(athleteRun.value, follower.state.value?.nowMs ?? 0),
  );
  const choices = useUnchanged(() =>
    athleteRun.value === undefined ? null : athleteRunChoices(athleteRun.value),
  ).value;
  const own = (event: AthleteRunEvent) => void tap({ ...event, atMs: monotonicMs(0), athleteId });
  const sayComfort = (comfort: number) => {
    own({ type: 'comfort', comfort });
    // The recording's hold is told too, where there is one: review and advice read it there.
    const hold = lastHoldThatIsOver(model?.holds.value ?? []);
    if (hold !== null)
      commands.rateHold(athleteId, hold.holdId, { comfort, note: hold.feeling?.note ?? null });
  };
  const suggestions = follower.suggestions.value.filter((suggestion) => suggestion.athleteId === athleteId);
  return (
    <section class={`athlete-run athlete-run--${choices?.phase ?? 'waiting'}`} aria-label={props.name}>
      <h2>{props.name}</h2>
      {model === undefined ? null : <AthleteRunWatch model={model} />}
      <p class="athlete-run-phase" aria-live="polite">
        {athleteRunText}
      </p>
      <p class="athlete-run-next">{next}</p>
      <p class="athlete-run-clock" aria-live="off">
        {countdown}
      </p>
      {suggestions.map((suggestion) => (
        <SuggestionCard
          key={suggestion.suggestionId}
          suggestion={suggestion}
          mayAct={props.mayAct}
          own={own}
        />
      ))}
      {!props.mayAct || choices === null ? null : (
        <AthleteRunButtons choices={choices} own={own} sayComfort={sayComfort} />
      )}
    </section>
  );
}

/** Readings come first on this page too: whoever runs a plan here may look at nothing else. Alarms are the frame's. */
function AthleteRunWatch({ model }: { readonly model: AthleteModel }) {
  const { text } = useApp();
  const spo2 = useReading(model, 'spo2');
  const heartRate = useReading(model, 'heartRate');
  return (
    <>
      <dl class="athlete-run-readings">
        <div class={spo2.className}>
          <dt>{text.readout.spo2}</dt>
          <dd>
            {spo2.number} {text.unitPercent} <small class="reading-note">{spo2.note}</small>
          </dd>
        </div>
        <div class={heartRate.className}>
          <dt>{text.readout.heartRate}</dt>
          <dd>
            {heartRate.number} {text.unitBpm} <small class="reading-note">{heartRate.note}</small>
          </dd>
        </div>
      </dl>
      <a class="button button--quiet athlete-run-live" href={`/live/${model.athleteId}`}>
        {text.setup.openLive}
      </a>
    </>
  );
}

function SuggestionCard(props: {
  readonly suggestion: Suggestion;
  readonly mayAct: boolean;
  readonly own: (event: AthleteRunEvent) => void;
}) {
  const { text, say } = useApp();
  const words = text.plans;
  const { text: what, reason, change } = props.suggestion;
  return (
    <div class="notice plan-suggestion" role="status">
      <p>
        <strong>{say(what)}</strong> {say(reason)}
      </p>
      {!props.mayAct ? null : change === null ? (
        <button type="button" class="button button--primary" onClick={() => props.own({ type: 'end' })}>
          {words.endNow}
        </button>
      ) : (
        <button type="button" class="button" onClick={() => props.own({ type: 'change', change })}>
          {words.apply}
        </button>
      )}
    </div>
  );
}
