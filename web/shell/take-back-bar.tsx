// What was just done and can be taken back, at the foot of every page. Read out as it comes; the key for undoing does it from
// anywhere but a field; it stays while a pointer or the keyboard is at it.

import { useLayoutEffect } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';
import type { TakeBack } from '../state/take-backs.ts';
import './take-back-bar.css';

/** Fields undo what was typed into them. */
const isField = (target: EventTarget | null): boolean =>
  target instanceof HTMLTextAreaElement ||
  (target instanceof HTMLInputElement && !['range', 'checkbox', 'radio', 'button'].includes(target.type));

export function TakeBackBar() {
  const { takeBacks, text } = useApp();
  // Before the paint: a key pressed as soon as the page is seen is heard.
  useLayoutEffect(() => {
    const hear = (event: KeyboardEvent) => {
      const isUndo = (event.ctrlKey || event.metaKey) && !event.altKey && !event.shiftKey;
      if (!isUndo || event.key.toLowerCase() !== 'z' || event.defaultPrevented || isField(event.target))
        return;
      if (takeBacks.actOnNewest()) event.preventDefault();
    };
    addEventListener('keydown', hear);
    return () => removeEventListener('keydown', hear);
  }, []);
  const standing = takeBacks.standing.value;
  return (
    <section
      class="take-backs"
      aria-label={text.takeBack.region}
      onPointerEnter={() => takeBacks.hold(true)}
      onPointerLeave={() => takeBacks.hold(false)}
      onFocusIn={() => takeBacks.hold(true)}
      onFocusOut={() => takeBacks.hold(false)}
    >
      <div role="status">
        {standing.map((each, index) => (
          <TakeBackLine key={each.number} takeBack={each} isNewest={index === standing.length - 1} />
        ))}
      </div>
    </section>
  );
}

function TakeBackLine({ takeBack, isNewest }: { readonly takeBack: TakeBack; readonly isNewest: boolean }) {
  const { takeBacks, text } = useApp();
  const words = text.takeBack;
  const { number, done, actions, busy, problem } = takeBack;
  return (
    <div class="take-back">
      <p>{problem === null ? done : words.failed(problem)}</p>
      <div class="take-back-actions">
        {actions.map(({ label }, index) => (
          <button
            key={label}
            type="button"
            class={index === 0 ? 'button button--primary' : 'button'}
            disabled={busy}
            aria-keyshortcuts={isNewest && index === 0 ? 'Control+Z' : undefined}
            onClick={() => void takeBacks.act(number, index)}
          >
            <span>
              {label}
              {isNewest && index === 0 ? <small class="take-back-key"> {words.key}</small> : null}
            </span>
          </button>
        ))}
      </div>
      <button
        type="button"
        class="button take-back-close"
        aria-label={words.dismiss}
        onClick={() => takeBacks.dismiss(number)}
      >
        {'\u00d7'}
      </button>
    </div>
  );
}
