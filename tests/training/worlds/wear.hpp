// The sensors people wear in practice sessions (SIMULATED): what straps, finger oximeters and wrist sensors report of a Body. Written
// from published accuracies, without sight of the detector. Sources beside constants: [4.03] is a row of reference/published-values.md;
// "memory": from memory; "wide": our choice, wide. Time of row s is [s, s + 1) seconds; a reading in row s may know all of that second.

#pragma once

#include <limits>

#include "world.hpp"

namespace world_wear {

struct Beat { double endMs, rrMs; };
struct Worn {
  std::vector<Beat> beats;
  std::vector<float> strapRate, pulseRate, spo2;
};
enum Kit { strapWithBeats, strapOnly, beatsOnly, oximeterOnly, strapAndOximeter, beatsAndSaturation, wristOnly, beatsFromLight, everything };

/** A wrist's rate comes over the same service as a strap's, so it stands in strapRate (else in pulseRate). */
constexpr bool wristInStrapRate = true;

namespace inner {

constexpr float nothing = std::numeric_limits<float>::quiet_NaN();

struct Hit {  // a beat of the heart, or one seen by a sensor; rr 0: not known to it
  double t, rr;
  int kind;  // 0 ordinary, 1 early from the ventricle, 2 early from the atrium
};

struct Seconds {  // the course by whole seconds
  int n = 0;
  std::vector<float> move, stir, lungs, rate, flow;
};

inline int whole(Chance& c, double low, double high) { return int(c.between(low, high + 0.999)); }

/** Beats by phase; early beats; fibrillation. */
inline std::vector<Hit> heartbeats(Chance& c, const Body& body) {
  const auto& heart = body.course.heart;
  const int n = int(heart.size());
  std::vector<Hit> out;
  out.reserve(n / 2 + 64);
  double phase = c.next(), need = 1, after = 0, last = -9;
  int kind = 0;
  const double perSecond = body.ectopicsPerHour / 3600;
  const bool clustered = body.ectopicsPerHour > 60 && c.odds(0.4);             // wide
  const double ventricular = c.odds(0.5) ? c.between(0.8, 1) : c.between(0, 1);  // memory: a person's are mostly of one source
  const double coupling = c.between(0.52, 0.78);                               // memory: fixed coupling in most
  const double jitter = body.jitterMs / 1000;
  for (int i = 0; i < n; i++) {
    const double rate = i + 1 < n ? 0.5 * (heart[i] + heart[i + 1]) : heart[i];
    const double step = std::max(rate, 20.0) / 60 * stepS;
    double from = phase;
    phase += step;
    while (phase >= need) {
      double t = (i + (need - from) / step) * stepS;
      from -= need;
      phase -= need;
      if (jitter > 0) t += jitter * std::clamp(c.normal(), -3.0, 3.0);
      t = std::max(t, last + 0.2);
      out.push_back({t, 0, kind});
      last = t;
      const int was = kind;
      kind = 0;
      if (after > 0) {
        need = after;
        after = 0;
        continue;
      }
      need = body.fibrillation > 0 ? std::clamp(1 + body.fibrillation * c.normal(), 0.42, 2.3) : 1;
      const double p = perSecond * 60 / rate * (clustered ? 0.7 : 1) + (clustered && was == 0 && out.size() > 1 && out[out.size() - 2].kind ? 0.25 : 0);
      if (p > 0 && c.next() < p) {
        need = std::max(std::clamp(coupling + 0.03 * c.normal(), 0.4, 0.9), 0.27 * rate / 60);
        if (c.next() < ventricular) {
          kind = 1;
          after = c.odds(0.93) ? 2 - need : std::max(1.08 - need, 0.27 * rate / 60);  // full pause; seldom interpolated (memory)
        } else {
          kind = 2;
          after = c.between(1, 1.18);
        }
      }
    }
  }
  return out;
}

/** 1 where the packet of this second arrives. */
inline std::vector<uint8_t> packets(Chance& c, int level, int n) {
  std::vector<uint8_t> got(n, 1);
  // Shares lost: wide
  const double lose = level == 0 ? (c.odds(0.6) ? 0 : c.scale(2e-4, 6e-3)) : level == 1 ? c.scale(5e-4, 0.05) : c.scale(0.005, 0.2);
  const double burst = level == 0 ? (c.odds(0.75) ? 0 : c.scale(1e-4, 1e-3)) : level == 1 ? c.scale(1e-4, 4e-3) : c.scale(1e-3, 0.02);
  const double stay = c.between(0.4, 0.85);
  bool in = false;
  if (lose + burst > 0)
    for (int s = 0; s < n; s++) {
      const double u = c.next();
      in = in ? u < stay : u < burst;
      if (in || u > 1 - lose) got[s] = 0;
    }
  const auto off = [&](int from, int length) {
    for (int s = std::max(from, 0); s < std::min(n, from + length); s++) got[s] = 0;
  };
  const int links = level == 0 ? c.odds(0.03) : level == 1 ? c.pick({0.6, 0.25, 0.1, 0.05}) : c.pick({0.3, 0.25, 0.2, 0.15, 0.1});
  for (int k = 0; k < links; k++) off(int(c.next() * n), int(c.scale(5, 90)));  // our choice: 5 to 90 s
  if (c.odds(level == 0 ? 0.05 : level == 1 ? 0.12 : 0.25)) off(0, int(c.scale(2, 60)));               // put on or linked late
  if (c.odds(level == 0 ? 0.01 : level == 1 ? 0.04 : 0.1)) off(n - int(c.scale(4, 0.3 * n)), n);      // taken off, or empty battery
  return got;
}

/** How a device makes one rate of its beats and shows it. */
struct RateWays {
  int kind, beats, every, refresh, rejectsMost;
  double seconds, gain, reject, slew, lag, step, hold, irregular, zeroS;
  bool zero, down;
};

inline RateWays rateWays(Chance& c, bool light) {
  RateWays w;
  w.kind = c.pick({0.3, 0.12, 0.28, 0.27, 0.03});                  // mean, median, exponential, window of time, count: wide
  w.beats = int(light ? c.scale(3, 20.9) : c.scale(1, 20.9));      // our choice: 1 to 20 beats
  w.seconds = c.scale(3, 15);                                      // our choice: 3 to 15 s
  if (w.kind == 4) w.seconds = c.between(10, 15);
  w.gain = 1.6 / (1 + w.beats);
  w.reject = c.odds(light ? 0.6 : 0.45) ? c.between(0.12, 0.35) : 9;
  w.rejectsMost = whole(c, 2, 6);
  w.slew = c.odds(0.15) ? c.scale(1.5, 8) : 1e9;
  w.lag = light ? c.between(0.3, 3) : c.odds(0.6) ? c.between(0, 0.7) : c.between(0.3, 3);
  w.step = std::initializer_list<double>{1, 0.5, 0.1}.begin()[c.pick({0.9, 0.07, 0.03})];
  w.down = c.odds(0.15);
  w.hold = c.odds(0.15) ? c.between(2.5, 5) : c.scale(5, 30);      // our choice: 5 to 30 s
  w.zero = c.odds(light ? 0.15 : 0.3);
  w.zeroS = c.scale(2, 200);
  w.every = std::initializer_list<int>{1, 2, 3, 4}.begin()[c.pick({0.86, 0.07, 0.03, 0.04})];  // [4.14]: 1 to 4 s
  w.irregular = c.odds(0.05) ? c.between(0.25, 0.8) : 1;
  w.refresh = c.odds(0.82) ? 1 : whole(c, 2, 4);
  return w;
}

/** Rates of seen beats. mute: 1 where the device says nothing; wrong: 1, or a factor of a wrongly taken pulse, or minus a rate. */
inline std::vector<float> rates(Chance& c, const std::vector<Hit>& seen, const RateWays& w, const std::vector<uint8_t>& got,
                                const std::vector<uint8_t>* mute, const std::vector<float>* wrong) {
  const int n = int(got.size());
  std::vector<float> out(n, nothing);
  std::vector<double> rr, at;
  rr.reserve(seen.size());
  at.reserve(seen.size());
  size_t j = 0;
  int rejected = 0;
  double ref = 0, slow = 0, shown = 0, raw = 0, last = -99, display = 0;
  bool any = false;
  const int offset = whole(c, 0, w.every - 1);
  double few[24];
  for (int s = 0; s < n; s++) {
    const double now = s + 1 - w.lag;
    for (; j < seen.size() && seen[j].t <= now; j++) {
      const double r = seen[j].rr;
      if (r <= 0) continue;
      last = seen[j].t;
      if (ref > 0 && std::fabs(r / ref - 1) > w.reject && rejected < w.rejectsMost) {
        rejected++;
        continue;
      }
      if (rejected >= w.rejectsMost) ref = slow = r;
      rejected = 0;
      ref = ref > 0 ? ref + 0.3 * (r - ref) : r;
      slow = slow > 0 ? slow + w.gain * (r - slow) : r;
      rr.push_back(r);
      at.push_back(last);
    }
    const int have = int(rr.size());
    if (!have || now - last > w.hold) {
      if (last > -9 && w.zero && got[s] && (s + offset) % w.every == 0 && now - last < w.hold + w.zeroS) out[s] = 0;
      if (have && now - last > w.hold) {  // starts anew
        rr.clear();
        at.clear();
        ref = slow = 0;
        any = false;
      }
      continue;
    }
    double v = 0;
    if (w.kind == 2) v = 60 / slow;
    else if (w.kind <= 1) {
      const int k = std::min(w.beats, have);
      if (w.kind == 0) {
        double sum = 0;
        for (int i = have - k; i < have; i++) sum += rr[i];
        v = 60 * k / sum;
      } else {
        std::copy(rr.end() - k, rr.end(), few);
        std::nth_element(few, few + k / 2, few + k);
        v = 60 / few[k / 2];
      }
    } else {
      double sum = 0;
      int k = 0;
      for (int i = have - 1; i >= 0 && at[i] > now - w.seconds; i--) sum += rr[i], k++;
      if (!k) v = raw > 0 ? raw : 60 / rr.back();
      else if (w.kind == 3 || now < w.seconds || at.front() > now - w.seconds) v = 60 * k / sum;
      else v = 60 * k / w.seconds;
    }
    raw = v;
    if (wrong && (*wrong)[s] != 1) v = (*wrong)[s] < 0 ? -(*wrong)[s] : v * (*wrong)[s];
    shown = any ? shown + std::clamp(v - shown, -w.slew, w.slew) : v;
    if (!any || s % w.refresh == 0) display = (w.down ? std::floor(shown / w.step + 1e-6) : std::round(shown / w.step)) * w.step;
    any = true;
    if (!got[s] || (mute && (*mute)[s]) || (s + offset) % w.every) continue;
    if (w.irregular < 1 && !(c.next() < w.irregular)) continue;
    out[s] = float(std::clamp(display, 20.0, 250.0));
  }
  return out;
}

/** Beats as they come over the air and are placed on the time line. */
inline void report(Chance& c, const std::vector<Hit>& seen, const std::vector<uint8_t>& got, bool light, std::vector<Beat>& out) {
  const int n = int(got.size());
  out.reserve(seen.size());
  const int place = light ? c.pick({0.5, 0.25, 0.05, 0.2}) : c.pick({0.3, 0.3, 0.08, 0.32});  // own time, back from arrival, at arrival, running sum
  const double drift = c.odds(0.05) ? c.between(-0.004, 0.004) : 4e-5 * c.normal();           // memory: tens of ppm; wide
  const double every = c.pick({0.9, 0.07, 0.03}) == 0 ? 1 : c.odds(0.7) ? 2 : 0.5;
  const double latency = c.between(0.03, 0.5), waver = c.scale(0.005, 0.15), fixed = c.odds(0.6) ? c.between(0, 0.3) : c.between(0, 1.2);
  const bool later = c.odds(0.3);  // a packet not got is sent again with the next one
  const double longest = std::initializer_list<double>{2, 2.55, 3, 4, 8}.begin()[c.pick({0.05, 0.15, 0.25, 0.35, 0.2})];
  const double grain = c.pick({0.7, 0.1, 0.12, 0.08});
  // Sampling of the wave: 1 kHz and finer, 2, 4, 8 ms straps; 1 to 20 ms light (memory)
  const double sample = light ? (c.odds(0.5) ? 0 : c.odds(0.6) ? 0.01 : c.odds(0.5) ? 0.005 : 0.02) : grain == 0 ? 0 : grain == 1 ? 0.002 : grain == 2 ? 0.004 : 0.008;
  double most = 0, sum = -1;
  size_t j = 0, from = 0;
  for (double T = c.between(0, every); T < n; T += every) {
    while (j < seen.size() && seen[j].t + latency <= T) j++;
    if (j == from) continue;
    if (!got[int(T)]) {
      if (!later || j - from > 9) from = j;  // a packet holds nine intervals [5: 20 bytes]
      continue;
    }
    double arrival = T + std::fabs(waver * c.normal());
    double total = 0;
    for (size_t i = from; i < j; i++) total += seen[i].rr;
    double back = arrival - total;
    for (size_t i = from; i < j; i++) {
      double r = seen[i].rr;
      if (!(r > 0.19)) continue;
      back += r;
      double end;
      if (place == 0) end = seen[i].t * (1 + drift) + fixed;
      else if (place == 1) end = back;
      else if (place == 2) end = arrival;
      else {
        sum = sum < 0 ? back : sum + r;
        if (std::fabs(sum - back) > 1.2) sum = back;
        end = sum;
      }
      if (r > longest) continue;
      r *= 1 + drift;
      if (sample > 0) r = std::round(r / sample) * sample;
      end = std::max({end, most - 1.2, 0.0});
      if (end >= n) continue;
      most = std::max(most, end);
      out.push_back({std::round(end * 1000), light ? std::round(r * 1000) : std::round(r * 1024) * (1000.0 / 1024)});
    }
    from = j;
  }
}

/** Device's own handling of intervals out of line. */
inline void smoothAway(Chance& c, std::vector<Hit>& seen, int way, double limit) {
  double ref = 0;
  int run = 0;
  for (size_t i = 0; i < seen.size(); i++) {
    double& r = seen[i].rr;
    if (r <= 0) continue;
    if (ref > 0 && std::fabs(r / ref - 1) > limit && run < 3) {
      run++;
      if (way == 0) r = ref * (1 + 0.01 * c.normal());             // old mean in its place
      else if (way == 1 && i + 1 < seen.size() && seen[i + 1].rr > 0) {  // shared evenly with the next
        const double half = 0.5 * (r + seen[i + 1].rr);
        r = seen[i + 1].rr = half;
      } else if (way == 2) r = 0;                                  // not reported
      else r = ref + 0.4 * (r - ref);                              // drawn towards the mean
      continue;
    }
    run = 0;
    ref = ref > 0 ? ref + 0.2 * (r - ref) : r;
  }
}

/** What the strap's electrodes see. */
inline std::vector<Hit> strapSees(Chance& c, const Seconds& x, const std::vector<Hit>& hits, int level) {
  const int n = x.n;
  std::vector<float> bad(n, 0.f);
  // All sizes here: wide; held to rows in checks/wear.cpp
  double dry = c.odds(level == 0 ? 0.12 : level == 1 ? 0.4 : 0.6) ? (level == 0 ? c.between(0.15, 0.6) : c.between(0.3, 1.3)) : 0;
  const double keepDry = std::exp(-1 / c.scale(12, 200));
  const double byMotion = level == 0 ? c.scale(0.04, 0.4) : level == 1 ? c.scale(0.1, 0.8) : c.scale(0.3, 1.3);
  const double byBreath = c.odds(level == 0 ? 0.06 : level == 1 ? 0.25 : 0.45) ? (level == 0 ? c.between(0.1, 0.3) : c.between(0.2, 0.9)) : 0;
  const double deepAt = c.between(1.5, 2.8), keepBreath = std::exp(-1 / c.scale(0.7, 6));
  double breath = 0;
  for (int s = 0; s < n; s++) {
    breath *= keepBreath;
    if (byBreath > 0 && x.lungs[s] > deepAt && x.stir[s] > 0.3) breath = byBreath;
    bad[s] = float(dry + byMotion * x.move[s] + breath);
    dry *= keepDry;
  }
  const double many = n / 700.0;
  int events = level == 0 ? c.odds(0.04) : level == 1 ? int(c.between(0, 2.5) * many + c.next()) : int(c.between(1, 8) * many + c.next());
  for (; events > 0; events--) {
    const int from = int(c.next() * n), length = int(c.scale(2, 45));
    const float depth = float(c.between(0.25, 1.3));
    for (int s = from; s < std::min(n, from + length); s++) bad[s] += depth;
  }
  const double missed0 = level == 0 ? c.scale(1e-5, 1e-3) : c.scale(1e-4, 4e-3), extra0 = level == 0 ? c.scale(1e-5, 4e-4) : c.scale(5e-5, 4e-3);
  const double missedBy = c.scale(0.04, 0.4), extraBy = c.scale(0.01, 0.25), shiftBy = c.scale(0.02, 0.3), lostAt = c.between(0.75, 1.25);
  const bool early = c.odds(0.75);  // early ventricular beats are seen (their shape differs; memory)
  const double tWaves = c.odds(level == 0 ? 0.01 : level == 1 ? 0.08 : 0.25) ? c.scale(0.001, 0.03) : 0, tStay = c.between(0.7, 0.98), tShare = c.between(0.5, 1);
  const double dead = c.between(0.2, 0.3), noise = c.scale(0.0003, 0.002);  // 0.3 to 2 ms: limits of agreement +-1.9 ms at rest (belt against ECG, 21 people, Sensors 2022;22:2032)
  const bool anew = c.odds(0.7);
  std::vector<Hit> out;
  out.reserve(hits.size() + 64);
  double last = -1, gap = 0;
  bool twice = false;
  const auto see = [&](double t, int kind) {
    if (last >= 0 && t - last < dead) return;
    out.push_back({t, last >= 0 ? t - last : 0, kind});
    last = t;
  };
  for (const Hit& h : hits) {
    const int s = std::min(int(std::max(h.t, 0.0)), n - 1);
    const double b = bad[s], bb = b * b;
    if (b > lostAt) {
      gap += 1;
      if (gap > 2 && anew) last = -1;
      continue;
    }
    gap = 0;
    if (h.kind == 1 && !early) continue;
    const double u = c.next();
    const double pMissed = missed0 + missedBy * bb, pExtra = extra0 + extraBy * bb, pShift = shiftBy * bb;
    if (u < pMissed) continue;
    double t = h.t + noise * (c.next() + c.next() + c.next() - 1.5) * 2;
    if (u < pMissed + pShift) t += (c.next() - 0.5) * 0.2;
    see(t, h.kind);
    twice = tWaves > 0 && (twice ? c.next() < tStay : c.next() < tWaves);
    if (twice && c.next() < tShare) see(t + 0.24 + 0.08 * std::min(60 / std::max(x.rate[s], 30.f), 1.6f) + 0.008 * c.normal(), 0);
    else if (u > 1 - pExtra) see(t + c.between(0.2, 0.9) * 60 / std::max(x.rate[s], 30.f), 0);
  }
  for (size_t i = 1; i < out.size(); i++)  // a noise beat may lie after the next true one
    if (out[i].t < out[i - 1].t) {
      out[i].t = out[i - 1].t;
      out[i].rr = 0;
    }
  if (c.odds(0.25)) {
    const double limit = c.between(0.15, 0.4);
    smoothAway(c, out, c.pick({0.4, 0.25, 0.2, 0.15}), limit);
  }
  return out;
}

/** Finger: perfusion and quality of its wave, second by second. */
struct Finger {
  std::vector<float> flow, good, cadence;
  std::vector<uint8_t> out;
};

inline Finger finger(Chance& c, const Body& body, const Seconds& x, int level) {
  const int n = x.n;
  Finger f;
  f.flow.resize(n);
  f.good.resize(n);
  f.out.assign(n, 0);
  double base = level == 0 ? c.between(0.75, 1.2) : level == 1 ? c.between(0.5, 1.1) : c.between(0.25, 0.9);
  // Vessels narrow in a hold in most people (memory: finger pulse volume falls by a fifth to two thirds); also after a deep breath, and in spells of their own
  const double narrow = c.odds(0.3) ? 0 : c.between(0.1, level == 0 ? 0.45 : 0.7), gasp = c.odds(0.4) ? 0 : c.between(0.05, level == 0 ? 0.25 : 0.5);
  const double to = 1 / c.scale(6, 40), back = 1 / c.scale(5, 40), gaspKeep = std::exp(-1 / c.scale(4, 15)), deepAt = c.between(1.3, 2.5);
  const double spells = (level == 0 ? 0.0006 : 0.002), drift = c.between(-0.2, 0.15) / n;
  const double byMotion = level == 0 ? c.scale(0.2, 0.7) : c.scale(0.3, 1.5);
  Wander w(c, 40, level == 0 ? 0.06 : 0.12, 1);
  double v = 0, g = 0, spell = 0, spellLeft = 0;
  for (int s = 0; s < n; s++) {
    const double target = body.course.held[std::min<size_t>(4 * s + 3, body.course.held.size() - 1)] ? narrow : 0;
    v += (target > v ? to : back) * (target - v);
    g *= gaspKeep;
    if (gasp > 0 && x.lungs[s] > deepAt && x.stir[s] > 0.3) g = gasp;
    if (spellLeft > 0) spellLeft -= 1, spell += 0.1 * (0.5 - spell);
    else {
      spell *= 0.93;
      if (c.next() < spells) spellLeft = c.scale(5, 80);
    }
    base += drift;
    const double p = std::max(base * (1 - v) * (1 - g) * (1 - spell) + w(c), 0.02);
    f.flow[s] = float(p);
    f.good[s] = float(std::clamp(p * 1.6, 0.0, 1.0) - byMotion * x.move[s]);
  }
  int events = level == 0 ? c.odds(0.03) : level == 1 ? c.pick({0.6, 0.3, 0.1}) : c.pick({0.3, 0.3, 0.25, 0.15});
  for (; events > 0; events--) {  // taken out and put back
    const int from = int(c.next() * n), until = std::min(n, from + int(c.scale(4, 90)));
    for (int s = from; s < until; s++) f.out[s] = 1, f.good[s] = 0;
  }
  const int jolts = level == 0 ? c.odds(0.1) : level == 1 ? int(c.between(0, 4) * n / 700) : int(c.between(1, 12) * n / 700);
  for (int k = 0; k < jolts; k++) {  // cable, table, fidgeting
    const int from = int(c.next() * n), until = std::min(n, from + int(c.scale(1, 20)));
    const float by = float(c.between(0.2, 1));
    for (int s = from; s < until; s++) f.good[s] -= by;
  }
  return f;
}

/** Pulses in light: later than the beat, less exact, unsure where the wave is poor. */
inline std::vector<Hit> lightSees(Chance& c, const Seconds& x, const std::vector<Hit>& hits, const Finger& f, int level) {
  std::vector<Hit> out;
  out.reserve(hits.size() + 64);
  const double transit = c.between(0.18, 0.32), byLungs = c.between(-0.006, 0.012), noise = c.scale(0.003, 0.016);  // memory: 200 to 300 ms; some ms with breathing
  const double weak = c.between(0.3, 0.9), missed0 = level == 0 ? c.scale(2e-4, 8e-3) : c.scale(5e-4, 0.02), missedBy = c.scale(0.1, 0.6), extraBy = c.scale(0.03, 0.4);
  const double dead = c.between(0.24, 0.36), twiceP = c.odds(level == 0 ? 0.01 : 0.08) ? c.scale(0.001, 0.02) : 0, stay = c.between(0.7, 0.97), lostAt = c.between(0.05, 0.3);
  double last = -1;
  bool twice = false;
  const auto see = [&](double t) {
    if (last >= 0 && t - last < dead) return;
    out.push_back({t, last >= 0 ? t - last : 0, 0});
    last = t;
  };
  for (const Hit& h : hits) {
    const int s = std::min(int(std::max(h.t, 0.0)), x.n - 1);
    if (f.out[s] || f.good[s] < lostAt) {
      last = -1;
      continue;
    }
    const double poor = std::max(0.9 - f.good[s], 0.0), pp = poor * poor, u = c.next();
    if (u < missed0 + missedBy * pp) continue;
    if (h.kind == 1 && c.next() < weak) continue;  // a weak pulse of an early beat is not seen
    const double t = h.t + transit + byLungs * x.lungs[s] + noise * (1 + 4 * pp) * 2 * (c.next() + c.next() + c.next() - 1.5);
    if (last >= 0 && t <= last) continue;
    see(t);
    twice = twiceP > 0 && (twice ? c.next() < stay : c.next() < twiceP);
    if (twice) see(t + c.between(0.3, 0.4));
    else if (u > 1 - extraBy * pp) see(t + c.between(0.25, 0.8) * 60 / std::max(x.rate[s], 30.f));
  }
  for (size_t i = 1; i < out.size(); i++)
    if (out[i].t < out[i - 1].t) {
      out[i].t = out[i - 1].t;
      out[i].rr = 0;
    }
  if (c.odds(0.3)) {
    const double limit = c.between(0.2, 0.4);
    smoothAway(c, out, c.pick({0.3, 0.2, 0.35, 0.15}), limit);
  }
  return out;
}

/** The oximeter's saturation; mute tells where it shows no numbers; wrong, where its pulse is a wrong one. */
inline std::vector<float> saturation(Chance& c, const Body& body, const Seconds& x, const Finger& f, int level, const std::vector<uint8_t>& got,
                                     std::vector<uint8_t>& mute, std::vector<uint8_t>& sent, std::vector<float>& wrong) {
  const auto& arterial = body.course.arterial;
  const int n = x.n, quarters = int(arterial.size());
  std::vector<float> out(n, nothing), raw(n);
  mute.assign(n, 0);
  sent.assign(n, 0);
  wrong.assign(n, 1.f);
  const double wish = body.averagingS > 0 ? body.averagingS : 8;
  const double W = std::clamp(c.odds(0.8) ? wish * c.scale(0.75, 1.35) : c.scale(2, 16), 2.0, 16.0);  // our choice: 2 to 16 s; [4.04], [4.05]: 3 to 21 s
  const int way = c.pick({0.3, 0.2, 0.14, 0.13, 0.08, 0.09, 0.06});
  const double delay = c.scale(0.5, 4);                                             // [3.26]: some 6.6 s of instrument in all, with the averaging
  const double lag = std::max(0.0, body.lagS * (1 + 0.08 * c.normal())), coldLag = c.odds(0.5) ? 0 : c.between(0, 0.4);  // [4.07]: longer in the cold
  const double smear = 1 - std::exp(-1 / c.scale(0.3, 3));
  const double bias = std::clamp(1.0 * c.normal(), -2.2, 2.2);                      // our choice: -2 to 2
  const double steep = c.odds(0.15) ? c.between(0.7, 1.35) : 1 + 0.08 * c.normal(); // [4.08], [4.10], [4.12]: errors grow as it falls
  const double noise = c.scale(0.08, level == 0 ? 0.5 : 0.9);
  Wander wander(c, c.scale(4, 40), c.scale(0.15, 0.7), 1);
  const int points = c.odds(0.12) ? 10 : 1;
  const double most = c.odds(0.35) ? 99 : 100;
  const bool down = c.odds(0.1);
  const double slew = c.odds(0.12) ? c.between(0.4, 1.5) : 99;
  const int refresh = c.odds(0.7) ? 1 : whole(c, 2, 4), confirm = c.odds(0.85) ? 0 : whole(c, 1, 3);
  const int every = c.odds(0.04) ? whole(c, 5, 15) : std::initializer_list<int>{1, 2, 3, 4}.begin()[c.pick({0.78, 0.1, 0.05, 0.07})];  // [4.14]; spot values
  const double irregular = c.odds(0.05) ? c.between(0.25, 0.8) : 1;
  const int offset = whole(c, 0, every - 1);
  const double hold = c.odds(0.2) ? c.between(1, 4) : c.scale(4, 30);
  const double poorAt = level == 0 ? c.between(0, 0.3) : c.between(0.05, 0.5), searchS = c.scale(3, 15), outHold = c.scale(1, 9);
  const double dipEvery = level == 0 ? c.scale(0.0002, 0.004) : c.scale(0.001, 0.03), firstOff = c.odds(0.4) ? c.between(-6, 2) : 0;
  const double aUp = 1 - std::exp(-1 / (W * (way == 4 ? c.between(0.3, 1) : 0.5))), aDown = way == 4 ? 1 - std::exp(-1 / (W * c.between(0.2, 0.8))) : aUp;
  const double aTwo = 1 - std::exp(-3 / W);
  double at = 0, one = -1, two = 0, shown = -1, display = -1, pending = 0, dip = 0, dipTo = 0, dipLeft = 0, settle = 0;
  int first = 0, poorFor = 0, outFor = 0, same = 0, search = int(c.odds(0.5) ? c.between(0, 3) : c.scale(3, 20)), ready = 0;
  bool started = false;
  float few[56];
  for (int s = 0; s < n; s++) {
    sent[s] = got[s] && (s + offset) % every == 0 && !(irregular < 1 && c.next() > irregular);
    const double q = std::clamp(double(f.good[s]), 0.0, 1.0);
    const double when = (s + 1 - lag * (1 + coldLag * std::max(0.0, 0.8 - f.flow[s])) - delay) * 4;
    const int i = std::clamp(int(when), 0, quarters - 1), i1 = std::min(i + 1, quarters - 1);
    const double part = std::clamp(when - i, 0.0, 1.0), a = arterial[i] + part * (arterial[i1] - arterial[i]);
    at = s ? at + smear * (a - at) : a;
    if (dipLeft > 0) dipLeft -= 1;
    else {
      dipTo = 0;
      if (c.next() < dipEvery * (0.03 + 2 * x.move[s] + (q < 0.6 ? 1 - q : 0))) dipTo = c.odds(0.85) ? -c.scale(1, 14) : c.between(0.5, 3), dipLeft = c.scale(2, 15);
    }
    dip += 0.35 * (dipTo - dip);
    raw[s] = float(100 - steep * (100 - at) + bias + wander(c) * (2 - q) + noise * (3 - 2 * q) * c.normal() + dip + settle);
    settle *= 0.75;
    // States: measuring, holding the old value, searching
    const bool away = f.out[s], poor = away || f.good[s] < poorAt;
    poorFor = poor ? poorFor + 1 : 0;
    outFor = away ? outFor + 1 : 0;
    bool show = false;
    if (poor) {
      if (poorFor > 2) {  // frozen
        if (away ? outFor > outHold : poorFor > hold) {
          started = false;
          search = int(searchS * c.between(0.6, 1.6));
        }
        ready = 0;
      }
      show = started;
    } else if (!started) {
      if (--search <= 0) {
        started = true;
        first = s;
        one = -1;
        shown = display = -1;
        settle = firstOff;
        raw[s] += float(settle);
        ready = 1;
      }
      show = started;
    } else show = true;
    if (!show) {
      mute[s] = 1;
      continue;
    }
    if (!poor || poorFor <= 2) {
      if (!ready) {  // back after a freeze: averaging goes on, or starts afresh
        ready = 1;
        if (W < 6) first = s, one = -1;
      }
      const double r = std::min(double(raw[s]), 100.5);
      raw[s] = float(r);
      if (one < 0) one = two = r;
      double g = r < one ? aDown : aUp;
      if (way == 6) g *= 0.25 + 0.75 * q;
      if (way == 3) g = aTwo;
      one += g * (r - one);
      two += aTwo * (one - two);
      double v = one;
      if (way == 3) v = two;
      else if (way == 0 || way == 2 || way == 5) {
        int k = int(W * (way == 5 ? 1 + 1.5 * (1 - q) : 1) + 0.5);
        k = std::max(1, std::min({k, s - first + 1, 48}));
        if (way == 2) {
          std::copy(raw.begin() + s + 1 - k, raw.begin() + s + 1, few);
          std::nth_element(few, few + k / 2, few + k);
          v = few[k / 2];
        } else {
          v = 0;
          for (int j = s + 1 - k; j <= s; j++) v += raw[j];
          v /= k;
        }
      }
      shown = shown < 0 ? v : shown + std::clamp(v - shown, -slew, slew);
      double d = down ? std::floor(shown * points) / points : std::round(shown * points) / points;
      d = std::clamp(d, 35.0, most);
      if (display < 0) display = d;
      else if (d != display && s % refresh == 0) {
        same = d == pending ? same + 1 : 0;
        pending = d;
        if (same >= confirm || points == 10 || std::fabs(d - display) >= 3) display = d, same = 0;
      }
    }
    if (display >= 0 && sent[s]) out[s] = float(display);
  }
  int events = level == 0 ? c.odds(0.01) : level == 1 ? c.odds(0.2) : c.pick({0.5, 0.3, 0.2});
  for (; events > 0; events--) {
    const int kind = c.pick({0.4, 0.35, 0.25}), from = int(c.next() * n), until = std::min(n, from + int(c.scale(6, 60)));
    const float by = kind == 0 ? 0.5f : kind == 1 ? 2.f : -float(c.between(50, 130));
    for (int s = from; s < until; s++) wrong[s] = by;
  }
  if (c.odds(level == 0 ? 0.15 : 0.4)) {  // steps instead of the pulse
    const float cadence = -float(c.between(85, 125));
    int stay = 0;
    bool on = false;
    for (int s = 0; s < n; s++) {
      if (x.move[s] > 0.5 && !on && c.next() < 0.04) on = true, stay = int(c.scale(3, 20));
      if (on && x.move[s] < 0.3 && --stay <= 0) on = false;
      if (on) wrong[s] = cadence;
    }
  }
  return out;
}

/** An optical wrist rate. */
inline std::vector<float> wrist(Chance& c, const Seconds& x, int level, const std::vector<uint8_t>& got) {
  const int n = x.n;
  std::vector<float> out(n, nothing);
  const int way = c.pick({0.6, 0.4}), window = int(c.between(5, 15));
  const double lag = c.scale(2, 7), tau = c.scale(2.5, 9) * (way == 1 ? 0.5 : 1);  // together 5 to 15 s (our choice)
  const double g1 = 1 - std::exp(-2 / tau), slew = c.odds(0.5) ? c.scale(0.7, 4) : 99;
  Wander error(c, c.scale(5, 40), level == 0 ? c.scale(0.4, 2) : level == 1 ? c.scale(0.8, 4) : c.scale(2, 8), 1);
  const double lockP = level == 0 ? c.scale(1e-4, 0.004) : c.scale(5e-4, 0.05), cadence = c.between(85, 125) * (c.odds(0.15) ? 0.5 : 1);
  const double wrongP = level == 0 ? (c.odds(0.08) ? 0.0008 : 0) : level == 1 ? c.scale(0.0005, 0.004) : c.scale(0.002, 0.015);
  const double lostP = level == 0 ? 0.0001 : level == 1 ? c.scale(0.0002, 0.003) : c.scale(0.001, 0.012);
  const double step = c.odds(0.97) ? 1 : 0.5, hold = c.scale(5, 30);
  const int refresh = c.odds(0.55) ? 1 : whole(c, 2, 5), every = c.odds(0.85) ? 1 : whole(c, 2, 4);
  const double irregular = c.odds(0.06) ? c.between(0.25, 0.8) : 1;
  const int start = int(c.odds(0.5) ? c.between(0, 3) : c.scale(3, 40));
  const bool guess = c.odds(0.3), zero = c.odds(0.2);
  double one = guess ? c.between(65, 90) : -1, two = one, shown = one, display = 0, wrongTo = 0, frozen = 0;
  int lock = 0, wrongLeft = 0, lost = 0;
  float few[16];
  for (int s = 0; s < n; s++) {
    const double when = s - lag;
    const int i = std::clamp(int(when), 0, n - 1);
    double a = x.rate[i];
    if (way == 1) {  // median, then smoothing
      const int from = std::max(0, i - window + 1), k = i - from + 1;
      std::copy(x.rate.begin() + from, x.rate.begin() + i + 1, few);
      std::nth_element(few, few + k / 2, few + k);
      a = few[k / 2];
    }
    a += error(c) * (1 + 2 * x.move[s]);
    if (lock > 0) {
      if (x.move[s] < 0.3) lock--;
      a = cadence;
    } else if (x.move[s] > 0.4 && c.next() < lockP) lock = int(c.scale(5, 30));
    if (wrongLeft > 0) {
      wrongLeft--;
      a = wrongTo;
    } else if (wrongP > 0 && c.next() < wrongP) {
      wrongLeft = int(c.scale(5, 60));
      const int kind = c.pick({0.3, 0.2, 0.5});
      wrongTo = kind == 0 ? 2 * a : kind == 1 ? 0.5 * a : a + c.between(-30, 40);
    }
    if (lost > 0) lost--;
    else if (c.next() < lostP) lost = int(c.scale(5, 90)), frozen = 0;
    if (lost > 0) frozen += 1;
    else {
      frozen = 0;
      if (one < 0) one = two = shown = a;
      one += g1 * (a - one);
      two += g1 * (one - two);
      shown += std::clamp(two - shown, -slew, slew);
    }
    if (s % refresh == 0 || display <= 0) display = std::clamp(std::round(shown / step) * step, 25.0, 240.0);
    if (s < start || !got[s] || s % every) continue;
    if (frozen > hold) {
      if (zero) out[s] = 0;
      continue;
    }
    if (irregular < 1 && !(c.next() < irregular)) continue;
    out[s] = float(display);
  }
  return out;
}

}  // namespace inner

/** As wear, with the trouble given: 0 good, 1 some, 2 much, for the strap (or wrist) and for the finger. */
inline Worn wearWith(Chance& c, const Body& body, Kit kit, int strapLevel, int fingerLevel) {
  using namespace inner;
  const Course& course = body.course;
  Seconds x;
  const int n = x.n = int(course.heart.size()) / stepsPerRow;
  Worn worn;
  worn.strapRate.assign(n, nothing);
  worn.pulseRate.assign(n, nothing);
  worn.spo2.assign(n, nothing);
  if (n == 0) return worn;
  x.move.resize(n);
  x.stir.resize(n);
  x.lungs.resize(n);
  x.rate.resize(n);
  for (int s = 0; s < n; s++) {
    const float *m = &course.motion[4 * s], *l = &course.lungs[4 * s], *h = &course.heart[4 * s];
    x.move[s] = std::max(std::max(m[0], m[1]), std::max(m[2], m[3]));
    x.lungs[s] = std::max(std::max(l[0], l[1]), std::max(l[2], l[3]));
    x.stir[s] = x.lungs[s] - std::min(std::min(l[0], l[1]), std::min(l[2], l[3]));
    x.rate[s] = 0.25f * (h[0] + h[1] + h[2] + h[3]);
  }
  const std::vector<Hit> hits = heartbeats(c, body);
  const std::vector<uint8_t> got = packets(c, strapLevel, n);
  if (kit == wristOnly) {
    (wristInStrapRate ? worn.strapRate : worn.pulseRate) = wrist(c, x, strapLevel, got);
    return worn;
  }
  const bool beatsOut = kit == strapWithBeats || kit == beatsOnly || kit == beatsAndSaturation || kit == everything;
  const bool rateOut = kit == strapWithBeats || kit == strapOnly || kit == strapAndOximeter || kit == everything;
  if (beatsOut || rateOut) {
    const std::vector<Hit> seen = strapSees(c, x, hits, strapLevel);
    if (beatsOut) report(c, seen, got, false, worn.beats);
    if (rateOut) {
      const RateWays ways = rateWays(c, false);
      worn.strapRate = rates(c, seen, ways, got, nullptr, nullptr);
    }
  }
  const bool oximeter = kit == oximeterOnly || kit == strapAndOximeter || kit == beatsAndSaturation || kit == beatsFromLight || kit == everything;
  if (oximeter) {
    const bool together = c.odds(0.2);  // the receiver's fault is both links' fault
    const std::vector<uint8_t> air = together ? got : packets(c, fingerLevel, n);
    const Finger f = finger(c, body, x, fingerLevel);
    std::vector<uint8_t> mute, sent;
    std::vector<float> wrong;
    worn.spo2 = saturation(c, body, x, f, fingerLevel, air, mute, sent, wrong);
    if (kit != beatsAndSaturation) {
      const std::vector<Hit> pulses = lightSees(c, x, hits, f, fingerLevel);
      RateWays ways = rateWays(c, true);
      const bool one = c.odds(0.85);  // pulse and saturation come in one packet [5]
      if (one) ways.every = 1, ways.irregular = 1;
      worn.pulseRate = rates(c, pulses, ways, one ? sent : air, &mute, &wrong);
      if (kit == beatsFromLight) report(c, pulses, air, true, worn.beats);
    }
  }
  return worn;
}

/** What these sensors report of this body. `beats` only where the kit has them; the same for the rates and the saturation. */
inline Worn wear(Chance& c, const Body& body, Kit kit) {
  const int trouble = c.pick({0.57, 0.33, 0.10});  // our choice: most good, a third some, a tenth much
  int strap = trouble, finger = trouble;
  if (kit == strapAndOximeter || kit == beatsAndSaturation || kit == everything) {
    if (trouble == 1) {
      const int which = c.pick({0.4, 0.4, 0.2});
      if (which == 0) finger = 0;
      if (which == 1) strap = 0;
    } else if (trouble == 2) (c.odds(0.5) ? strap : finger) = c.pick({0.5, 0.35, 0.15});
  }
  return wearWith(c, body, kit, strap, finger);
}

}  // namespace world_wear
