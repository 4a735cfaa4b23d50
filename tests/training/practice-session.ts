// Draws the sessions on which the hold networks are trained (SIMULATED, invented people). Ranges are wide on purpose:
// the networks are to meet people unlike any one of these. Shares no code or parameters with the scoring simulators.

import { monotonicMs } from '../../shared/units.ts';
import type { Sample } from '../../src/samples/sample.ts';
import type { PlethSecond } from '../../src/signal/pleth-breathing.ts';
import { createSecondRows, type SecondRow } from '../../src/signal/second-rows.ts';
import { createSignalCleaner } from '../../src/signal/signal-cleaner.ts';
import { type Chance, createChance } from './practice-chance.ts';

/** Rows a second apart with 1 for each row in which the airway was closed for more than half of it. */
export interface PracticeSession {
  readonly rows: readonly SecondRow[];
  readonly held: Uint8Array;
}

const stepS = 0.25;

/** What goes on over a stretch of time. Sizes are fractions of heart rate unless named otherwise. */
interface Spell {
  readonly kind: 'rest' | 'shallow' | 'paced' | 'talk' | 'effort' | 'ready' | 'hold' | 'recover';
  readonly lengthS: number;
  /** Effort reached, as a share of the person's reach. */
  readonly effort?: number;
  /** Another posture, a thought, a warm room: the level of heart rate for as long, a fraction. */
  readonly lift?: number;
  readonly lungs?: 'full' | 'partial' | 'empty';
}

interface Person {
  readonly restBpm: number;
  readonly drift: readonly { readonly tauS: number; readonly size: number }[];
  readonly slowWave: number;
  readonly slowHz: number;
  readonly slowWidth: number;
  readonly slowInHold: number;
  readonly sway: number;
  readonly swaySkew: number;
  readonly breathHz: number;
  readonly breathUneven: number;
  readonly depthUneven: number;
  readonly jitterMs: number;
  readonly anticipation: number;
  readonly anticipationS: number;
  readonly inhaleBump: number;
  readonly inhaleBumpAtS: number;
  readonly inhaleBumpTauS: number;
  readonly fall: number;
  readonly fallDelayS: number;
  readonly fallTauS: number;
  readonly lateChange: number;
  readonly tremor: number;
  readonly tremorPeriodS: number;
  readonly tremorFrom: number;
  readonly backDelayS: number;
  readonly backTauS: number;
  readonly overshoot: number;
  readonly overshootTauS: number;
  readonly gasp: number;
  readonly gaspRate: number;
  readonly readyDepth: number;
  readonly readyRate: number;
  readonly effortReach: number;
  readonly effortOnTauS: number;
  readonly effortOffTauS: number;
  readonly arousalsPerHour: number;
  readonly sighsPerHour: number;
  readonly pausesPerHour: number;
  readonly spo2Top: number;
  readonly plateauS: number;
  readonly fallPerS: number;
  readonly lagS: number;
  readonly averagingS: number;
}

/** Draws a person. Heart: rows 3.02 to 3.16 of the reference table and wider; saturation: rows 3.05, 3.19 to 3.27. */
function drawPerson(c: Chance): Person {
  return {
    restBpm: c.between(42, 98),
    drift: [
      { tauS: c.between(8, 25), size: c.scale(0.003, 0.025) },
      { tauS: c.between(40, 120), size: c.scale(0.005, 0.04) },
      { tauS: c.between(250, 900), size: c.scale(0.01, 0.07) },
    ],
    slowWave: c.scale(0.004, 0.05),
    slowHz: c.between(0.06, 0.13),
    slowWidth: c.scale(0.02, 0.3),
    slowInHold: c.scale(0.25, 1.7),
    sway: c.odds(0.12) ? c.scale(0.001, 0.008) : c.scale(0.008, 0.16),
    swaySkew: c.between(-0.35, 0.35),
    breathHz: c.between(0.075, 0.33),
    breathUneven: c.scale(0.03, 0.3),
    depthUneven: c.scale(0.05, 0.5),
    jitterMs: c.scale(1.5, 18),
    anticipation: c.odds(0.3) ? 0 : c.between(-0.04, 0.14),
    anticipationS: c.between(8, 80),
    inhaleBump: c.odds(0.2) ? 0 : c.between(0, 0.26),
    // A deep breath's rise peaks with the end of the breath in or some seconds later.
    inhaleBumpAtS: c.between(-1.5, 4.5),
    inhaleBumpTauS: c.between(1.5, 9),
    fall: c.odds(0.25) ? c.between(-0.05, 0.03) : c.between(0.03, 0.42),
    fallDelayS: c.between(0, 8),
    fallTauS: c.between(3, 24),
    lateChange: c.odds(0.4) ? 0 : c.between(-0.18, 0.12),
    tremor: c.odds(0.4) ? 0 : c.scale(0.003, 0.04),
    tremorPeriodS: c.between(2, 7),
    tremorFrom: c.between(0.3, 0.9),
    // The vagus answers within a beat (from memory); some breathe out first, and that is when the airway opens.
    backDelayS: c.between(0, 2),
    backTauS: c.scale(0.8, 9),
    overshoot: c.odds(0.3) ? 0 : c.between(-0.06, 0.26),
    overshootTauS: c.scale(5, 60),
    gasp: c.scale(0.6, 3),
    gaspRate: c.between(0.7, 2.1),
    readyDepth: c.scale(0.7, 2.3),
    readyRate: c.between(0.5, 1.3),
    effortReach: c.between(0.12, 1),
    effortOnTauS: c.scale(5, 50),
    effortOffTauS: c.scale(8, 90),
    arousalsPerHour: c.odds(0.3) ? 0 : c.between(0, 25),
    sighsPerHour: c.between(0, 20),
    pausesPerHour: c.odds(0.5) ? 0 : c.between(0, 25),
    spo2Top: c.between(94.5, 99.9),
    plateauS: c.scale(15, 170),
    fallPerS: c.scale(0.02, 0.5),
    lagS: c.between(6, 38),
    averagingS: c.between(1.5, 12),
  };
}

function holdLengthOf(c: Chance): number {
  return c.pick([
    [0.27, c.between(7, 26)],
    [0.5, c.scale(22, 130)],
    [0.23, c.scale(90, 400)],
  ]);
}

/** Lays out what happens. About three sessions in ten have no hold at all. */
function drawSpells(c: Chance): Spell[] {
  const spells: Spell[] = [];
  const filler = (leastS: number, mostS: number): void => {
    const lengthS = c.scale(leastS, mostS);
    const spell = c.pick<Spell>([
      [0.56, { kind: 'rest', lengthS }],
      [0.12, { kind: 'shallow', lengthS: Math.min(lengthS, 200) }],
      [0.1, { kind: 'paced', lengthS }],
      [0.12, { kind: 'talk', lengthS }],
      [0.1, { kind: 'effort', lengthS: Math.min(lengthS, 300), effort: c.next() }],
    ]);
    spells.push(c.odds(0.15) ? { ...spell, lift: c.between(-0.12, 0.25) } : spell);
  };
  const holds = c.pick([
    [0.3, 0],
    [0.2, 1],
    [0.2, 2],
    [0.3, Math.floor(c.between(3, 9))],
  ]);
  if (holds === 0) {
    const walks = c.odds(0.45);
    for (let i = 0; i < 7; i++) {
      filler(20, 400);
      if (walks) {
        // Rest between walks: the heart rate falls and later rises, and nobody holds.
        spells.push({ kind: 'effort', lengthS: c.scale(15, 300), effort: c.between(0.2, 1) });
        spells.push({ kind: c.odds(0.8) ? 'rest' : 'shallow', lengthS: c.scale(20, 320) });
      }
    }
    return spells;
  }
  const common = c.odds(0.6) ? holdLengthOf(c) : undefined;
  const style = c.pick([
    [0.4, 'none'],
    [0.6, 'ready'],
  ]);
  const restS = c.scale(10, 200);
  filler(20, 240);
  if (c.odds(0.4)) {
    filler(20, 200);
  }
  const walksBetween = c.odds(0.08);
  for (let i = 0; i < holds; i++) {
    if (walksBetween) {
      spells.push({ kind: 'effort', lengthS: c.scale(15, 240), effort: c.between(0.2, 1) });
      spells.push({ kind: 'rest', lengthS: c.scale(15, 200) });
    }
    if (style === 'ready') {
      spells.push({ kind: 'ready', lengthS: c.between(10, 90) });
    }
    spells.push({
      kind: 'hold',
      lengthS: Math.min(
        420,
        common === undefined ? holdLengthOf(c) : Math.max(7, common * c.between(0.7, 1.35)),
      ),
      lungs: c.pick([
        [0.65, 'full'],
        [0.2, 'partial'],
        [0.15, 'empty'],
      ]),
      // A few holds are walked.
      ...(c.odds(0.05) && { effort: c.between(0.1, 0.5) }),
    });
    spells.push({ kind: 'recover', lengthS: c.between(6, 50) });
    if (c.odds(0.75)) {
      filler(Math.max(5, 0.4 * restS), Math.max(12, 1.6 * restS));
    }
  }
  filler(20, 200);
  return spells;
}

/** First-order noise of standard deviation `size`. */
function wander(c: Chance, tauS: number, size: number): () => number {
  const keep = Math.exp(-stepS / tauS);
  const push = size * Math.sqrt(1 - keep * keep);
  let value = size * c.normal();
  return () => {
    value = keep * value + push * c.normal();
    return value;
  };
}

interface Course {
  readonly heartBpm: Float64Array;
  /** Lung volume over the resting one, in tidal volumes. */
  readonly lungs: Float64Array;
  readonly arterial: Float64Array;
  readonly held: Uint8Array;
}

/** Thin air, or a finger grown cold: saturation sinks over minutes while the person breathes, and comes back. */
interface ThinAir {
  readonly fromS: number;
  readonly lengthS: number;
  readonly fall: number;
  readonly steps: number;
  readonly heartPerPercent: number;
}

function drawThinAir(c: Chance, totalS: number): ThinAir {
  const lengthS = Math.min(c.scale(60, 900), 0.8 * totalS);
  return {
    fromS: c.between(0, totalS - lengthS),
    lengthS,
    fall: c.between(2, 34),
    steps: Math.floor(c.between(1, 8)),
    // About half a beat a minute for a per cent of 60 (from memory), or none.
    heartPerPercent: c.between(0, 0.012),
  };
}

function thinnedBy(air: ThinAir | undefined, atS: number): number {
  const share = air === undefined ? 0 : (atS - air.fromS) / air.lengthS;
  return share <= 0 || share >= 1 ? 0 : (air!.fall * Math.ceil(share * air!.steps)) / air!.steps;
}

function drawCourse(c: Chance, person: Person, spells: readonly Spell[], air?: ThinAir): Course {
  const totalS = spells.reduce((sum, spell) => sum + spell.lengthS, 0);
  const n = Math.floor(totalS / stepS);
  const heartBpm = new Float64Array(n);
  const lungs = new Float64Array(n);
  const arterial = new Float64Array(n);
  const held = new Uint8Array(n);
  const drift = person.drift.map(({ tauS, size }) => wander(c, tauS, size));
  const slowSize = wander(c, 20, 0.4);
  const depthNoise = wander(c, 10, person.depthUneven);
  const rateNoise = wander(c, 8, person.breathUneven);
  const slowNoise = wander(c, 6, person.slowWidth);
  const ease = (tauS: number): number => 1 - Math.exp(-stepS / tauS);
  let slowPhase = c.next();
  let breathPhase = c.next();
  let effort = 0;
  let fallen = 0;
  let bump = 0;
  let overshoot = 0;
  let arousal = 0;
  let arousalTarget = 0;
  let arousalLeftS = 0;
  let arousalTauS = 4;
  let sway = 1;
  let stillS = 0;
  let sighS = 0;
  let speechS = 0;
  let speechHz = 0.3;
  let wasHeldS = 0;
  let sinceHoldS = 1e6;
  let oxygen = person.spo2Top;
  let volume = 0;
  let tremorPhase = 0;
  let anticipation = 0;
  let lift = 0;
  let liftTauS = 4;
  let holdFall = person.fall;
  let at = 0;
  spells.forEach((spell, index) => {
    const next = spells[index + 1];
    const steps = Math.floor(spell.lengthS / stepS);
    const pacedHz = c.between(0.07, 0.12);
    // Quiet breaths still move a quarter of an ordinary one: dead space alone takes that much (textbook: 150 of 500 ml).
    const shallow = c.between(0.25, 0.75);
    const quietSway = c.between(0.6, 1.3);
    liftTauS = c.scale(1.5, 20);
    // Some breathe in once more, deep and slow, before they close; some stop wherever they are in a breath.
    const lastBreathS = c.odds(0.55) ? c.between(1.5, 6) : 0;
    const lastDepth = c.between(0.8, 2);
    const inHold = spell.kind === 'hold';
    if (inHold) {
      // No two holds are alike.
      holdFall = person.fall * c.between(0.7, 1.3) * (spell.lungs === 'empty' ? 1.2 : 1);
      tremorPhase = c.next();
    }
    const bumpSize =
      person.inhaleBump *
      (spell.lungs === 'full' ? 1 : spell.lungs === 'partial' ? 0.5 : 0) *
      c.between(0.7, 1.3);
    const heldLungs = spell.lungs === 'full' ? 3 : spell.lungs === 'partial' ? 0.8 : -0.5;
    for (let i = 0; i < steps && at < n; i++, at++) {
      const t = i * stepS;
      const leftS = spell.lengthS - t;
      const toHoldS = next?.kind === 'hold' ? leftS : Number.POSITIVE_INFINITY;
      // Breathing.
      let hz = person.breathHz * Math.exp(rateNoise());
      let depth = Math.max(0.15, 1 + depthNoise());
      let speaking = 0;
      switch (spell.kind) {
        case 'shallow':
          depth *= shallow;
          break;
        case 'paced':
          hz = pacedHz;
          depth *= 1.6;
          break;
        case 'talk':
          speechS -= stepS;
          if (speechS <= 0) {
            speechS = c.between(1.5, 8);
            speechHz = 0.5 / speechS;
          }
          hz = speechHz;
          depth *= 0.8;
          speaking = 1;
          break;
        case 'effort':
          hz *= 1 + effort;
          depth *= 1.3;
          break;
        case 'ready':
          hz *= person.readyRate;
          depth *= person.readyDepth;
          break;
        case 'recover':
          hz *= person.gaspRate;
          depth *= person.gasp;
          break;
        default:
          break;
      }
      if (!inHold) {
        if (stillS <= 0 && c.odds((person.pausesPerHour / 3_600) * stepS)) {
          stillS = c.between(2.5, 6);
        }
        if (sighS <= 0 && c.odds((person.sighsPerHour / 3_600) * stepS)) {
          sighS = c.between(4, 8);
        }
      }
      stillS -= stepS;
      sighS -= stepS;
      const breathing = !inHold && (stillS <= 0 || toHoldS < 8 || toHoldS < lastBreathS);
      if (toHoldS < lastBreathS) {
        // From empty to full, so that the swing of heart rate peaks about when the airway closes.
        breathPhase = 0.5 * (1 - toHoldS / lastBreathS);
        depth = lastDepth;
        volume += (heldLungs - volume) * ease(0.4 * lastBreathS);
      } else if (inHold) {
        volume += (heldLungs - volume) * ease(2);
      } else if (breathing) {
        breathPhase += hz * stepS;
        const deep = sighS > 0 ? 3 : depth;
        const wave = 0.5 - 0.5 * Math.cos(2 * Math.PI * breathPhase);
        volume += (deep * wave - volume) * ease(0.35);
      } else {
        volume += (0 - volume) * ease(1);
      }
      lungs[at] = volume;
      held[at] = inHold ? 1 : 0;
      // Heart.
      effort +=
        ((spell.effort ?? 0) * (speaking > 0 ? 0.3 : 1) - effort) *
        ease((spell.effort ?? 0) > effort ? person.effortOnTauS : person.effortOffTauS);
      if (arousalLeftS <= 0 && c.odds((person.arousalsPerHour / 3_600) * stepS)) {
        arousalLeftS = c.between(2, 25);
        arousalTarget = c.between(-0.04, 0.24);
        arousalTauS = c.between(1.5, 12);
      }
      arousalLeftS -= stepS;
      lift += ((spell.lift ?? 0) - lift) * ease(liftTauS);
      arousal += ((arousalLeftS > 0 ? arousalTarget : 0) - arousal) * ease(arousalTauS);
      const wantedAnticipation =
        person.anticipation * Math.max(0, Math.min(1, 1 - toHoldS / person.anticipationS));
      anticipation +=
        ((inHold ? 0 : Number.isFinite(wantedAnticipation) ? wantedAnticipation : 0) - anticipation) *
        ease(3);
      const bumpOn = inHold ? t - person.inhaleBumpAtS : -toHoldS - person.inhaleBumpAtS;
      const sighing = sighS > 0 ? 0.4 * person.inhaleBump : 0;
      bump +=
        ((bumpOn >= -3 && bumpOn <= 0 ? bumpSize : sighing) - bump) *
        ease(bumpOn >= -3 && bumpOn <= 0 ? 1.2 : person.inhaleBumpTauS);
      if (inHold) {
        wasHeldS = t;
        sinceHoldS = 0;
        fallen += ((t > person.fallDelayS ? holdFall : 0) - fallen) * ease(person.fallTauS);
      } else {
        sinceHoldS += stepS;
        fallen += (sinceHoldS > person.backDelayS ? -fallen : 0) * ease(person.backTauS);
      }
      const late = inHold && wasHeldS > 50 ? person.lateChange * Math.min(1, (wasHeldS - 50) / 120) : 0;
      const wantOver =
        !inHold && sinceHoldS > person.backDelayS && sinceHoldS < person.backDelayS + 8 && wasHeldS > 6
          ? person.overshoot
          : 0;
      overshoot += (wantOver - overshoot) * ease(wantOver !== 0 ? 2.5 : person.overshootTauS);
      slowPhase += person.slowHz * stepS * Math.exp(slowNoise());
      const slow =
        person.slowWave *
        Math.max(0, 1 + slowSize()) *
        (inHold ? person.slowInHold : 1) *
        Math.sin(2 * Math.PI * slowPhase);
      // Respiratory swing: faster breathing swings less; none while the airway is closed.
      const swingTarget = breathing
        ? depth *
          Math.min(1.3, (0.2 / Math.max(0.05, hz)) ** 0.6) *
          (1 - 0.75 * Math.min(1, effort)) *
          quietSway
        : stillS > 0 && !inHold
          ? 0.1
          : 0;
      sway += (swingTarget - sway) * ease(inHold ? 0.4 : 0.8);
      const angle = 2 * Math.PI * breathPhase - 0.9;
      const swing = person.sway * sway * (Math.sin(angle) + person.swaySkew * Math.sin(2 * angle));
      let tremor = 0;
      if (inHold && wasHeldS > person.tremorFrom * Math.min(120, spell.lengthS)) {
        tremorPhase += (stepS / person.tremorPeriodS) * Math.exp(rateNoise());
        tremor = person.tremor * Math.sin(2 * Math.PI * tremorPhase);
      }
      const sum =
        drift.reduce((total, step) => total + step(), 0) +
        slow +
        swing +
        tremor +
        anticipation +
        bump +
        arousal +
        lift +
        overshoot +
        late +
        person.effortReach * effort +
        (air?.heartPerPercent ?? 0) * thinnedBy(air, at * stepS) +
        (spell.kind === 'talk' ? 0.03 : 0);
      heartBpm[at] = Math.min(210, Math.max(27, person.restBpm * (1 + sum) * (1 - fallen)));
      // Saturation at the lungs.
      if (
        inHold &&
        t > person.plateauS * (spell.lungs === 'empty' ? 0.4 : spell.lungs === 'partial' ? 0.7 : 1)
      ) {
        oxygen -= person.fallPerS * Math.min(1.4, 0.2 + (t - person.plateauS * 0.4) / 80) * stepS;
        oxygen = Math.max(52, oxygen);
      } else if (!inHold) {
        const thinned = thinnedBy(air, at * stepS);
        const wanted = Math.min(100, person.spo2Top + (spell.kind === 'ready' ? 0.7 : 0)) - thinned;
        oxygen += (wanted - oxygen) * ease(thinned > 0 ? 40 : air === undefined ? 4 : 12);
      }
      arterial[at] = oxygen;
    }
  });
  return { heartBpm, lungs, arterial, held };
}

type Sensors =
  | 'all'
  | 'rrOnly'
  | 'rateOnly'
  | 'rateAndOximeter'
  | 'rrAndSaturation'
  | 'oximeter'
  | 'pleth'
  | 'plethAndOximeter';

function drawSamples(c: Chance, person: Person, course: Course, sensors: Sensors): Sample[] {
  const n = course.heartBpm.length;
  const samples: Sample[] = [];
  const add = (
    channel: Sample['channel'],
    atMs: number,
    value: number,
    sensorId: string,
    bad = false,
  ): void => {
    samples.push({
      channel,
      atMs: monotonicMs(Math.max(0, Math.round(atMs))),
      value,
      sensorId,
      quality: bad ? 'bad' : 'good',
      reasons: bad ? ['poorSignal'] : [],
    });
  };
  const gapsOf = (perHour: number): [number, number][] => {
    const gaps: [number, number][] = [];
    for (let t = 0; t < n * stepS; ) {
      t += -Math.log(1 - c.next()) * (3_600 / Math.max(0.01, perHour));
      gaps.push([t * 1_000, (t + c.scale(2, 45)) * 1_000]);
    }
    return gaps;
  };
  const within = (spans: readonly [number, number][], ms: number): boolean =>
    spans.some(([from, to]) => ms >= from && ms < to);
  const faulty = c.odds(0.3);
  const strapGaps = faulty ? gapsOf(c.between(0, 25)) : [];
  const fingerGaps = faulty ? gapsOf(c.between(0, 25)) : [];
  const byLight = sensors === 'pleth' || sensors === 'plethAndOximeter';
  // Beats found in a pleth are less exact than a strap's, and some pleths give none.
  const wrongBeats = byLight ? c.scale(0.003, 0.15) : c.odds(0.35) ? c.scale(0.001, 0.06) : 0;
  const noBeats = byLight && c.odds(0.3);
  const strapBeats = Math.floor(c.between(1, 12));
  const strapLagS = c.between(0, 1.5);
  const roundedTo = c.odds(0.9) ? 1 : 0.1;
  const dips = c.odds(0.4) ? gapsOf(c.between(2, 90)) : [];
  const dipDepths = dips.map(() => c.between(2, 18));
  const saidBad = c.odds(0.4);
  const pulseTauS = c.scale(1, 6);
  const pulseLag = c.odds(0.3) ? 0 : Math.round(c.between(0, 2.5) / stepS);
  const fingerNoise = wander(c, 6, c.scale(0.05, 0.6));
  const lag = Math.round(person.lagS / stepS);
  const mean = Math.max(1, Math.round(person.averagingS / stepS));
  const bias = c.between(-1.5, 1);
  const wantsRr = !noBeats && (byLight || ['all', 'rrOnly', 'rrAndSaturation'].includes(sensors));
  const wantsRate =
    sensors === 'all' || sensors === 'rateOnly' || sensors === 'rateAndOximeter' || sensors === 'rrOnly';
  const wantsSpo2 = sensors !== 'rrOnly' && sensors !== 'rateOnly' && sensors !== 'pleth';
  const wantsPulse =
    sensors === 'all' ||
    sensors === 'oximeter' ||
    sensors === 'rateAndOximeter' ||
    sensors === 'plethAndOximeter';
  const jitterMs = person.jitterMs * (byLight ? c.between(1, 4) : 1);
  let beatPhase = c.next();
  let lastBeatMs = Number.NaN;
  const recent: number[] = [];
  let owed = 0;
  let pulse = course.heartBpm[0] ?? 60;
  let window = 0;
  const delayed = (i: number): number => course.arterial[Math.max(0, i)]!;
  for (let i = 0; i < mean; i++) {
    window += delayed(0);
  }
  const rateOffset = c.next();
  for (let i = 0; i < n; i++) {
    const ms = i * stepS * 1_000;
    const ahead = (course.heartBpm[i]! / 60) * stepS;
    beatPhase += ahead;
    if (beatPhase >= 1) {
      beatPhase -= 1;
      const beatMs = ms + stepS * 1_000 * (1 - beatPhase / ahead) + jitterMs * c.normal();
      const rr = beatMs - lastBeatMs;
      if (rr > 200) {
        recent.push(rr);
        if (recent.length > strapBeats) {
          recent.shift();
        }
        if (wantsRr && !within(strapGaps, ms)) {
          const value = Math.round((rr + owed) * 1.024) / 1.024;
          owed = 0;
          if (c.odds(wrongBeats)) {
            const part = c.between(0.25, 0.75);
            c.pick<() => void>([
              [
                1,
                () => {
                  owed = rr;
                },
              ],
              [
                1,
                () => {
                  add('rrIntervalMs', beatMs - value * (1 - part), value * part, 'strap');
                  add('rrIntervalMs', beatMs, value * (1 - part), 'strap');
                },
              ],
              [
                1,
                () => {
                  add('rrIntervalMs', beatMs - 0.3 * value, 0.7 * value, 'strap');
                  owed = 0.3 * value;
                },
              ],
            ])();
          } else {
            add('rrIntervalMs', beatMs, value, 'strap');
          }
        }
      }
      if (!(rr <= 200)) {
        lastBeatMs = beatMs;
      }
    }
    window += delayed(i - lag) - delayed(i - lag - mean);
    pulse += (course.heartBpm[Math.max(0, i - pulseLag)]! - pulse) * (1 - Math.exp(-stepS / pulseTauS));
    if (i % 4 === 3) {
      if (wantsRate && recent.length > 0 && !within(strapGaps, ms)) {
        const meanRr = recent.reduce((sum, rr) => sum + rr, 0) / recent.length;
        add(
          'heartRateBpm',
          ms + 1_000 * (strapLagS + 0.2 * rateOffset),
          Math.round(60_000 / meanRr),
          'strap',
        );
      }
      if (!within(fingerGaps, ms)) {
        const dip = dips.findIndex(([from, to]) => ms >= from && ms < Math.min(to, from + 18_000));
        const bad = dip >= 0 && saidBad;
        if (wantsSpo2) {
          const value = window / mean + bias + fingerNoise() - (dip >= 0 ? dipDepths[dip]! : 0);
          add(
            'spo2Percent',
            ms + 300,
            Math.max(35, Math.min(100, Math.round(value / roundedTo) * roundedTo)),
            'finger',
            bad,
          );
        }
        if (wantsPulse) {
          add(
            'pulseRateBpm',
            ms + 300,
            Math.round(pulse * (dip >= 0 && !bad ? c.between(0.8, 1.3) : 1)),
            'finger',
            bad,
          );
        }
      }
    }
  }
  return samples.sort((a, b) => a.atMs - b.atMs);
}

/** The pleth second by second: breathing, drift, pulse, jolts and what pressing in a hold does. */
function drawPleth(c: Chance, course: Course): PlethSecond[] {
  const seconds = Math.floor(course.lungs.length * stepS);
  const out: PlethSecond[] = [];
  const sign = c.odds(0.5) ? 1 : -1;
  const breath = c.scale(0.3, 3);
  const level = c.odds(0.5) ? c.between(0, 1) : 0;
  const noise = c.scale(0.03, 0.5);
  const drift = wander(c, c.between(20, 120), c.scale(0.2, 3));
  const quiver = wander(c, c.between(2, 6), c.scale(0.05, 0.6));
  const joltsPerHour = c.odds(0.3) ? 0 : c.scale(10, 500);
  const joltSize = c.scale(1, 8);
  const joltTauS = c.scale(1, 40);
  const heldShift = c.odds(0.5) ? 0 : c.normal() * c.scale(0.5, 5);
  const heldTauS = c.scale(1, 10);
  const lowest = c.odds(0.2) ? -c.between(1, 4) : Number.NEGATIVE_INFINITY;
  let jolt = 0;
  let shift = 0;
  let slowVolume = 0;
  // Within a second: the pulse, which breathing swells and drifts; the baseline's own slope; trembling and moving.
  const pulse = c.scale(0.04, 8);
  const swell = c.odds(0.3) ? 0 : c.between(0, 0.4);
  const pulseDrift = wander(c, c.between(5, 60), c.scale(0.03, 0.5));
  const pulseHeld = Math.exp(c.odds(0.5) ? 0 : 0.4 * c.normal());
  const moved = c.scale(0.02, 1.5);
  const still = c.between(0.1, 0.9);
  const unsteady = wander(c, c.between(2, 8), 0.5);
  let before = Number.NaN;
  let pulseNow = 1;
  const unit = c.scale(1e-4, 1e4);
  const offset = c.normal() * 10;
  for (let s = 0; s < seconds; s++) {
    let sum = 0;
    let held = 0;
    const steps = 1 / stepS;
    for (let k = 0; k < steps; k++) {
      sum += course.lungs[s * steps + k]!;
      held += course.held[s * steps + k]!;
    }
    const volume = sum / steps;
    slowVolume += (volume - slowVolume) * 0.15;
    // Jolts come more often while breathing than while lying still in a hold.
    let jolted = 0;
    if (c.odds((joltsPerHour / 3_600) * (held > 2 ? 0.35 : 1))) {
      jolted = joltSize * c.normal();
      jolt += jolted;
    }
    jolt *= Math.exp(-1 / joltTauS);
    shift += ((held > 2 ? heldShift : 0) - shift) * (1 - Math.exp(-1 / heldTauS));
    let d = 0;
    let q = 0;
    for (let k = 0; k < steps; k++) {
      d = drift();
      q = quiver();
    }
    let drifted = 0;
    let shaken = 0;
    for (let k = 0; k < steps; k++) {
      drifted = pulseDrift();
      shaken = unsteady();
    }
    const value =
      sign * breath * (volume - (1 - level) * slowVolume) + d + q + jolt + shift + noise * c.normal();
    const slope = Number.isNaN(before) ? 0 : value - before;
    before = value;
    pulseNow += ((held > 2 ? pulseHeld : 1) - pulseNow) * 0.3;
    const swing = Math.hypot(
      pulse * Math.exp(drifted) * pulseNow * Math.max(0.2, 1 + (swell * (volume - slowVolume)) / 2),
      // A ramp over a second has a standard deviation of its rise over the root of twelve.
      slope / Math.sqrt(12),
      moved * (held > 2 ? still : 1) * Math.exp(shaken),
      0.4 * jolted,
    );
    out.push({ baseline: unit * (offset + Math.max(lowest, value)), swing: unit * swing });
  }
  return out;
}

/** Draws one session. The same seed gives the same session. */
export function practiceSession(seed: number): PracticeSession {
  const c = createChance(seed);
  const person = drawPerson(c);
  const sensors = c.pick<Sensors>([
    [0.28, 'all'],
    [0.08, 'rrOnly'],
    [0.06, 'rateOnly'],
    [0.12, 'rateAndOximeter'],
    [0.07, 'rrAndSaturation'],
    [0.17, 'oximeter'],
    [0.18, 'pleth'],
    [0.04, 'plethAndOximeter'],
  ]);
  let spells = drawSpells(c);
  const plethOn = sensors === 'pleth' || sensors === 'plethAndOximeter';
  if (plethOn && c.odds(0.7)) {
    // Short recordings with one hold, as a laboratory makes them.
    spells = [
      { kind: 'rest', lengthS: c.between(6, 40) },
      { kind: 'hold', lengthS: c.between(7, 30), lungs: c.odds(0.5) ? 'full' : 'partial' },
      { kind: 'recover', lengthS: c.between(5, 20) },
      { kind: 'rest', lengthS: c.between(5, 40) },
    ];
  }
  const totalS = spells.reduce((sum, spell) => sum + spell.lengthS, 0);
  const course = drawCourse(c, person, spells, c.odds(0.06) ? drawThinAir(c, totalS) : undefined);
  const cleaner = createSignalCleaner();
  const stream = createSecondRows();
  const rows: SecondRow[] = [
    ...stream.push({
      channel: 'perfusionIndexPercent',
      atMs: monotonicMs(0),
      value: 1,
      sensorId: 'finger',
      quality: 'good',
      reasons: [],
    }),
  ];
  for (const raw of drawSamples(c, person, course, sensors)) {
    for (const sample of cleaner.push(raw)) {
      rows.push(...stream.push(sample));
    }
  }
  rows.push(
    ...stream.advance(monotonicMs(Math.floor(course.heartBpm.length * stepS) * 1_000)),
    ...stream.flush(),
  );
  const pleth = plethOn ? drawPleth(c, course) : undefined;
  // A recording may begin or end in the middle of anything.
  const first = c.odds(0.4) ? Math.floor(c.next() * 0.5 * rows.length) : 0;
  const last = c.odds(0.5)
    ? Math.max(first + 40, Math.floor(rows.length * (1 - 0.6 * c.next())))
    : rows.length;
  const cut = rows.slice(first, Math.min(last, first + 1_400));
  const held = new Uint8Array(cut.length);
  const out = cut.map((row, i) => {
    const from = Math.round((row.atMs / 1_000 - 1) / stepS);
    let sum = 0;
    for (let k = 0; k < 1 / stepS; k++) {
      sum += course.held[from + k] ?? 0;
    }
    held[i] = sum * stepS > 0.5 ? 1 : 0;
    const second = pleth?.[Math.round(row.atMs / 1_000) - 1];
    return second === undefined ? row : { ...row, plethBreathing: second.baseline, plethSwing: second.swing };
  });
  return { rows: out, held };
}
