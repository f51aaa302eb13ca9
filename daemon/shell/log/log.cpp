#include "shell/log/log.hpp"

#include <spdlog/async.h>
#include <spdlog/details/null_mutex.h>
#include <spdlog/sinks/base_sink.h>
#include <spdlog/spdlog.h>
#include <time.h>

#include <atomic>
#include <cstdlib>
#include <memory>
#include <mutex>

#include "base/ensure.hpp"
#include "shell/log/line_limit.hpp"
#include "shell/log/stderr_writer.hpp"

namespace tubwarden::log {
namespace {

constexpr std::size_t kLinesWaiting = 8192;

spdlog::level::level_enum spd(Level level) {
  switch (level) {
    case Level::debug:
      return spdlog::level::debug;
    case Level::info:
      return spdlog::level::info;
    case Level::warning:
      return spdlog::level::warn;
    case Level::error:
      return spdlog::level::err;
  }
  return spdlog::level::info;
}

/// Lines that did not leave: stderr took none, or there were too many.
std::atomic<std::uint64_t> not_written{0};

/// Used by the one writer thread only.
class Sink final : public spdlog::sinks::base_sink<spdlog::details::null_mutex> {
 protected:
  void sink_it_(const spdlog::details::log_msg& message) override {
    spdlog::memory_buf_t line;
    formatter_->format(message, line);
    if (!writer_.write({line.data(), line.size()})) ++not_written;
  }
  void flush_() override {}

 private:
  StderrWriter writer_;
};

struct Running {
  std::shared_ptr<spdlog::details::thread_pool> pool;
  std::shared_ptr<spdlog::logger> logger;
  std::mutex limits_lock;
  LineLimit plain, grave;  ///< a flood of plain lines hides no warning
};
std::mutex mutex;
std::shared_ptr<Running> running;
std::uint64_t lost_before = 0;

Instant boot_now() {
  timespec t{};
  ENSURE(::clock_gettime(CLOCK_BOOTTIME, &t) == 0);
  return Instant{seconds(t.tv_sec) + std::chrono::nanoseconds(t.tv_nsec)};
}

/// What of a line goes out now, behind the counts of lines whose flood is over.
void write_within_limits(Running& log, Level level, std::string_view line) {
  const bool is_grave = level == Level::warning || level == Level::error;
  const Instant now = boot_now();
  LineLimit::Verdict verdict{};
  std::vector<std::string> over;
  {
    const std::lock_guard lock(log.limits_lock);
    LineLimit& limit = is_grave ? log.grave : log.plain;
    over = limit.over(now);
    verdict = limit.judge(line, now);
  }
  for (const std::string& told : over) log.logger->log(spd(level), told);
  if (verdict == LineLimit::Verdict::dropped) ++not_written;
  if (verdict == LineLimit::Verdict::write) log.logger->log(spd(level), line);
}

void tell_all_counts(Running& log) {
  const std::lock_guard lock(log.limits_lock);
  for (const std::string& told : log.grave.over({}, true)) log.logger->warn(told);
  for (const std::string& told : log.plain.over({}, true)) log.logger->info(told);
}

std::shared_ptr<Running> now_running() {
  const std::lock_guard lock(mutex);
  return running;
}

}  // namespace

void start(Level least) {
  auto next = std::make_shared<Running>();
  next->pool = std::make_shared<spdlog::details::thread_pool>(kLinesWaiting, 1);
  auto sink = std::make_shared<Sink>();
  // The journal keeps the time itself; a terminal wants it told.
  sink->set_pattern(std::getenv("JOURNAL_STREAM") ? "%l: %v" : "%Y-%m-%dT%H:%M:%S.%e %l: %v");
  next->logger = std::make_shared<spdlog::async_logger>(
      "tubwarden", std::move(sink), next->pool, spdlog::async_overflow_policy::overrun_oldest);
  next->logger->set_level(spd(least));
  const std::lock_guard lock(mutex);
  running = std::move(next);
}

void stop() {
  std::shared_ptr<Running> ending;
  {
    const std::lock_guard lock(mutex);
    ending = std::move(running);
    running.reset();
    if (ending) lost_before += ending->pool->overrun_counter();
  }
  if (ending) tell_all_counts(*ending);
}

void write(Level level, std::string_view line) {
  if (const auto log = now_running()) {
    if (log->logger->should_log(spd(level))) write_within_limits(*log, level, line);
  } else {
    std::fprintf(stderr, "%.*s\n", static_cast<int>(line.size()), line.data());
  }
}

std::uint64_t lost() {
  const std::lock_guard lock(mutex);
  return not_written + lost_before + (running ? running->pool->overrun_counter() : 0);
}

}  // namespace tubwarden::log
