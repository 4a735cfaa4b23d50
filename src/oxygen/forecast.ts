// The forecast of a hold's saturation as a value: what the live filter answers and the alarms and pages use.

import type { Foresight } from './foresight.ts';

/** Why there is no forecast now. */
export type NoForecast = 'noHold' | 'noReading' | 'readingsStopped' | 'flat' | 'signalsOnly';

/** `known: false` while the curve is flat and the data say nothing; then there are no numbers. */
export type Forecast = {
  /** What can be said before the fall of the hold under way or the next one, once its lungs have been said. */
  readonly foresight?: Foresight;
} & (
  | { readonly known: false; readonly reason: NoForecast }
  | {
      readonly known: true;
      /**
       * Lowest reading expected if breathing began now. It lies above `highPercent` in 5 of 100 cases and below
       * `lowPercent` in 5 of 100 (4 and 4 where nobody said how full the lungs are) although breathing begins within 3 s. Where stopping is advised, `lowPercent` is at or
       * below the floor.
       */
      readonly lowestIfStoppedNow: {
        readonly percent: number;
        readonly lowPercent: number;
        readonly highPercent: number;
        /** Between these in 80 of 100 cases, without time to react: what is checked against what came. */
        readonly central: { readonly lowPercent: number; readonly highPercent: number };
      };
      /**
       * Seconds until breathing must begin for the lowest reading to stay at or above the floor; may be 0.
       * `lowSeconds` leaves time to react and is 0 where stopping is advised.
       */
      readonly secondsToStop: {
        readonly seconds: number;
        readonly lowSeconds: number;
        readonly highSeconds: number;
      };
      /** True when the risk that the lowest reading falls below the floor has reached the accepted one. */
      readonly stopAdvised: boolean;
      /** It has, or had in this hold, only because nobody said how full the lungs are and they may be emptied. */
      readonly onlyIfEmptied: boolean;
    }
);
