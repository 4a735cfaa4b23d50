// The title of the browser's tab, the first thing a screen reader says of a page.

import { useEffect } from 'preact/hooks';
import { useApp } from './app-context.ts';

export function useDocumentTitle(title: string): void {
  const { pageTitle } = useApp();
  useEffect(() => {
    pageTitle.view.value = title;
  }, [title]);
}
