// A world of practice sessions, conduct first (SIMULATED): what people do minute by minute, as a coach would tell it, and a simple
// body beneath that differs from person to person in kind.

// Sources: [n.nn] = reference/published-values; (HB) = Hirsch and Bishop 1981, sinus arrhythmia: 20 +/- 5 /min below 6 breaths/min,
// corner 7.2 +/- 1.5 /min, 21 dB/decade, linear with depth; (BH) = Brain and Heart 2(4), 635 people: 8.6 /min in quiet breathing, 1 to
// 46; (L83) = Lin 1983: stopping alone -19 %, low oxygen -18 %, carbon dioxide +6 %; (J02) = Javorka 2002: one wave of the heart rate
// goes on at the start of every apnoea, a second in 70 %; (T88) = Tobin 1988: breath to breath variation of rate 21 +/- 11 %, depth
// 33 +/- 15 %; (S06) = competition raises the rate before and in the first 90 s; mem = from memory; wide = our choice, wide.
#pragma once
#include "world.hpp"

namespace world_conduct {

constexpr double dt = stepS;
inline double clip(double x, double low, double high) { return x < low ? low : x > high ? high : x; }
/** Cheap noise of mean 0, spread 1 (three evens). */
inline double hum(Chance& c) { return 2 * (c.next() + c.next() + c.next() - 1.5); }
inline double keepFor(double tau) { return std::exp(-dt / tau); }
inline double gainFor(double tau) { return 1 - keepFor(tau); }

/** Severinghaus 1979 [1.01], each mmHg. */
struct Curve {
  float at[203];
  Curve() {
    for (int i = 0; i < 203; i++) {
      double p = i;
      at[i] = float(i ? 1 / (23400 / (p * p * p + 150 * p) + 1) : 0);
    }
  }
  double operator()(double p) const {
    p = clip(p, 0, 201);
    int i = int(p);
    return at[i] + (p - i) * (at[i + 1] - at[i]);
  }
};
inline const Curve curve;

/** How someone breathes for a while. */
struct Style {
  double rate = 14, depth = 1;     // /min; ordinary breaths
  double cvRate = 0.15, cvDepth = 0.25;  // T88
  double inShare = 0.4, pause = 0.1;     // of the breath (mem)
  int in = 0, out = 2;                   // shapes
  double sighs = 0.15, swallows = 0.7, coughs = 0, sniffs = 0, fidgets = 0.2, yawns = 0.02;  // per minute (mem: sighs 5 to 15 an hour; swallows 0.5 to 1 a minute)
  double follow = 1;  // how far carbon dioxide and work set depth and rate; 0: the will alone
  double base = 0;    // level breathed about
  double wax = 0, waxS = 25;  // waxing and waning
};

/** One intended hold. */
struct Plan {
  double level = 3;
  int entry = 0;
  double goal = 0;  // seconds; 0: to the limit
  int end = 0;
  double walk = 0;   // motion in it
  double fuss = 0;   // unrest in it
};

enum Entry { deepIn, outIn, staged, packed, halfBreath, letGo, emptied, midSentence, quietTop, settle, pinched, hasty, slowIn, asIs };
enum End { calm, gasp, hooks, outFirst, longOut, blow, cough_, laugh_, noseSlow, sipAndHold, outAndHold, brief };

struct Sitter {
  Chance& c;
  Course out;
  size_t skip = 0, want = 0, seen = 0;
  bool full() const { return out.heart.size() >= want; }
  double now() const { return seen * dt; }

  // ---- the person --------------------------------------------------------------------------------------------------------------
  double age, fit, skill, nerves, lungSize;
  bool slowed = false, wavering = false, paced = false, ill = false;
  double hrRest, hrCeil, ordinary, frc, ic, erv, fullUnits, emptyUnits, dead;
  double vo2, q0, hb, aa, p50, barometer, inspired, venous, tissue, setCo2, driveGain, saving, closure;
  double threshold;     // of carbon dioxide for the first involuntary movement, mmHg
  double will = 0;      // how long at most on full lungs, s
  double strive;        // share of a limit hold that is easy
  double floorSat;
  bool noMoves;         // never has involuntary movements
  int satKind;
  double shapeT = 1, shapeP = 0;

  // conduct, as it stands now
  double v = 0, due = dt, motionGoal = 0, motionNow = 0, workGoal = 0, work = 0, load = 0, hungerO2 = 0.05, arousalGoal = 0, cold = 0, coldGoal = 0, sleepy = 0, sleepyGoal = 0;
  double fidgetLeft = 0, fidgetSize = 0;
  bool held = false;
  double tHold = 0, tSince = 1e3;

  // gas
  double pO = 100, pC = 40, cv = 145, ca = 195, pv = 46, ds = 0, litre = 0, squeeze = 1, shunt = 0, sat = 0.97, satOut = 97, deficit = 0, satLow = 97;
  double satBias = 0, spread = 1;
  // heart
  double hr = 70, hrSlow = 70, settling, settleKeep, fast1 = 0, fast2 = 0, kick1 = 0, kick2 = 0, arousal = 0;
  double hot1 = 0, hot2 = 0;
  double lp1 = 0, slow1 = 0, lp2 = 0, lp3 = 0, ox = 0, ov = 0, lastV = 0, cosLf = 1, lfx = 0, lfy = 0, vlf = 0, drift = 0, restless = 0;
  double apn = 0, early = 0, lateD = 0, hypo = 0, bump1 = 0, bump2 = 0, tense = 0, rebound = 0, dip1 = 0, dip2 = 0, ret = 1, wavePhase = 0, waveSize = 0, swing1 = 0, swing2 = 0, strain = 0;
  // heart, coefficients
  double kArUp, kArDown, arGain, kHotUp, kHotDown, kSlow, hotGain;
  double rsa, rsaSat, w1, w2, w3, w4, k1, kAdapt, kAdaptDown, adapt, k2, k3, om, ze;
  double lfSize, lfKeep, lfC, lfS, lfPush, lfHold, vlfKeep, vlfPush, quick = 0, quickKeep, quickPush, driftKeep, driftPush, vagalMid, vagalSpan;
  int kind, retKind;
  double earlyShare, kEarly, lateAfter, latePerS, perSat, co2Rise, tensePerS, bumpSize, waveGoal, waveW, swingSize, strainSize, hypoxicRise;
  double kBack, kRet, overshoot, dipSize, kDip1, kDip2, lfNow = 1, lfNowGoal = 1;
  double kDrop = 0, dropDelay = 0;
  double rippleSize, ripple = 0, rippleV = 0;
  double k05 = gainFor(0.5), k1s = gainFor(1), k2s = gainFor(2), k4 = gainFor(4), k8 = gainFor(8), k30 = gainFor(30), k90 = gainFor(90), kSpread = 1;
  Style own;

  explicit Sitter(Chance& chance) : c(chance) { person(); }

  double litres(double u) const { return u < 0 ? u * erv / emptyUnits : u <= 1 ? u * ordinary : ordinary + (u - 1) * (ic - ordinary) / (fullUnits - 1); }

  void person() {
    // who comes: mostly 18 to 55, some children and old people (wide)
    age = c.odds(0.1) ? c.between(12, 18) : c.odds(0.15) ? c.between(55, 82) : c.between(18, 55);
    fit = c.next();
    skill = c.odds(0.5) ? 0.35 * c.next() : c.odds(0.7) ? c.between(0.25, 0.75) : c.between(0.6, 1);  // half are beginners (wide)
    nerves = clip(0.55 - 0.35 * skill + 0.3 * c.normal(), 0, 1);
    slowed = c.odds(age > 50 ? 0.2 : 0.03);   // rate-slowing medicine (mem)
    wavering = c.odds(age > 60 ? 0.06 : 0.006);  // fibrillation (mem: 2 to 6 % of the old), drawn a little too often
    paced = c.odds(0.006);                     // pacemaker or transplant: next to no variation
    ill = c.odds(0.07);                        // a cold
    // rest rate: 60 to 80, 40 to 110 at the edges (our choice)
    hrRest = c.odds(0.12) ? c.between(40, 110) : 74 - 16 * fit + 7 * nerves - (slowed ? 10 : 0) + (ill ? 8 : 0) + (age < 18 ? 6 : 0) + 8 * c.normal();
    hrRest = clip(hrRest, 40 + 2 * c.next(), 110);
    hrCeil = slowed ? c.between(110, 150) : 208 - 0.7 * age;  // mem
    // lungs: total capacity 4 to 9 litres [2.10], rate 8 to 22
    lungSize = c.odds(0.45) ? c.between(0.75, 1) : c.between(0.9, 1.35);
    if (age < 15) lungSize *= 0.75;
    ic = 3.1 * lungSize * c.between(0.85, 1.15) * (1 + 0.15 * skill);  // mem: capacity above rest 2.2 to 4.5 l, larger in divers
    frc = 2.7 * lungSize * c.between(0.8, 1.2);
    erv = frc * c.between(0.35, 0.6);  // mem
    dead = 0.15 * lungSize;            // mem: 150 ml
    vo2 = 0.225 * lungSize * c.between(0.8, 1.25) * (ill ? 1.1 : 1);  // 250 +/- 20 % [2.13]
    setCo2 = c.odds(0.2) ? c.between(30, 36) : c.between(35, 42);     // mem; 29 before a hold in novices [2.24]
    own.rate = c.odds(0.12) ? c.between(5, 9) : c.odds(0.12) ? c.between(19, 25) : clip(14 + 3 * c.normal(), 8, 22);  // mem: 12 to 20 a minute
    ordinary = 863 * 0.8 * vo2 / setCo2 / own.rate + dead;
    ordinary = clip(ordinary, 0.25, 0.6 * ic);
    fullUnits = c.between(2.3, 4.6);   // world.hpp: about 3
    emptyUnits = c.between(0.5, 1.5);  // world.hpp: about 0.8
    // output 5 l/min, haemoglobin 145 +/- 14 g/l, lung-to-artery difference 2 to 24 mmHg: mem
    q0 = (5.2 * lungSize) * c.between(0.8, 1.25) * (slowed ? 0.9 : 1);
    hb = clip(145 + 14 * c.normal(), 105, 180);
    aa = age > 55 ? c.between(8, 24) : c.between(2, 13);
    p50 = c.between(0.92, 1.09);  // wide; 26.6 to 26.9 [1.07]
    barometer = 760;  // [2.02]
    if (c.odds(0.12)) barometer = c.between(540, 700);  // 700 to 3000 m
    inspired = 0.2093 * (barometer - 47);
    if (barometer < 650) setCo2 -= (650 - barometer) * 0.05;
    venous = 4 * lungSize * c.between(0.8, 1.2);  // litres of blood and tissue that give oxygen up (mem, fitted to [2.29])
    tissue = 25 * lungSize * c.between(0.7, 1.4);  // 3 to 4 mmHg a minute [2.15 to 2.19]
    driveGain = c.odds(0.2) ? c.between(0.005, 0.02) : c.between(0.03, 0.1);  // of ventilation per mmHg (mem: 1 to 3 l/min per mmHg; less here, for steady breathing)
    hungerO2 = c.odds(0.15) ? 0.01 : c.scale(0.03, 0.12);  // a few hardly answer thin air
    saving = c.odds(0.2) ? c.between(0, 0.12) : c.between(0.12, 0.34) + 0.2 * skill * c.next();  // constant uptake predicts too fast a fall [2.29]
    closure = c.odds(0.4) ? 0 : c.between(0, 0.16);  // airways that close on emptied lungs (wide)
    threshold = 47.5 + 8.5 * skill + 3 * c.normal();  // 45 to 60 [2.23]
    threshold = clip(threshold, 43, 61);
    strive = clip(0.88 - 0.36 * skill + 0.1 * c.normal(), 0.4, 0.97);  // 80 % in novices, 53 % in the best [3.17, 3.18]
    // lowest saturation gone to: best divers 46 to 85 [3.05, 3.10, 3.12], others less far (wide)
    floorSat = skill > 0.75 ? c.between(0.56, 0.86) : skill > 0.4 ? c.between(0.68, 0.9) : c.between(0.78, 0.93);
    if (c.odds(0.03) && age > 18) {  // the very best: to 8 minutes [2.26, 3.12]
      skill = c.between(0.93, 1), fit = c.between(0.6, 1), ic *= c.between(1.1, 1.3), vo2 *= c.between(0.75, 0.95), saving = c.between(0.3, 0.5);
      will = c.between(240, 480), threshold = c.between(54, 61), strive = c.between(0.4, 0.6), floorSat = c.between(0.45, 0.65);
    }
    noMoves = c.odds(0.17);  // wide
    if (will == 0) will = (70 + 40 * skill + 290 * skill * skill * skill) * std::exp(0.33 * c.normal());  // 102 +/- 24 s, 234 +/- 66 s [3.10]; beginners less (mem)
    satKind = c.odds(0.28) ? 1 : 0;  // by shapes or by balance (wide)
    shapeT = c.between(0.8, 1.5);
    shapeP = c.between(0, 1);
    satBias = c.odds(0.15) ? c.between(-3, -1) : c.odds(0.15) ? c.between(0.3, 1.2) : 0.5 * c.normal();
    spread = c.scale(0.6, 6);
    kSpread = gainFor(spread);
    // own breathing; unmarked numbers: wide
    own.cvRate = clip(0.2 + 0.1 * c.normal(), 0.04, 0.5);   // T88
    own.cvDepth = clip(0.3 + 0.14 * c.normal(), 0.05, 0.7);  // T88
    own.inShare = c.between(0.3, 0.48);
    own.pause = c.odds(0.35) ? c.between(0.15, 0.35) : c.between(0, 0.12);
    own.in = c.pick({5, 2, 2});
    own.out = c.pick({2, 1, 4, 0, 3});
    own.sighs = c.odds(0.1) ? c.between(0.5, 2) : c.scale(0.03, 0.4);
    own.swallows = c.scale(0.2, 2.5);
    own.coughs = ill ? c.scale(0.3, 3) : c.odds(0.1) ? 0.2 : 0.01;
    own.sniffs = ill ? c.scale(0.5, 5) : c.odds(0.1) ? 0.5 : 0.02;
    own.fidgets = c.scale(0.05, 0.6) * (1 + 2 * nerves);
    if (c.odds(0.012)) hiccups = c.scale(3, 20), hiccupIn = c.between(0, 300);
    heartOf();
    pC = setCo2;
    pv = setCo2 + 8;
    pO = inspired - setCo2 * 1.2;
    sat = curve((pO - aa) * p50);
    ca = 1.34 * hb * sat;
    cv = ca - 1000 * vo2 / q0;
    satOut = 100 * sat;
    hr = hrSlow = hrRest, alkal = pC;
  }

  void heartOf() {
    // sinus arrhythmia at 15 breaths a minute, /min from top to bottom: 8.6, 1 to 46 (BH), less with age
    rsa = 16 * std::exp(-(std::max(age, 20.0) - 20) / 42) * std::exp(0.6 * c.normal()) * (0.8 + 0.4 * fit);
    if (c.odds(0.08)) rsa = c.scale(0.1, 0.8);
    if (c.odds(0.07)) rsa = c.between(15, 36);
    rsa = clip(rsa, 0.1, 40);
    if (wavering || paced) rsa *= 0.1;
    rsaSat = c.scale(1.5, 9);  // linear with depth (HB), flattens in many (wide)
    // how the breath comes to the heart: volume, the act of breathing in, flow, the baroreflex's own resonance (kinds: wide)
    switch (c.pick({4, 2, 2, 3, 3})) {
      case 0: w1 = 1, w2 = 0, w3 = 0, w4 = 0; break;
      case 1: w1 = 0.2, w2 = 0.8, w3 = 0, w4 = 0; break;
      case 2: w1 = 0.2, w2 = 0, w3 = 0.8, w4 = 0; break;
      case 3: w1 = 0.35, w2 = 0.1, w3 = 0, w4 = 0.6; break;
      default: w1 = c.next(), w2 = c.next(), w3 = c.next(), w4 = c.next() * 0.7; {
        double sum = w1 + w2 + w3 + w4 + 0.01;
        w1 /= sum, w2 /= sum, w3 /= sum, w4 /= sum;
      }
    }
    double corner = clip(7.2 + 1.5 * c.normal(), 4, 11) / 60;  // HB
    k1 = gainFor(1 / (2 * M_PI * corner));
    double f = 0.25 / corner;
    w1 *= std::sqrt(1 + f * f) * (1 + 1 / rsaSat);
    kAdapt = gainFor(c.odds(0.8) ? c.scale(4, 25) : c.scale(25, 90));
    kAdaptDown = std::min(0.4, kAdapt * (c.odds(0.3) ? 1 : c.between(2, 5)));
    adapt = c.odds(0.7) ? 1 : c.between(0.75, 1);
    ceilUp = 1 / c.between(20, 75), ceilDown = 1 / c.between(18, 60);
    k2 = gainFor(c.between(0.8, 2));
    k3 = gainFor(c.between(0.8, 2.5));
    w2 *= 2, w3 *= 2.4, w4 *= 1.9;
    if (c.odds(0.06)) w1 = -0.5 * w1;  // turned over, seen in some (children in quiet breathing: mem)
    om = 2 * M_PI * c.between(0.07, 0.12);  // mem: resonance near 0.1 Hz
    ze = c.between(0.18, 0.6);
    // sizes and times of the waves: wide; three components below 0.15 Hz in everyone (Kuusela 2003)
    // waves at 10 s and slower; the 10 s wave in a hold: goes on (J02), grows, fades
    lfSize = c.scale(0.25, 4.5) * (age > 55 ? 0.6 : 1);
    if (wavering || paced) lfSize *= 0.2;
    double lf = 2 * M_PI * c.between(0.06, 0.13) * dt;
    lfKeep = keepFor(c.scale(8, 80));
    lfC = std::cos(lf) * lfKeep, lfS = std::sin(lf) * lfKeep;
    lfPush = lfSize * std::sqrt(1 - lfKeep * lfKeep);
    lfHold = c.odds(0.45) ? 1 : c.odds(0.5) ? c.between(0.1, 0.7) : c.between(1.3, 2.5);
    double tau = c.scale(8, 50), size = c.scale(0.6, 4.5) * (paced ? 0.1 : 1);
    vlfKeep = keepFor(tau), vlfPush = size * std::sqrt(1 - vlfKeep * vlfKeep);
    tau = c.scale(90, 600), size = c.scale(0.8, 6) * (paced ? 0.1 : 1);
    driftKeep = keepFor(tau), driftPush = size * std::sqrt(1 - driftKeep * driftKeep);
    drift = size * c.normal();
    tau = c.scale(1, 6), size = c.scale(0.15, 1.6) * (paced ? 0.1 : 1);
    quickKeep = keepFor(tau), quickPush = size * std::sqrt(1 - quickKeep * quickKeep);
    settling = c.odds(0.5) ? c.between(0, 14) * (0.4 + nerves) : 0;
    settleKeep = keepFor(c.scale(60, 500));
    // vagal share shrinks with the rate (mem; spans wide); arousal 4 to 26 /min (wide)
    vagalMid = hrRest < 70 ? 70 : hrRest, vagalSpan = c.between(30, 60);
    kArUp = gainFor(c.between(1.5, 5)), kArDown = gainFor(c.scale(8, 60));
    arGain = c.scale(4, 26) * (slowed ? 0.5 : 1) * (paced ? 0.1 : 1);
    kHotUp = gainFor(c.between(12, 40)), kHotDown = gainFor(c.between(18, 60)), kSlow = gainFor(c.scale(120, 500));
    hotGain = (hrCeil - hrRest) / (6 + 9 * fit);  // /min per multiple of rest uptake (mem: heart reserve over oxygen reserve)
    if (paced) hotGain *= 0.3;
    hypoxicRise = c.scale(0.2, 1.6);  // /min per per cent (mem)
    // the answer to a hold: kinds; shares and spans wide about the values named
    earlyShare = 0, latePerS = 0, lateAfter = 1e9, perSat = 0, co2Rise = 0, tensePerS = 0, bumpSize = 0, waveGoal = 0, strainSize = 0;
    kEarly = gainFor(c.scale(4, 25));
    kDrop = 0;
    kind = c.pick({10, 22, 12, 16, 9, 15, 7, 6, 4});
    switch (kind) {
      case 0: earlyShare = c.between(-0.01, 0.03); break;                                           // none: Heusser [3.10]
      case 1: earlyShare = c.between(0.06, 0.3); perSat = c.between(0, 0.4); break;                 // early and level: Perini -14 in 30 s [3.02], -19 % (L83)
      case 2: earlyShare = c.between(0, 0.05); lateAfter = c.between(15, 90); latePerS = c.scale(0.03, 0.25); break;  // late [3.04]
      case 3: earlyShare = c.between(0.08, 0.32); perSat = c.between(0.5, 2); break;                // two falls [3.14]
      case 4: tensePerS = c.scale(0.03, 0.4) * (1 - 0.7 * skill); earlyShare = c.between(-0.12, 0); co2Rise = c.between(0, 0.8); break;   // rises
      case 5: bumpSize = c.between(6, 28); earlyShare = c.between(0.06, 0.35); perSat = c.between(0, 1); break;       // up, then down [3.08]
      case 6: waveGoal = c.between(2, 12); earlyShare = c.between(0, 0.15); break;                  // waves
      case 7: earlyShare = c.between(0.1, 0.3); co2Rise = c.between(0.3, 1.6); break;               // falls, climbs with the urge
      default: earlyShare = c.between(0.1, 0.3); kDrop = gainFor(c.between(10, 30)); break;        // dips and comes back
    }
    earlyShare *= 0.85 + 0.7 * skill;
    if (c.odds(0.3)) bumpSize = std::max(bumpSize, c.between(2, 12));
    if (c.odds(0.15)) strainSize = c.between(4, 25);
    if (c.odds(0.15)) waveGoal = std::max(waveGoal, c.between(1, 5));
    if (paced || wavering) {
      double less = paced ? 0.1 : 0.5;
      earlyShare *= less, latePerS *= less, perSat *= less, co2Rise *= less, tensePerS *= less, bumpSize *= less, waveGoal *= less, strainSize *= less;
    }
    if (slowed) bumpSize *= 0.6, tensePerS *= 0.5, strainSize *= 0.6;
    waveW = 2 * M_PI / c.scale(8, 45) * dt;
    // the breath's own rhythm goes on in the heart for a while, or for long (J02; Parkes 2006: the central rhythm does not stop)
    ghost = c.odds(0.5) ? 0 : c.between(0.15, 0.9), kGhost = gainFor(c.odds(0.7) ? c.scale(4, 20) : c.scale(20, 150));
    kPoise = gainFor(c.between(3, 12));
    baseSize = c.odds(0.5) ? 0 : c.between(0.01, 0.08);
    swingSize = c.odds(0.35) ? 0 : c.scale(1, 14) * (c.odds(0.3) ? -1 : 1);
    if (paced) swingSize = 0;
    rippleSize = c.odds(0.25) ? 0 : c.scale(0.02, 0.35);
    // coming back: 5 s [3.09] up to 60 s (our choice)
    kBack = gainFor(c.odds(0.65) ? c.scale(0.8, 4.5) : c.scale(4.5, 28));
    alkalRise = c.odds(0.4) ? 0 : c.scale(0.15, 1.3);  // over-breathing lifts the rate (mem)
    learn = c.odds(0.6) ? 0 : c.between(-0.06, 0.12);
    emptyFactor = c.odds(0.5) ? 1 : c.between(0.1, 1.8);
    thoughts = c.scale(0.02, 0.5);
    overshoot = c.odds(0.3) ? 0 : c.scale(2, 26) * (slowed ? 0.5 : 1);
    dipSize = c.odds(0.55) ? 0 : c.scale(2, 16);
    kDip1 = gainFor(c.between(3, 10)), kDip2 = gainFor(c.between(8, 30));
    if (paced) overshoot = dipSize = 0;
    retKind = c.pick({5, 3, 2});
    kRet = gainFor(c.scale(4, 50));
    rsa1 = rsa;
  }
  double ghost = 0, ghostNow = 0, ghostW = 0.3, ghostPhase = 0, kGhost = 0.01, period0 = 4, poise = 0, poiseGoal = 0, kPoise = 0.05, baseNow = 0, baseSize = 0;
  double ceilUp = 0.03, ceilDown = 0.03, hiccups = 0, hiccupIn = 1e9;
  double rsa1 = 0, alkalRise = 0, learn = 0, emptyFactor = 1, thoughts = 0.1, walkFrom = 0;
  int nth = 0;

  // ---- one quarter of a second ---------------------------------------------------------------------------------------------------
  void step(double vol, bool breathIn) {
    if (full()) return;
    // gas: lungs, arteries, mixed veins; pressure times volume is kept [2.13], 863 mmHg litres of moist gas per litre taken up
    double l = litres(vol), dl = l - litre, volume = std::max(frc + litre, 0.7), after = std::max(frc + l, 0.7);
    litre = l;
    double mO = pO * volume, mC = pC * volume;
    if (!held) {
      if (dl > 0) {
        double old = std::min(dl, ds), fresh = dl - old;
        ds -= old;
        mO += pO * old + inspired * fresh;
        mC += pC * old;
      } else {
        mO += pO * dl, mC += pC * dl;
        ds = std::min(dead, ds - dl);
      }
      squeeze += (1 - squeeze) * k8;
    } else {
      squeeze += (1 - saving - squeeze) * k30;
    }
    double q = q0 * clip(0.4 + 0.6 * hrSlow / hrRest, 0.5, 2.2) * (1 + 0.3 * std::min(work, 4.0));
    load += (work - load) * k30;
    double use = vo2 * (1 + load) * squeeze * (1 + 0.12 * arousal) * (1 - 0.1 * sleepy);
    double pa = (pO - aa) * p50 * (1 - 0.006 * (pC - 40));  // Bohr [1.06, 1.10]
    sat = curve(pa);
    double wantShunt = vol < -0.3 ? closure : 0;
    shunt += (wantShunt - shunt) * (vol < -0.3 ? k8 : k2s);
    sat -= shunt * std::max(0.0, sat - cv / (1.34 * hb));
    double now_ = 1.34 * hb * sat + 0.03 * std::max(0.0, pO - aa);
    double flux = q * (now_ - cv) * 1e-3;
    mO -= 863 * flux * (dt / 60);
    ca += (now_ - ca) * clip(q / 1.2 * (dt / 60), 0, 1);
    cv += (q * (ca - cv) - 1000 * use) / venous * (dt / 60);
    cv = clip(cv, 10, 1.4 * hb);
    double fluxC = q * 4.3 * (pv - pC) * 1e-3;  // ml per litre and mmHg (mem: 4 to 5)
    mC += 863 * fluxC * (dt / 60);
    pv += (1000 * (0.8 * use - fluxC)) / tissue * (dt / 60);
    pv = clip(pv, 15, 90);
    pO = clip(mO / after, 8, 140), pC = clip(mC / after, 8, 85);
    double shown = 100 * sat;
    if (satKind == 1) {  // a shape instead of the balance: late, then faster
      if (held) {
        double t90 = 60 * (0.075 * (frc + l) - 0.02) / (vo2 * (1 + work) * (1 - saving)) * shapeT;  // as [2.29]
        double x = std::max(0.0, tHold) / std::max(12.0, t90), x3 = x * x * (shapeP + (1 - shapeP) * x);
        double goal = 10 * x3 / (1 + 0.12 * x3);
        if (goal > deficit) deficit = goal;
      } else if (tSince > 2) {
        deficit -= deficit * k4;
      }
      double rest = curve((inspired - setCo2 * 1.2 - aa) * p50);
      double low = std::min(0.0, shown - 100 * rest) * 0.15;
      shown = (thin ? 100 * sat : 100 * rest + low) - deficit;
    }
    satLow += (shown - satLow) * k8;
    satOut += (shown + satBias - satOut) * kSpread;

    // heart
    if (held) tHold += dt; else tSince += dt;
    apn += ((held ? 1 : 0) - apn) * k2s;
    work += (workGoal - work) * k8;
    cold += (coldGoal - cold) * k8;
    sleepy += (sleepyGoal - sleepy) * k90;
    arousal += (arousalGoal - arousal) * (arousalGoal > arousal ? kArUp : kArDown);
    poise += (poiseGoal - poise) * kPoise;
    double hot = std::min(work * hotGain, hrCeil - hrRest);
    hot1 += (hot - hot1) * (hot > hot1 ? kHotUp : kHotDown);
    hot2 += (0.3 * hot - hot2) * kSlow;
    settling *= settleKeep;
    drift = driftKeep * drift + driftPush * hum(c);
    vlf = vlfKeep * vlf + vlfPush * hum(c);
    quick = quickKeep * quick + quickPush * hum(c);
    double x = lfC * lfx - lfS * lfy + lfPush * hum(c);
    lfy = lfS * lfx + lfC * lfy, lfx = x;
    lfNow += ((held ? lfHold : 1) - lfNow) * k4;
    kick2 += (kick1 - kick2) * k1s, kick1 -= kick1 * k2s;

    double flow = (vol - lastV) * (1 / dt);
    lastV = vol;
    double vs = vol > 0 ? vol / (1 + vol / rsaSat) : vol;
    if (held) flow = 0;
    lp1 += (vs - lp1) * k1, slow1 += (lp1 - slow1) * (lp1 < slow1 && !held ? kAdaptDown : kAdapt);
    lp2 += ((breathIn ? 1.0 : 0.0) - lp2) * k2;
    double fl = flow > 0 ? flow / (1 + flow) : 0;
    lp3 += (fl - lp3) * k3;
    ov += dt * (om * om * (vs - ox) - 2 * ze * om * ov), ox += dt * ov;
    double mix = w1 * (lp1 - adapt * slow1 - (1 - adapt) * 0.35) + w2 * (lp2 - 0.4) + w3 * (lp3 - 0.18) + w4 * (ox - slow1);

    double low = std::max(0.0, 95 - satLow);
    double hypoGoal = held ? -perSat * low / (1 + perSat * low * 3 / hrRest) : hypoxicRise * std::min(low, 15.0) * (1 - apn);
    hypo += (hypoGoal - hypo) * (held ? k8 : k4);
    double sum = hrRest + settling + drift + vlf + poise + arGain * arousal + hot1 + hot2 - 0.13 * hrRest * sleepy - 0.2 * hrRest * cold * coldSign + alkalRise * std::max(0.0, setCo2 - 3 - alkal);
    alkal += (pC - alkal) * k8;
    double vagal = clip(1 - (hrSlow - vagalMid) / vagalSpan, 0.04, 1.5) * (1 - 0.35 * arousal) ;
    if (vagal < 0.04) vagal = 0.04;
    if (held) {
      double goal = eShare * hrSlow0;
      if (kDrop > 0) eShare -= eShare * kDrop * 0.5;
      early += (goal - early) * kEarly;
      if (tHold > lateAfter) lateD = std::min(lateD + lateS * dt, 0.4 * hrRest);
      tense += tenseS * dt + co2R * std::max(0.0, pC - threshold) * 0.02 * dt;
      tense = std::min(tense, 35.0);
      waveSize += (waveNow - waveSize) * k30;
      strain += (strainNow - strain) * k4;
      if (retKind == 1) ret += (0.25 - ret) * k8;
    } else {
      early -= early * kBack, lateD -= lateD * kBack, tense -= tense * kBack, waveSize -= waveSize * k4, strain -= strain * k2s;
      if (retKind == 0) ret += (1 - ret) * k05; else ret += (1 - ret) * kRet;
    }
    bump2 += (bump1 - bump2) * k2s, bump1 -= bump1 * k8;
    wavePhase += waveW;
    if (wavePhase > 6.2831853) wavePhase -= 6.2831853;
    double wave = 0;
    if (waveSize > 0.05) {
      double p = wavePhase - 3.14159265;  // parabola for a sine
      wave = waveSize * (p < 0 ? 1.27323954 * p + 0.405284735 * p * p : 1.27323954 * p - 0.405284735 * p * p);
    }
    if (ghostNow > 0.05) {
      ghostPhase += ghostW;
      if (ghostPhase > 6.2831853) ghostPhase -= 6.2831853;
      double p = ghostPhase - 3.14159265;
      wave += vagal * ghostNow * (p < 0 ? 1.27323954 * p + 0.405284735 * p * p : 1.27323954 * p - 0.405284735 * p * p);
      ghostNow -= ghostNow * (held ? kGhost : k1s);
    }
    swing2 += (swing1 - swing2) * k05, swing1 -= swing1 * k1s;
    rebound -= rebound * k8;
    dip1 -= dip1 * kDip1, dip2 -= dip2 * kDip2;
    double sway = rsa1 * ret * mix;  // the swing has a ceiling, lower above than below
    sway = sway > 0 ? sway / (1 + sway * ceilUp) : sway / (1 - sway * ceilDown);
    double h = sum + vagal * (sway + lfNow * lfx + quick) + kick2 - early - lateD + hypo + tense + bump2 + wave + strain + swing2 + rebound - (dip2 - dip1);
    hrSlow += (sum - early - lateD + hypo + tense - hrSlow) * k4;
    hr += (h - hr) * 0.75;
    if (hr < 36) h = 36 - 9 * (36 - hr) / (45 - hr); else if (hr > 195) h = 195 + 20 * (hr - 195) / (hr - 175); else h = hr;
    // motion
    double m = motionGoal;
    if (fidgetLeft > 0) fidgetLeft -= dt, m = std::max(m, fidgetSize * (0.5 + c.next()));
    motionNow += (m - motionNow) * 0.5;
    if ((hiccupIn -= dt) < 0) ripple += c.between(0.2, 0.9), kick1 += c.between(0, 5), hiccupIn = hiccups * c.between(0.6, 1.6);
    ripple -= ripple * 0.35;
    rippleV += (ripple - rippleV) * 0.6;

    seen++;
    if (skip > 0) {
      skip--;
      return;
    }
    out.heart.push_back(float(clip(h, 27, 215)));
    out.lungs.push_back(float(clip(vol + rippleV, -2, 6)));
    out.arterial.push_back(float(clip(satOut, 40, 100)));
    out.motion.push_back(float(clip(motionNow * (motionNow > 0.3 ? 0.85 + 0.3 * c.next() : 1), 0, 1)));
    out.held.push_back(held);
  }
  double coldSign = 1, alkal = 40;
  bool thin = false;
  double eShare = 0, hrSlow0 = 70, lateS = 0, tenseS = 0, co2R = 0, waveNow = 0, strainNow = 0;

  // ---- movements of the chest ------------------------------------------------------------------------------------------------------
  static double ease(double f, int shape) {
    switch (shape) {
      case 0: return f * f * (3 - 2 * f);
      case 1: return f;
      case 2: return 1 - (1 - f) * (1 - f);
      case 3: return f * f;
      default: { double g = 1 - f; return 1 - g * g * g; }
    }
  }
  void glide(double to, double s, int shape) {
    if (s < 0.05) s = 0.05;
    double from = v, t = due, per = 1 / s;
    bool in = to > from + 0.02;
    for (; t <= s && !full(); t += dt) step(from + (to - from) * ease(t * per, shape), in);
    v = to;
    due = t - s;
    if (due > dt || due <= 0) due = dt;
  }
  void hang(double s) {
    if (s <= 0) return;
    double t = due;
    for (; t <= s && !full(); t += dt) step(v, false);
    due = t - s;
    if (due > dt || due <= 0) due = dt;
  }
  void kick(double size) { kick1 += 2.2 * size * (slowed ? 0.6 : 1) * (paced ? 0.1 : 1); }
  void fidget(double s, double size) {
    fidgetLeft = s, fidgetSize = size;
    if (held) ripple += 0.5 * size * (c.next() - 0.4);
    if (size > 0.25) kick(size * c.between(2, 12));
  }

  void posture(double by) {  // sits up or stands (+5 to +25), lies down (as much less); moves a few seconds (mem)
    fidget(c.between(2, 7), c.between(0.3, 0.9));
    poiseGoal = clip(poiseGoal + by * (paced ? 0.1 : slowed ? 0.6 : 1), -12, 26);
    kick(by > 0 ? c.between(0, 14) : 0);
  }

  // Numbers of this part: our choice, wide, unless marked.
  // ---- small things people do --------------------------------------------------------------------------------------------------------
  void swallow() {  // breath stops a moment, mostly while breathing out; the heart a little up (mem)
    hang(c.between(0.6, 1.5));
    kick(c.scale(1, 9));
  }
  void sigh() {
    glide(v + c.between(1.2, std::max(1.4, fullUnits - 0.8)) * 0.8, c.between(1.5, 3.5), c.pick({2, 1}));
    if (c.odds(0.2)) hang(c.between(0.3, 1.5));
    glide(c.between(-0.15, 0.1), c.between(1.5, 4.5), c.pick({0, 1, 4, 0, 3}));
    hang(c.odds(0.5) ? c.between(0.5, 4) : 0);
  }
  void yawn() {
    glide(c.between(0.7, 1) * fullUnits, c.between(3, 6), 0);
    kick(c.between(2, 10));
    hang(c.between(0.5, 2));
    glide(c.between(-0.1, 0.1), c.between(2, 5), 2);
  }
  void cough() {
    glide(v + c.between(0.5, 1.8), c.between(0.5, 1.2), 1);
    int n = 1 + c.pick({2, 3, 2, 1});
    fidget(n * 0.8, c.between(0.1, 0.4));
    for (int i = 0; i < n; i++) {
      glide(v - c.between(0.3, 0.9), c.between(0.25, 0.5), 2);
      kick(c.between(1, 5));
      if (v < -0.4 * emptyUnits || c.odds(0.3)) glide(v + c.between(0.3, 1), c.between(0.3, 0.7), 1);
    }
    glide(0, c.between(0.5, 1.5), 2);
  }
  void laugh() {
    int bouts = 1 + c.pick({3, 2, 1});
    fidget(bouts * 2.5, c.between(0.1, 0.45));
    arousal = std::min(1.0, arousal + c.between(0.1, 0.4));
    for (int b = 0; b < bouts && !full(); b++) {
      glide(c.between(0.8, 2), c.between(0.4, 0.9), 1);
      int n = 2 + c.pick({1, 1, 1, 1, 1});
      for (int i = 0; i < n; i++) {
        glide(v - c.between(0.2, 0.6), c.between(0.15, 0.3), 1);
        glide(v + c.between(0, 0.12), c.between(0.1, 0.25), 1);
        if (v < -0.7 * emptyUnits) break;
      }
      kick(c.between(0, 6));
    }
    glide(c.between(0.3, 1.2), c.between(0.5, 1), 1);
    glide(0, c.between(0.8, 2), 2);
  }

  // ---- breathing -------------------------------------------------------------------------------------------------------------------------
  double jitterT = 0, jitterV = 0;
  void breathe(const Style& s, double seconds) {
    double until = now() + seconds, since = now();
    while (now() < until && !full()) {
      jitterT = 0.45 * jitterT + 0.9 * hum(c);
      jitterV = 0.35 * jitterV + 0.94 * hum(c);
      double drive = 1;
      if (s.follow > 0) {
        drive = 1 + s.follow * (driveGain * (pC - setCo2) + 0.8 * load + 0.15 * work + hungerO2 * std::max(0.0, 94.5 - satLow));
      }
      if (satLow < 89 && !thin) drive = std::max(drive, 0.8) + 0.09 * (89 - satLow);  // nobody at rest lets it fall far
      drive = clip(drive, 0.42, 9);
      double deeper = std::sqrt(drive), faster = drive > 1.6 ? drive / (deeper * 1.12) : deeper;
      double period = 60 / (s.rate * faster) * clip(1 + s.cvRate * jitterT, 0.45, 2.4);
      double depth = s.depth * deeper * clip(1 + s.cvDepth * jitterV, 0.15, 2.6);
      if (s.wax > 0) {
        double p = std::fmod((now() - since) / s.waxS, 1.0);
        depth *= 1 + s.wax * (1 - 4 * std::fabs(p - 0.5));
      }
      depth = clip(depth, 0.06, 0.92 * fullUnits - s.base);
      period0 = period;
      baseNow = 0.92 * baseNow + baseSize * hum(c);
      double floor = s.base + baseNow;
      double pause = clip(s.pause * period * (1 + 0.4 * jitterV), 0, 6.5);
      double tin = clip(s.inShare * period, 0.4, 12), tout = clip(period - tin - pause, 0.45, s.rate < 9 ? 14 : 7);
      double per = period / 60, r = c.next();
      glide(floor + depth, tin, s.in);
      if (r < s.swallows * per) {
        glide(floor + depth * c.between(0.3, 0.8), tout * 0.4, s.out);
        swallow();
        glide(floor, tout * 0.5, s.out);
      } else {
        glide(floor, tout, s.out);
      }
      if (pause > 0.1) hang(pause);
      if (c.next() < thoughts * per) arousal = std::min(1.0, arousal + c.scale(0.05, 0.5));  // a thought, a noise
      r = c.next();
      if (r < 0.5) {
        if (r < s.sighs * per) sigh();
        else if (r < (s.sighs + s.coughs) * per) cough();
        else if (r < (s.sighs + s.coughs + s.sniffs) * per) { glide(v + c.between(0.3, 1), c.between(0.3, 0.6), 1), glide(0, c.between(0.4, 1), 2); }
        else if (r < (s.sighs + s.coughs + s.sniffs + s.yawns) * per) yawn();
        else if (r < (s.sighs + s.coughs + s.sniffs + s.yawns + s.fidgets) * per) fidget(c.scale(0.5, 6), c.scale(0.05, 0.6));
      }
    }
  }
  void quiet(double s) { breathe(own, s); }
  void deep(double s, double rate, double share) {  // preparatory breathing
    Style d = own;
    d.rate = rate, d.depth = share * fullUnits, d.cvRate *= 0.6, d.cvDepth *= 0.4, d.follow = 0, d.pause = c.odds(0.3) ? 0.1 : 0.02;
    d.inShare = c.between(0.25, 0.5), d.base = c.odds(0.25) ? -0.3 * emptyUnits : 0, d.sighs = 0, d.swallows *= 0.5, d.out = c.pick({2, 2, 2, 0, 1});
    breathe(d, s);
  }
  void slowBreaths(double s, double rate) {
    Style d = own;
    d.rate = rate, d.depth = clip(own.rate / rate * c.between(0.7, 1.1), 0.8, 0.8 * fullUnits), d.cvRate *= c.between(0.1, 0.6), d.cvDepth *= 0.5, d.follow = 0.15;
    d.inShare = c.between(0.25, 0.5), d.pause = c.odds(0.4) ? c.between(0.1, 0.3) : 0, d.in = c.pick({2, 1, 1}), d.out = c.pick({2, 2, 2, 0, 1}), d.sighs = 0.02;
    breathe(d, s);
  }
  void shallow(double s) {
    Style d = own;
    d.depth = c.between(0.35, 0.7), d.rate *= c.between(0.9, 1.4), d.follow = 0.4, d.cvDepth *= 0.6, d.sighs *= 0.6;
    breathe(d, s);
  }
  void talk(double s) {
    double until = now() + s, loud = c.between(0.1, 0.6), was = arousalGoal;
    arousalGoal = std::max(was, loud * c.between(0.3, 0.9));
    motionGoal = std::max(motionGoal, c.between(0, 0.12));
    while (now() < until && !full()) {
      glide(c.between(0.7, 2.2), c.between(0.35, 0.9), c.pick({1, 2}));
      double down = c.scale(1.2, 9), to = c.between(-0.4 * emptyUnits, 0.4);
      int parts = 1 + c.pick({2, 2, 1});
      for (int i = 0; i < parts; i++) {
        glide(v + (to - v) * (i + 1) / parts, down / parts, 1);
        if (c.odds(0.3)) hang(c.between(0.2, 1.5));
      }
      if (c.odds(0.12)) quiet(c.between(3, 20));
      if (c.odds(0.03)) laugh();
      if (c.odds(0.05)) fidget(c.between(0.5, 3), c.between(0.05, 0.4));
    }
    arousalGoal = was;
    motionGoal = 0;
    glide(0, 1, 2);
  }
  void sing(double s) {
    double until = now() + s;
    while (now() < until && !full()) {
      glide(c.between(1, 0.8 * fullUnits), c.between(0.6, 2), 1);
      glide(c.between(-0.6 * emptyUnits, 0.2), c.scale(4, 20), c.pick({0, 3, 0, 1, 0}));
      if (c.odds(0.1)) quiet(c.between(5, 15));
    }
    glide(0, 1, 2);
  }
  void pattern(double s) {  // counted: in, wait, out, wait; waits stay under 8 s, so none of it is a hold
    double in = c.between(3, 6), top = c.odds(0.7) ? c.between(1, 7) : 0, down = c.between(3, 9), low = c.odds(0.5) ? c.between(1, 5) : 0;
    double depth = c.between(1, 0.85 * fullUnits), until = now() + s, sloppy = c.between(0.01, 0.1);
    while (now() < until && !full()) {
      double k = 1 + sloppy * hum(c);
      glide(depth * k, in * k, c.pick({1, 1})), hang(std::min(7.2, top * k)), glide(0, down * k, c.pick({2, 2, 1})), hang(std::min(7.2, low * k));
      if (c.odds(0.03)) breathe(own, 6);
    }
  }
  void walkAbout(double s) {
    double was = workGoal;
    workGoal = c.between(0.8, 2.6);
    motionGoal = c.between(0.45, 1);
    breathe(own, s);
    workGoal = was, motionGoal = 0;
  }

  // Numbers of this part: our choice, wide, unless marked.
  // ---- a hold ----------------------------------------------------------------------------------------------------------------------------
  void enter(const Plan& q) {
    double to = q.level;
    switch (q.entry) {
      case deepIn: glide(to, c.between(1, 3), c.pick({2, 1})); break;
      case outIn:
        glide(-c.between(0.4, 0.95) * emptyUnits, c.between(1.5, 6), c.pick({1, 1, 2}));
        hang(c.odds(0.3) ? c.between(0.3, 1.5) : 0);
        glide(to, c.between(1.5, 6), c.pick({2, 1, 1}));
        break;
      case staged:
        glide(to * 0.6, c.between(1.5, 3), 0), hang(c.between(0.2, 0.8)), glide(to * 0.85, c.between(1, 2), 0), hang(c.between(0.1, 0.5)), glide(to, c.between(0.6, 2), 0);
        break;
      case packed: {
        glide(to, c.between(2, 5), 0);
        int n = 3 + int(c.next() * 15);  // gulps of air on top
        double each = c.between(0.02, 0.08) * (fullUnits > 4.2 ? 0.5 : 1);
        for (int i = 0; i < n; i++) glide(std::min(v + each, 5.6), c.between(0.4, 0.8), 0), hang(c.between(0.2, 0.7));
        break;
      }
      case halfBreath: glide(to, c.between(0.8, 2), c.pick({1, 1})); break;
      case letGo:
        if (v < 0.4) glide(own.depth * c.between(0.7, 1.3), c.between(1, 2.2), own.in);
        glide(to, c.between(1, 3), 4); break;
      case emptied:
        if (c.odds(0.5)) glide(c.between(1, 0.9 * fullUnits), c.between(1, 3), 0);
        glide(to, c.between(1.5, 7), c.pick({1, 2, 2, 0, 1}));
        break;
      case midSentence:
        glide(std::max(to + 0.2, c.between(0.8, 1.8)), 0.6, 1), glide(to, c.between(0.5, 3), 1);
        break;
      case quietTop: glide(to, c.between(0.9, 2), own.in); break;
      case settle: glide(to * 1.08, c.between(1.5, 3.5), 0), hang(0.4), glide(to, c.between(0.4, 1.2), 0); break;
      case pinched: fidget(c.between(1, 2.5), c.between(0.1, 0.4)), glide(to, c.between(0.8, 2.5), 1); break;
      case hasty:
        for (int i = 1 + c.pick({1, 2, 2}); i > 0; i--) glide(c.between(0.6, 0.95) * fullUnits, c.between(0.5, 1.1), 1), glide(c.between(-0.2, 0.3), c.between(0.5, 1.2), 2);
        glide(to, c.between(0.5, 1.2), 1);
        break;
      case slowIn: glide(to, c.between(4, 9), c.pick({1, 1})); break;
      default: break;
    }
  }

  double hold(const Plan& q) {
    enter(q);
    if (full()) return 0;
    size_t from = out.held.size();
    held = true, tHold = 0;
    double today = c.between(0.7, 1.25);
    eShare = earlyShare * today, lateS = latePerS * c.between(0.5, 1.4), tenseS = tensePerS * c.between(0.3, 1.4), co2R = co2Rise * today;
    if (c.odds(0.1)) eShare = c.between(-0.05, 0.25);  // another day's answer
    eShare *= clip(1 + learn * nth, 0.3, 2), nth++;
    if (v < 0.1) eShare *= emptyFactor * c.between(0.8, 1.2);
    hrSlow0 = std::max(40.0, hrSlow);
    ghostNow = ghost * 0.5 * rsa1, ghostPhase = c.between(0, 6.28), ghostW = 6.2831853 / clip(period0, 2, 14) * dt;
    waveNow = waveGoal * c.between(0.4, 1.3);
    strainNow = v > 1 && c.odds(0.7) ? strainSize * c.between(0.3, 1) : 0;
    bump1 += bumpSize * 1.8 * c.between(0.4, 1.2) * (v > 1 ? 1 : 0.3);
    double onset = -1, next = 1e9, limit = std::min(480.0, will * c.between(0.7, 1.15) * (v > 1.5 ? 1 : v > 0.3 ? c.between(0.5, 0.9) : c.between(0.3, 0.8))), easy = clip(strive + 0.06 * c.normal(), 0.4, 0.98), sink = 0;
    double gap0 = c.scale(2.5, 9), start = v, leastS = c.between(8, 20), shrink = vo2 / 60 * c.between(0.4, 0.9) * (fullUnits - 1) / std::max(0.5, ic - ordinary);
    double swallowAt = c.odds(0.6) ? c.scale(3, 80) : 1e9, calmArousal = arousalGoal;
    double fussRate = (q.fuss + 0.15 * nerves) / 60;
    double walkAt = q.walk > 0 && c.odds(0.35) ? c.between(2, 30) : 0;  // still at first, then walks
    bool walks = false;
    motionGoal = 0;
    if (skill > 0.3 && c.odds(0.6)) arousalGoal = 0;
    double easeOut = c.odds(0.2) ? c.between(0.05, 0.3) : 0;  // sinks a little as the muscles let go
    double stretch = start > 1 ? 1.2 * (start - 1) : start < -0.1 ? -3 : 0;
    while (!full()) {
      if (start > 0.2) sink += shrink * dt;
      double vol = start - sink - easeOut * std::min(1.0, tHold / 15);
      vol = std::max(vol, std::min(start, 0.1));
      step(vol, false);
      v = vol;
      if (q.walk > 0 && !walks && tHold > walkAt) walks = true, motionGoal = q.walk, workGoal = q.walk * c.between(1, 2.4);
      double urge = pC + 0.12 * std::max(0.0, 75 - pO) - stretch;
      if (onset < 0 && urge > threshold) {
        onset = tHold;
        limit = std::min(limit, std::max(leastS, onset / easy));
        if (!noMoves) next = tHold + c.between(0, 6);
      }
      if (tHold > next) {
        double hard = clip((tHold - onset) / 40, 0.15, 1);
        swing1 += swingSize * 2.2 * hard * c.between(0.4, 1.3);
        ripple += rippleSize * 2 * hard * (c.odds(0.5) ? 1 : -1) * c.between(0.5, 1.2);
        if (c.odds(0.15 * hard)) fidget(c.between(0.3, 1), c.between(0.04, 0.25));
        next = tHold + std::max(0.9, gap0 * (1.1 - 0.75 * hard) * (1 + 0.3 * hum(c)));
        if (nerves > 0.5) arousalGoal = std::min(1.0, arousalGoal + 0.03);
      }
      if (tHold > swallowAt) {
        kick(c.scale(1, 9)), ripple += 0.06, swallowAt = tHold + c.scale(6, 90);
      }
      if (c.next() < fussRate * dt) fidget(c.scale(0.4, 5), c.scale(0.05, 0.6));
      double stop = q.goal > 0 ? std::min(q.goal, limit) : limit;
      if (tHold >= stop || sat < floorSat || satOut < 100 * floorSat - 4) break;
    }
    double lasted = tHold;
    held = false, tSince = 0;
    due = dt;
    if (lasted < 8 && !full()) for (size_t i = from; i < out.held.size(); i++) out.held[i] = 0;
    // what the heart does next
    double much = clip(lasted / 60, 0.1, 1.5);
    rebound += overshoot * std::min(1.0, much) * c.between(0.3, 1.3);
    double d = dipSize * std::min(1.0, much) * c.between(0.4, 1.2) * 2;
    dip1 += d, dip2 += d;
    if (retKind == 1) ret = std::min(ret, 0.4); else if (retKind == 2) ret = 1 + 0.8 * std::min(1.0, much);
    motionGoal = 0;
    if (q.walk > 0) workGoal = 0;
    arousalGoal = calmArousal;
    if (!full()) finish(q, lasted);
    return lasted;
  }

  void bigBreaths(int n, double first, double pace) {  // recovery: from deep to ordinary
    for (int i = 0; i < n && !full(); i++) {
      double f = first + (1 - first) * i / n, d = clip(f * c.between(0.75, 1.2), 0.5, 0.95 * fullUnits), T = pace * c.between(0.75, 1.3);
      glide(d, T * 0.4, c.pick({1, 2})), glide(c.between(-0.2, 0.15), T * 0.55, c.pick({1, 1, 3}));
    }
  }
  void finish(const Plan& q, double lasted) {
    double hunger = clip((pC - setCo2) / 14, 0, 1.3) + clip((95 - satLow) / 20, 0, 1);
    double top = clip(1.2 + 1.3 * hunger * c.between(0.6, 1.3), 1, 0.95 * fullUnits);
    int n = int(1 + 5 * hunger * c.between(0.5, 1.6));
    double pace = c.between(2, 5);
    switch (q.end) {
      case calm:
        glide(v * 0.3, c.between(1.2, 3), 2);
        bigBreaths(n, 0.8 * top, pace * 1.2);
        break;
      case gasp:
        if (v > 0.7 * fullUnits) glide(v - c.between(0.5, 1.2), c.between(0.25, 0.5), 2);
        glide(std::min(v + c.between(0.8, 2), 0.97 * fullUnits), c.between(0.4, 0.9), 2);
        glide(0, c.between(0.6, 1.5), 2);
        bigBreaths(n + 2, top, pace * 0.7);
        break;
      case hooks:  // quick part-breaths with the air kept a few seconds
        glide(v - c.between(0.2, 0.8), c.between(0.3, 0.7), 1);
        for (int i = 2 + int(c.next() * 6); i > 0; i--) {
          glide(c.between(0.7, 0.95) * fullUnits, c.between(0.5, 1), 2), hang(c.between(0.8, 3.5)), glide(v - c.between(0.3, 1.2), c.between(0.3, 0.8), 1);
        }
        bigBreaths(n, 0.8 * top, pace);
        break;
      case outFirst:
        glide(c.between(-0.5 * emptyUnits, 0), c.between(1, 3), c.pick({1, 1, 2}));
        bigBreaths(n, top, pace);
        break;
      case longOut:
        glide(c.between(-0.8 * emptyUnits, 0), c.between(5, 20), c.pick({1, 2}));
        hang(c.odds(0.3) ? c.between(0.5, 5) : 0);
        bigBreaths(n + 1, top, pace);
        break;
      case blow:
        glide(-c.between(0.3, 0.9) * emptyUnits, c.between(0.5, 1.3), 2);
        kick(c.between(0, 8));
        bigBreaths(n + 1, top, pace * 0.8);
        break;
      case cough_: glide(0.3, 0.6, 2), cough(), bigBreaths(n, top, pace); break;
      case laugh_: glide(0.2, 0.5, 2), laugh(), bigBreaths(n, 0.8 * top, pace); break;
      case brief: glide(c.between(-0.3, 0.3), c.between(0.8, 2.5), c.pick({1, 1, 2})); return;
      case noseSlow: glide(0, c.between(2, 5), 0), slowBreaths(c.between(15, 45), c.between(6, 11)); break;
      case sipAndHold: {  // a sip of air and on
        glide(v - c.between(0.1, 0.8), c.between(0.4, 1), 2), glide(std::min(0.95 * fullUnits, v + c.between(0.6, 1.8)), c.between(0.5, 1.2), 2);
        Plan again = q;
        again.entry = asIs, again.level = v, again.end = c.pick({1, 2, 0, 2}), again.goal = c.scale(5, std::max(12.0, 0.6 * lasted));
        hold(again);
        return;
      }
      default: {  // lets the air go and stays without
        glide(c.between(-0.6 * emptyUnits, 0.1), c.between(0.8, 3), 4);
        Plan again = q;
        again.entry = asIs, again.level = v, again.end = c.pick({1, 2, 0, 2}), again.goal = c.scale(5, 25);
        hold(again);
        return;
      }
    }
    if (lasted > 20 && c.odds(0.25)) fidget(c.between(1, 4), c.between(0.1, 0.5));
    if (c.odds(0.12)) walkAbout(c.between(5, 25));
  }

  // ---- choices -----------------------------------------------------------------------------------------------------------------------------
  int anEnd() { return skill > 0.5 ? c.pick({4, 1, 4, 3, 1, 1, 0.2, 0.2, 1, 0.3, 0.5}) : c.pick({3, 4, 0.5, 4, 1, 2, 0.5, 0.6, 0.5, 0.4, 0.4}); }
  Plan fullHold(double goal) {
    Plan q;
    q.level = c.between(0.72, 1) * fullUnits;
    q.entry = skill > 0.7 ? c.pick({3, 4, 3, 2, 0, 0, 0, 0, 0, 1.5, 0, 0, 2}) : c.pick({5, 3, 0.5, 0, 0, 0, 0, 0, 0, 1, 2, 3, 1});
    q.goal = goal, q.end = anEnd();
    return q;
  }
  Plan emptyHold(double goal) {
    Plan q;
    q.level = c.odds(0.5) ? -c.between(0.6, 1) * emptyUnits : c.between(-0.2, 0.05);
    q.entry = q.level < -0.25 ? emptied : letGo;
    q.goal = goal, q.end = c.pick({2, 5, 0.3, 0, 0, 1, 0.3, 0.3, 1, 0.3, 0});
    return q;
  }
  Plan halfHold(double goal) {
    Plan q;
    switch (c.pick({3, 3, 2, 1})) {
      case 0: q.level = c.between(1, 0.6 * fullUnits), q.entry = halfBreath; break;
      case 1: q.level = c.between(0.6, 1.3), q.entry = quietTop; break;
      case 2: q.level = c.between(0.1, 1), q.entry = midSentence; break;
      default: q.level = c.between(0, 0.5), q.entry = letGo; break;
    }
    q.goal = goal, q.end = anEnd();
    if (q.end == longOut && q.level < 0.8) q.end = gasp;
    return q;
  }
  double beginnerGoal() { return c.scale(8, 60); }
  void falseStart() {  // breathes in, waits a moment, laughs it off
    glide(c.between(0.5, 1) * fullUnits, c.between(0.8, 2.5), 1);
    hang(c.between(0.5, 6));
    glide(0, c.between(0.6, 2), 2);
    if (c.odds(0.5)) laugh(); else if (c.odds(0.5)) talk(c.between(3, 12)); else quiet(c.between(4, 15));
  }
  void anticipate(double s) {  // the half minute before [S06]
    double was = arousalGoal;
    arousalGoal = clip(was + nerves * c.between(0, 0.9) - 0.2 * skill, 0, 1);
    switch (skill > 0.4 ? c.pick({3, 3, 3, 1, 1}) : c.pick({5, 3, 1, 1, 2})) {
      case 0: quiet(s); break;
      case 1: deep(s, c.between(5, 14), c.between(0.4, 0.9)); break;
      case 2: slowBreaths(s, c.between(3.5, 8)); break;
      case 3: deep(s, c.between(15, 32), c.between(0.35, 0.8)); break;  // over-breathing
      default: quiet(s * 0.7), deep(s * 0.3, c.between(10, 20), c.between(0.5, 0.9)); break;
    }
    arousalGoal = was;
  }
  void restless_(double s) {  // between holds, by temper
    double until = now() + s;
    while (now() < until && !full()) {
      double left = std::min(until - now(), c.scale(8, 120));
      if (left < 1) break;
      switch (c.pick({12, 1.5, 1.5, 2 * nerves, 0.6, nerves, 0.5, 1.5 * skill, 0.4})) {
        case 0: quiet(left); break;
        case 1: shallow(left); break;
        case 2: talk(std::min(left, 40.0)); break;
        case 3: fidget(c.between(1, 6), c.between(0.15, 0.7)), quiet(std::min(left, 25.0)); break;
        case 4: if (c.odds(0.5)) walkAbout(left); else posture(poiseGoal > 4 ? -c.between(4, 20) : c.between(4, 20)), quiet(std::min(left, 30.0)); break;
        case 5: laugh(); break;
        case 6: sing(std::min(left, 30.0)); break;
        case 7: slowBreaths(left, c.between(4, 8)); break;
        default: sigh(), sigh(); break;
      }
    }
  }
  /** What this person does to the limit, roughly (s), to set goals by. */
  double ability() const { return clip(32 + 45 * skill + 230 * skill * skill * (0.5 + 0.5 * fit), 20, 420); }
};

// In all below the numbers are our choice, wide, as a coach would tell them, unless a source stands beside them.
// ---- sessions without holds --------------------------------------------------------------------------------------------------------------
inline void noHolds(Sitter& s, double wantS) {
  Chance& c = s.c;
  int scene = c.pick({3, 3, 1.5, 2.5, 3.5, 2, 2.5, 1, 1.5, 1.5, 2, 1, 2, 1.5, 1, 2, 1.2, 2});
  double part = wantS * c.between(0.15, 0.6);
  while (!s.full()) {
    switch (scene) {
      case 0:  // reading
        s.own.fidgets = c.scale(0.5, 4), s.breathe(s.own, c.scale(30, 400));
        break;
      case 1:  // talking with someone
        s.talk(c.scale(10, 120)), s.quiet(c.scale(5, 60));
        break;
      case 2:  // on the phone: listens and talks, walks
        s.talk(c.scale(4, 50)), s.quiet(c.scale(3, 40));
        if (c.odds(0.15)) s.walkAbout(c.between(10, 60));
        break;
      case 3: {  // meditating
        s.sleepyGoal = c.between(0, 0.5);
        Style d = s.own;
        d.rate *= c.between(0.45, 0.9), d.depth *= c.between(0.8, 1.3), d.pause = c.between(0.1, 0.4), d.fidgets *= 0.2, d.cvRate *= 0.7;
        s.breathe(d, c.scale(60, 500));
        break;
      }
      case 4:  // slow breathing on purpose
        s.quiet(c.scale(10, 120)), s.slowBreaths(c.scale(60, 600), c.between(3.5, 8));
        break;
      case 5:  // counted patterns
        s.quiet(c.scale(10, 90)), s.pattern(c.scale(60, 500));
        break;
      case 6:  // half asleep
        s.sleepyGoal = c.between(0.4, 1);
        {
          Style d = s.own;
          d.fidgets *= 0.2, d.swallows *= 0.3, d.pause = c.between(0.1, 0.4), d.depth *= c.between(0.5, 1), d.sighs = 0.15, d.yawns = 0.15;
          d.cvRate = c.between(0.1, 0.5), d.cvDepth = c.between(0.1, 0.5);
          s.breathe(d, c.scale(40, 300));
        }
        if (c.odds(0.3)) s.arousal = c.between(0.2, 0.8), s.fidget(c.between(0.5, 5), c.between(0.2, 0.7)), s.sigh();
        break;
      case 7: {  // asleep: even; dreaming: uneven
        s.sleepy = s.sleepyGoal = 1;
        Style d = s.own;
        bool dream = c.odds(0.3);
        d.rate = clip(d.rate, 10, 18), d.cvRate = dream ? 0.3 : 0.05, d.cvDepth = dream ? 0.4 : 0.08, d.fidgets = dream ? 0.3 : 0.03, d.swallows = 0.05, d.coughs = d.sniffs = d.yawns = 0, d.sighs = 0.03;
        s.breathe(d, c.scale(60, 600));
        if (c.odds(0.4)) s.arousal = c.between(0.3, 1), s.fidget(c.between(2, 8), c.between(0.2, 0.6));
        break;
      }
      case 8:  // cycling on a stand
        s.workGoal = c.between(1.5, 7), s.motionGoal = c.between(0.15, 0.5), s.quiet(c.scale(60, 300));
        if (c.odds(0.5)) s.workGoal = 0, s.motionGoal = 0, s.quiet(c.scale(60, 300));
        break;
      case 9: {  // walking about the house, sitting down again
        s.walkAbout(c.scale(10, 150)), s.quiet(c.scale(20, 200));
        break;
      }
      case 10:  // over-breathing and the quiet that follows
        s.quiet(c.scale(20, 120)), s.deep(c.scale(20, 150), c.between(12, 34), c.between(0.4, 0.95));
        {
          Style d = s.own;
          d.follow = 1.4, d.pause = c.between(0.1, 0.45);
          s.breathe(d, c.scale(60, 240));
        }
        break;
      case 11: {  // cold on the face (or a hand in cold water: up)
        s.quiet(c.scale(20, 120)), s.coldSign = c.odds(0.75) ? 1 : -0.7, s.coldGoal = c.between(0.1, 1);
        if (c.odds(0.5)) s.glide(c.between(1.5, 2.5), 0.6, 1), s.kick(c.between(3, 12)), s.glide(0, 1, 2);
        s.quiet(c.scale(20, 150)), s.coldGoal = 0;
        break;
      }
      case 12: {  // thin air from a bag or a room
        double air = 0.2093 * (s.barometer - 47);
        s.thin = true;
        s.quiet(c.scale(20, 200));
        double goal = std::max(82.0, air * c.between(0.55, 0.9)), least = c.between(70, 86);
        double until = s.now() + c.scale(60, 500);
        while (s.now() < until && !s.full()) {
          s.inspired += (goal - s.inspired) * 0.25, s.quiet(3);
          if (s.satOut < least) goal = std::min(air, goal + 5);
        }
        s.inspired = air, s.quiet(c.scale(20, 200));
        break;
      }
      case 13:  // very shallow for minutes
        s.quiet(c.scale(20, 150)), s.shallow(c.scale(60, 400));
        if (c.odds(0.5)) s.sigh();
        break;
      case 14:  // singing, humming
        s.sing(c.scale(20, 200)), s.quiet(c.scale(10, 100));
        break;
      case 15: {  // pauses at the end of breath, waxing and waning
        Style d = s.own;
        d.pause = c.between(0.25, 0.6), d.rate = clip(d.rate * c.between(0.5, 0.9), 5, 14);
        if (c.odds(0.35)) d.wax = c.between(0.3, 0.8), d.waxS = c.between(15, 60), d.rate = s.own.rate, d.pause = 0.1;
        s.breathe(d, c.scale(60, 400)), s.quiet(c.scale(10, 60));
        break;
      }
      case 16:  // a film: laughs, starts, sighs
        s.quiet(c.scale(10, 90));
        if (c.odds(0.5)) s.laugh(); else s.arousal = c.between(0.1, 0.7), s.sigh();
        break;
      default:  // gets up, lies down, deep breaths now and then
        s.quiet(c.scale(20, 150)), s.posture(s.poiseGoal > 4 ? -c.between(4, 20) : c.between(4, 22)), s.arousalGoal = c.odds(0.3) ? c.between(0.2, 0.6) : 0;
        s.quiet(c.scale(10, 100));
        if (c.odds(0.4)) s.deep(c.scale(10, 60), c.between(5, 14), c.between(0.4, 0.9));
        break;
    }
    part -= 60;
    if (part < 0 && c.odds(0.15)) {  // goes over to something else
      scene = c.pick({3, 3, 1.5, 2, 2, 1.5, 1.5, 0, 0, 1, 1, 0.5, 0, 1, 1, 1, 1, 1});
      s.workGoal = s.motionGoal = 0;
      part = wantS * c.between(0.15, 0.6);
    }
  }
}

// ---- sessions with holds -----------------------------------------------------------------------------------------------------------------
inline void withHolds(Sitter& s, double wantS) {
  Chance& c = s.c;
  double can = s.ability(), before = c.between(5, 0.22 * wantS);
  int script = s.skill < 0.35 ? c.pick({6, 4, 1.5, 0.7, 1.5, 1, 1.5, 1, 1.8, 2.5, 1.5, 1, 2, 3, 0.6, 1, 0.4}) : c.pick({0.3, 1.5, 4, 3.5, 4 + 3 * s.skill, 3, 1.5, 2.5, 2.3, 1.5, 1, 2.2, 2.5, 1, 0.6, 1.5, 1.2});
  switch (script) {
    case 0:  // nervous beginner with a friend
      s.nerves = c.between(0.5, 1), s.arousalGoal = c.between(0.1, 0.6);
      if (c.odds(0.6)) s.talk(before); else s.quiet(before);
      while (!s.full()) {
        if (c.odds(0.25)) s.falseStart();
        if (c.odds(0.5)) s.anticipate(c.between(4, 25));
        Plan q = c.odds(0.75) ? s.fullHold(s.beginnerGoal()) : c.odds(0.5) ? s.emptyHold(c.scale(5, 30)) : s.halfHold(c.scale(5, 40));
        if (c.odds(0.3)) q.entry = hasty;
        if (c.odds(0.12)) q.goal = c.between(2, 8);
        q.fuss = c.between(0, 3);
        s.hold(q);
        if (c.odds(0.5)) s.talk(c.scale(3, 40));
        if (c.odds(0.3)) s.laugh();
        s.restless_(c.scale(6, 90));
      }
      break;
    case 1:  // fidgets, sighs, laughs
      s.own.fidgets = c.between(1, 6), s.own.sighs = c.between(0.3, 1.5);
      s.restless_(before);
      while (!s.full()) {
        s.anticipate(c.between(5, 40));
        Plan q = c.odds(0.7) ? s.fullHold(can * c.between(0.2, 0.9)) : c.odds(0.5) ? s.emptyHold(can * c.between(0.1, 0.35)) : s.halfHold(can * c.between(0.15, 0.5));
        q.fuss = c.between(1, 8);
        s.hold(q), s.restless_(c.scale(15, 150));
        if (c.odds(0.3)) s.falseStart();
      }
      break;
    case 2: {  // table: equal holds, shrinking rests
      double goal = std::max(10.0, can * c.between(0.3, 0.6)), rest = c.between(60, 150), less = c.between(5, 20), least = c.between(10, 30);
      s.quiet(before);
      Plan q = c.odds(0.85) ? s.fullHold(goal) : s.halfHold(goal * 0.6);
      int n = 5 + c.pick({1, 1, 1, 2, 1});
      while (!s.full()) {
        q.end = c.odds(0.6) ? q.end : s.anEnd();
        q.level *= c.between(0.97, 1.03), q.level = std::min(q.level, s.fullUnits);
        s.hold(q);
        double left = rest * 0.8;
        if (c.odds(0.3)) s.slowBreaths(left * 0.6, c.between(5, 9)), left *= 0.4;
        s.restless_(left * 0.6), s.anticipate(left * 0.4);
        rest = std::max(least, rest - less);
        if (--n <= 0 && c.odds(0.5)) s.quiet(c.between(60, 250)), n = 6, rest = c.between(60, 150);
      }
      break;
    }
    case 3: {  // table: equal rests, growing holds
      double goal = std::max(8.0, can * c.between(0.2, 0.4)), more = can * c.between(0.05, 0.12), rest = c.between(60, 140);
      s.quiet(before);
      while (!s.full()) {
        s.hold(s.fullHold(goal));
        goal = std::min(goal + more, can);
        s.restless_(rest * 0.6), s.anticipate(rest * 0.4);
      }
      break;
    }
    case 4: {  // limit attempts with long rests, warm-up before
      s.quiet(before * 0.6);
      if (c.odds(0.6)) s.hold(s.fullHold(can * c.between(0.3, 0.5))), s.restless_(c.between(30, 120));
      while (!s.full()) {
        s.anticipate(c.between(20, 120)), s.hold(s.fullHold(0)), s.restless_(c.scale(60, 300));
      }
      break;
    }
    case 5:  // breathes up deeply each time
      s.quiet(before * 0.5);
      while (!s.full()) {
        s.deep(c.scale(20, 150), c.odds(0.6) ? c.between(4, 11) : c.between(11, 28), c.between(0.45, 0.95));
        s.hold(s.fullHold(c.odds(0.4) ? 0 : can * c.between(0.4, 1))), s.quiet(c.scale(20, 200));
      }
      break;
    case 6:  // lies down half asleep, a hold now and then
      s.sleepyGoal = c.between(0.3, 1), s.own.pause = c.between(0.1, 0.45), s.own.depth = c.between(0.6, 1), s.own.fidgets *= 0.2;
      s.quiet(before * 1.5);
      while (!s.full()) {
        Plan q = c.odds(0.5) ? s.fullHold(can * c.between(0.25, 0.8)) : c.odds(0.5) ? s.emptyHold(can * c.between(0.12, 0.4)) : s.halfHold(can * c.between(0.15, 0.5));
        q.entry = q.level > 1.3 ? c.pick({1, 1, 0.5, 0, 0, 0, 0, 0, 0, 1, 0, 0, 2}) : q.entry;
        s.hold(q), s.quiet(c.scale(40, 300));
      }
      break;
    case 7:  // slow breathing for minutes, then a hold
      s.quiet(before * 0.3);
      while (!s.full()) {
        s.slowBreaths(c.scale(40, 0.45 * wantS), c.between(3.5, 8));
        s.hold(c.odds(0.7) ? s.fullHold(c.odds(0.3) ? 0 : can * c.between(0.3, 1)) : s.emptyHold(can * c.between(0.12, 0.4)));
      }
      break;
    case 8:  // emptied lungs only
      s.quiet(before);
      while (!s.full()) {
        double goal = s.skill < 0.35 ? c.scale(8, 30) : c.odds(0.3) ? 0 : std::max(8.0, can * c.between(0.12, 0.5));
        if (c.odds(0.4)) s.anticipate(c.between(5, 40));
        s.hold(s.emptyHold(goal)), s.restless_(c.scale(15, 150));
      }
      break;
    case 9:  // out of a quiet breath, no preparation
      s.quiet(before);
      while (!s.full()) {
        s.hold(c.odds(0.6) ? s.halfHold(c.odds(0.3) ? 0 : can * c.between(0.12, 0.6)) : s.emptyHold(c.scale(8, 35))), s.quiet(c.scale(15, 200));
      }
      break;
    case 10:  // in the evening after sport
      s.workGoal = 0, s.hot1 = (s.hrCeil - s.hrRest) * c.between(0.15, 0.5), s.hot2 = c.between(6, 28), s.kSlow = gainFor(c.scale(300, 1500)), s.vo2 *= c.between(1, 1.25);
      s.restless_(before);
      while (!s.full()) {
        s.anticipate(c.between(5, 50));
        s.hold(c.odds(0.8) ? s.fullHold(can * c.between(0.2, 0.8)) : s.emptyHold(can * c.between(0.1, 0.3))), s.restless_(c.scale(20, 160));
      }
      break;
    case 11:  // walks in a corridor on one breath
      s.quiet(before);
      while (!s.full()) {
        s.anticipate(c.between(5, 50));
        Plan q = s.fullHold(c.odds(0.2) ? 0 : std::max(8.0, can * c.between(0.15, 0.5)));
        q.walk = c.between(0.4, 1);
        s.hold(q);
        if (c.odds(0.5)) s.walkAbout(c.scale(5, 60));
        s.restless_(c.scale(15, 150));
      }
      break;
    case 12:  // mixed up
      s.restless_(before);
      while (!s.full()) {
        if (c.odds(0.5)) s.anticipate(c.between(5, 60));
        if (c.odds(0.1)) s.falseStart();
        double goal = c.odds(0.2) ? 0 : std::max(5.0, can * c.scale(0.12, 1));
        Plan q = c.odds(0.55) ? s.fullHold(goal) : c.odds(0.5) ? s.emptyHold(goal * 0.5) : s.halfHold(goal * 0.7);
        if (c.odds(0.08)) q.walk = c.between(0.3, 1);
        s.hold(q), s.restless_(c.scale(8, 200));
        if (c.odds(0.1)) s.deep(c.scale(10, 60), c.between(5, 25), c.between(0.4, 0.9));
      }
      break;
    case 13: {  // one or two holds in an ordinary hour
      double at = c.between(0.1, 0.7) * wantS;
      s.restless_(at), s.hold(c.odds(0.6) ? s.fullHold(can * c.between(0.2, 1)) : s.halfHold(can * c.between(0.15, 0.6)));
      if (c.odds(0.4)) s.restless_(c.scale(30, 0.5 * wantS)), s.hold(s.fullHold(can * c.between(0.2, 1)));
      while (!s.full()) s.restless_(100);
      break;
    }
    case 14:  // on a stand bicycle, short holds while turning
      s.workGoal = c.between(1, 4), s.motionGoal = 0.3, s.quiet(before);
      while (!s.full()) {
        s.motionGoal = 0.3;
        double w = s.workGoal;
        Plan q = c.odds(0.7) ? s.fullHold(c.scale(8, 45)) : s.emptyHold(c.scale(5, 15));
        q.walk = c.between(0.15, 0.4);
        s.hold(q);
        s.workGoal = w, s.motionGoal = c.between(0.15, 0.45), s.quiet(c.scale(20, 120));
        if (c.odds(0.15)) s.workGoal = 0, s.motionGoal = 0, s.quiet(c.scale(30, 150)), s.workGoal = w;
      }
      break;
    case 16: {  // the hard table: a breath or three between holds
      s.quiet(before);
      while (!s.full()) {
        double goal = std::max(10.0, can * c.between(0.15, 0.45));
        int n = 4 + int(c.next() * 6), breaths = 1 + c.pick({3, 2, 1}), lungs = c.pick({5, 1, 1});
        for (int i = 0; i < n && !s.full(); i++) {
          Plan q = lungs == 0 ? s.fullHold(goal) : lungs == 1 ? s.halfHold(goal * 0.6) : s.emptyHold(std::max(8.0, goal * 0.4));
          q.end = i + 1 < n ? int(brief) : s.anEnd();
          s.hold(q);
          if (breaths > 1) s.bigBreaths(breaths - 1, 0.8 * s.fullUnits, c.between(2, 5));
          if (lungs && breaths == 1) s.glide(c.between(1, 3), c.between(0.8, 2), 1), s.glide(0, 1.5, 2);
        }
        s.restless_(c.scale(60, 300));
      }
      break;
    }
    default:  // rounds: thirty or forty big breaths, a hold after breathing out, a big breath kept a quarter minute
      s.quiet(before * 0.6);
      while (!s.full()) {
        s.deep(c.between(35, 110), c.between(14, 30), c.between(0.5, 0.9));
        Plan q = s.emptyHold(c.odds(0.4) ? 0 : std::max(12.0, can * c.between(0.2, 0.8)));
        q.level = c.between(-0.3, 0.1), q.entry = letGo, q.end = deepIn;
        s.hold(q);
        if (c.odds(0.7)) {
          Plan r = s.fullHold(c.between(8, 20));
          r.end = outFirst, s.hold(r);
        }
        if (c.odds(0.3)) s.quiet(c.scale(10, 120));
      }
      break;
  }
}

/** A session of about `wantS` seconds. */
inline Body draw(Chance& c, double wantS) {
  Sitter s(c);
  wantS = std::max(wantS, 60.0);
  size_t rows = size_t(wantS * (c.odds(0.6) ? c.between(1.0, 1.12) : c.between(1.0, 1.5))) + 1;
  s.want = rows * stepsPerRow;
  double lead = c.odds(0.3) ? c.between(60, std::min(260.0, 0.6 * wantS)) : c.between(20, 45);  // begins in the middle, or after settling
  s.skip = size_t(lead / dt);
  s.out.heart.reserve(s.want), s.out.lungs.reserve(s.want), s.out.arterial.reserve(s.want), s.out.motion.reserve(s.want), s.out.held.reserve(s.want);
  if (lead < 50) s.quiet(lead);
  if (c.odds(0.35)) s.fidget(c.between(3, 15), c.between(0.15, 0.8)), s.arousal = c.between(0, 0.5);  // still busy with the sensors
  if (c.odds(0.12)) s.sleepyGoal = c.between(0.1, 0.6);
  if (c.odds(0.1)) s.posture(c.between(5, 18));
  double lagCold = 0;
  if (c.odds(0.15)) lagCold = c.between(4, 18);
  if (c.odds(0.36)) noHolds(s, wantS); else withHolds(s, wantS);

  Body b;
  // finger's nadir 15 to 35 s after the first breath [3.27]; longer in the cold [4.07], in slow hearts and old people [3.24]
  b.lagS = clip(c.scale(8, 24) + lagCold + (s.hrRest < 52 ? 3 : 0) + (s.age > 60 ? c.between(0, 8) : 0), 5, 40);
  b.averagingS = c.odds(0.3) ? c.between(1, 3) : c.odds(0.6) ? c.between(3, 8) : c.between(8, 16);  // [4.04]
  if (c.odds(0.2)) {  // the delay follows the heart: put it into the course itself
    std::vector<float> late(s.out.arterial.size());
    double slow = s.out.heart[0], part = b.lagS * 0.7;
    for (size_t i = 0; i < late.size(); i++) {
      slow += (s.out.heart[i] - slow) * 0.03;
      double lag = clip(part * s.hrRest / slow + 0.3 * b.lagS, 4, 45);
      size_t back = size_t(lag / dt);
      late[i] = s.out.arterial[i > back ? i - back : 0];
    }
    s.out.arterial.swap(late);
    b.lagS = 0;
  }
  b.jitterMs = c.scale(0.8, 7);
  b.fibrillation = s.wavering ? c.between(0.1, 0.28) : 0;
  b.ectopicsPerHour = c.odds(0.78) ? 0 : c.odds(0.8) ? c.scale(2, 60) : c.scale(60, 700);
  b.course = std::move(s.out);
  return b;
}

}  // namespace world_conduct
