// The rest of a running plan, behind one control: what else can be done for one athlete or for all, cues, planned beside
// actual.

import { type ReadonlySignal, useComputed } from '@preact/signals';
import { monotonicMs } from '../../../shared/units.ts';
import type { PlanRunState } from '../../../src/plans/plan-run-state.ts';
import { useApp } from '../../app/app-context.ts';
import { useEndOffer } from '../../app/use-end-offer.ts';
import { Dialog } from '../../components/dialog.tsx';
import { Name } from '../../components/name.tsx';
import { AthleteRunButtons, MoreButtons } from './athlete-run-buttons.tsx';
import { athleteRunOf } from './athlete-run-text.ts';
import { CueSettings } from './cue-panel.tsx';
import { PlannedBesideActualTable } from './planned-beside-actual-table.tsx';
import { SuggestionCard } from './suggestion-card.tsx';
import { usePlanPart, useUnchanged } from './use-plan-part.ts';
import './plans.css';

export interface PlanDialogProps {
  /** One athlete's part of the plan; null for all of them. */
  readonly athleteId: string | null;
  /** Nobody watches this athlete: what their page would offer is offered here. */
  readonly isWhole?: boolean;
  readonly onClose: () => void;
}

export function PlanDialog({ athleteId, isWhole = false, onClose }: PlanDialogProps) {
  const { text, hub, planRun, planCues } = useApp();
  const words = text.plans;
  const run = planRun.run.value;
  if (run === null) return null;
  const shown = planRun.shownAthleteIds.value;
  const ids =
    athleteId === null ? (shown ?? run.options.athletes.map((each) => each.athleteId)) : [athleteId];
  const names = planCues.names.value;
  return (
    <Dialog title={run.plan.title} onClose={onClose}>
      {athleteId === null ? null : <AthletePart athleteId={athleteId} isWhole={isWhole} />}
      {run.endedAtMs !== null || !hub.mayAct.value || shown !== null ? null : (
        <WholeRunButtons onEnded={onClose} />
      )}
      <CueSettings player={planCues.player} preferences={planCues.preferences} cue={planCues.lastCue} />
      {ids.map((id) => (
        <RunTable key={id} state={planRun.state} athleteId={id} name={names.get(id) ?? ''} />
      ))}
      {run.endedAtMs === null || shown !== null ? null : (
        <a class="button" href={`/plan-runs/${run.runId}`}>
          {words.openReview}
        </a>
      )}
    </Dialog>
  );
}

function AthletePart({ athleteId, isWhole }: { readonly athleteId: string; readonly isWhole: boolean }) {
  const { planCues } = useApp();
  const part = usePlanPart(athleteId, undefined);
  const choices = part.choices.value;
  if (choices === null || !part.mayAct.value) return null;
  return (
    <section class="plan-part">
      <h3>
        <Name>{planCues.names.value.get(athleteId) ?? ''}</Name>
      </h3>
      {isWhole ? (
        <>
          {part.suggestions.value.map((suggestion) => (
            <SuggestionCard key={suggestion.suggestionId} suggestion={suggestion} mayAct own={part.own} />
          ))}
          <AthleteRunButtons choices={choices} own={part.own} />
        </>
      ) : (
        <MoreButtons choices={choices} own={part.own} />
      )}
    </section>
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

function WholeRunButtons({ onEnded }: { readonly onEnded: () => void }) {
  const { text, http, planRun } = useApp();
  const words = text.plans;
  const paused = useComputed(
    () => planRun.state.value?.athleteRuns.some((athleteRun) => athleteRun.pausedAtMs !== null) ?? false,
  );
  const offerToGoOn = useEndOffer();
  const all = async (type: 'pause' | 'resume' | 'end') => {
    const answer = await http.tapPlanRun({ type, atMs: monotonicMs(0), athleteId: null });
    if (!answer.ok || type !== 'end') return;
    // What lies under a dialog cannot be pressed.
    onEnded();
    offerToGoOn();
  };
  return (
    <section class="plan-part">
      <h3>{words.whole}</h3>
      <div class="button-row">
        <button type="button" class="button" onClick={() => void all(paused.value ? 'resume' : 'pause')}>
          {paused.value ? words.resume : words.pause}
        </button>
        <button type="button" class="button" onClick={() => void all('end')}>
          {words.end}
        </button>
      </div>
    </section>
  );
}
