// Date and time of an entry, in the reader's own time zone; never later than now.

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
  return (
    <label class="field">
      <span>{label}</span>
      <input
        type="datetime-local"
        value={fieldText(wallAtMs)}
        max={fieldText(Date.now())}
        onChange={(event) => {
          const given = new Date(event.currentTarget.value).getTime();
          if (Number.isFinite(given)) onChange(Math.min(given, Date.now()));
        }}
      />
    </label>
  );
}
