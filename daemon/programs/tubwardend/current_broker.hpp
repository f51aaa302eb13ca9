// The broker of the moment: a new address in the configuration replaces the connection while the
// daemon runs, and whoever holds the port does not notice. Threading: the loop's thread. Failure:
// as PahoBroker.
#pragma once

#include <memory>
#include <set>
#include <string>

#include "shell/broker/paho_broker.hpp"

namespace tubwarden {

class CurrentBroker final : public Broker {
 public:
  CurrentBroker(LoopHooks loop, const Clock& clock) : loop_(std::move(loop)), clock_(clock) {}

  /// Connects there from now on; an older connection is left in good order first.
  void connect(BrokerLink link);

  void start(Handlers handlers) override;
  void want(std::set<std::string> topics) override;
  void publish(const std::string& topic, const std::string& payload, bool retain) override;
  bool is_up() const override { return broker_ && broker_->is_up(); }
  BrokerCounters counters() const override;
  void leave() { broker_.reset(); }

 private:
  void begin();

  LoopHooks loop_;
  const Clock& clock_;
  std::unique_ptr<PahoBroker> broker_;
  Handlers handlers_;
  bool started_ = false;
  std::set<std::string> topics_;
  BrokerCounters before_;  ///< of the connections before this one
};

}  // namespace tubwarden
