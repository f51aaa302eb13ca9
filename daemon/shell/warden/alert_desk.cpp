// The alert desk at work: its tellings become entries of the record and messages to the channels.
#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/grow/phase_truth.hpp"
#include "shell/warden/alert_words.hpp"
#include "shell/warden/warden_state.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

std::int64_t from_mark(Instant t, const Stamp& at) { return (t - at.boot).count(); }

/// An instant as the time from the moment of writing, so that another boot can read it.
void put_time(Json& j, const char* name, const std::optional<Instant>& t, const Stamp& at) {
  if (t) j[name] = from_mark(*t, at);
}

std::optional<Instant> kept_time(const Json& j, const char* name, Instant mark) {
  const auto it = j.find(name);
  if (it == j.end() || !it->is_number_integer()) return std::nullopt;
  return mark + Duration(it->get<std::int64_t>());
}

std::string kept_text(const Json& j, const char* name) {
  const auto it = j.find(name);
  return it != j.end() && it->is_string() ? it->get<std::string>() : std::string();
}

bool kept_flag(const Json& j, const char* name) {
  const auto it = j.find(name);
  return it != j.end() && it->is_boolean() && it->get<bool>();
}

int kept_count(const Json& j, const char* name) {
  const auto it = j.find(name);
  return it != j.end() && it->is_number_integer() ? it->get<int>() : 0;
}

DeskAlert read_back(const AlertKept& row, const Json& j, Instant mark, Instant now) {
  DeskAlert a;
  a.alert.key = {row.place, row.cause};
  a.alert.rank = rank_named(kept_text(j, "rank")).value_or(AlertRank::today);
  a.alert.text = kept_text(j, "text");
  a.alert.since = kept_time(j, "since", mark).value_or(now);
  a.number = kept_count(j, "number");
  a.active = kept_flag(j, "active");
  a.seen = kept_flag(j, "seen");
  a.off = kept_flag(j, "off");
  a.off_since = kept_time(j, "off_since", mark);
  a.note = kept_text(j, "note");
  a.quiet_until = kept_time(j, "quiet_until", mark);
  a.occurrence = kept_text(j, "occurrence");
  a.owed = kept_flag(j, "owed");
  a.held = kept_flag(j, "held");
  a.in_flood = kept_flag(j, "in_flood");
  a.first_told = kept_time(j, "first_told", mark);
  a.last_told = kept_time(j, "last_told", mark);
  a.told_again = kept_count(j, "told_again");
  a.over_since = kept_time(j, "over_since", mark);
  if (const auto told = j.find("told"); told != j.end() && told->is_array()) {
    for (const Json& id : *told) {
      if (id.is_string()) a.told.insert(id.get<std::string>());
    }
  }
  if (a.active) a.must_come_by = now + kComesAgainWithin;
  return a;
}

}  // namespace

AlertKept Warden::State::kept(const AlertKey& key) const {
  const DeskAlert* a = desk.find(key);
  const Stamp at = stamp();
  if (!a) return {key.place, key.cause, "", at};
  Json j = {{"rank", name_of(a->alert.rank)},
            {"text", a->alert.text},
            {"number", a->number},
            {"active", a->active},
            {"seen", a->seen},
            {"off", a->off},
            {"note", a->note},
            {"occurrence", a->occurrence},
            {"owed", a->owed},
            {"held", a->held},
            {"in_flood", a->in_flood},
            {"told_again", a->told_again},
            {"told", a->told}};
  put_time(j, "since", a->alert.since, at);
  put_time(j, "off_since", a->off_since, at);
  put_time(j, "quiet_until", a->quiet_until, at);
  put_time(j, "first_told", a->first_told, at);
  put_time(j, "last_told", a->last_told, at);
  put_time(j, "over_since", a->over_since, at);
  return {key.place, key.cause, j.dump(-1, ' ', false, Json::error_handler_t::replace), at};
}

void Warden::State::restore_desk(const std::vector<AlertKept>& rows) {
  const Stamp at = stamp();
  for (const AlertKept& row : rows) {
    const Json j = Json::parse(row.words, nullptr, false);
    if (!j.is_object()) continue;
    desk.restore(read_back(row, j, at.boot - elapsed_at(row.at, Duration{0}, at), at.boot));
  }
}

DeskMoment Warden::State::desk_moment() const {
  DeskMoment moment{now(), std::nullopt};
  if (parts.clock.wall_is_set()) moment.second_of_day = parts.clock.local_second_of_day();
  return moment;
}

void Warden::State::set_desk_rules() {
  DeskRules rules;
  for (const ChannelPlan& channel : site->channels) {
    if (channel.heartbeat && channel.ranks.empty()) continue;  // it hears the heartbeat alone
    rules.channels.push_back({channel.id, channel.ranks, channel.after_unseen});
  }
  rules.again_every = site->alerts.again_every;
  rules.quiet_from_s = site->alerts.quiet_from_minute * 60;
  rules.quiet_to_s = site->alerts.quiet_to_minute * 60;
  rules.held = site->alerts.held;
  desk.rules(std::move(rules));
  use_desk(desk::Time{});
}

/// Into the outbox, a row a channel, and out. Without any channel the port still sees what would be
/// told.
void Warden::State::to_channels(Notice notice, ToldNow& told) {
  for (const std::string& channel : notice.to) {
    told.entries.push_back(entry(
        "daemon",
        NoticeWritten{notice.key, channel, std::string(name_of(notice.rank)),
                      std::string(name_of(notice.state)), notice.title, notice.text, stamp()}));
  }
  const bool nobody = notice.to.empty() && site && !site->channels.empty();
  if (!nobody) told.notices.push_back(std::move(notice));
}

ToldNow Warden::State::turn_desk(const DeskEvent& event, const std::string& who) {
  ToldNow told;
  const DeskEffects effects = desk.step(event, desk_moment());
  told.refused = effects.refused;
  for (const AlertKey& key : effects.changed) told.entries.push_back(entry("daemon", kept(key)));
  for (const Telling& telling : effects.tellings) {
    Notice notice = words_of(telling, who);
    if (telling.channels.empty()) parts.log("no channel is told: " + notice.title);
    notice.to = telling.channels;
    to_channels(std::move(notice), told);
  }
  for (const AlertKey& key : effects.taken_back) {
    const DeskAlert* a = desk.find(key);
    ENSURE(a);
    Alert over = a->alert;
    over.text = fmt::format("{}: it has not come again since the daemon was started.", key.place);
    const AlertNoted noted{key.place, key.cause, false, over.text};
    ToldNow more = turn_desk(desk::Returned{over});
    told.entries.push_back(entry("daemon", noted));
    std::move(more.entries.begin(), more.entries.end(), std::back_inserter(told.entries));
    std::move(more.notices.begin(), more.notices.end(), std::back_inserter(told.notices));
  }
  return told;
}

/// The message stands in the record, in the transaction of what it tells, before it goes out.
void Warden::State::hand_over(ToldNow told) {
  if (!told.entries.empty()) append(std::move(told.entries));
  for (const Notice& notice : told.notices) parts.channels.deliver(notice);
}

void Warden::State::desk_due() {
  if (desk.due() && *desk.due() <= now()) use_desk(desk::Time{});
}

std::vector<DeskAlert> Warden::State::alerts_off() const {
  std::vector<DeskAlert> all;
  for (const auto& [key, a] : desk.alerts()) {
    if (a.off) all.push_back(a);
  }
  std::stable_sort(all.begin(), all.end(), [](const DeskAlert& a, const DeskAlert& b) {
    return a.off_since < b.off_since;
  });
  return all;
}

}  // namespace tubwarden
