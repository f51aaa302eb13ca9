// Where plugin hosts come from and what they are told of the site.
// Threading: plain values; `say` is called on the loop's thread. Failure: none.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>

#include "base/time.hpp"

namespace tubwarden {

/// How loud a host or plugin speaks.
enum class HostWord { debug, info, warning, error };

/// What a host may use. One that asks for more memory does not get it; one that burns more than its
/// share of a core, taken over a window, is ended by the kernel and counts as crashed.
struct HostLimits {
  std::uint32_t memory_mib = 128;
  std::uint32_t cpu_percent = 25;
  Duration cpu_window = minutes(1);
};

struct HostOptions {
  std::string host_program;   ///< path of tubwarden-plugin-host
  std::string plugin_folder;  ///< NAME.so of each plugin
  /// {"site": NAME, "broker": {"url", "user_file", "ca_file", "cert_file", "key_file"}}: file
  /// names, never what is in them.
  std::string site_json = "{}";
  /// Where words of hosts and plugins go; may be empty.
  std::function<void(HostWord, std::string_view)> say;
  /// The file that holds every output in use for the service's stop-post step; may be empty.
  /// Emptied of outputs once all have been made safe in good order.
  std::string safe_list = {};
  HostLimits limits = {};
};

}  // namespace tubwarden
