// What a simulated athlete does, segment by segment, and ready-made scripts of ordinary training shapes.

import { SeededRandom } from './seeded-random.ts';

export type ScriptSegment =
  | { readonly kind: 'rest'; readonly durationMs: number }
  /** Deeper, slower breathing before a hold. */
  | { readonly kind: 'prepare'; readonly durationMs: number }
  /**
   * The last breath (about 5 s with full lungs, less otherwise) and then the hold itself.
   * `durationMs` counts from the closing of the airway; 'maximal' ends at the person's breaking point.
   * `endAtReadingPercent` ends the hold earlier, when the finger display has fallen to that value.
   */
  | {
      readonly kind: 'hold';
      readonly durationMs: number | 'maximal';
      readonly lungs?: HoldLungs;
      readonly endAtReadingPercent?: number;
      /** Walking during the hold (an apnea walk). */
      readonly walking?: boolean;
    }
  | { readonly kind: 'recover'; readonly durationMs: number }
  | { readonly kind: 'walk'; readonly durationMs: number }
  | { readonly kind: 'talk'; readonly durationMs: number };

/** Lung volume a hold is begun with: full, an ordinary breath's, or the volume after breathing out at rest. */
export type HoldLungs = 'full' | 'partial' | 'relaxed';

export type SessionScript = readonly ScriptSegment[];

const seconds = (value: number): number => value * 1000;

/** Quiet rest only: a detector must find nothing here. */
export function quietRest(durationMs: number): SessionScript {
  return [{ kind: 'rest', durationMs }];
}

/** Rest broken by walking and talking, without a hold. */
export function walkingAndTalking(seed: number): SessionScript {
  const random = new SeededRandom(seed, 'walking-and-talking');
  const script: ScriptSegment[] = [{ kind: 'rest', durationMs: seconds(90) }];
  for (let i = 0; i < 4; i += 1) {
    script.push(
      { kind: 'talk', durationMs: seconds(random.between(20, 90)) },
      { kind: 'rest', durationMs: seconds(random.between(40, 120)) },
      { kind: 'walk', durationMs: seconds(random.between(30, 120)) },
      { kind: 'rest', durationMs: seconds(random.between(60, 150)) },
    );
  }
  return script;
}

/** Holds begun when the athlete likes, at about `holdMs` each, with uneven pauses. */
export function selfPacedIntervals(seed: number, holdMs: number, count = 6): SessionScript {
  const random = new SeededRandom(seed, 'self-paced');
  const script: ScriptSegment[] = [{ kind: 'rest', durationMs: seconds(random.between(90, 240)) }];
  for (let i = 0; i < count; i += 1) {
    script.push(
      { kind: 'prepare', durationMs: seconds(random.between(25, 90)) },
      { kind: 'hold', durationMs: holdMs * random.between(0.75, 1.25) },
      { kind: 'recover', durationMs: seconds(random.between(25, 60)) },
    );
    if (random.chance(0.35)) script.push({ kind: 'talk', durationMs: seconds(random.between(10, 40)) });
    script.push({ kind: 'rest', durationMs: seconds(random.between(30, 150)) });
  }
  return script;
}

/** Holds that lengthen from `firstHoldMs` to `lastHoldMs` with the same pause between (the shape of an O2 table). */
export function risingHolds(
  firstHoldMs: number,
  lastHoldMs: number,
  count = 8,
  pauseMs = 120_000,
): SessionScript {
  const script: ScriptSegment[] = [{ kind: 'rest', durationMs: seconds(180) }];
  for (let i = 0; i < count; i += 1) {
    const part = count === 1 ? 0 : i / (count - 1);
    script.push(
      { kind: 'prepare', durationMs: pauseMs / 2 },
      { kind: 'hold', durationMs: firstHoldMs + (lastHoldMs - firstHoldMs) * part },
      { kind: 'recover', durationMs: pauseMs / 2 },
    );
  }
  script.push({ kind: 'rest', durationMs: seconds(120) });
  return script;
}

/** One warm-up hold and one hold to the breaking point. */
export function singleMaximalHold(lungs: HoldLungs = 'full'): SessionScript {
  return [
    { kind: 'rest', durationMs: seconds(240) },
    { kind: 'prepare', durationMs: seconds(90) },
    { kind: 'hold', durationMs: 'maximal', lungs },
    { kind: 'recover', durationMs: seconds(120) },
    { kind: 'rest', durationMs: seconds(120) },
  ];
}

/** Holds of 8 to 25 s, near the limit of what heart rate can show. */
export function veryShortHolds(seed: number, count = 8): SessionScript {
  const random = new SeededRandom(seed, 'very-short');
  const script: ScriptSegment[] = [{ kind: 'rest', durationMs: seconds(120) }];
  for (let i = 0; i < count; i += 1) {
    script.push(
      {
        kind: 'hold',
        durationMs: seconds(random.between(8, 25)),
        lungs: random.chance(0.5) ? 'full' : 'partial',
      },
      { kind: 'recover', durationMs: seconds(random.between(20, 40)) },
      { kind: 'rest', durationMs: seconds(random.between(20, 60)) },
    );
  }
  return script;
}
