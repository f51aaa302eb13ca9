// Passwords and tokens, which stand in files of their own and nowhere else.
// Threading: any thread; reads one small file. Failure: an Error that names the file and what is
// allowed, never what stands in it.
#pragma once

#include <string>

#include "base/result.hpp"

namespace tubwarden {

/// The first line of a plain file of at most 4 KiB that others can neither read nor write. `where`
/// is a full path, or the bare name of a credential of the service manager
/// ($CREDENTIALS_DIRECTORY). A file that is not there now is `unavailable`, the rest `bad_input`.
Result<std::string> read_secret(const std::string& where);

}  // namespace tubwarden
