// A plan that goes on by itself, on real parts: by time, by what is read, round the loop of
// flushes, and across a start; and the climate that its phases kept.
#include <gtest/gtest.h>

#include "rig.hpp"

namespace {

using namespace rig;

constexpr const char* kLoop = R"(profile: button
phases:
  - phase: fruiting
    humidity: {keep: [85 %, 90 %]}
    next: {phase: rest, after: 2s, how: go}
  - phase: rest
    stage_of: fruiting
    humidity: {keep: [80 %, 88 %]}
    next: {phase: fruiting, when: {humidity: {above: 95 %, for: 1s}}, how: go}
  - phase: empty
)";

struct Plans : Rig, ::testing::Test {
  const std::string topic = "tubwarden/shed/tub/tub-1/phase";
  std::optional<parts::Heard> heard(parts::Listener& topics, const std::string& phase, int flush) {
    return topics.wait_for(
        topic,
        [&](const parts::Heard& h) {
          const json body = json::parse(h.payload);
          return body["phase"] == phase && body["flush"] == flush && body["by"] == "plan";
        },
        10s);
  }
};

TEST_F(Plans, GoOnByTimeAndByReadingsRoundTheFlushes) {
  write_profile(kLoop);
  write_tub({});
  start();
  parts::Listener topics(broker().url(), {topic});
  air("tub-1", 86.0);
  const auto began = parts::Steady::now();
  cli({"phase", "tub-1", "fruiting"});
  const auto rested = heard(topics, "rest", 1);
  ASSERT_TRUE(rested) << log();
  EXPECT_GE(rested->at - began, 1900ms);
  const auto causes = alert_causes("tub-1");
  EXPECT_NE(std::find(causes.begin(), causes.end(), "phase_went_on"), causes.end());
  EXPECT_EQ(tub("tub-1")["file_phase"], "fruiting");

  const auto humid = parts::Steady::now();
  air("tub-1", 97.0);
  const auto next = heard(topics, "fruiting", 2);
  ASSERT_TRUE(next) << log();
  EXPECT_GE(next->at - humid, 900ms);
  air("tub-1", 84.0);  // so that the next rest lasts
  ASSERT_TRUE(heard(topics, "rest", 2)) << log();

  // What is known of it survives a start, and the plan goes on from there.
  EXPECT_EQ(stop(), 0);
  start();
  EXPECT_EQ(tub("tub-1")["phase"], "rest");
  EXPECT_EQ(tub("tub-1")["flush"], 2);
  EXPECT_NE(cli({"status"}).out.find("fruiting, flush 2, rest, day 1"), std::string::npos);
  cli({"phase", "tub-1", "next"});
  ASSERT_TRUE(wait([&] { return tub("tub-1")["flush"] == 3; })) << log();

  const json rows = ask({"batch", "climate", "B-01"})["rows"];
  ASSERT_GE(rows.size(), 4U) << rows.dump(1);
  EXPECT_EQ(rows[0]["phase"], "fruiting");
  EXPECT_EQ(rows[0]["flush"], 1);
  EXPECT_EQ(rows[0]["quantities"][0]["mean"], 86.0);
  EXPECT_EQ(rows[1]["phase"], "rest");
  EXPECT_EQ(rows[2]["flush"], 2);
  EXPECT_FALSE(rows[3]["lasts"]);
  bool told = false;
  for (const json& row : timeline("B-01")) {
    told = told || row["text"] ==
                       "phase rest -> fruiting, by its plan, flush 2: its humidity has "
                       "been above 95 % for 1s";
  }
  EXPECT_TRUE(told) << timeline("B-01").dump(1);
  EXPECT_NE(cli({"batch", "show", "B-01"}).out.find("fruiting, flush 1, lasted"),
            std::string::npos);
}

}  // namespace
