#include "host/stage.hpp"

#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstring>

#include "host/outputs.hpp"

namespace tubwarden::host {

namespace {

constexpr Duration kReachMax = seconds(10);
constexpr Duration kConfirmMax = seconds(5);

template <std::size_t N>
void leave(std::array<char, N>& where, const std::string& text) {
  const std::size_t length = std::min(text.size(), N - 1);
  std::memcpy(where.data(), text.data(), length);
  where[length] = '\0';
}

/// On the watchdog's thread: no memory may be asked for.
[[noreturn]] void hung(TrialSheet& sheet, const WatchedCall& call) {
  std::snprintf(sheet.verdict.data(), sheet.verdict.size(), "%s did not return within %u ms",
                call.call, call.limit_ms);
  ::_exit(static_cast<int>(Ending::failed));
}

}  // namespace

std::string result_name(std::int32_t result) {
  switch (result) {
    case TW_OK:
      return "TW_OK";
    case TW_BAD_OPTION:
      return "TW_BAD_OPTION";
    case TW_FAILED:
      return "TW_FAILED";
    case TW_UNAVAILABLE:
      return "TW_UNAVAILABLE";
    case TW_REFUSED:
      return "TW_REFUSED";
    default:  // an open set: whatever a plugin returns
      return std::to_string(result) + ", which is none of the interface";
  }
}

Stage::Stage(const tw_plugin& plugin, const protocol::TrialOptions& options, TrialSheet& sheet)
    : plugin_(plugin),
      options_(options),
      sheet_(sheet),
      mouth_(voice_.mouth("trial/output")),
      watchdog_([&sheet](const WatchedCall& call) { hung(sheet, call); }) {}

void Stage::end(Ending ending, const std::string& verdict) {
  leave(sheet_.verdict, verdict);
  ::_exit(static_cast<int>(ending));
}

void Stage::failed(const std::string& what, std::int32_t result) {
  const std::string why = this->why();
  fail(what + ": " + result_name(result) + (why.empty() ? ", and it did not say why" : ": " + why));
}

template <class Call>
std::int32_t Stage::timed(const char* name, std::uint32_t limit_ms, Call call) {
  leave(sheet_.call, name);
  const Instant from = boot_now();
  std::int32_t result = TW_OK;
  {
    const Watchdog::Guard guard(watchdog_, {kOutput, name, limit_ms});
    result = call();
  }
  const auto ms = std::chrono::ceil<milliseconds>(boot_now() - from).count();
  slowest_ms_ = std::max(slowest_ms_, static_cast<std::uint32_t>(ms));
  leave(sheet_.call, "");
  return result;
}

std::int32_t Stage::try_open(const std::string& wiring) {
  const tw_output spec = {sizeof(tw_output),         "trial/output", wiring.c_str(), 0, kLeaseMs, 0,
                          options_.site_json.c_str()};
  mouth_->options = PluginOptions(plugin_, wiring);
  mouth_->confirms = false;
  reachable_ = true;
  handle_ = nullptr;
  const std::int32_t result = timed("open", protocol::kCallMsMax, [&] {
    return plugin_.open(&mouth_->host, kOutput, &spec, &handle_);
  });
  mouth_->options = {};
  return result;
}

void Stage::open() {
  const std::int32_t result = try_open(options_.wiring_json);
  if (result != TW_OK) failed("open", result);
  if (handle_ == nullptr) fail("open returned TW_OK and no handle");
}

void Stage::make_safe() {
  const auto once = [this] {
    return timed("make_safe", protocol::kCallMsMax, [&] { return plugin_.make_safe(handle_); });
  };
  std::int32_t result = once();
  const Instant deadline = boot_now() + kReachMax;
  while (result == TW_UNAVAILABLE && boot_now() < deadline) {
    if (!wait_for([this] { return reachable_; }, deadline - boot_now())) break;
    result = once();
  }
  if (result == TW_UNAVAILABLE) {
    end(Ending::out_of_reach, "out of reach for 10 s, or back without reachable(1): " + why() +
                                  "; what else there is to try needs it in reach");
  }
  if (result != TW_OK) failed("make_safe", result);
}

std::int32_t Stage::apply_once(std::uint32_t level, std::uint32_t run_ms) {
  level_ = level;
  run_ms_ = run_ms;
  return timed("apply", protocol::kCallMsMax,
               [&] { return plugin_.apply(handle_, level, run_ms, kLeaseMs, sequence_); });
}

void Stage::apply(std::uint32_t level, std::uint32_t run_ms) {
  ++sequence_;
  const std::int32_t result = apply_once(level, run_ms);
  if (result != TW_OK) failed("apply of " + std::to_string(level), result);
}

void Stage::apply_again() {
  const std::int32_t result = apply_once(level_, run_ms_);
  if (result != TW_OK) failed("apply with the same sequence", result);
}

void Stage::close() {
  timed("close", protocol::kCallMsMax, [&] {
    plugin_.close(handle_);
    return TW_OK;
  });
  handle_ = nullptr;
}

std::int32_t Stage::try_deliver(const std::string& wiring, const std::string& message) {
  mouth_->options = PluginOptions(plugin_, wiring);
  const std::int32_t result = timed("deliver", protocol::kDeliverMsMax, [&] {
    return plugin_.deliver(&mouth_->host, wiring.c_str(), options_.site_json.c_str(),
                           message.c_str());
  });
  mouth_->options = {};
  return result;
}

bool Stage::will_confirm() const { return mouth_->confirms; }

void Stage::listen() {
  for (const protocol::ToDaemon& word : voice_.take()) {
    if (const auto* reach = std::get_if<protocol::Reach>(&word)) {
      if (reach->output != kOutput) fail("reachable() of an output that is not its own");
      reachable_ = reach->yes;
    }
    const auto* confirm = std::get_if<protocol::Confirm>(&word);
    if (confirm == nullptr) continue;
    if (confirm->output != kOutput) fail("confirm() of an output that is not its own");
    if (!mouth_->confirms) fail("confirm() without will_confirm() in open()");
    confirmed_ = confirm->level_permille;
  }
}

bool Stage::wait_for(const std::function<bool()>& sign, Duration limit) {
  const Instant deadline = boot_now() + limit;
  for (;;) {
    listen();
    if (sign()) return true;
    const auto left = std::chrono::ceil<milliseconds>(deadline - boot_now()).count();
    if (left <= 0) return false;
    voice_.wait(static_cast<int>(left));
  }
}

void Stage::expect_confirm(std::uint32_t level) {
  if (wait_for([&] { return confirmed_ == level; }, kConfirmMax)) return;
  fail("level " + std::to_string(level) + " was not confirmed within 5 s; " +
       (confirmed_ ? "the last word was " + std::to_string(*confirmed_) : "no word came"));
}

}  // namespace tubwarden::host
