// A modal dialog on the browser's own <dialog>: focus kept inside, Escape closes, focus returned by the browser.

import type { ComponentChildren } from 'preact';
import { useId, useLayoutEffect, useRef } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';
import './dialog.css';

export interface DialogProps {
  readonly title: string;
  readonly onClose: () => void;
  readonly children: ComponentChildren;
  /** Buttons beside Close. */
  readonly actions?: ComponentChildren;
  readonly closeLabel?: string;
}

export function Dialog({ title, onClose, children, actions, closeLabel }: DialogProps) {
  const { text, alarmPlace } = useApp();
  const alarms = useRef<HTMLDivElement>(null);
  const element = useRef<HTMLDialogElement>(null);
  const titleId = useId();
  // What lies outside a modal dialog can neither be pressed nor heard: alarms come in.
  useLayoutEffect(() => alarmPlace.liftInto(alarms.current!), []);
  // Before the paint: nothing behind it takes a press that was meant for it, and Escape closes it at once.
  useLayoutEffect(() => {
    const dialog = element.current!;
    if (!dialog.open) dialog.showModal();
    return () => dialog.close();
  }, []);
  return (
    <dialog ref={element} class="dialog" aria-labelledby={titleId} onClose={onClose}>
      <div class="dialog-alarms" ref={alarms} />
      <h2 id={titleId}>{title}</h2>
      <div class="dialog-body">{children}</div>
      <div class="dialog-actions">
        <button type="button" class="button" onClick={() => element.current?.close()}>
          {closeLabel ?? text.close}
        </button>
        {actions}
      </div>
    </dialog>
  );
}
