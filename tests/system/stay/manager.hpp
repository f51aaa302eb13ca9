// The service manager's end of sd_notify: a datagram socket of the test's own.
// Threading: the test's thread. Failure: throws when there can be no socket.
#pragma once

#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <chrono>
#include <stdexcept>
#include <string>
#include <vector>

#include "parts/parts.hpp"

namespace stay {

class Manager {
 public:
  Manager() : fd_(::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0)) {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    path().copy(address.sun_path, sizeof(address.sun_path) - 1);
    if (::bind(fd_, reinterpret_cast<const sockaddr*>(&address), sizeof(address)) != 0) {
      throw std::runtime_error("no socket " + path());
    }
  }
  ~Manager() { ::close(fd_); }
  Manager(const Manager&) = delete;
  Manager& operator=(const Manager&) = delete;

  std::string environment() const { return "NOTIFY_SOCKET=" + path(); }

  struct Word {
    std::string text;
    parts::Steady::time_point at;
  };
  /// All that was said so far, each with the time at which it was taken here.
  const std::vector<Word>& words() {
    char bytes[4096];
    ssize_t n = 0;
    while ((n = ::recv(fd_, bytes, sizeof bytes, 0)) > 0) {
      words_.push_back({std::string(bytes, static_cast<std::size_t>(n)), parts::Steady::now()});
    }
    return words_;
  }
  bool heard(const std::string& piece) {
    for (const Word& word : words()) {
      if (word.text.find(piece) != std::string::npos) return true;
    }
    return false;
  }

 private:
  std::string path() const { return (folder_.path() / "notify").string(); }
  parts::TempFolder folder_;
  int fd_;
  std::vector<Word> words_;
};

}  // namespace stay
