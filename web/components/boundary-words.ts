// Where a hold's boundary came from, and how sure it is, in words.

import type { BoundaryView } from '../../shared/views.ts';
import type { Messages } from '../i18n/en.ts';
import { formatDecimal } from '../state/format.ts';

export function boundaryWords({ source, uncertaintyMs }: BoundaryView, { recording }: Messages): string {
  const words = recording.boundary[source];
  return uncertaintyMs === 0
    ? words
    : `${words} ${recording.uncertainty(formatDecimal(uncertaintyMs / 1000, 1))}`;
}
