#include "host/voice.hpp"

#include <poll.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include <algorithm>
#include <cstring>
#include <utility>

namespace tubwarden::host {

namespace {
constexpr std::size_t kQueueMax = 256;
constexpr std::size_t kSaidMax = 192;  ///< words never crowd out confirmations and reach
constexpr std::size_t kTextMax = 1000;

std::string bounded(const char* text) {
  if (text == nullptr) return "";
  std::string copy(text, ::strnlen(text, kTextMax));
  return copy;
}
}  // namespace

Voice::Voice() : event_(::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)), queue_(kQueueMax) {
  ENSURE(event_ >= 0);
}

Voice::~Voice() { ::close(event_); }

std::unique_ptr<Voice::Mouth> Voice::mouth(std::string id) {
  auto mouth = std::make_unique<Mouth>();
  mouth->voice = this;
  mouth->id = std::move(id);
  mouth->host = {sizeof(tw_host), mouth.get(),  on_say,   on_confirm,
                 on_will_confirm, on_reachable, on_option};
  return mouth;
}

void Voice::push(protocol::ToDaemon message) {
  {
    const std::lock_guard hold(lock_);
    const bool words = std::holds_alternative<protocol::Said>(message);
    if ((words && queue_.size() >= kSaidMax) || !queue_.push(std::move(message))) ++dropped_;
  }
  const std::uint64_t one = 1;
  [[maybe_unused]] const ssize_t wrote = ::write(event_, &one, sizeof one);
}

std::vector<protocol::ToDaemon> Voice::take() {
  std::uint64_t count = 0;
  [[maybe_unused]] const ssize_t read = ::read(event_, &count, sizeof count);
  std::vector<protocol::ToDaemon> all;
  const std::lock_guard hold(lock_);
  while (!queue_.empty()) all.push_back(queue_.pop());
  if (const std::uint64_t lost = std::exchange(dropped_, 0); lost > 0) {
    all.emplace_back(protocol::Said{protocol::SayLevel::warning,
                                    std::to_string(lost) + " words of the plugin were lost"});
  }
  return all;
}

bool Voice::wait(int limit_ms) const {
  pollfd ready{event_, POLLIN, 0};
  return ::poll(&ready, 1, limit_ms) > 0;
}

std::string Voice::why(Mouth& mouth, const std::string& otherwise) {
  const std::lock_guard hold(lock_);
  std::string text = std::exchange(mouth.last_error, {});
  return text.empty() ? otherwise : text;
}

bool Voice::confirms(const Mouth& mouth) {
  const std::lock_guard hold(lock_);
  return mouth.confirms;
}

void Voice::on_say(void* context, std::uint32_t level, const char* text) noexcept {
  auto& mouth = *static_cast<Mouth*>(context);
  protocol::Said said;
  said.level = static_cast<protocol::SayLevel>(std::min<std::uint32_t>(level, TW_ERROR));
  const std::string words = bounded(text);
  said.text = mouth.id + ": " + words;
  if (level >= TW_WARNING) {
    const std::lock_guard hold(mouth.voice->lock_);
    mouth.last_error = words;
  }
  mouth.voice->push(std::move(said));
}

void Voice::on_confirm(void* context, std::uint32_t output, std::uint32_t level) noexcept {
  const auto& mouth = *static_cast<Mouth*>(context);
  mouth.voice->push(protocol::Confirm{output, level <= 1000 ? level : 1000});
}

void Voice::on_will_confirm(void* context, std::uint32_t) noexcept {
  auto& mouth = *static_cast<Mouth*>(context);
  const std::lock_guard hold(mouth.voice->lock_);
  mouth.confirms = true;
}

void Voice::on_reachable(void* context, std::uint32_t output, std::uint32_t yes,
                         const char* why) noexcept {
  const auto& mouth = *static_cast<Mouth*>(context);
  mouth.voice->push(protocol::Reach{output, yes != 0, bounded(why)});
}

const char* Voice::on_option(void* context, const char* name, std::uint32_t index) noexcept {
  return static_cast<const Mouth*>(context)->options.get(name, index);
}

}  // namespace tubwarden::host
