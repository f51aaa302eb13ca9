// The command line as a whole: words in, an exit status out.
// Threading: blocks the caller. Failure: 1 could not be done, 2 wrong words; one sentence on stderr
// with the way out.
#pragma once

#include <string>
#include <vector>

namespace tubwarden::cli {

/// `words` without the program's name; `folder` is where the program stands.
int run(const std::vector<std::string>& words, const std::string& folder);

}  // namespace tubwarden::cli
