#include <gtest/gtest.h>
#include <yaml-cpp/yaml.h>

#include <cctype>
#include <nlohmann/json.hpp>
#include <set>

#include "parts/parts.hpp"
#include "shell/sheet/compress.hpp"
#include "shell/sheet/http_reader.hpp"
#include "shell/sheet/metrics.hpp"
#include "shell/sheet/routes.hpp"

namespace tubwarden::sheet {
namespace {

std::string upper(std::string text) {
  for (char& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

std::string name_of_parameter(const YAML::Node& file, const YAML::Node& given) {
  const auto ref = given["$ref"].as<std::string>();
  return file["components"]["parameters"][ref.substr(ref.rfind('/') + 1)]["name"].as<std::string>();
}

TEST(Routes, AreThoseOfTheDescriptionWithTheirParameters) {
  const YAML::Node file =
      YAML::LoadFile(std::string(TUBWARDEN_SOURCE_DIR) + "/docs/sheet-api.yaml");
  std::set<std::string> described, answered;
  for (const auto& path : file["paths"]) {
    for (const auto& method : path.second) {
      std::string line = upper(method.first.as<std::string>()) + " " + path.first.as<std::string>();
      for (const auto& p : method.second["parameters"]) {
        const std::string name = name_of_parameter(file, p);
        const bool in_path =
            path.first.as<std::string>().find("{" + name + "}") != std::string::npos;
        if (!in_path && name != "X-Tubwarden") line += " " + name;
      }
      described.insert(line);
    }
  }
  for (const Route& route : routes()) {
    std::string line = std::string(route.method) + " " + std::string(route.path);
    std::string word;
    for (const char c : std::string(route.query) + "|") {
      if (c != '|' && c != '?' && c != '#') word += c;
      if (c == '|' && !word.empty()) line += " " + word, word.clear();
    }
    answered.insert(line);
  }
  EXPECT_EQ(answered, described);
}

TEST(Routes, WhatActsIsPostedAndNeedsAnActingToken) {
  for (const Route& route : routes()) {
    EXPECT_EQ(route.needs == Needs::act, route.path.starts_with("/api/act/")) << route.path;
    EXPECT_EQ(route.needs == Needs::read, route.method == "GET") << route.path;
  }
}

TEST(Routes, TakeTheirArgumentsFromPathAndQuery) {
  bool known = false;
  const Route* why = route_for("GET", "/api/why/tub%201", known);
  ASSERT_TRUE(why);
  EXPECT_EQ(*args_of(*why, "/api/why/tub%201", "actuator=mat"),
            R"({"tub":"tub 1","actuator":"mat"})");
  EXPECT_FALSE(args_of(*why, "/api/why/a", "who=me").ok());
  EXPECT_FALSE(args_of(*why, "/api/why/%zz", "").ok());
  EXPECT_FALSE(args_of(*why, "/api/why/" + std::string(300, 'a'), "").ok());
  const Route* history = route_for("GET", "/api/history", known);
  ASSERT_TRUE(history);
  EXPECT_EQ(*args_of(*history, "", "chamber=a&from=b&to=c&every_s=60"),
            R"({"chamber":"a","from":"b","to":"c","every_s":60.0})");
  EXPECT_FALSE(args_of(*history, "", "chamber=a&from=b").ok());
  EXPECT_FALSE(args_of(*history, "", "chamber=a&from=b&to=c&every_s=soon").ok());
  EXPECT_FALSE(route_for("GET", "/api/act/phase", known));
  EXPECT_TRUE(known);
  EXPECT_FALSE(route_for("GET", "/api/why/a/b", known));
  EXPECT_FALSE(known);
  EXPECT_TRUE(args_in(R"({"tub": "tub-1"})").ok());
  EXPECT_FALSE(args_in("[1]").ok());
  EXPECT_FALSE(args_in(R"({"a":)" + std::string(1000, '[') + std::string(1000, ']') + "}").ok());
}

class Reader : public testing::Test {
 protected:
  SheetLimits limits;
  HttpReader reader{limits};
  using State = HttpReader::State;
};

TEST_F(Reader, TakesARequestInPiecesAndTheNextBehindIt) {
  const std::string bytes =
      "POST /api/act/note?a=1 HTTP/1.1\r\nHost: localhost\r\nX-Tubwarden: act\r\n"
      "Content-Length: 4\r\n\r\n{} \nGET / HTTP/1.1\r\nHost: localhost\r\nCookie: a=b\r\n\r\n";
  const std::size_t first = bytes.find("GET");
  for (std::size_t i = 0; i + 1 < first; ++i) {
    ASSERT_NE(reader.take(bytes.substr(i, 1)), State::whole) << i;
  }
  ASSERT_EQ(reader.take(bytes.substr(first - 1)), State::whole);
  const Request post = reader.next();
  EXPECT_EQ(post.method + post.path + "?" + post.query, "POST/api/act/note?a=1");
  EXPECT_EQ(post.body, "{} \n");
  EXPECT_EQ(post.act, "act");
  ASSERT_EQ(reader.state(), State::whole);
  EXPECT_EQ(reader.next().cookie, "a=b");
  EXPECT_EQ(reader.state(), State::begin);
}

TEST_F(Reader, RefusesWhatIsTooLarge) {
  EXPECT_EQ(reader.take("GET / HTTP/1.1\r\nHost: a\r\nX: " + std::string(9000, 'x')), State::wrong);
  EXPECT_EQ(reader.status(), 431);
  HttpReader body(limits);
  EXPECT_EQ(body.take("POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 70000\r\n\r\n"), State::wrong);
  EXPECT_EQ(body.status(), 413);
  HttpReader chunked(limits);
  std::string bytes = "POST / HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\n";
  for (int i = 0; i < 80; ++i) bytes += "400\r\n" + std::string(1024, 'x') + "\r\n";
  EXPECT_EQ(chunked.take(bytes), State::wrong);
  EXPECT_EQ(chunked.status(), 413);
  HttpReader target(limits);
  EXPECT_EQ(target.take("GET /" + std::string(3000, 'a') + " HTTP/1.1\r\nHost: a\r\n\r\n"),
            State::wrong);
}

TEST_F(Reader, RefusesWhatIsNoRequestOrHasTwoReadings) {
  const std::string line = "POST / HTTP/1.1\r\n";
  for (const std::string& bytes :
       {std::string("\x16\x03\x01\x02garbage\r\n\r\n"), std::string("GET / HTTP/2.0\r\n\r\n"),
        line + "\r\n", line + "Host: a\r\nHost: b\r\n\r\n",
        line + "Host: a\r\nContent-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        line + "Host: a\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\nab",
        line + "Host: a\r\nContent-Length: -1\r\n\r\n", line + "Host: a\r\nBad Name: b\r\n\r\n",
        line + "Host: a\r\nOrigin: a\r\nOrigin: b\r\nContent-Length: 0\r\n\r\n"}) {
    HttpReader one(limits);
    EXPECT_EQ(one.take(bytes), State::wrong) << bytes;
    EXPECT_EQ(one.status(), 400) << bytes;
  }
}

TEST(Messages, FormsAreDecodedOrRefused) {
  const auto fields = form_in("token=a%2Bb+c&x=");
  ASSERT_TRUE(fields);
  EXPECT_EQ(fields->at(0).second, "a+b c");
  EXPECT_EQ(fields->at(1).second, "");
  EXPECT_FALSE(form_in("a=%4"));
  EXPECT_FALSE(form_in("a=%00"));
  EXPECT_FALSE(form_in("=1"));
}

TEST(Messages, AreMadeSmallerWhereTheCallerTakesItAndItIsWorthIt) {
  const auto packed = [](std::string body, bool takes) {
    Answer answer;
    answer.body = std::move(body);
    compress(answer, takes);
    return answer.body.size();
  };
  const std::string points(100'000, '8');
  EXPECT_LT(packed(points, true), 2'000u);
  EXPECT_EQ(packed(points, false), points.size());
  EXPECT_EQ(packed(std::string(1'000, '8'), true), 1'000u);
  EXPECT_EQ(packed(std::string(kCompressedMost + 1, '8'), true), kCompressedMost + 1);
  std::string noise;
  for (unsigned i = 0, x = 1; i < 5'000; ++i) {
    x = x * 1'664'525u + 1'013'904'223u;
    noise += static_cast<char>(x >> 24);
  }
  EXPECT_EQ(packed(noise, true), noise.size()) << "what does not get smaller stays";
}

constexpr const char* kStatus = R"({"clock_set":true,"broker":{"up":true,"received":5},
 "chambers":[{"id":"tub \"1\"\n","air":[
   {"quantity":"humidity","value":88.5,"usable":true,"age_s":2.5,"keep":[85,90]},
   {"quantity":"co2","value":900,"usable":false,"age_s":900,"keep":null}],
  "actuators":[{"id":"mister","effect":"humidify","level_pct":100,"health":"ready"}]}],
 "tubs":[{"id":"tub-1","batch":"B-1","phase":"fruiting","elapsed_s":60}],
 "alerts":[{"place":"tub-1","cause":"co2_high","rank":"now","since_s":9}]})";

TEST(Metrics, SayWhatStatusSaysInBaseUnits) {
  const std::string text = metrics_text(kStatus, SheetCounters{});
  for (const char* line :
       {"tubwarden_relative_humidity_ratio{chamber=\"tub \\\"1\\\"\\n\"} 0.88",
        "tubwarden_reading_usable{chamber=\"tub \\\"1\\\"\\n\",quantity=\"co2\"} 0\n",
        "tubwarden_broker_messages_received_total 5\n", "tubwarden_alerts{rank=\"now\"} 1\n",
        "tubwarden_alerts{rank=\"today\"} 0\n",
        "tubwarden_tub_phase_seconds{tub=\"tub-1\",batch=\"B-1\",phase=\"fruiting\"} 60\n"}) {
    EXPECT_NE(text.find(line), std::string::npos) << line << text;
  }
  EXPECT_EQ(text.find("tubwarden_co2_ppm{"), std::string::npos) << "a stale value is none";
  EXPECT_NE(metrics_text("no JSON", SheetCounters{}).find("tubwarden_sheet_requests_total 0\n"),
            std::string::npos);
}

TEST(Metrics, HaveNothingThatPromtoolWouldWarnOf) {
  parts::TempFolder folder;
  folder.write("metrics", metrics_text(kStatus, SheetCounters{}));
  const auto ran = parts::run({"/bin/sh", "-c", "promtool check metrics < \"$1\"", "sh",
                               (folder.path() / "metrics").string()});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_EQ(ran.out + ran.err, "");
}

}  // namespace
}  // namespace tubwarden::sheet
