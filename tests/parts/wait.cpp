#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <stdexcept>
#include <thread>

#include "parts/parts.hpp"

namespace parts {

bool wait_until(const std::function<bool()>& sign, std::chrono::milliseconds limit) {
  const Steady::time_point end = Steady::now() + limit;
  while (!sign()) {
    if (Steady::now() >= end) return sign();  // once more: we may have slept past it
    std::this_thread::sleep_for(5ms);
  }
  return true;
}

std::uint16_t free_port() {
  const int fd = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  if (fd < 0) throw std::runtime_error("free_port: no socket");
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  const bool bound = ::bind(fd, reinterpret_cast<sockaddr*>(&address), size) == 0 &&
                     ::getsockname(fd, reinterpret_cast<sockaddr*>(&address), &size) == 0;
  ::close(fd);
  if (!bound) throw std::runtime_error("free_port: cannot bind on loopback");
  return ntohs(address.sin_port);
}

}  // namespace parts
