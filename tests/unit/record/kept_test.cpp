// The climate that each phase kept, in the record: with its transition, across a start, and without
// what was taken back.
#include "record_fixture.hpp"

namespace {

using namespace tubwarden;

PhaseKept climate(const std::string& phase, Duration lasted, double humidity, int flush = 0) {
  PhaseKept kept{"tub-1", "B-01", phase, flush, lasted, {}};
  kept.kept.of(Quantity::humidity) = {3600, 3000, 2400, humidity, humidity - 4, humidity + 5, true};
  kept.kept.ran("fan", 120.5);
  return kept;
}

AlertNoted alert(const std::string& place, const std::string& cause, bool raised = true) {
  return {place, cause, raised, "text"};
}

struct KeptTest : RecordTest {
  std::vector<KeptRow> kept(const std::string& batch = "B-01") {
    return ask<std::vector<KeptRow>>(
        [&](auto done) { record->climate_kept(batch, std::move(done)); });
  }
};

TEST_F(KeptTest, APhaseThatEndedComesBackWithItsAlertsAndWater) {
  open_batch();
  append({{at(1), "daemon", alert("tub-1", "humidity_low")},
          {at(2), "daemon", alert("tub-1", "humidity_low", false)},
          {at(3), "daemon", alert("tub-1", "humidity_low")},
          {at(4), "daemon", alert("tub-9", "humidity_low")},
          {at(5), "daemon", alert("site", "broker_lost")},
          {at(6), "maria", Watered{"tub-1", "tub-1", "B-01", 150.0}},
          {at(7), "maria", Watered{"tub-2", "closet", "B-02", 900.0}},
          {at(8), "maria", Watered{"tub-1", "tub-1", "B-01", 50.0}}});
  append({{at(10), "maria", climate("colonization", minutes(10), 91)},
          {at(10), "maria", change("colonization", "casing")}});
  append({{at(11), "daemon", alert("tub-1", "co2_high")}});
  reopen();
  const auto rows = kept();
  ASSERT_EQ(rows.size(), 1U);
  EXPECT_EQ(rows[0].phase.phase, "colonization");
  EXPECT_EQ(rows[0].phase.lasted, minutes(10));
  EXPECT_EQ(rows[0].phase.kept, climate("colonization", minutes(10), 91).kept);
  EXPECT_EQ(rows[0].from.wall, at(0).wall);
  ASSERT_TRUE(rows[0].to);
  EXPECT_EQ(rows[0].to->wall, at(10).wall);
  ASSERT_EQ(rows[0].alerts.size(), 1U);
  EXPECT_EQ(rows[0].alerts[0].cause, "humidity_low");
  EXPECT_EQ(rows[0].alerts[0].times, 2);
  EXPECT_EQ(rows[0].watered_ml, 200.0);
  EXPECT_TRUE(kept("B-09").empty());
  const auto told = timeline();
  ASSERT_EQ(told.size(), 11U);
  EXPECT_EQ(told[8].kind, "kept");
  EXPECT_EQ(told[8].text,
            "colonization lasted 10m: humidity at least 91 % (87 to 96), in its band for 80 % "
            "of the time");
  EXPECT_NE(sqlite("update phase_kept set flush=3").status, 0) << "append-only";
  EXPECT_NE(sqlite("delete from phase_kept_quantity").status, 0);
}

TEST_F(KeptTest, AnAlertOfAnAirCountsWhileTheTubStandsInIt) {
  open_batch();
  append({{at(1), "daemon", alert("closet", "humidity_low")},
          {at(2), "maria", PlacementEnded{"tub-1", "B-01", "tub-1"}},
          {at(2), "maria", Placed{"tub-1", "closet", "B-01"}},
          {at(3), "daemon", alert("closet", "co2_high")},
          {at(4), "daemon", alert("tub-1", "substrate_ceiling")}});
  append({{at(10), "maria", climate("colonization", minutes(10), 91)},
          {at(10), "maria", change("colonization", "casing")}});
  const auto rows = kept();
  ASSERT_EQ(rows.size(), 1U);
  ASSERT_EQ(rows[0].alerts.size(), 2U);
  EXPECT_EQ(rows[0].alerts[0].cause, "co2_high");
  EXPECT_EQ(rows[0].alerts[1].cause, "substrate_ceiling");
}

TEST_F(KeptTest, APhaseThatLastsStillComesBackByItsCheckpoint) {
  const auto began = open_batch();
  record->kept_now({began, climate("colonization", minutes(5), 88)});
  record->kept_now({began, climate("colonization", minutes(15), 90)});
  reopen();
  ASSERT_TRUE(tub().kept);
  EXPECT_EQ(*tub().kept, climate("", {}, 90).kept);
  auto rows = kept();
  ASSERT_EQ(rows.size(), 1U);
  EXPECT_FALSE(rows[0].to);
  EXPECT_EQ(rows[0].phase.lasted, minutes(15));
  EXPECT_EQ(rows[0].from.wall, at(0).wall);
  // The transition ends it: what comes after a start begins anew.
  append({{at(20), "maria", climate("colonization", minutes(20), 91)},
          {at(20), "maria", change("colonization", "casing")}});
  reopen();
  EXPECT_FALSE(tub().kept);
  ASSERT_TRUE(tub().previous_kept);
  EXPECT_EQ(*tub().previous_kept, climate("", {}, 91).kept);
  EXPECT_EQ(kept().size(), 1U);
}

TEST_F(KeptTest, ACheckpointOfAnotherPhaseIsNotGoneOnWith) {
  const auto began = open_batch();
  append({{at(10), "maria", change("colonization", "casing")}});
  record->kept_now({began, climate("colonization", minutes(10), 91)});  // came late
  reopen();
  EXPECT_FALSE(tub().kept);
  EXPECT_TRUE(kept().empty());
}

TEST_F(KeptTest, WhatWasTakenBackIsLeftOutAndItsPhaseIsOneStay) {
  open_batch();
  const auto slip = append({{at(10), "maria", climate("colonization", minutes(10), 91)},
                            {at(10), "maria", change("colonization", "casing")}});
  PhaseTransition back = change("casing", "colonization", PhaseCause::correction);
  back.corrects = slip.back();
  append({{at(11), "maria", back}});
  EXPECT_TRUE(kept().empty());
  EXPECT_EQ(tub().entered["casing"], 0);
  EXPECT_EQ(tub().entered["colonization"], 1);
  append({{at(12), "daemon", alert("tub-1", "humidity_low")}});
  append({{at(30), "maria", climate("colonization", minutes(30), 92)},
          {at(30), "maria", change("colonization", "casing")}});
  const auto rows = kept();
  ASSERT_EQ(rows.size(), 1U);
  EXPECT_EQ(rows[0].phase.lasted, minutes(30));
  EXPECT_EQ(rows[0].from.wall, at(0).wall);
  EXPECT_EQ(rows[0].alerts.size(), 1U);
  EXPECT_EQ(tub().entered["casing"], 1);
}

TEST_F(KeptTest, ACorrectionOfWhatWasNotOnDiskYetNamesItAllTheSame) {
  open_batch();
  append({{at(10), "maria", climate("colonization", minutes(10), 91)},
          {at(10), "maria", change("colonization", "casing")},
          {at(11), "maria", change("casing", "colonization", PhaseCause::correction)}});
  EXPECT_TRUE(kept().empty());
  EXPECT_EQ(tub().entered["casing"], 0);
  EXPECT_TRUE(tub().previous_phase.empty());
}

TEST_F(KeptTest, FlushesAreCountedByTransitionsThatStand) {
  open_batch();
  append({{at(10), "maria", change("colonization", "fruiting")},
          {at(20), "daemon", change("fruiting", "rest", PhaseCause::plan)}});
  PhaseTransition again = change("rest", "fruiting", PhaseCause::plan);
  again.flush = 2;
  const auto slip = append({{at(30), "daemon", again}});
  reopen();
  EXPECT_EQ(tub().entered["fruiting"], 2);
  EXPECT_EQ(timeline().back().text, "phase rest -> fruiting, by its plan, flush 2");
  EXPECT_FALSE(tub().plan_taken_back);
  PhaseTransition back = change("fruiting", "rest", PhaseCause::correction);
  back.corrects = slip.back();
  append({{at(31), "maria", back}});
  EXPECT_EQ(tub().entered["fruiting"], 1);
  EXPECT_EQ(tub().entered["rest"], 1);
  EXPECT_TRUE(tub().plan_taken_back);
}

}  // namespace
