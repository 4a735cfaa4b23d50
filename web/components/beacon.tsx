// The alarm's indicator: a shape a priority, flashing at the rate of IEC 60601-1-8 Table 2 unless motion is reduced.

import type { AlarmPriority } from '../../shared/schema-parts.ts';
import { useApp } from '../app/app-context.ts';
import './alarm.css';

const shapes: Readonly<Record<AlarmPriority, string>> = {
  high: 'M16 3 31 29H1ZM16 12v8M16 23.5v2',
  medium: 'M16 2 30 16 16 30 2 16ZM16 9v8M16 20.5v2',
  low: 'M3 6H29V26H3ZM16 10v6M16 19.5v2',
};

export function Beacon({ priority, still }: { readonly priority: AlarmPriority; readonly still: boolean }) {
  const { text } = useApp();
  return (
    <svg
      class={`beacon beacon--${priority}${still ? ' is-still' : ''}`}
      viewBox="0 0 32 32"
      role="img"
      aria-label={text.alarm.priority[priority]}
    >
      <path d={shapes[priority]} />
    </svg>
  );
}
