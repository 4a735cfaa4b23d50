// A coach's short message to one athlete's phone, and how it fares.

import { useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { Tick } from '../../components/tick.tsx';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { isolated } from '../../state/format.ts';
import '../../components/hands-free.css';

const mostCharacters = 140;

export function SendWords({ model }: { readonly model: AthleteModel }) {
  const { text, hub, http } = useApp();
  const words = text.course.mail;
  const typed = useSignal('');
  const insists = useSignal(false);
  const problem = useSignal<string | null>(null);
  const last = hub.coachWords.value.get(model.athleteId);
  const { name } = model.athlete.value;
  const send = async (event: Event) => {
    event.preventDefault();
    if (typed.value.trim() === '') return;
    const sent = typed.value;
    const answer = await http.course.sendWords(model.athleteId, sent, insists.value);
    problem.value = answer.ok ? null : answer.reason;
    // What is typed by now is the next message.
    if (!answer.ok || typed.value !== sent) return;
    typed.value = '';
    insists.value = false;
  };
  return (
    <form class="send-words" onSubmit={(event) => void send(event)}>
      <label class="field">
        <span>{words.to(isolated(name))}</span>
        <input
          type="text"
          maxLength={mostCharacters}
          autocomplete="off"
          value={typed.value}
          onInput={(event) => (typed.value = event.currentTarget.value)}
        />
      </label>
      <button type="submit" class="button">
        {words.send}
        <span class="visually-hidden">: {name}</span>
      </button>
      <Tick checked={insists.value} onChange={(on) => (insists.value = on)}>
        {words.insist}
      </Tick>
      <p class="hint" role="status">
        {problem.value ?? (last === undefined ? '' : `${words.state[last.state]}: ${last.text}`)}
      </p>
    </form>
  );
}
