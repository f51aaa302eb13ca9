// What a grower does with cultures, jars and tubs: each kind of act comes back from the disk as it
// went there, with its time, its words and its picture.
#include <set>
#include <tuple>

#include "record_fixture.hpp"

namespace {

using namespace tubwarden;
using Jars = std::vector<std::string>;

auto fields(const CultureReceived& a) {
  return std::tie(a.culture, a.strain, a.source, a.millilitres);
}
auto fields(const CultureOpened& a) { return std::tie(a.culture); }
auto fields(const CultureDiscarded& a) { return std::tie(a.culture, a.why); }
auto fields(const Sterilised& a) {
  return std::tie(a.run, a.what, a.hold, a.gauge_kpa, a.f0_minutes);
}
auto fields(const JarsAdded& a) {
  return std::tie(a.jars, a.batch, a.grain, a.run, a.shelf, a.fill_g, a.vented, a.culture,
                  a.dose_ml);
}
auto fields(const JarsInoculated& a) { return std::tie(a.jars, a.culture, a.dose_ml); }
auto fields(const JarLookedAt& a) { return std::tie(a.jar, a.grown_pct); }
auto fields(const JarShaken& a) { return std::tie(a.jar); }
auto fields(const JarsMoved& a) { return std::tie(a.jars, a.shelf); }
auto fields(const JarContaminated& a) { return std::tie(a.jar, a.seen); }
auto fields(const JarDiscarded& a) { return std::tie(a.jar, a.why); }
auto fields(const SubstrateMade& a) { return std::tie(a.mix, a.of, a.dry_kg, a.water_kg); }
auto fields(const TubSpawned& a) {
  return std::tie(a.tub, a.batch, a.jars, a.mix, a.substrate_kg, a.dry_kg, a.surface_m2);
}
auto fields(const TubCased& a) { return std::tie(a.tub, a.batch, a.with, a.depth_mm); }
auto fields(const PinsSeen& a) { return std::tie(a.tub, a.batch, a.size_mm); }
auto fields(const Picked& a) { return std::tie(a.tub, a.batch, a.grams, a.count); }
auto fields(const FlushCleaned& a) { return std::tie(a.tub, a.batch); }
auto fields(const TubContaminated& a) { return std::tie(a.tub, a.batch, a.seen); }
auto fields(const Observed& a) { return std::tie(a.of, a.text); }
auto fields(const UpkeepDone& a) { return std::tie(a.what, a.of); }
auto fields(const Undone& a) { return std::tie(a.entry); }

bool same(const GrowAct& a, const GrowAct& b) {
  return std::visit(
      [](const auto& x, const auto& y) {
        if constexpr (std::is_same_v<decltype(x), decltype(y)>) {
          return fields(x) == fields(y);
        } else {
          return false;
        }
      },
      a, b);
}

std::vector<GrowAct> one_of_each() {
  return {
      CultureReceived{"LC-2", "A15", "a friend's lab", 10.0},
      CultureOpened{"LC-2"},
      CultureDiscarded{"LC-2", "cloudy"},
      Sterilised{"S-3", "6 jars of rye", minutes(90), 103.0, 12.5},
      Sterilised{"S-4", "", minutes(150), {}, {}},
      JarsAdded{{"J-10", "J-9", "J-11"}, "B-07", "rye", "S-3", "jars", 300.0, false, "LC-2", 1.5},
      JarsAdded{{"J-12"}, "B-07", "", "", "", {}, true, "", 0.0},
      JarsInoculated{{"J-12", "J-1"}, "LC-2", 2.0},
      JarLookedAt{"J-9", 25.0},
      JarShaken{"J-9"},
      JarsMoved{{"J-9", "J-10"}, "closet"},
      JarContaminated{"J-11", "green patch"},
      JarDiscarded{"J-11", "sealed and out of the house"},
      SubstrateMade{"M-4", "straw and horse manure", 5.0, 8.0},
      TubSpawned{"tub-1", "B-07", {"J-10", "J-9"}, "M-4", 5.0, 1.8, 0.24},
      TubSpawned{"tub-2", "B-07", {"J-12"}, "", 4.0, {}, {}},
      TubCased{"tub-1", "B-07", "peat and lime", 40.0},
      TubCased{"tub-2", "B-07", "", {}},
      PinsSeen{"tub-1", "B-07", 3.5},
      Picked{"tub-1", "B-07", 420.0, 31.0},
      Picked{"tub-1", "B-07", 80.5, {}},
      FlushCleaned{"tub-1", "B-07"},
      TubContaminated{"tub-2", "B-07", "cobweb"},
      Observed{"J-9", "smells of bread"},
      UpkeepDone{"recalibrated", "tub-1/air"},
      Undone{3}};
}

struct GrowRecordTest : RecordTest {
  std::int64_t note(GrowAct act, std::int64_t minute, const std::string& tub = "",
                    const std::string& batch = "") {
    GrowNoted noted{{}, tub, batch};
    noted.grow.at = at(minute).wall;
    noted.grow.act = std::move(act);
    return append({{at(minute), "maria", std::move(noted)}}).back();
  }
  std::vector<GrowEntry> entries() {
    auto read = record->grow_entries();
    if (!read.ok()) throw std::runtime_error(read.error().text);
    return std::move(*read);
  }
};

TEST_F(GrowRecordTest, EveryKindOfActComesBackAsItWent) {
  const auto acts = one_of_each();
  std::vector<std::int64_t> ids;
  std::int64_t minute = 0;
  for (const GrowAct& act : acts) ids.push_back(note(act, ++minute));
  reopen();
  const auto read = entries();
  ASSERT_EQ(read.size(), acts.size());
  for (std::size_t i = 0; i < acts.size(); ++i) {
    EXPECT_TRUE(same(read[i].act, acts[i])) << told(acts[i]) << "\n" << told(read[i].act);
    EXPECT_EQ(read[i].entry, ids[i]);
    EXPECT_EQ(read[i].at, at(static_cast<std::int64_t>(i) + 1).wall);
    EXPECT_EQ(read[i].who, "maria");
  }
  std::set<std::size_t> kinds;
  for (const GrowAct& act : acts) kinds.insert(act.index());
  EXPECT_EQ(kinds.size(), std::variant_size_v<GrowAct>) << "a kind is not tested";
}

TEST_F(GrowRecordTest, ATimeLineShowsAnActWithWhenItWasDoneAndItsPicture) {
  open_batch();
  GrowNoted picked{{}, "tub-1", "B-01"};
  picked.grow.at = at(5).wall;
  picked.grow.act = Picked{"tub-1", "B-01", 420.0, {}};
  picked.grow.note = "first flush";
  picked.grow.photo = "/photos/1.jpg";
  const auto id = append({{at(600), "maria", picked}}).back();
  const TimelineRow row = timeline().back();
  EXPECT_EQ(row.id, id);
  EXPECT_EQ(row.kind, "picked");
  EXPECT_EQ(row.text, "420 g picked in tub-1; first flush");
  EXPECT_EQ(row.stamp.wall, at(600).wall);
  EXPECT_EQ(row.done, at(5).wall);
  EXPECT_EQ(row.photo, "/photos/1.jpg");
  EXPECT_FALSE(timeline().front().done);
  EXPECT_EQ(entries().back().note, "first flush");
  EXPECT_EQ(entries().back().photo, "/photos/1.jpg");
}

TEST_F(GrowRecordTest, WhatIsTakenBackIsNamedByItsCorrection) {
  open_batch();
  const auto slip = note(Picked{"tub-1", "B-01", 4200.0, {}}, 5, "tub-1", "B-01");
  note(Undone{slip}, 6, "tub-1", "B-01");
  EXPECT_EQ(timeline().back().corrects, slip);
  EXPECT_EQ(std::get<Undone>(entries().back().act).entry, slip);
}

TEST_F(GrowRecordTest, AnActIsNeverChangedByHand) {
  note(Picked{"tub-1", "B-01", 420.0, 31.0}, 1);
  for (const char* table : {"grow_entry", "picking"}) {
    const std::string of = table;
    EXPECT_NE(sqlite("delete from " + of).status, 0) << of;
    EXPECT_NE(sqlite("update " + of + " set entry=7").status, 0) << of;
  }
  EXPECT_EQ(entries().size(), 1U);
}

TEST_F(GrowRecordTest, AnActThatNamesNoEntryIsNotKept) {
  std::optional<Result<std::vector<std::int64_t>>> answer;
  GrowNoted noted;
  noted.grow.act = Undone{99};
  record->append({{at(1), "maria", noted}}, [&](auto result) { answer = std::move(result); });
  ASSERT_TRUE(loop.run_until([&] { return answer.has_value(); }));
  EXPECT_FALSE(answer->ok());
  EXPECT_TRUE(entries().empty());
}

TEST_F(GrowRecordTest, TheLastActOfAKindIsFoundForEachTub) {
  append({{at(1), "maria", Act{"drilled", "tub-1", "tub-1", "B-01", "drill: fan fell safe"}},
          {at(5), "maria", Act{"drilled", "tub-1", "tub-1", "B-02", "drill: mat fell safe"}},
          {at(6), "maria", Act{"note", "tub-1", "tub-1", "B-02", "dry"}},
          {at(3), "maria", Act{"drilled", "tub-2", "tub-2", "B-03", "drill: fan fell safe"}}});
  const auto drills = record->last_acts("drilled");
  ASSERT_TRUE(drills.ok());
  ASSERT_EQ(drills->size(), 2U);
  EXPECT_EQ((*drills)[0].tub, "tub-1");
  EXPECT_EQ((*drills)[0].at.wall, at(5).wall);
  EXPECT_EQ((*drills)[1].tub, "tub-2");
  EXPECT_TRUE(record->last_acts("refilled")->empty());
}

TEST_F(GrowRecordTest, PhasesOfAllTubsAreThereInOrder) {
  open_batch();
  append({{at(10), "file", change("colonization", "casing", PhaseCause::file)}});
  const auto all = record->all_phases();
  ASSERT_TRUE(all.ok());
  ASSERT_EQ(all->size(), 2U);
  EXPECT_EQ((*all)[0].phase, "colonization");
  EXPECT_EQ((*all)[1].phase, "casing");
  EXPECT_EQ((*all)[1].since.wall, at(10).wall);
}

}  // namespace
