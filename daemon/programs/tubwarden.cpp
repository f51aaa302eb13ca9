// tubwarden: the command line. See docs/commands.md.

#include <filesystem>

#include "programs/cli/cli.hpp"

int main(int argc, char** argv) {
  const std::vector<std::string> words(argv + 1, argv + argc);
  return tubwarden::cli::run(words, std::filesystem::canonical("/proc/self/exe").parent_path());
}
