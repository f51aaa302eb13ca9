// One plugin on trial in a process of its own: calls with a clock, and what it says meanwhile.
// Threading: the process's main thread; the watchdog's ends the process. Failure: a verdict, left
// where the process that judges reads it; then the process is over.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/time.hpp"
#include "host/voice.hpp"
#include "host/watchdog.hpp"
#include "sdk/plugin.h"
#include "sdk/protocol.hpp"
#include "sdk/trial_options.hpp"

namespace tubwarden::host {

/// Shared by the judge and the process on trial.
struct TrialSheet {
  std::array<char, 32> call{};      ///< the plugin's call that goes on
  std::array<char, 600> verdict{};  ///< why it failed, or a word on how it passed
};

enum class Ending : int { passed = 0, failed = 1, not_applicable = 2, out_of_reach = 3 };

/// What a case works with. A call that fails ends the process, unless its answer is asked for.
class Stage {
 public:
  static constexpr std::uint32_t kOutput = 7, kLeaseMs = 3000;

  Stage(const tw_plugin& plugin, const protocol::TrialOptions& options, TrialSheet& sheet);

  const tw_plugin& plugin() const { return plugin_; }
  const protocol::TrialOptions& options() const { return options_; }
  Watchdog& watchdog() { return watchdog_; }

  /// Leaves the verdict and ends the process.
  [[noreturn]] void end(Ending ending, const std::string& verdict);
  [[noreturn]] void fail(const std::string& verdict) { end(Ending::failed, verdict); }

  /// The wiring is the file's, unless another is given.
  std::int32_t try_open(const std::string& wiring);
  void open();
  /// Waits, at most 10 s, for an output that is out of reach.
  void make_safe();
  void apply(std::uint32_t level, std::uint32_t run_ms = 0);
  /// The last command once more, as a lease is renewed.
  void apply_again();
  void close();
  std::int32_t try_deliver(const std::string& wiring, const std::string& message);

  bool will_confirm() const;
  /// The output's own word, after now.
  void expect_confirm(std::uint32_t level);
  /// Forgets what was said so far.
  void forget() {
    listen();
    confirmed_.reset();
  }
  /// The plugin's last warning or error; empty when it said none.
  std::string why() { return voice_.why(*mouth_, ""); }
  std::uint32_t slowest_ms() const { return slowest_ms_; }

 private:
  template <class Call>
  std::int32_t timed(const char* name, std::uint32_t limit_ms, Call call);
  void listen();
  bool wait_for(const std::function<bool()>& sign, Duration limit);
  std::int32_t apply_once(std::uint32_t level, std::uint32_t run_ms);
  [[noreturn]] void failed(const std::string& what, std::int32_t result);

  const tw_plugin& plugin_;
  const protocol::TrialOptions& options_;
  TrialSheet& sheet_;
  Voice voice_;
  std::unique_ptr<Voice::Mouth> mouth_;
  Watchdog watchdog_;
  void* handle_ = nullptr;
  std::uint64_t sequence_ = 0;
  std::uint32_t level_ = 0, run_ms_ = 0;
  bool reachable_ = true;
  std::optional<std::uint32_t> confirmed_;
  std::uint32_t slowest_ms_ = 0;
};

/// "TW_BAD_OPTION", or the number.
std::string result_name(std::int32_t result);

}  // namespace tubwarden::host
