// A world of practice sessions (SIMULATED): people who train breath holding seriously, those on their way there, and some beginners.
// One body of mechanisms: a breathing script moves the lungs; the lungs move gas (alveolar, venous and CO2 stores, dissociation
// curve) and, filtered, the heart (sinus arrhythmia, resonance); a hold adds a response of one of several shapes. References in
// square brackets are ids of reference/published-values.md. "memory": from memory. "ours": our choice, wide.

#pragma once

#include "world.hpp"

namespace world_athletes {

enum Kind : uint8_t { Quiet, Slow, Paced, Shallow, Pausing, DeepPrep, Hyper, Talk, Read, Walk, Stretch, Sleep, Meditate, Recover, Stand, Cold, Hold };
enum Air : uint8_t { Full, Packed, Half, Resting, Emptied };

struct Phase {
  Kind kind = Quiet;
  float s = 60;
  Air air = Full;
  bool walked = false;
  float inspired = 1;  // inspired oxygen pressure relative to the session's
};

struct Person {
  bool beginner = false;
  double rest, drift, vagal, corner, adapt, saturate;            // heart
  double lfSize, lfHz, lfTau, ring, lfHold, vlfSize, vlfHz, vlfHold, noise;
  double emptied;                                                // units of a whole breath out
  double tidal, full, inspiratory, frc, reserve, deadSpace;      // lungs, litres (full: units)
  double vo2, haem, flow, shunt, gradient, holdUse, piO2, venous;
  double rate, longest, stopAt;
  double tense, early, earlyTau, late, lateFrom, climb, firstRise, firstTau, hypoxic;
  double moves, movesFrom, movesSize, movesEvery;
  double back, overshoot, vagalBack, dip;
  double lag, squeeze, mix, jolt;
  bool curve = false;  // the hold's course by a drawn curve instead
  double knots[6] = {};
};

inline Person person(Chance& c, bool beginner) {
  Person p;
  p.beginner = beginner;
  // Rest rates: trained 45 to 70, beginners 55 to 90 (memory); tails to 40 and 110 (our choice).
  p.rest = beginner ? 72 + 11 * c.normal() : 60 + 9.5 * c.normal();
  if (c.odds(0.07)) p.rest = c.between(40, 48);
  if (c.odds(0.05)) p.rest = c.between(85, 110);
  p.rest = std::clamp(p.rest, 40.0, 110.0);
  p.drift = c.scale(0.5, 4);  // ours
  // Sinus arrhythmia: low-frequency gain about 20 +/- 5 /min for large breaths, corner 7.2 +/- 1.5 /min, 21 dB per decade (Hirsch and
  // Bishop 1981, abstract found); 8.6 /min at spontaneous breathing, 1 to 46 (group of 635, found): a first-order low pass.
  p.vagal = std::clamp((beginner ? 11.0 : 14.0) * std::exp(0.5 * c.normal() - 0.008 * (p.rest - 60)), 0.8, 36.0);
  if (c.odds(0.1)) p.vagal = c.scale(0.3, 2.5);
  if (c.odds(0.13)) p.vagal = c.between(24, 40);
  p.corner = std::clamp(7.2 + 1.5 * c.normal(), 4.0, 11.0);
  p.adapt = c.scale(5, 40);        // the arrhythmia's memory of a held volume, s: ours
  p.saturate = c.between(1.1, 3.6);  // ours: large volumes move the heart less than in proportion
  // Slow waves: 0.04 to 0.15 Hz [7.04]; sizes ours.
  p.lfSize = c.scale(0.4, 3.2);
  p.lfHz = std::clamp(0.095 + 0.014 * c.normal(), 0.055, 0.135);
  p.lfTau = c.scale(6, 60);
  p.ring = c.odds(0.6) ? c.scale(0.02, 0.35) : 0;
  p.lfHold = c.pick({0.35, 0.4, 0.25}) == 0 ? c.between(0, 0.5) : c.between(0.6, 1.8);
  p.vlfSize = c.odds(0.2) ? c.scale(3.5, 10) : c.scale(0.4, 3.5);
  p.vlfHz = c.scale(1 / 90.0, 1 / 16.0);
  p.vlfHold = c.odds(0.3) ? c.between(0, 0.4) : c.between(0.6, 1.8);
  p.noise = c.scale(0.15, 1.2);
  // Lungs (memory: total 5 to 9 l; trained larger).
  p.inspiratory = beginner ? c.between(2.0, 3.6) : c.between(2.8, 5.3);
  p.frc = beginner ? c.between(2.0, 3.4) : c.between(2.5, 4.3);
  p.reserve = p.frc * c.between(0.3, 0.5);  // expiratory reserve
  p.emptied = c.scale(0.65, 1.6);  // world.hpp: about 0.8
  p.tidal = c.scale(0.4, 0.85);
  p.full = std::clamp(3 + 0.45 * c.normal(), 2.3, 4.2);  // units, world.hpp
  p.deadSpace = c.between(0.11, 0.19);
  p.vo2 = beginner ? c.between(190, 320) : c.between(175, 290);  // [2.13]
  p.haem = c.between(12.3, 16.8);
  p.flow = p.vo2 / 250 * c.between(4.4, 6.2);
  p.shunt = c.scale(0.008, 0.05);
  p.gradient = c.between(1, 9);
  p.holdUse = beginner ? c.between(0.75, 1.0) : c.between(0.38, 0.85);  // constant use over-predicts the fall [2.29]
  p.venous = c.between(2.8, 4.2);                                      // litres
  p.piO2 = 149.2 * std::exp(-(c.odds(0.15) ? c.between(0.6, 2.4) : c.between(0, 0.5)) / 7.4);  // [2.02], height in km
  double alveolar = p.vo2 * 0.863 / 40 * c.between(0.78, 0.9);  // l/min, keeps CO2 near 40 [2.01]
  p.rate = std::clamp(alveolar / (p.tidal - p.deadSpace), 7.0, 20.0);
  p.longest = beginner ? c.scale(25, 100) : c.scale(150, 470);  // s, full lungs; [3.01, 3.10, 3.12]
  p.stopAt = beginner ? c.between(80, 93) : c.between(46, 72);  // arterial %; [3.12, 9.03]
  // The heart in a hold: two-phase falls [3.02, 3.04, 3.14], none [3.10], rise at first [3.08], second fall with saturation [3.14].
  p.tense = c.odds(beginner ? 0.5 : 0.25) ? c.between(4, 22) : c.between(-2, 4);
  p.early = p.late = p.climb = p.hypoxic = 0;
  p.earlyTau = c.scale(4, 22);
  p.lateFrom = c.between(0.25, 0.8);
  p.firstRise = c.odds(0.38) ? c.scale(2, 22) : 0;
  p.firstTau = c.scale(5, 28);
  switch (c.pick(beginner ? std::initializer_list<double>{0.3, 0.1, 0.08, 0.3, 0.22, 0.0} : std::initializer_list<double>{0.27, 0.17, 0.22, 0.11, 0.13, 0.1})) {
    case 0: p.early = c.between(0.08, 0.36); break;
    case 1: p.late = c.between(0.1, 0.4); break;
    case 2: p.early = c.between(0.06, 0.28), p.late = c.between(0.06, 0.28); break;
    case 3: p.early = c.between(-0.03, 0.05); break;
    case 4: p.climb = c.scale(5, 30), p.early = c.between(-0.05, 0.15); break;
    default: p.firstRise = c.between(10, 38), p.firstTau = c.between(10, 35), p.late = c.between(0.15, 0.42);
  }
  if (!beginner && c.odds(0.4)) p.hypoxic = c.scale(0.1, 0.9);  // /min per point of saturation below 94: ours
  // Involuntary movements: from 53 % of a trained hold [3.17], 80 % of a novice's [3.18].
  p.moves = c.odds(beginner ? 0.4 : 0.8);
  p.movesFrom = std::clamp(beginner ? 0.8 + 0.1 * c.normal() : 0.55 + 0.15 * c.normal(), 0.2, 0.97);
  p.movesSize = c.scale(0.6, 16);  // /min: ours
  p.movesEvery = c.scale(2.5, 11);
  p.back = c.scale(1.2, 18);  // back in 5 s [3.09], dry slower (our choice: to 60 s)
  p.overshoot = c.odds(0.55) ? c.scale(2, 24) : 0;
  p.vagalBack = c.scale(1.5, 80);
  p.dip = c.odds(0.18) ? c.between(0.05, 0.2) : 0;
  p.lag = std::clamp(17 + 5.5 * c.normal(), 6.0, 32.0);  // [3.23, 3.27] less the oximeter's own
  if (c.odds(0.12)) p.lag = c.between(24, 36);
  p.squeeze = c.odds(0.3) ? 1 : c.between(0.45, 1);  // flow to the hand in a hold, relative
  p.mix = c.scale(1.2, 11);
  p.jolt = c.scale(0.015, 0.2);
  // A sixth: no mechanism, a curve through six chance points (share of rest), smooth or restless.
  p.curve = c.odds(0.17);
  double level = 0, size = c.scale(0.03, 0.2), trend = c.between(-0.09, 0.04);
  for (double& v : p.knots) v = level, level = std::clamp(level * 0.8 + size * c.normal() + trend, -0.42, 0.4);
  return p;
}

struct Sim {
  Chance& c;
  Person p;
  std::vector<Phase> plan;

  struct Seg {
    float to;
    int n;
    uint8_t shape, held;  // shape 0 smooth, 1 fast then slow, 2 straight, 3 still with a hair of movement
  };
  Seg queue[160];
  int head = 0, tail = 0;
  float x = 0, from = 0, offset = 0;
  int k = 0;
  Seg now{0, 1, 0, 0};
  size_t at = 0;
  double left = 0;  // of the phase, s
  // style of the phase
  double rate = 12, vent = 1, tiShare = 0.4, still = 0, vary = 0.1, load = 0, moveLevel = 0, useMult = 1, vagTarget = 1, cold = 0;
  bool deliberate = false, exhaleFast = true;
  double end = 0;
  int recoverBreaths = 0;
  double sigh;

  explicit Sim(Chance& chance, const Person& who) : c(chance), p(who), sigh(c.scale(0.004, 0.04)) {}

  double litres(double u) const { return u < 0 ? u * p.reserve / p.emptied : u < 1.2 ? p.tidal * u : p.tidal * 1.2 + (u - 1.2) * upper; }
  double units(double l) const { return l < 1.2 * p.tidal ? l / p.tidal : 1.2 + (l - 1.2 * p.tidal) / upper; }
  double upper = 1;

  void push(double to, double s, int shape, int held = 0) {
    if (tail >= 159) return;
    queue[tail++] = {float(std::clamp(to, -1.95, 5.9)), std::max(1, int(s * 4 + 0.5)), uint8_t(shape), uint8_t(held)};
  }
  double wobble(double cv) { return std::clamp(1 + cv * (c.next() + c.next() + c.next() - 1.5) * 2, 0.35, 2.2); }

  // Rates, depths, pauses, loads and sizes of every manner of breathing: ours, wide, within our choice (walking takes 2 to 3.6 times
  // the oxygen of rest: memory; over-breathing and fast hearts: memory).
  void begin(const Phase& f) {
    left = f.s;
    useMult = 1, vagTarget = 1, cold = 0, load = 0, moveLevel = 0.01, deliberate = false, still = 0, vary = 0.12, tiShare = c.between(0.33, 0.45);
    exhaleFast = c.odds(0.6), end = c.between(-0.05, 0.05);
    rate = p.rate, vent = c.between(0.95, 1.12);
    switch (f.kind) {
      case Quiet: vary = c.scale(0.05, 0.35); break;
      case Slow:
        rate = c.between(4, 8), vent = c.between(0.85, 1.5), vary = c.scale(0.03, 0.2), deliberate = true;
        tiShare = c.between(0.22, 0.5), still = c.odds(0.4) ? c.between(0.05, 0.3) : 0, load = c.between(-3, 2), vagTarget = c.between(0.9, 1.5);
        break;
      case Paced: rate = c.between(4.5, 16), vent = c.between(0.9, 1.6), vary = 0.02, deliberate = true, tiShare = c.between(0.3, 0.5); break;
      case Shallow: rate = p.rate * c.between(0.7, 1.3), vent = c.between(0.5, 0.88), vary = c.scale(0.06, 0.35), load = c.between(-4, 0), deliberate = c.odds(0.4); break;
      case Pausing:  // breathes 4 to 8 a minute, nearly still between breaths; the still part stays under 7.5 s
        rate = c.between(4, 8), vent = c.between(0.75, 1.1), vary = c.scale(0.05, 0.25), still = c.between(0.35, 0.68), tiShare = c.between(0.35, 0.5);
        load = c.between(-4, 1), vagTarget = c.between(0.9, 1.4), deliberate = c.odds(0.5);
        break;
      case DeepPrep: rate = c.between(3.5, 7), vent = c.between(1.2, 2.3), deliberate = true, tiShare = c.between(0.3, 0.5), still = c.odds(0.3) ? c.between(0, 0.2) : 0, load = c.between(-2, 6); break;
      case Hyper: rate = c.between(12, 32), vent = c.between(1.8, 4.5), deliberate = true, load = c.between(4, 22), vagTarget = c.between(0.4, 1), useMult = 1.15, moveLevel = c.between(0.01, 0.1); break;
      case Talk: vent = c.between(1, 1.3), load = c.between(2, 14), moveLevel = c.between(0.02, 0.2), vagTarget = c.between(0.5, 0.9), useMult = 1.1; break;
      case Read: vary = c.between(0.1, 0.35), load = c.between(-1, 5), moveLevel = c.between(0.01, 0.06); break;
      case Walk: useMult = c.between(2, 3.6), vent = useMult, rate = std::max(p.rate * c.between(1.1, 1.7), 11.0), load = c.between(12, 45), moveLevel = c.between(0.55, 1), vagTarget = c.between(0.15, 0.6); break;
      case Stretch: useMult = c.between(1.2, 1.9), vent = useMult, vary = 0.3, load = c.between(4, 25), moveLevel = c.between(0.15, 0.5), vagTarget = c.between(0.3, 0.9); break;
      case Sleep: rate = p.rate * c.between(0.8, 1.1), vent = c.between(0.82, 0.98), vary = c.scale(0.03, 0.15), load = c.between(-9, -1), still = c.odds(0.5) ? c.between(0.1, 0.3) : 0, vagTarget = c.between(1, 1.5), moveLevel = 0; break;
      case Meditate: rate = c.odds(0.5) ? c.between(4, 9) : p.rate * c.between(0.6, 1), vent = c.between(0.85, 1.05), vary = c.scale(0.03, 0.2), still = c.odds(0.5) ? c.between(0.1, 0.55) : 0, load = c.between(-6, 1), moveLevel = 0; break;
      case Recover: vagTarget = 1, rate = std::max(p.rate, 9.0) * c.between(0.9, 1.5), vent = c.between(1.1, 2), vary = 0.2, recoverBreaths = 0, moveLevel = c.between(0.01, 0.2); break;
      case Stand: load = c.between(6, 24), useMult = 1.2, vent = 1.2, moveLevel = c.between(0.05, 0.3), vagTarget = c.between(0.4, 0.9); break;
      case Cold: cold = c.odds(0.75) ? c.between(0.03, 0.28) : -c.between(0.02, 0.15), moveLevel = c.between(0.01, 0.1), vary = 0.25; break;
      case Hold: break;
    }
    vagTarget = std::max(0.1, vagTarget);
  }

  // Last breath, hold and the first breath after it.
  double holdLength = 0, entry = 0;
  // Shapes and durations of the last and first breaths: ours; packing adds 0.3 to 1.5 units (memory: 0.5 to 2 l).
  void holdScript(const Phase& f) {
    double top = p.full * c.between(0.82, 1.0);
    bool before = c.odds(0.6);
    if (before && c.odds(0.7)) push(c.between(-0.7, -0.1), c.between(1.5, 7), c.odds(0.5), 0);  // breathes out well first
    switch (f.air) {
      case Full: {
        if (c.odds(0.3)) push(top * 0.5, c.between(1, 3), 2), push(top * 0.55, c.between(0.3, 0.8), 3);
        push(top, c.between(1, 7), c.pick({0.5, 0.3, 0.2}));
        break;
      }
      case Packed: {
        push(p.full * 0.97, c.between(2, 6), 0);
        int pumps = int(c.between(6, 40));
        double gain = c.between(0.3, 1.5), each = c.between(0.5, 1.1), v = p.full * 0.97;
        for (int i = 0; i < pumps && tail < 140; i++) push(v - gain * 0.1 / pumps, each * 0.4, 2), push(v += gain / pumps, each * 0.6, 2);
        break;
      }
      case Half: push(p.full * c.between(0.35, 0.65), c.between(1, 4), 0); break;
      case Resting: push(c.between(0.8, 1.6), c.between(1, 2.5), 0), push(c.between(-0.15, 0.1), c.between(1.5, 4), 1); break;
      case Emptied: push(c.between(0.8, 2.4), c.between(1, 3), 0), push(-p.emptied * c.between(0.55, 1.0), c.between(2, 8), c.odds(0.7)); break;
    }
    push(queue[tail - 1].to, f.s, 3, 1);
    holdLength = f.s;
    float e = queue[tail - 1].to;
    if (e < 0.4) {  // the first breath is in
      push(c.between(1.2, p.full * 0.95), c.between(0.5, 1.8), c.odds(0.5));
    } else {
      push(std::max(0.0, e * c.between(0, 0.7)), c.between(0.4, 1.8), 1);
    }
  }

  // Depth follows from rate and the ventilation that the body's carbon dioxide asks for [2.01, 2.13]; the rest is ours.
  void breath(const Phase& f, double chem, double sinceHold, double satNow) {
    if (f.kind == Talk) {
      if (c.odds(0.07)) {  // laughs
        push(c.between(1, 2), 0.75, 0);
        for (int i = 0, n = int(c.between(3, 9)); i < n; i++) push(1.2 - 0.2 * i, 0.25, 2), push(1.25 - 0.2 * i, 0.25, 2);
        push(0.8, 0.5, 0), push(0, 1.2, 1);
      } else {
        double s = c.scale(1.5, 8), deep = std::min(0.5 + 0.14 * s * c.between(0.7, 1.3), 2.2);
        push(deep, c.between(0.45, 1.0), 0);
        if (c.odds(0.4)) push(deep * 0.6, s * 0.4, 2), push(deep * 0.59, c.between(0.25, 0.8), 2), push(c.between(-0.3, 0.1), s * 0.5, 2);
        else push(c.between(-0.35, 0.1), s, 2);
        if (c.odds(0.25)) push(x, 0.3, 2), push(0.5, 0.9, 0), push(0.0, 1.6, 1);  // listens
      }
      return;
    }
    if (f.kind == Recover && recoverBreaths < hooks) {  // hook breaths: quick in, pressed a moment, a little out
      recoverBreaths++;
      double v = p.full * c.between(0.55, 0.95);
      push(v, c.between(0.5, 1.4), 0), push(v * 0.99, c.between(0.8, hookHold), 3), push(std::max(0.0, v * c.between(0.1, 0.65)), c.between(0.4, 1.4), 1);
      return;
    }
    if (f.kind == Recover && partial > 0 && sinceHold > 8 && c.odds(0.3)) {  // short partial hold in recovery, under 8 s
      partial--;
      double v = c.between(0.6, p.full * 0.8);
      push(v, c.between(0.7, 1.5), 0), push(v, c.between(2.5, 7.2), 3), push(0, c.between(0.8, 2.5), 1);
      return;
    }
    if (c.odds(0.006) && f.kind != Sleep && f.kind != Meditate) {  // cough
      push(1.3, 0.5, 0), push(0.3, 0.25, 1), push(-0.2, 0.25, 1), push(0.6, 0.5, 0), push(0, 0.75, 1);
      return;
    }
    double calm = f.kind == Recover ? std::max(0.0, 1 - sinceHold / recoverFor) : 0;
    double r = rate * (1 + calm * recoverFast), cycle = 60 / r * wobble(vary * 0.6);
    double need = p.vo2 * 0.863 / 40 * 0.84 * vent * (1 + 1.3 * calm) * (deliberate ? std::clamp(chem, 0.85, 1.25 + std::clamp((88 - satNow) * 0.06, 0.0, 0.8)) : chem);
    double depth = units(need / r + p.deadSpace) * wobble(vary);
    if (!deliberate && c.odds(sigh)) depth *= c.between(1.6, 3), cycle *= c.between(1, 1.5);
    if (f.kind == Sleep && wax > 0) depth *= 1 + wax * std::sin(waxPhase += cycle * waxRate);
    depth = std::clamp(depth, 0.12, p.full * 0.97);
    double pause = cycle * still, moving = cycle - pause, in = moving * tiShare;
    // a long breath spends its first and last part nearly still: still parts stay under 8 s in all
    pause = std::min(pause, 6.9 - std::sqrt(0.014 / depth) * moving);
    push(end + depth, std::clamp(in, 0.5, 9.0), 0);
    if (f.kind == Paced && c.odds(0.2)) push(end + depth * 0.99, c.between(0.5, 2), 3);
    double to = end + 0.04 * (c.next() - 0.5);
    if (c.odds(0.02)) to -= c.between(0, 0.3);
    push(to, std::clamp(moving - in, 0.6, 12.0), exhaleFast && moving - in < 4 ? 1 : 0);
    if (pause > 0.3) push(to, pause, 3);
  }

  int hooks = 0, partial = 0;
  double hookHold = 2, recoverFor = 40, recoverFast = 0.6, wax = 0, waxRate = 0, waxPhase = 0;

  Body run(double startS, size_t rows, double lagOutside, double averaging) {
    Body b;
    size_t skip = size_t(startS * 4), n = rows * 4, total = skip + n;
    Course& o = b.course;
    o.heart.resize(n), o.lungs.resize(n), o.arterial.resize(n), o.motion.resize(n), o.held.resize(n);
    std::vector<float> blood(total), carried(total);
    upper = (p.inspiratory - 1.2 * p.tidal) / (p.full - 1.2);
    if (upper < 0.3) upper = 0.3;
    const double dtM = stepS / 60;
    double pi = p.piO2, piNow = pi;
    begin(plan[0]);
    // Gas: alveolar and venous carbon dioxide 40 and 46 mmHg, blood's slope 6.5 ml/l/mmHg, tissues 95 ml/mmHg (memory; order of [2.12])
    double paC = 40, ptC = 46, volume = p.frc, paO = std::max(45.0, pi - 48), nO = volume * 1000 * paO / 863, use = p.vo2, cv = 0, dead = 0;
    double sat = 1 / (23400 / (paO * paO * paO + 150 * paO) + 1);
    cv = 13.4 * p.haem * sat - p.vo2 / p.flow;
    if (cv < 60) cv = 60;
    double perf = 1, moved = 0;
    // Heart: time constants of load (4 to 22 s up, 12 to 70 s down), overshoot, waves and events: ours, wide
    double low = 0, mean = 0.3, loadNow = load, vag = vagTarget, D = 0, rise = 0, over = 0, dip = 0, coldNow = 0, event = 0, eventKeep = 0.97, hyp = 0, tension = 0, hr = p.rest;
    double kLow = 1 - std::exp(-stepS * 2 * M_PI * p.corner / 60), kMean = stepS / p.adapt;
    double zr = 0, zi = 0, vr = p.vlfSize, vi = 0, lfKeep = std::exp(-stepS / p.lfTau), lfC = std::cos(2 * M_PI * p.lfHz * stepS), lfS = std::sin(2 * M_PI * p.lfHz * stepS);
    double lfPush = p.lfSize * std::sqrt(2 * (1 - std::pow(lfKeep, 8))), vC = 1, vS = 0, lfGain = 1, vGain = 1, vGainTo = 1;
    double ringPush = p.ring * p.vagal / 14 * stepS * 2;
    Wander drift(c, c.scale(60, 500), p.drift, 1.0), grain(c, 1.5, p.noise, 1.0), twitch(c, 4, 0.5, 1.0);
    double slope = c.normal() * 2.0 / 1000;  // /min per s
    double g0 = grain.value, g1 = g0, d0 = drift.value, d1 = d0;
    double kUp = stepS / c.scale(4, 22), kDown = stepS / c.scale(12, 70), kBack = stepS / p.back, kVagBack = stepS / p.vagalBack, kVag = stepS / 8;
    double kRise = std::exp(-stepS / p.firstTau), kOver = std::exp(-stepS / c.scale(6, 45)), kEarly = stepS / p.earlyTau, kPerfIn = stepS / c.scale(8, 40), kPerfOut = stepS / c.scale(4, 25);
    double moveT = 0, moveAmp = 0, moveEvery = 5, moveNext = 1e9, bump = 0, bumpTo = 0;
    double holdT = 0, since = 1e4, lateNow = 0, lateFrom = 0, early = 0, climb = 0, lateP = 0;
    bool wasHeld = false, walkedHold = false;
    double moving = moveLevel, wave = 0;
    double jolt = 0, hypGain = c.between(0.1, 0.9), hypK = stepS / 20, satS = 97, satBase = 97;
    double swallowOdds = c.scale(0.002, 0.03), arousalOdds = c.scale(0.0005, 0.008), fidget = c.scale(0.001, 0.03);
    from = x, now = {0.f, 1, 0, 0}, k = 1;
    double invN = 1;
    bool alive = true;
    p.stopAt = std::min(p.stopAt, 100 * sat - 8);
    double stopNow = p.stopAt, shift[6] = {};
    const double kMix = stepS / p.mix;

    for (size_t i = 0; i < total; i++) {
      // Breathing
      if (k >= now.n || (now.held && holdT >= 12 && satS < stopNow)) {
        if (head == tail) {
          head = tail = 0;
          while (left <= 0 && alive) {
            if (at + 1 < plan.size()) at++;
            else plan[at].kind = Quiet, plan[at].s = 1e5, alive = false;
            begin(plan[at]);
            if (plan[at].kind == Recover) {
              hooks = c.odds(p.beginner ? 0.1 : 0.65) ? int(c.between(2, 9)) : 0, hookHold = c.between(1.2, 4);
              partial = c.odds(0.3) ? int(c.between(1, 5)) : 0;
              recoverFor = c.scale(8, 90), recoverFast = c.between(0, 1.2);
            }
            if (plan[at].kind == Sleep) wax = c.odds(0.5) ? c.between(0.15, 0.7) : 0, waxRate = 2 * M_PI / c.between(18, 60);
          }
          if (plan[at].kind == Hold && alive) {
            holdScript(plan[at]);
            walkedHold = plan[at].walked;
            left = 0;
          } else {
            double setC = 40 - std::clamp(118 - piNow, 0.0, 45.0) * 0.18;  // thin air is breathed more (memory)
            double chem = std::clamp(1 + 0.045 * (paC - setC) + std::max(0.0, 92 - satS) * 0.02, 0.45, 2.6);
            breath(plan[at], chem, since, satS);
          }
        }
        now = queue[head++];
        from = x, k = 0, offset = 0;
        invN = 1.0 / now.n;
      }
      k++;
      double u = k * invN, w;
      switch (now.shape) {
        case 0: w = u * u * (3 - 2 * u); break;
        case 1: w = 1 - (1 - u) * (1 - u) * (1 - 0.4 * u); break;
        default: w = u;
      }
      x = from + (now.to - from) * float(w) + offset;
      bool held = now.held;
      if (!held) left -= stepS;
      // Gas
      double vL = p.frc + litres(x), dV = vL - volume;
      if (!held) {
        if (dV > 0) {
          if (moved <= 0) dead = p.deadSpace;
          double mixed = std::min(dead, dV);
          dead -= mixed;
          nO += mixed * 1000 * paO / 863 + (dV - mixed) * 1000 * piNow / 863;
          paC = (paC * (volume + mixed)) / vL;  // fresh air has none
        } else {
          nO += dV * 1000 * paO / 863;
        }
        if (dV != 0) moved = dV;
      }
      volume = std::max(0.6, vL);
      double hrRel = hr / p.rest, q = p.flow * (0.35 + 0.65 * hrRel) * (held ? 0.9 : 1);
      double useTo = p.vo2 * (held ? (walkedHold ? 2.0 : 1.0) * p.holdUse : useMult * (since < 60 ? 1.15 : 1));
      use += (useTo - use) * (held ? 0.008 : 0.012);
      double pe = std::max(4.0, (paO - p.gradient) * std::clamp(1 - 0.0065 * (paC - 40), 0.7, 1.25));  // Bohr [1.06]
      double s = 1 / (23400 / (pe * pe * pe + 150 * pe) + 1);                                          // [1.01]
      double ca = 13.4 * p.haem * s + 0.03 * pe;                                                      // [2.06]
      double up = q * (1 - p.shunt) * (ca - cv) * dtM;
      up = std::clamp(up, -8.0, nO * 0.1);
      nO -= up;
      cv += (up - use * std::min(1.0, cv / 50) * dtM) / p.venous;
      if (cv < 5) cv = 5;
      double out = q * 6.5 * (ptC - paC) * dtM;
      ptC += (use * 0.82 * dtM - out) / 95;  // ml per mmHg [2.12]
      paC += out * 0.863 / volume;
      paO = nO * 0.863 / volume;
      satS = 100 * (s * (1 - p.shunt) + p.shunt * std::min(1.0, cv / (13.4 * p.haem)));
      if (held) {
        double shrink = (up - out) * 0.00115;  // l, BTPS
        double du = shrink / (x < 0 ? p.reserve / p.emptied : x < 1.2 ? p.tidal : upper);
        offset -= float(std::clamp(du, -0.02, 0.02));
      }
      double perfTo = held ? p.squeeze * (0.5 + 0.5 * hrRel) : 0.6 + 0.4 * hrRel;
      perf += (perfTo - perf) * (held ? kPerfIn : kPerfOut);
      blood[i] = float(satS);
      carried[i] = float(std::max(0.2, perf));

      // Once a second: waves, chance happenings
      if (i % 4 == 0) {
        g0 = g1, g1 = grain(c), d0 = d1, d1 = drift(c);
        double kick = lfPush * lfGain;
        zr += kick * (c.next() + c.next() - 1) * 2, zi += kick * (c.next() + c.next() - 1) * 2;
        double a = 2 * M_PI * p.vlfHz * stepS * (1 + 0.35 * twitch(c));
        vC = 1 - a * a / 2, vS = a - a * a * a / 6;
        double norm = std::sqrt(vr * vr + vi * vi) + 1e-9, fix = 1 + 0.05 * (p.vlfSize * (1 + 0.6 * twitch.value) / norm - 1);
        vr *= fix, vi *= fix;
        if (c.odds(swallowOdds)) event += c.between(1, 8), eventKeep = 0.88 + 0.06 * c.next();
        if (!held && c.odds(arousalOdds)) event += c.between(4, 24), eventKeep = 0.95 + 0.035 * c.next(), bumpTo = c.between(0, 0.5);
        if (c.odds(fidget)) bumpTo = c.between(0.02, 0.4);
        bump += (bumpTo - bump) * 0.6, bumpTo *= 0.5;
        if (plan[at].kind == Stretch) moving = std::clamp(moveLevel * (0.6 + 1.2 * twitch.value), 0.0, 0.9);
        else moving = moveLevel * (0.9 + 0.2 * c.next());
        if (held) moving = walkedHold ? 0.7 + 0.1 * c.next() : (holdT > holdLength * 0.8 && moveAmp > 6 ? 0.08 * c.next() : 0.0);
        if (event > 40) event = 40;
        if (!held && since > 60 && plan[at].kind != Hold) satBase += (satS - satBase) * 0.01;
        piNow = pi * plan[at].inspired;
      }
      double rotate = zr * lfC - zi * lfS;
      zi = (zr * lfS + zi * lfC) * lfKeep, zr = rotate * lfKeep;
      rotate = vr * vC - vi * vS, vi = vr * vS + vi * vC, vr = rotate;

      // A hold begins or ends
      if (held && !wasHeld) {
        holdT = 0;
        double strength = wobbleOf(0.3), air = x < 0.4 ? 1.3 : 1;
        early = std::clamp(p.early * strength * air, -0.1, 0.45);
        lateP = std::clamp(p.late * wobbleOf(0.3), 0.0, 0.45);
        if (now.n < 200) lateP *= 0.4;
        lateFrom = std::clamp(p.lateFrom + 0.1 * (c.next() - 0.5), 0.1, 0.9) * holdLength;
        climb = p.climb * wobbleOf(0.3) * std::min(1.0, holdLength / 60);
        rise = x > 1.5 ? p.firstRise * wobbleOf(0.4) * (plan[at].air == Packed ? 1.3 : 1) : -c.between(0, 4);
        moveNext = p.moves && c.odds(0.85) && holdLength > 25 ? holdLength * std::clamp(p.movesFrom + 0.1 * (c.next() - 0.5), 0.1, 0.98) : 1e9;
        moveAmp = p.movesSize * wobbleOf(0.4), moveEvery = p.movesEvery;
        vGainTo = p.vlfHold, stopNow = std::clamp(p.stopAt + c.between(-4, 5), 42.0, 95.0);
        if (p.curve) for (double& v : shift) v = 0.03 * c.normal();
      }
      if (!held && wasHeld) {
        since = 0, over = p.overshoot * wobbleOf(0.4) * std::min(1.0, holdT / 45), vag *= c.between(0.3, 1), dip = c.odds(0.6) ? p.dip : 0;
        vGainTo = 1, moveT = 0, moveNext = 1e9;
        if (c.odds(0.25)) zr += c.between(-9, 9), zi += c.between(-9, 9);  // swings back: ours
      }
      wasHeld = held;
      double target = 0;
      if (held) {
        holdT += stepS;
        lateNow = holdT > lateFrom ? (holdT - lateFrom) / (holdLength - lateFrom + 1) : 0;
        if (p.curve) {
          double place = std::min(4.999, 5 * holdT / (holdLength + 1));
          int knot = int(place);
          double part = place - knot;
          target = (p.knots[knot] + shift[knot]) * (1 - part) + (p.knots[knot + 1] + shift[knot + 1]) * part;
        } else {
          target = -early - lateP * lateNow;
        }
        D += (target - D) * kEarly;
        if (holdT > moveNext) {  // an involuntary breathing movement
          moveT = 2.0, moveNext = holdT + moveEvery * (0.6 + 0.8 * c.next()), moveEvery = std::max(1.8, moveEvery * 0.96), moveAmp *= 1.01;
        }
        tension += ((p.curve ? 0 : climb) * holdT / (holdLength + 1) - tension) * 0.02;
        if (moveT > 0) {
          double f = 1 - moveT / 2.0;
          jolt = (f < 0.5 ? f : 1 - f) * 2 * p.jolt;
          x -= float(jolt);
          wave += moveAmp * 0.28 * (f < 0.45 ? 1 : -0.35);
          moveT -= stepS;
        }
        lfGain += (p.lfHold - lfGain) * 0.02;
      } else {
        since += stepS;
        D += (-dip - D) * kBack;
        dip *= 0.975;
        bool next = plan[at].kind != Hold && at + 1 < plan.size() && plan[at + 1].kind == Hold && left < 30;
        tension += ((next || (plan[at].kind == Hold && alive) ? p.tense : 0) - tension) * 0.02;
        lfGain += (1 - lfGain) * 0.02;
      }
      wave *= 0.86;
      vGain += (vGainTo - vGain) * 0.01;
      rise *= kRise, over *= kOver;
      vag += (vagTarget - vag) * (since < 120 && vag < vagTarget ? kVagBack : kVag);
      double loadTo = held ? (walkedHold ? 14.0 : load * 0.5) : load;
      loadNow += (loadTo - loadNow) * (loadTo > loadNow ? kUp : kDown);
      coldNow += ((held ? 0 : cold) - coldNow) * 0.02;
      event *= eventKeep + (1 - eventKeep) * 0.5;
      double lack = std::max(0.0, 94 - satS);
      // thin air quickens the breathing heart; in a hold, lack of oxygen slows it (some)
      double hypTo = held ? -p.hypoxic * lack : (since > 40 ? hypGain * std::min(lack, 18.0) : 0);
      hyp += (hypTo - hyp) * (held ? hypK * 2 : (hypTo > hyp && hyp < 0 ? kBack : hypK));
      // Sinus arrhythmia: low-passed lung volume less its own slow mean
      low += (x - low) * kLow;
      mean += (x - mean) * kMean;
      double y = low - mean, rsa = p.vagal * vag * y / (1 + std::fabs(y) / p.saturate);
      zr += ringPush * std::clamp(double(x) - mean, -1.5, 1.5);
      double f = (i % 4) * 0.25, slow = d0 + (d1 - d0) * f + slope * double(i) * stepS;
      double base = (p.rest + loadNow) * (1 + D) * (1 - coldNow);
      double heart = base + rsa + zr * (0.4 + 0.6 * std::min(1.0, vag)) + vr * vGain + slow + (g0 + (g1 - g0) * f) + rise + over + event + tension + hyp + wave;
      if (heart < 34) heart = 34 - (34 - heart) * 0.35;  // the floor is soft
      if (heart > 170) heart = 170 + (heart - 170) * 0.3;
      heart = std::clamp(heart, 27.5, 210.0);
      hr += (heart - hr) * 0.2;
      if (i >= skip) {
        size_t j = i - skip;
        o.heart[j] = float(heart), o.lungs[j] = std::clamp(x, -1.99f, 5.99f), o.motion[j] = float(std::clamp(moving + bump, 0.0, 1.0)), o.held[j] = held;
      }
      if (jolt != 0) x += float(jolt), jolt = 0;
    }
    // The blood's way to the finger: a fixed volume of flow, slower when the hand is squeezed or the heart slow [3.24]; sizes ours.
    if (lagOutside > 0) {
      double m = blood[0], k2 = std::min(1.0, kMix * 2);
      for (size_t i = 0; i < total; i++) {
        m += (blood[i] - m) * k2;
        if (i >= skip) o.arterial[i - skip] = float(std::clamp(m, 40.0, 100.0));
      }
    } else {
      double due = p.lag * 4, sum = 0, behind = 0, m = blood[0];
      size_t t = 0;
      for (size_t i = 0; i < total; i++) {
        sum += carried[i];
        while (t < i && behind + carried[t] <= sum - due) behind += carried[t++];
        m += (blood[t] - m) * kMix;
        if (i >= skip) o.arterial[i - skip] = float(std::clamp(m, 40.0, 100.0));
      }
    }
    b.lagS = lagOutside, b.averagingS = averaging;
    b.jitterMs = c.scale(1.5, 12);
    b.fibrillation = c.odds(0.008) ? c.between(0.08, 0.22) : 0;
    b.ectopicsPerHour = c.odds(0.12) ? c.scale(5, 300) : c.scale(0.1, 4);
    return b;
  }
  double wobbleOf(double cv) { return std::clamp(1 + cv * (c.next() + c.next() - 1) * 2, 0.3, 1.9); }
};

// Plans. Tables, maximal attempts, rests and their shares: ours; limits of emptied holds [3.17].
struct Script {
  Chance& c;
  Person& p;
  std::vector<Phase>& plan;
  void add(Kind k, double s, float inspired = 1) { plan.push_back({k, float(s), Full, false, inspired}); }
  void calm(double s) {  // preparation
    double left = s;
    while (left > 5) {
      double part = std::min(left, c.scale(40, 240));
      static const Kind kinds[] = {Quiet, Slow, Shallow, Pausing, Paced, Meditate};
      add(kinds[c.pick({0.2, 0.27, 0.17, 0.24, 0.05, 0.07})], part);
      left -= part;
    }
  }
  void idle(double s) {
    double left = s;
    while (left > 5) {
      double part = std::min(left, c.scale(20, 200));
      static const Kind kinds[] = {Quiet, Read, Talk, Stand, Walk, Stretch, Slow, Sleep};
      add(kinds[c.pick({0.3, 0.22, 0.24, 0.04, 0.05, 0.04, 0.08, 0.03})], part);
      left -= part;
    }
  }
  void hold(double s, Air air, bool walked = false) {
    plan.push_back({Hold, float(std::max(8.0, s)), air, walked, 1});
  }
  void after(double s) { add(Recover, std::min(s, c.scale(12, 100))); }
  Air lungful() { return Air(c.pick({0.55, 0.12, 0.12, 0.1, 0.11})); }
  double limit(Air a) {  // emptied holds half as long [3.17], 30 to 210 s (our choice)
    double part = a == Full ? 1 : a == Packed ? 1.06 : a == Half ? 0.72 : a == Resting ? 0.52 : 0.42;
    double s = p.longest * part;
    return a == Resting || a == Emptied ? std::min(s, 210.0) : std::min(s, 430.0);
  }
  void rest(double s, bool soon) {  // between holds
    double recover = std::min(s, c.scale(12, 90));
    add(Recover, recover);
    double left = s - recover;
    if (left > 60 && c.odds(0.04)) {  // short partial holds, long enough to count
      for (int i = 0, n = int(c.between(2, 5)); i < n; i++) hold(c.between(8.5, 22), c.odds(0.6) ? Half : Resting), add(Recover, c.between(6, 22)), left -= 30;
    }
    if (left > 150 && c.odds(0.5)) {
      double part = left * c.between(0.3, 0.6);
      idle(part), left -= part;
    }
    if (left > 4) calm(left);
    if (c.odds(soon ? 0.15 : 0.3)) add(c.odds(0.75) ? DeepPrep : Hyper, c.between(8, 45));
  }
  void trained() {
    if (c.odds(0.7)) idle(c.scale(20, 240));
    calm(c.scale(30, 260));
    if (c.odds(0.35)) add(c.odds(0.8) ? DeepPrep : Hyper, c.between(10, 60));
    switch (c.pick({0.35, 0.15, 0.14, 0.13, 0.08, 0.05, 0.1})) {
      case 0: {  // maximal attempts after warm-ups
        int warm = int(c.between(0, 4));
        for (int i = 0; i < warm; i++) {
          Air a = Air(c.pick({0.4, 0.02, 0.12, 0.2, 0.26}));
          hold(limit(a) * c.between(0.45, 0.8), a), rest(c.scale(60, 280), false);
        }
        for (int i = 0, n = c.pick({0, 0.5, 0.3, 0.2}); i < n; i++) {
          Air a = c.odds(0.3) ? Packed : Full;
          hold(limit(a) * c.between(0.82, 1.06), a), after(60), idle(c.scale(60, 420)), calm(c.scale(60, 280));
          if (c.odds(0.35)) add(c.odds(0.75) ? DeepPrep : Hyper, c.between(10, 50));
        }
        break;
      }
      case 1: {  // equal holds, rests shrinking
        int n = int(c.between(6, 11));
        Air a = lungful();
        double len = limit(a) * c.between(0.42, 0.66), r = c.between(75, 165), down = (r - c.between(10, 45)) / n;
        for (int i = 0; i < n; i++) hold(len * c.between(0.98, 1.02), a), rest(std::max(8.0, r - down * i), true);
        break;
      }
      case 2: {  // equal rests, holds growing
        int n = int(c.between(6, 11));
        Air a = lungful();
        double low = limit(a) * c.between(0.35, 0.5), high = limit(a) * c.between(0.7, 0.92), r = c.between(70, 170);
        for (int i = 0; i < n; i++) hold(low + (high - low) * i / (n - 1), a), rest(r * c.between(0.95, 1.05), true);
        break;
      }
      case 3: {  // emptied set
        int n = int(c.between(3, 9));
        Air a = c.odds(0.55) ? Emptied : Resting;
        for (int i = 0; i < n; i++) hold(std::max(30.0, limit(a) * c.between(0.5, 1.0)), a), rest(c.scale(40, 260), true);
        break;
      }
      case 4: {  // one to three breaths between holds
        int n = int(c.between(5, 12));
        double len = p.longest * c.between(0.3, 0.52);
        for (int i = 0; i < n; i++) hold(len * c.between(0.85, 1.15), c.odds(0.85) ? Full : Half), add(c.odds(0.5) ? Recover : DeepPrep, c.between(3, 18));
        rest(200, false);
        break;
      }
      case 5: {  // walks
        int n = int(c.between(3, 9));
        for (int i = 0; i < n; i++) {
          if (c.odds(0.5)) hold(c.between(20, 60), Full);
          hold(std::min(110.0, p.longest * c.between(0.15, 0.35)), c.odds(0.85) ? Full : Half, true), add(Recover, c.between(15, 40)), add(c.odds(0.5) ? Walk : Stand, c.between(20, 90));
          if (c.odds(0.6)) calm(c.scale(20, 90));
        }
        break;
      }
      default: {  // mixed
        int n = int(c.between(3, 10));
        for (int i = 0; i < n; i++) {
          Air a = lungful();
          hold(limit(a) * c.between(0.3, 1.02), a), rest(c.scale(25, 360), false);
          if (c.odds(0.06)) hold(c.between(8.5, 12), Resting), add(Pausing, c.between(20, 60));  // a pause so long that it counts as a hold
        }
      }
    }
    idle(c.scale(60, 500));
  }
  void begun() {
    if (c.odds(0.8)) add(c.odds(0.5) ? Quiet : Talk, c.scale(15, 160));
    int n = int(c.scale(1, 16));
    for (int i = 0; i < n; i++) {
      Air a = Air(c.pick({0.58, 0, 0.16, 0.14, 0.12}));
      double s = std::min(c.scale(8, 62), p.longest);
      if (a >= Resting) s = c.scale(8, 30);
      if (c.odds(0.3)) add(c.odds(0.5) ? DeepPrep : Hyper, c.between(5, 30));
      hold(s, a), after(c.scale(6, 40));
      static const Kind kinds[] = {Quiet, Talk, Slow, Stand, Read};
      add(kinds[c.pick({0.5, 0.25, 0.1, 0.06, 0.09})], c.scale(6, 120));
    }
    idle(c.scale(20, 240));
  }
  void without(double s) {
    double left = s + 200;
    int theme = c.pick({0.2, 0.2, 0.14, 0.12, 0.14, 0.12, 0.08});
    bool thin = theme == 4 || (theme == 5 && c.odds(0.6));
    if (thin && theme == 4) p.piO2 = 149.2 * std::exp(-c.between(1.8, 4.4) / 7.4);
    bool mask = theme == 5;
    bool low = c.odds(0.5);
    while (left > 0) {
      double part = c.scale(40, 420);
      float air = 1;
      if (mask) part = c.between(60, 360), air = low ? float(c.between(0.55, 0.8)) : 1, low = !low;
      Kind k = Quiet;
      switch (theme) {
        case 0: k = (const Kind[]){Slow, Pausing, Paced, Quiet, DeepPrep}[c.pick({0.42, 0.25, 0.12, 0.15, 0.06})]; break;
        case 1: k = (const Kind[]){Meditate, Shallow, Pausing, Slow, Quiet, Sleep}[c.pick({0.4, 0.17, 0.16, 0.1, 0.12, 0.05})]; break;
        case 2: k = (const Kind[]){Walk, Stand, Quiet, Talk, Stretch}[c.pick({0.35, 0.13, 0.25, 0.15, 0.12})]; break;
        case 3: k = (const Kind[]){Stretch, Slow, Quiet, Stand, DeepPrep}[c.pick({0.4, 0.2, 0.2, 0.1, 0.1})]; break;
        case 4: k = (const Kind[]){Sleep, Quiet, Shallow, Slow}[c.pick({0.6, 0.2, 0.1, 0.1})]; break;
        case 5: k = (const Kind[]){Quiet, Read, Slow, Talk, Meditate}[c.pick({0.45, 0.2, 0.15, 0.1, 0.1})]; break;
        default: k = (const Kind[]){Talk, Cold, Read, Hyper, Shallow, Quiet, Recover}[c.pick({0.28, 0.22, 0.12, 0.1, 0.1, 0.13, 0.05})];
      }
      if (k == Hyper) part = c.between(15, 60);
      if (k == DeepPrep) part = c.between(20, 120);
      add(k, part, air);
      left -= part;
    }
  }
};

/** A session of about `wantS` seconds. */
inline Body draw(Chance& c, double wantS) {
  int who = c.pick({0.6, 0.3, 0.1});
  Person p = person(c, who == 2);
  std::vector<Phase> plan;
  plan.reserve(96);
  bool none = who == 1 || (who == 2 && c.odds(0.25));
  Script script{c, p, plan};
  double len = std::max(64.0, wantS * (1 + 0.3 * c.next() * c.next()));
  double all = 0, lead = 40;
  if (none) script.without(len);
  do {
    if (!none) who == 2 ? script.begun() : script.trained();
    all = 0;
    for (const Phase& f : plan) all += f.s;
  } while (!none && all < len + 150);
  double start = none ? c.between(30, 90) : 30;
  if (!none) {  // where the session is cut: some of it lies in the hold's middle
    double at = 0;
    int holds = 0, i = 0;
    for (const Phase& f : plan) holds += f.kind == Hold;
    int pick = int(c.next() * holds * 0.999), left = pick;
    for (const Phase& f : plan) {
      if (f.kind == Hold && left-- == 0) break;
      at += f.s, i++;
    }
    double inside = c.odds(0.12) ? -plan[i].s * c.between(0.05, 0.8) : c.between(0.08, 0.65) * len;
    if (c.odds(0.25)) inside = std::min(inside, at);  // from the script's own beginning when that is near
    start = std::max(0.0, at - inside);
    if (start > all - len && all > len) start = std::max(0.0, std::min(start, at - 20));
  }
  // Begin the simulation a little before, at a phase's beginning where that is a hold.
  double t = 0, simFrom = start - lead;
  size_t first = 0;
  while (first + 1 < plan.size() && t + plan[first].s <= simFrom) t += plan[first++].s;
  std::vector<Phase> cut;
  cut.reserve(plan.size() + 2);
  double skip;
  if (plan[first].kind == Hold || simFrom < t) {
    cut.push_back({first && plan[first - 1].kind != Recover ? plan[first - 1].kind : Quiet, 30, Full, false, plan[first].inspired});
    if (cut[0].kind == Hold) cut[0].kind = Quiet;
    skip = start - t + 30;
  } else {
    plan[first].s = float(std::max(5.0, t + plan[first].s - simFrom));
    skip = lead;
  }
  cut.insert(cut.end(), plan.begin() + long(first), plan.end());
  Sim sim(c, p);
  sim.plan = std::move(cut);
  double outside = c.odds(0.4) ? std::clamp(p.lag * c.between(0.8, 1.3), 5.0, 40.0) : 0;
  return sim.run(std::max(10.0, skip), size_t(len), outside, c.pick({0.3, 0.4, 0.3}) == 0 ? c.between(2, 4) : c.between(4, 11));
}

}  // namespace world_athletes
