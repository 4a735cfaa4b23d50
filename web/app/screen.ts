// What room the window gives: small, low, or a wall made for being seen from afar. Followed by the frame's alarms.

import { effect, type ReadonlySignal, type Signal, signal } from '@preact/signals';

/** As in the style sheets: a phone's or tablet's width, or a phone on its side and a large window zoomed to 200 %. */
const smallQuery = '(max-width: 1099px), (max-height: 480px)';
/** Low: the view under an alarm has no room for its reading. That is so with large text on a phone too (em: the browser's own size). */
const lowQuery = '(max-height: 480px), (max-width: 17em)';

export class Screen {
  readonly small: ReadonlySignal<boolean> = following(smallQuery);
  readonly low: ReadonlySignal<boolean> = following(lowQuery);
  /** The view in the window is made to be seen from afar: no bars, no buttons but those of alarms. */
  readonly isDense: Signal<boolean> = signal(false);

  constructor() {
    effect(() => {
      document.documentElement.toggleAttribute('data-dense', this.isDense.value);
    });
  }
}

function following(query: string): ReadonlySignal<boolean> {
  const list = matchMedia(query);
  const matches = signal(list.matches);
  list.addEventListener('change', (event) => {
    matches.value = event.matches;
  });
  return matches;
}
