// The sheet of a whole daemon, asked by a client that shares no code with it.
#include <gtest/gtest.h>

#include "../daemon/rig.hpp"

namespace {

using namespace std::chrono_literals;

class Sheet : public testing::Test {
 protected:
  std::string file(const std::string& name) { return (rig_.folder().path() / name).string(); }

  void start(const std::string& more = "") {
    rig_.write_site("sheet: {listen: \"127.0.0.1:" + port_ + "\"" + more + "}\n");
    rig_.write_tub({});
    rig_.start();
    ASSERT_EQ(rig_.cli({"phase", "tub-1", "fruiting"}).status, 0);
    ASSERT_TRUE(rig_.wait([&] { return rig_.status()["sheet"]["listening"] == 1; })) << rig_.log();
  }
  void visit(const std::string& script, std::vector<std::string> words = {}) {
    std::vector<std::string> argv = {"/usr/bin/python3", "-B", SHEET_DIR "/" + script, port_};
    argv.insert(argv.end(), words.begin(), words.end());
    const auto ran = parts::run(argv, 60s);
    EXPECT_EQ(ran.status, 0) << ran.out << ran.err << rig_.log();
  }

  rig::Rig rig_;
  std::string port_ = std::to_string(parts::free_port());
};

TEST_F(Sheet, AnswersAsItsDescriptionSays) {
  start();
  visit("doors.py");
  visit("described.py", {TUBWARDEN_SOURCE_DIR "/docs/sheet-api.yaml"});
  bool noted = false;
  for (const rig::json& row : rig_.timeline("B-01")) {
    noted = noted || (row["text"] == "pins \u00fc" && row["who"] == "sheet");
  }
  EXPECT_TRUE(noted) << rig_.timeline("B-01");
  const auto ran = parts::run({"/bin/sh", "-c",
                               "python3 -c 'import sys, urllib.request as u; sys.stdout.write("
                               "u.urlopen(sys.argv[1]).read().decode())' http://127.0.0.1:" +
                                   port_ + "/metrics | promtool check metrics"});
  EXPECT_EQ(ran.status, 0) << ran.out << ran.err;
  EXPECT_EQ(rig_.stop(), 0);
}

TEST_F(Sheet, WithTokensAndTlsLetsInWhomItKnows) {
  ASSERT_EQ(parts::run({"openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt",
                        "ec_paramgen_curve:P-256", "-nodes", "-days", "30", "-subj", "/CN=sheet",
                        "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", file("key.pem"),
                        "-out", file("cert.pem")})
                .status,
            0);
  const auto token = [&](const std::string& name, const std::string& may) {
    const auto ran =
        rig_.cli({"sheet", "token", "add", name, "--may", may, "--file", file("tokens"), "--json"});
    EXPECT_EQ(ran.status, 0) << ran.err;
    return rig::json::parse(ran.out)["token"].get<std::string>();
  };
  const std::string reading = token("phone", "read"), acting = token("hand", "act");
  start(", tokens_file: \"" + file("tokens") + "\", cert_file: \"" + file("cert.pem") +
        "\", key_file: \"" + file("key.pem") + "\"");
  visit("tokens.py", {file("cert.pem"), reading, acting});
  bool noted = false;
  for (const rig::json& row : rig_.timeline("B-01")) noted = noted || row["who"] == "hand";
  EXPECT_TRUE(noted) << "the record names the token, not the daemon";
}

}  // namespace
