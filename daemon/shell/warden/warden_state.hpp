// The inside of the warden, for the files of this room only.
// Threading: the loop's thread. Failure: see warden.hpp.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <unordered_map>
#include <vector>

#include "base/stamp.hpp"
#include "core/alert/desk.hpp"
#include "core/chamber/trial_watch.hpp"
#include "core/grow/phase_truth.hpp"
#include "core/grow/place_truth.hpp"
#include "core/sensing/decode.hpp"
#include "shell/warden/grow_state.hpp"
#include "shell/warden/warden.hpp"

namespace tubwarden {

inline constexpr Duration kOnDiskWithin = seconds(5);
inline constexpr Duration kAirPublishedEvery = seconds(5);
inline constexpr Duration kCheckpointEvery = minutes(10);
/// The wall clock is slewed by less than this between two looks; more is a jump.
inline constexpr Duration kWallJump = seconds(2);
inline constexpr Duration kBrokerLostDelay = seconds(5);
inline constexpr Duration kTubFileGrace = seconds(10);
inline constexpr std::size_t kTimelineRowsMax = 1000;

/// A tub or shelf: what its file says, and what the record knows.
struct Tub {
  TubPlan plan;               ///< `chamber` is where it stands by the record
  std::string file_place;     ///< where its file says it stands
  std::string place_trouble;  ///< why it does not stand there, where that is to be asked
  std::optional<TubRecord> known;
  Stamp mark;                                 ///< a moment at which ...
  Duration mark_elapsed{0};                   ///< ... the phase had lasted this long
  std::vector<GlideStarted> previous_glides;  ///< of the phase before, for a correction
  bool glides_to_note = false;                ///< they came back with a correction
  bool began_by_plan = false;                 ///< the plan went on to this phase by itself
  KeptSums kept;                              ///< of this phase, up to when its air was asked
  std::optional<KeptSums> previous_kept;      ///< of the phase before, for a correction
};

/// One chamber at work.
struct Air {
  explicit Air(Chamber c) : chamber(std::move(c)) {}
  Chamber chamber;
  Instant next_wake{};          ///< the chamber's own
  std::optional<Instant> wake;  ///< as queued in State::wakes
  Instant air_published{};
  bool air_changed = false;
  bool ever_published = false;
};

/// Where a topic leads.
struct Route {
  enum class Kind { sensor, gone, room };
  Kind kind = Kind::sensor;
  std::string chamber;     ///< sensor, gone
  std::size_t sensor = 0;  ///< sensor, gone
  event::RoomQuantity room = event::RoomQuantity::temperature;
};

/// A trial run that is watched, or was.
struct TrialAtWork {
  TrialWatch watch;
  std::string tub;
  std::optional<std::string> verdict;  ///< once it is over
};

/// What a turn of the alert desk leaves to be done.
struct ToldNow {
  std::vector<Entry> entries;
  std::vector<Notice> notices;
  bool refused = false;
};

/// `alerts test`, until each channel has said how it went.
struct ChannelTest {
  Warden::Reply reply;
  Instant due{};
  std::map<std::string, std::string> outcome;  ///< by channel; empty: not known yet
};

/// A command that waits for its entry to be on disk.
struct Waiting {
  Warden::Reply reply;
  Instant due{};
  std::string late;  ///< the answer when it takes too long
};

struct Warden::State {
  explicit State(WardenParts p) : parts(std::move(p)) {}

  WardenParts parts;
  std::optional<SiteSettings> site;
  GrowPlan plan;
  std::vector<Finding> findings;
  ConfigSource source = ConfigSource::folder;
  std::string folder;
  std::map<std::string, TubRecord> remembered;

  std::map<std::string, std::unique_ptr<Air>> airs;
  std::set<std::pair<Instant, std::string>> wakes;
  std::map<std::string, Tub> tubs;
  std::map<OutputId, OutputReport> reports;
  std::unordered_map<std::string, std::vector<Route>> routes;
  std::map<AlertKey, std::pair<AlertTimer, Alert>> site_alerts;
  AlertDesk desk;
  std::vector<NoticeWritten> left_undelivered;  ///< of an earlier run, until the channels are there
  std::map<std::string, ChannelTest> channel_tests;  ///< by key
  std::map<std::string, Instant> next_beats;         ///< of channels with a heartbeat
  std::vector<std::shared_ptr<Waiting>> waiting;
  std::map<OutputId, TrialAtWork> trials;
  std::vector<LearnedRow> learned;         ///< the newest, by chamber and actuator
  std::vector<BookRow> books;              ///< the newest, by chamber
  std::vector<PhaseDue> plans_due;         ///< to be followed behind the turn
  std::vector<HandOpen> hands_to_restore;  ///< of an earlier run, until their air is there
  std::vector<HandOpen> hands_by_wall;     ///< restored before it was known how long we were off

  GrowHeld grow;

  bool is_up = false;
  std::set<std::string> alert_topics_to_empty;  ///< returned while the broker was away
  std::vector<AlertKey> left_standing;  ///< by an earlier run; their topics are emptied once
  Instant broker_since{};
  bool clock_was_set = false;
  Duration wall_offset{0};  ///< of the wall clock over the boot clock, when last looked at
  std::optional<Instant> next_checkpoint;
  std::optional<Instant> next_local_time;
  std::optional<Instant> next_morning;
  std::uint64_t messages_taken = 0;
  std::uint64_t messages_refused = 0;
  std::uint64_t values_taken = 0;
  RefusalCounts refusals;

  // warden.cpp: the turn.
  Instant now() const { return parts.clock.now(); }
  Stamp stamp() const;
  void step(Air& air, const Event& event);
  void perform(Air& air, Effects effects);
  void note(Air& air, const Decision& decision);
  void queue_wake(Air& air, Instant at);
  void run_due();
  void watch_wall_clock();
  void ask_for_wake();
  void take_message(const BrokerMessage& message);
  void take_reading(const Route& route, const BrokerMessage& message);
  void take_room(const Route& route, const BrokerMessage& message);
  void count(const Decoded& decoded);
  void tell_local_time();

  // alerts.cpp: what the grower is told.
  void tell(const AlertChange& change);
  void judge_site(const AlertKey& key, bool holds, Duration on_delay, AlertRank rank,
                  const std::string& text);
  void judge_site_again();
  /// A cause that has begun and waits for its delay holds back what it would cover.
  void suspect(const AlertKey& key, bool is);

  // alert_desk.cpp: the cycle of each alert, and the messages of it.
  ToldNow turn_desk(const DeskEvent& event, const std::string& who = "daemon");
  void hand_over(ToldNow told);
  void use_desk(const DeskEvent& event) { hand_over(turn_desk(event)); }
  void desk_due();
  DeskMoment desk_moment() const;
  void set_desk_rules();
  void restore_desk(const std::vector<AlertKept>& kept);
  Notice words_of(const Telling& telling, const std::string& who) const;
  void to_channels(Notice notice, ToldNow& told);
  AlertKept kept(const AlertKey& key) const;
  /// What is off while it is mended, the oldest first.
  std::vector<DeskAlert> alerts_off() const;

  // channel_acts.cpp: heartbeats, tests, and what an earlier run could not deliver.
  void set_beats();
  void beat();
  void deliver_what_was_left();
  void channel_done(const Delivery& delivery);
  void end_late_tests();
  std::optional<Instant> channels_due() const;
  /// What stands about a tub or an air that has left the plan is over.
  void withdraw_orphans();
  std::vector<Alert> standing() const;

  // entries.cpp: what the record is told.
  void append(std::vector<Entry> entries,
              std::function<void(Result<std::vector<std::int64_t>>)> done = {});
  Entry entry(const std::string& who, EntryBody body) const {
    return {stamp(), who, std::move(body)};
  }
  /// Appends and answers once it is on disk, or after kOnDiskWithin with `late`.
  /// `settled` hears the outcome before that, however late it comes.
  void append_and_answer(
      std::vector<Entry> entries, std::string late, Reply reply,
      std::function<std::string(std::int64_t)> answer,
      std::function<void(const Result<std::vector<std::int64_t>>&)> settled = {});
  void answer_late();

  // phases.cpp: the truth of each tub.
  Duration elapsed(const Tub& tub) const;
  std::optional<PhaseKnown> known(const Tub& tub) const;
  void settle(Tub& tub);
  TubPhase phase_of(const Tub& tub) const;
  void announce(const Tub& tub);
  std::vector<Entry> transition(Tub& tub, const std::string& to, PhaseCause cause,
                                const std::string& who, const std::string& note,
                                std::optional<std::string> file_seen);
  void remember_entry(const std::string& id, std::int64_t transition_entry);
  void checkpoint_all();
  /// What was learned, into the record and, for a new air, back into its chamber.
  void note_learned(const ChamberPlan& chamber, const MistLearned& learned);
  void note_learned(const ChamberPlan& chamber, const DutyLearned& learned);
  void note_learned(LearnedRow row);
  void give_learned(Air& air);
  /// What the history says of actuators whose blind rule is duty, back into their chamber.
  void give_days(const Air& air);
  void mend_phase_clocks();

  // plan.cpp: the plan that goes on by itself, flushes, and the climate each phase kept.
  int flush_of(const Tub& tub) const;
  /// As it is shown: a grower who cleans and picks on without another phase is further.
  int flush_shown(const Tub& tub) const;
  void take_kept(Tub& tub);
  PhaseKept kept_so_far(Tub& tub);
  void end_kept(Tub& tub, bool taken_back, const std::string& who, std::vector<Entry>& entries);
  void keep_climate(Tub& tub);
  void follow_plans();
  void forget_went_on(const std::string& tub);
  void age_went_on();

  // water.cpp: the water books.
  void keep_book(Air& air);
  void give_book(Air& air);
  void publish_water(const Air& air);

  // grow_keep.cpp: phases as the book of the grow knows them.
  void note_phase(const TubRecord& began);
  void date_phases();
  /// By how much local time is ahead of UTC now.
  Duration east_of_utc() const;

  // forecast_due.cpp: what is foreseen of jars and beds, for what is due.
  /// Foresees anew what has new looks or pins, some jars a time, and goes on with `then`.
  void foresee(std::function<void()> then);

  // grow_today.cpp: what is due, and the morning message.
  std::vector<Task> due_at(WallTime moment) const;
  /// Finds when the next morning message is to come.
  void plan_morning();
  void tell_morning();
  void send_morning(WallTime moment, WallTime midnight);

  // places.cpp: where each tub stands.
  std::optional<PlaceKnown> place_known(const Tub& tub) const;
  Standing standing_in(const std::string& chamber) const;
  MoveVerdict may_move(const Tub& tub, const std::string& chamber) const;
  /// Why a move is refused, and the way out.
  std::string refusal(const Tub& tub, const std::string& chamber, MoveVerdict verdict) const;
  /// Places a tub elsewhere in memory, and returns the entries that say so.
  std::vector<Entry> place(Tub& tub, const std::string& chamber, const std::string& who);
  void settle_places();
  bool settle_place(Tub& tub);
  void keep_airs_in_use(const std::vector<ChamberPlan>& before);
  void judge_places();

  // hands.cpp: the grower's hand.
  HandEnded ended(const Air& air, const Hand& hand, const std::string& text) const;
  void hand_over(Air& air, const Hand& hand);
  void restore_hands();
  void resume_hand(Air& air, const HandOpen& open);
  void mend_hands();
  void begin_trial(Air& air, const std::string& tub, const ActuatorPlan& tried, bool confirms,
                   Duration run);
  void tell_trials(const Air& air, Quantity q);
  void tell_trials(const Air& air, const std::string& started);
  void finish_trials();
  std::optional<Instant> next_trial_end() const;

  // config.cpp: a new configuration.
  void take_plan(Loaded loaded);
  std::vector<std::string> merge_plan(Loaded& loaded);
  void take_tubs();
  void settle_tubs(const std::vector<std::string>& gone);
  void rebuild_airs();
  void rebuild_routes();

  // topics.cpp: what others may read on the broker.
  std::string base() const { return "tubwarden/" + (site ? site->site : std::string()) + "/"; }
  void publish_awake();
  void publish_air(Air& air);
  void publish_actuator(Air& air, std::size_t actuator);
  void publish_phase(const Tub& tub, const std::string& by);
  void publish_alert(const AlertChange& change);
  void publish_all();

  // answers.cpp, views.cpp: the control socket.
  void answer(const std::string& what, const std::string& args_json, const std::string& who,
              Reply reply);
};

/// "its own air", or the chamber's name.
std::string place_words(const std::string& tub, const std::string& chamber);

/// The time of a stamp as RFC 3339, or nothing while the clock is unset.
std::optional<std::string> told_time(const Stamp& stamp);

}  // namespace tubwarden
