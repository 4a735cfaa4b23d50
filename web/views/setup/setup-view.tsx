// Setting up a session on one page: who, on which sensors, floor, sound, cautions, start. Made for under a minute.

import { type Signal, useComputed, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { StoredPlan } from '../../../shared/plan.ts';
import type { Athlete } from '../../../shared/views.ts';
import { CautionsList } from '../../components/cautions-list.tsx';
import { FloorStepper } from '../../components/settings-form.tsx';
import { SoundCheck } from '../../components/sound-check.tsx';
import { useApp } from '../../shell/app-context.ts';
import { useDocumentTitle } from '../../shell/use-document-title.ts';
import { SensorAssignment } from './sensor-assignment.tsx';

export function SetupView() {
  const { text, hub, http, commands, soundChecked, audioRunning, router } = useApp();
  const words = text.setup;
  useDocumentTitle(words.title);
  const athletes = useSignal<readonly Athlete[] | null>(null);
  const problem = useSignal<string | null>(null);
  const chosen = useSignal<ReadonlySet<string>>(new Set());
  const cautionsRead = useSignal(false);
  const silentAccepted = useSignal(false);
  const starting = useSignal(false);
  const planPath = useSignal('');
  const newName = useSignal('');
  const nameProblem = useSignal(false);

  const load = async (choose: (athlete: Athlete) => boolean) => {
    const answer = await http.athletes();
    if (!answer.ok) {
      problem.value = words.loadFailed(answer.reason);
      return;
    }
    problem.value = null;
    athletes.value = answer.value.athletes;
    const next = new Set(chosen.value);
    for (const athlete of answer.value.athletes) if (choose(athlete)) next.add(athlete.athleteId);
    chosen.value = next;
  };
  const live = hub.link.value === 'live';
  // Again whenever the hub comes back. Whoever has a sensor assigned, or is alone, is most likely training.
  useEffect(() => {
    if (!live) return;
    void load(
      (athlete) =>
        chosen.value.size === 0 && hub.sensors.value.some((sensor) => sensor.athleteId === athlete.athleteId),
    );
  }, [live]);
  const recording = hub.recording.value;
  useEffect(() => {
    if (!starting.value || !recording) return;
    const ids = hub.session.value?.athleteIds ?? [];
    if (planPath.value !== '') router.go(`/plans/${planPath.value}`);
    else router.go(ids.length === 1 ? `/live/${ids[0]}` : '/wall');
  }, [recording]);
  const refusalCount = hub.refusals.value.length;
  useEffect(() => {
    if (refusalCount > 0) starting.value = false;
  }, [refusalCount]);

  const add = async () => {
    const name = newName.value.trim();
    nameProblem.value = name === '';
    if (name === '') return;
    const known = new Set(athletes.value?.map((athlete) => athlete.athleteId));
    const answer = await http.addAthlete(name);
    if (!answer.ok) {
      problem.value = answer.reason;
      return;
    }
    newName.value = '';
    await load((athlete) => !known.has(athlete.athleteId));
  };
  const changeFloor = async (athlete: Athlete, floor: Athlete['settings']['floorSpo2Percent']) => {
    const settings = { ...athlete.settings, floorSpo2Percent: floor };
    athletes.value = (athletes.value ?? []).map((entry) =>
      entry.athleteId === athlete.athleteId ? { ...entry, settings } : entry,
    );
    const answer = await commands.changeSettings(athlete.athleteId, settings);
    // What was refused is said by the hub, in the frame.
    if (answer.type !== 'done') await load(() => false);
  };
  const picked = useComputed(() =>
    (athletes.value ?? []).filter((athlete) => chosen.value.has(athlete.athleteId)),
  );
  const soundReady = soundChecked.value && audioRunning.value;
  const missing = [
    ...(live ? [] : [words.needHub]),
    ...(picked.value.length > 0 ? [] : [words.needAthlete]),
    ...(soundReady || silentAccepted.value ? [] : [words.needSound]),
    ...(cautionsRead.value ? [] : [words.needCautions]),
  ];

  if (recording && !starting.value) return <SessionRunning />;
  return (
    <article class="sheet setup">
      <h1>{words.title}</h1>
      {problem.value === null ? null : <p class="notice notice--strong">{problem.value}</p>}

      <section class="step">
        <h2>{words.who}</h2>
        {athletes.value?.length === 0 ? <p class="hint">{words.noAthletes}</p> : null}
        <ul class="people">
          {(athletes.value ?? []).map((athlete) => {
            const isChosen = chosen.value.has(athlete.athleteId);
            return (
              <li key={athlete.athleteId} class={isChosen ? 'is-chosen' : ''}>
                <label class="tick">
                  <input
                    type="checkbox"
                    checked={isChosen}
                    onChange={() => {
                      const next = new Set(chosen.value);
                      if (!next.delete(athlete.athleteId)) next.add(athlete.athleteId);
                      chosen.value = next;
                    }}
                  />
                  <span>
                    {athlete.name}
                    {athlete.simulated ? <small class="tag">{text.simulatedShort}</small> : null}
                  </span>
                </label>
                {isChosen ? (
                  <FloorStepper
                    label={words.floorFor(athlete.name)}
                    floor={athlete.settings.floorSpo2Percent}
                    onChange={(floor) => void changeFloor(athlete, floor)}
                  />
                ) : null}
              </li>
            );
          })}
        </ul>
        <form
          class="add-athlete"
          onSubmit={(event) => {
            event.preventDefault();
            void add();
          }}
        >
          <label class="field">
            <span>{words.athleteName}</span>
            <input
              type="text"
              maxLength={80}
              value={newName.value}
              autocomplete="off"
              aria-invalid={nameProblem.value}
              onInput={(event) => (newName.value = event.currentTarget.value)}
            />
          </label>
          <button type="submit" class="button">
            {words.addAthlete}
          </button>
          {nameProblem.value ? <p class="problem">{words.nameNeeded}</p> : null}
        </form>
        <details class="explain">
          <summary>{words.floorWhat}</summary>
          <p>{words.floorHelp}</p>
        </details>
      </section>

      <section class="step">
        <h2>{words.sensors}</h2>
        <SensorAssignment athletes={athletes.value ?? []} picked={picked.value} />
      </section>

      <section class="step">
        <h2>{words.how}</h2>
        <PlanPicker path={planPath} />
      </section>

      <section class="step">
        <h2>{words.sound}</h2>
        <p>{words.soundHelp}</p>
        <SoundCheck brief={false} />
        {soundReady ? null : (
          <label class="tick">
            <input
              type="checkbox"
              checked={silentAccepted.value}
              onChange={(event) => (silentAccepted.value = event.currentTarget.checked)}
            />
            <span>{words.startSilent}</span>
          </label>
        )}
      </section>

      <section class="step">
        <h2>{words.cautions}</h2>
        <CautionsList />
        <label class="tick tick--strong">
          <input
            type="checkbox"
            checked={cautionsRead.value}
            onChange={(event) => (cautionsRead.value = event.currentTarget.checked)}
          />
          <span>{words.cautionsRead}</span>
        </label>
      </section>

      <div class="start-bar">
        <ul class="missing" aria-live="polite">
          {missing.map((need) => (
            <li key={need}>{need}</li>
          ))}
        </ul>
        <button
          type="button"
          class="button button--primary button--start"
          disabled={missing.length > 0 || starting.value}
          onClick={() => {
            starting.value = true;
            commands.startSession(
              picked.value.map((athlete) => athlete.athleteId),
              words.untitled,
            );
          }}
        >
          {starting.value ? words.starting : words.start}
        </button>
      </div>
    </article>
  );
}

/** No plan, one of the own, or a new one: its page opens with the start of the session. */
function PlanPicker({ path }: { readonly path: Signal<string> }) {
  const { text, http, hub } = useApp();
  const words = text.setup;
  const plans = useSignal<readonly StoredPlan[]>([]);
  const live = hub.link.value === 'live';
  useEffect(() => {
    if (!live) return;
    void http.plans().then((answer) => {
      if (answer.ok) plans.value = answer.value.plans;
    });
  }, [live]);
  return (
    <>
      <label class="field">
        <span>{words.howLabel}</span>
        <select value={path.value} onChange={(event) => (path.value = event.currentTarget.value)}>
          <option value="">{words.selfPaced}</option>
          {plans.value.length === 0 ? null : (
            <optgroup label={words.ownPlans}>
              {plans.value.map(({ planId, plan }) => (
                <option key={planId} value={planId}>
                  {plan.title}
                </option>
              ))}
            </optgroup>
          )}
          <optgroup label={words.newPlans}>
            {Object.entries(text.plans.builders).map(([name, label]) => (
              <option key={name} value={`new/${name}`}>
                {label}
              </option>
            ))}
          </optgroup>
        </select>
      </label>
      {path.value === '' ? null : <p class="hint">{words.planNext}</p>}
    </>
  );
}

function SessionRunning() {
  const { text, hub } = useApp();
  return (
    <section class="sheet sheet--centred">
      <h1 class="quiet-title">{text.setup.running}</h1>
      {hub.athletes.value.length === 1 ? (
        <a class="button button--primary" href={`/live/${hub.athletes.value[0]!.athleteId}`}>
          {text.setup.openLive}
        </a>
      ) : (
        <a class="button button--primary" href="/wall">
          {text.setup.openWall}
        </a>
      )}
    </section>
  );
}
