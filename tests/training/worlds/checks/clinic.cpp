// Holds the clinic world to published group values and prints time, ranges, shares.
#include "../clinic.hpp"
#include <ctime>
#include <cstdio>
#include <functional>
#include <string>
using namespace world_clinic;
using V = std::vector<double>;
static double q(V v, double f) { if (v.empty()) return NAN; std::sort(v.begin(), v.end()); return v[size_t(f * (v.size() - 1) + .5)]; }
static double mean(const V& v) { double s = 0; for (double x : v) s += x; return s / v.size(); }
static double sd(const V& v) { double m = mean(v), s = 0; for (double x : v) s += (x - m) * (x - m); return std::sqrt(s / v.size()); }
static void row(const char* what, const V& v, const char* want) { printf("%-58s mean %7.2f sd %6.2f | p5 %6.1f p25 %6.1f p50 %6.1f p75 %6.1f p95 %6.1f (n %zu)\n      published: %s\n", what, mean(v), sd(v), q(v, .05), q(v, .25), q(v, .5), q(v, .75), q(v, .95), v.size(), want); }
static Seg quiet(const Person& p, double dur) { Seg g; g.dur = dur; g.period = p.period; g.cvP = p.cvP; g.cvD = p.cvD; g.ti = p.ti; return g; }
static double avg(const std::vector<float>& a, int i, int j) { double s = 0; i = std::max(i, 0); j = std::min<int>(j, a.size()); for (int k = i; k < j; k++) s += a[k]; return s / std::max(1, j - i); }
static int start(const Body& b) { for (size_t i = 0; i < b.course.held.size(); i++) if (b.course.held[i]) return int(i); return -1; }
static int stop(const Body& b) { int s = start(b); while (s >= 0 && s < int(b.course.held.size()) && b.course.held[s]) s++; return s; }
static Body one(Chance& c, Person p, Seg hold, double before = 90, double after = 150) {
  p.ectopics = 0; p.swallows = p.sighs = p.coughs = p.yawns = .01; p.fidgets = .01;
  Script s{quiet(p, before + 20), hold, quiet(p, after)};
  return play(c, p, s, before + hold.dur + after, 20);
}
static Seg holdSeg(const Person& p, double dur, double litresShare) { Seg g = quiet(p, dur); g.mode = 2; g.will = 1; g.level = litresShare > 0 ? p.ic / p.unit * litresShare : litresShare; return g; }
int main() {
  printf("== draws\n");
  for (double w : {320., 704., 1408.}) {
    double t = 0, hl = 1e9, hh = 0, al = 1e9, ah = 0, ll = 1e9, lh = -1e9, len = 0, shortest = 1e9; int none = 0, bad = 0, N = 1000; V L, top, low;
    for (int k = 0; k < N; k++) {
      Chance c(9000000ull + k * 7 + int(w));
      auto a = clock();
      Body b = draw(c, w);
      t += double(clock() - a) / CLOCKS_PER_SEC * 1e3;
      auto& o = b.course; size_t n = o.heart.size(); bool any = false; int run = 0; double sl = 100, st = 0;
      if (n % 4 || o.lungs.size() != n || o.held.size() != n) bad++;
      len = std::max(len, n / 4. / w); shortest = std::min(shortest, n / 4. / w);
      for (size_t i = 0; i < n; i++) {
        if (!std::isfinite(o.heart[i]) || !std::isfinite(o.lungs[i]) || !std::isfinite(o.arterial[i]) || !std::isfinite(o.motion[i])) bad++;
        hl = std::min<double>(hl, o.heart[i]); hh = std::max<double>(hh, o.heart[i]); al = std::min<double>(al, o.arterial[i]); ah = std::max<double>(ah, o.arterial[i]); ll = std::min<double>(ll, o.lungs[i]); lh = std::max<double>(lh, o.lungs[i]);
        sl = std::min<double>(sl, o.arterial[i]); st += o.heart[i];
        if (o.held[i]) any = true, run++; else { if (run) L.push_back(run / 4.); run = 0; }
      }
      low.push_back(sl); top.push_back(st / n); none += !any;
    }
    printf("want %4.0f: %.2f ms (limit 4 at 1408), heart %.0f-%.0f, arterial %.1f-%.1f, lungs %.2f-%.2f, bad %d, length %.2f-%.2f of want, no hold %.1f %%\n   holds: %.2f a session, length p0 %.1f p5 %.1f p25 %.1f p50 %.1f p75 %.1f p90 %.1f p98 %.1f p100 %.1f; session's mean rate p1 %.0f p50 %.0f p99 %.0f; lowest saturation p1 %.0f p5 %.0f p25 %.0f p50 %.0f\n", w, t / N, hl, hh, al, ah, ll, lh, bad, shortest, len, 100. * none / N,
      double(L.size()) / N, q(L, 0), q(L, .05), q(L, .25), q(L, .5), q(L, .75), q(L, .9), q(L, .98), q(L, 1), q(top, .01), q(top, .5), q(top, .99), q(low, .01), q(low, .05), q(low, .25), q(low, .5));
  }
  printf("== against published values\n");
  const int N = 500; Chance c(4711);
  auto group = [&](std::function<bool(const Person&)> ok, int kind = -1) { std::vector<Person> g; while (int(g.size()) < N) { Person p = person(c, kind); if (std::fabs(p.pi - 149) < 1 && ok(p)) g.push_back(p); } return g; };
  auto yes = [](const Person&) { return true; };
  auto young = group([](const Person& p) { return p.age < 40; }, Ordinary);
  auto middle = group([](const Person& p) { return p.age >= 40; }, Ordinary);
  auto old = group(yes, Old), lung = group(yes, LungDisease), teen = group(yes, Adolescent), rigid = group(yes, Rigid), unfit = group(yes, Unfit), all = group(yes);
  auto deep = [&](std::vector<Person>& g) { V v; for (auto p : g) { Seg s = quiet(p, 60); s.period = 10; s.absDepth = 2.7; s.will = 1; s.cvP = .02; s.cvD = .05; s.ti = .48; Body b = one(c, p, s, 40, 10); double d = 0; int m = 0; for (int i = 200; i + 40 < 400; i += 40) { auto e = std::minmax_element(b.course.heart.begin() + i, b.course.heart.begin() + i + 40); d += *e.second - *e.first; m++; } v.push_back(d / m); } return v; };
  row("1 deep-breathing difference, 18-40 years", deep(young), "normal >=15; means 20 to 30 in the young [w4; from memory]");
  row("1 same, 40-65", deep(middle), ">=15 normal, <=10 abnormal [w4]; some 15 to 20 from memory");
  row("1 same, 65-92", deep(old), "some 8 to 14, from memory");
  row("1 same, adolescents", deep(teen), "about 20, quartiles 14 to 29 [w5] (drawn wider: huge ones asked for)");
  row("1 same, vagal neuropathy", deep(rigid), "<=10, mostly <5 [w4]");
  { V v, r, s; for (auto* g : {&young, &middle}) for (auto p : *g) { Body b = one(c, p, quiet(p, 200), 60, 5); double ph = 0, last = 0, lastRR = 0; V rr; double sq = 0; for (size_t i = 0; i < b.course.heart.size(); i++) { double h = b.course.heart[i] / 60 * .25; if (ph + h >= 1) { double t = i * .25 + (1 - ph) / h * .25; if (last > 0) { double x = (t - last) * 1000; if (lastRR > 0) sq += (x - lastRR) * (x - lastRR); rr.push_back(x); lastRR = x; } last = t; ph += h - 1; } else ph += h; } r.push_back(std::sqrt(sq / rr.size())); s.push_back(sd(rr)); v.push_back(mean(rr)); }
    row("2 RMSSD of rest, ordinary adults (ms, no jitter)", r, "short records 42 +- 15 (19-75), 27 +- 12 over 24 h [r 7.05 / memory]"); row("2 SDNN of rest", s, "short records 50 +- 16 (32-93), from memory"); }
  { V v; for (auto& p : lung) v.push_back(p.base); row("3 rest rate, lung disease", v, "83 +- 10 to 85 +- 13 [w3]"); }
  { V v; for (auto p : young) { Seg g = quiet(p, 15); g.mode = 4; g.strain = c.scale(4, 34); g.level = 1.8; Body b = one(c, p, g, 60, 60); int a = start(b), e = stop(b); double hi = 0, lo = 1e9; for (int i = a; i < e + 4; i++) hi = std::max<double>(hi, b.course.heart[i]); for (int i = e; i < e + 120; i++) lo = std::min<double>(lo, b.course.heart[i]); v.push_back(hi / lo); } row("4 strain ratio, 18-40", v, ">=1.21 normal [w4]; some 1.3 to 1.9 from memory"); }
  { V up, s, back; for (auto p : lung) { Seg g = quiet(p, 360); g.met = c.between(2.4, 4.6); g.motion = .9; g.will = 0; g.kick = 5; Body b = one(c, p, g, 60, 120); auto& o = b.course; double r0 = avg(o.heart, 80, 240), e = avg(o.heart, 4 * 405, 4 * 418); up.push_back(e - r0); s.push_back(avg(o.arterial, 1600, 1680) - avg(o.arterial, 80, 240)); back.push_back(e - avg(o.heart, 4 * 478, 4 * 488)); }
    row("5 six-minute walk, lung disease: rise of the rate", up, "+37 +- 14 [w3]"); row("5 same: saturation", s, "-4 +- 2 [w3], severe -6 +- 5"); row("5 same: fall in the first minute after", back, "quintiles 5, 10, 15, 22 [w3]"); }
  auto hold = [&](std::vector<Person>& g, double dur, double level, double* t90, V* d35, V* at, V* dh, V* var, V* nadir, V* back, V* backSat, double atS) {
    V t; for (auto p : g) { Body b = one(c, p, holdSeg(p, dur, level)); auto& o = b.course; int a = start(b), e = stop(b); double r = -1; for (int i = a; i < int(o.arterial.size()) && i < e; i++) if (o.arterial[i] < 90) { r = (i - a) * .25; break; } t.push_back(r < 0 ? 999 : r);
      auto pao = [&](double s) { return inverse(std::min(s, 99.5) / 100); };
      if (d35) d35->push_back(pao(o.arterial[a + 140]) - pao(avg(o.arterial, a - 120, a))); if (at) at->push_back(o.arterial[a + int(atS * 4) - int(p.lagS * 4)]);
      if (dh) dh->push_back(avg(o.heart, e - 40, e) - avg(o.heart, a - 160, a - 12)); if (var) { double hi = 0, lo = 1e9; for (int i = a + 4 * 8; i < e; i++) { hi = std::max<double>(hi, o.heart[i]); lo = std::min<double>(lo, o.heart[i]); } var->push_back(hi - lo); }
      if (nadir || backSat) { int m = e; for (int i = a; i < e + 200; i++) if (o.arterial[i] < o.arterial[m]) m = i; if (nadir) nadir->push_back((m - e) * .25 + p.lagS + .5 * p.averagingS); if (backSat) { double r0 = avg(o.arterial, a - 120, a) - 1; int i = m; while (i < int(o.arterial.size()) && o.arterial[i] < r0) i++; backSat->push_back((i - e) * .25 + p.lagS + p.averagingS); } }
      if (back) { double h0 = avg(o.heart, a - 160, a - 12), x = avg(o.heart, e + 4, e + 4 * 30); back->push_back(x - h0); } }
    if (t90) *t90 = q(t, .5); return t; };
  { V d, nad, bs; V t = hold(young, 60, -.001, nullptr, &d, nullptr, nullptr, nullptr, &nad, nullptr, &bs, 35); row("6 hold after breathing out: arterial PO2 at 35 s (from saturation)", d, "-50 [r 2.20] (model of reference alone: -33 [r 2.32])"); row("7 same: time to 90 % (999 = not in 60 s)", t, "38 s for 2.4 L [r 2.29, derived]; asked: 40 to 60 s in small lungs"); row("8 lowest point after the end, at the finger", nad, "15 to 35 s [r 3.27], patients 38.5 +- 17.5 [r 3.24]"); row("9 back within 1 of rest, at the finger", bs, "30 to 60 s after the first breath [r 3.28, memory]"); }
  { V t = hold(unfit, 60, -.001, 0, 0, 0, 0, 0, 0, 0, 0, 35); row("7 time to 90 %, overweight, after breathing out", t, "faster than the above; 40 to 60 s asked"); }
  { V t = hold(unfit, 130, .8, 0, 0, 0, 0, 0, 0, 0, 0, 35); row("7 time to 90 %, overweight, full lungs", t, "below 123 s [r 2.29]"); }
  { V s15; hold(lung, 16, -.001, 0, 0, 0, 0, 0, 0, 0, 0, 15); for (auto p : lung) { Body b = one(c, p, holdSeg(p, 15, .8)); int a = start(b); double m = 100; for (int i = a; i < a + 160; i++) m = std::min<double>(m, b.course.arterial[i]); s15.push_back(m); } row("10 lowest saturation, 15 s hold, lung disease", s15, "94 % and below marks those who fall <90 % in a walk [web, 15-s test of 2021]: spread about 88 to 96"); }
  { V at, dh, var, back; V t = hold(young, 104, .95, 0, 0, &at, &dh, &var, 0, &back, 0, 102); row("11 full lungs, finger at 102 s", at, "97.6 +- 0.7 [r 3.10], model of reference 93.3 arterial"); row("11 same: time to 90 % (999 = not in 104 s)", t, "123 s for 6.0 L [r 2.29]"); row("12 rate at the end of a 104 s hold against before", dh, "no change in controls [r 3.10]; -20 % and more in others [r 3.14]"); }
  { V dh, var, back; hold(young, 35, .6, 0, 0, 0, &dh, &var, 0, &back, 0, 30); row("13 35 s hold: largest change of rate after the first 8 s", var, "12 +- 6 (5-25) [w2]"); row("13 same: rate at the end against before", dh, "-5 to 0, from memory"); row("13 same: first 30 s after against before", back, "about 0 [r 3.28]"); }
  { V v, w; for (auto& p : all) if (p.kind == LungDisease) v.push_back(p.maxOut); else if (p.kind == Ordinary) w.push_back(p.maxOut); row("14 longest hold after breathing out, lung disease", v, "9.2 s [w1]"); row("14 same, ordinary", w, "31.7 s [w1]"); }
  { V v, r; for (auto p : young) { Seg g = quiet(p, 150); g.period = 2.2; g.absDepth = 1.9; g.will = 1; g.tone = c.between(4, 26); Body b = one(c, p, g, 60, 120); double a = 0, z = 0; for (int i = 4 * 212; i < 4 * 250; i++) a += std::fabs(b.course.lungs[i] - b.course.lungs[i - 1]); for (int i = 80; i < 232; i++) z += std::fabs(b.course.lungs[i] - b.course.lungs[i - 1]); v.push_back(avg(b.course.heart, 4 * 180, 4 * 205) - avg(b.course.heart, 80, 240)); r.push_back(a / z * 152 / 152); } row("15 over-breathing: rise of the rate", v, "+10 to +25, from memory"); row("15 ventilation just after, of rest", r, "below 1 in most, from memory"); }
  { V v, w; for (auto p : young) { Seg g = quiet(p, 300); g.pi = .12 * 713; Body b = one(c, p, g, 60, 60); v.push_back(avg(b.course.arterial, 4 * 250, 4 * 350)); w.push_back(avg(b.course.heart, 4 * 250, 4 * 350) - avg(b.course.heart, 80, 240)); } row("16 five minutes of 12 % oxygen: saturation", v, "about 80 to 88, from memory"); row("16 same: rise of the rate", w, "+5 to +15, from memory"); }
}
