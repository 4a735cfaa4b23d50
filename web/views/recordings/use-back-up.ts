// Has the hub make a backup, and the browser take it.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';

export function useBackUp(onProblem: (problem: string | null) => void): {
  readonly backingUp: ReadonlySignal<boolean>;
  readonly backUp: () => Promise<void>;
} {
  const { http } = useApp();
  const backingUp = useSignal(false);
  return {
    backingUp,
    backUp: async () => {
      backingUp.value = true;
      const made = await http.makeBackup();
      backingUp.value = false;
      onProblem(made.ok ? null : made.reason);
      if (!made.ok) return;
      // A click of a download link: going to the address would end the page's connection in some browsers.
      const link = document.createElement('a');
      link.href = made.value;
      link.download = '';
      link.click();
    },
  };
}
