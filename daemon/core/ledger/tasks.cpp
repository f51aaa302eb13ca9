#include "core/ledger/tasks.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/ensure.hpp"
#include "base/text.hpp"

namespace tubwarden {
namespace {

// When a jar is worth a look (choice): from the fifth day, and again after three.
constexpr Duration kFirstLook = days(5), kLookAgain = days(3);
// Common practice, no source.
constexpr double kShakeFrom = 20.0, kShakeTo = 30.0;
/// Above it a shake is no use any more; the jar is left to finish (choice).
constexpr double kTooLateToShake = 60.0;
constexpr double kGrownThrough = 98.0;
/// Stumps are cleaned away the day after a pick (choice).
constexpr Duration kCleanAfter = days(1);

struct JarSays {
  TaskKind kind;
  WallTime due;
  bool late;
};

/// What the eye saw last, of the growth since the jar was shaken.
const JarLook* last_look(const Jar& jar) {
  if (jar.looks.empty()) return nullptr;
  const JarLook& last = jar.looks.back();
  return !jar.shaken.empty() && last.at < jar.shaken.back() ? nullptr : &last;
}

std::optional<JarSays> asks(const Jar& jar, const TaskFacts& facts, const TaskWindow& window) {
  if (jar.fate == JarFate::contaminated) {
    return JarSays{TaskKind::isolate, *jar.contaminated, facts.now - *jar.contaminated > days(1)};
  }
  if (!jar.stands() || !jar.inoculated) return std::nullopt;
  const WallTime began = *jar.inoculated;
  const auto after = [](Duration d) { return duration_cast<milliseconds>(d); };
  const JarLook* look = last_look(jar);
  const double grown = look ? look->grown_pct : 0.0;
  if (grown >= kGrownThrough) {
    return JarSays{TaskKind::mix, look->at, facts.now - look->at > days(14)};
  }
  if (window.late > Duration{0} && facts.now - began >= window.late) {
    return JarSays{TaskKind::overdue, began + after(window.late), true};
  }
  if (jar.shaken.empty() && grown >= kShakeFrom && grown < kTooLateToShake) {
    return JarSays{TaskKind::shake, look->at, grown > kShakeTo};
  }
  const auto foreseen = facts.jars.find(jar.id);
  WallTime due = began + after(kFirstLook);
  if (!jar.looks.empty()) due = jar.looks.back().at + after(kLookAgain);
  if (foreseen != facts.jars.end()) {
    const JarForeseen& f = foreseen->second;
    if (jar.shaken.empty() && f.shake_from) due = std::min(due, *f.shake_from);
    if (f.full) due = std::min(due, *f.full);
    // Looked at since it was foreseen to be ready: again tomorrow.
    if (!jar.looks.empty()) due = std::max(due, jar.looks.back().at + after(days(1)));
  }
  if (due > facts.now) return std::nullopt;
  return JarSays{TaskKind::look, due, facts.now - due > days(3)};
}

std::string verb_of(TaskKind kind, const Task& task, const TaskWindow& window) {
  const std::string ids = told_ids(task.of);
  const bool many = task.of.size() > 1;
  switch (kind) {
    case TaskKind::isolate:
      return fmt::format("isolate {}, contaminated: out of the house closed, never opened indoors",
                         ids);
    case TaskKind::look:
      return fmt::format("look at {}", ids);
    case TaskKind::shake:
      return task.late
                 ? fmt::format("shake {} now: past {} % grown through", ids, kShakeTo)
                 : fmt::format("shake {}: {} to {} % grown through", ids, kShakeFrom, kShakeTo);
    case TaskKind::mix:
      return fmt::format("{} {} grown through: ready to mix into substrate", ids,
                         many ? "are" : "is");
    case TaskKind::overdue:
      return fmt::format(
          "{} {} not grown through after {}: look for contamination; what has "
          "stalled is thrown away, not mixed",
          ids, many ? "are" : "is", spoken(window.late));
    case TaskKind::phase:
    case TaskKind::water:
    case TaskKind::pick:
    case TaskKind::clean:
    case TaskKind::refill:
    case TaskKind::upkeep:
    case TaskKind::off:
      break;
  }
  return "";
}

std::string command_of(TaskKind kind, const std::vector<std::string>& jars) {
  switch (kind) {
    case TaskKind::isolate:
      return "tubwarden jar discard " + listed(jars);
    case TaskKind::look:
    case TaskKind::overdue:
      return "tubwarden jar look " + listed(jars) + " PERCENT";
    case TaskKind::shake:
      return "tubwarden jar shake " + listed(jars);
    case TaskKind::mix:
      return "tubwarden spawn TUB --jars " + listed(jars) + " --substrate MASS";
    case TaskKind::phase:
    case TaskKind::water:
    case TaskKind::pick:
    case TaskKind::clean:
    case TaskKind::refill:
    case TaskKind::upkeep:
    case TaskKind::off:
      break;
  }
  return "";
}

TaskWindow grain_of(const TaskFacts& facts, const std::string& batch) {
  const auto known = facts.grain.find(batch);
  return known == facts.grain.end() ? kGrainUsual : known->second;
}

/// By number where ids are counted up: J-9 before J-10.
bool by_id(const std::string& a, const std::string& b) {
  return a.size() != b.size() ? a.size() < b.size() : a < b;
}

void add_jars(const GrowBook& book, const TaskFacts& facts, std::vector<Task>& to) {
  std::map<std::tuple<std::string, TaskKind, bool>, Task> grouped;
  for (const auto& [id, jar] : book.jars()) {
    const auto says = asks(jar, facts, grain_of(facts, jar.batch));
    if (!says) continue;
    Task& task = grouped[{jar.batch, says->kind, says->late}];
    task.kind = says->kind;
    task.batch = jar.batch;
    task.late = says->late;
    task.due = task.due ? std::min(*task.due, says->due) : says->due;
    task.of.push_back(id);
  }
  for (auto& [key, task] : grouped) {
    std::sort(task.of.begin(), task.of.end(), by_id);
    task.text = verb_of(task.kind, task, grain_of(facts, task.batch));
    task.command = command_of(task.kind, task.of);
    to.push_back(std::move(task));
  }
}

Task phase_task(const GrowBook& book, const PhaseNow& now, WallTime due) {
  Task task{TaskKind::phase, {now.tub}, now.batch, due, false, "", ""};
  task.late = now.expected.late > Duration{0} && now.elapsed >= now.expected.late;
  const auto day = duration_cast<days>(now.elapsed).count() + 1;
  task.text =
      fmt::format("look whether {} is ready for {}: day {} of {}, {} to {} are usual", now.tub,
                  now.next, day, now.phase, spoken(now.expected.from), spoken(now.expected.to));
  const Bed* bed = book.bed(now.tub, now.batch);
  const bool to_case = now.next == "casing" && bed && bed->spawned && !bed->cased;
  task.command = to_case ? fmt::format("tubwarden case {}", now.tub)
                         : fmt::format("tubwarden phase {} {}", now.tub, now.next);
  return task;
}

void add_phases(const GrowBook& book, const TaskFacts& facts, std::vector<Task>& to) {
  for (const PhaseNow& now : facts.phases) {
    const TaskWindow& window = now.expected;
    if (now.next.empty() || window.from <= Duration{0} || now.elapsed < window.from) continue;
    to.push_back(
        phase_task(book, now, facts.now - duration_cast<milliseconds>(now.elapsed - window.from)));
  }
}

void add_flushes(const GrowBook& book, const TaskFacts& facts, std::vector<Task>& to) {
  for (const auto& [key, bed] : book.beds()) {
    const auto& [tub, batch] = key;
    const auto pick = facts.first_picks.find(key);
    const bool picked = !bed.flushes.empty() && !bed.flushes.back().picks.empty();
    if (pick != facts.first_picks.end() && !picked && pick->second <= facts.now) {
      to.push_back(
          {TaskKind::pick,
           {tub},
           batch,
           pick->second,
           facts.now - pick->second > days(1),
           fmt::format("pick in {}: the first should be of size {}", tub,
                       facts.now - pick->second < hours(12) ? "by this evening" : "by now"),
           fmt::format("tubwarden harvest {} GRAMS", tub)});
    }
    if (!picked || bed.flushes.back().cleaned) continue;
    const WallTime last = bed.flushes.back().picks.back().at;
    if (facts.now - last < kCleanAfter) continue;
    to.push_back({TaskKind::clean,
                  {tub},
                  batch,
                  last + duration_cast<milliseconds>(kCleanAfter),
                  facts.now - last > days(4),
                  fmt::format("take the stumps out of {} and water it, if flush {} is picked out",
                              tub, bed.flushes.back().number),
                  fmt::format("tubwarden clean {}", tub)});
  }
}

void add_upkeep(const TaskFacts& facts, std::vector<Task>& to) {
  for (const Upkeep& upkeep : facts.upkeep) {
    const auto every = duration_cast<milliseconds>(upkeep.every);
    if (upkeep.last && *upkeep.last + every > facts.now) continue;
    const std::string since =
        upkeep.last ? fmt::format("last {} ago", spoken(facts.now - *upkeep.last)) : "not done yet";
    Task task{TaskKind::upkeep,
              {upkeep.of},
              "",
              std::nullopt,
              false,
              fmt::format("{}: {}, due every {}", upkeep.text, since, spoken(upkeep.every)),
              upkeep.command};
    if (upkeep.last) task.due = *upkeep.last + every;
    to.push_back(std::move(task));
  }
}

}  // namespace

std::string_view name_of(TaskKind kind) {
  switch (kind) {
    case TaskKind::isolate:
      return "isolate";
    case TaskKind::look:
      return "look";
    case TaskKind::shake:
      return "shake";
    case TaskKind::mix:
      return "mix";
    case TaskKind::overdue:
      return "overdue";
    case TaskKind::phase:
      return "phase";
    case TaskKind::water:
      return "water";
    case TaskKind::pick:
      return "pick";
    case TaskKind::clean:
      return "clean";
    case TaskKind::refill:
      return "refill";
    case TaskKind::upkeep:
      return "upkeep";
    case TaskKind::off:
      return "off";
  }
  ENSURE(false);
}

std::string listed(const std::vector<std::string>& ids) {
  std::string text = told_ids(ids);
  const auto replace = [&](const std::string& from, const std::string& to) {
    for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at)) {
      text.replace(at, from.size(), to);
    }
  };
  replace(" to ", "..");
  replace(" and ", " ");
  replace(", ", " ");
  return text;
}

std::vector<Task> tasks(const GrowBook& book, const TaskFacts& facts) {
  std::vector<Task> all = facts.more;
  add_jars(book, facts, all);
  add_phases(book, facts, all);
  add_flushes(book, facts, all);
  add_upkeep(facts, all);
  std::stable_sort(all.begin(), all.end(), [](const Task& a, const Task& b) {
    return std::tuple(!a.late, a.kind) < std::tuple(!b.late, b.kind);
  });
  return all;
}

}  // namespace tubwarden
