// The MQTT relay with a real broker and a real listener in the relay's place.
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/stat.h>

#include <algorithm>
#include <ostream>

#include "system/broker/gate.hpp"
#include "system/hosts/relay_bench.hpp"

namespace tubwarden {
namespace {

using namespace relay_bench;

TEST_F(Relay, safe_is_retained_and_run_is_not) {
  Bench b(kPlugins, site(broker_.url()));
  b.drivers.want({relay()});
  ready(b);
  parts::Listener listener(broker_.url(), {kTopic});
  ASSERT_TRUE(hears(b, listener, is_rest));
  EXPECT_TRUE(listener.heard(kTopic).front().retained) << "a relay that starts up finds it";
  b.command("mister", kRun, milliseconds(300));
  ASSERT_TRUE(hears(b, listener, is_run, 1));
  const std::size_t ran = listener.heard(kTopic).size();
  ASSERT_TRUE(hears(b, listener, is_rest, ran));
  const auto all = listener.heard(kTopic);
  const auto run = std::find_if(all.begin(), all.end(), is_run);
  const auto rest = std::find_if(run, all.end(), is_rest);
  const auto ran_ms = std::chrono::duration<double, std::milli>(rest->at - run->at).count();
  std::printf("relay_run_error_ms %.2f (asked 300 ms, QoS 0 to QoS 1)\n", ran_ms - 300.0);
  EXPECT_NEAR(ran_ms, 300.0, 50.0);
  parts::Listener late(broker_.url(), {kTopic});
  ASSERT_TRUE(late.wait_for(kTopic, is_rest, 5s));
  EXPECT_TRUE(
      std::none_of(all.begin(), all.end(), [](const Heard& h) { return is_run(h) && h.retained; }));
  const auto stopping = parts::Steady::now();
  ASSERT_TRUE(b.stop());
  EXPECT_LT(parts::Steady::now() - stopping, 1500ms);
}

TEST_F(Relay, run_expires_with_its_lease_at_a_broker_of_mqtt_5) {
  Bench b(kPlugins, site(broker_.url()));
  b.drivers.want({relay(seconds(7))});
  ready(b);
  parts::Process reader({"mosquitto_sub", "-V", "5", "-h", "127.0.0.1", "-p",
                         std::to_string(broker_.port()), "-t", kTopic, "-F", "%p expires %E"});
  ASSERT_TRUE(b.until([&] { return reader.out().find("0 expires") != std::string::npos; }));
  b.command("mister", kRun);
  ASSERT_TRUE(b.until([&] { return reader.out().find("RUN expires 7") != std::string::npos; }))
      << reader.out();
}

TEST_F(Relay, a_confirmation_is_awaited_for_five_seconds) {
  Bench b(kPlugins, site(broker_.url()));
  b.drivers.want({relay(seconds(3), kConfirming)});
  ready(b);
  parts::publish(broker_, "cellar/mister/now", "0");
  ASSERT_TRUE(b.until([&] { return b.reports.back().confirmed == kRest; }));
  const auto told = parts::Steady::now();
  b.command("mister", kRun);
  ASSERT_TRUE(b.until_health("mister", OutputHealth::unconfirmed));
  const auto took = std::chrono::duration<double>(parts::Steady::now() - told).count();
  EXPECT_NEAR(took, 5.0, 0.5);
  parts::publish(broker_, "cellar/mister/now", "RUN");
  ready(b);
  EXPECT_EQ(b.reports.back().confirmed, kRun);
}

TEST_F(Relay, a_retained_confirmation_confirms_nothing) {
  parts::publish(broker_, "cellar/mister/now", "RUN", true);
  Bench b(kPlugins, site(broker_.url()));
  b.drivers.want({relay(seconds(3), kConfirming)});
  ready(b);
  parts::publish(broker_, "cellar/mister/now", "0");
  ASSERT_TRUE(b.until([&] { return b.reports.back().confirmed.has_value(); }));
  for (const OutputReport& report : b.reports) EXPECT_NE(report.confirmed, kRun);
}

TEST_F(Relay, a_relay_that_falls_by_itself_hears_run_again_within_that_time) {
  Bench b(kPlugins, site(broker_.url()));
  OutputPlan falling = relay();
  falling.falls_by_itself_after = milliseconds(900);
  b.drivers.want({falling});
  ready(b);
  parts::Listener listener(broker_.url(), {kTopic});
  b.command("mister", kRun);
  ASSERT_TRUE(b.until([&] {
    const auto all = listener.heard(kTopic);
    return std::count_if(all.begin(), all.end(), is_run) >= 6;
  }));
  std::optional<parts::Steady::time_point> last;
  for (const Heard& heard : listener.heard(kTopic)) {
    if (!is_run(heard)) continue;
    EXPECT_LT(heard.at - last.value_or(heard.at), 900ms);
    last = heard.at;
  }
}

TEST_F(Relay, an_output_whose_safe_level_is_to_run_keeps_that_retained) {
  Bench b(kPlugins, site(broker_.url()));
  b.drivers.want({relay(seconds(3), kWiring, kRun)});
  ready(b);
  b.command("mister", kRest);
  ASSERT_TRUE(b.until([&] { return count(broker_.log(), "(1 bytes)") >= 1; }));
  parts::Listener late(broker_.url(), {kTopic});
  ASSERT_TRUE(late.wait_for(kTopic, is_run, 5s));
  EXPECT_TRUE(late.heard(kTopic).front().retained);
}

TEST_F(Relay, a_level_between_is_proportioned_and_ends_at_rest) {
  parts::Listener listener(broker_.url(), {kTopic});
  Bench b(kPlugins, site(broker_.url()));
  OutputPlan fan = relay(seconds(3), kConfirming, 400);
  fan.period = milliseconds(1000);
  fan.shortest_run = milliseconds(100);
  b.drivers.want({fan});
  ASSERT_TRUE(b.until_health("mister", OutputHealth::ready)) << b.last_why("mister");
  const auto runs = [&] {
    const auto all = listener.heard(kTopic);
    return std::count_if(all.begin(), all.end(), is_run);
  };
  ASSERT_TRUE(b.until([&] { return runs() >= 3; })) << "40 % is where it stands undecided";
  const auto all = listener.heard(kTopic);
  const auto run = std::find_if(all.begin(), all.end(), is_run);
  const auto rest = std::find_if(run, all.end(), is_rest);
  const auto next = std::find_if(rest, all.end(), is_run);
  EXPECT_NEAR(std::chrono::duration<double>(rest->at - run->at).count(), 0.4, 0.05);
  EXPECT_NEAR(std::chrono::duration<double>(next->at - run->at).count(), 1.0, 0.05);
  EXPECT_TRUE(b.stop());
  EXPECT_TRUE(is_rest(listener.heard(kTopic).back()));
}

TEST_F(Relay, another_broker_takes_the_output_over_safely) {
  parts::Mosquitto other;
  Bench b(kPlugins, site(broker_.url()));
  b.drivers.want({relay()});
  ready(b);
  parts::Listener old_listener(broker_.url(), {kTopic});
  b.command("mister", kRun);
  ASSERT_TRUE(hears(b, old_listener, is_run));
  const std::size_t before = old_listener.heard(kTopic).size();
  parts::Listener new_listener(other.url(), {kTopic});
  b.drivers.site(site(other.url()));
  ASSERT_TRUE(hears(b, old_listener, is_rest, before));
  ASSERT_TRUE(hears(b, new_listener, is_rest));
}

class RelayVersions : public testing::TestWithParam<Gate::Manner> {};

TEST_P(RelayVersions, falls_back_to_mqtt_3_1_1) {
  parts::Mosquitto broker;
  Bench b(kPlugins, "{}");
  Gate gate(b.loop, broker.port(), GetParam());
  b.drivers.site(site(gate.url()));
  b.drivers.want({relay()});
  ASSERT_TRUE(b.until_health("mister", OutputHealth::ready)) << b.last_why("mister");
  EXPECT_GE(gate.refused(), 1);
  parts::Listener listener(broker.url(), {kTopic});
  b.command("mister", kRun);
  ASSERT_TRUE(b.until([&] {
    const auto all = listener.heard(kTopic);
    return std::any_of(all.begin(), all.end(), is_run);
  }));
  const std::size_t before = listener.heard(kTopic).size();
  ASSERT_EQ(::kill(b.pid("mister"), SIGKILL), 0);
  ASSERT_TRUE(b.until([&] { return listener.heard(kTopic).size() > before; })) << "the will";
  EXPECT_TRUE(is_rest(listener.heard(kTopic)[before]));
}

INSTANTIATE_TEST_SUITE_P(Brokers, RelayVersions,
                         testing::Values(Gate::Manner::refuse_5_as_311,
                                         Gate::Manner::refuse_5_as_5));

TEST(RelaySecurity, user_and_password_come_from_a_file_and_a_wrong_one_is_told) {
  const parts::TempFolder folder;
  folder.write("user", "relay\nsecret\n");
  folder.write("wrong", "relay\nguess\n");
  folder.write("passwords", "");
  const parts::Ran made = parts::run(
      {"mosquitto_passwd", "-b", (folder.path() / "passwords").string(), "relay", "secret"});
  ASSERT_EQ(made.status, 0) << made.err;
  parts::Mosquitto broker("allow_anonymous false\npassword_file " +
                          (folder.path() / "passwords").string());
  const auto with = [&](const std::string& name) {
    return site(broker.url(), R"(,"user_file":")" + (folder.path() / name).string() + "\"");
  };
  Bench b(kPlugins, with("wrong"));
  b.drivers.want({relay()});
  ASSERT_TRUE(b.until([&] { return b.last_why("mister").find("uthorized") != std::string::npos; }))
      << b.last_why("mister");
  b.drivers.site(with("user"));
  EXPECT_TRUE(b.until_health("mister", OutputHealth::ready)) << b.last_why("mister");
}

void openssl(const std::string& words) {
  const parts::Ran ran = parts::run({"sh", "-c", "openssl " + words});
  ASSERT_EQ(ran.status, 0) << ran.err;
}

TEST(RelaySecurity, a_certificate_for_another_host_is_refused) {
  const parts::TempFolder folder;
  const std::string at = folder.path().string() + "/";
  const std::string key = "-newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes ";
  openssl("req -x509 " + key + "-days 2 -subj /CN=ca -keyout " + at + "ca.key -out " + at +
          "ca.pem");
  for (const std::string name : {"localhost", "other.example"}) {
    openssl("req " + key + "-subj /CN=" + name + " -keyout " + at + name + ".key -out " + at +
            name + ".csr");
    folder.write(name + ".ext", "subjectAltName=DNS:" + name + "\n");
    openssl("x509 -req -in " + at + name + ".csr -CA " + at + "ca.pem -CAkey " + at +
            "ca.key -CAcreateserial -days 2 -extfile " + at + name + ".ext -out " + at + name +
            ".pem");
  }
  const auto server = [&](const std::string& name) {
    return "certfile " + at + name + ".pem\nkeyfile " + at + name + ".key\n";
  };
  const auto with = [&](const parts::Mosquitto& broker) {
    return site("mqtts://localhost:" + std::to_string(broker.port()),
                R"(,"ca_file":")" + at + "ca.pem\"");
  };
  parts::Mosquitto wrong(server("other.example"));
  Bench b(kPlugins, with(wrong));
  b.drivers.want({relay()});
  ASSERT_TRUE(b.until([&] { return count(wrong.log(), "New connection") >= 2; }, 20s));
  EXPECT_EQ(b.health("mister"), OutputHealth::starting);
  EXPECT_EQ(count(wrong.log(), "New client connected"), 0u);
  parts::Mosquitto right(server("localhost"));
  b.drivers.site(with(right));
  EXPECT_TRUE(b.until_health("mister", OutputHealth::ready, 20s)) << b.last_why("mister");
}

struct Wrong {
  const char* wiring;
  const char* word;
};
void PrintTo(const Wrong& w, std::ostream* out) { *out << w.word; }

class RelayWiring : public testing::TestWithParam<Wrong> {};

TEST_P(RelayWiring, that_is_wrong_is_named) {
  Bench b(kPlugins, site("mqtt://127.0.0.1:1"));
  b.drivers.want({relay(seconds(3), GetParam().wiring)});
  ASSERT_TRUE(b.until_health("mister", OutputHealth::failed_safe));
  EXPECT_NE(b.last_why("mister").find(GetParam().word), std::string::npos) << b.last_why("mister");
}

INSTANTIATE_TEST_SUITE_P(
    All, RelayWiring,
    testing::Values(Wrong{R"({"run":"1","rest":"0"})", "'topic' is required"},
                    Wrong{R"({"topic":"a/#","run":"1","rest":"0"})", "without + and #"},
                    Wrong{R"({"topic":"a","run":"1","rest":"1"})", "the same payload"},
                    Wrong{R"({"topic":"a","rest":"1"})", "'run' is required"},
                    Wrong{R"({"topic":"a","run":"1","rest":"0","confirm":"a"})",
                          "the topic we write ourselves"}));

}  // namespace
}  // namespace tubwarden
