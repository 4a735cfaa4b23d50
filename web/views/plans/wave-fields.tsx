// Waves of a plan's start: how many, how far apart, who is in which, and when each starts.

import type { Signal } from '@preact/signals';
import type { Plan } from '../../../shared/plan.ts';
import type { Athlete } from '../../../shared/views.ts';
import { clockText } from '../../../shared/words/formats.ts';
import { useApp } from '../../app/app-context.ts';
import { Name } from '../../components/name.tsx';
import { NumberStepper, TimeStepper } from '../../components/number-stepper.tsx';
import { isolated } from '../../state/format.ts';
import { type WaveChoice, waveOf, wavesApartMs } from './plan-start.ts';

export interface WaveFieldsProps {
  readonly plan: Plan;
  readonly chosen: readonly Athlete[];
  readonly waves: Signal<WaveChoice>;
  readonly longestHoldMs: number;
}

/** Apart by seconds: at first and at most. */
const firstSecondsApart = 60;
const mostSecondsApart = 900;

export function WaveFields({ plan, chosen, waves, longestHoldMs }: WaveFieldsProps) {
  const { text } = useApp();
  const words = text.plans.waves;
  const choice = waves.value;
  const ids = chosen.map(({ athleteId }) => athleteId);
  const most = Math.min(8, chosen.length);
  const count = Math.min(choice.count, most);
  const wave = waveOf(ids, choice);
  const apartMs = wavesApartMs(plan, choice, longestHoldMs);
  const change = (next: Partial<WaveChoice>) => {
    waves.value = { ...choice, ...next };
  };
  return (
    <fieldset class="wave-fields">
      <legend>{words.title}</legend>
      <NumberStepper
        label={words.count}
        least={2}
        most={most}
        step={1}
        unit="count"
        value={count}
        onChange={(next) => change({ count: next, moved: new Map() })}
      />
      <label class="tick">
        <input
          type="radio"
          name="apart"
          checked={choice.apart.by === 'hold'}
          onChange={() => change({ apart: { by: 'hold' } })}
        />
        <span>
          {words.byHold(clockText(wavesApartMs(plan, { ...choice, apart: { by: 'hold' } }, longestHoldMs)))}
        </span>
      </label>
      <label class="tick">
        <input
          type="radio"
          name="apart"
          checked={choice.apart.by === 'seconds'}
          onChange={() => change({ apart: { by: 'seconds', seconds: firstSecondsApart } })}
        />
        <span>{words.byTime}</span>
      </label>
      {choice.apart.by === 'seconds' ? (
        <TimeStepper
          label={words.apart}
          least={10}
          most={mostSecondsApart}
          step={10}
          value={choice.apart.seconds}
          onChange={(seconds) => change({ apart: { by: 'seconds', seconds } })}
        />
      ) : null}
      <ol class="wave-list">
        {Array.from({ length: count }, (_, index) => (
          // A wave is its number: there is nothing else to know it by.
          <li key={index}>
            <h3>
              {words.wave(index + 1)}{' '}
              <small class="hint">
                {words.startsAt(clockText(plan.leadInSeconds * 1_000 + apartMs * index))}
              </small>
            </h3>
            <ul>
              {chosen
                .filter(({ athleteId }) => wave.get(athleteId) === index)
                .map(({ athleteId, name }) => (
                  <li key={athleteId} class="wave-person">
                    <Name>{name}</Name>
                    <select
                      aria-label={words.waveOf(isolated(name))}
                      value={String(index)}
                      onChange={(event) =>
                        change({
                          moved: new Map([...choice.moved, [athleteId, Number(event.currentTarget.value)]]),
                        })
                      }
                    >
                      {Array.from({ length: count }, (_other, other) => (
                        <option key={words.wave(other + 1)} value={String(other)}>
                          {words.wave(other + 1)}
                        </option>
                      ))}
                    </select>
                  </li>
                ))}
            </ul>
          </li>
        ))}
      </ol>
    </fieldset>
  );
}
