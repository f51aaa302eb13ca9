#include "shell/record/sqlite_record.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <atomic>
#include <filesystem>
#include <mutex>

#include "shell/record/readings_file.hpp"
#include "shell/record/record_file.hpp"
#include "shell/record/worker.hpp"

namespace tubwarden {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kEntriesWaitingMax = 4096;
constexpr std::size_t kReadingsWaitingMax = 20000;
constexpr std::size_t kReadingsGroup = 500;
/// A kill loses at most this much of readings, and no entry.
constexpr Duration kReadingsWithin = seconds(20);

/// The lock of one process on a record folder; falls with the process, however it ends.
class FolderLock {
 public:
  explicit FolderLock(const fs::path& file)
      : fd_(::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0640)) {
    held_ = fd_ >= 0 && ::flock(fd_, LOCK_EX | LOCK_NB) == 0;
  }
  ~FolderLock() {
    if (fd_ >= 0) ::close(fd_);
  }
  FolderLock(const FolderLock&) = delete;
  FolderLock& operator=(const FolderLock&) = delete;
  bool held() const { return held_; }

 private:
  int fd_;
  bool held_ = false;
};

}  // namespace

struct SqliteRecord::Impl {
  Impl(const fs::path& folder, Post p)
      : post(std::move(p)),
        lock(folder / "lock"),
        record((folder / "record.db").string()),
        readings((folder / "readings.db").string()),
        entries_worker(kEntriesWaitingMax, hours(1), {}),
        readings_worker(8, kReadingsWithin, [this] { write_waiting(); }) {}

  Post post;
  FolderLock lock;
  RecordFile record;      ///< on entries_worker's thread once it runs, under `file`
  ReadingsFile readings;  ///< on readings_worker's thread
  std::mutex file;        ///< the blocking questions of the start share the record's file
  std::mutex waiting_mutex;
  std::vector<ReadingRow> waiting;
  std::atomic<std::uint64_t> entries{0}, kept_readings{0}, dropped{0}, failures{0};
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

  /// Asks on the record's thread and brings the answer back to the loop.
  template <class T, class Ask, class Done>
  void ask_later(Ask question, Done done) {
    auto shared = std::make_shared<Done>(std::move(done));
    const bool taken = entries_worker.push([this, question = std::move(question), shared] {
      auto answer = std::make_shared<Result<T>>(ask<T>(question));
      post([shared, answer] { (*shared)(std::move(*answer)); });
    });
    if (taken) return;
    ++failures;
    post([shared] {
      (*shared)(Error{ErrorCode::unavailable,
                      "too many entries wait for the disk; this one was not taken."});
    });
  }

  void write_waiting() {
    std::vector<ReadingRow> rows;
    {
      const std::lock_guard lock_rows(waiting_mutex);
      rows.swap(waiting);
    }
    if (rows.empty()) return;
    try {
      readings.write(rows);
      kept_readings += rows.size();
    } catch (const sql::SqlError&) {
      ++failures;
      dropped += rows.size();
    }
  }
};

SqliteRecord::SqliteRecord(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
SqliteRecord::~SqliteRecord() { close(); }

Result<std::unique_ptr<SqliteRecord>> SqliteRecord::open(const std::string& folder, Post post) {
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
      const FolderLock probe(fs::path(folder) / "lock");
      if (!probe.held()) {
        return Error{ErrorCode::refused, "the record in " + folder +
                                             " is in use by another tubwardend; stop that one, or "
                                             "name another folder under record: folder"};
      }
    }
    auto impl = std::make_unique<Impl>(folder, std::move(post));
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

void SqliteRecord::reading(ReadingRow row) {
  // Without a clock a reading has no place in the history.
  if (!row.wall_set) {
    ++impl_->dropped;
    return;
  }
  bool full = false;
  {
    const std::lock_guard lock(impl_->waiting_mutex);
    if (impl_->waiting.size() >= kReadingsWaitingMax) {
      ++impl_->dropped;
      return;
    }
    impl_->waiting.push_back(std::move(row));
    full = impl_->waiting.size() % kReadingsGroup == 0;
  }
  if (full) impl_->readings_worker.push([impl = impl_.get()] { impl->write_waiting(); });
}

void SqliteRecord::timeline(const std::string& batch, std::size_t limit,
                            std::function<void(Result<std::vector<TimelineRow>>)> done) {
  impl_->ask_later<std::vector<TimelineRow>>(
      [batch, limit](RecordFile& file) { return file.timeline(batch, limit); }, std::move(done));
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

void SqliteRecord::decision(DecisionRow) {}
void SqliteRecord::run(RunRow) {}
void SqliteRecord::clock_set(const Stamp&) {}
void SqliteRecord::history(HistoryAsk, std::function<void(Result<History>)> done) {
  done(Error{ErrorCode::unavailable, "no history is kept"});
}
void SqliteRecord::decisions(const std::string&, const std::string&, std::optional<WallTime>,
                             std::size_t,
                             std::function<void(Result<std::vector<DecisionRow>>)> done) {
  done(Error{ErrorCode::unavailable, "no decisions are kept"});
}
void SqliteRecord::placements(const std::string&,
                              std::function<void(Result<std::vector<PlacementRow>>)> done) {
  done(Error{ErrorCode::unavailable, "no placements are kept"});
}
Result<std::vector<HandOpen>> SqliteRecord::open_hands() { return std::vector<HandOpen>{}; }

RecordCounters SqliteRecord::counters() const {
  return {impl_->entries, impl_->kept_readings, impl_->dropped, impl_->failures};
}

void SqliteRecord::close() {
  impl_->entries_worker.finish();
  impl_->readings_worker.finish();
}

}  // namespace tubwarden
