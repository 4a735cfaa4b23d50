// Before a plan begins that nobody would watch: says so, offers to begin with monitoring, and wants a yes for going without.

import { useSignal } from '@preact/signals';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { CautionsList } from '../../components/cautions-list.tsx';
import { Dialog } from '../../components/dialog.tsx';
import { Tick } from '../../components/tick.tsx';
import { formatList, isolated } from '../../state/format.ts';

export interface StartUnwatchedProps {
  /** Those of the plan whom no session watches. */
  readonly unwatched: readonly Athlete[];
  /** Null where a session runs that does not hold them. */
  readonly onWith: (() => void) | null;
  readonly onWithout: () => void;
  readonly onClose: () => void;
}

export function StartUnwatched({ unwatched, onWith, onWithout, onClose }: StartUnwatchedProps) {
  const { text, hub } = useApp();
  const words = text.plans.unwatched;
  const isRead = useSignal(false);
  const wearers = new Set(
    hub.sensors.value.filter(({ kinds }) => kinds.includes('oximeter')).map(({ athleteId }) => athleteId),
  );
  const without = unwatched.filter(({ athleteId }) => !wearers.has(athleteId));
  return (
    <Dialog
      title={words.ask}
      onClose={onClose}
      closeLabel={text.cancel}
      actions={
        <>
          <button type="button" class="button" disabled={!isRead.value} onClick={onWithout}>
            {words.without}
          </button>
          {onWith === null ? null : (
            <button type="button" class="button button--primary" disabled={!isRead.value} onClick={onWith}>
              {words.with}
            </button>
          )}
        </>
      }
    >
      <p>
        <strong>{words.title}.</strong>{' '}
        {hub.recording.value
          ? words.some(formatList(unwatched.map(({ name }) => isolated(name))))
          : words.all}
      </p>
      {onWith === null ? <p>{words.addThem}</p> : <p>{words.withMeans}</p>}
      {onWith === null || without.length === 0 ? null : (
        <ul class="warnings">
          {without.map(({ athleteId, name }) => (
            <li key={athleteId}>{text.setup.noOximeter(isolated(name))}</li>
          ))}
        </ul>
      )}
      <details class="explain">
        <summary>{text.setup.cautions}</summary>
        <CautionsList />
      </details>
      <Tick strong checked={isRead.value} onChange={(on) => (isRead.value = on)}>
        {text.setup.cautionsRead}
      </Tick>
    </Dialog>
  );
}
