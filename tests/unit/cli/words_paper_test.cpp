// The words of what goes on paper or out of the house: what they mean, and which are wrong.
#include <gmock/gmock.h>

#include "programs/cli/words.hpp"

namespace {

using namespace tubwarden;
using namespace tubwarden::cli;
using ::testing::ElementsAre;
using ::testing::HasSubstr;

Command said(const std::vector<std::string>& words) {
  Defaults defaults;
  defaults.now = WallTime(seconds(1'795'662'900));
  return understand(words, defaults);
}
std::string wrong(const std::vector<std::string>& words) {
  const auto told = std::get<Told>(said(words).wanted);
  EXPECT_EQ(told.status, 2) << told.text;
  return told.text;
}

TEST(PaperWords, NameWhatIsToBePrinted) {
  const auto labels = std::get<PrintLabels>(said({"labels", "B-07", "tub-1", "--sheet", "letter",
                                                  "--columns", "2", "--rows", "5", "--page", "3"})
                                                .wanted);
  EXPECT_THAT(labels.names, ElementsAre("B-07", "tub-1"));
  EXPECT_TRUE(labels.letter);
  EXPECT_EQ(labels.columns * 100 + labels.rows * 10 + labels.page, 253);
  EXPECT_FALSE(std::get<PrintLabels>(said({"labels", "B-07"}).wanted).letter);
  const auto report = std::get<ReportBatches>(said({"report", "B-07", "B-08", "--csv"}).wanted);
  EXPECT_THAT(report.batches, ElementsAre("B-07", "B-08"));
  EXPECT_TRUE(report.csv);
  EXPECT_EQ(report.now, WallTime(seconds(1'795'662'900)));
}

TEST(PaperWords, NameTheCopyOfTheRecord) {
  const auto copy = [](const std::vector<std::string>& words) {
    return std::get<RecordCopy>(said(words).wanted);
  };
  EXPECT_EQ(copy({"backup", "/media/stick"}).what, RecordCopy::What::backup);
  EXPECT_EQ(copy({"backup", "/media/stick"}).config, "/etc/tubwarden");
  EXPECT_EQ(copy({"restore", "b.tar", "--config", "mine"}).config, "mine");
  EXPECT_EQ(copy({"restore", "b.tar"}).what, RecordCopy::What::restore);
  EXPECT_EQ(copy({"export", "out"}).path, "out");
}

TEST(PaperWords, WrongOnesAreRefused) {
  EXPECT_THAT(wrong({"labels"}), HasSubstr("NAME is required"));
  EXPECT_THAT(wrong({"labels", "B-07", "--sheet", "A3"}), HasSubstr("A3"));
  EXPECT_THAT(wrong({"labels", "B-07", "--columns", "0"}), HasSubstr("--columns"));
  EXPECT_THAT(wrong({"backup"}), HasSubstr("FILE is required"));
  EXPECT_THAT(wrong({"report"}), HasSubstr("BATCH is required"));
}

}  // namespace
