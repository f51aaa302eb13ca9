// Where plugin hosts come from and what they are told of the site.
// Threading: plain values; `say` is called on the loop's thread. Failure: none.
#pragma once

#include <functional>
#include <string>
#include <string_view>

namespace tubwarden {

/// How loud a host or plugin speaks.
enum class HostWord { debug, info, warning, error };

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
};

}  // namespace tubwarden
