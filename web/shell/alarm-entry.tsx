// One alarm in the frame: in full with the reading and what a person can do, as a line, or folded into one line with
// others.

import { type Signal, useComputed } from '@preact/signals';
import type { ComponentChildren, RefObject } from 'preact';
import { useLayoutEffect, useRef } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';
import { shownAthleteId } from '../app/shown-athlete.ts';
import { Beacon } from '../components/beacon.tsx';
import { EmergencyCardText } from '../components/emergency-card.tsx';
import { entryWords } from '../components/entry-words.ts';
import { SoundCheck } from '../components/sound-check.tsx';
import { useReading } from '../components/use-reading.ts';
import type { AthleteModel } from '../state/athlete-model.ts';
import { formatAge, formatList, shortened } from '../state/format.ts';
import {
  type AlarmEntry,
  type AthleteEntry,
  foldedPriority,
  isPageOf,
  type WatchEntry,
} from '../state/standing-alarms.ts';

export function useAcknowledge(): (entry: AlarmEntry) => void {
  const { commands, hurriedHand, timers } = useApp();
  return (entry) => {
    if (!hurriedHand.isMeant(entry.key, timers.nowMs())) return;
    hurriedHand.pressed(entry.key, timers.nowMs());
    if (entry.type === 'watch') commands.acknowledgeSupervision([entry.alarm.alarmId]);
    else
      commands.acknowledgeEach(
        entry.presents.flatMap(({ athleteId, alarmId }) =>
          athleteId === null ? [] : [{ athleteId, alarmId }],
        ),
      );
  };
}

const presentsOf = (entry: AlarmEntry): string =>
  JSON.stringify(entry.presents.map(({ athleteId, alarmId }) => [athleteId, alarmId]));

const kindOf = (entry: AlarmEntry): string => (entry.type === 'watch' ? entry.alarm.kind : entry.first.kind);

const isPassed = (entry: AlarmEntry): boolean => entry.type === 'athlete' && !entry.first.conditionPresent;

const classOf = (base: string, entry: AlarmEntry): string =>
  `${base} alarm--${entry.priority}${entry.acknowledged ? ' is-acknowledged' : ''}${isPassed(entry) ? ' is-passed' : ''}`;

function useEntryWords(entry: AlarmEntry) {
  const { text, hub, say } = useApp();
  return entryWords(entry, text, say, hub.athletes.value.length > 1 || !hub.recording.value);
}

export function FullEntry({ entry }: { readonly entry: AlarmEntry }) {
  const { hub } = useApp();
  const { title, message, instruction } = useEntryWords(entry);
  const model =
    entry.type === 'athlete' && entry.common === null
      ? hub.athleteById(entry.athletes[0]?.athleteId ?? '')
      : undefined;
  const element = useFocusKept<HTMLDivElement>(entry.key);
  return (
    <div
      class={classOf('alarm', entry)}
      ref={element}
      data-entry={entry.key}
      tabIndex={-1}
      data-presents={presentsOf(entry)}
    >
      <Beacon priority={entry.priority} still={isPassed(entry)} />
      <div class="alarm-words">
        <h2 class="alarm-title">{title}</h2>
        <p class="alarm-instruction">{instruction}</p>
        <p class="alarm-message">{message}</p>
        {entry.type === 'athlete' ? <CardBeside /> : null}
      </div>
      {model === undefined ? null : <ReadingNow key={model.athleteId} model={model} />}
      <EntryActions entry={entry} isFirst />
    </div>
  );
}

/** Beside the words of rescue: whom to call, and where things are. */
function CardBeside() {
  const { text, hub } = useApp();
  const card = hub.emergencyCard.value;
  if (card === null) return null;
  const words = text.course.papers;
  return (
    <details class="alarm-card">
      <summary>
        {words.card}
        {card.number === '' ? null : ` \u00b7 ${words.call(card.number)}`}
      </summary>
      <EmergencyCardText card={card} />
    </details>
  );
}

export function EntryRow({
  entry,
  isFirst,
  isShort,
}: {
  readonly entry: AlarmEntry;
  readonly isFirst: boolean;
  /** Under one that is shown in full, which is to be read first. */
  readonly isShort: boolean;
}) {
  const { title, message, instruction } = useEntryWords(entry);
  // What fails of the watching is told whole where nothing more urgent stands above it; a phone has no room for it.
  const isWhole = entry.type === 'watch' && isFirst;
  const element = useFocusKept<HTMLLIElement>(entry.key);
  return (
    <li
      class={classOf('alarm alarm-row', entry)}
      ref={element}
      data-entry={entry.key}
      tabIndex={-1}
      data-presents={presentsOf(entry)}
    >
      <Beacon priority={entry.priority} still={entry.acknowledged || isPassed(entry)} />
      <p class="alarm-row-words">
        <strong>{title}</strong>{' '}
        {entry.acknowledged || isShort ? null : (
          <>
            {isWhole ? <span class="alarm-row-message">{message} </span> : null}
            <span>{instruction}</span>
          </>
        )}
      </p>
      <EntryActions entry={entry} isFirst={isFirst} />
    </li>
  );
}

/** The newest reading, where the page itself may show none or have no room for it. */
function ReadingNow({ model }: { readonly model: AthleteModel }) {
  const app = useApp();
  const { text, screen } = app;
  const spo2 = useReading(model, 'spo2');
  const shown = useComputed(
    () =>
      (shownAthleteId(app) !== model.athleteId || screen.low.value) &&
      (spo2.freshness.value === 'fresh' || spo2.freshness.value === 'stale'),
  );
  if (!shown.value) return null;
  return (
    <p class="alarm-reading" aria-live="off">
      <span class="visually-hidden">{text.frame.reading(spo2.number.value)}</span>
      <strong aria-hidden="true">
        {spo2.number}
        <span class="alarm-reading-unit">{text.unitPercent}</span>
      </strong>
      {spo2.freshness.value === 'stale' ? <small>{text.readout.staleUnknown}</small> : null}
    </p>
  );
}

/** Several in one line, which opens: how many and whose, the worst first. All of them are presented by it. */
export function FoldedEntries({
  entries,
  unfolded,
}: {
  readonly entries: readonly AlarmEntry[];
  readonly unfolded: Signal<boolean>;
}) {
  const { text, hub, say } = useApp();
  const isNamed = hub.athletes.value.length > 1 || !hub.recording.value;
  const titles = entries.map((entry) => entryWords(entry, text, say, isNamed).title);
  const { priority, acknowledged } = foldedPriority(entries);
  return (
    <button
      type="button"
      class={`alarm alarm-folded alarm--${priority}${acknowledged ? ' is-acknowledged' : ''}`}
      aria-expanded={unfolded.value}
      data-presents={JSON.stringify(
        entries.flatMap(({ presents }) => presents.map(({ athleteId, alarmId }) => [athleteId, alarmId])),
      )}
      onClick={() => (unfolded.value = !unfolded.value)}
    >
      <Beacon priority={priority} still={acknowledged} />
      <span class="alarm-folded-words">
        <strong>{text.frame.others(entries.length)}</strong> {titles.join(' \u00b7 ')}
      </span>
      <span class="alarm-folded-do">{unfolded.value ? text.frame.fold : text.frame.unfold}</span>
    </button>
  );
}

function EntryActions({ entry, isFirst }: { readonly entry: AlarmEntry; readonly isFirst: boolean }) {
  const { hub } = useApp();
  if (!hub.mayAct.value && entry.type === 'athlete') return <GoTo entry={entry} />;
  return (
    <div class="alarm-actions">
      <AcknowledgeButton entry={entry} isFirst={isFirst} />
      {entry.type === 'athlete' && entry.first.detail === 'noSound' ? <SoundCheck brief bare /> : null}
      {hub.fromAfar ? null : entry.type === 'watch' ? (
        <WatchActions entry={entry} />
      ) : (
        <AthleteActions entry={entry} />
      )}
      {/* Of one cause for several, a pause would silence what else they have; nobody afar makes a room silent. */}
      {entry.type === 'athlete' && entry.common === null && !hub.fromAfar ? (
        <PauseButton entry={entry} />
      ) : null}
      {entry.type === 'athlete' && !hub.fromAfar ? <GoTo entry={entry} /> : null}
    </div>
  );
}

function AcknowledgeButton({ entry, isFirst }: { readonly entry: AlarmEntry; readonly isFirst: boolean }) {
  const { text, hub, preferences, hurriedHand, timers } = useApp();
  const acknowledge = useAcknowledge();
  const { title } = useEntryWords(entry);
  if (entry.acknowledged)
    return (
      <>
        <span class="alarm-done">{text.alarm.acknowledged}</span>
        {/* Whoever has seen it has a hand free to read; before that there is one thing to do. */}
        <a
          class="button alarm-button"
          href={`/help/alarms#${kindOf(entry)}`}
          aria-label={text.help.whatItMeansOf(title)}
          onClick={(event) => {
            // It may have come up under the finger that has just acknowledged, and leads away from the readings.
            if (!hurriedHand.isMeant(`help ${entry.key}`, timers.nowMs())) event.preventDefault();
          }}
        >
          {text.help.whatItMeans}
        </a>
      </>
    );
  const label =
    entry.type === 'watch' && hub.role.value !== 'coach' ? text.frame.quietHere : text.alarm.acknowledge;
  return (
    <AcknowledgeAction entry={entry} onPress={() => acknowledge(entry)}>
      <span>
        {label}
        <span class="visually-hidden">, {title}</span>
      </span>
      {isFirst && preferences.shortcutKeys.value && hub.mayAct.value ? (
        <small class="alarm-key" title={text.frame.keyHelp}>
          {text.frame.key} <kbd>A</kbd>
        </small>
      ) : null}
    </AcknowledgeAction>
  );
}

/** Who is in an alarm by keyboard or screen reader when it, or the button they pressed, is taken away goes on at what is left of
 * it, else at the first that stands, else at the view. Left to the browser they would begin at the top of the page. */
function useFocusKept<Kept extends HTMLElement>(key: string): RefObject<Kept | null> {
  const element = useRef<Kept>(null);
  useLayoutEffect(() => {
    const kept = element.current;
    return () => {
      if (kept?.contains(document.activeElement)) queueMicrotask(() => focusAfter(key));
    };
  }, [key]);
  return element;
}

function focusAfter(key: string): void {
  if (document.activeElement !== null && document.activeElement !== document.body) return;
  const left = [...document.querySelectorAll<HTMLElement>('[data-entry]')];
  const next = left.find((element) => element.dataset['entry'] === key) ?? left[0];
  (next ?? document.getElementById('content'))?.focus({ preventScroll: true });
}

function AcknowledgeAction(props: {
  readonly entry: AlarmEntry;
  readonly onPress: () => void;
  readonly children: ComponentChildren;
}) {
  const element = useFocusKept<HTMLButtonElement>(props.entry.key);
  return (
    <button type="button" ref={element} class="button alarm-button alarm-acknowledge" onClick={props.onPress}>
      {props.children}
    </button>
  );
}

function ActionButton(props: { readonly onPress: () => void; readonly children: ComponentChildren }) {
  return (
    <button type="button" class="button alarm-button" onClick={props.onPress}>
      {props.children}
    </button>
  );
}

/** Asked whether they are well: one tap of the athlete's, or of somebody by them. */
function AthleteActions({ entry }: { readonly entry: AthleteEntry }) {
  const { text, hub, commands } = useApp();
  const asking = [entry.first, ...entry.more].some(
    ({ kind, conditionPresent }) => kind === 'noBreathingSign' && conditionPresent,
  );
  const athleteId = entry.athletes[0]?.athleteId;
  if (!asking || athleteId === undefined) return null;
  return (
    <button type="button" class="button alarm-button alarm-answer" onClick={() => commands.answer(athleteId)}>
      {hub.role.value === 'athlete' ? text.frame.iAmWell : text.frame.answers}
    </button>
  );
}

function WatchActions({ entry }: { readonly entry: WatchEntry }) {
  const { text, hub, commands, router } = useApp();
  const { kind, session } = entry.alarm;
  if (kind === 'monitoringGap' && session?.sessionId === hub.session.value?.sessionId) return <EndSession />;
  if (kind === 'signalsExchanged' && hub.role.value === 'coach')
    return (
      <a class="button alarm-button" href="/people">
        {text.course.people.title}
      </a>
    );
  if (kind !== 'monitoringStopped' || session === null) return null;
  const { athletes, title, sessionId } = session;
  const recording = (
    <a class="button alarm-button" href={`/recordings/${sessionId}`}>
      {text.frame.recording}
    </a>
  );
  if (athletes.length === 0 || hub.recording.value || !hub.mayAct.value) return recording;
  const goOn = () => {
    void commands.startSession(
      athletes.map(({ athleteId }) => athleteId),
      title,
    );
    router.go(athletes.length === 1 ? `/live/${athletes[0]!.athleteId}` : '/wall');
  };
  return (
    <>
      <button type="button" class="button alarm-button alarm-answer" onClick={goOn}>
        {text.frame.goOn(formatList(athletes.map(({ name }) => shortened(name))))}
      </button>
      {recording}
    </>
  );
}

/** A session that went on by itself is turned off with one tap. */
function EndSession() {
  const { text, hub, commands } = useApp();
  if (!hub.recording.value || hub.role.value !== 'coach') return null;
  return (
    <button type="button" class="button alarm-button" onClick={() => commands.endSession()}>
      {text.frame.endSession}
    </button>
  );
}

function PauseButton({ entry }: { readonly entry: AthleteEntry }) {
  const { text, hub, commands } = useApp();
  const models = entry.athletes.flatMap(({ athleteId }) => hub.athleteById(athleteId) ?? []);
  const pauseLeft = useComputed(() => {
    const nowMs = hub.nowMs.value;
    const left = models.map(({ sound }) => {
      const untilMs = sound.value.audioPausedUntilMs;
      return untilMs === null || nowMs === null ? 0 : untilMs - nowMs;
    });
    const least = left.length === 0 ? 0 : Math.min(...left);
    return least <= 0 ? null : formatAge(least + 999);
  });
  if (entry.acknowledged && pauseLeft.value === null) return null;
  const pause = (paused: boolean) => {
    for (const { athleteId } of entry.athletes) commands.pauseSound(athleteId, paused);
  };
  return pauseLeft.value === null ? (
    <ActionButton onPress={() => pause(true)}>{text.alarm.pauseSound}</ActionButton>
  ) : (
    <ActionButton onPress={() => pause(false)}>
      {text.alarm.resumeSound}
      <small>{text.alarm.pausedFor(pauseLeft.value)}</small>
    </ActionButton>
  );
}

/** The way to the athlete, from wherever the page is. */
function GoTo({ entry }: { readonly entry: AthleteEntry }) {
  const app = useApp();
  const { text, screen } = app;
  const athlete = entry.athletes[0];
  if (athlete === undefined || entry.common !== null || isPageOf(entry, shownAthleteId(app))) return null;
  return (
    <a class="button alarm-button" href={`/live/${athlete.athleteId}`}>
      {text.frame.goTo(shortened(athlete.name, screen.small.value ? 14 : 32))}
    </a>
  );
}
