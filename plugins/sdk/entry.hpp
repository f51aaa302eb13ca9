// What the entries of the plugins of this tree have in common: their table, their words, and that
// no exception leaves a call. Threading: as the calls of plugin.h. Failure: a code of plugin.h,
// behind the words for it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <exception>
#include <string>

#include "base/result.hpp"
#include "sdk/plugin.h"

namespace tubwarden {

/// A driver's table.
template <std::size_t Rows>
constexpr tw_plugin actuator(const char* name, std::uint32_t can, const tw_option (&rows)[Rows],
                             decltype(tw_plugin::open) open, decltype(tw_plugin::apply) apply,
                             decltype(tw_plugin::make_safe) make_safe,
                             decltype(tw_plugin::close) close) {
  return {TW_ABI,
          sizeof(tw_plugin),
          TW_KIND_ACTUATOR,
          can,
          name,
          rows,
          Rows,
          open,
          apply,
          make_safe,
          close,
          nullptr};
}

/// A channel's table.
template <std::size_t Rows>
constexpr tw_plugin channel(const char* name, const tw_option (&rows)[Rows],
                            decltype(tw_plugin::deliver) deliver) {
  return {TW_ABI, sizeof(tw_plugin), TW_KIND_CHANNEL, 0,       name,    rows,
          Rows,   nullptr,           nullptr,         nullptr, nullptr, deliver};
}

/// Says why, and gives the code back.
inline std::int32_t fail(const tw_host* host, std::int32_t code, const std::string& why) {
  host->say(host->context, TW_ERROR, why.c_str());
  return code;
}

/// Of something a channel was given: a wiring that is wrong stays wrong, anything else is tried
/// again.
inline std::int32_t fail(const tw_host* host, const Error& error) {
  return fail(host, error.code == ErrorCode::bad_input ? TW_BAD_OPTION : TW_FAILED, error.text);
}

/// What `work` answers; an exception is a failure with its words.
template <class Work>
std::int32_t guarded(const tw_host* host, const Work& work) noexcept {
  try {
    return work();
  } catch (const std::exception& e) {
    return fail(host, TW_FAILED, e.what());
  }
}

}  // namespace tubwarden
