#include "host/outputs.hpp"

#include <time.h>

#include <algorithm>
#include <limits>
#include <utility>

namespace tubwarden::host {

namespace {

constexpr Duration kRetrySafe = seconds(1);

Duration from_ms(std::uint32_t ms) { return milliseconds(ms); }

/// Rounded up: a plugin must not take "a little left" for "no end".
std::uint32_t to_ms(Duration d) {
  const auto ms = std::chrono::ceil<milliseconds>(d).count();
  return static_cast<std::uint32_t>(
      std::clamp<std::int64_t>(ms, 0, std::numeric_limits<std::uint32_t>::max()));
}

/// What is left of a lease that the daemon granted at `sent_ns` of the boot clock.
Duration lease_left(std::uint32_t lease_ms, std::uint64_t sent_ns, Instant now) {
  const Instant sent{Duration(static_cast<std::int64_t>(
      std::min<std::uint64_t>(sent_ns, std::numeric_limits<std::int64_t>::max())))};
  return from_ms(lease_ms) - std::max(now - std::min(sent, now), Duration{0});
}

std::optional<Proportion> share_of(const tw_plugin& plugin, const protocol::Open& spec) {
  if (spec.period_ms == 0 || (plugin.can & TW_CAN_LEVEL) != 0) return std::nullopt;
  const Duration period = from_ms(spec.period_ms);
  return Proportion(period, std::min(from_ms(spec.shortest_run_ms), period / 2));
}

}  // namespace

Instant boot_now() {
  timespec t{};
  ENSURE(::clock_gettime(CLOCK_BOOTTIME, &t) == 0);
  return Instant{seconds(t.tv_sec) + std::chrono::nanoseconds(t.tv_nsec)};
}

Outputs::Outputs(const tw_plugin& plugin, Voice& voice, Watchdog& watchdog, Tell tell,
                 AboutToOpen about_to_open, std::uint32_t call_ms_max)
    : plugin_(plugin),
      voice_(voice),
      watchdog_(watchdog),
      tell_(std::move(tell)),
      about_to_open_(std::move(about_to_open)),
      call_ms_max_(call_ms_max) {}

Outputs::~Outputs() = default;

Outputs::Output* Outputs::find(std::uint32_t output) {
  const auto found = outputs_.find(output);
  return found == outputs_.end() ? nullptr : found->second.get();
}

WatchedCall Outputs::call(const Output& output, const char* name) const {
  const std::uint32_t lease = std::max<std::uint32_t>(output.spec.lease_ms, 1);
  return {output.spec.output, name, std::min(lease, call_ms_max_)};
}

std::vector<protocol::Open> Outputs::out_of_reach() const {
  std::vector<protocol::Open> away;
  for (const auto& [number, output] : outputs_) {
    if (!output->reachable || output->owes_safe) away.push_back(output->spec);
  }
  return away;
}

std::vector<protocol::Open> Outputs::specs() const {
  std::vector<protocol::Open> all;
  for (const auto& [number, output] : outputs_) all.push_back(output->spec);
  return all;
}

void Outputs::fail(const Output& output, protocol::Failure what, const std::string& text) {
  tell_(protocol::Failed{output.spec.output, what, text});
}

void Outputs::open(const protocol::Open& spec) {
  const auto refuse = [&](const std::string& why) {
    tell_(protocol::Failed{spec.output, protocol::Failure::option, why});
  };
  if ((plugin_.kind & TW_KIND_ACTUATOR) == 0) return refuse("the plugin is no actuator");
  if (find(spec.output) != nullptr) return refuse("the output is open already");
  if (outputs_.size() >= kOutputsMax) return refuse("a host holds at most 64 outputs");
  auto made = std::make_unique<Output>(
      Output{spec, voice_.mouth(spec.id), nullptr, false,
             OutputClock(spec.safe_permille, from_ms(spec.falls_by_itself_after_ms)), true, false,
             false, std::nullopt, share_of(plugin_, spec)});
  Output& output = *made;
  if (!knows(output, spec.safe_permille)) {
    return refuse("the driver knows run and rest only; safe may be: rest, run");
  }
  outputs_[spec.output] = std::move(made);
  about_to_open_(specs());
  // What is proportioned rests once nobody is left to switch it.
  const std::uint32_t safe = output.share && output.safe_is_between() ? kRest : spec.safe_permille;
  const tw_output words = {sizeof(tw_output),
                           spec.id.c_str(),
                           spec.wiring_json.c_str(),
                           safe,
                           spec.lease_ms,
                           spec.falls_by_itself_after_ms,
                           spec.site_json.c_str()};
  std::int32_t result = TW_FAILED;
  output.mouth->options = PluginOptions(plugin_, spec.wiring_json);
  {
    const Watchdog::Guard guard(watchdog_, call(output, "open"));
    result = plugin_.open(&output.mouth->host, spec.output, &words, &output.handle);
  }
  output.mouth->options = {};
  if (result != TW_OK) {
    const bool wrong = result == TW_BAD_OPTION;
    listen();
    fail(output, wrong ? protocol::Failure::option : protocol::Failure::open,
         voice_.why(*output.mouth, "it could not be opened"));
    outputs_.erase(spec.output);
    about_to_open_(specs());
    return;
  }
  output.is_open = true;
  make_safe(output);
  listen();
  tell_(protocol::Opened{spec.output, voice_.confirms(*output.mouth)});
}

void Outputs::apply(const protocol::Apply& command) {
  Output* output = find(command.output);
  if (output == nullptr) return;
  const Instant now = boot_now();
  if (!knows(*output, command.level_permille)) {
    return fail(*output, protocol::Failure::apply, "the driver knows run and rest only");
  }
  perform(*output, output->clock.apply(command.level_permille, from_ms(command.run_ms),
                                       lease_left(command.lease_ms, command.sent_ns, now),
                                       command.sequence, now));
}

void Outputs::renew(const protocol::Renew& renewal) {
  Output* output = find(renewal.output);
  if (output == nullptr) return;
  const Instant now = boot_now();
  const Duration lease = lease_left(renewal.lease_ms, renewal.sent_ns, now);
  if (output->clock.renew(lease, renewal.sequence, now)) return;
  // The word that it fell may have been lost while the daemon stood still: say it again.
  if (!output->clock.on_loan() && output->clock.sequence() == renewal.sequence) {
    tell_(protocol::Fell{renewal.output, renewal.sequence});
  }
}

void Outputs::make_safe(std::uint32_t output) {
  if (Output* found = find(output)) make_safe(*found);
}

void Outputs::perform(Output& output, const OutputAction& action) {
  switch (action.kind) {
    case OutputAction::Kind::none:
      return;
    case OutputAction::Kind::apply:
    case OutputAction::Kind::rest:
      return set(output, action);
    case OutputAction::Kind::make_safe:
      if (!action.lease_over && !output.owes_safe && output.share && output.share->between()) {
        // Repeated as it stands: resting first would cut its share.
        return set(output, standing(output, boot_now()));
      }
      make_safe(output);
      if (action.lease_over) tell_(protocol::Fell{output.spec.output, action.sequence});
      return;
  }
}

bool Outputs::knows(const Output& output, std::uint32_t level) const {
  return level == kRest || level == kRun || output.share || (plugin_.can & TW_CAN_LEVEL) != 0;
}

std::int32_t Outputs::drive(Output& output, std::uint32_t level, const OutputAction& action) {
  const Watchdog::Guard guard(watchdog_, call(output, "apply"));
  return plugin_.apply(output.handle, level, to_ms(action.run_left), to_ms(action.lease_left),
                       action.sequence);
}

void Outputs::set(Output& output, const OutputAction& action) {
  std::uint32_t level = action.level;
  if (output.share) level = output.share->ask(action.level, action.run_left, boot_now());
  const std::int32_t result = drive(output, level, action);
  if (result == TW_OK) {
    output.owes_safe = false;
    output.retry_at.reset();
    return;
  }
  if (result == TW_UNAVAILABLE) {
    output.clock.fall(boot_now());
    output.owes_safe = true;
    return tell_(protocol::Fell{output.spec.output, action.sequence});
  }
  const std::string why = voice_.why(*output.mouth, "the driver failed");
  output.share_from = boot_now() + kRetrySafe;
  make_safe(output);
  fail(output, protocol::Failure::apply, why);
}

/// What it shows now, with the lease that a driver of its own timer needs while it is safe, too.
OutputAction Outputs::standing(const Output& output, Instant now) {
  OutputAction action = output.clock.standing(now);
  if (!output.clock.on_loan()) action.lease_left = from_ms(output.spec.lease_ms);
  return action;
}

std::optional<Instant> Outputs::share_wake(const Output& output) const {
  if (!output.share || output.owes_safe || finishing_) return std::nullopt;
  if (output.share->between()) return output.share->next_wake();
  if (output.clock.on_loan() || !output.safe_is_between()) return std::nullopt;
  return output.share_from;  // a safe level between begins once the driver stands at rest
}

void Outputs::tick_share(Output& output, Instant now) {
  const auto wake = share_wake(output);
  if (!wake || *wake > now) return;
  const std::uint32_t before = output.share->shown();
  const OutputAction action = standing(output, now);
  if (!output.share->between()) {
    output.share->ask(action.level, action.run_left, now);
  } else {
    output.share->tick(now);
  }
  if (output.share->shown() != before) set(output, action);
}

void Outputs::make_safe(Output& output) {
  output.clock.fall(boot_now());
  if (output.share) output.share->ask(kRest, Duration{0}, boot_now());
  std::int32_t result = TW_FAILED;
  {
    const Watchdog::Guard guard(watchdog_, call(output, "make_safe"));
    result = plugin_.make_safe(output.handle);
  }
  output.owes_safe = result != TW_OK;
  output.retry_at.reset();
  if (result == TW_OK) {
    output.unsafe_told = false;
    return;
  }
  output.retry_at = boot_now() + kRetrySafe;
  if (result == TW_UNAVAILABLE || std::exchange(output.unsafe_told, true)) return;
  fail(output, protocol::Failure::unsafe,
       voice_.why(*output.mouth, "the driver could not set its safe level"));
}

void Outputs::close(std::uint32_t number) {
  Output* output = find(number);
  if (output == nullptr) return;
  make_safe(*output);
  end(*output);
  outputs_.erase(number);
  about_to_open_(specs());
  tell_(protocol::Closed{number});
}

void Outputs::end(Output& output) {
  {
    const Watchdog::Guard guard(watchdog_, call(output, "close"));
    plugin_.close(output.handle);
  }
  output.is_open = false;
  listen();
}

void Outputs::listen() {
  for (const protocol::ToDaemon& message : voice_.take()) {
    tell_(translated(message));
    if (const auto* reach = std::get_if<protocol::Reach>(&message)) reached(*reach);
  }
}

/// A proportioned output's word is of its run or rest; what the daemon asked for is a level.
protocol::ToDaemon Outputs::translated(const protocol::ToDaemon& message) {
  const auto* confirm = std::get_if<protocol::Confirm>(&message);
  const Output* output = confirm != nullptr ? find(confirm->output) : nullptr;
  if (output == nullptr || !output->share || !output->share->between()) return message;
  if (confirm->level_permille != output->share->shown()) return message;
  return protocol::Confirm{confirm->output, output->share->asked()};
}

void Outputs::reached(const protocol::Reach& reach) {
  Output* output = find(reach.output);
  if (output == nullptr) return;
  const bool back = reach.yes && (!output->reachable || output->owes_safe);
  output->reachable = reach.yes;
  if (!back || !output->is_open) return;
  perform(*output, output->owes_safe ? OutputAction{OutputAction::Kind::make_safe}
                                     : output->clock.again(boot_now()));
}

void Outputs::tick() {
  const Instant now = boot_now();
  for (auto& [number, output] : outputs_) {
    perform(*output, output->clock.tick(now));
    tick_share(*output, now);
    if (output->retry_at && *output->retry_at <= now) {
      output->retry_at.reset();
      if (output->owes_safe) make_safe(*output);
    }
  }
}

std::optional<Instant> Outputs::next_wake() const {
  std::optional<Instant> wake;
  const auto sooner = [&wake](std::optional<Instant> t) {
    if (t && (!wake || *t < *wake)) wake = t;
  };
  for (const auto& [number, output] : outputs_) {
    sooner(output->clock.next_wake());
    sooner(share_wake(*output));
    sooner(output->retry_at);
  }
  return wake;
}

bool Outputs::any_owes_safe() const {
  return std::any_of(outputs_.begin(), outputs_.end(),
                     [](const auto& entry) { return entry.second->owes_safe; });
}

bool Outputs::finish(Duration limit) {
  finishing_ = true;
  for (auto& [number, output] : outputs_) make_safe(*output);
  const Instant deadline = boot_now() + limit;
  while (any_owes_safe()) {
    const Instant now = boot_now();
    if (now >= deadline) break;
    const Instant next = std::min(deadline, next_wake().value_or(deadline));
    voice_.wait(static_cast<int>(to_ms(std::max(next - now, Duration{0}))));
    listen();
    tick();
  }
  const bool all_safe = !any_owes_safe();
  for (auto& [number, output] : outputs_) {
    if (output->owes_safe && !std::exchange(output->unsafe_told, true)) {
      fail(*output, protocol::Failure::unsafe, "out of reach: it could not be told to be safe");
    }
  }
  end_all();
  return all_safe;
}

void Outputs::hand_on() {
  finishing_ = true;
  for (auto& [number, output] : outputs_) make_safe(*output);
  end_all();
}

void Outputs::end_all() {
  for (auto& [number, output] : outputs_) end(*output);
  outputs_.clear();
}

}  // namespace tubwarden::host
