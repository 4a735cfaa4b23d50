// A drill that goes on, under everything real: marked as one, acknowledged by a person's name.

import { useSignal } from '@preact/signals';
import { useApp } from '../app/app-context.ts';
import { formatAge } from '../state/format.ts';
import '../components/emergency-card.css';

const nameKey = 'slackwater.drill-name';

export function DrillBox() {
  const { text, hub } = useApp();
  const words = text.course.papers;
  const drill = hub.drill.value;
  if (drill === null) return null;
  return (
    <section class="drill" aria-label={words.drill}>
      <div role="alert">
        <p class="drill-title">{words.drillTitle}</p>
        <p>{words.drillText}</p>
      </div>
      {hub.mayAct.value ? <SayWho drillId={drill.drillId} /> : null}
      {hub.role.value === 'coach' ? (
        <p role="status">
          {drill.acknowledgements.length === 0
            ? words.drillNobody
            : drill.acknowledgements
                .map(({ name, afterMs }) => words.drillBy(name, formatAge(afterMs)))
                .join(', ')}
        </p>
      ) : null}
    </section>
  );
}

function SayWho({ drillId }: { readonly drillId: string }) {
  const { text, hub, http } = useApp();
  const words = text.course.papers;
  const name = useSignal(localStorage.getItem(nameKey) ?? '');
  const problem = useSignal<string | null>(null);
  const acknowledge = async (event: Event) => {
    event.preventDefault();
    const answer = await http.course.acknowledgeDrill(name.value);
    problem.value = answer.ok ? null : answer.reason;
    if (!answer.ok) return;
    localStorage.setItem(nameKey, name.value);
    hub.seenDrillId.value = drillId;
  };
  return (
    <form class="drill-form" onSubmit={(event) => void acknowledge(event)}>
      <label class="field">
        <span>{words.drillName}</span>
        <input
          type="text"
          maxLength={80}
          autocomplete="name"
          value={name.value}
          onInput={(event) => (name.value = event.currentTarget.value)}
        />
      </label>
      <button type="submit" class="button button--primary">
        {words.drillSeen}
      </button>
      {hub.role.value === 'coach' ? (
        <button type="button" class="button" onClick={() => void http.course.endDrill()}>
          {words.drillEnd}
        </button>
      ) : null}
      {hub.seenDrillId.value === drillId ? <p>{words.drillSeenHere}</p> : null}
      {problem.value === null ? null : <p class="problem">{problem.value}</p>}
    </form>
  );
}
