// Fakes of the five ports, for what real parts cannot show on demand: a slow disk, a clock that
// jumps, another boot. The system tests use the real parts. Threading: the test's. Failure: none.
#pragma once

#include <map>
#include <nlohmann/json.hpp>
#include <string>
#include <utility>
#include <vector>

#include "shell/loop/board_clock.hpp"
#include "shell/warden/warden.hpp"

namespace fakes {

using namespace tubwarden;

struct HandClock final : Clock {
  Instant at{hours(1)};
  mutable WallTime wall_at{milliseconds(1'790'000'000'000)};
  bool ticks = false;  ///< the wall clock goes on by a millisecond whenever it is read
  bool set = true;
  std::string boot = "boot-a";
  int second_of_day = 12 * 3600;
  Instant now() const override { return at; }
  WallTime wall() const override {
    if (ticks) wall_at += milliseconds(1);
    return wall_at;
  }
  bool wall_is_set() const override { return set; }
  std::string boot_id() const override { return boot; }
  bool zoned = false;  ///< local time is the real zone's, of wall_at
  int local_second_of_day() const override {
    return zoned ? tubwarden::local_second_of_day(wall_at) : second_of_day;
  }
  Duration local_time_holds() const override {
    return zoned ? tubwarden::local_time_holds(wall_at) : hours(1);
  }
  void pass(Duration d) {
    at += d;
    wall_at += duration_cast<milliseconds>(d);
  }
};

struct FakeBroker final : Broker {
  std::set<std::string> wanted;
  std::map<std::string, std::string> retained;
  void start(Handlers) override {}
  void want(std::set<std::string> topics) override { wanted = std::move(topics); }
  void publish(const std::string& topic, const std::string& payload, bool) override {
    if (payload.empty()) {
      retained.erase(topic);
    } else {
      retained[topic] = payload;
    }
  }
  bool is_up() const override { return true; }
  BrokerCounters counters() const override { return {}; }
};

/// A record that keeps everything in memory and answers when it is let.
struct SlowRecord final : Record {
  std::vector<Entry> entries;
  std::vector<std::function<void()>> held;
  bool hold = false;
  bool fail = false;
  struct Checkpoint {
    std::string tub;
    Duration elapsed;
  };
  std::vector<Checkpoint> checkpoints;
  std::vector<AlertNoted> left_standing;

  void append(std::vector<Entry> more,
              std::function<void(Result<std::vector<std::int64_t>>)> done) override {
    std::vector<std::int64_t> ids;
    for (Entry& e : more) {
      entries.push_back(std::move(e));
      ids.push_back(static_cast<std::int64_t>(entries.size()));
    }
    auto answer = [done = std::move(done), ids, failed = fail] {
      if (failed) {
        done(Error{ErrorCode::broken, "the disk is full."});
      } else {
        done(ids);
      }
    };
    if (hold) {
      held.push_back(answer);
    } else {
      answer();
    }
  }
  void let_go() {
    hold = false;
    for (auto& answer : std::exchange(held, {})) answer();
  }
  void checkpoint(const std::string& tub, std::int64_t, Duration elapsed, const Stamp&) override {
    checkpoints.push_back({tub, elapsed});
  }
  std::vector<ReadingRow> readings;
  std::vector<DecisionRow> decided;
  std::vector<RunRow> runs;
  std::vector<Stamp> clock_settings;
  std::vector<HandOpen> hands_open;
  std::vector<PlacementRow> placed;
  std::vector<PhaseRow> phased;
  std::map<std::string, History> kept;  ///< by chamber, whatever time is asked for
  std::vector<HistoryAsk> asked;
  std::vector<LearnedRow> learned_rows;
  void learned(LearnedRow row) override { learned_rows.push_back(std::move(row)); }
  Result<std::vector<LearnedRow>> learned() override { return learned_rows; }
  std::vector<BookRow> book_rows;
  void book(BookRow row) override { book_rows.push_back(std::move(row)); }
  Result<std::vector<BookRow>> books() override { return book_rows; }
  std::vector<KeptNow> kept_rows;
  std::vector<KeptRow> kept_phases;
  void kept_now(KeptNow now) override { kept_rows.push_back(std::move(now)); }
  void climate_kept(const std::string&,
                    std::function<void(Result<std::vector<KeptRow>>)> done) override {
    done(kept_phases);
  }
  Result<std::vector<GrowEntry>> grow_entries() override { return std::vector<GrowEntry>{}; }
  Result<std::vector<PhaseRow>> all_phases() override { return std::vector<PhaseRow>{}; }
  Result<std::vector<ActRow>> last_acts(const std::string&) override {
    return std::vector<ActRow>{};
  }
  void reading(ReadingRow row) override { readings.push_back(std::move(row)); }
  void decision(DecisionRow row) override { decided.push_back(std::move(row)); }
  void run(RunRow row) override { runs.push_back(std::move(row)); }
  void profile_of(const std::string& batch,
                  std::function<void(Result<ProfileEdited>)> done) override {
    done(ProfileEdited{batch, "button", ""});
  }
  void sync(std::function<void(Outcome)> done) override { done(Done{}); }
  void clock_set(const Stamp& now) override { clock_settings.push_back(now); }
  /// Readings and runs of the time that is asked for; no widths.
  void history(HistoryAsk ask, std::function<void(Result<History>)> done) override {
    asked.push_back(ask);
    History found = kept[ask.chamber];
    for (HistorySeries& series : found.series) {
      std::erase_if(series.points,
                    [&](const HistoryPoint& p) { return p.at < ask.from || p.at >= ask.to; });
    }
    std::erase_if(found.runs, [&](const RunRow& run) {
      return run.began.wall + duration_cast<milliseconds>(run.lasted) <= ask.from ||
             run.began.wall >= ask.to;
    });
    done(found);
  }
  void phases(const std::string&,
              std::function<void(Result<std::vector<PhaseRow>>)> done) override {
    done(phased);
  }
  void decisions(const std::string&, const std::string& actuator, std::optional<WallTime> before,
                 std::size_t limit,
                 std::function<void(Result<std::vector<DecisionRow>>)> done) override {
    std::vector<DecisionRow> found;
    for (auto row = decided.rbegin(); row != decided.rend() && found.size() < limit; ++row) {
      if (!actuator.empty() && row->actuator != actuator) continue;
      if (!before || row->stamp.wall < *before) found.push_back(*row);
    }
    done(found);
  }
  void placements(const std::string&,
                  std::function<void(Result<std::vector<PlacementRow>>)> done) override {
    done(placed);
  }
  Result<std::vector<HandOpen>> open_hands() override { return hands_open; }
  std::vector<AlertRow> alert_history;
  std::vector<AlertCount> alert_worst;
  std::vector<NoticeDone> notices_done;
  Result<std::vector<AlertKept>> desk() override { return all<AlertKept>(); }
  Result<std::vector<NoticeWritten>> outbox() override { return all<NoticeWritten>(); }
  void notice_done(NoticeDone done) override { notices_done.push_back(std::move(done)); }
  void alert_rows(WallTime, std::size_t,
                  std::function<void(Result<std::vector<AlertRow>>)> done) override {
    done(alert_history);
  }
  void alert_counts(WallTime, std::size_t,
                    std::function<void(Result<std::vector<AlertCount>>)> done) override {
    done(alert_worst);
  }
  void timeline(const std::string&, std::size_t,
                std::function<void(Result<std::vector<TimelineRow>>)> done) override {
    done(std::vector<TimelineRow>{});
  }
  void batches(std::function<void(Result<std::vector<TimelineRow>>)> done) override {
    done(std::vector<TimelineRow>{});
  }
  Result<std::vector<TubRecord>> tubs() override { return std::vector<TubRecord>{}; }
  Result<std::optional<WallTime>> newest() override { return std::optional<WallTime>{}; }
  Result<std::vector<AlertNoted>> standing_alerts() override { return left_standing; }
  RecordCounters counters() const override { return {}; }

  template <class Body>
  std::vector<Body> all() const {
    std::vector<Body> found;
    for (const Entry& e : entries) {
      if (const Body* body = std::get_if<Body>(&e.body)) found.push_back(*body);
    }
    return found;
  }
};

struct FakeDrivers final : Drivers {
  struct Said {
    OutputId id;
    Level level;
    Duration run;
  };
  std::vector<OutputPlan> wanted;
  std::vector<Said> said;
  std::vector<OutputId> released;
  std::vector<HostView> views;
  void start(std::function<void(const OutputReport&)>) override {}
  void want(std::vector<OutputPlan> outputs) override { wanted = std::move(outputs); }
  void command(const OutputId& id, Level level, Duration run) override {
    said.push_back({id, level, run});
  }
  void release(const OutputId& id) override { released.push_back(id); }
  std::vector<HostView> hosts() const override { return views; }
  void stop(std::function<void()> done) override { done(); }
};

struct FakeChannels final : Channels {
  std::vector<Notice> notices;
  void start(std::function<void(const Delivery&)>) override {}
  void want(std::vector<ChannelPlan>) override {}
  void deliver(const Notice& notice) override { notices.push_back(notice); }
};

/// A warden over fakes, with one tub of its own air.
struct Rig {
  HandClock clock;
  FakeBroker broker;
  SlowRecord record;
  FakeDrivers drivers;
  FakeChannels channels;
  Instant wake{};
  std::vector<std::string> log;
  Warden warden{{clock, broker, record, drivers, channels, [this](Instant at) { wake = at; },
                 [this](const std::string& line) { log.push_back(line); }}};

  static std::shared_ptr<const Profile> profile(const std::string& text = "v1") {
    auto p = std::make_shared<Profile>();
    p->name = "button";
    p->text = text;
    for (const char* name : {"colonization", "casing", "fruiting", "empty"}) {
      PhasePlan phase;
      phase.name = name;
      if (phase.name != "empty") {
        phase.quantities[0] = QuantityPlan{Keep{Keep::Form::between, 85, 90}, Warn{70.0, 97.0}, {}};
      }
      p->phases.push_back(phase);
    }
    return p;
  }
  static Loaded loaded(const std::string& phase, const std::string& batch = "B-01") {
    Loaded l;
    l.site = SiteSettings{};
    l.site->site = "shed";
    ChamberPlan chamber;
    chamber.id = "tub-1";
    chamber.leader = "tub-1";
    chamber.net_volume.litres = 40;
    SensorPlan sensor;
    sensor.id = "air";
    sensor.topic = "shed/tub-1/air";
    QuantitySource humidity;
    humidity.at = "";
    humidity.range_high = 100;
    sensor.quantities = {humidity};
    chamber.sensors = {sensor};
    ActuatorPlan mister;
    mister.id = "mister";
    mister.output.id = {"tub-1", "mister"};
    chamber.actuators = {mister};
    l.grow.chambers = {chamber};
    TubPlan tub;
    tub.id = "tub-1";
    tub.chamber = "tub-1";
    tub.batch = batch;
    tub.phase = phase;
    tub.profile = profile();
    l.grow.tubs = {tub};
    return l;
  }
  void adopt(const Loaded& l) { warden.adopt(l, ConfigSource::folder, "/etc/tubwarden"); }
  void up() {
    warden.broker_up();
    warden.output_report({{"tub-1", "mister"}, OutputHealth::ready, {}, ""});
  }
  /// Lets time pass, turning at each wake that is asked for.
  void pass(Duration d) {
    const Instant end = clock.at + d;
    while (clock.at < end) {
      const Instant next = std::min(end, std::max(wake, clock.at + milliseconds(1)));
      clock.pass(next - clock.at);
      warden.tick();
    }
  }
  void reading(const std::string& payload) {
    warden.message({"shed/tub-1/air", payload, false, clock.at});
  }
  struct Answer {
    bool came = false;
    nlohmann::json json;
    std::optional<Error> error;
  };
  std::shared_ptr<Answer> ask(const std::string& what, const nlohmann::json& args) {
    auto answer = std::make_shared<Answer>();
    warden.answer(what, args.dump(), "grower", [answer](Result<std::string> r) {
      answer->came = true;
      if (r.ok()) {
        answer->json = nlohmann::json::parse(*r);
      } else {
        answer->error = r.error();
      }
    });
    return answer;
  }
  nlohmann::json status() { return ask("status", nlohmann::json::object())->json; }
  nlohmann::json tub() { return status()["tubs"][0]; }
  bool standing(const std::string& cause) {
    for (const auto& a : nlohmann::json(status()["alerts"])) {
      if (a["cause"] == cause) return true;
    }
    return false;
  }
};

}  // namespace fakes
