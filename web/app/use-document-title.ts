// The title of the browser's tab, the first thing a screen reader says of a page.

import { useLayoutEffect } from 'preact/hooks';
import { useApp } from './app-context.ts';

export function useDocumentTitle(title: string): void {
  const { pageTitle } = useApp();
  // Before the paint: whoever hears the page hears the title with the view that it names, not the one before.
  useLayoutEffect(() => {
    pageTitle.view.value = title;
  }, [title]);
}
