// A container that boots the systemd of this machine for real: /usr is the machine's, with the
// installed tree laid over it; /etc, /var and /run are its own; the network is the machine's, so
// that a broker outside on loopback is in reach. Threading: the test's thread. Failure: throws,
// with what the console said; cannot_boot() tells apart a machine on which none can boot.
#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "parts/parts.hpp"

namespace container {

/// Why no container boots here, or nothing when one did.
std::optional<std::string> cannot_boot();

class Container {
 public:
  /// Boots when told to: files may be written before.
  Container();
  /// Powers off at once, and leaves nothing behind.
  ~Container();
  Container(const Container&) = delete;
  Container& operator=(const Container&) = delete;

  /// The tree as `cmake --install` puts it, prefix /usr.
  void install_tree();
  /// A file of the container, as the machine sees it; not below /usr, /run, /tmp.
  std::filesystem::path outside(const std::string& path) const;
  void write(const std::string& path, const std::string& text) const;

  /// Boots up to the end of sysinit.target.
  void boot();
  bool running() const;
  /// Runs a program in it, as root.
  parts::Ran run(std::vector<std::string> argv) const;
  std::string console() const;

  // Of the unit under test, by systemctl in the container.
  parts::Ran systemctl(std::vector<std::string> words) const;
  /// One property of tubwarden.service.
  std::string property(const std::string& name) const;
  int number(const std::string& name) const { return std::stoi(property(name)); }
  /// The unit's journal.
  std::string journal() const;

 private:
  int init_pid() const;

  parts::TempFolder folder_;
  std::vector<std::filesystem::path> cgroups_;  ///< that nspawn makes beside us and leaves
  std::unique_ptr<parts::Process> process_;
  int init_ = 0;
};

}  // namespace container
