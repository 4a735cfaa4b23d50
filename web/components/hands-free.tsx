// Marks without touching the page: turning it on, what each button does, and a line that says which did what.

import { useApp } from '../app/app-context.ts';
import { handActions, handButtons } from '../state/hand-buttons.ts';
import { Tick } from './tick.tsx';
import './hands-free.css';

export function HandsFreeSettings() {
  const { text, handsFree } = useApp();
  const words = text.course.hands;
  return (
    <div class="hands-free">
      <Tick checked={handsFree.on.value} onChange={(on) => (handsFree.on.value = on)}>
        {words.on}
      </Tick>
      {handsFree.on.value ? (
        <>
          <p class="hint">{words.help}</p>
          {handButtons.map((button) => {
            const action = handsFree.actions[button];
            return (
              <label key={button} class="field field--narrow">
                <span>{words.button[button]}</span>
                <select
                  value={action.value}
                  onChange={(event) => {
                    const chosen = handActions.find((each) => each === event.currentTarget.value);
                    if (chosen !== undefined) action.value = chosen;
                  }}
                >
                  {handActions.map((each) => (
                    <option key={each} value={each}>
                      {words.action[each]}
                    </option>
                  ))}
                </select>
              </label>
            );
          })}
        </>
      ) : null}
    </div>
  );
}

/** Which button did what, for whom. */
export function HandNewsLine() {
  const { text, handsFree, hub } = useApp();
  const words = text.course.hands;
  const news = handsFree.news.value;
  if (!handsFree.on.value || !hub.recording.value) return null;
  return (
    <p class="hand-news" role="status">
      {news === null ? (
        words.ready
      ) : (
        <span key={news.number}>
          {news.mark === null
            ? words.forNobody(words.button[news.button])
            : words.did(words.button[news.button], text.markKind[news.mark], news.name)}
        </span>
      )}
    </p>
  );
}
