// Which hosts run and which outputs they hold: joining, leaving, crashing, stopping.
#include <algorithm>
#include <boost/asio/post.hpp>
#include <utility>

#include "base/ensure.hpp"
#include "sdk/safe_list.hpp"
#include "shell/hosts/drivers_state.hpp"

namespace tubwarden {

namespace {
/// A close takes two watched calls at most, and a safe-run behind them.
constexpr Duration kLeaveMax = seconds(4);

std::string key_of(const OutputPlan& plan) {
  return plan.own_process ? plan.driver + " " + plan.id.chamber + "/" + plan.id.actuator
                          : plan.driver;
}
}  // namespace

void HostDrivers::Impl::reconcile() {
  if (stopping) return;
  leave_unwanted();
  keep_list();
  const bool any_leaving = std::any_of(groups.begin(), groups.end(), [](const auto& entry) {
    const auto& outputs = entry.second.outputs;
    return std::any_of(outputs.begin(), outputs.end(),
                       [](const auto& output) { return output.second.leaving; });
  });
  // Two ids may be wired to one relay: nothing new is opened before the old is safe and closed.
  if (any_leaving || !safe_runs.empty()) return;
  join_wanted();
  for (auto it = groups.begin(); it != groups.end();) {
    DriverGroup& group = it->second;
    if (!group.outputs.empty()) {
      ++it;
    } else if (group.process) {
      if (!std::exchange(group.hanging_up, true)) group.process->hang_up();
      ++it;
    } else {
      it = groups.erase(it);
    }
  }
}

void HostDrivers::Impl::leave_unwanted() {
  for (auto& [key, group] : groups) {
    std::vector<std::uint32_t> unwanted;
    for (const auto& [number, output] : group.outputs) {
      const bool stays = std::find(wanted.begin(), wanted.end(), output.plan) != wanted.end();
      if (!stays && !output.leaving) unwanted.push_back(number);
    }
    for (const std::uint32_t number : unwanted) leave(group, group.outputs.at(number));
  }
}

void HostDrivers::Impl::leave(DriverGroup& group, DriverOutput& output) {
  if (!group.process || (!output.opened && !output.opening)) {
    if (output.unattended) make_safe_by_new_process(group.plugin, {open_message(output)});
    group.outputs.erase(output.number);
    return;
  }
  output.leaving = true;
  output.on_loan = false;
  output.leave_deadline = host_clock_now() + kLeaveMax;
  group.process->send(protocol::Close{output.number});
}

void HostDrivers::Impl::join_wanted() {
  std::map<std::string, std::vector<std::uint32_t>> joining;  ///< by group
  for (const OutputPlan& plan : wanted) {
    DriverOutput* present = nullptr;
    if (group_of(plan.id, &present) != nullptr) continue;
    DriverGroup& group = groups[key_of(plan)];
    group.key = key_of(plan);
    group.plugin = plan.driver;
    const std::uint32_t number = next_output++;
    DriverOutput& output = group.outputs[number];
    output.plan = plan;
    output.number = number;
    output.why = "its host is starting";
    joining[group.key].push_back(number);
  }
  for (const auto& [key, numbers] : joining) join(groups.at(key), numbers);
}

/// All of a group at once: its host is held to the files that it knows of when it opens the first.
void HostDrivers::Impl::join(DriverGroup& group, const std::vector<std::uint32_t>& numbers) {
  if (group.process && !group.hanging_up) {
    std::vector<DriverOutput*> all;
    for (const std::uint32_t number : numbers) all.push_back(&group.outputs.at(number));
    send_opens(group, all);
  } else if (!group.process && !group.restart_at && !group.policy.failed_safe()) {
    // A refused plugin is tried again whenever something new wants it.
    group.refused = false;
    start_group(group);
  }
  for (const std::uint32_t number : numbers) {
    if (const auto it = group.outputs.find(number); it != group.outputs.end()) {
      report_on(group, it->second);
    }
  }
}

void HostDrivers::Impl::start_group(DriverGroup& group) {
  if (group.process || stopping) return;
  const std::string key = group.key;
  HostProcess::Handlers handlers;
  handlers.message = [this, key](const protocol::ToDaemon& message) { heard(key, message); };
  handlers.ended = [this, key](const HostEnding& ending) { group_ended(key, ending); };
  auto process = HostProcess::serve(loop, options.host_program, plugin_path(group.plugin),
                                    options.limits, std::move(handlers));
  group.limits.clear();
  group.hanging_up = group.killed = false;
  group.why.clear();
  if (!process) return refuse(group, process.error().text);
  group.process = *process;
  std::vector<DriverOutput*> all;
  for (auto& [number, output] : group.outputs) all.push_back(&output);
  send_opens(group, all);
}

void HostDrivers::Impl::send_opens(DriverGroup& group, std::vector<DriverOutput*> outputs) {
  std::erase_if(outputs, [this](DriverOutput* output) { return !may_be_opened(*output); });
  for (DriverOutput* output : outputs) send_open(group, *output, output != outputs.back());
}

bool HostDrivers::Impl::may_be_opened(DriverOutput& output) const {
  if (output.refused || output.policy.failed_safe() || output.opening || output.opened)
    return false;
  output.refused = !protocol::fits(protocol::encode(protocol::ToHost(open_message(output))));
  if (output.refused) output.why = "its wiring is longer than a packet of 8 KiB";
  return !output.refused;
}

void HostDrivers::Impl::send_open(DriverGroup& group, DriverOutput& output, bool more) {
  output.reopen_at.reset();
  if (!may_be_opened(output)) return;
  output.reachable = true;
  output.opening = true;
  protocol::Open message = open_message(output);
  message.more = more;
  group.process->send(message);  // a host that takes no packet has just ended; its end tells why
}

void HostDrivers::Impl::group_ended(const std::string& key, const HostEnding& ending) {
  const auto found = groups.find(key);
  if (found == groups.end()) return;
  DriverGroup& group = found->second;
  const std::string plugin = group.plugin;
  group.process.reset();
  // Whatever nobody will open again must be made safe by somebody; a hung host's safe-run did it.
  const bool by_its_safe_run = ending.code == protocol::kExitHung && !ending.by_signal;
  std::vector<protocol::Open> unattended;
  for (auto it = group.outputs.begin(); it != group.outputs.end();) {
    DriverOutput& output = it->second;
    const bool was_open = output.opened || output.opening;
    output.opened = output.opening = output.on_loan = false;
    output.word.forget();
    output.unattended = was_open && !ending.clean() && !by_its_safe_run;
    if (output.unattended && (output.leaving || stopping)) {
      unattended.push_back(open_message(output));
      output.unattended = false;
    }
    it = output.leaving ? group.outputs.erase(it) : std::next(it);
  }
  left_unsafe = left_unsafe || (stopping && ending.safe_run_left);
  const bool other_files = ending.code == protocol::kExitOtherFiles && !ending.by_signal;
  const bool asked = (group.hanging_up && ending.clean()) || other_files;
  if (!unattended.empty()) make_safe_by_new_process(plugin, unattended);
  if (!stopping && asked && !group.outputs.empty()) start_group(group);
  if (!stopping && !asked) crashed(group, ending);
  reconcile();
  schedule();
  finish_stop_if_over();
}

void HostDrivers::Impl::crashed(DriverGroup& group, const HostEnding& ending) {
  const std::string words = "its host " + ending.words();
  if (ending.code == protocol::kExitRefused && !ending.by_signal) {
    return refuse(group, group.why.empty() ? words : group.why);
  }
  if (ending.safe_run_left) {
    for (auto& [number, output] : group.outputs) output.unsafe = true;
  }
  const Instant now = host_clock_now();
  const RestartPolicy::Verdict verdict = group.policy.crashed(now);
  group.why = words;
  if (!verdict.failed_safe) {
    ++group.restarts;
    group.restart_at = now + verdict.backoff;
    say(HostWord::warning, group.plugin + ": " + words + "; it is started again");
    return report_all(group);
  }
  group.why += "; three crashes in ten minutes, not started again until it is released";
  say(HostWord::error, group.plugin + ": " + group.why);
  std::vector<protocol::Open> all;
  for (auto& [number, output] : group.outputs) {
    all.push_back(open_message(output));
    output.unattended = false;
  }
  if (!all.empty()) make_safe_by_new_process(group.plugin, all);
  report_all(group);
}

void HostDrivers::Impl::refuse(DriverGroup& group, const std::string& why) {
  group.refused = true;
  group.why = why + "; put that right, then release the output";
  say(HostWord::error, group.plugin + ": " + group.why);
  report_all(group);
}

void HostDrivers::Impl::make_safe_by_new_process(const std::string& plugin,
                                                 std::vector<protocol::Open> outputs) {
  const std::uint64_t id = next_safe_run++;
  SafeRun& run = safe_runs[id];
  run.plugin = plugin;
  run.spec = {plugin_path(plugin), outputs};
  for (const protocol::Open& output : outputs) {
    const std::size_t slash = output.id.find('/');
    run.outputs.push_back(
        {output.output, {output.id.substr(0, slash), output.id.substr(slash + 1)}});
  }
  HostProcess::Handlers handlers;
  handlers.message = [this, plugin](const protocol::ToDaemon& message) {
    const auto* failed = std::get_if<protocol::Failed>(&message);
    const auto* said = std::get_if<protocol::Said>(&message);
    if (failed != nullptr) say(HostWord::error, plugin + ": safe-run: " + failed->text);
    if (said != nullptr) say(HostWord::warning, plugin + ": safe-run: " + said->text);
  };
  handlers.ended = [this, id](const HostEnding& ending) { safe_run_ended(id, ending); };
  auto process = HostProcess::safe_run(loop, options.host_program, run.spec, std::move(handlers));
  if (process) {
    run.process = *process;
    return;
  }
  say(HostWord::error, plugin + ": " + process.error().text);
  later([this, id] { safe_run_ended(id, {protocol::kExitUnsafe, false, false}); });
}

void HostDrivers::Impl::safe_run_ended(std::uint64_t id, const HostEnding& ending) {
  const auto found = safe_runs.find(id);
  if (found == safe_runs.end()) return;
  const SafeRun run = std::move(found->second);
  safe_runs.erase(found);
  left_unsafe = left_unsafe || (stopping && !ending.clean());
  for (const auto& [number, output_id] : run.outputs) {
    if (ending.clean()) break;
    DriverOutput* output = nullptr;
    DriverGroup* group = group_of(output_id, &output);
    if (group != nullptr) {
      output->unsafe = true;
      output->why = "cannot be made safe: go and look";
      report_on(*group, *output);
    } else if (report) {
      report({output_id, OutputHealth::unsafe, std::nullopt, "cannot be made safe: go and look"});
    }
  }
  reconcile();
  tick();
  finish_stop_if_over();
}

bool HostDrivers::Impl::safe_run_of(const std::string& plugin) const {
  return std::any_of(safe_runs.begin(), safe_runs.end(),
                     [&](const auto& entry) { return entry.second.plugin == plugin; });
}

void HostDrivers::Impl::later(std::function<void()> work) {
  boost::asio::post(loop, [held = std::weak_ptr(alive), work = std::move(work)] {
    if (!held.expired()) work();
  });
}

void HostDrivers::Impl::finish_stop_if_over() {
  if (!stopping || !stopped || !safe_runs.empty()) return;
  const bool any = std::any_of(groups.begin(), groups.end(),
                               [](const auto& entry) { return entry.second.process != nullptr; });
  if (any) return;
  kill_at.reset();
  give_up_at.reset();
  timer.cancel();
  groups.clear();
  if (!left_unsafe) write_list(protocol::encode_safe_list({}));
  const auto done = std::exchange(stopped, nullptr);
  done();
}

}  // namespace tubwarden
