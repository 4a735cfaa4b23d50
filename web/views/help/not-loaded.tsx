// In place of the handbook while it is fetched, or could not be.

import { useApp } from '../../app/app-context.ts';
import type { Handbook } from './use-handbook.ts';

export function NotLoaded({ failed, load }: Pick<Handbook, 'failed' | 'load'>) {
  const { text } = useApp();
  if (!failed) return <p class="hint">{text.recordings.loading}</p>;
  return (
    <p class="notice notice--strong">
      {text.help.notLoaded}
      <button type="button" class="button" onClick={load}>
        {text.recordings.again}
      </button>
    </p>
  );
}
