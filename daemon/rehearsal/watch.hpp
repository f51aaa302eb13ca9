// Watches a rehearsed chamber break its word: limits, opposed outputs, stale readings, leases,
// hands, the far edge of the band, `empty`. It keeps its own account from readings and from what
// the outputs really do, and shares no code with the rooms it watches. Threading: one owner.
// Failure: what was broken is kept as sentences, the first kBrokenMax of them, and counted.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/chamber/chamber.hpp"

namespace tubwarden::rehearsal {

/// Why an output changed.
enum class Cause {
  decided,    ///< a command that is a decision
  made_safe,  ///< a command for the safe level
  run_over,   ///< its host ended the run
  lost,       ///< its driver, its broker or the daemon went: it fell to safe
};

class Watch {
 public:
  static constexpr std::size_t kBrokenMax = 20;

  Watch(ChamberPlan chamber, std::vector<TubPlan> tubs, Instant start);

  void reading(std::size_t sensor, Quantity q, double value, bool retained, Instant now);
  void gone(std::size_t sensor);
  void broker(bool up);
  /// The daemon started anew: nothing heard before counts, and every output has just stopped.
  void restarted(Instant now);
  void phase(const std::string& tub, const std::string& phase);
  /// Where the bands stand now, by quantity (a glide moves them).
  void bands(const std::array<std::optional<Band>, kQuantities>& kept) { bands_ = kept; }
  /// A grower's hand is taken; it ends by itself. One of the same place gives way.
  void hand(const Hand& hand);
  /// What is told of a mister for the record: within a fifth and five times of what is usual.
  void learned(const MistLearned& told, Instant now);
  /// The daemon prolonged an output's lease.
  void renewed(std::size_t actuator, Instant now);
  /// An output is out of reach: what it does is nobody's fault until it is told anew.
  void unreachable(std::size_t actuator, Instant now);

  /// The output changed to `level`.
  void output(std::size_t actuator, Level level, Cause cause, Instant now);
  /// What must hold at every moment while a daemon commands.
  void look(Instant now);
  /// What must hold though none does: nothing stands beyond its lease.
  void look_at_leases(Instant now);

  const std::vector<std::string>& broken() const { return broken_; }
  std::uint64_t broken_total() const { return total_; }
  std::uint64_t looks() const { return looks_; }

 private:
  struct Heard {
    double value = 0.0;
    double before = 0.0;  ///< the one before, where this one is far off; else the same
    Instant at{};
    bool live = false;
  };
  struct Output {
    Level level = kRest;
    Instant since{};
    Instant began{};  ///< its last run
    std::vector<Instant> starts;
    bool excused = false;
    Instant excused_since{};
    Instant fell{};  ///< when it last fell to safe: what a decision takes over counts from there
    bool by_safe = true;                   ///< stands as it does because it is its safe level
    Duration ran{0};                       ///< of all time, in full runs, up to `looked`
    std::optional<Instant> blind_since{};  ///< no fresh reading of what it serves
    Duration ran_before{0};                ///< `ran` then
    Instant looked{};
    Level looked_level = kRest;
    Instant leased{};  ///< until then it may stand as it was told
  };
  struct Span {
    double low, high;
  };

  /// Lowest and highest of the fresh readings; nothing when none is.
  std::optional<Span> fresh(Quantity q, Instant now) const;
  const Hand* hand_on(std::size_t actuator, Instant now) const;
  bool attended(Instant now) const;
  const PhasePlan* phase_plan() const;
  const TubPlan* leader() const;
  std::optional<Quantity> serves(Effect effect) const;
  bool ceiling_possible() const;
  bool above(Quantity q, Instant now) const;
  bool below(Quantity q, Instant now) const;
  bool may_cut(std::size_t actuator, Instant now) const;
  bool runs(Effect effect) const;
  void check_start(std::size_t actuator, Instant now);
  void check_stop(std::size_t actuator, Instant now);
  void look_at(std::size_t actuator, Instant now);
  void look_at_ruled(std::size_t actuator, Instant now);
  void account(std::size_t actuator, Instant now);
  void look_at_blind(std::size_t actuator, Quantity q, Instant now);
  void look_at_edge(std::size_t actuator, Quantity q, const Span& span, Instant now);
  void say(std::size_t actuator, const std::string& what, Instant now);

  ChamberPlan plan_;
  std::vector<TubPlan> tubs_;
  Instant start_;
  std::vector<std::array<Heard, kQuantities>> heard_;
  bool broker_up_ = true;
  std::string phase_;
  std::array<std::optional<Band>, kQuantities> bands_{};
  std::vector<Output> outputs_;
  std::vector<Hand> hands_;
  std::vector<std::string> broken_;
  std::uint64_t total_ = 0;
  std::uint64_t looks_ = 0;
};

}  // namespace tubwarden::rehearsal
