// A grower at work on a book, for the tests of this folder: each act judged, then applied.
#pragma once

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "base/text.hpp"
#include "core/ledger/grow_book.hpp"

namespace tubwarden {

/// Noon of a day, UTC.
inline WallTime day_of(const std::string& day) { return *parse_rfc3339(day + "T12:00:00Z"); }

struct Grower {
  GrowBook book;
  GrowSite site{{"tub-1", "tub-2"}, {"shelf", "closet-shelf"}};
  WallTime now = day_of("2026-06-30");
  std::int64_t next_entry = 100;

  /// Answers the entry.
  std::int64_t does(const std::string& day, GrowAct act) {
    const WallTime at = day_of(day);
    const Outcome may = book.judge(act, at, now, site);
    EXPECT_TRUE(may.ok()) << told(act) << ": " << (may.ok() ? "" : may.error().text);
    book.apply({next_entry, at, "anna", std::move(act), "", ""});
    return next_entry++;
  }
  /// Why it may not be; empty when it may.
  std::string refused(const std::string& day, const GrowAct& act) const {
    const Outcome may = book.judge(act, day_of(day), now, site);
    return may.ok() ? "" : may.error().text;
  }

  JarsAdded jars(std::size_t count, const std::string& batch, const std::string& culture,
                 double dose_ml) const {
    JarsAdded added;
    added.jars = book.next_jars(count);
    added.batch = batch;
    added.grain = "rye";
    added.shelf = "shelf";
    added.culture = culture;
    added.dose_ml = dose_ml;
    return added;
  }
  /// A culture of 10 mL on 1 March, `count` jars of B-07 on the 2nd. Answers the jars' entry.
  std::int64_t inoculates(std::size_t count) {
    does("2026-03-01", CultureReceived{"LC-2", "A15", "", 10.0});
    return does("2026-03-02", jars(count, "B-07", "LC-2", 1.0));
  }
  TubSpawned spawn(const std::string& tub, std::vector<std::string> jars) const {
    return {tub, "B-07", std::move(jars), "", 5.0, 1.75, 0.24};
  }
  void enters(const std::string& tub, const std::string& phase, const std::string& day) {
    book.phase(tub, "B-07", {phase, day_of(day), phase == "fruiting", 0});
  }
  /// 2 jars in tub-1, in colonization from 20 March, cased on 8 April.
  void fills_a_tub() {
    inoculates(5);
    does("2026-03-20", spawn("tub-1", {"J-1", "J-2"}));
    enters("tub-1", "colonization", "2026-03-20");
    does("2026-04-08", TubCased{"tub-1", "B-07", "peat and lime", 40.0});
  }
};

}  // namespace tubwarden
