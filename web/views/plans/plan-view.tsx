// One plan: its numbers, what to expect of it, who it is for, what needs a choice, and the start.

import { useComputed, useSignal, useSignalEffect } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Plan } from '../../../shared/plan.ts';
import { floorRangePercent } from '../../../shared/schema-parts.ts';
import type { Athlete } from '../../../shared/views.ts';
import { readAthletePrior } from '../../../src/oxygen/athlete-prior.ts';
import { type AthleteOxygen, populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { oxygenOf } from '../../../src/oxygen/trait-values.ts';
import { checkPlan } from '../../../src/plans/check-plan.ts';
import { titleOf } from '../../../src/plans/generate-plan.ts';
import { planSteps } from '../../../src/plans/plan-steps.ts';
import { useApp } from '../../shell/app-context.ts';
import { useDocumentTitle } from '../../shell/use-document-title.ts';
import { NumberStepper } from './number-stepper.tsx';
import { type BuilderName, beginPlan, fromLongestHold, isBuilderName } from './plan-builders.ts';
import { PlanFields } from './plan-fields.tsx';
import { outlookOf, PlanOutlook } from './plan-outlook.tsx';

const firstLongestHoldSeconds = 120;

/** How several athletes start: at one time, shared out over the interval, or never two holding at once. */
const startModes = ['together', 'staggered', 'oneAtATime'] as const;
type StartMode = (typeof startModes)[number];

export function NewPlanView({ builder }: { readonly builder: string }) {
  const { text } = useApp();
  if (!isBuilderName(builder)) return <MissingPlan />;
  return (
    <PlanEditor
      plan={beginPlan(builder, firstLongestHoldSeconds, text.plans.builders.rows)}
      planId={null}
      builder={builder}
    />
  );
}

export function StoredPlanView({ planId }: { readonly planId: string }) {
  const { http, text } = useApp();
  const plan = useSignal<Plan | null | undefined>(undefined);
  useEffect(() => {
    void http.plans().then((answer) => {
      plan.value = answer.ok
        ? (answer.value.plans.find((stored) => stored.planId === planId)?.plan ?? null)
        : null;
    });
  }, [planId]);
  if (plan.value === undefined) return <p class="sheet hint">{text.plans.loading}</p>;
  if (plan.value === null) return <MissingPlan />;
  return <PlanEditor plan={plan.value} planId={planId} builder={null} />;
}

function MissingPlan() {
  const { text } = useApp();
  return (
    <section class="sheet sheet--centred">
      <h1 class="quiet-title">{text.notFound}</h1>
      <a class="button" href="/plans">
        {text.plans.toPlans}
      </a>
    </section>
  );
}

interface PlanEditorProps {
  readonly plan: Plan;
  readonly planId: string | null;
  readonly builder: BuilderName | null;
}

function PlanEditor({ plan: firstPlan, planId: firstPlanId, builder }: PlanEditorProps) {
  const { text, http, hub, router } = useApp();
  const words = text.plans;
  const plan = useSignal(firstPlan);
  const planId = useSignal(firstPlanId);
  const longestHoldSeconds = useSignal(firstLongestHoldSeconds);
  const athletes = useSignal<readonly Athlete[] | null>(null);
  const chosenIds = useSignal<readonly string[]>([]);
  const starts = useSignal<StartMode>('oneAtATime');
  const assume = useSignal(false);
  const accepted = useSignal<ReadonlySet<string>>(new Set());
  const notice = useSignal<string | null>(null);
  const starting = useSignal(false);
  useDocumentTitle(plan.value.title);
  useEffect(() => {
    void http.athletes().then((answer) => {
      if (!answer.ok) {
        notice.value = words.failed(answer.reason);
        return;
      }
      athletes.value = answer.value.athletes;
      const inSession = hub.session.value?.status === 'recording' ? hub.session.value.athleteIds : [];
      const likely =
        inSession.length > 0 ? inSession : answer.value.athletes.slice(0, 1).map((one) => one.athleteId);
      chosenIds.value = likely.slice(0, 8);
      assume.value = !hub.recording.value && answer.value.athletes.length > 0;
    });
  }, []);
  const floorPercent = useComputed(() => {
    const floors = (athletes.value ?? [])
      .filter((athlete) => chosenIds.value.includes(athlete.athleteId))
      .map((athlete) => athlete.settings.floorSpo2Percent);
    return floors.length === 0 ? floorRangePercent.initial : Math.max(...floors);
  });
  const oxygen = useSignal<ReadonlyMap<string, AthleteOxygen>>(new Map());
  const chosen = useComputed(() =>
    (athletes.value ?? []).filter((athlete) => chosenIds.value.includes(athlete.athleteId)),
  );
  useSignalEffect(() => {
    for (const { athleteId } of chosen.value) {
      if (oxygen.peek().has(athleteId)) continue;
      // Until the answer is there, and without one, the population stands in.
      oxygen.value = new Map([...oxygen.peek(), [athleteId, populationOxygen]]);
      void http.athleteOxygen(athleteId).then((answer) => {
        const prior = answer.ok ? readAthletePrior(answer.value.prior) : undefined;
        if (prior !== undefined) oxygen.value = new Map([...oxygen.peek(), [athleteId, oxygenOf(prior)]]);
      });
    }
  });
  const outlook = useComputed(() =>
    outlookOf(
      plan.value,
      chosen.value.map(({ athleteId }) => oxygen.value.get(athleteId) ?? populationOxygen),
      floorPercent.value,
      longestHoldSeconds.value,
    ),
  );
  const effect = useComputed(() => outlook.value.effect);
  const whose = useComputed(() => {
    const athlete = chosen.value[outlook.value.ofIndex];
    const holdCount = athlete === undefined ? 0 : (oxygen.value.get(athlete.athleteId)?.holdCount ?? 0);
    return athlete === undefined || holdCount === 0
      ? words.previewOfPopulation
      : words.previewOfAthlete(athlete.name, holdCount);
  });
  const warnings = useComputed(() =>
    checkPlan(plan.value, typeof effect.value === 'string' ? undefined : effect.value.lowest),
  );
  const change = (next: Plan) => {
    // A name that only said the shape goes on saying it; one that a person gave stays.
    const named = plan.value.title !== titleOf(plan.value) && plan.value.title !== words.builders.rows;
    plan.value = named ? next : { ...next, title: titleOf(next) };
    // A changed plan is another plan: what was accepted was about the former one.
    accepted.value = new Set();
    notice.value = null;
  };
  const setLongestHold = (seconds: number) => {
    longestHoldSeconds.value = seconds;
    const make = builder === null ? undefined : fromLongestHold[builder];
    if (make !== undefined) change(make(seconds));
    else accepted.value = new Set();
  };
  const save = async (asCopy: boolean) => {
    const saved = await http.savePlan(plan.value, asCopy ? null : planId.value);
    notice.value = saved.ok ? words.saved : words.refused(saved.reason);
    if (saved.ok) planId.value = saved.value.planId;
  };
  const remove = async () => {
    if (planId.value === null) return;
    const removed = await http.deletePlan(planId.value);
    if (removed.ok) router.go('/plans');
    else notice.value = words.refused(removed.reason);
  };
  const start = async () => {
    starting.value = true;
    const started = await http.startPlanRun(
      plan.value,
      {
        athletes: chosenIds.value.map((athleteId, index) => ({
          athleteId,
          offsetMs:
            starts.value === 'together'
              ? 0
              : Math.round(staggerMs(plan.value) / chosenIds.value.length) * index,
        })),
        oneAtATime: chosenIds.value.length > 1 && starts.value === 'oneAtATime',
        assumeFromCues: assume.value,
        acceptedWarnings: [...accepted.value],
      },
      longestHoldSeconds.value * 1_000,
    );
    starting.value = false;
    if (started.ok) router.go('/plan-run');
    else notice.value = words.refused(started.reason);
  };
  const open = warnings.value.filter((warning) => warning.needsChoice && !accepted.value.has(warning.code));
  const missing = [
    ...(chosenIds.value.length > 0 ? [] : [words.needAthlete]),
    ...(open.length === 0 ? [] : [words.needChoice]),
  ];
  const usesLongestHold =
    plan.value.kind === 'intervalSeries' ||
    plan.value.kind === 'maximalAttempts' ||
    (builder !== null && builder in fromLongestHold);
  return (
    <article class="sheet plan">
      <h1>{plan.value.title}</h1>
      <section class="step">
        {usesLongestHold ? (
          <NumberStepper
            label={words.longestHold}
            unit="time"
            least={20}
            most={600}
            step={10}
            value={longestHoldSeconds.value}
            onChange={setLongestHold}
          />
        ) : null}
        <PlanFields plan={plan.value} onChange={change} />
        <label class="field">
          <span>{words.name}</span>
          <input
            type="text"
            maxLength={80}
            value={plan.value.title}
            onChange={(event) => {
              const title = event.currentTarget.value.trim();
              if (title !== '') plan.value = { ...plan.value, title };
            }}
          />
        </label>
      </section>
      <section class="step">
        <h2>{words.preview}</h2>
        <PlanOutlook
          plan={plan.value}
          effect={effect.value}
          floorPercent={floorPercent.value}
          longestHoldSeconds={longestHoldSeconds.value}
          whose={whose.value}
        />
      </section>
      <section class="step no-print">
        <h2>{words.who}</h2>
        {athletes.value?.length === 0 ? <p class="hint">{words.nobody}</p> : null}
        <ul class="people">
          {(athletes.value ?? []).map((athlete) => {
            const isChosen = chosenIds.value.includes(athlete.athleteId);
            return (
              <li key={athlete.athleteId} class={isChosen ? 'is-chosen' : ''}>
                <label class="tick">
                  <input
                    type="checkbox"
                    checked={isChosen}
                    onChange={() => {
                      chosenIds.value = isChosen
                        ? chosenIds.value.filter((id) => id !== athlete.athleteId)
                        : [...chosenIds.value, athlete.athleteId].slice(0, 8);
                    }}
                  />
                  <span>{athlete.name}</span>
                </label>
              </li>
            );
          })}
        </ul>
        {chosenIds.value.length > 1 ? (
          <fieldset class="start-modes">
            <legend>{words.howStart}</legend>
            {startModes.map((mode) => (
              <label class="tick" key={mode}>
                <input
                  type="radio"
                  name="starts"
                  checked={starts.value === mode}
                  onChange={() => (starts.value = mode)}
                />
                <span>{words.startModes[mode]}</span>
              </label>
            ))}
          </fieldset>
        ) : null}
        <Tick checked={assume.value} onChange={(on) => (assume.value = on)} label={words.assume} />
        {hub.recording.value ? null : <p class="hint">{words.noSession}</p>}
      </section>
      {warnings.value.length === 0 ? null : (
        <section class="step no-print">
          <h2>{words.choose}</h2>
          <ul class="plan-warnings">
            {warnings.value.map((warning) => (
              <li key={`${warning.code}${warning.message}`}>
                <p class={warning.needsChoice ? 'problem' : ''}>{warning.message}</p>
              </li>
            ))}
          </ul>
          {warnings.value.some((warning) => warning.needsChoice) ? (
            <Tick
              strong
              checked={open.length === 0}
              onChange={(on) =>
                (accepted.value = new Set(on ? warnings.value.map((warning) => warning.code) : []))
              }
              label={words.chosen}
            />
          ) : null}
        </section>
      )}
      <div class="button-row no-print">
        <button type="button" class="button" onClick={() => void save(false)}>
          {words.save}
        </button>
        {planId.value === null ? null : (
          <>
            <button type="button" class="button" onClick={() => void save(true)}>
              {words.saveCopy}
            </button>
            <a class="button" href={http.planFilePath(planId.value)} download>
              {words.download}
            </a>
            <button type="button" class="button" onClick={() => void remove()}>
              {words.remove}
            </button>
          </>
        )}
        <button type="button" class="button" onClick={() => print()}>
          {words.print}
        </button>
      </div>
      {notice.value === null ? null : (
        <p class="notice" role="status">
          {notice.value}
        </p>
      )}
      <div class="start-bar no-print">
        <ul class="missing" aria-live="polite">
          {missing.map((need) => (
            <li key={need}>{need}</li>
          ))}
        </ul>
        <button
          type="button"
          class="button button--primary button--start"
          disabled={missing.length > 0 || starting.value || !hub.mayAct.value}
          onClick={() => void start()}
        >
          {starting.value ? words.starting : words.start}
        </button>
      </div>
    </article>
  );
}

function Tick(props: {
  readonly checked: boolean;
  readonly label: string;
  readonly strong?: boolean;
  readonly onChange: (on: boolean) => void;
}) {
  return (
    <label class={props.strong === true ? 'tick tick--strong' : 'tick'}>
      <input
        type="checkbox"
        checked={props.checked}
        onChange={(event) => props.onChange(event.currentTarget.checked)}
      />
      <span>{props.label}</span>
    </label>
  );
}

/** From one start to the next of the same athlete: what is shared out among several. */
function staggerMs(plan: Plan): number {
  const first = planSteps(plan)[0];
  if (first === undefined) return 0;
  return first.next.by === 'every' ? first.next.everyMs : (first.ceilingMs ?? 0) + first.next.recoveryMs;
}
