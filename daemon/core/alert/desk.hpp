// The alert desk: every alert through the cycle of ISA-18.2 / IEC 62682, and who is told what of it
// when. Conditions, the grower's three verbs and time go in; tellings come out. What stands behind
// another is not told beside it, what comes in a flood or at night is told in one message.
// Threading: one owner, plain values. Failure: an act on an alert that is not there is refused.
#pragma once

#include <deque>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/alert/alert.hpp"
#include "core/alert/causes.hpp"

namespace tubwarden {

/// The states of the cycle. One that is in none of them is normal, and not on the desk.
enum class AlertState {
  unseen,       ///< unacknowledged active
  seen,         ///< acknowledged active
  over_unseen,  ///< returned unacknowledged: it is over, and nobody has said that they saw it
  quiet,        ///< shelved, with an end; the condition may stand or not
  off,          ///< out of service: off while I fix it; until it is brought back
};
std::string_view name_of(AlertState state);

/// More new alerts than this within the window are a flood; it ends below the other. Source: ISA
/// 18.2 / EEMUA 191 as quoted by the trade: begins above 10 in 10 min, ends below 5 in 10 min.
inline constexpr std::size_t kFloodBegins = 10;
inline constexpr std::size_t kFloodEnds = 5;
inline constexpr Duration kFloodWindow = minutes(10);
/// What can have a root waits this long for it, so that the root may be told instead.
inline constexpr Duration kRootComesWithin = seconds(2);
/// What still stands this long after its root has gone is told for itself.
inline constexpr Duration kAfterRoot = minutes(2);
/// What an earlier run left standing and does not come again within this is taken back.
inline constexpr Duration kComesAgainWithin = minutes(30);
/// What is over and was never seen leaves the list by itself after this.
inline constexpr Duration kOverKept = days(3);
/// A condition that began so long before a root did is not laid at its door.
inline constexpr Duration kRootSlack = minutes(15);
inline constexpr std::size_t kDeskMax = 500;

struct ChannelRule {
  std::string id;
  std::vector<AlertRank> ranks;          ///< empty: all
  std::optional<Duration> after_unseen;  ///< told only of what nobody has seen for so long
};

struct DeskRules {
  std::vector<ChannelRule> channels;
  std::optional<Duration> again_every = hours(4);  ///< while unseen; never for `noted`
  /// Local time in which the ranks of `held` wait for its end; no interval where equal.
  int quiet_from_s = 0, quiet_to_s = 0;
  std::vector<AlertRank> held;
};

/// One alert on the desk.
struct DeskAlert {
  Alert alert;
  int number = 0;       ///< short, for typing; its own while it is on the desk
  bool active = false;  ///< the condition stands
  bool seen = false;
  bool off = false;
  std::optional<Instant> off_since;
  std::string note;  ///< why it is off
  std::optional<Instant> quiet_until;
  std::string occurrence;              ///< the delivery key of this raise
  std::optional<AlertKey> because_of;  ///< the root that it is not told beside
  bool owed = false;                   ///< it stands and has not been told
  Instant owed_from{};                 ///< not told before this
  bool held = false;                   ///< quiet hours have kept it from being told
  bool counted = false;                ///< as new, against a flood
  bool in_flood = false;               ///< told in a flood's summary only; its end is not told
  std::set<std::string> told;          ///< the channels that know of it
  std::optional<Instant> first_told, last_told;
  int told_again = 0;
  std::optional<Instant> must_come_by;  ///< left by an earlier run and not come again yet
  std::optional<Instant> over_since;
  CoverRows rows{};  ///< the desk's own

  AlertState state() const;
};

namespace desk {
struct Raised {
  Alert alert;
};
struct Returned {
  Alert alert;  ///< with the words of the end
};
struct Seen {
  AlertKey key;
};
struct SeenAll {};
struct QuietUntil {
  Alert alert;  ///< key, rank and text for one that is not on the desk
  Instant until{};
};
struct Off {
  Alert alert;
  std::string note;
};
struct Back {
  AlertKey key;
};
/// A cause that may stand in a moment: what it would cover waits for it.
struct Suspected {
  AlertKey key;
  bool is = true;
};
struct Time {};
}  // namespace desk
using DeskEvent =
    std::variant<desk::Raised, desk::Returned, desk::Seen, desk::SeenAll, desk::QuietUntil,
                 desk::Off, desk::Back, desk::Suspected, desk::Time>;

struct DeskMoment {
  Instant now{};
  std::optional<int> second_of_day;  ///< local; nothing while the clock is unset: no quiet hours
};

/// A message to be told.
struct Telling {
  enum class Kind {
    raised,
    again,   ///< nobody has seen it
    second,  ///< to channels that are told only of what stays unseen
    over,
    seen,     ///< somebody has
    flood,    ///< more came than are told one by one
    morning,  ///< what the quiet hours held
  };
  Kind kind = Kind::raised;
  std::string key;  ///< the same for each try of it
  AlertRank rank = AlertRank::noted;
  std::vector<Alert> alerts;          ///< the most pressing first
  std::vector<std::string> channels;  ///< may be empty: the log and the list are told anyway
};

struct DeskEffects {
  std::vector<Telling> tellings;
  std::vector<AlertKey> changed;     ///< what of the desk is to be kept anew, or forgotten
  std::vector<AlertKey> taken_back;  ///< left by an earlier run, and not come again
  bool refused = false;              ///< the act had no alert to act on
};

class AlertDesk {
 public:
  void rules(DeskRules rules) { rules_ = std::move(rules); }
  /// One of an earlier run, as it was kept; before the first step.
  void restore(DeskAlert alert);
  DeskEffects step(const DeskEvent& event, DeskMoment moment);

  const std::map<AlertKey, DeskAlert>& alerts() const { return alerts_; }
  const DeskAlert* find(const AlertKey& key) const;
  /// By number, "place.cause", or a part that only one has.
  std::optional<AlertKey> named(std::string_view word) const;
  /// When step() must be called again though nothing happens.
  std::optional<Instant> due() const { return due_; }
  bool flood() const { return flood_; }
  bool suspects(const AlertKey& key) const { return suspected_.contains(key); }
  /// Raised and not on the desk because it was full.
  std::uint64_t dropped() const { return dropped_; }

 private:
  // desk.cpp: the cycle.
  void take(const desk::Raised& e, DeskEffects& out);
  void take(const desk::Returned& e, DeskEffects& out);
  void take(const desk::Seen& e, DeskEffects& out);
  void take(const desk::SeenAll& e, DeskEffects& out);
  void take(const desk::QuietUntil& e, DeskEffects& out);
  void take(const desk::Off& e, DeskEffects& out);
  void take(const desk::Back& e, DeskEffects& out);
  void take(const desk::Suspected& e, DeskEffects& out);
  void take(const desk::Time& e, DeskEffects& out);
  DeskAlert* place(const Alert& alert);
  void owe(DeskAlert& a, Instant from);
  void forget_normal(DeskEffects& out);
  int free_number();
  // desk_telling.cpp: who is told.
  void tell(DeskEffects& out);
  void find_roots(DeskEffects& out);
  const AlertKey* root_of(const DeskAlert& a) const;
  bool holds_now(AlertRank rank) const;
  std::vector<DeskAlert*> tellable(DeskEffects& out);
  void tell_new(const std::vector<DeskAlert*>& fresh, DeskEffects& out);
  void tell_one(Telling::Kind kind, DeskAlert& a, std::vector<std::string> channels,
                std::string key, DeskEffects& out);
  void tell_in_one(Telling::Kind kind, std::vector<DeskAlert*> all, DeskEffects& out);
  void tell_again(DeskEffects& out);
  void tell_second(DeskEffects& out);
  std::vector<std::string> listeners(const DeskAlert& a) const;
  void note_told(DeskAlert& a, const std::vector<std::string>& channels);
  void judge_flood();
  void due_by(Instant at);
  void due_by_ends();
  Instant quiet_ends() const;

  DeskRules rules_;
  std::map<AlertKey, DeskAlert> alerts_;
  std::set<AlertKey> suspected_;
  std::map<AlertKey, Instant> gone_roots_;
  std::deque<Instant> news_;
  bool flood_ = false;
  bool flood_ended_ = false;  ///< in this very step
  std::optional<Instant> flood_told_;
  int last_number_ = 0;
  std::uint64_t dropped_ = 0;
  DeskMoment moment_;
  std::optional<Instant> due_;
};

/// Whether a local second of the day lies in [from, to), which may run over midnight.
constexpr bool in_hours(int second, int from, int to) {
  if (from == to) return false;
  return from < to ? second >= from && second < to : second >= from || second < to;
}

}  // namespace tubwarden
