// The faults of this folder in a drawn order and over one another, on real processes; each scene is
// judged by what the wires heard, and when. A scene that breaks a promise is printed with its seed.
//   TUBWARDEN_SEED=N     that scene alone
//   TUBWARDEN_SCENES=N   so many, from TUBWARDEN_SEED on, or from 1
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <string>

#include "fault/campaign/judge.hpp"

namespace tubwarden::campaign {
namespace {

std::uint64_t number_in(const char* name, std::uint64_t otherwise) {
  const char* text = std::getenv(name);
  return text == nullptr ? otherwise : std::strtoull(text, nullptr, 10);
}

std::string heard(const Scene& scene, const Played& played) {
  std::string text;
  if (played.done.empty()) return text;
  const std::int64_t zero = played.done.front().from_ns;
  const auto s = [zero](std::int64_t ns) { return 1e-9 * static_cast<double>(ns - zero); };
  for (const Did& did : played.done) {
    std::string whom;
    for (const std::string& id : did.outputs) whom += " " + id;
    text += fmt::format("  done {:7.3f} to {:7.3f} s  {}{}\n", s(did.from_ns), s(did.until_ns),
                        name_of(did.act), whom);
  }
  for (const Output& output : scene.outputs) {
    text += "  heard " + output.id + ":";
    for (const Change& change : played.wire.at(output.id)) {
      text += fmt::format(" {:.3f}{}", s(change.ns), change.runs ? "+" : "-");
    }
    text += "\n";
  }
  return text;
}

TEST(FaultCampaign, every_wire_is_safe_within_what_is_promised) {
  const bool one = std::getenv("TUBWARDEN_SEED") != nullptr;
  const std::uint64_t first = number_in("TUBWARDEN_SEED", 1);
  const std::uint64_t scenes = number_in("TUBWARDEN_SCENES", one ? 1 : 60);
  Stage stage;
  Verdict sum;
  for (std::uint64_t seed = first; seed < first + scenes; ++seed) {
    const Scene scene = draw(seed);
    const Played played = stage.play(scene);
    const Verdict verdict = judge(scene, played);
    sum.runs += verdict.runs;
    sum.breaks += verdict.breaks;
    sum.worst_s = std::max(sum.worst_s, verdict.worst_s);
    sum.worst_of_lease = std::max(sum.worst_of_lease, verdict.worst_of_lease);
    std::string broken;
    for (const std::string& sentence : verdict.broken) broken += "  " + sentence + "\n";
    if (broken.empty()) continue;
    ADD_FAILURE() << "replay: TUBWARDEN_SEED=" << seed << " fault_campaign\n"
                  << broken << told(scene) << heard(scene, played);
  }
  EXPECT_GT(sum.breaks, 0) << "nothing was broken";
  fmt::print(
      "fault_scenes {} of {} runs; {} faults met a running output; alone, the worst took "
      "{:.2f} s, {:.2f} of its lease\n",
      scenes, sum.runs, sum.breaks, sum.worst_s, sum.worst_of_lease);
}

TEST(FaultCampaign, a_seed_draws_one_scene) {
  EXPECT_EQ(told(draw(7)), told(draw(7)));
  EXPECT_NE(told(draw(7)), told(draw(8)));
}

}  // namespace
}  // namespace tubwarden::campaign
