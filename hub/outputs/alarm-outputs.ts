// All alarm outputs of the hub itself together: tried at start, sounding the most urgent alarm of any athlete.

import { type Said, said } from '../../shared/said.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import type { AlarmOutput } from './alarm-output.ts';

export interface AlarmOutputs {
  /** Tries each output once. Resolves to what to say of each that failed; those are left out from then on. */
  test(): Promise<readonly Said[]>;
  /** What one athlete's alarms call for now; null for silence. */
  setPriority(athleteId: string, priority: AlarmPriority | null): void;
  /** Nobody is monitored any more. */
  silence(): void;
  /** 1 while the hub's own loudspeaker has passed its test: what a command or webhook reaches is not known here. */
  readonly soundReadyCount: number;
  close(): void;
}

const urgency: Readonly<Record<AlarmPriority, number>> = { high: 3, medium: 2, low: 1 };

export function createAlarmOutputs(
  loudspeaker: AlarmOutput | null,
  others: readonly AlarmOutput[],
): AlarmOutputs {
  const outputs = loudspeaker === null ? others : [loudspeaker, ...others];
  let loudspeakerWorks = false;
  const priorities = new Map<string, AlarmPriority>();
  let sounding: AlarmPriority | null = null;

  function mostUrgent(): AlarmPriority | null {
    let most: AlarmPriority | null = null;
    for (const priority of priorities.values()) {
      if (most === null || urgency[priority] > urgency[most]) most = priority;
    }
    return most;
  }

  function update(): void {
    const next = mostUrgent();
    if (next === sounding) return;
    sounding = next;
    // One that failed its test may work by now (a loudspeaker that was busy): it is told too, it just does not count.
    for (const output of outputs) output.sound(next);
  }

  return {
    async test() {
      const failures: Said[] = [];
      await Promise.all(
        outputs.map(async (output) => {
          const result = await output.test();
          if (result.ok) loudspeakerWorks ||= output === loudspeaker;
          else failures.push(said('output.fails', { output: output.name, reason: result.reason }));
        }),
      );
      return failures;
    },
    setPriority(athleteId, priority) {
      if (priority === null) priorities.delete(athleteId);
      else priorities.set(athleteId, priority);
      update();
    },
    silence() {
      priorities.clear();
      update();
    },
    get soundReadyCount() {
      return loudspeakerWorks ? 1 : 0;
    },
    close() {
      priorities.clear();
      for (const output of outputs) output.close();
    },
  };
}
