#include <gtest/gtest.h>

#include "system/broker/linked.hpp"

namespace tubwarden {
namespace {

using namespace std::chrono_literals;

/// Certificates made by openssl in a folder of their own: an authority, server certificates for
/// this host and for another, a client's, and a second authority that signed none of them.
class Certificates {
 public:
  Certificates() {
    authority("ca");
    authority("other-ca");
    signed_by_ca("here", "subjectAltName=DNS:localhost,IP:127.0.0.1");
    signed_by_ca("elsewhere", "subjectAltName=DNS:other.example");
    signed_by_ca("client", "extendedKeyUsage=clientAuth");
  }
  std::string file(const std::string& name) const { return (folder_.path() / name).string(); }

  std::string server(const std::string& name) const {
    return "cafile " + file("ca.pem") + "\ncertfile " + file(name + ".pem") + "\nkeyfile " +
           file(name + ".key") + "\n";
  }

 private:
  void openssl(std::vector<std::string> words) {
    words.insert(words.begin(), "openssl");
    const parts::Ran ran = parts::run(std::move(words));
    if (ran.status != 0) throw std::runtime_error("openssl: " + ran.err);
  }
  void authority(const std::string& name) {
    openssl({"req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes",
             "-days", "2", "-subj", "/CN=" + name, "-keyout", file(name + ".key"), "-out",
             file(name + ".pem")});
  }
  void signed_by_ca(const std::string& name, const std::string& extension) {
    openssl({"req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-subj",
             "/CN=" + name, "-keyout", file(name + ".key"), "-out", file(name + ".csr")});
    folder_.write(name + ".ext", extension + "\n");
    openssl({"x509", "-req", "-in", file(name + ".csr"), "-CA", file("ca.pem"), "-CAkey",
             file("ca.key"), "-CAcreateserial", "-days", "2", "-extfile", file(name + ".ext"),
             "-out", file(name + ".pem")});
  }
  parts::TempFolder folder_;
};

/// Made once: the slow part is openssl.
class BrokerTls : public testing::Test {
 protected:
  static void SetUpTestSuite() { certificates = std::make_unique<Certificates>(); }
  static void TearDownTestSuite() { certificates.reset(); }

  BrokerLink encrypted(const parts::Mosquitto& mosquitto, const std::string& host) const {
    BrokerLink link;
    link.url = "mqtts://" + host + ":" + std::to_string(mosquitto.port());
    link.ca_file = certificates->file("ca.pem");
    return link;
  }
  /// Up within the limit, or the reason it was told.
  static std::string outcome(Linked& linked) {
    linked.start({"a"});
    linked.turn_until([&] { return linked.broker->is_up() || !linked.downs.empty(); });
    return linked.broker->is_up() ? "up" : linked.downs.empty() ? "nothing" : linked.downs[0];
  }

  static std::unique_ptr<Certificates> certificates;
  boost::asio::io_context loop;
};
std::unique_ptr<Certificates> BrokerTls::certificates;

TEST_F(BrokerTls, KnownAuthorityAndRightHost) {
  parts::Mosquitto mosquitto(certificates->server("here"));
  for (const char* host : {"localhost", "127.0.0.1"}) {
    Linked linked(loop, encrypted(mosquitto, host));
    EXPECT_EQ(outcome(linked), "up") << host;
    linked.broker->want({"a", "b"});
    bool heard = false;
    linked.on_message = [&](const BrokerMessage&) { heard = true; };
    EXPECT_TRUE(linked.turn_until([&] {
      linked.broker->publish("b", "to myself", false);
      linked.turn_until([&] { return heard; }, 100ms);
      return heard;
    }));
  }
}

TEST_F(BrokerTls, CertificateOfAnotherHostIsRefused) {
  parts::Mosquitto mosquitto(certificates->server("elsewhere"));
  Linked linked(loop, encrypted(mosquitto, "localhost"));
  const std::string why = outcome(linked);
  EXPECT_NE(why.find("made out to this host name"), std::string::npos) << why;
  EXPECT_EQ(linked.broker->counters().connects, 0u);
}

TEST_F(BrokerTls, UnknownAuthorityIsRefused) {
  parts::Mosquitto mosquitto(certificates->server("here"));
  BrokerLink link = encrypted(mosquitto, "localhost");
  link.ca_file = certificates->file("other-ca.pem");
  Linked linked(loop, link);
  const std::string why = outcome(linked);
  EXPECT_NE(why.find("TLS"), std::string::npos) << why;
  EXPECT_NE(why.find("signed by ca_file"), std::string::npos) << "what to look at: " << why;
}

TEST_F(BrokerTls, TheSystemsAuthoritiesDoNotKnowOurs) {
  parts::Mosquitto mosquitto(certificates->server("here"));
  BrokerLink link = encrypted(mosquitto, "localhost");
  link.ca_file.reset();
  Linked linked(loop, link);
  EXPECT_NE(outcome(linked), "up");
}

TEST_F(BrokerTls, ClientCertificateIsShownWhereItIsAskedFor) {
  parts::Mosquitto mosquitto(certificates->server("here") + "require_certificate true\n");
  {
    Linked without(loop, encrypted(mosquitto, "localhost"));
    EXPECT_NE(outcome(without), "up");
  }
  BrokerLink link = encrypted(mosquitto, "localhost");
  link.cert_file = certificates->file("client.pem");
  link.key_file = certificates->file("client.key");
  Linked with(loop, link);
  EXPECT_EQ(outcome(with), "up");
}

TEST_F(BrokerTls, PlainClientAtATlsPortIsTold) {
  parts::Mosquitto mosquitto(certificates->server("here"));
  BrokerLink link;
  link.url = mosquitto.url();
  Linked linked(loop, link);
  EXPECT_NE(outcome(linked), "up");
  EXPECT_FALSE(linked.downs.empty());
}

TEST_F(BrokerTls, ComesBackAfterARestart) {
  parts::Mosquitto mosquitto(certificates->server("here"));
  Linked linked(loop, encrypted(mosquitto, "localhost"));
  ASSERT_EQ(outcome(linked), "up");
  mosquitto.restart();
  EXPECT_TRUE(linked.turn_until([&] { return linked.ups == 2; }));
}

class BrokerUsers : public testing::Test {
 protected:
  BrokerUsers() {
    const parts::Ran made = parts::run(
        {"mosquitto_passwd", "-b", "-c", (folder.path() / "passwords").string(), "tub", "secret"});
    if (made.status != 0) throw std::runtime_error("mosquitto_passwd: " + made.err);
    mosquitto = std::make_unique<parts::Mosquitto>("allow_anonymous false\npassword_file " +
                                                   (folder.path() / "passwords").string());
    link.url = mosquitto->url();
    link.user_file = (folder.path() / "user").string();
  }
  parts::TempFolder folder;
  std::unique_ptr<parts::Mosquitto> mosquitto;
  boost::asio::io_context loop;
  BrokerLink link;
};

TEST_F(BrokerUsers, NameAndPasswordFromTheFile) {
  folder.write("user", "tub\nsecret\n");
  Linked linked(loop, link);
  linked.start({"a"});
  EXPECT_TRUE(linked.turn_until([&] { return linked.broker->is_up(); }));
}

TEST_F(BrokerUsers, WrongPasswordIsToldAndAMendedFileIsTaken) {
  folder.write("user", "tub\nwrong\n");
  Linked linked(loop, link);
  linked.start({"a"});
  ASSERT_TRUE(linked.turn_until([&] { return !linked.downs.empty(); }));
  EXPECT_EQ(linked.downs[0], "Not authorized");
  EXPECT_EQ(linked.downs[0].find("wrong"), std::string::npos) << "no password in the log";
  folder.write("user", "tub\nsecret\n");
  EXPECT_TRUE(linked.turn_until([&] { return linked.broker->is_up(); }));
}

TEST_F(BrokerUsers, NobodyIsRefused) {
  link.user_file.reset();
  Linked linked(loop, link);
  linked.start({"a"});
  ASSERT_TRUE(linked.turn_until([&] { return !linked.downs.empty(); }));
  EXPECT_FALSE(linked.broker->is_up());
}

TEST_F(BrokerUsers, MissingFileIsNamedAndWaitedFor) {
  Linked linked(loop, link);
  linked.start({"a"});
  ASSERT_TRUE(linked.turn_until([&] { return !linked.downs.empty(); }));
  EXPECT_NE(linked.downs[0].find(*link.user_file), std::string::npos) << linked.downs[0];
  folder.write("user", "tub\nsecret\n");
  EXPECT_TRUE(linked.turn_until([&] { return linked.broker->is_up(); }));
}

}  // namespace
}  // namespace tubwarden
