#include "gpio_line/line.hpp"

#include <gpiod.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <utility>

namespace tubwarden::gpio {

namespace {

struct CloseChip {
  void operator()(gpiod_chip* chip) const { gpiod_chip_close(chip); }  // with its lines
};
using ChipHandle = std::unique_ptr<gpiod_chip, CloseChip>;

std::string text_or_empty(const char* text) { return text != nullptr ? text : ""; }

Chip described(const std::string& path, gpiod_chip* handle) {
  Chip chip{
      path, text_or_empty(gpiod_chip_name(handle)), text_or_empty(gpiod_chip_label(handle)), {}};
  const unsigned count = gpiod_chip_num_lines(handle);
  for (unsigned offset = 0; offset < count; ++offset) {
    gpiod_line* line = gpiod_chip_get_line(handle, offset);
    chip.lines.push_back(line != nullptr ? text_or_empty(gpiod_line_name(line)) : "");
  }
  return chip;
}

int flags_of(const Manner& manner) {
  int flags = manner.active_low ? GPIOD_LINE_REQUEST_FLAG_ACTIVE_LOW : 0;
  switch (manner.bias) {
    case Bias::as_is:
      break;
    case Bias::none:
      flags |= GPIOD_LINE_REQUEST_FLAG_BIAS_DISABLE;
      break;
    case Bias::pull_up:
      flags |= GPIOD_LINE_REQUEST_FLAG_BIAS_PULL_UP;
      break;
    case Bias::pull_down:
      flags |= GPIOD_LINE_REQUEST_FLAG_BIAS_PULL_DOWN;
      break;
  }
  switch (manner.drive) {
    case Drive::push_pull:
      break;
    case Drive::open_drain:
      flags |= GPIOD_LINE_REQUEST_FLAG_OPEN_DRAIN;
      break;
    case Drive::open_source:
      flags |= GPIOD_LINE_REQUEST_FLAG_OPEN_SOURCE;
      break;
  }
  return flags;
}

std::string who_has(gpiod_line* line) {
  const std::string user =
      gpiod_line_update(line) == 0 ? text_or_empty(gpiod_line_consumer(line)) : std::string();
  return user.empty() ? "something else on this board" : "'" + user + "'";
}

}  // namespace

struct HeldLine::Impl {
  ChipHandle chip;
  gpiod_line* line = nullptr;  // the chip's
};

HeldLine::HeldLine(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
HeldLine::~HeldLine() = default;

Board look_at_board() {
  Board board;
  std::error_code error;
  for (const auto& entry : std::filesystem::directory_iterator("/dev", error)) {
    const std::string path = entry.path().string();
    if (path.rfind("/dev/gpiochip", 0) != 0 || entry.is_symlink(error)) continue;
    const ChipHandle chip(gpiod_chip_open(path.c_str()));
    if (chip) {
      board.chips.push_back(described(path, chip.get()));
    } else {
      board.closed.push_back({path, std::strerror(errno)});
    }
  }
  const auto by_path = [](const auto& a, const auto& b) { return a.path < b.path; };
  std::sort(board.chips.begin(), board.chips.end(), by_path);
  std::sort(board.closed.begin(), board.closed.end(), by_path);
  return board;
}

Result<std::unique_ptr<HeldLine>> HeldLine::take(const Place& place, const Manner& manner,
                                                 const std::string& consumer, bool run) {
  const auto failed = [&](ErrorCode code, const std::string& why) {
    return Error{code, place.told + ": " + why};
  };
  auto impl = std::make_unique<Impl>();
  impl->chip.reset(gpiod_chip_open(place.path.c_str()));
  if (!impl->chip) {
    return failed(ErrorCode::unavailable, place.path + ": " + std::strerror(errno));
  }
  impl->line = gpiod_chip_get_line(impl->chip.get(), place.offset);
  if (impl->line == nullptr) return failed(ErrorCode::unavailable, std::strerror(errno));
  const gpiod_line_request_config config = {consumer.c_str(), GPIOD_LINE_REQUEST_DIRECTION_OUTPUT,
                                            flags_of(manner)};
  if (gpiod_line_request(impl->line, &config, run ? 1 : 0) == 0) {
    return std::unique_ptr<HeldLine>(new HeldLine(std::move(impl)));
  }
  const int error = errno;
  if (error == EBUSY) return failed(ErrorCode::refused, "is in use by " + who_has(impl->line));
  // Chips differ: many have no pull resistors, some no open drain.
  const char* hint = error == ENOTSUP || error == EINVAL
                         ? " (it may not be able to be this output; try another bias or drive)"
                         : "";
  return failed(ErrorCode::unavailable,
                std::string("the line cannot be had: ") + std::strerror(error) + hint);
}

int HeldLine::set(bool run) {
  return gpiod_line_set_value(impl_->line, run ? 1 : 0) == 0 ? 0 : errno;
}

}  // namespace tubwarden::gpio
