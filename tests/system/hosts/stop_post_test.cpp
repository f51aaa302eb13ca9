// The list of outputs in use, and the step that makes all of it safe once daemon and hosts are
// dead.
#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/stat.h>

#include <algorithm>
#include <cstdlib>

#include "bench.hpp"
#include "sdk/safe_list.hpp"

namespace tubwarden {
namespace {

using namespace bench;

parts::Ran make_safe(const std::filesystem::path& list) {
  return parts::run({kHost, "--make-safe", list.string()});
}

protocol::SafeList read(const std::filesystem::path& list) {
  return protocol::decode_safe_list(parts::read_file(list));
}

std::vector<std::string> ids(const protocol::SafeList& list) {
  std::vector<std::string> all;
  for (const auto& run : list.runs) {
    for (const auto& output : run.outputs) all.push_back(output.id);
  }
  std::sort(all.begin(), all.end());
  return all;
}

std::string line(const std::string& plugin, const std::string& id, const std::string& wiring,
                 Level safe = kRest, const std::string& site_json = "{}") {
  return protocol::encode(
      protocol::SafeRun{plugin, {{0, "tub/" + id, wiring, site_json, safe, 15000, 0}}});
}

std::int64_t now_ns() {
  timespec t{};
  ::clock_gettime(CLOCK_BOOTTIME, &t);
  return t.tv_sec * 1'000'000'000LL + t.tv_nsec;
}

/// Runs it, and says how long it took.
parts::Ran timed(const std::filesystem::path& list, const char* what, Duration limit) {
  const std::int64_t began = now_ns();
  const parts::Ran ran = make_safe(list);
  const Duration took(now_ns() - began);
  std::printf("stop_post_ms %.1f (%s)\n", 1000.0 * seconds_of(took), what);
  EXPECT_LT(took, limit) << ran.err;
  return ran;
}

class StopPost : public testing::Test {
 protected:
  std::filesystem::path path(const std::string& name) const { return folder.path() / name; }
  const std::string simulated = kPlugins + "/simulated.so";
  parts::TempFolder folder;
  const std::filesystem::path list = path("outputs.list");
};

TEST_F(StopPost, the_list_follows_what_is_in_use_and_is_empty_after_a_stop_in_good_order) {
  Bench b(kPlugins, "{}", list);
  b.drivers.want({plan("fan", "simulated", file_wiring(path("f")), seconds(3), kRun),
                  plan("mat", "simulated", file_wiring(path("m")))});
  EXPECT_EQ(ids(read(list)), (std::vector<std::string>{"tub/fan", "tub/mat"}))
      << "before either can have been opened";
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  const protocol::SafeList both = read(list);
  EXPECT_TRUE(both.problems.empty());
  ASSERT_EQ(both.runs.size(), 1u);
  EXPECT_EQ(both.runs[0].plugin_path, simulated);
  EXPECT_EQ(both.runs[0].outputs[0].safe_permille, kRun);
  EXPECT_EQ(both.runs[0].outputs[0].wiring_json, file_wiring(path("f")));

  b.drivers.want({plan("mat", "simulated", file_wiring(path("m")))});
  EXPECT_EQ(ids(read(list)).size(), 2u) << "the fan is not closed yet";
  ASSERT_TRUE(b.until([&] { return ids(read(list)) == std::vector<std::string>{"tub/mat"}; }));

  ASSERT_TRUE(b.stop());
  EXPECT_EQ(parts::read_file(list), "end 0\n");
  const std::size_t before = simulated_lines(path("m")).size();
  const parts::Ran ran = make_safe(list);
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_EQ(simulated_lines(path("m")).size(), before);
  EXPECT_FALSE(std::filesystem::exists(path("outputs.list.new")));
}

TEST_F(StopPost, makes_safe_what_ran_when_all_hosts_were_killed) {
  Bench b(kPlugins, "{}", list);
  const OutputPlan own = [&] {
    OutputPlan p = plan("mat", "simulated", file_wiring(path("m")));
    p.own_process = true;
    return p;
  }();
  b.drivers.want({plan("fan", "simulated", file_wiring(path("f")), seconds(3), kRun),
                  plan("mist", "simulated", file_wiring(path("w"))), own});
  for (const char* id : {"fan", "mist", "mat"}) {
    ASSERT_TRUE(b.until_health(id, OutputHealth::ready));
    b.command(id, std::string(id) == "fan" ? kRest : kRun);
  }
  const auto last = [&](const char* name) { return simulated_lines(path(name)).back().level; };
  ASSERT_TRUE(
      b.until([&] { return last("f") == kRest && last("w") == kRun && last("m") == kRun; }));
  // The loop does not turn: this side of the hosts is as dead as a killed daemon's.
  const int pids[] = {b.pid("fan"), b.pid("mat")};
  for (const int pid : pids) ASSERT_EQ(::kill(pid, SIGKILL), 0);
  const std::int64_t killed = now_ns();
  const parts::Ran ran = timed(list, "three outputs of one driver", seconds(2));
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_NE(ran.err.find("3 of 3 outputs made safe"), std::string::npos) << ran.err;
  EXPECT_EQ(last("f"), kRun) << "safe is not always rest";
  for (const char* name : {"w", "m"}) {
    EXPECT_EQ(last(name), kRest);
    EXPECT_LT(simulated_lines(path(name)).back().ns - killed, 2'000'000'000) << name;
  }
  const parts::Ran again = make_safe(list);
  EXPECT_EQ(again.status, 0) << "once more does no harm";
}

TEST_F(StopPost, no_list_means_that_nothing_was_in_use) {
  const parts::Ran ran = make_safe(list);
  EXPECT_EQ(ran.status, 0);
  EXPECT_NE(ran.err.find("there is no " + list.string()), std::string::npos) << ran.err;
}

TEST_F(StopPost, a_broken_entry_is_named_and_the_others_are_made_safe) {
  folder.write("outputs.list", line(simulated, "a", file_wiring(path("a"))) + "\n{\"plugin\":\n" +
                                   line(kPlugins + "/none.so", "b", "{}") + "\n" +
                                   line(simulated, "c", R"({"fill":"x"})") + "\n" +
                                   line(simulated, "d", file_wiring(path("d"))) + "\nend 5\n");
  const parts::Ran ran = timed(list, "broken entries", seconds(2));
  EXPECT_EQ(ran.status, 1);
  for (const char* piece :
       {"line 2: not JSON", "tub/b cannot be made safe, go and look: ", "none.so: No such file",
        "tub/c cannot be made safe, go and look: ", "2 of 4 outputs made safe"}) {
    EXPECT_NE(ran.err.find(piece), std::string::npos) << piece << "\n" << ran.err;
  }
  for (const char* name : {"a", "d"}) EXPECT_EQ(simulated_lines(path(name)).size(), 2u) << name;
}

TEST_F(StopPost, a_list_that_is_cut_off_is_told_and_what_is_there_is_made_safe) {
  const std::string whole = line(simulated, "a", file_wiring(path("a"))) + "\n" +
                            line(simulated, "b", file_wiring(path("b"))) + "\nend 2\n";
  for (const std::size_t cut : {whole.size() - 1, whole.size() - 7, whole.size() - 20}) {
    folder.write("outputs.list", whole.substr(0, cut));
    const std::size_t before = simulated_lines(path("a")).size();
    const parts::Ran ran = make_safe(list);
    EXPECT_GT(simulated_lines(path("a")).size(), before);
    const bool only_a_line_break_is_missing = cut == whole.size() - 1;
    EXPECT_EQ(ran.status, only_a_line_break_is_missing ? 0 : 1) << ran.err;
    EXPECT_EQ(ran.err.find("cut off") == std::string::npos, only_a_line_break_is_missing);
  }
  folder.write("outputs.list", "");
  EXPECT_EQ(make_safe(list).status, 1) << "an empty file is no list";
}

TEST_F(StopPost, a_driver_that_hangs_or_crashes_keeps_nobody_from_being_made_safe) {
  const auto mark = path("hung");
  ::setenv("FAULTY_HUNG", mark.c_str(), 1);
  folder.write("hung", "");
  // hang_always hangs in make_safe; crash_in_open takes its process with it, whichever is open.
  folder.write("outputs.list",
               line(kFaulty + "/hang_always.so", "h1", file_wiring(path("h1"))) + "\n" +
                   line(kFaulty + "/crash_in_open.so", "c1", file_wiring(path("c1"))) + "\n" +
                   line(kFaulty + "/crash_in_open.so", "c2", file_wiring(path("c2"))) + "\n" +
                   line(simulated, "a", file_wiring(path("a"))) + "\nend 4\n");
  const std::int64_t began = now_ns();
  const parts::Ran ran = timed(list, "a hanging and a crashing driver", milliseconds(2000));
  ::unsetenv("FAULTY_HUNG");
  EXPECT_EQ(ran.status, 1);
  for (const char* id : {"h1", "c1", "c2"}) {
    EXPECT_NE(ran.err.find("tub/" + std::string(id) + " cannot be made safe"), std::string::npos)
        << ran.err;
  }
  EXPECT_NE(ran.err.find("make_safe did not return within 800 ms"), std::string::npos) << ran.err;
  EXPECT_NE(ran.err.find("1 of 4 outputs made safe"), std::string::npos) << ran.err;
  ASSERT_FALSE(simulated_lines(path("a")).empty());
  EXPECT_LT(simulated_lines(path("a")).front().ns - began, 500'000'000) << "it waits for no other";
}

TEST_F(StopPost, what_a_hung_output_left_behind_is_made_safe_by_a_second_try) {
  // Of one driver: the first hangs while its file is named in FAULTY_HUNG_AT, the second does not.
  ::setenv("FAULTY_HUNG", path("none").c_str(), 1);
  ::setenv("FAULTY_HUNG_AT", path("h1").c_str(), 1);
  folder.write("outputs.list",
               line(kFaulty + "/hang_always.so", "h1", file_wiring(path("h1"))) + "\n" +
                   line(kFaulty + "/hang_always.so", "h2", file_wiring(path("h2"))) + "\nend 2\n");
  const parts::Ran ran = timed(list, "the first of two hangs", seconds(2));
  ::unsetenv("FAULTY_HUNG");
  ::unsetenv("FAULTY_HUNG_AT");
  EXPECT_EQ(ran.status, 1);
  const auto second = faulty_lines(path("h2"));
  ASSERT_GE(second.size(), 2u) << ran.err;
  EXPECT_EQ(second[1].call, "safe");
  EXPECT_NE(ran.err.find("1 of 2 outputs made safe"), std::string::npos) << ran.err;
}

TEST_F(StopPost, a_relay_hears_its_safe_payload_and_a_broker_that_is_away_costs_a_second) {
  parts::Mosquitto broker;
  const std::string wiring = R"({"topic":"cellar/mist","run":"1","rest":"0"})";
  folder.write("outputs.list",
               line(kPlugins + "/mqtt_relay.so", "mist", wiring, kRest, site(broker.url())) + "\n" +
                   line(simulated, "a", file_wiring(path("a"))) + "\nend 2\n");
  {
    parts::Listener relay(broker.url(), {"cellar/mist"});
    const parts::Ran ran = timed(list, "a relay behind a broker", seconds(2));
    EXPECT_EQ(ran.status, 0) << ran.err;
    EXPECT_TRUE(relay.wait_for(
        "cellar/mist", [](const parts::Heard& h) { return h.payload == "0"; }, 1s));
  }
  broker.kill();
  const std::int64_t began = now_ns();
  const parts::Ran ran = timed(list, "the broker is away", seconds(2));
  EXPECT_EQ(ran.status, 1);
  EXPECT_NE(ran.err.find("tub/mist cannot be made safe, go and look: out of reach"),
            std::string::npos)
      << ran.err;
  EXPECT_LT(simulated_lines(path("a")).back().ns - began, 500'000'000) << "it waits for no broker";
}

TEST_F(StopPost, a_journal_that_stands_still_holds_nothing_up) {
  const std::string pipe = path("journal").string();
  ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
  const int journal = ::open(pipe.c_str(), O_RDWR | O_NONBLOCK | O_CLOEXEC);
  ASSERT_GE(journal, 0);
  const std::string page(4096, 'x');
  while (::write(journal, page.data(), page.size()) > 0) continue;  // full, and never read
  folder.write("outputs.list", line(simulated, "a", file_wiring(path("a"))) + "\n" +
                                   line(kPlugins + "/none.so", "b", "{}") + "\nend 2\n");
  const parts::Ran ran = parts::run(
      {"sh", "-c", "exec " + kHost + " --make-safe " + list.string() + " 2>" + pipe}, 5s);
  ::close(journal);
  EXPECT_EQ(ran.status, 1);
  EXPECT_FALSE(simulated_lines(path("a")).empty());
}

}  // namespace
}  // namespace tubwarden
