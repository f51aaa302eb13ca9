// The Modbus driver with a device of libmodbus' own, over TCP and over a serial line of socat's.
#include <gtest/gtest.h>
#include <signal.h>

#include <algorithm>
#include <memory>
#include <ostream>

#include "system/hosts/bench.hpp"

namespace tubwarden {
namespace {

using namespace bench;

/// What a device noted: "boot_ns unit coil value", or "boot_ns word".
struct Note {
  std::int64_t ns = 0;
  std::string what;
};

std::vector<Note> notes(const std::filesystem::path& file) {
  std::vector<Note> all;
  std::ifstream in(file);
  for (std::string line; std::getline(in, line);) {
    const std::size_t space = line.find(' ');
    all.push_back({std::stoll(line.substr(0, space)), line.substr(space + 1)});
  }
  return all;
}

std::size_t count(const std::filesystem::path& file, const std::string& what) {
  const auto all = notes(file);
  return static_cast<std::size_t>(
      std::count_if(all.begin(), all.end(), [&](const Note& n) { return n.what == what; }));
}

class ModbusTest : public testing::Test {
 protected:
  OutputPlan coil(const std::string& actuator, int number, const std::string& more = "",
                  Level safe = kRest) const {
    OutputPlan result =
        plan(actuator, "modbus_coil",
             "{" + where_ + R"(,"coil":)" + std::to_string(number) + more + "}", seconds(3), safe);
    result.network = true;
    return result;
  }
  void start(std::vector<std::string> words) {
    const std::size_t before = count(journal(), "listening");
    words.insert(words.begin(), MODBUS_DEVICE);
    device_ = std::make_unique<parts::Process>(words);
    ASSERT_TRUE(parts::wait_until([&] { return count(journal(), "listening") > before; }, 5s));
  }
  std::filesystem::path journal() const { return folder_.path() / "journal"; }
  bool hears(Bench& b, const std::string& what, std::size_t times = 1,
             std::chrono::milliseconds limit = 5s) {
    return b.until([&] { return count(journal(), what) >= times; }, limit);
  }
  bool ready(Bench& b, const std::string& actuator) {
    return b.until_health(actuator, OutputHealth::ready);
  }

  /// `later` is noted after the last `earlier`.
  bool hears_after(Bench& b, const std::string& earlier, const std::string& later) {
    return b.until([&] {
      const auto all = notes(journal());
      const auto is = [](const std::string& what) {
        return [&what](const Note& n) { return n.what == what; };
      };
      const auto back = std::find_if(all.rbegin(), all.rend(), is(earlier));
      return back != all.rend() && std::find_if(all.rbegin(), back, is(later)) != back;
    });
  }

  const parts::TempFolder folder_;
  std::string where_;
  std::unique_ptr<parts::Process> device_;
};

class Tcp : public ModbusTest {
 protected:
  Tcp() : port_(parts::free_port()) {
    where_ = R"("host":"127.0.0.1","port":)" + std::to_string(port_);
    start_device();
  }
  void start_device() { start({"tcp", std::to_string(port_), journal().string(), "1", "7"}); }

  std::uint16_t port_;
};

TEST_F(Tcp, a_run_is_switched_on_and_off_to_time) {
  Bench b;
  b.drivers.want({coil("mister", 3)});
  ASSERT_TRUE(ready(b, "mister")) << b.last_why("mister");
  ASSERT_TRUE(hears(b, "1 3 0")) << "safe once it is open";
  b.command("mister", kRun, milliseconds(300));
  ASSERT_TRUE(hears_after(b, "1 3 1", "1 3 0"));
  const auto all = notes(journal());
  const auto run =
      std::find_if(all.begin(), all.end(), [](const Note& n) { return n.what == "1 3 1"; });
  ASSERT_NE(run, all.end());
  const double ran_ms = static_cast<double>(all.back().ns - run->ns) / 1e6;
  std::printf("modbus_run_error_ms %.2f (asked 300 ms, TCP)\n", ran_ms - 300.0);
  EXPECT_NEAR(ran_ms, 300.0, 50.0);
}

TEST_F(Tcp, several_coils_and_units_share_one_connection) {
  Bench b;
  b.drivers.want({coil("mister", 3), coil("fan", 4, R"(,"inverted":true)", kRun),
                  coil("mat", 3, R"(,"unit":7)")});
  for (const char* each : {"mister", "fan", "mat"}) {
    ASSERT_TRUE(ready(b, each)) << b.last_why(each);
    b.command(each, kRun);
  }
  EXPECT_TRUE(hears(b, "1 3 1"));
  EXPECT_TRUE(hears(b, "7 3 1"));
  EXPECT_TRUE(hears(b, "1 4 0")) << "an inverted coil is off while it runs, and when safe so";
  EXPECT_EQ(count(journal(), "1 4 1"), 0u);
  EXPECT_EQ(count(journal(), "connect"), 1u);
  EXPECT_TRUE(b.stop());
  EXPECT_TRUE(hears_after(b, "7 3 1", "7 3 0"));
}

TEST_F(Tcp, a_connection_that_the_device_ended_is_made_again_within_the_command) {
  Bench b;
  b.drivers.want({coil("mister", 3)});
  ASSERT_TRUE(ready(b, "mister"));
  device_.reset();
  start_device();
  b.reports.clear();
  b.command("mister", kRun);
  ASSERT_TRUE(hears(b, "1 3 1"));
  EXPECT_EQ(b.health("mister"), OutputHealth::ready);
  for (const OutputReport& report : b.reports) {
    EXPECT_NE(report.health, OutputHealth::starting) << report.why;
  }
}

TEST_F(Tcp, a_device_that_is_gone_is_told_and_made_safe_on_its_return) {
  Bench b;
  b.drivers.want({coil("mister", 3)});
  ASSERT_TRUE(ready(b, "mister"));
  b.command("mister", kRun);
  ASSERT_TRUE(hears(b, "1 3 1"));
  device_.reset();
  b.command("mister", kRest);
  ASSERT_TRUE(b.until_health("mister", OutputHealth::starting));
  EXPECT_NE(b.last_why("mister").find("127.0.0.1:" + std::to_string(port_)), std::string::npos)
      << b.last_why("mister");
  start_device();
  EXPECT_TRUE(b.until_health("mister", OutputHealth::ready, 15s));
  EXPECT_TRUE(hears_after(b, "1 3 1", "1 3 0"));
}

TEST_F(Tcp, a_silent_device_costs_a_command_not_the_host) {
  Bench b;
  b.drivers.want({coil("mister", 3)});
  ASSERT_TRUE(ready(b, "mister"));
  const int host = b.pid("mister");
  b.command("mister", kRun);
  ASSERT_TRUE(hears(b, "1 3 1"));
  b.command("mister", kRest);
  ASSERT_TRUE(hears_after(b, "1 3 1", "1 3 0"));
  device_->signal(SIGUSR1);
  const std::size_t before = count(journal(), "1 3 0");
  b.command("mister", kRun);
  ASSERT_TRUE(b.until_health("mister", OutputHealth::starting));
  EXPECT_NE(b.last_why("mister").find("timed out"), std::string::npos) << b.last_why("mister");
  device_->signal(SIGUSR2);
  EXPECT_TRUE(b.until_health("mister", OutputHealth::ready, 15s)) << b.last_why("mister");
  EXPECT_TRUE(hears(b, "1 3 0", before + 1)) << "what was asked for meanwhile is over";
  EXPECT_EQ(count(journal(), "1 3 1"), 1u);
  EXPECT_EQ(b.pid("mister"), host);
}

TEST_F(Tcp, a_device_that_refuses_is_told_with_its_words) {
  Bench b;
  b.drivers.want({coil("mister", 3)});
  ASSERT_TRUE(ready(b, "mister"));
  device_->signal(SIGHUP);
  b.command("mister", kRun);
  EXPECT_TRUE(b.until([&] { return b.said("Slave device or server failure"); }));
  EXPECT_TRUE(b.until_health("mister", OutputHealth::unsafe)) << "it cannot be made safe either";
}

TEST_F(Tcp, a_coil_that_the_device_does_not_have_is_told) {
  Bench b;
  b.drivers.want({coil("mister", 99)});
  EXPECT_TRUE(b.until([&] { return b.said("Illegal data address"); }));
}

TEST_F(Tcp, a_unit_that_does_not_answer_leaves_the_others_alone) {
  Bench b;
  b.drivers.want({coil("mister", 3), coil("fan", 1, R"(,"unit":9)")});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::starting));
  ASSERT_TRUE(ready(b, "mister")) << b.last_why("mister");
  for (std::size_t i = 1; i <= 5; ++i) {
    b.command("mister", kRun);
    ASSERT_TRUE(hears(b, "1 3 1", i));
  }
  EXPECT_EQ(b.health("mister"), OutputHealth::ready);
  EXPECT_EQ(b.health("fan"), OutputHealth::starting);
}

TEST_F(Tcp, what_is_read_back_confirms_and_a_hand_at_the_device_is_noticed) {
  Bench b;
  b.drivers.want({coil("mister", 0, R"(,"read_back":true)")});
  ASSERT_TRUE(ready(b, "mister"));
  b.command("mister", kRun);
  const auto confirmed = [&](Level level) {
    return b.until(
        [&] {
          return std::any_of(b.reports.begin(), b.reports.end(), [&](const OutputReport& r) {
            return r.confirmed == std::optional<Level>(level);
          });
        },
        5s);
  };
  ASSERT_TRUE(confirmed(kRun));
  b.reports.clear();
  device_->signal(SIGINT);
  EXPECT_TRUE(confirmed(kRest));
  EXPECT_TRUE(b.until_health("mister", OutputHealth::unconfirmed, 10s));
}

TEST_F(Tcp, kill_9_of_the_host_is_made_good_by_the_next) {
  Bench b;
  b.drivers.want({coil("mister", 3)});
  ASSERT_TRUE(ready(b, "mister"));
  b.command("mister", kRun);
  ASSERT_TRUE(hears(b, "1 3 1"));
  ASSERT_EQ(::kill(b.pid("mister"), SIGKILL), 0);
  EXPECT_TRUE(hears_after(b, "1 3 1", "1 3 0"));
}

TEST_F(Tcp, one_coil_has_one_output) {
  Bench b;
  b.drivers.want({coil("mister", 3), coil("fan", 3)});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::failed_safe));
  EXPECT_NE(b.last_why("fan").find("coil 3 of unit 1"), std::string::npos) << b.last_why("fan");
  EXPECT_TRUE(ready(b, "mister"));
}

/// Two ends of a serial line, and the device at one of them.
class Rtu : public ModbusTest {
 protected:
  Rtu() {
    // A line of two pseudo terminals has neither speed nor parity.
    where_ = R"("device":")" + end("a") + R"(","baud":19200)";
    plug();
  }
  std::string end(const std::string& name) const { return (folder_.path() / name).string(); }
  void plug() {
    line_ = std::make_unique<parts::Process>(std::vector<std::string>{
        "socat", "pty,raw,echo=0,link=" + end("a"), "pty,raw,echo=0,link=" + end("b")});
    ASSERT_TRUE(parts::wait_until(
        [&] { return std::filesystem::exists(end("a")) && std::filesystem::exists(end("b")); },
        5s));
    start({"rtu", end("b"), journal().string(), "5"});
  }
  void unplug() {
    device_.reset();
    line_.reset();
    std::filesystem::remove(end("a"));
    std::filesystem::remove(end("b"));
  }

  std::unique_ptr<parts::Process> line_;
};

TEST_F(Rtu, coils_of_a_unit_are_switched_and_an_absent_unit_leaves_them_alone) {
  Bench b;
  b.drivers.want({coil("mister", 2, R"(,"unit":5)"), coil("fan", 15, R"(,"unit":5)"),
                  coil("mat", 0, R"(,"unit":6)")});
  ASSERT_TRUE(ready(b, "mister")) << b.last_why("mister");
  ASSERT_TRUE(ready(b, "fan")) << b.last_why("fan");
  b.command("mister", kRun, milliseconds(300));
  b.command("fan", kRun);
  EXPECT_TRUE(hears(b, "5 2 1"));
  EXPECT_TRUE(hears(b, "5 15 1"));
  EXPECT_TRUE(hears_after(b, "5 2 1", "5 2 0"));
  EXPECT_TRUE(b.until_health("mat", OutputHealth::starting));
  EXPECT_EQ(b.health("mister"), OutputHealth::ready);
}

TEST_F(Rtu, a_line_that_is_unplugged_is_told_and_made_safe_on_its_return) {
  Bench b;
  b.drivers.want({coil("mister", 2, R"(,"unit":5)")});
  ASSERT_TRUE(ready(b, "mister")) << b.last_why("mister");
  b.command("mister", kRun);
  ASSERT_TRUE(hears(b, "5 2 1"));
  unplug();
  b.command("mister", kRest);
  ASSERT_TRUE(b.until_health("mister", OutputHealth::starting));
  plug();
  EXPECT_TRUE(b.until_health("mister", OutputHealth::ready, 15s)) << b.last_why("mister");
  EXPECT_TRUE(hears_after(b, "5 2 1", "5 2 0"));
}

TEST_F(Rtu, a_line_has_one_process) {
  Bench b;
  OutputPlan alone = coil("fan", 3, R"(,"unit":5)");
  alone.own_process = true;
  b.drivers.want({coil("mister", 2, R"(,"unit":5)")});
  ASSERT_TRUE(ready(b, "mister")) << b.last_why("mister");
  b.drivers.want({coil("mister", 2, R"(,"unit":5)"), alone});
  ASSERT_TRUE(b.until([&] {
    return b.last_why("fan").find("in use by another process") != std::string::npos;
  })) << b.last_why("fan");
}

TEST_F(Rtu, one_line_has_one_setting) {
  Bench b;
  b.drivers.want({coil("mister", 2, R"(,"unit":5)"), coil("fan", 3, R"(,"timeout":"100ms")")});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::failed_safe));
  EXPECT_NE(b.last_why("fan").find("with other settings"), std::string::npos) << b.last_why("fan");
}

struct Wrong {
  const char* wiring;
  const char* word;
};
void PrintTo(const Wrong& w, std::ostream* out) { *out << w.wiring; }
class ModbusWiring : public testing::TestWithParam<Wrong> {};

TEST_P(ModbusWiring, that_is_wrong_is_named) {
  Bench b;
  b.drivers.want({plan("fan", "modbus_coil", GetParam().wiring)});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::failed_safe));
  EXPECT_NE(b.last_why("fan").find(GetParam().word), std::string::npos) << b.last_why("fan");
}

INSTANTIATE_TEST_SUITE_P(
    Wirings, ModbusWiring,
    testing::Values(Wrong{R"({"coil":1})", "one of the two"},
                    Wrong{R"({"coil":1,"host":"x","device":"/dev/x"})", "one of the two"},
                    Wrong{R"({"host":"x"})", "coil is ''; allowed: 0 to 65535"},
                    Wrong{R"({"host":"x","coil":-1})", "coil is '-1'"},
                    Wrong{R"({"host":"x","coil":"1x"})", "coil is '1x'"},
                    Wrong{R"({"host":"x","coil":1,"unit":250})", "1 to 247, or 255 over TCP"},
                    Wrong{R"({"device":"/dev/x","coil":1,"unit":255})", "255 over TCP"},
                    Wrong{R"({"host":"x","coil":1,"port":0})", "1 to 65535"},
                    Wrong{R"({"host":"x","coil":1,"timeout":"2s"})", "timeout is '2000'"},
                    Wrong{R"({"device":"/dev/x","coil":1,"parity":"mark"})", "none, even, odd"},
                    Wrong{R"({"host":"x","coil":1,"inverted":"maybe"})", "true, false"}));

}  // namespace
}  // namespace tubwarden
