#include "shell/control/control_client.hpp"

#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <cstring>

#include "shell/control/wire.hpp"

namespace tubwarden {
namespace {

using Steady = std::chrono::steady_clock;

class Socket {
 public:
  Socket() : fd_(::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0)) {}
  ~Socket() {
    if (fd_ >= 0) ::close(fd_);
  }
  Socket(const Socket&) = delete;
  Socket& operator=(const Socket&) = delete;
  int fd() const { return fd_; }

 private:
  int fd_;
};

Error away(const std::string& path, int code) {
  if (code == EACCES) {
    return {ErrorCode::refused, "you may not use " + path +
                                    "; join the group of the daemon (usually: sudo usermod -aG "
                                    "tubwarden $USER), or use sudo"};
  }
  if (code == EAGAIN) {
    return {ErrorCode::unavailable, "the daemon at " + path + " is busy; try again in a moment"};
  }
  return {ErrorCode::unavailable,
          "no daemon answers at " + path + " (" + std::strerror(code) +
              "). Start tubwardend, or name its socket with --socket or TUBWARDEN_SOCKET"};
}

int left_ms(Steady::time_point end) {
  const auto left = std::chrono::ceil<std::chrono::milliseconds>(end - Steady::now()).count();
  return left > 0 ? static_cast<int>(left) : 0;
}

bool ready(int fd, short what, Steady::time_point end) {
  pollfd poll_fd{fd, what, 0};
  while (true) {
    const int n = ::poll(&poll_fd, 1, left_ms(end));
    if (n < 0 && errno == EINTR) continue;
    return n > 0;
  }
}

Error late() {
  return {ErrorCode::timed_out,
          "the daemon did not answer in time; what was asked may or may not have happened"};
}

Error hung_up() {
  return {ErrorCode::unavailable,
          "the daemon hung up before it answered; see its log, and try again"};
}

Result<std::string> answer_of(int fd, Steady::time_point end) {
  std::string answer;
  std::size_t seen = 0;
  std::array<char, 16384> bytes{};
  while (true) {
    const std::size_t newline = answer.find('\n', seen);
    if (newline != std::string::npos) return wire::parse_answer(answer.substr(0, newline));
    seen = answer.size();
    if (seen > wire::kAnswerMax) return Error{ErrorCode::broken, "the answer is too long"};
    if (!ready(fd, POLLIN, end)) return late();
    const ssize_t n = ::recv(fd, bytes.data(), bytes.size(), 0);
    if (n < 0 && (errno == EAGAIN || errno == EINTR)) continue;
    if (n <= 0) return hung_up();
    answer.append(bytes.data(), static_cast<std::size_t>(n));
  }
}

}  // namespace

Result<std::string> ask_daemon(const std::string& socket, const std::string& what,
                               const std::string& args_json, Duration within) {
  const auto end = Steady::now() + within;
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  if (socket.size() >= sizeof(address.sun_path)) {
    return Error{ErrorCode::bad_input, "the socket's path is too long: " + socket};
  }
  std::memcpy(address.sun_path, socket.c_str(), socket.size() + 1);
  const std::string line = wire::request_line(what, args_json);
  if (line.size() > wire::kLineMax) {
    return Error{ErrorCode::bad_input, "that is more than the 64 KiB one request may hold"};
  }
  const Socket s;
  if (::connect(s.fd(), reinterpret_cast<const sockaddr*>(&address), sizeof(address)) != 0) {
    return away(socket, errno);
  }
  std::size_t sent = 0;
  while (sent < line.size()) {
    if (!ready(s.fd(), POLLOUT, end)) return late();
    const ssize_t n = ::send(s.fd(), line.data() + sent, line.size() - sent, MSG_NOSIGNAL);
    if (n < 0 && (errno == EAGAIN || errno == EINTR)) continue;
    // One that turns us away says why before it closes.
    if (n <= 0) break;
    sent += static_cast<std::size_t>(n);
  }
  return answer_of(s.fd(), end);
}

}  // namespace tubwarden
