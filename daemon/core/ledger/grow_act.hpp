// What a grower does with cultures, grain jars and tubs, each act as a value: what the record keeps
// of the grow. Threading: plain values. Failure: none; grow_book.hpp judges them.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "base/time.hpp"

namespace tubwarden {

/// A liquid culture in a syringe or bottle came into the house.
struct CultureReceived {
  std::string culture;  ///< its id, "LC-2"
  std::string strain;
  std::string source;  ///< who made it
  double millilitres = 0.0;
};
struct CultureOpened {
  std::string culture;
};
/// What is left of it was thrown away.
struct CultureDiscarded {
  std::string culture;
  std::string why;
};

/// One load of a pressure vessel.
struct Sterilised {
  std::string run;                  ///< its id, "S-3"
  std::string what;                 ///< what was in it
  Duration hold{0};                 ///< at its pressure
  std::optional<double> gauge_kpa;  ///< as the gauge said
  std::optional<double> f0_minutes;
};

/// Jars of grain filled alike; with a culture they were inoculated at that moment.
struct JarsAdded {
  std::vector<std::string> jars;  ///< their ids
  std::string batch;
  std::string grain;  ///< "rye"
  std::string run;    ///< sterilising run; empty: not noted
  std::string shelf;  ///< where they stand; empty: not noted
  std::optional<double> fill_g;
  bool vented = true;   ///< the lid lets air through a filter; else it is closed
  std::string culture;  ///< empty: not inoculated yet
  double dose_ml = 0.0;
};
/// Jars that were added without a culture got one.
struct JarsInoculated {
  std::vector<std::string> jars;
  std::string culture;
  double dose_ml = 0.0;
};
struct JarLookedAt {
  std::string jar;
  double grown_pct = 0.0;  ///< of its grain, as the eye judged
};
struct JarShaken {
  std::string jar;
};
struct JarsMoved {
  std::vector<std::string> jars;
  std::string shelf;
};
struct JarContaminated {
  std::string jar;
  std::string seen;  ///< what was seen: "green patch at the shoulder"
};
struct JarDiscarded {
  std::string jar;
  std::string why;
};

/// Substrate made for one or more tubs.
struct SubstrateMade {
  std::string mix;  ///< its id, "M-4"
  std::string of;   ///< what it is made of
  double dry_kg = 0.0;
  double water_kg = 0.0;
};
/// Jars mixed into the substrate of a tub: its spawn run begins.
struct TubSpawned {
  std::string tub, batch;
  std::vector<std::string> jars;
  std::string mix;                   ///< empty: not noted
  double substrate_kg = 0.0;         ///< wet
  std::optional<double> dry_kg;      ///< of that; nothing: by its mix, where that is known
  std::optional<double> surface_m2;  ///< of the bed
};
struct TubCased {
  std::string tub, batch;
  std::string with;
  std::optional<double> depth_mm;
};
struct PinsSeen {
  std::string tub, batch;
  double size_mm = 2.0;  ///< of the largest
};
struct Picked {
  std::string tub, batch;
  double grams = 0.0;
  std::optional<double> count;
};
/// The flush is picked out and its stumps are cleaned away.
struct FlushCleaned {
  std::string tub, batch;
};
struct TubContaminated {
  std::string tub, batch;
  std::string seen;
};

/// A line about a jar, a culture or another thing with an id.
struct Observed {
  std::string of;
  std::string text;
};
/// Upkeep that is due again some day: "recalibrated" of a sensor, "drilled" of a tub, "cleaned".
struct UpkeepDone {
  std::string what;
  std::string of;
};
/// Takes back an earlier act, by its entry.
struct Undone {
  std::int64_t entry = 0;
};

using GrowAct =
    std::variant<CultureReceived, CultureOpened, CultureDiscarded, Sterilised, JarsAdded,
                 JarsInoculated, JarLookedAt, JarShaken, JarsMoved, JarContaminated, JarDiscarded,
                 SubstrateMade, TubSpawned, TubCased, PinsSeen, Picked, FlushCleaned,
                 TubContaminated, Observed, UpkeepDone, Undone>;

/// An act as an entry of the record.
struct GrowEntry {
  std::int64_t entry = 0;  ///< its id in the record; 0: not on disk yet
  WallTime at{};           ///< when it was done; it may have been entered later
  std::string who;
  GrowAct act;
  std::string note;   ///< optional words
  std::string photo;  ///< optional path of a picture
};

/// The word of the record's `kind` column: "jars_added", "picked", ...
std::string_view kind_of(const GrowAct& act);
/// The tub and the batch an act is about; empty where it is about none.
std::string tub_of(const GrowAct& act);
std::string batch_of(const GrowAct& act);
/// One sentence without its time: "5 jars of rye (J-1 to J-5) inoculated with 1 mL each of LC-2".
std::string told(const GrowAct& act);
/// "J-1 to J-5 and J-9", for ids that are counted up; others one by one.
std::string told_ids(const std::vector<std::string>& ids);

}  // namespace tubwarden
