#include "settings/last_good.hpp"

#include <array>
#include <string>
#include <system_error>

namespace tubwarden {
namespace {

namespace fs = std::filesystem;

constexpr int kCopiedFilesMax = 5000;  // as many as are read
constexpr std::uintmax_t kBytesMax = 1024 * 1024;
constexpr std::array<const char*, 4> kFolders = {"", "profiles", "chambers", "tubs"};

Error failed(const fs::path& path, const std::error_code& code) {
  return {ErrorCode::unavailable,
          "the last good copy could not be kept at " + path.string() + ": " + code.message()};
}

}  // namespace

fs::path last_good_in(const fs::path& state) { return state / "last-good"; }

Outcome keep_last_good(const fs::path& folder, const fs::path& state) {
  std::error_code code;
  const fs::path fresh = state / "last-good.new";
  const fs::path old = state / "last-good.old";
  fs::remove_all(fresh, code);
  int files = 0;
  for (const char* name : kFolders) {
    const fs::path from = folder / name;
    if (!fs::is_directory(from, code)) continue;
    fs::create_directories(fresh / name, code);
    if (code) return failed(fresh / name, code);
    for (const auto& file : fs::directory_iterator(from, code)) {
      if (file.path().extension() != ".yaml" || !file.is_regular_file(code)) continue;
      if (file.file_size(code) > kBytesMax || ++files > kCopiedFilesMax) continue;
      fs::copy_file(file.path(), fresh / name / file.path().filename(), code);
      if (code) return failed(file.path(), code);
    }
  }
  // Two renames: between them there is no copy under the name, but both copies are whole.
  fs::remove_all(old, code);
  fs::rename(last_good_in(state), old, code);
  fs::rename(fresh, last_good_in(state), code);
  if (code) return failed(last_good_in(state), code);
  fs::remove_all(old, code);
  return Done{};
}

}  // namespace tubwarden
