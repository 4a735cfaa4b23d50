// What is wrong with the oximeters, each by itself: lost, stale, useless or stopped. How urgent that is depends on
// whether another one still watches.

import { alarmLimits as limits } from './alarm-limits.ts';
import { decidingFloor, type OximeterWatch, stillFor } from './oximeter-watch.ts';
import { linkOf, oximeterFault, type SensorLink, type SupplyFault, type Vigilance } from './supply-watch.ts';

export interface OximeterScene {
  readonly oximeters: readonly OximeterWatch[];
  readonly links: readonly SensorLink[];
  readonly nowMs: number;
  /** A hold or the minute after it. */
  readonly vigilant: boolean;
  readonly holdStartedAtMs: number | null;
  readonly floorPercent: number;
  readonly forecastAlarming: boolean;
  /** The newest rate of a strap; null while none is heard. */
  readonly strapBpm: number | null;
}

/** A fault with the oximeter it is of; none where there is no oximeter at all. */
export type OximeterFault = SupplyFault & { readonly sensorId?: string };

const noFaults: readonly OximeterFault[] = [];

/** Everything that is wrong, at most one thing an oximeter. Names the sensor only where there are several. */
export function oximeterFaults(scene: OximeterScene): readonly OximeterFault[] {
  const { oximeters, holdStartedAtMs, nowMs } = scene;
  if (oximeters.length === 0) {
    const heldMs = holdStartedAtMs === null ? 0 : nowMs - holdStartedAtMs;
    return heldMs >= limits.staleMs
      ? [{ subject: 'oximeter', kind: 'sensorLost', priority: 'medium', detail: 'noOximeter' }]
      : [];
  }
  // Asked some times a step, and mostly of nothing: then nothing is made.
  let found: OximeterFault[] | undefined;
  for (let i = 0; i < oximeters.length; i++) {
    const oximeter = oximeters[i]!;
    const fault = faultOf(oximeter, scene);
    if (fault === null) continue;
    found ??= [];
    const named = oximeters.length > 1 ? { ...fault, sensorId: oximeter.sensorId } : fault;
    found.push(
      fault.priority === 'low' || !anotherWatches(oximeter, scene)
        ? named
        : { ...named, priority: wasInUse(oximeter, scene) ? 'medium' : 'low' },
    );
  }
  return found ?? noFaults;
}

function anotherWatches(oximeter: OximeterWatch, scene: OximeterScene): boolean {
  return scene.oximeters.some((other) => {
    if (other === oximeter) return false;
    const fault = faultOf(other, scene);
    return fault === null || fault.detail === 'doubtful';
  });
}

/** Nothing watches saturation any more: silence or useless data of every oximeter there is. */
export function isBlind(scene: OximeterScene): boolean {
  const faults = oximeterFaults(scene);
  for (let i = 0; i < faults.length; i++) if (faults[i]!.priority === 'high') return true;
  return false;
}

function faultOf(oximeter: OximeterWatch, scene: OximeterScene): SupplyFault | null {
  const { links, nowMs, holdStartedAtMs } = scene;
  const link = linkOf(links, oximeter.sensorId);
  const vigilance = vigilanceFor(oximeter, scene);
  const fault = oximeterFault(oximeter.supply, link?.connected === false, nowMs, vigilance);
  // Nothing that comes any more can stand still.
  if (holdStartedAtMs === null || (fault !== null && fault.detail !== 'doubtful')) return fault;
  const still = stillFor(oximeter, scene.strapBpm);
  const stillMs = Math.min(still.forMs, nowMs - holdStartedAtMs);
  if (stillMs < limits.stillMs) return fault;
  const contradicted = still.contradicted || vigilance === 'close';
  return {
    subject: 'oximeter',
    kind: 'readingsFrozen',
    priority: stillMs >= limits.stillLongMs ? 'high' : contradicted ? 'medium' : 'low',
    value: limits.stillMs,
  };
}

/** An oximeter that has read nothing yet may be as close to the floor as any. */
function vigilanceFor(oximeter: OximeterWatch, scene: OximeterScene): Vigilance {
  if (!scene.vigilant) return 'none';
  const { last } = decidingFloor(oximeter);
  const close =
    scene.forecastAlarming || last === null || last.percent < scene.floorPercent + limits.closeToFloorPercent;
  return close ? 'close' : 'holding';
}

/** One taken off before the hold is not missed in it. */
function wasInUse({ supply }: OximeterWatch, { holdStartedAtMs }: OximeterScene): boolean {
  if (holdStartedAtMs === null || supply.usableAtMs === null) return true;
  return supply.usableAtMs >= holdStartedAtMs - limits.supersededMs;
}
