#include "core/alert/desk.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

constexpr int kNumberMax = 99;

std::string occurrence_of(const Alert& alert) {
  return fmt::format("{}.{}@{}", alert.key.place, alert.key.cause,
                     alert.since.time_since_epoch().count());
}

}  // namespace

std::string_view name_of(AlertState state) {
  switch (state) {
    case AlertState::unseen:
      return "unseen";
    case AlertState::seen:
      return "seen";
    case AlertState::over_unseen:
      return "over_unseen";
    case AlertState::quiet:
      return "quiet";
    case AlertState::off:
      return "off";
  }
  ENSURE(false);
}

AlertState DeskAlert::state() const {
  if (off) return AlertState::off;
  if (quiet_until) return AlertState::quiet;
  if (!active) return AlertState::over_unseen;
  return seen ? AlertState::seen : AlertState::unseen;
}

const DeskAlert* AlertDesk::find(const AlertKey& key) const {
  const auto found = alerts_.find(key);
  return found == alerts_.end() ? nullptr : &found->second;
}

std::optional<AlertKey> AlertDesk::named(std::string_view word) const {
  std::vector<AlertKey> parts;
  for (const auto& [key, a] : alerts_) {
    if (word == std::to_string(a.number)) return key;
    const std::string full = key.place + "." + key.cause;
    if (word == full || word == key.place + "/" + key.cause) return key;
    if (!word.empty() && full.find(word) != std::string::npos) parts.push_back(key);
  }
  return parts.size() == 1 ? std::optional(parts.front()) : std::nullopt;
}

void AlertDesk::restore(DeskAlert alert) {
  last_number_ = std::max(last_number_, alert.number);
  alert.rows = cover_rows(alert.alert.key.cause);
  alerts_[alert.alert.key] = std::move(alert);
}

DeskEffects AlertDesk::step(const DeskEvent& event, DeskMoment moment) {
  moment_ = moment;
  due_.reset();
  DeskEffects out;
  std::visit([&](const auto& e) { take(e, out); }, event);
  tell(out);
  forget_normal(out);
  std::sort(out.changed.begin(), out.changed.end());
  out.changed.erase(std::unique(out.changed.begin(), out.changed.end()), out.changed.end());
  return out;
}

/// The smallest step on from the last one given, so that a number does not soon mean another.
int AlertDesk::free_number() {
  std::set<int> used;
  for (const auto& [key, a] : alerts_) used.insert(a.number);
  for (int i = 1; i <= kNumberMax; ++i) {
    const int n = (last_number_ + i - 1) % kNumberMax + 1;
    if (!used.contains(n)) return last_number_ = n;
  }
  return last_number_ = *used.rbegin() + 1;
}

DeskAlert* AlertDesk::place(const Alert& alert) {
  const auto found = alerts_.find(alert.key);
  if (found != alerts_.end()) return &found->second;
  if (alerts_.size() >= kDeskMax) {
    ++dropped_;
    return nullptr;
  }
  const int number = free_number();
  DeskAlert& a = alerts_[alert.key];
  a.alert = alert;
  a.number = number;
  a.rows = cover_rows(alert.key.cause);
  a.seen = true;  // nothing has been to see yet
  return &a;
}

/// It stands and is to be told: anew, whatever was told of it before.
void AlertDesk::owe(DeskAlert& a, Instant from) {
  a.owed = true;
  a.owed_from = from;
  a.seen = false;
  a.held = false;
  a.counted = false;
  a.in_flood = false;
  a.because_of.reset();
  a.first_told.reset();
  a.last_told.reset();
}

// --- the cycle ----------------------------------------------------------------------------------

void AlertDesk::take(const desk::Raised& e, DeskEffects& out) {
  DeskAlert* a = place(e.alert);
  if (!a) return;
  out.changed.push_back(e.alert.key);
  if (a->active) {
    // Come again after a start: the same alert, with the words of now.
    a->alert.text = e.alert.text;
    a->must_come_by.reset();
    return;
  }
  a->alert = e.alert;
  a->active = true;
  a->over_since.reset();
  a->occurrence = occurrence_of(e.alert);
  a->told.clear();
  a->told_again = 0;
  owe(*a, moment_.now + (a->rows.as_covered ? kRootComesWithin : Duration{0}));
}

void AlertDesk::take(const desk::Returned& e, DeskEffects& out) {
  const auto found = alerts_.find(e.alert.key);
  if (found == alerts_.end() || !found->second.active) return;
  DeskAlert& a = found->second;
  out.changed.push_back(e.alert.key);
  a.active = false;
  a.owed = a.held;  // the morning tells it all the same
  a.over_since = moment_.now;
  a.must_come_by.reset();
  a.because_of.reset();
  if (a.rows.as_root) gone_roots_[e.alert.key] = moment_.now;
  const std::string began = a.alert.text;
  const Instant since = a.alert.since;
  a.alert = e.alert;
  a.alert.since = since;
  const bool untold = a.off || a.quiet_until || a.in_flood;
  if (!untold && a.first_told) {
    const std::vector<std::string> knowing(a.told.begin(), a.told.end());
    out.tellings.push_back(
        {Telling::Kind::over, a.occurrence + "/over", a.alert.rank, {a.alert}, knowing});
  }
  // What stays on the list says what it was.
  a.alert.text = began;
}

void AlertDesk::take(const desk::Seen& e, DeskEffects& out) {
  const auto found = alerts_.find(e.key);
  if (found == alerts_.end()) {
    out.refused = true;
    return;
  }
  DeskAlert& a = found->second;
  if (a.seen) return;
  a.seen = true;
  a.owed = false;
  out.changed.push_back(e.key);
  if (!a.active || a.told.empty()) return;
  out.tellings.push_back(
      {Telling::Kind::seen,
       fmt::format("{}/seen{}", a.occurrence, moment_.now.time_since_epoch().count()),
       a.alert.rank,
       {a.alert},
       {a.told.begin(), a.told.end()}});
}

void AlertDesk::take(const desk::SeenAll&, DeskEffects& out) {
  Telling one{Telling::Kind::seen, "", AlertRank::noted, {}, {}};
  std::set<std::string> knowing;
  for (auto& [key, a] : alerts_) {
    if (a.seen) continue;
    a.seen = true;
    a.owed = false;
    out.changed.push_back(key);
    if (!a.active || a.told.empty()) continue;
    one.rank = std::min(one.rank, a.alert.rank);
    one.alerts.push_back(a.alert);
    knowing.insert(a.told.begin(), a.told.end());
  }
  if (out.changed.empty()) out.refused = true;
  if (one.alerts.empty()) return;
  one.key = fmt::format("site.seen@{}", moment_.now.time_since_epoch().count());
  one.channels.assign(knowing.begin(), knowing.end());
  out.tellings.push_back(std::move(one));
}

void AlertDesk::take(const desk::QuietUntil& e, DeskEffects& out) {
  DeskAlert* a = place(e.alert);
  if (!a || e.until <= moment_.now) {
    out.refused = true;
    return;
  }
  a->quiet_until = e.until;
  a->off = false;
  a->off_since.reset();
  a->note.clear();
  a->seen = true;
  out.changed.push_back(e.alert.key);
}

void AlertDesk::take(const desk::Off& e, DeskEffects& out) {
  DeskAlert* a = place(e.alert);
  if (!a) {
    out.refused = true;
    return;
  }
  if (!a->off) a->off_since = moment_.now;
  a->off = true;
  a->quiet_until.reset();
  a->note = e.note;
  a->seen = true;
  out.changed.push_back(e.alert.key);
}

void AlertDesk::take(const desk::Back& e, DeskEffects& out) {
  const auto found = alerts_.find(e.key);
  if (found == alerts_.end() || (!found->second.off && !found->second.quiet_until)) {
    out.refused = true;
    return;
  }
  DeskAlert& a = found->second;
  a.off = false;
  a.off_since.reset();
  a.note.clear();
  a.quiet_until.reset();
  if (a.active) owe(a, moment_.now);
  out.changed.push_back(e.key);
}

void AlertDesk::take(const desk::Suspected& e, DeskEffects&) {
  if (e.is) {
    suspected_.insert(e.key);
  } else if (suspected_.erase(e.key) > 0) {
    gone_roots_[e.key] = moment_.now;
  }
}

void AlertDesk::take(const desk::Time&, DeskEffects& out) {
  for (auto& [key, a] : alerts_) {
    if (a.quiet_until && *a.quiet_until <= moment_.now) {
      a.quiet_until.reset();
      if (a.active) owe(a, moment_.now);
      out.changed.push_back(key);
    }
    if (!a.active && !a.seen && a.over_since && *a.over_since + kOverKept <= moment_.now) {
      a.seen = true;
    }
    if (a.must_come_by && *a.must_come_by <= moment_.now) out.taken_back.push_back(key);
  }
}

void AlertDesk::forget_normal(DeskEffects& out) {
  for (auto it = alerts_.begin(); it != alerts_.end();) {
    const DeskAlert& a = it->second;
    const bool normal = !a.active && a.seen && !a.off && !a.quiet_until;
    // What was over before anybody was told is not left to be seen.
    const bool never_told =
        !a.active && !a.first_told && a.told.empty() && !a.off && !a.quiet_until && !a.held;
    if (normal || never_told) {
      out.changed.push_back(it->first);
      it = alerts_.erase(it);
    } else {
      ++it;
    }
  }
}

}  // namespace tubwarden
