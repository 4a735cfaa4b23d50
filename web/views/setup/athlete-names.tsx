// One athlete's name, changed everywhere at once, and taking them off the list, with a way back.

import { useSignal } from '@preact/signals';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { useDelete } from '../../app/use-delete.ts';
import { Dialog } from '../../components/dialog.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';

export interface AthleteNamesProps {
  readonly athlete: Athlete;
  readonly onClose: () => void;
  /** Somebody has another name, left the list, or is on it again. */
  readonly onChanged: () => void;
}

export function AthleteNames({ athlete, onClose, onChanged }: AthleteNamesProps) {
  const { text, http, hub } = useApp();
  const words = text.names;
  const discard = useDelete();
  const typed = useSignal(athlete.name);
  const problem = useSignal<string | null>(null);
  const isWatched = hub.athleteById(athlete.athleteId) !== undefined && hub.recording.value;
  const rename = async (event: Event) => {
    event.preventDefault();
    const name = typed.value.trim();
    if (name === '') {
      problem.value = text.setup.nameNeeded;
      return;
    }
    const answer = await http.renameAthlete(athlete.athleteId, name);
    problem.value = answer.ok ? null : answer.reason;
    if (!answer.ok) return;
    onChanged();
    onClose();
  };
  const remove = async () => {
    problem.value = await discard(
      () => http.removeAthlete(athlete.athleteId),
      text.takeBack.athleteRemoved(athlete.name),
      onChanged,
    );
    if (problem.value === null) onClose();
  };
  return (
    <Dialog title={athlete.name} onClose={onClose}>
      <form class="athlete-name" onSubmit={(event) => void rename(event)}>
        <label class="field">
          <span>{words.name}</span>
          <input
            type="text"
            maxLength={80}
            autocomplete="off"
            value={typed.value}
            onInput={(event) => (typed.value = event.currentTarget.value)}
          />
        </label>
        <button type="submit" class="button button--primary" disabled={typed.value.trim() === athlete.name}>
          {words.rename}
        </button>
      </form>
      <p class="hint">{words.everywhere}</p>
      <ProblemNotice problem={problem.value} />
      {hub.role.value === 'coach' ? (
        <section class="athlete-leaves">
          <p>{isWatched ? words.inSession : words.removeText(athlete.name)}</p>
          <button type="button" class="button" disabled={isWatched} onClick={() => void remove()}>
            {words.remove}
          </button>
        </section>
      ) : null}
    </Dialog>
  );
}
