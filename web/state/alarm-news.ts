// What is to be said aloud once of alarms: each as it comes up or gets more urgent, and its end. Pure but for its memory.

import type { AlarmEntry } from './standing-alarms.ts';

export interface AlarmNews {
  readonly risen: readonly AlarmEntry[];
  /** As they last stood. */
  readonly over: readonly AlarmEntry[];
}

export class AlarmNewsFinder {
  #before = new Map<string, { readonly said: string; readonly entry: AlarmEntry }>();

  /** What is new since the last call. One whose numbers alone change is not news; one seen by a person is not said again. */
  take(entries: readonly AlarmEntry[]): AlarmNews {
    const risen: AlarmEntry[] = [];
    const now = new Map<string, { readonly said: string; readonly entry: AlarmEntry }>();
    for (const entry of entries) {
      const said = whatIsSaid(entry);
      const before = this.#before.get(entry.key);
      if (!entry.acknowledged && (before === undefined || before.said !== said || before.entry.acknowledged))
        risen.push(entry);
      now.set(entry.key, { said, entry });
    }
    const over = [...this.#before].filter(([key]) => !now.has(key)).map(([, { entry }]) => entry);
    this.#before = now;
    return { risen, over };
  }
}

function whatIsSaid(entry: AlarmEntry): string {
  if (entry.type === 'watch') return entry.priority;
  const { kind, priority, conditionPresent, detail, alarmId } = entry.first;
  return [alarmId, kind, priority, conditionPresent, detail].join();
}
