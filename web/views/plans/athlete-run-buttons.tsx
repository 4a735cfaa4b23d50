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

export function AthleteRunButtons(
  props: AthleteRunButtonsProps & { readonly sayComfort: (comfort: number) => void },
) {
  const { text } = useApp();
  const words = text.plans;
  const { choices, own } = props;
  return (
    <>
      <div class="athlete-run-buttons">
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
              onClick={() => props.sayComfort(index + 1)}
            >
              {index + 1}
            </button>
          ))}
        </fieldset>
      )}
    </>
  );
}

function EffortButtons({ choices: { phase, laps }, own }: AthleteRunButtonsProps) {
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
      {laps ? (
        <button
          type="button"
          class="button button--primary athlete-run-big"
          onClick={() => own({ type: 'lap' })}
        >
          {words.lap}
        </button>
      ) : null}
    </>
  );
}

function ReadinessButtons({ choices: { phase, notReady }, own }: AthleteRunButtonsProps) {
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

function MoreButtons({ choices: { phase, more }, own }: AthleteRunButtonsProps) {
  const { text } = useApp();
  const words = text.plans;
  if (phase === 'ended' || phase === 'stopped') return null;
  return (
    <details class="explain athlete-run-more">
      <summary>{words.moreChoices}</summary>
      <div class="button-row">
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
      </div>
    </details>
  );
}
