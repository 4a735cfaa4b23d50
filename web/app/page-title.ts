// The tab: the view's title, and while an alarm stands its name before it and another icon, for whoever looks elsewhere.

import { effect, type ReadonlySignal, signal } from '@preact/signals';

export class PageTitle {
  /** What the view calls itself. */
  readonly view = signal('');

  /** `alarm` names what stands, null while nothing does; `title` puts the tab's words together. */
  constructor(
    alarm: ReadonlySignal<string | null>,
    title: (view: string, alarm: string | null) => string,
    icon: HTMLLinkElement | null,
  ) {
    effect(() => {
      document.title = title(this.view.value, alarm.value);
    });
    const calm = icon?.getAttribute('href') ?? '';
    effect(() => icon?.setAttribute('href', alarm.value === null ? calm : '/alarm.svg'));
  }
}
