// What this page changed that isn't saved, one by one; and what is gone, until a person has read of it.

import { useApp } from '../app/app-context.ts';
import type { Messages } from '../i18n/en.ts';
import { formatDuration } from '../state/format.ts';
import type { Change, ChangeState } from '../state/unsaved-changes.ts';

/** The rest is counted: a notice must leave room for what it stands above. */
const mostNamed = 8;

export function UnsavedNotices() {
  const { text, hub } = useApp();
  const nameOf = (athleteId: string): string => hub.athleteById(athleteId)?.athlete.value.name ?? '';
  const all = hub.unsaved.list.value;
  const listed = (wanted: ChangeState): string | null => {
    const changes = all.filter(({ state }) => state === wanted);
    if (changes.length === 0) return null;
    const named = changes.slice(0, mostNamed).map(({ change }) => changeText(change, text, nameOf));
    const more = changes.length - named.length;
    return [...named, ...(more === 0 ? [] : [text.unsaved.more(more)])].join('; ');
  };
  const [unsaved, lost, withdrawn] = [listed('unsaved'), listed('lost'), listed('withdrawn')];
  return (
    <>
      {unsaved === null ? null : (
        <p class="notice notice--strong unsaved-notice">{text.unsaved.unsaved(unsaved)}</p>
      )}
      {lost === null && withdrawn === null ? null : (
        <p class="notice notice--strong unsaved-notice">
          {lost === null ? '' : text.unsaved.lost(lost)}{' '}
          {withdrawn === null ? '' : text.unsaved.withdrawn(withdrawn)}
          <button type="button" class="button" onClick={() => hub.unsaved.dismiss()}>
            {text.dismiss}
          </button>
        </p>
      )}
    </>
  );
}

function changeText(change: Change, text: Messages, nameOf: (athleteId: string) => string): string {
  const words = text.unsaved.change;
  switch (change.type) {
    case 'mark':
    case 'markRemoved':
      return words[change.type](
        nameOf(change.athleteId),
        text.markKind[change.kind],
        formatDuration(change.atMs),
      );
    case 'feeling':
    case 'settings':
      return words[change.type](nameOf(change.athleteId));
    case 'sessionStart':
    case 'sessionEnd':
      return words[change.type];
    case 'http':
      return text.unsaved.http[change.what];
  }
}
