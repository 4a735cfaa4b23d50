// The easy part of a hold and the part after the first contraction as a bar to scale; an estimate's uncertainty is drawn.

import { partsOfHold, type RecordedHold } from '../../../src/sessions/hold-parts.ts';
import { useApp } from '../../app/app-context.ts';
import { formatDecimal, formatDuration } from '../../state/format.ts';

export function HoldPartsBar({ recorded }: { readonly recorded: RecordedHold }) {
  const { text } = useApp();
  const words = text.recorded;
  if (recorded.hold.end === null) return null;
  const parts = partsOfHold(recorded);
  if (parts === null)
    return (
      <p class="hold-parts">
        <small>
          {words.parts.title}: {words.parts.notKnown}
        </small>
      </p>
    );
  const { easyMs, afterMs, uncertaintyMs, onset } = parts;
  const wholeMs = Math.max(1, easyMs + afterMs);
  const x = (ms: number): number => (100 * Math.min(wholeMs, Math.max(0, ms))) / wholeMs;
  const easy = formatDuration(easyMs);
  // Both are parts of one length as it is shown: whole seconds that add up.
  const after = formatDuration(Math.floor(wholeMs / 1_000) * 1_000 - Math.floor(easyMs / 1_000) * 1_000);
  const how =
    onset === 'marked'
      ? words.parts.marked
      : words.parts.estimated(words.plusMinus(formatDecimal(uncertaintyMs / 1_000, 1)));
  return (
    <p class="hold-parts">
      <svg
        class="hold-parts-bar"
        viewBox="0 0 100 10"
        preserveAspectRatio="none"
        role="img"
        aria-label={words.parts.drawing(easy, after)}
      >
        <rect class="hold-part-easy" width={x(easyMs)} height="10" />
        <rect class="hold-part-after" x={x(easyMs)} width={100 - x(easyMs)} height="10" />
        {uncertaintyMs === 0 ? null : (
          <rect
            class="hold-part-unsure"
            x={x(easyMs - uncertaintyMs)}
            width={x(easyMs + uncertaintyMs) - x(easyMs - uncertaintyMs)}
            height="10"
          />
        )}
      </svg>
      <span>
        {words.parts.easy(easy)}, {words.parts.after(after)} <small>({how})</small>
      </span>
    </p>
  );
}
