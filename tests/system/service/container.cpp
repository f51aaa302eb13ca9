#include "container.hpp"

#include <signal.h>
#include <unistd.h>

#include <fstream>
#include <sstream>
#include <stdexcept>

namespace container {

namespace fs = std::filesystem;
using namespace std::chrono_literals;

namespace {

const std::string kTarget = "/etc/systemd/system/booted.target";

/// The folders in which systemd-nspawn --keep-unit makes its two cgroups.
std::vector<fs::path> own_cgroups() {
  std::vector<fs::path> found;
  std::ifstream file("/proc/self/cgroup");
  for (std::string line; std::getline(file, line);) {
    const std::string path = line.substr(line.rfind(':') + 1);
    for (const char* mount :
         {"/sys/fs/cgroup/systemd", "/sys/fs/cgroup/unified", "/sys/fs/cgroup"}) {
      for (const char* name : {"payload", "supervisor"}) {
        found.push_back(fs::path(mount + path) / name);
      }
    }
  }
  return found;
}

const std::string kInitWords = "systemd.unit=booted.target";

/// Of a file in /proc, which may be gone by now.
std::string contents(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

/// The child of a process whose command line contains `word`, or 0.
int child_of(int parent, const std::string& word) {
  std::error_code gone;
  for (const fs::directory_entry& entry : fs::directory_iterator("/proc", gone)) {
    const std::string name = entry.path().filename();
    if (name.find_first_not_of("0123456789") != std::string::npos) continue;
    const std::string status = contents(entry.path() / "status");
    if (status.find("\nPPid:\t" + std::to_string(parent) + "\n") == std::string::npos) continue;
    if (contents(entry.path() / "cmdline").find(word) != std::string::npos) {
      return std::stoi(name);
    }
  }
  return 0;
}

/// A tree of cgroups, as far as its processes are gone.
void remove_cgroups(const fs::path& top) {
  std::error_code code;
  if (!fs::is_directory(top, code)) return;
  for (const auto& entry : fs::directory_iterator(top, code)) {
    if (entry.is_directory(code)) remove_cgroups(entry.path());
  }
  ::rmdir(top.c_str());
}

}  // namespace

std::optional<std::string> cannot_boot() {
  if (::geteuid() != 0) return "only root may start a container";
  try {
    Container probe;
    probe.boot();
    return std::nullopt;
  } catch (const std::exception& error) {
    return error.what();
  }
}

Container::Container() : cgroups_(own_cgroups()) {
  const fs::path root = folder_.path() / "root";
  for (const char* name :
       {"usr", "etc/systemd/system", "var", "run", "tmp", "proc", "sys", "dev"}) {
    fs::create_directories(root / name);
  }
  fs::create_directories(folder_.path() / "stage/usr");
  for (const char* name : {"bin", "sbin", "lib", "lib64"}) {
    if (fs::is_symlink(fs::path("/") / name)) {
      fs::create_symlink(fs::read_symlink(fs::path("/") / name), root / name);
    }
  }
  write("/etc/passwd", "root:x:0:0:root:/root:/bin/sh\n");
  write("/etc/group", "root:x:0:\n");
  write("/etc/machine-id", "");
  fs::copy_file("/etc/os-release", root / "etc/os-release");
  write(kTarget,
        "[Unit]\nRequires=sysinit.target\nWants=systemd-journald.service\nAfter=sysinit.target\n");
}

Container::~Container() {
  if (running() && init_ != 0) {
    systemctl({"poweroff", "--force", "--force"});  // at once; nspawn puts its own files away
    process_->wait(5s);
  }
  process_.reset();
  for (const fs::path& made : cgroups_) {
    parts::wait_until(
        [&] {
          remove_cgroups(made);
          return !fs::exists(made);
        },
        5s);
  }
}

void Container::install_tree() {
  const parts::Ran ran = parts::run({"env", "DESTDIR=" + (folder_.path() / "stage").string(),
                                     "cmake", "--install", TUBWARDEN_BUILD_DIR, "--prefix", "/usr"},
                                    60s);
  if (ran.status != 0) throw std::runtime_error("cmake --install: " + ran.out + ran.err);
}

fs::path Container::outside(const std::string& path) const {
  return folder_.path() / "root" / path.substr(1);
}

void Container::write(const std::string& path, const std::string& text) const {
  folder_.write("root" + path, text);
}

void Container::boot() {
  const std::string usr = "/usr:" + (folder_.path() / "stage/usr").string() + ":/usr";
  // In a PID namespace of its own, so that nothing outlives this test, however it ends: by itself a
  // container survives the end of its systemd-nspawn.
  process_ = std::make_unique<parts::Process>(std::vector<std::string>{
      "unshare", "--pid", "--fork", "--kill-child", "--mount-proc", "systemd-nspawn", "--quiet",
      "--register=no", "--keep-unit", "--settings=no", "--directory",
      (folder_.path() / "root").string(), "--overlay-ro=" + usr, "--console=pipe",
      "--link-journal=no", "--boot", kInitWords});
  const bool up = parts::wait_until(
      [&] {
        if (!running()) return true;
        // Anew each time: before it is the init, a child of nspawn carries nspawn's own words.
        init_ = init_pid();
        return init_ != 0 && systemctl({"is-active", "booted.target"}).status == 0;
      },
      20s);
  if (!up || !running()) throw std::runtime_error("the container does not boot: " + console());
}

bool Container::running() const { return process_ && !process_->wait(0ms); }

int Container::init_pid() const {
  const int nspawn = child_of(process_->pid(), "systemd-nspawn");
  return nspawn == 0 ? 0 : child_of(nspawn, kInitWords);
}

parts::Ran Container::run(std::vector<std::string> argv) const {
  std::vector<std::string> words = {"nsenter", "--all", "--target", std::to_string(init_), "--"};
  words.insert(words.end(), argv.begin(), argv.end());
  return parts::run(words, 30s);
}

std::string Container::console() const { return process_ ? process_->out() + process_->err() : ""; }

parts::Ran Container::systemctl(std::vector<std::string> words) const {
  words.insert(words.begin(), "systemctl");
  return run(words);
}

std::string Container::property(const std::string& name) const {
  std::string text = systemctl({"show", "--value", "--property", name, "tubwarden.service"}).out;
  while (!text.empty() && text.back() == '\n') text.pop_back();
  return text;
}

std::string Container::journal() const {
  return run({"journalctl", "--no-pager", "--output=cat", "--unit=tubwarden.service"}).out;
}

}  // namespace container
