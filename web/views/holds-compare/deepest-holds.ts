// Which of many holds are drawn at first: the deepest, since those are looked back for. Pure.

import type { HoldWindowsBody } from '../../../shared/history.ts';
import type { HoldTimes } from '../../../src/sessions/hold-window.ts';

/** More lines than this cannot be told apart; more can be chosen. */
export const shownAtFirst = 12;

export interface ComparedHold {
  readonly key: string;
  readonly times: HoldTimes;
  readonly window: HoldWindowsBody['holds'][number];
}

/** The lowest reading that belongs to it, else the lowest that is drawn; infinite without any. */
function lowestOf({ window }: ComparedHold): number {
  const own = window.hold.lowestSpo2?.value;
  if (own !== undefined) return own;
  const drawn = window.traces.find(({ channel }) => channel === 'spo2Percent')?.value ?? [];
  return drawn.reduce((least: number, value) => Math.min(least, value ?? least), Number.POSITIVE_INFINITY);
}

/** All but the deepest; of holds as deep as one another, the longer is kept. */
export function leftOutAtFirst(holds: readonly ComparedHold[]): ReadonlySet<string> {
  const lastedMs = ({ times }: ComparedHold): number => (times.endAtMs ?? times.startAtMs) - times.startAtMs;
  const deepest = holds
    .map((hold) => ({ hold, lowest: lowestOf(hold) }))
    .sort((a, b) => (a.lowest === b.lowest ? lastedMs(b.hold) - lastedMs(a.hold) : a.lowest - b.lowest));
  return new Set(deepest.slice(shownAtFirst).map(({ hold }) => hold.key));
}
