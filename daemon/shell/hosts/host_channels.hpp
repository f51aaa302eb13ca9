// Channels behind plugin hosts: one process a channel plugin, a bounded queue a channel.
// Threading: the loop's thread. Failure: a message is tried again with a growing pause for 24 h
// (once when the plugin says that more is of no use), and reported when it fails three times in a
// row and when it is given up; a full queue reports the message it has no place for.
#pragma once

#include <boost/asio/io_context.hpp>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "ports/channels.hpp"
#include "shell/hosts/host_options.hpp"

namespace tubwarden {

class HostChannels : public Channels {
 public:
  HostChannels(boost::asio::io_context& loop, HostOptions options);
  ~HostChannels() override;
  HostChannels(const HostChannels&) = delete;
  HostChannels& operator=(const HostChannels&) = delete;

  void start(std::function<void(const Delivery&)> report) override;
  /// A channel that stays (by id) keeps its queue, even when its wiring changed.
  void want(std::vector<ChannelPlan> channels) override;
  void deliver(const Notice& notice) override;
  std::vector<ChannelView> views() const override;

  void site(std::string site_json);
  /// Hangs up and waits for the hosts' ends, at most 2 s. What was not delivered is not reported.
  void stop(std::function<void()> done);

  /// Messages waiting or being delivered.
  std::size_t waiting() const;
  /// Messages that a full queue had no place for.
  std::uint64_t dropped() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden
