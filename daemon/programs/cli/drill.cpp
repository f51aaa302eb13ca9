#include "programs/cli/drill.hpp"

#include <fmt/format.h>
#include <signal.h>

#include <algorithm>
#include <chrono>
#include <thread>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "programs/cli/broker_in.hpp"
#include "programs/cli/drill_ear.hpp"
#include "programs/cli/drill_parts.hpp"
#include "shell/control/control_client.hpp"
#include "shell/loop/board_clock.hpp"

namespace tubwarden::cli {
namespace {

constexpr auto kLookEvery = std::chrono::milliseconds(50);
constexpr Duration kConfirmWithin = seconds(5);  ///< as the daemon has it
constexpr Duration kUnlockWithin = minutes(3);   ///< a shortest rest is over by then
constexpr Duration kCutWithin = minutes(2);      ///< a person finds the other terminal
constexpr Duration kBackWithin = minutes(3);     ///< the service manager, or a person
constexpr Duration kFallMargin = seconds(5);     ///< beyond lease or timer
/// A rest this close to the run's own end says nothing of the cut.
constexpr Duration kOwnEnd = milliseconds(300);

/// Waits for `sign`; false when `limit` is over first.
bool wait_for(const std::function<bool()>& sign, Duration limit) {
  const auto end = std::chrono::steady_clock::now() + limit;
  while (!sign()) {
    if (std::chrono::steady_clock::now() >= end) return false;
    std::this_thread::sleep_for(kLookEvery);
  }
  return true;
}

class Driller {
 public:
  Driller(const Drill& wanted, std::string socket, const Person& person)
      : wanted_(wanted), socket_(std::move(socket)), person_(person) {}

  Result<std::vector<CutSeen>> run() {
    auto outputs = read_outputs();
    if (!outputs.ok()) return outputs.error();
    if (outputs->empty()) return none_to_drill();
    if (const Outcome listening = listen(*outputs); !listening.ok()) return listening.error();
    std::vector<CutSeen> seen;
    for (const DrillOutput& output : *outputs) {
      for (Cut cut : wanted_.cuts) {
        auto one = cut_once(output.id, cut);
        if (!one.ok()) return one.error();
        person_.tell(fmt::format("  {}: {}",
                                 one->fall == Fall::fell   ? "fell safe"
                                 : one->fall == Fall::open ? "not proven"
                                                           : "DID NOT FALL",
                                 one->text));
        seen.push_back(std::move(*one));
      }
    }
    if (const Outcome kept = keep(seen); !kept.ok()) return kept.error();
    return seen;
  }

 private:
  Result<Json> ask(const char* what, const Json& args) {
    const auto answer = ask_daemon(socket_, what, args.dump(), kAnswerWithin);
    if (!answer.ok()) return answer.error();
    return Json::parse(*answer, nullptr, false);
  }

  /// The outputs of the tub's air that are wanted, in the daemon's order.
  Result<std::vector<DrillOutput>> read_outputs() {
    const auto status = ask("status", Json::object());
    if (!status.ok()) return status.error();
    std::string air;
    for (const Json& tub : list(*status, "tubs")) {
      if (text(tub, "id") == wanted_.tub) air = text(tub, "chamber");
    }
    if (air.empty()) {
      return Error{ErrorCode::not_found,
                   fmt::format("no tub is called '{}'; see: tubwarden status", wanted_.tub)};
    }
    config_ = wanted_.config.empty() ? text(member(*status, "config"), "folder") : wanted_.config;
    const auto answer = ask("outputs", Json::object());
    if (!answer.ok()) return answer.error();
    daemon_pid_ = static_cast<int>(number(*answer, "daemon_pid").value_or(0));
    std::vector<DrillOutput> outputs;
    for (const Json& o : list(*answer, "outputs")) {
      const bool this_one = wanted_.actuator.empty() || text(o, "id") == wanted_.actuator;
      if (text(o, "chamber") == air && this_one) outputs.push_back(drill_output(o));
    }
    return outputs;
  }

  Error none_to_drill() const {
    return {ErrorCode::not_found,
            wanted_.actuator.empty()
                ? fmt::format("{} has no output; there is nothing to drill", wanted_.tub)
                : fmt::format("{} has no output '{}'; see: tubwarden outputs", wanted_.tub,
                              wanted_.actuator)};
  }

  Outcome listen(const std::vector<DrillOutput>& outputs) {
    std::set<std::string> topics;
    for (const DrillOutput& o : outputs) {
      if (!o.confirm.empty()) topics.insert(o.confirm);
    }
    const bool cuts_broker =
        std::find(wanted_.cuts.begin(), wanted_.cuts.end(), Cut::broker) != wanted_.cuts.end();
    if (topics.empty() && !cuts_broker) return Done{};
    const auto broker = broker_in(config_);
    if (!broker.ok()) return broker.error();
    ear_ = std::make_unique<DrillEar>(*broker, std::move(topics));
    if (wait_for([&] { return ear_->up(); }, seconds(20))) return Done{};
    return Error{ErrorCode::unavailable, "the broker at " + broker->url +
                                             " cannot be reached from here; a drill listens to it"};
  }

  /// The output as it stands, once it obeys.
  Result<DrillOutput> ready(const std::string& id) {
    std::optional<DrillOutput> found;
    Error last{ErrorCode::unavailable, ""};
    const bool came = wait_for(
        [&] {
          const auto outputs = read_outputs();
          if (!outputs.ok()) {
            last = outputs.error();
            return false;
          }
          for (const DrillOutput& o : *outputs) {
            if (o.id != id) continue;
            last.text =
                fmt::format("{} is {}; it must be ready before it can be drilled", id, o.health);
            if (o.health == "ready") found = o;
          }
          return found.has_value();
        },
        kBackWithin);
    if (!came) return last;
    return *found;
  }

  /// Starts the run; waits for locks like a shortest rest.
  Result<Instant> begin(const DrillOutput& output) {
    const Json args = {
        {"tub", wanted_.tub},
        {"actuator", output.id},
        {"unwatched", true},
        {"for", fmt::format("{}ms", duration_cast<milliseconds>(output.run).count())}};
    std::optional<Error> refused;
    Instant began{};
    const bool runs = wait_for(
        [&] {
          began = clock_.now();
          const auto said = ask("try", args);
          refused = said.ok() ? std::nullopt : std::optional(said.error());
          return !refused || refused->code != ErrorCode::refused;
        },
        kUnlockWithin);
    if (!runs || refused) return *refused;
    return began;
  }

  /// Cuts; the moment at which it was cut, or nothing when nobody did it in time.
  std::optional<Instant> perform(Cut cut, const DrillOutput& output, Instant began) {
    if (cut == Cut::broker) {
      person_.tell(
          "  Stop the broker now, in another terminal, like: sudo systemctl stop mosquitto");
      wait_for([&] { return ear_->lost().value_or(Instant{}) > began; }, kCutWithin);
      const auto lost = ear_->lost();
      return lost && *lost > began ? lost : std::nullopt;
    }
    const int pid = cut == Cut::host ? output.pid : daemon_pid_;
    const ProcessEnd end(pid);
    if (::kill(pid, SIGKILL) != 0) {
      person_.tell(fmt::format("  You may not end process {}. In another terminal: sudo kill -9 {}",
                               pid, pid));
    }
    if (!wait_for([&] { return end.came(); }, kCutWithin)) return std::nullopt;
    return clock_.now();
  }

  Result<CutSeen> cut_once(const std::string& id, Cut cut) {
    person_.tell(fmt::format("\n{}, with the {} cut off", id, word_of(cut)));
    const auto output = ready(id);
    if (!output.ok()) return output.error();
    CutSeen seen{id, cut, Fall::open, std::nullopt, ""};
    if (!person_.go_on(fmt::format(
            "  {} will run for {}{}. Hands off, lid on; Enter goes on.", id, spoken(output->run),
            cut == Cut::broker ? "" : fmt::format(", and the {} is killed", word_of(cut))))) {
      return Error{ErrorCode::refused, "the drill was left; nothing more is cut"};
    }
    const auto began = begin(*output);
    if (!began.ok()) return began.error();
    if (!output->confirm.empty() &&
        !wait_for(
            [&] { return ear_->heard(output->confirm, output->says_run, *began).has_value(); },
            kConfirmWithin)) {
      seen.text = "it did not confirm that it runs; nothing was cut";
      return seen;
    }
    const auto cut_at = perform(cut, *output, *began);
    if (!cut_at) {
      seen.text = fmt::format("the {} was not cut off in time", word_of(cut));
    } else {
      watch(seen, *output, *began + output->run, *cut_at);
    }
    come_back(cut);
    return seen;
  }

  /// Whether it falls, and when.
  void watch(CutSeen& seen, const DrillOutput& output, Instant own_end, Instant cut_at) {
    const std::string off = fmt::format("the {} was cut off", word_of(seen.cut));
    if (cut_at >= own_end - kOwnEnd) {
      seen.text = off + " when its run was over";
      return;
    }
    // With the broker away no relay is heard; where safe is no rest, only eyes tell.
    if (output.confirm.empty() || seen.cut == Cut::broker || !output.safe_rests) {
      return look(seen, output, off);
    }
    std::optional<Instant> rested;
    wait_for(
        [&] {
          rested = ear_->heard(output.confirm, output.says_rest, cut_at - kOwnEnd);
          return rested.has_value();
        },
        std::max(output.lease, own_end - cut_at) + kFallMargin);
    if (!rested) {
      seen.fall = Fall::held;
      seen.text = off + " and it did not confirm rest. LOOK AT IT NOW";
      return;
    }
    if (*rested >= own_end - kOwnEnd) {
      seen.text =
          off + fmt::format(", and it rested only as its run of {} ended", spoken(output.run));
      return;
    }
    seen.fall = Fall::fell;
    seen.after_s = std::max(0.0, seconds_of(*rested - cut_at));
    seen.text =
        off + (*seen.after_s < 0.1 ? ", and it rested at once"
                                   : fmt::format(", and it rested {:.1f}s later", *seen.after_s));
  }

  void look(CutSeen& seen, const DrillOutput& output, const std::string& off) {
    const auto rests = person_.is_it(fmt::format("  Look at {}: is it {} now? (y/n) ", output.id,
                                                 output.safe_rests ? "at rest" : "safe"));
    if (!rests) {
      seen.text = off + "; nothing here confirms how it stands";
    } else if (*rests) {
      seen.fall = Fall::fell;
      seen.text = off + ", and it was seen safe";
    } else {
      seen.fall = Fall::held;
      seen.text = off + ", and it was seen running. END IT BY HAND NOW";
    }
  }

  void come_back(Cut cut) {
    if (cut == Cut::broker) {
      person_.tell("  Start the broker again, like: sudo systemctl start mosquitto");
      wait_for([&] { return ear_->up(); }, kBackWithin);
    }
    if (cut == Cut::daemon) {
      person_.tell(
          "  Waiting for the daemon; where no service manager starts it again, start it now.");
    }
  }

  Outcome keep(const std::vector<CutSeen>& seen) {
    std::string outcome;
    for (const CutSeen& s : seen) {
      outcome += fmt::format("{}{}: {}", outcome.empty() ? "" : "; ", s.actuator, s.text);
    }
    constexpr std::size_t most = 1900;
    if (outcome.size() > most) outcome = outcome.substr(0, most) + " ...";
    Outcome kept = Error{ErrorCode::unavailable, ""};
    wait_for(
        [&] {
          const auto said = ask("drilled", {{"tub", wanted_.tub}, {"text", outcome}});
          kept = said.ok() ? Outcome(Done{}) : Outcome(said.error());
          return kept.ok();
        },
        kBackWithin);
    return kept;
  }

  const Drill& wanted_;
  std::string socket_;
  const Person& person_;
  BoardClock clock_;
  std::string config_;
  int daemon_pid_ = 0;
  std::unique_ptr<DrillEar> ear_;
};

std::string_view word_of(Fall fall) {
  switch (fall) {
    case Fall::fell:
      return "fell";
    case Fall::open:
      return "open";
    case Fall::held:
      return "held";
  }
  ENSURE(false);
}

}  // namespace

std::string_view word_of(Cut cut) {
  switch (cut) {
    case Cut::host:
      return "host";
    case Cut::daemon:
      return "daemon";
    case Cut::broker:
      return "broker";
  }
  ENSURE(false);
}

Result<std::vector<CutSeen>> drill(const Drill& wanted, const std::string& socket,
                                   const Person& person) {
  person.tell(
      "A drill runs an output and cuts off what holds it, to see that it falls safe. Stay beside "
      "it "
      "with a way to cut its power; hands out of the tub; mains and water are a licensed "
      "electrician's work.");
  return Driller(wanted, socket, person).run();
}

std::string drill_json(const std::vector<CutSeen>& seen) {
  Json cuts = Json::array();
  for (const CutSeen& s : seen) {
    cuts.push_back({{"actuator", s.actuator},
                    {"cut", word_of(s.cut)},
                    {"fall", word_of(s.fall)},
                    {"after_s", s.after_s ? Json(*s.after_s) : Json(nullptr)},
                    {"text", s.text}});
  }
  return Json{{"cuts", cuts}}.dump(2) + "\n";
}

}  // namespace tubwarden::cli
