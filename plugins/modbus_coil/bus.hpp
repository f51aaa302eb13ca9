// One Modbus connection, shared by the coils that are wired to it: a serial line (RTU) or a TCP
// device. Threading: join, leave and write on the host's thread; a worker connects, probes and
// polls. A line's handlers are called from either, never after leave(). Failure: an outcome and
// its words; nothing is kept for later.
#pragma once

#include <modbus/modbus.h>

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

namespace tubwarden::modbus {

using Clock = std::chrono::steady_clock;

struct Address {
  std::string host;  ///< TCP; empty: a serial line
  int port = 502;
  std::string device;  ///< RTU
  int baud = 9600;
  char parity = 'N';
  int stop_bits = 1;
  std::chrono::milliseconds timeout{200};  ///< of one answer
  bool operator==(const Address&) const = default;
  /// What can be opened only once: "pump:502", "/dev/ttyUSB0".
  std::string place() const;
};

/// One coil of one device on the bus.
struct Line {
  int unit = 1;
  int coil = 0;
  bool read_back = false;
  std::function<void(bool yes, const std::string& why)> reach;
  std::function<void(bool on)> confirm;
  bool reachable = false;  ///< the bus's own note
};

enum class Outcome { done, unavailable, refused };
struct Written {
  Outcome outcome = Outcome::done;
  std::string why;
};

class Bus : public std::enable_shared_from_this<Bus> {
 public:
  /// The connection to that place, the one that there is or a new one; nothing when it is in use
  /// with other settings.
  static std::shared_ptr<Bus> to(const Address& address);
  ~Bus();
  Bus(const Bus&) = delete;
  Bus& operator=(const Bus&) = delete;

  /// False: another line switches that coil.
  bool join(Line& line);
  /// The last one to leave ends the connection.
  void leave(Line& line);
  /// Writes the coil and waits for the device's answer, until `deadline`. A connection that was
  /// lost is made again within it.
  Written write(Line& line, bool on, Clock::time_point deadline);

 private:
  struct Free {
    void operator()(modbus_t* context) const;
  };
  using Context = std::unique_ptr<modbus_t, Free>;
  enum class Fault { noise, silence, lost, refused, busy };

  explicit Bus(Address address) : address_(std::move(address)) {}
  void work();
  Context connect(std::string& why) const;
  void connected(Context context);
  void poll();
  void probe(Line& line);
  bool read(Line& line, bool& on);
  void prepare(const Line& line, Clock::time_point deadline);
  Fault after_fault(int error);
  void drop();
  void tell(Line& line, bool reachable, const std::string& why);

  const Address address_;
  std::atomic<int> waiting_{0};  ///< writes that wait for the lock: the worker lets them go first
  std::mutex lock_;              ///< over everything below, and over each exchange with a device
  std::condition_variable changed_;
  Context context_;
  std::vector<Line*> lines_;
  std::size_t next_ = 0;  ///< the line that is polled next
  std::string last_why_;  ///< of a connection that is not made
  int silences_ = 0;      ///< answers that did not come, one after another
  bool started_ = false, stopping_ = false;
};

}  // namespace tubwarden::modbus
