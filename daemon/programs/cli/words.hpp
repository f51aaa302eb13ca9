// The command line's words: which command, with what. The only place that knows the parser.
// Threading: pure functions. Failure: wrong words come back as Told with exit status 2, never as an
// exception.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "core/climate/portion.hpp"
#include "core/kitchen/sum.hpp"
#include "programs/cli/show.hpp"
#include "programs/cli/when.hpp"
#include "settings/new_folder.hpp"
#include "settings/propose.hpp"

namespace tubwarden::cli {

/// A question for the daemon, and how its answer is read.
struct Ask {
  std::string what;
  std::string args_json = "{}";
  Shown (*show)(const std::string& json, const Look& look) = nullptr;
  bool watch = false;
};

/// `check`: a folder, read here without a daemon.
struct CheckFolder {
  std::string folder;
  std::string plugins;
  std::string host;  ///< the program that describes a plugin
};

inline constexpr const char* kInstalledFolder = "/etc/tubwarden";

/// `init`: the configuration of one tub.
struct InitFolder {
  std::string folder;
  InitAnswers given;
  bool yes = false;           ///< nothing is asked
  bool socket_given = false;  ///< by --socket; else it follows from the folder
  std::string plugins;
  std::string host;  ///< the program that describes a plugin
};

/// Which broker is heard without a daemon.
struct BrokerChoice {
  std::string config;  ///< the folder whose broker it is; empty: none
  std::string broker;  ///< its address; empty: the folder's, else the one of this board
  std::string user_file, ca_file, cert_file, key_file;
};

/// `listen`: what a broker carries.
struct Listen : BrokerChoice {
  std::string under;  ///< empty: everything
  Duration length = seconds(30);
  GuessedPlace place = GuessedPlace::unsaid;
};

/// `try`: one run of an output, and what it moved.
struct TryOutput {
  std::string tub, actuator, length;
};

/// `drill`: what cuts an output off on purpose, and whether it falls safe.
enum class Cut { host, daemon, broker };
struct Drill {
  std::string tub;
  std::string actuator;  ///< empty: each of its air
  std::vector<Cut> cuts = {Cut::host, Cut::daemon, Cut::broker};
  std::string config;  ///< whose broker it is; empty: the daemon's own folder
  bool yes = false;    ///< nobody is asked; what nothing can confirm stays open
};

/// `history`: what the air of a tub, a batch or a chamber did.
struct HistoryWish {
  std::string of;
  WallTime from{}, to{};
  std::optional<Duration> every;  ///< nothing: what fits the page; with `csv`, each reading
  bool csv = false;
};

/// `rehearse`: a folder played against the physical model, without a daemon.
struct Rehearse {
  std::string folder;
  Duration length = hours(60 * 24);
  std::uint64_t seed = 1;
  std::optional<Control> against;  ///< the same once more, under this control
  std::string from;                ///< the first phase; empty: as the tubs' files say
  std::string room, faults;        ///< files; empty: none
  std::string report;              ///< the page to write; empty: none
  std::string charts;              ///< the folder of the charts' library
  bool fit = false;                ///< the model's figures are found in the record instead
  Duration history = hours(24);    ///< how much of it
  WallTime until{};                ///< its end
  std::string plugins;
  std::string host;  ///< the program that describes a plugin
};

/// `kitchen salts`: without points, the method.
struct KitchenSalts {
  std::vector<std::string> points;  ///< SALT=READ
  double at_c = 20.0;
  std::string tub, sensor;  ///< whose record keeps it; empty: none
};

/// A sum of the kitchen that is done already.
struct KitchenSum {
  Sum sum;
};

/// A sum of the kitchen over a probe's log.
struct KitchenLog {
  enum class What { lethality, air_changes };
  What what = What::lethality;
  std::string file;    ///< "-": standard input
  std::string column;  ///< of the log
  std::string sensor;  ///< empty: there is one
  double background_ppm = 420.0;
  std::optional<double> net_l;
};

/// `kitchen lethality --topic`: F0 as a probe says it.
struct KitchenProbe : BrokerChoice {
  std::string topic;
  std::string at;    ///< RFC 6901 pointer; empty: the whole payload
  std::string unit;  ///< C, F or K
  double f0 = 15.0;  ///< minutes wanted
  Duration length = hours(4);
};

/// `backup`, `restore`, `export`: the record's files, copied by this program itself.
struct RecordCopy {
  enum class What { backup, restore, entries };
  What what = What::backup;
  std::string path;    ///< the backup, or the folder that is made
  std::string config;  ///< whose record it is, where no daemon says
  WallTime now{};
};

/// `sheet token`: who may open the sheet; written without a daemon.
struct SheetToken {
  enum class What { list, add, remove };
  What what = What::list;
  std::string name;
  bool acts = false;   ///< of a new one: it may act, and not only read
  std::string folder;  ///< whose tubwarden.yaml names the file
  std::string file;    ///< instead of that
};

/// `labels`: a sheet of them, as SVG.
struct PrintLabels {
  std::vector<std::string> names;  ///< batches, jars, tubs, cultures
  bool letter = false;             ///< the sheet; else A4
  int columns = 3, rows = 8, page = 1;
};

/// `report`: one batch as a page, or several side by side.
struct ReportBatches {
  std::vector<std::string> batches;
  bool csv = false;
  WallTime now{};
};

/// Nothing to do but to tell: help (0), or what is wrong with the words (2).
struct Told {
  int status = 0;
  std::string text;
};

struct Command {
  std::variant<Told, Ask, TryOutput, Drill, CheckFolder, InitFolder, Listen, HistoryWish, Rehearse,
               KitchenSalts, KitchenSum, KitchenLog, KitchenProbe, RecordCopy, SheetToken,
               PrintLabels, ReportBatches>
      wanted;
  std::vector<std::string> notes;  ///< what had to be chosen, for standard error
  bool json = false;
  std::string socket;
  std::string usual_socket;  ///< without --socket
};

struct Defaults {
  std::string socket;
  std::string plugins;
  std::string host;
  WallTime now{};  ///< what times like 14:30 and 2h are taken by
  Zone zone = [](WallTime) { return Duration{0}; };
};

/// `words` without the program's name.
Command understand(const std::vector<std::string>& words, const Defaults& defaults);

}  // namespace tubwarden::cli
