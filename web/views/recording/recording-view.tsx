// One recording: what is asked of it first, its traces, a card a hold, the plan, gases, events, every measure, gaps, sensors.

import { type Signal, useSignal } from '@preact/signals';
import { useEffect, useMemo } from 'preact/hooks';
import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import type { HoldView } from '../../../shared/views.ts';
import { comparePlannedWithActual } from '../../../src/plans/planned-beside-actual.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { useInOrder } from '../../app/use-in-order.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { HelpLink } from '../../components/help-link.tsx';
import { Name } from '../../components/name.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { sensorName } from '../../components/sensor-name.ts';
import type { Messages } from '../../i18n/en.ts';
import { formatDuration, formatWallTime, isolated } from '../../state/format.ts';
import { leadersAsSaid } from '../../state/leader-names.ts';
import { fitRange, type TimeRange } from '../../state/time-range.ts';
import { useCorrections } from '../correction/use-corrections.tsx';
import { plannedWords } from '../plans/planned-words.ts';
import { SessionDetailsCard } from '../session-details/session-details-card.tsx';
import { DeleteRecording } from './delete-recording.tsx';
import { eventGroups } from './event-lines.ts';
import { EventList } from './event-list.tsx';
import { GiveExtract } from './give-extract.tsx';
import { HoldCards, type HoldCardsProps } from './hold-cards.tsx';
import { HoldMeasures } from './hold-measures.tsx';
import { RecordedPlans } from './recorded-plans.tsx';
import { RecordingActions } from './recording-actions.tsx';
import { ReviewTrace } from './review-trace.tsx';
import { SessionGases } from './session-gases.tsx';
import { SessionInShort } from './session-in-short.tsx';
import { SessionTitle, type SessionTitleProps } from './session-title.tsx';
import { useEndPco2 } from './use-end-pco2.ts';
import { type RecordedRun, useRecordedRuns } from './use-recorded-runs.ts';
import { useWorkingOut } from './working-out.tsx';
import './recording.css';

export function RecordingView({ sessionId }: { readonly sessionId: string }) {
  const { text, http } = useApp();
  const words = text.recording;
  const recording = useSignal<RecordingBody | null>(null);
  const problem = useSignal<string | null>(null);
  const ask = useInOrder();
  const load = async () => {
    const isNews = ask();
    const answer = await http.recordingOutline(sessionId);
    if (!isNews()) return;
    problem.value = answer.ok ? null : words.failed(answer.reason);
    if (answer.ok) recording.value = answer.value;
  };
  useEffect(() => void load(), [sessionId]);
  useDocumentTitle(recording.value?.session.title || text.recordings.untitled);
  if (recording.value === null) {
    return (
      <article class="sheet">
        <BackLink />
        {problem.value === null ? (
          <p class="hint">{text.recordings.loading}</p>
        ) : (
          <ProblemNotice problem={problem.value} onAgain={() => void load()} />
        )}
      </article>
    );
  }
  const replace = (changed: AthleteRecording) => {
    const before = recording.value;
    if (before === null) return;
    const athletes = before.athletes.map((each) =>
      each.athlete.athleteId === changed.athlete.athleteId ? changed : each,
    );
    recording.value = { ...before, athletes };
  };
  const { session } = recording.value;
  return (
    <Recording
      // Whose parts there are says what can be chosen.
      key={session.athleteIds.join(' ')}
      recording={recording.value}
      onCorrected={replace}
      onTitled={(titled) => {
        const before = recording.value;
        if (before !== null) recording.value = { ...before, session: { ...before.session, ...titled } };
      }}
      onChanged={() => void load()}
    />
  );
}

function BackLink() {
  const { text } = useApp();
  return (
    <a class="button button--quiet back-link" href="/recordings">
      {'\u2190'} {text.recording.back}
    </a>
  );
}

function Recording({
  recording,
  onCorrected,
  onTitled,
  onChanged,
}: {
  readonly recording: RecordingBody;
  readonly onCorrected: (athlete: AthleteRecording) => void;
  readonly onTitled: SessionTitleProps['onTitled'];
  readonly onChanged: () => void;
}) {
  const { text, say } = useApp();
  const words = text.recording;
  const { session } = recording;
  const athleteId = useSignal(recording.athletes[0]?.athlete.athleteId ?? '');
  const deleting = useSignal(false);
  const giving = useSignal(false);
  const whole = useMemo<TimeRange>(
    () => ({ fromSeconds: 0, toSeconds: Math.max(10, recording.durationMs / 1000) }),
    [recording.durationMs],
  );
  const range = useSignal<TimeRange>(whole);
  const athlete = recording.athletes.find((entry) => entry.athlete.athleteId === athleteId.value);
  return (
    <article class="sheet sheet--wide recording">
      <BackLink />
      <header class="recording-head">
        <div>
          <SessionTitle session={session} onTitled={onTitled} />
          <p class="hint">
            {formatWallTime(session.startedWallAtMs)} {'\u00b7'} {formatDuration(recording.durationMs)}
            {session.leaders.length === 0 ? null : (
              <>
                {' \u00b7 '}
                {text.names.ledByLine(leadersAsSaid(session.leaders))}
              </>
            )}
          </p>
          <HelpLink chapter="recordings" label={text.help.toReading} />
        </div>
        <RecordingActions
          recording={recording}
          athleteId={athleteId.value}
          giving={giving}
          deleting={deleting}
        />
      </header>
      {session.simulated ? <p class="notice notice--strong">{words.simulated}</p> : null}
      {session.status === 'interrupted' ? <p class="notice notice--strong">{words.interrupted}</p> : null}
      {recording.damage.map(say).map((sentence) => (
        <p key={sentence} class="notice notice--strong">
          {sentence}
        </p>
      ))}
      {session.status === 'recording' ? <p class="notice">{words.running}</p> : null}
      {recording.athletes.length > 1 ? (
        <AthleteField
          label={words.athlete}
          narrow
          athletes={recording.athletes.map((entry) => entry.athlete)}
          athleteId={athleteId.value}
          onChange={(id) => (athleteId.value = id)}
        />
      ) : null}
      {athlete === undefined ? null : (
        <OfAthlete
          key={athleteId.value}
          recording={recording}
          athlete={athlete}
          range={range}
          whole={whole}
          onCorrected={onCorrected}
          onChanged={onChanged}
        />
      )}
      {giving.value ? (
        <GiveExtract
          sessionId={session.sessionId}
          athleteId={athleteId.value}
          onClose={() => (giving.value = false)}
        />
      ) : null}
      {deleting.value ? (
        <DeleteRecording
          recording={recording}
          onClose={() => (deleting.value = false)}
          onChanged={onChanged}
        />
      ) : null}
    </article>
  );
}

interface OfAthleteProps {
  readonly recording: RecordingBody;
  readonly athlete: AthleteRecording;
  readonly range: Signal<TimeRange>;
  readonly whole: TimeRange;
  readonly onCorrected: (athlete: AthleteRecording) => void;
  readonly onChanged: () => void;
}

function OfAthlete({ recording, athlete, range, whole, onCorrected, onChanged }: OfAthleteProps) {
  const { text } = useApp();
  const raw = useSignal(false);
  const work = useWorkingOut(recording.session.sessionId, athlete, onCorrected);
  const { layer, tools, list, onCard, removeHold, removeMark, answerProposal } = useCorrections({
    recording,
    athlete,
    range,
    onCorrected,
  });
  const endPco2 = useEndPco2(athlete).value;
  const runs = useRecordedRuns(recording, athlete);
  const show = (hold: HoldView) => {
    const fromSeconds = hold.start.atMs / 1000 - 30;
    // Half a minute after the end, the finger shows what the lungs held at it.
    const toSeconds = (hold.end?.atMs ?? recording.durationMs) / 1000 + 60;
    range.value = fitRange({ fromSeconds, toSeconds }, whole);
    document.querySelector('.review-traces')?.scrollIntoView({ block: 'start' });
  };
  return (
    <>
      {recording.athletes.length === 1 ? (
        <h2>
          <Name>{athlete.athlete.name}</Name>
        </h2>
      ) : null}
      <SessionInShort athlete={athlete} />
      <ReviewTrace
        recording={recording}
        athlete={athlete}
        range={range}
        whole={whole}
        raw={raw}
        layer={layer}
        tools={tools}
      />
      {work}
      {list}
      <SessionDetailsCard
        key={`${recording.session.sessionId} ${athlete.athlete.athleteId}`}
        session={recording.session}
        athlete={athlete.athlete}
        onReassigned={onChanged}
      />
      <Holds
        recording={recording}
        athlete={athlete}
        endPco2={endPco2?.byHoldId ?? null}
        planned={plannedByHold(runs, text)}
        onShow={show}
        onCard={onCard}
        removeHold={removeHold}
        answerProposal={answerProposal}
      />
      <RecordedPlans runs={runs} name={athlete.athlete.name} />
      {athlete.workedOut ? <SessionGases athlete={athlete} endPco2={endPco2} /> : null}
      <section class="step">
        <h2>{text.recording.eventsTitle}</h2>
        <EventList groups={eventGroups(athlete, text)} removeMark={removeMark} />
      </section>
      {athlete.workedOut && athlete.holds.length > 0 ? (
        <section class="step">
          <details class="explain">
            <summary>{text.recorded.allMeasures}</summary>
            <HoldMeasures holds={athlete.holds} />
          </details>
        </section>
      ) : null}
      <SignalsAndSensors recording={recording} athlete={athlete} />
    </>
  );
}

/** By hold, what the plan had of it. */
function plannedByHold(runs: readonly RecordedRun[], text: Messages): ReadonlyMap<string, string> {
  return new Map(
    runs.flatMap(({ athleteRun, beganAtMs }) =>
      // Rows are the records in their order, then the steps that were not reached.
      comparePlannedWithActual(athleteRun).flatMap((row, index): [string, string][] =>
        (athleteRun.records[index]?.holdIds ?? []).map((holdId) => [
          holdId,
          plannedWords(row, beganAtMs, text),
        ]),
      ),
    ),
  );
}

function Holds(props: HoldCardsProps) {
  const { text } = useApp();
  const words = text.recording;
  const { recording, athlete } = props;
  return (
    <section class="step">
      <h2>{words.holdsTitle}</h2>
      {athlete.holds.length === 0 ? (
        <p class="hint">{athlete.workedOut ? words.noHolds : words.notYet}</p>
      ) : (
        <>
          <a
            class="button button--quiet back-link"
            href={`/recordings/${recording.session.sessionId}/holds/${athlete.athlete.athleteId}`}
          >
            {text.history.compare.open}
          </a>
          <HoldCards {...props} />
        </>
      )}
    </section>
  );
}

function SignalsAndSensors({ recording, athlete }: Pick<OfAthleteProps, 'recording' | 'athlete'>) {
  const { text, say } = useApp();
  const words = text.recording;
  const sensorIds = new Set(
    recording.sensors
      .filter((sensor) => sensor.athleteId === athlete.athlete.athleteId)
      .map((sensor) => sensor.sensorId),
  );
  return (
    <>
      <section class="step">
        <h2>{words.gapsTitle}</h2>
        {athlete.gaps.length === 0 ? (
          <p class="hint">{athlete.workedOut ? words.noGaps : words.notYet}</p>
        ) : null}
        <ul class="plain-list">
          {athlete.gaps.map((gap) => (
            <li key={`${gap.sensorId}-${gap.fromMs}`}>
              {words.gap(formatDuration(gap.fromMs), formatDuration(gap.toMs), say(gap.reason))}
            </li>
          ))}
        </ul>
        {athlete.discardedCount === 0 ? null : <p class="hint">{words.discarded(athlete.discardedCount)}</p>}
      </section>
      <section class="step">
        <h2>{words.sensorsTitle}</h2>
        <ul class="plain-list">
          {recording.sensors
            .filter((sensor) => sensorIds.size === 0 || sensorIds.has(sensor.sensorId))
            .map((sensor) => (
              <li key={sensor.sensorId}>
                {isolated(sensorName(sensor, text))} {'\u00b7'}{' '}
                {sensor.kinds.map((kind) => text.sensor.kinds[kind]).join(' + ')} {'\u00b7'}{' '}
                {text.sensor.source[sensor.source]}
              </li>
            ))}
        </ul>
      </section>
    </>
  );
}
