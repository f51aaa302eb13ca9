#include "shell/log/log.hpp"

#include <spdlog/async.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <cstdlib>
#include <memory>
#include <mutex>

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

struct Running {
  std::shared_ptr<spdlog::details::thread_pool> pool;
  std::shared_ptr<spdlog::logger> logger;
};
std::mutex mutex;
std::shared_ptr<Running> running;
std::uint64_t lost_before = 0;

std::shared_ptr<Running> now_running() {
  const std::lock_guard lock(mutex);
  return running;
}

}  // namespace

void start(Level least) {
  auto next = std::make_shared<Running>();
  next->pool = std::make_shared<spdlog::details::thread_pool>(kLinesWaiting, 1);
  auto sink = std::make_shared<spdlog::sinks::stderr_sink_mt>();
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
}

void write(Level level, std::string_view line) {
  if (const auto log = now_running()) {
    log->logger->log(spd(level), line);
  } else {
    std::fprintf(stderr, "%.*s\n", static_cast<int>(line.size()), line.data());
  }
}

std::uint64_t lost() {
  const std::lock_guard lock(mutex);
  return lost_before + (running ? running->pool->overrun_counter() : 0);
}

}  // namespace tubwarden::log
