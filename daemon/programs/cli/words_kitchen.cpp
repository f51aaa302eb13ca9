#include "programs/cli/words_kitchen.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <utility>

#include "core/air/salts.hpp"
#include "core/kitchen/breath.hpp"
#include "core/kitchen/grain.hpp"
#include "core/kitchen/mix.hpp"
#include "core/kitchen/steam.hpp"
#include "core/sensing/decode.hpp"
#include "programs/cli/words_setup.hpp"

namespace tubwarden::cli {
namespace {

[[noreturn]] void wrong_figure(const std::string& option, const std::string& why) {
  throw CLI::ValidationError(option, why);
}

std::string known_materials() {
  std::string names;
  for (const Material& m : materials()) {
    names += (names.empty() ? "" : ", ") + std::string(m.name);
  }
  return names;
}

Ingredient ingredient(const std::string& given) {
  const std::size_t equals = given.find('=');
  if (equals == std::string::npos) {
    wrong_figure("MATERIAL", fmt::format("'{}' is no ingredient; allowed: a material and its mass, "
                                         "like wheat-straw=4kg",
                                         given));
  }
  const auto material = material_named(given.substr(0, equals));
  if (!material) {
    wrong_figure("MATERIAL", fmt::format("'{}' is not known here; allowed: {}",
                                         given.substr(0, equals), known_materials()));
  }
  const auto kg = parse_amount(given.substr(equals + 1), Measure::mass);
  if (!kg.ok()) wrong_figure("MATERIAL", kg.error().text);
  return {*material, *kg};
}

}  // namespace

KitchenWords::KitchenWords(Command& command, Add add) : command_(command), add_(std::move(add)) {}

void KitchenWords::ask(CLI::App& sub, const std::string& name, const std::string& help) {
  sub.add_option(name, texts_[name], help)->type_name("AMOUNT");
}

void KitchenWords::ask_log(CLI::App& sub, const std::string& column) {
  sub.add_option("FILE", log_.file, "CSV with `time` and the column; - for standard input")
      ->required();
  sub.add_option("--column", log_.column, "which column it is; " + column + " without");
  sub.add_option("--sensor", log_.sensor, "whose lines, where there is a column `sensor`");
}

void KitchenWords::take_log(KitchenLog::What what, const std::string& column) {
  log_.what = what;
  if (log_.column.empty()) log_.column = column;
  command_.wanted = log_;
}

bool KitchenWords::given(const std::string& name) const {
  const auto found = texts_.find(name);
  return found != texts_.end() && !found->second.empty();
}

double KitchenWords::amount(const std::string& name, Measure measure,
                            std::optional<double> otherwise) const {
  if (!given(name)) {
    if (otherwise) return *otherwise;
    wrong_figure(name, fmt::format("is needed; write {}", allowed_units(measure)));
  }
  const auto value = parse_amount(texts_.at(name), measure);
  if (!value.ok()) wrong_figure(name, value.error().text);
  return *value;
}

void KitchenWords::take(const std::string& of, const Result<Sum>& sum) {
  if (!sum.ok()) wrong_figure(of, sum.error().text);
  command_.wanted = KitchenSum{*sum};
}

void KitchenWords::add_kitchen(CLI::App& to) {
  CLI::App* kitchen = add_(to, "kitchen", "Sums of the kitchen, from grain to air; no daemon.",
                           "tubwarden kitchen grain --grain 2kg\n  tubwarden kitchen hold --gauge "
                           "15psi --altitude 800m");
  kitchen->require_subcommand(1);
  add_grain(*kitchen);
  add_hold(*kitchen);
  add_lethality(*kitchen);
  add_substrate(*kitchen);
  add_spawn(*kitchen);
  add_casing(*kitchen);
  add_fresh_air(*kitchen);
  add_air_changes(*kitchen);
  add_dew_point(*kitchen);
  add_salts(*kitchen);
}

void KitchenWords::add_grain(CLI::App& kitchen) {
  CLI::App* sub = add_(kitchen, "grain", "Water for grain, its own moisture counted.",
                       "tubwarden kitchen grain --grain 2kg --moisture 52%");
  ask(*sub, "--grain", "the dry grain, as bought");
  ask(*sub, "--own", "its moisture as bought; 11 % without");
  ask(*sub, "--moisture", "what it is to have; 52 % without");
  sub->callback([this] {
    take("--grain", grain_sum({amount("--grain", Measure::mass),
                               amount("--own", Measure::share, kGrainMoisture * 100.0) / 100.0,
                               amount("--moisture", Measure::share, 52.0) / 100.0}));
  });
}

void KitchenWords::add_hold(CLI::App& kitchen) {
  CLI::App* sub = add_(kitchen, "hold", "How long a load is held at a gauge pressure and altitude.",
                       "tubwarden kitchen hold --gauge 15psi --altitude 800m --lethality 15m");
  ask(*sub, "--gauge", "what the gauge shows, never more than the vessel is rated for");
  ask(*sub, "--altitude", "above the sea; 0 m without");
  ask(*sub, "--lethality", "the F0 wanted, as a time at 121.1 C; 15m without");
  sub->callback([this] {
    const double f0_s = given("--lethality") ? [this] {
      const auto time = parse_duration(texts_.at("--lethality"));
      if (!time.ok()) wrong_figure("--lethality", time.error().text);
      return seconds_of(*time);
    }() : 900.0;
    take("--gauge", hold_sum({amount("--gauge", Measure::gauge),
                              amount("--altitude", Measure::length, 0.0), f0_s / 60.0}));
  });
}

void KitchenWords::add_lethality(CLI::App& kitchen) {
  CLI::App* sub = add_(kitchen, "lethality", "F0 of a temperature log, or of a probe as it speaks.",
                       "tubwarden kitchen lethality run-12.csv\n  tubwarden history cooker --csv | "
                       "tubwarden kitchen lethality - --column air_temperature_c\n  tubwarden "
                       "kitchen lethality --topic cellar/cooker/probe --at /t --config "
                       "/etc/tubwarden");
  ask_log(*sub, "temperature_c");
  sub->get_option("FILE")->required(false);
  sub->add_option("--topic", probe_.topic, "instead of a log: the topic of a probe in the load")
      ->type_name("TOPIC");
  sub->add_option("--at", probe_.at, "where in its payload, like /t; the whole of it without")
      ->type_name("PLACE")
      ->check([](const std::string& given) {
        return valid_pointer(given) ? std::string() : "'" + given + "' is no place like /t";
      });
  sub->add_option("--unit", probe_.unit, "of its numbers: C, F or K; C without")
      ->type_name("UNIT")
      ->check(CLI::IsMember({"C", "F", "K"}));
  ask(*sub, "--lethality", "the F0 wanted, as a time at 121.1 C; 15m without");
  ask(*sub, "--for", "how long at most; 4h without");
  ask_broker(*sub, probe_);
  sub->callback([this, sub] { take_probe(*sub); });
}

void KitchenWords::take_probe(CLI::App& sub) {
  if (probe_.topic.empty() == log_.file.empty()) {
    wrong_figure("FILE", "is needed, or --topic: one of them");
  }
  if (!log_.file.empty()) {
    for (const char* option : {"--at", "--unit", "--lethality", "--for", "--broker", "--config"}) {
      if (sub.get_option(option)->count() > 0) wrong_figure(option, "belongs to --topic");
    }
    return take_log(KitchenLog::What::lethality, "temperature_c");
  }
  if (probe_.topic.find_first_of("+#") != std::string::npos) {
    wrong_figure("--topic", "is one topic, without + and #");
  }
  const auto time = [this](const char* option, Duration otherwise) {
    if (!given(option)) return otherwise;
    const auto said = parse_duration(texts_.at(option));
    if (!said.ok()) wrong_figure(option, said.error().text);
    return *said;
  };
  probe_.length = time("--for", probe_.length);
  if (probe_.length < seconds(1) || probe_.length > hours(12)) {
    wrong_figure("--for", "is 1s to 12h");
  }
  probe_.f0 = seconds_of(time("--lethality", from_seconds(probe_.f0 * 60.0))) / 60.0;
  command_.wanted = probe_;
}

void KitchenWords::add_substrate(CLI::App& kitchen) {
  CLI::App* sub = add_(kitchen, "substrate", "Water, gypsum and C:N of a substrate.",
                       "tubwarden kitchen substrate wheat-straw=4kg horse-manure=6kg "
                       "broiler-litter=1.5kg");
  sub->add_option("MATERIAL", ingredients_, "MATERIAL=MASS, as it is: " + known_materials())
      ->required();
  ask(*sub, "--moisture", "what it is to have; 69 % without");
  sub->callback([this] {
    SubstrateWish wish;
    for (const std::string& text : ingredients_) wish.ingredients.push_back(ingredient(text));
    wish.target = amount("--moisture", Measure::share, wish.target * 100.0) / 100.0;
    take("MATERIAL", substrate_sum(wish));
  });
}

void KitchenWords::add_spawn(CLI::App& kitchen) {
  CLI::App* sub = add_(kitchen, "spawn", "Spawn for a substrate, and jars of it.",
                       "tubwarden kitchen spawn --substrate 5kg --rate 5% --jar 350g");
  ask(*sub, "--substrate", "the wet substrate");
  ask(*sub, "--rate", "of the wet substrate; 5 % without");
  ask(*sub, "--jar", "the grain in one full jar");
  sub->callback([this] {
    take("--substrate", spawn_sum({amount("--substrate", Measure::mass),
                                   amount("--rate", Measure::share, 5.0) / 100.0,
                                   amount("--jar", Measure::mass, 0.0)}));
  });
}

void KitchenWords::add_casing(CLI::App& kitchen) {
  CLI::App* sub = add_(kitchen, "casing", "How much casing a tub takes.",
                       "tubwarden kitchen casing --length 60cm --width 40cm --depth 4cm");
  ask(*sub, "--length", "of the bed");
  ask(*sub, "--width", "of the bed");
  ask(*sub, "--depth", "of the casing; 4 cm without");
  sub->callback([this] {
    take("--depth",
         casing_sum({amount("--length", Measure::length), amount("--width", Measure::length),
                     amount("--depth", Measure::length, 0.04)}));
  });
}

void KitchenWords::add_fresh_air(CLI::App& kitchen) {
  CLI::App* sub =
      add_(kitchen, "fresh-air", "Fresh air that holds a CO2 level.",
           "tubwarden kitchen fresh-air --compost 5kg --mushrooms 500g --below 1000ppm");
  ask(*sub, "--compost", "the wet substrate");
  ask(*sub, "--mushrooms", "what stands on it; 0 kg without");
  ask(*sub, "--below", "the level to stay under; 1000 ppm without");
  ask(*sub, "--room", "the room's level; 420 ppm without");
  ask(*sub, "--at", "the substrate's temperature; 16 C without");
  ask(*sub, "--net", "the tub's net air, for air changes");
  sub->callback([this] {
    FreshAirWish wish;
    wish.compost_kg = amount("--compost", Measure::mass);
    wish.mushrooms_kg = amount("--mushrooms", Measure::mass, 0.0);
    wish.keep_below_ppm = amount("--below", Measure::co2, wish.keep_below_ppm);
    wish.room_ppm = amount("--room", Measure::co2, wish.room_ppm);
    wish.celsius = amount("--at", Measure::temperature, wish.celsius);
    if (given("--net")) wish.net_l = amount("--net", Measure::volume);
    take("--compost", fresh_air_sum(wish));
  });
}

void KitchenWords::add_air_changes(CLI::App& kitchen) {
  CLI::App* sub = add_(kitchen, "air-changes", "Air changes an hour from a decay of CO2.",
                       "tubwarden history tub-1 --from 2h --csv | tubwarden kitchen air-changes - "
                       "--net 40L");
  ask_log(*sub, "co2_ppm");
  ask(*sub, "--room", "the room's level; 420 ppm without");
  ask(*sub, "--net", "the tub's net air, for the flow");
  sub->callback([this] {
    log_.background_ppm = amount("--room", Measure::co2, log_.background_ppm);
    if (given("--net")) log_.net_l = amount("--net", Measure::volume);
    take_log(KitchenLog::What::air_changes, "co2_ppm");
  });
}

void KitchenWords::add_dew_point(CLI::App& kitchen) {
  CLI::App* sub = add_(kitchen, "dew-point", "Dew point and humidity ratio of an air.",
                       "tubwarden kitchen dew-point --at 17C --humidity 90%");
  ask(*sub, "--at", "the air's temperature");
  ask(*sub, "--humidity", "its relative humidity");
  sub->callback([this] {
    take("--at", dew_sum({amount("--at", Measure::temperature)},
                         {amount("--humidity", Measure::humidity)}));
  });
}

void KitchenWords::add_salts(CLI::App& kitchen) {
  CLI::App* sub = add_(kitchen, "salts", "A humidity sensor checked over two saturated salts.",
                       "tubwarden kitchen salts\n  tubwarden kitchen salts NaCl=76.0 K2SO4=95.1 "
                       "--at 19C --tub tub-1 --sensor air");
  sub->add_option("POINT", salts_.points, "what the sensor read over a salt: NaCl=76.0, twice");
  ask(*sub, "--at", "the temperature of jar and sensor, 10C to 30C; 20C without");
  sub->add_option("--tub", salts_.tub, "whose record keeps it; with --sensor")->type_name("TUB");
  sub->add_option("--sensor", salts_.sensor, "which of its sensors it was; with --tub")
      ->type_name("ID");
  sub->callback([this] {
    salts_.at_c = amount("--at", Measure::temperature, salts_.at_c);
    if (!(Celsius{salts_.at_c} >= kSaltsFrom && Celsius{salts_.at_c} <= kSaltsTo)) {
      wrong_figure("--at", "'" + texts_.at("--at") + "' is outside 10 C to 30 C");
    }
    if (salts_.tub.empty() != salts_.sensor.empty()) {
      wrong_figure("--tub", "and --sensor stand together");
    }
    if (!salts_.tub.empty() && salts_.points.empty()) {
      wrong_figure("--tub", "keeps two points, and none is given");
    }
    command_.wanted = salts_;
  });
}

}  // namespace tubwarden::cli
