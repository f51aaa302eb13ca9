#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <cstring>
#include <stdexcept>

#include "server.hpp"

namespace control_test {

Raw::Raw(const std::string& path) : fd_(::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  std::memcpy(address.sun_path, path.c_str(), path.size() + 1);
  if (::connect(fd_, reinterpret_cast<const sockaddr*>(&address), sizeof(address)) != 0) {
    throw std::runtime_error("no connection to " + path + ": " + std::strerror(errno));
  }
}

Raw::~Raw() { ::close(fd_); }

void Raw::say(const std::string& bytes) const {
  std::size_t sent = 0;
  while (sent < bytes.size()) {
    const ssize_t n = ::send(fd_, bytes.data() + sent, bytes.size() - sent, MSG_NOSIGNAL);
    if (n <= 0) return;
    sent += static_cast<std::size_t>(n);
  }
}

void Raw::half_close() const { ::shutdown(fd_, SHUT_WR); }

std::string Raw::line() {
  while (true) {
    const auto end = heard_.find('\n');
    if (end != std::string::npos) {
      const std::string line = heard_.substr(0, end);
      heard_.erase(0, end + 1);
      return line;
    }
    pollfd readable{fd_, POLLIN, 0};
    if (::poll(&readable, 1, 5000) <= 0) return "(nothing)";
    char bytes[4096];
    const ssize_t n = ::recv(fd_, bytes, sizeof(bytes), 0);
    if (n <= 0) return "(closed)";
    heard_.append(bytes, static_cast<std::size_t>(n));
  }
}

}  // namespace control_test
