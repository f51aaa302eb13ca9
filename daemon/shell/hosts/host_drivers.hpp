// The outputs behind plugin hosts: one process a plugin (or an output that asks for its own),
// started, fed, renewed, restarted and stopped. Threading: the loop's thread. Failure: reported as
// OutputHealth; a host that crashes is started again by core's restart policy, and what would stay
// unattended is made safe by a safe-run.
#pragma once

#include <boost/asio/io_context.hpp>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "ports/drivers.hpp"
#include "shell/hosts/host_options.hpp"

namespace tubwarden {

class HostDrivers : public Drivers {
 public:
  HostDrivers(boost::asio::io_context& loop, HostOptions options);
  /// Hangs up: hosts see their socket end, make all safe and exit by themselves.
  ~HostDrivers() override;
  HostDrivers(const HostDrivers&) = delete;
  HostDrivers& operator=(const HostDrivers&) = delete;

  void start(std::function<void(const OutputReport&)> report) override;
  /// New outputs are opened once every changed or removed one is safe and closed.
  void want(std::vector<OutputPlan> outputs) override;
  void command(const OutputId& id, Level level, Duration run) override;
  void release(const OutputId& id) override;
  std::vector<HostView> hosts() const override;
  void stop(std::function<void()> done) override;

  /// Another broker: outputs over the network are made safe, closed and opened anew.
  void site(std::string site_json);

  /// Commands for outputs that were not ready, or unknown.
  std::uint64_t dropped_commands() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden
