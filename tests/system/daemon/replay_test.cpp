// A recorded room replayed through a real broker: every reading is accounted for.
// Data: Candanedo & Feldheim, Energy and Buildings 112 (2016) 28-39, the UCI occupancy set,
// datatest.txt.
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "rig.hpp"

namespace {

using namespace rig;

std::filesystem::path data_file() {
  const char* given = std::getenv("TUBWARDEN_OCCUPANCY");
  const std::filesystem::path folder =
      given ? given : std::string(TUBWARDEN_SOURCE_DIR) + "/../shared/data/occupancy";
  return folder / "datatest.txt";
}

std::string field(std::istringstream& row) {
  std::string text;
  std::getline(row, text, ',');
  return text;
}

TEST(Replay, EveryReadingOfARecordedRoomIsAccountedFor) {
  std::ifstream file(data_file());
  if (!file) GTEST_SKIP() << "the recorded room is not beside the checkout: " << data_file();

  Rig r;
  std::string tub = Rig::text_of({});
  const std::string co2 = "      temperature: {at: /t, place: air}\n";
  tub.replace(tub.find(co2), co2.size(), co2 + "      co2: {at: /co2}\n");
  r.folder().write(r.config("tubs/tub-1.yaml"), tub);
  r.start();

  std::string line, payloads, last;
  std::getline(file, line);  // seven names over eight fields: the row number has none
  std::uint64_t sent = 0, bad = 0, too_wet = 0;
  while (std::getline(file, line)) {
    std::istringstream row(line);
    field(row);
    field(row);
    const std::string t = field(row), rh = field(row);
    field(row);
    const std::string c = field(row);
    last = "{\"t\":" + t + ",\"rh\":" + rh + ",\"co2\":" + c + "}";
    payloads += last + "\n";
    ++sent;
    if (sent % 100 == 0) {  // what a broken sensor sends now and then
      const bool wet = sent % 200 == 0;
      payloads += wet ? "{\"rh\":188.0}\n" : "{\"t\":\"nan\",\"rh\":\"-\"}\n";
      too_wet += wet ? 1 : 0;
      ++sent;
      ++bad;
    }
  }
  ASSERT_EQ(sent - bad, 2665U) << "the reference page counts 2665 rows";
  r.folder().write("rows.txt", payloads);
  const parts::Ran ran =
      parts::run({"sh", "-c",
                  "exec mosquitto_pub -h 127.0.0.1 -p " + std::to_string(r.broker().port()) +
                      " -q 1 -t shed/tub-1/air -l < " + (r.folder().path() / "rows.txt").string()},
                 60s);
  ASSERT_EQ(ran.status, 0) << ran.err;

  json b;
  EXPECT_TRUE(r.wait(
      [&] {
        b = r.status()["broker"];
        return b["received"].get<std::uint64_t>() + b["refused"].get<std::uint64_t>() +
                   b["dropped"].get<std::uint64_t>() ==
               sent;
      },
      30s))
      << b.dump(1) << "\nsent " << sent;
  EXPECT_EQ(b["refused"], bad);
  EXPECT_EQ(b["refused_for"]["out of range"], too_wet);
  EXPECT_EQ(b["refused_for"]["not a number"], 2 * (bad - too_wet)) << "two quantities in each";
  for (const json& q : json(r.chamber("tub-1")["air"])) {
    if (q["quantity"] == "co2") {
      EXPECT_EQ(q["value"], json::parse(last)["co2"]);
    }
  }
}

}  // namespace
