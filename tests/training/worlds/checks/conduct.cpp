// Checks the world against published group values. Build and run: run.sh.
#include "../conduct.hpp"
#include <cstdio>
#include <cstring>
#include <ctime>
#include <string>
using namespace world_conduct;
static double cpu() { timespec t; clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t); return t.tv_sec * 1e3 + t.tv_nsec * 1e-6; }
struct Set {
  std::vector<double> x;
  void add(double v) { if (v == v) x.push_back(v); }
  double mean() const { double s = 0; for (double v : x) s += v; return x.empty() ? NAN : s / x.size(); }
  double sd() const { double m = mean(), s = 0; for (double v : x) s += (v - m) * (v - m); return std::sqrt(s / std::max<size_t>(1, x.size())); }
  double q(double p) { if (x.empty()) return NAN; std::sort(x.begin(), x.end()); return x[std::min(x.size() - 1, size_t(p * x.size()))]; }
};
static void say(const char* what, Set& s, const char* published, const char* source) {
  printf("%-58s %7.2f +/- %6.2f (5..95 %%: %.1f..%.1f, n %zu) | %s | %s\n", what, s.mean(), s.sd(), s.q(.05), s.q(.95), s.x.size(), published, source);
}
static double avg(const std::vector<float>& v, long a, long b) { a = std::max(a, 0l), b = std::min(b, long(v.size())); double s = 0; for (long i = a; i < b; i++) s += v[i]; return b > a ? s / (b - a) : NAN; }
// one person, quiet, one hold, quiet
struct Run { Sitter s; size_t at, end; double lasted; };
static int scan(double low, double high, int n, uint64_t seed, double level /*9 full, 0 quiet, -9 emptied*/, double goal, bool deepFirst, void (*use)(Sitter&, size_t, size_t, double, void*), void* to, bool immersion = false) {
  int made = 0;
  for (uint64_t k = 0; made < n && k < 400000; k++) {
    Chance c(seed + k * 7919);
    Sitter s(c);
    if (s.skill < low || s.skill > high || s.ill || s.age < 18 || s.age > 55 || s.barometer < 700 || s.paced || s.wavering || s.slowed) continue;
    (void)immersion;
    made++;
    s.want = size_t(900 / dt);
    s.out.heart.reserve(s.want), s.own.fidgets = 0;
    s.nerves = std::min(s.nerves, 0.5);
    s.quiet(150);
    if (deepFirst) s.deep(20, 12, 0.7);
    Plan q;
    q.level = level > 5 ? 0.95 * s.fullUnits : level < -5 ? -0.9 * s.emptyUnits : level, q.entry = level > 5 ? slowIn : level < -5 ? emptied : letGo, q.goal = goal, q.end = outFirst;
    s.hold(q);
    size_t a = 0, e = 0;
    std::vector<uint8_t>& h = s.out.held;
    for (size_t i = 0; i < h.size(); i++) if (h[i]) { if (!a) a = i; e = i + 1; }
    double lasted = (e - a) * dt;
    if (!a) continue;
    s.quiet(120);
    use(s, a, e, lasted, to);
  }
  return made;
}
int main(int n, char** arg) {
  if (n > 2 && !strcmp(arg[1], "csv")) {
    int seed = atoi(arg[2]);
    Chance c(seed);
    Body b = draw(c, n > 3 ? atof(arg[3]) : 320);
    printf("t,heart,lungs,sat,motion,held,lag %.1f,avg %.1f,jit %.1f,af %.2f,ect %.0f\n", b.lagS, b.averagingS, b.jitterMs, b.fibrillation, b.ectopicsPerHour);
    for (size_t i = 0; i < b.course.heart.size(); i++) printf("%.2f,%.2f,%.3f,%.2f,%.2f,%d\n", i * dt, b.course.heart[i], b.course.lungs[i], b.course.arterial[i], b.course.motion[i], b.course.held[i]);
    return 0;
  }
  int N = n > 1 ? atoi(arg[1]) : 600;
  puts("== sessions");
  Set all, full, half, empty_, hrMean, rest, perSession, nadirSat, restSat;
  for (double want : {320.0, 704.0, 1408.0}) {
    double t = 0, len = 0, worst = 0, mn = 1e9, mx = 0, sm = 1e9, sx = 0, lm = 9, lx = -9;
    int none = 0, rows = 0, bad = 0, at40 = 0;
    size_t held = 0, tot = 0, moving = 0;
    for (int i = 0; i < N; i++) {
      Chance c(uint64_t(i) * 1000003 + uint64_t(want));
      double t0 = cpu();
      Body b = draw(c, want);
      double used = cpu() - t0;
      t += used, worst = std::max(worst, used);
      auto& o = b.course;
      size_t m = o.heart.size();
      len += m * dt;
      if (m % 4 || m * dt < want || m * dt > 1.6 * want || o.held.size() != m || o.lungs.size() != m || o.arterial.size() != m || o.motion.size() != m) rows++;
      size_t from = 0;
      int holds = 0;
      double s0 = 100;
      for (size_t k = 0; k < m; k++) {
        float h = o.heart[k], l = o.lungs[k], a = o.arterial[k];
        if (!(h >= 27 && h <= 215 && l >= -2 && l <= 6 && a >= 40 && a <= 100 && o.motion[k] >= 0 && o.motion[k] <= 1)) bad++;
        mn = std::min<double>(mn, h), mx = std::max<double>(mx, h), sm = std::min<double>(sm, a), sx = std::max<double>(sx, a), lm = std::min<double>(lm, l), lx = std::max<double>(lx, l);
        s0 = std::min<double>(s0, a);
        moving += o.motion[k] > 0.1;
        if (o.held[k] && (!k || !o.held[k - 1])) from = k, holds++;
        if (o.held[k] && (k + 1 == m || !o.held[k + 1]) && from && k + 1 < m) {
          double d = (k + 1 - from) * dt;
          all.add(d);
          float v = o.lungs[from + 2];
          (v > 1.5 ? full : v > -0.25 ? half : empty_).add(d);
        }
        held += o.held[k], tot++;
      }
      at40 += s0 < 50;
      none += !holds;
      if (!holds) for (size_t k = 0; k < m; k += 97) restSat.add(o.arterial[k]);
      if (want > 1000) hrMean.add(avg(o.heart, 0, m)), perSession.add(holds), nadirSat.add(s0);
    }
    printf("want %4.0f: mean %.0f s; %.2f ms each (cpu; worst %.2f); no hold %.1f %%; held %.1f %% of time; moving %.1f %%; heart %.1f..%.1f arterial %.1f..%.1f lungs %.2f..%.2f; bad values %d, bad lengths %d; sessions with saturation under 50: %d of %d\n", want, len / N, t / N, worst, 100.0 * none / N, 100.0 * held / tot,
           100.0 * moving / tot, mn, mx, sm, sx, lm, lx, bad, rows, at40, N);
  }
  auto quant = [](const char* w, Set& s) { printf("%-26s n %6zu  5 %% %.0f  25 %% %.0f  50 %% %.0f  75 %% %.0f  95 %% %.0f  max %.0f\n", w, s.x.size(), s.q(.05), s.q(.25), s.q(.5), s.q(.75), s.q(.95), s.q(1)); };
  quant("rest saturation (no-hold)", restSat), quant("hold s, all", all), quant("hold s, full", full), quant("hold s, half", half), quant("hold s, emptied", empty_), quant("holds in 1408 s", perSession), quant("mean rate", hrMean), quant("lowest saturation", nadirSat);

  puts("\n== groups (value +/- spread | published | source)");
  struct Got { Set dur, h10, h20, h30, h60, hEnd, s60, sEnd, nadir, nadirAt, t95, t90, slope, pco10, pco20, pcoRate, back5, back15, rec, bump, pO35, pC35, onset, first95, t80; std::vector<double> kinds; } g[6];
  auto use = [](Sitter& s, size_t a, size_t e, double lasted, void* to) {
    Got& r = *(Got*)to;
    auto& h = s.out.heart; auto& sp = s.out.arterial;
    double before = avg(h, long(a) - 240, long(a) - 60), sb = avg(sp, long(a) - 120, a);
    r.dur.add(lasted);
    if (lasted > 12) r.h10.add(avg(h, a + 32, a + 48) - before);
    if (lasted > 31) r.h30.add(avg(h, a + 100, a + 124) - before);
    if (lasted > 62) r.h60.add(avg(h, a + 220, a + 248) - before), r.s60.add(sp[a + 240] - sb);
    r.hEnd.add(100 * (avg(h, long(e) - 40, e) - before) / before);
    double mx = 0; for (size_t i = a - 16; i < a + 40 && i < e; i++) mx = std::max<double>(mx, h[i]);
    r.bump.add(mx - before);
    r.sEnd.add(sp[e - 1]);
    double low = 200; size_t at = e; for (size_t i = a; i < std::min(sp.size(), e + 240); i++) if (sp[i] < low) low = sp[i], at = i;
    r.nadir.add(low);
    if (sb - low > 3) r.nadirAt.add((double(at) - double(e)) * dt + clip(s.c.scale(8, 24), 5, 40) + 3);
    double t95 = NAN, t90 = NAN; for (size_t i = a; i < e; i++) { if (t95 != t95 && sp[i] < 95) t95 = (i - a) * dt; if (t90 != t90 && sp[i] < 90) t90 = (i - a) * dt; }
    if (sb > 96) { r.t95.add(t95); } r.t90.add(t90);
    double steep = 0; for (size_t i = a; i + 80 < e; i++) steep = std::max<double>(steep, (sp[i] - sp[i + 80]) / 20);
    if (low < 90) r.slope.add(steep);
    r.back5.add(std::fabs(avg(h, e + 16, e + 32) - before)), r.back15.add(avg(h, e + 40, e + 80) - before);
    if (low < 92) for (size_t i = at; i < sp.size(); i++) if (sp[i] >= std::min(95.0, sb - 1)) { r.rec.add((i - e) * dt); break; }
  };
  scan(0.7, 1, 300, 1, 9, 0, true, use, &g[0]);
  scan(0, 0.3, 300, 2, 9, 0, false, use, &g[1]);
  scan(0.7, 1, 300, 3, -9, 0, true, use, &g[2]);
  scan(0, 0.4, 300, 4, 0, 35, false, use, &g[3]);
  scan(0, 0.3, 300, 5, -9, 0, false, use, &g[4]);
  say("trained, full, limit: seconds", g[0].dur, "210 +/- 70; 234 +/- 66", "3.01; 3.10 found");
  say("  rate at 30 s, change /min", g[0].h30, "-14 (cooler: no change)", "3.02 (3.10) found");
  say("  rate at 60 s, change /min", g[0].h60, "as at 30 s", "3.03 found");
  say("  rate at the end, change %", g[0].hEnd, "-10 to -25; 0", "3.16 note, memory; 3.10 found");
  say("  highest rate -4..10 s, over rest", g[0].bump, "rises at onset, +8 to +25", "3.08 found; size from memory");
  say("  saturation change at 60 s", g[0].s60, "0 (none for 100 to 140 s)", "3.05 found");
  say("  time to 95 %, s", g[0].t95, "150 to 180 (finger); 97-123 model", "3.05 found; 2.29 derived");
  say("  time to 90 %, s", g[0].t90, "140-178 model; 180-220", "2.29; 3.05 between 95 and 84");
  say("  lowest saturation", g[0].nadir, "77.6 +/- 13.9; 84", "3.10; 3.05 found");
  say("  steepest fall, %/s over 20 s", g[0].slope, "0.11 to 0.16 +/- 0.05; model 0.28-0.35", "3.11, 3.30; 2.29");
  say("  finger's nadir after first breath, s", g[0].nadirAt, "15 to 35", "3.27 derived");
  say("  back to 95 % (artery) after first breath, s", g[0].rec, "finger 30 to 60, less lag 15-25", "3.28 memory");
  say("  rate 4..8 s after, distance from rest", g[0].back5, "control within 5 s", "3.09 found");
  say("  rate 10..20 s after, change", g[0].back15, "about 0, overshoot +5 to +15", "memory");
  say("novices, full, limit: seconds", g[1].dur, "102 +/- 24; 129 +/- 39; beginners 30-90", "3.10; 3.11; memory");
  say("  saturation at the end", g[1].sEnd, "97.6 +/- 0.7 (oximeter)", "3.10 found");
  say("  rate at 30 s, change /min", g[1].h30, "-5 to -15; none", "memory; 3.10");
  say("  rate at the end, change %", g[1].hEnd, "0; -15 to -20 (cold face)", "3.10; 3.11 found");
  say("trained, emptied, limit: seconds", g[2].dur, "151 (elite, best); half of full", "3.17 found");
  say("  time to 90 %, s", g[2].t90, "38 (model, FRC)", "2.29 derived");
  say("novices, after breathing out, 35 s: time to 90 %", g[3].t90, "38 (22 to 95 %)", "2.29; 2.20 strong fall found");
  say("  lowest saturation", g[3].nadir, "85 to 93", "memory");
  say("novices, emptied, limit: seconds", g[4].dur, "8 to 30", "our choice");
  // gas at 10, 20, 80 s of an FRC hold; carbon dioxide and oxygen
  {
    Set c10, c20, c80, o35, c35, onN, onT;
    for (uint64_t k = 0; k < 400; k++) {
      Chance c(77 + k * 13);
      Sitter s(c);
      if (s.barometer < 700 || s.age > 60 || s.ill) { continue; }
      s.want = 1 << 20, s.quiet(120);
      s.glide(0, 1, 0);
      double p0 = s.pC, o0 = s.pO;
      s.held = true;
      for (int i = 1; i <= 320; i++) {
        s.step(0, false);
        if (i == 40) c10.add(s.pC - p0);
        if (i == 80) c20.add(s.pC - p0);
        if (i == 140) o35.add(s.pO - o0), c35.add(s.pC - p0);
        if (i == 320) c80.add(s.pC - p0);
      }
    }
    say("FRC hold: alveolar CO2 after 10 s, mmHg", c10, "+7", "2.15 found");
    say("  after 20 s", c20, "+9", "2.15 found");
    say("  after 80 s", c80, "+15; +9.8 to +13 in 60 s then 3-4/min", "2.15, 2.16, 2.18");
    say("  after 35 s CO2", c35, "+10.2", "2.20 found");
    say("  after 35 s O2", o35, "-50 (model -33)", "2.20 found; 2.32");
  }
  {
    Set q15, q6, ratio, deepRise, cvT, cvV, early;
    for (uint64_t k = 0; k < 500; k++) {
      Chance c(9000 + k * 31);
      Sitter s(c);
      if (s.paced || s.wavering) continue;
      s.own.fidgets = 0, s.own.swallows = 0, s.own.sighs = 0, s.own.coughs = s.own.sniffs = s.own.yawns = 0;
      s.lfPush = s.vlfPush = s.driftPush = 0, s.vlf = s.lfx = s.lfy = 0, s.settling = 0;
      s.want = 1 << 16;
      Style d = s.own;
      auto swing = [&](double rate, double depth) {
        d.rate = rate, d.depth = depth, d.cvRate = d.cvDepth = 0, d.follow = 0, d.pause = 0.1;
        s.breathe(d, 60);
        size_t a = s.out.heart.size();
        s.breathe(d, 60);
        double sum = 0; int n2 = 0; size_t per = size_t(60 / rate / dt);
        for (size_t i = a; i + per < s.out.heart.size(); i += per) { auto mm = std::minmax_element(s.out.heart.begin() + i, s.out.heart.begin() + i + per); sum += *mm.second - *mm.first, n2++; }
        return sum / n2;
      };
      double a = swing(15, 1), b = swing(6, 1.3);
      q15.add(a), ratio.add(b / a);
      if (s.age < 35) q6.add(b);
      s.quiet(30);
      double r0 = avg(s.out.heart, long(s.out.heart.size()) - 80, s.out.heart.size());
      size_t at = s.out.heart.size();
      s.glide(0.9 * s.fullUnits, 2.5, 0), s.glide(0, 4, 2);
      double mx = 0; for (size_t i = at; i < s.out.heart.size(); i++) mx = std::max<double>(mx, s.out.heart[i]);
      deepRise.add(mx - r0);
      Chance c2(k);
      Sitter u(c2);
      u.own.sighs = u.own.coughs = u.own.sniffs = u.own.yawns = u.own.fidgets = 0;
      u.want = 1 << 16, u.quiet(400);
      std::vector<double> T, V; double last = 0; float lo = 9;
      for (size_t i = 1; i + 1 < u.out.lungs.size(); i++) {
        lo = std::min(lo, u.out.lungs[i]);
        if (u.out.lungs[i] > u.out.lungs[i - 1] && u.out.lungs[i] >= u.out.lungs[i + 1] && u.out.lungs[i] - lo > 0.1) { if (last > 0) T.push_back(i * dt - last), V.push_back(u.out.lungs[i] - lo); last = i * dt; lo = 9; }
      }
      Set sT, sV; for (double x : T) sT.add(60 / x); for (double x : V) sV.add(x);
      cvT.add(100 * sT.sd() / sT.mean()), cvV.add(100 * sV.sd() / sV.mean());
    }
    say("sinus arrhythmia, 15 breaths/min, top to bottom", q15, "8.6 (1 to 46)", "BH found");
    say("  6 breaths/min, under 35 years", q6, "20 +/- 5", "HB found");
    say("  6 over 15 breaths/min", ratio, "about 2 (corner 7.2, 21 dB/decade)", "HB found");
    say("deepest breath, rise of the rate", deepRise, "+8 to +25", "memory; forum +10 to +12");
    say("breath to breath variation of rate, %", cvT, "20.8 +/- 11.5", "T88 found");
    say("  of depth, %", cvV, "33 +/- 14.9", "T88 found");
  }
}
