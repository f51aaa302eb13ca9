// A sheet of labels: what is printed, that nothing lies at the page's edge, and that a QR code that
// was drawn by one program and read by another says the id.
#include "programs/cli/labels.hpp"

#include <fmt/format.h>
#include <gmock/gmock.h>

#include <regex>

#include "parts/parts.hpp"
#include "programs/cli/qr_code.hpp"

namespace {

using namespace tubwarden::cli;
using ::testing::HasSubstr;
using ::testing::Not;

std::vector<Label> jars(int count) {
  std::vector<Label> labels;
  for (int i = 1; i <= count; ++i) {
    labels.push_back(
        {fmt::format("J-{}", i), "B-07", "2026-11-26", {"rye, 1 mL of LC-2", "sterilised S-3"}});
  }
  return labels;
}

std::string must(const std::vector<Label>& labels, const LabelSheet& sheet = {},
                 std::size_t page = 1) {
  const auto svg = label_page(labels, sheet, page);
  if (!svg.ok()) throw std::runtime_error(svg.error().text);
  return *svg;
}

/// What zbarimg reads in one label of the sheet, as rsvg-convert draws it.
std::string read_code(const std::string& svg, const LabelSheet& sheet, int column, int row) {
  const parts::TempFolder folder;
  const double width = (sheet.width_mm - 20.0) / sheet.columns;
  const double height = (sheet.height_mm - 20.0) / sheet.rows;
  const std::string cell = std::regex_replace(
      svg, std::regex("width=\"[0-9.]+mm\" height=\"[0-9.]+mm\" viewBox=\"[^\"]*\""),
      fmt::format("width=\"{0}mm\" height=\"{1}mm\" viewBox=\"{2} {3} {0} {1}\"", width, height,
                  10.0 + column * width, 10.0 + row * height));
  folder.write("cell.svg", cell);
  const std::string png = (folder.path() / "cell.png").string();
  const parts::Ran drawn = parts::run({"rsvg-convert", "--dpi-x", "300", "--dpi-y", "300", "-o",
                                       png, (folder.path() / "cell.svg").string()});
  EXPECT_EQ(drawn.status, 0) << drawn.err;
  return parts::run({"zbarimg", "--quiet", "--raw", "--nodbus", png}).out;
}

TEST(Labels, SayIdBatchDayAndWhatIsInIt) {
  const std::string svg = must(jars(2));
  for (const char* words : {">J-1<", ">J-2<", ">B-07<", ">2026-11-26<", ">rye, 1 mL of LC-2<",
                            ">sterilised S-3<", "width=\"210mm\" height=\"297mm\""}) {
    EXPECT_THAT(svg, HasSubstr(words));
  }
  EXPECT_THAT(svg, Not(HasSubstr("href"))) << "nothing is fetched";
}

TEST(Labels, TheCodeReadsAsTheIdOnEveryKindOfSheet) {
  std::vector<Label> labels = jars(2);
  labels.push_back({"tub-1", "B-07", "2026-12-14", {"5 kg of M-4", "from J-1 to J-5"}});
  labels.push_back({"cellar-tub-upper-shelf-1", "B-07", "", {}});
  LabelSheet small;
  small.columns = 5;
  small.rows = 13;
  LabelSheet letter;
  letter.width_mm = kLetterWidthMm;
  letter.height_mm = kLetterHeightMm;
  letter.columns = 1;
  letter.rows = 4;
  for (const LabelSheet& sheet : {LabelSheet{}, small, letter}) {
    const std::string svg = must(labels, sheet);
    for (int i = 0; i < 4; ++i) {
      EXPECT_EQ(read_code(svg, sheet, i % sheet.columns, i / sheet.columns),
                labels[static_cast<std::size_t>(i)].id + "\n")
          << sheet.columns;
    }
  }
}

TEST(Labels, KeepAwayFromTheEdgeAndFromEachOther) {
  const LabelSheet sheet;
  const std::string svg = must(jars(24), sheet);
  const std::regex place("(?:<text x=\"|translate\\()([0-9.]+)\"?[ y=\"]+([0-9.]+)");
  int found = 0;
  for (std::sregex_iterator m(svg.begin(), svg.end(), place), end; m != end; ++m, ++found) {
    EXPECT_GE(std::stod((*m)[1]), 12.0);
    EXPECT_LE(std::stod((*m)[1]), sheet.width_mm - 12.0);
    EXPECT_GE(std::stod((*m)[2]), 12.0);
    EXPECT_LE(std::stod((*m)[2]), sheet.height_mm - 12.0);
  }
  EXPECT_EQ(found, 24 * 6) << "a code and five lines each";
}

TEST(Labels, GoOnOnFurtherPages) {
  const auto labels = jars(30);
  EXPECT_EQ(LabelSheet{}.pages(30), 2U);
  EXPECT_THAT(must(labels, {}, 1), Not(HasSubstr(">J-25<")));
  EXPECT_THAT(must(labels, {}, 2), HasSubstr(">J-25<"));
  const auto none = label_page(labels, {}, 3);
  ASSERT_FALSE(none.ok());
  EXPECT_EQ(none.error().text, "there is no page 3; there are pages 1 to 2");
  EXPECT_FALSE(label_page({}, {}, 1).ok());
}

TEST(Labels, AreNoMarkupWhateverTheySay) {
  const std::string svg = must({{"J<1>&\"", "B\x07", "", {"<script>"}}});
  EXPECT_THAT(svg, HasSubstr("J&lt;1&gt;&amp;&quot;"));
  EXPECT_THAT(svg, HasSubstr("&lt;script&gt;"));
  EXPECT_THAT(svg, Not(HasSubstr("\x07")));
}

TEST(Labels, AreRefusedWhereACodeWouldBeTooFine) {
  LabelSheet sheet;
  sheet.columns = 12;
  sheet.rows = 30;
  const auto svg = label_page(jars(1), sheet, 1);
  ASSERT_FALSE(svg.ok());
  EXPECT_THAT(svg.error().text, HasSubstr("take fewer --columns or --rows"));
}

TEST(QrCodes, AreTheSmallestThatHoldTheText) {
  // ISO/IEC 18004, table 7: version 1 has 21 modules a side and holds 11 bytes at level Q.
  EXPECT_EQ(qr_code("J-17")->size, 21U);
  EXPECT_EQ(qr_code("abcdefghijk")->size, 21U);
  EXPECT_EQ(qr_code("abcdefghijkl")->size, 25U);
  EXPECT_FALSE(qr_code(std::string(5000, 'x')).ok());
}

}  // namespace
