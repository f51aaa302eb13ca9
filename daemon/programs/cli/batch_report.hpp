// What a batch came to, as plain values: its beds and jars, each phase with the climate it kept,
// what was foretold and what happened, and all that was entered. Threading: plain values. Failure:
// none; what is not known is absent.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "base/quantity.hpp"
#include "base/time.hpp"
#include "core/forecast/yield.hpp"
#include "programs/cli/history.hpp"

namespace tubwarden::cli {

/// Of one quantity in one phase, in its kept unit.
struct ReportQuantity {
  Quantity quantity = Quantity::humidity;
  double known_h = 0.0, banded_h = 0.0;  ///< with a usable reading; of that, with a band to keep
  std::optional<double> inside_pct;      ///< of the time in which a band was kept
  double mean = 0.0, least = 0.0, most = 0.0;
  bool at_least = false;                      ///< the sensor stood at the top of its range
  std::optional<double> band_low, band_high;  ///< by the batch's own profile
};

struct ReportPhase {
  std::string tub, phase;
  int flush = 0;  ///< 0: belongs to none
  WallTime from{};
  std::optional<WallTime> to;  ///< nothing: it lasts
  std::vector<ReportQuantity> quantities;
  std::vector<std::pair<std::string, double>> outputs_h;  ///< hours above rest
};

struct ReportJar {
  std::string id, batch, grain, culture, run, fate, fate_text, into_tub, into_batch;
  double dose_ml = 0.0;
  std::optional<WallTime> inoculated, shaken, fate_at;
  double days = 0.0;
  struct Look {
    WallTime at{};
    double grown_pct = 0.0;
  };
  std::vector<Look> looks;
};

struct ReportCulture {
  std::string id, strain, source;
  double millilitres = 0.0, used_ml = 0.0, left_ml = 0.0;
};

struct ReportPick {
  WallTime at{};
  double grams = 0.0;
};
struct ReportFlush {
  int number = 1;
  std::optional<WallTime> pins;
  double pin_mm = 0.0;
  std::vector<ReportPick> picks;
  double grams = 0.0;
};
struct ReportBed {
  std::string tub, mix;
  std::optional<WallTime> spawned, cased, contaminated;
  std::vector<std::string> jars;
  double substrate_kg = 0.0;
  std::optional<double> dry_kg, surface_m2, water_l;
  std::vector<ReportFlush> flushes;
  double grams = 0.0;
};

/// What was foretold, and what happened.
struct ReportForecast {
  std::string of;    ///< "J-3", "tub-1, flush 2"
  std::string what;  ///< "grown through", "first pick"
  WallTime told{}, early{}, likely{}, late{};
  WallTime happened{};
  bool within() const { return early <= happened && happened <= late; }
};

struct ReportAct {
  WallTime at{};
  bool at_is_known = true;
  std::string who, tub, kind, text, note, photo;
};

/// A quantity of an air over the batch's stay in it.
struct ReportStrip {
  std::string chamber;
  Quantity quantity = Quantity::humidity;
  std::vector<HistoryValue> values;
};

struct BatchReport {
  std::string site, batch, profile;
  WallTime made{};
  std::vector<ReportPhase> phases;  ///< by tub, oldest first
  std::vector<ReportStrip> strips;
  std::vector<ReportJar> jars;
  std::vector<ReportCulture> cultures;
  std::vector<ReportBed> beds;
  std::vector<ReportForecast> forecasts;
  std::vector<ReportAct> acts;  ///< oldest first
  bool cut = false;             ///< there were more acts than are shown

  double grams() const;
  /// The yield of all its beds; where one does not say its dry mass, none is known.
  CropYield yield() const;
  /// From the first act to the last, or now.
  WallTime begins() const, ends() const;
};

/// Of one bed.
CropYield yield_of_bed(const ReportBed& bed);

}  // namespace tubwarden::cli
