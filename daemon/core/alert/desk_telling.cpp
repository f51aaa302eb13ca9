#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/alert/desk.hpp"

namespace tubwarden {
namespace {

bool wants(const ChannelRule& channel, AlertRank rank) {
  return channel.ranks.empty() ||
         std::find(channel.ranks.begin(), channel.ranks.end(), rank) != channel.ranks.end();
}

/// A channel that fails is not told so by itself.
bool is_about(const ChannelRule& channel, const DeskAlert& a) {
  return a.alert.key.cause == "channel_" + channel.id;
}

bool hushed(const DeskAlert& a) { return a.off || a.quiet_until || a.because_of; }

/// Told, stands, and nobody has seen it.
bool stays_unseen(const DeskAlert& a) {
  return a.active && !a.seen && !a.owed && a.first_told && !hushed(a) && !a.must_come_by;
}

std::string moment_key(std::string_view what, Instant now) {
  return fmt::format("site.{}@{}", what, now.time_since_epoch().count());
}

std::string_view word_of(Telling::Kind kind) {
  switch (kind) {
    case Telling::Kind::raised:
      return "raised";
    case Telling::Kind::again:
      return "again";
    case Telling::Kind::second:
      return "second";
    case Telling::Kind::over:
      return "over";
    case Telling::Kind::seen:
      return "seen";
    case Telling::Kind::flood:
      return "flood";
    case Telling::Kind::morning:
      return "morning";
  }
  return "";
}

}  // namespace

void AlertDesk::due_by(Instant at) { due_ = due_ ? std::min(*due_, at) : at; }

void AlertDesk::tell(DeskEffects& out) {
  judge_flood();
  find_roots(out);
  const std::vector<DeskAlert*> fresh = tellable(out);
  if (news_.size() > kFloodBegins) flood_ = true;
  tell_new(fresh, out);
  tell_again(out);
  tell_second(out);
  due_by_ends();
}

void AlertDesk::due_by_ends() {
  for (const auto& [key, a] : alerts_) {
    if (a.quiet_until) due_by(*a.quiet_until);
    if (a.must_come_by) due_by(std::max(*a.must_come_by, moment_.now + seconds(1)));
    if (!a.active && !a.seen && a.over_since) due_by(*a.over_since + kOverKept);
  }
  if (flood_ && news_.size() >= kFloodEnds) {
    due_by(news_[news_.size() - kFloodEnds] + kFloodWindow);
  }
}

void AlertDesk::judge_flood() {
  while (!news_.empty() && news_.front() + kFloodWindow <= moment_.now) news_.pop_front();
  flood_ended_ = flood_ && news_.size() < kFloodEnds;
  if (!flood_ended_) return;
  flood_ = false;
  flood_told_.reset();
}

// --- roots --------------------------------------------------------------------------------------

const AlertKey* AlertDesk::root_of(const DeskAlert& a) const {
  const AlertKey* found = nullptr;
  for (const auto& [key, root] : alerts_) {
    if (!root.active || root.must_come_by || (root.rows.as_root & a.rows.as_covered) == 0) continue;
    if (&root == &a || !covers(key, a.alert.key)) continue;
    if (a.alert.since + kRootSlack < root.alert.since) continue;
    if (!found || key.place == "site") found = &key;
  }
  if (found || !a.owed) return found;
  for (const AlertKey& key : suspected_) {
    if (covers(key, a.alert.key)) return &key;
  }
  return nullptr;
}

void AlertDesk::find_roots(DeskEffects& out) {
  std::erase_if(gone_roots_,
                [&](const auto& gone) { return gone.second + kAfterRoot <= moment_.now; });
  for (auto& [key, a] : alerts_) {
    const AlertKey* root = a.active && a.rows.as_covered ? root_of(a) : nullptr;
    const std::optional<AlertKey> because = root ? std::optional(*root) : std::nullopt;
    if (because != a.because_of) {
      a.because_of = because;
      out.changed.push_back(key);
    }
    if (!a.owed || root || !a.rows.as_covered) continue;
    for (const auto& [gone, at] : gone_roots_) {
      if (covers(gone, key)) a.owed_from = std::max(a.owed_from, at + kAfterRoot);
    }
  }
}

// --- new ones -----------------------------------------------------------------------------------

bool AlertDesk::holds_now(AlertRank rank) const {
  return moment_.second_of_day &&
         in_hours(*moment_.second_of_day, rules_.quiet_from_s, rules_.quiet_to_s) &&
         std::find(rules_.held.begin(), rules_.held.end(), rank) != rules_.held.end();
}

Instant AlertDesk::quiet_ends() const {
  const int left = (rules_.quiet_to_s - *moment_.second_of_day + 86400) % 86400;
  return moment_.now + seconds(std::max(left, 1));
}

std::vector<DeskAlert*> AlertDesk::tellable(DeskEffects& out) {
  std::vector<DeskAlert*> fresh;
  for (auto& [key, a] : alerts_) {
    if (!a.owed || hushed(a) || a.must_come_by) continue;
    if (a.owed_from > moment_.now) {
      due_by(a.owed_from);
      continue;
    }
    if (holds_now(a.alert.rank)) {
      due_by(quiet_ends());
      if (!std::exchange(a.held, true)) out.changed.push_back(key);
      continue;
    }
    if (!a.held && !std::exchange(a.counted, true)) news_.push_back(moment_.now);
    fresh.push_back(&a);
  }
  std::stable_sort(fresh.begin(), fresh.end(), [](const DeskAlert* a, const DeskAlert* b) {
    return a->alert.rank < b->alert.rank;
  });
  return fresh;
}

std::vector<std::string> AlertDesk::listeners(const DeskAlert& a) const {
  std::vector<std::string> ids;
  for (const ChannelRule& channel : rules_.channels) {
    if (!channel.after_unseen && wants(channel, a.alert.rank) && !is_about(channel, a)) {
      ids.push_back(channel.id);
    }
  }
  return ids;
}

void AlertDesk::note_told(DeskAlert& a, const std::vector<std::string>& channels) {
  a.owed = false;
  a.held = false;
  if (!a.first_told) a.first_told = moment_.now;
  a.last_told = moment_.now;
  a.told.insert(channels.begin(), channels.end());
}

void AlertDesk::tell_one(Telling::Kind kind, DeskAlert& a, std::vector<std::string> channels,
                         std::string key, DeskEffects& out) {
  note_told(a, channels);
  out.changed.push_back(a.alert.key);
  out.tellings.push_back({kind, std::move(key), a.alert.rank, {a.alert}, std::move(channels)});
}

void AlertDesk::tell_new(const std::vector<DeskAlert*>& fresh, DeskEffects& out) {
  std::vector<DeskAlert*> morning, others;
  for (DeskAlert* a : fresh) (a->held ? morning : others).push_back(a);
  if (morning.size() > 1) {
    tell_in_one(Telling::Kind::morning, morning, out);
  } else {
    others.insert(others.end(), morning.begin(), morning.end());
  }
  if (others.empty()) return;
  if (flood_ && flood_told_ && *flood_told_ + kFloodWindow > moment_.now) {
    return due_by(*flood_told_ + kFloodWindow);
  }
  if (flood_ || (flood_ended_ && others.size() > 1)) {
    if (flood_) flood_told_ = moment_.now;
    for (DeskAlert* a : others) a->in_flood = true;
    return tell_in_one(Telling::Kind::flood, others, out);
  }
  for (DeskAlert* a : others) {
    // Brought back, or its quiet is over: told before, by this very key.
    const bool before = !a->told.empty();
    std::string key =
        before ? fmt::format("{}/again{}", a->occurrence, ++a->told_again) : a->occurrence;
    tell_one(before ? Telling::Kind::again : Telling::Kind::raised, *a, listeners(*a),
             std::move(key), out);
  }
}

/// One message to each channel, of what it wants to hear of.
void AlertDesk::tell_in_one(Telling::Kind kind, std::vector<DeskAlert*> all, DeskEffects& out) {
  std::map<std::string, std::vector<DeskAlert*>> by_channel;
  for (DeskAlert* a : all) {
    std::vector<std::string> ids = listeners(*a);
    if (kind == Telling::Kind::again) ids.insert(ids.end(), a->told.begin(), a->told.end());
    for (const std::string& id : std::set<std::string>(ids.begin(), ids.end())) {
      by_channel[id].push_back(a);
    }
  }
  std::map<std::vector<DeskAlert*>, std::vector<std::string>> groups;
  for (const auto& [id, list] : by_channel) groups[list].push_back(id);
  if (groups.empty()) groups[all] = {};
  for (const auto& [list, ids] : groups) {
    Telling one{kind, moment_key(word_of(kind), moment_.now), AlertRank::noted, {}, ids};
    for (const DeskAlert* a : list) {
      one.rank = std::min(one.rank, a->alert.rank);
      one.alerts.push_back(a->alert);
    }
    out.tellings.push_back(std::move(one));
  }
  for (DeskAlert* a : all) {
    note_told(*a, {});
    ++a->told_again;
    out.changed.push_back(a->alert.key);
  }
  for (const auto& [id, list] : by_channel) {
    for (DeskAlert* a : list) a->told.insert(id);
  }
}

// --- while nobody has seen it -------------------------------------------------------------------

void AlertDesk::tell_again(DeskEffects& out) {
  if (!rules_.again_every) return;
  std::vector<DeskAlert*> late;
  for (auto& [key, a] : alerts_) {
    if (!stays_unseen(a) || a.alert.rank == AlertRank::noted) continue;
    const Instant at = *a.last_told + *rules_.again_every;
    if (at > moment_.now) {
      due_by(at);
    } else if (holds_now(a.alert.rank)) {
      due_by(quiet_ends());
    } else {
      late.push_back(&a);
    }
  }
  if (late.size() > 1) {
    tell_in_one(Telling::Kind::again, late, out);
  } else if (!late.empty()) {
    DeskAlert& a = *late.front();
    const std::vector<std::string> ids = listeners(a);
    std::set<std::string> all(ids.begin(), ids.end());
    all.insert(a.told.begin(), a.told.end());
    tell_one(Telling::Kind::again, a, {all.begin(), all.end()},
             fmt::format("{}/again{}", a.occurrence, ++a.told_again), out);
  }
  for (const DeskAlert* a : late) due_by(*a->last_told + *rules_.again_every);
}

void AlertDesk::tell_second(DeskEffects& out) {
  for (const ChannelRule& channel : rules_.channels) {
    if (!channel.after_unseen) continue;
    std::vector<DeskAlert*> late;
    for (auto& [key, a] : alerts_) {
      if (!stays_unseen(a) || a.told.contains(channel.id)) continue;
      if (!wants(channel, a.alert.rank) || is_about(channel, a)) continue;
      const Instant at = *a.first_told + *channel.after_unseen;
      if (at > moment_.now) {
        due_by(at);
      } else if (holds_now(a.alert.rank)) {
        due_by(quiet_ends());
      } else {
        late.push_back(&a);
      }
    }
    if (late.empty()) continue;
    Telling one{Telling::Kind::second, "", AlertRank::noted, {}, {channel.id}};
    one.key = late.size() == 1 ? late.front()->occurrence
                               : moment_key(word_of(Telling::Kind::second), moment_.now);
    for (DeskAlert* a : late) {
      one.rank = std::min(one.rank, a->alert.rank);
      one.alerts.push_back(a->alert);
      a->told.insert(channel.id);
      out.changed.push_back(a->alert.key);
    }
    out.tellings.push_back(std::move(one));
  }
}

}  // namespace tubwarden
