// The configuration folder as typed values: read, checked against the option table, explained.
// Threading: reads files, otherwise pure; any one thread. Failure: findings, never exceptions.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/alert/channel_plan.hpp"
#include "core/chamber/chamber_plan.hpp"

namespace tubwarden {

struct BrokerSettings {
  std::string url;  ///< mqtt://host[:port] or mqtts://host[:port]
  std::optional<std::string> user_file, ca_file, cert_file, key_file;
  bool operator==(const BrokerSettings&) const = default;
};

/// The sheet; see the option table.
struct SheetSettings {
  std::string address = "127.0.0.1";  ///< IPv4, or IPv6 without brackets
  int port = 8437;
  std::optional<std::string> tokens_file, cert_file, key_file, name, proxy;
  bool operator==(const SheetSettings&) const = default;
};

/// How the grower wants to be told.
struct AlertSettings {
  std::optional<Duration> again_every = hours(4);
  int quiet_from_minute = 0, quiet_to_minute = 0;  ///< local; equal: no quiet hours
  std::vector<AlertRank> held;
};

struct SiteSettings {
  std::string site;
  BrokerSettings broker;
  std::string record_folder = "/var/lib/tubwarden";
  Duration keep_readings = days(90), keep_means = days(3650), keep_decisions = days(60);
  std::string control_socket = "/run/tubwarden/control.sock";
  std::optional<SheetSettings> sheet;
  int host_memory_mib = 128, host_cpu_percent = 25;
  int morning_minute = 7 * 60;  ///< local minute of the day at which tasks are told
  std::vector<ChannelPlan> channels;
  AlertSettings alerts;
};

enum class Severity { error, warning };

/// One finding, told as `file:line:column: what is wrong, what is allowed`.
struct Finding {
  Severity severity = Severity::error;
  std::string file;  ///< relative to the folder
  int line = 0;      ///< 1-based; 0: the file as a whole
  int column = 0;
  std::string text;
  std::string told() const;
};

/// One option of a plugin's wiring, as `tubwarden-plugin-host --describe` prints it.
struct PluginOption {
  std::string name;
  /// text | topic | number | integer | boolean | duration | list | file | device
  std::string type;
  std::string range;                    ///< "1..65535", "a|b|c" or empty
  std::optional<std::string> fallback;  ///< nothing: required
  std::string help;
};
struct PluginDescription {
  std::string name;
  bool is_channel = false;
  bool network = false;
  std::vector<PluginOption> options;
  bool levels = false;         ///< its outputs take levels between rest and run
  bool also_actuator = false;  ///< a channel that is a driver, too
  bool has_will = false;       ///< someone else makes its outputs safe when the board is gone
  bool is(bool channel) const { return channel ? is_channel : !is_channel || also_actuator; }
};
/// By plugin name. An empty catalogue leaves wiring unchecked, with a warning.
using PluginCatalogue = std::map<std::string, PluginDescription>;

/// What was read. A tub whose own file or profile has an error is absent from `grow` and named in
/// `broken_tubs`; site errors leave `site` empty.
struct Loaded {
  std::optional<SiteSettings> site;
  GrowPlan grow;
  std::vector<std::string> broken_tubs;  ///< tub ids, or file stems where the id cannot be read
  std::vector<std::string> broken_chambers;
  std::vector<Finding> findings;  ///< by file, line, column
  std::size_t files = 0;          ///< how many were read
  bool has_errors() const;
};

/// Reads the folder: tubwarden.yaml, profiles/*.yaml, chambers/*.yaml, tubs/*.yaml.
/// All errors of a well-formed file in one go; a YAML syntax error ends that file's list.
Loaded load_folder(const std::filesystem::path& folder, const PluginCatalogue& plugins);

/// What `tubwarden check` prints: each finding on a line, then one line that sums up.
std::string check_report(const Loaded& loaded);

}  // namespace tubwarden
