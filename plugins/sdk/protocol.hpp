// What daemon and plugin host say to each other: one JSON object a packet over SOCK_SEQPACKET.
// A packet of 0 bytes means that the other side is gone.
// Threading: pure functions; send and receive are one system call each. Failure: a packet that is
// not understood is an error for the caller to count; it never throws.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "base/result.hpp"

namespace tubwarden::protocol {

/// The largest packet; a longer message is refused by encode's caller, see fits().
inline constexpr std::size_t kPacketMax = 8192;

/// How a host ends.
enum ExitCode : int {
  kExitDone = 0,         ///< its socket ended or it was asked to; all outputs made safe
  kExitSomeLeft = 1,     ///< --make-safe: not all of the list could be made safe
  kExitUsage = 64,       ///< started with wrong words
  kExitRefused = 65,     ///< the plugin cannot be loaded
  kExitUnsafe = 66,      ///< at least one output could not be made safe
  kExitHung = 67,        ///< a plugin's call did not return; a safe-run was started
  kExitOtherFiles = 68,  ///< its outputs need files it is not allowed: to be started anew
};

/// How long a plugin's call may take, at most; the lease where that is shorter.
inline constexpr std::uint32_t kCallMsMax = 1500;
/// How long a channel's deliver() may take.
inline constexpr std::uint32_t kDeliverMsMax = 90000;

// Daemon to host.

struct Open {
  std::uint32_t output = 0;  ///< the daemon's number for it, in every later message
  std::string id;            ///< "chamber/actuator", for words
  std::string wiring_json;
  std::string site_json;
  std::uint32_t safe_permille = 0;
  std::uint32_t lease_ms = 0;
  std::uint32_t falls_by_itself_after_ms = 0;  ///< 0: never
  /// Of time proportioning, where the driver takes no level between; 0: none.
  std::uint32_t period_ms = 0;
  std::uint32_t shortest_run_ms = 0;  ///< at most half of it
  /// Another follows at once: a host waits for it before it is held to the files of all.
  bool more = false;
  bool operator==(const Open&) const = default;
};
struct Apply {
  std::uint32_t output = 0;
  std::uint32_t level_permille = 0;
  std::uint32_t run_ms = 0;  ///< 0: holds while leased
  std::uint32_t lease_ms = 0;
  std::uint64_t sequence = 0;
  std::uint64_t sent_ns = 0;  ///< boot clock: the lease counts from here, however late it is read
  bool operator==(const Apply&) const = default;
};
struct Renew {
  std::uint32_t output = 0;
  std::uint32_t lease_ms = 0;
  std::uint64_t sequence = 0;  ///< of the command whose loan is prolonged
  std::uint64_t sent_ns = 0;
  bool operator==(const Renew&) const = default;
};
struct MakeSafe {
  std::uint32_t output = 0;
  bool operator==(const MakeSafe&) const = default;
};
/// Makes safe first.
struct Close {
  std::uint32_t output = 0;
  bool operator==(const Close&) const = default;
};
struct Deliver {
  std::uint64_t ticket = 0;
  std::string wiring_json;
  std::string site_json;
  std::string message_json;
  bool operator==(const Deliver&) const = default;
};
using ToHost = std::variant<Open, Apply, Renew, MakeSafe, Close, Deliver>;

// Host to daemon.

struct Opened {
  std::uint32_t output = 0;
  bool confirms = false;  ///< the output answers each change
  bool operator==(const Opened&) const = default;
};
struct Closed {
  std::uint32_t output = 0;
  bool operator==(const Closed&) const = default;
};
struct Confirm {
  std::uint32_t output = 0;
  std::uint32_t level_permille = 0;
  bool operator==(const Confirm&) const = default;
};
/// The output came into or went out of reach.
struct Reach {
  std::uint32_t output = 0;
  bool yes = false;
  std::string why;
  bool operator==(const Reach&) const = default;
};
/// The lease ran out and the output is at its safe level.
struct Fell {
  std::uint32_t output = 0;
  std::uint64_t sequence = 0;
  bool operator==(const Fell&) const = default;
};
enum class SayLevel { debug, info, warning, error };
struct Said {
  SayLevel level = SayLevel::info;
  std::string text;
  bool operator==(const Said&) const = default;
};
enum class Failure {
  load,    ///< the plugin cannot be loaded; the host ends
  open,    ///< the output is not open; trying again may help
  option,  ///< the output is not open; its wiring is wrong
  apply,   ///< the command failed and the output was made safe
  unsafe,  ///< the output could not be made safe
  hung,    ///< a call did not return; the host ends and a safe-run begins
  packet,  ///< a packet was not understood
};
struct Failed {
  std::optional<std::uint32_t> output;  ///< nothing: the host as a whole
  Failure what = Failure::load;
  std::string text;
  bool operator==(const Failed&) const = default;
};
struct Delivered {
  std::uint64_t ticket = 0;
  bool delivered = false;
  bool for_good = false;  ///< not delivered, and trying again is of no use
  std::string why;
  bool operator==(const Delivered&) const = default;
};
/// One thing that the kernel holds a host to, or why it does not: "memory", "128 MiB".
struct Limit {
  std::string what;
  bool holds = false;
  std::string how;
  bool operator==(const Limit&) const = default;
};
/// What holds from now on, the whole list: before the plugin is loaded, and when more holds.
struct Held {
  std::vector<Limit> limits;
  bool operator==(const Held&) const = default;
};
using ToDaemon = std::variant<Opened, Closed, Confirm, Reach, Fell, Said, Failed, Delivered, Held>;

std::string encode(const ToHost& message);
std::string encode(const ToDaemon& message);
Result<ToHost> decode_to_host(std::string_view packet);
Result<ToDaemon> decode_to_daemon(std::string_view packet);
inline bool fits(std::string_view packet) { return packet.size() <= kPacketMax; }

/// A `Failed` for a call that did not return, into a buffer without allocating: its writer may have
/// stopped inside the allocator. `call` is one of the plugin's function names. Returns the length,
/// 0 when it is too long.
std::size_t encode_hung(char* buffer, std::size_t size, Failure what, std::uint32_t output,
                        const char* call, std::uint32_t limit_ms) noexcept;

/// What a safe-run needs to know: the plugin and every output it had open.
struct SafeRun {
  std::string plugin_path;
  std::vector<Open> outputs;
  bool operator==(const SafeRun&) const = default;
};
std::string encode(const SafeRun& spec);
Result<SafeRun> decode_safe_run(std::string_view text);

/// A plugin as `tubwarden-plugin-host --describe` prints it.
struct OptionRow {
  std::string name, type, range;
  std::optional<std::string> fallback;
  std::string help;
  bool operator==(const OptionRow&) const = default;
};
struct Description {
  std::string name;
  bool is_channel = false;
  bool is_actuator = true;  ///< one plugin may be both
  bool network = false;
  bool has_will = false;  ///< someone else makes its outputs safe when the board is gone
  bool levels = false;    ///< takes levels between 0 and 1000
  std::vector<OptionRow> options;
  bool operator==(const Description&) const = default;
};
std::string encode(const Description& description);
Result<Description> decode_description(std::string_view text);

/// The message of a channel: one JSON object of these members; `state` is "raised" or "over".
std::string channel_message(const std::string& key, const std::string& rank,
                            const std::string& state, const std::string& title,
                            const std::string& text);

/// Sends one packet without blocking and without SIGPIPE; false when it is too long, the other side
/// is gone, or its buffer is full.
bool send_packet(int socket, std::string_view packet) noexcept;

enum class Received { packet, nothing, gone };
/// Reads one packet without blocking. A packet over the limit arrives cut and will not decode.
Received receive_packet(int socket, std::string& packet);

}  // namespace tubwarden::protocol
