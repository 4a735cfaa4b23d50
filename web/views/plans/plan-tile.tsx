// One athlete of a running plan among several: as on the far wall, with what the plan says; where there is room, with the
// buttons of the moment. Who is not watched has no readings and says so.

import { useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { FarTile } from '../wall/far-tile.tsx';
import { EffortButtons, LapButton, ReadinessButtons } from './athlete-run-buttons.tsx';
import { PlanDialog } from './plan-dialog.tsx';
import { usePlanPart } from './use-plan-part.ts';

export interface PlanTileProps {
  readonly athleteId: string;
  readonly name: string;
  readonly called: string;
  readonly model: AthleteModel | undefined;
}

export function PlanTile({ athleteId, name, called, model }: PlanTileProps) {
  const { text } = useApp();
  const words = text.plans;
  const part = usePlanPart(athleteId, model);
  const isOpen = useSignal(false);
  const choices = part.choices.value;
  const suggestion = part.suggestions.value[0];
  return (
    <>
      <FarTile
        athleteId={athleteId}
        name={name}
        called={called}
        model={model}
        runPhase={choices?.phase ?? 'waiting'}
        onOpen={model === undefined ? () => (isOpen.value = true) : undefined}
        words={
          <p class="far-words">
            {part.wave.value === null ? null : (
              <strong class="far-wave">{words.waves.wave(part.wave.value)}</strong>
            )}
            {model === undefined ? <strong class="far-unwatched">{words.unwatched.title}</strong> : null}
            <span aria-live="polite">
              {part.phase}
              {part.next.value === '' ? '' : ` \u00b7 ${part.next.value}`}
            </span>
            {suggestion === undefined ? null : <Suggested code={suggestion.text} />}
          </p>
        }
        actions={
          choices === null || !part.mayAct.value ? null : (
            <div class="far-actions">
              <LapButton choices={choices} own={part.own} />
              <EffortButtons choices={choices} own={part.own} />
              <ReadinessButtons choices={choices} own={part.own} />
            </div>
          )
        }
      />
      {isOpen.value ? (
        <PlanDialog athleteId={athleteId} isWhole onClose={() => (isOpen.value = false)} />
      ) : null}
    </>
  );
}

function Suggested({ code }: { readonly code: Parameters<ReturnType<typeof useApp>['say']>[0] }) {
  const { say } = useApp();
  return <strong>{say(code)}</strong>;
}
