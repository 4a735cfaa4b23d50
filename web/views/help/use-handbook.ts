// The handbook in the page's language: its chapters once they are there, and a way to try again.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import type { HandbookChapter } from '../../handbook/chapters.ts';
import { loadHandbook } from '../../handbook/load-handbook.ts';

export interface Handbook {
  /** Null while they are on their way. */
  readonly chapters: readonly HandbookChapter[] | null;
  readonly failed: boolean;
  readonly load: () => void;
}

export function useHandbook(): Handbook {
  const { language } = useApp();
  const chapters = useSignal<readonly HandbookChapter[] | null>(null);
  const failed = useSignal(false);
  const load = () => {
    failed.value = false;
    loadHandbook(language.language.peek()).then(
      (loaded) => {
        chapters.value = loaded;
      },
      () => {
        failed.value = true;
      },
    );
  };
  useEffect(load, []);
  return { chapters: chapters.value, failed: failed.value, load };
}
