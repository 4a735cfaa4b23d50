// Setting up a session on one page: who, on which sensors, floor, sound, cautions, start. Made for under a minute.

import { useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { CautionsList } from '../../components/cautions-list.tsx';
import { HelpLink } from '../../components/help-link.tsx';
import { MissingStatements } from '../../components/missing-statements.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { SoundCheck } from '../../components/sound-check.tsx';
import { StartBar } from '../../components/start-bar.tsx';
import { Tick } from '../../components/tick.tsx';
import { PlanPicker } from './plan-picker.tsx';
import { SensorAssignment } from './sensor-assignment.tsx';
import { SessionRunning } from './session-running.tsx';
import { useSessionStart } from './use-session-start.ts';
import { useSetupAthletes } from './use-setup-athletes.ts';
import { WhoTrains } from './who-trains.tsx';
import './setup.css';

export function SetupView() {
  const { text, hub, soundChecked, audioRunning, preferences } = useApp();
  const words = text.setup;
  useDocumentTitle(words.title);
  const who = useSetupAthletes();
  const cautionsRead = useSignal(false);
  const silentAccepted = useSignal(false);
  const planPath = useSignal('');
  const title = useSignal('');
  const { starting, start } = useSessionStart(planPath);
  const picked = who.picked.value;
  const soundReady = soundChecked.value && audioRunning.value;
  const missing = [
    ...(hub.link.value === 'live' ? [] : [words.needHub]),
    ...(picked.length > 0 ? [] : [words.needAthlete]),
    ...(soundReady || silentAccepted.value ? [] : [words.needSound]),
    ...(cautionsRead.value ? [] : [words.needCautions]),
  ];

  if (hub.recording.value && !starting.value) return <SessionRunning />;
  return (
    <article class="sheet setup">
      <h1>{words.title}</h1>
      <HelpLink chapter="first-session" label={text.help.toFirstSession} />
      <ProblemNotice problem={who.problem.value} />
      <WhoTrains {...who} />
      <section class="step">
        <h2>{words.sensors}</h2>
        <SensorAssignment athletes={who.athletes.value ?? []} picked={picked} />
      </section>
      <section class="step">
        <h2>{words.how}</h2>
        <PlanPicker path={planPath} />
        <label class="field">
          <span>{text.names.sessionTitle}</span>
          <input
            type="text"
            maxLength={120}
            placeholder={words.untitled}
            value={title.value}
            onInput={(event) => (title.value = event.currentTarget.value)}
          />
          <small class="hint">{text.names.titleHint}</small>
        </label>
        {hub.role.value === 'coach' ? (
          <label class="field">
            <span>{text.names.ledBy}</span>
            <input
              type="text"
              maxLength={400}
              value={preferences.ledBy.value}
              onInput={(event) => (preferences.ledBy.value = event.currentTarget.value)}
            />
            <small class="hint">{text.names.ledByHint}</small>
          </label>
        ) : null}
      </section>
      <section class="step">
        <h2>{words.sound}</h2>
        <p>{words.soundHelp}</p>
        <SoundCheck brief={false} />
        {soundReady ? null : (
          <Tick checked={silentAccepted.value} onChange={(on) => (silentAccepted.value = on)}>
            {words.startSilent}
          </Tick>
        )}
      </section>
      <section class="step">
        <h2>{words.cautions}</h2>
        <CautionsList />
        <Tick strong checked={cautionsRead.value} onChange={(on) => (cautionsRead.value = on)}>
          {words.cautionsRead}
        </Tick>
      </section>
      <MissingStatements athleteIds={picked.map(({ athleteId }) => athleteId)} />
      <StartBar
        missing={missing}
        label={starting.value ? words.starting : words.start}
        disabled={starting.value}
        onStart={() =>
          start(
            picked.map((athlete) => athlete.athleteId),
            title.value,
          )
        }
      />
    </article>
  );
}
