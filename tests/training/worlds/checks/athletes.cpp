// Holds the world to published group values; prints value, published range, source.
#include "../athletes.hpp"
#include <chrono>
#include <cstdio>
#include <ctime>
#include <cstdlib>
#include <map>
#include <string>
using namespace world_athletes;
using V = std::vector<double>;
static double q(V v, double f) { if (v.empty()) return -1; std::sort(v.begin(), v.end()); return v[size_t(f * (v.size() - 1))]; }
static double mean(const V& v) { double s = 0; for (double x : v) s += x; return v.empty() ? -1 : s / v.size(); }
static void line(const char* n, const V& v, const char* pub) { printf("%-58s n %5zu mean %7.2f  p5 %7.2f p50 %7.2f p95 %7.2f | %s\n", n, v.size(), mean(v), q(v, .05), q(v, .5), q(v, .95), pub); }
int main(int, char** a) {
  int N = atoi(a[1]);
  {
    Chance c(5);
    double worst = 0; clock_t used = clock();
    auto t0 = std::chrono::steady_clock::now();
    for (int i = 0; i < 300; i++) { auto s0 = std::chrono::steady_clock::now(); draw(c, 1408); worst = std::max(worst, std::chrono::duration<double>(std::chrono::steady_clock::now() - s0).count()); }
    printf("processor time per session of 1408 s: %.3f ms mean\n", double(clock() - used) / CLOCKS_PER_SEC / 300 * 1e3); printf("wall time per session of 1408 s (shared machine): %.3f ms mean, %.3f worst\n", std::chrono::duration<double>(std::chrono::steady_clock::now() - t0).count() / 300 * 1e3, worst * 1e3);
  }
  for (int empt = 0; empt < 2; empt++) {  // no selection: everyone holds on, arterial side
    V t95, t90, t84, heart30, slope;
    Chance c(9);
    for (int i = 0; i < 400; i++) {
      Person p = person(c, false); p.stopAt = -1e3; p.piO2 = 149; p.mix = 0.3;
      Sim s(c, p); Phase h; h.kind = Hold, h.s = 420, h.air = empt ? Emptied : Full; Phase f; f.s = 150; s.plan = {f, h};
      Body b = s.run(60, 560, 10, 3); auto& o = b.course; size_t a = 0; while (!o.held[a]) a++;
      auto till = [&](double x) { size_t j = a; while (j < o.arterial.size() && o.arterial[j] >= x) j++; return (j - a) / 4.0; };
      t95.push_back(till(95)), t90.push_back(till(90)), t84.push_back(till(84)); if (till(84) < 415) slope.push_back(6 / (till(84) - till(90) + 0.1));
    }
    printf("arterial, everyone, %s lungs\n", empt ? "emptied" : "full");
    line("  time to 95 %, s", t95, empt ? "22 [2.29 FRC]" : "87-123 arterial model; 150-180 at the finger [2.29], i.e. 130-155 arterial");
    line("  time to 90 %, s", t90, empt ? "38 [2.29 FRC]" : "123-178 arterial model [2.29]");
    line("  time to 84 %, s", t84, empt ? "51 [2.29 FRC]" : "149-215 model; 250-280 finger [2.29, 3.05]");
    line("  slope 90 to 84, %/s", slope, empt ? "0.52 model [2.29]" : "0.11 [3.30], 0.16+/-0.05 [3.11], 0.28-0.35 model");
  }
  double lo[4] = {1e9, 1e9, 1e9, 1e9}, hi[4] = {-1e9, -1e9, -1e9, -1e9}, ratio[2] = {9, 0};
  long bad = 0, notRows = 0, heldSteps = 0, steps = 0;
  for (double want : {320.0, 704.0, 1408.0}) {
    int none = 0, trained[3] = {}, withLong = 0, tr = 0, bad8 = 0; V lensT, lensB, lens, nadir, minsat, satrest, fall, first, spread, rsa, still, rate, end5, back, onset90f, onset90e, satlow, startHeld, counts, heldshare, ring;
    for (int s = 0; s < N; s++) {
      Chance c(1000 + s + uint64_t(want) * 100000); Chance peek = c; int who = peek.pick({0.6, 0.3, 0.1}); trained[who]++; bool longOne = false;
      Body b = draw(c, want);
      auto& o = b.course; size_t n = o.heart.size();
      if (n % 4) notRows++;
      ratio[0] = std::min(ratio[0], n / 4 / want), ratio[1] = std::max(ratio[1], n / 4 / want);
      size_t run = 0, h = 0, cnt = 0; double worstStill = 0; float mn = 0, mx = 0; size_t st = 0; V hr;
      for (size_t i = 0; i < n; i++) {
        const std::vector<float>* f[4] = {&o.heart, &o.lungs, &o.arterial, &o.motion};
        for (int k = 0; k < 4; k++) { double x = (*f[k])[i]; if (!std::isfinite(x)) bad++; lo[k] = std::min(lo[k], x), hi[k] = std::max(hi[k], x); }
        steps++, heldSteps += o.held[i]; h += o.held[i];
        if (o.held[i]) run++;
        if (run && (!o.held[i] || i + 1 == n)) {
          size_t e = o.held[i] ? i + 1 : i, b0 = e - run; cnt++; longOne |= run >= 240;
          bool whole = b0 > 160 && e < n - 1;
          if (whole) {
            lens.push_back(run / 4.0), (who ? lensB : lensT).push_back(run / 4.0), bad8 += run < 32;
            double base = 0; for (size_t j = b0 - 160; j < b0 - 40; j++) base += o.heart[j] / 120;
            auto win = [&](size_t from, size_t to) { double m = 0; for (size_t j = from; j < to; j++) m += o.heart[j]; return m / (to - from); };
            if (run > 240) { fall.push_back((win(e - 60, e) / base - 1) * 100); first.push_back(win(b0, b0 + 32) - base); }
            if (run > 480) { V d; double m = win(b0 + 120, e); for (size_t j = b0 + 120; j < e; j++) d.push_back(o.heart[j] - m); spread.push_back(q(d, .95) - q(d, .05)); }
            if (run > 120 && e + 240 < n) {
              size_t at = e; float low = 200; for (size_t j = e; j < e + 240; j++) if (o.arterial[j] < low) low = o.arterial[j], at = j;
              float top = 0; for (size_t j = b0; j < b0 + 40; j++) top = std::max(top, o.arterial[j]);
              if (top - low > 4) { nadir.push_back((at - e) / 4.0 + b.lagS + b.averagingS * .5); minsat.push_back(low); size_t j = at; while (j < n && o.arterial[j] < top - 2) j++; if (j < n) back.push_back((j - at) / 4.0); }
              double after = win(e + 40, e + 80); end5.push_back(after - base);
            }
            float vol = o.lungs[b0 + 2];
            size_t j = b0; while (j < std::min(n, e + 100) && o.arterial[j] >= 90) j++;
            if (run > 100 && o.arterial[b0] > 94 && j < std::min(n, e + 100)) (vol > 1.8 ? onset90f : onset90e).push_back((j - b0) / 4.0);
          }
          run = 0;
        }
        // unlabelled stillness: range below 0.03 units
        if (o.held[i]) { st = i + 1; }
        else { if (st == i) mn = mx = o.lungs[i]; mn = std::min(mn, o.lungs[i]), mx = std::max(mx, o.lungs[i]); if (mx - mn > 0.03) { st = i; mn = mx = o.lungs[i]; } worstStill = std::max(worstStill, (i - st) / 4.0); hr.push_back(o.heart[i]); }
      }
      still.push_back(worstStill), counts.push_back(cnt), heldshare.push_back(double(h) / n);
      none += cnt == 0; if (who == 0) tr++, withLong += longOne;
      if (cnt == 0) { satlow.push_back(*std::min_element(o.arterial.begin(), o.arterial.end())); satrest.push_back(q(V(o.arterial.begin(), o.arterial.end()), .5)); }
      if (hr.size() > 200) {
        rate.push_back(q(hr, .5));
        V pp; for (size_t i = 0; i + 40 < n; i += 40) { bool ok = true; float u = 0, l = 300; for (size_t j = i; j < i + 40; j++) ok &= !o.held[j] && o.motion[j] < .3, u = std::max(u, o.heart[j]), l = std::min(l, o.heart[j]); if (ok) pp.push_back(u - l); }
        if (!pp.empty()) rsa.push_back(q(pp, .5));
      }
    }
    printf("\nwant %.0f: sessions without holds %.1f %%\n", want, 100.0 * none / N);
    printf("   trained %d without %d beginners %d; trained sessions with a hold (seen) of 60 s or more: %.2f; whole holds under 8 s: %d\n", trained[0], trained[1], trained[2], double(withLong) / tr, bad8); line("holds of the trained, s", lensT, "60 to 420, emptied 30 to 210"); line("holds of beginners, s", lensB, "8 to 60");
    line("holds per session", counts, "our choice"); line("share of time held", heldshare, "");
    line("hold length, s (whole)", lens, "210 +/- 70 trained maximal [3.01]; our choice 8 to 480");
    printf("   lengths <30: %.2f 30-60: %.2f 60-120: %.2f 120-240: %.2f >240: %.2f max %.0f\n", [&]{double r=0;for(double x:lens)r+=x<30;return r/lens.size();}(), [&]{double r=0;for(double x:lens)r+=x>=30&&x<60;return r/lens.size();}(), [&]{double r=0;for(double x:lens)r+=x>=60&&x<120;return r/lens.size();}(), [&]{double r=0;for(double x:lens)r+=x>=120&&x<240;return r/lens.size();}(), [&]{double r=0;for(double x:lens)r+=x>=240;return r/lens.size();}(), q(lens,1));
    line("heart: last 15 s of holds over 60 s, % of before", fall, "-10..-25 trained dry [3.16 memory]; 0 [3.10]; -14 /min [3.02]");
    line("heart: first 8 s less before, /min", first, "rises at first [3.08]");
    line("heart in holds over 120 s after 30 s: p95-p5, /min", spread, "(ours)");
    line("heart 10-20 s after the end less before, /min", end5, "back to control in 5 s [3.09]");
    line("heart between holds, median /min", rate, "40 to 110 (our choice)");
    line("heart p-p in 10 s of breathing, /min", rsa, "8.6, 1 to 46 (635 people, found); 20+/-5 slow deep (Hirsch)");
    line("time to 90 % (in this trace), full, s", onset90f, "95 % at 150-180 s, 84 % at 250-280 s [2.29, 3.05]: 90 % ~ 200-240");
    line("time to 90 %, half to emptied, s", onset90e, "38 s + lag [2.29], Pa -50 in 35 s [2.20]; trained longer");
    line("nadir after the end (with lag, half averaging), s", nadir, "15 to 35 [3.27], 31.5+/-11.5 [3.24]; our choice 10-40");
    line("nadir, % (falls over 4)", minsat, "77.6+/-13.9 [3.10], 46+/-11 extreme [3.12], 84 [3.05]");
    line("nadir to within 2 of before, s", back, "30-60 from first breath [3.28 memory]");
    line("no holds: lowest saturation", satlow, "thin air down to 70s (memory)"); line("no holds: median saturation", satrest, "95-99 rest (memory); 3510 m ~ 88 (memory)");
    line("unlabelled stillness, longest s per session", still, "under 8 (our choice)"); printf("   worst %.2f\n", q(still, 1));
  }
  printf("\nheart %.1f..%.1f lungs %.2f..%.2f arterial %.1f..%.1f motion %.2f..%.2f, not finite %ld, part rows %ld, length ratio %.2f..%.2f, held %.1f %%\n", lo[0], hi[0], lo[1], hi[1], lo[2], hi[2], lo[3], hi[3], bad, notRows, ratio[0], ratio[1], 100.0 * heldSteps / steps);
}
