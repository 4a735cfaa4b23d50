// What a plan is expected to do to the athletes chosen: the deepest preview among them, for the highest of their floors.

import { type ReadonlySignal, useComputed, useSignal, useSignalEffect } from '@preact/signals';
import type { Plan } from '../../../shared/plan.ts';
import { floorRangePercent } from '../../../shared/schema-parts.ts';
import type { Athlete } from '../../../shared/views.ts';
import { readAthletePrior } from '../../../src/oxygen/athlete-prior.ts';
import { type AthleteOxygen, populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { oxygenOf } from '../../../src/oxygen/trait-values.ts';
import { checkPlan, type PlanWarning } from '../../../src/plans/check-plan.ts';
import { type NoPlanEffect, type PlanEffect, previewForAthletes } from '../../../src/plans/plan-effect.ts';
import type { TableModel } from '../../../src/plans/table-basis.ts';
import { useApp } from '../../app/app-context.ts';
import { isolated } from '../../state/format.ts';

export interface PlanOutlookParts {
  readonly plan: ReadonlySignal<Plan>;
  readonly chosen: ReadonlySignal<readonly Athlete[]>;
  readonly longestHoldSeconds: ReadonlySignal<number>;
}

export interface ExpectedOfPlan {
  readonly floorPercent: ReadonlySignal<number>;
  readonly effect: ReadonlySignal<PlanEffect | NoPlanEffect>;
  /** Whose saturation is drawn, as a sentence. */
  readonly whose: ReadonlySignal<string>;
  readonly warnings: ReadonlySignal<readonly PlanWarning[]>;
  /** Of those chosen, once it is known of each; for the population where nothing is. */
  readonly model: ReadonlySignal<TableModel | null>;
}

export function usePlanOutlook({ plan, chosen, longestHoldSeconds }: PlanOutlookParts): ExpectedOfPlan {
  const { text } = useApp();
  const words = text.plans;
  const { oxygen, answered } = useAthletesOxygen(chosen);
  const floorPercent = useComputed(() => {
    const floors = chosen.value.map((athlete) => athlete.settings.floorSpo2Percent);
    return floors.length === 0 ? floorRangePercent.initial : Math.max(...floors);
  });
  const outlook = useComputed(() =>
    previewForAthletes(
      plan.value,
      chosen.value.map(({ athleteId }) => oxygen.value.get(athleteId) ?? populationOxygen),
      floorPercent.value,
      longestHoldSeconds.value * 1_000,
    ),
  );
  const effect = useComputed(() => outlook.value.effect);
  const whose = useComputed(() => {
    const athlete = chosen.value[outlook.value.ofIndex];
    const holdCount = athlete === undefined ? 0 : (oxygen.value.get(athlete.athleteId)?.holdCount ?? 0);
    return athlete === undefined || holdCount === 0
      ? words.previewOfPopulation
      : words.previewOfAthlete(isolated(athlete.name), holdCount);
  });
  const warnings = useComputed(() =>
    checkPlan(plan.value, typeof effect.value === 'string' ? undefined : effect.value.lowest),
  );
  const model = useComputed<TableModel | null>(() =>
    chosen.value.every(({ athleteId }) => answered.value.has(athleteId))
      ? {
          athletes: chosen.value.map(({ athleteId }) => oxygen.value.get(athleteId) ?? populationOxygen),
          floorSpo2Percent: floorPercent.value,
        }
      : null,
  );
  return { floorPercent, effect, whose, warnings, model };
}

/** By athlete, each asked for once. Until the answer is there, and without one, the population stands in. */
function useAthletesOxygen(chosen: ReadonlySignal<readonly Athlete[]>): {
  readonly oxygen: ReadonlySignal<ReadonlyMap<string, AthleteOxygen>>;
  readonly answered: ReadonlySignal<ReadonlySet<string>>;
} {
  const { http } = useApp();
  const answered = useSignal<ReadonlySet<string>>(new Set());
  const oxygen = useSignal<ReadonlyMap<string, AthleteOxygen>>(new Map());
  useSignalEffect(() => {
    for (const { athleteId } of chosen.value) {
      if (oxygen.peek().has(athleteId)) continue;
      oxygen.value = new Map([...oxygen.peek(), [athleteId, populationOxygen]]);
      void http.athleteOxygen(athleteId).then((answer) => {
        const prior = answer.ok ? readAthletePrior(answer.value.prior) : undefined;
        if (prior !== undefined) oxygen.value = new Map([...oxygen.peek(), [athleteId, oxygenOf(prior)]]);
        answered.value = new Set([...answered.peek(), athleteId]);
      });
    }
  });
  return { oxygen, answered };
}
