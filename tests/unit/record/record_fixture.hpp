// A record on a real folder, with its answers waited for.
// Threading: the test's. Failure: throws when a record does not open or answer.
#pragma once

#include <gtest/gtest.h>

#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "loop_of_one.hpp"
#include "shell/record/sqlite_record.hpp"

namespace tubwarden {

inline Stamp at(std::int64_t minute, bool set = true, const std::string& boot = "boot-a") {
  return {WallTime(minutes(30'000'000 + minute)), set, boot, Instant(minutes(minute))};
}

inline PhaseTransition change(const std::string& from, const std::string& to,
                              PhaseCause cause = PhaseCause::command) {
  PhaseTransition t;
  t.tub = "tub-1";
  t.batch = "B-01";
  t.from = from;
  t.to = to;
  t.cause = cause;
  return t;
}

inline PlacementEnded leaves(const std::string& tub, const std::string& batch) {
  PlacementEnded p;
  p.tub = tub;
  p.batch = batch;
  return p;
}

struct RecordTest : ::testing::Test {
  parts::TempFolder folder;
  LoopOfOne loop;
  std::unique_ptr<SqliteRecord> record = open();

  std::unique_ptr<SqliteRecord> open(const std::string& boot = "boot-a") {
    auto opened = SqliteRecord::open({folder.path().string(), boot}, loop.post());
    if (!opened.ok()) throw std::runtime_error(opened.error().text);
    return std::move(*opened);
  }
  /// Of another boot of the board, when named.
  void reopen(const std::string& boot = "boot-a") {
    record.reset();
    record = open(boot);
  }
  std::vector<std::int64_t> append(std::vector<Entry> entries) {
    std::optional<Result<std::vector<std::int64_t>>> answer;
    record->append(std::move(entries), [&](auto result) { answer = std::move(result); });
    EXPECT_TRUE(loop.run_until([&] { return answer.has_value(); }));
    EXPECT_TRUE(answer->ok()) << (answer->ok() ? "" : answer->error().text);
    return answer->ok() ? answer->value() : std::vector<std::int64_t>{};
  }
  std::int64_t open_batch() {
    return append({{at(0), "maria", BatchOpened{"B-01", "button", "profile text"}},
                   {at(0), "maria", Placed{"tub-1", "tub-1", "B-01"}},
                   {at(0), "maria", change("", "colonization", PhaseCause::opened)}})
        .back();
  }
  /// Asks, and waits for the answer.
  template <class T, class Question>
  T ask(Question question) {
    std::optional<Result<T>> answer;
    question([&](Result<T> result) { answer = std::move(result); });
    if (!loop.run_until([&] { return answer.has_value(); })) throw std::runtime_error("no answer");
    if (!answer->ok()) throw std::runtime_error(answer->error().text);
    return std::move(answer->value());
  }
  std::vector<TimelineRow> timeline(const std::string& batch = "B-01", std::size_t limit = 100) {
    return ask<std::vector<TimelineRow>>(
        [&](auto done) { record->timeline(batch, limit, std::move(done)); });
  }
  TubRecord tub() {
    const auto tubs = record->tubs();
    if (!tubs.ok() || tubs->size() != 1) throw std::runtime_error("not one tub");
    return tubs->front();
  }
  parts::Ran sqlite(const std::string& statement, const std::string& file = "record.db") {
    return parts::run({"sqlite3", (folder.path() / file).string(), statement});
  }
};

}  // namespace tubwarden
