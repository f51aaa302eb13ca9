// Two points over saturated salts: the line, its key, and points that make none.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "programs/cli/salts.hpp"
#include "unit/cli/samples.hpp"

namespace tubwarden::cli {
namespace {

using ::testing::HasSubstr;

std::string refused(const std::vector<std::string>& points, double at_c = 20.0) {
  const auto found = salt_line(points, Celsius{at_c});
  return found.ok() ? "" : found.error().text;
}

// Greenspan 1977, table at 20 C: NaCl 75.47 +-0.14, K2SO4 97.59 +-0.53 % RH.
TEST(SaltLine, GoesThroughBothPoints) {
  const auto found = salt_line({"k2so4=95.1%", "NaCl=76.4"}, Celsius{20.0});
  ASSERT_TRUE(found.ok()) << found.error().text;
  EXPECT_EQ(found->points[0].salt.formula, "NaCl") << "the drier first, however given";
  const auto truth = [&](double read) { return read * found->line.scale + found->line.offset; };
  EXPECT_NEAR(truth(76.4), 75.47, 0.02);
  EXPECT_NEAR(truth(95.1), 97.59, 0.02);
  EXPECT_EQ(calibrate_key(*found), "calibrate: {humidity: [[76.4, 75.48], [95.1, 97.6]]}");
}

TEST(SaltLine, RefusesWhatMakesNone) {
  EXPECT_THAT(refused({"NaCl=76"}), HasSubstr("two points make the line"));
  EXPECT_THAT(refused({"NaCl=76", "NaCl=75"}), HasSubstr("10 % or more between the two"));
  EXPECT_THAT(refused({"NaCl", "K2SO4=97"}), HasSubstr("'NaCl' is no point"));
  EXPECT_THAT(refused({"sugar=60", "K2SO4=97"}), HasSubstr("LiCl, MgCl2, NaCl, KCl, K2SO4"));
  EXPECT_THAT(refused({"NaCl=7x", "K2SO4=97"}), HasSubstr("'7x' is no humidity"));
  EXPECT_THAT(refused({"NaCl=nan", "K2SO4=97"}), HasSubstr("allowed: 0 to 100 %"));
  EXPECT_THAT(refused({"NaCl=76", "K2SO4=101"}), HasSubstr("allowed: 0 to 100 %"));
  EXPECT_THAT(refused({"NaCl=97.6", "K2SO4=75.5"}), HasSubstr("jars mixed up"));
  EXPECT_THAT(refused({"NaCl=76", "K2SO4=97"}, 35.0), HasSubstr("allowed: 10 to 30 C"));
  EXPECT_THAT(refused({"KCl=92", "NaCl=84"}), HasSubstr("or more between the two"));
}

TEST(SaltsPage, TellsTheMethodWithItsCautionsOrTheLine) {
  KitchenSalts wanted;
  const std::string method = salts_page(wanted, std::nullopt, cli_test::look_of(80));
  EXPECT_THAT(method, HasSubstr("K2SO4  97.6 +-0.5 %"));
  EXPECT_THAT(method, HasSubstr("Keep it out of eyes"));
  wanted.at_c = 19.0;
  const auto found = salt_line({"NaCl=75.5", "K2SO4=95.1"}, Celsius{19.0});
  ASSERT_TRUE(found.ok());
  const std::string page = salts_page(wanted, *found, cli_test::look_of(80));
  EXPECT_THAT(page, HasSubstr("the sensor read 75.5 %: right, within what the\n"));
  EXPECT_THAT(page, HasSubstr("the sensor read 95.1 %: 2.6 % too low"));
  EXPECT_THAT(page, HasSubstr("    " + calibrate_key(*found) + "\n"));
}

TEST(SaltsWords, TheRecordKeepsASensorsPointsOrNothing) {
  const auto wanted = [](const std::vector<std::string>& words) {
    return understand(words, Defaults{}).wanted;
  };
  const auto salts = wanted({"kitchen", "salts", "NaCl=76", "K2SO4=97", "--at", "66F", "--tub",
                             "tub-1", "--sensor", "air"});
  ASSERT_TRUE(std::holds_alternative<KitchenSalts>(salts));
  EXPECT_NEAR(std::get<KitchenSalts>(salts).at_c, 18.89, 0.01);
  const auto line = salt_line({"NaCl=76", "K2SO4=97"}, Celsius{18.9});
  ASSERT_TRUE(line.ok());
  EXPECT_THAT(
      salt_note_args(*line, std::get<KitchenSalts>(salts)),
      HasSubstr(R"("text":"Sensor air checked over salts at 18.9 C: it read 76 % over NaCl)"));
  for (const auto& words :
       std::vector<std::vector<std::string>>{{"kitchen"},
                                             {"kitchen", "salts", "--at", "20"},
                                             {"kitchen", "salts", "--at", "31C"},
                                             {"kitchen", "salts", "NaCl=76", "--tub", "tub-1"},
                                             {"kitchen", "salts", "--tub", "t", "--sensor", "s"}}) {
    const auto told = wanted(words);
    ASSERT_TRUE(std::holds_alternative<Told>(told)) << words.back();
    EXPECT_EQ(std::get<Told>(told).status, 2);
  }
}

}  // namespace
}  // namespace tubwarden::cli
