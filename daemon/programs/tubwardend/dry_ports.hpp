// The ports of a dry run: what would go out is said in the log and goes nowhere. Reading goes on as
// ever. Threading: the loop's thread. Failure: none; what would have failed is not tried.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "ports/broker.hpp"
#include "ports/channels.hpp"
#include "ports/drivers.hpp"

namespace tubwarden {

/// One line for the log.
using SayLine = std::function<void(const std::string&)>;

/// Hears for another broker port and publishes nothing: what stands on the broker is not touched.
class DryBroker final : public Broker {
 public:
  explicit DryBroker(Broker& heard) : heard_(heard) {}
  void start(Handlers handlers) override { heard_.start(std::move(handlers)); }
  void want(std::set<std::string> topics) override { heard_.want(std::move(topics)); }
  void publish(const std::string&, const std::string&, bool) override {}
  bool is_up() const override { return heard_.is_up(); }
  BrokerCounters counters() const override { return heard_.counters(); }

 private:
  Broker& heard_;
};

/// Every output is ready, and obeys in words only. No host is started, no driver loaded.
class DryDrivers final : public Drivers {
 public:
  struct Hooks {
    std::function<void(std::function<void()>)> post;  ///< reports come later, on the loop
    SayLine say;
    std::function<std::string(const OutputId&)> why;  ///< the sentence behind a command just given
  };
  explicit DryDrivers(Hooks hooks) : hooks_(std::move(hooks)) {}

  void start(std::function<void(const OutputReport&)> report) override;
  void want(std::vector<OutputPlan> outputs) override;
  void command(const OutputId& id, Level level, Duration run) override;
  void release(const OutputId& id) override;
  std::vector<HostView> hosts() const override;
  void stop(std::function<void()> done) override;

 private:
  Hooks hooks_;
  std::function<void(const OutputReport&)> report_;
  std::map<OutputId, OutputPlan> outputs_;
  std::map<OutputId, Level> levels_;
};

/// "would run tub-1/mister for at most 5s: REASON"; the reason of a sentence "running for 0s: ...".
std::string would_do(const OutputId& id, Level level, Duration run, const std::string& why);

/// Tells nobody: says whom it would tell.
class DryChannels final : public Channels {
 public:
  explicit DryChannels(SayLine say) : say_(std::move(say)) {}
  void start(std::function<void(const Delivery&)>) override {}
  void want(std::vector<ChannelPlan> channels) override { channels_ = std::move(channels); }
  void deliver(const Notice& notice) override;

 private:
  SayLine say_;
  std::vector<ChannelPlan> channels_;
};

/// An answer of the control socket, marked: `"dry_run": true`, and beside the sentence of an act
/// that it is not kept. Text that is no JSON object comes back as it is.
std::string dry_answer(const std::string& json);

}  // namespace tubwarden
