// Draws practice sessions (SIMULATED, invented people) and half-real ones (recordings of people who breathe, holds cut in)
// straight into feature rows, on all processors: some hundred sessions a second each. Loaded by train.py.
// Ranges are wide on purpose and share nothing with the simulators that score the detector. The rows and features are those
// of src/signal/second-rows.ts and src/holds/row-features.ts, checked number by number in tests/training/check-features.ts.

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>
#include <vector>

#include "worlds/athletes.hpp"
#include "worlds/clinic.hpp"
#include "worlds/conduct.hpp"
#include "worlds/curves.hpp"
#include "worlds/feedback.hpp"
#include "worlds/wear.hpp"
#include "worlds/world.hpp"

namespace {

constexpr float nan_ = std::numeric_limits<float>::quiet_NaN();
constexpr int featureCount = 24;

double ease(double tauS) { return 1 - std::exp(-stepS / tauS); }

// ---------------------------------------------------------------------------------------------- rows and features

enum Source : int { fromNothing = 0, fromBeats = 1, fromStrap = 2, fromPulse = 3 };

struct Row {
  float rate = nan_;
  int source = fromNothing;
  float spo2 = nan_;
  float pleth = nan_;
  float swing = nan_;
};

constexpr int rateWidths[] = {1, 2, 4, 8};
constexpr int plethWidths[] = {1, 2, 4};

struct RawRow {
  double rate, bands[4], spo2, spo2Change, pleth, plethBands[3], swing;
  int source;
};

double secondDifference(const double* newest, int known, int width) {
  if (known < 3 * width) return NAN;
  double sum = 0;
  for (int i = 0; i < width; i++) sum += newest[-i] - 2 * newest[-width - i] + newest[-2 * width - i];
  return sum / width;
}

std::vector<RawRow> rawRows(const std::vector<Row>& rows) {
  const int n = int(rows.size());
  std::vector<double> rate(n), spo2(n), pleth(n);
  std::vector<RawRow> out(n);
  double lastRate = NAN, lastSpo2 = NAN;
  int rateAge = 0, spo2Age = 0;
  for (int i = 0; i < n; i++) {
    const Row& row = rows[i];
    if (row.rate > 0) {
      lastRate = 100 * std::log(double(row.rate));
      rateAge = 0;
    } else if (++rateAge > 4) {
      lastRate = NAN;
    }
    if (std::isfinite(row.spo2)) {
      lastSpo2 = row.spo2;
      spo2Age = 0;
    } else if (++spo2Age > 4) {
      lastSpo2 = NAN;
    }
    rate[i] = lastRate;
    spo2[i] = lastSpo2;
    pleth[i] = row.pleth;
    RawRow& raw = out[i];
    const int known = std::min(i + 1, 24);
    raw.rate = lastRate;
    for (int b = 0; b < 4; b++) raw.bands[b] = secondDifference(&rate[i], known, rateWidths[b]);
    raw.source = std::isnan(lastRate) ? int(fromNothing) : row.source;
    raw.spo2 = lastSpo2;
    raw.spo2Change = known > 5 ? lastSpo2 - spo2[i - 5] : NAN;
    raw.pleth = row.pleth;
    for (int b = 0; b < 3; b++) raw.plethBands[b] = secondDifference(&pleth[i], known, plethWidths[b]);
    raw.swing = row.swing > 0 ? std::log(double(row.swing)) : NAN;
  }
  return out;
}

struct Usual {
  double rateMiddle, rateLow, bands[4], spo2Top, plethMiddle, plethBands[3], swing, maturity;
};

struct Column {
  std::vector<double> values;
  double at(double share) {
    const int n = int(values.size());
    if (n == 0) return NAN;
    const int k = std::min(n - 1, int(std::floor(share * n)));
    std::nth_element(values.begin(), values.begin() + k, values.end());
    return values[k];
  }
};

Usual usualValues(const std::vector<RawRow>& rows, int from, int to) {
  const int stride = std::max(1, (to - from) / 600);
  static thread_local Column column;
  auto fill = [&](auto of) -> Column& {
    column.values.clear();
    for (int i = from; i < to; i += stride) {
      const double value = of(rows[i]);
      if (!std::isnan(value)) column.values.push_back(value);
    }
    return column;
  };
  auto size = [](double value, double least) { return std::max(least, std::isnan(value) || value == 0 ? least : value); };
  Usual usual;
  Column& rate = fill([](const RawRow& row) { return row.rate; });
  usual.rateMiddle = rate.at(0.5);
  usual.rateLow = rate.at(0.15);
  for (int b = 0; b < 4; b++)
    usual.bands[b] = size(fill([b](const RawRow& row) { return std::fabs(row.bands[b]); }).at(0.8), 0.15);
  usual.spo2Top = fill([](const RawRow& row) { return row.spo2; }).at(0.85);
  usual.plethMiddle = fill([](const RawRow& row) { return row.pleth; }).at(0.5);
  for (int b = 0; b < 3; b++)
    usual.plethBands[b] = size(fill([b](const RawRow& row) { return std::fabs(row.plethBands[b]); }).at(0.8), 1e-9);
  usual.swing = fill([](const RawRow& row) { return row.swing; }).at(0.5);
  usual.maturity = std::min(1.0, (to - from) / 600.0);
  return usual;
}

double clip(double value, double low, double high) { return value < low ? low : value > high ? high : value; }
double orZero(double value, double low, double high) { return std::isnan(value) ? 0 : clip(value, low, high); }

/** `out` is the session's plane of `featureCount` rows of `stride` numbers: channel by channel, as PyTorch wants it. */
void writeFeatures(float* out, int stride, int at, const RawRow& row, const Usual& usual) {
  auto put = [&](int feature, double value) { out[feature * stride + at] = float(value); };
  for (int b = 0; b < 4; b++) {
    put(b, orZero(row.bands[b] / usual.bands[b], -4, 4));
    put(4 + b, clip(std::log(usual.bands[b] / 3), -2.5, 2.5));
  }
  put(8, orZero((row.rate - usual.rateMiddle) / 10, -4, 4));
  put(9, orZero((row.rate - usual.rateLow) / 10, -4, 4));
  put(10, orZero((row.rate - 417.4) / 33, -2, 3));
  for (int s = 1; s <= 3; s++) put(10 + s, row.source == s ? 1 : 0);
  put(14, std::isnan(row.spo2) ? 0 : 1);
  put(15, orZero((row.spo2 - usual.spo2Top) / 4, -6, 2));
  put(16, orZero(row.spo2Change / 2, -3, 3));
  put(17, std::isnan(row.pleth) ? 0 : 1);
  put(18, orZero((row.pleth - usual.plethMiddle) / usual.plethBands[2], -4, 4));
  for (int b = 0; b < 3; b++) put(19 + b, orZero(row.plethBands[b] / usual.plethBands[b], -4, 4));
  put(22, usual.maturity);
  put(23, orZero(row.swing - usual.swing, -3, 3));
}

void featuresOfRecording(const std::vector<RawRow>& raw, float* out, int stride) {
  const int n = int(raw.size());
  Usual usual;
  int aroundFrom = -1, aroundTo = -1;
  for (int from = 0; from < n; from += 60) {
    const int to = std::min(n, from + 60), first = std::max(0, from - 600), end = std::min(n, to + 600);
    if (first != aroundFrom || end != aroundTo) usual = usualValues(raw, aroundFrom = first, aroundTo = end);
    for (int i = from; i < to; i++) writeFeatures(out, stride, i, raw[i], usual);
  }
}

void featuresOfStream(const std::vector<RawRow>& raw, float* out, int stride) {
  // The stream keeps 600 to 614 rows and takes the last 600.
  Usual usual;
  for (int i = 0; i < int(raw.size()); i++) {
    const int seen = i + 1;
    if (i == 0 || seen < 30 || seen % 15 == 0) usual = usualValues(raw, std::max(0, seen - 600), seen);
    writeFeatures(out, stride, i, raw[i], usual);
  }
}

// ---------------------------------------------------------------------------------------------------- people

enum Kind { rest, shallow, paced, talk, effortful, ready, hold, recover, cold, hush };
enum Lungs { full, partial, empty };

struct Spell {
  Kind kind;
  double lengthS;
  double effort = 0, lift = 0;
  Lungs lungs = full;
};

struct Person {
  double restBpm;
  double driftTau[3], driftSize[3];
  double slowWave, slowHz, slowWidth, slowInHold, sway, swaySkew, breathHz, breathUneven, depthUneven, jitterMs;
  double anticipation, anticipationS, inhaleBump, inhaleBumpAtS, inhaleBumpTauS;
  double fall, fallDelayS, fallTauS, lateChange, tremor, tremorPeriodS, tremorFrom, backDelayS, backTauS;
  double overshoot, overshootTauS, gasp, gaspRate, readyDepth, readyRate, effortReach, effortOnTauS, effortOffTauS;
  double arousalsPerHour, sighsPerHour, pausesPerHour, fidgetsInHoldPerHour;
  double spo2Top, plateauS, fallPerS, lagS, averagingS;
  double fibrillation, ectopicsPerHour;
  // Gas in the lungs, for those whose saturation follows it.
  bool byGas;
  double startMmHg, gasFallPerS, gasBackTauS;
  // Who has over-breathed breathes little for a while, and the blood's oxygen follows how much is breathed.
  double quietShare, stopsAfter, quietBackTauS, quietRate, ventTauS, quietGasShare, quietFall;
  // In a full lung the heart quickens for some seconds before it slows; breathing out slows it at once.
  double earlyRise, earlyRiseTauS, earlyRisePeakS, earlyRiseFadeTauS, exhaleDip;
  // When a full lung is let go, blood comes back to the heart and pressure overshoots: the heart slows for some beats. With the
  // vagus withdrawn, breathing hardly sways it for a while after a hold.
  double releaseDip, releaseDipOffTauS, swayAfter, swayBackTauS;
  double motion;
};

/** Heart: rows 3.02 to 3.16 of the reference table and wider; saturation: rows 3.05, 3.19 to 3.27. */
Person drawPerson(Chance& c) {
  Person p{};
  const bool stiff = c.odds(0.1);
  const double calm = stiff ? c.scale(0.05, 0.4) : 1;
  p.restBpm = c.between(40, 108);
  const double taus[3][2] = {{8, 25}, {40, 120}, {250, 900}}, sizes[3][2] = {{0.003, 0.03}, {0.005, 0.045}, {0.01, 0.08}};
  for (int i = 0; i < 3; i++) {
    p.driftTau[i] = c.between(taus[i][0], taus[i][1]);
    p.driftSize[i] = c.scale(sizes[i][0], sizes[i][1]) * calm;
  }
  p.slowWave = c.scale(0.003, 0.075) * calm;
  p.slowHz = c.between(0.055, 0.13);
  p.slowWidth = c.scale(0.02, 0.3);
  p.slowInHold = c.scale(0.25, 1.7);
  p.sway = (c.odds(0.25) ? c.scale(0.001, 0.01) : c.scale(0.008, 0.16)) * calm;
  p.swaySkew = c.between(-0.35, 0.35);
  p.breathHz = c.between(0.07, 0.38);
  p.breathUneven = c.scale(0.01, 0.35);
  p.depthUneven = c.scale(0.02, 0.6);
  p.jitterMs = c.scale(1.5, 18);
  p.anticipation = c.odds(0.3) ? 0 : c.between(-0.05, 0.16);
  p.anticipationS = c.between(8, 80);
  p.inhaleBump = c.odds(0.2) ? 0 : c.between(0, 0.28);
  // A deep breath's rise peaks with the end of the breath in or some seconds later.
  p.inhaleBumpAtS = c.between(-1.5, 5);
  p.inhaleBumpTauS = c.between(1.5, 12);
  p.fall = c.odds(0.3) ? c.between(-0.06, 0.04) : c.between(0.03, 0.45);
  p.fallDelayS = c.odds(0.8) ? c.between(0, 8) : c.between(5, 30);
  p.fallTauS = c.scale(3, 60);
  p.lateChange = c.odds(0.4) ? 0 : c.between(-0.2, 0.18);
  p.tremor = c.odds(0.4) ? 0 : c.scale(0.003, 0.05);
  p.tremorPeriodS = c.between(2, 8);
  p.tremorFrom = c.between(0.25, 0.95);
  // The vagus answers within a beat (from memory); some breathe out first, and that is when the airway opens.
  p.backDelayS = c.between(0, 3);
  p.backTauS = c.scale(0.8, 12);
  p.overshoot = c.odds(0.3) ? 0 : c.odds(0.85) ? c.between(-0.06, 0.28) : c.between(0.2, 0.5);
  p.overshootTauS = c.scale(5, 60);
  p.gasp = c.scale(0.6, 3);
  p.gaspRate = c.between(0.6, 2.1);
  p.readyDepth = c.scale(0.7, 2.4);
  p.readyRate = c.between(0.35, 1.3);
  p.effortReach = c.between(0.12, 1);
  p.effortOnTauS = c.scale(5, 50);
  p.effortOffTauS = c.scale(8, 120);
  p.arousalsPerHour = c.odds(0.3) ? 0 : c.odds(0.8) ? c.between(0, 25) : c.between(20, 70);
  p.sighsPerHour = c.odds(0.75) ? c.between(0, 20) : c.between(15, 60);
  p.pausesPerHour = c.odds(0.5) ? 0 : c.between(0, 40);
  p.fidgetsInHoldPerHour = c.odds(0.5) ? 0 : c.between(0, 60);
  p.spo2Top = c.odds(0.9) ? c.between(94.5, 99.9) : c.between(87, 96);
  p.plateauS = c.scale(12, 170);
  p.fallPerS = c.scale(0.02, 0.5);
  p.lagS = c.between(5, 42);
  p.averagingS = c.between(1.5, 16);
  p.fibrillation = c.odds(0.03) ? c.between(0.06, 0.25) : 0;
  p.ectopicsPerHour = c.odds(0.12) ? c.scale(10, 600) : 0;
  p.byGas = c.odds(0.55);
  p.startMmHg = c.between(95, 140);
  p.gasFallPerS = c.scale(0.12, 1.1);
  p.gasBackTauS = c.scale(2, 14);
  // After over-breathing ventilation lies below the usual, some stop for seconds (Meah & Gardner 1994, J Physiol 477:527; from
  // memory). How far and how long: our choice, wide.
  p.quietShare = c.odds(0.5) ? 1 : c.scale(0.06, 0.9);
  p.stopsAfter = c.odds(0.7) ? 0 : c.between(0.2, 0.9);
  p.quietBackTauS = c.scale(12, 200);
  p.quietRate = c.between(0.45, 1.25);
  p.ventTauS = c.scale(8, 90);
  p.quietGasShare = c.odds(0.3) ? 0 : c.scale(0.04, 0.5);
  p.quietFall = c.odds(0.3) ? 0 : c.scale(0.3, 5);
  // Reference 3.08: the heart rises after a deep breath in and comes back; seconds are our choice.
  p.earlyRise = c.odds(0.45) ? 0 : c.scale(0.03, 0.38);
  p.earlyRiseTauS = c.scale(1, 7);
  p.earlyRisePeakS = c.between(3, 18);
  // Some slow down again; in others it stays up for as long as the lung is full.
  p.earlyRiseFadeTauS = c.odds(0.6) ? c.scale(5, 60) : c.scale(60, 600);
  // As in the fourth phase of a strain against a closed airway (textbook, from memory); how much and how long: our choice, wide.
  p.releaseDip = c.odds(0.5) ? 0 : c.scale(0.03, 0.28);
  p.releaseDipOffTauS = c.scale(3, 25);
  p.swayAfter = c.odds(0.5) ? 1 : c.scale(0.1, 0.9);
  p.swayBackTauS = c.scale(6, 60);
  p.exhaleDip = c.odds(0.4) ? 0 : c.between(0, 0.18);
  p.motion = c.odds(0.4) ? 0 : c.scale(0.05, 0.9);
  return p;
}

/** Saturation, per cent, of blood at an oxygen pressure in mmHg (Severinghaus 1979). */
double saturationAt(double mmHg) { return 100 / (23400 / (mmHg * mmHg * mmHg + 150 * mmHg) + 1); }

double holdLength(Chance& c) {
  switch (c.pick({0.15, 0.52, 0.33})) {
    case 0: return c.between(9, 26);
    case 1: return c.scale(22, 130);
    default: return c.scale(90, 480);
  }
}

std::vector<Spell> drawSpells(Chance& c) {
  std::vector<Spell> spells;
  auto lifted = [&](Spell spell) {
    if (c.odds(0.18)) spell.lift = c.between(-0.15, 0.28);
    spells.push_back(spell);
  };
  auto filler = [&](double leastS, double mostS) {
    const double s = c.scale(leastS, mostS);
    switch (c.pick({0.43, 0.11, 0.14, 0.13, 0.1, 0.04, 0.05})) {
      case 0: return lifted({rest, s});
      case 1: return lifted({shallow, std::min(s, 240.0)});
      case 2: return lifted({paced, s});
      case 3: return lifted({talk, s});
      case 4: return lifted({effortful, std::min(s, 400.0), c.next()});
      case 6: return lifted({hush, std::min(s, 180.0)});
      default: return lifted({cold, std::min(s, 240.0), 0, -c.between(0.03, 0.45)});
    }
  };
  int holds = 0;
  switch (c.pick({0.36, 0.18, 0.18, 0.28})) {
    case 1: holds = 1; break;
    case 2: holds = 2; break;
    case 3: holds = int(c.between(3, 9)); break;
  }
  if (holds == 0) {
    const int what = c.pick({0.35, 0.35, 0.15, 0.15});
    for (int i = 0; i < 9; i++) {
      filler(20, 400);
      if (what == 1) {
        // Rest between walks: the heart rate falls and later rises, and nobody holds.
        spells.push_back({effortful, c.scale(10, 400), c.between(0.2, 1)});
        spells.push_back({c.odds(0.8) ? rest : shallow, c.scale(20, 500)});
      } else if (what == 2) {
        // Cold on the face: the vagus slows the heart, breathing goes on.
        spells.push_back({rest, c.scale(30, 200)});
        spells.push_back({cold, c.scale(20, 240), 0, -c.between(0.03, 0.45)});
      } else if (what == 3) {
        spells.push_back({paced, c.scale(60, 600)});
      }
      if (c.odds(0.12)) {
        // Over-breathing and what comes after it, without a hold.
        spells.push_back({c.odds(0.5) ? recover : ready, c.scale(8, 90)});
        spells.push_back({c.odds(0.6) ? rest : hush, c.scale(15, 180)});
      }
    }
    return spells;
  }
  // Beginners: several short holds, lungs as they come, rests of a minute or two, no plan (lengths of novices: reference 2.24,
  // 3.10; shorter ones are our choice).
  const bool beginner = c.odds(0.14);
  if (beginner) holds = int(c.between(2, 8));
  auto lengthOf = [&] { return beginner ? c.scale(11, 75) : holdLength(c); };
  const double common = !beginner && c.odds(0.6) ? holdLength(c) : 0;
  const bool readies = c.odds(beginner ? 0.2 : 0.6);
  const double restS = beginner ? c.scale(45, 150) : c.scale(10, 300);
  const Lungs usualLungs = Lungs(c.pick({0.62, 0.18, 0.2}));
  const bool walks = c.odds(0.15), slowBreather = c.odds(0.2), hushes = c.odds(beginner ? 0.45 : 0.22);
  filler(20, 300);
  if (c.odds(0.5)) filler(20, 300);
  for (int i = 0; i < holds; i++) {
    if (walks) {
      spells.push_back({effortful, c.scale(15, 240), c.between(0.2, 1)});
      spells.push_back({rest, c.scale(15, 200)});
    }
    if (slowBreather) spells.push_back({paced, c.scale(20, 200)});
    if (readies) spells.push_back({ready, c.between(10, 100)});
    Spell spell{hold, std::min(600.0, common == 0 ? lengthOf() : std::max(8.0, common * c.between(0.7, 1.35)))};
    spell.lungs = c.odds(beginner ? 0.2 : 0.7) ? usualLungs : Lungs(c.pick({0.55, 0.22, 0.23}));
    // On little air holds are shorter (reference 2.20, 3.17).
    if (spell.lungs == empty && c.odds(0.5)) spell.lengthS = std::max(9.0, spell.lengthS * c.between(0.3, 0.9));
    // Nobody holds for seconds while still getting over the last hold.
    if (i > 0 && spell.lengthS < 30) lifted({rest, c.scale(25, 120)});
    // Lying quite still, hardly breathing, is how many get ready.
    if (hushes && c.odds(0.8)) spells.push_back({hush, c.scale(8, 150)});
    if (c.odds(0.08)) spell.effort = c.between(0.1, 0.5);  // a few holds are walked
    spells.push_back(spell);
    spells.push_back({recover, c.between(6, 60)});
    if (c.odds(0.8)) filler(std::max(5.0, 0.4 * restS), std::max(12.0, 1.6 * restS));
  }
  filler(20, 300);
  return spells;
}

/** Thin air, or a finger grown cold: saturation sinks over minutes while the person breathes, and comes back. */
struct ThinAir {
  bool on = false;
  double fromS, lengthS, fall, heartPerPercent;
  int steps;
  double at(double s) const {
    const double share = on ? (s - fromS) / lengthS : 0;
    return share <= 0 || share >= 1 ? 0 : fall * std::ceil(share * steps) / steps;
  }
};

Course drawCourse(Chance& c, const Person& p, const std::vector<Spell>& spells, const ThinAir& air) {
  double totalS = 0;
  for (const Spell& spell : spells) totalS += spell.lengthS;
  const int n = int(totalS / stepS);
  Course course{std::vector<float>(n), std::vector<float>(n), std::vector<float>(n), std::vector<float>(n), std::vector<uint8_t>(n)};
  Wander drift[3] = {{c, p.driftTau[0], p.driftSize[0]}, {c, p.driftTau[1], p.driftSize[1]}, {c, p.driftTau[2], p.driftSize[2]}};
  Wander slowSize(c, 20, 0.4), depthNoise(c, 10, p.depthUneven), rateNoise(c, 8, p.breathUneven), slowNoise(c, 6, p.slowWidth);
  double slowPhase = c.next(), breathPhase = c.next(), effort = 0, fallen = 0, bump = 0, overshoot = 0;
  double arousal = 0, arousalTarget = 0, arousalLeftS = 0, arousalTauS = 4, sway = 1, stillS = 0, sighS = 0, sighPause = 0;
  double speechS = 0, speechHz = 0.3, wasHeldS = 0, sinceHoldS = 1e6, oxygen = p.spo2Top, volume = 0, tremorPhase = 0;
  double anticipation = 0, lift = 0, holdFall = p.fall, gas = p.startMmHg, early = 0, dip = 0, drive = 1, vent = 1,
         released = 0, swayShare = 1;
  Lungs letGo = full;
  const double easeCalm = ease(3), easeFall = ease(p.fallTauS), easeBack = ease(p.backTauS), easeBump = ease(1.2),
               easeBumpOff = ease(p.inhaleBumpTauS), easeOver = ease(2.5), easeOverOff = ease(p.overshootTauS), easeSwayIn = ease(0.4),
               easeSway = ease(0.8), easeGas = ease(p.gasBackTauS), easeVent = ease(p.ventTauS), easeDrive = ease(p.quietBackTauS), easeEarly = ease(p.earlyRiseTauS),
               easeEarlyOff = ease(p.earlyRiseFadeTauS), easeDip = ease(0.8), easeDipOff = ease(p.inhaleBumpTauS), easeReleased = ease(1.2), easeReleasedOff = ease(p.releaseDipOffTauS), easeSwayBack = ease(p.swayBackTauS), easeOn = ease(p.effortOnTauS), easeOff = ease(p.effortOffTauS);
  int at = 0;
  for (size_t index = 0; index < spells.size(); index++) {
    const Spell& spell = spells[index];
    const bool beforeHold = index + 1 < spells.size() && spells[index + 1].kind == hold;
    const Lungs nextLungs = beforeHold ? spells[index + 1].lungs : full;
    const int steps = int(spell.lengthS / stepS);
    const double pacedHz = c.between(0.06, 0.13), pacedDepth = c.scale(0.9, 2.2);
    // Quiet breaths still move a quarter of an ordinary one: dead space alone takes that much (textbook: 150 of 500 ml).
    const double shallowDepth = c.between(0.25, 0.75), quietSway = c.between(0.5, 1.3), coldSway = c.between(0.6, 1.6);
    const double easeLift = ease(c.scale(1.5, 40));
    // Hushed breaths can be hardly more than the dead space; the chest still moves.
    const double hushDepth = c.scale(0.18, 0.7), hushRate = c.between(0.5, 1.2), moved = p.motion * c.between(0.3, 1);
    const Kind before = index == 0 ? rest : spells[index - 1].kind;
    const bool hasOverbreathed = before == recover || before == ready || before == paced || before == effortful;
    if (hasOverbreathed && c.odds(0.8)) drive = std::min(drive, std::min(1.0, p.quietShare * c.between(0.6, 1.6)));
    const double stopsAtS = (before == recover || before == ready) && spell.kind != hold && c.odds(p.stopsAfter) ? c.between(0, 20) : -1;
    const double stopsForS = c.between(4, 24);
    const double earlyShare = spell.lungs == full ? c.between(0.5, 1.2) : spell.lungs == partial ? c.between(0, 0.6) : c.between(-0.2, 0.2);
    const double dipShare = spell.lungs == empty ? c.between(0.4, 1.2) : spell.lungs == partial ? c.between(0, 0.5) : 0;
    // Some breathe in once more, deep and slow, before they close; some stop wherever they are in a breath.
    const double lastBreathS = c.odds(0.55) ? c.between(1.5, 6) : 0, lastDepth = c.between(0.8, 2);
    const bool inHold = spell.kind == hold;
    const double easeLast = lastBreathS > 0 ? ease(0.4 * lastBreathS) : 1, ease2 = ease(2), ease1 = ease(1), ease035 = ease(0.35);
    const double volumeSpeed = spell.lungs == full ? 1 : spell.lungs == partial ? c.between(1.1, 1.8) : c.between(1.8, 4);
    if (inHold) {
      holdFall = p.fall * c.between(0.7, 1.3) * (spell.lungs == empty ? 1.2 : 1);
      tremorPhase = c.next();
      letGo = spell.lungs;
    }
    const double bumpSize = p.inhaleBump * (nextLungs == full ? 1 : nextLungs == partial ? 0.5 : 0) * c.between(0.7, 1.3);
    const Lungs lungs = inHold ? spell.lungs : nextLungs;
    const double heldLungs = lungs == full ? 3 : lungs == partial ? 0.8 : -0.8;
    for (int i = 0; i < steps && at < n; i++, at++) {
      const double t = i * stepS, leftS = spell.lengthS - t, toHoldS = beforeHold ? leftS : INFINITY;
      double hz = p.breathHz * std::exp(rateNoise(c)), depth = std::max(0.15, 1 + depthNoise(c));
      drive += (1 - drive) * easeDrive;
      bool speaking = false;
      switch (spell.kind) {
        case shallow: depth *= shallowDepth * std::sqrt(drive); break;
        case rest:
          depth *= drive;
          hz *= 1 + (p.quietRate - 1) * (1 - drive);
          break;
        case hush:
          depth *= hushDepth;
          hz *= hushRate;
          break;
        case paced: hz = pacedHz * (0.97 + 0.03 * hz / p.breathHz); depth *= pacedDepth; break;
        case talk:
          speechS -= stepS;
          if (speechS <= 0) {
            speechS = c.between(1.5, 9);
            speechHz = 0.5 / speechS;
          }
          hz = speechHz;
          depth *= 0.8 * std::sqrt(drive);
          speaking = true;
          break;
        case effortful: hz *= 1 + effort; depth *= 1.3; break;
        case ready: hz *= p.readyRate; depth *= p.readyDepth; break;
        case recover: hz *= p.gaspRate; depth *= p.gasp; break;
        default: break;
      }
      if (!inHold) {
        if (stillS <= 0 && c.odds(p.pausesPerHour / 3600 * stepS)) stillS = c.between(2.5, 6.5);
        if (sighS <= 0 && c.odds(p.sighsPerHour / 3600 * stepS)) {
          sighS = c.between(4, 8);
          sighPause = c.odds(0.4) ? c.between(2, 6.5) : 0;
        }
        if (sighS > 0 && sighS <= stepS && sighPause > 0) stillS = sighPause;
        // Breath stops by itself where carbon dioxide has been washed out: no hold.
        if (stopsAtS >= 0 && t >= stopsAtS && t < stopsAtS + stepS) stillS = stopsForS;
      }
      stillS -= stepS;
      if (sighS > 0) drive = std::max(drive, 0.5);
      sighS -= stepS;
      const bool breathing = !inHold && (stillS <= 0 || toHoldS < 8 || toHoldS < lastBreathS);
      if (toHoldS < lastBreathS) {
        // From empty to full, so that the swing of heart rate peaks about when the airway closes; or out, before emptied lungs.
        breathPhase = lungs == empty ? 0.5 + 0.5 * (1 - toHoldS / lastBreathS) : 0.5 * (1 - toHoldS / lastBreathS);
        depth = lastDepth;
        volume += (heldLungs - volume) * easeLast;
      } else if (inHold) {
        volume += (heldLungs - volume) * ease2;
      } else if (breathing) {
        breathPhase += hz * stepS;
        const double wave = 0.5 - 0.5 * std::cos(2 * M_PI * breathPhase);
        volume += ((sighS > 0 ? 3 : depth) * wave - volume) * ease035;
      } else {
        volume += (0 - volume) * ease1;
      }
      course.lungs[at] = float(volume);
      course.held[at] = inHold;
      course.motion[at] = float(spell.kind == effortful ? moved * std::min(1.0, 3 * effort) : spell.kind == talk ? 0.2 * moved : inHold && spell.effort > 0 ? 0.7 * moved : 0);
      // Heart.
      const double wantedEffort = spell.effort * (speaking ? 0.3 : 1);
      effort += (wantedEffort - effort) * (spell.effort > effort ? easeOn : easeOff);
      const double arousalRate = inHold ? p.fidgetsInHoldPerHour : p.arousalsPerHour;
      if (arousalLeftS <= 0 && arousalRate > 0 && c.odds(arousalRate / 3600 * stepS)) {
        arousalLeftS = c.between(2, 25);
        arousalTarget = c.between(-0.06, 0.26) * (inHold ? 0.5 : 1);
        arousalTauS = c.between(1.5, 12);
      }
      arousalLeftS -= stepS;
      lift += (spell.lift - lift) * easeLift;
      arousal += ((arousalLeftS > 0 ? arousalTarget : 0) - arousal) * ease(arousalTauS);
      const double wanted = inHold || !beforeHold ? 0 : p.anticipation * clip(1 - toHoldS / p.anticipationS, 0, 1);
      anticipation += (wanted - anticipation) * easeCalm;
      const double bumpOn = inHold ? t - p.inhaleBumpAtS : -toHoldS - p.inhaleBumpAtS;
      const bool bumping = bumpOn >= -3 && bumpOn <= 0;
      const double sighing = sighS > 0 ? 0.5 * p.inhaleBump : 0;
      bump += ((bumping ? bumpSize : sighing) - bump) * (bumping ? easeBump : easeBumpOff);
      const bool rising = inHold && t < p.earlyRisePeakS;
      early += ((rising ? p.earlyRise * earlyShare : 0) - early) * (rising ? easeEarly : inHold ? easeEarlyOff : easeBack);
      const bool dipping = inHold && t < 3;
      dip += ((dipping ? p.exhaleDip * dipShare : 0) - dip) * (dipping ? easeDip : easeDipOff);
      const bool releasing = !inHold && wasHeldS > 6 && sinceHoldS > p.backDelayS && sinceHoldS < p.backDelayS + 5;
      const double release = releasing ? p.releaseDip * (letGo == full ? 1 : letGo == partial ? 0.4 : 0) : 0;
      released += (release - released) * (release > 0 ? easeReleased : easeReleasedOff);
      swayShare += (1 - swayShare) * easeSwayBack;
      if (inHold && t > 8) swayShare = p.swayAfter;
      if (inHold) {
        wasHeldS = t;
        sinceHoldS = 0;
        fallen += ((t > p.fallDelayS ? holdFall : 0) - fallen) * easeFall;
      } else {
        sinceHoldS += stepS;
        if (sinceHoldS > p.backDelayS) fallen -= fallen * easeBack;
      }
      const double late = inHold && wasHeldS > 50 ? p.lateChange * std::min(1.0, (wasHeldS - 50) / 120) : 0;
      const double over = !inHold && sinceHoldS > p.backDelayS && sinceHoldS < p.backDelayS + 8 && wasHeldS > 6 ? p.overshoot : 0;
      overshoot += (over - overshoot) * (over != 0 ? easeOver : easeOverOff);
      slowPhase += p.slowHz * stepS * std::exp(slowNoise(c));
      const double slow = p.slowWave * std::max(0.0, 1 + slowSize(c)) * (inHold ? p.slowInHold : 1) * std::sin(2 * M_PI * slowPhase);
      // Respiratory swing: faster breathing swings less; none while the airway is closed.
      const double swingTarget = breathing ? depth * std::min(1.3, std::pow(0.2 / std::max(0.05, hz), 0.6)) *
                                                 (1 - 0.75 * std::min(1.0, effort)) * quietSway * (spell.kind == cold ? coldSway : 1)
                                 : stillS > 0 && !inHold ? 0.1 : 0;
      sway += (swingTarget - sway) * (inHold ? easeSwayIn : easeSway);
      const double angle = 2 * M_PI * breathPhase - 0.9;
      const double swing = p.sway * sway * (inHold ? 1 : swayShare) * (std::sin(angle) + p.swaySkew * std::sin(2 * angle));
      double tremor = 0;
      if (inHold && wasHeldS > p.tremorFrom * std::min(160.0, spell.lengthS)) {
        tremorPhase += stepS / p.tremorPeriodS * std::exp(rateNoise(c));
        tremor = p.tremor * std::sin(2 * M_PI * tremorPhase);
      }
      double sum = slow + swing + tremor + anticipation + bump + early - dip - released + arousal + lift + overshoot + late + p.effortReach * effort +
                   (air.on ? air.heartPerPercent * air.at(at * stepS) : 0) + (spell.kind == talk ? 0.03 : 0);
      for (Wander& d : drift) sum += d(c);
      course.heart[at] = float(clip(p.restBpm * (1 + sum) * (1 - fallen), 27, 215));
      // Saturation at the lungs.
      const double thinned = air.at(at * stepS);
      const double breathed = breathing ? std::min(2.5, depth * hz / p.breathHz) : 0;
      if (!inHold) vent += (breathed - vent) * easeVent;
      const double little = clip(1 - vent, -0.3, 1);
      if (inHold && p.byGas) {
        gas = std::max(16.0, gas - p.gasFallPerS * volumeSpeed * (gas < 45 ? 0.5 + gas / 90 : 1) * stepS);
        oxygen = p.spo2Top * saturationAt(gas) / saturationAt(p.startMmHg) - thinned;
      } else if (inHold) {
        const double plateauS = p.plateauS * (spell.lungs == empty ? 0.3 : spell.lungs == partial ? 0.7 : 1);
        if (t > plateauS) oxygen = std::max(50.0, oxygen - p.fallPerS * std::min(1.4, 0.2 + (t - plateauS * 0.4) / 80) * stepS);
      } else {
        const double wantedGas = (spell.kind == ready || spell.kind == recover ? p.startMmHg + 8 : p.startMmHg) * (1 - p.quietGasShare * little);
        gas += (wantedGas - gas) * easeGas;
        const double quiet = p.byGas ? p.spo2Top * (1 - std::min(1.0, saturationAt(wantedGas) / saturationAt(p.startMmHg))) : std::max(0.0, p.quietFall * little);
        const double goal = std::min(100.0, p.spo2Top + (spell.kind == ready ? 0.7 : 0)) - quiet - thinned;
        oxygen += (goal - oxygen) * ease(thinned > 0 ? 40 : air.on ? 12 : 4);
      }
      course.arterial[at] = float(oxygen);
    }
  }
  return course;
}

// ---------------------------------------------------------------------------------------------------- sensors

struct Beat {
  double endMs, rrMs;
};

/** As src/signal/beat-screen.ts. */
struct BeatScreen {
  std::vector<double> accepted;
  int suspectRun = 0;
  void accept(double rr) {
    accepted.push_back(rr);
    if (accepted.size() > 7) accepted.erase(accepted.begin());
  }
  void push(double endMs, double rr, std::vector<Beat>& out) {
    if (!(rr >= 240 && rr <= 6000)) return;
    if (accepted.size() < 3) {
      if (rr <= 3000) {
        accept(rr);
        out.push_back({endMs, rr});
      }
      return;
    }
    std::vector<double> sorted = accepted;
    std::sort(sorted.begin(), sorted.end());
    const double typical = sorted[sorted.size() / 2], ratio = rr / typical;
    if (ratio > 0.65 && ratio < 1.5 && rr <= 3000) {
      suspectRun = 0;
      accept(rr);
      out.push_back({endMs, rr});
      return;
    }
    suspectRun++;
    if (suspectRun >= 4 && rr <= 3000) {
      accepted.clear();
      suspectRun = 0;
      accept(rr);
      out.push_back({endMs, rr});
      return;
    }
    const int parts = int(std::floor(ratio + 0.5));
    if (parts >= 2 && parts <= 4 && std::fabs(ratio / parts - 1) < 0.25) {
      const double part = rr / parts;
      for (int i = 0; i < parts; i++) out.push_back({endMs - (parts - 1 - i) * part, part});
      return;
    }
    out.push_back({endMs, typical});
  }
};

using Spans = std::vector<std::pair<double, double>>;

Spans gapsOf(Chance& c, double seconds, double perHour, double leastS, double mostS) {
  Spans gaps;
  for (double t = 0; t < seconds;) {
    t += -std::log(1 - c.next()) * (3600 / std::max(0.01, perHour));
    gaps.push_back({t, t + c.scale(leastS, mostS)});
  }
  return gaps;
}
struct Within {
  const Spans& spans;
  size_t at = 0;
  bool operator()(double s) {
    while (at < spans.size() && s >= spans[at].second) at++;
    return at < spans.size() && s >= spans[at].first;
  }
};

enum Sensors { all, rrOnly, rateOnly, rateAndOximeter, rrAndSaturation, oximeter, plethOnly, plethAndOximeter, wrist, everything };

/** As the gate of src/signal/signal-cleaner.ts: a fall or rise too fast is doubted, for six seconds at most. */
struct SaturationGate {
  double trustedS = NAN, trusted = 0, doubtSinceS = NAN;
  bool doubts(double s, double percent) {
    if (!std::isnan(trustedS) && s - trustedS < 20) {
      const double seconds = std::max(1.0, s - trustedS), change = percent - trusted;
      if (change < 0 ? -change > 2 + 1.5 * seconds : change > 3 + 4 * seconds) {
        if (std::isnan(doubtSinceS)) doubtSinceS = s;
        if (s - doubtSinceS < 6) return true;
      }
    }
    doubtSinceS = NAN;
    trustedS = s;
    trusted = percent;
    return false;
  }
};

/** Seconds as src/signal/second-rows.ts makes them. */
std::vector<Row> rowsOf(const std::vector<Beat>& beats, const std::vector<float>& strapRate, const std::vector<float>& pulseRate, const std::vector<float>& spo2) {
  const int seconds = int(spo2.size());
  std::vector<Row> rows(seconds);
  size_t from = 0;
  auto latest = [&](const std::vector<float>& values, int r) {
    for (int back = 0; back <= 5 && r - back >= 0; back++)
      if (!std::isnan(values[r - back])) return values[r - back];
    return nan_;
  };
  for (int r = 0; r < seconds; r++) {
    const double rowMs = (r + 1) * 1000.0, fromMs = rowMs - 1000;
    while (from < beats.size() && beats[from].endMs <= fromMs - 5000) from++;
    double covered = 0, weighted = 0, carried = NAN;
    for (size_t i = from; i < beats.size(); i++) {
      const double end = beats[i].endMs, start = end - beats[i].rrMs;
      if (end > rowMs + 1200) break;
      if (end <= rowMs && rowMs - end < 2500) carried = 60000 / beats[i].rrMs;
      if (end <= fromMs) continue;
      const double overlap = std::min(end, rowMs) - std::max(start, fromMs);
      if (overlap > 0) {
        covered += overlap;
        weighted += overlap * 60000 / beats[i].rrMs;
      }
    }
    Row& row = rows[r];
    const double byBeats = covered >= 250 ? weighted / covered : carried;
    const float byStrap = latest(strapRate, r), byPulse = latest(pulseRate, r);
    if (!std::isnan(byBeats)) row.rate = float(byBeats), row.source = fromBeats;
    else if (!std::isnan(byStrap)) row.rate = byStrap, row.source = fromStrap;
    else if (!std::isnan(byPulse)) row.rate = byPulse, row.source = fromPulse;
    row.spo2 = latest(spo2, r);
  }
  return rows;
}

std::vector<Row> drawRows(Chance& c, const Body& p, Sensors sensors) {
  const Course& course = p.course;
  const int n = int(course.heart.size()), seconds = n / stepsPerRow;
  const bool faulty = c.odds(0.3), byLight = sensors == plethOnly || sensors == plethAndOximeter;
  const Spans strapGaps = faulty ? gapsOf(c, seconds, c.between(0, 25), 2, 45) : Spans{};
  const Spans fingerGaps = faulty ? gapsOf(c, seconds, c.between(0, 25), 2, 45) : Spans{};
  // Beats found in a pleth are less exact than a strap's, and some pleths give none.
  const double wrongBeats = byLight ? c.scale(0.003, 0.15) : c.odds(0.35) ? c.scale(0.001, 0.08) : 0;
  const bool noBeats = byLight && c.odds(0.3);
  const int strapBeats = int(c.scale(1, 18));
  const double strapLagS = c.between(0, 2);
  const double rateStep = sensors == wrist ? (c.odds(0.5) ? 0.01 : 1) : c.odds(0.85) ? 1 : 0.001;
  const double roundedTo = c.odds(0.9) ? 1 : 0.1;
  // Motion at the finger: dips of saturation and a wrong pulse.
  const Spans dips = c.odds(0.45) ? gapsOf(c, seconds, c.between(2, 90), 2, 18) : Spans{};
  std::vector<double> dipDepths;
  for (size_t i = 0; i < dips.size(); i++) dipDepths.push_back(c.between(1, 18));
  const bool saidBad = c.odds(0.4);
  // Bursts in which the strap slips or the finger moves, and what walking does to either.
  const Spans bursts = c.odds(0.25) ? gapsOf(c, seconds, c.scale(4, 150), 1.5, 12) : Spans{};
  const double burstWrong = c.between(0.3, 0.9), strapInMotion = c.odds(0.6) ? 0 : c.between(0, 0.5), fingerInMotion = c.between(0.1, 0.8);
  const double motionPulse = c.scale(0.02, 0.3);
  const bool liesStill = c.odds(0.7);
  const double pulseTauS = c.scale(1, 9);
  const int pulseLag = c.odds(0.3) ? 0 : int(c.between(0, 4) / stepS);
  Wander fingerNoise(c, 6, c.scale(0.05, 0.6)), fingerDrift(c, c.between(20, 120), c.odds(0.5) ? c.scale(0.2, 1.6) : 0.1);
  Wander wristNoise(c, c.scale(2, 20), c.scale(0.005, 0.08)), wristLock(c, c.scale(20, 90), 1);
  const double wristTauS = c.scale(2, 15), lockAt = c.between(0.8, 2.5), lockTo = c.between(-0.3, 0.5);
  const int lag = int(p.lagS / stepS), mean = std::max(1, int(p.averagingS / stepS));
  const double bias = c.between(-1.5, 1);
  const bool wantsRr = !noBeats && (byLight || sensors == all || sensors == rrOnly || sensors == rrAndSaturation || sensors == everything);
  const bool wantsRate = sensors == all || sensors == rateOnly || sensors == rateAndOximeter || sensors == rrOnly || sensors == wrist || sensors == everything;
  const bool wantsSpo2 = sensors != rrOnly && sensors != rateOnly && sensors != plethOnly && sensors != wrist;
  const bool wantsPulse = sensors == all || sensors == oximeter || sensors == rateAndOximeter || sensors == plethAndOximeter || sensors == everything;
  const double jitterMs = p.jitterMs * (byLight ? c.between(1, 4) : 1);
  Within strapGone{strapGaps}, fingerGone{fingerGaps}, strapGone2{strapGaps}, burst{bursts};
  double moving = 0;
  bool bursting = false;
  BeatScreen screen;
  std::vector<Beat> beats;
  std::vector<double> recent;
  double beatPhase = c.next(), lastBeatMs = NAN, owed = 0, pulse = course.heart.empty() ? 60 : course.heart[0], window = 0, wristRate = pulse, ectopicOwed = 0;
  for (int i = 0; i < mean; i++) window += course.arterial[0];
  auto delayed = [&](int i) { return double(course.arterial[std::max(0, i)]); };
  std::vector<float> strapRate(seconds, nan_), pulseRate(seconds, nan_), spo2(seconds, nan_);
  SaturationGate gate;
  size_t dipAt = 0;
  for (int i = 0; i < n; i++) {
    const double ms = i * stepS * 1000, s = i * stepS, ahead = course.heart[i] / 60 * stepS;
    beatPhase += ahead;
    moving = course.motion[i];
    if (i % 4 == 0) bursting = burst(s) && !(course.held[i] && liesStill);
    if (beatPhase >= 1) {
      beatPhase -= 1;
      double beatMs = ms + stepS * 1000 * (1 - beatPhase / ahead) + jitterMs * c.normal() - ectopicOwed;
      ectopicOwed = 0;
      if (p.fibrillation > 0) beatPhase += clip(p.fibrillation * c.normal(), -0.5, 0.4);
      const double rr = beatMs - lastBeatMs;
      if (p.ectopicsPerHour > 0 && c.odds(p.ectopicsPerHour / 3600 * 60 / course.heart[i])) beatPhase += c.between(0.15, 0.45);
      if (rr > 200) {
        recent.push_back(rr);
        if (int(recent.size()) > strapBeats) recent.erase(recent.begin());
        if (wantsRr && !strapGone(s)) {
          const double value = std::round((rr + owed) * 1.024) / 1.024;
          owed = 0;
          const double wrong = std::max(wrongBeats, bursting ? burstWrong : moving * (byLight ? fingerInMotion : strapInMotion));
          if (wrong > 0 && c.odds(wrong)) {
            const double part = c.between(0.25, 0.75);
            switch (c.pick({1, 1, 1})) {
              case 0: owed = rr; break;
              case 1:
                screen.push(beatMs - value * (1 - part), value * part, beats);
                screen.push(beatMs, value * (1 - part), beats);
                break;
              default:
                screen.push(beatMs - 0.3 * value, 0.7 * value, beats);
                owed = 0.3 * value;
            }
          } else {
            screen.push(beatMs, value, beats);
          }
        }
      }
      if (!(rr <= 200)) lastBeatMs = beatMs;
    }
    window += delayed(i - lag) - delayed(i - lag - mean);
    pulse += (course.heart[std::max(0, i - pulseLag)] - pulse) * ease(pulseTauS);
    if (i % 4 != 3) continue;
    const int second = i / 4;
    if (wantsRate && !recent.empty() && !strapGone2(s)) {
      double sum = 0;
      for (double rr : recent) sum += rr;
      double bpm = 60000 / (sum / recent.size());
      if (bursting || c.odds(moving * strapInMotion)) bpm *= std::exp(motionPulse * c.normal());
      if (sensors == wrist) {
        const double lock = wristLock(c);
        wristRate += ((lock > lockAt ? bpm * (1 + lockTo) : bpm) - wristRate) * (1 - std::exp(-1 / wristTauS));
        bpm = wristRate * (1 + wristNoise(c));
      }
      const int to = second + int(strapLagS + 0.5);
      if (to < seconds) strapRate[to] = float(std::round(bpm / rateStep) * rateStep);
    }
    if (fingerGone(s)) continue;
    while (dipAt < dips.size() && s >= dips[dipAt].second) dipAt++;
    const bool dipping = dipAt < dips.size() && s >= dips[dipAt].first, bad = dipping && saidBad;
    const double noise = fingerNoise(c), slide = fingerDrift(c);
    const bool shaken = bursting || c.odds(0.5 * moving * fingerInMotion);
    if (wantsSpo2) {
      const double value = window / mean + bias + noise + slide - (dipping ? dipDepths[dipAt] : 0) - (shaken && c.odds(0.3) ? c.between(0, 6) : 0);
      const double shown = clip(std::round(value / roundedTo) * roundedTo, 35, 100);
      if (!bad && !gate.doubts(s, shown)) spo2[second] = float(shown);
    }
    if (wantsPulse && !bad) pulseRate[second] = float(std::round(pulse * (dipping ? c.between(0.8, 1.3) : shaken ? std::exp(motionPulse * c.normal()) : 1)));
  }
  return rowsOf(beats, strapRate, pulseRate, spo2);
}

/** The same body with the sensors of another author; their beats and saturation go through the screens of the product. */
std::vector<Row> drawRowsOfOthers(Chance& c, const Body& body, Sensors sensors) {
  static const world_wear::Kit kits[] = {world_wear::everything, world_wear::strapWithBeats, world_wear::strapOnly, world_wear::strapAndOximeter, world_wear::beatsAndSaturation, world_wear::oximeterOnly, world_wear::beatsFromLight, world_wear::beatsFromLight, world_wear::wristOnly, world_wear::everything};
  world_wear::Worn worn = world_wear::wear(c, body, kits[sensors]);
  std::vector<Beat> beats;
  BeatScreen screen;
  for (const auto& beat : worn.beats) screen.push(beat.endMs, beat.rrMs, beats);
  const int seconds = int(body.course.heart.size()) / stepsPerRow;
  for (auto* values : {&worn.strapRate, &worn.pulseRate, &worn.spo2}) values->resize(seconds, nan_);
  SaturationGate gate;
  for (int s = 0; s < seconds; s++) {
    float& percent = worn.spo2[s];
    if (sensors == plethOnly) percent = worn.pulseRate[s] = nan_;
    if (!std::isnan(percent) && (percent < 35 || percent > 100 || gate.doubts(s, percent))) percent = nan_;
    for (float* bpm : {&worn.strapRate[s], &worn.pulseRate[s]})
      if (!(*bpm >= 20 && *bpm <= 250)) *bpm = nan_;
  }
  return rowsOf(beats, worn.strapRate, worn.pulseRate, worn.spo2);
}

/** The pleth second by second: breathing, drift, pulse, jolts and what pressing in a hold does. */
void drawPleth(Chance& c, const Course& course, std::vector<Row>& rows) {
  const double sign = c.odds(0.5) ? 1 : -1, breath = c.scale(0.15, 3), level = c.odds(0.5) ? c.between(0, 1) : 0, noise = c.scale(0.03, 0.5);
  Wander drift(c, c.between(20, 120), c.scale(0.2, 3), 1), quiver(c, c.between(2, 6), c.scale(0.05, 0.6), 1);
  const double joltsPerHour = c.odds(0.3) ? 0 : c.scale(10, 500), joltSize = c.scale(1, 8), joltTauS = c.scale(1, 40);
  const double heldShift = c.odds(0.5) ? 0 : c.normal() * c.scale(0.5, 5), heldTauS = c.scale(1, 10);
  const double lowest = c.odds(0.2) ? -c.between(1, 4) : -INFINITY;
  const double pulse = c.scale(0.04, 8), swell = c.odds(0.3) ? 0 : c.between(0, 0.4);
  Wander pulseDrift(c, c.between(5, 60), c.scale(0.03, 0.5), 1), unsteady(c, c.between(2, 8), 0.5, 1);
  const double pulseHeld = std::exp(c.odds(0.5) ? 0 : 0.4 * c.normal()), moved = c.scale(0.02, 1.5), still = c.between(0.1, 0.9);
  const double unit = c.scale(1e-4, 1e4), offset = c.normal() * 10;
  double jolt = 0, shift = 0, slowVolume = 0, before = NAN, pulseNow = 1;
  for (size_t s = 0; s < rows.size(); s++) {
    double sum = 0;
    int held = 0;
    for (int k = 0; k < stepsPerRow; k++) sum += course.lungs[s * stepsPerRow + k], held += course.held[s * stepsPerRow + k];
    const bool inHold = held > 2;
    const double volume = sum / stepsPerRow;
    slowVolume += (volume - slowVolume) * 0.15;
    double jolted = 0;
    if (c.odds(joltsPerHour / 3600 * (inHold ? 0.35 : 1) + 0.6 * course.motion[s * stepsPerRow])) jolt += jolted = joltSize * c.normal();
    jolt *= std::exp(-1 / joltTauS);
    shift += ((inHold ? heldShift : 0) - shift) * (1 - std::exp(-1 / heldTauS));
    const double d = drift(c), q = quiver(c), drifted = pulseDrift(c), shaken = unsteady(c);
    const double value = sign * breath * (volume - (1 - level) * slowVolume) + d + q + jolt + shift + noise * c.normal();
    const double slope = std::isnan(before) ? 0 : value - before;
    before = value;
    pulseNow += ((inHold ? pulseHeld : 1) - pulseNow) * 0.3;
    const double parts[4] = {pulse * std::exp(drifted) * pulseNow * std::max(0.2, 1 + swell * (volume - slowVolume) / 2),
                             slope / std::sqrt(12.0), moved * (inHold ? still : 1) * std::exp(shaken), 0.4 * jolted};
    double squares = 0;
    for (double part : parts) squares += part * part;
    rows[s].pleth = float(unit * (offset + std::max(lowest, value)));
    rows[s].swing = float(unit * std::sqrt(squares));
  }
}

// ---------------------------------------------------------------------------------------------- half-real sessions

/** Recordings of people who breathe, as rows: rate, source, saturation, pleth baseline and swing; NaN where not known. */
struct Background {
  const float* rows;
  int count;
};

/** Mean over the known values within `reach` rows. */
std::vector<double> smoothed(const std::vector<double>& values, int reach) {
  const int n = int(values.size());
  std::vector<double> out(n);
  double sum = 0;
  int count = 0;
  auto take = [&](int i, int sign) {
    if (i >= 0 && i < n && !std::isnan(values[i])) sum += sign * values[i], count += sign;
  };
  for (int i = 0; i < reach; i++) take(i, 1);
  for (int i = 0; i < n; i++) {
    take(i + reach, 1);
    take(i - reach - 1, -1);
    out[i] = count > 0 ? sum / count : NAN;
  }
  return out;
}

void cutHoldsIn(Chance& c, const Person& p, std::vector<Row>& rows, std::vector<uint8_t>& held) {
  const int n = int(rows.size());
  std::vector<double> rate(n), pleth(n), swing(n);
  for (int i = 0; i < n; i++) rate[i] = rows[i].rate > 0 ? std::log(double(rows[i].rate)) : NAN, pleth[i] = rows[i].pleth, swing[i] = rows[i].swing > 0 ? std::log(double(rows[i].swing)) : NAN;
  const int reach = int(c.between(6, 16));
  const std::vector<double> calmRate = smoothed(rate, reach), calmPleth = smoothed(pleth, reach), calmSwing = smoothed(swing, 3);
  double plethSway = 0;
  int plethKnown = 0;
  for (int i = 0; i < n; i++)
    if (!std::isnan(pleth[i]) && !std::isnan(calmPleth[i])) plethSway += std::fabs(pleth[i] - calmPleth[i]), plethKnown++;
  plethSway = plethKnown > 0 ? plethSway / plethKnown : 0;
  const double left = c.scale(0.02, 0.35), plethShift = c.odds(0.5) ? 0 : plethSway * c.normal() * 2, plethNoise = plethSway * c.scale(0.03, 0.3);
  double calm = 0, fallen = 0, over = 0, gas = p.startMmHg, bump = 0, phase = c.next(), gasp = 0, hushed = 0, early = 0, dip = 0, saved = 0;
  // Quiet breathing swings less, and is breathing: before holds, after them, and by itself.
  const bool hushes = c.odds(0.35), beginner = c.odds(0.2);
  const double hushShare = c.between(0.25, 0.65), hushesPerHour = c.odds(0.5) ? 0 : c.between(2, 12);
  double hushLeftS = 0, hushBeforeS = 0, earlyShare = 1, dipShare = 0;
  std::vector<double> missing(n, 0.0);
  int at = int(c.between(15, 150)), until = -1, since = 100000, began = 0;
  Lungs lungs = full;
  double fall = p.fall, speed = 1, plethNow = 0;
  Wander unrest(c, c.between(3, 12), c.scale(0.003, 0.02), 1);
  for (int i = 0; i < n; i++) {
    if (i == at) {
      began = i;
      lungs = Lungs(c.pick({0.6, 0.2, 0.2}));
      const double lengthS = beginner ? c.scale(11, 75) : holdLength(c);
      until = i + int(lungs == empty && c.odds(0.5) ? std::max(9.0, lengthS * c.between(0.3, 0.9)) : lengthS);
      earlyShare = lungs == full ? c.between(0.5, 1.2) : lungs == partial ? c.between(0, 0.6) : 0;
      dipShare = lungs == empty ? c.between(0.4, 1.2) : 0;
      fall = p.fall * c.between(0.7, 1.3);
      speed = lungs == full ? 1 : lungs == partial ? c.between(1.1, 1.8) : c.between(1.8, 4);
    }
    const bool inHold = i >= at && i < until;
    if (i == until) {
      since = 0;
      at = i + int(c.scale(30, 500));
      if (hushes && c.odds(0.6)) hushLeftS = c.scale(10, 120);
      hushBeforeS = hushes && c.odds(0.7) ? c.scale(8, 120) : 0;
    }
    if (!inHold && c.odds(hushesPerHour / 3600)) hushLeftS = c.scale(10, 180);
    hushLeftS -= 1;
    // The first seconds after a hold are for getting one's breath back.
    const bool hushing = !inHold && since > 8 && (hushLeftS > 0 || at - i < hushBeforeS);
    hushed += ((hushing ? hushShare : 0) - hushed) * 0.4;
    const bool rising = inHold && i - began < p.earlyRisePeakS, dipping = inHold && i - began < 3;
    early += ((rising ? p.earlyRise * earlyShare : 0) - early) * (1 - std::exp(-1 / (rising ? p.earlyRiseTauS : inHold ? p.earlyRiseFadeTauS : p.backTauS)));
    dip += ((dipping ? p.exhaleDip * dipShare : 0) - dip) * (1 - std::exp(-1 / (dipping ? 0.8 : p.inhaleBumpTauS)));
    saved += ((hushing ? p.quietGasShare * hushShare : 0) - saved) * (1 - std::exp(-1 / p.ventTauS));
    held[i] = inHold;
    calm += ((inHold ? 1 : 0) - calm) * (inHold ? 0.8 : 0.6);
    if (inHold) {
      if (i - began > p.fallDelayS) fallen += (fall - fallen) * (1 - std::exp(-1 / p.fallTauS));
      gas = std::max(18.0, gas - p.gasFallPerS * speed * (gas < 45 ? 0.5 + gas / 90 : 1));
    } else {
      since++;
      if (since > p.backDelayS) fallen -= fallen * (1 - std::exp(-1 / p.backTauS));
      gas += (p.startMmHg * (1 - saved) - gas) * (1 - std::exp(-1 / p.gasBackTauS));
    }
    const double wantOver = !inHold && since < p.backDelayS + 8 ? p.overshoot : 0;
    over += (wantOver - over) * (1 - std::exp(-1 / (wantOver != 0 ? 2.5 : p.overshootTauS)));
    const bool bumping = lungs == full && i - at >= -3 + p.inhaleBumpAtS && i - at <= p.inhaleBumpAtS;
    bump += ((bumping ? p.inhaleBump : 0) - bump) * (bumping ? 0.55 : 1 - std::exp(-1 / p.inhaleBumpTauS));
    gasp += ((since < 25 && !inHold ? p.gasp - 1 : 0) - gasp) * 0.3;
    phase += p.breathHz * p.gaspRate;
    missing[i] = 1 - saturationAt(gas) / saturationAt(p.startMmHg);
    if (!std::isnan(rate[i])) {
      const double still = calmRate[i] + left * (rate[i] - calmRate[i]) + unrest(c);
      const double quiet = std::max(calm, hushed);
      const double value = quiet * still + (1 - quiet) * rate[i] + std::log(1 + over + bump + early - dip) + std::log(1 - clip(fallen, -0.3, 0.6)) +
                           std::max(0.0, gasp) * p.sway * 0.5 * std::sin(2 * M_PI * phase);
      rows[i].rate = float(clip(std::exp(value), 27, 215));
      if (rows[i].source != fromBeats) rows[i].rate = std::round(rows[i].rate);
    }
    if (!std::isnan(pleth[i])) {
      plethNow += ((inHold ? plethShift : 0) - plethNow) * 0.3;
      const double quiet = std::max(calm, hushed);
      rows[i].pleth = float(quiet * (calmPleth[i] + left * (pleth[i] - calmPleth[i])) + (1 - quiet) * pleth[i] + plethNow + plethNoise * c.normal() +
                            std::max(0.0, gasp) * plethSway * std::sin(2 * M_PI * phase));
      if (!std::isnan(swing[i])) rows[i].swing = float(std::exp(calm * (calmSwing[i] - 0.1) + (1 - calm) * swing[i] + 0.05 * c.normal()));
    }
  }
  const int lag = int(p.lagS), mean = std::max(1, int(p.averagingS));
  for (int i = 0; i < n; i++) {
    if (std::isnan(rows[i].spo2)) continue;
    double sum = 0;
    for (int k = 0; k < mean; k++) sum += missing[std::max(0, i - lag - k)];
    rows[i].spo2 = float(std::max(35.0, std::round(rows[i].spo2 * (1 - sum / mean))));
  }
}

void halfReal(Chance& c, const Background& background, int want, std::vector<Row>& rows, std::vector<uint8_t>& held) {
  const int length = std::min(want, background.count);
  const int from = int(c.next() * (background.count - length + 1));
  rows.resize(length);
  held.assign(length, 0);
  const bool altered = c.odds(0.6);
  const double faster = altered ? std::exp(c.between(-0.18, 0.18)) : 1, lower = altered ? std::round(c.between(-2, 2)) : 0;
  const double sign = altered && c.odds(0.5) ? -1 : 1, loudness = altered ? c.scale(0.5, 2) : 1;
  const bool losesSpo2 = c.odds(0.08), losesPleth = c.odds(0.15), rounded = c.odds(0.2);
  for (int i = 0; i < length; i++) {
    const float* at = background.rows + 5 * (from + i);
    Row& row = rows[i];
    row.rate = float(at[0] * faster);
    row.source = int(at[1]);
    if (row.source != fromBeats && (std::floor(at[0]) == at[0] || rounded)) row.rate = std::round(row.rate);
    row.spo2 = losesSpo2 ? nan_ : float(std::min(100.0, at[2] + lower));
    row.pleth = losesPleth ? nan_ : float(sign * loudness * at[3]);
    row.swing = losesPleth ? nan_ : float(loudness * at[4]);
  }
  if (c.odds(0.5)) cutHoldsIn(c, drawPerson(c), rows, held);
}

/** A session of this file's own people, or a short one with one hold, as a laboratory makes them with a pleth. */
Body ownBody(Chance& c, int want, const Person& person, bool plethOn) {
  std::vector<Spell> spells = drawSpells(c);
  if (plethOn && c.odds(0.6)) {
    spells = {{rest, c.between(6, 40)}, {hold, c.between(8, 30)}, {recover, c.between(5, 20)}, {rest, c.between(5, 40)}};
    spells[1].lungs = c.odds(0.5) ? full : partial;
  }
  // No more is drawn than could be asked for.
  double total = 0;
  for (size_t i = 0; i < spells.size(); i++) {
    total += spells[i].lengthS;
    if (total > 1.6 * want + 200) {
      spells.resize(i + 1);
      break;
    }
  }
  ThinAir air;
  if (c.odds(0.08)) {
    air.on = true;
    air.lengthS = std::min(c.scale(60, 1000), 0.8 * total);
    air.fromS = c.between(0, total - air.lengthS);
    air.fall = c.between(2, 34);
    air.steps = int(c.between(1, 10));
    // About half a beat a minute for a per cent of 60 (from memory), or none.
    air.heartPerPercent = c.between(0, 0.012);
  }
  return {drawCourse(c, person, spells, air), person.jitterMs, person.lagS, person.averagingS, person.fibrillation, person.ectopicsPerHour};
}

/** `others`: the share of sessions in the worlds of other authors. */
void invented(Chance& c, int want, double others, std::vector<Row>& rows, std::vector<uint8_t>& held) {
  const Person person = drawPerson(c);
  const Sensors sensors = Sensors(c.pick({0.2, 0.08, 0.07, 0.16, 0.08, 0.13, 0.15, 0.05, 0.04, 0.04}));
  const bool plethOn = sensors == plethOnly || sensors == plethAndOximeter || sensors == everything;
  const int world = others > 0 && c.odds(others) ? 1 + c.pick({1, 1, 1, 1, 1}) : 0;
  const Body body = world == 0   ? ownBody(c, want, person, plethOn)
                    : world == 1 ? world_feedback::draw(c, want)
                    : world == 2 ? world_curves::draw(c, want)
                    : world == 3 ? world_conduct::draw(c, want)
                    : world == 4 ? world_athletes::draw(c, want)
                                 : world_clinic::draw(c, want);
  const Course& course = body.course;
  // Sensors by another author for half of these, whoever's body it is.
  const bool worn = others > 0 && c.odds(0.5);
  std::vector<Row> whole = worn ? drawRowsOfOthers(c, body, sensors) : drawRows(c, body, sensors);
  if (plethOn) drawPleth(c, course, whole);
  const int n = int(whole.size());
  // A recording may begin or end in the middle of anything.
  int first = c.odds(0.4) ? int(c.next() * 0.5 * n) : 0;
  if (n > want) first = int(c.next() * (n - want));
  int last = c.odds(0.5) ? std::max(first + 40, int(n * (1 - 0.6 * c.next()))) : n;
  if (n > want) last = n;
  last = std::min({last, first + want, n});
  first = std::max(0, std::min(first, last - 40));
  rows.assign(whole.begin() + first, whole.begin() + last);
  held.resize(rows.size());
  for (size_t i = 0; i < rows.size(); i++) {
    int sum = 0;
    for (int k = 0; k < stepsPerRow; k++) sum += course.held[(first + i) * stepsPerRow + k];
    held[i] = sum > 2;
  }
}

}  // namespace

extern "C" {

/**
 * Draws `count` sessions of at most `want` rows from seeds `seed`, `seed` + 1, ... A session's features lie at
 * `x + i * 24 * want`, channel by channel; its labels at `labels + i * want`; rows past its end stay 0. `share` of the
 * sessions have a recorded background: rows one after another, `starts` has one more than there are recordings, and `order`
 * names a recording as often as it is to come; of the invented ones `others` are in the worlds of other authors. `which` says whose it was, -1 for an invented session.
 */
void draw(uint64_t seed, int count, int want, int live, float* x, uint8_t* labels, int* lengths, const float* rowsOfAll, const int* starts,
          const int* order, int orders, double share, double others, int* which) {
  for (int i = 0; i < count; i++) {
    Chance c(seed + i);
    std::vector<Row> rows;
    std::vector<uint8_t> held;
    if (orders > 0 && c.odds(share)) {
      const int at = which[i] = order[int(c.next() * orders)];
      halfReal(c, {rowsOfAll + 5 * size_t(starts[at]), starts[at + 1] - starts[at]}, want, rows, held);
    } else {
      which[i] = -1;
      invented(c, want, others, rows, held);
    }
    const std::vector<RawRow> raw = rawRows(rows);
    float* plane = x + size_t(i) * featureCount * want;
    std::memset(plane, 0, sizeof(float) * featureCount * want);
    std::memset(labels + size_t(i) * want, 0, want);
    std::memcpy(labels + size_t(i) * want, held.data(), held.size());
    if (live) featuresOfStream(raw, plane, want);
    else featuresOfRecording(raw, plane, want);
    lengths[i] = int(rows.size());
  }
}

/** Features of rows at hand (5 numbers each), channel by channel. */
void features(const float* numbers, int count, int live, float* x) {
  std::vector<Row> rows(count);
  for (int i = 0; i < count; i++) rows[i] = {numbers[5 * i], int(numbers[5 * i + 1]), numbers[5 * i + 2], numbers[5 * i + 3], numbers[5 * i + 4]};
  const std::vector<RawRow> raw = rawRows(rows);
  if (live) featuresOfStream(raw, x, count);
  else featuresOfRecording(raw, x, count);
}
}
