// Every alarm that stands, on every view: the most urgent that nobody has seen in full, the others a line each; one key
// acknowledges it wherever the page is. Screen readers hear each once, and its end.

import { type ReadonlySignal, useComputed, useSignal, useSignalEffect } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useEffect, useLayoutEffect, useRef } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';
import { Beacon } from '../components/beacon.tsx';
import { EmergencyCardText } from '../components/emergency-card.tsx';
import { entryWords } from '../components/entry-words.ts';
import { PageAlarm } from '../components/page-alarm.tsx';
import { SoundCheck } from '../components/sound-check.tsx';
import { useReading } from '../components/use-reading.ts';
import { AlarmNewsFinder } from '../state/alarm-news.ts';
import type { AthleteModel } from '../state/athlete-model.ts';
import { formatAge, formatList } from '../state/format.ts';
import type { AlarmEntry, AthleteEntry, WatchEntry } from '../state/standing-alarms.ts';
import { DrillBox } from './drill-box.tsx';
import '../components/alarm.css';

export function AlarmFrame() {
  const { text, hub, router } = useApp();
  const entries = useComputed(() => {
    const path = router.path.value;
    return hub.alarmEntries.value.filter((entry) => !entry.acknowledged || isShownSeen(entry, path));
  });
  const first = entries.value[0];
  const full = first !== undefined && !first.acknowledged && first.priority === 'high' ? first : null;
  const rest = entries.value.filter((entry) => entry !== full);
  useAcknowledgeKey(entries);
  // Views make room while something high calls.
  useLayoutEffect(() => {
    document.documentElement.toggleAttribute('data-calling', full !== null);
  }, [full !== null]);
  return (
    <section class="alarms" aria-label={text.alarm.region}>
      <PageAlarm />
      {full === null ? null : <FullEntry key={full.key} entry={full} />}
      {rest.length === 0 ? null : (
        <ul class="alarm-rows">
          {rest.map((entry) => (
            <EntryRow
              key={entry.key}
              entry={entry}
              isFirst={full === null && entry === rest[0]}
              isShort={full !== null}
            />
          ))}
        </ul>
      )}
      <DrillBox />
      <Announcer entries={hub.alarmEntries} />
    </section>
  );
}

/** What a person has seen stays in sight where it matters: on the athlete's own page all of it, elsewhere what is high. */
function isShownSeen(entry: AlarmEntry, path: string): boolean {
  if (entry.type === 'watch') return true;
  if (isPageOf(entry, path)) return true;
  return entry.priority === 'high' && entry.first.conditionPresent && path !== '/wall';
}

function isPageOf(entry: AthleteEntry, path: string): boolean {
  return entry.common === null && path === `/live/${entry.athletes[0]?.athleteId}`;
}

function useAcknowledgeKey(entries: ReadonlySignal<readonly AlarmEntry[]>): void {
  const { preferences, hub } = useApp();
  const acknowledge = useAcknowledge();
  useEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      if (event.key.toLowerCase() !== 'a' || event.repeat || event.defaultPrevented) return;
      if (event.ctrlKey || event.metaKey || event.altKey || !preferences.shortcutKeys.value) return;
      // A letter that is being typed is no acknowledgement.
      const target = event.target as HTMLElement | null;
      if (target?.isContentEditable || target?.closest?.('input, select, textarea')) return;
      const first = entries.value.find((entry) => !entry.acknowledged);
      if (first === undefined || !hub.mayAct.value) return;
      event.preventDefault();
      acknowledge(first);
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  }, []);
}

function useAcknowledge(): (entry: AlarmEntry) => void {
  const { commands } = useApp();
  return (entry) => {
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

const isPassed = (entry: AlarmEntry): boolean => entry.type === 'athlete' && !entry.first.conditionPresent;

const classOf = (base: string, entry: AlarmEntry): string =>
  `${base} alarm--${entry.priority}${entry.acknowledged ? ' is-acknowledged' : ''}${isPassed(entry) ? ' is-passed' : ''}`;

function useEntryWords(entry: AlarmEntry) {
  const { text, hub, say } = useApp();
  return entryWords(entry, text, say, hub.athletes.value.length > 1 || !hub.recording.value);
}

function FullEntry({ entry }: { readonly entry: AlarmEntry }) {
  const { hub } = useApp();
  const { title, message, instruction } = useEntryWords(entry);
  const model =
    entry.type === 'athlete' && entry.common === null
      ? hub.athleteById(entry.athletes[0]?.athleteId ?? '')
      : undefined;
  return (
    <div class={classOf('alarm', entry)} data-presents={presentsOf(entry)}>
      <Beacon priority={entry.priority} still={isPassed(entry)} />
      <div class="alarm-words">
        <h2 class="alarm-title">{title}</h2>
        <p class="alarm-instruction">{instruction}</p>
        <p class="alarm-message">
          {model === undefined ? null : <ReadingNow key={model.athleteId} model={model} />}
          {message}
        </p>
        {entry.type === 'athlete' ? <CardBeside /> : null}
      </div>
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

function EntryRow({
  entry,
  isFirst,
  isShort,
}: {
  readonly entry: AlarmEntry;
  readonly isFirst: boolean;
  /** Under one that is shown in full, which is to be read first. */
  readonly isShort: boolean;
}) {
  const { title, instruction } = useEntryWords(entry);
  return (
    <li class={classOf('alarm alarm-row', entry)} data-presents={presentsOf(entry)}>
      <Beacon priority={entry.priority} still={entry.acknowledged || isPassed(entry)} />
      <p class="alarm-row-words">
        <strong>{title}</strong> <span>{entry.acknowledged || isShort ? '' : instruction}</span>
      </p>
      <EntryActions entry={entry} isFirst={isFirst} />
    </li>
  );
}

/** The newest reading, where the page itself may show none. */
function ReadingNow({ model }: { readonly model: AthleteModel }) {
  const { text, router } = useApp();
  const spo2 = useReading(model, 'spo2');
  const shown = useComputed(
    () =>
      router.path.value !== `/live/${model.athleteId}` &&
      (spo2.freshness.value === 'fresh' || spo2.freshness.value === 'stale'),
  );
  if (!shown.value) return null;
  return (
    <strong class="alarm-reading" aria-live="off">
      {text.frame.reading(spo2.number.value)}{' '}
    </strong>
  );
}

function EntryActions({ entry, isFirst }: { readonly entry: AlarmEntry; readonly isFirst: boolean }) {
  const { hub } = useApp();
  if (!hub.mayAct.value && entry.type === 'athlete') return <GoTo entry={entry} />;
  return (
    <div class="alarm-actions">
      {entry.type === 'athlete' && entry.first.detail === 'noSound' ? <SoundCheck brief bare /> : null}
      {entry.type === 'watch' ? <WatchActions entry={entry} /> : <AthleteActions entry={entry} />}
      <AcknowledgeButton entry={entry} isFirst={isFirst} />
      {/* Of one cause for several, a pause would silence what else they have. */}
      {entry.type === 'athlete' && entry.common === null ? <PauseButton entry={entry} /> : null}
      {entry.type === 'athlete' ? <GoTo entry={entry} /> : null}
    </div>
  );
}

function AcknowledgeButton({ entry, isFirst }: { readonly entry: AlarmEntry; readonly isFirst: boolean }) {
  const { text, hub, preferences } = useApp();
  const acknowledge = useAcknowledge();
  const { title } = useEntryWords(entry);
  if (entry.acknowledged) return <span class="alarm-done">{text.alarm.acknowledged}</span>;
  const label =
    entry.type === 'watch' && hub.role.value !== 'coach' ? text.frame.quietHere : text.alarm.acknowledge;
  return (
    <ActionButton onPress={() => acknowledge(entry)}>
      <span>
        {label}
        <span class="visually-hidden">, {title}</span>
      </span>
      {isFirst && preferences.shortcutKeys.value && hub.mayAct.value ? (
        <small class="alarm-key" title={text.frame.keyHelp}>
          {text.frame.key} <kbd>A</kbd>
        </small>
      ) : null}
    </ActionButton>
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
    commands.startSession(
      athletes.map(({ athleteId }) => athleteId),
      title,
    );
    router.go(athletes.length === 1 ? `/live/${athletes[0]!.athleteId}` : '/wall');
  };
  return (
    <>
      <button type="button" class="button alarm-button alarm-answer" onClick={goOn}>
        {text.frame.goOn(formatList(athletes.map(({ name }) => name)))}
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
  const { text, router } = useApp();
  const athlete = entry.athletes[0];
  if (athlete === undefined || entry.common !== null || isPageOf(entry, router.path.value)) return null;
  return (
    <a class="button alarm-button" href={`/live/${athlete.athleteId}`}>
      {text.frame.goTo(athlete.name)}
    </a>
  );
}

/** Said once when it comes up or grows more urgent, and once when it is over. The bar itself is no live region. */
function Announcer({ entries }: { readonly entries: ReadonlySignal<readonly AlarmEntry[]> }) {
  const { text, say } = useApp();
  const finder = useRef<AlarmNewsFinder | null>(null);
  finder.current ??= new AlarmNewsFinder();
  const risen = useSignal<{ readonly number: number; readonly words: string }>({ number: 0, words: '' });
  const over = useSignal<{ readonly number: number; readonly words: string }>({ number: 0, words: '' });
  useSignalEffect(() => {
    const news = finder.current!.take(entries.value);
    if (news.risen.length > 0)
      risen.value = {
        number: risen.peek().number + 1,
        words: news.risen
          .map((entry) => {
            const { title, instruction } = entryWords(entry, text, say, true);
            return `${text.alarm.priority[entry.priority]}. ${title}. ${instruction}`;
          })
          .join(' '),
      };
    if (news.over.length > 0)
      over.value = {
        number: over.peek().number + 1,
        words: news.over.map((entry) => text.frame.over(entryWords(entry, text, say, true).title)).join('. '),
      };
    if (entries.value.length === 0 && risen.peek().words !== '')
      risen.value = { number: risen.peek().number + 1, words: '' };
  });
  return (
    <>
      <div class="visually-hidden" role="alert">
        {risen.value.words === '' ? null : <p key={risen.value.number}>{risen.value.words}</p>}
      </div>
      <div class="visually-hidden" role="status">
        {over.value.words === '' ? null : <p key={over.value.number}>{over.value.words}</p>}
      </div>
    </>
  );
}
