#include "sdk/protocol.hpp"

#include <gtest/gtest.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>

namespace tubwarden::protocol {
namespace {

TEST(Protocol, every_message_to_a_host_survives_the_way) {
  const std::vector<ToHost> all = {
      Open{7, "tub/mister", R"({"topic":"a"})", R"({"site":"cellar"})", 1000, 15000, 3000},
      Apply{7, 400, 2500, 15000, 18'000'000'000'000'000'000ULL, 42},
      Renew{7, 15000, 9, 43},
      MakeSafe{4'294'967'295U},
      Close{0},
      Deliver{3, "{}", "{}", R"({"title":"\"quoted\" and \n"})"}};
  for (const ToHost& message : all) {
    const Result<ToHost> back = decode_to_host(encode(message));
    ASSERT_TRUE(back.ok()) << back.error().text;
    EXPECT_EQ(*back, message) << encode(message);
  }
}

TEST(Protocol, every_message_to_the_daemon_survives_the_way) {
  const std::vector<ToDaemon> all = {Opened{1, true},
                                     Closed{2},
                                     Confirm{3, 1000},
                                     Reach{4, false, "the broker is away"},
                                     Fell{5, 6},
                                     Said{SayLevel::warning, "dry"},
                                     Failed{std::nullopt, Failure::load, "no entry"},
                                     Failed{0, Failure::unsafe, "stuck"},
                                     Delivered{8, false, true, "exit code 1"},
                                     Held{{{"memory", true, "128 MiB"}, {"files", false, "no"}}}};
  for (const ToDaemon& message : all) {
    const Result<ToDaemon> back = decode_to_daemon(encode(message));
    ASSERT_TRUE(back.ok()) << back.error().text;
    EXPECT_EQ(*back, message) << encode(message);
  }
}

TEST(Protocol, a_safe_runs_list_and_a_description_survive_the_way) {
  const SafeRun run{"/lib/x.so", {Open{1, "a/b", "{}", "{}", 0, 3000, 0}}};
  EXPECT_EQ(*decode_safe_run(encode(run)), run);
  const Description told{
      "x",
      true,
      true,
      true,
      true,
      true,
      {{"line", "text", "", std::nullopt, "Which."}, {"n", "integer", "1..9", "3", ""}}};
  EXPECT_EQ(*decode_description(encode(told)), told);
}

struct Malformed {
  const char* packet;
  const char* word;
};

TEST(Protocol, what_is_malformed_is_refused_with_a_reason) {
  const std::vector<Malformed> all = {
      {"", "not JSON"},
      {"{\"do\":\"apply\"", "not JSON"},
      {"[1,2]", "one JSON object"},
      {"{}", "do is missing"},
      {R"({"do":5})", "do is not text"},
      {R"({"do":"explode"})", "unknown message 'explode'; known: open, apply"},
      {R"({"do":"close"})", "output is missing"},
      {R"({"do":"close","output":-1})", "not a whole number"},
      {R"({"do":"close","output":1.5})", "not a whole number"},
      {R"({"do":"close","output":4294967296})", "output is out of range"},
      {R"({"do":"apply","output":1,"level":1001,"run_ms":0,"lease_ms":1,"sequence":1,"sent_ns":0})",
       "above 1000 permille"}};
  for (const Malformed& each : all) {
    const Result<ToHost> result = decode_to_host(each.packet);
    ASSERT_FALSE(result.ok()) << each.packet;
    EXPECT_NE(result.error().text.find(each.word), std::string::npos) << result.error().text;
  }
}

TEST(Protocol, words_that_are_not_utf8_do_not_stop_the_sender) {
  const Result<ToDaemon> back =
      decode_to_daemon(encode(ToDaemon(Said{SayLevel::info, "\xff\xfe"})));
  ASSERT_TRUE(back.ok());
  EXPECT_TRUE(std::holds_alternative<Said>(*back));
}

TEST(Protocol, the_hung_packet_is_written_without_the_encoder_and_understood_by_the_decoder) {
  std::array<char, 256> buffer{};
  const std::size_t length =
      encode_hung(buffer.data(), buffer.size(), Failure::hung, 12, "apply", 1500);
  const Result<ToDaemon> back = decode_to_daemon({buffer.data(), length});
  ASSERT_TRUE(back.ok()) << back.error().text;
  EXPECT_EQ(*back, ToDaemon(Failed{12, Failure::hung, "apply did not return within 1500 ms"}));
  EXPECT_EQ(encode_hung(buffer.data(), 20, Failure::hung, 12, "apply", 1500), 0u);
}

class Pair : public testing::Test {
 protected:
  void SetUp() override {
    ASSERT_EQ(::socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends_.data()), 0);
  }
  void TearDown() override {
    for (const int end : ends_) {
      if (end >= 0) ::close(end);
    }
  }
  std::array<int, 2> ends_{-1, -1};
};

TEST_F(Pair, packets_keep_their_bounds_and_the_end_is_seen) {
  std::string packet;
  EXPECT_EQ(receive_packet(ends_[1], packet), Received::nothing);
  EXPECT_TRUE(send_packet(ends_[0], "one"));
  EXPECT_TRUE(send_packet(ends_[0], "two"));
  EXPECT_EQ(receive_packet(ends_[1], packet), Received::packet);
  EXPECT_EQ(packet, "one");
  ::close(ends_[0]);
  ends_[0] = -1;
  EXPECT_EQ(receive_packet(ends_[1], packet), Received::packet);
  EXPECT_EQ(packet, "two");
  EXPECT_EQ(receive_packet(ends_[1], packet), Received::gone);
  EXPECT_FALSE(send_packet(ends_[1], "to nobody")) << "and no SIGPIPE";
}

TEST_F(Pair, the_limit_of_a_packet_holds) {
  EXPECT_TRUE(send_packet(ends_[0], std::string(kPacketMax, 'x')));
  EXPECT_FALSE(send_packet(ends_[0], std::string(kPacketMax + 1, 'x')));
  EXPECT_FALSE(send_packet(ends_[0], "")) << "0 bytes mean the end";
}

TEST_F(Pair, a_full_buffer_does_not_block) {
  int sent = 0;
  while (send_packet(ends_[0], std::string(4000, 'x'))) ++sent;
  EXPECT_GT(sent, 10);
}

}  // namespace
}  // namespace tubwarden::protocol
