// What a person reads off a plot, and the channels that carry it.

import type { Trace } from '../../shared/views.ts';

export type Quantity = 'spo2' | 'heartRate' | 'pleth';

/** The first that has samples is drawn: a pulse rate stands in where there is no chest strap. */
export const channelsOf: Readonly<Record<Quantity, readonly Trace['channel'][]>> = {
  spo2: ['spo2Percent'],
  heartRate: ['heartRateBpm', 'pulseRateBpm'],
  pleth: ['pleth'],
};
