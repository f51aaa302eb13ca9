// The table of what the sheet answers: docs/sheet-api.yaml is held against it.
// Threading: constant data and pure functions. Failure: a wrong argument is an error that names
// what is allowed.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "base/result.hpp"

namespace tubwarden::sheet {

enum class Needs { nothing, read, act };

/// What kind of answer a route has.
enum class Desk {
  ask,      ///< the warden's, to `word`
  act,      ///< likewise; the body is its arguments
  me,       ///< who asks
  live,     ///< events
  metrics,  ///< figures
  signin,
  signout,
};

struct Route {
  std::string_view method, path;  ///< of the path, {name} is an argument
  Needs needs;
  Desk desk;
  std::string_view word;  ///< the warden's
  std::string_view
      query;  ///< "a|b?|n#?": what may stand behind "?"; ?: may be missing; #: a number
};

std::span<const Route> routes();
/// The route of a path; where there is none for this method, `path_known` says whether there is one
/// for another.
const Route* route_for(std::string_view method, std::string_view path, bool& path_known);
/// The arguments of the warden's word, from path and query.
Result<std::string> args_of(const Route& route, std::string_view path, std::string_view query);
/// The same of a body: one object of JSON, not deep.
Result<std::string> args_in(const std::string& body);

}  // namespace tubwarden::sheet
