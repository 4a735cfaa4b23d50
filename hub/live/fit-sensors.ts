// Which sensors are no use in a hold however well they work: no session begins on them as if they watched somebody.

import { said } from '../../shared/said.ts';
import type { Athlete, SensorView } from '../../shared/views.ts';
import type { Refusal } from '../base/refusal.ts';

/**
 * Refused for an athlete whose only oximeter measures once at a time when asked to (PLX Spot-Check, Pulse Oximeter Service
 * 1.0.1 s3.1): it looks connected and well, and would never raise an alarm. Null: nothing against it.
 */
export function unfitSensor(athletes: readonly Athlete[], sensors: readonly SensorView[]): Refusal | null {
  for (const { athleteId, name } of athletes) {
    const theirs = sensors.filter((sensor) => sensor.athleteId === athleteId);
    if (theirs.some(({ kinds }) => kinds.includes('oximeter'))) continue;
    const unfit = theirs.find(
      ({ detail, kinds }) => detail?.code === 'sensor.onlySpotChecks' && !kinds.includes('heartRate'),
    );
    if (unfit !== undefined)
      return { code: 'badRequest', said: said('refusal.spotChecksOnly', { sensor: unfit.name, name }) };
  }
  return null;
}
