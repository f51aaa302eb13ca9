#include "host/plugin_options.hpp"

#include <gtest/gtest.h>

namespace tubwarden::host {
namespace {

constexpr tw_option kRows[] = {
    {"host", "text", "", nullptr, "."},        {"port", "integer", "1..65535", "502", "."},
    {"wait", "duration", "", "1.5 s", "."},    {"argv", "list", "", nullptr, "."},
    {"inverted", "boolean", "", "false", "."}, {"extra", "list", "", "", "."}};

tw_plugin plugin() {
  tw_plugin result{};
  result.options = kRows;
  result.option_count = 6;
  return result;
}

TEST(PluginOptions, are_the_wirings_values) {
  const PluginOptions options(
      plugin(), R"({"host":"pump","port":1502,"wait":"2m","argv":["a","b c"],"inverted":true})");
  EXPECT_STREQ(options.get("host", 0), "pump");
  EXPECT_STREQ(options.get("port", 0), "1502");
  EXPECT_STREQ(options.get("wait", 0), "120000");
  EXPECT_STREQ(options.get("argv", 1), "b c");
  EXPECT_EQ(options.get("argv", 2), nullptr);
  EXPECT_STREQ(options.get("inverted", 0), "true");
  EXPECT_EQ(options.get("host", 1), nullptr);
}

TEST(PluginOptions, fall_back_to_their_rows) {
  const PluginOptions options(plugin(), "{}");
  EXPECT_EQ(options.get("host", 0), nullptr) << "required, and not given";
  EXPECT_STREQ(options.get("port", 0), "502");
  EXPECT_STREQ(options.get("wait", 0), "1500");
  EXPECT_STREQ(options.get("inverted", 0), "false");
  EXPECT_EQ(options.get("argv", 0), nullptr);
  EXPECT_EQ(options.get("extra", 0), nullptr);
  EXPECT_EQ(options.get("unknown", 0), nullptr);
  EXPECT_EQ(options.get(nullptr, 0), nullptr);
}

TEST(PluginOptions, that_do_not_fit_are_passed_on_for_the_plugin_to_refuse) {
  const PluginOptions options(plugin(), R"({"wait":"soon","port":"x"})");
  EXPECT_STREQ(options.get("wait", 0), "soon");
  EXPECT_STREQ(options.get("port", 0), "x");
  EXPECT_STREQ(PluginOptions(plugin(), "no object").get("port", 0), "502");
}

}  // namespace
}  // namespace tubwarden::host
