// Giving one athlete's part of a recording to whom it belongs.

import { useSignal } from '@preact/signals';
import type { Athlete, SessionView } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { Dialog } from '../../components/dialog.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { useAthletes } from '../../components/use-athletes.ts';
import { isolated } from '../../state/format.ts';

export interface ReassignPartProps {
  readonly session: SessionView;
  readonly athlete: Pick<Athlete, 'athleteId' | 'name'>;
  readonly onClose: () => void;
  /** Also when it is taken back. */
  readonly onReassigned: () => void;
}

export function ReassignPart({ session, athlete, onClose, onReassigned }: ReassignPartProps) {
  const { text, http, takeBacks } = useApp();
  const words = text.weeksMore.reassign;
  const problem = useSignal<string | null>(null);
  const chosen = useSignal('');
  const athletes = useAthletes((reason) => {
    problem.value = reason;
  });
  // One person cannot have two parts of a recording.
  const others = (athletes.value ?? []).filter(({ athleteId }) => !session.athleteIds.includes(athleteId));
  const { sessionId } = session;
  const give = async () => {
    const to = others.find(({ athleteId }) => athleteId === chosen.value);
    if (to === undefined) return;
    const answer = await http.reassignPart(sessionId, athlete.athleteId, to.athleteId);
    problem.value = answer.ok ? null : words.failed(answer.reason);
    if (!answer.ok) return;
    onClose();
    takeBacks.offer({
      done: words.done(isolated(to.name)),
      actions: [
        {
          label: text.takeBack.undo,
          act: async () => {
            const back = await http.reassignPart(sessionId, to.athleteId, athlete.athleteId);
            if (back.ok) onReassigned();
            return back.ok ? null : back.reason;
          },
        },
      ],
    });
    onReassigned();
  };
  return (
    <Dialog
      title={words.title(isolated(athlete.name))}
      onClose={onClose}
      closeLabel={text.cancel}
      actions={
        <button
          type="button"
          class="button button--primary"
          disabled={chosen.value === ''}
          onClick={() => void give()}
        >
          {words.give}
        </button>
      }
    >
      <p>{words.text}</p>
      {athletes.value !== null && others.length === 0 ? (
        <p class="notice">{words.none}</p>
      ) : (
        <AthleteField
          label={words.to}
          athletes={others}
          athleteId={chosen.value}
          nobody={words.choose}
          onChange={(athleteId) => (chosen.value = athleteId)}
        />
      )}
      <ProblemNotice problem={problem.value} />
    </Dialog>
  );
}
