// The command line: words into a request, an answer into text and an exit status.
// Threading: one thread, blocks. Failure: exit 1 when it could not be done, 2 when the words are
// wrong; each with one sentence on stderr.
#pragma once

namespace tubwarden::cli {

int command_line(int argc, char** argv);

}  // namespace tubwarden::cli
