// The address bar as a signal: History API, no hash. The hub answers every page address with the same page.

import { type ReadonlySignal, type Signal, signal } from '@preact/signals';

export class Router {
  readonly #path: Signal<string>;

  constructor() {
    this.#path = signal(location.pathname);
    addEventListener('popstate', () => {
      this.#path.value = location.pathname;
    });
    // Links of our own pages change the view without a reload; downloads, new tabs and /api stay the browser's.
    document.addEventListener('click', (event) => {
      if (event.defaultPrevented || event.button !== 0) return;
      if (event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
      const link = event.target instanceof Element ? event.target.closest('a') : null;
      if (link?.target !== '' || link.hasAttribute('download')) return;
      const url = new URL(link.href, location.href);
      if (url.origin !== location.origin || url.pathname.startsWith('/api/')) return;
      if (url.hash !== '' && url.pathname === location.pathname) return;
      event.preventDefault();
      this.go(url.pathname, url.hash);
    });
  }

  get path(): ReadonlySignal<string> {
    return this.#path;
  }

  /** When an answer has come: whoever has gone on to another view by then is not led away from it. */
  goFrom(asked: string, path: string): void {
    if (this.#path.peek() === asked) this.go(path);
  }

  /** `hash` is a place in the view, which goes there itself once it has drawn it. */
  go(path: string, hash = ''): void {
    if (path !== location.pathname || hash !== location.hash) history.pushState(null, '', path + hash);
    this.#path.value = path;
    scrollTo(0, 0);
  }
}
