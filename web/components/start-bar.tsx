// The start, within reach of a thumb, and beside it what is still missing.

export interface StartBarProps {
  /** A sentence each; the start waits for all of them. */
  readonly missing: readonly string[];
  readonly label: string;
  readonly disabled: boolean;
  readonly noPrint?: boolean;
  readonly onStart: () => void;
}

export function StartBar({ missing, label, disabled, noPrint = false, onStart }: StartBarProps) {
  return (
    <div class={noPrint ? 'start-bar no-print' : 'start-bar'}>
      <ul class="missing" aria-live="polite">
        {missing.map((need) => (
          <li key={need}>{need}</li>
        ))}
      </ul>
      <button
        type="button"
        class="button button--primary button--start"
        disabled={missing.length > 0 || disabled}
        onClick={onStart}
      >
        {label}
      </button>
    </div>
  );
}
