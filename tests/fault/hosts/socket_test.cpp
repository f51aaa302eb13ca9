// What comes over the socket between daemon and host that should not, and what nobody reads.
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>

#include "sdk/protocol.hpp"
#include "shell/hosts/spawn.hpp"
#include "system/hosts/bench.hpp"

namespace tubwarden {
namespace {

using namespace bench;

std::uint64_t boot_ns() {
  timespec t{};
  ::clock_gettime(CLOCK_BOOTTIME, &t);
  return static_cast<std::uint64_t>(t.tv_sec) * 1'000'000'000ULL +
         static_cast<std::uint64_t>(t.tv_nsec);
}

/// A host whose daemon is this test, by bare packets.
class BareHost {
 public:
  explicit BareHost(const std::string& plugin) {
    if (::socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends_) != 0) std::abort();
    const auto pid = spawn_with(
        kHost, {kHost, "--plugin", kPlugins + "/" + plugin + ".so", "--fd", "3"}, {ends_[1]});
    if (!pid) std::abort();
    pid_ = *pid;
    ::close(ends_[1]);
  }
  ~BareHost() {
    hang_up();
    if (pid_ > 0) ::kill(pid_, SIGKILL), ::waitpid(pid_, nullptr, 0);
  }
  BareHost(const BareHost&) = delete;
  BareHost& operator=(const BareHost&) = delete;

  /// Waits for room: what is sent here arrives.
  void raw(std::string_view packet) {
    ::send(ends_[0], packet.data(), packet.size(), MSG_NOSIGNAL);
  }
  void say(const protocol::ToHost& message) { raw(protocol::encode(message)); }
  template <class Message>
  bool hears() {
    return parts::wait_until(
        [&] {
          while (protocol::receive_packet(ends_[0], packet_) == protocol::Received::packet) {
            const auto message = protocol::decode_to_daemon(packet_);
            if (message && std::holds_alternative<Message>(*message)) return true;
          }
          return false;
        },
        10s);
  }
  void hang_up() {
    if (ends_[0] >= 0) ::close(ends_[0]);
    ends_[0] = -1;
  }
  /// Its exit code, once it has ended.
  int end() {
    int status = -1;
    ::waitpid(std::exchange(pid_, 0), &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }

 private:
  int ends_[2] = {-1, -1};
  pid_t pid_ = 0;
  std::string packet_;
};

TEST(HostSocket, garbage_and_oversized_packets_and_answers_nobody_reads_stop_no_lease) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  BareHost host("simulated");
  host.say(protocol::Open{1, "tub/fan", file_wiring(file), "{}", 0, 1500, 0});
  ASSERT_TRUE(host.hears<protocol::Opened>());
  const std::string oversized(100'000, '{');
  for (int i = 0; i < 2000; ++i) {  // thousands of "not understood" that are never read
    host.raw("\xff\xfe no json");
    host.raw(R"({"do":"apply","output":1,"level":)");
    host.raw(R"({"do":"apply","output":1,"level":1001,"run_ms":0,"lease_ms":1500,)"
             R"("sequence":9,"sent_ns":0})");
    host.raw(R"({"do":"open","output":1})");
    if (i % 100 == 0) host.raw(oversized);
  }
  EXPECT_EQ(simulated_lines(file).size(), 1u) << "nothing of it is a command";
  host.say(protocol::Apply{1, kRun, 0, 1500, 10, boot_ns()});
  ASSERT_TRUE(parts::wait_until([&] { return simulated_lines(file).back().level == kRun; }, 10s));
  const std::int64_t ran = simulated_lines(file).back().ns;
  ASSERT_TRUE(parts::wait_until([&] { return simulated_lines(file).back().level == kRest; }, 10s));
  const Duration held(simulated_lines(file).back().ns - ran);
  std::printf("unread_host_fell_ms %.1f (lease 1500 ms)\n", 1000.0 * seconds_of(held));
  EXPECT_LE(held, milliseconds(1500 + 500));
  host.hang_up();
  EXPECT_EQ(host.end(), protocol::kExitDone);
}

TEST(HostSocket, a_lease_that_came_late_switches_nothing) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  BareHost host("simulated");
  host.say(protocol::Open{1, "tub/fan", file_wiring(file), "{}", 0, 1500, 0});
  ASSERT_TRUE(host.hears<protocol::Opened>());
  host.say(protocol::Apply{1, kRun, 0, 1500, 1, boot_ns() - 1'500'000'000ULL});
  host.say(protocol::Close{1});
  ASSERT_TRUE(host.hears<protocol::Closed>());
  for (const Line& line : simulated_lines(file)) EXPECT_EQ(line.level, kRest);
}

TEST(HostSocket, garbage_from_a_host_is_told_and_its_output_goes_on) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  Bench b(kFaulty);
  b.drivers.want({plan("fan", "garbage", file_wiring(file))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  const int pid = b.pid("fan");
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return b.said("its packet was not understood"); }));
  b.command("fan", kRest);
  ASSERT_TRUE(b.until([&] {
    const auto lines = faulty_lines(file);
    return lines.back().call == "apply" && lines.back().level == kRest;
  }));
  EXPECT_EQ(b.pid("fan"), pid);
  EXPECT_EQ(b.health("fan"), OutputHealth::ready);
}

TEST(HostSocket,
     a_driver_that_never_stops_talking_to_a_frozen_daemon_loses_its_lease_all_the_same) {
  const parts::TempFolder folder;
  const auto file = folder.path() / "relay";
  ASSERT_EQ(::mkfifo((folder.path() / "orders").c_str(), 0600), 0);
  parts::Process supervisor(
      {SUPERVISOR, (folder.path() / "orders").string(), kHost, kFaulty, "{}"});
  std::ofstream orders(folder.path() / "orders");
  orders << "output tub fan chatter 0 900 0 " << file_wiring(file) << "\nwant" << std::endl;
  ASSERT_TRUE(parts::wait_until(
      [&] { return supervisor.out().find("report tub/fan ready") != std::string::npos; }, 10s));
  orders << "command tub fan 1000 0" << std::endl;
  ASSERT_TRUE(parts::wait_until([&] { return faulty_lines(file).back().level == kRun; }, 10s));
  const auto stopped = static_cast<std::int64_t>(boot_ns());
  supervisor.signal(SIGSTOP);
  ASSERT_TRUE(parts::wait_until([&] { return faulty_lines(file).back().call == "safe"; }, 10s));
  const Duration took(faulty_lines(file).back().ns - stopped);
  std::printf("chattering_host_fell_ms %.1f (lease 900 ms)\n", 1000.0 * seconds_of(took));
  EXPECT_LT(took, milliseconds(900 + 500));
  supervisor.signal(SIGCONT);
  EXPECT_TRUE(
      parts::wait_until([&] { return supervisor.err().find("lost") != std::string::npos; }, 10s))
      << "what a full buffer costs is counted and told";
}

}  // namespace
}  // namespace tubwarden
