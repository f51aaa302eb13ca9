// A relay behind a real broker, as its tests meet it: one output by mqtt_relay, and a listener in
// the relay's place. For tests/system/hosts and tests/fault/hosts.
// Threading: the test's thread. Failure: an expectation of the test.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "system/hosts/bench.hpp"

namespace tubwarden::relay_bench {

using namespace bench;
using parts::Heard;

inline constexpr const char* kTopic = "cellar/mister";
inline constexpr const char* kWiring = R"({"topic":"cellar/mister","run":"RUN","rest":"0"})";
inline constexpr const char* kConfirming =
    R"({"topic":"cellar/mister","run":"RUN","rest":"0","confirm":"cellar/mister/now"})";

inline OutputPlan relay(Duration lease = seconds(3), const char* wiring = kWiring,
                        Level safe = kRest) {
  OutputPlan result = plan("mister", "mqtt_relay", wiring, lease, safe);
  result.network = true;
  return result;
}

inline bool is_run(const Heard& heard) { return heard.payload == "RUN"; }
inline bool is_rest(const Heard& heard) { return heard.payload == "0"; }

inline std::size_t count(const std::string& text, const std::string& piece) {
  std::size_t found = 0;
  for (std::size_t at = text.find(piece); at != std::string::npos; at = text.find(piece, at + 1)) {
    ++found;
  }
  return found;
}

class Relay : public testing::Test {
 protected:
  void ready(Bench& b) {
    ASSERT_TRUE(b.until_health("mister", OutputHealth::ready)) << b.last_why("mister");
  }
  bool hears(Bench& b, parts::Listener& listener, bool (*what)(const Heard&), std::size_t from = 0,
             std::chrono::milliseconds limit = 5s) {
    return b.until(
        [&] {
          const auto all = listener.heard(kTopic);
          return from < all.size() &&
                 std::any_of(all.begin() + static_cast<long>(from), all.end(), what);
        },
        limit);
  }

  parts::Mosquitto broker_;
};

}  // namespace tubwarden::relay_bench
