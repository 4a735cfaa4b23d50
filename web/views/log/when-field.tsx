// Date and time of an entry, in the reader's own time zone; never later than now.

import { useTyped } from '../../components/use-typed.ts';

export interface WhenFieldProps {
  readonly label: string;
  readonly wallAtMs: number;
  readonly onChange: (wallAtMs: number) => void;
}

/** As the browser's own field has it: local time, to the minute. */
function fieldText(wallAtMs: number): string {
  const date = new Date(wallAtMs);
  const two = (value: number) => String(value).padStart(2, '0');
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}T${two(date.getHours())}:${two(date.getMinutes())}`;
}

export function WhenField({ label, wallAtMs, onChange }: WhenFieldProps) {
  const typed = useTyped(fieldText(wallAtMs), (text) => {
    const given = new Date(text).getTime();
    if (Number.isFinite(given)) onChange(Math.min(given, Date.now()));
    return false;
  });
  return (
    <label class="field">
      <span>{label}</span>
      <input type="datetime-local" max={fieldText(Date.now())} {...typed} />
    </label>
  );
}
