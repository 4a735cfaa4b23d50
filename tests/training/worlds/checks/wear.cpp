// Check of wear.hpp on bodies invented here: speed, sanity, shares missing, accuracy against published values. Usage: check [seed] ; check dump LEVEL KIT SEED
#include "../wear.hpp"

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <cstring>

using namespace world_wear;

static const char* names[] = {"strapWithBeats", "strapOnly", "beatsOnly", "oximeterOnly", "strapAndOximeter", "beatsAndSaturation", "wristOnly", "beatsFromLight", "everything"};

enum Plan { quiet, holds, stairs, walks, stepDown };

Body invent(Chance& c, Plan plan, double seconds) {
  Body b;
  Course& x = b.course;
  const int n = int(seconds) * 4;
  x.heart.resize(n), x.lungs.resize(n), x.arterial.resize(n), x.motion.assign(n, 0.f), x.held.assign(n, 0);
  const double rest = c.between(48, 90), rsa = c.scale(1, 12), breath = c.between(0.12, 0.32), top = c.between(96, 98.5);
  Wander slow(c, 20, c.between(0.5, 3));
  double phase = 0, sat = top, hr = rest;
  const double holdS = c.between(60, 200), restS = c.between(60, 150);
  for (int i = 0; i < n; i++) {
    const double t = i * stepS, in = std::fmod(t, holdS + restS) - restS;
    const bool held = plan == holds && in >= 0;
    if (!held) phase += breath * stepS;
    const double v = 0.5 - 0.5 * std::cos(2 * M_PI * phase);
    double target = rest;
    if (held) target = rest - std::min(in / 5, 12.0);
    const bool walk = plan == walks && std::fmod(t, 240) > 120;
    if (walk) target = rest + 25, x.motion[i] = 0.8f;
    hr += 0.02 * (target - hr);
    x.heart[i] = float(std::clamp(hr + (held ? 0 : rsa * (v - 0.5)) + slow(c), 30.0, 200.0));
    x.lungs[i] = float(held ? 3 : v);
    x.held[i] = held;
    if (held) { if (in > 45) sat -= 0.12 * stepS; }
    else sat += 0.04 * (top - sat);
    if (plan == stairs) sat = 100 - 5 * (int(t / 150) % 7);      // 100 .. 70
    if (plan == stepDown) sat = t < seconds / 2 ? 97 : 87;
    x.arterial[i] = float(std::max(sat, 50.0));
  }
  b.jitterMs = c.between(1, 6);
  b.lagS = c.between(8, 25), b.averagingS = c.scale(2, 14);
  b.fibrillation = 0, b.ectopicsPerHour = c.odds(0.8) ? c.scale(0.1, 10) : c.scale(10, 300);
  return b;
}

struct Stat {
  double n = 0, sum = 0, sq = 0, ab = 0;
  void operator()(double v) { n++, sum += v, sq += v * v, ab += std::fabs(v); }
  double mean() const { return n ? sum / n : 0; }
  double rms() const { return n ? std::sqrt(sq / n) : 0; }
  double mae() const { return n ? ab / n : 0; }
};

static void line(const char* what, double value, const char* unit, double low, double high, const char* source) {
  std::printf("%-4s %-66s %9.3f %-5s [%g .. %g] %s\n", value >= low && value <= high ? "ok" : "OUT", what, value, unit, low, high, source);
}

int main(int argc, char** argv) {
  if (argc > 4 && !std::strcmp(argv[1], "dump")) {
    Chance c(std::atoll(argv[4]));
    const Body b = invent(c, argc > 5 ? Plan(std::atoi(argv[5])) : holds, 704);
    const int level = std::atoi(argv[2]);
    const Worn w = wearWith(c, b, Kit(std::atoi(argv[3])), level, level);
    std::printf("s,held,motion,heart,arterial,strap,pulse,spo2,rr...\n");
    size_t j = 0;
    for (int s = 0; s < int(w.spo2.size()); s++) {
      std::printf("%d,%d,%.1f,%.1f,%.1f,%.1f,%.1f,%.1f", s, b.course.held[4 * s], b.course.motion[4 * s], b.course.heart[4 * s], b.course.arterial[4 * s], w.strapRate[s], w.pulseRate[s], w.spo2[s]);
      for (; j < w.beats.size() && w.beats[j].endMs < 1000 * (s + 1); j++) std::printf(",%.0f@%.0f", w.beats[j].rrMs, w.beats[j].endMs);
      std::printf("\n");
    }
    return 0;
  }
  Chance c(argc > 1 ? std::atoll(argv[1]) : 1);
  // Speed and sanity, all kits, all plans
  std::printf("time, ms for 1,408 s (mean, worst of 60); shares missing, per cent of seconds (or of beats' time)\n");
  long faults = 0, rows = 0;
  for (int kit = 0; kit < 9; kit++) {
    double total = 0, worst = 0;
    Stat missing[4];
    std::vector<double> perSession;
    for (int k = 0; k < 400; k++) {
      const Body b = invent(c, Plan(k % 4), k < 60 ? 1408 : 704);
      const auto from = std::chrono::steady_clock::now();
      const Worn w = wear(c, b, Kit(kit));
      const double ms = std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - from).count();
      if (k < 60) total += ms, worst = std::max(worst, ms);
      const int n = int(w.spo2.size());
      double most = 0, time = 0;
      for (const Beat& x : w.beats) {
        if (!(x.endMs >= 0) || x.endMs > 1000.0 * n || x.endMs < most - 1500 || !(x.rrMs > 185 && x.rrMs < 8100)) faults++;
        most = std::max(most, x.endMs);
        time += x.rrMs / 1000;
      }
      const std::vector<float>* all[] = {&w.strapRate, &w.pulseRate, &w.spo2};
      double mine = 0;
      int used = 0;
      for (int a = 0; a < 3; a++) {
        int none = 0;
        for (float v : *all[a]) {
          none += std::isnan(v);
          if (!std::isnan(v) && (a < 2 ? v != 0 && (v < 20 || v > 250) : v < 35 || v > 100)) faults++;
        }
        if (none < n) missing[a](100.0 * none / n), mine = std::max(mine, 100.0 * none / n), used++;
      }
      if (!w.beats.empty()) missing[3](100 * (1 - time / n)), mine = std::max(mine, std::fabs(100 * (1 - time / n)));
      perSession.push_back(mine);
      rows += n;
    }
    std::sort(perSession.begin(), perSession.end());
    std::printf("%-20s %.2f %.2f  missing: strap %.1f pulse %.1f spo2 %.1f beats' time %.1f | worst channel by session: median %.1f, 75%% %.1f, 90%% %.1f, 97%% %.1f\n", names[kit], total / 60, worst, missing[0].mean(),
                missing[1].mean(), missing[2].mean(), missing[3].mean(), perSession[200], perSession[300], perSession[360], perSession[388]);
  }
  std::printf("rows %ld, faults %ld\n\n", rows, faults);

  // Accuracy, good sessions
  Stat strap, pulse, rrError, meanRr, wristMae, wristIn, strapIn;
  double rrGood = 0, rrAll = 0, lightGood = 0, lightAll = 0;
  const int sessions = 300;
  const auto rateAt = [](const Body& b, double t) { return double(b.course.heart[std::clamp(int(t * 4), 0, int(b.course.heart.size()) - 1)]); };
  const auto smooth = [&](const Body& b, int s, int w) { double v = 0; for (int i = 0; i < 4 * w; i++) v += rateAt(b, s + 1 - i * stepS); return v / (4 * w); };
  const auto judge = [&](const Body& b, const std::vector<Beat>& beats, double& good, double& all, bool keep) {
    double sum = 0, truth = 0, k = 0;
    for (const Beat& x : beats) {
      const double mid = (x.endMs - x.rrMs / 2) / 1000;
      double best = 1e9;  // placement may be late by up to 1.5 s: best of these
      for (double d = -1.5; d <= 0.5; d += 0.25) { const double e = x.rrMs - 60000 / rateAt(b, mid + d); if (std::fabs(e) < std::fabs(best)) best = e; }
      all++;
      const bool fine = std::fabs(best) < 0.15 * x.rrMs;
      good += fine;
      if (fine && keep) sum += x.rrMs, truth += 60000 / rateAt(b, mid), k++, rrError(best);
    }
    if (k > 50 && keep) meanRr(sum / k - truth / k);
  };
  for (int k = 0; k < sessions; k++) {
    Body b = invent(c, quiet, 704);
    b.ectopicsPerHour = 0;
    Worn w = wearWith(c, b, everything, 0, 0);
    Stat own, ownPulse;
    for (int s = 30; s < 704; s++) {
      if (w.strapRate[s] > 0) own(w.strapRate[s] - smooth(b, s, 8)), strapIn(std::fabs(w.strapRate[s] - smooth(b, s, 8)) < 5);
      if (w.pulseRate[s] > 0) ownPulse(w.pulseRate[s] - smooth(b, s, 10)), pulse(w.pulseRate[s] - smooth(b, s, 10));
    }
    strap(own.mean());
    judge(b, w.beats, rrGood, rrAll, true);
    w = wearWith(c, b, beatsFromLight, 0, 0);
    judge(b, w.beats, lightGood, lightAll, false);
  }
  line("strap: mean of the session, error, mean absolute", strap.mae(), "/min", 0, 1, "strap against ECG: under 1 /min (memory)");
  line("strap: seconds within 5 /min of the 8 s mean", 100 * strapIn.mean(), "%", 95, 100, "memory");
  line("pulse: root mean square against the 10 s mean", pulse.rms(), "/min", 0.5, 3, "[4.03] +-3 declared");
  line("strap: intervals right, quiet, good", 100 * rrGood / rrAll, "%", 99, 100, "99.6 % (belt, 10 people, rest to effort; Eur J Appl Physiol 2019;119:1525)");
  line("strap: mean interval, error, mean absolute", meanRr.mae(), "ms", 0, 4, "bias 0.0 to 0.4, limits +-1.9 (21 people, Sensors 2022;22:2032)");
  line("light: intervals right, quiet, good", 100 * lightGood / lightAll, "%", 95, 99.9, "memory: 97 to 99.5 %");
  {
    double good = 0, all = 0;
    for (int k = 0; k < sessions; k++) {
      const Body b = invent(c, walks, 704);
      const Worn w = wear(c, b, beatsOnly);
      judge(b, w.beats, good, all, false);
    }
    line("strap: intervals wrong, all sessions with walking", 100 * (1 - good / all), "%", 1, 12, "10 % in 18 active people (IEEE TBME 2007;54:946)");
  }
  Stat wristWalk;
  for (int k = 0; k < sessions; k++) {
    const Body b = invent(c, quiet, 704), d = invent(c, walks, 704);
    const Worn w = wear(c, b, wristOnly), v = wear(c, d, wristOnly);
    for (int s = 60; s < 704; s++) {
      if (w.strapRate[s] > 0) wristMae(w.strapRate[s] - smooth(b, s, 8)), wristIn(std::fabs(w.strapRate[s] - smooth(b, s, 8)) <= 10);
      if (v.strapRate[s] > 0) wristWalk(std::fabs(v.strapRate[s] - smooth(d, s, 8)) <= 10);
    }
  }
  line("wrist: mean absolute error, quiet, all sessions", wristMae.mae(), "/min", 0.5, 3, "not over 3 /min (199 people, BMC Sports Sci 2018;10:10)");
  line("wrist: seconds within 10 /min, quiet, all", 100 * wristIn.mean(), "%", 95, 99.5, "98 % sedentary (same)");
  line("wrist: seconds within 10 /min, walk and rest", 100 * wristWalk.mean(), "%", 85, 97, "92 % least periodic to 98 % (same)");

  // Saturation
  Stat stair, high, restNoise;
  Stat half, depthFast, depthSlow, nadir;
  for (int k = 0; k < sessions; k++) {
    Body b = invent(c, stairs, 1050);
    Worn w = wearWith(c, b, oximeterOnly, 0, 0);
    for (int s = 0; s < 1050; s++)
      if (s % 150 > 90 && !std::isnan(w.spo2[s])) {
        stair(w.spo2[s] - b.course.arterial[4 * s]);
        if (s / 150 == 1) high(w.spo2[s] - b.course.arterial[4 * s]);
      }
    b = invent(c, quiet, 704);
    w = wearWith(c, b, oximeterOnly, 0, 0);
    Stat own;
    for (int s = 60; s < 704; s++) if (!std::isnan(w.spo2[s])) own(w.spo2[s]);
    if (own.n > 60) restNoise(std::sqrt(std::max(0.0, own.sq / own.n - own.mean() * own.mean())));
    b = invent(c, stepDown, 400);
    w = wearWith(c, b, oximeterOnly, 0, 0);
    double before = 0, after = 0, nb = 0, na = 0;
    for (int s = 100; s < 400; s++) if (!std::isnan(w.spo2[s])) { if (s < 200) before += w.spo2[s], nb++; if (s > 300) after += w.spo2[s], na++; }
    if (nb && na) for (int s = 200; s < 400; s++) if (!std::isnan(w.spo2[s]) && w.spo2[s] < 0.5 * (before / nb + after / na)) { half(s + 0.5 - 200 - b.lagS); break; }
    b = invent(c, quiet, 200);  // a short fall of 12 s to 85
    for (int i = 400; i < 448; i++) b.course.arterial[i] = 85;
    for (int fast = 0; fast < 2; fast++) {
      b.averagingS = fast ? 3 : 16;
      w = wearWith(c, b, oximeterOnly, 0, 0);
      double low = 100, rest = 0, nr = 0;
      for (int s = 50; s < 180; s++) if (!std::isnan(w.spo2[s])) { low = std::min<double>(low, w.spo2[s]); if (s < 95) rest += w.spo2[s], nr++; }
      if (nr) (fast ? depthFast : depthSlow)(rest / nr - low);
    }
    b = invent(c, holds, 704);
    w = wearWith(c, b, oximeterOnly, 0, 0);
    for (int s = 60; s + 70 < 704; s++)
      if (b.course.held[4 * s] && !b.course.held[4 * s + 4] && b.course.arterial[4 * s] < 90) {
        int at = -1;
        for (int j = s - 5; j < s + 60; j++) if (!std::isnan(w.spo2[j]) && (at < 0 || w.spo2[j] < w.spo2[at])) at = j;
        int until = at;  // middle of the lowest plateau
        for (int j = at; j >= 0 && j < s + 60; j++) if (w.spo2[j] == w.spo2[at]) until = j; else if (!std::isnan(w.spo2[j])) break;
        if (at > s - 5) nadir(0.5 * (at + until) - s);
      }
  }
  line("oximeter: root mean square, stairs 100 to 70, good sessions", stair.rms(), "%", 1, 3, "[4.01] 4, [4.02] 3 and under; usual devices 2 to 3 (memory)");
  line("oximeter: root mean square at 95", high.rms(), "%", 0.8, 2.2, "1 to 2 (memory)");
  line("oximeter: mean error, stairs", stair.mean(), "%", -1, 1, "near 0 (memory)");
  line("oximeter: spread within a quiet session", restNoise.mean(), "%", 0.2, 1, "0.3 to 1 (memory)");
  line("oximeter: from the finger's step of 10 % to half, s", half.mean(), "s", 3, 10, "[3.26] 6.6 s of instrument");
  line("oximeter: depth lost by 16 s for 3 s averaging, 12 s falls", 100 * (1 - depthSlow.mean() / depthFast.mean()), "%", 15, 60, "[4.04] up to 60 %");
  line("oximeter: lowest after the end of the hold (lag 8 to 25 s here)", nadir.mean(), "s", 15, 35, "[3.27] 15 to 35");
  {
    Stat good, some, much;
    for (int k = 0; k < 300; k++)
      for (int level = 0; level < 3; level++) {
        const Body b = invent(c, holds, 704);
        const Worn w = wearWith(c, b, oximeterOnly, level, level);
        double held = 0, nh = 0, free = 0, nf = 0;
        for (int s = 60; s < 704; s++) (b.course.held[4 * s] ? nh : nf)++, (b.course.held[4 * s] ? held : free) += std::isnan(w.spo2[s]);
        (level == 0 ? good : level == 1 ? some : much)(100 * (held / std::max(nh, 1.0) - free / std::max(nf, 1.0)));
      }
    std::printf("saturation missing in holds less missing outside: good %.1f, some %.1f, much %.1f per cent\n", good.mean(), some.mean(), much.mean());
  }
  {  // real gaps: no value for 5 s and more, by trouble
    const Kit which[] = {strapOnly, wristOnly, oximeterOnly};
    for (int k = 0; k < 3; k++)
      for (int level = 0; level < 3; level++) {
        Stat gap, zero;
        int with = 0;
        for (int j = 0; j < 300; j++) {
          const Body b = invent(c, Plan(j % 4), 704);
          const Worn w = wearWith(c, b, which[k], level, level);
          const auto& v = k == 2 ? w.spo2 : w.strapRate;
          int run = 0, sum = 0, zeros = 0;
          for (int s = 0; s <= 704; s++)
            if (s < 704 && std::isnan(v[s])) run++;
            else { if (run >= 5) sum += run; run = 0; zeros += s < 704 && v[s] == 0; }
          gap(sum / 7.04), zero(zeros / 7.04), with += sum > 0;
        }
        std::printf("%s trouble %d: seconds in gaps of 5 s and more %.1f %%, sessions with one %.0f %%, zeros %.2f %%\n", names[which[k]], level, gap.mean(), with / 3.0, zero.mean());
      }
    for (int level = 0; level < 3; level++) {
      double all = 0, good = 0, big = 0, small = 0, place = 0;
      for (int j = 0; j < 300; j++) {
        Body b = invent(c, Plan(j % 4), 704);
        b.ectopicsPerHour = 0;
        const Worn w = wearWith(c, b, beatsOnly, level, level);
        for (const Beat& x : w.beats) {
          const double t = 60000 / rateAt(b, (x.endMs - x.rrMs / 2) / 1000 - 0.3), q = x.rrMs / t;
          all++, (q > 1.6 ? big : q < 0.65 ? small : std::fabs(q - 1) > 0.2 ? place : good)++;
        }
      }
      std::printf("beats, trouble %d: right %.2f, long %.2f, short %.2f, shifted %.2f per cent\n", level, 100 * good / all, 100 * big / all, 100 * small / all, 100 * place / all);
    }
  }
  for (int level = 0; level < 3; level++) {  // walking and the oximeter
    Stat walk, rest, pulseWalk;
    for (int j = 0; j < 300; j++) {
      const Body b = invent(c, walks, 704);
      const Worn w = wearWith(c, b, oximeterOnly, level, level);
      for (int s = 60; s < 704; s++) {
        const bool m = b.course.motion[4 * s] > 0;
        if (!std::isnan(w.spo2[s])) (m ? walk : rest)(w.spo2[s] - b.course.arterial[4 * s]);
        if (m && w.pulseRate[s] > 0) pulseWalk(std::fabs(w.pulseRate[s] - smooth(b, s, 10)) > 10);
      }
    }
    std::printf("oximeter, trouble %d: root mean square %.2f walking, %.2f at rest; pulse more than 10 off walking %.1f %%\n", level, walk.rms(), rest.rms(), 100 * pulseWalk.mean());
  }
  // Extremes
  for (int k = 0; k < 300; k++) {
    Body b = invent(c, Plan(k % 4), 60 + k % 7);
    const int what = k % 5;
    if (what == 0) std::fill(b.course.heart.begin(), b.course.heart.end(), 27.f);
    if (what == 1) std::fill(b.course.heart.begin(), b.course.heart.end(), 215.f);
    if (what == 2) b.fibrillation = 0.25, b.jitterMs = 30;
    if (what == 3) b.ectopicsPerHour = 1500;
    if (what == 4) b.lagS = 0, b.averagingS = 0;
    const Worn w = wear(c, b, Kit(k % 9));
    double most = 0;
    for (const Beat& x : w.beats) { if (!(x.endMs > most - 1500) || !(x.rrMs > 185 && x.rrMs < 8100)) faults++; most = std::max(most, x.endMs); }
    for (float v : w.strapRate) if (!std::isnan(v) && v != 0 && (v < 20 || v > 250)) faults++;
    for (float v : w.spo2) if (!std::isnan(v) && (v < 35 || v > 100)) faults++;
  }
  std::printf("faults with extremes too: %ld\n", faults);
}
