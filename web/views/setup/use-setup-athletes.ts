// Who can train and who is going to: the hub's athletes, those chosen, a new one added, a floor changed.

import { type ReadonlySignal, type Signal, useComputed, useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { useInOrder } from '../../app/use-in-order.ts';

type Floor = Athlete['settings']['floorSpo2Percent'];

export interface SetupAthletes {
  /** Null until the hub has answered. */
  readonly athletes: ReadonlySignal<readonly Athlete[] | null>;
  readonly picked: ReadonlySignal<readonly Athlete[]>;
  readonly problem: ReadonlySignal<string | null>;
  readonly toggle: (athleteId: string) => void;
  /** Answers with whether the hub took them. They are chosen as soon as the list has them. */
  readonly add: (name: string) => Promise<boolean>;
  /** Names or the list itself have changed. */
  readonly reload: () => void;
  readonly changeFloor: (athlete: Athlete, floor: Floor) => Promise<void>;
}

export function useSetupAthletes(): SetupAthletes {
  const { text, hub, http, commands } = useApp();
  const athletes = useSignal<readonly Athlete[] | null>(null);
  const problem = useSignal<string | null>(null);
  const chosen: Signal<ReadonlySet<string>> = useSignal(new Set());
  const picked = useComputed(() =>
    (athletes.value ?? []).filter((athlete) => chosen.value.has(athlete.athleteId)),
  );

  const ask = useInOrder();
  /** The last floor changed here: a list asked for before the hub has it shows another. */
  const lastChange = useRef<Promise<unknown>>(Promise.resolve());
  const load = async (choose: (athlete: Athlete) => boolean): Promise<void> => {
    const isNews = ask();
    const change = lastChange.current;
    await change;
    const answer = await http.athletes();
    if (change !== lastChange.current) return load(choose);
    if (!answer.ok) {
      problem.value = text.setup.loadFailed(answer.reason);
      return;
    }
    problem.value = null;
    if (isNews()) athletes.value = answer.value.athletes;
    const newlyChosen = answer.value.athletes.filter(choose).map(({ athleteId }) => athleteId);
    chosen.value = new Set([...chosen.value, ...newlyChosen]);
  };
  const live = hub.link.value === 'live';
  /** Somebody has said who trains, be it nobody. */
  const isChosenByHand = useRef(false);
  // Again whenever the hub comes back. Whoever has a sensor assigned is most likely training.
  useEffect(() => {
    if (!live) return;
    void load(
      ({ athleteId }) =>
        !isChosenByHand.current &&
        chosen.value.size === 0 &&
        hub.sensors.value.some((sensor) => sensor.athleteId === athleteId),
    );
  }, [live]);

  /**
   * Asks first what stands now: limits that somebody changed since the list was made stay as they are, and a floor that is another
   * than the one seen here is not written over. False: nothing was written.
   */
  const sendFloor = async (athleteId: string, seen: Floor, floorSpo2Percent: Floor): Promise<boolean> => {
    const answer = await http.athletes();
    const now = answer.ok ? answer.value.athletes.find((each) => each.athleteId === athleteId) : undefined;
    if (now?.settings.floorSpo2Percent !== seen) return false;
    // What was refused is said by the hub, in the frame.
    const changed = await commands.changeSettings(athleteId, { ...now.settings, floorSpo2Percent });
    return changed.type === 'done';
  };

  return {
    athletes,
    picked,
    problem,
    toggle: (athleteId) => {
      isChosenByHand.current = true;
      const next = new Set(chosen.value);
      if (!next.delete(athleteId)) next.add(athleteId);
      chosen.value = next;
    },
    add: async (name) => {
      const known = new Set(athletes.value?.map((athlete) => athlete.athleteId));
      const answer = await http.addAthlete(name);
      if (!answer.ok) {
        problem.value = answer.reason;
        return false;
      }
      void load((athlete) => !known.has(athlete.athleteId));
      return true;
    },
    reload: () => void load(() => false),
    changeFloor: async ({ athleteId, settings: before }, floorSpo2Percent) => {
      const settings = { ...before, floorSpo2Percent };
      athletes.value = (athletes.value ?? []).map((entry) =>
        entry.athleteId === athleteId ? { ...entry, settings } : entry,
      );
      // One after the other: each begins with what the one before has left.
      const changed = lastChange.current.then(() =>
        sendFloor(athleteId, before.floorSpo2Percent, floorSpo2Percent),
      );
      lastChange.current = changed;
      if (!(await changed)) await load(() => false);
    },
  };
}
