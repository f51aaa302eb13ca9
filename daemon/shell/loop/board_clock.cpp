#include "shell/loop/board_clock.hpp"

#include <time.h>

#include <fstream>

#include "base/ensure.hpp"

namespace tubwarden {

namespace {

timespec read_clock(clockid_t id) {
  timespec t{};
  ENSURE(::clock_gettime(id, &t) == 0);
  return t;
}

std::string read_boot_id() {
  std::ifstream file("/proc/sys/kernel/random/boot_id");
  std::string id;
  std::getline(file, id);
  ENSURE(!id.empty());  // instants of two boots would be compared
  return id;
}

tm local_at(time_t second) {
  tm local{};
  ENSURE(::localtime_r(&second, &local) != nullptr);
  return local;
}

time_t unix_second(WallTime t) { return std::chrono::floor<seconds>(t).time_since_epoch().count(); }

}  // namespace

BoardClock::BoardClock(WallTime floor)
    : floor_ms_(floor.time_since_epoch().count()), boot_id_(read_boot_id()) {}

void BoardClock::raise_floor(WallTime floor) {
  const WallTime::rep wanted = floor.time_since_epoch().count();
  WallTime::rep held = floor_ms_.load();
  while (held < wanted && !floor_ms_.compare_exchange_weak(held, wanted)) {
  }
}

Instant BoardClock::now() const {
  const timespec t = read_clock(CLOCK_BOOTTIME);
  return Instant(seconds(t.tv_sec) + std::chrono::nanoseconds(t.tv_nsec));
}

WallTime BoardClock::wall() const {
  const timespec t = read_clock(CLOCK_REALTIME);
  return WallTime(seconds(t.tv_sec) + milliseconds(t.tv_nsec / 1000000));
}

bool BoardClock::wall_is_set() const {
  constexpr auto kSlack = duration_cast<milliseconds>(kFloorSlack);
  return wall() + kSlack >= WallTime(milliseconds(floor_ms_.load()));
}

std::string BoardClock::boot_id() const { return boot_id_; }

int BoardClock::local_second_of_day() const {
  ::tzset();  // the board's zone may have been set anew
  return tubwarden::local_second_of_day(wall());
}

Duration BoardClock::local_time_holds() const { return tubwarden::local_time_holds(wall()); }

int local_second_of_day(WallTime at) {
  const tm local = local_at(unix_second(at));
  const int second = local.tm_sec > 59 ? 59 : local.tm_sec;  // a leap second stays in its day
  return local.tm_hour * 3600 + local.tm_min * 60 + second;
}

Duration local_time_holds(WallTime at) {
  const time_t now = unix_second(at);
  const auto same = [offset = local_at(now).tm_gmtoff](time_t second) {
    return local_at(second).tm_gmtoff == offset;
  };
  time_t holds = now, over = now + 3600;
  if (same(over)) return hours(1);
  while (over - holds > 1) {
    const time_t middle = holds + (over - holds) / 2;
    (same(middle) ? holds : over) = middle;
  }
  return WallTime(seconds(over)) - at;
}

}  // namespace tubwarden
