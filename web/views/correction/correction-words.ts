// What a correction did, in words.

import type { CorrectionRequest } from '../../../shared/http.ts';
import type { Messages } from '../../i18n/en.ts';
import { formatExactTime } from '../../state/format.ts';

export function correctionWords(correction: CorrectionRequest, text: Messages): string {
  const { did, which } = text.history.correction;
  switch (correction.type) {
    case 'addHold':
      return did.added(formatExactTime(correction.startMs), formatExactTime(correction.endMs));
    case 'removeHold':
      return did.removed;
    case 'moveBoundary':
      return did.moved(which[correction.boundary], formatExactTime(correction.atMs));
    case 'addMark':
      return did.markAdded(text.markKind[correction.kind], formatExactTime(correction.atMs));
    case 'moveMark':
      return did.markMoved(formatExactTime(correction.atMs));
    case 'removeMark':
      return did.markRemoved;
  }
}
