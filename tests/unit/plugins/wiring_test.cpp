#include "sdk/wiring.hpp"

#include <gtest/gtest.h>

namespace tubwarden {
namespace {

using namespace std::chrono_literals;

TEST(Wiring, scalars_are_text_whatever_their_json_type) {
  const auto wiring = Wiring::parse(R"({"run":1,"rest":"0","on":true,"gone":null})");
  ASSERT_TRUE(wiring.ok());
  EXPECT_EQ(*wiring->text("run"), "1");
  EXPECT_EQ(*wiring->text("rest"), "0");
  EXPECT_EQ(*wiring->text("on"), "true");
  EXPECT_FALSE(wiring->has("gone"));
  EXPECT_EQ(wiring->text_or("gone", "x"), "x");
  ASSERT_FALSE(wiring->text("topic").ok());
  EXPECT_NE(wiring->text("topic").error().text.find("'topic' is required"), std::string::npos);
}

TEST(Wiring, lists_and_nested_objects) {
  const auto wiring =
      Wiring::parse(R"({"argv":["/bin/x",3],"none":[],"broker":{"url":"mqtt://a"}})");
  ASSERT_TRUE(wiring.ok());
  EXPECT_EQ(*wiring->list("argv"), (std::vector<std::string>{"/bin/x", "3"}));
  EXPECT_FALSE(wiring->list("none").ok());
  EXPECT_FALSE(wiring->list("absent").ok());
  EXPECT_EQ(*wiring->object("broker").text("url"), "mqtt://a");
  EXPECT_FALSE(wiring->object("absent").has("url"));
}

TEST(Wiring, durations_carry_their_unit) {
  const auto wiring = Wiring::parse(R"({"a":"500ms","b":"20s","c":"1h 30m","d":"1.5 s","e":20,)"
                                    R"("f":"-1s","g":"400d","h":"1s x","i":""})");
  EXPECT_EQ(*wiring->duration_or("a", 1s), 500ms);
  EXPECT_EQ(*wiring->duration_or("b", 1s), 20s);
  EXPECT_EQ(*wiring->duration_or("c", 1s), 90min);
  EXPECT_EQ(*wiring->duration_or("d", 1s), 1500ms);
  EXPECT_EQ(*wiring->duration_or("none", 7s), 7s);
  for (const char* bad : {"e", "f", "g", "h", "i"}) {
    EXPECT_FALSE(wiring->duration_or(bad, 1s).ok()) << bad;
  }
}

TEST(Wiring, what_is_no_object_is_refused) {
  for (const char* text : {"", "[]", "3", "{", "nonsense"}) {
    EXPECT_FALSE(Wiring::parse(text).ok()) << text;
  }
}

}  // namespace
}  // namespace tubwarden
