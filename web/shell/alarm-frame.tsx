// Every alarm that stands, on every view: the most urgent that nobody has seen in full, the others a line each, or one
// line for all of them where there is little room; one key acknowledges it wherever the page is. Screen readers hear each
// once, and its end.

import { type ReadonlySignal, useComputed, useSignal, useSignalEffect } from '@preact/signals';
import { useLayoutEffect, useRef } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';
import { shownAthleteId } from '../app/shown-athlete.ts';
import { entryWords } from '../components/entry-words.ts';
import { PageAlarm } from '../components/page-alarm.tsx';
import { AlarmNewsFinder } from '../state/alarm-news.ts';
import { type AlarmEntry, isPageOf, ownFirst } from '../state/standing-alarms.ts';
import { EntryRow, FoldedEntries, FullEntry, useAcknowledge } from './alarm-entry.tsx';
import { DrillBox } from './drill-box.tsx';
import '../components/alarm.css';

/** Besides the first, where there is room: a line each up to this many, then one line for the rest. Our choice. */
const linesBesideFirst = 2;

export function AlarmFrame() {
  const app = useApp();
  const { text, hub, router, screen } = app;
  const entries = useComputed(() => {
    const own = shownAthleteId(app);
    const isWall = router.path.value === '/wall';
    const shown = hub.alarmEntries.value.filter(
      (entry) => !entry.acknowledged || isShownSeen(entry, own, isWall),
    );
    return ownFirst(shown, own);
  });
  const unfolded = useSignal(false);
  const first = entries.value[0];
  const full = first !== undefined && !first.acknowledged && first.priority === 'high' ? first : null;
  const rest = entries.value.slice(full === null ? 0 : 1);
  // On a small screen, and where a view fills the window with everybody, the first alone stands in full.
  const isTight = screen.small.value || screen.isDense.value || router.path.value === '/plan-run';
  const lines = (full === null ? 1 : 0) + (isTight ? 0 : linesBesideFirst);
  const shown = rest.slice(0, lines);
  const folded = rest.slice(lines);
  useAcknowledgeKey(entries);
  // Views make room while something high calls.
  useLayoutEffect(() => {
    document.documentElement.toggleAttribute('data-calling', full !== null);
  }, [full !== null]);
  return (
    <section class="alarms" aria-label={text.alarm.region}>
      {full !== null && screen.low.value ? <StandInLabel /> : null}
      <PageAlarm />
      {full === null ? null : <FullEntry key={full.key} entry={full} />}
      <EntryRows entries={shown} hasFirst={full === null} />
      {folded.length === 0 ? null : <FoldedEntries entries={folded} unfolded={unfolded} />}
      {unfolded.value ? <EntryRows entries={folded} hasFirst={false} /> : null}
      <DrillBox />
      <Announcer entries={hub.alarmEntries} />
    </section>
  );
}

/** The label in one line, for where a high alarm takes the room of the bar and the band that bear it. */
function StandInLabel() {
  const { text, hub } = useApp();
  return (
    <p class="alarms-label">
      {hub.hub.value?.simulated ? <strong>{text.simulatedBand}</strong> : null}
      <span>{text.notMedicalDevice}</span>
    </p>
  );
}

/** A line each. `hasFirst`: nothing stands in full above them, so the first is what the key acknowledges. */
function EntryRows(props: { readonly entries: readonly AlarmEntry[]; readonly hasFirst: boolean }) {
  const { entries, hasFirst } = props;
  if (entries.length === 0) return null;
  return (
    <ul class="alarm-rows">
      {entries.map((entry, index) => (
        <EntryRow key={entry.key} entry={entry} isFirst={hasFirst && index === 0} isShort={!hasFirst} />
      ))}
    </ul>
  );
}

/** What a person has seen stays in sight where it matters: on the athlete's own page all of it, elsewhere what is high. */
function isShownSeen(entry: AlarmEntry, own: string | null, isWall: boolean): boolean {
  if (entry.type === 'watch') return true;
  if (isPageOf(entry, own)) return true;
  return entry.priority === 'high' && entry.first.conditionPresent && !isWall;
}

function useAcknowledgeKey(entries: ReadonlySignal<readonly AlarmEntry[]>): void {
  const { preferences, hub } = useApp();
  const acknowledge = useAcknowledge();
  // Before the paint: a key pressed as soon as the page is seen is heard.
  useLayoutEffect(() => {
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
