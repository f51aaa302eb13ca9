#include "bench/grow/many_jars.hpp"

#include <chrono>
#include <filesystem>

#include "shell/record/record_file.hpp"

namespace bench {
namespace {

using namespace tubwarden;

constexpr int kJarsARun = 10;
/// Their jars are 20 to 42 days old; older ones have ended.
constexpr int kLoadsThatStand = 30;

struct Writer {
  std::vector<Entry> entries;
  WallTime now =
      WallTime(duration_cast<milliseconds>(std::chrono::system_clock::now().time_since_epoch()));

  void note(GrowAct act, WallTime at, const std::string& batch) {
    GrowNoted noted{{0, at, "maria", std::move(act), "", ""}, "", batch};
    const Stamp stamp{at, true, "boot-past", Instant(at.time_since_epoch())};
    entries.push_back({stamp, "maria", std::move(noted)});
  }
  void load_of(int first, WallTime at, bool ended) {
    const int number = first / kJarsARun;
    const std::string culture = "LC-" + std::to_string(number), run = "S-" + std::to_string(number),
                      batch = "B-" + std::to_string(number);
    JarsAdded added;
    for (int i = 0; i < kJarsARun; ++i) added.jars.push_back("J-" + std::to_string(first + i + 1));
    added.batch = batch;
    added.grain = "rye";
    added.run = run;
    added.culture = culture;
    added.dose_ml = 1.0;
    const std::vector<std::string> jars = added.jars;
    note(CultureReceived{culture, "A15", "", 10.0}, at, "");
    note(Sterilised{run, "jars of rye", minutes(90), {}, {}}, at, "");
    note(std::move(added), at + hours(1), batch);
    for (const std::string& jar : jars) {
      note(JarLookedAt{jar, 25.0}, at + days(6), batch);
      note(JarShaken{jar}, at + days(6), batch);
    }
    note(JarContaminated{jars.front(), "green"}, at + days(9), batch);
    for (const std::string& jar : jars) {
      if (ended) note(JarDiscarded{jar, "spent"}, at + days(40), batch);
    }
  }
};

}  // namespace

void write_jars(const std::string& folder, int jars) {
  std::filesystem::create_directories(folder);
  RecordFile file((std::filesystem::path(folder) / "record.db").string());
  Writer writer;
  const int loads = jars / kJarsARun;
  for (int load = 0; load < loads; ++load) {
    const int newer = loads - 1 - load;
    writer.load_of(load * kJarsARun, writer.now - days(20) - hours(18) * newer,
                   newer >= kLoadsThatStand);
  }
  file.append(writer.entries);
}

}  // namespace bench
