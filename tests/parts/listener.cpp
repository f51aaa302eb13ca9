#include <MQTTAsync.h>
#include <unistd.h>

#include <atomic>
#include <condition_variable>
#include <mutex>
#include <stdexcept>

#include "parts/parts.hpp"

namespace parts {

struct Listener::Impl {
  MQTTAsync client = nullptr;
  std::vector<std::string> topics;
  mutable std::mutex lock;
  std::condition_variable changed;
  bool subscribed = false;
  std::string trouble;
  std::vector<Heard> all;

  static Impl* self(void* context) { return static_cast<Impl*>(context); }

  void fail(const std::string& why) {
    const std::lock_guard guard(lock);
    trouble = why;
    changed.notify_all();
  }

  static int on_message(void* context, char* topic, int length, MQTTAsync_message* message) {
    const Steady::time_point at = Steady::now();
    Impl* me = self(context);
    Heard heard;
    heard.topic = length > 0 ? std::string(topic, static_cast<std::size_t>(length)) : topic;
    heard.payload.assign(static_cast<const char*>(message->payload),
                         static_cast<std::size_t>(message->payloadlen));
    heard.retained = message->retained != 0;
    heard.at = at;
    {
      const std::lock_guard guard(me->lock);
      me->all.push_back(std::move(heard));
    }
    me->changed.notify_all();
    MQTTAsync_freeMessage(&message);
    MQTTAsync_free(topic);
    return 1;
  }

  static void on_connected(void* context, char*) {
    Impl* me = self(context);
    std::vector<char*> names;
    for (std::string& topic : me->topics) names.push_back(topic.data());
    std::vector<int> levels(names.size(), 0);  // QoS 0: no acknowledgement in the latency path
    MQTTAsync_responseOptions options = MQTTAsync_responseOptions_initializer;
    options.context = context;
    options.onSuccess = [](void* c, MQTTAsync_successData*) {
      const std::lock_guard guard(self(c)->lock);
      self(c)->subscribed = true;
      self(c)->changed.notify_all();
    };
    options.onFailure = [](void* c, MQTTAsync_failureData*) { self(c)->fail("not subscribed"); };
    MQTTAsync_subscribeMany(me->client, static_cast<int>(names.size()), names.data(), levels.data(),
                            &options);
  }

  void connect() {
    MQTTAsync_connectOptions options = MQTTAsync_connectOptions_initializer;
    options.keepAliveInterval = 20;
    options.cleansession = 1;
    options.automaticReconnect = 1;
    options.minRetryInterval = 1;
    options.maxRetryInterval = 1;
    options.context = this;
    options.onFailure = [](void* c, MQTTAsync_failureData* data) {
      self(c)->fail(data && data->message ? data->message : "connection refused");
    };
    if (MQTTAsync_connect(client, &options) != MQTTASYNC_SUCCESS) fail("cannot connect");
  }
};

namespace {
std::string paho_url(const std::string& url) {
  constexpr std::string_view kScheme = "mqtt://";
  return url.starts_with(kScheme) ? "tcp://" + url.substr(kScheme.size()) : url;
}
std::string fresh_name() {
  static std::atomic<int> count{0};
  return "listener-" + std::to_string(::getpid()) + "-" + std::to_string(++count);
}
}  // namespace

Listener::Listener(const std::string& url, std::vector<std::string> topics)
    : impl_(std::make_unique<Impl>()) {
  impl_->topics = std::move(topics);
  if (MQTTAsync_create(&impl_->client, paho_url(url).c_str(), fresh_name().c_str(),
                       MQTTCLIENT_PERSISTENCE_NONE, nullptr) != MQTTASYNC_SUCCESS) {
    throw std::runtime_error("listener: cannot make a client for " + url);
  }
  MQTTAsync_setCallbacks(impl_->client, impl_.get(), nullptr, Impl::on_message, nullptr);
  MQTTAsync_setConnected(impl_->client, impl_.get(), Impl::on_connected);
  impl_->connect();
  std::unique_lock guard(impl_->lock);
  impl_->changed.wait_for(guard, 10s, [&] { return impl_->subscribed || !impl_->trouble.empty(); });
  if (impl_->subscribed) return;
  const std::string why = impl_->trouble.empty() ? "no answer" : impl_->trouble;
  guard.unlock();
  MQTTAsync_destroy(&impl_->client);
  throw std::runtime_error("listener at " + url + ": " + why);
}

Listener::~Listener() {
  MQTTAsync_setCallbacks(impl_->client, impl_.get(), nullptr, Impl::on_message, nullptr);
  MQTTAsync_disconnectOptions options = MQTTAsync_disconnectOptions_initializer;
  MQTTAsync_disconnect(impl_->client, &options);
  MQTTAsync_destroy(&impl_->client);
}

std::vector<Heard> Listener::heard() const {
  const std::lock_guard guard(impl_->lock);
  return impl_->all;
}

std::vector<Heard> Listener::heard(const std::string& topic) const {
  const std::lock_guard guard(impl_->lock);
  std::vector<Heard> mine;
  for (const Heard& one : impl_->all) {
    if (one.topic == topic) mine.push_back(one);
  }
  return mine;
}

std::optional<Heard> Listener::wait_for(const std::string& topic,
                                        const std::function<bool(const Heard&)>& test,
                                        std::chrono::milliseconds limit, std::size_t from) {
  const Steady::time_point end = Steady::now() + limit;
  std::unique_lock guard(impl_->lock);
  while (true) {
    std::size_t index = 0;
    for (const Heard& one : impl_->all) {
      if (one.topic == topic && index++ >= from && test(one)) return one;
    }
    if (Steady::now() >= end) return std::nullopt;
    impl_->changed.wait_until(guard, end);
  }
}

void Listener::clear() {
  const std::lock_guard guard(impl_->lock);
  impl_->all.clear();
}

}  // namespace parts
