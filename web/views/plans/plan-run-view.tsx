// A running plan, made for hands-free use. One athlete whom a session watches: their live page, which carries the plan.
// Several, or nobody watched: everyone whole in the window, each with the plan's words and clock.

import { useComputed, useSignal, useSignalEffect } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { shownAthleteId } from '../../app/shown-athlete.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { SoundCheckUnlessAlarmed } from '../../components/sound-check.tsx';
import { calledNames, inPlaces } from '../../state/wall-order.ts';
import { Live } from '../live/live-view.tsx';
import { FittedTiles } from '../wall/fitted-tiles.tsx';
import { PlanDialog } from './plan-dialog.tsx';
import { wavesOf } from './plan-start.ts';
import { PlanTile } from './plan-tile.tsx';
import './plan-run.css';

export function PlanRunView() {
  const app = useApp();
  const { text, hub, planRun, planCues } = app;
  const words = text.plans;
  useDocumentTitle(words.run);
  useSignalEffect(() => {
    if (planRun.running.value) planCues.lead();
  });
  const run = planRun.run.value;
  if (!planRun.loaded.value) return <p class="sheet hint">{words.loading}</p>;
  if (run === null)
    return (
      <section class="sheet sheet--centred">
        <h1 class="quiet-title">{words.noRun}</h1>
        <a class="button" href="/plans">
          {words.toPlans}
        </a>
      </section>
    );
  const ids = planRun.shownAthleteIds.value ?? run.options.athletes.map(({ athleteId }) => athleteId);
  const own = shownAthleteId(app);
  const only = own === null ? undefined : hub.athleteById(own);
  return only === undefined ? <PlanOfMany ids={ids} /> : <Live key={only.athleteId} model={only} />;
}

function PlanOfMany({ ids }: { readonly ids: readonly string[] }) {
  const { text, hub, planRun, planCues, preferences } = useApp();
  const words = text.plans;
  const isOpen = useSignal(false);
  const placed = useComputed(() =>
    inPlaces(
      ids.map((athleteId) => ({
        athleteId,
        name: planCues.names.value.get(athleteId) ?? hub.athleteById(athleteId)?.athlete.value.name ?? '',
      })),
      preferences.wallOrder.value,
    ),
  );
  const called = useComputed(() => calledNames(placed.value));
  const run = planRun.run.value;
  if (run === null) return null;
  const sizes = wavesOf(run.options).map(({ athleteIds }) => athleteIds.length);
  return (
    <article class="plan-wall">
      <div>{hub.recording.value ? <SoundCheckUnlessAlarmed /> : null}</div>
      <header class="plan-wall-head">
        <h1>{run.plan.title}</h1>
        {sizes.length < 2 || sizes.length === ids.length ? null : (
          <p>{words.waves.inRun(sizes.join(' + '))}</p>
        )}
        {run.endedAtMs === null || planRun.shownAthleteIds.value !== null ? null : (
          <a class="button" href={`/plan-runs/${run.runId}`}>
            {words.openReview}
          </a>
        )}
        <button type="button" class="button" onClick={() => (isOpen.value = true)}>
          {words.planOptions}
        </button>
      </header>
      <FittedTiles count={placed.value.length}>
        {placed.value.map(({ athleteId, name }) => (
          <li key={athleteId}>
            <PlanTile
              athleteId={athleteId}
              name={name}
              called={called.value.get(athleteId) ?? ''}
              model={hub.recording.value ? hub.athleteById(athleteId) : undefined}
            />
          </li>
        ))}
      </FittedTiles>
      {isOpen.value ? <PlanDialog athleteId={null} onClose={() => (isOpen.value = false)} /> : null}
    </article>
  );
}
