// Those in the session, what each wears, and their leaving it.

import { useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { Dialog } from '../../components/dialog.tsx';
import { Name } from '../../components/name.tsx';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { formatList, isolated } from '../../state/format.ts';
import type { Taking } from './people-view.tsx';
import { SendWords } from './send-words.tsx';

export function Present({ take }: Taking) {
  const { text, hub } = useApp();
  const leaving = useSignal<AthleteModel | null>(null);
  const words = text.course.people;
  return (
    <>
      <p class="hint">{text.course.mail.waits}</p>
      <ul class="people">
        {hub.athletes.value.map((model) => (
          <li key={model.athleteId}>
            <span>
              <strong>
                <Name>{model.athlete.value.name}</Name>
              </strong>{' '}
              <span class="hint">
                {formatList(hub.sensorsOf(model.athleteId).map(({ name }) => name)) || words.noSensors}
              </span>
            </span>
            {hub.athletes.value.length > 1 ? (
              <button type="button" class="button button--quiet" onClick={() => (leaving.value = model)}>
                {words.leaves}
                <span class="visually-hidden">: {isolated(model.athlete.value.name)}</span>
              </button>
            ) : null}
            <SendWords model={model} />
          </li>
        ))}
      </ul>
      {leaving.value === null ? null : (
        <Leaving
          key={leaving.value.athleteId}
          model={leaving.value}
          take={take}
          onClose={(model) => {
            // Another's question, opened while the hub answered the one before, stays.
            if (leaving.value === model) leaving.value = null;
          }}
        />
      )}
    </>
  );
}

function Leaving({
  model,
  take,
  onClose,
}: Taking & { readonly model: AthleteModel; readonly onClose: (model: AthleteModel) => void }) {
  const { text, http } = useApp();
  const words = text.course.people;
  const { name } = model.athlete.value;
  const phase = model.phase.value;
  return (
    <Dialog
      title={words.leavesTitle(name)}
      closeLabel={text.cancel}
      onClose={() => onClose(model)}
      actions={
        <button
          type="button"
          class="button button--primary"
          onClick={() => void take(http.course.leaveSession(model.athleteId)).then(() => onClose(model))}
        >
          {words.leavesConfirm}
        </button>
      }
    >
      {phase === 'holding' || phase === 'recovering' ? (
        <p class="notice notice--strong">{words.holdsNow(name)}</p>
      ) : null}
      <p>{words.leavesText}</p>
    </Dialog>
  );
}
