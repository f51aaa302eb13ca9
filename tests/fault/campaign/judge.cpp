#include "fault/campaign/judge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <optional>

namespace tubwarden::campaign {

namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();
/// A busy machine of two cores, on which a dozen processes start at once.
constexpr double kGraceS = 0.7;
/// The second restart of a host waits for 1 s; see core/output/restart_policy.hpp.
constexpr double kRestartS = 1.0 + kGraceS;
/// The longest call of a plugin, and the safe-run's wait for the old process's end.
constexpr double kCallS = 1.5, kOldEndS = 1.0;

/// In seconds since the scene's first deed.
struct Span {
  double from = 0, until = 0;
};

/// Why a run must end, and by when if nothing else breaks at the time.
struct Break {
  Span span;
  double limit_s = 0;
  bool fault = true;  ///< not a command
};

class Wire {
 public:
  Wire(const Played& played, const Output& output)
      : played_(played),
        output_(output),
        lease_(1e-3 * static_cast<double>(output.lease.count())),
        zero_(played.done.empty() ? 0 : played.done.front().from_ns) {}
  void judge(Verdict& verdict);

 private:
  double at(std::int64_t ns) const { return 1e-9 * static_cast<double>(ns - zero_); }
  static double seconds(milliseconds ms) { return 1e-3 * static_cast<double>(ms.count()); }
  bool concerns(const Did& did) const {
    return std::find(did.outputs.begin(), did.outputs.end(), output_.id) != did.outputs.end();
  }
  std::vector<Span> runs() const;
  std::optional<Break> break_by(const Did& did, const Span& run) const;
  std::optional<Break> break_by_driver(const Span& run) const;
  bool is_caused(double begin) const;
  double allowed(const Break& first, const std::vector<Break>& all, bool& alone) const;
  void judge_run(const Span& run, Verdict& verdict) const;

  const Played& played_;
  const Output& output_;
  double lease_;
  std::int64_t zero_;
};

std::vector<Span> Wire::runs() const {
  std::vector<Span> found;
  bool running = false;
  for (const Change& change : played_.wire.at(output_.id)) {
    if (change.runs && !running) found.push_back({at(change.ns), kNever});
    if (!change.runs && running) found.back().until = at(change.ns);
    running = change.runs;
  }
  return found;
}

/// A command of the last lease, or of before a time in which the daemon did not read; a relay that
/// is back in reach is set again.
bool Wire::is_caused(double begin) const {
  const Did* last = nullptr;
  double still = 0;
  for (const Did& did : played_.done) {
    const double from = at(did.from_ns);
    if (from > begin + 0.02) break;
    if (did.act == Act::stop_daemon) still += at(did.until_ns) - from;
    if (did.act != Act::run && did.act != Act::rest) continue;
    if (concerns(did)) last = &did;
    if (!concerns(did) || did.act != Act::run) continue;
    if (begin <= from + lease_ + kGraceS + still) return true;
  }
  return output_.is_relay() && last != nullptr && last->act == Act::run;
}

std::optional<Break> Wire::break_by_driver(const Span& run) const {
  const Span span{run.from, run.from};
  if (output_.driver == "hang_in_apply") {
    return Break{span, std::min(lease_, kCallS) + kOldEndS + kGraceS};
  }
  if (output_.driver == "crash_in_apply") return Break{span, kRestartS};
  if (output_.driver == "eat_memory") return Break{span, kRestartS + 2.0};  // it has to be eaten
  return std::nullopt;
}

std::optional<Break> Wire::break_by(const Did& did, const Span& run) const {
  const Span span{at(did.from_ns), at(did.until_ns)};
  const double lasted = seconds(did.length);
  switch (did.act) {
    case Act::run: {
      if (did.length.count() == 0) return std::nullopt;
      const double end = std::max(run.from, span.from) + lasted;
      const bool again = std::any_of(played_.done.begin(), played_.done.end(), [&](const Did& d) {
        const double from = at(d.from_ns);
        return concerns(d) && (d.act == Act::run || d.act == Act::rest) && &d != &did &&
               from >= span.from - 0.1 && from <= end + 0.3;
      });
      if (again || span.from < run.from - kGraceS) return std::nullopt;
      return Break{{end, end}, kGraceS, false};
    }
    case Act::rest:
      return Break{span, kGraceS, false};
    case Act::kill_host:
      return Break{span, kRestartS};
    case Act::stop_host:
      if (lasted <= lease_) return std::nullopt;
      return Break{span,
                   std::max(lease_ / 2, std::min(lease_, kCallS) + 0.5) + lease_ / 3 + kRestartS};
    case Act::stop_daemon:
      if (lasted <= lease_) return std::nullopt;
      return Break{span, lease_ + kGraceS};
    case Act::kill_daemon:
    case Act::cut_broker:
      return Break{span, kGraceS};
    case Act::kill_all:
    case Act::end:
      return Break{span, span.until - span.from + 2 * kGraceS};
  }
  return std::nullopt;
}

/// Where faults lie over one another the promise begins when the last of them is over.
double Wire::allowed(const Break& first, const std::vector<Break>& all, bool& alone) const {
  const double limit = first.span.from + first.limit_s;
  double latest = first.span.from;
  alone = true;
  for (const Break& other : all) {
    if (&other == &first || other.span.from > limit) continue;
    if (other.span.until < first.span.from - 2 * kGraceS) continue;
    alone = false;
    latest = std::max({latest, other.span.from, other.span.until});
  }
  if (alone) return limit;
  return std::max({limit, latest, first.span.until}) + lease_ + kOldEndS + kRestartS;
}

void Wire::judge_run(const Span& run, Verdict& verdict) const {
  ++verdict.runs;
  const auto say = [&](const std::string& what) {
    verdict.broken.push_back(fmt::format("{}: ran from {:.3f} s to {:.3f} s: {}", output_.id,
                                         run.from, run.until, what));
  };
  if (!is_caused(run.from)) say("nobody told it to");
  std::vector<Break> breaks, all;
  if (const auto b = break_by_driver(run)) breaks.push_back(*b);
  all = breaks;
  for (const Did& did : played_.done) {
    if (!concerns(did)) continue;
    const bool is_fault = did.act != Act::run && did.act != Act::rest;
    // A fault that breaks nothing by itself still stands in the way.
    const Span span{at(did.from_ns), at(did.until_ns)};
    const auto b = break_by(did, run);
    if (b && b->span.from >= run.from && b->span.from <= run.until) breaks.push_back(*b);
    if (is_fault) all.push_back(b ? *b : Break{span, 0});
  }
  if (breaks.empty()) {
    if (run.until == kNever) say("it never ended");
    return;
  }
  const Break first =
      *std::min_element(breaks.begin(), breaks.end(),
                        [](const Break& a, const Break& b) { return a.span.from < b.span.from; });
  const auto me = std::find_if(all.begin(), all.end(), [&](const Break& b) {
    return b.span.from == first.span.from && b.fault == first.fault;
  });
  bool alone = false;
  const double most = allowed(me == all.end() ? first : *me, all, alone);
  const double took = run.until - first.span.from;
  if (run.until > most) {
    say(fmt::format("from {:.3f} s on something was broken, which allows it {:.3f} s{}",
                    first.span.from, most - first.span.from, alone ? "" : " (with others)"));
  }
  if (!first.fault) return;
  ++verdict.breaks;
  if (!alone) return;
  verdict.worst_s = std::max(verdict.worst_s, took);
  verdict.worst_of_lease = std::max(verdict.worst_of_lease, took / lease_);
}

void Wire::judge(Verdict& verdict) {
  for (const Span& run : runs()) judge_run(run, verdict);
  for (const Did& did : played_.done) {
    if (did.act != Act::kill_daemon && did.act != Act::kill_all && did.act != Act::end) continue;
    for (const Change& change : played_.wire.at(output_.id)) {
      if (!change.runs || change.ns <= did.from_ns + 300'000'000) continue;
      verdict.broken.push_back(fmt::format("{}: began to run {:.3f} s after the daemon's end",
                                           output_.id,
                                           1e-9 * static_cast<double>(change.ns - did.from_ns)));
    }
  }
}

}  // namespace

Verdict judge(const Scene& scene, const Played& played) {
  Verdict verdict;
  verdict.broken = played.wrong;
  for (const Output& output : scene.outputs) Wire(played, output).judge(verdict);
  return verdict;
}

}  // namespace tubwarden::campaign
