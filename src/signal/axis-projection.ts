// One breathing channel out of three axes of an accelerometer on chest or belly: how far the sensor has tilted along the
// direction in which it tilts most. Breathing turns a sensor by a few degrees, which the pull of the earth shows.

/**
 * The direction of most change as the breathing's: principal axis of slow acceleration, as in A. Bates et al., "Respiratory
 * rate and flow waveform estimation from tri-axial accelerometer data", BSN 2010 (from memory; they follow the rotation's axis).
 * Joining the pieces at each change of direction is ours.
 */
export interface AxisProjection {
  /** Takes one sample of three axes, in any unit, at a time in ms that rises; answers in the same unit. */
  push(atMs: number, axes: readonly [number, number, number]): number;
}

/** Slower than a heart's push, quicker than a breath. Our choice. */
const smoothMs = 250;
/** Posture is what stays for longer than this; breathing comes back within it. Our choice. */
const postureMs = 15_000;
/** The direction is that of about so long: a hold of some minutes must not teach it the heart's. Our choice. */
const memoryMs = 90_000;
/** The direction is looked at so often, and sooner at first. */
const turnEveryMs = 5_000;
/** A silence this long begins anew. */
const gapMs = 3_000;

type Vector = [number, number, number];

const dot = (a: Readonly<Vector>, b: Readonly<Vector>): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

/** Deterministic; constant memory. */
export function createAxisProjection(): AxisProjection {
  let lastMs = Number.NaN;
  let slow: Vector = [0, 0, 0];
  let posture: Vector = [0, 0, 0];
  /** xx, xy, xz, yy, yz, zz of what changes. */
  let spread = [0, 0, 0, 0, 0, 0];
  let weightMs = 0;
  let direction: Vector = [0, 0, 1];
  /** Where the present piece begins: there the answer is `startValue`. */
  let start: Vector = [0, 0, 0];
  let startValue = 0;
  let turnAtMs = 0;

  const valueAt = (axes: Readonly<Vector>): number =>
    startValue + dot(direction, [axes[0] - start[0], axes[1] - start[1], axes[2] - start[2]]);

  function begin(atMs: number, axes: Vector): void {
    slow = [...axes];
    posture = [...axes];
    spread = [0, 0, 0, 0, 0, 0];
    weightMs = 0;
    startValue = Number.isNaN(lastMs) ? 0 : valueAt(start);
    start = [...axes];
    turnAtMs = atMs + turnEveryMs;
  }

  function learn(stepMs: number, axes: Vector): void {
    const quick = 1 - Math.exp(-stepMs / smoothMs);
    const still = 1 - Math.exp(-stepMs / postureMs);
    const keep = Math.exp(-stepMs / memoryMs);
    for (let i = 0; i < 3; i += 1) {
      slow[i]! += quick * (axes[i]! - slow[i]!);
      posture[i]! += still * (slow[i]! - posture[i]!);
    }
    const [x, y, z] = [slow[0] - posture[0], slow[1] - posture[1], slow[2] - posture[2]];
    const now = [x * x, x * y, x * z, y * y, y * z, z * z];
    spread = spread.map((value, i) => keep * value + stepMs * now[i]!);
    weightMs = keep * weightMs + stepMs;
  }

  return {
    push(atMs, axes) {
      const stepMs = atMs - lastMs;
      if (!(stepMs <= gapMs)) begin(atMs, [...axes]);
      else if (stepMs > 0) learn(stepMs, [...axes]);
      lastMs = Math.max(atMs, Number.isNaN(lastMs) ? atMs : lastMs);
      if (atMs >= turnAtMs && weightMs > 0) {
        startValue = valueAt(axes as Vector);
        start = [...axes];
        direction = mostSpreadDirection(spread, direction);
        turnAtMs = atMs + turnEveryMs;
      }
      return valueAt(axes as Vector);
    },
  };
}

/** Power iteration from the direction so far, which also keeps its sign. */
function mostSpreadDirection([xx, xy, xz, yy, yz, zz]: readonly number[], before: Readonly<Vector>): Vector {
  // A direction at right angles to the one sought would stay where it is.
  let [x, y, z] = [before[0] + 1e-3, before[1] + 2e-3, before[2] + 3e-3];
  for (let turn = 0; turn < 40; turn += 1) {
    const next = [xx! * x + xy! * y + xz! * z, xy! * x + yy! * y + yz! * z, xz! * x + yz! * y + zz! * z];
    const length = Math.hypot(...next);
    if (!(length > 1e-12)) return [...before];
    [x, y, z] = [next[0]! / length, next[1]! / length, next[2]! / length];
  }
  return dot([x, y, z], before) < 0 ? [-x, -y, -z] : [x, y, z];
}
