#include "programs/cli/init_write.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <utility>

namespace tubwarden::cli {
namespace {

namespace fs = std::filesystem;

constexpr std::array<const char*, 4> kFolders = {"", "profiles", "chambers", "tubs"};

Error cannot(const std::string& what, int code) {
  return {ErrorCode::unavailable, what + ": " + std::strerror(code) + "; nothing was written"};
}

/// On the disk when this returns, so that a power cut leaves no empty file under a good name.
Outcome write_surely(const fs::path& path, const std::string& text) {
  const int fd = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
  if (fd < 0) return cannot(path.string(), errno);
  std::size_t done = 0;
  int failed = 0;
  while (done < text.size() && failed == 0) {
    const ssize_t n = ::write(fd, text.data() + done, text.size() - done);
    if (n >= 0) done += static_cast<std::size_t>(n);
    if (n < 0 && errno != EINTR) failed = errno;
  }
  if (failed == 0 && ::fsync(fd) != 0) failed = errno;
  if (::close(fd) != 0 && failed == 0) failed = errno;
  if (failed != 0) return cannot(path.string(), failed);
  return Done{};
}

/// mkdtemp makes a folder for its owner alone; this one is to be read like any other.
void open_up(const fs::path& folder) {
  const mode_t mask = ::umask(0);
  ::umask(mask);
  ::chmod(folder.c_str(), 0777 & ~mask);
}

}  // namespace

Result<StagedFolder> StagedFolder::make(const fs::path& folder, const std::vector<NewFile>& files) {
  StagedFolder staged;
  staged.folder_ = folder;
  staged.files_ = files;
  std::error_code code;
  staged.fresh_ = !fs::exists(folder, code);
  if (staged.fresh_) fs::create_directories(folder.parent_path(), code);
  // In the folder itself where it is there: its parent may be another's. Hidden names are not read.
  const fs::path parent = staged.fresh_ ? folder.parent_path() : folder;
  std::string name = (parent / ".tubwarden-init-XXXXXX").string();
  if (!::mkdtemp(name.data())) return cannot("a file cannot be made in " + parent.string(), errno);
  staged.stage_ = name;
  open_up(staged.stage_);
  if (const Outcome filled = staged.fill(); !filled.ok()) return filled.error();
  return staged;
}

StagedFolder::StagedFolder(StagedFolder&& other) noexcept
    : folder_(std::move(other.folder_)),
      stage_(std::exchange(other.stage_, {})),
      files_(std::move(other.files_)),
      fresh_(other.fresh_) {}

StagedFolder::~StagedFolder() {
  std::error_code ignored;
  if (!stage_.empty()) fs::remove_all(stage_, ignored);
}

Outcome StagedFolder::fill() {
  std::error_code code;
  for (const char* name : kFolders) {
    if (fresh_ || !fs::is_directory(folder_ / name, code)) continue;
    fs::create_directories(stage_ / name, code);
    for (const auto& file : fs::directory_iterator(folder_ / name, code)) {
      if (file.path().extension() != ".yaml" || !file.is_regular_file(code)) continue;
      fs::copy_file(file.path(), stage_ / name / file.path().filename(), code);
      if (code) return cannot(file.path().string(), code.value());
    }
  }
  for (const NewFile& file : files_) {
    const fs::path path = stage_ / file.name;
    fs::create_directories(path.parent_path(), code);
    if (code) return cannot(path.parent_path().string(), code.value());
    if (const Outcome wrote = write_surely(path, file.text); !wrote.ok()) return wrote;
  }
  return Done{};
}

Outcome StagedFolder::publish() { return fresh_ ? publish_whole() : publish_files(); }

Outcome StagedFolder::publish_whole() {
  // A folder of that name made meanwhile: only an empty one gives way.
  if (::rename(stage_.c_str(), folder_.c_str()) != 0) return cannot(folder_.string(), errno);
  stage_.clear();
  return Done{};
}

/// A link never takes the place of a file that is there.
Outcome StagedFolder::publish_files() {
  std::vector<fs::path> placed;
  for (const NewFile& file : files_) {
    const fs::path to = folder_ / file.name;
    std::error_code code;
    fs::create_directories(to.parent_path(), code);
    if (!code && ::link((stage_ / file.name).c_str(), to.c_str()) == 0) {
      placed.push_back(to);
      continue;
    }
    const int failed = code ? code.value() : errno;
    for (const fs::path& path : placed) fs::remove(path, code);
    return cannot(to.string(), failed);
  }
  return Done{};
}

}  // namespace tubwarden::cli
