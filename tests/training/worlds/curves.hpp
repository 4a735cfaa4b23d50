// A world without a body inside (SIMULATED): families of curves and random processes only, as somebody would write them who has
// looked at many traces.

// The heart's trend before, in and after a hold is a mixture of archetypes made of knots; breaths are a renewal process, coupled to the
// heart rate by a random kernel whose gain wanders; noises of several colours go on through holds; saturation is a family of bent lines,
// powers and sigmoids with delay. Numbers [3.05] are rows of reference/published-values.md; "lit" marks an abstract found with the
// search tool, named in checks/curves.cpp; "mem": from memory; "wide": our choice, wide. Every range without a mark is our choice, wide.

#pragma once

#include "world.hpp"

namespace world_curves {

inline double clip(double x, double low, double high) { return x < low ? low : x > high ? high : x; }

/** Noise of unit deviation, cheap and near enough to normal (three uniforms). */
inline double soft(Chance& c) { return 2 * (c.next() + c.next() + c.next() - 1.5); }

inline int steps(double seconds) { return int(seconds / stepS + 0.5); }

enum Ease { line, smooth, early, late, later };

inline double eased(int shape, double x) {
  switch (shape) {
    case smooth: return x * x * (3 - 2 * x);
    case early: return 1 - (1 - x) * (1 - x) * (1 - x);
    case late: return x * x;
    case later: return x * x * x;
  }
  return x;
}

inline int anyEase(Chance& c) { return c.pick({1, 3, 2, 1, 0.5}); }

/** A curve of knots: seconds from its start, value, and how it gets there. */
struct Knots {
  static constexpr int most = 96;
  double t[most], v[most];
  uint8_t shape[most];
  int n = 0;
  void to(double at, double value, int how = smooth) {
    if (n == most) return;
    t[n] = n ? std::max(at, t[n - 1] + 0.3) : at;
    v[n] = value;
    shape[n++] = uint8_t(how);
  }
  double end() const { return n ? t[n - 1] : 0; }
  double last() const { return n ? v[n - 1] : 0; }
  /** Value at `at`. */
  double value(double at) const {
    if (!n || at <= t[0]) return n ? v[0] : 0;
    for (int k = 1; k < n; k++)
      if (at < t[k]) return v[k - 1] + (v[k] - v[k - 1]) * eased(shape[k], (at - t[k - 1]) / (t[k] - t[k - 1]));
    return v[n - 1];
  }
  /** Forget what lies at or after `at`, and end there with the value reached. */
  void cut(double at) {
    double reached = value(at);
    while (n && t[n - 1] >= at) n--;
    to(at, reached, line);
  }
  /** Adds the curve to `y`, its zero at step `from`. */
  void addTo(std::vector<float>& y, int from) const {
    int size = int(y.size());
    for (int k = 1; k < n; k++) {
      int a = from + steps(t[k - 1]), b = from + steps(t[k]);
      double rise = v[k] - v[k - 1], per = b > a ? 1.0 / (b - a) : 0;
      for (int i = std::max(0, a); i < std::min(size, b); i++) y[i] += float(v[k - 1] + rise * eased(shape[k], (i - a) * per));
    }
  }
  void multiply(std::vector<float>& y, int from) const {
    int size = int(y.size());
    for (int k = 1; k < n; k++) {
      int a = from + steps(t[k - 1]), b = from + steps(t[k]);
      double rise = v[k] - v[k - 1], per = b > a ? 1.0 / (b - a) : 0;
      for (int i = std::max(0, a); i < std::min(size, b); i++) y[i] *= float(v[k - 1] + rise * eased(shape[k], (i - a) * per));
    }
  }
};

/** A band of noise: a resonance driven by noise, unit deviation. */
struct Band {
  double a1, a2, push, y1 = 0, y2 = 0;
  Band(double hertz, double width, double step = stepS) {
    double r = std::exp(-M_PI * width * step), w = 2 * M_PI * hertz * step;
    a1 = 2 * r * std::cos(w);
    a2 = -r * r;
    double var = (1 - a2) / ((1 + a2) * ((1 - a2) * (1 - a2) - a1 * a1));
    push = 1 / std::sqrt(std::max(1e-9, var));
  }
  double operator()(Chance& c) {
    double y = a1 * y1 + a2 * y2 + push * soft(c);
    y2 = y1;
    return y1 = y;
  }
};

/** Noise between white and brown: one white source through four poles an octave pair apart. */
struct Coloured {
  double keep[5], gain[5], s[5] = {0, 0, 0, 0, 0}, norm;
  Coloured(Chance& c, double tilt) {
    static const double tau[5] = {0.8, 4, 20, 100, 500};
    for (int k = 0; k < 5; k++) {
      keep[k] = std::exp(-stepS / tau[k]);
      gain[k] = std::sqrt(1 - keep[k] * keep[k]) * std::pow(tau[k], tilt);
    }
    double var = 0;
    for (int k = 0; k < 5; k++)
      for (int m = 0; m < 5; m++) var += gain[k] * gain[m] / (1 - keep[k] * keep[m]);
    norm = 1 / std::sqrt(var);
    double z = c.normal();
    for (int k = 0; k < 5; k++) s[k] = z * gain[k] / std::sqrt(1 - keep[k] * keep[k]) * 0.6;
  }
  double operator()(Chance& c) {
    double w = soft(c), y = 0;
    for (int k = 0; k < 5; k++) y += s[k] = keep[k] * s[k] + gain[k] * w;
    return y * norm;
  }
};

enum Manner { quiet, irregular, shallow, slow, paced, pausing, talking, laughing, coughing, walking, recovering, deep, over, sleepy, waxing };

/** How a stretch is breathed. */
struct Style {
  int manner = quiet;
  double rate = 14, depth = 1, cvTime = 0.2, cvDepth = 0.3, kin = 0.25, inShare = 0.4, inPause = 0, outPause = 0.15, floor = 0;
  double sighsPerHour = 6, wax = 0, waxS = 40, heart = 0, moving = 0, settleS = 0;
};

/** A person in a session, all of it numbers of curves. */
struct Person {
  double vagal, tense, train, age, odd;
  double rest, rsa, fall, ability, t90, satRest, thin, lagS, still, storeOut, storeBend, steepest, footWander, halts;
  double rate, cvTime, cvDepth, kin, inShare, sighs, swallows, arousals, fidgets;
  int breathShape, coupling, archetype, after, satShape;
  double bump, strainFrom, strainSize, strainLungs, hurry;
  bool coldHands, fibrillating;

  explicit Person(Chance& c) {
    // One common scale stretches all traits, so that extremes come together now and then (tails as of Student's t with 5 degrees): wide.
    odd = c.odds(0.2) ? c.between(1.4, 2.1) : c.between(0.65, 1.15);
    vagal = odd * c.normal();
    tense = odd * (0.9 * c.normal() - 0.25 * vagal / odd);
    // A third practise seriously: wide.
    train = odd * (0.8 * c.normal() + 0.25 * vagal / odd) + (c.odds(0.33) ? c.between(0.6, 2.2) : -0.25);
    age = odd * c.normal();
    // Rest rate 65 (40 to 109) in 92,457 adults (lit Quer 2020), 67.6 +- 9.8 seated: here wider, and tense or supine people.
    rest = 68 - 4.5 * vagal + 4.5 * tense - 2 * train + 7 * odd * c.normal();
    if (rest < 46) rest = 46 - (46 - rest) / (1 + (46 - rest) / 8);
    rest = clip(rest, 40, 110);
    fibrillating = c.odds(0.012);  // rarely; wide
    // Sinus arrhythmia of ordinary breaths, peak to trough: mean 8.6, 1 to 46 (lit, n 635).
    rsa = clip(5.6 * std::exp(0.45 * vagal - 0.25 * tense - 0.33 * age + 0.55 * c.normal()) * std::pow(68 / rest, 0.7), 0.3, 48);
    if (c.odds(0.04)) rsa *= 0.15;  // next to none: wide
    if (fibrillating) rsa *= 0.05;
    // Fall in a hold: 14 /min early in trained (3.02), none in Heusser (3.10), 12 +- 6 as the largest swing in short ones (lit).
    fall = 10.5 * std::exp(0.3 * vagal + 0.3 * train - 0.15 * tense + 0.55 * c.normal()) * std::sqrt(rest / 65);
    // Longest hold on full lungs: 104 +- 26 s novices told to do their utmost, 30 s students (lit), 210 +- 70 divers (3.01), 234 +- 66 elite (3.10).
    ability = clip(86 * std::exp(0.57 * train - 0.18 * tense + 0.33 * c.normal()), 14, 480);
    // Seconds until eight points are lost on full lungs at rest: 3.05, 3.10, 2.29 (model 123 to 178 s, said to be too short).
    t90 = clip(198 * std::exp(0.06 * train + 0.05 * vagal - 0.07 * age + 0.2 * odd * c.normal()), 80, 520);
    storeOut = c.between(0.19, 0.35);
    steepest = c.scale(0.13, 0.55);  // %/s: 0.11 to 0.16 +- 0.05 (3.11, 3.30), models 0.28 to 0.35 full, 0.52 out at ease (2.29)
    storeBend = c.between(1, 1.8);
    thin = c.odds(0.07) ? c.between(3, 16) : 0;  // thin air: points below; wide
    satRest = clip(97.6 + 0.9 * c.normal() - (c.odds(0.1) ? c.between(1.5, 4.5) : 0), 91, 99.6) - thin;
    coldHands = c.odds(0.15);
    lagS = c.scale(7, 22) * std::sqrt(65 / rest);  // lung to finger 16 +- 2.6 (3.23), 18.5 (3.25), 5 to 40 asked for
    if (coldHands) lagS *= c.between(1.2, 2.2);    // cold: 4.07
    lagS = clip(lagS, 4, 40);
    // Breaths: 15.4 (11.8 to 19.2) asleep (lit Natarajan 2021), wider awake; spread of times 20.8 +- 11.5 %, of depths 33 +- 14.9 % (lit Tobin 1988),
    // kinship of neighbours 0.2 to 0.3 (lit 1995).
    rate = clip(14.2 * std::exp(0.2 * odd * c.normal() + 0.06 * tense - 0.06 * train), 6, 26);
    cvTime = clip(0.19 * std::exp(0.5 * c.normal()), 0.03, 0.6);
    cvDepth = clip(0.29 * std::exp(0.42 * c.normal()), 0.05, 0.8);
    kin = c.between(0, 0.5);
    inShare = clip(0.41 + 0.05 * c.normal(), 0.25, 0.6);
    sighs = c.scale(1, 25);      // mem: some 10 an hour awake
    swallows = c.scale(5, 75);   // mem: one in one to three minutes
    arousals = c.odds(0.25) ? c.scale(6, 40) : c.scale(0.3, 6);
    fidgets = c.odds(0.2) ? c.scale(20, 120) : c.scale(0.5, 20);
    footWander = c.scale(0.01, 0.15);
    halts = c.odds(0.35) ? c.scale(2, 50) : 0;  // short stops within breathing, under 8 s: wide
    breathShape = c.pick({3, 2, 3, 1});
    coupling = c.pick({5, 3, 2, 0.8, 2});
    archetype = anyArchetype(c);
    after = c.pick({3, 3, 1.5, 1.5, 1.5, 2, 1.5});
    satShape = c.pick({3, 2.5, 2, 2, 1.5});
    bump = clip(4 * std::exp(0.25 * tense + 0.7 * c.normal()), 0, 28);  // rise at the start (3.08): wide
    // Involuntary movements: from 53 % of the hold in elite (3.17), 80 % in novices (3.18), never in many.
    strainFrom = c.odds(0.3) ? 2 : clip(0.76 - 0.09 * train + 0.12 * c.normal(), 0.3, 1);
    strainSize = c.odds(0.4) ? c.scale(0.2, 2) : c.scale(1, 10);
    strainLungs = c.scale(0.02, 0.5);
    hurry = c.scale(0.6, 1.7);  // this person's time scale of curves
    still = c.odds(0.02) ? c.between(0.05, 0.35) : 1;  // a heart that hardly moves (paced, drugs, old): rare, wide
  }

  int anyArchetype(Chance& c) {
    double t = train > 0.8 ? 2.5 : 1;  // falls are more the rule in the trained (3.02, 3.14): wide
    return c.pick({1.4, 2.7 * t, 1.5 * t, 1.5, 1.2, 1.1, 1, 0.6 + 0.7 * (tense > 0.7), 0.9, 0.5, 1, 1, 0.6, 1.4 * t});
  }
};

struct HoldPlan {
  double lengthS = 30, level = 3;
  bool walk = false, known = true;  // known: planned, so anticipated
  bool goesOn = false, carriesOn = false;  // a single stolen breath after it, or before it
  double effort = 1;                // 1: to the utmost
  int before = 0;                   // how it is prepared
};

class Session {
 public:
  Chance& c;
  Person p;
  int total, at = 0;
  std::vector<float> lungs, curve, state, gate, sat, motion;
  std::vector<uint8_t> held;
  double level = 0;  // of the lungs now
  double kinT = 0, kinV = 0, slowT = 0, slowV = 0, slowFoot = 0;
  double tired = 1;  // of the oxygen's time scale over a series

  Session(Chance& c, int total) : c(c), p(c), total(total) {
    lungs.assign(total, 0);
    curve.assign(total, 0);
    state.assign(total, 0);
    gate.assign(total, 1);
    motion.assign(total, 0);
    held.assign(total, 0);
    sat.assign(total, float(p.satRest));
  }

  bool full() const { return at >= total; }

  // ---- breaths

  double carry = 0;  // part of a step not yet written
  /** The lungs from where they are to `to` in `seconds`. */
  void move(double to, double seconds, int shape) {
    double exact = seconds / stepS + carry;
    int n = int(exact);
    carry = exact - n;
    double a = level, per = n ? 1.0 / n : 0;
    for (int k = 1; k <= n && at < total; k++) lungs[at++] = float(a + (to - a) * eased(shape, k * per));
    level = to;
  }
  void rest(double seconds, double drift = 0) { move(level + drift, seconds, line); }

  int inEase() { return p.breathShape == 0 ? smooth : p.breathShape == 1 ? line : p.breathShape == 2 ? early : smooth; }
  int outEase() { return p.breathShape == 0 ? smooth : p.breathShape == 3 ? line : early; }

  Style usual() {
    Style s;
    s.rate = p.rate * std::exp(0.08 * c.normal());
    s.cvTime = p.cvTime;
    s.cvDepth = p.cvDepth;
    s.kin = p.kin;
    s.inShare = p.inShare;
    s.outPause = c.between(0, 0.3);
    s.sighsPerHour = p.sighs;
    return s;
  }

  Style in(int manner) {
    Style s = usual();
    s.manner = manner;
    switch (manner) {
      case irregular:
        s.cvTime = c.between(0.3, 0.6);
        s.cvDepth = c.between(0.35, 0.9);
        s.sighsPerHour = c.scale(10, 80);
        break;
      case shallow:
        s.depth = c.between(0.12, 0.5);
        s.rate *= c.between(0.8, 1.5);
        s.sighsPerHour *= 0.5;
        break;
      case slow:
        s.rate = c.between(4, 8);
        s.depth = c.between(1, 2.6);
        s.cvTime = c.between(0.03, 0.25);
        s.cvDepth = c.between(0.05, 0.3);
        s.inShare = c.between(0.3, 0.5);
        if (c.odds(0.15)) { s.rate = c.between(3.4, 5.5); s.inShare = c.between(0.14, 0.25); }  // humming, long breaths out
        s.heart = c.between(-4, 3);
        break;
      case paced:
        s.rate = c.between(5, 16);
        s.depth = c.between(0.8, 2.2);
        s.cvTime = c.between(0.01, 0.06);
        s.cvDepth = c.between(0.04, 0.2);
        s.sighsPerHour = 0;
        s.inPause = c.odds(0.3) ? c.between(0.1, 0.25) : 0;
        s.outPause = c.odds(0.4) ? c.between(0.1, 0.3) : 0.03;
        break;
      case pausing:  // pauses of less than 8 s at the end of breaths (seen to in breathe)
        s.rate = c.between(4.5, 11);
        s.depth = c.between(0.8, 2);
        s.outPause = c.between(0.25, 0.6);
        s.inPause = c.odds(0.35) ? c.between(0.1, 0.35) : 0;
        break;
      case talking: s.heart = c.between(1, 12); s.rate = c.between(8, 16); s.moving = c.between(0, 0.15); break;
      case laughing: s.heart = c.between(5, 25); s.rate = c.between(10, 20); s.moving = c.between(0.05, 0.3); break;
      case coughing: s.heart = c.between(2, 15); s.rate = c.between(10, 20); s.moving = c.between(0.05, 0.3); break;
      case walking:
        s.rate = c.between(15, 32);
        s.depth = c.between(1.2, 3);
        s.cvTime = c.between(0.08, 0.25);
        s.cvDepth = c.between(0.1, 0.3);
        s.outPause = 0.02;
        s.inShare = c.between(0.42, 0.52);
        s.heart = c.odds(0.25) ? c.between(35, 85) : c.between(8, 40);  // mem: walking +15 to 40, stairs more
        s.moving = c.between(0.55, 1);
        break;
      case recovering:
        s.rate = c.between(14, 28);
        s.depth = c.between(1.2, 2.6);
        s.settleS = c.between(30, 120);
        break;
      case deep:
        s.rate = c.between(3.5, 9);
        s.depth = c.between(1.8, 3.4);
        s.floor = c.odds(0.4) ? -c.between(0.1, 0.8) : 0;
        s.cvTime = c.between(0.05, 0.25);
        s.cvDepth = c.between(0.05, 0.25);
        s.heart = c.between(-2, 8);
        break;
      case over:
        s.rate = c.between(16, 40);
        s.depth = c.between(1.3, 3);
        s.floor = c.odds(0.3) ? -c.between(0.1, 0.6) : 0;
        s.cvTime = c.between(0.05, 0.2);
        s.cvDepth = c.between(0.08, 0.25);
        s.outPause = 0.02;
        s.heart = c.between(4, 30);
        s.moving = c.odds(0.3) ? c.between(0, 0.2) : 0;
        break;
      case sleepy:
        s.rate *= c.between(0.7, 1);
        s.depth = c.between(0.5, 1);
        s.cvTime = c.between(0.08, 0.35);
        s.wax = c.between(0, 0.6);
        s.waxS = c.between(20, 70);
        s.heart = c.between(-9, -1);
        break;
      case waxing:
        s.wax = c.between(0.3, 0.8);
        s.waxS = c.between(14, 60);
        s.outPause = c.between(0.1, 0.35);
        break;
    }
    return s;
  }

  /** A stretch of breaths, of about `seconds`. */
  void breathe(const Style& s, double seconds) {
    int from = at, until = std::min(total, at + steps(std::max(1.0, seconds)));
    double phase = c.between(0, 2 * M_PI);
    while (at < until) {
      double gone = (at - from) * stepS;
      double settle = s.settleS > 0 ? 1 / (1 + gone / s.settleS * 2) : 1;
      kinT = s.kin * kinT + std::sqrt(1 - s.kin * s.kin) * c.normal();
      kinV = s.kin * kinV + std::sqrt(1 - s.kin * s.kin) * c.normal();
      slowT = 0.97 * slowT + 0.243 * c.normal();  // wanders over some 30 breaths: three consecutive are kin, more by styles (lit 1995); wide
      slowV = 0.97 * slowV + 0.243 * c.normal();
      slowFoot = 0.98 * slowFoot + 0.199 * c.normal();
      double rate = s.settleS > 0 ? p.rate + (s.rate - p.rate) * settle : s.rate;
      double T = clip(60 / rate * std::exp(s.cvTime * (kinT * 0.93 + slowT * 0.37) - 0.5 * s.cvTime * s.cvTime), 0.9, 18);
      double depth = s.settleS > 0 ? 1 + (s.depth - 1) * settle : s.depth;
      depth *= std::exp(s.cvDepth * (kinV * 0.93 + slowV * 0.37) - 0.5 * s.cvDepth * s.cvDepth);
      if (s.wax > 0) depth *= 1 + s.wax * std::sin(phase + 2 * M_PI * gone / s.waxS);
      depth = clip(depth, 0.04, 4.8);
      double foot = s.floor + 0.04 * c.normal() + p.footWander * slowFoot;
      if (s.manner == talking && c.odds(0.8)) {
        move(foot + clip(0.9 + 0.35 * c.normal(), 0.4, 2.2), c.between(0.4, 0.9), smooth);
        int parts = 1 + int(c.between(1, 4));
        double target = foot - c.between(0, 0.4), start = level;
        for (int k = 1; k <= parts; k++) {
          move(start + (target - start) * k / parts, c.between(0.7, 2.4), line);
          if (c.odds(0.4)) rest(c.between(0.2, 0.8));
        }
      } else if (s.manner == laughing && c.odds(0.6)) {
        move(foot + c.between(0.5, 2), c.between(0.4, 1), smooth);
        int bursts = 3 + int(c.between(0, 9));
        double drop = c.between(0.1, 0.35);
        for (int k = 0; k < bursts; k++) move(std::max(-0.9, level - drop), c.between(0.15, 0.3), line);
      } else if (s.manner == coughing && c.odds(0.35)) {
        move(foot + c.between(1, 2.6), c.between(0.5, 1.2), smooth);
        pulse(at, c.between(2, 16), c.between(1, 2), c.between(3, 9), 0.3 * c.next());
        shake(c.between(1, 3), c.between(0.2, 0.6));
        int bursts = 1 + int(c.between(0, 4));
        for (int k = 0; k < bursts; k++) {
          move(std::max(-0.9, level - c.between(0.5, 1.2)), 0.25, early);
          rest(c.between(0.1, 0.4));
        }
      } else {
        bool sigh = c.next() < s.sighsPerHour * T / 3600;
        if (sigh) {
          depth = std::max(depth, s.depth) + c.between(0.8, 2.2);
          T = std::min(15.0, T * c.between(1.1, 1.7));
        }
        double inP = std::min(s.inPause * T, 7.0), outP = std::min(s.outPause * T * c.between(0.6, 1.4), 7.0);
        if (sigh && c.odds(0.4)) outP = std::min(7.0, outP + c.between(0.5, 4));
        if (c.next() < p.halts * T / 3600) {
          if (c.odds(0.5)) inP = std::min(7.3, inP + c.between(2, 6)), depth = std::min(4.5, depth + (c.odds(0.5) ? c.between(0, 2) : 0));
          else outP = std::min(7.3, outP + c.between(2, 6));
          T += 5;
        }
        double rest1 = std::max(0.5 * T, T - inP - outP);
        double Ti = std::max(0.3, rest1 * s.inShare), Te = std::max(0.35, rest1 - Ti);
        move(foot + depth, Ti, inEase());
        if (inP > 0.12) rest(inP, 0);
        move(foot, Te, outEase());
        if (outP > 0.12) rest(outP, 0);
      }
    }
    int to = std::min(at, total);
    double lasted = (to - from) * stepS;
    if (lasted > 15) {  // little breathing costs a point or two in some, much breathing gains one: wide
      if ((s.manner == shallow || s.manner == sleepy) && c.odds(0.5)) satPush(from, lasted, -c.scale(0.2, p.thin > 0 ? 6 : 3), std::min(lasted, c.scale(15, 60)), c.scale(8, 40));
      if ((s.manner == over || s.manner == deep) && c.odds(0.6)) satPush(from, lasted, c.between(0.2, 1.2) * (1 + p.thin * 0.3), c.scale(6, 25), c.scale(15, 90));
      if (s.manner == walking && c.odds(0.3)) satPush(from, lasted, -c.scale(0.2, 2) * (1 + p.thin * 0.15), std::min(lasted, c.scale(15, 60)), c.scale(8, 40));
    }
    float heart = float(s.heart), moving = float(s.moving);
    if (heart != 0) for (int i = from; i < to; i++) state[i] += heart;
    if (moving > 0) {
      double w = 1;
      for (int i = from; i < to; i++) {
        if (i % 12 == 0) w = c.between(0.75, 1.1);
        motion[i] = std::max(motion[i], float(std::min(1.0, moving * w)));
      }
    }
  }

  /** A small happening of the heart: up by `size`, down again, with an undershoot of `share`. */
  void pulse(int i, double size, double upS, double downS, double share) {
    Knots k;
    k.to(0, 0);
    k.to(upS, size, smooth);
    k.to(upS + downS, -size * share, smooth);
    if (share != 0) k.to(upS + downS * 2, 0, smooth);
    k.addTo(curve, i);
  }
  void shake(double seconds, double size) {
    for (int i = at; i < std::min(total, at + steps(seconds)); i++) motion[i] = std::max(motion[i], float(size * c.between(0.5, 1)));
  }

  /** Saturation moves by `size` during a stretch of breathing, late by the way to the finger. */
  void satPush(int from, double seconds, double size, double inS, double outS) {
    Knots k;
    k.to(0, 0);
    k.to(inS, size, c.pick({1, 2, 2}));
    k.to(std::max(inS + 1, seconds), size * c.between(0.7, 1.1), line);
    k.to(k.end() + outS, 0, c.pick({1, 2, 2}));
    k.addTo(sat, from + steps(satShift + 4));
  }

  // ---- holds

  double anyLevel() {
    switch (c.pick({0.58, 0.17, 0.13, 0.12})) {
      case 0: return c.odds(0.1) ? c.between(3.4, 5) : c.between(2.2, 3.5);  // full, some packed
      case 1: return c.between(0.7, 1.9);                                    // half
      case 2: return c.between(-0.1, 0.15);                                  // after breathing out at ease
    }
    return -c.between(0.35, 1.4);  // emptied
  }

  /** Share of the full-lung time scale that a lung level leaves. FRC: 38 s to 90 % against 123 to 178 full (2.29), PaO2 -50 in 35 s (2.20); emptied: wide. */
  double store(double l) const {
    if (l >= 3) return std::min(1.25, 1 + (l - 3) * 0.1);
    if (l >= 0) return p.storeOut + (1 - p.storeOut) * std::pow(l / 3, p.storeBend);
    return p.storeOut * std::max(0.55, 1 + 0.33 * l);
  }

  /** The heart's curve around a hold of `n` steps that starts at `i0`; seconds of the time scale are this person's. */
  void heartCurve(int i0, int n, const HoldPlan& h) {
    double L = n * stepS, q = p.hurry * c.scale(0.7, 1.4);
    bool lungsFull = h.level > 1.8, empty = h.level < 0.3;
    double D = p.fall * c.scale(0.65, 1.5) * (empty ? c.between(0.9, 1.5) : 1) * (h.walk ? c.between(0.6, 2) : 1);
    double room = p.rest - 33;  // keeps the deepest falls above some 30 (lowest single 28: 3.29)
    D = D / (1 + D / std::max(12.0, room * 2.2));
    int kind = c.odds(0.62) ? p.archetype : p.anyArchetype(c);
    Knots k;
    k.to(0, 0);
    // Before: none, a rise, a dip, a rise that ends before.
    double ahead = 0;
    if (h.known) {
      Knots b;
      double lead = c.scale(4, 60);
      switch (c.pick({3.2, 2.2, 0.8, 0.8})) {
        case 1: ahead = c.scale(1, 14) * (1 + 0.3 * std::max(0.0, p.tense)); break;
        case 2: ahead = -c.scale(1, 8); break;
        case 3: {
          double up = c.scale(2, 14);
          b.to(0, 0);
          b.to(lead * 0.5, up, anyEase(c));
          b.to(lead, 0, anyEase(c));
          b.addTo(curve, i0 - steps(lead));
          b.n = 0;
        }
      }
      if (ahead != 0) {
        b.to(0, 0);
        b.to(lead, ahead, anyEase(c));
        b.addTo(curve, i0 - steps(lead));
      }
    }
    k.v[0] = ahead;
    double begin = 0.5;
    if (p.bump > 0 && c.odds(lungsFull ? 0.62 : 0.3)) {  // early rise, most in full lungs
      double up = p.bump * c.between(0.4, 1.5), rise = c.scale(1.2, 9);
      k.to(rise, ahead + up, smooth);
      begin = rise + c.between(0, 5);
      if (begin > rise + 1) k.to(begin, ahead + up * c.between(0.6, 1.1), smooth);
    } else if (c.odds(0.25)) {  // a sharp dip first, after a deep breath
      double down = c.scale(2, 16);
      k.to(c.between(2, 5), ahead - down, smooth);
      begin = c.between(5, 10);
      k.to(begin, ahead - down * c.between(0, 0.6), smooth);
    }
    auto fallTo = [&](double v, double s, int ease = -1) { k.to(begin += s, v, ease < 0 ? anyEase(c) : ease); };
    double early1 = c.scale(6, 42) * q;  // "reached within 30 s" (3.02), 20 +- 3 immersed (3.09)
    auto stay = [&](double until, double v) {  // a plateau that is not quite one
      while (begin < until) {
        double s = c.scale(6, 40);
        fallTo(v + 1.2 * c.normal(), std::min(s, std::max(1.0, until - begin)), smooth);
        if (k.n > 60) break;
      }
    };
    double e = std::max(0.0, L - begin);
    switch (kind) {
      case 0: stay(L, c.between(-3, 3)); break;                            // none (3.10)
      case 1: fallTo(-D, early1); stay(L, -D); break;                      // fall and plateau (3.02, 3.03)
      case 2: {                                                            // two falls (3.04, 3.14)
        fallTo(-D, early1);
        stay(L * c.between(0.5, 0.8), -D);
        fallTo(-D * c.between(1.2, 2), std::max(5.0, L - begin), c.pick({2, 1, 0, 1}));
        break;
      }
      case 3: fallTo(-D * std::min(2.0, 0.5 + L / 120), std::max(4.0, e), line); break;  // one slope
      case 4: {                                                            // late drop
        stay(L * c.between(0.4, 0.85), c.between(-3, 4));
        fallTo(-D * c.between(0.8, 1.6), c.scale(4, 40));
        stay(L, k.last());
        break;
      }
      case 5: fallTo(-D, e * c.between(0.3, 0.6)); fallTo(-D * c.between(-0.4, 0.5), std::max(3.0, L - begin)); break;  // U
      case 6: {                                                            // rises, then falls
        double up = c.scale(3, 20);
        fallTo(up, e * c.between(0.15, 0.4));
        fallTo(-D * c.between(0.3, 1), std::max(3.0, L - begin));
        break;
      }
      case 7: fallTo(c.scale(3, 30), std::max(3.0, e * c.between(0.4, 1))); stay(L, k.last()); break;  // rises, in the tense
      case 8: {                                                            // steps
        int parts = 2 + int(c.between(0, 4));
        double v = ahead;
        for (int j = 0; j < parts; j++) {
          stay(L * (j + c.between(0.2, 1)) / parts, v);
          v += c.odds(0.75) ? -D * c.between(0.2, 0.9) : D * c.between(0.1, 0.6);
          fallTo(v, c.scale(1, 6), smooth);
        }
        stay(L, v);
        break;
      }
      case 9: { double v = c.scale(2, 16); fallTo(v, c.scale(3, 15)); stay(L, v); break; }  // rises and stays up
      case 10: {                                                           // waves about a fall
        double half = c.scale(4, 22), size = c.scale(1.5, 12), v = -D * c.between(0, 1), growth = c.between(0.9, 1.15);
        for (double s = 1; begin < L && k.n < 80; s = -s) {
          fallTo(v * std::min(1.0, begin / early1) + s * size, half * c.between(0.7, 1.3), smooth);
          size = std::min(16.0, size * growth);
        }
        break;
      }
      case 11: {                                                           // falls, then climbs with the struggle
        fallTo(-D, early1);
        stay(L * c.between(0.4, 0.8), -D);
        fallTo(-D + c.scale(3, 25), std::max(4.0, L - begin), c.pick({1, 1, 0, 2}));
        break;
      }
      case 12: {                                                           // plunge
        stay(c.between(0, 0.5) * L, ahead);
        fallTo(-D * c.between(1.5, 2.6), c.scale(2, 12));
        stay(L, k.last() * c.between(0.6, 1));
        break;
      }
      default: {                                                           // a random path that leans downwards
        double v = ahead, lean = -D / std::max(20.0, L), s;
        while (begin < L && k.n < 60) {
          s = c.scale(3, 30);
          v += (lean + 0.02 * v / 10) * s + 0.28 * D * c.normal() * std::sqrt(s / 15);
          v = clip(v, -1.8 * D - 4, 14);
          fallTo(v, s);
        }
      }
    }
    k.cut(L);
    if (c.odds(0.15) && L > 15) {  // the last seconds: tension or release foreseen
      double v = k.value(L), s = c.between(2, 8);
      k.cut(L - s);
      k.to(L, v + (c.odds(0.7) ? c.scale(2, 14) : -c.scale(2, 10)), late);
    }
    afterwards(k, L, i0 + n, h);
    k.addTo(curve, i0);
  }

  /** What follows a hold: the way back, with overshoot, dip or ringing (back within 5 s when immersed: 3.09; 1 to 60 s asked for). */
  void afterwards(Knots& k, double L, int end, const HoldPlan& h) {
    double t = L, v = k.value(L);
    int kind = c.odds(0.65) ? p.after : c.pick({3, 3, 1.5, 1.5, 1.5, 2, 1.5});
    if (h.level > 0.8 && c.odds(0.3)) {  // drop on breathing out
      double s = c.between(1.5, 4);
      v -= c.scale(1, 14);
      k.to(t += s, v, smooth);
    }
    double lift = c.scale(3, 24) * (0.5 + h.effort * 0.5);
    switch (kind) {
      case 0: k.to(t + c.scale(2, 18), 0, early); break;                                   // straight back
      case 1: k.to(t += c.scale(2, 10), lift, smooth); k.to(t += c.scale(1, 12), lift * c.between(0.5, 1), line);
              k.to(t + c.scale(6, 60), 0, c.pick({1, 1, 2})); break;                       // overshoot
      case 2: k.to(t += c.scale(2, 6), v - c.scale(1, 12), smooth); k.to(t + c.scale(4, 40), 0, smooth); break;  // dip first
      case 3: k.to(t + c.scale(15, 90), 0, c.pick({1, 2, 2})); break;                      // slow
      case 4: {                                                                            // ringing
        double a = lift, half = c.scale(3, 14);
        for (int j = 0; j < 6; j++, a *= -c.between(0.45, 0.9)) k.to(t += half, a, smooth);
        k.to(t + half, 0, smooth);
        break;
      }
      case 5: k.to(t += c.scale(2, 8), lift, smooth); k.to(t += c.scale(4, 20), -c.scale(1, 12), smooth);
              k.to(t + c.scale(10, 70), 0, smooth); break;                                 // over, then under
      default: k.to(t += c.between(1, 12), v, line); k.to(t + c.scale(2, 25), 0, smooth);  // late
    }
    // Sinus arrhythmia comes back at once, late, or stronger.
    Knots g;
    switch (c.pick({3, 2.5, 1.5})) {
      case 1: { double low = c.between(0.1, 0.7); g.to(0, low); g.to(c.between(2, 20), low, line); g.to(g.end() + c.scale(5, 50), 1, smooth); break; }
      case 2: g.to(0, 1); g.to(c.between(1, 8), c.between(1.1, 2.2)); g.to(g.end() + c.scale(5, 60), 1); break;
    }
    if (g.n) g.multiply(gate, end);
  }

  /** Shape `kind` of the loss, 1 at x = 1, 0 at x = 0. */
  static double loss(int kind, double x, double a, double b) {
    switch (kind) {
      case 0: return std::pow(x, a);                                       // power
      case 1: return x < b ? 0.04 * x / b : 0.04 + 0.96 * (x - b) / (1 - b);  // bent line
      case 2: {                                                            // rounded bend
        auto f = [&](double y) { double d = y - b; return d + std::sqrt(d * d + 0.012); };
        return (f(x) - f(0)) / (f(1) - f(0));
      }
      case 3: {                                                            // sigmoid
        double w = 0.1 + 0.05 * a, m = 1.15;
        auto f = [&](double y) { return 1 / (1 + std::exp((m - y) / w)); };
        return (f(x) - f(0)) / (f(1) - f(0));
      }
    }
    return x < b ? 0.18 * x / b : x < 1 ? 0.18 + 0.82 * (x - b) / (1 - b) : 1 + (x - 1) * 1.4 * 0.82 / (1 - b);  // three lines
  }

  /** Saturation around a hold; `shift` seconds of delay that the course itself has. */
  void satCurve(int i0, int n, const HoldPlan& h, double shift) {
    double L = n * stepS;
    double T = p.t90 * tired * store(h.level) * c.between(0.84, 1.14);
    if (h.carriesOn) T *= c.between(0.5, 0.8);
    if (h.walk) T /= c.between(1.5, 2.6);               // exercise: oxygen use (mem), 3.16
    T *= h.before == over ? c.between(0.98, 1.12) : 1;  // 2.25
    if (p.thin > 0) T *= 1 / (1 + p.thin * 0.06);
    int kind = c.odds(0.75) ? p.satShape : c.pick({3, 2.5, 2, 2, 1.5});
    double poor = clip((1 - store(h.level)) / 0.7, 0, 1);  // little in store: falls earlier and straighter
    double a = c.between(2.5, 5.2) * (1 - poor) + c.between(1.4, 3) * poor, b = c.between(0.45, 0.82) * (1 - 0.35 * poor);
    double most = p.steepest * c.between(0.85, 1.2) * (1 + 0.6 * poor) * (h.walk ? 1.6 : 1);
    double extra = c.between(1.5, 7);  // lungs to artery and the first breaths: nadir after the end
    int from = i0 + steps(shift + c.between(0, 3)), nadir = i0 + n + steps(shift + extra);
    if (from >= total) return;
    from = std::max(0, from);
    double start = sat[from], gain = (h.before == deep || h.before == over || h.level > 2) && c.odds(0.5) ? c.between(0, 1) : 0;
    double lost = 0, now = start;
    for (int i = from; i < nadir; i += 4) {
      double s = std::min(L + extra * 0.6, (i - from) * stepS);
      lost = 8 * loss(kind, s / T, a, b);
      if (lost > 30) lost = 30 + (lost - 30) / (1 + (lost - 30) / 30);
      double next = clip(start + gain * std::min(1.0, s / 8) - lost, now - most, 99.9);
      if (next < 41) next = 41;
      for (int j = 0; j < 4 && i + j < std::min(nadir, total); j++) sat[i + j] = float(now + (next - now) * j / 4);
      now = next;
    }
    // The way back: 5 to 40 s, of three shapes; at the finger 30 to 60 s to 95 % (3.28, mem).
    double back = c.scale(5, 38), goal = p.satRest, over1 = c.odds(0.3) ? c.between(0, 1.2) : 0;
    int shape = c.pick({2, 2, 1});
    int m = steps(back);
    for (int j = 0; j < m; j++) {
      int i = nadir + j;
      if (i >= total) break;
      double x = (j + 1.0) / m;
      sat[i] = float(clip(now + (goal + over1 - now) * eased(shape == 0 ? smooth : shape == 1 ? early : line, x), 41, 99.9));
    }
    if (over1 > 0)
      for (int j = 0, tail = steps(c.between(10, 60)); j < tail && nadir + m + j < total; j++)
        sat[nadir + m + j] = float(std::min(99.9, goal + over1 * (1 - double(j) / tail)));
  }

  double satShift = 0;

  /** Preparation, last breath, the hold, and the first breaths after. */
  void hold(HoldPlan h) {
    prepare(h);
    if (full()) return;
    // Last breath.
    if (h.level > 0.5) {
      if (c.odds(0.3)) move(-c.between(0.1, 0.9), c.between(0.8, 4), outEase());
      double s = c.scale(1, 3) * (0.5 + std::min(3.0, h.level) / 2);
      if (h.level > 3.3) {  // packing: small steps
        move(3, s, inEase());
        while (level < h.level && at < total) {
          move(std::min(h.level, level + c.between(0.08, 0.25)), c.between(0.3, 0.6), smooth);
          rest(c.between(0.25, 0.8));
        }
      } else {
        move(h.level, s, inEase());
      }
    } else {
      if (c.odds(0.5)) move(c.odds(0.4) ? c.between(1.5, 3) : c.between(0.6, 1.3), c.between(0.8, 2.5), inEase());
      move(h.level, c.scale(0.7, 6), outEase());
    }
    if (full()) return;
    int i0 = at, n = steps(std::max(8.0, h.lengthS));
    double L = n * stepS;
    // In the hold: the volume shrinks a little (2.14), involuntary movements, swallows, small shifts.
    double shrink = c.between(0.1, 0.6) / 60, wobble = c.scale(0.004, 0.03);
    double v0 = level, slip = 0;
    int end = std::min(total, i0 + n);
    double strain = p.strainFrom * L * c.between(0.85, 1.15);
    if (h.effort < 0.7) strain *= 1.4;
    double next = strain, every = c.between(4, 12), sign = c.odds(0.5) ? 1 : -1, quick = c.between(0.3, 1);
    bool shaken = c.odds(0.3);
    double swing = 0, swingGo = 0;
    double faster = c.between(0.6, 2.2);  // more often just after the start of holds (lit 2002)
    double swallow = swallowEvery(faster);
    for (int i = i0; i < end; i++) {
      double s = (i - i0) * stepS;
      if (s >= next) {
        double size = std::min(1.0, 0.4 + (s - strain) / 60) * c.between(0.5, 1.4);
        swingGo = sign * p.strainLungs * size;
        if (p.strainSize > 0.5) pulse(i, p.strainSize * size * (c.odds(0.8) ? 1 : -1), c.between(0.5, 1.5), c.between(1, 4) * quick + 0.4, c.between(0, 0.8));
        if (shaken) motion[i] = std::max(motion[i], float(0.25 * size));
        every = std::max(1.6, every * c.between(0.85, 1.04));
        next = s + every * c.between(0.7, 1.3);
      }
      if (s >= swallow) {
        swallowAt(i);
        swallow = s + swallowEvery(faster);
      }
      swing += 0.45 * (swingGo - swing);
      swingGo *= 0.55;
      slip = 0.97 * slip + wobble * (c.next() - 0.5);
      lungs[i] = float(clip(v0 - shrink * s + swing + slip, -1.95, 5.9));
      held[i] = 1;
    }
    level = end > i0 ? lungs[end - 1] : level;
    at = end;
    carry = 0;
    double keep = h.walk ? c.between(5, 45) : 0;
    if (h.walk) {
      double moving = c.between(0.5, 1);
      for (int i = i0 - steps(c.between(0, 10)); i < std::min(total, i0 + n + steps(c.between(0, 10))); i++)
        if (i >= 0) motion[i] = std::max(motion[i], float(std::min(1.0, moving * c.between(0.75, 1.1)))), state[i] += float(keep);
    }
    heartCurve(i0, n, h);
    satCurve(i0, n, h, satShift);
    after(h);
  }

  double swallowEvery(double faster) { return -std::log(1 - c.next()) * 3600 / (p.swallows * faster); }
  /** A swallow: up by 13.1 +- 5.6 lying, 8.5 +- 3.8 standing (lit), soon over, often with a dip behind. */
  void swallowAt(int i) {
    double size = clip((10.5 + 4.8 * c.normal()) * std::min(1.8, std::sqrt(p.rsa / 7)), 0.3, 24);
    if (p.fibrillating) size *= 0.2;
    pulse(i, size, c.between(0.8, 2), c.between(1.5, 4.5), c.odds(0.5) ? c.between(0.1, 0.6) : 0);
  }

  void prepare(HoldPlan& h) {
    if (h.carriesOn) return;
    if (!h.known) {
      if (c.odds(0.3)) breathe(in(deep), c.between(4, 15));
      return;
    }
    switch (c.pick({3, 2.4, 1.3, 0.8, 0.5})) {
      case 0: break;
      case 1: h.before = deep; breathe(in(deep), c.scale(8, 120)); break;
      case 2: h.before = over; breathe(in(over), c.scale(6, 60)); break;
      case 3: breathe(in(slow), c.scale(20, 150)); break;
      case 4: breathe(in(shallow), c.scale(15, 90)); break;
    }
  }

  /** The first breaths: of many kinds. */
  void after(const HoldPlan& h) {
    if (full() || h.goesOn) return;
    int kind = c.pick({2, 2, 2, 2, 1, 0.7, 0.6});
    if (level > 0.4) move(c.odds(0.3) ? -c.between(0, 0.7) : c.between(0, 0.3), kind == 4 ? c.between(2.5, 7) : c.scale(0.5, 3), outEase());
    double hard = 0.5 + h.effort * std::min(1.0, h.lengthS / 60);
    if (c.odds(0.25)) shake(c.between(2, 10), c.between(0.1, 0.5));
    switch (kind) {
      case 0: {  // hook breaths
        int m = 2 + int(c.between(0, 5));
        for (int j = 0; j < m && !full(); j++) {
          move(c.between(1.4, 3), c.between(0.5, 1.2), early);
          rest(c.between(0.5, 3));
          move(c.between(0, 0.8), c.between(0.6, 1.8), outEase());
        }
        break;
      }
      case 1: { Style s = in(recovering); s.depth *= 0.6 + 0.4 * hard; s.settleS = c.scale(5, 40); breathe(s, c.scale(8, 60) * hard); break; }
      case 2: breathe(in(deep), c.scale(6, 40)); break;
      case 3: break;
      case 4: breathe(in(slow), c.scale(10, 60)); break;
      case 5: breathe(in(shallow), c.scale(10, 60)); break;
      case 6: breathe(in(coughing), c.scale(5, 20)); break;
    }
  }

  // ---- scripts

  /** Breathing between, of the sorts a person goes through. */
  void between(double seconds) {
    int until = at + steps(seconds);
    while (at < until && !full()) {
      double left = (until - at) * stepS;
      double part = c.odds(0.5) ? left : std::min(left, c.scale(15, 200));
      int manner = c.pick({6, 1.6, 1.1, 0.7, 0.4, 0.7, 0.5, 0.12, 0.2, 0.5, 0.3, 0.3, 0.25, 0.4, 0.5});
      if (manner == laughing || manner == coughing) part = std::min(part, c.between(5, 40));
      if (manner == over) part = std::min(part, c.between(8, 60));
      breathe(in(manner), part);
      if (manner == over && c.odds(0.7)) { Style s = in(shallow); s.depth = c.between(0.2, 0.6); s.outPause = c.between(0.1, 0.5); breathe(s, c.scale(15, 120)); }
      if (manner == walking && c.odds(0.7)) breathe(in(recovering), c.scale(20, 150));
    }
  }

  void noHolds() {
    int theme = c.pick({3, 1.4, 1.6, 1.2, 1, 1, 1.2, 1.3, 1.2, 0.8, 0.9});
    while (!full()) {
      double part = c.scale(30, 500);
      switch (theme) {
        case 0: between(part); break;
        case 1: breathe(in(walking), c.scale(20, 240)); breathe(in(recovering), c.scale(30, 240)); if (c.odds(0.6)) between(c.scale(20, 200)); break;
        case 2: breathe(in(c.odds(0.6) ? slow : paced), part); if (c.odds(0.4)) between(c.scale(20, 100)); break;
        case 3: breathe(in(talking), c.scale(20, 200)); if (c.odds(0.3)) breathe(in(c.odds(0.5) ? laughing : coughing), c.scale(5, 40)); if (c.odds(0.6)) between(c.scale(20, 200)); break;
        case 4: breathe(in(sleepy), part); if (c.odds(0.3)) between(c.scale(20, 100)); break;
        case 5: {  // cold on the face while breathing: slows, with gasps first in some
          between(c.scale(30, 150));
          if (c.odds(0.4)) { Style s = in(over); s.heart = c.between(0, 12); breathe(s, c.between(4, 20)); }
          Knots k;
          double d = p.fall * c.between(0.4, 1.6), s = c.scale(20, 120);
          k.to(0, 0);
          if (c.odds(0.5)) k.to(c.between(2, 6), c.scale(2, 15));
          k.to(k.end() + c.scale(5, 35), -d, early);
          k.to(s + k.end(), -d * c.between(0.2, 1));
          k.to(k.end() + c.scale(3, 40), 0);
          k.addTo(curve, at);
          breathe(in(c.odds(0.5) ? shallow : quiet), s);
          break;
        }
        case 6: breathe(in(pausing), part); if (c.odds(0.4)) between(c.scale(20, 100)); break;
        case 7: breathe(in(c.odds(0.5) ? shallow : irregular), part); if (c.odds(0.5)) between(c.scale(20, 100)); break;
        case 8: {
          breathe(in(c.odds(0.6) ? over : deep), c.scale(15, 120));
          Style s = in(shallow);
          s.outPause = c.between(0.1, 0.5);
          breathe(s, c.scale(20, 150));
          if (c.odds(0.5)) between(c.scale(20, 200));
          break;
        }
        case 9: breathe(in(waxing), part); break;
        case 10: {  // thin air for minutes, by a mask or a tent, breathing on: saturation down, heart up (mem +5 to 20)
          between(c.scale(30, 200));
          double s = c.scale(40, 420), down = std::min(c.scale(3, 20), p.satRest - 62);
          satPush(at, s, -down, std::min(s, c.scale(25, 200)), c.scale(12, 60));
          Style st = in(c.pick({3, 1, 0, 1, 0}));
          st.depth *= c.between(1, 1.7);
          st.heart += c.between(0, 0.9) * down;
          breathe(st, s);
          break;
        }
      }
    }
    // Trends that look like a hold's and are none: relaxing, thinking, being startled.
    int m = c.odds(0.5) ? 0 : 1 + int(c.between(0, 5));
    for (int j = 0; j < m; j++) {
      HoldPlan h;
      h.level = c.between(-0.5, 3);
      h.known = c.odds(0.5);
      h.effort = 0.3;
      heartCurve(int(c.next() * total), steps(c.scale(10, 150)), h);
    }
  }

  double longest(double l) const {
    if (l > 1.8) return p.ability;
    if (l > 0.4) return p.ability * 0.75;
    if (l > -0.3) return p.ability * 0.42;  // full exhalation 151 of 289 s in elite (3.17)
    return p.ability * 0.34;
  }

  HoldPlan plan(double seconds, double l, bool known = true) {
    HoldPlan h;
    h.level = l;
    h.known = known;
    h.lengthS = seconds < 8 ? c.between(8, 14) : std::min(480.0, seconds);
    h.effort = clip(h.lengthS / std::max(8.0, longest(l)), 0.15, 1.15);
    return h;
  }

  void holds() {
    double t = p.train > 0.6 ? 1 : 0;
    int kind = c.pick({1.6, 1 + t, 0.8 + t, 1 + 2 * t, 2.1 - 1.7 * t, 0.7, 0.6, 1.3});
    double l = anyLevel(), lead = c.odds(0.25) ? c.between(2, 15) : c.scale(12, 150);
    if (kind == 0) lead = c.between(0.05, 0.7) * (total * stepS);  // one or two, anywhere
    if (c.odds(0.12)) breathe(in(walking), c.scale(10, 60));
    between(lead);
    int made = 0;
    double share = c.between(0.38, 0.72), pause = c.scale(40, 200), shrink = c.scale(5, 25), grow = c.between(0.05, 0.14), trendOfSeries = c.between(0.96, 1.02);
    int most = kind == 0 ? (c.odds(0.6) ? 1 : 2) : kind == 3 ? 2 + int(c.between(0, 4)) : kind == 4 ? 3 + int(c.between(0, 14)) : 4 + int(c.between(0, 8));
    while (!full() && made < most) {
      HoldPlan h;
      switch (kind) {
        case 0: h = plan(longest(l) * c.between(0.3, 1.05), l); break;
        case 1: h = plan(longest(l) * share * c.between(0.97, 1.03), l); break;
        case 2: h = plan(longest(l) * std::min(1.0, share * 0.7 + grow * made), l); break;
        case 3: h = plan(longest(l) * c.between(0.75, 1.08), l); break;
        case 4: {
          double lv = c.odds(0.5) ? l : anyLevel();
          h = plan(lv < 0.3 ? c.scale(8, 30) : c.scale(8, 60), lv, c.odds(0.4));
          break;
        }
        case 5: {
          double lv = c.odds(0.5) ? c.between(-0.1, 0.1) : -c.between(0.4, 1.4);
          h = plan(p.train > 0.8 ? longest(lv) * c.between(0.4, 1) : c.scale(8, 30), lv);
          break;
        }
        case 6: {
          h = plan(std::min(longest(l) * 0.5, c.scale(8, 90)), l);
          h.walk = true;
          h.effort = clip(h.effort * 2, 0.3, 1.1);
          break;
        }
        default: {
          double lv = anyLevel();
          h = plan(longest(lv) * c.scale(0.15, 1), lv, c.odds(0.75));
        }
      }
      h.goesOn = c.odds(kind == 4 || kind == 7 ? 0.1 : 0.02);
      hold(h);
      tired = clip(tired * trendOfSeries, 0.75, 1.2);  // deeper and deeper after over-breathing (2.25), the other way by the spleen (9.15): wide
      if (h.goesOn && !full()) {  // one stolen breath, and on
        double lv = h.level > 0.5 ? h.level : c.between(0.3, 2.5);
        move(std::max(-0.5, lv - c.between(0.5, 2)), c.between(0.6, 2), outEase());
        HoldPlan again = plan(h.lengthS * c.between(0.2, 0.7), lv, false);
        again.carriesOn = true;
        hold(again);
      }
      made++;
      switch (kind) {
        case 0: between(c.scale(30, 300)); break;
        case 1: between(std::max(8.0, pause - shrink * made)); break;
        case 2: between(pause * c.between(0.9, 1.1)); break;
        case 3: between(c.scale(60, 360)); break;
        case 4: between(c.scale(8, 70)); break;
        case 6: if (c.odds(0.5)) breathe(in(walking), c.scale(10, 60)); between(c.scale(20, 120)); break;
        default: between(c.scale(15, 150));
      }
    }
    while (!full()) between(c.scale(30, 300));
  }

  // ---- the heart and the finger

  /** Couples breath to heart: volume, inflow or both through poles; unit of its own until calibrated. */
  struct Coupler {
    int kind;
    double fast, slow, keepBack, second, backShare, f = 0, s = 0, g = 0, before = 0, size = 1;
    double operator()(double v) {
      double u;
      switch (kind) {
        case 2: u = std::max(0.0, v - before) * 4; break;                       // inflow only
        case 4: u = 0.7 * v + 0.8 * (v - before) - 0.4 * std::max(0.0, before - v); break;  // volume, and a pull on breathing out
        default: u = v;
      }
      before = v;
      f += fast * (u - f);
      g += second * (f - g);
      double y = kind == 1 ? g : f;
      s += slow * (y - s);
      y -= backShare * s;
      return (kind == 3 ? -y : y) * size;
    }
  };

  void finish(Body& body, int pre) {
    // Coupling: corner 7.2 +- 1.5 /min, 21 dB a decade above (lit Hirsch & Bishop 1981): one pole of 1.33 s; adaptation to steady
    // volume in 4 to 40 s: wide.
    double fast = 1 - std::exp(-stepS / (1.33 * c.scale(0.6, 1.7)));
    double slowS = c.scale(3.5, 16);
    if (c.odds(0.12)) slowS = c.scale(16, 45);
    Coupler couple{p.coupling, fast, 1 - std::exp(-stepS / slowS), 0, 1 - std::exp(-stepS / c.scale(0.3, 1.5)), c.between(0.85, 1)};
    {
      Coupler trial = couple;  // calibrated to this person's ordinary breath
      double T = 60 / p.rate, low = 1e9, high = -1e9;
      for (int i = 0, n = steps(8 * T); i < n; i++) {
        double x = std::fmod(i * stepS / T, 1.0);
        double v = x < p.inShare ? eased(smooth, x / p.inShare) : x < 0.9 ? 1 - eased(smooth, (x - p.inShare) / (0.9 - p.inShare)) : 0;
        double y = trial(v);
        if (i > n * 3 / 4) low = std::min(low, y), high = std::max(high, y);
      }
      couple.size = p.rsa / std::max(0.02, high - low);
    }
    double bound = 14 + p.rsa * c.between(0.6, 1.6);  // deep breaths: 20 +- 5 at slow rates, not six times the ordinary (lit)
    double withdrawal = 1 / c.between(12, 60);        // weaker as the rate rises: wide
    int lag = steps(c.odds(0.15) ? c.between(0.8, 2.5) : c.between(0, 0.8));
    double wander = c.scale(0.05, 0.5);
    Wander gain(c, c.scale(8, 120), wander, stepS * 4);

    // Noises; each with its own share in holds: wide. LF about as large as RSA in many (mem).
    double scaleAll = std::exp(0.15 * p.vagal - 0.15 * p.age) * std::sqrt(65 / p.rest * p.odd);
    double lfSize = c.scale(0.25, 3.8) * scaleAll, vlfSize = c.scale(0.3, 3.8), pinkSize = c.scale(0.3, 2.8) * scaleAll;
    double ghostSize = c.odds(0.22) ? c.scale(0.4, 3) * scaleAll : 0;
    double burstSize = c.odds(0.3) ? c.scale(1.5, 9) * scaleAll : 0;
    if (p.fibrillating) { lfSize *= 0.4; pinkSize = c.scale(2, 8); ghostSize = 0; }
    Band lf(c.between(0.05, 0.135), c.scale(0.008, 0.06)), ghost(p.rate / 60 * c.between(0.85, 1.15), c.scale(0.01, 0.08));
    Band burst(c.between(0.03, 0.2), c.scale(0.01, 0.05));
    Coloured pink(c, c.between(-0.3, 0.5));
    Wander vlf(c, c.scale(12, 90), vlfSize), loud(c, c.scale(10, 60), 1, stepS * 4), call(c, c.scale(8, 40), 1, stepS * 4);
    bool same = c.odds(0.4);
    double lfHeld = same ? 1 : c.scale(0.3, 2.5), pinkHeld = same ? 1 : c.scale(0.4, 1.8), ghostHeld = c.between(0, 1.2);
    double vlfHeld = same ? 1 : c.between(0.4, 1.6);

    // Slow states: up in 5 to 25 s, down in 12 to 70 s (mem).
    double up = 1 - std::exp(-stepS / c.scale(5, 25)), down = 1 - std::exp(-stepS / c.scale(12, 70));
    double base = p.rest, drift = c.odds(0.5) ? 0 : 6 * c.normal() / total, settling = c.odds(0.35) ? c.scale(2, 22) : 0;
    double settleKeep = std::exp(-stepS / c.scale(30, 400));

    // Happenings in time, holds included.
    for (double t = swallowEvery(1); t < total * stepS; t += swallowEvery(1))
      if (!held[steps(t) < total ? steps(t) : total - 1]) swallowAt(steps(t));
    auto poisson = [&](double perHour) { return -std::log(1 - c.next()) * 3600 / perHour; };
    for (double t = poisson(p.arousals); t < total * stepS; t += poisson(p.arousals)) {
      Knots k;
      double size = c.scale(3, 26);
      k.to(0, 0);
      k.to(c.between(2, 7), size);
      k.to(k.end() + c.scale(3, 30), -size * c.between(-0.2, 0.4));
      k.to(k.end() + c.scale(5, 40), 0);
      k.addTo(curve, steps(t));
    }
    for (double t = poisson(p.fidgets); t < total * stepS; t += poisson(p.fidgets)) {
      int i0 = steps(t), n = steps(c.scale(0.5, 12));
      double size = c.scale(0.05, 0.6);
      if (i0 < total && held[i0] && c.odds(0.6)) continue;
      for (int i = i0; i < std::min(total, i0 + n); i++) motion[i] = std::max(motion[i], float(size * c.between(0.5, 1)));
      if (size > 0.2 && c.odds(0.6)) pulse(i0, size * c.between(5, 40), c.between(1, 5), c.between(4, 20), 0);
    }

    for (double t = poisson(2.5); t < total * stepS; t += poisson(2.5)) {  // sits up, lies down: a step; mem +8 to 25 on standing
      int i0 = steps(t), from = i0, until = i0 + steps(c.scale(20, 600));
      if (i0 >= total || held[i0]) continue;
      float size = float(c.odds(0.7) ? c.between(3, 22) : -c.between(2, 10));
      for (int i = from; i < std::min(total, until); i++) state[i] += size;
      for (int i = from, m = steps(c.between(1, 6)); i < std::min(total, from + m); i++) motion[i] = std::max(motion[i], float(c.between(0.2, 0.7)));
      if (size > 0) pulse(i0, size * c.between(0, 1.2), c.between(4, 12), c.between(6, 20), 0);
    }

    Course& out = body.course;
    int n = total - pre;
    out.heart.resize(n);
    out.arterial.resize(n);
    double st = state[0], quietHeld = 0, g = 1, lo = 1, bu = 0, sat1 = sat[0];
    double dip = 0, dipGo = 0, dipNext = c.odds(0.3) ? poisson(c.scale(2, 20)) : 1e9;
    double satKeep = 1 - std::exp(-stepS / c.scale(0.8, 4)), satNoise = c.scale(0.04, 0.5), satWander = p.thin > 0 ? c.between(0.5, 2.5) : c.scale(0.1, 0.8);
    Wander slowSat(c, c.scale(20, 150), satWander, stepS * 4), quickSat(c, c.scale(1, 8), satNoise, stepS * 2);
    double air = 0, airGain = p.thin > 0 ? c.between(0.5, 4) : c.odds(0.3) ? c.between(0, 1) : 0, airKeep = stepS / c.scale(10, 40), prev = 0;
    double quick = 0, quick2 = 0, slow1 = slowSat.value, slow2 = slow1;
    for (int i = 0; i < total; i++) {
      bool h = held[i];
      quietHeld += 0.06 * ((h ? 1.0 : 0.0) - quietHeld);  // 4 s
      if (i % 4 == 0) {
        g = std::max(0.1, 1 + gain(c));
        double z = loud(c);
        lo = std::min(2.6, 0.35 + 0.65 * z * z);
        if (burstSize > 0) { double y = call(c); bu = y > 0.9 ? std::min(1.5, y - 0.9) : 0; }
        slow1 = slow2;
        slow2 = slowSat(c);
      }
      st += (state[i] > st ? up : down) * (state[i] - st);
      settling *= settleKeep;
      double slowly = base + drift * i + st + settling;
      if (slowly < 47) slowly = 47 - (47 - slowly) / (1 + (47 - slowly) / 9);  // long stretches below 40 are rare (mem)
      double trend = slowly + curve[i] * p.still;
      double r = couple(lungs[std::max(0, i - lag)]) * g * gate[i];
      double above = trend - base;
      if (above > 0) r /= 1 + above * withdrawal;
      r = r / (1 + std::fabs(r) / bound);
      double y = vlf(c) * (1 + (vlfHeld - 1) * quietHeld) + pink(c) * pinkSize * (1 + (pinkHeld - 1) * quietHeld)
          + lf(c) * lfSize * lo * (1 + (lfHeld - 1) * quietHeld);
      if (ghostSize > 0) y += ghost(c) * ghostSize * (1 + (ghostHeld - 1) * quietHeld);
      if (burstSize > 0) y += burst(c) * burstSize * bu;
      y = trend + (r + y) * p.still;
      if (y < 40) y = 40 - (40 - y) / (1 + (40 - y) / 14.5);  // single slowest 28 (3.29), 38 in faints (9.05)
      if (y > 185) y = 185 + (y - 185) * 0.4;
      // Saturation: path, wander, breath by breath in thin air, dips that mean nothing.
      double breathIn = std::max(0.0, double(lungs[i]) - prev) * 4;
      prev = lungs[i];
      air += airKeep * (std::min(2.0, breathIn) - 0.45 - air);
      if (i * stepS >= dipNext) {
        dipGo = c.scale(0.5, 7);
        dipNext = i * stepS + poisson(12) + 5;
      }
      dip += 0.06 * (dipGo - dip);
      dipGo *= 0.97;
      if (i % 2 == 0) { quick2 = quick; quick = quickSat(c); }
      sat1 += satKeep * (sat[i] - sat1);
      double s = sat1 + slow1 + (slow2 - slow1) * (i % 4) * 0.25 + 0.5 * (quick + quick2) + airGain * clip(air, -0.6, 1) * (h ? 0.3 : 1) - dip;
      if (s > 98.5) s = 98.5 + (s - 98.5) / (1 + (s - 98.5) / 1.4);
      int o = i - pre;
      if (o >= 0) {
        out.heart[o] = float(clip(y, 27, 215));
        out.arterial[o] = float(clip(s, 40, 100));
      }
    }
    auto slice = [&](auto& v) { if (pre > 0) v.erase(v.begin(), v.begin() + pre); };
    for (float& x : lungs) x = float(clip(x, -2, 6));
    slice(lungs);
    slice(motion);
    slice(held);
    out.lungs = std::move(lungs);
    out.motion = std::move(motion);
    out.held = std::move(held);
  }
};

/** A session of about `wantS` seconds. */
inline Body draw(Chance& c, double wantS) {
  double keepS = std::max(60.0, wantS) * (c.odds(0.7) ? c.between(1, 1.12) : c.between(1, 1.4));
  double preS = c.odds(0.3) ? c.scale(8, 400) : 0;  // begun before it is recorded
  int n = int(std::ceil(keepS)) * stepsPerRow, pre = int(preS) * stepsPerRow;
  Session s(c, n + pre);
  Body body;
  // The way to the finger: partly in the course, partly left to the sensors; all of one, or shared.
  double inside = c.pick({3, 2, 1.5}) == 0 ? 0 : c.odds(0.6) ? 1 : c.between(0.2, 0.8);
  s.satShift = s.p.lagS * inside;
  body.lagS = s.p.lagS * (1 - inside);
  if (body.lagS < 0.5) body.lagS = 0;
  body.averagingS = c.scale(1.5, 16);       // 3 to 21 s (4.04)
  body.jitterMs = c.scale(0.6, 12);         // wide
  body.fibrillation = s.p.fibrillating ? c.between(0.08, 0.25) : 0;
  body.ectopicsPerHour = c.odds(0.07) ? c.scale(20, 700) : c.odds(0.4) ? 0 : c.scale(0.3, 15);
  if (c.odds(0.37)) s.noHolds();
  else s.holds();
  s.finish(body, pre);
  return body;
}

}  // namespace world_curves
