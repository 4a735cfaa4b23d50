// The cautions, wherever they are read.

import { useApp } from '../app/app-context.ts';

export function CautionsList() {
  const { text } = useApp();
  return (
    <ul class="cautions">
      {text.cautions.map((caution) => (
        <li key={caution}>{caution}</li>
      ))}
    </ul>
  );
}
