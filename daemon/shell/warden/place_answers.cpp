#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "shell/warden/grow_asked.hpp"
#include "shell/warden/views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

/// Less is no watering; more at once drowns any tub (common practice, no source).
constexpr double kWaterLeast = 1.0;
constexpr double kWaterMost = 20'000.0;

bool has_batch(const Tub& tub) { return tub.known && tub.known->batch == tub.plan.batch; }

Error no_batch(const Tub& tub) {
  return {ErrorCode::refused,
          fmt::format("no batch is open in {0}; open the one its file names first: tubwarden phase "
                      "{0} PHASE",
                      tub.plan.id)};
}

/// The shared airs, and the tub's own.
std::vector<std::string> airs_for(const Warden::State& s, const Tub& tub) {
  std::vector<std::string> known;
  for (const ChamberPlan& chamber : s.plan.chambers) {
    const auto owner = s.tubs.find(chamber.id);
    const bool anothers = owner != s.tubs.end() && owner->second.file_place == chamber.id &&
                          chamber.id != tub.plan.id;
    if (!anothers) known.push_back(chamber.id);
  }
  return known;
}

/// What the move means for the air it goes to and the one it leaves.
std::string told_move(const Warden::State& s, const Tub& tub, const std::string& left) {
  const std::string& id = tub.plan.id;
  const std::string& into = tub.plan.chamber;
  std::string text = fmt::format("{} stands in {} now, no longer in {}", id, place_words(id, into),
                                 place_words(id, left));
  const std::string leader = leader_of(s.standing_in(into));
  if (!leader.empty() && leader != id) {
    const auto& known = s.tubs.at(leader).known;
    text += fmt::format("; the air keeps the phase of {} ({})", leader,
                        known ? known->phase : "not confirmed");
  }
  if (s.plan.chamber(left) && s.standing_in(left).tubs.empty()) {
    text += fmt::format("; nobody stands in {} now, its outputs stay safe", left);
  }
  return text;
}

Error no_air() { return {ErrorCode::unavailable, "the tub's chamber has no whole configuration"}; }

/// What a casing gave up until now, where that is known.
std::string casing_told(const Air& air, const std::string& tub) {
  const WaterView view = air.chamber.water();
  if (!view.missing.empty()) return "";
  for (const CasingView& casing : view.casings) {
    if (casing.tub == tub && casing.account.covered >= hours(1)) return told(casing, view);
  }
  return "";
}

}  // namespace

void do_move(Asked& asked) {
  const std::string name = asked.args.text("tub");
  if (asked.args.has("jars") || (!asked.s.tubs.contains(name) && asked.s.grow.book.jar(name))) {
    std::vector<std::string> jars = asked.args.texts("jars");
    if (jars.empty()) jars.push_back(name);
    return keep_acts(asked, {JarsMoved{jars, asked.args.text("chamber")}});
  }
  Tub* tub = tub_named(asked);
  if (!tub) return;
  Warden::State& s = asked.s;
  const std::string& id = tub->plan.id;
  const std::string to = asked.args.text("chamber");
  if (!s.plan.chamber(to)) return asked.reply(unknown("chamber", to, airs_for(s, *tub)));
  if (!has_batch(*tub)) return asked.reply(no_batch(*tub));

  const MoveVerdict verdict = s.may_move(*tub, to);
  if (const std::string why = s.refusal(*tub, to, verdict); !why.empty()) {
    return asked.reply(Error{ErrorCode::refused, why});
  }
  if (verdict == MoveVerdict::stays) {
    const bool asks = !tub->place_trouble.empty() || tub->known->place_seen != tub->file_place;
    if (!asks) {
      const std::string text = fmt::format("{} stands in {} already", id, place_words(id, to));
      return asked.reply(Json{{"entry", nullptr}, {"on_disk", true}, {"text", text}}.dump());
    }
    tub->known->place_seen = tub->file_place;
    tub->place_trouble.clear();
    s.judge_places();
    return append_and_tell(
        asked, {s.entry(asked.who, PlaceSeen{id, tub->file_place})},
        fmt::format("{} stays in {}; its file is noted", id, place_words(id, to)));
  }
  const std::string left = tub->plan.chamber;
  std::vector<Entry> entries = s.place(*tub, to, asked.who);
  s.rebuild_airs();
  s.judge_places();
  append_and_tell(asked, std::move(entries), told_move(s, *tub, left));
}

void do_water(Asked& asked) {
  Tub* tub = tub_named(asked);
  if (!tub) return;
  const auto amount = asked.args.number("millilitres");
  if (!amount || !(*amount >= kWaterLeast && *amount <= kWaterMost)) {
    return asked.reply(Error{
        ErrorCode::bad_input,
        fmt::format("water of {} mL: allowed are {} mL to {} L", amount ? trimmed(*amount) : "no",
                    trimmed(kWaterLeast), trimmed(kWaterMost / 1000.0))});
  }
  if (!has_batch(*tub)) return asked.reply(no_batch(*tub));
  if (tub->plan.is_shelf) {
    return asked.reply(Error{ErrorCode::refused,
                             tub->plan.id + " is a shelf of jars, and grain is never watered; wet "
                                            "lids invite mould"});
  }
  Warden::State& s = asked.s;
  std::string text = fmt::format("{}: watered with {} mL", tub->plan.id, trimmed(*amount, 0));
  if (const auto air = s.airs.find(tub->plan.chamber); air != s.airs.end()) {
    if (const std::string before = casing_told(*air->second, tub->plan.id); !before.empty()) {
      text += "; until now " + before;
    }
    s.step(*air->second, event::Watered{tub->plan.id, *amount});
    s.keep_book(*air->second);
  }
  append_and_tell(
      asked,
      {s.entry(asked.who, Watered{tub->plan.id, tub->plan.chamber, tub->known->batch, *amount})},
      text);
}

void do_book(Asked& asked) {
  Tub* tub = tub_named(asked);
  if (!tub) return;
  const auto air = asked.s.airs.find(tub->plan.chamber);
  if (air == asked.s.airs.end()) return asked.reply(no_air());
  Json view = water_view(air->second->chamber);
  view["tub"] = tub->plan.id;
  asked.reply(view.dump());
}

void do_refill(Asked& asked) {
  Tub* tub = tub_named(asked);
  if (!tub) return;
  const auto found = asked.s.airs.find(tub->plan.chamber);
  if (found == asked.s.airs.end()) return asked.reply(no_air());
  Air& air = *found->second;
  const std::string id = asked.args.text("actuator");
  std::vector<std::string> misters;
  for (const ActuatorPlan& a : air.chamber.plan().actuators) {
    if (a.effect == Effect::humidify) misters.push_back(a.id);
  }
  if (misters.empty()) {
    return asked.reply(Error{ErrorCode::refused, tub->plan.id + " has no mister"});
  }
  if (std::find(misters.begin(), misters.end(), id) == misters.end()) {
    return asked.reply(unknown("mister", id, misters));
  }
  asked.s.step(air, event::Refilled{id});
  asked.s.keep_book(air);
  std::string text = "the tank of " + id + " is full";
  for (const TankView& tank : air.chamber.water().tanks) {
    if (tank.actuator == id) text += fmt::format(": {} L", trimmed(tank.holds_ml / 1000.0, 1));
  }
  const std::string batch = tub->known ? tub->known->batch : "";
  append_and_tell(
      asked,
      {asked.s.entry(asked.who, Act{"refilled", tub->plan.id, tub->plan.chamber, batch, text})},
      fmt::format("{}: {}", tub->plan.id, text));
}

}  // namespace tubwarden
