// A large folder in good time, and input of any kind without a crash: a seeded mutation of the
// whole folder, each finding with a place inside its file.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <map>
#include <random>

#include "bench.hpp"

namespace tubwarden {
namespace {

using Steady = std::chrono::steady_clock;

double load_s(int tubs) {
  bench::Folder folder;
  const std::string own = folder.text("tubs/tub-1.yaml"), shared = folder.text("tubs/tub-2.yaml");
  for (int i = 10; i < 10 + tubs; ++i) {
    const std::string id = "tub-" + std::to_string(i);
    std::string text = i % 2 == 0 ? own : shared;
    for (const std::string& old : {std::string("tub-1"), std::string("tub-2")}) {
      for (std::size_t at = 0; (at = text.find(old, at)) != std::string::npos; at += id.size()) {
        text.replace(at, old.size(), id);
      }
    }
    folder.write("tubs/" + id + ".yaml", text);
  }
  const auto begin = Steady::now();
  const Loaded loaded = folder.load();
  const std::chrono::duration<double> took = Steady::now() - begin;
  EXPECT_EQ(loaded.grow.tubs.size(), static_cast<std::size_t>(tubs) + 2);
  EXPECT_FALSE(loaded.has_errors());
  return took.count();
}

TEST(Scale, AThousandTubsLoadInGoodTimeAndInProportion) {
  const double small = std::min({load_s(100), load_s(100), load_s(100)});
  const double large = std::min(load_s(1000), load_s(1000));
  RecordProperty("load_1000_tubs_ms", static_cast<int>(large * 1000));
  // Quadratic would be a hundredfold; room for a busy machine and a sanitizer.
  EXPECT_LT(large, 30 * small);
  EXPECT_LT(large, 15.0);
}

/// One change at a time: bytes dropped, doubled, swapped or made up, lines moved.
std::string mutated(const std::string& text, std::mt19937& random) {
  const auto pick = [&](std::size_t below) { return static_cast<std::size_t>(random() % below); };
  static constexpr std::string_view kPieces[] = {
      "\n", " ",    ":",  "- ",   "{",    "}",     "[",
      "]",  "&a ",  "*a", "!!x ", "\"",   "'",     "#",
      "|",  ">",    "?",  "\t",   "\377", "---\n", "99999999999999999999",
      "-1", "null", "~",  "\r\n", "%",    ","};
  std::string out = text;
  for (std::size_t n = 1 + pick(4); n > 0 && !out.empty(); --n) {
    const std::size_t at = pick(out.size()), length = std::min(pick(12), out.size() - at);
    switch (pick(4)) {
      case 0:
        out.erase(at, length);
        break;
      case 1:
        out.insert(at, out.substr(at, length));
        break;
      case 2:
        out.insert(at, kPieces[pick(std::size(kPieces))]);
        break;
      default:
        out.replace(at, length, out.substr(pick(out.size()), length));
        break;
    }
  }
  return out;
}

TEST(Fuzz, AnyMutationLoadsOrIsToldInsideItsFile) {
  const unsigned seed = 20240611;
  std::mt19937 random(seed);
  bench::Folder folder;
  const std::vector<std::string> files = {"tubwarden.yaml", "profiles/button.yaml",
                                          "chambers/closet.yaml", "tubs/tub-1.yaml",
                                          "tubs/tub-2.yaml"};
  std::map<std::string, std::string> whole;
  for (const std::string& file : files) whole[file] = folder.text(file);
  std::size_t told = 0;
  for (int turn = 0; turn < 800; ++turn) {
    const std::string& file = files[random() % files.size()];
    const std::string text = mutated(whole[file], random);
    folder.write(file, text);
    const Loaded loaded = folder.load();
    const auto lines = std::count(text.begin(), text.end(), '\n') + 2;
    for (const Finding& f : loaded.findings) {
      EXPECT_FALSE(f.text.empty());
      EXPECT_EQ(f.text.find('\n'), std::string::npos) << f.text;
      if (f.file != file) continue;
      EXPECT_LE(f.line, lines) << "seed " << seed << " turn " << turn << " " << f.told();
      EXPECT_EQ(f.line == 0, f.column == 0) << f.told();
    }
    told += loaded.findings.size();
    for (const TubPlan& tub : loaded.grow.tubs) {
      ASSERT_TRUE(tub.profile) << "seed " << seed << " turn " << turn;
      ASSERT_TRUE(loaded.grow.chamber(tub.chamber)) << "seed " << seed << " turn " << turn;
    }
    folder.write(file, whole[file]);
  }
  EXPECT_GT(told, 400u);
}

}  // namespace
}  // namespace tubwarden
