#include "shell/record/sqlite_record.hpp"

#include <atomic>
#include <filesystem>
#include <mutex>

#include "shell/record/folder_lock.hpp"
#include "shell/record/readings_file.hpp"
#include "shell/record/record_file.hpp"
#include "shell/record/worker.hpp"

namespace tubwarden {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kEntriesWaitingMax = 4096;
constexpr std::size_t kReadingsWaitingMax = 20000;
constexpr std::size_t kReadingsGroup = 500;
constexpr std::size_t kQuestionsWaitingMax = 64;

}  // namespace

struct SqliteRecord::Impl {
  Impl(const RecordOptions& options, Post p)
      : post(std::move(p)),
        lock(fs::path(options.folder) / kLockName),
        record((fs::path(options.folder) / "record.db").string()),
        readings((fs::path(options.folder) / "readings.db").string(), options.boot_id,
                 options.keep),
        entries_worker(kEntriesWaitingMax, hours(1), {}),
        readings_worker(kQuestionsWaitingMax, options.group_within, [this] { commit_readings(); }) {
  }

  Post post;
  FolderLock lock;
  RecordFile record;      ///< on entries_worker's thread once it runs, under `file`
  ReadingsFile readings;  ///< on readings_worker's thread
  std::mutex file;        ///< the blocking questions of the start share the record's file
  std::mutex waiting_mutex;
  RecordGroup waiting;
  std::atomic<std::uint64_t> entries{0}, kept_readings{0}, dropped{0}, failures{0};
  std::uint64_t refused_seen = 0;  ///< on readings_worker's thread
  Worker entries_worker;
  Worker readings_worker;

  template <class T, class Ask>
  Result<T> ask(Ask question) {
    const std::lock_guard lock_file(file);
    try {
      return question(record);
    } catch (const sql::SqlError& error) {
      ++failures;
      return Error{ErrorCode::broken, error.what()};
    }
  }

  /// Asks the readings, with all that was handed over before.
  template <class T, class Ask>
  Result<T> ask_readings(Ask question) {
    take_waiting();
    try {
      return question(readings);
    } catch (const sql::SqlError& error) {
      ++failures;
      return Error{ErrorCode::broken, error.what()};
    }
  }

  /// Asks on a worker's thread and brings the answer back to the loop.
  template <class T, class Ask, class Done>
  void later(Worker& worker, Ask question, Done done) {
    auto shared = std::make_shared<Done>(std::move(done));
    const bool taken = worker.push([this, question = std::move(question), shared] {
      auto answer = std::make_shared<Result<T>>(question());
      post([shared, answer] { (*shared)(std::move(*answer)); });
    });
    if (taken) return;
    ++failures;
    post([shared] {
      (*shared)(Error{ErrorCode::unavailable,
                      "too much waits for the disk of the record; this was not taken."});
    });
  }
  template <class T, class Ask, class Done>
  void ask_later(Ask question, Done done) {
    later<T>(
        entries_worker, [this, question = std::move(question)] { return ask<T>(question); },
        std::move(done));
  }
  template <class T, class Ask, class Done>
  void ask_readings_later(Ask question, Done done) {
    later<T>(
        readings_worker,
        [this, question = std::move(question)] { return ask_readings<T>(question); },
        std::move(done));
  }

  /// Adds to what waits for the readings' thread.
  template <class Row>
  void hand_over(std::vector<Row> RecordGroup::*rows, Row row) {
    bool full = false;
    {
      const std::lock_guard lock_rows(waiting_mutex);
      if (waiting.size() >= kReadingsWaitingMax) {
        ++dropped;
        return;
      }
      (waiting.*rows).push_back(std::move(row));
      full = waiting.size() % kReadingsGroup == 0;
    }
    if (full) readings_worker.push([this] { take_waiting(); });
  }

  void take_waiting() {
    RecordGroup group;
    {
      const std::lock_guard lock_rows(waiting_mutex);
      std::swap(group, waiting);
    }
    try {
      readings.take(group);
    } catch (const sql::SqlError&) {
      lost();
    }
  }

  void commit_readings() {
    take_waiting();
    const std::uint64_t refused = readings.refused();
    try {
      kept_readings += readings.commit();
      readings.tidy();
    } catch (const sql::SqlError&) {
      lost();
    }
    dropped += refused - std::exchange(refused_seen, refused);
  }
  void lost() {
    ++failures;
    dropped += readings.forget();
  }
};

SqliteRecord::SqliteRecord(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
SqliteRecord::~SqliteRecord() { close(); }

Result<std::unique_ptr<SqliteRecord>> SqliteRecord::open(const RecordOptions& options, Post post) {
  const std::string& folder = options.folder;
  std::error_code code;
  fs::create_directories(folder, code);
  if (code) {
    return Error{ErrorCode::unavailable, "the record folder " + folder +
                                             " cannot be made: " + code.message() +
                                             ". Name another under record: folder"};
  }
  try {
    {
      // Looked at before any file is opened: a record in use is not touched.
      const FolderLock probe(fs::path(folder) / kLockName);
      if (!probe.held()) {
        return Error{ErrorCode::refused, "the record in " + folder +
                                             " is in use by another tubwardend; stop that one, or "
                                             "name another folder under record: folder"};
      }
    }
    auto impl = std::make_unique<Impl>(options, std::move(post));
    if (!impl->lock.held()) {
      return Error{ErrorCode::refused,
                   "the record in " + folder + " was taken by another tubwardend"};
    }
    return std::unique_ptr<SqliteRecord>(new SqliteRecord(std::move(impl)));
  } catch (const sql::SqlError& error) {
    return Error{ErrorCode::broken,
                 "the record in " + folder + " cannot be used: " + error.what() +
                     ". Keep the file, and start with a backup or an empty folder"};
  }
}

void SqliteRecord::append(std::vector<Entry> entries,
                          std::function<void(Result<std::vector<std::int64_t>>)> done) {
  const std::size_t count = entries.size();
  impl_->ask_later<std::vector<std::int64_t>>(
      [this, count, entries = std::move(entries)](RecordFile& file) {
        auto ids = file.append(entries);
        impl_->entries += count;
        return ids;
      },
      std::move(done));
}

void SqliteRecord::checkpoint(const std::string& tub, std::int64_t transition, Duration elapsed,
                              const Stamp& stamp) {
  impl_->ask_later<Done>(
      [tub, transition, elapsed, stamp](RecordFile& file) {
        file.checkpoint(tub, transition, elapsed, stamp);
        return Done{};
      },
      [](const Result<Done>&) {});  // a failure was counted where it happened
}

void SqliteRecord::learned(LearnedRow row) {
  impl_->ask_later<Done>(
      [row = std::move(row)](RecordFile& file) {
        file.learned(row);
        return Done{};
      },
      [](const Result<Done>&) {});  // a failure was counted where it happened
}

void SqliteRecord::book(BookRow row) {
  impl_->ask_later<Done>(
      [row = std::move(row)](RecordFile& file) {
        file.book(row);
        return Done{};
      },
      [](const Result<Done>&) {});  // a failure was counted where it happened
}

void SqliteRecord::kept_now(KeptNow now) {
  impl_->ask_later<Done>(
      [now = std::move(now)](RecordFile& file) {
        file.kept_now(now);
        return Done{};
      },
      [](const Result<Done>&) {});  // a failure was counted where it happened
}

void SqliteRecord::climate_kept(const std::string& batch,
                                std::function<void(Result<std::vector<KeptRow>>)> done) {
  impl_->ask_later<std::vector<KeptRow>>(
      [batch](RecordFile& file) { return file.climate_kept(batch); }, std::move(done));
}

Result<std::vector<BookRow>> SqliteRecord::books() {
  return impl_->ask<std::vector<BookRow>>([](RecordFile& file) { return file.books(); });
}

Result<std::vector<LearnedRow>> SqliteRecord::learned() {
  return impl_->ask<std::vector<LearnedRow>>([](RecordFile& file) { return file.learned(); });
}

void SqliteRecord::reading(ReadingRow row) {
  impl_->hand_over(&RecordGroup::readings, std::move(row));
}

void SqliteRecord::decision(DecisionRow row) {
  impl_->hand_over(&RecordGroup::decisions, std::move(row));
}

void SqliteRecord::run(RunRow row) { impl_->hand_over(&RecordGroup::runs, std::move(row)); }

void SqliteRecord::sync(std::function<void(Outcome)> done) {
  impl_->later<Done>(
      impl_->readings_worker,
      [this] {
        const std::uint64_t before = impl_->failures;
        impl_->commit_readings();
        if (impl_->failures == before) return Outcome(Done{});
        return Outcome(Error{ErrorCode::broken, "the newest readings could not be kept on disk"});
      },
      std::move(done));
}

void SqliteRecord::clock_set(const Stamp& now) {
  {
    const std::lock_guard lock(impl_->waiting_mutex);
    impl_->waiting.clock = now;
  }
  impl_->ask_later<Done>(
      [now](RecordFile& file) {
        file.clock_set(now);
        return Done{};
      },
      [](const Result<Done>&) {});  // a failure was counted where it happened
}

void SqliteRecord::decisions(const std::string& chamber, const std::string& actuator,
                             std::optional<WallTime> before, std::size_t limit,
                             std::function<void(Result<std::vector<DecisionRow>>)> done) {
  impl_->ask_readings_later<std::vector<DecisionRow>>(
      [chamber, actuator, before, limit](ReadingsFile& file) {
        return file.decisions(chamber, actuator, before, limit);
      },
      std::move(done));
}

void SqliteRecord::phases(const std::string& tub_or_batch,
                          std::function<void(Result<std::vector<PhaseRow>>)> done) {
  impl_->ask_later<std::vector<PhaseRow>>(
      [tub_or_batch](RecordFile& file) { return file.phases(tub_or_batch); }, std::move(done));
}

void SqliteRecord::placements(const std::string& tub_or_batch,
                              std::function<void(Result<std::vector<PlacementRow>>)> done) {
  impl_->ask_later<std::vector<PlacementRow>>(
      [tub_or_batch](RecordFile& file) { return file.placements(tub_or_batch); }, std::move(done));
}

void SqliteRecord::timeline(const std::string& batch, std::size_t limit,
                            std::function<void(Result<std::vector<TimelineRow>>)> done) {
  impl_->ask_later<std::vector<TimelineRow>>(
      [batch, limit](RecordFile& file) { return file.timeline(batch, limit); }, std::move(done));
}

void SqliteRecord::profile_of(const std::string& batch,
                              std::function<void(Result<ProfileEdited>)> done) {
  impl_->later<ProfileEdited>(
      impl_->entries_worker,
      [this, batch]() -> Result<ProfileEdited> {
        const auto found = impl_->ask<std::optional<ProfileEdited>>(
            [&batch](RecordFile& file) { return file.profile_of(batch); });
        if (!found.ok()) return found.error();
        if (*found) return **found;
        return Error{ErrorCode::not_found,
                     "no batch is called '" + batch + "'; `tubwarden batch list` names them"};
      },
      std::move(done));
}

void SqliteRecord::batches(std::function<void(Result<std::vector<TimelineRow>>)> done) {
  impl_->ask_later<std::vector<TimelineRow>>([](RecordFile& file) { return file.batches(); },
                                             std::move(done));
}

Result<std::vector<TubRecord>> SqliteRecord::tubs() {
  return impl_->ask<std::vector<TubRecord>>([](RecordFile& file) { return file.tubs(); });
}

Result<std::optional<WallTime>> SqliteRecord::newest() {
  return impl_->ask<std::optional<WallTime>>([](RecordFile& file) { return file.newest(); });
}

Result<std::vector<AlertNoted>> SqliteRecord::standing_alerts() {
  return impl_->ask<std::vector<AlertNoted>>(
      [](RecordFile& file) { return file.standing_alerts(); });
}

Result<std::vector<HandOpen>> SqliteRecord::open_hands() {
  return impl_->ask<std::vector<HandOpen>>([](RecordFile& file) { return file.open_hands(); });
}

Result<std::vector<GrowEntry>> SqliteRecord::grow_entries() {
  return impl_->ask<std::vector<GrowEntry>>([](RecordFile& file) { return file.grow_entries(); });
}

Result<std::vector<PhaseRow>> SqliteRecord::all_phases() {
  return impl_->ask<std::vector<PhaseRow>>([](RecordFile& file) { return file.all_phases(); });
}

Result<std::vector<ActRow>> SqliteRecord::last_acts(const std::string& what) {
  return impl_->ask<std::vector<ActRow>>([&](RecordFile& file) { return file.last_acts(what); });
}

Result<std::vector<AlertKept>> SqliteRecord::desk() {
  return impl_->ask<std::vector<AlertKept>>([](RecordFile& file) { return file.desk(); });
}

Result<std::vector<NoticeWritten>> SqliteRecord::outbox() {
  return impl_->ask<std::vector<NoticeWritten>>([](RecordFile& file) { return file.outbox(); });
}

void SqliteRecord::notice_done(NoticeDone done) {
  impl_->ask_later<Done>(
      [done = std::move(done)](RecordFile& file) {
        file.notice_done(done);
        return Done{};
      },
      [](const Result<Done>&) {});  // a failure was counted where it happened
}

void SqliteRecord::alert_rows(WallTime from, std::size_t limit,
                              std::function<void(Result<std::vector<AlertRow>>)> done) {
  impl_->ask_later<std::vector<AlertRow>>(
      [from, limit](RecordFile& file) { return file.alert_rows(from, limit); }, std::move(done));
}

void SqliteRecord::alert_counts(WallTime from, std::size_t limit,
                                std::function<void(Result<std::vector<AlertCount>>)> done) {
  impl_->ask_later<std::vector<AlertCount>>(
      [from, limit](RecordFile& file) { return file.alert_counts(from, limit); }, std::move(done));
}

void SqliteRecord::history(HistoryAsk ask, std::function<void(Result<History>)> done) {
  impl_->ask_readings_later<History>(
      [ask = std::move(ask)](ReadingsFile& file) { return file.history(ask); }, std::move(done));
}

RecordCounters SqliteRecord::counters() const {
  return {impl_->entries, impl_->kept_readings, impl_->dropped, impl_->failures};
}

void SqliteRecord::close() {
  impl_->entries_worker.finish();
  impl_->readings_worker.finish();
}

}  // namespace tubwarden
