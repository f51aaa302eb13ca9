// A Modbus device with 16 coils, by libmodbus' own server side:
//   modbus_device tcp PORT FILE UNIT... | modbus_device rtu TTY FILE UNIT...
// Every write of a coil is a line "boot_ns unit coil value" in FILE, and so is "connect" of a TCP
// client. It answers for its units only (over rtu: one). Signals change how it behaves: SIGUSR1
// falls silent, SIGUSR2 answers again, SIGHUP refuses each write, SIGINT sets coil 0 off as a hand
// would.

#include <fcntl.h>
#include <modbus/modbus.h>
#include <time.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string>
#include <vector>

namespace {

volatile std::sig_atomic_t silent = 0, refusing = 0, by_hand = 0;

void on_signal(int number) {
  if (number == SIGUSR1) silent = 1;
  if (number == SIGUSR2) {
    silent = 0;
    refusing = 0;
  }
  if (number == SIGHUP) refusing = 1;
  if (number == SIGINT) by_hand = 1;
}

class Journal {
 public:
  explicit Journal(const char* path)
      : file_(::open(path, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0644)) {}
  void note(const std::string& what) const {
    timespec now{};
    ::clock_gettime(CLOCK_BOOTTIME, &now);
    const std::string line =
        std::to_string(now.tv_sec * 1'000'000'000LL + now.tv_nsec) + " " + what + "\n";
    if (::write(file_, line.data(), line.size()) < 0) std::exit(3);
  }

 private:
  int file_;
};

struct Device {
  modbus_t* bus;
  bool tcp;
  std::vector<int> units;
  std::vector<modbus_mapping_t*> coils;
  Journal journal;

  /// One query and its answer; false when the connection is over.
  bool turn() {
    std::uint8_t query[MODBUS_TCP_MAX_ADU_LENGTH];
    const int length = modbus_receive(bus, query);
    if (by_hand != 0) {
      by_hand = 0;
      coils[0]->tab_bits[0] = 0;
    }
    if (length < 0) return !tcp || errno == EINTR;
    if (length == 0) return true;
    const std::uint8_t* pdu = query + modbus_get_header_length(bus);
    const int unit = pdu[-1];
    const auto found = std::find(units.begin(), units.end(), unit);
    if (silent != 0 || found == units.end()) return true;
    if (pdu[0] == MODBUS_FC_WRITE_SINGLE_COIL) {
      if (refusing != 0) {
        modbus_reply_exception(bus, query, MODBUS_EXCEPTION_SLAVE_OR_SERVER_FAILURE);
        return true;
      }
      journal.note(std::to_string(unit) + " " + std::to_string(pdu[1] * 256 + pdu[2]) + " " +
                   (pdu[3] == 0xFF ? "1" : "0"));
    }
    modbus_reply(bus, query, length, coils[static_cast<std::size_t>(found - units.begin())]);
    return true;
  }
};

int serve_tcp(Device& device) {
  int listener = modbus_tcp_listen(device.bus, 1);
  if (listener < 0) return 2;
  device.journal.note("listening");
  for (;;) {
    if (modbus_tcp_accept(device.bus, &listener) < 0) continue;
    device.journal.note("connect");
    while (device.turn()) continue;
    modbus_close(device.bus);
  }
}

int serve_rtu(Device& device) {
  // libmodbus hears one unit only on a serial line.
  if (modbus_set_slave(device.bus, device.units[0]) != 0) return 2;
  if (modbus_connect(device.bus) != 0) return 2;
  device.journal.note("listening");
  for (;;) device.turn();
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 5) return 64;
  struct sigaction action {};
  action.sa_handler = on_signal;
  for (const int number : {SIGUSR1, SIGUSR2, SIGHUP, SIGINT}) ::sigaction(number, &action, nullptr);
  const bool tcp = std::strcmp(argv[1], "tcp") == 0;
  Device device{tcp ? modbus_new_tcp("127.0.0.1", std::atoi(argv[2]))
                    : modbus_new_rtu(argv[2], 19200, 'N', 8, 1),
                tcp,
                {},
                {},
                Journal(argv[3])};
  for (int i = 4; i < argc; ++i) {
    device.units.push_back(std::atoi(argv[i]));
    device.coils.push_back(modbus_mapping_new(16, 0, 0, 0));
  }
  return tcp ? serve_tcp(device) : serve_rtu(device);
}
