#include "sdk/trial_options.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace tubwarden::protocol {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

OptionRow row(const char* type, const char* range, std::optional<std::string> fallback = {}) {
  return {"name", type, range, std::move(fallback), "Which."};
}

TEST(TrialOptions, are_a_wiring_and_perhaps_a_site) {
  const auto both = decode_trial_options(R"({"wiring":{"a":1,"b":["x"]},"site":{"site":"s"}})");
  ASSERT_TRUE(both);
  EXPECT_EQ(both->wiring_json, R"({"a":1,"b":["x"]})");
  EXPECT_EQ(both->site_json, R"({"site":"s"})");
  EXPECT_THAT(both->names, ElementsAre("a", "b"));
  EXPECT_EQ(decode_trial_options(R"({"wiring":{}})")->site_json, "{}");
}

TEST(TrialOptions, that_are_wrong_are_named) {
  EXPECT_THAT(decode_trial_options("[1]").error().text, HasSubstr("not one JSON object"));
  EXPECT_THAT(decode_trial_options("{}").error().text, HasSubstr("no 'wiring'"));
  EXPECT_THAT(decode_trial_options(R"({"wirng":{}})").error().text, HasSubstr("'wirng'; known"));
  EXPECT_THAT(decode_trial_options(R"({"wiring":"x"})").error().text, HasSubstr("not an object"));
}

TEST(TrialOptions, are_spoiled_one_at_a_time) {
  EXPECT_EQ(with_option(R"({"a":"1","b":"2"})", "a", std::nullopt), R"({"b":"2"})");
  EXPECT_EQ(with_option(R"({"a":"1"})", "a", "x"), R"({"a":"x"})");
  EXPECT_EQ(with_option("{}", "c", "3"), R"({"c":"3"})");
}

TEST(TrialOptions, wrong_values_break_the_type_or_the_range) {
  EXPECT_THAT(wrong_values(row("integer", "1..247")), ElementsAre("no-number", "248", "0"));
  EXPECT_THAT(wrong_values(row("integer", "0..9")), ElementsAre("no-number", "10"));
  EXPECT_THAT(wrong_values(row("duration", "100ms..60s")),
              ElementsAre("no-number", "60001ms", "99ms"));
  EXPECT_THAT(wrong_values(row("boolean", "")), ElementsAre("maybe"));
  EXPECT_THAT(wrong_values(row("text", "none|even|odd")), ElementsAre("no-such-word"));
  EXPECT_THAT(wrong_values(row("text", "")), IsEmpty());
  EXPECT_THAT(wrong_values(row("topic", "")), IsEmpty());
}

TEST(TrialOptions, a_row_agrees_with_itself) {
  EXPECT_FALSE(wrong_row(row("integer", "1..9", "3")));
  EXPECT_FALSE(wrong_row(row("duration", "100ms..60s", "20s")));
  EXPECT_FALSE(wrong_row(row("text", "a|b", "b")));
  EXPECT_FALSE(wrong_row(row("text", "a|b", ""))) << "left out";
  EXPECT_FALSE(wrong_row(row("list", "")));
  EXPECT_THAT(*wrong_row(row("colour", "")), HasSubstr("unknown; allowed: text, topic"));
  EXPECT_THAT(*wrong_row(row("integer", "1-9")), HasSubstr("not low..high"));
  EXPECT_THAT(*wrong_row(row("integer", "9..1")), HasSubstr("not low..high"));
  EXPECT_THAT(*wrong_row(row("integer", "1..9", "12")), HasSubstr("out of range"));
  EXPECT_THAT(*wrong_row(row("duration", "", "soon")), HasSubstr("is no duration"));
  EXPECT_THAT(*wrong_row(row("boolean", "", "yes")), HasSubstr("neither true nor false"));
  EXPECT_THAT(*wrong_row(row("text", "a|b", "c")), HasSubstr("not among a|b"));
  EXPECT_THAT(*wrong_row({"Name", "text", "", {}, "Which."}), HasSubstr("a-z, 0-9 and _"));
  EXPECT_THAT(*wrong_row({"name", "text", "", {}, ""}), HasSubstr("no help"));
}

}  // namespace
}  // namespace tubwarden::protocol
