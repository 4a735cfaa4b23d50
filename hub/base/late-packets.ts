// How a recording marks packets that came late: by link events, though of the link itself nothing has changed.

import type { Said } from '../../shared/said.ts';

/** Of packets that were recorded; of packets that belonged to nobody of the session, and were not. */
export const isOfLatePackets = (detail: Said | null): boolean =>
  detail?.code === 'link.cameLate' || detail?.code === 'link.cameForNobody';
