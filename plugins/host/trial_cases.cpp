#include "host/trial_cases.hpp"

#include <unistd.h>

#include <algorithm>
#include <csignal>
#include <filesystem>
#include <thread>
#include <variant>

#include "host/loaded_plugin.hpp"
#include "host/outputs.hpp"

namespace tubwarden::host {

namespace {

constexpr std::uint32_t kAny = TW_KIND_ACTUATOR | TW_KIND_CHANNEL;

std::string ms_text(std::uint32_t ms) { return std::to_string(ms) + " ms"; }

std::size_t entries(const char* folder) {
  std::error_code error;
  const std::filesystem::directory_iterator begin(folder, error);
  return static_cast<std::size_t>(std::distance(begin, std::filesystem::directory_iterator()));
}

/// What a plugin that was closed should have given back.
struct Held {
  std::size_t descriptors = entries("/proc/self/fd");
  std::size_t threads = entries("/proc/self/task");
};

/// A thread that was told to end may take a while.
bool given_back(const Held& before) {
  const Instant deadline = boot_now() + seconds(5);
  for (;;) {
    const Held now;
    if (now.descriptors <= before.descriptors && now.threads <= before.threads) return true;
    if (boot_now() > deadline) return false;
    std::this_thread::yield();
  }
}

std::string describe(Stage& stage) {
  const protocol::Description told = host::describe(stage.plugin());
  std::vector<std::string> names;
  for (const protocol::OptionRow& row : told.options) {
    if (const auto wrong = protocol::wrong_row(row)) {
      stage.fail("option '" + row.name + "': " + *wrong);
    }
    if (std::find(names.begin(), names.end(), row.name) != names.end()) {
      stage.fail("option '" + row.name + "' has two rows");
    }
    names.push_back(row.name);
  }
  for (const std::string& given : stage.options().names) {
    if (std::find(names.begin(), names.end(), given) == names.end()) {
      stage.fail("the options file gives '" + given + "', which has no row");
    }
  }
  return std::to_string(names.size()) + " options";
}

/// Every way in which the wiring breaks what its rows say.
std::vector<std::pair<std::string, std::string>> spoiled(const Stage& stage) {
  const std::string& wiring = stage.options().wiring_json;
  std::vector<std::pair<std::string, std::string>> all = {{"no JSON at all", "not JSON"}};
  for (const protocol::OptionRow& row : host::describe(stage.plugin()).options) {
    if (!row.fallback) {
      all.emplace_back("no '" + row.name + "'",
                       protocol::with_option(wiring, row.name, std::nullopt));
    }
    for (const std::string& value : protocol::wrong_values(row)) {
      all.emplace_back("'" + row.name + "' as '" + value + "'",
                       protocol::with_option(wiring, row.name, value));
    }
  }
  return all;
}

/// An option that is required in one role only is still required: one table serves both.
std::string bad_options(Stage& stage) {
  const bool actuator = (stage.plugin().kind & TW_KIND_ACTUATOR) != 0;
  const bool channel = (stage.plugin().kind & TW_KIND_CHANNEL) != 0;
  const auto judge = [&](const char* call, const std::string& what, std::int32_t result) {
    const std::string told = std::string(call) + " with " + what;
    if (result == TW_OK) stage.fail(told + " succeeded");
    if (result != TW_BAD_OPTION) {
      stage.fail(told + " returned " + result_name(result) + ", not TW_BAD_OPTION");
    }
    if (stage.why().empty()) stage.fail(told + " did not say why");
  };
  const auto all = spoiled(stage);
  for (const auto& [what, wiring] : all) {
    if (actuator) judge("open", what, stage.try_open(wiring));
    if (channel) judge("deliver", what, stage.try_deliver(wiring, "{}"));
  }
  return std::to_string(all.size()) + " wrong wirings refused";
}

std::string open_and_close(Stage& stage) {
  stage.open();
  stage.close();
  const Held first;
  for (int i = 0; i < 3; ++i) {
    stage.open();
    stage.close();
  }
  if (!given_back(first)) {
    const Held now;
    stage.fail("open and close leave something behind: descriptors " +
               std::to_string(first.descriptors) + " -> " + std::to_string(now.descriptors) +
               ", threads " + std::to_string(first.threads) + " -> " + std::to_string(now.threads));
  }
  return "at most " + ms_text(stage.slowest_ms());
}

std::string make_safe(Stage& stage) {
  stage.open();
  stage.make_safe();
  stage.make_safe();
  stage.apply(1000);
  stage.make_safe();
  stage.close();
  return "at most " + ms_text(stage.slowest_ms());
}

std::string apply(Stage& stage) {
  stage.open();
  stage.make_safe();
  stage.apply(1000);
  stage.apply_again();
  stage.apply(1000, 5000);
  stage.apply(0);
  stage.make_safe();
  stage.close();
  return "at most " + ms_text(stage.slowest_ms());
}

std::string level(Stage& stage) {
  if ((stage.plugin().can & TW_CAN_LEVEL) == 0) {
    stage.end(Ending::not_applicable, "run and rest only; the host proportions");
  }
  stage.open();
  stage.make_safe();
  for (const std::uint32_t each : {1u, 250u, 500u, 999u}) {
    stage.apply(each);
    if (stage.will_confirm()) stage.expect_confirm(each);
  }
  stage.make_safe();
  stage.close();
  return "1 to 999 permille";
}

std::string confirm(Stage& stage) {
  stage.open();
  stage.make_safe();
  if (!stage.will_confirm()) {
    for (const std::uint32_t each : {1000u, 0u}) {
      stage.apply(each);
      stage.forget();
    }
    stage.make_safe();
    stage.forget();
    stage.close();
    stage.end(Ending::not_applicable, "this wiring has no word of its own");
  }
  for (const std::uint32_t each : {1000u, 0u, 1000u}) {
    stage.forget();
    stage.apply(each);
    stage.expect_confirm(each);
  }
  stage.forget();
  stage.make_safe();
  stage.expect_confirm(0);
  stage.close();
  return "run, rest and safe";
}

/// A process that stopped in the middle of a run, in one of two ways.
void run_and_leave(Stage& stage) {
  stage.open();
  stage.make_safe();
  stage.apply(1000);
}
void run_and_hang(Stage& stage) {
  run_and_leave(stage);
  ::_exit(protocol::kExitHung);  // as the watchdog ends it: nothing is closed or put away
}
void run_and_crash(Stage& stage) {
  run_and_leave(stage);
  ::raise(SIGKILL);
}

std::string take_over(Stage& stage) {
  const Instant from = boot_now();
  stage.open();
  stage.make_safe();
  const auto ms = std::chrono::ceil<milliseconds>(boot_now() - from).count();
  if (stage.will_confirm()) stage.expect_confirm(0);
  stage.close();
  return "safe " + ms_text(static_cast<std::uint32_t>(ms)) + " after the new process began";
}

std::string double_close(Stage& stage) {
  stage.open();
  stage.close();
  stage.open();
  stage.make_safe();
  stage.close();
  stage.open();
  stage.make_safe();
  stage.apply(1000);
  stage.make_safe();
  stage.close();
  return "three times in one process";
}

/// The host's own turn around the plugin: a lease that is renewed once, and then is not.
std::string lease(Stage& stage) {
  constexpr std::uint32_t kShortMs = 400;
  Voice voice;
  std::optional<Instant> fell;
  std::string failure;
  bool opened = false, reachable = true;
  Outputs outputs(
      stage.plugin(), voice, stage.watchdog(),
      [&](const protocol::ToDaemon& word) {
        if (std::holds_alternative<protocol::Fell>(word)) fell = boot_now();
        if (std::holds_alternative<protocol::Opened>(word)) opened = true;
        if (const auto* reach = std::get_if<protocol::Reach>(&word)) reachable = reach->yes;
        if (const auto* failed = std::get_if<protocol::Failed>(&word)) failure = failed->text;
      },
      [](const std::vector<protocol::Open>&) {});
  const auto turn_until = [&](const std::function<bool()>& sign, Duration limit) {
    const Instant deadline = boot_now() + limit;
    while (!sign() && failure.empty() && boot_now() < deadline) {
      const Instant next = std::min(deadline, outputs.next_wake().value_or(deadline));
      const auto ms = std::chrono::ceil<milliseconds>(next - boot_now()).count();
      voice.wait(static_cast<int>(std::max<std::int64_t>(ms, 0)));
      outputs.listen();
      outputs.tick();
    }
    if (!failure.empty()) stage.fail(failure);
    return sign();
  };
  const auto stamp = [] {
    return static_cast<std::uint64_t>(boot_now().time_since_epoch().count());
  };
  outputs.open({Stage::kOutput, "trial/output", stage.options().wiring_json,
                stage.options().site_json, 0, Stage::kLeaseMs, 0, 0, 0});
  if (!turn_until([&] { return opened && reachable; }, seconds(10))) {
    stage.fail("the output was out of reach for 10 s");
  }
  outputs.apply({Stage::kOutput, 1000, 0, kShortMs, 1, stamp()});
  turn_until([] { return false; }, milliseconds(kShortMs / 2));
  outputs.renew({Stage::kOutput, kShortMs, 1, stamp()});
  const Instant renewed = boot_now();
  if (!turn_until([&] { return fell.has_value(); }, seconds(3))) {
    stage.fail("a lease that was not renewed did not make it safe");
  }
  const auto after = std::chrono::ceil<milliseconds>(*fell - renewed).count();
  if (after < kShortMs) stage.fail("it fell " + std::to_string(after) + " ms after a renewal");
  if (!outputs.finish(seconds(2))) stage.fail("it could not be made safe at the end: " + failure);
  return "safe " + std::to_string(after - kShortMs) + " ms after its end";
}

void expect_delivered(Stage& stage, const std::string& key, const std::string& title,
                      const std::string& text) {
  const std::int32_t result = stage.try_deliver(
      stage.options().wiring_json, protocol::channel_message(key, "noted", "raised", title, text));
  if (result == TW_OK) return;
  const std::string why = stage.why();
  stage.fail("deliver of '" + key + "': " + result_name(result) +
             (why.empty() ? ", and it did not say why" : ": " + why));
}

std::string deliver(Stage& stage) {
  expect_delivered(stage, "trial.plain#1", "trial: a plain word", "since 10:00");
  const Held first;
  for (int i = 0; i < 3; ++i) expect_delivered(stage, "trial.plain#1", "trial: again", "");
  if (!given_back(first)) stage.fail("deliver leaves descriptors or threads behind");
  return "at most " + ms_text(stage.slowest_ms());
}

std::string deliver_odd_text(Stage& stage) {
  expect_delivered(stage, "trial.odd#2", "\"quotes\" 'and' \\ $(touch x) {{x}} %s <b>",
                   "line one\nline two\r\n.\r\n\xC3\xA4\xE2\x82\xAC\xF0\x9F\x8D\x84\ttab");
  expect_delivered(stage, "trial.long#3", std::string(300, 't'), std::string(4000, 'x'));
  return "quotes, lines, long text";
}

}  // namespace

const std::vector<TrialCase>& trial_cases() {
  static const std::vector<TrialCase> all = {
      {"describe", "says what it is, and does nothing yet", kAny, describe, nullptr},
      {"bad_options", "refuses a wrong wiring, and says why", kAny, bad_options, nullptr},
      {"open", "opens, closes, leaves nothing behind", TW_KIND_ACTUATOR, open_and_close, nullptr},
      {"make_safe", "stands safe, however often it is asked", TW_KIND_ACTUATOR, make_safe, nullptr},
      {"apply", "runs, runs on, rests", TW_KIND_ACTUATOR, apply, nullptr},
      {"level", "takes a level between", TW_KIND_ACTUATOR, level, nullptr},
      {"confirm", "says how it stands", TW_KIND_ACTUATOR, confirm, nullptr},
      {"lease", "falls with its lease", TW_KIND_ACTUATOR, lease, nullptr},
      {"hang", "is made safe after a process that hung", TW_KIND_ACTUATOR, take_over, run_and_hang},
      {"crash", "is made safe after a process that crashed", TW_KIND_ACTUATOR, take_over,
       run_and_crash},
      {"double_close", "opens again after it was closed", TW_KIND_ACTUATOR, double_close, nullptr},
      {"deliver", "delivers a message", TW_KIND_CHANNEL, deliver, nullptr},
      {"odd_text", "delivers any text", TW_KIND_CHANNEL, deliver_odd_text, nullptr},
  };
  return all;
}

}  // namespace tubwarden::host
