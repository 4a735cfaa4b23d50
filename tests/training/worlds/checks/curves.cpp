// Holds the world "curves" to published group values. Reads only what a Body hands out. Build and run: run.sh.
// "search": abstracts found with the search tool: Quer 2020 (journal.pone.0227709), Natarajan 2021 (PMC8443549), 635 subjects at rest
// (Brain & Heart 2(4) p. 101), Hirsch & Bishop 1981, deep breathing of 5 to 17 year olds (PMC7709837), Tobin 1988, autocorrelation of
// breaths in 33 subjects (ajrccm.152.6.8520764), swallows (dynamics of swallowing-induced chronotropic responses, n 23), breath-holds in
// imaging (PMC3988269), novices' longest holds 104 +- 26 s (effect of gender on maximal breath-hold time), students 30 s (AJOL ejhs
// 274010), Chen 2014 (PMID 25389629). Numbers like 3.05 are rows of reference/published-values.md.
#include <cstdio>
#include <cstdlib>
#include <ctime>

#include "../curves.hpp"

using std::vector;
static double cpu() { timespec t; clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t); return t.tv_sec + t.tv_nsec * 1e-9; }
static double mean(const vector<double>& v) { double s = 0; for (double x : v) s += x; return v.empty() ? NAN : s / v.size(); }
static double sd(const vector<double>& v) { double m = mean(v), s = 0; for (double x : v) s += (x - m) * (x - m); return v.size() < 2 ? NAN : std::sqrt(s / (v.size() - 1)); }
static double quantile(vector<double> v, double q) { if (v.empty()) return NAN; std::sort(v.begin(), v.end()); return v[size_t(q * (v.size() - 1))]; }
static void tell(const char* what, const vector<double>& v, const char* published) {
  printf("%-58s %7.2f +- %-6.2f q05 %7.2f q50 %7.2f q95 %7.2f n %-6zu | %s\n", what, mean(v), sd(v), quantile(v, .05), quantile(v, .5), quantile(v, .95), v.size(), published);
}

struct Hold { int a, b; double level; bool moves; };

int main(int argc, char** argv) {
  int sessions = argc > 1 ? atoi(argv[1]) : 3000;
  // Time, ranges, shares.
  for (double want : {320., 704., 1408.}) {
    double t = 0, length = 0, inHold = 0, rows = 0;
    int none = 0, bad = 0, clipped = 0;
    float lh = 1e9f, hh = -1e9f, ls = 1e9f, hs = -1e9f, ll = 1e9f, hl = -1e9f;
    for (int k = 0; k < sessions; k++) {
      Chance c(1000003ull * k + uint64_t(want));
      double a = cpu();
      Body body = world_curves::draw(c, want);
      t += cpu() - a;
      const Course& o = body.course;
      size_t n = o.heart.size();
      if (n % 4 || n < 240 || n < want * 4 || n > want * 6.4 || o.lungs.size() != n || o.arterial.size() != n || o.motion.size() != n || o.held.size() != n) bad++;
      bool any = false;
      for (size_t i = 0; i < n; i++) {
        float h = o.heart[i], s = o.arterial[i], l = o.lungs[i], m = o.motion[i];
        if (!(h >= 27 && h <= 215 && s >= 40 && s <= 100 && l >= -2 && l <= 6 && m >= 0 && m <= 1)) bad++;
        lh = std::min(lh, h); hh = std::max(hh, h); ls = std::min(ls, s); hs = std::max(hs, s); ll = std::min(ll, l); hl = std::max(hl, l);
        clipped += h <= 27 || h >= 215;
        any |= o.held[i];
        inHold += o.held[i];
      }
      rows += n;
      length += n * stepS;
      none += !any;
    }
    printf("want %4.0f: %.2f ms CPU a session, mean length %.0f s, without holds %.1f %%, time held %.1f %%, heart %.0f..%.0f (at the clamp %.1e), arterial %.0f..%.1f, lungs %.2f..%.2f, faults %d\n",
           want, t / sessions * 1e3, length / sessions, 100. * none / sessions, 100 * inHold / rows, lh, hh, clipped / rows, ls, hs, ll, hl, bad);
  }

  vector<double> rest, rsa, rsaSlow, rate, cvT, cvV, kin, at30, at30long, at30short, late, swing, first, back, over1, len, lenFull, lenHalf, lenOut, lenEmpty, per;
  vector<double> s100, s165, s265, s102, end234, frc35, half30, nadir, recover, slope, t95, t90, t95e, t90e, mssdRatio, satRest, drop, sdLf, noFall, ahead;
  int holds = 0;
  for (int k = 0; k < sessions; k++) {
    Chance c(77777ull * k + 5);
    Body body = world_curves::draw(c, 1408);
    const Course& o = body.course;
    int n = int(o.heart.size());
    // The finger: lag and averaging.
    vector<float> finger(n);
    {
      int lag = int(body.lagS * 4), w = std::max(1, int(body.averagingS * 4));
      double sum = 0;
      for (int i = 0; i < n; i++) {
        sum += o.arterial[std::max(0, i - lag)];
        if (i >= w) sum -= o.arterial[std::max(0, i - w - lag)];
        finger[i] = float(sum / std::min(i + 1, w));
      }
    }
    vector<Hold> hs;
    for (int i = 1; i < n; i++)
      if (o.held[i] && !o.held[i - 1]) {
        int b = i;
        bool moves = false;
        double level = o.lungs[i];
        while (b < n && o.held[b]) moves |= o.motion[b] > 0.45f, b++;
        if (b < n) hs.push_back({i, b, level, moves});
        i = b;
      }
    auto avg = [&](const vector<float>& y, int a, int b) { a = std::max(0, a); b = std::min(n, b); double s = 0; for (int i = a; i < b; i++) s += y[i]; return b > a ? s / (b - a) : NAN; };
    // Quiet time: no motion, 60 s after and 30 s before holds.
    vector<char> calm(n, 1);
    for (int i = 0; i < n; i++) if (o.motion[i] > 0.4f) for (int j = i; j < std::min(n, i + 400); j += 1) { if (!calm[j] && j > i + 8) break; calm[j] = 0; }
    for (auto& h : hs) for (int j = std::max(0, h.a - 120); j < std::min(n, h.b + 240); j++) calm[j] = 0;
    for (int i = 0; i < n; i++) if (o.held[i]) calm[i] = 0;
    vector<double> hr, sa;
    for (int i = 0; i < n; i += 4) if (calm[i]) hr.push_back(o.heart[i]), sa.push_back(finger[i]);
    if (hr.size() > 60) rest.push_back(quantile(hr, .5)), satRest.push_back(quantile(sa, .5));
    // Breaths: rising through 0.3 of the ordinary after having been under 0.15.
    vector<int> starts;
    bool low = true;
    for (int i = 0; i < n; i++) {
      if (o.lungs[i] < 0.15f) low = true;
      if (low && o.lungs[i] > 0.25f) starts.push_back(i), low = false;
    }
    vector<double> T, V, pp;
    for (size_t j = 0; j + 1 < starts.size(); j++) {
      int a = starts[j], b = starts[j + 1];
      double s = (b - a) * stepS;
      if (s > 20 || !calm[a] || !calm[b]) continue;
      double top = 0, hi = -1e9, lo = 1e9;
      for (int i = a; i < b; i++) top = std::max<double>(top, o.lungs[i]), hi = std::max<double>(hi, o.heart[i]), lo = std::min<double>(lo, o.heart[i]);
      if (s > 2 && s < 9 && top < 1.8) T.push_back(s), V.push_back(top), pp.push_back(hi - lo);
      if (s > 8 && s < 15 && top > 1.2) rsaSlow.push_back(hi - lo);
      per.push_back(60 / s);
    }
    if (T.size() > 40) {
      rsa.push_back(mean(pp));
      rate.push_back(60 / mean(T));
    }
    if (hs.empty()) {
      for (int w = 0; w + 720 <= n; w += 720) {  // windows of three minutes, at rest
        vector<double> t2, v2;
        for (size_t j = 0; j + 1 < starts.size(); j++) {
          if (starts[j] < w || starts[j] >= w + 720 || !calm[starts[j]]) continue;
          double s = (starts[j + 1] - starts[j]) * stepS, top = 0;
          for (int i = starts[j]; i < starts[j + 1]; i++) top = std::max<double>(top, o.lungs[i]);
          if (s < 20) t2.push_back(60 / s), v2.push_back(top);
        }
        if (t2.size() > 20) cvT.push_back(100 * sd(t2) / mean(t2)), cvV.push_back(100 * sd(v2) / mean(v2));
      }
      if (T.size() > 80) {
        double m = mean(T), u = 0, d = 0;
        for (size_t j = 1; j < T.size(); j++) u += (T[j] - m) * (T[j - 1] - m);
        for (double x : T) d += (x - m) * (x - m);
        kin.push_back(u / d);
      }
    }
    for (auto& h : hs) {
      holds++;
      double L = (h.b - h.a) * stepS;
      len.push_back(L);
      (h.level > 1.9 ? lenFull : h.level > 0.4 ? lenHalf : h.level > -0.25 ? lenOut : lenEmpty).push_back(L);
      if (h.moves || h.a < 360) continue;
      bool free = true;  // nothing held in the 60 s before
      for (int i = h.a - 240; i < h.a; i++) free &= !o.held[i] && o.motion[i] < 0.5f;
      double pre = avg(o.heart, h.a - 240, h.a - 40), near = avg(o.heart, h.a - 20, h.a);
      bool fullLungs = h.level > 1.9;
      if (free) {
        ahead.push_back(near - pre);
        if (L >= 35) { double d = avg(o.heart, h.a + 100, h.a + 140) - pre; at30.push_back(d); noFall.push_back(d > -3); if (L >= 150 && fullLungs) at30long.push_back(d); if (L < 100) at30short.push_back(d); }
        if (L >= 150) late.push_back(avg(o.heart, h.b - 40, h.b) - pre);
        if (L >= 20) drop.push_back(100 * (avg(o.heart, h.b - 40, h.b) - pre) / pre);
        if (L >= 18 && L <= 60) {
          double hi = -1e9, lo = 1e9;
          for (int i = h.a; i < h.b; i++) hi = std::max<double>(hi, o.heart[i]), lo = std::min<double>(lo, o.heart[i]);
          swing.push_back(hi - lo);
        }
        if (fullLungs) { double hi = -1e9; for (int i = h.a; i < std::min(h.b, h.a + 32); i++) hi = std::max<double>(hi, o.heart[i]); first.push_back(hi - pre); }
        if (L >= 30) {  // smoothed over 3 s, back to within 3 of before
          double end = avg(o.heart, h.b - 20, h.b);
          if (end < pre - 6) {
            int i = h.b;
            while (i < std::min(n, h.b + 480) && avg(o.heart, i - 6, i + 6) < pre - 3) i++;
            back.push_back((i - h.b) * stepS);
          }
          double hi = -1e9;
          for (int i = h.b; i < std::min(n, h.b + 120); i++) hi = std::max(hi, avg(o.heart, i - 6, i + 6));
          over1.push_back(hi - pre);
          double x = 0, y = 0;
          for (int i = h.a + 40; i < std::min(h.b, h.a + 280); i += 3) x += std::pow(o.heart[i] - o.heart[i - 3], 2);
          int m = (std::min(h.b, h.a + 280) - h.a - 40 + 2) / 3, m2 = 0;
          for (int i = h.a - 240; i < h.a - 40; i += 3) y += std::pow(o.heart[i] - o.heart[i - 3], 2), m2++;
          mssdRatio.push_back(std::sqrt(x / m) / std::sqrt(y / m2));
        }
      }
      double s0 = avg(finger, h.a - 80, h.a);
      if (s0 < 95.5 || !free) continue;
      auto at = [&](double s) { return double(finger[std::min(n - 1, h.a + int(s * 4))]); };
      if (fullLungs) {
        if (L >= 102) s102.push_back(at(102));
        if (L >= 120) s100.push_back(at(120));
        if (L >= 165) s165.push_back(at(165));
        if (L >= 225 && L < 300) s265.push_back(at(L));
        if (L >= 190 && L < 280) { double lo = 200; for (int i = h.b - 20; i < std::min(n, h.b + 160); i++) lo = std::min<double>(lo, finger[i]); end234.push_back(lo); }
      }
      // Arterial, by what the course hands out plus its own delay: seconds to 95 and 90 at the finger, in holds long enough to come so far.
      int i = h.a;
      while (i < std::min(n, h.b + 160) && finger[i] > 95) i++;
      bool reached95 = i < std::min(n, h.b + 160);
      double a95 = (i - h.a) * stepS;
      while (i < std::min(n, h.b + 160) && finger[i] > 90) i++;
      bool reached90 = i < std::min(n, h.b + 160);
      if (reached95) (fullLungs ? t95 : h.level < 0.3 ? t95e : sdLf).push_back(a95);
      if (reached90) (fullLungs ? t90 : h.level < 0.3 ? t90e : sdLf).push_back((i - h.a) * stepS);
      double lo = 200;
      int iLo = h.b;
      for (int j = h.b - 20; j < std::min(n, h.b + 240) && !(j > h.b && o.held[j]); j++) if (finger[j] < lo) lo = finger[j], iLo = j;
      if (lo < s0 - 4) {
        nadir.push_back((iLo - h.b) * stepS);
        double steep = 0;
        for (int j = h.a; j + 80 < iLo; j += 4) steep = std::max(steep, (finger[j] - finger[j + 80]) / 20.0);
        if (fullLungs && L > 120) slope.push_back(steep);
        if (lo < 93) {
          int j = iLo;
          while (j < n - 1 && !o.held[j] && finger[j] < 95) j++;
          if (!o.held[j] && j < n - 1) recover.push_back((j - h.b) * stepS);
        }
      }
      if (h.level > -0.25 && h.level < 0.25 && L >= 28 && L < 45) frc35.push_back(lo - s0);
      if (h.level > 0.7 && h.level < 1.95 && L >= 25 && L <= 45) half30.push_back(lo - s0);
    }
  }
  printf("\n%d whole holds\n", holds);
  tell("rest rate, /min, by session", rest, "65, 40 to 109 (Quer 2020, found by search); 67.6 +- 9.8 seated (search)");
  tell("rest saturation at the finger, %", satRest, "96 to 99, thin air lower (from memory)");
  tell("heart's swing in an ordinary breath, /min (noise too)", rsa, "8.6, SD about 7.6 (SEM 0.3, n 635), 1 to 46 (search: Brain & Heart 2024?)");
  tell("the same in slow deep breaths, 4 to 7.5 /min", rsaSlow, "20 +- 5 (Hirsch & Bishop 1981); 18 to 22, quartiles 12 to 29 (PMC7709837, the young)");
  tell("rate of ordinary breaths, /min", rate, "15.4, 90 % in 11.8 to 19.2, asleep (Natarajan 2021)");
  tell("spread of breath rate, windows of 3 min without holds, %", cvT, "20.8 +- 11.5 in 15 min of rest (Tobin 1988); here talk and walks too");
  tell("spread of depth, %", cvV, "33 +- 14.9 (Tobin 1988)");
  tell("kinship of neighbouring breaths' times", kin, "TI 0.20 +- 0.14, TE 0.26 +- 0.12 (1995)");
  tell("heart, 25-35 s into holds, minus before", at30, "0 (Heusser, 3.10) to -14 (Perini, 3.02)");
  tell("  the same, full lungs, holds of 150 s and more", at30long, "-14 (Perini, 3.02); 0 (Heusser, 3.10)");
  tell("  the same, holds under 100 s", at30short, "dry, untrained some -5 to -15 % (from memory)");
  tell("  share that fell less than 3", noFall, "'heart rate did not change in either group' (3.10)");
  tell("heart, last 10 s of holds of 150 s and more", late, "11 of 20 fall further in phase III (3.04)");
  tell("heart, last 10 s, % of before, holds of 20 s and more", drop, "dry trained -10 to -25 % (3.16, memory); -32 then -20 (3.14)");
  tell("swing within holds of 18 to 60 s", swing, "12 +- 6, 5 to 30 (MRI breath-holds, PMC3988269)");
  tell("highest of the first 8 s on full lungs, minus before", first, "rises (3.08); 10 to 12 after a full breath (divers' forum)");
  tell("anticipation: last 5 s minus the minute before", ahead, "rises in some (3.08, from memory)");
  tell("seconds until the heart is back within 3", back, "5 (immersed, 3.09); 1 to 60 (our choice)");
  tell("highest of 30 s after the end, minus before", over1, "from memory 0 to 25");
  tell("ratio of quick changes (0.75 s), hold to before", mssdRatio, "rMSSD significantly lower in end-inspiration holds (Chen 2014)");
  tell("finger at 102 s, full lungs", s102, "97.6 +- 0.7, controls (3.10)");
  tell("finger at 120 s, full lungs", s100, "98, plateau to 100-140 s (3.05)");
  tell("finger at 165 s, full lungs", s165, "95 (3.05)");
  tell("finger at the end of holds of 225 to 300 s", s265, "84 at ~265 s (3.05)");
  tell("lowest, holds of 190 to 280 s, full lungs", end234, "77.6 +- 13.9 at 234 s (3.10)");
  tell("seconds to 95 at the finger, full, where reached", t95, "model 87 to 123 arterial, too early (2.29); 150 to 180 (3.05)");
  tell("seconds to 90 at the finger, full, where reached", t90, "model 123 to 178 arterial, too early (2.29); ~210 (3.05, between)");
  tell("seconds to 95 at the finger, out at ease or emptied", t95e, "model 22 arterial + 15 to 25 delay (2.29, 3.23)");
  tell("seconds to 90 at the finger, out at ease or emptied", t90e, "model 38 arterial + 15 to 25 delay (2.29, 3.23)");
  tell("lowest minus rest, out at ease, 28 to 45 s", frc35, "PaO2 -50 mmHg at 35 s (2.20), i.e. some -5 to -15 arterial; finger shallower (3.21)");
  tell("lowest minus rest, half lungs, 25 to 45 s", half30, "-2.8 to -6.3 % (3.13, in water)");
  tell("lowest at the finger, seconds after the end", nadir, "15 to 35 (3.27); 16 +- 2.6 (3.23)");
  tell("back to 95 at the finger, seconds after the end", recover, "30 to 60 (3.28, memory)");
  tell("steepest 20 s, full, over 120 s, %/s", slope, "0.11 (3.30), 0.16 +- 0.05 (3.11), model 0.28 to 0.35 (2.29)");
  for (double x : {15., 30., 60., 120., 180., 240., 360.}) {
    int m = 0;
    for (double v : len) m += v > x;
    printf("longer than %.0f s: %.1f %%   ", x, 100. * m / len.size());
  }
  printf("\n");
  tell("hold length", len, "8 s to 8 min (our choice)");
  tell("  full lungs", lenFull, "104 +- 26 utmost, novices; 30 students (search); 210 +- 70 divers (3.01)");
  tell("  half", lenHalf, "");
  tell("  out at ease", lenOut, "35 +- 10 (2.20)");
  tell("  emptied", lenEmpty, "151 elite (3.17); 8 to 30 beginners (our choice)");
}
