// A box to tick, with its label.

import type { ComponentChildren } from 'preact';

export interface TickProps {
  readonly checked: boolean;
  readonly onChange: (isChecked: boolean) => void;
  /** Set off from others: what must not be overlooked. */
  readonly strong?: boolean;
  /** The label. */
  readonly children: ComponentChildren;
}

export function Tick({ checked, onChange, strong = false, children }: TickProps) {
  return (
    <label class={strong ? 'tick tick--strong' : 'tick'}>
      <input type="checkbox" checked={checked} onChange={(event) => onChange(event.currentTarget.checked)} />
      <span>{children}</span>
    </label>
  );
}
