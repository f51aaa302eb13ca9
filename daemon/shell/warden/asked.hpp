// One request of the control socket, and what all answers need. For the files of this room only.
// Threading: the loop's thread. Failure: a wrong argument is answered with what is allowed.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "shell/warden/warden_state.hpp"

namespace tubwarden {

/// The arguments of one request, read without exceptions.
class Args {
 public:
  explicit Args(const std::string& text);
  bool ok() const { return json_.is_object(); }
  /// Empty where it is missing or no text.
  std::string text(const char* name) const;
  std::optional<double> number(const char* name) const;
  /// A list of texts, or one text as a list of one; what is no text is left out.
  std::vector<std::string> texts(const char* name) const;
  /// A list of numbers, or one as a list of one; what is no number is left out.
  std::vector<double> numbers(const char* name) const;
  bool has(const char* name) const { return json_.contains(name); }
  bool yes(const char* name) const;

 private:
  nlohmann::ordered_json json_;
};

struct Asked {
  Warden::State& s;
  const Args& args;
  const std::string& who;
  Warden::Reply reply;
};

/// "no tub is called 'tub-9' (nearest: tub-1); there are: ..."
Error unknown(const std::string& kind, const std::string& given,
              const std::vector<std::string>& known);

/// The tub an argument names, or nothing after answering with what there is.
Tub* tub_named(Asked& asked);

/// Appends `entries` and answers {entry, on_disk, text} once they are on disk.
void append_and_tell(Asked& asked, std::vector<Entry> entries, const std::string& text);

// live_answers.cpp
void do_live(Asked& asked);

// place_answers.cpp
void do_move(Asked& asked);
void do_water(Asked& asked);
void do_book(Asked& asked);
void do_refill(Asked& asked);

// culture_answers.cpp
void do_culture_receive(Asked& asked);
void do_culture_open(Asked& asked);
void do_culture_discard(Asked& asked);
void do_cultures(Asked& asked);
void do_culture(Asked& asked);
void do_sterilise(Asked& asked);
void do_substrate(Asked& asked);

// jar_answers.cpp
void do_jar_add(Asked& asked);
void do_jar_inoculate(Asked& asked);
void do_jar_look(Asked& asked);
void do_jar_shake(Asked& asked);
void do_jar_contaminated(Asked& asked);
void do_jar_discard(Asked& asked);
void do_jar_move(Asked& asked);
void do_jars(Asked& asked);
void do_jar(Asked& asked);

// bed_answers.cpp
void do_spawn(Asked& asked);
void do_case(Asked& asked);
void do_pins(Asked& asked);
void do_harvest(Asked& asked);
void do_clean(Asked& asked);
void do_contaminated(Asked& asked);
void do_done(Asked& asked);
void do_undo(Asked& asked);

// trace_answers.cpp
void do_trace(Asked& asked);

// forecast_answers.cpp
void do_forecast(Asked& asked);

// grow_today.cpp
void do_today(Asked& asked);

// kept_answers.cpp
void do_kept(Asked& asked);

// why_answers.cpp
void do_decisions(Asked& asked);
void do_why_at(Asked& asked);

// history_answers.cpp
void do_stays(Asked& asked);
void do_history(Asked& asked);

// record_answers.cpp
void do_sync(Asked& asked);

// report_answers.cpp
void do_report(Asked& asked);
void do_labels(Asked& asked);

// alert_answers.cpp
void do_alerts(Asked& asked);
void do_alert_seen(Asked& asked);
void do_alert_quiet(Asked& asked);
void do_alert_off(Asked& asked);
void do_alert_back(Asked& asked);
void do_alert_history(Asked& asked);
void do_alert_worst(Asked& asked);

// channel_acts.cpp
void do_alert_test(Asked& asked);

// hand_answers.cpp
void do_attend(Asked& asked);
void do_keep_at(Asked& asked);
void do_try(Asked& asked);
void do_trial(Asked& asked);
void do_drilled(Asked& asked);

}  // namespace tubwarden
