// One plugin, loaded for the life of the process: never unloaded, since its threads may outlive it.
// Threading: the host's main thread. Failure: a sentence that names the file and what is wrong.
#pragma once

#include <string>

#include "base/result.hpp"
#include "sdk/plugin.h"
#include "sdk/protocol.hpp"

namespace tubwarden::host {

/// Refuses a file that others could have written (world-writable, or neither root's nor ours, or in
/// a folder where anyone may replace it), another ABI, a table shorter than ABI 1's, without the
/// calls of its kind, or with an option row that lacks a word. A longer table is a later one: its
/// rest is ignored.
Result<const tw_plugin*> load_plugin(const std::string& path);

protocol::Description describe(const tw_plugin& plugin);

}  // namespace tubwarden::host
