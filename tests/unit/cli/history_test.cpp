// The history asked piece by piece, of a daemon that answers from a list of readings.
#include "programs/cli/history.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "base/text.hpp"

namespace {

using namespace tubwarden;
using namespace tubwarden::cli;
using nlohmann::json;
using testing::ElementsAre;
using testing::HasSubstr;

WallTime at(const char* text) { return *parse_rfc3339(text); }
Duration utc(WallTime) { return Duration{0}; }
Duration kathmandu(WallTime) { return hours(5) + minutes(45); }
/// The last Sundays of March and October at 01:00 UTC (directive 2000/84/EC).
Duration europe(WallTime t) {
  return t >= at("2026-03-29T01:00:00Z") && t < at("2026-10-25T01:00:00Z") ? hours(2) : hours(1);
}

/// Answers as the daemon does: readings each 10 s, no more than `most` points an answer, and none
/// at all for a time that is too long.
struct Daemon {
  std::size_t most = 1000;
  milliseconds too_long = hours(24 * 365);
  std::vector<json> asked;

  Result<std::string> answer(const std::string& what, const std::string& args_json) {
    const json args = json::parse(args_json);
    EXPECT_EQ(what, "history");
    asked.push_back(args);
    const WallTime from = *parse_rfc3339(args["from"].get<std::string>());
    const WallTime to = *parse_rfc3339(args["to"].get<std::string>());
    EXPECT_LT(from, to);
    if (to - from > too_long) return Error{ErrorCode::refused, "too much at once"};
    const auto width =
        milliseconds(static_cast<std::int64_t>(args["every_s"].get<double>() * 1000));
    const milliseconds step = width > milliseconds(0) ? width : seconds(10);
    json points = json::array();
    json next = nullptr;
    for (WallTime t = from; t < to; t += step) {
      if (points.size() == most) {
        next = rfc3339(t);
        break;
      }
      points.push_back({rfc3339(t), 87.5});
    }
    return json{{"series", {{{"sensor", "air"}, {"quantity", "humidity"}, {"points", points}}}},
                {"runs", json::array()},
                {"next", next},
                {"unplaced", 2},
                {"damaged", 0}}
        .dump();
  }
  AskDaemon ask() {
    return [this](const std::string& what, const std::string& args) { return answer(what, args); };
  }
  std::vector<WallTime> read(const Stay& stay, Duration every, Zone zone) {
    std::vector<WallTime> times;
    const Outcome done = read_stay(ask(), stay, every, zone, [&](const HistoryPiece& piece) {
      for (const HistoryValue& v : piece.series.at(0).values) times.push_back(v.at);
      EXPECT_EQ(piece.unplaced, 2);
      return Outcome(Done{});
    });
    EXPECT_TRUE(done.ok());
    return times;
  }
};

Stay stay(const char* from, const char* to) {
  return {"tub-1", "closet", "B-07", at(from), at(to)};
}

TEST(History, EachReadingComesOnceHoweverManyPiecesItTakes) {
  Daemon daemon;
  const auto times = daemon.read(stay("2026-11-24T10:00:05Z", "2026-11-25T10:00:05Z"), {}, utc);
  ASSERT_EQ(times.size(), 8640U);
  for (std::size_t i = 0; i < times.size(); ++i) {
    ASSERT_EQ(times[i], at("2026-11-24T10:00:05Z") + seconds(10) * static_cast<int>(i));
  }
  EXPECT_LT(daemon.asked.size(), 15U);
}

TEST(History, ATimeThatIsTooMuchIsHalvedUntilItFits) {
  Daemon daemon;
  daemon.too_long = minutes(13);
  const auto times = daemon.read(stay("2026-11-24T10:00:00Z", "2026-11-24T12:00:00Z"), {}, utc);
  EXPECT_EQ(times.size(), 720U);
  daemon.too_long = seconds(30);
  const Outcome never =
      read_stay(daemon.ask(), stay("2026-11-24T10:00:00Z", "2026-11-24T12:00:00Z"), {}, utc,
                [](const HistoryPiece&) { return Outcome(Done{}); });
  ASSERT_FALSE(never.ok());
  EXPECT_EQ(never.error().text, "too much at once");
  const Outcome by_day =
      read_stay(daemon.ask(), stay("2026-11-24T10:00:00Z", "2026-12-24T12:00:00Z"), hours(24), utc,
                [](const HistoryPiece&) { return Outcome(Done{}); });
  EXPECT_FALSE(by_day.ok()) << "a width is not halved";
}

TEST(History, ValuesBeginAtWholeTimesOfTheReadersClock) {
  Daemon daemon;
  const auto times =
      daemon.read(stay("2026-11-24T10:20:00Z", "2026-11-24T13:10:00Z"), hours(1), kathmandu);
  EXPECT_THAT(times, ElementsAre(at("2026-11-24T10:20:00Z"), at("2026-11-24T11:15:00Z"),
                                 at("2026-11-24T12:15:00Z")));
  EXPECT_EQ(floor_to(times[0], hours(1), kathmandu), at("2026-11-24T10:15:00Z"));
}

TEST(History, TheDaysOfTheClockChangesAreOneRowEach) {
  for (const auto& [from, to] : {std::pair{"2026-03-27T12:00:00Z", "2026-04-01T12:00:00Z"},
                                 std::pair{"2026-10-23T12:00:00Z", "2026-10-28T12:00:00Z"}}) {
    Daemon daemon;
    std::vector<WallTime> rows;
    for (const WallTime t : daemon.read(stay(from, to), hours(24), europe)) {
      const WallTime row = floor_to(t, hours(24), europe);
      if (rows.empty() || rows.back() != row) rows.push_back(row);
      const auto local = (row.time_since_epoch() + duration_cast<milliseconds>(europe(row)));
      EXPECT_EQ(local % hours(24), milliseconds(0)) << rfc3339(row);
    }
    EXPECT_EQ(rows.size(), 6U) << from;
  }
}

TEST(History, AnErrorOfTheDaemonOrTheReaderEndsIt) {
  const Stay s = stay("2026-11-24T10:00:00Z", "2026-11-24T12:00:00Z");
  const auto ends_with = [&](const AskDaemon& ask) {
    const Outcome done =
        read_stay(ask, s, {}, utc, [](const HistoryPiece&) { return Outcome(Done{}); });
    return done.ok() ? "" : done.error().text;
  };
  EXPECT_EQ(ends_with([](auto, auto) {
              return Result<std::string>(Error{ErrorCode::unavailable, "it is away"});
            }),
            "it is away");
  EXPECT_THAT(ends_with([](auto, auto) { return Result<std::string>("{}"); }),
              HasSubstr("of one version"));
  Daemon daemon;
  const Outcome full = read_stay(daemon.ask(), s, {}, utc, [](const HistoryPiece&) {
    return Outcome(Error{ErrorCode::unavailable, "the disk is full"});
  });
  EXPECT_EQ(full.error().text, "the disk is full");
  EXPECT_EQ(daemon.asked.size(), 1U);
}

TEST(History, StaysAreClippedToWhatIsAskedFor) {
  const AskDaemon ask = [](const std::string& what, const std::string& args) {
    EXPECT_EQ(what, "stays");
    EXPECT_EQ(json::parse(args)["of"], "tub-1");
    const auto stay = [](const char* chamber, json from, json to) {
      return json{{"tub", "tub-1"},
                  {"chamber", chamber},
                  {"batch", "B-07"},
                  {"from", std::move(from)},
                  {"to", std::move(to)}};
    };
    return Result<std::string>(json{
        {"of", "tub-1"},
        {"kind", "tub"},
        {"stays",
         {stay("old", "2026-11-01T00:00:00Z", "2026-11-10T00:00:00Z"),
          stay("closet", "2026-11-10T00:00:00Z", "2026-11-20T00:00:00Z"),
          stay("tub-1", "2026-11-20T00:00:00Z", nullptr)}},
        {"untimed", 1}}.dump());
  };
  const auto stays =
      ask_stays(ask, "tub-1", at("2026-11-15T00:00:00Z"), at("2026-11-25T00:00:00Z"));
  ASSERT_TRUE(stays.ok());
  ASSERT_EQ(stays->stays.size(), 2U);
  EXPECT_EQ(stays->stays[0].chamber, "closet");
  EXPECT_EQ(stays->stays[0].from, at("2026-11-15T00:00:00Z"));
  EXPECT_EQ(stays->stays[0].to, at("2026-11-20T00:00:00Z"));
  EXPECT_EQ(stays->stays[1].to, at("2026-11-25T00:00:00Z"));
  EXPECT_EQ(stays->untimed, 1);
  EXPECT_EQ(stays->kind, "tub");
}

}  // namespace
