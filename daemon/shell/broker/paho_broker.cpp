#include "shell/broker/paho_broker.hpp"

#include <fmt/core.h>
#include <mqtt/async_client.h>

#include <algorithm>
#include <atomic>
#include <mutex>
#include <utility>

#include "base/ensure.hpp"
#include "shell/broker/broker_address.hpp"
#include "shell/broker/inbox.hpp"

namespace tubwarden {

namespace {

constexpr int kMqtt5 = 5;
constexpr int kMqtt311 = 4;
constexpr int kQos = 0;
constexpr std::chrono::seconds kConnectTimeout{10};
/// Paho owes an answer to a connect by then; if it stays silent the client is made anew.
constexpr Duration kAnswerLimit = seconds(25);
/// Publications that may wait for the socket while connected.
constexpr int kOutgoingMax = 1000;
/// MQTT 5: reason codes from here on are refusals.
constexpr int kRefusal = 0x80;
constexpr int kUnsupportedVersion5 = 0x84;
/// Paho does not say which part of TLS failed.
constexpr std::string_view kTlsHint =
    " (is the broker's certificate signed by ca_file, in date, and made out to this host name?)";
/// 3.1.1's "unacceptable protocol version", which its brokers must answer [MQTT-3.1.2-2].
constexpr int kUnacceptableVersion = 1;

/// Work on Paho's threads: nothing may unwind into its C frames.
template <class F>
void guarded(F&& work) noexcept {
  try {
    work();
  } catch (...) {
    // Out of memory, or a foreign edge that throws. The link's timers and counters go on.
  }
}

std::string words_of_connack(int code) {
  switch (code) {
    case 1:
      return "unacceptable protocol version";
    case 2:
      return "client identifier rejected";
    case 3:
      return "server unavailable";
    case 4:
      return "bad user name or password";
    case 5:
      return "not authorized";
    default:  // an open set: the broker's number, not ours
      break;
  }
  if (code >= kRefusal) {
    const char* words = MQTTReasonCode_toString(static_cast<MQTTReasonCodes>(code));
    if (words != nullptr) return words;
  }
  return {};
}

/// Paho's own words for a failed token: it gives them away only by throwing them.
std::string words_of_paho(const mqtt::token& token) {
  try {
    token.get_connect_response();
  } catch (const mqtt::exception& error) {
    return error.get_message();
  }
  return {};
}

struct ConnectFailure {
  bool version_refused = false;
  bool by_broker = false;  ///< the broker's word, so the transport stood
  std::string why;
};

ConnectFailure told(const mqtt::token& token) {
  ConnectFailure failure;
  const int reason = static_cast<int>(token.get_reason_code());
  const int code = reason >= kRefusal ? reason : token.get_return_code();
  failure.version_refused = code == kUnsupportedVersion5 || code == kUnacceptableVersion;
  failure.why = words_of_connack(code);
  failure.by_broker = !failure.why.empty();
  if (!failure.by_broker) failure.why = words_of_paho(token);
  if (failure.why.empty()) failure.why = fmt::format("no connection (code {})", code);
  return failure;
}

}  // namespace

/// What Paho's threads may touch: it outlives client and link as long as a callback runs.
struct Bridge {
  std::function<void(std::function<void()>)> post;
  const Clock& clock;
  Inbox inbox;
  std::atomic<std::uint64_t> refused{0};
  std::mutex lock;
  std::string last_words;  ///< why the broker disconnected us, if it said

  Bridge(std::function<void(std::function<void()>)> p, const Clock& c, std::size_t limit)
      : post(std::move(p)), clock(c), inbox(limit) {}

  std::string take(std::string Bridge::*words) {
    const std::lock_guard guard(lock);
    return std::exchange(this->*words, {});
  }
};

/// Answers to connect(): lives as long as its client, because Paho may still stand in it.
class ConnectAnswer final : public mqtt::iaction_listener {
 public:
  std::function<void(std::uint64_t attempt, std::optional<ConnectFailure>)> answer;
  std::atomic<std::uint64_t> attempt{0};

 private:
  void on_success(const mqtt::token&) noexcept override {
    guarded([&] { answer(attempt, std::nullopt); });
  }
  void on_failure(const mqtt::token& token) noexcept override {
    guarded([&] { answer(attempt, told(token)); });
  }
};

/// Answers to subscribe(): counts what the broker refused.
class SubscribeAnswer final : public mqtt::iaction_listener {
 public:
  explicit SubscribeAnswer(std::shared_ptr<Bridge> bridge) : bridge_(std::move(bridge)) {}

 private:
  void on_success(const mqtt::token& token) noexcept override {
    guarded([&] {
      const mqtt::subscribe_response response = token.get_subscribe_response();
      for (const mqtt::ReasonCode code : response.get_reason_codes()) {
        if (static_cast<int>(code) >= kRefusal) ++bridge_->refused;
      }
    });
  }
  void on_failure(const mqtt::token& token) noexcept override {
    guarded([&] {
      // A connection that went away is told by itself; its topics are asked for at the next.
      if (static_cast<int>(token.get_reason_code()) < kRefusal) return;
      const auto topics = token.get_topics();
      bridge_->refused += topics ? topics->size() : 1;
    });
  }
  std::shared_ptr<Bridge> bridge_;
};

struct PahoBroker::Impl : std::enable_shared_from_this<Impl> {
  BrokerLink link;
  LoopHooks loop;
  std::shared_ptr<Bridge> bridge;
  Handlers handlers;
  std::set<std::string> wanted;
  bool started = false;
  bool up = false;
  bool connecting = false;
  int version = kMqtt5;
  std::uint64_t attempt = 0;     ///< numbers connects: an answer to an older one is not ours
  std::uint64_t generation = 0;  ///< numbers clients, likewise
  Duration retry;
  std::string last_why;
  BrokerCounters counters;
  std::unique_ptr<ConnectAnswer> connect_answer;
  std::unique_ptr<SubscribeAnswer> subscribe_answer;
  std::unique_ptr<mqtt::async_client> client;  ///< last: goes first

  Impl(BrokerLink l, LoopHooks h, const Clock& clock)
      : link(std::move(l)),
        loop(std::move(h)),
        bridge(std::make_shared<Bridge>(loop.post, clock, link.inbox_limit)),
        retry(link.retry_first) {
    ENSURE(loop.post && loop.later);
  }

  // --- the client and its edges to Paho's threads ---

  /// Throws mqtt::exception.
  void make_client(const BrokerAddress& address) {
    client.reset();
    connect_answer = std::make_unique<ConnectAnswer>();
    connect_answer->answer = [weak = weak_from_this(), b = bridge](
                                 std::uint64_t number, std::optional<ConnectFailure> failure) {
      b->post([weak, number, failure = std::move(failure)] {
        if (const auto me = weak.lock()) me->answered(number, failure);
      });
    };
    subscribe_answer = std::make_unique<SubscribeAnswer>(bridge);
    mqtt::create_options options(version);
    options.set_send_while_disconnected(false);  // never offline: neither safe nor stable
    options.set_max_buffered_messages(kOutgoingMax);
    client = std::make_unique<mqtt::async_client>(address.server, link.client_id, options, nullptr);
    ++generation;
    set_callbacks();
  }

  void set_callbacks() {
    const std::weak_ptr<Impl> weak = weak_from_this();
    client->set_message_callback([weak, b = bridge](const mqtt::const_message_ptr& message) {
      guarded([&] {
        const mqtt::string_ref& topic = message->get_topic_ref();
        const mqtt::binary_ref& payload = message->get_payload_ref();
        const bool wake =
            b->inbox.put({topic.data(), topic.length()}, {payload.data(), payload.length()},
                         message->is_retained(), b->clock.now());
        if (!wake) return;
        try {
          b->post([weak] { deliver(weak); });
        } catch (...) {
          b->inbox.not_woken();
        }
      });
    });
    client->set_disconnected_handler([b = bridge](const mqtt::properties&, mqtt::ReasonCode code) {
      guarded([&] {
        std::string words = words_of_connack(static_cast<int>(code));
        const std::lock_guard guard(b->lock);
        b->last_words = std::move(words);
      });
    });
    client->set_connection_lost_handler(
        [weak, b = bridge, number = generation](const std::string& cause) {
          guarded([&] {
            b->post([weak, number, cause] {
              if (const auto me = weak.lock()) me->lost(number, cause);
            });
          });
        });
  }

  static void deliver(const std::weak_ptr<Impl>& weak) {
    const auto me = weak.lock();
    if (!me) return;
    const bool more = me->bridge->inbox.take([&](const BrokerMessage& message) {
      if (me->handlers.message) me->handlers.message(message);
    });
    if (more) me->loop.post([weak] { deliver(weak); });
  }

  // --- connecting ---

  mqtt::connect_options connect_options(const BrokerAddress& address,
                                        const std::optional<BrokerUser>& user) const {
    mqtt::connect_options options;
    options.set_mqtt_version(version);
    if (version >= kMqtt5) {
      options.set_clean_start(true);
    } else {
      options.set_clean_session(true);
    }
    options.set_connect_timeout(kConnectTimeout);
    options.set_keep_alive_interval(duration_cast<seconds>(link.keep_alive));
    options.set_automatic_reconnect(false);  // ours: with a backoff that can change the version
    if (user) {
      options.set_user_name(user->name);
      options.set_password(user->password);
    }
    if (!link.will_topic.empty()) {
      options.set_will(mqtt::will_options(link.will_topic, link.will_payload, kQos, true));
    }
    if (address.encrypted) options.set_ssl(ssl_options());
    return options;
  }

  mqtt::ssl_options ssl_options() const {
    mqtt::ssl_options ssl;
    ssl.set_verify(true);  // the host name: Paho's default takes any name
    ssl.set_enable_server_cert_auth(true);
    if (link.ca_file) ssl.set_trust_store(*link.ca_file);
    if (link.cert_file) ssl.set_key_store(*link.cert_file);
    if (link.key_file) ssl.set_private_key(*link.key_file);
    // No error handler: connect() takes its options by value, and OpenSSL's words would reach a
    // handler inside the copy that has died meanwhile.
    return ssl;
  }

  void connect() {
    if (connecting || up) return;
    const Result<BrokerAddress> address = broker_address(link.url);
    if (!address) return failed({false, false, address.error().text});
    std::optional<BrokerUser> user;
    if (link.user_file) {
      Result<BrokerUser> read = read_user_file(*link.user_file);
      if (!read) return failed({false, false, read.error().text});
      user = std::move(read).value();
    }
    try {
      if (!client) make_client(*address);
      connecting = true;
      connect_answer->attempt = ++attempt;
      client->connect(connect_options(*address, user), nullptr, *connect_answer);
    } catch (const std::exception& error) {
      connecting = false;
      return failed({false, false, error.what()});
    }
    expect_answer();
  }

  void expect_answer() {
    loop.later(kAnswerLimit, [weak = weak_from_this(), number = attempt] {
      const auto me = weak.lock();
      if (!me || !me->connecting || me->attempt != number) return;
      me->connecting = false;
      ++me->attempt;  // whatever still comes for it is not ours
      me->client.reset();
      me->failed({false, false, "the client library gave no answer"});
    });
  }

  void answered(std::uint64_t number, const std::optional<ConnectFailure>& failure) {
    if (!connecting || number != attempt) return;
    connecting = false;
    if (!failure) return came_up();
    if (failure->version_refused && version == kMqtt5) {
      version = kMqtt311;
      client.reset();  // a client's version is for life
      connect();
      return;
    }
    ConnectFailure told = *failure;
    if (!told.by_broker && link.url.starts_with("mqtts://")) told.why += kTlsHint;
    failed(std::move(told));
  }

  void came_up() {
    up = true;
    retry = link.retry_first;
    last_why.clear();
    ++counters.connects;
    subscribe(wanted);
    if (handlers.up) handlers.up();
  }

  void failed(ConnectFailure failure) {
    loop.later(retry, [weak = weak_from_this()] {
      if (const auto me = weak.lock()) me->connect();
    });
    retry = std::min(retry * 2, std::max(link.retry_longest, link.retry_first));
    if (failure.why == last_why) return;
    last_why = failure.why;
    if (handlers.down) handlers.down(failure.why);
  }

  void lost(std::uint64_t number, const std::string& cause) {
    if (number != generation || !up) return;
    up = false;
    bridge->inbox.discard();  // read before the outage: must not arrive after it
    std::string why = bridge->take(&Bridge::last_words);
    if (why.empty()) why = cause;
    if (why.empty()) why = "connection lost";
    loop.later(retry, [weak = weak_from_this()] {
      if (const auto me = weak.lock()) me->connect();
    });
    last_why = why;
    if (handlers.down) handlers.down(why);
  }

  // --- subscriptions ---

  void subscribe(const std::set<std::string>& topics) {
    if (!up || topics.empty()) return;
    auto list = std::make_shared<mqtt::string_collection>();
    for (const std::string& topic : topics) list->push_back(topic);
    const mqtt::iasync_client::qos_collection levels(topics.size(), kQos);
    try {
      client->subscribe(list, levels, nullptr, *subscribe_answer);
    } catch (const std::exception&) {
      // Gone between Paho's word and ours: lost() follows, and the next connect subscribes.
    }
  }

  void unsubscribe(const std::set<std::string>& topics) {
    if (!up || topics.empty()) return;
    auto list = std::make_shared<mqtt::string_collection>();
    for (const std::string& topic : topics) list->push_back(topic);
    try {
      client->unsubscribe(list);
    } catch (const std::exception&) {
      // As above: a clean start knows no old subscription.
    }
  }

  void goodbye() noexcept {
    handlers = {};
    if (!client) return;
    try {
      if (up) client->disconnect(std::chrono::milliseconds(500))->wait_for(seconds(1));
    } catch (...) {
      // It was gone already.
    }
    client.reset();
  }
};

PahoBroker::PahoBroker(BrokerLink link, LoopHooks loop, const Clock& clock)
    : impl_(std::make_shared<Impl>(std::move(link), std::move(loop), clock)) {}

PahoBroker::~PahoBroker() { impl_->goodbye(); }

void PahoBroker::start(Handlers handlers) {
  ENSURE(!impl_->started);
  impl_->started = true;
  impl_->handlers = std::move(handlers);
  impl_->connect();
}

void PahoBroker::want(std::set<std::string> topics) {
  std::set<std::string> added, left;
  std::set_difference(topics.begin(), topics.end(), impl_->wanted.begin(), impl_->wanted.end(),
                      std::inserter(added, added.end()));
  std::set_difference(impl_->wanted.begin(), impl_->wanted.end(), topics.begin(), topics.end(),
                      std::inserter(left, left.end()));
  impl_->wanted = std::move(topics);
  impl_->unsubscribe(left);
  impl_->subscribe(added);
}

void PahoBroker::publish(const std::string& topic, const std::string& payload, bool retain) {
  if (!impl_->up) {
    ++impl_->counters.unsent;
    return;
  }
  try {
    impl_->client->publish(topic, payload.data(), payload.size(), kQos, retain);
    ++impl_->counters.published;
  } catch (const std::exception&) {  // gone this moment, or kOutgoingMax wait already
    ++impl_->counters.unsent;
  }
}

bool PahoBroker::is_up() const { return impl_->up; }

BrokerCounters PahoBroker::counters() const {
  BrokerCounters all = impl_->counters;
  const Inbox::Counts inbox = impl_->bridge->inbox.counts();
  all.received = inbox.received;
  all.dropped = inbox.dropped;
  all.refused = impl_->bridge->refused;
  return all;
}

int PahoBroker::protocol() const { return impl_->version; }

}  // namespace tubwarden
