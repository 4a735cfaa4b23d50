// A world of practice sessions (SIMULATED): a body governed by its own controllers. Heart rate, pressure, breathing and gases are not
// drawn as curves; they come out of loops with delays (explicit steps of 0.25 s). Only the person (gains, delays, set points) and the
// behaviour (what the person does and when) are drawn.

//   behaviour -> lung volume -> alveolar gases <-> venous and tissue stores -> arterial gases -> chemoreflex -> breathing, urge, vessels
//   lung volume -> pressure in the chest -> filling of the heart -> arterial pressure -> baroreflex (vagus fast, sympathetic late)
//   breathing movement and stretch -> gate on the vagus -> heart rate -> output -> pressure ...
//
// Sources: "ref n.nn" is reference/published-values.md; "memory": from memory of the literature; "wide" and every number
// without a note: our choice, wide.

#pragma once

#include "world.hpp"

namespace world_feedback {

enum Kind { Quiet, Irregular, Shallow, Slow, Paced, Pausing, Talk, Laugh, Walk, Sleepy, Deep, Over, Last, Hold, Recover };
enum Fill { Full, Half, Passive, Empty };

/** What the person does for a while. */
struct Act {
  Kind kind = Quiet;
  double lasts = 60;            // s
  double rate = 1, depth = 1;   // times the person's own; with `fixedRate`, /min
  bool fixedRate = false;
  double vary = 0.15;           // spread (log) from breath to breath
  double inShare = 0.4;         // share of the breath that is inspiration
  double pauseOut = 0, pauseIn = 0;  // s
  double walk = 0, arousal = 0, cold = 0, upright = 0;
  double oxygen = 1;            // inspired, times that of the place
  Fill fill = Full;
  int style = 0;
};

struct Phase {
  double lasts, to;
  int shape;  // 0 smooth, 1 quick then slow, 2 even
};

inline double clampTo(double x, double low, double high) { return x < low ? low : x > high ? high : x; }

/** Severinghaus 1979 (ref 1.01), Bohr shift by CO2 (ref 1.06: -0.48 per pH; some -0.008 pH per mmHg acutely: ref 2.20 gives -0.007). */
inline double saturation(double po2, double pco2) {
  double d = 0.0088 * (pco2 - 40);
  double p = po2 * (d > 0 ? 1 / (1 + d + 0.5 * d * d) : 1 - d + 0.5 * d * d);
  if (p < 1) p = 1;
  double q = p * p * p + 150 * p;
  return q / (q + 23400);
}

struct Person {
  int level;  // 0 beginner, 1 practised, 2 trained
  double age;
  // gas
  double vo2, vco2, hb, output, venous, co2Store, frc, inspiratory, reserve, dead, breathL, rate, pco2, pio2, aa, shunt, spare;
  double full, emptied;  // in ordinary breaths, as shown
  // breathing control
  double gainC, gainP, gainO, tauC, delayP, rateShare;
  double varyOwn, ieOwn, sighEvery, swallowEvery, swallowSize;
  // circulation
  double intrinsic, rest, map, sym0, ks, vbar, gate, gateFlow, gateVolume, adapt, tauAdapt, tauV, delayV, gv, gs, gr, delayS, delayR, tauS, tauR, tauW;
  double fill, recoil, dive, diveR, tauDive, chemoV, chemoS, chemoR, cold, phantom, phantomHz;
  double arousalV, arousalS, tense, tenseAlways, anticipate, strain;
  double wanderV, wanderP, noiseP, noiseS, noiseR;
  double pivot, escape, reset;
  // hold
  double best, urgeFrom, urgeBreak, floorS, ibmSize, ibmMove;
  // finger
  double lag, fingerCold, disperse, bias;
};

inline Person person(Chance& c) {
  Person p;
  p.level = c.pick({0.38, 0.34, 0.28});
  p.age = p.level == 0 ? c.between(15, 74) : c.between(17, 62);
  bool small = c.odds(0.45);  // smaller people (many women)
  double body = (small ? c.between(0.72, 1.0) : c.between(0.88, 1.25));
  double metabolic = c.between(0.75, 1.2);           // ref 2.13: +-20 %, lying still a little less
  p.vo2 = (p.level == 2 ? 215 : 228) * body * metabolic / 60;               // ml/s, ref 2.13
  p.vco2 = p.vo2 * c.between(0.74, 0.95);            // ref 2.13, wide
  p.hb = 1.34 * (small ? c.between(112, 152) : c.between(130, 172));  // ml O2 per litre; ref 2.06; Hb memory
  p.output = p.vo2 / c.between(34, 55);              // litre/s; a-v difference ref 2.08 (46 ml/l), wide
  p.venous = body * c.between(3.5, 5.5);             // venous blood and tissue store as litres of blood; ref 2.10
  p.co2Store = 70 * body * c.between(0.5, 1.1);      // ml/mmHg; ref 2.12: 0.5-1.5 ml/kg/mmHg early
  p.frc = body * c.between(2.1, 3.6);                // litre, memory
  p.inspiratory = body * (p.level == 2 ? c.between(3.5, 5.5) : p.level == 1 ? c.between(2.7, 4.4) : c.between(2.2, 4.0));  // memory
  if (p.level == 2 && c.odds(0.2)) p.inspiratory += c.between(0.3, 1.4);  // packing; memory: 0.1-2.6 l
  p.reserve = body * c.between(0.8, 1.5);            // memory
  p.dead = body * c.between(0.11, 0.19);             // memory: 2.2 ml/kg
  p.rate = c.odds(0.15) ? c.between(5.5, 10) : c.odds(0.15) ? c.between(18, 25) : c.between(10, 18);  // memory: 12-18, wide
  p.pco2 = p.level == 2 ? c.between(33, 47) : c.between(30, 45);  // ref 2.24: novices 29 before a hold
  double alveolar = 0.863 * 60 * p.vco2 / p.pco2;    // litre/min, gas law (ref 2.09)
  p.breathL = alveolar / p.rate + p.dead;
  p.pio2 = 149.2;                                    // ref 2.02
  if (c.odds(0.10)) p.pio2 = c.odds(0.75) ? c.between(115, 146) : c.between(84, 115);  // 300 to 2,100 m; to 4,200 m
  p.aa = c.between(2, 8) + 0.16 * c.next() * p.age;  // memory: age/4+4 as upper
  p.shunt = c.odds(0.08) ? c.between(0.04, 0.10) : c.between(0.005, 0.035);  // memory
  p.spare = p.level == 2 ? c.between(0.25, 0.65) : c.between(0.05, 0.4);  // share of the uptake that vasoconstriction spares; wide
  p.full = clampTo(p.inspiratory / p.breathL * c.between(0.55, 1.0), 2.0, 5.4);   // as shown; world.hpp: about 3
  p.emptied = clampTo(p.reserve / p.breathL * c.between(0.35, 0.75), 0.5, 1.7);   // as shown; world.hpp: 0.8
  p.gainC = c.scale(0.03, 0.35);  // share of resting ventilation per mmHg, 0.3-3 l/min/mmHg (memory: 0.5-5)
  p.gainP = p.gainC * c.scale(0.2, 1.2);
  if (p.level == 2) p.gainC *= 0.7, p.gainP *= 0.7;  // memory: blunted in divers
  p.gainO = c.scale(0.1, 1.2);    // of resting ventilation per 10 % of saturation; memory: 0.2-2 l/min per %
  p.tauC = c.between(30, 110);    // memory: 60-120 s
  p.delayP = c.between(5, 10);    // lung to carotid; memory
  p.rateShare = c.between(0.15, 0.7);
  p.varyOwn = c.scale(0.05, 0.35);  // memory: coefficient of variation 0.1-0.35
  p.ieOwn = c.between(0.3, 0.5);
  p.sighEvery = c.scale(60, 1200);
  p.swallowEvery = c.scale(20, 400);
  p.swallowSize = c.between(0.1, 0.75);
  // the heart's own rate: 118 - 0.57 age (memory: Jose and Collison 1970)
  p.intrinsic = 118 - 0.57 * p.age + 8 * c.normal();
  p.intrinsic = clampTo(p.intrinsic, 66, 128);
  double meanRest = p.level == 0 ? 72 : p.level == 1 ? 66 : 60;
  p.rest = c.odds(0.16) ? c.between(40, 108) : meanRest + 11 * c.normal();
  p.rest = clampTo(p.rest, 40, 109);
  p.ks = c.between(0.5, 0.9);
  p.sym0 = c.between(0.03, 0.3);
  double v0 = p.intrinsic * (1 + p.ks * p.sym0) / p.rest - 1;
  if (v0 < 0.06) {  // a fast heart: little vagus, more sympathetic
    v0 = c.between(0.06, 0.25);
    p.sym0 = (p.rest * (1 + v0) / p.intrinsic - 1) / p.ks;
    if (p.sym0 < 0) p.sym0 = 0.05;
  }
  double old = clampTo((p.age - 30) / 45, 0, 1);
  p.gate = c.scale(0.2, 3.6) * (1 - 0.6 * old);  // sinus arrhythmia, none to 40 /min; halves in the old (memory)
  if (c.odds(0.07)) p.gate *= 0.15;
  p.gateFlow = c.between(0.2, 0.8);
  p.gateVolume = c.between(0.25, 0.7);
  double meanX = p.gate * (0.3 * p.gateFlow + 0.22 * p.gateVolume);
  p.vbar = v0 * (1 + meanX);
  p.map = c.between(74, 106);
  p.adapt = c.between(0.6, 1.0);
  p.tauAdapt = c.scale(5, 50);
  p.tauV = c.between(0.7, 2.0);    // corner near 0.1 Hz (memory: Hirsch and Bishop 1981)
  p.delayV = c.between(0.25, 0.9); // memory: 0.2-0.6 s
  p.gv = c.scale(0.006, 0.065) * (1 - 0.5 * old);  // per mmHg: 2-25 ms/mmHg (found: group means 5-9 at 50-75 years)
  p.gs = c.scale(0.004, 0.03);
  p.tauW = c.between(1.0, 2.2);    // windkessel, memory
  p.delayS = c.between(1.5, 3.5);  // memory: 2-3 s
  p.delayR = c.between(1.2, 3.3);
  p.tauS = c.between(4, 14);       // memory: 5-10 s
  p.tauR = c.between(1.6, 4.8);
  p.gr = (c.odds(0.12) ? c.between(2.6, 3.8) : c.between(0.5, 2.7)) / p.map;  // loop gain of the vessels; near 2.9 it goes round by itself (derived)
  p.fill = c.between(0.006, 0.02);  // of the filling per cmH2O; memory: strain of 40 mmHg halves it
  p.recoil = c.between(-8, 30);     // cmH2O in full lungs with the throat closed: relaxed 30, held by muscles below 0; memory
  double trained = p.level == 2 ? 1 : p.level == 1 ? 0.7 : 0.45;
  p.dive = c.odds(0.36) ? 0 : trained * c.scale(0.05, 1.6);  // ref 3.02, 3.10, 3.14: none to half
  p.diveR = trained * c.scale(0.2, 1.1);                     // ref 3.10: resistance +79 % and +140 %
  p.tauDive = c.scale(4, 40);
  p.chemoV = trained * (p.level == 2 ? c.scale(0.3, 3.2) : c.scale(0.15, 2.4));  // ref 3.04: in 11 of 20
  p.chemoS = c.scale(0.03, 0.35);
  p.chemoR = c.scale(0.05, 0.5);
  p.cold = c.scale(0.15, 1.6);
  p.phantom = c.odds(0.5) ? 0 : c.between(0.05, 0.6);  // the breathing centre's rhythm that goes on in a hold; wide
  p.phantomHz = p.rate / 60 * c.between(0.7, 1.3);
  p.arousalV = c.between(0.3, 1.0);
  p.arousalS = c.between(0.1, 0.6);
  p.tense = c.odds(0.45) ? c.between(0.1, 1.0) : c.between(0, 0.15);
  if (p.level == 2) p.tense *= 0.6;
  p.tenseAlways = c.odds(0.2) ? c.between(0.1, 0.7) : 0;
  p.anticipate = c.odds(0.45) ? c.between(0.05, 0.7) : 0;
  p.strain = c.odds(0.2) ? c.between(8, 40) : 0;  // cmH2O, pressing late in a hold
  p.wanderV = c.scale(0.03, 0.26);
  p.wanderP = c.scale(0.8, 5);
  p.noiseP = c.scale(0.3, 2.2);
  p.noiseS = c.scale(0.01, 0.2);
  p.noiseR = c.scale(0.02, 0.24);  // share of the resistance, slow enough to feed the loop near 0.1 Hz; wide
  p.pivot = clampTo(c.between(0.72, 0.9) * p.rest, 30, 46);
  p.escape = std::min(c.between(4, 18), p.pivot - 24);  // /min below the pivot at the most; ref 3.29: 28 lowest
  p.reset = c.between(0.1, 0.6);  // share of a lasting rise of pressure that the baroreflex takes for normal; memory: acute resetting 0.3
  // longest hold with full lungs, rested: ref 3.01, 3.10, 3.11, 3.12 and beginners (memory)
  p.best = p.level == 0 ? c.scale(28, 125) : p.level == 1 ? c.scale(75, 215) : c.scale(170, 540);
  double slope = p.vco2 / (p.co2Store + 1.159 * (p.frc + p.inspiratory));  // mmHg/s
  double share = p.level == 0 ? c.between(0.6, 1.15) : p.level == 1 ? c.between(0.5, 1.0) : c.between(0.25, 0.75);  // ref 3.17, 3.18
  p.urgeFrom = 5 + slope * p.best * share;            // mmHg above rest
  p.urgeBreak = p.urgeFrom + slope * p.best * std::max(0.1, c.between(0.95, 1.2) - share) + 1;
  p.floorS = p.level == 0 ? c.between(0.78, 0.92) : p.level == 1 ? c.between(0.65, 0.86) : c.between(0.46, 0.80);  // ref 3.10, 3.12
  p.ibmSize = c.scale(2, 30);    // cmH2O at full urge
  p.ibmMove = c.scale(0.01, 0.4);
  p.lag = c.odds(0.2) ? c.between(16, 34) : c.between(5, 17);  // s at resting flow, without the oximeter's own; ref 3.23-3.27
  p.fingerCold = c.odds(0.2) ? c.between(0.6, 1.6) : c.between(0, 0.5);
  p.disperse = c.between(0.8, 4);
  p.bias = c.odds(0.15) ? c.between(-2.5, 2.5) : c.between(-0.8, 0.8);  // ref 4.01, 4.10, 4.13
  return p;
}

/** What the person means to do, one act after another. */
struct Plan {
  enum Type { None, Unplanned, Shrinking, Growing, Maximal, Mixed, Rounds, Walked } type;
  Person& p;
  double wantS;
  int made = 0, stage = 0, count, deepStyle, recoverStyle;
  double base, rest, restStep, holdStep, lengthHold = 0, passed = 0, walkShare, ownCold, upright;
  Fill habit;
  double habitStays;
  bool coldFace, thin;
  int thinTurn = 0;
  double lead = 0;  // s before the record begins

  Plan(Chance& c, Person& person, double want) : p(person), wantS(want) {
    if (c.odds(0.35)) type = None;
    else if (p.level == 0) type = Type(1 + c.pick({0.58, 0.08, 0.10, 0.07, 0.08, 0.04, 0.05}));
    else if (p.level == 1) type = Type(1 + c.pick({0.10, 0.23, 0.18, 0.19, 0.15, 0.08, 0.07}));
    else type = Type(1 + c.pick({0.04, 0.22, 0.15, 0.36, 0.11, 0.06, 0.06}));
    upright = c.odds(0.5) ? 0 : c.between(0.3, 0.5);  // lying, seated
    coldFace = c.odds(type == None ? 0.12 : 0.06);
    thin = type == None && c.odds(0.14);
    ownCold = c.between(0.3, 1.2);
    deepStyle = c.pick({0.36, 0.28, 0.2, 0.16});     // nothing, deep breaths, slow breathing, over-breathing
    recoverStyle = c.pick({0.24, 0.2, 0.22, 0.16, 0.18});
    int f = c.pick({0.66, 0.13, 0.10, 0.11});
    habit = Fill(f);
    habitStays = c.odds(0.7) ? 1 : c.between(0.4, 0.8);
    walkShare = c.odds(0.25) ? c.between(0.3, 0.9) : 0.06;
    if (type == Shrinking) {
      base = p.best * c.between(0.3, 0.62);
      rest = std::max(30.0, base * c.between(0.7, 1.4));
      restStep = c.between(5, 15);
      holdStep = 0;
    } else if (type == Growing) {
      base = p.best * c.between(0.2, 0.5);
      rest = c.scale(30, 150);
      restStep = 0;
      holdStep = p.best * c.between(0.03, 0.12);
    } else if (type == Maximal) {
      base = p.best * 3;
      rest = c.scale(90, 420);
      restStep = holdStep = 0;
    } else if (type == Unplanned) {
      base = 0;
      rest = c.scale(8, 90);
      restStep = holdStep = 0;
    } else {
      base = p.best * c.between(0.3, 0.6);
      rest = c.scale(20, 150);
      restStep = holdStep = 0;
    }
    count = type == Maximal ? 1 + c.pick({0.4, 0.35, 0.25}) : c.odds(0.15) ? 1 : c.odds(0.15) ? 2 : 3 + int(12 * c.next());
  }

  void place(Chance& c, Act& a) {
    a.upright = upright;
    if (coldFace) a.cold = c.odds(type == None ? 0.5 : 0.75) ? ownCold : 0;
  }

  /** A way of breathing that is no hold. */
  Act idle(Chance& c, double lasts, bool lively) {
    Act a;
    a.lasts = lasts;
    a.vary = p.varyOwn;
    a.inShare = p.ieOwn;
    place(c, a);
    int k = lively ? c.pick({0.26, 0.1, 0.1, 0.1, 0.08, 0.08, 0.08, 0.03, 0.09, 0.05, 0.02, 0.03})
                   : c.pick({0.44, 0.12, 0.1, 0.08, 0.04, 0.06, 0.06, 0.02, 0.0, 0.03, 0.02, 0.01});
    if (lively && c.odds(walkShare * 0.3)) k = Walk;
    a.kind = Kind(k);
    switch (a.kind) {
      case Irregular: a.vary = c.between(0.3, 0.7); break;
      case Shallow: a.depth = c.between(0.12, 0.5); a.rate = c.between(0.9, 1.6); a.vary = c.between(0.05, 0.3); break;
      case Slow: a.fixedRate = true; a.rate = c.between(3.6, 8); a.vary = c.between(0.03, 0.15); a.inShare = c.between(0.3, 0.5);
        if (c.odds(0.4)) a.pauseOut = c.between(0.5, 4);
        break;
      case Paced: a.fixedRate = true; a.rate = c.odds(0.3) ? c.between(5, 7) : c.between(7, 20); a.vary = c.between(0.01, 0.05); a.inShare = c.between(0.33, 0.5);
        if (c.odds(0.25)) { double q = c.between(2.5, 5.5); a.rate = 60 / (4 * q); a.inShare = 0.5; a.pauseIn = q; a.pauseOut = c.odds(0.8) ? q : 0; }
        a.lasts = std::max(a.lasts, 60.0);
        break;
      case Pausing: (c.odds(0.75) ? a.pauseOut : a.pauseIn) = c.between(1.5, 7.2); a.vary = c.between(0.1, 0.5); break;
      case Talk: a.arousal = c.between(0.05, 0.5); break;
      case Laugh: a.arousal = c.between(0.2, 0.8); a.lasts = c.between(6, 40); break;
      case Walk: a.walk = c.between(0.35, 1); a.upright = 1; a.arousal = 0.05; a.lasts = clampTo(a.lasts, 15, 240); a.cold = 0; break;
      case Sleepy: a.vary = c.between(0.1, 0.4); a.arousal = -c.between(0.05, 0.35); a.depth = c.between(0.75, 1.0); break;
      case Deep: a.depth = c.between(1.6, 3); a.rate = c.between(0.4, 0.8); a.lasts = c.between(12, 60); break;
      case Over: a.fixedRate = true; a.rate = c.between(14, 34); a.depth = c.between(1.4, 2.8); a.lasts = c.between(12, 90); a.arousal = 0.1; break;
      default: break;
    }
    return a;
  }

  Fill fillNow(Chance& c) { return c.odds(habitStays) ? habit : Fill(c.pick({0.5, 0.18, 0.15, 0.17})); }

  Act next(Chance& c) {
    Act a;
    if (type == None || (made >= count && stage == 0)) {
      if (thin) {  // thin air from a mask in turns, or throughout
        Act b = idle(c, c.scale(60, 360), false);
        b.oxygen = thinTurn++ % 2 ? 1 : c.between(0.48, 0.85);
        return b;
      }
      return idle(c, made ? c.scale(30, 300) : c.scale(20, 420), true);
    }
    switch (stage) {
      case 0: {  // rest before a hold
        double r = type == Mixed || type == Unplanned ? c.scale(7, type == Mixed ? 200 : 110) : rest * c.between(0.93, 1.07);
        if (made == 0) r = lead + std::min(c.scale(10, 200), 0.25 * wantS);
        rest = std::max(type == Shrinking ? 12.0 : 8.0, rest - restStep);
        if (type == Rounds) r = made ? 6 : std::min(r, 60.0);
        double before = std::min(c.between(8, 45), 0.5 * r);
        stage = 1;
        passed = before;
        r -= before;
        if (r > 50 && c.odds(0.5)) {  // two sorts of breathing in one rest
          Act b = idle(c, r * c.between(0.35, 0.7), true);
          return b;
        }
        a = idle(c, r, r > 25);
        if (type == Walked) a.upright = 1;
        return a;
      }
      case 1: {  // the last half minute
        stage = 2;
        a.kind = Quiet;
        a.lasts = passed;
        a.vary = p.varyOwn;
        a.inShare = p.ieOwn;
        place(c, a);
        a.arousal = p.anticipate;
        int style = c.odds(0.8) ? deepStyle : c.pick({0.4, 0.25, 0.2, 0.15});
        if (type == Rounds) style = 3;
        if (type == Unplanned && c.odds(0.7)) style = 0;
        if (style == 1) a.kind = Deep, a.depth = c.between(1.5, 3.2), a.rate = c.between(0.35, 0.8), a.lasts = c.between(8, 50);
        if (style == 2) a.kind = Slow, a.fixedRate = true, a.rate = c.between(3.6, 8), a.vary = 0.08, a.lasts = std::max(passed, c.between(20, 120));
        if (style == 3) a.kind = Over, a.fixedRate = true, a.rate = c.between(14, 30), a.depth = c.between(1.4, 2.8), a.lasts = type == Rounds ? c.between(50, 120) : c.between(10, 60);
        if (type == Walked) a.walk = c.odds(0.4) ? c.between(0.4, 0.9) : 0, a.upright = 1, a.cold = 0;
        return a;
      }
      case 2: {  // the last breath
        stage = 3;
        a.kind = Last;
        a.arousal = p.anticipate;
        place(c, a);
        a.fill = fillNow(c);
        if (type == Rounds) a.fill = made % 2 ? Full : c.odds(0.8) ? Passive : Empty;
        if (type == Walked) a.fill = c.odds(0.6) ? Half : Full, a.upright = 1, a.cold = 0;
        a.style = c.pick({0.45, 0.25, 0.3});
        double share = a.fill == Full ? 1 : a.fill == Half ? c.between(0.6, 0.95) : a.fill == Passive ? c.between(0.4, 0.75) : c.between(0.25, 0.6);
        double t;
        if (type == Unplanned) t = c.scale(8, std::min(60.0, std::max(14.0, p.best))) * (a.fill >= Passive ? 0.8 : 1);
        else if (type == Mixed) t = p.best * c.between(0.1, 1.0) * share;
        else if (type == Maximal) t = c.odds(0.8) ? base : p.best * c.between(0.5, 0.95);
        else if (type == Rounds) t = made % 2 ? c.between(10, 22) : p.best * c.between(0.4, 1.2);
        else if (type == Walked) t = clampTo(p.best * c.between(0.1, 0.3), 8, 90);
        else t = (base + holdStep * made) * share * c.between(0.95, 1.05);
        if (a.fill == Empty && p.level == 0) t = std::min(t, c.between(8, 30));
        if (c.odds(0.05)) t *= c.between(0.3, 0.7);  // given up early
        lengthHold = clampTo(t, 8.3, 480);  // asked: 8 s to 8 min
        return a;
      }
      case 3: {
        stage = 4;
        a.kind = Hold;
        a.lasts = lengthHold;
        place(c, a);
        a.arousal = p.tenseAlways;
        if (type == Walked) a.walk = c.between(0.4, 1), a.upright = 1, a.cold = 0;
        made++;
        return a;
      }
      default: {
        stage = 0;
        a.kind = Recover;
        a.vary = std::max(0.1, p.varyOwn);
        a.inShare = p.ieOwn;
        place(c, a);
        a.style = c.odds(0.8) ? recoverStyle : c.pick({0.2, 0.2, 0.2, 0.2, 0.2});
        a.lasts = c.scale(4, 40);
        if (type == Rounds && made % 2) a.lasts = 0.5, a.style = 4, stage = 2;
        if (type == Walked) a.walk = c.odds(0.5) ? c.between(0.2, 0.8) : 0, a.upright = 1, a.cold = 0;
        return a;
      }
    }
  }
};

#ifdef WORLD_FEEDBACK_PROBE  // the inner state, for checks/feedback.cpp only
struct Probe {
  std::vector<float> po2, pco2, pressure, urge, sat;
  std::vector<uint8_t> kind, fill;
  Person who;
  int type;
};
inline Probe probe;
#endif

/** A session of about `wantS` seconds. */
inline Body draw(Chance& c, double wantS) {
  Person p = person(c);
  Plan plan(c, p, wantS);
  const double dt = stepS;
  int rows = int(std::max(60.0, wantS * c.between(1.0, 1.2)) + 0.999);
  int n = rows * stepsPerRow;
  bool middle = c.odds(0.22);  // some begin in the middle
  int warm = int((middle ? c.between(60, 240) : c.between(25, 50)) / dt);
  if (!middle) plan.lead = warm * dt;

  Body body;
  body.fibrillation = c.odds(0.012) ? c.between(0.1, 0.3) : 0;
  if (body.fibrillation > 0) p.gate *= 0.05, p.phantom = 0, p.gv *= 0.4;
  body.jitterMs = c.scale(0.5, 9);
  body.ectopicsPerHour = c.odds(0.08) ? c.scale(6, 500) : c.odds(0.3) ? c.scale(0.5, 6) : 0;
  body.averagingS = c.odds(0.15) ? c.between(9, 18) : c.between(2, 9);  // ref 4.04
  body.lagS = 0;  // in the course: lungs to finger by the flow of the moment
  Course& out = body.course;
  out.heart.resize(n);
  out.lungs.resize(n);
  out.arterial.resize(n);
  out.motion.resize(n);
  out.held.resize(n);

  // ---- constants of the loop, hoisted
  const double k1 = 1.159;  // ml STPD per litre BTPS and mmHg (ref 2.09)
  auto low = [&](double tau) { return 1 - std::exp(-dt / tau); };
  const double aC = low(p.tauC), aV = low(p.tauV), aS = low(p.tauS), aR = low(p.tauR), aW = dt / p.tauW, aAdapt = low(p.tauAdapt),
               aDive = low(p.tauDive), aDiveOff = low(c.scale(1.5, 14)), aBusy = low(3.5), aFill = low(1.6), aPool = low(15), aArousal = low(4), aEx = low(9), aExOff = low(35 + 40 * c.next()),
               aCold = low(6), aColdFade = low(120), aUp = low(5), aFinger = low(p.disperse), aFlow = low(0.6), aHyp = low(4), aReset = low(c.between(25, 90)), aDiveR = low(c.between(5, 15));
  const int dV = int(p.delayV / dt + 0.5), dS = int(p.delayS / dt + 0.5), dR = int(p.delayR / dt + 0.5), dP = int(p.delayP / dt + 0.5);
  const double upScale = (p.full - 1) / std::max(0.5, p.inspiratory / p.breathL - 1), downScale = p.emptied / (p.reserve / p.breathL);
  const double phC = std::cos(2 * M_PI * p.phantomHz * dt), phS = std::sin(2 * M_PI * p.phantomHz * dt);
  const double flowRef = p.rate / 60 / p.ieOwn;  // ordinary inspiration, breaths per s
  const double busyRef = 2 * p.rate / 60;
  const double moveCost = c.between(1.6, 3.6);   // extra uptake while walking, times rest; memory: 2.5-4 MET
  const double exV = c.between(0.3, 0.9), exS = c.between(0.05, 0.5);
  const double upLoss = c.between(0.06, 0.22);   // filling lost on standing; memory: rate +10 to +20
  const double fidgetEvery = c.scale(20, 900), wakeEvery = c.scale(80, 2500), coughEvery = c.odds(0.1) ? c.scale(30, 200) : c.scale(600, 6000);
  const double wakeSize = c.scale(0.1, 0.9), driftV = c.odds(0.3) ? c.between(-0.4, 0.4) / n : 0;
  const double wobble = 0.03 * c.next();

  Wander wV(c, c.scale(15, 140), p.wanderV, 1), wP(c, c.scale(15, 100), p.wanderP, 1), wS(c, c.scale(4, 30), p.noiseS, 1), wE(c, 40, 0.12, 1), wR(c, c.scale(2, 12), 1, 1);
  double vNow = wV.value, pNow = wP.value, sNow = wS.value, rNow = wR.value;

  // ---- state
  double pa = p.pio2 - p.pco2 * 1.2, pc = p.pco2;
  if (pa < 38) pa = 38;
  double sat = saturation(pa - p.aa, pc), ca = p.hb * sat, cv = ca - p.vo2 / p.output, pv = pc + p.vco2 / (p.output * 5.5), central = pc, satSeen = sat;
  double still0 = 0, moved = 0, volume = 0, shown = 0, volumeBefore = 0, shrink = 0, deadFull = p.dead, deadNow = p.dead;  // volume in ordinary breaths
  double slowV = 0.4, ia = 0.4, busy = busyRef, av = 0, dr = 0, hyp = 0;
  double vagus = p.vbar, sym = p.sym0, vessels = 1, filling = 1, pool = 0, pressure = p.map, rate = p.rest;
  double arousal = 0, burst = 0, ex = 0, walk = 0, coldNow = 0, coldFade = 0, upNow = plan.upright, phX = 1, phY = 0;
  double swallow = 0, fidget = 0, ibm = 0, ibmLeft = 0, ibmLong = 1, ibmNext = 2, ibmAmp = 0, strainNow = 0, coughLeft = 0, chestCough = 0;
  double fingerSat = 100 * sat, phi = 0, ripple = 0;
  double ringE[32], ringV[8], ringC[64], ringO[64];
  for (double& x : ringE) x = 0;
  for (double& x : ringV) x = p.vbar;
  for (double& x : ringC) x = pc;
  for (double& x : ringO) x = sat;
  constexpr int far = 512;
  double ringF[far], ringPhi[far];
  for (int i = 0; i < far; i++) ringF[i] = 100 * sat, ringPhi[i] = (i - far + 1) * dt;
  int farAt = far - 1, farRead = 0;  // count, not wrapped

  Phase queue[12];
  int have = 0, at = 0;
  double phaseTime = 0, from = 0;
  auto push = [&](double lasts, double to, int shape) {
    if (have < 12) queue[have++] = Phase{std::max(0.25, lasts), to, shape};
  };
  const double capV = p.inspiratory / p.breathL, capE = -p.reserve / p.breathL;
  double lnT = 0, lnV = 0, base = 0, drive = 1, sighDue = p.sighEvery * c.next();
  double now = 0, actFrom = 0, actTo = 0;
  int recoverBreaths = 0;
  bool held = false;
  Act act;
  act.lasts = 0;
  double sinceSwallow = 0;
  double urge = 0;
#ifdef WORLD_FEEDBACK_PROBE
  int fillNow = Full;
#endif

  auto breath = [&]() {  // one breath into the queue
    double shape = act.vary;
    lnT = 0.4 * lnT + 0.92 * shape * c.normal();
    lnV = 0.35 * lnV + 0.94 * shape * 1.1 * c.normal();
    base = clampTo(0.8 * base + 0.06 * c.normal() * (1 + 3 * shape), -0.35, 0.5);
    double d = drive, f, depth;
    double sr = std::exp(p.rateShare * std::log(d));
    if (act.fixedRate) {
      f = act.rate;
      if (act.kind == Over) depth = act.depth * (capV > 6 ? capV / 6 : 1);
      else depth = (p.rate * (p.breathL - p.dead) / f + p.dead) / p.breathL * (0.45 + 0.55 * d) * act.depth;
    } else {
      f = p.rate * act.rate * sr;
      depth = act.depth * d / sr;
      if (act.kind == Deep) depth = act.depth * (0.7 + 0.3 * d) * (capV > 5 ? capV / 5 : 1);
      if (act.kind == Shallow || act.kind == Sleepy) f = p.rate * act.rate, depth = act.depth * (0.6 + 0.4 * d);
    }
    depth *= std::exp(clampTo(lnV, -1.2, 1.0));
    double total = clampTo(60 / f * std::exp(clampTo(lnT, -1.2, 1.0)), 1.3, act.fixedRate ? 22 : 15);
    double pi = act.pauseIn, po = act.pauseOut;
    if (act.kind == Pausing) {
      double m = std::exp(0.4 * c.normal());
      if (c.odds(0.25)) m = 0.1;
      pi = std::min(7.2, pi * m), po = std::min(7.2, po * m);
    }
    bool sigh = now > sighDue && act.kind != Paced && act.kind != Over;
    if (sigh) {
      depth = std::max(depth, c.between(1.8, 3.2));
      total *= 1.3;
      if (c.odds(0.5)) po = c.between(0, 6);
      sighDue = now + p.sighEvery * (0.3 + 1.4 * c.next());
    }
    depth = clampTo(depth, 0.06, capV - std::max(0.0, base));
    double in = total * act.inShare, ex2 = total - in;
    if (act.kind == Paced && pi > 0) in = total / 4, ex2 = total / 4;
    deadNow = std::min(p.dead, 0.4 * depth * p.breathL);  // shallow breaths: less is wasted (memory)
    switch (act.kind) {
      case Talk: {  // quick in, long and uneven out, in pieces
        push(c.between(0.4, 0.9), base + depth * c.between(0.6, 1.7), 0);
        double left = c.scale(1.2, 8);
        push(left * 0.5, base + depth * c.between(0.2, 0.6), 2);
        if (c.odds(0.4)) push(c.between(0.25, 1), base + depth * c.between(0.2, 0.6), 2);
        push(left * 0.5, base - c.between(0, 0.25), 2);
        if (c.odds(0.3))  // listening
          for (int i = 0; i < 2; i++) push(in, base + depth, 0), push(ex2, base, 1);
        break;
      }
      case Laugh: {
        push(c.between(0.4, 1), base + depth * c.between(0.8, 2), 0);
        double v = base + depth;
        int bursts = 2 + int(4 * c.next());
        for (int i = 0; i < bursts && have < 10; i++) {
          v -= c.between(0.2, 0.6);
          v = std::max(v, 0.6 * capE);
          push(c.between(0.25, 0.6), v, 2);
        }
        if (c.odds(0.4)) push(c.between(0.3, 1.2), v, 2);
        break;
      }
      default: {
        push(in, base + depth, act.kind == Over ? 2 : 0);
        if (pi > 0.2) push(std::min(pi, 7.2), base + depth * 0.98, 2);
        double rest2 = (pi > 0 || po > 0 || act.fixedRate) ? 0 : ex2 * 0.25;
        push(ex2 - rest2, base, act.fixedRate && act.kind != Over ? 0 : 1);
        if (rest2 > 2.5) rest2 = 2.5;
        double natural = d < 0.7 ? c.between(0, 5) * (1 - d) : 0;  // little drive (after over-breathing): waits, under 8 s
        if (rest2 + po + natural > 0.2) push(clampTo(rest2 + po + natural, 0.25, std::max(0.3, 6.9 - 0.36 * (ex2 - rest2))), base - 0.02, 2);
      }
    }
  };

  auto lastBreath = [&]() {
#ifdef WORLD_FEEDBACK_PROBE
    fillNow = act.fill;
#endif
    double quick = c.odds(0.3) ? c.between(0.8, 1.6) : c.between(1.6, 6);
    deadNow = p.dead;
    switch (act.fill) {
      case Full:
        if (act.style) push(c.between(1.2, 4.5), std::max(capE, std::min(volume - 0.4, act.style == 1 ? 0.75 * capE * c.next() : base - 0.1)), 0);
        push(quick, capV * c.between(0.82, 1.0), 0);
        break;
      case Half: push(quick * 0.6, std::min(capV, c.odds(0.4) ? c.between(0.7, 1.4) : capV * c.between(0.3, 0.75)), 0); break;
      case Passive:
        push(quick * 0.6, c.odds(0.5) ? 1.0 : capV * c.between(0.3, 0.8), 0);
        push(c.between(1.2, 3.5), base + c.between(-0.1, 0.15), 1);
        break;
      case Empty:
        push(quick * 0.7, c.odds(0.4) ? 1.0 : capV * c.between(0.3, 0.9), 0);
        push(c.between(1.5, 6), capE * c.between(0.5, 1.0), 1);
        break;
    }
  };

  auto recover = [&]() {  // the first breaths after a hold
    double hard = clampTo(0.4 + 0.7 * urge, 0.3, 2.0), big = std::min(capV * 0.85, (0.9 + 1.4 * hard) * c.between(0.7, 1.3));
    deadNow = p.dead;
    base = 0;
    bool inFirst = volume < 0.6 || c.odds(0.15);
    if (recoverBreaths == 0 && !inFirst) push(act.style == 3 && volume > 1.5 ? c.between(2, 6) : c.between(0.5, 2), std::min(volume - 0.5, c.odds(0.3) ? 0.4 * capE : c.between(-0.2, 0.6)), 1);
    if (recoverBreaths == 0 && inFirst && big < volume + 0.4) big = std::min(capV, volume + 0.4);
    switch (act.style) {
      case 0:  // short breaths out of the top of the lungs, with short stops
        push(c.between(0.6, 1.2), big, 0);
        push(c.between(0.5, 2.5), big, 2);
        push(c.between(0.5, 1.4), big * c.between(0.3, 0.6), 1);
        break;
      case 1: push(c.between(0.6, 1.2), big, 0), push(c.between(0.7, 1.5), c.between(-0.1, 0.2), 1); break;
      case 2: push(c.between(1.2, 2.5), big, 0), push(c.between(1.5, 3.5), 0, 1); break;
      case 3: push(c.between(1, 2.5), big, 0), push(c.between(3, 7), c.between(-0.2, 0.2), 2); break;
      default: push(c.between(1, 2), std::min(big, 1.3), 0), push(c.between(1, 2.5), 0, 1);
    }
    recoverBreaths++;
  };

  const float heartLow = 27.5f, heartHigh = 214.5f;
  for (int i = -warm; i < n; i++) {
    now += dt;
    unsigned tick = unsigned(i + (1 << 20));
    if ((tick & 3) == 0) {  // once a second: slow noise and chance events
      wV(c), wP(c), wS(c), wE(c), wR(c);
      if (c.odds(1 / p.swallowEvery)) swallow = p.swallowSize * c.between(0.6, 1.3), sinceSwallow = 0;
      if (c.odds(1 / fidgetEvery)) fidget = c.between(0.05, 0.6), burst += 0.15 * fidget;
      if (c.odds(1 / wakeEvery)) burst += wakeSize * c.between(0.4, 1.2);
      if (!held && c.odds(1 / coughEvery)) coughLeft = c.between(0.7, 3);
      if (act.kind == Laugh) burst += 0.06 * c.next();
    }
    vNow += 0.25 * (wV.value - vNow);
    pNow += 0.25 * (wP.value - pNow);
    sNow += 0.25 * (wS.value - sNow);
    rNow += 0.35 * (wR.value - rNow);

    // ---- behaviour: acts and breaths
    if (held) {
      bool end = now >= actTo;
      if (!end && now - actFrom > 8.5 && (urge > 1 + (p.urgeBreak - p.urgeFrom) / 10 || satSeen < p.floorS)) end = true;
      if (end) {
        held = false;
        actTo = now;
        have = at = 0;
        phaseTime = 0;
      }
    }
    if (!held && at >= have) {
      have = at = 0;
      phaseTime = 0;
      from = volume;
      for (int tries = 0; have == 0 && !held && tries < 8; tries++) {
        if (now >= actTo) {
          act = plan.next(c);
          actFrom = now;
          actTo = now + act.lasts;
          if (act.kind == Last) lastBreath(), actTo = now;
          else if (act.kind == Hold) held = true, ibmNext = now + 1, strainNow = 0;
          else if (act.kind == Recover) recoverBreaths = 0, recover();
          else breath();
        } else if (act.kind == Recover) recover();
        else breath();
      }
    }
    if (!held && at < have) {
      const Phase& q = queue[at];
      phaseTime += dt;
      double x = phaseTime / q.lasts;
      if (x >= 1) {
        volume = q.to;
        from = q.to;
        phaseTime = 0;
        at++;
      } else {
        double y = 1 - x, s = q.shape == 0 ? x * x * (3 - 2 * x) : q.shape == 1 ? 1 - y * y * y : x;
        volume = from + (q.to - from) * s;
      }
    }

    // ---- urge and involuntary breathing movements
    double hypo = 100 * (0.96 - satSeen);
    hypo = hypo > 0 ? hypo * 0.1 : 0;
    if (hypo > 4) hypo = 4;
    hyp += aHyp * (hypo - hyp);
    double seenC = ringC[(tick - dP) & 63];
    urge = 1 + 0.1 * (seenC - p.pco2 - p.urgeFrom) + 0.18 * hyp;
    ibm = 0;
    double strainTarget = 0;
    if (held) {
      double force = urge - 1;
      if (force > 0) {
        if (ibmLeft <= 0 && now > ibmNext) {
          double f = force > 1 ? 1 : force;
          ibmLong = ibmLeft = c.between(0.5, 1.4);
          ibmAmp = (0.35 + 0.9 * f) * c.between(0.5, 1.3);
          ibmNext = now + ibmLong + (0.7 + 7 * (1 - f) * (1 - f)) * c.between(0.6, 1.5);
        }
        strainTarget = p.strain * (force > 0.8 ? 0.8 : force);
      }
    }
    if (ibmLeft > 0) {
      double x = ibmLeft / ibmLong;
      ibm = 4 * x * (1 - x) * ibmAmp;
      ibmLeft -= dt;
      if (!held) ibm = 0, ibmLeft = 0;
    }
    strainNow += 0.15 * (strainTarget * (1 + 0.4 * sNow / (p.noiseS + 0.01)) - strainNow);
    double cough = 0;
    if (coughLeft > 0) {
      coughLeft -= dt;
      cough = (tick & 3) < 2 ? 1 : 0;
      if (held) coughLeft = 0, cough = 0;
    }
    chestCough = cough * 45;
    ripple = act.kind == Laugh && !held ? ((tick & 2) ? 0.12 : -0.12) : act.kind == Talk && !held ? 0.02 * ((tick & 1) ? 1 : -1) : 0;

    // ---- lungs: volume, gas
    double actual = volume - shrink / p.breathL + ibm * p.ibmMove * 0.7 - cough * 0.25 + ripple;
    double litre = p.frc + p.breathL * (volume) - shrink;
    if (litre < 0.7) litre = 0.7;
    double q = p.output * rate * 1.6 / (0.6 * p.rest + rate) * filling;  // litre/s through the lungs
    double tight = vessels > 1 ? (vessels - 1) / (vessels - 0.6) : 0;  // half at +40 %
    double work = 1 + moveCost * ex - p.spare * 1.3 * tight * still0;
    if (act.kind == Sleepy || act.kind == Shallow) work -= 0.1;
    if (work < 0.45) work = 0.45;
    double useO = p.vo2 * work, useC = p.vco2 * (1 + moveCost * ex);
    if (cv < 70) useO *= cv > 15 ? cv / 70 : 15.0 / 70;
    double s0 = saturation(pa - p.aa, pc);
    double cc = p.hb * s0 + 0.03 * pa;
    double upO = q * (cc - cv);
    double outC = q * 5.5 * (pv - pc);
    double litreBefore = p.frc + p.breathL * volumeBefore;
    double change = litre - litreBefore;
    double nO = pa * litreBefore, nC = pc * litreBefore;
    if (held) {
      double net = (upO - outC) * dt / 826;  // litre BTPS
      if (net > 0) shrink += net;
    } else if (shrink > 0) {
      shrink -= shrink * 0.2;
      if (shrink < 1e-3) shrink = 0;
    }
    if (!held && change > 0) {  // in: first what stands in the dead space
      double fromDead = change < deadFull ? change : deadFull;
      deadFull -= fromDead;
      double fresh = change - fromDead;
      nO += fromDead * pa + fresh * p.pio2 * act.oxygen;
      nC += fromDead * pc;
    } else if (!held && change < 0) {
      nO += change * pa;
      nC += change * pc;
      deadFull -= change;
      if (deadFull > deadNow) deadFull = deadNow;
    }
    nO -= upO * dt / k1;
    nC += outC * dt / k1;
    pa = nO / litre;
    pc = nC / litre;
    if (pa < 12) pa = 12;
    if (pa > 150) pa = 150;
    if (pc < 8) pc = 8;
    if (pc > 100) pc = 100;
    volumeBefore = (litre - p.frc) / p.breathL;
    sat = s0 * (1 - p.shunt) + p.shunt * clampTo(cv / p.hb, 0.1, 1);
    ca = p.hb * sat + 0.03 * pa;
    cv += dt * (q * (ca - cv) - useO) / p.venous;
    if (cv < 8) cv = 8;
    pv += dt * (useC - outC) / p.co2Store;
    if (pv > 110) pv = 110;
    ringC[tick & 63] = pc;
    ringO[tick & 63] = sat;
    satSeen = ringO[(tick - dP) & 63];
    central += aC * (pc - central);

    // ---- chemoreflex drive
    double want = 1 + p.gainC * (central - p.pco2) + p.gainP * (seenC - p.pco2) * (1 + 0.5 * hyp) + p.gainO * hyp + 1.3 * ex * moveCost * 0.5;
    if (act.kind == Sleepy) want = 1 + 0.8 * (want - 1);
    want *= 1 + wE.value;
    if (arousal > 0) want *= 1 + 0.25 * arousal;
    want = want < 0.3 ? 0.3 : want > 7 ? 7 : want;
    drive += 0.12 * (want - drive);

    // ---- breathing as the heart sees it (in ordinary breaths, as shown)
    double see = actual > 1 ? 1 + (actual - 1) * upScale : actual < 0 ? actual * downScale : actual;
    double flow = (see - shown) * (1 / dt);
    shown = see;
    double inflow = flow > 0 ? flow / flowRef : 0;
    if (held) inflow = 1.2 * ibm;
    if (inflow > 4) inflow = 4;
    ia += aFlow * (inflow - ia);
    slowV += aAdapt * (see - slowV);
    busy += aBusy * ((flow > 0 ? flow : -flow) - busy);
    double still = 1 - busy / (0.75 * busyRef);
    if (still < 0) still = 0;
    still0 = still;
    double nx = phX * phC - phY * phS;
    phY = phX * phS + phY * phC;
    phX = nx;
    double ghost = p.phantom * still * (phX > 0 ? phX : 0) * (0.6 + (urge > 0.5 ? 0.5 * (urge - 0.5) : 0));
    double stretch = see - p.adapt * slowV;
    if (stretch > 3) stretch = 3;
    double gx = p.gate * (p.gateFlow * (ia + ghost * 1.6) + p.gateVolume * (stretch > 0 ? stretch : 0.35 * stretch));
    double gate = gx > 0 ? 1 / (1 + gx) : 1 - 0.4 * gx / (1 - gx);
    if (swallow > 0.01) {
      sinceSwallow += dt;
      gate *= 1 - (swallow > 0.9 ? 0.9 : swallow);
      if (sinceSwallow > 1.2) swallow *= 0.75;
    }

    // ---- pressure in the chest, filling, arterial pressure
    double chest;
    if (held) {
      double x = see > 0 ? see / p.full : see / p.emptied;
      chest = (see > 0 ? p.recoil * x * x : -10 * x * x) - ibm * p.ibmSize + strainNow;
    } else
      chest = -3.2 * see - 1.6 * flow + chestCough + (act.kind == Laugh ? 6 : 0);
    if (chest < -60) chest = -60;
    pool += aPool * (chest - pool);
    upNow += aUp * (act.upright - upNow);
    double walkTo = act.walk;
    walk += 0.2 * (walkTo - walk);
    ex += (walk > ex ? aEx : aExOff) * (walk - ex);
    double fillTo = 1 - p.fill * (chest + 2.0 - 0.45 * pool) - upLoss * (upNow - plan.upright) + 0.3 * ex;
    if (fillTo < 0.3) fillTo = 0.3;
    filling += aFill * (fillTo - filling);
    double outRatio = rate * 1.6 / (0.6 * p.rest + rate) * filling;
    pressure += aW * (p.map * outRatio * vessels + p.noiseP * c.normal() - pressure);
    if (pressure < 25) pressure = 25;
    if (pressure > 220) pressure = 220;

    // ---- baroreflex
    moved += aReset * (p.reset * (pressure - p.map) - moved);
    double e = pressure + 0.45 * chest - p.map - moved - pNow - 12 * ex - 10 * (arousal > 0 ? arousal : 0);
    e = e / (1 + (e > 0 ? e : -e) * 0.022);
    ringE[tick & 31] = e;
    double eS = ringE[(tick - dS) & 31], eR = ringE[(tick - dR) & 31];

    // ---- reflexes of the hold, cold on the face, arousal
    av += (still > av ? aDive : aDiveOff) * (still - av);
    double tightTo = p.diveR * still * (1 + 0.6 * coldNow);
    dr += aDiveR * (tightTo - dr);
    coldFade += aColdFade * (act.cold - coldFade);
    coldNow += aCold * (act.cold - 0.6 * coldFade - coldNow);
    double tension = act.arousal + (held && urge > 0.4 ? p.tense * 0.9 * (urge - 0.4 > 1.5 ? 1.5 : urge - 0.4) : 0);
    arousal += aArousal * (tension + burst - arousal);
    burst *= 0.975;
    if (burst > 1.5) burst = 1.5;
    double co2 = 0.1 * (seenC - p.pco2);
    if (co2 < 0) co2 = 0;
    double m = 1 + p.gv * e + vNow + driftV * i + p.dive * av * (1 + 0.5 * coldNow) + p.cold * coldNow * 0.55 + p.chemoV * hyp * still - 0.25 * hyp * (1 - still) -
               p.arousalV * arousal - exV * ex;
    if (m < 0) m = 0;
    if (m > 4) m = 4;
    ringV[tick & 7] = (p.vbar + 0.06) * m * gate;
    vagus += aV * (ringV[(tick - dV) & 7] - vagus);
    double us = p.sym0 - p.gs * eS + sNow + p.chemoS * 0.5 * (hyp + 0.4 * co2) + p.arousalS * arousal + exS * ex;
    if (us < 0) us = 0;
    if (us > 2.5) us = 2.5;
    sym += aS * (us - sym);
    double ur = 1 - p.gr * eR + p.noiseR * rNow * (1 + (1.2 * hyp + 0.8 * co2 + 0.8) * still) + dr + p.chemoR * (hyp + 0.5 * co2) * still + 0.1 * arousal - 0.3 * ex + 0.25 * p.cold * coldNow;
    if (ur < 0.25) ur = 0.25;
    if (ur > 2.7) ur = 2.7;
    vessels += aR * (ur - vessels);
    rate = p.intrinsic * (1 + p.ks * sym) / (1 + vagus);
    if (rate < p.pivot) rate = p.pivot - (p.pivot - rate) * p.escape / (p.escape + p.pivot - rate);  // other pacemakers step in
    if (rate < 22) rate = 22;
    if (rate > 220) rate = 220;

    // ---- to the finger: by the flow of the moment
    double speed = outRatio / (1 + p.fingerCold * (vessels > 1 ? vessels - 1 : 0));
    if (speed < 0.3) speed = 0.3;
    phi += dt * speed;
    farAt++;
    ringF[farAt & (far - 1)] = 100 * sat;
    ringPhi[farAt & (far - 1)] = phi;
    if (farRead < farAt - far + 2) farRead = farAt - far + 2;
    while (farRead < farAt && ringPhi[(farRead + 1) & (far - 1)] <= phi - p.lag) farRead++;
    if (farAt - farRead > 240) farRead = farAt - 240;
    fingerSat += aFinger * (ringF[farRead & (far - 1)] - fingerSat);
    fidget *= 0.9;

    if (i >= 0) {
      float h = float(rate), v = float(see), s = float(fingerSat + p.bias), mo = float(walk * (0.93 + wobble * 2 * phX) + fidget + cough * 0.3 + (ripple != 0 ? 0.05 : 0));
      out.heart[i] = h < heartLow ? heartLow : h > heartHigh ? heartHigh : h;
      out.lungs[i] = v < -1.95f ? -1.95f : v > 5.95f ? 5.95f : v;
      out.arterial[i] = s < 40.5f ? 40.5f : s > 100.f ? 100.f : s;
      out.motion[i] = mo < 0.01f ? 0.f : mo > 1.f ? 1.f : mo;
      out.held[i] = held;
#ifdef WORLD_FEEDBACK_PROBE
      if (i == 0) {
        for (auto* x : {&probe.po2, &probe.pco2, &probe.pressure, &probe.urge, &probe.sat}) x->assign(n, 0);
        probe.kind.assign(n, 0), probe.fill.assign(n, 0), probe.who = p, probe.type = plan.type;
      }
      probe.po2[i] = float(pa), probe.pco2[i] = float(pc), probe.pressure[i] = float(pressure), probe.urge[i] = float(urge), probe.sat[i] = float(100 * sat);
      probe.kind[i] = uint8_t(act.kind), probe.fill[i] = uint8_t(fillNow);
#endif
    }
  }
  return body;
}

}  // namespace world_feedback
