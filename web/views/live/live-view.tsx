// The athlete's live page: what matters readable from two metres, and big controls that work with eyes closed.

import { useComputed, useSignal, useSignalEffect } from '@preact/signals';
import { useLayoutEffect, useRef } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { HoldFeelingBar } from '../../components/hold-feeling.tsx';
import { LiveTrace } from '../../components/live-trace.tsx';
import { SensorHealth } from '../../components/sensor-health.tsx';
import { SoundCheckUnlessAlarmed } from '../../components/sound-check.tsx';
import { TideStaff } from '../../components/tide-staff.tsx';
import { unwatchedMsOf } from '../../components/unwatched-line.tsx';
import { useReading } from '../../components/use-reading.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { formatAge, formatDuration, isolated } from '../../state/format.ts';
import { PlanStrip } from '../plans/plan-strip.tsx';
import { useIsInPlan, useSayComfort } from '../plans/use-plan-part.ts';
import { LiveOptions } from './live-options.tsx';
import { LungsBar } from './lungs-bar.tsx';
import { ForecastLine, MarginLine } from './margin-lines.tsx';
import { MarkStatus } from './mark-status.tsx';
import { ProbableEndBar } from './probable-end-bar.tsx';
import { TapZones } from './tap-zones.tsx';
import { useShortcutKeys } from './use-shortcut-keys.ts';
import './live.css';
import { Name } from '../../components/name.tsx';

/** With one athlete in the session there is no need to choose. */
export function LiveOnlyView() {
  const { hub, text } = useApp();
  const athletes = hub.athletes.value;
  if (hub.session.value === null || athletes.length === 0) return <NoSession message={text.live.noSession} />;
  if (athletes.length === 1) return <Live key={athletes[0]!.athleteId} model={athletes[0]!} />;
  return (
    <section class="sheet">
      <h1>{text.nav.live}</h1>
      <ul class="choices">
        {athletes.map((model) => (
          <li key={model.athleteId}>
            <a class="button button--wide" href={`/live/${model.athleteId}`}>
              <Name>{model.athlete.value.name}</Name>
            </a>
          </li>
        ))}
      </ul>
    </section>
  );
}

export function LiveView({ athleteId }: { readonly athleteId: string }) {
  const { hub, text } = useApp();
  const model = hub.athleteById(athleteId);
  if (hub.session.value === null) return <NoSession message={text.live.noSession} />;
  if (model === undefined) return <NoSession message={text.live.notInSession} />;
  return <Live key={athleteId} model={model} />;
}

function NoSession({ message }: { readonly message: string }) {
  const { hub, text } = useApp();
  const ended = hub.endedSessionId.value;
  return (
    <section class="sheet sheet--centred">
      <h1 class="quiet-title">{ended === null ? message : text.live.sessionEnded}</h1>
      {ended === null ? null : (
        <a class="button button--primary" href={`/recordings/${ended}`}>
          {text.live.openRecording}
        </a>
      )}
      <a class="button" href="/">
        {text.live.toSetup}
      </a>
    </section>
  );
}

/** Also the page of a plan that this athlete alone is in. */
export function Live({ model }: { readonly model: AthleteModel }) {
  const { hub, text } = useApp();
  const wholeScreen = useSignal(false);
  const windowMinutes = useSignal(4);
  useDocumentTitle(text.live.title(isolated(model.athlete.value.name)));
  useShortcutKeys(model);
  const spo2 = useReading(model, 'spo2');
  const heartRate = useReading(model, 'heartRate');
  const ended = hub.session.value?.status !== 'recording';
  const isInPlan = useIsInPlan(model.athleteId).value;
  const sayComfort = useSayComfort(model.athleteId);
  return (
    <article class={`live${wholeScreen.value ? ' live--zones' : ''}${isInPlan ? ' live--plan' : ''}`}>
      <div class="live-alarms">{ended ? null : <SoundCheckUnlessAlarmed />}</div>
      <header class="live-who">
        <h1>
          <Name>{model.athlete.value.name}</Name>
        </h1>
        <p class="live-phase">{ended ? text.live.notWatched : text.phase[model.phase.value]}</p>
        <LiveOptions model={model} wholeScreen={wholeScreen} windowMinutes={windowMinutes} />
      </header>
      <section class="live-numbers">
        <TideStaff model={model} spo2={spo2} />
        <div class={spo2.className}>
          <h2 class="reading-label">{text.readout.spo2}</h2>
          <output class="reading-number">
            <span class="reading-digits">{spo2.number}</span>
            <span class="reading-unit">{text.unitPercent}</span>
          </output>
          <p class="reading-note">{spo2.note}</p>
          <MarginLine model={model} freshness={spo2.freshness} />
        </div>
        <div class={heartRate.className}>
          <h2 class="reading-label">{text.readout.heartRate}</h2>
          <output class="reading-number">
            <span class="reading-digits">{heartRate.number}</span>
            <span class="reading-unit">{text.unitBpm}</span>
          </output>
          <p class="reading-note">{heartRate.note}</p>
        </div>
        <HoldClock model={model} />
        {isInPlan ? <PlanStrip model={model} /> : null}
        {ended || (isInPlan && model.phase.value !== 'holding') ? null : <ForecastLine model={model} />}
      </section>
      <Traces model={model} windowMs={windowMinutes.value * 60_000} />
      <div class="live-sensors">
        <SensorHealth athleteId={model.athleteId} />
      </div>
      <footer class="live-foot">
        {ended ? <NoSession message={text.live.noSession} /> : null}
        {ended || !hub.mayAct.value ? null : (
          <>
            <HoldFeelingBar model={model} onComfort={sayComfort} />
            <LungsBar model={model} />
            <ProbableEndBar model={model} />
            <MarkStatus model={model} />
            <TapZones model={model} />
          </>
        )}
      </footer>
    </article>
  );
}

/** Below this both traces would be lines without a shape: saturation then has the room alone. Our choice, in CSS pixels. */
const roomForTwoTraces = 190;

function Traces({ model, windowMs }: { readonly model: AthleteModel; readonly windowMs: number }) {
  const { text } = useApp();
  const element = useRef<HTMLElement>(null);
  const both = useSignal(true);
  useLayoutEffect(() => {
    const target = element.current!;
    const measure = () => {
      both.value = target.clientHeight >= roomForTwoTraces;
    };
    measure();
    const observer = new ResizeObserver(measure);
    observer.observe(target);
    return () => observer.disconnect();
  }, []);
  return (
    <section class={`live-traces${both.value ? '' : ' live-traces--one'}`} ref={element}>
      <p class="visually-hidden">{text.live.traceLabel(isolated(model.athlete.value.name))}</p>
      <div class="trace-row trace-row--spo2">
        <span class="trace-label">
          {text.readout.spo2Short} <span class="trace-unit">{text.unitPercent}</span>
        </span>
        <LiveTrace model={model} quantity="spo2" windowMs={windowMs} showTimeAxis={!both.value} />
      </div>
      {both.value ? (
        <div class="trace-row trace-row--heart-rate">
          <span class="trace-label">
            {text.readout.heartRateShort} <span class="trace-unit">{text.unitBpm}</span>
          </span>
          <LiveTrace model={model} quantity="heartRate" windowMs={windowMs} showTimeAxis />
        </div>
      ) : null}
      <TraceTruth model={model} />
    </section>
  );
}

function HoldClock({ model }: { readonly model: AthleteModel }) {
  const { hub, text } = useApp();
  const lastHold = useComputed(() => model.holds.value.at(-1) ?? null);
  const running = useComputed(() => lastHold.value !== null && lastHold.value.end === null);
  const clock = useComputed(() => {
    const hold = lastHold.value;
    if (hold === null) return '\u2013:\u2013\u2013';
    const nowMs = hub.nowMs.value ?? hold.start.atMs;
    return formatDuration(nowMs - (hold.end?.atMs ?? hold.start.atMs));
  });
  const detail = useComputed(() => {
    const hold = lastHold.value;
    if (hold === null) return '';
    const lowest = hold.lowestSpo2 === null ? text.notKnown : `${Math.round(hold.lowestSpo2.value)}\u202f%`;
    const parts = [text.readout.lowestOf(lowest), text.readout.contractions(hold.contractionCount)];
    if (hold.probableEnd !== undefined) parts.unshift(text.readout.probablyOver);
    if (hold.end !== null) parts.unshift(text.readout.held(formatDuration(hold.end.atMs - hold.start.atMs)));
    const unwatchedMs = unwatchedMsOf(hold, hub.session.value?.unwatched ?? [], hub.nowMs.value ?? 0);
    if (unwatchedMs >= 1_000) parts.push(text.readout.unwatched(formatAge(unwatchedMs)));
    return parts.join(' \u00b7 ');
  });
  return (
    <div class={`hold-clock${running.value && hub.recording.value ? ' is-running' : ''}`}>
      <h2 class="reading-label">
        {running.value || lastHold.value === null ? text.readout.hold : text.readout.sinceHold}
      </h2>
      <output class="hold-time" aria-live="off">
        {clock}
      </output>
      <p class="reading-note">{detail}</p>
    </div>
  );
}

/** What the traces leave out, if anything. */
function TraceTruth({ model }: { readonly model: AthleteModel }) {
  const { hub, text } = useApp();
  const missing = model.missing.value;
  const missingMs = missing.reduce((sum, span) => sum + span.toMs - span.fromMs, 0);
  const dropped = useSignal(0);
  useSignalEffect(() => {
    dropped.value = hub.droppedCount.value;
  });
  if (missing.length === 0 && dropped.value === 0) return null;
  return (
    <p class="trace-truth">
      {missing.length === 0 ? '' : text.missing(formatDuration(missingMs))}{' '}
      {dropped.value === 0 ? '' : text.dropped(dropped.value)}
    </p>
  );
}
