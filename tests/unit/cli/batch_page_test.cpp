// A batch's report: its figures are those that a pencil finds, it needs nothing from elsewhere, and
// it is well-formed whatever was written into it.
#include "programs/cli/batch_page.hpp"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "parts/parts.hpp"
#include "programs/cli/batch_read.hpp"

namespace {

using namespace tubwarden;
using namespace tubwarden::cli;
using ::testing::HasSubstr;
using ::testing::Not;

/// Day 0 is 2026-09-01 in UTC by `date -u -d @1788220800`.
WallTime day(double n) {
  return WallTime(milliseconds(1'788'220'800'000 + static_cast<std::int64_t>(n * 86'400'000.0)));
}

ReportQuantity humidity(double banded_h, double inside_pct) {
  ReportQuantity kept;
  kept.known_h = banded_h;
  kept.banded_h = banded_h;
  kept.inside_pct = inside_pct;
  kept.mean = 90.25;
  kept.least = 81.0;
  kept.most = 98.0;
  kept.band_low = 85.0;
  kept.band_high = 90.0;
  return kept;
}

/// Five jars from a syringe of 10 mL, one of them contaminated; two tubs; three flushes.
BatchReport grow() {
  BatchReport r;
  r.site = "cellar";
  r.batch = "B-07";
  r.profile = "button";
  r.made = day(90);
  for (int i = 1; i <= 5; ++i) {
    ReportJar jar;
    jar.id = "J-" + std::to_string(i);
    jar.culture = "LC-2";
    jar.grain = "rye";
    jar.dose_ml = 1.0;
    jar.inoculated = day(0);
    jar.fate = i == 3 ? "contaminated" : "mixed";
    jar.fate_text = i == 3 ? "green at the <shoulder>" : "";
    jar.into_tub = i == 3 ? "" : i < 3 ? "tub-1" : "tub-2";
    jar.looks = {{day(6), 8.0}, {day(9), 25.0}, {day(13), 60.0}, {day(18), 99.0}};
    if (i == 3) jar.looks.resize(1);
    r.jars.push_back(jar);
  }
  r.cultures.push_back({"LC-2", "A15", "own plate", 10.0, 5.0, 5.0});
  const double grams[2][3] = {{600.0, 400.0, 200.0}, {500.0, 300.0, 0.0}};
  for (int t = 0; t < 2; ++t) {
    ReportBed bed;
    bed.tub = t == 0 ? "tub-1" : "tub-2";
    bed.substrate_kg = 5.0;
    bed.dry_kg = 1.6;
    bed.surface_m2 = 0.2;
    for (int f = 0; f < 3; ++f) {
      ReportFlush flush;
      flush.number = f + 1;
      flush.pins = day(50 + 12 * f);
      flush.pin_mm = 2.0;
      flush.grams = grams[t][f];
      if (flush.grams > 0.0) flush.picks = {{day(55 + 12 * f), flush.grams}};
      bed.grams += flush.grams;
      bed.flushes.push_back(flush);
    }
    r.beds.push_back(bed);
    for (int p = 0; p < 2; ++p) {
      ReportPhase phase{bed.tub, p == 0 ? "colonization" : "fruiting", p, day(20 + 30 * p), {}, {},
                        {}};
      if (p == 0) phase.to = day(50);
      phase.quantities = {humidity(p == 0 ? 300.0 : 100.0, p == 0 ? 90.0 : 70.0)};
      phase.outputs_h = {{"mister", 2.5}};
      r.phases.push_back(phase);
    }
  }
  for (double d = 20; d < 90; d += 0.5) {
    if (r.strips.empty()) r.strips.push_back({"tub-1", Quantity::humidity, {}});
    r.strips[0].values.push_back({day(d), 86.0, 88.0, 91.0, 100.0});
  }
  r.acts = {{day(0), true, "maria", "", "jars_added", "5 jars inoculated", "", ""},
            {day(6), true, "maria", "", "jar_contaminated", "J-3 & its lid", "it \"smells\"", ""}};
  return r;
}

std::string page(const BatchReport& r, const PhotoData& photo = photo_data) {
  return batch_page(r, photo, Look{});
}

/// By Python's XML parser, which is not ours; the page is written so that it is both.
void expect_well_formed(const std::string& html) {
  const parts::TempFolder folder;
  folder.write("page.html", html);
  const parts::Ran read =
      parts::run({"python3", "-c", "import sys, xml.etree.ElementTree as t; t.parse(sys.argv[1])",
                  (folder.path() / "page.html").string()});
  EXPECT_EQ(read.status, 0) << read.err;
}

TEST(BatchPage, SaysWhatAPencilFinds) {
  const std::string html = page(grow());
  // 600 + 400 + 200 + 500 + 300; on 2 x 1.6 kg dry, 2 x 5 kg wet, 2 x 0.2 m2.
  for (const char* figure :
       {"<b>2000 g</b>", "<b>62.5 %</b><span>biological efficiency", "<b>20.0 %</b>",
        "<b>5.00 kg/m2</b>", "<b>3</b><span>flushes picked", "<b>5</b><span>jars",
        "<b>1</b><span>jars contaminated", "<b>55.0 d</b><span>until the first pick"}) {
    EXPECT_THAT(html, HasSubstr(figure));
  }
  // By time: (300 h x 90 % + 100 h x 70 %) / 400 h.
  EXPECT_THAT(html, HasSubstr("<b>85.0 %</b><span>humidity in band"));
  // Of the first tub after its second flush: 1000 g on 1.6 kg.
  EXPECT_THAT(html, HasSubstr("1000 g</td><td class=\"figure\">62.5 %"));
  EXPECT_THAT(html, HasSubstr("green at the &lt;shoulder&gt;"));
  EXPECT_THAT(html, HasSubstr("J-3 &amp; its lid"));
}

TEST(BatchPage, NeedsNothingFromElsewhereAndIsWellFormed) {
  for (const std::string& html : {page(grow()), batches_page({grow(), grow()}, Look{})}) {
    for (const char* out : {"http:", "https:", "href=", "@import", "url(", "<script"}) {
      EXPECT_THAT(html, Not(HasSubstr(out)));
    }
    expect_well_formed(html);
  }
  BatchReport empty;
  empty.batch = "B-\"<1>";
  expect_well_formed(page(empty));
}

TEST(BatchPage, ShowsAPhotoOrNamesIt) {
  const parts::TempFolder folder;
  // The smallest of PNGs is judged by its first bytes only.
  folder.write("pins.png", std::string("\x89PNG\r\n\x1A\n") + "abc");
  folder.write("notes.txt", "no picture");
  BatchReport r = grow();
  r.acts[0].photo = (folder.path() / "pins.png").string();
  r.acts[1].photo = (folder.path() / "notes.txt").string();
  const std::string html = page(r);
  // `printf '\x89PNG\r\n\x1a\nabc' | base64`
  EXPECT_THAT(html, HasSubstr("data:image/png;base64,iVBORw0KGgphYmM=\""));
  EXPECT_THAT(html, HasSubstr("photo: " + r.acts[1].photo));
  folder.write("large.png", "\x89PNG\r\n\x1A\n" + std::string(kPhotoBytesMax, 'x'));
  EXPECT_FALSE(photo_data((folder.path() / "large.png").string()));
  EXPECT_FALSE(photo_data("/nonexistent.jpg"));
  EXPECT_FALSE(photo_data(folder.path().string()));
}

TEST(BatchPage, SaysWhatIsNotKnownInsteadOfAFigure) {
  BatchReport r = grow();
  r.beds[1].dry_kg.reset();
  EXPECT_FALSE(r.yield().biological_efficiency_pct) << "half of it would be no figure";
  EXPECT_THAT(batches_page({r}, Look{}), HasSubstr("not known"));
  EXPECT_THAT(page(r), Not(HasSubstr("biological efficiency</span>")));
}

TEST(BatchPage, TellsWhatWasForetoldByWhatWasKnownThen) {
  BatchReport r = grow();
  add_forecasts(r, nullptr);
  // Four jars seen grown through, and five flushes picked.
  ASSERT_EQ(r.forecasts.size(), 9U);
  EXPECT_EQ(r.forecasts[0].of, "J-1");
  EXPECT_EQ(r.forecasts[0].told, day(13)) << "at the third look";
  EXPECT_EQ(r.forecasts[0].happened, day(18));
  EXPECT_LT(r.forecasts[0].early, r.forecasts[0].likely);
  EXPECT_GT(r.forecasts[0].likely, day(13));
  // 2 mm to 40 mm by doubling each day at 17 C: log2(20) = 4.32 days.
  EXPECT_NEAR(seconds_of(r.forecasts[4].likely - day(50)) / 86400.0, 4.32, 0.35);
  EXPECT_THAT(page(r), HasSubstr("Forecast against what happened"));
}

TEST(BatchTables, AreTheSameFiguresForAProgram) {
  const std::string csv = batches_csv({grow()});
  EXPECT_THAT(csv, ::testing::StartsWith("batch,of,figure,at,value,unit\r\n"));
  EXPECT_THAT(csv, HasSubstr("B-07,batch,harvest,,2000,g\r\n"));
  EXPECT_THAT(csv, HasSubstr("B-07,tub-1 flush 2,picked,2026-11-07T00:00:00.000Z,400,g\r\n"));
  EXPECT_THAT(csv, HasSubstr("B-07,tub-1 fruiting 1,humidity in band,"));
  const auto all = nlohmann::json::parse(batches_json({grow(), grow()}));
  ASSERT_EQ(all.at("batches").size(), 2U);
  EXPECT_EQ(all["batches"][0]["figures"]["biological efficiency"]["value"], 62.5);
  EXPECT_EQ(all["batches"][0]["jars"][2]["fate"], "contaminated");
}

}  // namespace
