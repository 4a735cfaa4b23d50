// What a person can say of an athlete's run: begun, breathing, a lap, not ready, called off; and afterwards how it was.

import { monotonicMs } from '../../../shared/units.ts';
import { useApp } from '../../app/app-context.ts';
import type { AthleteRunChoices, AthleteRunEvent } from './athlete-run-text.ts';

interface AthleteRunButtonsProps {
  readonly choices: AthleteRunChoices;
  readonly own: (event: AthleteRunEvent) => void;
}

/** The hub names the hold and gives it its time; what a page sends in their place is not kept. */
const tapped = { holdId: 'tap', startedAtMs: monotonicMs(0), source: 'mark' } as const;

/** All of them, with how the last effort was, for an athlete who has no page of their own now. */
export function AthleteRunButtons({ choices, own }: AthleteRunButtonsProps) {
  const { text } = useApp();
  const words = text.plans;
  return (
    <>
      <div class="athlete-run-buttons">
        <LapButton choices={choices} own={own} />
        <EffortButtons choices={choices} own={own} />
        <ReadinessButtons choices={choices} own={own} />
        <MoreButtons choices={choices} own={own} />
      </div>
      {!choices.comfort ? null : (
        <fieldset class="plan-comfort">
          <legend>{words.comfort}</legend>
          {words.comfortScale.map((word, index) => (
            <button
              type="button"
              class="button"
              key={word}
              title={word}
              aria-label={`${index + 1}: ${word}`}
              onClick={() => own({ type: 'comfort', comfort: index + 1 })}
            >
              {index + 1}
            </button>
          ))}
        </fieldset>
      )}
    </>
  );
}

/** Of a pool set or a timed swim. */
export function LapButton({ choices: { laps }, own }: AthleteRunButtonsProps) {
  const { text } = useApp();
  if (!laps) return null;
  return (
    <button type="button" class="button button--primary athlete-run-big" onClick={() => own({ type: 'lap' })}>
      {text.plans.lap}
    </button>
  );
}

/** Begun and over, where no page of the athlete's own marks it. */
export function EffortButtons({ choices: { phase }, own }: AthleteRunButtonsProps) {
  const { text } = useApp();
  const words = text.plans;
  return (
    <>
      {phase === 'open' || phase === 'free' || phase === 'waiting' ? (
        <button
          type="button"
          class={`button${phase === 'open' ? ' button--primary' : ''}`}
          onClick={() => own({ type: 'holdStarted', ...tapped })}
        >
          {words.began}
        </button>
      ) : null}
      {phase === 'holding' ? (
        <button
          type="button"
          class="button button--primary athlete-run-big"
          onClick={() =>
            own({
              type: 'holdEnded',
              holdId: null,
              endedAtMs: monotonicMs(0),
              source: 'mark',
              lowestSpo2Percent: null,
              floorSpo2Percent: null,
            })
          }
        >
          {words.breathing}
        </button>
      ) : null}
    </>
  );
}

export function ReadinessButtons({ choices: { phase, notReady }, own }: AthleteRunButtonsProps) {
  const { text } = useApp();
  const words = text.plans;
  return (
    <>
      {phase === 'waiting' || phase === 'open' ? (
        <button type="button" class="button" onClick={() => own({ type: notReady ? 'ready' : 'notReady' })}>
          {notReady ? words.ready : words.notReady}
        </button>
      ) : null}
      {phase === 'holding' || phase === 'open' ? (
        <button type="button" class="button" onClick={() => own({ type: 'abort' })}>
          {words.callOff}
        </button>
      ) : null}
      {phase === 'stopped' ? (
        <button
          type="button"
          class="button button--quiet"
          onClick={() => own({ type: 'continueAfterAbort' })}
        >
          {words.goOn}
        </button>
      ) : null}
    </>
  );
}

const addedRecoveryMs = 120_000;

export function MoreButtons({ choices: { phase, more }, own }: AthleteRunButtonsProps) {
  const { text } = useApp();
  const words = text.plans;
  if (phase === 'ended' || phase === 'stopped') return null;
  return (
    <>
      {more ? (
        <button type="button" class="button" onClick={() => own({ type: 'skip' })}>
          {words.skip}
        </button>
      ) : null}
      {phase === 'free' ? null : (
        <button
          type="button"
          class="button"
          onClick={() => own({ type: 'add', ceilingMs: null, recoveryMs: addedRecoveryMs })}
        >
          {words.add}
        </button>
      )}
    </>
  );
}
