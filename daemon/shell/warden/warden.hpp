// The warden: joins the ports to the chambers. Messages and time go in, the chambers' effects go
// out, in the order outputs, alerts, records; phases follow the record; the control socket's
// questions are answered. Threading: all calls on the loop's thread. Failure: parts that fail are
// alerts, never exceptions.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/chamber/chamber.hpp"
#include "ports/broker.hpp"
#include "ports/channels.hpp"
#include "ports/clock.hpp"
#include "ports/drivers.hpp"
#include "ports/record.hpp"
#include "settings/settings.hpp"

namespace tubwarden {

/// What the limits of the control socket cost, for `status`.
struct SocketCounters {
  std::uint64_t requests = 0, malformed = 0, too_long = 0, too_many = 0, cut_off = 0;
  int clients = 0;
};

/// Names of acts that a restart asks the record for.
inline constexpr const char* kDrilled = "drilled";
inline constexpr const char* kMorningTold = "morning_told";

/// What the limits of the sheet cost, for `status`: a name and its number. Nothing where there is
/// no sheet.
using SheetCounts = std::vector<std::pair<std::string, std::uint64_t>>;

/// The ports, by constructor; they outlive the warden.
struct WardenParts {
  Clock& clock;
  Broker& broker;
  Record& record;
  Drivers& drivers;
  Channels& channels;
  /// Asks for tick() at an instant; the newest request counts.
  std::function<void(Instant)> wake_at;
  /// One line for the log.
  std::function<void(const std::string&)> log;
  /// Lines that the log has lost so far, for `status`.
  std::function<std::uint64_t()> log_lost = [] { return std::uint64_t{0}; };
  std::function<SocketCounters()> socket = [] { return SocketCounters{}; };
  std::function<SheetCounts()> sheet = [] { return SheetCounts{}; };
};

/// Where a configuration came from, as `status` tells it.
enum class ConfigSource { folder, last_good };

class Warden {
 public:
  /// Exactly one answer, now or later: JSON text or an error.
  using Reply = std::function<void(Result<std::string>)>;

  explicit Warden(WardenParts parts);
  ~Warden();

  /// What the record knows, once, before the first adopt().
  void remember(std::vector<TubRecord> tubs);
  /// Alerts that an earlier run left standing, once, before the first adopt(): they are taken back,
  /// and raised anew if their condition still holds.
  void remember_alerts(std::vector<AlertNoted> alerts);
  /// How an earlier run's alerts stood on the desk, once, before remember_alerts(): those that come
  /// again go on as they stood; those that do not within a while are taken back.
  void remember_desk(const std::vector<AlertKept>& kept);
  /// Messages that an earlier run wrote and could not deliver, once, before the first adopt().
  void remember_outbox(std::vector<NoticeWritten> notices);
  /// Hands that an earlier run left open, once, before the first adopt(): they go on.
  void remember_hands(std::vector<HandOpen> hands);
  /// What an earlier run had learned, once, before the first adopt().
  void remember_learned(std::vector<LearnedRow> learned);
  /// The water books of an earlier run, once, before the first adopt().
  void remember_books(std::vector<BookRow> books);
  /// What growers noted and the phases of all tubs, once, before the first adopt().
  void remember_grow(std::vector<GrowEntry> entries, const std::vector<PhaseRow>& phases);
  /// The last drill of each tub and the last morning message, once, before the first adopt().
  void remember_acts(const std::vector<ActRow>& drills, const std::vector<ActRow>& mornings);
  /// A configuration read from a folder: what is whole applies, what is broken keeps what it had.
  void adopt(Loaded loaded, ConfigSource source, const std::string& folder);
  /// Handlers for the broker port.
  void broker_up();
  void broker_down(const std::string& why);
  void message(const BrokerMessage& message);
  /// Handlers for the drivers and channels ports.
  void output_report(const OutputReport& report);
  void channel_report(const Delivery& delivery);
  /// Time has come for something.
  void tick();
  /// A request of the control socket: `what` with `args_json`, asked by `who`.
  void answer(const std::string& what, const std::string& args_json, const std::string& who,
              Reply reply);
  /// An orderly end: phase clocks are noted; outputs are the drivers' to make safe.
  void stop();

  /// The sentence behind what an output does now; empty for one that is not in the plan.
  std::string why(const OutputId& id) const;
  /// How it goes, in a few words: "2 tubs, broker up, 1 alert".
  std::string in_short() const;
  /// The site as adopted; nothing before the first whole tubwarden.yaml.
  const std::optional<SiteSettings>& site() const;

  struct State;  ///< the inside, for the files of this room only

 private:
  std::unique_ptr<State> state_;
};

}  // namespace tubwarden
