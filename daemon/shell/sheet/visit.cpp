#include "shell/sheet/visit.hpp"

namespace tubwarden::sheet {
namespace {

/// After a refusal the rest of what was sent is read and thrown away, so that the refusal arrives
/// before the end of the connection does.
constexpr Duration kLeaveWithin = seconds(2);
constexpr std::size_t kDiscardedMax = 256 * 1024;
/// The warden answers in any case; this is for the day it does not.
constexpr Duration kAnswerWithin = minutes(2);

}  // namespace

Visit::Visit(std::shared_ptr<VisitParts> parts, std::unique_ptr<Wire> wire,
             boost::asio::io_context& loop, std::string peer, bool encrypted)
    : parts_(std::move(parts)),
      wire_(std::move(wire)),
      timer_(loop),
      peer_(std::move(peer)),
      encrypted_(encrypted),
      reader_(parts_->limits) {
  ++parts_->counters.connections;
}

Visit::~Visit() { --parts_->counters.connections; }

void Visit::begin() {
  enter(Stage::opening);
  wire_->open([self = shared_from_this()](bool open) {
    if (!open) return self->close();
    if (self->stage_ != Stage::opening) return;
    self->enter(Stage::header);  // from the first moment: who connects has something to ask
    self->read();
  });
}

void Visit::enter(Stage stage) {
  if (stage_ == Stage::closed) return;
  stage_ = stage;
  const SheetLimits& limits = parts_->limits;
  const Duration within = [&] {
    switch (stage) {
      case Stage::opening:
      case Stage::header:
        return limits.header_within;
      case Stage::idle:
        return limits.idle_max;
      case Stage::body:
        return limits.body_within;
      case Stage::answering:
        return Duration(kAnswerWithin);
      case Stage::writing:
        return limits.taken_within;
      case Stage::leaving:
        return Duration(kLeaveWithin);
      case Stage::live:
      case Stage::closed:
        return Duration{0};
    }
    ENSURE(false);
  }();
  arm(within);
}

/// 0: none. A deadline that has passed already, and waits behind other work, counts no more.
void Visit::arm(Duration within) {
  const std::uint64_t mine = ++armed_;
  timer_.cancel();
  if (within == Duration{0}) return;
  timer_.expires_after(within);
  timer_.async_wait([mine, weak = weak_from_this()](boost::system::error_code code) {
    const auto self = weak.lock();
    if (!code && self && self->armed_ == mine) self->deadline_passed();
  });
}

void Visit::deadline_passed() {
  switch (stage_) {
    case Stage::idle:
    case Stage::leaving:
    case Stage::closed:
      return close();
    case Stage::live:
      ++parts_->counters.live_dropped;
      return close();
    case Stage::opening:
    case Stage::answering:
    case Stage::writing:
      ++parts_->counters.too_slow;
      return close();
    case Stage::header:
    case Stage::body:
      ++parts_->counters.too_slow;
      return refuse(408, "the request took too long");
  }
}

void Visit::read() {
  if (reading_) return;
  reading_ = true;
  wire_->read([self = shared_from_this()](std::string_view bytes) {
    self->reading_ = false;
    if (bytes.empty()) return self->close();
    switch (self->stage_) {
      case Stage::idle:
      case Stage::header:
      case Stage::body:
        if (self->stage_ == Stage::idle) self->enter(Stage::header);
        return self->took(self->reader_.take(bytes));
      case Stage::leaving:
        self->discarded_ += bytes.size();
        if (self->discarded_ > kDiscardedMax) return self->close();
        return self->read();
      case Stage::writing:  // only after a deadline: its refusal is under way
        return;
      case Stage::opening:
      case Stage::answering:
      case Stage::live:
      case Stage::closed:
        return self->close();
    }
  });
}

void Visit::took(HttpReader::State state) {
  switch (state) {
    case HttpReader::State::begin:
    case HttpReader::State::header:
      return read();
    case HttpReader::State::body:
      if (stage_ != Stage::body) enter(Stage::body);
      return read();
    case HttpReader::State::whole:
      return handle();
    case HttpReader::State::wrong:
      ++(reader_.status() == 400 ? parts_->counters.malformed : parts_->counters.too_large);
      return refuse(reader_.status(), reader_.why());
  }
}

void Visit::handle() {
  enter(Stage::answering);
  ++parts_->counters.requests;
  const auto request = std::make_shared<Request>(reader_.next());
  request->peer = peer_;
  request->encrypted = encrypted_;
  keep_alive_ = request->keep_alive;
  parts_->answer(request, [self = shared_from_this()](Answer answer) {
    if (self->stage_ != Stage::answering) return;
    self->answered(std::move(answer));
  });
}

void Visit::answered(Answer answer) {
  keep_alive_ = keep_alive_ && !answer.close;
  becomes_live_ = answer.live;
  out_ = head_of(answer, keep_alive_);
  out_ += answer.fixed.empty() ? std::string_view(answer.body) : answer.fixed;
  enter(Stage::writing);
  wire_->write(out_, [self = shared_from_this()](bool whole) { self->written(whole); });
}

void Visit::written(bool whole) {
  if (!whole || stage_ == Stage::closed) return close();
  out_ = {};
  if (becomes_live_) {
    enter(Stage::live);
    ++parts_->counters.live;
    watch_live();
    return parts_->hub->join(shared_from_this());
  }
  if (!keep_alive_) {
    enter(Stage::leaving);
    wire_->finish();
    return read();
  }
  const HttpReader::State next = reader_.state();
  enter(next == HttpReader::State::begin ? Stage::idle : Stage::header);
  took(next);
}

void Visit::refuse(int status, const char* why) {
  if (stage_ == Stage::closed) return;
  keep_alive_ = false;
  const bool reading = stage_ == Stage::header || stage_ == Stage::body;
  ENSURE(reading);
  answered(refusal(status,
                   status == 400   ? "bad_input"
                   : status == 408 ? "timed_out"
                                   : "too_large",
                   why));
}

void Visit::close() {
  if (stage_ == Stage::closed) return;
  if (stage_ == Stage::live) {
    --parts_->counters.live;
    parts_->hub->leave(this);
  }
  stage_ = Stage::closed;
  arm(Duration{0});
  wire_->close();
}

/// A reader that is gone is noticed at once; one that sends more has nothing to say here.
void Visit::watch_live() {
  wire_->read([self = shared_from_this()](std::string_view) { self->close(); });
}

void Visit::tell(std::shared_ptr<const std::string> event) {
  if (stage_ != Stage::live) return;
  events_bytes_ += event->size();
  if (events_bytes_ > parts_->limits.live_bytes_max) {
    ++parts_->counters.live_dropped;
    return close();
  }
  events_.push_back(std::move(event));
  if (!writing_event_) write_event();
}

void Visit::write_event() {
  writing_event_ = true;
  arm(parts_->limits.taken_within);
  wire_->write(*events_.front(), [self = shared_from_this()](bool whole) {
    self->writing_event_ = false;
    self->arm(Duration{0});
    if (!whole || self->stage_ != Stage::live) return self->close();
    self->events_bytes_ -= self->events_.front()->size();
    self->events_.pop_front();
    if (!self->events_.empty()) self->write_event();
  });
}

}  // namespace tubwarden::sheet
