// A running plan, made for hands-free use: one large state a person can see from the mat, cues, and a few big buttons.

import { type ReadonlySignal, useComputed, useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { PlanRunEvent } from '../../../shared/plan-run.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { AlarmView } from '../../../shared/views.ts';
import { clockText } from '../../../src/plans/clock-text.ts';
import { type Cue, cueDefinitions } from '../../../src/plans/cue.ts';
import type { Lane, PlanRunState } from '../../../src/plans/plan-run-state.ts';
import type { Suggestion } from '../../../src/plans/suggest-adjustments.ts';
import { CuePlayer } from '../../audio/cue-player.ts';
import { AlarmBanner } from '../../components/alarm-banner.tsx';
import { lastHoldThatIsOver } from '../../components/hold-feeling.tsx';
import { SoundCheck } from '../../components/sound-check.tsx';
import { useReading } from '../../components/use-reading.ts';
import type { Messages } from '../../i18n/en.ts';
import { useApp } from '../../shell/app-context.ts';
import { useDocumentTitle } from '../../shell/use-document-title.ts';
import { WakeLock } from '../../shell/wake-lock.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { CuePreferences } from '../../state/cue-preferences.ts';
import type { PlanRunFollower } from '../../state/plan-run-follower.ts';
import { PlannedBesideActualTable } from './planned-beside-actual-table.tsx';

export function PlanRunView() {
  const { text, http, hub, planRun: follower } = useApp();
  const words = text.plans;
  useDocumentTitle(words.run);
  const names = useSignal<ReadonlyMap<string, string>>(new Map());
  const lastCue = useSignal<Cue | null>(null);
  const refusal = useSignal<string | null>(null);
  const parts = useRef<{ player: CuePlayer; preferences: CuePreferences } | null>(null);
  if (parts.current === null) {
    const preferences = new CuePreferences(localStorage);
    const player = new CuePlayer(preferences, (kind) => http.spokenCue(kind));
    parts.current = { player, preferences };
  }
  const { player, preferences } = parts.current;
  useEffect(() => {
    const stop = follower.onCue((cue) => {
      const shown = follower.shownAthleteIds.value;
      if (shown !== null && cue.athleteId !== null && !shown.includes(cue.athleteId)) return;
      lastCue.value = cue;
      const several = (shown ?? follower.run.value?.options.athletes ?? []).length > 1;
      player.play(
        cue.kind,
        several && cue.athleteId !== null ? (names.value.get(cue.athleteId) ?? null) : null,
      );
    });
    void http.athletes().then((answer) => {
      if (answer.ok) names.value = new Map(answer.value.athletes.map((one) => [one.athleteId, one.name]));
    });
    const wakeLock = new WakeLock();
    wakeLock.keepAwake(true);
    const unlock = () => player.unlock();
    addEventListener('pointerdown', unlock, { capture: true });
    addEventListener('keydown', unlock, { capture: true });
    return () => {
      stop();
      wakeLock.keepAwake(false);
      removeEventListener('pointerdown', unlock, { capture: true });
      removeEventListener('keydown', unlock, { capture: true });
    };
  }, []);
  const tap = async (event: PlanRunEvent) => {
    const answer = await http.tapPlanRun(event);
    refusal.value = answer.ok ? null : words.refused(answer.reason);
  };
  const run = follower.run.value;
  if (!follower.loaded.value) return <p class="sheet hint">{words.loading}</p>;
  if (run === null)
    return (
      <section class="sheet sheet--centred">
        <h1 class="quiet-title">{words.noRun}</h1>
        <a class="button" href="/plans">
          {words.toPlans}
        </a>
      </section>
    );
  const shownAthleteIds = follower.shownAthleteIds.value;
  const athleteIds = shownAthleteIds ?? run.options.athletes.map(({ athleteId }) => athleteId);
  return (
    <article class="sheet sheet--wide plan-run">
      <h1>{run.plan.title}</h1>
      <CueFlash cue={lastCue} on={preferences.flash} nowMs={hub.pageNowMs} />
      {refusal.value === null ? null : (
        <p class="notice notice--strong" role="status">
          {refusal.value}
        </p>
      )}
      {hub.recording.value ? <SoundCheck brief /> : null}
      <div class="plan-lanes">
        {athleteIds.map((athleteId) => (
          <LaneCard
            key={athleteId}
            athleteId={athleteId}
            name={names.value.get(athleteId) ?? ''}
            follower={follower}
            mayAct={hub.mayAct.value && run.endedAtMs === null}
            tap={tap}
          />
        ))}
      </div>
      {run.endedAtMs !== null || !hub.mayAct.value || shownAthleteIds !== null ? null : (
        <WholeRunButtons follower={follower} tap={tap} />
      )}
      <CueSettings player={player} preferences={preferences} cue={lastCue} />
      <section class="step">
        <h2>{words.besideActual}</h2>
        {athleteIds.map((athleteId) => (
          <RunTable
            key={athleteId}
            state={follower.state}
            athleteId={athleteId}
            name={names.value.get(athleteId) ?? ''}
          />
        ))}
        {run.endedAtMs === null || shownAthleteIds !== null ? null : (
          <a class="button" href={`/plan-runs/${run.runId}`}>
            {words.openReview}
          </a>
        )}
      </section>
    </article>
  );
}

function RunTable(props: {
  readonly state: ReadonlySignal<PlanRunState | null>;
  readonly athleteId: string;
  readonly name: string;
}) {
  // The table changes with the records, not ten times a second.
  const lane = useComputed(() => {
    const found = props.state.value?.lanes.find((each) => each.athleteId === props.athleteId);
    return found === undefined ? null : JSON.stringify(found);
  });
  if (lane.value === null) return null;
  return <PlannedBesideActualTable lane={JSON.parse(lane.value) as Lane} name={props.name} />;
}

const laneOf = (state: PlanRunState | null, athleteId: string): Lane | undefined =>
  state?.lanes.find((lane) => lane.athleteId === athleteId);

function phaseText(lane: Lane | undefined, words: Messages['plans']): string {
  if (lane === undefined) return words.loading;
  if (lane.pausedAtMs !== null && lane.current === null) return words.phases.paused;
  const step = lane.records.at(-1)?.stepIndex;
  const effort = step === null || step === undefined ? 'hold' : lane.steps[step]?.effort;
  switch (lane.phase) {
    case 'waiting':
      if (lane.plannedStartAtMs === null) return words.phases.waitingForReady;
      return lane.lastEndAtMs === null ? words.phases.waitingFirst : words.phases.waiting;
    case 'open':
      return words.phases.open;
    case 'holding':
      return effort === 'swim' ? words.phases.swimming : words.phases.holding;
    default:
      return words.phases[lane.phase];
  }
}

/** A plan's words never speak against an alarm that asks to stop. Undefined where none stands. */
export function alarmedText(
  phase: Lane['phase'] | undefined,
  alarms: readonly Pick<AlarmView, 'kind' | 'priority' | 'conditionPresent'>[],
  words: Pick<Messages['plans'], 'phases'>,
): string | undefined {
  const asksToStop = alarms.some(
    ({ kind, priority, conditionPresent }) =>
      conditionPresent && (priority === 'high' || kind === 'floorForecast'),
  );
  if (!asksToStop) return undefined;
  if (phase === 'holding') return words.phases.breatheNow;
  return phase === 'open' || phase === 'free' ? words.phases.alarmFirst : undefined;
}

function LaneCard(props: {
  readonly athleteId: string;
  readonly name: string;
  readonly follower: PlanRunFollower;
  readonly mayAct: boolean;
  readonly tap: (event: PlanRunEvent) => Promise<void>;
}) {
  const { text, hub, commands } = useApp();
  const words = text.plans;
  const { athleteId, follower, tap } = props;
  const model = hub.recording.value ? hub.athleteById(athleteId) : undefined;
  const laneText = useComputed(() => {
    const lane = laneOf(follower.state.value, athleteId);
    return alarmedText(lane?.phase, model?.alarms.value ?? [], words) ?? phaseText(lane, words);
  });
  const phase = useComputed(() => laneOf(follower.state.value, athleteId)?.phase ?? 'waiting');
  const next = useComputed(() => {
    const state = follower.state.value;
    const lane = laneOf(state, athleteId);
    if (state === null || lane === undefined) return '';
    if (lane.phase === 'ended') return lane.endReason === null ? '' : words.endReason[lane.endReason];
    if (lane.phase === 'holding') {
      const record = lane.records.at(-1);
      const step =
        record?.stepIndex === null || record === undefined ? undefined : lane.steps[record.stepIndex];
      const assumed = record?.startSource === 'assumed' ? ` \u00b7 ${words.assumedNow}` : '';
      const laps =
        step?.poolLengthMeters === null || step === undefined
          ? ''
          : ` \u00b7 ${words.lapCount(record?.lapsAtMs.length ?? 0, `${(record?.lapsAtMs.length ?? 0) * step.poolLengthMeters}\u202fm`)}`;
      return `${step?.label ?? ''}${assumed}${laps}`;
    }
    const label = lane.steps[lane.nextIndex]?.label ?? '';
    if (lane.phase === 'waiting' && lane.plannedStartAtMs === null)
      return words.nextStartWaits(label, lane.waitedFor.map((why) => words.wait[why]).join(', '));
    return lane.phase === 'waiting' ? words.nextStart(label) : '';
  });
  const countdown = useComputed(() => {
    const state = follower.state.value;
    const lane = laneOf(state, athleteId);
    if (
      state === null ||
      lane?.phase !== 'waiting' ||
      lane.plannedStartAtMs === null ||
      lane.pausedAtMs !== null
    )
      return '';
    return clockText(Math.ceil((lane.plannedStartAtMs - state.nowMs) / 1_000) * 1_000);
  });
  const own = <Event extends { type: PlanRunEvent['type'] }>(event: Event) =>
    void tap({ atMs: monotonicMs(0), athleteId, ...event } as unknown as PlanRunEvent);
  const buttons = useComputed(() => {
    const lane = laneOf(follower.state.value, athleteId);
    const record = lane?.records.at(-1);
    const step =
      record?.stepIndex === null || record === undefined ? undefined : lane?.steps[record.stepIndex];
    return JSON.stringify({
      phase: lane?.phase,
      notReady: lane?.notReady === true,
      laps: lane?.current !== null && step?.poolLengthMeters !== null && step !== undefined,
      comfort: lane?.current === null && record?.endedAtMs !== null && record?.comfort === null,
      more: lane !== undefined && lane.nextIndex < lane.steps.length,
    });
  });
  const show = JSON.parse(buttons.value) as {
    phase?: Lane['phase'];
    notReady: boolean;
    laps: boolean;
    comfort: boolean;
    more: boolean;
  };
  const sayComfort = (comfort: number) => {
    own({ type: 'comfort', comfort });
    // The recording's hold is told too, where there is one: review and advice read it there.
    const hold = lastHoldThatIsOver(model?.holds.value ?? []);
    if (hold !== null)
      commands.rateHold(athleteId, hold.holdId, { comfort, note: hold.feeling?.note ?? null });
  };
  const suggestions = follower.suggestions.value.filter((suggestion) => suggestion.athleteId === athleteId);
  const holdId = 'tap';
  return (
    <section class={`plan-lane plan-lane--${phase.value}`} aria-label={props.name}>
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
          tap={tap}
        />
      ))}
      {!props.mayAct ? null : (
        <div class="plan-lane-buttons">
          {show.phase === 'open' || show.phase === 'free' || show.phase === 'waiting' ? (
            <button
              type="button"
              class={`button${show.phase === 'open' ? ' button--primary' : ''}`}
              onClick={() => own({ type: 'holdStarted', holdId, startedAtMs: 0, source: 'mark' })}
            >
              {words.began}
            </button>
          ) : null}
          {show.phase === 'holding' ? (
            <button
              type="button"
              class="button button--primary plan-lane-big"
              onClick={() =>
                own({
                  type: 'holdEnded',
                  holdId: null,
                  endedAtMs: 0,
                  source: 'mark',
                  lowestSpo2Percent: null,
                  floorSpo2Percent: null,
                })
              }
            >
              {words.breathing}
            </button>
          ) : null}
          {show.laps ? (
            <button
              type="button"
              class="button button--primary plan-lane-big"
              onClick={() => own({ type: 'lap' })}
            >
              {words.lap}
            </button>
          ) : null}
          {show.phase === 'waiting' || show.phase === 'open' ? (
            <button
              type="button"
              class="button"
              onClick={() => own({ type: show.notReady ? 'ready' : 'notReady' })}
            >
              {show.notReady ? words.ready : words.notReady}
            </button>
          ) : null}
          {show.phase === 'holding' || show.phase === 'open' ? (
            <button type="button" class="button" onClick={() => own({ type: 'abort' })}>
              {words.callOff}
            </button>
          ) : null}
          {show.phase === 'stopped' ? (
            <button
              type="button"
              class="button button--quiet"
              onClick={() => own({ type: 'continueAfterAbort' })}
            >
              {words.goOn}
            </button>
          ) : null}
          {show.phase === 'ended' || show.phase === 'stopped' ? null : (
            <details class="explain plan-lane-more">
              <summary>{words.moreChoices}</summary>
              <div class="button-row">
                {show.more ? (
                  <button type="button" class="button" onClick={() => own({ type: 'skip' })}>
                    {words.skip}
                  </button>
                ) : null}
                {show.phase === 'free' ? null : (
                  <button
                    type="button"
                    class="button"
                    onClick={() => own({ type: 'add', ceilingMs: null, recoveryMs: 120_000 })}
                  >
                    {words.add}
                  </button>
                )}
              </div>
            </details>
          )}
        </div>
      )}
      {!props.mayAct || !show.comfort ? null : (
        <fieldset class="plan-comfort">
          <legend>{words.comfort}</legend>
          {words.comfortScale.map((word, index) => (
            <button
              type="button"
              class="button"
              key={word}
              title={word}
              aria-label={`${index + 1}: ${word}`}
              onClick={() => sayComfort(index + 1)}
            >
              {index + 1}
            </button>
          ))}
        </fieldset>
      )}
    </section>
  );
}

/** Alarms and readings come first on this page too: whoever runs a plan here may look at nothing else. */
function LaneWatch({ model }: { readonly model: AthleteModel }) {
  const { text } = useApp();
  const spo2 = useReading(model, 'spo2');
  const heartRate = useReading(model, 'heartRate');
  return (
    <>
      <AlarmBanner model={model} named />
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
  readonly own: (event: { type: PlanRunEvent['type'] }) => void;
  readonly tap: (event: PlanRunEvent) => Promise<void>;
}) {
  const { text } = useApp();
  const words = text.plans;
  const { suggestion } = props;
  return (
    <div class="notice plan-suggestion" role="status">
      <p>
        <strong>{suggestion.text}</strong> {suggestion.reason}
      </p>
      {!props.mayAct ? null : suggestion.change === null ? (
        <button
          type="button"
          class="button button--primary"
          onClick={() =>
            void props.tap({ type: 'end', atMs: monotonicMs(0), athleteId: suggestion.athleteId })
          }
        >
          {words.endNow}
        </button>
      ) : (
        <button
          type="button"
          class="button"
          onClick={() => props.own({ type: 'change', change: suggestion.change } as { type: 'change' })}
        >
          {words.apply}
        </button>
      )}
    </div>
  );
}

function WholeRunButtons(props: {
  readonly follower: PlanRunFollower;
  readonly tap: (event: PlanRunEvent) => Promise<void>;
}) {
  const { text } = useApp();
  const words = text.plans;
  const paused = useComputed(
    () => props.follower.state.value?.lanes.some((lane) => lane.pausedAtMs !== null) ?? false,
  );
  const all = (type: 'pause' | 'resume' | 'end') =>
    void props.tap({ type, atMs: monotonicMs(0), athleteId: null });
  return (
    <div class="button-row">
      <button type="button" class="button" onClick={() => all(paused.value ? 'resume' : 'pause')}>
        {paused.value ? words.resume : words.pause}
      </button>
      <button type="button" class="button" onClick={() => all('end')}>
        {words.end}
      </button>
    </div>
  );
}

const flashMs = 1_200;
/** A cue's words stay this long: an old one would say something that is no longer so. */
const cueShownMs = 12_000;

/** The last cue in words, and a soft flash of its frame for those who hear neither tones nor speech. */
function CueFlash(props: {
  readonly cue: ReadonlySignal<Cue | null>;
  readonly on: ReadonlySignal<boolean>;
  readonly nowMs: ReadonlySignal<number>;
}) {
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
          ? cueDefinitions[cue.kind].text
          : String(cue.secondsLeft)}
    </p>
  );
}

function CueSettings(props: {
  readonly player: CuePlayer;
  readonly preferences: CuePreferences;
  readonly cue: { value: Cue | null };
}) {
  const { text } = useApp();
  const words = text.plans;
  const { player, preferences } = props;
  const tick = (label: string, on: { value: boolean }) => (
    <label class="tick">
      <input
        type="checkbox"
        checked={on.value}
        onChange={(event) => {
          on.value = event.currentTarget.checked;
        }}
      />
      <span>{label}</span>
    </label>
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
