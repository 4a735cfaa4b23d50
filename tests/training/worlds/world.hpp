// What a world of practice sessions is made of (SIMULATED): the stream of chance, and what a world hands to the sensors of
// practice.cpp. Worlds are by authors who have read neither the detector nor one another (tests/training/README.md).

#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <initializer_list>
#include <vector>

constexpr double stepS = 0.25;
constexpr int stepsPerRow = 4;

struct Chance {
  uint32_t a, b, c, d = 1;
  explicit Chance(uint64_t seed)
      : a(0x9e3779b9u ^ uint32_t(seed)), b(0x243f6a88u ^ uint32_t(seed >> 32)), c(0xb7e15162u + uint32_t(seed)) {
    for (int i = 0; i < 20; i++) next();
  }
  double next() {  // sfc32 (public domain)
    uint32_t t = a + b + d;
    d += 1;
    a = b ^ (b >> 9);
    b = c + (c << 3);
    c = (c << 21) | (c >> 11);
    c += t;
    return t / 4294967296.0;
  }
  double between(double low, double high) { return low + (high - low) * next(); }
  double scale(double low, double high) { return low * std::exp(std::log(high / low) * next()); }
  double normal() { return std::sqrt(-2 * std::log(1 - next())) * std::cos(2 * M_PI * next()); }
  bool odds(double share) { return next() < share; }
  int pick(std::initializer_list<double> weights) {
    double left = 0;
    for (double w : weights) left += w;
    left *= next();
    int i = 0;
    for (double w : weights) {
      left -= w;
      if (left < 0) return i;
      i++;
    }
    return i - 1;
  }
};

/** First-order noise of standard deviation `size`. */
struct Wander {
  double keep, push, value;
  Wander(Chance& c, double tauS, double size, double step = stepS)
      : keep(std::exp(-step / tauS)), push(size * std::sqrt(1 - keep * keep)), value(size * c.normal()) {}
  double operator()(Chance& c) { return value = keep * value + push * c.normal(); }
};

/** One session, each array with a number every 0.25 s. `heart`: instantaneous rate, /min, with everything that moves it (each breath
 * too); beats are made of it by the sensors. `lungs`: volume above its resting level, in ordinary breaths of this person (about 0 to 1
 * in quiet breathing, 3 with full lungs, -0.8 emptied). `arterial`: saturation, per cent, of the blood that comes to the finger
 * `Body.lagS` later. `motion`: 0 at rest to 1 walking. `held`: 1 where the airway is closed or nothing is breathed of one's own will. */
struct Course {
  std::vector<float> heart, lungs, arterial, motion;
  std::vector<uint8_t> held;
};

/** A session and what the sensors must know of this body. */
struct Body {
  Course course;
  /** Noise of each beat's place. */
  double jitterMs;
  /** From `arterial` to the finger, 0 if the course has it already; then the oximeter's own averaging. */
  double lagS, averagingS;
  /** Spread of the beats' phase in fibrillation, 0 without; single early beats. */
  double fibrillation, ectopicsPerHour;
};
