// Writes to a record, and says which entries are on disk. `record_writer FOLDER` goes on until it
// is killed, a line an entry; `record_writer FOLDER fixed` leaves a small record with fixed
// content.
#include <condition_variable>
#include <cstdio>
#include <cstring>
#include <deque>
#include <mutex>

#include "shell/record/sqlite_record.hpp"

namespace {

using namespace tubwarden;

/// What the record's threads post, done by main.
class Loop {
 public:
  void post(std::function<void()> work) {
    {
      const std::lock_guard lock(mutex_);
      waiting_.push_back(std::move(work));
    }
    ready_.notify_one();
  }
  void run_one() {
    std::function<void()> work;
    {
      std::unique_lock lock(mutex_);
      ready_.wait(lock, [this] { return !waiting_.empty(); });
      work = std::move(waiting_.front());
      waiting_.pop_front();
    }
    work();
  }

 private:
  std::mutex mutex_;
  std::condition_variable ready_;
  std::deque<std::function<void()>> waiting_;
};

Stamp at(std::int64_t minute) {
  return {WallTime(minutes(29'000'000 + minute)), true, "boot-fixed", Instant(minutes(minute))};
}

/// Before the clock of another boot was set.
Stamp unset() { return {WallTime(seconds(9)), false, "boot-later", Instant(minutes(1))}; }

PhaseTransition change(const std::string& from, const std::string& to, PhaseCause cause) {
  PhaseTransition t;
  t.tub = "tub-1";
  t.batch = "B-01";
  t.from = from;
  t.to = to;
  t.cause = cause;
  t.file_seen = to;
  return t;
}

std::vector<Entry> fixed_entries() {
  return {{at(0), "grower", BatchOpened{"B-01", "button", "profile: button\n"}},
          {at(0), "grower", Placed{"tub-1", "tub-1", "B-01"}},
          {at(0), "grower", change("", "colonization", PhaseCause::opened)},
          {at(10), "grower", Act{"note", "tub-1", "tub-1", "B-01", "first threads seen"}},
          {at(20), "daemon", AlertNoted{"tub-1", "humidity_low", true, "too dry"}},
          {at(25), "daemon", AlertNoted{"tub-1", "humidity_low", false, "fine again"}},
          {at(30), "file", change("colonization", "fruiting", PhaseCause::file)},
          {at(40), "grower", Watered{"tub-1", "tub-1", "B-01", 200.0}},
          {at(50), "grower",
           HandTaken{"tub-1", "tub-1", "B-01", HandKind::keep_at, "fan", kRest, minutes(30),
                     "fan kept at rest for 30m"}},
          {at(60), "file", PlaceSeen{"tub-1", "tub-1"}},
          {unset(), "daemon", Act{"started", "tub-1", "tub-1", "B-01", "started"}}};
}

/// Two entries a transaction, so that half of one would show.
std::vector<Entry> pair(int n) {
  const std::string text = "entry " + std::to_string(n);
  return {{at(n), "writer", Act{"first", "tub-1", "", "B-01", text}},
          {at(n), "writer", Act{"second", "tub-1", "", "B-01", text}}};
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2) return 2;
  Loop loop;
  auto opened =
      SqliteRecord::open({argv[1], "boot-fixed"}, [&](auto work) { loop.post(std::move(work)); });
  if (!opened.ok()) {
    std::fprintf(stderr, "%s\n", opened.error().text.c_str());
    return 1;
  }
  SqliteRecord& record = **opened;
  const bool fixed = argc > 2 && std::strcmp(argv[2], "fixed") == 0;
  const int rounds = fixed ? 1 : 1'000'000;
  for (int n = 0; n < rounds; ++n) {
    bool failed = false;
    record.append(fixed ? fixed_entries() : pair(n), [&](auto result) {
      failed = !result.ok();
      if (failed) {
        std::fprintf(stderr, "%s\n", result.error().text.c_str());
        return;
      }
      std::printf("%lld\n", static_cast<long long>(result->back()));
      std::fflush(stdout);
    });
    record.reading({"tub-1", "air", Quantity::humidity, 87.0, WallTime(hours(9) + seconds(n)), true,
                    Instant(seconds(n))});
    loop.run_one();
    if (failed) return 1;
  }
  if (fixed) {
    record.clock_set({WallTime(minutes(29'010'000)), true, "boot-later", Instant(minutes(10))});
  }
  record.close();
  return 0;
}
