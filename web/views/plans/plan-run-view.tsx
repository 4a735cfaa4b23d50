// A running plan, made for hands-free use: one large state a person can see from the mat, cues, and a few big buttons.

import { type ReadonlySignal, type Signal, useComputed, useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { PlanRunEvent } from '../../../shared/plan-run.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { Cue } from '../../../src/plans/cue.ts';
import type { PlanRunState } from '../../../src/plans/plan-run-state.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { WakeLock } from '../../app/wake-lock.ts';
import { CuePlayer } from '../../audio/cue-player.ts';
import { SoundCheck } from '../../components/sound-check.tsx';
import { useAthleteNames } from '../../components/use-athletes.ts';
import { CuePreferences } from '../../state/cue-preferences.ts';
import type { PlanRunFollower } from '../../state/plan-run-follower.ts';
import { AthleteRunCard, useUnchanged } from './athlete-run-card.tsx';
import { athleteRunOf } from './athlete-run-text.ts';
import { CueFlash, CueSettings } from './cue-panel.tsx';
import { PlannedBesideActualTable } from './planned-beside-actual-table.tsx';
import './plans.css';

interface CueParts {
  readonly player: CuePlayer;
  readonly preferences: CuePreferences;
  readonly lastCue: Signal<Cue | null>;
}

/** Gives the run's cues while the view is there, and keeps the screen awake. `names` is by athlete. */
function useCues(names: ReadonlySignal<ReadonlyMap<string, string>>): CueParts {
  const { http, planRun: follower, say, language } = useApp();
  const lastCue = useSignal<Cue | null>(null);
  const parts = useRef<CueParts | null>(null);
  if (parts.current === null) {
    const preferences = new CuePreferences(localStorage);
    const player = new CuePlayer({
      preferences,
      language: language.language,
      say,
      fetchSpoken: (kind) => http.spokenCue(kind, language.language.peek()),
    });
    parts.current = { player, preferences, lastCue };
  }
  const { player } = parts.current;
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
  return parts.current;
}

export function PlanRunView() {
  const { text, http, hub, planRun: follower } = useApp();
  const words = text.plans;
  useDocumentTitle(words.run);
  const names = useAthleteNames();
  const { player, preferences, lastCue } = useCues(names);
  const refusal = useSignal<string | null>(null);
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
      <div class="athlete-runs">
        {athleteIds.map((athleteId) => (
          <AthleteRunCard
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
  const athleteRun = useUnchanged(() => athleteRunOf(props.state.value, props.athleteId) ?? null).value;
  return athleteRun === null ? null : <PlannedBesideActualTable athleteRun={athleteRun} name={props.name} />;
}

function WholeRunButtons(props: {
  readonly follower: PlanRunFollower;
  readonly tap: (event: PlanRunEvent) => Promise<void>;
}) {
  const { text } = useApp();
  const words = text.plans;
  const paused = useComputed(
    () =>
      props.follower.state.value?.athleteRuns.some((athleteRun) => athleteRun.pausedAtMs !== null) ?? false,
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
