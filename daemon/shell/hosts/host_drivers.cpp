#include "shell/hosts/host_drivers.hpp"

#include <time.h>

#include <algorithm>
#include <utility>

#include "base/ensure.hpp"
#include "shell/hosts/drivers_state.hpp"

namespace tubwarden {

namespace {
constexpr Duration kStopMax = seconds(2);
/// After that, for what is killed: a process that stands in the kernel does not end.
constexpr Duration kKilledMax = seconds(2);
/// Beyond the longest call of a plugin, in which its host reads nothing either.
constexpr Duration kStillSlack = milliseconds(500);

std::uint32_t to_ms(Duration d) {
  return static_cast<std::uint32_t>(
      std::clamp<std::int64_t>(duration_cast<milliseconds>(d).count(), 0, UINT32_MAX));
}

std::uint64_t stamp(Instant now) {
  return static_cast<std::uint64_t>(now.time_since_epoch().count());
}
}  // namespace

Instant host_clock_now() {
  timespec t{};
  ENSURE(::clock_gettime(CLOCK_BOOTTIME, &t) == 0);
  return Instant{seconds(t.tv_sec) + std::chrono::nanoseconds(t.tv_nsec)};
}

HostDrivers::Impl::Impl(boost::asio::io_context& loop_in, HostOptions options_in)
    : loop(loop_in), options(std::move(options_in)), timer(loop_in) {}

HostDrivers::HostDrivers(boost::asio::io_context& loop, HostOptions options)
    : impl_(std::make_unique<Impl>(loop, std::move(options))) {}

HostDrivers::~HostDrivers() = default;

void HostDrivers::start(std::function<void(const OutputReport&)> report) {
  impl_->report = std::move(report);
}

void HostDrivers::want(std::vector<OutputPlan> outputs) {
  if (impl_->stopping) return;
  impl_->wanted = std::move(outputs);
  impl_->reconcile();
  impl_->schedule();
}

void HostDrivers::site(std::string site_json) {
  Impl& s = *impl_;
  if (s.stopping || site_json == s.options.site_json) return;
  s.options.site_json = std::move(site_json);
  for (auto& [key, group] : s.groups) {
    std::vector<std::uint32_t> network;
    for (auto& [number, output] : group.outputs) {
      if (output.plan.network && !output.leaving) network.push_back(number);
    }
    for (const std::uint32_t number : network) s.leave(group, group.outputs.at(number));
  }
  s.reconcile();
  s.schedule();
}

void HostDrivers::command(const OutputId& id, Level level, Duration run) {
  ENSURE(level <= kRun);
  Impl& s = *impl_;
  DriverOutput* output = nullptr;
  DriverGroup* group = s.group_of(id, &output);
  if (group == nullptr || !group->process || !output->opened || output->leaving) {
    ++s.dropped_commands;
    return;
  }
  const Instant now = host_clock_now();
  output->sequence = ++s.sequence;
  output->on_loan = true;
  output->renewed = now;
  if (output->confirms) output->word.commanded(level, run, now);
  const bool sent = group->process->send(protocol::Apply{
      output->number, level, to_ms(run), to_ms(output->plan.lease), output->sequence, stamp(now)});
  if (!sent) s.say(HostWord::error, id.chamber + "/" + id.actuator + ": its host takes no command");
  s.schedule();
}

void HostDrivers::release(const OutputId& id) {
  Impl& s = *impl_;
  DriverOutput* output = nullptr;
  DriverGroup* group = s.group_of(id, &output);
  if (group == nullptr || s.stopping) return;
  const Instant now = host_clock_now();
  output->policy.acknowledge();
  output->unsafe = output->refused = false;
  output->why.clear();
  if (group->process) {
    if (output->opened) {
      group->process->send(protocol::MakeSafe{output->number});
    } else if (!output->opening) {
      output->reopen_at = now;
    }
  } else if (group->policy.failed_safe() || group->refused) {
    group->policy.acknowledge();
    group->refused = false;
    group->restart_at = now;
  }
  s.report_all(*group);
  s.tick();
}

std::vector<HostView> HostDrivers::hosts() const {
  std::vector<HostView> views;
  const Instant now = host_clock_now();
  for (const auto& [key, group] : impl_->groups) {
    for (const auto& [number, output] : group.outputs) {
      HostView view;
      view.id = output.plan.id;
      view.plugin = group.plugin;
      view.pid = group.process ? group.process->pid() : 0;
      view.restarts = static_cast<int>(group.restarts);
      view.confirms = output.confirms;
      if (output.on_loan) {
        view.lease_left = std::max(output.renewed + output.plan.lease - now, Duration{0});
      }
      view.health = impl_->health(group, output);
      if (group.process) view.limits = group.limits;
      views.push_back(view);
    }
  }
  return views;
}

std::uint64_t HostDrivers::dropped_commands() const { return impl_->dropped_commands; }

void HostDrivers::stop(std::function<void()> done) {
  Impl& s = *impl_;
  s.stopping = true;
  s.stopped = std::move(done);
  s.kill_at = host_clock_now() + kStopMax;
  s.wanted.clear();
  for (auto& [key, group] : s.groups) {
    group.restart_at.reset();
    std::vector<protocol::Open> unattended;
    for (auto& [number, output] : group.outputs) {
      if (std::exchange(output.unattended, false)) unattended.push_back(s.open_message(output));
    }
    if (!unattended.empty()) s.make_safe_by_new_process(group.plugin, unattended);
    if (!group.process) continue;
    for (const auto& [number, output] : group.outputs) {
      if (output.opened || output.opening) group.process->send(protocol::Close{number});
    }
    group.hanging_up = true;
    group.process->hang_up();
  }
  s.schedule();
  s.later([&s] { s.finish_stop_if_over(); });
}

DriverGroup* HostDrivers::Impl::group_of(const OutputId& id, DriverOutput** output) {
  for (auto& [key, group] : groups) {
    for (auto& [number, candidate] : group.outputs) {
      if (candidate.plan.id != id || candidate.leaving) continue;
      *output = &candidate;
      return &group;
    }
  }
  return nullptr;
}

protocol::Open HostDrivers::Impl::open_message(const DriverOutput& output) const {
  const OutputPlan& plan = output.plan;
  return {output.number,
          plan.id.chamber + "/" + plan.id.actuator,
          plan.wiring_json,
          options.site_json,
          plan.safe,
          to_ms(plan.lease),
          plan.falls_by_itself_after ? to_ms(*plan.falls_by_itself_after) : 0,
          plan.period ? to_ms(*plan.period) : 0,
          to_ms(plan.shortest_run)};
}

std::string HostDrivers::Impl::plugin_path(const std::string& plugin) const {
  return options.plugin_folder + "/" + plugin + ".so";
}

Duration HostDrivers::Impl::stillness_max(const DriverGroup& group) {
  Duration longest{0};
  for (const auto& [number, output] : group.outputs) {
    if (!output.on_loan) continue;
    const Duration call = std::min<Duration>(output.plan.lease, milliseconds(protocol::kCallMsMax));
    longest = std::max(longest, std::max(output.plan.lease / 2, call + kStillSlack));
  }
  return longest;
}

/// A host that stands still minds no lease: the one that follows makes its outputs safe.
void HostDrivers::Impl::end_if_still(DriverGroup& group) {
  const Duration most = stillness_max(group);
  if (!group.process || group.killed || most == Duration{0}) return;
  if (group.process->unread_for() < most) return;
  say(HostWord::error, group.plugin + ": its host stands still; ending it");
  group.killed = true;
  group.process->kill();
}

void HostDrivers::Impl::tick_group(DriverGroup& group, Instant now) {
  if (group.restart_at && *group.restart_at <= now && !safe_run_of(group.plugin)) {
    group.restart_at.reset();
    start_group(group);
  }
  end_if_still(group);
  bool stuck = false;
  for (auto& [number, output] : group.outputs) {
    if (output.on_loan && output.renewed + output.plan.lease / 3 <= now && group.process) {
      output.renewed = now;
      group.process->send(
          protocol::Renew{number, to_ms(output.plan.lease), output.sequence, stamp(now)});
    }
    if (output.reopen_at && *output.reopen_at <= now && group.process) send_open(group, output);
    stuck = stuck || (output.leaving && output.leave_deadline <= now);
    report_on(group, output);
  }
  if (stuck && group.process && !group.killed) {
    say(HostWord::error, group.plugin + ": its host does not close an output; ending it");
    group.killed = true;
    group.process->kill();
  }
}

void HostDrivers::Impl::tick() {
  const Instant now = host_clock_now();
  for (auto& [key, group] : groups) tick_group(group, now);
  if (give_up_at && *give_up_at <= now) return give_up();
  if (kill_at && *kill_at <= now) {
    kill_at.reset();
    give_up_at = now + kKilledMax;
    for (auto& [key, group] : groups) {
      if (!group.process) continue;
      group.killed = true;
      group.process->kill();
    }
  }
  schedule();
}

void HostDrivers::Impl::give_up() {
  give_up_at.reset();
  left_unsafe = true;
  for (auto& [key, group] : groups) {
    if (!group.process) continue;
    say(HostWord::error, group.plugin + ": its host, pid " + std::to_string(group.process->pid()) +
                             ", does not end though it was killed; go and look at its outputs");
    group.process.reset();
  }
  for (auto& [id, run] : safe_runs) {
    say(HostWord::error, run.plugin + ": a safe-run does not end; go and look at its outputs");
  }
  safe_runs.clear();
  finish_stop_if_over();
}

std::optional<Instant> HostDrivers::Impl::next_wake() const {
  std::optional<Instant> wake = kill_at ? kill_at : give_up_at;
  const auto sooner = [&wake](std::optional<Instant> t) {
    if (t && (!wake || *t < *wake)) wake = t;
  };
  for (const auto& [key, group] : groups) {
    if (!safe_run_of(group.plugin)) sooner(group.restart_at);
    if (!group.process) continue;
    for (const auto& [number, output] : group.outputs) {
      if (output.on_loan) sooner(output.renewed + output.plan.lease / 3);
      if (!output.word.overdue(host_clock_now())) sooner(output.word.due());
      sooner(output.reopen_at);
      if (output.leaving && !group.killed) sooner(output.leave_deadline);
    }
  }
  return wake;
}

void HostDrivers::Impl::schedule() {
  const auto wake = next_wake();
  timer.cancel();
  if (!wake) return;
  timer.expires_after(std::max(*wake - host_clock_now(), Duration{0}));
  timer.async_wait([this, held = std::weak_ptr(alive)](const boost::system::error_code& error) {
    if (!error && !held.expired()) tick();
  });
}

}  // namespace tubwarden
