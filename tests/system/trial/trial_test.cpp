// The conformance kit: every plugin that ships passes it, and it finds each broken promise.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <ostream>
#include <sstream>

#include "parts/parts.hpp"

namespace tubwarden {
namespace {

using namespace std::chrono_literals;
using testing::ElementsAreArray;
using testing::HasSubstr;

struct Tried {
  int status = 0;
  std::string out;
  std::vector<std::string> failed;  ///< the cases
};

class Trial : public testing::Test {
 protected:
  Tried try_plugin(const std::string& plugin, const std::string& options) {
    folder_.write("options.json", options);
    const parts::Ran ran = parts::run({TUBWARDEN_BIN_DIR "/tubwarden-plugin-host", "--try", plugin,
                                       (folder_.path() / "options.json").string()},
                                      90s);
    Tried tried{ran.status, ran.out + ran.err, {}};
    std::istringstream lines(ran.out);
    for (std::string line; std::getline(lines, line);) {
      std::istringstream words(line);
      std::string verdict, name;
      words >> verdict >> name;
      if (verdict == "FAIL") tried.failed.push_back(name);
    }
    return tried;
  }
  std::string ours(const std::string& name) const {
    return TUBWARDEN_PLUGIN_DIR "/" + name + ".so";
  }
  std::string file(const std::string& name) const { return (folder_.path() / name).string(); }

  const parts::TempFolder folder_;
};

TEST_F(Trial, simulated_passes) {
  const Tried tried =
      try_plugin(ours("simulated"), R"({"wiring":{"file":")" + file("relay") + R"("}})");
  EXPECT_EQ(tried.status, 0) << tried.out;
  EXPECT_THAT(tried.out, HasSubstr("simulated.so: 10 passed, 0 failed, 1 not applicable"));
}

TEST_F(Trial, program_passes_as_driver_and_as_channel) {
  folder_.write("switch", "#!/bin/sh\ncat >/dev/null\n");
  std::filesystem::permissions(file("switch"), std::filesystem::perms::owner_all);
  const Tried tried =
      try_plugin(ours("program"), R"({"wiring":{"argv":[")" + file("switch") + R"("]}})");
  EXPECT_EQ(tried.status, 0) << tried.out;
  EXPECT_THAT(tried.out, HasSubstr("program.so: 12 passed, 0 failed, 1 not applicable"));
}

TEST_F(Trial, mqtt_relay_passes) {
  const parts::Mosquitto broker;
  const Tried tried = try_plugin(
      ours("mqtt_relay"),
      R"({"wiring":{"topic":"a/b","run":"1","rest":"0"},"site":{"site":"x","broker":{"url":")" +
          broker.url() + R"("}}})");
  EXPECT_EQ(tried.status, 0) << tried.out;
  EXPECT_THAT(tried.out, HasSubstr("mqtt_relay.so: 9 passed, 0 failed, 2 not applicable"));
}

TEST_F(Trial, modbus_coil_passes_with_its_own_word) {
  const std::string port = std::to_string(parts::free_port());
  const parts::Process device({MODBUS_DEVICE, "tcp", port, file("journal"), "1"});
  const Tried tried = try_plugin(ours("modbus_coil"), R"({"wiring":{"host":"127.0.0.1","port":)" +
                                                          port + R"(,"coil":2,"read_back":true}})");
  EXPECT_EQ(tried.status, 0) << tried.out;
  EXPECT_THAT(tried.out, HasSubstr("modbus_coil.so: 10 passed, 0 failed, 1 not applicable"));
}

TEST_F(Trial, pwm_passes_on_a_tree_of_files) {
  folder_.write("pwmchip0/npwm", "2\n");
  for (const char* name : {"period", "duty_cycle", "enable"}) {
    folder_.write(std::string("pwmchip0/pwm1/") + name, "0\n");
  }
  folder_.write("pwmchip0/pwm1/polarity", "normal\n");
  const Tried tried = try_plugin(
      ours("pwm"),
      R"({"wiring":{"chip":"pwmchip0","channel":1,"frequency":25000,"inverted":true,"root":")" +
          folder_.path().string() + R"("}})");
  EXPECT_EQ(tried.status, 0) << tried.out;
  EXPECT_THAT(tried.out, HasSubstr("pwm.so: 10 passed, 0 failed, 1 not applicable"));
}

TEST_F(Trial, mqtt_note_passes) {
  const parts::Mosquitto broker;
  const Tried tried = try_plugin(
      ours("mqtt_note"), R"({"wiring":{"topic":"a/b"},"site":{"site":"x","broker":{"url":")" +
                             broker.url() + R"("}}})");
  EXPECT_EQ(tried.status, 0) << tried.out;
  EXPECT_THAT(tried.out, HasSubstr("mqtt_note.so: 4 passed, 0 failed"));
}

TEST_F(Trial, email_passes) {
  for (const char* name : {"pem", "key"}) folder_.write(name, "");
  ASSERT_EQ(
      parts::run({"openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
                  "-nodes", "-subj", "/CN=x", "-keyout", file("key"), "-out", file("pem")})
          .status,
      0);
  const parts::Process server(
      {"/usr/bin/python3", CHANNELS_DIR "/mail.py", file("journal"), file("pem"), file("key")});
  ASSERT_TRUE(parts::wait_until([&] { return server.out().find('\n') != std::string::npos; }, 20s));
  std::string port;
  std::istringstream ports(server.out());
  for (int i = 0; i < 4; ++i) ports >> port;
  const Tried tried = try_plugin(ours("email"), R"({"wiring":{"url":"smtp://127.0.0.1:)" + port +
                                                    R"(","tls":"none","from":"a@example.org",)" +
                                                    R"("to":["b@example.org"]}})");
  EXPECT_EQ(tried.status, 0) << tried.out;
  EXPECT_THAT(tried.out, HasSubstr("email.so: 4 passed, 0 failed"));
}

TEST_F(Trial, webhook_passes) {
  const parts::Process server({"/usr/bin/python3", CHANNELS_DIR "/web.py", file("journal")});
  ASSERT_TRUE(parts::wait_until([&] { return server.out().find('\n') != std::string::npos; }, 20s));
  const std::string port = std::to_string(std::stoi(server.out()));
  const Tried tried =
      try_plugin(ours("webhook"), R"({"wiring":{"url":"http://127.0.0.1:)" + port + R"(/"}})");
  EXPECT_EQ(tried.status, 0) << tried.out;
  EXPECT_THAT(tried.out, HasSubstr("webhook.so: 4 passed, 0 failed"));
}

struct Broken {
  const char* plugin;
  std::vector<std::string> cases;
  const char* word;
};
void PrintTo(const Broken& b, std::ostream* out) { *out << b.plugin; }

class BrokenPromise : public Trial, public testing::WithParamInterface<Broken> {};

TEST_P(BrokenPromise, is_found) {
  const Tried tried = try_plugin(std::string(BAD_DIR "/") + GetParam().plugin + ".so",
                                 R"({"wiring":{"file":")" + file("relay") + R"("}})");
  EXPECT_EQ(tried.status, GetParam().cases.empty() ? 0 : 1) << tried.out;
  EXPECT_THAT(tried.failed, ElementsAreArray(GetParam().cases)) << tried.out;
  EXPECT_THAT(tried.out, HasSubstr(GetParam().word));
}

const std::vector<std::string> kAllThatOpen = {"open",  "make_safe", "apply", "level",
                                               "lease", "hang",      "crash", "double_close"};

INSTANTIATE_TEST_SUITE_P(
    Plugins, BrokenPromise,
    testing::Values(
        Broken{"none", {}, "none.so: 12 passed, 0 failed, 1 not applicable"},
        Broken{"wrong_row", {"describe"}, "its type 'colour' is unknown"},
        Broken{"sets_the_locale", {"describe"}, "it changes the locale"},
        Broken{"starts_a_thread", {"describe"}, "loading it starts a thread"},
        Broken{"accepts_all", {"bad_options"}, "open with no JSON at all succeeded"},
        Broken{"silent_refusal", {"bad_options"}, "did not say why"},
        Broken{"leaks", {"open"}, "leave something behind: descriptors"},
        Broken{"gives_no_handle",
               {"open", "make_safe", "apply", "level", "confirm", "lease", "hang", "crash",
                "double_close"},
               "TW_OK and no handle"},
        Broken{"hangs_when_safe",
               {"make_safe", "apply", "level", "confirm", "lease", "double_close"},
               "make_safe did not return within 1500 ms"},
        Broken{"fails_to_run",
               {"make_safe", "apply", "confirm", "lease", "hang", "crash", "double_close"},
               "apply of 1000: TW_FAILED: no bus"},
        Broken{"crashes_between", {"level"}, "crashed in apply: Aborted"},
        Broken{"exits", {"level"}, "ended its process in apply"},
        Broken{"never_confirms",
               {"level", "confirm", "hang", "crash"},
               "level 1000 was not confirmed within 5 s; no word came"},
        Broken{"confirms_unasked", {"confirm"}, "confirm() without will_confirm()"},
        Broken{"refuses_short_leases", {"lease"}, "too short a lease"},
        Broken{"locks_itself_out",
               {"hang", "crash", "double_close"},
               "open: TW_FAILED: another process has it"},
        Broken{"opens_once", {"open", "double_close"}, "open: TW_FAILED: the bus is busy"},
        Broken{"takes_the_signals", kAllThatOpen, "it changes what happens on signal 15"},
        Broken{"loses_messages", {"deliver", "odd_text"}, "TW_FAILED, and it did not say why"},
        Broken{"chokes_on_long_text", {"odd_text"}, "crashed in deliver: Aborted"}));

TEST_F(Trial, what_cannot_be_loaded_fails_to_describe_itself) {
  folder_.write("plugin.so", "no library");
  const Tried tried = try_plugin(file("plugin.so"), R"({"wiring":{}})");
  EXPECT_EQ(tried.status, 1) << tried.out;
  EXPECT_THAT(tried.failed, ElementsAreArray({"describe"})) << tried.out;
  EXPECT_THAT(tried.out, HasSubstr("plugin.so: 0 passed, 1 failed"));
}

TEST_F(Trial, an_output_out_of_reach_is_said_to_be_that) {
  const std::string port = std::to_string(parts::free_port());
  const Tried tried =
      try_plugin(ours("mqtt_relay"),
                 R"({"wiring":{"topic":"a/b","run":"1","rest":"0"},"site":{"broker":{"url":)"
                 R"("mqtt://127.0.0.1:)" +
                     port + R"("}}})");
  EXPECT_EQ(tried.status, 1);
  EXPECT_THAT(tried.failed, ElementsAreArray({"make_safe"}));
  EXPECT_THAT(tried.out, HasSubstr("out of reach for 10 s"));
}

TEST_F(Trial, wrong_options_files_are_named) {
  for (const char* text :
       {"", "{", "[]", "{}", R"({"wiring":1})", R"({"wirng":{}})", R"({"wiring":{},"site":[]})"}) {
    EXPECT_EQ(try_plugin(ours("simulated"), text).status, 64) << text;
  }
  const Tried unknown = try_plugin(ours("simulated"), R"({"wiring":{"fil":"x"}})");
  EXPECT_EQ(unknown.status, 1);
  EXPECT_THAT(unknown.out, HasSubstr("gives 'fil', which has no row"));
}

}  // namespace
}  // namespace tubwarden
