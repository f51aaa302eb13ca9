#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "shell/warden/warden_state.hpp"

namespace tubwarden {

void Warden::State::tell(const AlertChange& change) {
  const Alert& alert = change.alert;
  const DeskAlert* stood = desk.find(alert.key);
  // One that stood when the daemon was last ended goes on, and is no news.
  const bool goes_on = change.raised && stood && stood->active;
  parts.log(fmt::format("alert {} {}/{}: {}",
                        goes_on         ? "goes on"
                        : change.raised ? "raised"
                                        : "returned",
                        alert.key.place, alert.key.cause, alert.text));
  publish_alert(change);
  ToldNow told = change.raised ? turn_desk(desk::Raised{alert}) : turn_desk(desk::Returned{alert});
  if (!goes_on) {
    told.entries.insert(
        told.entries.begin(),
        entry("daemon", AlertNoted{alert.key.place, alert.key.cause, change.raised, alert.text}));
  }
  hand_over(std::move(told));
}

void Warden::State::suspect(const AlertKey& key, bool is) {
  if (is == desk.suspects(key) || cover_rows(key.cause).as_root == 0) return;
  use_desk(desk::Suspected{key, is});
}

void Warden::State::judge_site(const AlertKey& key, bool holds, Duration on_delay, AlertRank rank,
                               const std::string& text) {
  if (!holds && !site_alerts.contains(key)) {
    // It stood before the daemon was started, and is judged now: it is over.
    const DeskAlert* stood = desk.find(key);
    if (!stood || !stood->active || !stood->must_come_by) return;
    Alert over = stood->alert;
    over.text = text;
    return tell({over, false});
  }
  auto& [timer, alert] = site_alerts[key];
  alert.key = key;
  alert.rank = rank;
  alert.text = text;
  const AlertTimer::Change change = timer.judge(holds, on_delay, Duration{0}, now());
  alert.since = timer.since();
  const bool waits = timer.due().has_value();
  if (change == AlertTimer::Change::none) return suspect(key, holds && waits);
  tell({alert, change == AlertTimer::Change::raised});
  suspect(key, false);
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
  for (const Alert& alert : raised) {
    tell({alert, true});
    suspect(alert.key, false);
  }
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
