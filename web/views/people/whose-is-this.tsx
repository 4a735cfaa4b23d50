// Whose is this? One person takes their sensors off for ten seconds: what answers is theirs, and is given to them.

import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { AnsweringBody } from '../../../shared/course.ts';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { sensorName } from '../../components/sensor-name.ts';
import { isolated } from '../../state/format.ts';
import type { Taking } from './people-view.tsx';

const lookEveryMs = 1_000;
type Answers = NonNullable<AnsweringBody['sensors']>;

export function WhoseIsThis({ athletes, take }: Taking & { readonly athletes: readonly Athlete[] }) {
  const { text, http, timers } = useApp();
  const words = text.course.people;
  const asked = useSignal('');
  const answers = useSignal<Answers | null>(null);
  const state = useSignal<'idle' | 'asking' | 'over'>('idle');
  const askedAthlete = athletes.find(({ athleteId }) => athleteId === asked.value);
  /** Of the question that the hub has been asked last: what answers an earlier one is somebody else's. */
  const question = useRef(0);
  const isAsked = useRef(false);
  useEffect(
    () =>
      timers.every(lookEveryMs, () => {
        if (state.value !== 'asking' || !isAsked.current) return;
        const own = question.current;
        void http.course.answering().then((answer) => {
          if (!answer.ok || own !== question.current) return;
          if (answer.value.sensors === null) state.value = 'over';
          else answers.value = answer.value.sensors;
        });
      }),
    [],
  );
  const ask = () => {
    answers.value = null;
    state.value = 'asking';
    question.current += 1;
    isAsked.current = false;
    const own = question.current;
    const asking = http.course.askWhose();
    void asking.then(() => {
      if (own === question.current) isAsked.current = true;
    });
    void take(asking);
  };
  return (
    <>
      <p class="hint">{words.whoseHelp}</p>
      <div class="comes-later">
        <AthleteField
          label={words.whoseWho}
          athletes={athletes}
          athleteId={asked.value}
          nobody={words.laterNobody}
          narrow
          onChange={(athleteId) => {
            asked.value = athleteId;
            state.value = 'idle';
            question.current += 1;
          }}
        />
        <button type="button" class="button" disabled={askedAthlete === undefined} onClick={ask}>
          {state.value === 'idle' ? words.whoseAsk : words.whoseAgain}
        </button>
      </div>
      {state.value === 'idle' || askedAthlete === undefined ? null : (
        <>
          <p>
            <strong>{words.whoseSay(isolated(askedAthlete.name))}</strong>
          </p>
          <AnswersOf
            answers={answers.value ?? []}
            over={state.value === 'over'}
            athlete={askedAthlete}
            athletes={athletes}
            take={take}
          />
        </>
      )}
    </>
  );
}

function AnswersOf({
  answers,
  over,
  athlete,
  athletes,
  take,
}: Taking & {
  readonly answers: Answers;
  readonly over: boolean;
  readonly athlete: Athlete;
  readonly athletes: readonly Athlete[];
}) {
  const { text, hub, http } = useApp();
  const words = text.course.people;
  const sensors = hub.sensors.value.flatMap((sensor) => {
    const state = answers.find(({ sensorId }) => sensorId === sensor.sensorId)?.state;
    return state === undefined ? [] : [{ ...sensor, name: sensorName(sensor, text), state }];
  });
  const answered = sensors.filter(({ state }) => state === 'answered');
  const isSeveral = (['oximeter', 'heartRate'] as const).some(
    (kind) => answered.filter(({ kinds }) => kinds.includes(kind)).length > 1,
  );
  const wearerOf = (athleteId: string | null) => athletes.find((one) => one.athleteId === athleteId)?.name;
  return (
    <div role="status" class="whose-answers">
      {answered.length === 0 ? <p>{over ? words.whoseOver : words.whoseWaiting}</p> : null}
      {isSeveral ? <p class="notice">{words.whoseSeveral}</p> : null}
      {answered.map(({ sensorId, name, athleteId }) => {
        const wearer = wearerOf(athleteId);
        return athleteId === athlete.athleteId ? (
          <p key={sensorId}>{words.whoseRight(name, isolated(athlete.name))}</p>
        ) : (
          <p key={sensorId}>
            {wearer === undefined ? words.whoseNobody(name) : words.whoseWrong(name, wearer)}{' '}
            <button
              type="button"
              class="button"
              onClick={() => void take(http.assignSensor(sensorId, athlete.athleteId))}
            >
              {words.whoseGive(name, isolated(athlete.name))}
            </button>
          </p>
        );
      })}
      <ul class="plain-list">
        {sensors.map(({ sensorId, name, state }) => (
          <li key={sensorId}>
            {name}: {words.answer[state]}
          </li>
        ))}
      </ul>
    </div>
  );
}
