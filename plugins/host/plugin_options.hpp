// The options of one output or channel as its plugin asks for them: the wiring's value, else the
// row's fallback. Threading: the host's main thread. Failure: what is not there is nothing; what
// does not fit its type is passed on as it is written.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "sdk/plugin.h"

namespace tubwarden::host {

class PluginOptions {
 public:
  PluginOptions() = default;
  /// A wiring that is not a JSON object has no values.
  PluginOptions(const tw_plugin& plugin, std::string_view wiring_json);

  /// Nothing past the end of a list, for an option without a value, and for an unknown name.
  const char* get(const char* name, std::uint32_t index) const;

 private:
  std::map<std::string, std::vector<std::string>> values_;
};

}  // namespace tubwarden::host
