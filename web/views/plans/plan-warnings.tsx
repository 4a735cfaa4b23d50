// What is doubtful about a plan, and one box to choose it all the same.

import type { Signal } from '@preact/signals';
import type { PlanWarning } from '../../../src/plans/check-plan.ts';
import { useApp } from '../../app/app-context.ts';
import { Tick } from '../../components/tick.tsx';

export interface PlanWarningsProps {
  readonly warnings: readonly PlanWarning[];
  /** Codes of those that were accepted. */
  readonly accepted: Signal<ReadonlySet<string>>;
}

/** Those that want a choice and have none yet. */
export const openWarnings = (
  warnings: readonly PlanWarning[],
  accepted: ReadonlySet<string>,
): readonly PlanWarning[] => warnings.filter((warning) => warning.needsChoice && !accepted.has(warning.code));

export function PlanWarnings({ warnings, accepted }: PlanWarningsProps) {
  const { text, say } = useApp();
  const words = text.plans;
  if (warnings.length === 0) return null;
  return (
    <section class="step no-print">
      <h2>{words.choose}</h2>
      <ul class="plan-warnings">
        {warnings.map((warning) => (
          <li key={`${warning.code}${warning.stepIndex}`}>
            <p class={warning.needsChoice ? 'problem' : ''}>{say(warning.said)}</p>
          </li>
        ))}
      </ul>
      {warnings.some((warning) => warning.needsChoice) ? (
        <Tick
          strong
          checked={openWarnings(warnings, accepted.value).length === 0}
          onChange={(on) => (accepted.value = new Set(on ? warnings.map((warning) => warning.code) : []))}
        >
          {words.chosen}
        </Tick>
      ) : null}
    </section>
  );
}
