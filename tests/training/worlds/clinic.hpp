// A world of everybody else: patients, the old, the unfit, the anxious, adolescents, pregnant women, laboratory volunteers, in beds
// and chairs, mostly just breathing, now and then holding the breath for 8 to 120 s (SIMULATED).

// How it works: a person is drawn, then a script of segments (what the person does), then one loop steps through it at 0.25 s:
//   lungs   a queue of moves (in, out, pause, hold); breath size from a CO2 store, hypoxia and what the script wants;
//   heart   rest rate + what the segment does to it + exercise + reflexes of the hold + filtered lung volume (sinus arrhythmia) +
//           a resonator near 0.1 Hz + slow noise;
//   blood   alveolar oxygen, mixed venous content, circulation; Severinghaus' curve.
// Sources: [r x.yz] reference/published-values.md; [mem] from memory; [own] our choice, wide; [web] read in the search tool:
//   [w1] J Magn Reson Imaging 1997;7:595 (end-expiratory holds: lung patients 9.2 s, healthy 31.7 s)
//   [w2] Magn Reson Med 2014;72:850 table 1 (supine holds 35+-11 s; largest rate variation within a hold 12+-6 /min)
//   [w3] six-minute walk, lung patients: rate +37+-14 /min, saturation -4+-2 (PMC5734602); recovery in 1 min quintiles 5/10/15/22 (COPD 2021;16:2545)
//   [w4] deep breathing 6/min: >=15 /min normal, <=10 abnormal; strain ratio >=1.21; 30:15 ratio >=1.04 (WJD 2018;9:1 table 5)
//   [w5] adolescents' deep breathing difference about 20 /min, 14-29 (PMC7709837)

#pragma once
#include "world.hpp"

namespace world_clinic {

enum Kind { Ordinary, Old, Unfit, LungDisease, BetaBlocker, Pacemaker, Rigid, Fibrillating, Ectopics, Adolescent, Pregnant, Anxious, Kinds };

struct Person {
  int kind = 0;
  double age = 40, base = 72;
  double rsaGain = 10, rsaTau = 1.5, slowTau = 10, vagSpan = 35;     // sinus arrhythmia
  double lfSize = 2, lfHz = 0.1, lfDamp = 0.25, lfFromLungs = 1, vlfSize = 2, vlfTau = 40, driftSize = 2, whiteSize = 0.3;
  double lfInHold = 1;                                               // waves go on through a hold, fade or grow
  double exGain = 12, exOn = 30, exOff = 50, toneGain = 1;           // exercise and mind
  double pacedAt = 0, pacedMix = 0;                                  // pacemaker
  double dive = 5, diveTau = 10, diveDelay = 5, backTau = 6, hypoxBrady = 0.3, hypoxTachy = 0.7;
  double period = 4, cvP = 0.15, cvD = 0.2, ti = 0.4, pauseShare = 0.15, expMix = 0.5;
  double vo2 = 230, pi = 149, paRest = 101, k = 0.08, kExercise = 0, shunt = 0, awake = .7, frc = 2.3, ic = 2.4, erv = 1.0, vd = 0.17, unit = 0.5, cap = 190, q = 5, co = 0;
  double holdUse = .7, stopAt = 76, chemo = 3, hypoxVent = 0.03, co2T = 200;
  double maxFull = 60, maxOut = 25;
  double sighs = 10, swallows = 40, coughs = 2, yawns = 1, fidgets = 15; // per hour
  double lagS = 15, averagingS = 4, jitterMs = 3, fibrillation = 0, ectopics = 1;
};

struct Seg {
  double dur = 60;
  int mode = 0;  // 0 breathe, 1 talk, 2 hold, 3 count aloud on one breath, 4 strain, 5 cough, 6 yawn, 7 a breath on command without a hold
  double period = 0, depth = 1, absDepth = 0, cvP = 0.15, cvD = 0.2, ti = 0.4, pauseOdds = 0, pauseMax = 2, will = 0.2;
  double tone = 0, toneTau = 8, toneRamp = 0, kick = 0, cold = 0, met = 1, metRamp = 0, motion = 0, pi = 0;
  bool rebreathe = false;
  double level = 3, out = 0; int entry = 0; double strain = 0;      // holds
};

inline double bound(double x, double low, double high) { return x < low ? low : x > high ? high : x; }
inline double curve(double p) {  // [r 1.01]
  double x = p * (p * p + 150);
  return x / (23400 + x);
}
inline double inverse(double s) {
  double low = 5, high = 700;
  for (int i = 0; i < 40; i++) { double mid = 0.5 * (low + high); (curve(mid) < s ? low : high) = mid; }
  return 0.5 * (low + high);
}

inline Person person(Chance& c, int kind = -1) {
  Person p;
  if (kind < 0) kind = c.pick({.22, .14, .14, .11, .06, .045, .05, .045, .04, .07, .05, .07});  // [own] odd ones more often than they are
  p.kind = kind;
  auto around = [&](double m, double s) { return m + s * c.normal(); };
  p.age = c.between(18, 65);
  if (kind == Old) p.age = c.between(65, 92);
  if (kind == LungDisease || kind == BetaBlocker) p.age = c.between(45, 85);
  if (kind == Pacemaker || kind == Fibrillating) p.age = c.between(55, 90);
  if (kind == Adolescent) p.age = c.between(11, 19);
  if (kind == Pregnant) p.age = c.between(19, 43);
  p.base = bound(around(70, 9), 46, 100);                            // [mem] adults at rest 70 +- 10
  if (kind == Unfit) p.base = bound(around(78, 9), 58, 108);         // [mem]
  if (kind == LungDisease) p.base = bound(around(83, 11), 58, 110);  // [w3] 83-85 +- 10-13
  if (kind == BetaBlocker) p.base = bound(around(58, 7), 42, 78);    // [mem]
  if (kind == Rigid) p.base = bound(around(86, 10), 62, 110);        // [mem] vagal neuropathy: fast and fixed
  if (kind == Fibrillating) p.base = bound(around(80, 13), 52, 110); // [mem]
  if (kind == Adolescent) p.base = bound(around(72, 11), 48, 105);   // [w5]
  if (kind == Pregnant) p.base = bound(around(88, 10), 66, 112);     // [mem] +10 to +20
  if (kind == Anxious) p.base = bound(around(82, 11), 58, 112);
  if (c.odds(.03)) p.base = c.between(40, 52);
  // sinus arrhythmia, by the deep-breathing difference at 6 a minute: [w4], [w5], falls with age [mem], spread wide [own]
  double deep = 36 * std::exp(-0.0165 * p.age + 0.42 * c.normal());
  if (kind == Adolescent) deep = c.scale(14, 60);
  if (kind == Rigid) deep = c.scale(0.4, 4);
  if (kind == Fibrillating) deep *= 0.1;
  if (kind == Unfit || kind == LungDisease) deep *= 0.65;
  if (kind == Anxious || kind == Pregnant) deep *= 0.75;
  if (kind == BetaBlocker) deep *= 1.1;
  deep = std::min(deep * bound(1.4 - 0.4 * p.base / 72, 0.5, 1.3), 60.0);
  p.rsaTau = c.scale(0.7, 2.4);
  p.slowTau = c.scale(5, 22);
  double vagal = bound(deep / 16, 0.03, 2.2);
  p.rsaGain = deep * std::sqrt(1 + std::pow(0.63 * p.rsaTau, 2)) / 1.36;
  p.vagSpan = c.between(22, 55);
  p.lfSize = bound(vagal, .1, 1.5) * c.scale(0.6, 3.2);              // [own] standard deviation, /min
  p.lfHz = c.between(0.065, 0.13);
  p.lfDamp = c.scale(0.08, 0.6);
  p.lfFromLungs = c.scale(0.1, 0.8);
  p.lfInHold = c.pick({.4, .35, .25}) == 0 ? 1 : c.odds(.6) ? c.between(.2, .8) : c.between(1.2, 2);
  p.vlfSize = bound(vagal, .2, 1.3) * c.scale(0.6, 4);
  p.vlfTau = c.scale(12, 90);
  p.driftSize = c.scale(0.5, 4);
  p.whiteSize = bound(vagal, .1, 1.4) * c.scale(0.15, 0.9);
  p.exGain = c.scale(10.5, 24);                                        // [w3] 37 /min at some 3.5 times rest
  p.exOn = c.scale(18, 50);
  p.exOff = c.scale(30, 110) * (kind == LungDisease || kind == Old || kind == Rigid ? (kind == LungDisease ? 3.2 : 2) : 1);  // [w3] recovery
  p.toneGain = c.scale(.5, 1.8);
  if (kind == BetaBlocker) { p.exGain *= .55; p.toneGain *= .55; }
  if (kind == Adolescent) p.exOff = c.scale(15, 50);
  if (kind == Rigid) { p.exOn *= 2; p.toneGain *= .5; p.exGain *= .7; }
  if (kind == Pacemaker) { p.pacedAt = c.odds(.6) ? (c.odds(.5) ? 60 : 70) : c.between(50, 80); p.base = p.pacedAt + c.between(-16, 3); p.pacedMix = c.odds(.5) ? 1 : 0; }
  // reflex of the hold at rest, dry: none to 20 %; untrained, [r 3.10] no change on average in controls, [r 3.14] some much; tense ones rise
  int answer = c.pick({.30, .35, .15, .20});
  p.dive = answer == 0 ? c.between(-2, 3) : answer == 1 ? c.between(3, 10) : answer == 2 ? c.between(10, 24) : -c.between(2, 12);
  if (kind == Anxious && c.odds(.5)) p.dive = -c.between(3, 18);
  p.dive *= bound(std::sqrt(vagal), .15, 1.2);
  p.diveTau = c.scale(3, 25);                                        // [r 3.02] within 30 s
  p.diveDelay = c.scale(1, 14);
  p.backTau = c.scale(1.5, 40);                                      // [r 3.09] 5 s; [own] wide
  p.hypoxBrady = c.odds(.5) ? c.between(0, .9) * std::min(1.0, vagal) : -c.between(0, .5);  // per % below 95 [own]
  p.hypoxTachy = c.between(.2, 1.4) * (kind == BetaBlocker || kind == Rigid ? .4 : 1);      // [mem] some 0.7 /min per %
  // breathing
  double f = bound(around(15, 3), 8, 24);                            // [mem] 12-20; [w3] table: 16 +- 2
  if (kind == Old || kind == Unfit) f += 1.5;
  if (kind == LungDisease) f = bound(around(20, 4), 12, 32);
  if (kind == Anxious) f = bound(around(18, 4), 10, 30);
  if (c.odds(.05)) f = c.between(5, 9);
  p.period = 60 / f;
  p.cvP = c.scale(.05, .35);
  p.cvD = c.scale(.07, .45);
  p.ti = c.between(.3, .46);
  if (kind == LungDisease) p.ti = c.between(.24, .38);
  p.pauseShare = c.odds(.4) ? c.between(.15, .4) : c.between(0, .12);
  p.expMix = c.next();
  // oxygen
  double size = c.between(.8, 1.2);
  p.vo2 = 235 * size * c.between(.85, 1.15);                         // [r 2.13]
  p.frc = 2.55 * size * c.between(.75, 1.3);                          // [mem], lying: less
  p.ic = 2.7 * size * c.between(.75, 1.2);
  p.erv = 0.95 * size * c.between(.6, 1.4);
  double rest = bound(around(97.3, .8), 95, 99.2);                   // [w3] 96.5 +- 1.7
  p.cap = 1.34 * c.between(118, 162);                                // [r 2.06]
  p.q = 5.2 * size * c.between(.8, 1.2);
  p.chemo = c.scale(1.5, 6);
  p.hypoxVent = c.scale(.02, .11);                                  // [mem] .03 to .1 of rest ventilation per %
  p.co2T = c.between(150, 260);                                      // [r 2.16] some 10 mmHg in the first minute of 40
  p.vd = .16 * size * c.between(.8, 1.3);
  p.maxFull = bound(std::exp(std::log(48) + .4 * c.normal()), 14, 130);   // [w2] 35 +- 11, [r 3.10] 102 s maximal
  p.maxOut = bound(std::exp(std::log(27) + .38 * c.normal()), 9, 62);     // [w1] 31.7 s
  if (kind == Old) { rest -= c.between(.3, 2); p.ic *= .8; p.maxFull *= .8; p.maxOut *= .8; p.q *= .85; }
  if (kind == Unfit) { rest -= c.between(0, 1.8); p.frc *= c.between(.68, .98); p.erv *= .35; p.vo2 *= c.between(1.1, 1.35); p.maxFull *= .75; p.maxOut *= .7; p.q *= 1.15; if (c.odds(.45)) p.co = c.between(.02, .08); }  // [r 4.13]
  if (kind == LungDisease) { rest = bound(around(93.5, 2.2), 87, 97); p.frc *= c.between(.6, 1.35); p.ic *= c.between(.45, .8); p.vd *= c.between(1.2, 1.6); p.kExercise = c.scale(.008, .1); p.maxFull *= .5; p.maxOut *= .42; if (c.odds(.3)) p.co = c.between(.01, .06); }
  if (kind == Pregnant) { p.frc *= .78; p.erv *= .6; p.vo2 *= 1.2; p.q *= 1.3; p.maxFull *= .85; p.maxOut *= .75; p.cap *= .9; }
  if (kind == Adolescent) { p.vo2 *= 1.05; p.frc *= .85; }
  if (kind == Anxious) { p.maxFull *= .8; p.maxOut *= .8; }
  p.maxFull = std::max(10.0, p.maxFull);
  p.maxOut = std::max(8.5, p.maxOut);
  p.paRest = bound(around(101, 4), 92, 112);
  double needed = .863 * p.vo2 / (149 - p.paRest);
  p.unit = p.vd + needed / f;
  p.holdUse = c.between(.48, .8);                                    // [r 2.29] constant use over-predicts the fall; wide
  p.stopAt = std::min(c.between(65, 84), rest - 7);                  // where they breathe, or the laboratory ends it [own]
  // low rest values: half from mixing (falls with alveolar pressure), half from a shunt (stays) [own]
  p.shunt = rest < 96.8 ? (96.8 - rest) * c.between(.3, .75) / 100 : 0;
  p.k = 1 - std::min(.98, inverse(std::min(.99, rest / 100 + p.shunt)) / p.paRest);
  p.awake = c.between(.45, .95);                                     // [own] awake people go on breathing without need
  if (c.odds(.05)) p.pi = .2093 * (c.between(570, 695) - 47);        // thin air, [r 2.05]
  else if (kind == LungDisease && c.odds(.15)) p.pi = c.between(165, 210);  // oxygen by the nose
  // events an hour, [own]
  p.sighs = c.scale(2, 25) * (kind == Anxious ? 2.5 : 1);            // [mem] some 12 an hour
  p.swallows = c.scale(10, 120);
  p.coughs = c.odds(.3) || kind == LungDisease ? c.scale(2, 50) : c.between(0, 2);
  p.yawns = c.odds(.2) ? c.scale(2, 25) : c.between(0, 1.5);
  p.fidgets = c.scale(3, 90);
  // sensors
  p.lagS = c.scale(8, 28) * (kind == Old || kind == Fibrillating ? 1.25 : 1);  // [r 3.23-3.27]; with heart failure 46
  if (c.odds(.08)) p.lagS = c.between(25, 42);                       // cold hands, weak hearts [r 3.24, 4.07]
  p.lagS = std::min(p.lagS, 42.0);
  p.averagingS = c.scale(2, 14);                                     // [r 4.04]
  p.jitterMs = c.scale(1, 9);
  if (kind == Pacemaker) p.jitterMs = c.scale(.5, 3);
  p.ectopics = c.odds(.6) ? c.between(0, 2) : c.scale(1, 40);
  if (kind == Ectopics) p.ectopics = c.scale(60, 900);
  if (kind == Fibrillating) { p.fibrillation = c.between(.07, .2); p.rsaGain *= .5; p.ectopics = c.scale(.5, 60); }  // [mem] intervals vary by some 20 %
  // state of the day: meal, coffee, fever
  if (c.odds(.15)) { p.base += c.between(3, 12); p.rsaGain *= c.between(.6, 1); }
  if (c.odds(.05)) { p.base += c.between(8, 28); p.vo2 *= c.between(1.05, 1.3); p.period *= .85; p.rsaGain *= .6; }  // [mem] some 10 /min a degree
  p.base = bound(p.base, 40, 125);
  return p;
}

// All lengths, shares and sizes of the script below: [own], wide, unless marked.
using Script = std::vector<Seg>;

struct Writer {
  Chance& c; const Person& p; Script& s; double total = 0;
  Seg& add(Seg g) { total += g.dur; s.push_back(g); return s.back(); }
  Seg plain(double dur) {
    Seg g;
    g.dur = dur; g.period = p.period * c.between(.9, 1.12); g.cvP = p.cvP; g.cvD = p.cvD; g.ti = p.ti;
    g.pauseOdds = p.pauseShare > .13 ? .5 : .1; g.pauseMax = p.period * p.pauseShare * 2 + .3;
    return g;
  }
  // quiet times, of many kinds
  void rest(double dur) {
    while (dur > 4) {
      double d = std::min(dur, c.scale(20, 160));
      if (dur - d < 8) d = dur;
      Seg g = plain(d);
      switch (c.pick({.46, .12, .08, .06, .07, .05, .10, .03, .03})) {
        case 1: g.cvP = c.between(.3, .55); g.cvD = c.between(.35, .7); g.pauseOdds = .25; g.pauseMax = 4; break;               // irregular
        case 2: g.depth = c.between(.35, .65); g.period *= c.between(.6, .95); g.cvD *= .7; g.will = c.between(.4, .9); break;   // shallow
        case 3: g.period = 60 / c.between(4, 8); g.cvP *= .5; g.will = .5; g.pauseOdds = .3; g.pauseMax = 3; break;              // slow on purpose
        case 4: g.pauseOdds = c.between(.5, 1); g.pauseMax = c.between(2, 7.2); g.period *= 1.1; break;                          // pauses at the end
        case 5: g.tone = -c.between(2, 9); g.period *= c.between(1, 1.3); g.cvP *= c.between(.3, 1.5); g.depth = c.between(.75, 1); break;  // sleepy
        case 6: g.mode = 1; g.tone = c.between(1, 12); g.motion = c.between(.01, .12); break;                                    // talks
        case 7: g.tone = c.between(3, 15); g.toneTau = c.between(3, 30); g.period *= .85; g.motion = c.between(0, .1); break;    // thinks of something
        case 8: g.mode = c.odds(.5) ? 5 : 6; g.dur = d = std::min(d, c.between(4, 12)); g.tone = 2; break;
        default: break;
      }
      add(g);
      dur -= d;
    }
  }
  void paced(double perMinute, double dur, double depth) {
    Seg g = plain(dur);
    g.period = 60 / perMinute; g.cvP = c.between(.01, .06); g.cvD = c.between(.04, .2); g.absDepth = depth; g.will = 1;
    g.ti = c.between(.38, .52); g.pauseOdds = 0;
    add(g);
  }
  void walk(double dur, double met, double motion) { Seg g = plain(dur); g.met = met; g.motion = motion; g.kick = c.between(2, 9); g.will = 0; if (c.odds(.2)) g.mode = 1; add(g); }
  void stir(double dur) { Seg g = plain(dur); g.motion = c.between(.3, .8); g.met = c.between(1.2, 2.2); g.kick = c.between(2, 12); add(g); }
  // a hold: kind 0 full on command, 1 after an ordinary breath out, 2 emptied, 3 after an ordinary breath in
  void hold(int kind, double dur, double tense = 0) {
    Seg g = plain(dur);
    g.mode = 2;
    double full = std::min(p.ic / p.unit, 5.6), empty = -std::min(p.erv / p.unit, 1.9);
    g.level = kind == 0 ? std::max(1.2, full * c.between(.5, .98)) : kind == 1 ? c.between(-.15, .12) : kind == 2 ? empty * c.between(.55, 1) : c.between(.7, 1.4);
    g.entry = kind == 0 ? c.pick({.6, .3, .1}) : kind == 2 ? c.pick({.4, .6}) : 0;
    if (kind == 1 && c.odds(.5)) g.entry = 3;                         // an ordinary breath in and out first
    g.out = c.next();
    g.dur = std::max(8.3, dur);
    g.tone = tense;
    g.will = 1;
    add(g);
  }
  double holdFor(int kind, double low, double high) {
    double most = (kind == 0 || kind == 3 ? p.maxFull : kind == 1 ? p.maxOut : p.maxOut * .8) * c.between(.8, 1.15);
    return std::max(8.3, std::min(c.scale(low, high), most));
  }
  void after(double dur) {  // the first breaths after a hold
    Seg g = plain(std::min(dur, c.scale(6, 40)));
    g.depth = c.between(.8, 2.0); g.cvD *= 1.3; g.period *= c.between(.75, 1.2); g.kick = c.odds(.5) ? c.between(-4, 8) : 0; g.will = .1;
    if (c.odds(.1)) g.mode = c.odds(.7) ? 1 : 5;
    add(g);
    rest(dur - g.dur);
  }
  void before(double most) {  // readying
    if (c.odds(.4)) return;
    Seg g = plain(c.between(4, most));
    g.tone = c.between(-1, 9);
    if (c.odds(.4)) { g.absDepth = c.between(1.3, 2.8); g.period = c.between(3, 8); g.will = 1; }
    add(g);
  }
};

inline void battery(Writer& w, int which) {
  Chance& c = w.c;
  const Person& p = w.p;
  switch (which) {
    case 0: w.rest(c.between(60, 240)); break;
    case 1: w.paced(c.odds(.5) ? 6 : 12, c.between(60, 300), c.odds(.7) ? c.between(.8, 1.8) : 0); w.rest(c.between(20, 90)); break;
    case 2: w.paced(c.between(5, 6.6), c.between(40, 90), c.between(1.8, 3.6)); w.rest(c.between(30, 90)); break;    // deep breathing [w4]
    case 3: {  // cold pressor: gasp, rate up slowly [mem] +5 to +20
      Seg g = w.plain(c.between(60, 150)); g.tone = c.between(-2, 22); g.toneTau = c.between(8, 40); g.kick = c.between(2, 10); g.depth = c.between(.9, 1.6); g.cvP *= 1.6; g.motion = c.between(0, .1);
      w.add(g); w.rest(c.between(40, 150)); break; }
    case 4: {  // cold on the face, breathing goes on: [mem] -5 to -25 with vagus
      Seg g = w.plain(c.between(25, 120)); g.cold = -c.between(2, 26); g.depth = c.between(.6, 1.5); g.cvP *= 1.5; if (c.odds(.5)) g.kick = c.between(2, 9); if (c.odds(.3)) { g.pauseOdds = .4; g.pauseMax = 5; }
      w.add(g); w.rest(c.between(30, 120)); break; }
    case 5: {  // hand grip [mem] +5 to +25, ramp
      Seg g = w.plain(c.between(45, 180)); g.tone = c.between(3, 10); g.toneTau = 6; g.toneRamp = c.between(.01, .09); g.motion = c.between(0, .15); if (c.odds(.3)) { g.cvP = .4; g.pauseOdds = .4; g.pauseMax = 4; }
      w.add(g); w.rest(c.between(40, 120)); break; }
    case 6: {  // arithmetic under pressure, aloud or not
      Seg g = w.plain(c.between(60, 300)); g.tone = c.between(3, 28); g.toneTau = c.between(3, 20); if (c.odds(.6)) g.mode = 1; else { g.period *= .8; g.depth = .85; } g.motion = c.between(0, .08);
      w.add(g); w.rest(c.between(40, 150)); break; }
    case 7: {  // head-up tilt or standing up: early peak, then plateau; now and then a faint
      Seg m = w.plain(c.between(6, 14)); m.motion = c.odds(.5) ? c.between(.1, .3) : c.between(.5, .9); m.kick = c.between(6, 24); m.tone = 5; w.add(m);
      Seg g = w.plain(c.between(90, 420)); g.tone = c.between(4, 30); g.toneTau = c.between(5, 30); g.motion = c.between(0, .06); g.toneRamp = c.odds(.3) ? c.between(0, .04) : 0; g.period *= c.between(.9, 1.1); w.add(g);
      if (c.odds(.08)) { Seg f = w.plain(c.between(20, 40)); f.tone = -c.between(8, 30); f.toneTau = c.between(4, 12); f.depth = 1.5; f.pauseOdds = .3; f.pauseMax = 4; w.add(f); }
      Seg d = w.plain(8); d.motion = .3; d.kick = -c.between(2, 9); w.add(d); w.rest(c.between(30, 120)); break; }
    case 8: {  // hypoxic mixtures, by steps
      int steps = 1 + int(c.next() * 5);
      double f = .2093;
      for (int i = 0; i < steps; i++) { f = std::max(.112, f - c.between(.012, .04)); Seg g = w.plain(c.between(40, 240)); g.pi = f * 713; if (c.odds(.15)) { g.depth = .6; g.will = .8; } w.add(g); }
      Seg g = w.plain(c.between(60, 180)); g.pi = c.odds(.1) ? 400 : p.pi; w.add(g); break; }
    case 9: {  // rebreathing from a bag
      Seg g = w.plain(c.between(60, 240)); g.rebreathe = true; g.will = 0; g.toneRamp = c.between(0, .06); w.add(g);
      Seg e = w.plain(c.between(60, 150)); e.pi = p.pi; w.add(e); break; }
    case 10: {  // over-breathing on command, then quiet [mem] +10 to +25
      Seg g = w.plain(c.between(30, 210)); g.period = 60 / c.between(18, 42); g.absDepth = c.between(1.4, 2.8); g.will = 1; g.cvP = .08; g.tone = c.between(4, 26); g.toneTau = c.between(5, 20); g.motion = c.between(0, .12); w.add(g);
      Seg e = w.plain(c.between(60, 240)); e.will = c.between(0, .5); e.pauseOdds = .4; e.pauseMax = c.between(2, 7); e.cvD *= 1.5; w.add(e); break; }
    case 11: {  // panic
      Seg g = w.plain(c.between(60, 360)); g.tone = c.between(15, 55); g.toneTau = c.between(4, 25); g.period = 60 / c.between(18, 38); g.cvP = .3; g.cvD = .5; g.depth = c.between(1, 1.9); g.will = .7; g.motion = c.between(0, .25); w.add(g);
      Seg e = w.plain(c.between(60, 240)); e.tone = c.between(3, 15); e.toneTau = c.between(30, 90); e.cvD = .5; w.add(e); break; }
    case 12: {  // cycling by steps, then recovery
      double top = c.between(2.2, p.kind == LungDisease || p.kind == Old ? 4 : 8), dur = c.between(150, 600);
      Seg g = w.plain(dur); g.met = 1.6; g.metRamp = (top - 1.6) / dur; g.motion = c.between(.2, .5); g.will = 0; w.add(g);
      Seg e = w.plain(c.between(60, 240)); e.motion = c.between(0, .1); e.will = 0; w.add(e); w.rest(60); break; }
    case 13: {  // six-minute walk with recovery [w3]
      w.walk(c.odds(.7) ? 360 : c.between(120, 300), c.between(2.4, 4.6), c.between(.7, 1));
      Seg e = w.plain(c.between(60, 240)); e.motion = c.between(0, .15); e.will = 0; w.add(e); w.rest(60); break; }
    case 14: {  // changes of posture
      int n = 1 + int(c.next() * 4);
      for (int i = 0; i < n; i++) { w.stir(c.between(4, 15)); Seg g = w.plain(c.between(30, 120)); g.tone = c.between(-3, 16); w.add(g); }
      break; }
    case 15: {  // breaths on command that are not held
      int n = 1 + int(c.next() * 6);
      for (int i = 0; i < n; i++) { Seg g = w.plain(c.between(8, 20)); g.mode = 7; g.absDepth = c.between(1.6, 4); w.add(g); w.rest(c.between(10, 50)); }
      break; }
    case 16: { Seg g = w.plain(c.between(60, 300)); g.mode = 1; g.tone = c.between(2, 14); g.motion = c.between(.02, .2); w.add(g); w.rest(c.between(20, 80)); break; }  // a visit
    case 17: w.walk(c.between(30, 200), c.between(1.8, 3.2), c.between(.5, 1)); w.rest(c.between(40, 160)); break;
    case 18: {  // counts aloud on one breath: breath goes out, not a hold
      int n = 1 + int(c.next() * 3);
      for (int i = 0; i < n; i++) { w.before(10); Seg g = w.plain(std::min(p.maxFull * .7, c.scale(8, 40))); g.mode = 3; g.tone = c.between(1, 8); g.motion = .05; w.add(g); w.after(c.between(20, 70)); }
      break; }
    case 19: { Seg g = w.plain(c.between(60, 400)); g.depth = c.between(.4, .75); g.period *= c.between(.6, 1); g.will = c.between(.5, .9); g.cvD *= .6; g.tone = -c.between(0, 6); w.add(g); break; }  // very shallow for minutes
    default: w.rest(c.between(40, 120));
  }
}

inline void holds(Writer& w, int which, double want) {
  Chance& c = w.c;
  const Person& p = w.p;
  double tense = p.kind == Anxious ? c.between(0, 10) : c.odds(.25) ? c.between(0, 8) : 0;
  switch (which) {
    case 0: {  // a scan: "breathe in, hold", 8 to 25 s, several times
      int n = 1 + int(c.next() * 10), kind = c.pick({.68, .22, .04, .06});
      double same = c.between(8.5, 25);
      for (int i = 0; i < n && w.total < want; i++) {
        if (c.odds(.3)) { Seg g = w.plain(c.between(3, 8)); g.absDepth = c.between(1.2, 2.5); g.will = 1; w.add(g); }
        w.hold(kind, std::min((kind == 0 || kind == 3 ? p.maxFull : p.maxOut) * c.between(.8, 1.2), same * c.between(.93, 1.07)), tense);
        w.after(c.odds(.7) ? c.between(8, 30) : c.between(30, 120));
      }
      break; }
    case 1: {  // the count in the mind, breath held
      int n = 1 + int(c.next() * 3);
      for (int i = 0; i < n; i++) { w.before(15); int kind = c.odds(.8) ? 0 : 3; w.hold(kind, w.holdFor(kind, 10, 50), tense); w.after(c.between(20, 90)); }
      break; }
    case 2: {  // at the end of a breath out, 8 to 30 s
      int n = 1 + int(c.next() * 6);
      for (int i = 0; i < n && w.total < want; i++) { int kind = c.odds(.85) ? 1 : 2; w.hold(kind, w.holdFor(kind, 8.5, 30), tense); if (c.odds(.5)) { Seg g = w.plain(c.between(15, 60)); g.depth = c.between(.6, 1); g.will = .6; w.add(g); w.rest(c.between(10, 60)); } else w.after(c.between(20, 120)); }
      break; }
    case 3: {  // repeated, a minute between
      int n = 2 + int(c.next() * 9), kind = c.pick({.5, .25, .1, .15});
      double low = c.scale(10, 25), high = low * c.between(1, 2), gap = c.between(40, 80);
      for (int i = 0; i < n && w.total < want; i++) { w.before(12); w.hold(kind, w.holdFor(kind, low, std::min(high, 40.0)), tense); w.after(gap * c.between(.85, 1.15)); }
      break; }
    case 4: {  // a few long ones
      int n = 1 + int(c.next() * 3);
      for (int i = 0; i < n; i++) { w.before(40); w.hold(c.odds(.9) ? 0 : 3, std::min(c.scale(60, 120), p.maxFull * 2.2), tense); w.after(c.between(60, 240)); }
      break; }
    case 5: {  // strain manoeuvre, 10 to 20 s with closed airway
      int n = 1 + int(c.next() * 4);
      for (int i = 0; i < n; i++) { Seg g = w.plain(c.between(8.5, 20)); g.mode = 4; g.strain = c.scale(4, 34); g.level = c.between(1, 2.6); w.add(g); w.after(c.between(40, 120)); }
      break; }
    case 6: {  // hold after moving, short
      w.walk(c.between(30, 150), c.between(1.8, 3.5), c.between(.5, 1)); w.hold(c.odds(.7) ? 0 : 1, c.scale(8.5, 20), tense); w.after(c.between(40, 120)); break; }
    case 7: {  // cold on the face and a hold
      Seg g = w.plain(c.between(5, 30)); w.add(g); w.hold(c.odds(.7) ? 0 : 1, w.holdFor(0, 10, 50), tense); w.s.back().cold = -c.between(3, 24); w.after(c.between(40, 120)); break; }
    case 8: {  // after over-breathing
      Seg g = w.plain(c.between(15, 60)); g.period = c.between(2, 4.5); g.absDepth = c.between(1.4, 2.6); g.will = 1; g.tone = c.between(2, 16); w.add(g);
      w.hold(c.odds(.8) ? 0 : 1, w.holdFor(0, 15, 110) * c.between(1, 1.3), tense); w.after(c.between(40, 150)); break; }
  }
}

inline Script script(Chance& c, const Person& p, double want, bool some) {
  Script s;
  s.reserve(64);
  Writer w{c, p, s};
  auto any = [&] {
    return p.kind == Anxious && c.odds(.3) ? 11
         : c.pick({2.4, 1.2, .8, .6, .8, .6, .8, .9, .8, .5, .7, .3, .6, .9, .8, .9, .8, .8, .6, .7});
  };
  if (!some) {
    w.rest(c.between(10, 120));
    if (c.odds(.18)) { w.rest(want); return s; }                     // rests all the time
    int main = any();
    while (w.total < want) battery(w, c.odds(.5) ? main : any());
  } else {
    w.rest(c.between(8, std::min(200.0, .4 * want)));
    int main = c.pick({.26, .09, .2, .2, .09, .07, .03, .03, .03});
    bool once = c.odds(.25), mixed = c.odds(.35);
    for (int i = 0; w.total < want; i++) {
      if (i == 0 || (!once && c.odds(.55))) holds(w, mixed && i ? c.pick({.2, .1, .2, .2, .06, .1, .04, .05, .05}) : main, want);
      else if (c.odds(.5)) w.rest(c.between(30, 200));
      else battery(w, any());
    }
  }
  return s;
}

struct Move { float to; int n; uint8_t shape, held; };

inline Body play(Chance& c, const Person& p, const Script& s, double wantS, double cutS) {
  Body body;
  int n = int(wantS) * stepsPerRow, cut = int(cutS / stepS);
  Course& o = body.course;
  o.heart.resize(n); o.lungs.resize(n); o.arterial.resize(n); o.motion.resize(n); o.held.resize(n);
  body.jitterMs = p.jitterMs; body.lagS = p.lagS; body.averagingS = p.averagingS; body.fibrillation = p.fibrillation; body.ectopicsPerHour = p.ectopics;

  const double dt = stepS, dtMin = dt / 60;
  auto rate = [&](double tau) { return dt / (tau + dt); };
  // hoisted; time constants here: 8 s vagal part of exercise, 12 s chemical drive, 10 s circulation, 2 and 9 s for short kicks: [own] from memory of shapes
  const double full = std::min(p.ic / p.unit, 5.8), empty = -std::min(p.erv / p.unit, 1.9);
  const double fRsa = rate(p.rsaTau), fSlow = rate(p.slowTau), fSlowBack = rate(std::max(1.3, p.slowTau * .15)), fExFast = rate(8), fBack = rate(p.backTau), fDive = rate(p.diveTau), fCold = rate(6);
  const double fExOn = rate(p.exOn), fExOff = rate(p.exOff), fCo2 = rate(12), fKick = rate(2), fKickFade = rate(9), fCirc = rate(10), fMotion = rate(.7), fMix = rate(2.5), fMet = rate(12);
  const double w0 = 2 * M_PI * p.lfHz, damp = 2 * p.lfDamp * w0;
  const double lfPush = p.lfSize * std::sqrt(2 * damp * dt) * w0 / 1.0;  // gives standard deviation lfSize
  Wander vlf(c, p.vlfTau, p.vlfSize), drift(c, 400, p.driftSize);
  const double needed = .863 * p.vo2 / (149 - p.paRest);
  // state
  double lungs = 0, from = 0, mean = .35, rsa = .35, lf = 0, lfV = 0, tone = 0, ramp = 0, exFast = 0, exSlow = 0, kick = 0, kickIn = 0, cold = 0, dive = 0, strain = 0;
  double co2 = 1, co2f = 1, pi = p.pi, pa = std::max(35.0, p.pi - .863 * p.vo2 / needed), met = 1, metTo = 1, motion = 0, fidget = 0, inhaled = 0;
  double ca = p.cap * (curve(pa * (1 - p.k)) - p.shunt), cad = ca, cv = ca - p.vo2 / p.q, sat = ca / p.cap, mixed = sat, slope = 0, trend = 0, shift = 0;
  double fTone = rate(8), heldFor = 0, diveNow = 0, delayNow = 0, heldTone = 0, quiver = 0, quiverT = 0, breakAt = 1e9, heldDur = 0, lfNow = 1, sag = 0;
  double burst = 0;
  int fidgetLeft = 0, toFidget = int(c.scale(.1, 4) * 3600 / p.fidgets / dt);
  Move q[24];
  int head = 0, tail = 0, at = 0;
  size_t si = 0;
  double segT = 0;
  bool fresh = true, done = false;
  Seg g = s[0];
  auto push = [&](double to, double sec, int shape = 0, int held = 0) {
    if (tail >= 24) return;
    q[tail++] = Move{float(bound(to, empty, full)), std::max(1, int(sec / dt + .5)), uint8_t(shape), uint8_t(held)};
  };
  auto breath = [&](double depth, double period, double ti, double pause) {
    double in = bound(period * ti, .5, 6), out = bound(period - in, .6, 12);
    double low = .06 * c.normal();
    push(depth + low, in, 0);
    push(low, out, 1);
    if (pause > .2) push(low - .01, pause, 2);
  };
  double vdNow = p.vd;
  const double rest0 = 100 * sat;
  auto next = [&] {
    head = tail = 0;
    while (segT >= g.dur || done) {
      segT = 0;
      done = false;
      si = si + 1 < s.size() ? si + 1 : si;
      g = s[si];
      if (g.mode >= 2 && si + 1 == s.size()) g.mode = 0, g.dur = 60;  // the script is over: go on breathing
      fresh = true;
    }
    if (fresh) {
      fresh = false;
      ramp = 0;
      metTo = g.met;
      fTone = rate(g.toneTau);
      kickIn += g.kick * p.toneGain;
      if (g.pi > 0) pi = g.pi;
      if (!g.rebreathe && g.pi == 0 && pi < p.pi - 40) pi = p.pi;
    }
    double sNow = 100 * sat;
    double drive = bound(1 + p.chemo * (co2f - 1) + p.hypoxVent * std::max(0.0, 95 - sNow), p.awake, 6);
    double urge = bound((co2f - 1.07) * 7, 0, 1) + (pi > 130 ? bound((rest0 - 3 - sNow) / 6, 0, 1) : 0);  // nobody wills against this for long [own]
    double will = g.will * (1 - std::min(1.0, urge)), mul = g.depth < 1 ? g.depth + (1 - g.depth) * std::min(1.0, urge) : g.depth;
    if (will > 0) drive = std::pow(drive, 1 - will);
    double period = (g.period > 0 ? g.period : p.period);
    double need = std::max(.3, met) * drive;
    if (will < .95) period /= std::pow(std::max(.7, need), .4);
    double P = bound(period * std::exp(g.cvP * c.normal()), 1.2, 15.5);
    double depth = g.absDepth > 0 ? g.absDepth : (p.vd + needed * need * P / 60) / p.unit * mul;
    if (g.absDepth > 0 && urge > .3) depth = std::max(depth, (p.vd + needed * need * P / 60) / p.unit);
    depth = bound(depth * std::exp(g.cvD * c.normal() * (depth > 2 ? .5 : 1)), .12, full);
    vdNow = p.vd * bound(.5 + .5 * depth, .55, 1.15);                  // shallow breaths waste less [mem]
    switch (g.mode) {
      case 2: case 4: {
        double L = bound(g.level, empty, full);
        if (g.mode == 4) L = bound(g.level, .8, full);
        if (g.entry == 1) push(L > .5 ? std::max(empty, -.6) : 1.2 * c.between(.8, 1.6), c.between(1, 3));
        if (g.entry == 2) { push(full * .6, 1.8); push(empty * .6, 2.2, 1); }
        if (g.entry == 3) push(c.between(.8, 1.3), c.between(1, 2.2));
        push(L, c.between(1, L > 1.5 ? 4 : 3), 0);
        if (L > 1.5 && c.odds(.3)) push(L *= c.between(.8, .97), .8, 1);
        push(L, g.dur, 2, 1);
        // what the first breath is
        if (L > .5 ? c.odds(.8) : c.odds(.15)) { push(c.between(-.3, .1), c.between(.8, 2.6), 1); } else push(std::min(full, std::max(L, 0.0) + c.between(.6, 2)), c.between(.7, 2));
        if (lungs < 0 || L < .5) push(0, 1.5, 1);
        done = true;
        heldDur = g.dur;
        diveNow = p.dive * c.between(.6, 1.35) * (L < .5 ? c.between(.7, 1.3) : 1);
        if (g.mode == 4) diveNow = 0;
        delayNow = p.diveDelay * c.between(.7, 1.4);
        heldTone = g.tone;
        slope = .07 * c.normal() + (heldTone > 3 ? .05 : 0);             // air hunger, calm: rate creeps either way [own]
        breakAt = g.dur * (c.odds(.75) ? c.between(.6, 1.5) : c.between(.3, .9));  // [r 3.18] 80 % in novices
        if (g.dur < 15) breakAt *= 1.4;
        lfNow = p.lfInHold;
        sag = c.odds(.5) ? c.between(-.002, .009) : 0;
        quiverT = breakAt;
        segT = g.dur;
        break; }
      case 3: push(std::max(1.5, full * c.between(.6, .95)), c.between(1, 2.5)); push(empty * c.between(.4, 1), g.dur, 3); push(.6, 1); push(0, 1.5, 1); done = true; break;
      case 5: { push(c.between(1, 2), .8); int k = 2 + int(c.next() * 5); double l = 1.2; for (int i = 0; i < k; i++) { l -= c.between(.2, .6); push(l, .5, 1); push(l + .08, .25); } push(.5, 1); push(0, 1.5, 1); kickIn += c.between(2, 8); burst = .5; break; }
      case 6: push(std::min(full, c.between(2.2, 4)), c.between(3, 5)); push(std::min(full, 3.0), c.between(.3, 1.5), 2); push(-.1, c.between(2, 4), 1); kickIn += c.between(0, 5); done = c.odds(.7); segT += 0; break;
      case 7: push(g.absDepth, c.between(1.2, 4)); if (c.odds(.4)) push(g.absDepth, c.between(.5, 5), 2); push(c.between(-.6, .1), c.between(1.2, 4), 1); if (c.odds(.3)) push(0, c.between(1, 5), 2); if (c.odds(.5)) done = true; break;
      case 1:
        if (c.odds(.25)) { breath(bound(depth, .5, 2), P * .9, .4, 0); break; }
        if (c.odds(.04)) { push(1.5, .6); double l = 1.3; for (int i = 0; i < 6; i++) { l -= .25; push(l, .25, 3); push(l + .1, .25, 3); } push(0, .8, 1); kickIn += 3; burst = .25; break; }  // laughs
        { double talk = c.scale(1.5, 8) / std::max(1.0, .75 * met);
          push(bound((p.vd + needed * need * (talk + 1) / 60) / p.unit * c.between(.85, 1.3), .6, full), c.between(.4, 1));
          push(c.between(-.3, .15), talk, 3); }
        if (c.odds(.2)) push(0, c.between(.3, 2.5), 2);
        break;
      default: {
        double h = P / 3600;
        if (c.odds(p.sighs * h) && will < .9) { push(std::min(full, c.between(2, 4.2)), c.between(1.4, 3)); push(-.05, c.between(1.5, 3.5), 1); if (c.odds(.5)) push(-.05, c.between(1, 7), 2); break; }
        if (c.odds(p.coughs * h)) { push(c.between(1, 1.8), .8); double l = 1; int k = 1 + int(c.next() * 4); for (int i = 0; i < k; i++) { l -= c.between(.2, .5); push(l, .5, 1); push(l + .05, .25); } push(.4, .8); push(0, 1.2, 1); kickIn += c.between(1, 6); burst = .4; break; }
        if (c.odds(p.yawns * h)) { push(std::min(full, c.between(2, 4)), c.between(2.5, 5)); if (c.odds(.5)) push(std::min(full, 3.), c.between(.5, 1.5), 2); push(-.1, c.between(2, 4), 1); kickIn += c.between(0, 5); break; }
        double pause = c.odds(g.pauseOdds) ? std::min(7.4, c.between(.2, 1) * g.pauseMax) : 0;
        if (drive < .6) pause += c.between(0, 3) * (1 - drive);
        double carve = std::min(pause * .6, P * .35);
        breath(depth, P - carve, bound(g.ti * (1 + .1 * c.normal()), .2, .6), pause);
        if (c.odds(p.swallows * h)) { push(tail ? q[tail - 1].to : 0, c.between(.6, 1.4), 2); kickIn += c.between(0, 7) * std::min(1.0, p.rsaGain / 10); burst = .06; }
      }
    }
  };
  next();
  at = 0;
  from = lungs;
  bool wasHeld = false;
  for (int i = -cut; i < n; i++) {
    // lungs
    if (at >= q[head].n) {
      from = q[head].to;
      head++;
      at = 0;
      if (head >= tail) next();
    }
    const Move& m = q[head];
    at++;
    double x = double(at) / m.n, y;
    switch (m.shape) {
      case 0: y = x * x * (3 - 2 * x); break;
      case 1: { double r = 1 - x; y = p.expMix * (x * x * (3 - 2 * x)) + (1 - p.expMix) * (1 - r * r * r); break; }
      case 3: y = x; break;
      default: y = std::min(1.0, at * .5);
    }
    double was = lungs;
    lungs = from + (m.to - from) * y;
    double show = lungs;
    bool held = m.held;
    segT += dt;
    if (g.mode == 5 && burst < .1) burst = .2;
    // the hold
    double hr = 0;
    if (held) {
      if (!wasHeld) heldFor = 0;
      heldFor += dt;
      show -= sag * heldFor;
      if (c.next() < .004) shift = .12 * c.normal();                   // belly and shoulders settle
      show += shift;
      if (heldFor > 6) trend = bound(trend + slope * dt, -9, 12);
      if (g.mode == 4) {
        strain += (g.strain - strain) * (heldFor > 2.5 ? fDive * .4 + .02 : 0);
        show -= .15;
      } else {
        dive += ((heldFor > delayNow ? -diveNow : 0) - dive) * fDive;
      }
      if (heldFor > breakAt && g.mode == 2) {
        quiverT -= dt;
        if (heldFor >= breakAt && quiver <= 0 && c.odds(dt / 6)) quiver = 1;
        if (quiver > 0) { double z = quiver * (1 - quiver) * 4; show += (lungs > .5 ? -.2 : .2) * z; hr += 2.2 * z * std::min(1.5, p.rsaGain / 12); burst = std::max(burst, .08 * z); quiver -= dt / 1.6; }
      }
    } else {
      if (wasHeld) {
        if (strain > 0) { kickIn -= strain * .75 + bound(p.rsaGain * .4, .5, 8); }
        quiver = 0;
        heldTone = 0;
      }
      dive -= dive * fBack;
      trend -= trend * fBack;
      shift = 0;
      strain -= strain * .25;
    }
    wasHeld = held;
    // blood
    double dv = (lungs - was) * p.unit, volume = p.frc + lungs * p.unit;
    if (volume < .7) volume = .7;
    if (dv > 0 && !held) {
      inhaled += dv;
      double in = inhaled > vdNow ? std::min(dv, inhaled - vdNow) : 0;
      if (in > 0) {
        pa += in * (pi - pa) / volume;
        if (!g.rebreathe) co2 -= co2 * in / (needed * p.co2T / 60);
      }
    } else if (dv < -.002) inhaled = 0;
    met += (metTo - met) * fMet;
    if (g.metRamp != 0) metTo += g.metRamp * dt;
    double rateNow = o.heart.empty() || i <= 0 ? p.base : o.heart[i - 1];
    double flow = p.q * bound(1 + .55 * (rateNow / p.base - 1) + .35 * (met - 1), .5, 5);
    double use = p.vo2 * met * (held ? p.holdUse + (lungs < .6 ? .15 : 0) : 1);
    if (held) flow *= .86;                                             // [mem] output falls in a hold                       // [r 2.29] constant use over-predicts the fall
    double pc = pa * bound(1 - p.k - p.kExercise * (met - 1), .35, 1);
    sat = curve(pc) - p.shunt * (1 + .5 * (1 - cv / p.cap));
    ca = p.cap * sat;
    cad += (ca - cad) * fCirc;
    double uptake = flow * (ca - cv);
    pa -= .863 * uptake * dtMin / volume;
    if (pa < 14) pa = 14;
    cv += (flow * (cad - cv) - use) * dtMin / 3.4;
    if (cv < .06 * p.cap) cv = .06 * p.cap;
    co2 += met * dt / p.co2T * (held ? (co2 > 1.2 ? .6 : 1) : 1);
    if (co2 > 1.9) co2 = 1.9;
    if (g.rebreathe) pi = std::max(62.0, pi - .863 * p.vo2 * dtMin / 5.5);
    co2f += (co2 - co2f) * fCo2;
    mixed += (sat - mixed) * fMix;                                     // breath-to-breath swings blur in heart and vessels [own]
    double shown = 100 * (mixed + p.co * (1 - mixed));                     // smokers over-read [r 4.13]
    if (shown < p.stopAt && i > 0) {
      if (held && m.n - at > 8) at = m.n - int(c.between(1, 8));
      if (pi < p.pi) pi = p.pi;
      if (g.rebreathe) { g.rebreathe = false; pi = p.pi; }
      if (metTo > 1.8) metTo = 1.8, g.metRamp = 0;
    }
    // heart
    ramp += g.toneRamp * dt;
    double toneTo = (held ? heldTone : g.mode == 2 || g.mode == 4 ? g.tone * .5 : g.tone) * p.toneGain + ramp;
    tone += (toneTo - tone) * fTone;
    double exTo = p.exGain * (met - 1);
    exFast += (.27 * exTo - exFast) * fExFast;
    exSlow += (.73 * exTo - exSlow) * (.73 * exTo > exSlow ? fExOn : fExOff);
    kick += (kickIn - kick) * fKick;
    kickIn -= kickIn * fKickFade;
    cold += ((g.cold) * std::min(1.3, p.rsaGain / 12 + .1) - cold) * fCold;
    double low = 95 - shown, hypox = low > 0 ? low * (held ? -p.hypoxBrady : p.hypoxTachy) : 0;
    hypox = bound(hypox, -18, 22);
    double tonic = p.base + tone + exFast + exSlow + (hypox > 0 ? hypox : 0);
    double vagal = bound(1 - (tonic - p.base) / p.vagSpan, .04, 1.25);
    double size = lungs - .35, bent = size / (1 + .55 * std::fabs(size));
    rsa += (bent - rsa) * fRsa;
    mean += (rsa - mean) * (mean > .45 && !held ? fSlowBack : fSlow);
    lfV += (-w0 * w0 * lf - damp * lfV + w0 * w0 * p.lfFromLungs * (rsa - mean) * std::min(4.0, p.rsaGain * .22)) * dt + lfPush * c.normal();
    lf += lfV * dt;
    double waves = lf;
    lfNow = held ? lfNow : 1;
    hr += tonic + (hypox < 0 ? hypox : 0) + p.rsaGain * vagal * (rsa - mean) + waves * std::sqrt(vagal) * lfNow + vlf(c) + drift.value + kick + cold + dive + trend + strain + p.whiteSize * vagal * (c.next() + c.next() - 1) * 2;
    if ((i & 7) == 0) drift.value = drift.value * .995 + p.driftSize * .0999 * c.normal();  // every 2 s: 400 s
    // movement
    if (--toFidget <= 0) { fidget = c.between(.1, .6); fidgetLeft = int(c.scale(1, 8) / dt); kickIn += c.between(0, 6) * p.toneGain; toFidget = fidgetLeft + 4 + int(c.scale(.15, 3.5) * 3600 / p.fidgets / dt); }
    double move = g.motion;
    if (fidgetLeft > 0) { fidgetLeft--; move = std::max(move, fidget); }
    move = std::max(move, burst);
    burst *= .75;
    motion += (move * (.75 + .5 * c.next()) - motion) * fMotion;
    hr = bound(hr, 33, 205);
    if (p.pacedAt > 0) { double sensor = p.pacedMix * (exSlow + exFast) * .8; hr = std::max(hr, p.pacedAt + sensor); }
#ifdef CLINIC_TAP
    if (i >= 0) CLINIC_TAP
#endif
    if (i >= 0) {
      o.heart[i] = float(bound(hr, 30, 210));
      o.lungs[i] = float(bound(show, -2, 6));
      o.arterial[i] = float(bound(shown, 42, 100));
      o.motion[i] = float(bound(motion < .008 ? 0 : motion, 0, 1));
      o.held[i] = held;
    }
  }
  return body;
}

/** A session of about `wantS` seconds. */
inline Body draw(Chance& c, double wantS) {
  Person p = person(c);
  double length = std::floor(std::max(60.0, wantS) * (c.odds(.7) ? c.between(1.0, 1.06) : c.between(1.06, 1.3)));
  double cut = c.odds(.25) ? c.between(30, 150) : 12;                 // some begin in the middle
  bool some = c.odds(.515);                                            // with holds
  Script s = script(c, p, length + cut, some);
  Body b = play(c, p, s, length, cut);
  auto& held = b.course.held;                                         // pauses of less than 8 s are none
  int n = int(held.size());
  for (int i = 0; i < n;) {
    if (!held[i]) { i++; continue; }
    int j = i;
    while (j < n && held[j]) j++;
    if (j - i < 32 && i > 0 && j < n) for (int k = i; k < j; k++) held[k] = 0;
    i = j;
  }
  return b;
}

}  // namespace world_clinic
