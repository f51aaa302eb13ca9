#include "mqtt_note/post.hpp"

#include <MQTTAsync.h>

#include <condition_variable>
#include <deque>
#include <memory>
#include <mutex>
#include <optional>

namespace tubwarden::note {

namespace {

using std::chrono::milliseconds;
using Clock = std::chrono::steady_clock;

constexpr int kKeepAliveS = 30;
constexpr int kGoodbyeMs = 300;
/// Old posts that a late callback may still name.
constexpr std::size_t kPostsKept = 8;

/// What Paho's threads have said of one post.
struct Answer {
  std::mutex lock;
  std::condition_variable changed;
  bool there = false;
  bool good = false;
  int code = 0;  ///< a reason code of MQTT 5, or a return code of MQTT 3.1.1
  std::string words;

  void set(bool is_good, int its_code, const char* its_words) {
    const std::lock_guard hold(lock);
    there = true;
    good = is_good;
    code = its_code;
    words = its_words != nullptr ? its_words : "";
    changed.notify_all();
  }
  bool wait(Clock::time_point end) {
    std::unique_lock hold(lock);
    return changed.wait_until(hold, end, [this] { return there; });
  }
  void forget() {
    const std::lock_guard hold(lock);
    there = false;
  }
};

void good5(void* context, MQTTAsync_successData5* data) {
  static_cast<Answer*>(context)->set(true, data->reasonCode, nullptr);
}
void good3(void* context, MQTTAsync_successData*) {
  static_cast<Answer*>(context)->set(true, 0, nullptr);
}
void bad5(void* context, MQTTAsync_failureData5* data) {
  // A refusal stands in the reason code, a broken transport in the code.
  const int code = data->reasonCode >= MQTTREASONCODE_UNSPECIFIED_ERROR
                       ? static_cast<int>(data->reasonCode)
                       : data->code;
  static_cast<Answer*>(context)->set(false, code, data->message);
}
void bad3(void* context, MQTTAsync_failureData* data) {
  static_cast<Answer*>(context)->set(false, data->code, data->message);
}

const char* text_or_null(const std::optional<std::string>& text) {
  return text ? text->c_str() : nullptr;
}

class Client {
 public:
  Client(const SiteBroker& broker, const std::string& id, int version)
      : broker_(broker), version_(version) {
    static std::deque<std::unique_ptr<Answer>> posts;
    posts.push_back(std::make_unique<Answer>());
    if (posts.size() > kPostsKept) posts.pop_front();
    answer_ = posts.back().get();
    MQTTAsync_createOptions create = MQTTAsync_createOptions_initializer;
    create.MQTTVersion = version;
    create.sendWhileDisconnected = 0;
    if (MQTTAsync_createWithOptions(&client_, broker.server.c_str(), id.c_str(),
                                    MQTTCLIENT_PERSISTENCE_NONE, nullptr,
                                    &create) != MQTTASYNC_SUCCESS) {
      client_ = nullptr;
    }
  }
  ~Client() {
    if (client_ == nullptr) return;
    leave();
    MQTTAsync_destroy(&client_);
  }
  Client(const Client&) = delete;
  Client& operator=(const Client&) = delete;

  /// False: no answer to it by `end`.
  bool connect(Clock::time_point end);
  bool publish(const std::string& topic, const std::string& payload, Clock::time_point end);
  const Answer& answer() const { return *answer_; }

 private:
  bool five() const { return version_ == MQTTVERSION_5; }
  void leave();

  const SiteBroker& broker_;
  const int version_;
  MQTTAsync client_ = nullptr;
  Answer* answer_ = nullptr;
};

bool Client::connect(Clock::time_point end) {
  if (client_ == nullptr) return false;
  MQTTAsync_SSLOptions ssl = MQTTAsync_SSLOptions_initializer;
  ssl.trustStore = text_or_null(broker_.ca_file);
  ssl.keyStore = text_or_null(broker_.cert_file);
  ssl.privateKey = text_or_null(broker_.key_file);
  ssl.enableServerCertAuth = 1;
  ssl.verify = 1;  // the host name, too: off by default in this library
  MQTTAsync_connectOptions options = MQTTAsync_connectOptions_initializer;
  if (five()) options = MQTTAsync_connectOptions_initializer5;
  options.MQTTVersion = version_;
  options.keepAliveInterval = kKeepAliveS;
  options.connectTimeout =
      static_cast<int>(std::chrono::ceil<std::chrono::seconds>(end - Clock::now()).count());
  options.automaticReconnect = 0;
  options.username = text_or_null(broker_.user);
  options.password = text_or_null(broker_.password);
  if (broker_.encrypted) options.ssl = &ssl;
  options.context = answer_;
  if (five()) {
    options.cleanstart = 1;
    options.onSuccess5 = good5;
    options.onFailure5 = bad5;
  } else {
    options.cleansession = 1;
    options.onSuccess = good3;
    options.onFailure = bad3;
  }
  return MQTTAsync_connect(client_, &options) == MQTTASYNC_SUCCESS && answer_->wait(end);
}

bool Client::publish(const std::string& topic, const std::string& payload, Clock::time_point end) {
  answer_->forget();
  MQTTAsync_message message = MQTTAsync_message_initializer;
  message.payload = const_cast<char*>(payload.data());
  message.payloadlen = static_cast<int>(payload.size());
  message.qos = 1;
  message.retained = 0;
  MQTTAsync_responseOptions options = MQTTAsync_responseOptions_initializer;
  options.context = answer_;
  if (five()) {
    options.onSuccess5 = good5;
    options.onFailure5 = bad5;
  } else {
    options.onSuccess = good3;
    options.onFailure = bad3;
  }
  return MQTTAsync_sendMessage(client_, topic.c_str(), &message, &options) == MQTTASYNC_SUCCESS &&
         answer_->wait(end);
}

void Client::leave() {
  if (MQTTAsync_isConnected(client_) == 0) return;
  answer_->forget();
  MQTTAsync_disconnectOptions options = MQTTAsync_disconnectOptions_initializer;
  if (five()) options = MQTTAsync_disconnectOptions_initializer5;
  options.timeout = kGoodbyeMs;
  options.context = answer_;
  if (five()) {
    options.onSuccess5 = good5;
  } else {
    options.onSuccess = good3;
  }
  if (MQTTAsync_disconnect(client_, &options) != MQTTASYNC_SUCCESS) return;
  answer_->wait(Clock::now() + milliseconds(kGoodbyeMs));
}

/// Whether an answer to a connection may mean that the broker does not know this version: MQTT 5's
/// code for it, MQTT 3.1.1's, or a hang-up once the transport stood.
bool is_other_version(const Answer& a) {
  if (a.code == MQTTREASONCODE_UNSUPPORTED_PROTOCOL_VERSION || a.code == 1) return true;
  return a.code < 0 && a.words.find("TCP") == std::string::npos;
}

Posted::Verdict verdict_on(int version, int code) {
  using Verdict = Posted::Verdict;
  if (version != MQTTVERSION_5) return code == 4 || code == 5 ? Verdict::refused : Verdict::failed;
  switch (code) {
    case MQTTREASONCODE_NOT_AUTHORIZED:
    case MQTTREASONCODE_BAD_USER_NAME_OR_PASSWORD:
    case MQTTREASONCODE_TOPIC_NAME_INVALID:
    case MQTTREASONCODE_BANNED:
    case MQTTREASONCODE_CLIENT_IDENTIFIER_NOT_VALID:
      return Verdict::refused;
    default:  // an open set: the broker's number
      return Verdict::failed;
  }
}

std::string words_of(const Answer& a, int version) {
  if (version == MQTTVERSION_5 && a.code >= MQTTREASONCODE_UNSPECIFIED_ERROR) {
    const char* name = MQTTReasonCode_toString(static_cast<MQTTReasonCodes>(a.code));
    if (name != nullptr) return name;
  }
  // Return codes 4 and 5 of MQTT 3.1.1, table 3.1.
  if (version != MQTTVERSION_5 && a.code == 4) return "bad user name or password";
  if (version != MQTTVERSION_5 && a.code == 5) return "not authorized";
  if (!a.words.empty()) return a.words;
  return a.code < 0 ? "the connection was lost" : "code " + std::to_string(a.code);
}

}  // namespace

Posted post(const SiteBroker& broker, const std::string& topic, const std::string& payload,
            milliseconds limit) {
  const Clock::time_point end = Clock::now() + limit;
  const std::string silent =
      "the broker did not answer within " + std::to_string(limit.count()) + " ms";
  for (const int version : {MQTTVERSION_5, MQTTVERSION_3_1_1}) {
    Client client(broker, mqtt_client_id(broker.site + "\nnote\n" + topic), version);
    if (!client.connect(end)) return {Posted::Verdict::failed, silent};
    const Answer& answer = client.answer();
    if (!answer.good) {
      if (version == MQTTVERSION_5 && is_other_version(answer)) continue;
      return {verdict_on(version, answer.code), "the broker: " + words_of(answer, version)};
    }
    if (!client.publish(topic, payload, end)) return {Posted::Verdict::failed, silent};
    if (!answer.good || answer.code >= MQTTREASONCODE_UNSPECIFIED_ERROR) {
      return {verdict_on(version, answer.code),
              "the broker refuses the topic: " + words_of(answer, version)};
    }
    return {Posted::Verdict::heard, ""};
  }
  return {Posted::Verdict::failed, "the broker speaks neither MQTT 5 nor 3.1.1"};
}

}  // namespace tubwarden::note
