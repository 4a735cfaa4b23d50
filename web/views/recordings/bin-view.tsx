// The bin: what was deleted, whom it takes, until when it can be put back, and deleting it for good.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { type BinnedItem, binKeepsDays } from '../../../shared/bin.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { useInOrder } from '../../app/use-in-order.ts';
import { Dialog } from '../../components/dialog.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { formatList, formatWallTime } from '../../state/format.ts';
import './recordings.css';

const dayMs = 86_400_000;

export function BinView() {
  const { text, http, hub } = useApp();
  const words = text.bin;
  useDocumentTitle(words.title);
  const items = useSignal<readonly BinnedItem[] | null>(null);
  const problem = useSignal<string | null>(null);
  const said = useSignal('');
  const removing = useSignal<BinnedItem | null>(null);
  const ask = useInOrder();
  const load = async () => {
    const isNews = ask();
    const answer = await http.bin();
    if (!isNews()) return;
    problem.value = answer.ok ? null : words.failed(answer.reason);
    if (answer.ok) items.value = answer.value.items;
  };
  const live = hub.link.value === 'live';
  useEffect(() => void load(), [live]);
  const nameOf = ({ kind, title, ofWallMs, athletes }: BinnedItem): string => {
    const what =
      title ||
      (kind === 'athlete' ? (athletes[0]?.name ?? '') : '') ||
      (ofWallMs === null ? '' : formatWallTime(ofWallMs));
    return what === '' ? words.kinds[kind] : `${words.kinds[kind]} \u2013 ${what}`;
  };
  const restore = async (item: BinnedItem) => {
    const answer = await http.restoreFromBin(item.binId);
    said.value = answer.ok ? words.restored(nameOf(item)) : '';
    await load();
    if (!answer.ok) problem.value = answer.reason;
  };
  const removeForGood = async (item: BinnedItem) => {
    const answer = await http.deleteForGood(item.binId);
    if (removing.value === item) removing.value = null;
    await load();
    if (!answer.ok) problem.value = answer.reason;
  };
  return (
    <article class="sheet">
      <a class="button button--quiet back-link" href="/recordings">
        {'\u2190'} {words.back}
      </a>
      <h1>{words.title}</h1>
      <p>{words.lead(binKeepsDays)}</p>
      <ProblemNotice problem={problem.value} onAgain={() => void load()} />
      <p role="status">{said.value}</p>
      {items.value === null && problem.value === null ? <p class="hint">{text.recordings.loading}</p> : null}
      {items.value?.length === 0 ? <p class="empty">{words.empty}</p> : null}
      <ul class="bin-list">
        {(items.value ?? []).map((item) => (
          <li key={item.binId}>
            <BinLine item={item} name={nameOf(item)} />
            <span class="button-row">
              <button
                type="button"
                class="button"
                aria-label={words.restoreWhat(nameOf(item))}
                onClick={() => void restore(item)}
              >
                {words.restore}
              </button>
              {hub.role.value === 'coach' ? (
                <button
                  type="button"
                  class="button button--quiet"
                  aria-label={words.removeTitle(nameOf(item))}
                  onClick={() => (removing.value = item)}
                >
                  {words.remove}
                </button>
              ) : null}
            </span>
          </li>
        ))}
      </ul>
      {removing.value === null ? null : (
        <Dialog
          title={words.removeTitle(nameOf(removing.value))}
          onClose={() => (removing.value = null)}
          closeLabel={text.cancel}
          actions={
            <button
              type="button"
              class="button button--primary"
              onClick={() => removing.value !== null && void removeForGood(removing.value)}
            >
              {words.remove}
            </button>
          }
        >
          <p>{words.removeText}</p>
        </Dialog>
      )}
    </article>
  );
}

function BinLine({ item, name }: { readonly item: BinnedItem; readonly name: string }) {
  const { text } = useApp();
  const words = text.bin;
  const { athletes, deletedWallAtMs, keptUntilWallMs, ofWallMs, title } = item;
  const leftDays = Math.max(0, Math.ceil((keptUntilWallMs - Date.now()) / dayMs));
  return (
    <span class="bin-line">
      <strong>{name}</strong>
      {title === '' || ofWallMs === null ? null : <span>{formatWallTime(ofWallMs)}</span>}
      {athletes.length === 0 ? null : (
        <span>{words.whom(formatList(athletes.map((each) => each.name || words.unnamed)))}</span>
      )}
      <span class="hint">
        {words.deletedAt(formatWallTime(deletedWallAtMs))}, {words.left(leftDays)}
      </span>
    </span>
  );
}
