// Channels behind hosts, with real programs that note what they were given.
#include <gtest/gtest.h>
#include <signal.h>

#include <boost/asio/io_context.hpp>

#include "bench.hpp"
#include "shell/hosts/host_channels.hpp"

namespace tubwarden {
namespace {

using namespace bench;

struct Report {
  std::string channel;
  bool delivered = false;
  std::string why;
  Delivery::Outcome outcome = Delivery::Outcome::delivered;
  std::string key;
};

class ChannelsTest : public testing::Test {
 protected:
  ChannelsTest()
      : channels_(loop_, {kHost, kPlugins, "{}",
                          [this](HostWord, std::string_view text) { words_.emplace_back(text); }}) {
    channels_.start([this](const Delivery& d) {
      reports_.push_back(
          {d.channel, d.outcome == Delivery::Outcome::delivered, d.why, d.outcome, d.key});
    });
  }
  ~ChannelsTest() override {
    bool stopped = false;
    channels_.stop([&] { stopped = true; });
    EXPECT_TRUE(until([&] { return stopped; }));
  }
  bool until(const std::function<bool()>& sign, std::chrono::milliseconds limit = 20s) {
    const auto end = std::chrono::steady_clock::now() + limit;
    while (!sign()) {
      if (std::chrono::steady_clock::now() > end) return false;
      loop_.restart();
      loop_.run_for(2ms);
    }
    return true;
  }
  /// A shell script below the test's folder, as a wiring.
  std::string script(const std::string& name, const std::string& text,
                     const std::string& more = "") {
    folder_.write(name, "#!/bin/sh\ncd " + folder_.path().string() + "\n" + text + "\n");
    std::filesystem::permissions(folder_.path() / name, std::filesystem::perms::owner_all);
    return R"({"argv":[")" + (folder_.path() / name).string() + R"(","one word"])" + more + "}";
  }
  ChannelPlan plan(const std::string& id, const std::string& wiring,
                   std::vector<AlertRank> ranks = {}) const {
    return {id, "program", wiring, std::move(ranks)};
  }
  std::string read(const std::string& name) const {
    std::ifstream in(folder_.path() / name);
    return {std::istreambuf_iterator<char>(in), {}};
  }

  const Notice notice_{"tub-1.humidity_low#7", AlertRank::now, "tub-1: $(touch pwned) too dry",
                       "since 10:00; \"81 %\"\nband 85..90"};
  parts::TempFolder folder_;
  boost::asio::io_context loop_;
  std::vector<std::string> words_;
  std::vector<Report> reports_;
  HostChannels channels_;
};

TEST_F(ChannelsTest, a_program_reads_the_message_on_stdin_and_nothing_of_it_as_an_argument) {
  channels_.want(
      {plan("phone", script("note", "cat > got; env > variables; echo \"$# $1\" > arguments"))});
  channels_.deliver(notice_);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_TRUE(reports_[0].delivered) << reports_[0].why;
  EXPECT_EQ(read("got"), R"({"key":"tub-1.humidity_low#7","rank":"now","state":"raised",)"
                         R"("text":"since 10:00; \"81 %\"\nband 85..90",)"
                         R"("title":"tub-1: $(touch pwned) too dry"})");
  EXPECT_EQ(read("arguments"), "1 one word\n");
  EXPECT_FALSE(std::filesystem::exists(folder_.path() / "pwned"));
  std::istringstream variables(read("variables"));
  for (std::string line; std::getline(variables, line);) {
    const std::string name = line.substr(0, line.find('='));
    if (name.starts_with("TUBWARDEN_")) continue;
    EXPECT_TRUE(name == "PATH" || name == "LANG" || name == "PWD" || name == "OLDPWD" ||
                name == "_" || name == "SHLVL")
        << line;
  }
  EXPECT_EQ(channels_.waiting(), 0u);
  const std::string all = "\n" + read("variables");
  for (const char* line : {"\nTUBWARDEN_RANK=now\n", "\nTUBWARDEN_STATE=raised\n",
                           "\nTUBWARDEN_TITLE=tub-1: $(touch pwned) too dry\n",
                           "\nTUBWARDEN_KEY=tub-1.humidity_low#7\n"}) {
    EXPECT_NE(all.find(line), std::string::npos) << all;
  }
}

TEST_F(ChannelsTest, a_rank_that_a_channel_does_not_want_does_not_reach_it) {
  channels_.want({plan("phone", script("note", "cat >> got"), {AlertRank::today}),
                  plan("log", script("log", "cat > logged"), {AlertRank::now})});
  channels_.deliver(notice_);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_EQ(reports_[0].channel, "log");
  EXPECT_EQ(channels_.waiting(), 0u);
}

TEST_F(ChannelsTest, a_failure_is_told_with_its_words_after_three_tries_and_tried_on) {
  channels_.want({plan("phone", script("fail",
                                       "echo x >> tries; test -e healed && exit 0; "
                                       "echo no network >&2; exit 3"))});
  channels_.deliver(notice_);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_EQ(reports_[0].outcome, Delivery::Outcome::failing);
  EXPECT_NE(reports_[0].why.find("exit code 3: no network"), std::string::npos) << reports_[0].why;
  EXPECT_EQ(read("tries"), "x\nx\nx\n");
  ASSERT_EQ(channels_.views().size(), 1u);
  EXPECT_EQ(channels_.views()[0].waiting, 1u);
  EXPECT_EQ(channels_.views()[0].failures, 3);
  EXPECT_GT(channels_.views()[0].next_try, seconds(2)) << "1 s, 2 s, 4 s";
  folder_.write("healed", "");
  ASSERT_TRUE(until([&] { return reports_.size() == 2; }));
  EXPECT_TRUE(reports_[1].delivered);
  EXPECT_EQ(reports_[1].key, notice_.key) << "the same message";
  EXPECT_EQ(channels_.views()[0].failures, 0);
}

TEST_F(ChannelsTest, a_message_a_day_old_is_given_up) {
  channels_.want({plan("phone", script("fail", "exit 3"))});
  Notice old = notice_;
  old.age = hours(24) - milliseconds(500);
  channels_.deliver(old);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_EQ(reports_[0].outcome, Delivery::Outcome::given_up);
  EXPECT_EQ(channels_.waiting(), 0u);
}

TEST_F(ChannelsTest, a_message_goes_to_the_channels_it_names) {
  channels_.want({plan("phone", script("note", "cat > got")), plan("log", script("log", "cat > l")),
                  plan("mail", script("mail", "cat > m"), {AlertRank::noted})});
  Notice named = notice_;
  named.to = {"mail", "fax"};
  channels_.deliver(named);
  ASSERT_TRUE(until([&] { return reports_.size() == 2; }));
  EXPECT_EQ(reports_[0].channel, "fax") << "it is not there any more";
  EXPECT_EQ(reports_[0].outcome, Delivery::Outcome::given_up);
  EXPECT_EQ(reports_[1].channel, "mail") << "whatever its ranks";
  EXPECT_EQ(channels_.waiting(), 0u);
}

TEST_F(ChannelsTest, a_fleeting_message_is_tried_once_and_never_behind_others) {
  channels_.want({plan("phone", script("fail", "echo x >> tries; exit 3"))});
  Notice beat = notice_;
  beat.fleeting = true;
  channels_.deliver(beat);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_EQ(reports_[0].outcome, Delivery::Outcome::given_up);
  EXPECT_EQ(read("tries"), "x\n");
  channels_.deliver(notice_);
  channels_.deliver(beat);
  ASSERT_EQ(reports_.size(), 2u);
  EXPECT_NE(reports_[1].why.find("messages before it wait"), std::string::npos);
}

TEST_F(ChannelsTest, a_wrong_wiring_is_told_at_once) {
  channels_.want({plan("phone", script("fail", "echo x >> tries", R"(,"timeout":"2h")"))});
  const auto from = parts::Steady::now();
  channels_.deliver(notice_);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_FALSE(reports_[0].delivered);
  EXPECT_LT(parts::Steady::now() - from, 1s) << "trying again would not mend it";
  EXPECT_EQ(read("tries"), "");
}

TEST_F(ChannelsTest, a_second_try_that_succeeds_is_a_delivery) {
  channels_.want({plan("phone", script("flaky", "test -e once || { touch once; exit 1; }"))});
  channels_.deliver(notice_);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_TRUE(reports_[0].delivered);
}

TEST_F(ChannelsTest, a_program_that_does_not_end_is_ended_with_what_it_started) {
  channels_.want({plan(
      "phone", script("hang", "sleep 1000 & echo $! > child; wait", R"(,"timeout":"200ms")"))});
  channels_.deliver(notice_);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_FALSE(reports_[0].delivered);
  EXPECT_NE(reports_[0].why.find("did not end within 200 ms"), std::string::npos);
  const int child = std::stoi(read("child"));
  EXPECT_TRUE(parts::wait_until(
      [&] {
        std::ifstream file("/proc/" + std::to_string(child) + "/stat");
        std::string stat;
        return !std::getline(file, stat) || stat.find(") Z") != std::string::npos;
      },
      5s));
}

TEST_F(ChannelsTest, a_program_that_reads_nothing_is_judged_by_its_exit_code) {
  channels_.want({plan("phone", script("deaf", "exec <&-; exit 0"))});
  Notice large = notice_;
  large.text.assign(5000, 'x');
  channels_.deliver(large);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_TRUE(reports_[0].delivered) << reports_[0].why;
}

TEST_F(ChannelsTest, a_relative_program_is_refused) {
  channels_.want({plan("phone", R"({"argv":["note"]})")});
  channels_.deliver(notice_);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_NE(reports_[0].why.find("full path"), std::string::npos) << reports_[0].why;
}

TEST_F(ChannelsTest, a_full_queue_counts_and_tells_what_it_has_no_place_for) {
  channels_.want({plan("phone", script("slow", "sleep 0.01; echo >> tries; exit 0"))});
  for (int i = 0; i < 70; ++i) channels_.deliver(notice_);
  EXPECT_EQ(channels_.dropped(), 6u);
  EXPECT_EQ(reports_.size(), 6u);
  ASSERT_TRUE(until([&] { return reports_.size() == 70; }, 30s));
  EXPECT_EQ(read("tries").size(), 64u);
}

TEST_F(ChannelsTest, a_killed_host_costs_a_try_not_the_message) {
  channels_.want({plan("phone", script("slow", "echo $PPID > host; sleep 0.3; echo x >> done"))});
  channels_.deliver(notice_);
  ASSERT_TRUE(until([&] { return read("host").find('\n') != std::string::npos; }));
  ASSERT_EQ(::kill(std::stoi(read("host")), SIGKILL), 0);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_TRUE(reports_[0].delivered) << reports_[0].why;
}

TEST_F(ChannelsTest, a_plugin_that_is_no_channel_is_told) {
  channels_.want({{"odd", "simulated", "{}", {}}});
  channels_.deliver(notice_);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_NE(reports_[0].why.find("no channel"), std::string::npos) << reports_[0].why;
}

TEST_F(ChannelsTest, an_absent_plugin_is_told) {
  channels_.want({{"odd", "absent", "{}", {}}});
  channels_.deliver(notice_);
  ASSERT_TRUE(until([&] { return !reports_.empty(); }));
  EXPECT_FALSE(reports_[0].delivered);
  EXPECT_NE(reports_[0].why.find("absent.so: No such file"), std::string::npos) << reports_[0].why;
}

}  // namespace
}  // namespace tubwarden
