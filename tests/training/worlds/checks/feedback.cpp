// Checks the world (SIMULATED) against published group values. Build and run: run.sh.
#include <ctime>
#include <cstdio>
#include <cstdlib>
#include <string>
#include "../feedback.hpp"
using namespace world_feedback;
using V = std::vector<double>;
static double mean(const V& v) { double s = 0; for (double x : v) s += x; return v.empty() ? NAN : s / v.size(); }
static double sd(const V& v) { double m = mean(v), s = 0; for (double x : v) s += (x - m) * (x - m); return v.size() < 2 ? NAN : std::sqrt(s / (v.size() - 1)); }
static double quant(V v, double q) { if (v.empty()) return NAN; std::sort(v.begin(), v.end()); return v[std::min(v.size() - 1, size_t(q * v.size()))]; }
static void line(const char* name, const V& v, const char* published) {
  printf("%-66s n %5zu  mean %7.2f sd %6.2f | 5%% %7.2f 50%% %7.2f 95%% %7.2f || %s\n", name, v.size(), mean(v), sd(v), quant(v, .05), quant(v, .5), quant(v, .95), published);
}
static double avg(const std::vector<float>& x, int a, int b) { double s = 0; a = std::max(0, a); b = std::min(int(x.size()), b); for (int i = a; i < b; i++) s += x[i]; return b > a ? s / (b - a) : NAN; }

int main(int argc, char** argv) {
  if (argc > 2 && std::string(argv[1]) == "dump") {
    Chance c(strtoull(argv[2], 0, 10));
    Body b = draw(c, argc > 3 ? atof(argv[3]) : 704);
    printf("t,heart,lungs,arterial,motion,held\n");
    for (size_t i = 0; i < b.course.heart.size(); i++) printf("%.2f,%.2f,%.3f,%.2f,%.2f,%d\n", i * stepS, b.course.heart[i], b.course.lungs[i], b.course.arterial[i], b.course.motion[i], b.course.held[i]);
    return 0;
  }
  {  // faults and ranges only, over many short ones
    int wrong = 0;
    for (int s = 0; s < 3000; s++) {
      Chance c(77777 + s * 13);
      Body b = draw(c, 320);
      for (size_t i = 0; i < b.course.heart.size(); i++) {
        float h = b.course.heart[i], v = b.course.lungs[i], a = b.course.arterial[i], m = b.course.motion[i];
        if (!(h >= 27 && h <= 215 && v >= -2 && v <= 6 && a >= 40 && a <= 100 && m >= 0 && m <= 1)) wrong++;
      }
      if (b.course.heart.size() % 4 || !(b.jitterMs >= 0) || !(b.averagingS > 0)) wrong++;
    }
    printf("3000 more short sessions: %d values out of range or not finite\n", wrong);
  }
  // time
  {
    double total = 0, worst = 0, steps = 0;
    int k = 200;
    for (int s = 0; s < k; s++) {
      Chance c(9000 + s);
      clock_t t0 = clock();
      Body b = draw(c, 1408);
      double ms = 1e3 * double(clock() - t0) / CLOCKS_PER_SEC;
      total += ms, worst = std::max(worst, ms), steps += b.course.heart.size();
    }
    printf("time: %.2f ms a session of wantS 1408 (worst %.2f), %.0f ns a step; limit 4 ms\n", total / k, worst, total / steps * 1e6);
  }
  int sessions = argc > 1 ? atoi(argv[1]) : 3000, none = 0, bad = 0, shortHold = 0;
  float lo[4] = {1e9, 1e9, 1e9, 1e9}, hi[4] = {-1e9, -1e9, -1e9, -1e9};
  V fullTrained, fullNovice, holds, holdsL[3], rest, restAll, fallEnd, fallEndT, fall30, fallEarly5, riseEarlyFull, early10empty, fallEmptyMax, overshoot, backTo;
  V t90full, t90empty, t95full, nadirDelay, recov, endSat[3], satFull30, satFull60, mapI, mapEnd, co2_10, co2_20, co2_35, o2_35, urgeShare[3], co2End, o2End, slopeMax, novSat, po2end, hold3Drop, biph;
  V rsaQuiet, rsaSlow, rsaAll, sdnn, rmssd, lfShare, lfHold, respRate, satRest, hrWalk, shares, perSession, emptyDur, fullMaxDur, holdVar, deepRise, lfFreq;
  int flats = 0, flatKind[16] = {0}, fillN[4] = {0}, phase3 = 0, phase3n = 0, brady = 0, bradyN = 0, riseN = 0;
  double slowS = 0, fastS = 0, at40 = 0, heldS = 0, allS = 0;
  const double wants[3] = {320, 704, 1408};
  for (int s = 0; s < sessions; s++) {
    Chance c(1000000ull * 7 + s * 2654435761ull);
    double want = wants[s % 3];
    Body b = draw(c, want);
    const Course& k = b.course;
    int n = k.heart.size();
    if (n % 4 || n < want * 4 || n > want * 6.4 || k.held.size() != size_t(n)) bad++;
    for (int i = 0; i < n; i++) {
      float x[4] = {k.heart[i], k.lungs[i], k.arterial[i], k.motion[i]};
      for (int j = 0; j < 4; j++) {
        if (!(x[j] > -1e6 && x[j] < 1e6)) bad++;
        lo[j] = std::min(lo[j], x[j]), hi[j] = std::max(hi[j], x[j]);
      }
      heldS += k.held[i] * .25;
      slowS += k.heart[i] < 32, fastS += k.heart[i] > 170; at40 += k.arterial[i] < 50;
    }
    allS += n * .25;
    int L = probe.who.level, count = 0;
    // breaths: lung minima and maxima outside holds
    {
      int up = -1, lastMin = -1;
      V q, sl;
      double vmin = 1e9, vmax = -1e9;
      (void)up;
      int dir = 0;
      int iMin = 0, iMax = 0;
      for (int i = 1; i < n; i++) {
        float v = k.lungs[i];
        if (dir <= 0) { if (v < vmin) vmin = v, iMin = i; if (v > vmin + .25) { // inspiration begins
            if (lastMin >= 0 && probe.kind[i] == probe.kind[lastMin]) {
              double T = (iMin - lastMin) * .25;
              if (T > 1.5 && T < 22) {
                float a = 1e9, z = -1e9;
                for (int j = lastMin; j < iMin; j++) a = std::min(a, k.heart[j]), z = std::max(z, k.heart[j]);
                int kd = probe.kind[iMin];
                if (kd == Quiet && T > 2.5 && T < 7) q.push_back(z - a), respRate.push_back(60 / T);
                if (kd == Slow && T > 8 && T < 13) sl.push_back(z - a);
              }
            }
            lastMin = iMin; dir = 1; vmax = v; } }
        if (dir >= 0) { if (v > vmax) vmax = v, iMax = i; if (v < vmax - .25) dir = -1, vmin = v; }
      }
      (void)iMax;
      if (q.size() > 4) rsaQuiet.push_back(quant(q, .5));
      if (sl.size() > 3) rsaSlow.push_back(quant(sl, .5));
    }
    {
      int flat = 0;
      for (int i = 1; i < n; i++) {
        flat = !k.held[i] && std::fabs(k.lungs[i] - k.lungs[i - 1]) < 0.01 ? flat + 1 : 0;
        if (flat == 34) flats++, flatKind[probe.kind[i]]++;
      }
    }
    // waves near 0.1 Hz: amplitude of the strongest component 0.06-0.13 Hz over 64 s, at rest and in a hold
    {
      int run2 = 0, was = -1;
      for (int i = 0; i < n; i++) {
        int what = k.held[i] ? 2 : (probe.kind[i] == Quiet && k.motion[i] < .05) ? 1 : 0;
        if (what != was) run2 = 0, was = what;
        run2++;
        if (what && run2 == (what == 2 ? 336 : 256)) {
          double m = avg(k.heart, i - 255, i + 1), best = 0, bf = 0;
          for (double f = .05; f < .145; f += .01) { double re = 0, im = 0; for (int j = 0; j < 256; j++) { double w = 1 - std::cos(2 * M_PI * j / 256); re += w * (k.heart[i - 255 + j] - m) * std::cos(2 * M_PI * f * j * .25), im += w * (k.heart[i - 255 + j] - m) * std::sin(2 * M_PI * f * j * .25); } double a = 2 * std::sqrt(re * re + im * im) / 256; if (a > best) best = a, bf = f; }
          (what == 2 ? lfHold : lfShare).push_back(2 * best);
          if (what == 1) lfFreq.push_back(bf);
          run2 = 0;
        }
      }
    }
    // rest: runs of quiet breathing of a minute
    int run = 0;
    V quiet;
    for (int i = 0; i < n; i++) {
      bool okk = !k.held[i] && (probe.kind[i] == Quiet || probe.kind[i] == Irregular) && k.motion[i] < .05;
      run = okk ? run + 1 : 0;
      if (run == 240) {
        double t = 0, last = 0, ph = 0;
        V rr;
        for (int j = i - 239; j <= i; j++) { ph += k.heart[j] / 240; t += .25; if (ph >= 1) { double over = (ph - 1) * 60 / k.heart[j], at = t - over; if (last > 0) rr.push_back((at - last) * 1000); last = at; ph -= 1; } }
        if (rr.size() > 20) {
          double d = 0;
          for (size_t j = 1; j < rr.size(); j++) d += (rr[j] - rr[j - 1]) * (rr[j] - rr[j - 1]);
          sdnn.push_back(sd(rr)), rmssd.push_back(std::sqrt(d / (rr.size() - 1)));
        }
        restAll.push_back(avg(k.heart, i - 239, i + 1)); if (probe.who.pio2 > 148 && probe.po2[i] > 75) satRest.push_back(avg(k.arterial, i - 239, i + 1));
        run = 0;
      }
      if (probe.kind[i] == Walk && i > 240 && probe.kind[i - 160] == Walk && i % 40 == 0) hrWalk.push_back(k.heart[i] - probe.who.rest);
    }
    if (s % 3 == 2 || 1)
      for (int i = 1; i < n; i++)
        if (k.held[i] && !k.held[i - 1]) {
          int a = i, z = i;
          while (z < n && k.held[z]) z++;
          count++;
          if (z >= n) break;
          double T = (z - a) * .25;
          if (T < 8) shortHold++;
          holds.push_back(T), holdsL[L].push_back(T);
          int f = probe.fill[a];
          fillN[f]++;
          bool walked = k.motion[(a + z) / 2] > .2, sea = probe.who.pio2 > 148;
          if (f == Empty && !walked) emptyDur.push_back(T);
          if (walked) continue;
          double before = avg(k.heart, a - 120, a - 40);
          if (a < 120) continue;
          bool calm = true;
          for (int j = a - 200; j < a - 40; j++) if (j >= 0 && (k.held[j] || k.motion[j] > .2)) calm = false;
          if (!calm) continue;
          double satBefore = avg(k.arterial, a - 80, a), end = avg(k.heart, z - 20, z);
          if (T > 45) {
            fall30.push_back(avg(k.heart, a + 100, a + 140) - before);
            fallEndT.push_back(end - before);
            bradyN++, brady += end < before - 5, riseN += end > before + 5;
            fallEnd.push_back(100 * (end - before) / before);
          }
          if (f == Full && T > 20) { float m = 0; for (int j = a; j < a + 48; j++) m = std::max(m, k.heart[j]); riseEarlyFull.push_back(avg(k.heart, a + 4, a + 24) - before); }
          if (f >= Passive && T > 20) early10empty.push_back(avg(k.heart, a + 32, a + 60) - before);
          if (f == Empty && T > 25) fallEmptyMax.push_back(end - before);
          // after
          if (z + 240 < n) {
            double post = avg(k.heart, z + 160, z + 240);
            float m = 0;
            for (int j = z; j < z + 60; j++) m = std::max(m, k.heart[j]);
            if (T > 40) overshoot.push_back(m - before);
            (void)post;
            int j = z;
            while (j < z + 240 && k.heart[j] < before - 2) j++;
            if (end < before - 6) backTo.push_back((j - z) * .25);
          }
          if (T > 60 && sea && f == Full) satFull60.push_back(probe.sat[a + 239] - probe.sat[a]);
          if (sea && f == Full && T > 30) satFull30.push_back(k.arterial[a + 119] - satBefore);
          if (sea) {
            int j = a;
            while (j < z && probe.sat[j] > 90) j++;
            if (j < z) (f == Full ? t90full : f == Empty || f == Passive ? t90empty : t95full).push_back((j - a) * .25);
            j = a;
            while (j < z && k.arterial[j] > 95) j++;
            if (L == 2 && f == Full && j < z && satBefore > 96.5) holdVar.push_back((j - a) * .25);
          }
          if (z + 320 < n) {
            int m = a;
            for (int j = a; j < z + 240 && (j < z || !k.held[j]); j++) if (k.arterial[j] < k.arterial[m]) m = j;
            double nad = k.arterial[m];
            if (nad < satBefore - 4) {
              nadirDelay.push_back((m - z) * .25);
              int j = m;
              while (j < m + 400 && j < n && k.arterial[j] < satBefore - 1.5 && !(j > z && k.held[j])) j++;
              if (j < n && !k.held[j]) recov.push_back((j - z) * .25);
            }
            if (probe.type == Plan::Maximal && sea && f == Full && T > 0.4 * probe.who.best) endSat[L].push_back(nad);
            if (L == 0 && probe.type == Plan::Maximal && sea) novSat.push_back(nad);
            double worst = 0;
            for (int j = a; j + 40 < z + 60; j++) worst = std::max(worst, double(k.arterial[j] - k.arterial[j + 40]) / 10);
            if (nad < satBefore - 8 && f == Full) slopeMax.push_back(worst);
          }
          if (probe.type == Plan::Maximal && f == Full) {
            fullMaxDur.push_back(T); if (L == 2) fullTrained.push_back(T); if (L == 0) fullNovice.push_back(T);
            double p0 = avg(probe.pressure, a - 120, a - 40);
            if (T > 60) mapI.push_back(avg(probe.pressure, a + 100, a + 140) - p0), mapEnd.push_back(avg(probe.pressure, z - 20, z) - p0);
            po2end.push_back(probe.po2[z - 1]), co2End.push_back(probe.pco2[z - 1]);
            int j = a;
            while (j < z && probe.urge[j] < 1) j++;
            if (j < z) urgeShare[L].push_back(100 * (j - a) / double(z - a));
            if (L == 2 && T > 150) { phase3n++; phase3 += avg(k.heart, z - 40, z) < avg(k.heart, z - 400, z - 320) - 4; }
          }
          if (f == Passive && T > 10.5) co2_10.push_back(probe.pco2[a + 41] - avg(probe.pco2, a - 40, a));
          if (f == Passive && T > 36) co2_35.push_back(probe.pco2[a + 140] - avg(probe.pco2, a - 40, a)), o2_35.push_back(probe.po2[a + 140] - avg(probe.po2, a - 40, a));
        }
    perSession.push_back(count);
    bool any = false;
    for (uint8_t h : k.held) any |= h;
    none += !any;
  }
  printf("sessions %d, faults %d, holds under 8 s %d, without holds %.1f %% (35-40 asked), held time %.1f %%\n", sessions, bad, shortHold, 100. * none / sessions, 100 * heldS / allS);
  printf("ranges: heart %.1f..%.1f lungs %.2f..%.2f arterial %.1f..%.1f motion %.2f..%.2f\n", lo[0], hi[0], lo[1], hi[1], lo[2], hi[2], lo[3], hi[3]);
  printf("share of time: heart under 32 %.3f %%, over 170 %.3f %%, arterial under 50 %.3f %%\n", 25 * slowS / allS, 25 * fastS / allS, 25 * at40 / allS);
  printf("fills: full %d half %d passive %d empty %d\n", fillN[0], fillN[1], fillN[2], fillN[3]);
  int edges[] = {8, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 300, 400, 600};
  printf("stretches of 8.5 s without movement of the lungs that are no hold: %d, by kind", flats);
  for (int x : flatKind) printf(" %d", x);
  printf("\nhold lengths:");
  for (int j = 0; j + 1 < 14; j++) { int m = 0; for (double h : holds) m += h >= edges[j] && h < edges[j + 1]; printf(" %d-%d:%.1f%%", edges[j], edges[j + 1], 100. * m / holds.size()); }
  printf(" longest %.0f\n", quant(holds, 1));
  line("holds in a session", perSession, "-");
  for (int l = 0; l < 3; l++) line(l == 0 ? "hold length s, beginners" : l == 1 ? " practised" : " trained", holdsL[l], "8 to 480 asked");
  line("maximal full, s", fullMaxDur, "102+-24 controls, 234+-66 divers (3.10); 210+-70 (3.01)");
  line("  of them trained", fullTrained, "234+-66 (3.10), 210+-70 (3.01), 246+-44 (3.11)");
  line("  beginners", fullNovice, "102+-24 (3.10), 129+-39 (3.11), 111 (2.24)");
  line("emptied holds s", emptyDur, "beginners 8-30 asked; elite 151 (3.17)");
  line("rest rate /min", restAll, "40-110 asked; 60-75 typical (memory)");
  line("SDNN ms, 1 min at rest", sdnn, "50+-16 short term (Nunan 2010, memory), 20-100");
  line("RMSSD ms", rmssd, "42+-15 (Nunan 2010, memory); 27+-12 (7.05)");
  line("breathing rate, quiet", respRate, "12-18 (memory)");
  line("sinus arrhythmia quiet, /min peak to trough", rsaQuiet, "3-12 adults (memory)");
  line("sinus arrhythmia at 5-7 a minute", rsaSlow, "18-22 in the young (found PMC7709837), 5-30 adults (memory)");
  line("waves near 0.1 Hz at rest, peak to trough /min", lfShare, "1-8 (memory)");
  line("  their frequency, Hz", lfFreq, "0.07-0.12 (memory: near 0.1)");
  line("  in holds", lfHold, "as at rest, or larger (memory)");
  printf("  sinus arrhythmia quiet: 99 %% quantile %.1f, slow %.1f (40 and more exist: asked)\n", quant(rsaQuiet, .99), quant(rsaSlow, .99));
  line("rate in walking above rest", hrWalk, "20-45 (memory)");
  line("fall of rate at 30 s of hold (>45 s)", fall30, "-14 (3.02), 0 (3.10), -20 immersed (3.09)");
  line("fall at end", fallEndT, "0 (3.10); -27+-9.5, -20+-9 cold face (3.11)");
  line("fall at end, %", fallEnd, "-10 to -25 trained (3.16), -32, -50 (3.14)");
  printf("  slower by >5 at end %.0f %%, faster by >5 %.0f %% ; phase III further fall in trained maximal %.0f %% of %d (3.04: 11 of 20)\n", 100. * brady / bradyN, 100. * riseN / bradyN, 100. * phase3 / std::max(1, phase3n), phase3n);
  line("full lungs, 1-6 s, change of rate", riseEarlyFull, "rises (3.08); +5 to +20 (memory)");
  line("passive or emptied, 8-15 s, change", early10empty, "falls (memory: -5 to -15)");
  line("emptied, end", fallEmptyMax, "more than full (3.17)");
  line("MAP at 30 s (maximal, full)", mapI, "+8 (3.06)");
  line("MAP at end", mapEnd, "+20 (3.06); +9+-5, +32+-15 (3.10)");
  line("rate after hold: highest in 15 s above before", overshoot, "wide; +0 to +25 (memory)");
  line("rate back, s", backTo, "5 (3.09); 1-60 asked");
  line("arterial fall in 60 s, full, sea level", satFull60, "about 0 to -3 (3.05: none before 100 s)");
  line("time to 90 % arterial, full, s", t90full, "123-178 model (2.29); 200-230 at finger (3.05)");
  line("time to 90 %, passive or emptied", t90empty, "38 model at 2.4 l (2.29); 35 s (2.20)");
  line("finger 95 % in trained, full", holdVar, "150-180 (3.05)");
  line("steepest fall at finger %/s (10 s)", slopeMax, "0.16+-0.05 (3.11), 0.11 (3.30), 0.28-0.35 model (2.29)");
  line("nadir after the end, s (without averaging)", nadirDelay, "15-35 with the oximeter (3.27), 16+-2.6 (3.23), 31+-11 (3.24)");
  line("saturation back after the end, s", recov, "30-60 (3.28)");
  for (int l = 0; l < 3; l++) line(l == 0 ? "lowest at finger, maximal full, beginners" : l == 1 ? " practised" : " trained", endSat[l], l == 2 ? "77.6+-13.9 (3.10), 84 (3.05)" : l == 0 ? "97.6+-0.7 (3.10); 93.6 (2.24)" : "-");
  line("PaO2 at the end", po2end, "60 (2.22); 89 novices (2.24); 20-30 divers (2.26)");
  line("PaCO2 at the end", co2End, "50 (2.22), 40 (2.24), 45-60 (2.23, 2.27)");
  line("PaCO2 rise 10 s, passive", co2_10, "7 (2.15)");
  line("PaCO2 rise 35 s, passive", co2_35, "10.2 (2.20)");
  line("PaO2 fall 35 s, passive", o2_35, "-50 (2.20)");
  for (int l = 0; l < 3; l++) line(l == 0 ? "first involuntary movements, % of maximal hold, beginners" : l == 1 ? " practised" : " trained", urgeShare[l], l == 2 ? "53 (3.17)" : "80 (3.18)");
  line("rest saturation at finger", satRest, "95-99 (memory)");
}
