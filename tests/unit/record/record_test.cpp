// The record on real files: what goes in comes out, nothing is changed, and a damaged or foreign
// file is refused with what to do.
#include <gtest/gtest.h>

#include <limits>

#include "record_fixture.hpp"

namespace {

using namespace tubwarden;

TEST_F(RecordTest, AStateOfATubComesBackAfterAStart) {
  const auto opening = open_batch();
  PhaseTransition t = change("colonization", "fruiting", PhaseCause::file);
  t.file_seen = "fruiting";
  const auto id = append({{at(90), "file", t}}).back();
  append({{at(91), "daemon",
           GlideStarted{"tub-1", "B-01", "fruiting", Quantity::air_temperature, 23.4}}});
  reopen();
  const TubRecord r = tub();
  EXPECT_EQ(r.batch, "B-01");
  EXPECT_EQ(r.phase, "fruiting");
  EXPECT_EQ(r.transition, id);
  EXPECT_EQ(r.profile_text, "profile text");
  EXPECT_EQ(r.file_seen, "fruiting");
  EXPECT_EQ(r.previous_phase, "colonization");
  EXPECT_EQ(r.previous_transition, opening);
  EXPECT_EQ(r.previous_elapsed, minutes(90));
  ASSERT_EQ(r.glides.size(), 1U);
  EXPECT_EQ(r.glides[0].value, 23.4);
}

TEST_F(RecordTest, ACorrectionGoesOnWhereThePhaseWas) {
  open_batch();
  const auto slip = append({{at(90), "file", change("colonization", "fruiting")}}).back();
  PhaseTransition back = change("fruiting", "colonization", PhaseCause::correction);
  back.corrects = slip;
  back.elapsed_before = minutes(91);
  append({{at(91), "file", back}});
  const TubRecord r = tub();
  EXPECT_EQ(r.phase, "colonization");
  EXPECT_EQ(r.elapsed_before, minutes(91));
  EXPECT_EQ(r.previous_phase, "") << "what was taken back is no phase to come back to";
  EXPECT_EQ(timeline().back().corrects, slip);
}

TEST_F(RecordTest, TheLastCheckpointOfThisPhaseCounts) {
  const auto opening = open_batch();
  record->checkpoint("tub-1", opening, minutes(10), at(10));
  record->checkpoint("tub-1", opening, minutes(20), at(20));
  reopen();
  EXPECT_EQ(tub().checkpoint_elapsed, minutes(20));
  append({{at(30), "maria", change("colonization", "fruiting")}});
  EXPECT_FALSE(tub().checkpoint_elapsed) << "one of an earlier phase does not";
}

TEST_F(RecordTest, WhatWasLearnedComesBackAndIsReplaced) {
  EXPECT_TRUE(record->learned()->empty());
  record->learned({"tub-1", "mister", 40.0, 0.8, 0.1, 9.0, 0.2});
  record->learned({"tub-1", "mister", 40.0, 0.7, 0.05, 9.5, 0.1});
  record->learned({"closet", "mister", 100.0, 1.1, 0.1, 7.0, 0.2});
  reopen();
  const auto rows = record->learned();
  ASSERT_EQ(rows->size(), 2U);
  EXPECT_EQ((*rows)[0].chamber, "closet");
  EXPECT_EQ((*rows)[1].actuator, "mister");
  EXPECT_EQ((*rows)[1].rate, 40.0);
  EXPECT_EQ((*rows)[1].share, 0.7);
  EXPECT_EQ((*rows)[1].share_error, 0.05);
  EXPECT_EQ((*rows)[1].lag_s, 9.5);
  EXPECT_EQ((*rows)[1].lag_error, 0.1);
  EXPECT_TRUE(timeline().empty()) << "bookkeeping is no entry";
}

TEST_F(RecordTest, AnEndedPlacementIsNoState) {
  open_batch();
  append({{at(5), "file", leaves("tub-1", "B-01")}});
  EXPECT_TRUE(record->tubs()->empty());
}

TEST_F(RecordTest, TheNewestProfileOfABatchCounts) {
  open_batch();
  append({{at(5), "file", ProfileEdited{"B-01", "button", "second text"}}});
  EXPECT_EQ(tub().profile_text, "second text");
  const auto profile = [&](const std::string& batch) {
    std::optional<Result<ProfileEdited>> answer;
    record->profile_of(batch, [&](Result<ProfileEdited> found) { answer = std::move(found); });
    EXPECT_TRUE(loop.run_until([&] { return answer.has_value(); }));
    return *answer;
  };
  EXPECT_EQ(profile("B-01")->profile_text, "second text");
  append({{at(6), "file", leaves("tub-1", "B-01")}});
  EXPECT_EQ(profile("B-01")->profile, "button") << "a batch that is over has one, too";
  EXPECT_EQ(profile("B-99").error().code, ErrorCode::not_found);
}

TEST_F(RecordTest, OpeningABatchTwiceIsOnce) {
  open_batch();
  append({{at(5), "maria", BatchOpened{"B-01", "other", "other text"}},
          {at(5), "maria", Placed{"tub-2", "tub-2", "B-01"}}});
  std::optional<Result<std::vector<TimelineRow>>> batches;
  record->batches([&](auto rows) { batches = std::move(rows); });
  ASSERT_TRUE(loop.run_until([&] { return batches.has_value(); }));
  ASSERT_EQ((*batches)->size(), 1U);
  EXPECT_NE((*batches)->front().text.find("button"), std::string::npos);
}

TEST_F(RecordTest, ATimelineIsToldInSentencesNewestLimitOldestFirst) {
  open_batch();
  append({{at(7), "maria", Act{"note", "tub-1", "tub-1", "B-01", "casing looks dry"}}});
  const auto rows = timeline();
  ASSERT_EQ(rows.size(), 4U);
  EXPECT_EQ(rows[0].text, "batch B-01 opened with profile button");
  EXPECT_EQ(rows[2].text, "phase colonization begins");
  EXPECT_EQ(rows[3].text, "casing looks dry");
  EXPECT_EQ(rows[3].who, "maria");
  EXPECT_EQ(rows[3].stamp.wall, at(7).wall);
  const auto newest = timeline("B-01", 2);
  ASSERT_EQ(newest.size(), 2U);
  EXPECT_EQ(newest[1].text, "casing looks dry");
  EXPECT_TRUE(timeline("B-99").empty());
}

TEST_F(RecordTest, AnAlertBelongsToTheBatchThatStandsThere) {
  open_batch();
  append({{at(9), "daemon", AlertNoted{"tub-1", "humidity_low", true, "too dry"}}});
  EXPECT_EQ(timeline().back().kind, "alert");
  ASSERT_EQ(record->standing_alerts()->size(), 1U);
  append({{at(12), "daemon", AlertNoted{"tub-1", "humidity_low", false, "fine again"}}});
  EXPECT_EQ(timeline().back().kind, "alert_over");
  EXPECT_TRUE(record->standing_alerts()->empty());
}

TEST_F(RecordTest, EntriesOfAnUnsetClockAreMarkedAndNotTheNewest) {
  append({{at(0), "daemon", Act{"started", "", "", "B-01", "first"}}});
  append({{at(999'999, false), "daemon", Act{"started", "", "", "B-01", "second"}}});
  EXPECT_FALSE(timeline()[1].stamp.wall_set);
  EXPECT_EQ(**record->newest(), at(0).wall);
}

TEST_F(RecordTest, EntriesCannotBeChangedOrDeleted) {
  open_batch();
  for (const char* statement :
       {"update entry set text='x'", "delete from entry", "update phase_change set to_phase='x'",
        "delete from phase_change", "delete from placement", "update batch set profile='x'",
        "delete from alert", "update act set what='x'"}) {
    // A statement that would touch no row fires no trigger: these two tables are still empty.
    const bool empty = std::string(statement).find("alert") != std::string::npos ||
                       std::string(statement).find(" act ") != std::string::npos;
    const parts::Ran ran = sqlite(statement);
    EXPECT_EQ(ran.status != 0, !empty) << statement;
    if (!empty) {
      EXPECT_NE(ran.err.find("append-only"), std::string::npos) << ran.err;
    }
  }
  EXPECT_EQ(timeline().size(), 3U);
}

TEST_F(RecordTest, AFailedTransactionKeepsNothingOfItself) {
  open_batch();
  PhaseTransition bad = change("colonization", "fruiting");
  bad.corrects = 4711;  // names no entry: the foreign key refuses it
  std::optional<Result<std::vector<std::int64_t>>> answer;
  record->append(
      {{at(1), "maria", Act{"note", "tub-1", "", "B-01", "half"}}, {at(1), "maria", bad}},
      [&](auto result) { answer = std::move(result); });
  ASSERT_TRUE(loop.run_until([&] { return answer.has_value(); }));
  EXPECT_FALSE(answer->ok());
  EXPECT_EQ(timeline().size(), 3U);
  EXPECT_EQ(record->counters().failures, 1U);
}

TEST_F(RecordTest, ReadingsAreKeptInHundredthsAndWhatIsNoNumberIsCounted) {
  const auto row = [](Quantity q, double value, std::int64_t second) {
    return ReadingRow{"tub-1",
                      "air",
                      q,
                      value,
                      WallTime(hours(9) + seconds(second)),
                      true,
                      Instant(seconds(second))};
  };
  record->reading(row(Quantity::humidity, 87.256, 1));
  record->reading(row(Quantity::co2, 812.0, 1));
  record->reading(row(Quantity::co2, std::numeric_limits<double>::quiet_NaN(), 2));
  record->reading(row(Quantity::co2, std::numeric_limits<double>::infinity(), 3));
  record->close();
  EXPECT_EQ(record->counters().readings, 2U);
  EXPECT_EQ(record->counters().readings_dropped, 2U);
  const parts::Ran ran =
      parts::run({"sqlite3", (folder.path() / "readings.db").string(),
                  "select s.quantity, s.unit, (t.at_ms + b.offset_ms)/1000, t.hundredths from tail "
                  "t join series s on s.id=t.series join boot b on b.id=t.boot order by 1"});
  EXPECT_EQ(ran.out, "co2|ppm|32401|81200\nhumidity|%|32401|8726\n");
}

TEST_F(RecordTest, TheHistoryAnswersWithWhatWasHandedOverJustNow) {
  record->reading({"tub-1", "air", Quantity::humidity, 87.5, at(1).wall, true, at(1).boot});
  record->run({"tub-1", "fan", kRun, at(1), seconds(5)});
  const auto history = [&] {
    return ask<History>([&](auto done) {
      record->history({"tub-1", {}, at(0).wall, at(9).wall, seconds(0)}, std::move(done));
    });
  };
  const History h = history();
  ASSERT_EQ(h.series.size(), 1U);
  EXPECT_EQ(h.series[0].points.at(0).at, at(1).wall);
  EXPECT_EQ(h.runs.size(), 1U);
  EXPECT_EQ(record->counters().readings, 0U) << "it is not on disk yet";
  reopen();
  EXPECT_EQ(history().series.at(0).points.size(), 1U);
}

TEST_F(RecordTest, AFailedQuestionToTheHistoryIsAnsweredWithTheError) {
  record->close();
  std::optional<Result<History>> answer;
  record->history({"tub-1", {}, at(0).wall, at(9).wall, seconds(0)},
                  [&](auto result) { answer = std::move(result); });
  ASSERT_TRUE(loop.run_until([&] { return answer.has_value(); }));
  ASSERT_FALSE(answer->ok());
  EXPECT_EQ(answer->error().code, ErrorCode::unavailable);
}

TEST_F(RecordTest, ASecondDaemonIsRefused) {
  const auto second = SqliteRecord::open({folder.path().string(), "boot-a"}, loop.post());
  ASSERT_FALSE(second.ok());
  EXPECT_EQ(second.error().code, ErrorCode::refused);
  EXPECT_NE(second.error().text.find("in use by another tubwardend"), std::string::npos);
}

TEST_F(RecordTest, ANewerVersionIsRefusedAndLeftAlone) {
  record.reset();
  ASSERT_EQ(sqlite("pragma user_version=99").status, 0);
  const auto opened = SqliteRecord::open({folder.path().string(), "boot-a"}, loop.post());
  ASSERT_FALSE(opened.ok());
  EXPECT_NE(opened.error().text.find("newer Tubwarden"), std::string::npos) << opened.error().text;
  EXPECT_EQ(sqlite("pragma user_version").out, "99\n");
}

TEST_F(RecordTest, ADamagedFileIsRefusedAndKept) {
  record.reset();
  for (const char* side : {"record.db-wal", "record.db-shm"}) {
    std::filesystem::remove(folder.path() / side);
  }
  folder.write("record.db", std::string(8192, 'x'));
  const auto opened = SqliteRecord::open({folder.path().string(), "boot-a"}, loop.post());
  ASSERT_FALSE(opened.ok());
  EXPECT_EQ(opened.error().code, ErrorCode::broken);
  EXPECT_EQ(parts::read_file(folder.path() / "record.db"), std::string(8192, 'x'));
}

/// A copy of a file that an earlier version left.
void put_version(const parts::TempFolder& folder, const std::string& name) {
  std::filesystem::copy_file(std::string(TUBWARDEN_SOURCE_DIR) + "/tests/data/" + name,
                             folder.path() / "record.db");
}

struct RecordVersions : RecordTest {
  void start_from(const std::string& name) {
    record.reset();
    std::filesystem::remove(folder.path() / "record.db");
    put_version(folder, name);
    record = open();
  }
};

TEST_F(RecordVersions, TheFirstVersionOpensAndKeepsAll) {
  start_from("record-v1.db");
  EXPECT_EQ(sqlite("pragma user_version").out, "5\n");
  EXPECT_EQ(tub().phase, "fruiting");
  EXPECT_EQ(tub().previous_phase, "colonization");
  EXPECT_EQ(tub().file_seen, "fruiting");
  EXPECT_FALSE(tub().place_seen);
  const auto rows = timeline();
  ASSERT_EQ(rows.size(), 7U);
  EXPECT_EQ(rows[3].text, "first threads seen");
  EXPECT_EQ(rows[3].stamp.wall, WallTime(minutes(29'000'010)));
  EXPECT_FALSE(rows[3].mended);
  EXPECT_TRUE(record->open_hands()->empty());
  // Its entries tell by how much the wall clock of their boot was ahead.
  EXPECT_EQ(sqlite("select boot_id, offset_ms from boot_clock").out, "boot-fixed|1740000000000\n");
  append({{at(5), "maria", Watered{"tub-1", "tub-1", "B-01", 50.0}}});
  reopen();
  EXPECT_EQ(timeline().size(), 8U);
  EXPECT_NE(sqlite("delete from act").status, 0) << "the old tables are append-only as before";
}

TEST_F(RecordVersions, TheSecondVersionOpensAndKeepsAll) {
  start_from("record-v2.db");
  const auto rows = timeline();
  ASSERT_EQ(rows.size(), 10U);
  EXPECT_EQ(rows[7].text, "watered with 200 mL");
  EXPECT_EQ(rows[9].stamp.wall, WallTime(minutes(29'009'991)));
  EXPECT_TRUE(rows[9].mended);
  const auto hands = record->open_hands();
  ASSERT_EQ(hands->size(), 1U);
  EXPECT_EQ(hands->front().hand.actuator, "fan");
  EXPECT_EQ(hands->front().hand.lasts, minutes(30));
  EXPECT_EQ(tub().place_seen, "tub-1");
  EXPECT_TRUE(record->learned()->empty());
}

TEST_F(RecordVersions, TheThirdVersionOpensAndKeepsAll) {
  start_from("record-v3.db");
  EXPECT_EQ(timeline().size(), 10U);
  EXPECT_EQ(record->open_hands()->size(), 1U);
  const auto learned = record->learned();
  ASSERT_EQ(learned->size(), 1U);
  EXPECT_EQ(learned->front().share, 0.8);
  EXPECT_TRUE(record->books()->empty());
}

TEST_F(RecordVersions, TheFourthVersionOpensAndKeepsAll) {
  start_from("record-v4.db");
  EXPECT_EQ(timeline().size(), 10U);
  ASSERT_EQ(record->learned()->size(), 1U);
  const auto books = record->books();
  ASSERT_EQ(books->size(), 1U);
  EXPECT_EQ(books->front().chamber, "tub-1");
  EXPECT_EQ(books->front().text, R"({"sums":{"fan_g":12.5}})");
  EXPECT_TRUE(books->front().at.wall_set);
}

TEST_F(RecordVersions, TheFifthVersionOpensAndKeepsAll) {
  start_from("record-v5.db");
  EXPECT_EQ(sqlite("pragma integrity_check").out, "ok\n");
  const auto acts = record->grow_entries();
  ASSERT_EQ(acts->size(), 13U);
  EXPECT_EQ(std::get<CultureReceived>(acts->front().act).millilitres, 10.0);
  EXPECT_EQ(acts->front().note, "a note");
  EXPECT_EQ(acts->front().photo, "pins.jpg");
  EXPECT_EQ(acts->front().at, WallTime(minutes(29'000'070)));
  const auto& added = std::get<JarsAdded>((*acts)[2].act);
  EXPECT_EQ(added.jars, (std::vector<std::string>{"J-1", "J-2"}));
  EXPECT_EQ(added.dose_ml, 1.0);
  EXPECT_EQ(std::get<TubSpawned>((*acts)[7].act).dry_kg, 1.75);
  EXPECT_EQ(std::get<Picked>((*acts)[10].act).grams, 412.0);
  EXPECT_EQ(sqlite("select mean from phase_kept_quantity").out, "91.5\n");
  EXPECT_EQ(sqlite("select count(*) from alert_act").out, "0\n") << "all tables are there";
  const auto profile =
      ask<ProfileEdited>([&](auto done) { record->profile_of("B-01", std::move(done)); });
  EXPECT_EQ(profile.profile_text, "profile: button\n");
}

TEST_F(RecordVersions, AMigrationThatFailsLeavesTheFileAsItWas) {
  record.reset();
  std::filesystem::remove(folder.path() / "record.db");
  put_version(folder, "record-v1.db");
  // Somebody made a table of a name that the next version needs.
  ASSERT_EQ(sqlite("create table watering (x)").status, 0);
  const auto opened = SqliteRecord::open({folder.path().string(), "boot-a"}, loop.post());
  ASSERT_FALSE(opened.ok());
  EXPECT_EQ(opened.error().code, ErrorCode::broken);
  EXPECT_EQ(sqlite("pragma user_version").out, "1\n");
  EXPECT_EQ(sqlite("select count(*) from sqlite_master where name in ('hand','told')").out, "0\n");
  EXPECT_EQ(sqlite("select count(*) from entry").out, "7\n");
}

}  // namespace
