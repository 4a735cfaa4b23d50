// One athlete's lane of a running plan: alarms and readings, the large state, suggestions, a few big buttons.

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
import { LaneButtons } from './lane-buttons.tsx';
import {
  alarmedText,
  countdownText,
  type LaneEvent,
  laneChoices,
  laneOf,
  nextText,
  phaseText,
} from './lane-text.ts';

/** A computed value that stays the same object while it is equal: a lane is told ten times a second. */
export function useUnchanged<Value>(compute: () => Value): ReadonlySignal<Value> {
  const last = useRef<{ readonly value: Value; readonly text: string } | null>(null);
  return useComputed(() => {
    const value = compute();
    const text = JSON.stringify(value);
    if (last.current?.text !== text) last.current = { value, text };
    return last.current.value;
  });
}

export function LaneCard(props: {
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
  const lane = useComputed(() => laneOf(follower.state.value, athleteId));
  const laneText = useComputed(
    () => alarmedText(lane.value?.phase, model?.alarms.value ?? [], words) ?? phaseText(lane.value, words),
  );
  const next = useComputed(() => (lane.value === undefined ? '' : nextText(lane.value, words, say)));
  const countdown = useComputed(() =>
    lane.value === undefined ? '' : countdownText(lane.value, follower.state.value?.nowMs ?? 0),
  );
  const choices = useUnchanged(() => (lane.value === undefined ? null : laneChoices(lane.value))).value;
  const own = (event: LaneEvent) => void tap({ ...event, atMs: monotonicMs(0), athleteId });
  const sayComfort = (comfort: number) => {
    own({ type: 'comfort', comfort });
    // The recording's hold is told too, where there is one: review and advice read it there.
    const hold = lastHoldThatIsOver(model?.holds.value ?? []);
    if (hold !== null)
      commands.rateHold(athleteId, hold.holdId, { comfort, note: hold.feeling?.note ?? null });
  };
  const suggestions = follower.suggestions.value.filter((suggestion) => suggestion.athleteId === athleteId);
  return (
    <section class={`plan-lane plan-lane--${choices?.phase ?? 'waiting'}`} aria-label={props.name}>
      <h2>{props.name}</h2>
      {model === undefined ? null : <LaneWatch model={model} />}
      <p class="plan-lane-phase" aria-live="polite">
        {laneText}
      </p>
      <p class="plan-lane-next">{next}</p>
      <p class="plan-lane-clock" aria-live="off">
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
        <LaneButtons choices={choices} own={own} sayComfort={sayComfort} />
      )}
    </section>
  );
}

/** Readings come first on this page too: whoever runs a plan here may look at nothing else. Alarms are the frame's. */
function LaneWatch({ model }: { readonly model: AthleteModel }) {
  const { text } = useApp();
  const spo2 = useReading(model, 'spo2');
  const heartRate = useReading(model, 'heartRate');
  return (
    <>
      <dl class="plan-lane-readings">
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
      <a class="button button--quiet plan-lane-live" href={`/live/${model.athleteId}`}>
        {text.setup.openLive}
      </a>
    </>
  );
}

function SuggestionCard(props: {
  readonly suggestion: Suggestion;
  readonly mayAct: boolean;
  readonly own: (event: LaneEvent) => void;
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
