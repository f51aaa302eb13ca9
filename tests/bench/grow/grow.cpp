// How long a daemon with a record of 10,000 jars takes to say what is due and where a jar came
// from, over its socket; beside a bare indexed query of the same file. bench_grow FOLDER
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <vector>

#include "bench/grow/many_jars.hpp"
#include "shell/control/control_client.hpp"
#include "shell/record/sqlite.hpp"
#include "system/daemon/rig.hpp"

namespace {

using namespace tubwarden;

constexpr int kJars = 10'000;
constexpr int kAsked = 21;
constexpr const char* kJar = "J-9999";

/// The median of kAsked times in milliseconds, with the least and the greatest, as a comment.
template <class What>
double median_ms(const char* what, What ask) {
  std::vector<double> ms;
  for (int i = 0; i < kAsked; ++i) {
    const auto begun = std::chrono::steady_clock::now();
    ask();
    ms.push_back(std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begun)
                     .count());
  }
  std::sort(ms.begin(), ms.end());
  fmt::print("# {}: {} times, {:.2f} to {:.2f} ms\n", what, kAsked, ms.front(), ms.back());
  return ms[ms.size() / 2];
}

}  // namespace

int main(int argc, char**) {
  if (argc != 2) return 2;
  rig::Rig r;
  r.write_tub({"tub-1", "B-0", "colonization", "2s", "200ms", ""});
  const std::string folder = (r.folder().path() / "record").string();
  bench::write_jars(folder, kJars);
  const auto begun = std::chrono::steady_clock::now();
  r.start();
  const std::chrono::duration<double> started = std::chrono::steady_clock::now() - begun;
  const std::string socket = (r.folder().path() / "control.sock").string();
  std::size_t bytes = 0;
  const auto ask = [&](const char* what, const std::string& args) {
    const auto answer = ask_daemon(socket, what, args, seconds(8));
    if (!answer.ok()) throw std::runtime_error(answer.error().text);
    bytes = answer->size();
  };
  const double today = median_ms("today", [&] { ask("today", "{}"); });
  fmt::print("# its answer: {} bytes\n", bytes);
  const double trace =
      median_ms("trace", [&] { ask("trace", fmt::format(R"({{"of":"{}"}})", kJar)); });
  sql::Database db(folder + "/record.db");
  const double bare = median_ms("one indexed query", [&] {
    sql::Statement s(db,
                     "select j.batch, i.culture, e.text from jar j join entry e on e.id=j.entry "
                     "left join inoculation i on i.jar=j.jar where j.jar=?");
    if (!s.bind(kJar).step()) throw std::runtime_error("the jar is not there");
  });
  fmt::print("# a record of {} jars, {} entries; the daemon was up after {:.1f} s\n", kJars,
             r.status()["record"]["entries"].dump(), started.count());
  fmt::print("grow_today {:.2f} ms\ngrow_trace {:.2f} ms\ngrow_bare_query {:.3f} ms\n", today,
             trace, bare);
}
