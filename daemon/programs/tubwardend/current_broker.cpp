#include "programs/tubwardend/current_broker.hpp"

namespace tubwarden {

void CurrentBroker::connect(BrokerLink link) {
  if (broker_) {
    before_ = counters();
    broker_.reset();
    if (started_) handlers_.down("the configuration names another broker");
  }
  broker_ = std::make_unique<PahoBroker>(std::move(link), loop_, clock_);
  if (started_) begin();
}

void CurrentBroker::start(Handlers handlers) {
  handlers_ = std::move(handlers);
  started_ = true;
  if (broker_) begin();
}

void CurrentBroker::begin() {
  broker_->want(topics_);
  broker_->start(handlers_);
}

void CurrentBroker::want(std::set<std::string> topics) {
  topics_ = std::move(topics);
  if (broker_) broker_->want(topics_);
}

void CurrentBroker::publish(const std::string& topic, const std::string& payload, bool retain) {
  if (broker_) broker_->publish(topic, payload, retain);
}

BrokerCounters CurrentBroker::counters() const {
  BrokerCounters sum = before_;
  if (!broker_) return sum;
  const BrokerCounters now = broker_->counters();
  sum.received += now.received;
  sum.dropped += now.dropped;
  sum.published += now.published;
  sum.unsent += now.unsent;
  sum.connects += now.connects;
  return sum;
}

}  // namespace tubwarden
