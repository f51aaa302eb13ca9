#include "core/ledger/grow_book.hpp"

#include <gmock/gmock.h>

#include "base/text.hpp"
#include "unit/ledger/grower.hpp"

namespace tubwarden {
namespace {

using ::testing::HasSubstr;

class GrowBookTest : public ::testing::Test {
 protected:
  Grower grower;
  GrowBook& book = grower.book;
};

TEST_F(GrowBookTest, ADoseComesOffItsCultureAndTheLastOneFits) {
  grower.does("2026-03-01", CultureReceived{"LC-2", "A15", "a friend", 10.0});
  grower.does("2026-03-02", grower.jars(5, "B-07", "LC-2", 1.0));
  EXPECT_DOUBLE_EQ(book.cultures().at("LC-2").left_ml(), 5.0);
  EXPECT_TRUE(book.cultures().at("LC-2").opened) << "a culture that was drawn from is open";
  grower.does("2026-03-02", grower.jars(5, "B-07", "LC-2", 1.0));
  EXPECT_DOUBLE_EQ(book.cultures().at("LC-2").left_ml(), 0.0);
}

TEST_F(GrowBookTest, AnOverdrawIsRefusedAndSaysForHowManyItIsEnough) {
  grower.does("2026-03-01", CultureReceived{"LC-2", "", "", 10.0});
  grower.does("2026-03-02", grower.jars(7, "B-07", "LC-2", 1.0));
  const std::string why = grower.refused("2026-03-03", grower.jars(5, "B-07", "LC-2", 1.0));
  EXPECT_THAT(why, HasSubstr("LC-2 has 3 mL left of 10 mL"));
  EXPECT_THAT(why, HasSubstr("5 doses of 1 mL need 5 mL"));
  EXPECT_THAT(why, HasSubstr("enough for 3 jars"));
  EXPECT_DOUBLE_EQ(book.cultures().at("LC-2").left_ml(), 3.0);
}

TEST_F(GrowBookTest, AJarIsMixedOnce) {
  grower.inoculates(5);
  grower.does("2026-03-20", grower.spawn("tub-1", {"J-1", "J-2"}));
  EXPECT_THAT(grower.refused("2026-03-21", grower.spawn("tub-2", {"J-2", "J-3"})),
              HasSubstr("J-2 was mixed into tub-1 on 2026-03-20 already"));
  EXPECT_THAT(grower.refused("2026-03-21", grower.spawn("tub-2", {"J-3", "J-3"})),
              HasSubstr("J-3 is named twice"));
  EXPECT_THAT(grower.refused("2026-03-21", JarShaken{"J-1"}), HasSubstr("was mixed into tub-1"));
  EXPECT_EQ(book.jar("J-1")->into_batch, "B-07");
}

TEST_F(GrowBookTest, AContaminatedJarIsNeverMixed) {
  grower.inoculates(2);
  grower.does("2026-03-10", JarContaminated{"J-2", "green at the shoulder"});
  EXPECT_THAT(grower.refused("2026-03-20", grower.spawn("tub-1", {"J-1", "J-2"})),
              HasSubstr("is never mixed"));
  grower.does("2026-03-11", JarDiscarded{"J-2", "bleached and thrown away"});
  EXPECT_TRUE(book.jar("J-2")->contaminated) << "it counts among the contaminated still";
  EXPECT_EQ(book.jar("J-2")->fate, JarFate::discarded);
}

TEST_F(GrowBookTest, NothingIsPickedBeforeFruiting) {
  grower.fills_a_tub();
  grower.enters("tub-1", "casing", "2026-04-10");
  EXPECT_THAT(grower.refused("2026-04-12", Picked{"tub-1", "B-07", 300.0, {}}),
              HasSubstr("tubwarden phase tub-1 fruiting"));
  grower.enters("tub-1", "fruiting", "2026-04-20");
  EXPECT_THAT(grower.refused("2026-04-19", Picked{"tub-1", "B-07", 300.0, {}}),
              HasSubstr("was in casing then"));
  EXPECT_THAT(grower.refused("2026-04-25", Picked{"tub-1", "B-07", 5000.0, {}}),
              HasSubstr("more than half of the 5 kg of substrate in tub-1; is it g?"));
  grower.does("2026-04-25", Picked{"tub-1", "B-07", 300.0, 12.0});
  EXPECT_DOUBLE_EQ(book.bed("tub-1", "B-07")->grams(), 300.0);
}

TEST_F(GrowBookTest, FlushesAreNumberedByCleaningOrByNewPins) {
  grower.fills_a_tub();
  grower.enters("tub-1", "fruiting", "2026-04-20");
  grower.does("2026-04-20", PinsSeen{"tub-1", "B-07", 2.0});
  grower.does("2026-04-24", Picked{"tub-1", "B-07", 300.0, {}});
  grower.does("2026-04-25", Picked{"tub-1", "B-07", 200.0, {}});
  grower.does("2026-04-26", FlushCleaned{"tub-1", "B-07"});
  EXPECT_THAT(grower.refused("2026-04-26", FlushCleaned{"tub-1", "B-07"}),
              HasSubstr("no flush that is picked and not cleaned"));
  grower.does("2026-05-02", Picked{"tub-1", "B-07", 150.0, {}});
  grower.does("2026-05-08", PinsSeen{"tub-1", "B-07", 2.0});
  grower.does("2026-05-12", Picked{"tub-1", "B-07", 50.0, {}});
  const auto& flushes = book.bed("tub-1", "B-07")->flushes;
  ASSERT_EQ(flushes.size(), 3u);
  EXPECT_DOUBLE_EQ(flushes[0].grams(), 500.0);
  EXPECT_DOUBLE_EQ(flushes[1].grams(), 150.0);
  EXPECT_EQ(rfc3339(*flushes[1].cleaned).substr(0, 10), "2026-05-08");
  EXPECT_EQ(flushes[2].number, 3);
}

TEST_F(GrowBookTest, AnotherStayInFruitingIsAnotherFlush) {
  grower.fills_a_tub();
  grower.enters("tub-1", "pinning", "2026-04-16");
  grower.does("2026-04-18", PinsSeen{"tub-1", "B-07", 2.0});
  grower.enters("tub-1", "fruiting", "2026-04-20");
  grower.enters("tub-1", "rest", "2026-04-28");
  grower.enters("tub-1", "fruiting", "2026-05-01");
  grower.does("2026-05-03", Picked{"tub-1", "B-07", 100.0, {}});
  grower.does("2026-04-25", Picked{"tub-1", "B-07", 300.0, {}});  // entered late
  const auto& flushes = book.bed("tub-1", "B-07")->flushes;
  ASSERT_EQ(flushes.size(), 2u);
  EXPECT_EQ(flushes[0].number, 1);
  EXPECT_DOUBLE_EQ(flushes[0].grams(), 300.0);
  EXPECT_EQ(flushes[1].number, 2);
  EXPECT_DOUBLE_EQ(flushes[1].grams(), 100.0);
}

TEST_F(GrowBookTest, ASlipOutOfFruitingEndsNoFlush) {
  grower.fills_a_tub();
  grower.enters("tub-1", "fruiting", "2026-04-20");
  grower.does("2026-04-24", Picked{"tub-1", "B-07", 300.0, {}});
  book.phase("tub-1", "B-07", {"empty", day_of("2026-04-24") + minutes(5), false, 0});
  book.phase("tub-1", "B-07", {"fruiting", day_of("2026-04-24") + minutes(6), true, 0});
  grower.does("2026-04-25", Picked{"tub-1", "B-07", 100.0, {}});
  EXPECT_EQ(book.bed("tub-1", "B-07")->flushes.size(), 1u);
}

TEST_F(GrowBookTest, TheFutureAndUnknownThingsAreRefused) {
  grower.inoculates(1);
  EXPECT_THAT(grower.refused("2026-12-24", JarShaken{"J-1"}), HasSubstr("lies in the future"));
  EXPECT_THAT(grower.refused("2026-03-05", JarShaken{"J-11"}), HasSubstr("nearest: J-1"));
  EXPECT_THAT(grower.refused("2026-03-05", JarsMoved{{"J-1"}, "shelv"}),
              HasSubstr("nearest: shelf"));
  EXPECT_THAT(grower.refused("2026-03-05", grower.jars(1, "B-07", "LC-9", 1.0)),
              HasSubstr("tubwarden culture receive"));
  EXPECT_THAT(grower.refused("2026-02-01", JarShaken{"J-1"}),
              HasSubstr("is before J-1 was filled"));
  EXPECT_THAT(grower.refused("2026-03-05", JarLookedAt{"J-1", 120.0}), HasSubstr("0 to 100"));
  EXPECT_THAT(grower.refused("2026-03-05", CultureReceived{"LC 3", "", "", 10.0}),
              HasSubstr("is no id for a culture"));
  EXPECT_THAT(grower.refused("2026-03-05", CultureReceived{"LC-2", "", "", 10.0}),
              HasSubstr("there is a culture LC-2 already"));
}

TEST_F(GrowBookTest, AnUndoneActIsAsIfItHadNotBeen) {
  grower.inoculates(5);
  const std::int64_t last = grower.does("2026-03-10", JarContaminated{"J-2", "wrong jar"});
  EXPECT_EQ(book.last()->entry, last);
  grower.does("2026-03-10", Undone{last});
  EXPECT_TRUE(book.jar("J-2")->stands());
  EXPECT_TRUE(book.is_undone(last));
  EXPECT_THAT(grower.refused("2026-03-10", Undone{last}), HasSubstr("was taken back already"));
  EXPECT_NE(book.last()->entry, last) << "the next undo takes the act before";
}

TEST_F(GrowBookTest, WhatOthersBuildOnGoesOnlyAfterThem) {
  const std::int64_t added = grower.inoculates(5);
  const std::int64_t shaken = grower.does("2026-03-10", JarShaken{"J-2"});
  EXPECT_THAT(grower.refused("2026-03-11", Undone{added}),
              HasSubstr("before entry " + std::to_string(shaken)));
  grower.does("2026-03-11", Undone{shaken});
  grower.does("2026-03-11", Undone{added});
  EXPECT_TRUE(book.jars().empty());
  EXPECT_EQ(book.next_jars(2), (std::vector<std::string>{"J-6", "J-7"}))
      << "a label that was printed is not given to another jar";
}

TEST_F(GrowBookTest, WhatTheRecordCouldNotKeepIsDropped) {
  grower.inoculates(2);
  const std::size_t place = book.apply({0, day_of("2026-03-09"), "anna", JarShaken{"J-1"}, "", ""});
  EXPECT_EQ(book.jar("J-1")->shaken.size(), 1u);
  book.drop(place);
  EXPECT_TRUE(book.jar("J-1")->shaken.empty());
}

TEST(GrowActTest, IdsThatAreCountedUpAreToldAsARange) {
  EXPECT_EQ(told_ids({"J-1", "J-2", "J-3", "J-4", "J-9"}), "J-1 to J-4 and J-9");
  EXPECT_EQ(told_ids({"J-1", "J-2"}), "J-1 and J-2");
  EXPECT_EQ(told_ids({"J-08", "J-09", "J-10"}), "J-08, J-09 and J-10");
  EXPECT_EQ(told_ids({"red"}), "red");
}

TEST(GrowActTest, AnActIsToldInOneSentence) {
  JarsAdded added;
  added.jars = {"J-1", "J-2", "J-3"};
  added.batch = "B-07";
  added.grain = "rye";
  added.fill_g = 300.0;
  added.run = "S-3";
  added.shelf = "shelf";
  added.culture = "LC-2";
  added.dose_ml = 1.0;
  EXPECT_EQ(told(added),
            "3 jars of rye, J-1 to J-3, 300 g each, from run S-3: inoculated with 1 mL each of "
            "LC-2; on shelf");
  EXPECT_EQ(batch_of(added), "B-07");
  EXPECT_EQ(tub_of(added), "");
  EXPECT_EQ(kind_of(added), "jars_added");
}

}  // namespace
}  // namespace tubwarden
