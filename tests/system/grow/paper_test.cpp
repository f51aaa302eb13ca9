// A grow on paper: the labels of its jars and tubs, its report as a page, and the same figures for
// a program, all asked of a daemon that was told the grow by command.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/text.hpp"
#include "system/daemon/rig.hpp"

namespace {

using namespace rig;
using testing::HasSubstr;
using testing::Not;

struct GrowOnPaper : Rig, ::testing::Test {
  void SetUp() override {
    write_tub({"tub-1", "B-07", "colonization", "2s", "200ms", ""});
    write_tub({"tub-2", "B-07", "colonization", "2s", "200ms", ""});
    start();
    for (const char* tub : {"tub-1", "tub-2"}) ask({"phase", tub, "colonization"});
  }
  static std::string ago(int days) {
    const auto now = std::chrono::system_clock::now() - std::chrono::hours(24 * days);
    return tubwarden::rfc3339(tubwarden::WallTime(
        std::chrono::duration_cast<std::chrono::milliseconds>(now.time_since_epoch())));
  }
  void fill() {
    ask({"culture", "receive", "LC-2", "--volume", "10mL", "--strain", "A15", "--on", ago(40)});
    ask({"sterilise", "S-3", "--hold", "90m", "--on", ago(33)});
    ask({"jar", "add", "--batch", "B-07", "--count", "5", "--culture", "LC-2", "--dose", "1mL",
         "--grain", "rye", "--run", "S-3", "--on", ago(32)});
    ask({"jar", "contaminated", "J-3", "green <patch>", "--on", ago(20)});
    ask({"jar", "look", "J-1", "J-2", "J-4", "J-5", "100%", "--on", ago(18)});
    ask({"substrate", "make", "M-4", "--dry", "3.5kg", "--water", "6L", "--on", ago(18)});
    ask({"spawn", "tub-1", "--jars", "J-1", "J-2", "--mix", "M-4", "--substrate", "4.75kg", "--on",
         ago(17)});
    ask({"spawn", "tub-2", "--jars", "J-4", "J-5", "--mix", "M-4", "--substrate", "4.75kg", "--on",
         ago(17)});
    for (const char* tub : {"tub-1", "tub-2"}) ask({"phase", tub, "fruiting"});
  }
  /// By a program that is not ours; `what` reads the file of sys.argv[1].
  parts::Ran python(const std::string& what, const std::string& content) {
    folder().write("paper.txt", content);
    return parts::run({"python3", "-c", what, (folder().path() / "paper.txt").string()});
  }
};

TEST_F(GrowOnPaper, LabelsNameEachJarAndTub) {
  fill();
  const parts::Ran sheet = cli({"labels", "B-07"});
  ASSERT_EQ(sheet.status, 0) << sheet.err;
  for (const char* words : {">J-1<", ">J-5<", ">tub-1<", ">B-07<", ">rye, 1 mL of LC-2<",
                            ">sterilised S-3<", ">4.75 kg of M-4<", ">from J-1 and J-2<"}) {
    EXPECT_THAT(sheet.out, HasSubstr(words));
  }
  folder().write("tub.svg", cli({"labels", "tub-1", "--columns", "1", "--rows", "1"}).out);
  const std::string svg = (folder().path() / "tub.svg").string();
  const std::string png = (folder().path() / "tub.png").string();
  ASSERT_EQ(parts::run({"rsvg-convert", "-o", png, svg}).status, 0);
  EXPECT_EQ(parts::run({"zbarimg", "--quiet", "--raw", "--nodbus", png}).out, "tub-1\n");
  const parts::Ran unknown = cli({"labels", "J-99"});
  EXPECT_EQ(unknown.status, 1);
  EXPECT_THAT(unknown.err, HasSubstr("jar list"));
}

TEST_F(GrowOnPaper, AReportSaysWhatCameOfIt) {
  fill();
  air("tub-1", 87.0);
  ask({"pins", "tub-1", "--size", "3mm", "--note", "at the left edge"});
  for (const auto& [tub, grams] :
       {std::pair("tub-1", "600g"), {"tub-1", "200g"}, {"tub-2", "400g"}}) {
    ask({"harvest", tub, grams});
  }
  const parts::Ran page = cli({"report", "B-07"});
  ASSERT_EQ(page.status, 0) << page.err;
  // 600 + 200 + 400 g on 3.5 kg of dry and 9.5 kg of wet substrate.
  for (const char* words :
       {"<b>1200 g</b>", "<b>34.3 %</b><span>biological efficiency", "<b>12.6 %</b>",
        "<b>5</b><span>jars<", "<b>1</b><span>jars contaminated", "mixed into tub-1",
        "green &lt;patch&gt;", "at the left edge", "grown through, by the profile",
        "colonization"}) {
    EXPECT_THAT(page.out, HasSubstr(words));
  }
  for (const char* out : {"http:", "https:", "href=", "<script"}) {
    EXPECT_THAT(page.out, Not(HasSubstr(out)));
  }
  const parts::Ran read =
      python("import sys, xml.etree.ElementTree as t; t.parse(sys.argv[1])", page.out);
  EXPECT_EQ(read.status, 0) << read.err;

  const json all = ask({"report", "B-07"});
  EXPECT_EQ(all["batches"][0]["figures"]["harvest"]["value"], 1200.0);
  const parts::Ran csv = cli({"report", "B-07", "--csv"});
  EXPECT_THAT(csv.out, HasSubstr("B-07,batch,jars contaminated,,1,\r\n"));
  const parts::Ran none = cli({"report", "B-99"});
  EXPECT_EQ(none.status, 1);
  EXPECT_THAT(none.err, HasSubstr("batch list"));
}

}  // namespace
