#include "mqtt_relay/relay_link.hpp"

#include <MQTTAsync.h>

#include <algorithm>
#include <chrono>
#include <utility>

namespace tubwarden::relay {

using std::chrono::milliseconds;

/// One attempt to connect and what came of it: tells late callbacks of an older one apart.
struct Link::Session {
  Link* link = nullptr;
  int version = 0;
};

namespace {

constexpr int kConnectS = 5;
constexpr milliseconds kConnectMax{(kConnectS + 2) * 1000};
constexpr milliseconds kBackoffMin{250};
constexpr milliseconds kBackoffMax{5000};
constexpr int kGoodbyeMs = 300;
/// Old sessions that a late callback may still name.
constexpr std::size_t kSessionsKept = 8;

const Link::Session& session(void* context) { return *static_cast<Link::Session*>(context); }

// Paho's edges: copy, signal, return.

void connected5(void* context, MQTTAsync_successData5*) {
  session(context).link->on_connected(session(context));
}
void connected3(void* context, MQTTAsync_successData*) {
  session(context).link->on_connected(session(context));
}
/// A refusal for who we are is final whatever the version. After anything else once the transport
/// stood, the broker may not know MQTT 5: it answers with code 1 or 132, or just hangs up.
struct Refusal {
  std::string why;
  bool other_version = false;
};

/// `code` is the CONNACK's when the words say so.
Refusal refusal(int version, int code, const char* message) {
  const std::string words = message != nullptr ? message : "";
  if (words.find("CONNACK") == std::string::npos) {
    const bool transport = words.find("TCP") != std::string::npos;
    return {words.empty() ? "the broker hung up" : words, !transport};
  }
  if (version == MQTTVERSION_5 && code > MQTTREASONCODE_UNSUPPORTED_PROTOCOL_VERSION) {
    const char* name = MQTTReasonCode_toString(static_cast<MQTTReasonCodes>(code));
    return {name != nullptr ? name : "refused with code " + std::to_string(code), false};
  }
  if (version == MQTTVERSION_5) return {"the broker does not speak MQTT 5", true};
  switch (code) {  // the CONNACK return codes of MQTT 3.1.1, table 3.1
    case 2:
      return {"the broker refuses our client identifier", false};
    case 3:
      return {"the broker is not available", false};
    case 4:
      return {"bad user name or password", false};
    case 5:
      return {"not authorized", false};
    default:  // an open set: the broker's number, not ours
      return {"refused with code " + std::to_string(code), true};
  }
}

void failed5(void* context, MQTTAsync_failureData5* data) {
  Refusal said = refusal(MQTTVERSION_5, data->code, data->message);
  session(context).link->on_failed(session(context), std::move(said.why), said.other_version);
}
void failed3(void* context, MQTTAsync_failureData* data) {
  Refusal said = refusal(MQTTVERSION_3_1_1, data->code, data->message);
  session(context).link->on_failed(session(context), std::move(said.why), said.other_version);
}
void lost(void* context, char*) { session(context).link->on_lost(session(context)); }
void disconnected(void* context, MQTTProperties*, enum MQTTReasonCodes) {
  session(context).link->on_lost(session(context));
}
int arrived(void* context, char* topic, int, MQTTAsync_message* message) {
  // A retained word is of unknown age: it confirms nothing.
  if (message->retained == 0) {
    const std::string payload(static_cast<const char*>(message->payload),
                              static_cast<std::size_t>(message->payloadlen));
    session(context).link->on_arrived(session(context), payload);
  }
  MQTTAsync_freeMessage(&message);
  MQTTAsync_free(topic);
  return 1;
}
void acknowledged5(void* context, MQTTAsync_successData5* data) {
  session(context).link->on_acknowledged(session(context), data->token);
}
void acknowledged3(void* context, MQTTAsync_successData* data) {
  session(context).link->on_acknowledged(session(context), data->token);
}
void subscribe_failed5(void* context, MQTTAsync_failureData5*) {
  session(context).link->on_subscribe_failed(session(context));
}
void subscribe_failed3(void* context, MQTTAsync_failureData*) {
  session(context).link->on_subscribe_failed(session(context));
}

const char* text_or_null(const std::optional<std::string>& text) {
  return text ? text->c_str() : nullptr;
}

MQTTAsync_SSLOptions ssl_options(const LinkPlan& plan) {
  MQTTAsync_SSLOptions ssl = MQTTAsync_SSLOptions_initializer;
  ssl.trustStore = text_or_null(plan.ca_file);
  ssl.keyStore = text_or_null(plan.cert_file);
  ssl.privateKey = text_or_null(plan.key_file);
  ssl.enableServerCertAuth = 1;
  ssl.verify = 1;  // the host name, too: off by default in this library
  return ssl;
}

}  // namespace

Link::Link(LinkPlan plan, Handlers handlers)
    : plan_(std::move(plan)), handlers_(std::move(handlers)), worker_([this] { work(); }) {}

Link::~Link() {
  {
    const std::lock_guard hold(state_lock_);
    stopping_ = true;
  }
  changed_.notify_all();
  worker_.join();
}

void Link::on_connected(const Session& s) {
  const std::lock_guard hold(state_lock_);
  if (&s != sessions_.back().get() || state_ != State::connecting) return;
  state_ = State::connected;
  changed_.notify_all();
}

void Link::on_failed(const Session& s, std::string why, bool other_version) {
  const std::lock_guard hold(state_lock_);
  if (&s != sessions_.back().get() || state_ != State::connecting) return;
  state_ = State::failed;
  why_ = std::move(why);
  other_version_ = other_version;
  changed_.notify_all();
}

void Link::on_lost(const Session& s) {
  const std::lock_guard hold(state_lock_);
  if (&s != sessions_.back().get() || state_ != State::connected) return;
  state_ = State::failed;
  why_ = "the connection was lost";
  other_version_ = false;
  changed_.notify_all();
}

void Link::on_arrived(const Session& s, const std::string& payload) {
  {
    const std::lock_guard hold(state_lock_);
    if (&s != sessions_.back().get()) return;
  }
  handlers_.confirmed(payload);
}

void Link::on_acknowledged(const Session& s, int token) {
  const std::lock_guard hold(state_lock_);
  if (&s != sessions_.back().get()) return;
  acknowledged_.insert(token);
  changed_.notify_all();
}

void Link::on_subscribe_failed(const Session& s) {
  const std::lock_guard hold(state_lock_);
  if (&s != sessions_.back().get()) return;
  subscribe_failed_ = true;
  changed_.notify_all();
}

bool Link::connect(int version) {
  Session* current = nullptr;
  {
    const std::lock_guard hold(state_lock_);
    sessions_.push_back(std::make_unique<Session>(Session{this, version}));
    if (sessions_.size() > kSessionsKept) sessions_.pop_front();
    current = sessions_.back().get();
    state_ = State::connecting;
    acknowledged_.clear();
    subscribe_failed_ = false;
  }
  const bool five = version == MQTTVERSION_5;
  MQTTAsync handle = nullptr;
  MQTTAsync_createOptions create = MQTTAsync_createOptions_initializer;
  create.MQTTVersion = version;
  create.sendWhileDisconnected = 0;  // a "run" of before an outage must not come after it
  if (MQTTAsync_createWithOptions(&handle, plan_.server.c_str(), plan_.client_id.c_str(),
                                  MQTTCLIENT_PERSISTENCE_NONE, nullptr,
                                  &create) != MQTTASYNC_SUCCESS) {
    return false;
  }
  MQTTAsync_setCallbacks(handle, current, lost, arrived, nullptr);
  if (five) MQTTAsync_setDisconnected(handle, current, disconnected);
  MQTTAsync_willOptions will = MQTTAsync_willOptions_initializer;
  will.topicName = plan_.topic.c_str();
  will.payload = {static_cast<int>(plan_.safe_payload.size()), plan_.safe_payload.data()};
  will.retained = 1;
  will.qos = 1;
  MQTTAsync_SSLOptions ssl = ssl_options(plan_);
  MQTTAsync_connectOptions options = MQTTAsync_connectOptions_initializer;
  if (five) options = MQTTAsync_connectOptions_initializer5;
  options.MQTTVersion = version;
  options.keepAliveInterval = plan_.keep_alive_s;
  options.connectTimeout = kConnectS;
  options.automaticReconnect = 0;
  options.will = &will;
  options.username = text_or_null(plan_.user);
  options.password = text_or_null(plan_.password);
  if (plan_.encrypted) options.ssl = &ssl;
  options.context = current;
  if (five) {
    options.cleanstart = 1;
    options.onSuccess5 = connected5;
    options.onFailure5 = failed5;
  } else {
    options.cleansession = 1;
    options.onSuccess = connected3;
    options.onFailure = failed3;
  }
  {
    const std::lock_guard hold(client_lock_);
    client_ = handle;
    version_ = version;
  }
  return MQTTAsync_connect(handle, &options) == MQTTASYNC_SUCCESS;
}

void Link::subscribe() {
  if (!plan_.confirm_topic) return;
  const std::lock_guard hold(client_lock_);
  MQTTAsync_responseOptions options = MQTTAsync_responseOptions_initializer;
  {
    const std::lock_guard inner(state_lock_);
    options.context = sessions_.back().get();
  }
  if (version_ == MQTTVERSION_5) {
    options.onFailure5 = subscribe_failed5;
  } else {
    options.onFailure = subscribe_failed3;
  }
  if (MQTTAsync_subscribe(client_, plan_.confirm_topic->c_str(), 1, &options) !=
      MQTTASYNC_SUCCESS) {
    handlers_.warn("cannot subscribe to " + *plan_.confirm_topic);
  }
}

void Link::drop_client(bool goodbye) {
  void* handle = nullptr;
  {
    const std::lock_guard hold(client_lock_);
    handle = std::exchange(client_, nullptr);
  }
  if (handle == nullptr) return;
  bool acknowledged = false;
  {
    const std::lock_guard hold(state_lock_);
    acknowledged = safe_acknowledged_;
  }
  if (goodbye && MQTTAsync_isConnected(handle) != 0) {
    MQTTAsync_disconnectOptions options = MQTTAsync_disconnectOptions_initializer;
    if (version_ == MQTTVERSION_5) {
      options = MQTTAsync_disconnectOptions_initializer5;
      if (!acknowledged) options.reasonCode = MQTTREASONCODE_DISCONNECT_WITH_WILL_MESSAGE;
    }
    options.timeout = kGoodbyeMs;
    MQTTAsync_disconnect(handle, &options);
    // The goodbye goes out on Paho's thread; it says so only through isConnected.
    const auto end = std::chrono::steady_clock::now() + milliseconds(kGoodbyeMs);
    while (MQTTAsync_isConnected(handle) != 0 && std::chrono::steady_clock::now() < end) {
      std::this_thread::sleep_for(milliseconds(2));
    }
  }
  MQTTAsync_destroy(&handle);
}

void Link::work() {
  int version = MQTTVERSION_5;
  milliseconds backoff = kBackoffMin;
  std::unique_lock hold(state_lock_);
  while (!stopping_) {
    hold.unlock();
    const bool begun = connect(version);
    hold.lock();
    if (!begun) {
      state_ = State::failed;
      why_ = "no connection could be begun";
    }
    const bool answered = changed_.wait_for(hold, kConnectMax, [this] {
      return stopping_ || state_ == State::connected || state_ == State::failed;
    });
    if (!answered) {
      state_ = State::failed;
      why_ = "no answer to the connection";
      other_version_ = true;
    }
    if (state_ == State::connected && !stopping_) {
      backoff = kBackoffMin;
      hold.unlock();
      subscribe();
      handlers_.reach(true, "");
      hold.lock();
      while (!stopping_ && state_ == State::connected) {
        changed_.wait(hold);
        if (!std::exchange(subscribe_failed_, false)) continue;
        hold.unlock();
        handlers_.warn("the broker refuses the subscription to the confirmation topic");
        hold.lock();
      }
    } else if (state_ == State::failed && other_version_) {
      version = version == MQTTVERSION_5 ? MQTTVERSION_3_1_1 : MQTTVERSION_5;
    }
    if (stopping_) break;
    const std::string why = why_;
    hold.unlock();
    handlers_.reach(false, "the broker is away: " + why);
    drop_client(false);
    hold.lock();
    changed_.wait_for(hold, backoff, [this] { return stopping_; });
    backoff = std::min(backoff * 2, kBackoffMax);
  }
  hold.unlock();
  drop_client(true);
}

bool Link::publish_now(const std::string& payload, std::uint32_t expiry_s) {
  const std::lock_guard hold(client_lock_);
  {
    const std::lock_guard inner(state_lock_);
    safe_acknowledged_ = false;
    if (state_ != State::connected) return false;
  }
  if (client_ == nullptr) return false;
  MQTTAsync_message message = MQTTAsync_message_initializer;
  message.payload = const_cast<char*>(payload.data());
  message.payloadlen = static_cast<int>(payload.size());
  message.qos = 0;
  message.retained = 0;
  if (version_ == MQTTVERSION_5 && expiry_s > 0) {
    MQTTProperty expiry{};
    expiry.identifier = MQTTPROPERTY_CODE_MESSAGE_EXPIRY_INTERVAL;
    expiry.value.integer4 = expiry_s;
    MQTTProperties_add(&message.properties, &expiry);
  }
  // The library takes the message's properties only through response options.
  MQTTAsync_responseOptions options = MQTTAsync_responseOptions_initializer;
  const int result = MQTTAsync_sendMessage(client_, plan_.now_topic.value_or(plan_.topic).c_str(),
                                           &message, &options);
  MQTTProperties_free(&message.properties);
  return result == MQTTASYNC_SUCCESS;
}

bool Link::publish_surely(const std::string& payload, bool retain, int limit_ms) {
  MQTTAsync_responseOptions options = MQTTAsync_responseOptions_initializer;
  {
    const std::lock_guard hold(client_lock_);
    {
      const std::lock_guard inner(state_lock_);
      safe_acknowledged_ = false;
      if (state_ != State::connected) return false;
      acknowledged_.clear();
      options.context = sessions_.back().get();
    }
    if (client_ == nullptr) return false;
    MQTTAsync_message message = MQTTAsync_message_initializer;
    message.payload = const_cast<char*>(payload.data());
    message.payloadlen = static_cast<int>(payload.size());
    message.qos = 1;
    message.retained = retain ? 1 : 0;
    if (version_ == MQTTVERSION_5) {
      options.onSuccess5 = acknowledged5;
    } else {
      options.onSuccess = acknowledged3;
    }
    if (MQTTAsync_sendMessage(client_, plan_.topic.c_str(), &message, &options) !=
        MQTTASYNC_SUCCESS) {
      return false;
    }
  }
  if (limit_ms == 0) return true;
  std::unique_lock hold(state_lock_);
  changed_.wait_for(hold, milliseconds(limit_ms), [&] {
    return acknowledged_.contains(options.token) || state_ != State::connected;
  });
  safe_acknowledged_ = acknowledged_.contains(options.token);
  return safe_acknowledged_;
}

}  // namespace tubwarden::relay
