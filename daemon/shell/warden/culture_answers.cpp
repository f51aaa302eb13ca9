// Answers about what stands before the tub: cultures, sterilising runs, substrate.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "settings/amount.hpp"
#include "shell/warden/grow_asked.hpp"
#include "shell/warden/grow_views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

const Culture* culture_named(Asked& asked) {
  const auto& cultures = asked.s.grow.book.cultures();
  const std::string id = asked.args.text("culture");
  const auto found = cultures.find(id);
  if (found != cultures.end()) return &found->second;
  if (cultures.empty()) {
    asked.reply(Error{ErrorCode::not_found,
                      fmt::format("no culture is called '{}'; there is none yet: tubwarden "
                                  "culture receive ID --volume 10mL",
                                  id)});
    return nullptr;
  }
  std::vector<std::string> known;
  for (const auto& [name, culture] : cultures) known.push_back(name);
  asked.reply(unknown("culture", id, known));
  return nullptr;
}

}  // namespace

void do_culture_receive(Asked& asked) {
  const auto volume = number_named(asked, "millilitres", "10");
  if (!volume) return;
  const std::string id = asked.args.text("culture");
  keep_acts(asked,
            {CultureReceived{id, asked.args.text("strain"), asked.args.text("source"), *volume}});
}

void do_culture_open(Asked& asked) {
  keep_acts(asked, {CultureOpened{asked.args.text("culture")}});
}

void do_culture_discard(Asked& asked) {
  keep_acts(asked, {CultureDiscarded{asked.args.text("culture"), asked.args.text("why")}});
}

void do_cultures(Asked& asked) {
  Json rows = Json::array();
  for (const auto& [id, culture] : asked.s.grow.book.cultures()) {
    rows.push_back(culture_view(asked.s.grow.book, culture));
  }
  asked.reply(Json{{"cultures", rows}}.dump());
}

void do_culture(Asked& asked) {
  const Culture* culture = culture_named(asked);
  if (!culture) return;
  const GrowBook& book = asked.s.grow.book;
  Json view = culture_view(book, *culture);
  view["jar_rows"] = Json::array();
  for (const Jar* each : jars_in_order(book)) {
    const Jar& jar = *each;
    if (jar.culture == culture->id)
      view["jar_rows"].push_back(jar_view(jar, asked.s.parts.clock.wall()));
  }
  asked.reply(Json{{"culture", view}}.dump());
}

void do_sterilise(Asked& asked) {
  const auto hold = parse_duration(asked.args.text("hold"));
  if (!hold.ok()) return asked.reply(hold.error());
  keep_acts(asked, {Sterilised{asked.args.text("run"), asked.args.text("what"), *hold,
                               asked.args.number("gauge_kpa"), asked.args.number("f0_minutes")}});
}

void do_substrate(Asked& asked) {
  const auto dry = number_named(asked, "dry_kg", "5");
  if (!dry) return;
  const auto water = number_named(asked, "water_kg", "8");
  if (!water) return;
  const double percent = 100.0 * *water / std::max(*dry + *water, 1e-9);
  const SubstrateMade act{asked.args.text("mix"), asked.args.text("of"), *dry, *water};
  keep_acts(asked, {act},
            fmt::format("{}: {} % of it is water added", told(GrowAct{act}), trimmed(percent, 0)));
}

}  // namespace tubwarden
