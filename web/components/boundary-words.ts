// Where a hold's boundary came from, how sure it is, and what it rests on, in words.

import type { BoundaryView } from '../../shared/views.ts';
import type { Messages } from '../i18n/en.ts';
import { formatDecimal } from '../state/format.ts';

export function boundaryWords({ source, uncertaintyMs, evidence }: BoundaryView, text: Messages): string {
  const { recording } = text;
  const how =
    uncertaintyMs === 0
      ? recording.boundary[source]
      : `${recording.boundary[source]} ${recording.uncertainty(formatDecimal(uncertaintyMs / 1000, 1))}`;
  const signs = evidenceWords(evidence, text);
  return signs === '' ? how : `${how}: ${signs}`;
}

/** What the source itself does not say already; phrases that recordings of before hold instead of codes are left out. */
function evidenceWords(evidence: readonly string[], { recording }: Messages): string {
  const words: Readonly<Record<string, string>> = recording.evidence;
  return evidence.flatMap((code) => (Object.hasOwn(words, code) ? [words[code]!] : [])).join(', ');
}
