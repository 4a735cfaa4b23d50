// Modelled carbon dioxide at the end of each hold of one athlete, worked out after the page has drawn. Model, not measured.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { AthleteRecording } from '../../../shared/http.ts';
import { readAthletePrior } from '../../../src/oxygen/athlete-prior.ts';
import { type AthleteOxygen, populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import type { PreviewBand } from '../../../src/oxygen/plan-preview.ts';
import { endPco2OfHolds } from '../../../src/oxygen/session-gas.ts';
import { oxygenOf } from '../../../src/oxygen/trait-values.ts';
import { useApp } from '../../app/app-context.ts';

export interface EndPco2 {
  /** By hold, mmHg. */
  readonly byHoldId: ReadonlyMap<string, PreviewBand>;
  /** How many of the athlete's own holds the model was fitted to. */
  readonly fittedToHolds: number;
}

/** Some milliseconds of work follow each. */
const stepEveryMs = 4;

/** Null until it is worked out. */
export function useEndPco2(athlete: AthleteRecording): ReadonlySignal<EndPco2 | null> {
  const { http, timers } = useApp();
  const person = useSignal<AthleteOxygen | null>(null);
  const result = useSignal<EndPco2 | null>(null);
  const { athleteId } = athlete.athlete;
  useEffect(() => {
    let left = false;
    void http.athleteOxygen(athleteId).then((answer) => {
      const prior = answer.ok ? readAthletePrior(answer.value.prior) : undefined;
      if (!left) person.value = prior === undefined ? populationOxygen : oxygenOf(prior);
    });
    return () => {
      left = true;
    };
  }, [athleteId]);
  const known = person.value;
  useEffect(() => {
    if (known === null) return undefined;
    const held = athlete.holds.flatMap(({ hold }) =>
      hold.end === null || hold.isProposed === true
        ? []
        : [{ holdId: hold.holdId, startMs: hold.start.atMs, endMs: hold.end.atMs }],
    );
    const work = endPco2OfHolds(held, athlete.marks, known);
    let stop: () => void = () => undefined;
    // A step at a time: whatever has to be drawn or sounded meanwhile goes between.
    const step = () => {
      const { done, value } = work.next();
      if (done !== true) {
        stop = timers.after(stepEveryMs, step);
        return;
      }
      result.value = {
        byHoldId: new Map(held.map(({ holdId }, index) => [holdId, value[index]!])),
        fittedToHolds: known.holdCount,
      };
    };
    stop = timers.after(stepEveryMs, step);
    return () => stop();
  }, [known, athlete.holds, athlete.marks]);
  return result;
}
