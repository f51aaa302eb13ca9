// What plugins can do, as their own hosts tell it: neither the daemon nor the command line loads
// one. Threading: any one thread; blocks for at most 5 s a plugin. Failure: an Error a plugin.
#pragma once

#include <string>
#include <vector>

#include "base/result.hpp"
#include "settings/settings.hpp"

namespace tubwarden {

/// Runs `host_program --describe path`, without opening any hardware.
Result<PluginDescription> describe_plugin(const std::string& host_program, const std::string& path);

/// Every *.so of the folder, by plugin name (its file's stem). What cannot be described is left
/// out; with `problems`, a sentence for each is added there.
PluginCatalogue describe_all(const std::string& plugin_folder, const std::string& host_program,
                             std::vector<std::string>* problems = nullptr);

}  // namespace tubwarden
