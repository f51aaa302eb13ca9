#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "shell/warden/warden_state.hpp"

namespace tubwarden {

namespace {

/// The line of a phone's message that says how long: by the wall clock where it can be believed.
std::string since_when(const Clock& clock, const AlertChange& change) {
  const Duration stood = clock.now() - change.alert.since;
  const std::string lasted = change.raised ? "" : fmt::format("It lasted {}.", spoken(stood));
  if (stood >= days(1) || !clock.wall_is_set()) {
    return change.raised ? fmt::format("For {} now.", spoken(stood)) : lasted;
  }
  const auto ago = static_cast<int>(duration_cast<seconds>(stood).count());
  const int minute = (clock.local_second_of_day() - ago + 86400) % 86400 / 60;
  return fmt::format("{} {:02}:{:02}.{}{}", change.raised ? "Since" : "It began at", minute / 60,
                     minute % 60, lasted.empty() ? "" : " ", lasted);
}

/// "humidity_low" as a grower reads it.
std::string in_words(std::string cause) {
  std::replace(cause.begin(), cause.end(), '_', ' ');
  return cause;
}

}  // namespace

void Warden::State::tell(const AlertChange& change) {
  const Alert& alert = change.alert;
  parts.log(fmt::format("alert {} {}/{}: {}", change.raised ? "raised" : "returned",
                        alert.key.place, alert.key.cause, alert.text));
  publish_alert(change);
  Notice notice;
  notice.key = fmt::format("{}.{}@{}{}", alert.key.place, alert.key.cause,
                           alert.since.time_since_epoch().count(), change.raised ? "" : "/over");
  notice.rank = alert.rank;
  notice.title = fmt::format("{}{}: {}", change.raised ? "" : "over: ", alert.key.place,
                             in_words(alert.key.cause));
  notice.text = alert.text + "\n" + since_when(parts.clock, change);
  notice.over = !change.raised;
  parts.channels.deliver(notice);
  append(
      {entry("daemon", AlertNoted{alert.key.place, alert.key.cause, change.raised, alert.text})});
}

void Warden::State::judge_site(const AlertKey& key, bool holds, Duration on_delay, AlertRank rank,
                               const std::string& text) {
  if (!holds && !site_alerts.contains(key)) return;
  auto& [timer, alert] = site_alerts[key];
  alert.key = key;
  alert.rank = rank;
  alert.text = text;
  const AlertTimer::Change change = timer.judge(holds, on_delay, Duration{0}, now());
  alert.since = timer.since();
  if (change == AlertTimer::Change::none) return;
  tell({alert, change == AlertTimer::Change::raised});
  if (change == AlertTimer::Change::returned) site_alerts.erase(key);
}

void Warden::State::judge_site_again() {
  const Instant moment = now();
  std::vector<Alert> raised;
  for (auto& [key, entry] : site_alerts) {
    auto& [timer, alert] = entry;
    if (!timer.due() || *timer.due() > moment) continue;
    // A timer is due only while its condition holds: it was told so, and nothing has changed it.
    const auto change = timer.judge(true, Duration{0}, Duration{0}, moment);
    if (change == AlertTimer::Change::raised) raised.push_back(alert);
  }
  for (const Alert& alert : raised) tell({alert, true});
}

void Warden::State::withdraw_orphans() {
  std::vector<AlertKey> orphans;
  for (const auto& [key, alert] : site_alerts) {
    const bool there = key.place == "site" || tubs.contains(key.place) || airs.contains(key.place);
    if (!there) orphans.push_back(key);
  }
  for (const AlertKey& key : orphans) {
    const AlertRank rank = site_alerts.at(key).second.rank;
    judge_site(key, false, Duration{0}, rank,
               fmt::format("{}: it has left the configuration.", key.place));
    site_alerts.erase(key);
  }
}

std::vector<Alert> Warden::State::standing() const {
  std::vector<Alert> all;
  for (const auto& [key, entry] : site_alerts) {
    if (entry.first.raised()) all.push_back(entry.second);
  }
  for (const auto& [id, air] : airs) {
    const auto& own = air->chamber.alerts();
    all.insert(all.end(), own.begin(), own.end());
  }
  return all;
}

std::string Warden::in_short() const {
  const auto counted = [](std::size_t n, const char* what) {
    return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s");
  };
  return fmt::format("{}, broker {}, {}", counted(state_->tubs.size(), "tub"),
                     state_->is_up ? "up" : "away", counted(state_->standing().size(), "alert"));
}

}  // namespace tubwarden
