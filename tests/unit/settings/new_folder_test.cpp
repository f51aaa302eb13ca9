// The folder that `init` writes, read back by the loader.
#include "settings/new_folder.hpp"

#include <gmock/gmock.h>

#include <sstream>

#include "core/fit/water.hpp"
#include "parts/parts.hpp"
#include "settings/fit.hpp"
#include "settings/settings.hpp"

namespace tubwarden {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

/// The catalogue as far as wiring needs one; the system tests ask the real plugins.
PluginCatalogue catalogue() {
  PluginDescription relay;
  relay.name = "mqtt_relay";
  relay.network = relay.has_will = true;
  relay.options = {{"topic", "topic", "", {}, ""},
                   {"run", "text", "", {}, ""},
                   {"rest", "text", "", {}, ""},
                   {"confirm", "topic", "", "", ""}};
  PluginDescription simulated;
  simulated.name = "simulated";
  simulated.options = {{"file", "text", "", {}, ""}};
  return {{"mqtt_relay", relay}, {"simulated", simulated}};
}

InitAnswers whole(InitAnswers given = {}) {
  take_fallbacks(given);
  return given;
}

Loaded loaded(const InitAnswers& answers) {
  const parts::TempFolder folder;
  for (const NewFile& file : new_folder(answers, "/run/x.sock")) {
    folder.write(file.name, file.text);
  }
  return load_folder(folder.path(), catalogue());
}

std::vector<std::string> errors_of(const Loaded& read) {
  std::vector<std::string> errors;
  for (const Finding& f : read.findings) {
    if (f.severity == Severity::error) errors.push_back(f.told());
  }
  return errors;
}

const InitQuestion& question(std::string_view name) {
  for (const InitQuestion& q : init_questions()) {
    if (q.name == name) return q;
  }
  throw std::runtime_error("no such question");
}

TEST(NewFolder, OfAllFallbacksIsWhole) {
  const Loaded read = loaded(whole());
  EXPECT_THAT(errors_of(read), IsEmpty());
  ASSERT_TRUE(read.site);
  EXPECT_EQ(read.site->site, "home");
  EXPECT_EQ(read.site->control_socket, "/run/x.sock");
  EXPECT_EQ(read.site->record_folder, "/var/lib/tubwarden");
  ASSERT_EQ(read.grow.tubs.size(), 1u);
  EXPECT_EQ(read.grow.tubs[0].id, "tub-1");
  EXPECT_EQ(read.grow.tubs[0].batch, "B-01");
  ASSERT_EQ(read.grow.chambers.size(), 1u);
  EXPECT_EQ(read.grow.chambers[0].sensors.size(), 1u);
  EXPECT_EQ(read.grow.chambers[0].actuators.size(), 2u);
  EXPECT_FALSE(read.grow.room.temperature.known());
}

TEST(NewFolder, EveryAnswerStandsInIt) {
  const Loaded read = loaded(whole({{"site", "shed"},
                                    {"broker", "mqtts://b.example:8884"},
                                    {"user-file", "/etc/u"},
                                    {"ca-file", "/etc/ca"},
                                    {"cert-file", "/etc/c"},
                                    {"key-file", "/etc/k"},
                                    {"room-temperature", "17 C"},
                                    {"room-humidity", "55 %"},
                                    {"record", "/srv/r"},
                                    {"tub", "left"},
                                    {"batch", "B-09"},
                                    {"phase", "pinning"},
                                    {"net-volume", "60 L"},
                                    {"substrate", "8 kg"},
                                    {"air-topic", "s/{a}: \"b\""},
                                    {"humidity-at", "whole"},
                                    {"temperature-at", "none"},
                                    {"co2-at", "/a, b"},
                                    {"bed-topic", "s/bed"},
                                    {"bed-at", "whole"},
                                    {"bed-unit", "F"},
                                    {"mister-rate", "30 g/h"},
                                    {"mister-topic", "s/m"},
                                    {"mister-run", "on"},
                                    {"mister-rest", "off"},
                                    {"mister-confirm", "s/m/now"},
                                    {"mister-falls", "30s"},
                                    {"fan-driver", "simulated"},
                                    {"fan-rate", "3 m3/h"},
                                    {"heater-driver", "mqtt_relay"},
                                    {"heater-cut-out", "bimetal: 45 C"}}));
  EXPECT_THAT(errors_of(read), IsEmpty());
  ASSERT_TRUE(read.site);
  EXPECT_EQ(read.site->broker.url, "mqtts://b.example:8884");
  EXPECT_EQ(read.site->broker.user_file, "/etc/u");
  EXPECT_EQ(read.site->broker.key_file, "/etc/k");
  EXPECT_EQ(read.site->record_folder, "/srv/r");
  EXPECT_EQ(read.grow.room.temperature.fixed, 17.0);
  ASSERT_EQ(read.grow.tubs.size(), 1u);
  EXPECT_EQ(read.grow.tubs[0].phase, "pinning");
  EXPECT_EQ(read.grow.tubs[0].substrate_kg, 8.0);
  EXPECT_EQ(read.grow.tubs[0].substrate_ceiling_c, 26.5) << "with a thermometer in the bed";
  const ChamberPlan& air = read.grow.chambers.at(0);
  EXPECT_EQ(air.net_volume.litres, 60.0);
  ASSERT_EQ(air.sensors.size(), 2u);
  EXPECT_EQ(air.sensors[0].topic, "s/{a}: \"b\"");
  EXPECT_EQ(air.sensors[0].quantities[0].at, "");
  EXPECT_EQ(air.sensors[0].quantities[1].at, "/a, b");
  EXPECT_EQ(air.sensors[1].quantities[0].unit, SensorUnit::fahrenheit);
  EXPECT_EQ(air.sensors[1].quantities[0].quantity, Quantity::substrate_temperature);
  ASSERT_EQ(air.actuators.size(), 3u);
  EXPECT_EQ(air.actuators[0].rate, 30.0);
  EXPECT_EQ(air.actuators[0].output.falls_by_itself_after, Duration(seconds(30)));
  EXPECT_THAT(air.actuators[0].output.wiring_json,
              ::testing::AllOf(HasSubstr(R"("run":"on")"), HasSubstr(R"("confirm":"s/m/now")")));
  EXPECT_EQ(air.actuators[1].output.driver, "simulated");
  EXPECT_EQ(air.actuators[2].effect, Effect::heat);
}

TEST(NewFolder, OfEveryPhaseAndDriverIsWhole) {
  for (const std::string& phase : button_phases()) {
    for (const char* driver : {"mqtt_relay", "simulated", "none"}) {
      const Loaded read = loaded(whole({{"phase", phase},
                                        {"mister-driver", driver},
                                        {"fan-driver", driver},
                                        {"heater-driver", driver},
                                        {"heater-falls", "30s"}}));
      EXPECT_THAT(errors_of(read), IsEmpty()) << phase << " " << driver;
      EXPECT_EQ(read.grow.tubs.size(), 1u);
    }
  }
}

TEST(NewFolder, AMistersRunsMoveAQuarterAndHalfOfTheBandAtMost) {
  for (const char* rate : {"2 g/h", "20 g/h", "100 g/h", "400 g/h"}) {
    const Loaded read = loaded(whole({{"mister-rate", rate}}));
    const ActuatorPlan& mister = read.grow.chambers.at(0).actuators.at(0);
    const auto moves = [&](Duration run) {
      return fit::rh_of_run(*mister.rate, run, Litres{40}, Celsius{17});
    };
    const bool finest = mister.limits.shortest_run == milliseconds(100);
    EXPECT_TRUE(finest || moves(mister.limits.shortest_run) <= 1.25) << rate;
    EXPECT_TRUE(finest || moves(mister.limits.longest_run) <= 2.5) << rate;
    EXPECT_LE(mister.limits.shortest_run, mister.limits.longest_run) << rate;
    EXPECT_GE(mister.limits.longest_run, milliseconds(100)) << rate;
  }
}

TEST(NewFolder, ItsLimitsAreNotWhatTheFitCheckMinds) {
  for (const char* volume : {"20 L", "40 L", "90 L", "2000 L"}) {
    for (const char* fan : {"0.5 m3/h", "2 m3/h", "10 m3/h"}) {
      const Loaded read = loaded(whole({{"net-volume", volume}, {"fan-rate", fan}}));
      for (const FitLine& line : fit_of(read.grow)) {
        const bool of_a_run = line.about == FitAbout::fan_step || line.about == FitAbout::mist_step;
        EXPECT_FALSE(of_a_run && line.mark != FitMark::fits) << volume << fan << line.text;
      }
    }
  }
}

TEST(NewFolder, TheBandOfThoseSumsIsTheProfilesNarrowest) {
  const Loaded read = loaded(whole());
  double narrowest = 100;
  for (const PhasePlan& phase : read.grow.tubs.at(0).profile->phases) {
    const auto& humidity = phase.of(Quantity::humidity);
    if (!humidity || !humidity->keep || humidity->keep->form != Keep::Form::between) continue;
    narrowest = std::min(narrowest, humidity->keep->high - humidity->keep->low);
  }
  EXPECT_EQ(narrowest, 5.0);
}

TEST(NewFolder, CarriesTheShippedProfile) {
  EXPECT_EQ(shipped_button_profile(),
            parts::read_file(TUBWARDEN_SOURCE_DIR "/config/profiles/button.yaml"));
  EXPECT_THAT(button_phases(), ElementsAre("grain", "colonization", "casing", "pinning", "fruiting",
                                           "drying", "rest", "empty"));
}

TEST(NewFolder, NoLineOfItIsTooWide) {
  for (const NewFile& file : new_folder(whole(), "/run/tubwarden/control.sock")) {
    if (file.name == kProfileFile) continue;  // as it is shipped
    std::istringstream lines(file.text);
    for (std::string line; std::getline(lines, line);) {
      EXPECT_LE(line.size(), 100u) << file.name << ": " << line;
      EXPECT_FALSE(line.ends_with(' ')) << file.name << ": " << line;
    }
  }
}

TEST(InitQuestions, EveryFallbackIsARightAnswer) {
  InitAnswers answers;
  for (const InitQuestion& q : init_questions()) {
    if (!applies(q, answers)) continue;
    const std::string fallback = fallback_of(q, answers);
    EXPECT_EQ(wrong_answer(q, fallback, answers), std::nullopt) << q.name;
    answers[std::string(q.name)] = fallback;
  }
  EXPECT_EQ(answers["air-topic"], "home/tub-1/air");
  EXPECT_FALSE(answers.contains("heater-rate")) << "no heater, no question about it";
}

struct Wrong {
  const char* name;
  const char* answer;
  const char* says;
};
void PrintTo(const Wrong& w, std::ostream* out) { *out << w.name << " " << w.answer; }

class WrongAnswer : public testing::TestWithParam<Wrong> {};

TEST_P(WrongAnswer, SaysWhatIsAllowed) {
  const Wrong& w = GetParam();
  const auto wrong =
      wrong_answer(question(w.name), w.answer, whole({{"heater-driver", "mqtt_relay"}}));
  ASSERT_TRUE(wrong) << w.name;
  EXPECT_THAT(*wrong, HasSubstr(w.says));
}

INSTANTIATE_TEST_SUITE_P(
    Answers, WrongAnswer,
    testing::Values(
        Wrong{"site", "my place", "letters, digits"}, Wrong{"site", "", "no name"},
        Wrong{"broker", "localhost", "mqtt://HOST"},
        Wrong{"user-file", "u", "a path from the root"}, Wrong{"user-file", "u", "or none"},
        Wrong{"ca-file", "/ca", "mqtts://"}, Wrong{"net-volume", "40", "60 L"},
        Wrong{"net-volume", "0 L", "out of range"}, Wrong{"net-volume", "none", "volume"},
        Wrong{"phase", "fruitng", "fruiting"}, Wrong{"phase", "none", "allowed: grain"},
        Wrong{"room-humidity", "120 %", "0 % to 100 %"},
        Wrong{"air-topic", "a/#", "without # and +"}, Wrong{"humidity-at", "rh", "or whole"},
        Wrong{"humidity-at", "", "or none"}, Wrong{"bed-unit", "R", "C, F, K"},
        Wrong{"mister-rate", "20 m3/h", "g/h"}, Wrong{"mister-rate", "0 g/h", "out of range"},
        Wrong{"mister-driver", "gpio", "mqtt_relay, simulated, none"},
        Wrong{"mister-rest", "1", "two different"},
        Wrong{"mister-confirm", "home/tub-1/mister", "another topic"},
        Wrong{"mister-falls", "soon", "or never"}, Wrong{"mister-falls", "2h", "out of range"},
        Wrong{"heater-cut-out", "none", "a lost network would leave it on"}));

}  // namespace
}  // namespace tubwarden
