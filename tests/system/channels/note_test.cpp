// mqtt_note against a real broker: what a subscriber of its own heard, and how.
#include <arpa/inet.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/socket.h>
#include <unistd.h>

#include <nlohmann/json.hpp>
#include <sstream>
#include <thread>

#include "../broker/gate.hpp"
#include "teller.hpp"

namespace tubwarden {
namespace {

using namespace std::chrono_literals;
using nlohmann::json;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::Not;

/// mosquitto_sub on every topic; a line is "QOS RETAINED TOPIC PAYLOAD".
class Ear {
 public:
  explicit Ear(const parts::Mosquitto& broker)
      : process_({"stdbuf", "-oL", "mosquitto_sub", "-p", std::to_string(broker.port()), "-d", "-q",
                  "1", "-t", "#", "-F", "heard %q %r %t %p"}) {
    if (!parts::wait_until([&] { return has("Subscribed"); }, 20s)) {
      throw std::runtime_error("no subscriber: " + process_.out() + process_.err());
    }
  }
  bool has(const std::string& text) const { return process_.out().find(text) != std::string::npos; }
  std::vector<std::string> heard(std::size_t count) const {
    std::vector<std::string> all;
    parts::wait_until(
        [&] {
          all.clear();
          std::istringstream lines(process_.out());
          for (std::string line; std::getline(lines, line);) {
            if (line.starts_with("heard ")) all.push_back(line.substr(6));
          }
          return all.size() >= count;
        },
        5s);
    return all;
  }

 private:
  parts::Process process_;
};

class NoteTest : public testing::Test {
 protected:
  std::string file(const std::string& name) const { return (folder_.path() / name).string(); }
  void use(const std::string& url, json more = json::object()) {
    more["url"] = url;
    teller_.site = json{{"site", "cellar"}, {"broker", more}}.dump();
  }
  static std::string to(const std::string& topic, json more = json::object()) {
    more["topic"] = topic;
    return more.dump();
  }
  parts::TempFolder folder_;
  Teller teller_{"mqtt_note"};
};

TEST_F(NoteTest, publishes_each_message_once_and_never_retained) {
  const parts::Mosquitto broker;
  use(broker.url());
  EXPECT_EQ(teller_.tell(to("phone/alerts"), "k", "before anybody listens").code, TW_OK);
  const Ear ear(broker);
  const Told told = teller_.tell(to("phone/alerts"), "k", "a \"title\"", "two\nlines");
  EXPECT_EQ(told.code, TW_OK) << told.words;
  EXPECT_EQ(teller_.tell(to("phone/text", {{"as", "text"}}), "k", "title", "text").code, TW_OK);
  EXPECT_THAT(ear.heard(2),
              ElementsAre(R"(1 0 phone/alerts {"site":"cellar","rank":"now","state":"raised",)"
                          R"("title":"a \"title\"","text":"two\nlines","key":"k"})",
                          "1 0 phone/text title"));
  EXPECT_TRUE(ear.has("\ntext\n"));
}

TEST_F(NoteTest, tells_a_broker_that_refuses_from_one_that_is_away) {
  folder_.write("acl", "user grower\ntopic readwrite mine/#\n");
  ASSERT_EQ(
      parts::run({"mosquitto_passwd", "-b", "-c", file("passwords"), "grower", "s3cret"}).status,
      0);
  parts::Mosquitto broker("allow_anonymous false\npassword_file " + file("passwords") +
                          "\nacl_file " + file("acl"));
  use(broker.url(), {{"user_file", secret_file(folder_, "user", "grower\ns3cret\n")}});
  const Told topic = teller_.tell(to("other/topic"));
  EXPECT_EQ(topic.code, TW_REFUSED) << topic.words;
  EXPECT_THAT(topic.words, HasSubstr("refuses the topic: Not authorized"));
  EXPECT_EQ(teller_.tell(to("mine/topic")).code, TW_OK);
  use(broker.url(), {{"user_file", secret_file(folder_, "wrong", "grower\ns3cret2\n")}});
  const Told user = teller_.tell(to("mine/topic"));
  EXPECT_EQ(user.code, TW_REFUSED) << user.words;
  use(broker.url(), {{"user_file", file("absent")}});
  EXPECT_THAT(teller_.tell(to("mine/topic")).words, HasSubstr("cannot read user file"));
  broker.kill();
  use(broker.url());
  const Told away = teller_.tell(to("mine/topic"));
  EXPECT_EQ(away.code, TW_FAILED) << away.words;
  for (const std::string& words : teller_.all_words()) {
    EXPECT_THAT(words, Not(HasSubstr("s3cret")));
  }
}

TEST_F(NoteTest, speaks_mqtt_311_to_a_broker_that_knows_no_more) {
  const parts::Mosquitto broker;
  const Ear ear(broker);
  boost::asio::io_context loop;
  const Gate gate(loop, broker.port(), Gate::Manner::refuse_5_as_311);
  std::thread turning([&loop] { loop.run(); });
  use(gate.url());
  const Told told = teller_.tell(to("a/b", {{"as", "text"}}), "k", "t", "x");
  EXPECT_EQ(told.code, TW_OK) << told.words;
  EXPECT_THAT(ear.heard(1), ElementsAre("1 0 a/b t"));
  loop.stop();
  turning.join();
}

TEST_F(NoteTest, waits_no_longer_than_it_was_told) {
  const int silent = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  ASSERT_EQ(::listen(silent, 8), 0);  // bound to a port of the system's choice
  sockaddr_storage name{};
  socklen_t size = sizeof name;
  ASSERT_EQ(::getsockname(silent, reinterpret_cast<sockaddr*>(&name), &size), 0);
  const int port = ntohs(reinterpret_cast<sockaddr_in*>(&name)->sin_port);
  use("mqtt://127.0.0.1:" + std::to_string(port));
  const auto from = parts::Steady::now();
  const Told told = teller_.tell(to("a/b", {{"timeout", "1s"}}));
  EXPECT_EQ(told.code, TW_FAILED);
  EXPECT_THAT(told.words, HasSubstr("did not answer within 1000 ms"));
  EXPECT_LT(parts::Steady::now() - from, 4s);
  ::close(silent);
}

TEST_F(NoteTest, trusts_only_the_broker_of_its_ca_file) {
  make_certificate(folder_, "here", "DNS:localhost,IP:127.0.0.1");
  make_certificate(folder_, "other", "DNS:localhost,IP:127.0.0.1");
  const parts::Mosquitto broker("cafile " + file("here.pem") + "\ncertfile " + file("here.pem") +
                                "\nkeyfile " + file("here.key"));
  const std::string url = "mqtts://localhost:" + std::to_string(broker.port());
  use(url, {{"ca_file", file("here.pem")}});
  EXPECT_EQ(teller_.tell(to("a/b")).code, TW_OK);
  use(url, {{"ca_file", file("other.pem")}});
  const Told other = teller_.tell(to("a/b"));
  EXPECT_EQ(other.code, TW_FAILED);
  EXPECT_THAT(other.words, HasSubstr("the broker: "));
}

TEST_F(NoteTest, refuses_a_wiring_that_cannot_be_meant) {
  use("mqtt://127.0.0.1:1");
  for (const char* wiring : {"{}", R"({"topic":"a/#"})", R"({"topic":"a","as":"xml"})",
                             R"({"topic":"a","timeout":"2h"})", R"({"topic":"a","retain":true})"}) {
    EXPECT_EQ(teller_.tell(wiring).code, TW_BAD_OPTION) << wiring;
  }
  teller_.site = "{}";
  EXPECT_EQ(teller_.tell(to("a")).words, "the site names no broker");
}

}  // namespace
}  // namespace tubwarden
