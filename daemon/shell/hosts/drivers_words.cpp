// What hosts say, and what is reported of each output.
#include <utility>

#include "base/ensure.hpp"
#include "shell/hosts/drivers_state.hpp"

namespace tubwarden {

namespace {
/// Between closing an output whose driver failed and opening it anew.
constexpr Duration kReopenAfter = seconds(1);

HostWord word_of(protocol::SayLevel level) {
  switch (level) {
    case protocol::SayLevel::debug:
      return HostWord::debug;
    case protocol::SayLevel::info:
      return HostWord::info;
    case protocol::SayLevel::warning:
      return HostWord::warning;
    case protocol::SayLevel::error:
      return HostWord::error;
  }
  ENSURE(false);
}

DriverOutput* find(DriverGroup& group, std::uint32_t number) {
  const auto found = group.outputs.find(number);
  return found == group.outputs.end() ? nullptr : &found->second;
}
}  // namespace

void HostDrivers::Impl::say(HostWord word, const std::string& text) const {
  if (options.say) options.say(word, text);
}

void HostDrivers::Impl::heard(const std::string& key, const protocol::ToDaemon& message) {
  const auto found = groups.find(key);
  if (found == groups.end()) return;
  std::visit([&](const auto& m) { heard(found->second, m); }, message);
  schedule();
}

void HostDrivers::Impl::heard(DriverGroup& group, const protocol::Opened& m) {
  DriverOutput* output = find(group, m.output);
  if (output == nullptr) return;
  output->opening = false;
  output->opened = true;
  output->unattended = false;
  output->confirms = m.confirms;
  output->word.forget();
  if (output->reachable) output->why.clear();
  group.why.clear();
  report_on(group, *output);
}

void HostDrivers::Impl::heard(DriverGroup& group, const protocol::Closed& m) {
  DriverOutput* output = find(group, m.output);
  if (output == nullptr) return;
  output->opened = output->opening = output->on_loan = false;
  if (stopping || !output->leaving) return;
  group.outputs.erase(m.output);
  reconcile();
}

void HostDrivers::Impl::heard(DriverGroup& group, const protocol::Confirm& m) {
  DriverOutput* output = find(group, m.output);
  if (output == nullptr || output->leaving) return;
  output->word.heard(m.level_permille, host_clock_now());
  report_on(group, *output);
}

void HostDrivers::Impl::heard(DriverGroup& group, const protocol::Reach& m) {
  DriverOutput* output = find(group, m.output);
  if (output == nullptr || output->leaving) return;
  output->reachable = m.yes;
  output->why = m.yes ? "" : m.why;
  if (!m.yes) output->word.forget();  // silence is explained
  report_on(group, *output);
}

void HostDrivers::Impl::heard(DriverGroup& group, const protocol::Fell& m) {
  DriverOutput* output = find(group, m.output);
  if (output == nullptr || output->leaving || output->sequence != m.sequence || !output->on_loan) {
    return;
  }
  output->on_loan = false;
  if (output->confirms) output->word.fell(output->plan.safe, host_clock_now());
  if (!output->opened || !output->reachable) return;
  // Whoever commands must learn that the command is over: not ready, and ready again.
  output->reported = {output->plan.id, OutputHealth::starting, output->word.last(),
                      "its command is over: it fell to its safe level"};
  say(HostWord::warning, output->plan.id.chamber + "/" + output->plan.id.actuator +
                             ": fell to its safe level, its lease was not renewed in time");
  if (report) report(*output->reported);
  if (DriverOutput* still = find(group, m.output)) report_on(group, *still);
}

void HostDrivers::Impl::heard(DriverGroup&, const protocol::Said& m) {
  say(word_of(m.level), m.text);
}

void HostDrivers::Impl::heard(DriverGroup& group, const protocol::Failed& m) {
  say(HostWord::error, group.plugin + ": " + m.text);
  DriverOutput* output = m.output ? find(group, *m.output) : nullptr;
  switch (m.what) {
    case protocol::Failure::load:
      group.why = m.text;
      return;
    case protocol::Failure::packet:
      return;
    case protocol::Failure::hung:
      group.why = m.text;
      for (auto& [number, each] : group.outputs) each.opened = each.on_loan = false;
      return report_all(group);
    case protocol::Failure::unsafe:
      for (auto& [number, each] : group.outputs) {
        if (output != nullptr && output != &each) continue;
        each.unsafe = true;
        each.why = m.text;
      }
      return report_all(group);
    case protocol::Failure::open:
    case protocol::Failure::option:
    case protocol::Failure::apply:
      if (output != nullptr) output_failed(group, *output, m);
      return;
  }
}

void HostDrivers::Impl::heard(DriverGroup& group, const protocol::Delivered&) {
  say(HostWord::error, group.plugin + ": its host answered for a channel");
}

void HostDrivers::Impl::heard(DriverGroup& group, const protocol::Held& m) {
  group.limits.clear();
  for (const protocol::Limit& limit : m.limits) {
    group.limits.push_back({limit.what, limit.holds, limit.how});
    if (limit.what == "cpu" && limit.holds) {  // the share is ours: the host knows seconds only
      group.limits.back().how =
          std::to_string(options.limits.cpu_percent) + " % of a core over " +
          std::to_string(duration_cast<seconds>(options.limits.cpu_window).count()) + " s";
    }
  }
}

void HostDrivers::Impl::output_failed(DriverGroup& group, DriverOutput& output,
                                      const protocol::Failed& m) {
  const bool still_open = m.what == protocol::Failure::apply;
  output.opening = false;
  output.on_loan = false;
  output.why = m.text;
  if (output.leaving) {
    if (still_open) return;  // its Closed is under way
    group.outputs.erase(output.number);
    return reconcile();
  }
  if (still_open && group.process) group.process->send(protocol::Close{output.number});
  output.opened = false;
  output.word.forget();
  if (m.what == protocol::Failure::option) {
    output.refused = true;
    output.why += "; put that right in its file";
  } else {
    const Instant now = host_clock_now();
    const RestartPolicy::Verdict verdict = output.policy.crashed(now);
    if (verdict.failed_safe) {
      output.why += "; three failures in ten minutes, not tried again until it is released";
    } else {
      output.reopen_at = now + std::max(verdict.backoff, kReopenAfter);
    }
  }
  report_on(group, output);
}

OutputHealth HostDrivers::Impl::health(const DriverGroup& group, const DriverOutput& output) const {
  if (output.unsafe) return OutputHealth::unsafe;
  if (group.refused || group.policy.failed_safe() || output.refused ||
      output.policy.failed_safe()) {
    return OutputHealth::failed_safe;
  }
  if (!output.opened || !output.reachable) return OutputHealth::starting;
  if (output.word.overdue(host_clock_now())) return OutputHealth::unconfirmed;
  return OutputHealth::ready;
}

void HostDrivers::Impl::report_on(const DriverGroup& group, DriverOutput& output) {
  if (output.leaving || stopping) return;
  OutputReport now{output.plan.id, health(group, output), output.word.last(), ""};
  switch (now.health) {
    case OutputHealth::ready:
      break;
    case OutputHealth::unconfirmed:
      now.why = "it did not confirm within 5 s what it was told";
      break;
    case OutputHealth::starting:
    case OutputHealth::failed_safe:
    case OutputHealth::unsafe:
      now.why = group.why.empty() || output.unsafe ? output.why : group.why;
      break;
  }
  const bool same = output.reported && output.reported->health == now.health &&
                    output.reported->confirmed == now.confirmed && output.reported->why == now.why;
  if (same) return;
  output.reported = now;
  if (report) report(now);
}

void HostDrivers::Impl::report_all(DriverGroup& group) {
  for (auto& [number, output] : group.outputs) report_on(group, output);
}

}  // namespace tubwarden
