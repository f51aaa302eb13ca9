#include "modbus_coil/bus.hpp"

#include <sys/file.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <map>
#include <thread>
#include <utility>

namespace tubwarden::modbus {

namespace {

using std::chrono::milliseconds;

constexpr milliseconds kConnectMax{2000};
constexpr milliseconds kFirstBackoff{200}, kBackoffMax{5000};
constexpr milliseconds kPollEach{1000};
constexpr int kTries = 2;
/// So many answers missing in a row, from whatever device: the connection itself is made again.
constexpr int kSilencesMax = 3;

void set_timeout(modbus_t* context, milliseconds timeout) {
  const auto ms = std::max<std::int64_t>(timeout.count(), 1);
  modbus_set_response_timeout(context, static_cast<std::uint32_t>(ms / 1000),
                              static_cast<std::uint32_t>(ms % 1000 * 1000));
}

std::mutex all_lock;
std::map<std::string, std::weak_ptr<Bus>>& all_buses() {
  static auto* all = new std::map<std::string, std::weak_ptr<Bus>>;  // outlives any worker
  return *all;
}

}  // namespace

std::string Address::place() const {
  return host.empty() ? device : host + ":" + std::to_string(port);
}

void Bus::Free::operator()(modbus_t* context) const {
  modbus_close(context);
  modbus_free(context);
}

std::shared_ptr<Bus> Bus::to(const Address& address) {
  const std::lock_guard hold(all_lock);
  std::weak_ptr<Bus>& slot = all_buses()[address.place()];
  if (auto bus = slot.lock(); bus && !bus->stopping_) {
    return bus->address_ == address ? bus : nullptr;
  }
  const std::shared_ptr<Bus> bus(new Bus(address));
  slot = bus;
  return bus;
}

Bus::~Bus() = default;

bool Bus::join(Line& line) {
  const std::lock_guard hold(lock_);
  for (const Line* other : lines_) {
    if (other->unit == line.unit && other->coil == line.coil) return false;
  }
  lines_.push_back(&line);
  if (context_) {
    tell(line, true, "");
  } else {
    line.reach(false, "connecting to " + address_.place());
  }
  // Detached: looking up a name may take longer than a close() may.
  if (!std::exchange(started_, true)) {
    std::thread([self = shared_from_this()] { self->work(); }).detach();
  }
  return true;
}

void Bus::leave(Line& line) {
  const std::lock_guard others(all_lock);
  const std::lock_guard hold(lock_);
  std::erase(lines_, &line);
  if (!lines_.empty()) return;
  stopping_ = true;
  context_.reset();
  changed_.notify_all();
}

void Bus::tell(Line& line, bool reachable, const std::string& why) {
  if (line.reachable == reachable) return;
  line.reachable = reachable;
  line.reach(reachable, why);
}

void Bus::drop() {
  context_.reset();
  silences_ = 0;
  changed_.notify_all();
}

Bus::Fault Bus::after_fault(int error) {
  switch (error) {
    case EMBXGPATH:  // a gateway's word that the device behind it is silent
    case EMBXGTAR:
      return Fault::silence;
    case EMBXSBUSY:
    case EMBXACK:
      return Fault::busy;
    case ETIMEDOUT:
      if (++silences_ >= kSilencesMax) {
        drop();
        return Fault::lost;
      }
      modbus_flush(context_.get());
      return Fault::silence;
    case EMBBADCRC:
    case EMBBADDATA:
    case EMBBADEXC:
    case EMBMDATA:
    case EMBBADSLAVE:
    case EINTR:
      modbus_flush(context_.get());
      return Fault::noise;
    default:  // an open set: errno
      break;
  }
  if (error > MODBUS_ENOBASE && error < EMBBADCRC) return Fault::refused;
  drop();
  return Fault::lost;
}

void Bus::prepare(const Line& line, Clock::time_point deadline) {
  const auto left = std::chrono::duration_cast<milliseconds>(deadline - Clock::now());
  set_timeout(context_.get(), std::min(address_.timeout, left));
  modbus_set_slave(context_.get(), line.unit);
}

Written Bus::write(Line& line, bool on, Clock::time_point deadline) {
  ++waiting_;
  std::unique_lock hold(lock_);
  --waiting_;
  std::string why = "no connection to " + address_.place();
  bool lost = false;
  for (int tries = 0; tries < kTries; ++tries) {
    // A device closes an idle connection when it likes: the worker makes it again at once.
    if (lost) changed_.wait_until(hold, deadline, [this] { return context_ != nullptr; });
    if (!context_ || Clock::now() >= deadline) break;
    prepare(line, deadline);
    if (modbus_write_bit(context_.get(), line.coil, on ? 1 : 0) == 1) {
      silences_ = 0;
      tell(line, true, "");
      bool stands = false;
      if (line.read_back && Clock::now() < deadline) {
        prepare(line, deadline);
        if (read(line, stands)) {
          line.confirm(stands);
        } else {
          after_fault(errno);  // no word then, which the daemon misses by itself
        }
      }
      return {};
    }
    const int error = errno;
    why = "unit " + std::to_string(line.unit) + " at " + address_.place() + ": " +
          modbus_strerror(error);
    const Fault fault = after_fault(error);
    if (fault == Fault::refused) return {Outcome::refused, why};
    lost = fault == Fault::lost;
  }
  tell(line, false, why);
  return {Outcome::unavailable, why};
}

bool Bus::read(Line& line, bool& on) {
  std::uint8_t bit = 0;
  if (modbus_read_bits(context_.get(), line.coil, 1, &bit) == 1) {
    silences_ = 0;
    on = bit != 0;
    return true;
  }
  return false;
}

void Bus::probe(Line& line) {
  prepare(line, Clock::now() + address_.timeout);
  bool on = false;
  if (read(line, on)) {
    tell(line, true, "");
    if (line.read_back) line.confirm(on);
    return;
  }
  const int error = errno;
  const Fault fault = after_fault(error);
  // A device that answers "no such function" is there.
  if (fault == Fault::refused || fault == Fault::busy) return tell(line, true, "");
  if (fault == Fault::noise) return;
  tell(line, false,
       "unit " + std::to_string(line.unit) + " at " + address_.place() + ": " +
           modbus_strerror(error));
}

/// One look at each line that is out of reach or is to be read, while no write waits.
void Bus::poll() {
  for (std::size_t seen = 0; seen < lines_.size() && context_ && waiting_ == 0; ++seen) {
    next_ = (next_ + 1) % lines_.size();
    Line& line = *lines_[next_];
    if (!line.reachable || line.read_back) probe(line);
  }
}

Bus::Context Bus::connect(std::string& why) const {
  Context context(address_.host.empty() ? modbus_new_rtu(address_.device.c_str(), address_.baud,
                                                         address_.parity, 8, address_.stop_bits)
                                        : modbus_new_tcp_pi(address_.host.c_str(),
                                                            std::to_string(address_.port).c_str()));
  if (context) set_timeout(context.get(), kConnectMax);
  if (!context || modbus_connect(context.get()) != 0) {
    why = address_.place() + ": " + modbus_strerror(errno);
    return nullptr;
  }
  const int fd = modbus_get_socket(context.get());
  if (address_.host.empty() && ::flock(fd, LOCK_EX | LOCK_NB) != 0) {
    why = address_.place() + " is in use by another process";
    return nullptr;
  }
  return context;
}

void Bus::connected(Context context) {
  context_ = std::move(context);
  last_why_.clear();
  changed_.notify_all();
  for (Line* line : lines_) tell(*line, true, "");
}

void Bus::work() {
  milliseconds backoff = kFirstBackoff;
  std::unique_lock hold(lock_);
  while (!stopping_) {
    if (context_) {
      const bool woken =
          changed_.wait_for(hold, kPollEach, [this] { return stopping_ || context_ == nullptr; });
      if (!woken) poll();
      continue;
    }
    std::string why;
    hold.unlock();
    Context context = connect(why);
    hold.lock();
    if (stopping_) return;
    if (context) {
      backoff = kFirstBackoff;
      connected(std::move(context));
      continue;
    }
    if (std::exchange(last_why_, why) != why) {
      for (Line* line : lines_) line->reach(false, why);
    }
    changed_.wait_for(hold, std::exchange(backoff, std::min(2 * backoff, kBackoffMax)),
                      [this] { return stopping_; });
  }
}

}  // namespace tubwarden::modbus
