#include "programs/cli/words_kitchen.hpp"

#include <CLI/CLI.hpp>
#include <utility>

#include "core/air/salts.hpp"
#include "settings/amount.hpp"

namespace tubwarden::cli {

KitchenWords::KitchenWords(Command& command, Add add) : command_(command), add_(std::move(add)) {}

void KitchenWords::add_kitchen(CLI::App& to) {
  CLI::App* kitchen =
      add_(to, "kitchen", "Sums of the kitchen; no daemon.", "tubwarden kitchen salts --at 19C");
  kitchen->require_subcommand(1);
  add_salts(*kitchen);
}

void KitchenWords::add_salts(CLI::App& kitchen) {
  CLI::App* sub = add_(kitchen, "salts", "A humidity sensor checked over two saturated salts.",
                       "tubwarden kitchen salts\n  tubwarden kitchen salts NaCl=76.0 K2SO4=95.1 "
                       "--at 19C --tub tub-1 --sensor air");
  sub->add_option("POINT", salts_.points, "what the sensor read over a salt: NaCl=76.0, twice");
  sub->add_option("--at", at_, "the temperature of jar and sensor, 10C to 30C; 20C without")
      ->type_name("TEMPERATURE");
  CLI::Option* tub = sub->add_option("--tub", salts_.tub, "whose record keeps it; with --sensor")
                         ->type_name("TUB");
  CLI::Option* sensor =
      sub->add_option("--sensor", salts_.sensor, "which of its sensors it was")->type_name("ID");
  tub->needs(sensor);
  sensor->needs(tub);
  sub->callback([this] {
    if (!at_.empty()) {
      const auto at = parse_amount(at_, Measure::temperature);
      if (!at.ok()) throw CLI::ValidationError("--at", at.error().text);
      if (!(Celsius{*at} >= kSaltsFrom && Celsius{*at} <= kSaltsTo)) {
        throw CLI::ValidationError("--at", "'" + at_ + "' is outside 10 C to 30 C");
      }
      salts_.at_c = *at;
    }
    if (!salts_.tub.empty() && salts_.points.empty()) {
      throw CLI::ValidationError("--tub", "keeps two points, and none is given");
    }
    command_.wanted = salts_;
  });
}

}  // namespace tubwarden::cli
