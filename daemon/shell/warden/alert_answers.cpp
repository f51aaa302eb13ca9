// Questions about alerts, and the grower's three verbs: seen, quiet until, off while I fix it.
#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "settings/amount.hpp"
#include "shell/warden/alert_words.hpp"
#include "shell/warden/asked.hpp"
#include "shell/warden/views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

constexpr Duration kQuietMost = days(31);
constexpr std::size_t kWorst = 10;
constexpr std::size_t kNoteMax = 400;

std::string full_key(const AlertKey& key) { return key.place + "." + key.cause; }

/// An instant of this boot as a wall time, or null while the clock is unset.
Json wall_or_null(const Warden::State& s, const std::optional<Instant>& t) {
  if (!t) return nullptr;
  Stamp at = s.stamp();
  if (!at.wall_set) return nullptr;
  return rfc3339(at.wall - duration_cast<milliseconds>(at.boot - *t));
}

Json alert_view(const Warden::State& s, const DeskAlert& a) {
  const CauseWords words = words_for(a.alert.key.cause);
  const Instant now = s.now();
  return {{"number", a.number},
          {"key", full_key(a.alert.key)},
          {"place", a.alert.key.place},
          {"cause", a.alert.key.cause},
          {"rank", name_of(a.alert.rank)},
          {"state", name_of(a.state())},
          {"active", a.active},
          {"since", wall_or_null(s, a.alert.since)},
          {"since_s", seconds_of(now - a.alert.since)},
          {"text", a.alert.text},
          {"means", words.means},
          {"do", words.steps},
          {"have", words.have},
          {"covered_by", a.because_of ? Json(full_key(*a.because_of)) : Json(nullptr)},
          {"held", a.held},
          {"quiet_until", wall_or_null(s, a.quiet_until)},
          {"quiet_left_s", a.quiet_until ? Json(seconds_of(*a.quiet_until - now)) : Json(nullptr)},
          {"off_since", wall_or_null(s, a.off_since)},
          {"off_for_s", a.off_since ? Json(seconds_of(now - *a.off_since)) : Json(nullptr)},
          {"note", a.note}};
}

/// One of an earlier run that has not come again stands nowhere yet.
bool listed(const DeskAlert& a) { return !a.must_come_by || a.off || a.quiet_until; }

/// `key`, or `place` and `cause`.
std::string key_word(const Asked& asked) {
  const std::string place = asked.args.text("place"), cause = asked.args.text("cause");
  return place.empty() || cause.empty() ? asked.args.text("key") : place + "." + cause;
}

/// What an act on a key begins with: the alert of the desk, or one that may still come.
std::optional<Alert> alert_named(Asked& asked, bool may_come) {
  const std::string word = key_word(asked);
  const AlertDesk& desk = asked.s.desk;
  if (const auto key = desk.named(word)) {
    if (const DeskAlert* a = desk.find(*key); a && listed(*a)) return a->alert;
  }
  const std::size_t dot = word.find_first_of("./");
  if (may_come && dot != std::string::npos) {
    const AlertKey key{word.substr(0, dot), word.substr(dot + 1)};
    const bool there =
        key.place == "site" || asked.s.tubs.contains(key.place) || asked.s.airs.contains(key.place);
    if (there && cause_row(key.cause)) {
      return Alert{key, AlertRank::today, fmt::format("{}: {}.", key.place, in_words(key.cause)),
                   asked.s.now()};
    }
  }
  std::vector<std::string> known;
  for (const auto& [key, a] : desk.alerts()) {
    if (listed(a)) known.push_back(fmt::format("{} ({})", a.number, full_key(key)));
  }
  if (known.empty()) {
    asked.reply(Error{ErrorCode::not_found, "no alert stands; there is none to act on"});
  } else {
    asked.reply(unknown("alert", word, known));
  }
  return std::nullopt;
}

void perform_verb(Asked& asked, const DeskEvent& event, const AlertKey& key, AlertVerb verb,
                  std::optional<WallTime> until, const std::string& note, const std::string& text) {
  Warden::State& s = asked.s;
  ToldNow told = s.turn_desk(event, asked.who);
  if (told.refused) {
    return asked.reply(
        Error{ErrorCode::refused, verb == AlertVerb::back
                                      ? full_key(key) + " is neither off nor quiet"
                                      : "more alerts stand than can be kept; see to some first"});
  }
  s.parts.log(fmt::format("{} (by {})", text, asked.who));
  told.entries.push_back(
      s.entry(asked.who, AlertActed{key.place, key.cause, verb, until, note, text}));
  append_and_tell(asked, std::move(told.entries), text);
  for (const Notice& notice : told.notices) s.parts.channels.deliver(notice);
  if (const DeskAlert* a = s.desk.find(key); a && a->active) s.publish_alert({a->alert, true});
}

void see_all(Asked& asked) {
  Warden::State& s = asked.s;
  std::vector<AlertKey> keys;
  for (const auto& [key, a] : s.desk.alerts()) {
    if (!a.seen) keys.push_back(key);
  }
  ToldNow told = s.turn_desk(desk::SeenAll{}, asked.who);
  if (told.refused) return asked.reply(Json{{"text", "every alert was seen before"}}.dump());
  for (const AlertKey& key : keys) {
    told.entries.push_back(s.entry(
        asked.who,
        AlertActed{key.place, key.cause, AlertVerb::seen, {}, "", "alert seen: " + full_key(key)}));
  }
  append_and_tell(asked, std::move(told.entries),
                  fmt::format("{} alert{} seen", keys.size(), keys.size() == 1 ? "" : "s"));
  for (const Notice& notice : told.notices) s.parts.channels.deliver(notice);
  for (const AlertKey& key : keys) {
    if (const DeskAlert* a = s.desk.find(key); a && a->active) s.publish_alert({a->alert, true});
  }
}

/// `for_s`, `for` ("2h") or `until` (RFC 3339): until when, from now.
std::optional<Duration> quiet_for(Asked& asked) {
  std::optional<Duration> lasts;
  if (const auto given = asked.args.number("for_s")) {
    if (*given >= 0.0 && *given <= seconds_of(kQuietMost)) lasts = from_seconds(*given);
  } else if (const std::string words = asked.args.text("for"); !words.empty()) {
    const auto parsed = parse_duration(words);
    if (!parsed.ok()) {
      asked.reply(parsed.error());
      return std::nullopt;
    }
    lasts = *parsed;
  } else if (const auto until = parse_rfc3339(asked.args.text("until"))) {
    if (!asked.s.parts.clock.wall_is_set()) {
      asked.reply(
          Error{ErrorCode::refused, "the board's clock is not set; say for how long, like 2h"});
      return std::nullopt;
    }
    lasts = *until - asked.s.parts.clock.wall();
  }
  if (lasts && *lasts >= minutes(1) && *lasts <= kQuietMost) return lasts;
  asked.reply(Error{ErrorCode::bad_input,
                    "quiet has an end, 1m to 31d from now; say it as 2h, or as a time to come"});
  return std::nullopt;
}

/// `days` back from now, 7 where none are named.
WallTime span_begins(const Asked& asked) {
  const double back = std::clamp(asked.args.number("days").value_or(7.0), 0.01, 3650.0);
  return asked.s.parts.clock.wall() - duration_cast<milliseconds>(from_seconds(back * 86400.0));
}

}  // namespace

Json alerts_view(const Warden::State& s, bool only_standing) {
  std::vector<const DeskAlert*> sorted;
  for (const auto& [key, a] : s.desk.alerts()) {
    if (!listed(a) || (only_standing && (!a.active || a.must_come_by))) continue;
    sorted.push_back(&a);
  }
  std::stable_sort(sorted.begin(), sorted.end(), [](const DeskAlert* a, const DeskAlert* b) {
    return std::pair(a->alert.rank, a->alert.since) < std::pair(b->alert.rank, b->alert.since);
  });
  Json list = Json::array();
  for (const DeskAlert* a : sorted) list.push_back(alert_view(s, *a));
  return list;
}

Json off_view(const Warden::State& s) {
  Json list = Json::array();
  for (const DeskAlert& a : s.alerts_off()) list.push_back(alert_view(s, a));
  return list;
}

void do_alerts(Asked& asked) {
  Json channels = Json::array();
  for (const ChannelView& view : asked.s.parts.channels.views()) {
    channels.push_back({{"id", view.id},
                        {"waiting", view.waiting},
                        {"delivered", view.delivered},
                        {"given_up", view.given_up},
                        {"failures", view.failures},
                        {"why", view.why},
                        {"next_try_s", seconds_of(view.next_try)}});
  }
  const Json answer = {{"alerts", alerts_view(asked.s, false)},
                       {"flood", asked.s.desk.flood()},
                       {"dropped", asked.s.desk.dropped()},
                       {"channels", channels}};
  asked.reply(answer.dump(-1, ' ', false, Json::error_handler_t::replace));
}

/// {key} or {all: true}; without either the only one that nobody has seen.
void do_alert_seen(Asked& asked) {
  if (asked.args.yes("all") || asked.args.text("key") == "all") return see_all(asked);
  if (key_word(asked).empty()) {
    const auto& all = asked.s.desk.alerts();
    const auto unseen =
        std::count_if(all.begin(), all.end(), [](const auto& one) { return !one.second.seen; });
    if (unseen == 1) return see_all(asked);
  }
  const auto alert = alert_named(asked, false);
  if (!alert) return;
  perform_verb(asked, desk::Seen{alert->key}, alert->key, AlertVerb::seen, {}, "",
               "alert seen: " + full_key(alert->key));
}

/// {key, until | for | for_s}
void do_alert_quiet(Asked& asked) {
  const auto alert = alert_named(asked, true);
  if (!alert) return;
  const auto lasts = quiet_for(asked);
  if (!lasts) return;
  std::optional<WallTime> until;
  if (asked.s.parts.clock.wall_is_set()) {
    until = asked.s.parts.clock.wall() + duration_cast<milliseconds>(*lasts);
  }
  perform_verb(asked, desk::QuietUntil{*alert, asked.s.now() + *lasts}, alert->key,
               AlertVerb::quiet, until, "",
               fmt::format("alert quiet for {}: {}", spoken(*lasts), full_key(alert->key)));
}

/// {key, note}
void do_alert_off(Asked& asked) {
  const std::string note = asked.args.text("note");
  if (note.empty() || note.size() > kNoteMax) {
    return asked.reply(Error{ErrorCode::bad_input,
                             "off needs a reason, a few words: alerts off KEY --note \"...\""});
  }
  const auto alert = alert_named(asked, true);
  if (!alert) return;
  perform_verb(asked, desk::Off{*alert, note}, alert->key, AlertVerb::off, {}, note,
               fmt::format("alert off while it is mended: {}: {}", full_key(alert->key), note));
}

/// {key}
void do_alert_back(Asked& asked) {
  const auto alert = alert_named(asked, false);
  if (!alert) return;
  perform_verb(asked, desk::Back{alert->key}, alert->key, AlertVerb::back, {}, "",
               "alert back: " + full_key(alert->key));
}

/// {days, limit}
void do_alert_history(Asked& asked) {
  const auto limit = static_cast<std::size_t>(
      std::clamp(asked.args.number("limit").value_or(200.0), 1.0, double{kAlertRowsMax}));
  asked.s.parts.record.alert_rows(
      span_begins(asked), limit, [reply = std::move(asked.reply)](auto rows) {
        if (!rows.ok()) return reply(rows.error());
        Json list = Json::array();
        for (const AlertRow& row : *rows) {
          list.push_back({{"at", rfc3339(row.stamp.wall)},
                          {"clock_set", row.stamp.wall_set},
                          {"who", row.who},
                          {"key", row.place + "." + row.cause},
                          {"place", row.place},
                          {"cause", row.cause},
                          {"what", row.what},
                          {"text", row.text}});
        }
        reply(Json{{"rows", list}}.dump(-1, ' ', false, Json::error_handler_t::replace));
      });
}

/// {days}
void do_alert_worst(Asked& asked) {
  asked.s.parts.record.alert_counts(
      span_begins(asked), kWorst, [reply = std::move(asked.reply)](auto counts) {
        if (!counts.ok()) return reply(counts.error());
        Json list = Json::array();
        for (const AlertCount& count : *counts) {
          list.push_back({{"key", count.place + "." + count.cause},
                          {"place", count.place},
                          {"cause", count.cause},
                          {"raised", count.raised},
                          {"last", rfc3339(count.last.wall)}});
        }
        reply(Json{{"worst", list}}.dump(-1, ' ', false, Json::error_handler_t::replace));
      });
}

}  // namespace tubwarden
