// A plan being set up: its numbers, what to expect of it, who it is for, what needs a choice, and the start.

import { useComputed, useSignal, useSignalEffect } from '@preact/signals';
import { useLayoutEffect } from 'preact/hooks';
import type { Plan } from '../../../shared/plan.ts';
import type { Athlete } from '../../../shared/views.ts';
import { sayTitle } from '../../../src/plans/generate-plan.ts';
import { useApp } from '../../app/app-context.ts';
import { useDelete } from '../../app/use-delete.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { DraftTaken } from '../../components/draft-taken.tsx';
import { TimeStepper } from '../../components/number-stepper.tsx';
import { StartBar } from '../../components/start-bar.tsx';
import { useTyped } from '../../components/use-typed.ts';
import { type BuilderName, fromLongestHold, tableShapeOf } from './plan-builders.ts';
import { PlanFields } from './plan-fields.tsx';
import { PlanFiles } from './plan-files.tsx';
import { PlanOutlook } from './plan-outlook.tsx';
import { firstWaveChoice, type StartMode, toggledAthleteIds } from './plan-start.ts';
import { renamedAsChanged } from './plan-title.ts';
import { openWarnings, PlanWarnings } from './plan-warnings.tsx';
import { StartUnwatched } from './start-unwatched.tsx';
import { type AthletesTable, useAthletesTable } from './use-athletes-table.ts';
import { type EditedPlan, useEditedPlan } from './use-edited-plan.ts';
import { usePlanAthletes } from './use-plan-athletes.ts';
import { usePlanOutlook } from './use-plan-outlook.ts';
import { type PlanStarting, usePlanStart } from './use-plan-start.ts';
import { WhoStarts } from './who-starts.tsx';

export const firstLongestHoldSeconds = 120;

export interface PlanEditorProps {
  readonly plan: Plan;
  /** Null where it is not in the library yet. */
  readonly planId: string | null;
  /** What it was begun with; null for one of the library. */
  readonly builder: BuilderName | null;
}

export function PlanEditor({ plan: firstPlan, planId: firstPlanId, builder }: PlanEditorProps) {
  const { text, say, http, hub, router } = useApp();
  const words = text.plans;
  const planId = useSignal(firstPlanId);
  const edited = useEditedPlan(firstPlan, planId.value, builder);
  const { plan } = edited;
  const discard = useDelete();
  const longestHoldSeconds = useSignal(firstLongestHoldSeconds);
  const mode = useSignal<StartMode>('oneAtATime');
  const accepted = useSignal<ReadonlySet<string>>(new Set());
  const notice = useSignal<string | null>(null);
  const waves = useSignal(firstWaveChoice);
  useDocumentTitle(plan.value.title);
  const { athletes, chosenIds, assumeFromCues } = usePlanAthletes((reason) => {
    notice.value = words.failed(reason);
  });
  const chosen = useComputed(() =>
    (athletes.value ?? []).filter((athlete) => chosenIds.value.includes(athlete.athleteId)),
  );
  const expected = usePlanOutlook({ plan, chosen, longestHoldSeconds });
  const tables = useAthletesTable(builder, chosen, expected.model);
  useSignalEffect(() => {
    const table = tables.table.value;
    if (table !== null) edited.begin({ ...table.plan, title: say(sayTitle(table.plan)) });
  });
  // What is doubtful has changed, be it that the hub has told more of somebody by now: what was accepted was something else.
  useLayoutEffect(() => {
    if (accepted.peek().size > 0) accepted.value = new Set();
  }, [JSON.stringify(expected.warnings.value)]);
  const change = (next: Plan) => {
    edited.change(renamedAsChanged(plan.value, next, words.builders.rows, say));
    // A changed plan is another plan: what was accepted was about the former one.
    accepted.value = new Set();
    notice.value = null;
  };
  const setLongestHold = (seconds: number) => {
    longestHoldSeconds.value = seconds;
    const make = builder === null ? undefined : fromLongestHold[builder];
    if (make !== undefined) change({ ...make(seconds), title: plan.value.title });
    else accepted.value = new Set();
  };
  const save = async (asCopy: boolean) => {
    const sent = plan.value;
    const saved = await http.savePlan(sent, asCopy ? null : planId.value);
    // What was changed since is not saved.
    if (!saved.ok) notice.value = words.refused(saved.reason);
    else notice.value = plan.value === sent ? words.saved : null;
    if (!saved.ok) return;
    edited.saved(sent, saved.value.planId);
    planId.value = saved.value.planId;
  };
  const remove = async (id: string) => {
    const asked = router.path.value;
    const problem = await discard(
      () => http.deletePlan(id),
      text.takeBack.planDeleted(firstPlan.title),
      (isBack) => {
        edited.setAside();
        if (isBack) router.go(`/plans/${id}`);
        else router.goFrom(asked, '/plans');
      },
    );
    if (problem !== null) notice.value = words.refused(problem);
  };
  const starting = usePlanStart({
    plan,
    choices: () => ({
      athleteIds: chosen.value.map(({ athleteId }) => athleteId),
      mode: mode.value,
      waves: waves.value,
      assumeFromCues: assumeFromCues.value,
      acceptedWarnings: accepted.value,
      longestHoldMs: longestHoldSeconds.value * 1_000,
    }),
    onRefused: (reason) => {
      notice.value = reason;
    },
    onStarted: edited.setAside,
  });
  const choose = (athleteIds: readonly string[]) => {
    chosenIds.value = athleteIds;
    // What was accepted was about those who were chosen then, and their floors.
    accepted.value = new Set();
  };
  return (
    <article class="sheet plan">
      <h1>{plan.value.title}</h1>
      <DraftTaken at={edited.draftAt.value} onDrop={edited.dropDraft} />
      <section class="step">
        {usesLongestHold(plan.value, builder) ? (
          <TimeStepper
            label={words.longestHold}
            least={20}
            most={600}
            step={10}
            value={longestHoldSeconds.value}
            onChange={setLongestHold}
          />
        ) : null}
        <TableRound builder={builder} tables={tables} onChange={change} />
        <PlanFields plan={plan.value} onChange={change} />
        <TitleField title={plan.value.title} onChange={(title) => edited.change({ ...plan.value, title })} />
        <StepBackButton edited={edited} />
      </section>
      <section class="step">
        <h2>{words.preview}</h2>
        <PlanOutlook
          plan={plan.value}
          effect={expected.effect.value}
          floorPercent={expected.floorPercent.value}
          longestHoldSeconds={longestHoldSeconds.value}
          whose={expected.whose.value}
        />
      </section>
      <WhoStarts
        athletes={athletes.value}
        chosenIds={chosenIds.value}
        plan={plan.value}
        longestHoldMs={longestHoldSeconds.value * 1_000}
        mode={mode}
        waves={waves}
        assumeFromCues={assumeFromCues}
        onToggle={(athleteId) => choose(toggledAthleteIds(chosenIds.value, athleteId))}
        onAll={choose}
      />
      <PlanWarnings warnings={expected.warnings.value} accepted={accepted} />
      <PlanFiles
        planId={planId.value}
        onSave={(asCopy) => void save(asCopy)}
        onRemove={(id) => void remove(id)}
      />
      {notice.value === null ? null : (
        <p class="notice" role="status">
          {notice.value}
        </p>
      )}
      <StartBar
        noPrint
        missing={[
          ...(chosenIds.value.length > 0 ? [] : [words.needAthlete]),
          ...(openWarnings(expected.warnings.value, accepted.value).length === 0 ? [] : [words.needChoice]),
        ]}
        label={starting.isStarting.value ? words.starting : words.start}
        // Until the hub has told of everybody chosen, what is doubtful for them is not known: by the population it may be less.
        disabled={starting.isStarting.value || !hub.mayAct.value || expected.model.value === null}
        onStart={starting.start}
      />
      <AskedFirst starting={starting} chosen={chosen.value} />
    </article>
  );
}

/** The question before a plan that nobody would watch. */
function AskedFirst(props: { readonly starting: PlanStarting; readonly chosen: readonly Athlete[] }) {
  const { hub } = useApp();
  const { asking, startWith, startWithout, leave } = props.starting;
  const ids = asking.value;
  if (ids === null) return null;
  return (
    <StartUnwatched
      unwatched={props.chosen.filter(({ athleteId }) => ids.includes(athleteId))}
      onWith={hub.recording.value ? null : startWith}
      onWithout={startWithout}
      onClose={leave}
    />
  );
}

interface TableRoundProps {
  readonly builder: BuilderName | null;
  readonly tables: AthletesTable;
  readonly onChange: (plan: Plan) => void;
}

/** The hold that a new table is made round, and where its numbers come from. */
function TableRound({ builder, tables, onChange }: TableRoundProps) {
  const { text, say } = useApp();
  const words = text.weeksMore.table;
  const byHand = useSignal<number | null>(null);
  if (builder === null || tableShapeOf(builder) === null) return null;
  const table = tables.table.value;
  return (
    <>
      <TimeStepper
        label={words.comfortable}
        least={10}
        most={600}
        step={5}
        value={byHand.value ?? table?.comfortableSeconds ?? 30}
        onChange={(seconds) => {
          byHand.value = seconds;
          const made = tables.around(seconds);
          if (made !== null) onChange(made.plan);
        }}
      />
      <p class="hint" role="status">
        {byHand.value !== null ? words.byHand : table === null ? words.asking : say(table.why)}
      </p>
    </>
  );
}

/** Whether the plan is made or previewed from how long the athlete can hold. */
const usesLongestHold = (plan: Plan, builder: BuilderName | null): boolean =>
  plan.kind === 'intervalSeries' ||
  plan.kind === 'maximalAttempts' ||
  (builder !== null && builder in fromLongestHold);

function StepBackButton({ edited }: { readonly edited: EditedPlan }) {
  const { text } = useApp();
  if (!edited.canStepBack.value) return null;
  return (
    <button type="button" class="button button--quiet no-print" onClick={edited.stepBack}>
      {text.plans.stepBack}
    </button>
  );
}

interface TitleFieldProps {
  readonly title: string;
  readonly onChange: (title: string) => void;
}

/** A plan has a name: an empty one is not taken. */
function TitleField({ title, onChange }: TitleFieldProps) {
  const { text } = useApp();
  const typed = useTyped(title, (given) => {
    if (given.trim() !== '') onChange(given.trim());
    return false;
  });
  return (
    <label class="field">
      <span>{text.plans.name}</span>
      <input type="text" maxLength={80} {...typed} />
    </label>
  );
}
