// Writes to a record, and says which entries are on disk. `record_writer FOLDER` goes on until it
// is killed, a line an entry; `record_writer FOLDER readings FIRST GROUP_MS` likewise with readings
// of ten seconds each from number FIRST on, a line some of them: the last number handed over, and
// milliseconds; `record_writer FOLDER fixed` leaves a small record with fixed content.
#include <chrono>
#include <condition_variable>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <deque>
#include <mutex>
#include <string>

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

Entry grown(std::int64_t minute, GrowAct act, const std::string& batch = "B-01") {
  const WallTime done = at(minute).wall;
  return {at(minute), "grower",
          GrowNoted{{0, done, "grower", std::move(act), "a note", "pins.jpg"}, "tub-1", batch}};
}

/// A small grow from syringe to plate: a kind of act each that has tables of its own.
std::vector<Entry> grown_entries() {
  PhaseKept kept{"tub-1", "B-01", "colonization", 0, minutes(30), {}};
  kept.kept.of(Quantity::humidity) = {1800.0, 1800.0, 1620.0, 91.5, 84.0, 97.0, false};
  kept.kept.ran("mister", 12.5);
  return {
      grown(70, CultureReceived{"LC-1", "A15", "own plate", 10.0}, ""),
      grown(71, Sterilised{"S-1", "rye", minutes(90), 103.0, 12.5}, ""),
      grown(72, JarsAdded{{"J-1", "J-2"}, "B-01", "rye", "S-1", "jars", 300.0, true, "LC-1", 1.0}),
      grown(73, JarLookedAt{"J-1", 25.0}),
      grown(74, JarShaken{"J-1"}),
      grown(75, JarContaminated{"J-2", "green patch"}),
      grown(76, SubstrateMade{"M-1", "straw", 3.5, 6.0}, ""),
      grown(77, TubSpawned{"tub-1", "B-01", {"J-1"}, "M-1", 4.75, 1.75, 0.24}),
      grown(78, TubCased{"tub-1", "B-01", "peat", 40.0}),
      grown(79, PinsSeen{"tub-1", "B-01", 3.0}),
      grown(80, Picked{"tub-1", "B-01", 412.0, 30.0}),
      grown(81, Observed{"LC-1", "clear"}, ""),
      grown(82, UpkeepDone{"recalibrated", "tub-1/air"}, ""),
      {at(83), "daemon", kept}};
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

/// Appends and waits for the answer, which is said on stdout; false when it is an error.
bool append(SqliteRecord& record, Loop& loop, std::vector<Entry> entries, bool say) {
  bool failed = false;
  record.append(std::move(entries), [&](auto result) {
    failed = !result.ok();
    if (failed) std::fprintf(stderr, "%s\n", result.error().text.c_str());
    if (failed || !say) return;
    std::printf("%lld\n", static_cast<long long>(result->back()));
    std::fflush(stdout);
  });
  loop.run_one();
  return !failed;
}

int leave_fixed(SqliteRecord& record, Loop& loop) {
  if (!append(record, loop, fixed_entries(), true)) return 1;
  if (!append(record, loop, grown_entries(), true)) return 1;
  record.learned({"tub-1", "mister", 40.0, 0.8, 0.05, 9.5, 0.1});
  record.book({"tub-1", R"({"sums":{"fan_g":12.5}})", at(9)});
  record.clock_set({WallTime(minutes(29'010'000)), true, "boot-later", Instant(minutes(10))});
  record.close();
  return 0;
}

/// The disk sets the pace: five readings an entry.
int write_readings(SqliteRecord& record, Loop& loop, long long first) {
  for (long long n = first;; ++n) {
    record.reading({"tub-1", "air", Quantity::humidity, static_cast<double>(n % 10'000) / 100.0,
                    WallTime(hours(9) + seconds(10 * n)), true, Instant(seconds(10 * n))});
    if (n % 5 != 4) continue;
    if (!append(record, loop, pair(static_cast<int>(n)), false)) return 1;
    const auto now = std::chrono::steady_clock::now().time_since_epoch();
    std::printf("%lld %lld\n", n, static_cast<long long>(now / milliseconds(1)));
    std::fflush(stdout);
  }
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2) return 2;
  const std::string what = argc > 2 ? argv[2] : "";
  if (what == "readings" && argc != 5) return 2;
  Loop loop;
  RecordOptions options{argv[1], "boot-fixed"};
  if (what == "readings") options.group_within = milliseconds(std::atoll(argv[4]));
  auto opened = SqliteRecord::open(options, [&](auto work) { loop.post(std::move(work)); });
  if (!opened.ok()) {
    std::fprintf(stderr, "%s\n", opened.error().text.c_str());
    return 1;
  }
  SqliteRecord& record = **opened;
  if (what == "fixed") return leave_fixed(record, loop);
  if (what == "readings") return write_readings(record, loop, std::atoll(argv[3]));
  for (int n = 0;; ++n) {
    if (!append(record, loop, pair(n), true)) return 1;
  }
}
