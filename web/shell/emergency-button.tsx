// The emergency card, one tap away on every page.

import { useSignal } from '@preact/signals';
import { useApp } from '../app/app-context.ts';
import { Dialog } from '../components/dialog.tsx';
import { EmergencyCardText } from '../components/emergency-card.tsx';

export function EmergencyButton() {
  const { text, hub } = useApp();
  const words = text.course.papers;
  const open = useSignal(false);
  const card = hub.emergencyCard.value;
  return (
    <>
      <button type="button" class="label-button" onClick={() => (open.value = true)}>
        <span class="label-more">{words.cardShort}</span>
      </button>
      {open.value ? (
        <Dialog title={words.card} onClose={() => (open.value = false)}>
          {card === null ? (
            <>
              <p>{words.cardNone}</p>
              {hub.role.value === 'coach' ? (
                <a class="button" href="/course" onClick={() => (open.value = false)}>
                  {words.cardNoneCoach}
                </a>
              ) : null}
            </>
          ) : (
            <EmergencyCardText card={card} />
          )}
        </Dialog>
      ) : null}
    </>
  );
}
