// The alarm matrix: every fault sequence over every crossing through the whole pipeline, and when a high alarm stood.

import type { AlarmKind, AlarmPriority } from '../../../shared/schema-parts.ts';
import { createPipeline, type PipelineOutput } from '../../../src/pipeline.ts';
import type { Crossing } from './crossings.ts';
import { type FaultSequence, faultSequences, matrixSettings } from './fault-sequences.ts';

export interface MatrixRow {
  readonly fault: string;
  readonly crossings: number;
  /** With no high alarm from the first clean reading below the floor until 10 s after the last. */
  readonly without: number;
  /** Names of those. */
  readonly missed: readonly string[];
  /** From the first clean reading below the floor to the first high alarm, s; 0 where one stood already. */
  readonly medianDelayS: number;
  readonly worstDelayS: number;
}

/** Alarms that say that saturation is low or that nobody can see it. Others might stand for reasons of their own. */
const counted = new Set<AlarmKind>([
  'floorBreached',
  'sensorLost',
  'readingsStale',
  'readingsFrozen',
  'readingsImplausible',
  'signalPoor',
]);

/** High, its condition present, and about saturation. */
export const isCountedAlarm = (alarm: {
  readonly kind: AlarmKind;
  readonly priority: AlarmPriority;
  readonly conditionPresent: boolean;
  readonly sensorId?: string | null;
}): boolean =>
  counted.has(alarm.kind) &&
  alarm.priority === 'high' &&
  alarm.conditionPresent &&
  alarm.sensorId !== 'strap';

/** Delay in s, or undefined where no high alarm stood. */
export function delayOf(fault: FaultSequence, crossing: Crossing): number | undefined {
  const pipeline = createPipeline(matrixSettings(crossing));
  const fromMs = crossing.lowFromS * 1_000;
  const toMs = (crossing.lowToS + 10) * 1_000;
  let standing = false;
  let stoodAtMs: number | undefined;
  const take = (outputs: readonly PipelineOutput[]): void => {
    for (const output of outputs) {
      if (output.type !== 'alarms') continue;
      standing = output.alarms.some(isCountedAlarm);
      if (standing && output.atMs >= fromMs && output.atMs <= toMs) stoodAtMs ??= output.atMs;
    }
  };
  for (const event of fault.events(crossing)) {
    // One that stands as the reading falls counts from that moment on.
    if (standing && event.type === 'advance' && event.atMs >= fromMs && event.atMs <= toMs)
      stoodAtMs ??= event.atMs;
    take(pipeline.push(event));
    if (stoodAtMs !== undefined) return (stoodAtMs - fromMs) / 1_000;
  }
  return undefined;
}

export function runMatrix(faults: readonly FaultSequence[], crossings: readonly Crossing[]): MatrixRow[] {
  return faults.map((fault) => {
    const delays: number[] = [];
    const missed: string[] = [];
    for (const crossing of crossings) {
      const delayS = delayOf(fault, crossing);
      if (delayS === undefined) missed.push(crossing.name);
      else delays.push(delayS);
    }
    delays.sort((one, other) => one - other);
    return {
      fault: fault.name,
      crossings: crossings.length,
      without: missed.length,
      missed,
      medianDelayS: delays[delays.length >> 1] ?? Number.NaN,
      worstDelayS: delays.at(-1) ?? Number.NaN,
    };
  });
}

/**
 * In how many seconds from the marked start of a hold to the end of the low readings a lower floor would be taken. None may
 * be: the wish for it may come from the lack of oxygen itself.
 */
export function floorAsks(crossings: readonly Crossing[]): {
  readonly asked: number;
  readonly taken: number;
} {
  const fault = faultSequences.find(({ name }) => name === 'nothing goes wrong');
  let asked = 0;
  let taken = 0;
  for (const crossing of crossings) {
    const pipeline = createPipeline(matrixSettings(crossing));
    for (const event of fault?.events(crossing) ?? []) {
      pipeline.push(event);
      if (event.type !== 'advance' || event.atMs % 1_000 !== 500) continue;
      if (event.atMs <= crossing.holdStartS * 1_000 || event.atMs > crossing.lowToS * 1_000) continue;
      asked += 1;
      if (!pipeline.state.floorLocked) taken += 1;
    }
  }
  return { asked, taken };
}
