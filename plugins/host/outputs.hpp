// The outputs of one plugin in one host: opened, commanded, timed, made safe.
// Threading: the host's main thread; every plugin call is made here and watched by the watchdog.
// Failure: told to the daemon through `tell`; an output that cannot be made safe is tried each
// second.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/time.hpp"
#include "core/output/output_clock.hpp"
#include "core/output/proportion.hpp"
#include "host/voice.hpp"
#include "host/watchdog.hpp"
#include "sdk/plugin.h"
#include "sdk/protocol.hpp"

namespace tubwarden::host {

/// CLOCK_BOOTTIME, as the daemon's.
Instant boot_now();

class Outputs {
 public:
  static constexpr std::size_t kOutputsMax = 64;

  using Tell = std::function<void(const protocol::ToDaemon&)>;
  /// `about_to_open` gets all outputs, the new one included, before its open() is called.
  using AboutToOpen = std::function<void(const std::vector<protocol::Open>&)>;

  /// No call may take longer than `call_ms_max`, nor than the output's lease.
  Outputs(const tw_plugin& plugin, Voice& voice, Watchdog& watchdog, Tell tell,
          AboutToOpen about_to_open, std::uint32_t call_ms_max = protocol::kCallMsMax);
  ~Outputs();

  void open(const protocol::Open& spec);
  void apply(const protocol::Apply& command);
  void renew(const protocol::Renew& renewal);
  void make_safe(std::uint32_t output);
  void close(std::uint32_t output);

  /// What the plugin said since the last time, passed on; an output that is back in reach is set.
  void listen();
  /// Ends of runs and leases that have come.
  void tick();
  std::optional<Instant> next_wake() const;

  std::vector<protocol::Open> out_of_reach() const;

  /// Makes safe what is in reach and closes all: the host that follows makes the rest safe.
  void hand_on();

  /// Makes every output safe, waits at most `limit` for those out of reach, and closes all.
  /// False when one of them could not be made safe.
  bool finish(Duration limit);

 private:
  struct Output {
    protocol::Open spec;
    std::unique_ptr<Voice::Mouth> mouth;
    void* handle = nullptr;
    bool is_open = false;
    OutputClock clock;
    bool reachable = true;
    bool owes_safe = false;  ///< the last make_safe did not succeed
    bool unsafe_told = false;
    std::optional<Instant> retry_at;
    /// For a driver that takes no level between, where the wiring gives a period.
    std::optional<Proportion> share;
    Instant share_from{};  ///< a safe level between is not tried before, after a failure

    bool safe_is_between() const {
      return spec.safe_permille != kRest && spec.safe_permille != kRun;
    }
  };

  Output* find(std::uint32_t output);
  WatchedCall call(const Output& output, const char* name) const;
  void perform(Output& output, const OutputAction& action);
  void set(Output& output, const OutputAction& action);
  std::int32_t drive(Output& output, std::uint32_t level, const OutputAction& action);
  void tick_share(Output& output, Instant now);
  std::optional<Instant> share_wake(const Output& output) const;
  static OutputAction standing(const Output& output, Instant now);
  bool knows(const Output& output, std::uint32_t level) const;
  protocol::ToDaemon translated(const protocol::ToDaemon& message);
  void make_safe(Output& output);
  void end(Output& output);
  void end_all();
  void reached(const protocol::Reach& reach);
  bool any_owes_safe() const;
  std::vector<protocol::Open> specs() const;
  void fail(const Output& output, protocol::Failure what, const std::string& text);

  const tw_plugin& plugin_;
  Voice& voice_;
  Watchdog& watchdog_;
  Tell tell_;
  AboutToOpen about_to_open_;
  std::uint32_t call_ms_max_;
  bool finishing_ = false;
  std::map<std::uint32_t, std::unique_ptr<Output>> outputs_;
};

}  // namespace tubwarden::host
