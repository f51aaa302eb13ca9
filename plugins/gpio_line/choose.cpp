#include "gpio_line/choose.hpp"

#include <algorithm>

namespace tubwarden::gpio {

namespace {

/// A board has hundreds of lines: an error names a few.
constexpr std::size_t kNamesTold = 12;

std::string place_text(const Chip& chip, std::size_t offset) {
  return chip.name + ", line " + std::to_string(offset);
}

std::string joined(const std::vector<std::string>& parts, const char* between) {
  std::string text;
  for (const std::string& part : parts) text += (text.empty() ? "" : between) + part;
  return text;
}

std::string closed_text(const Board& board) {
  std::vector<std::string> parts;
  for (const ClosedChip& chip : board.closed) {
    parts.push_back(chip.path + " cannot be opened: " + chip.why);
  }
  return parts.empty() ? "" : "; " + joined(parts, "; ");
}

std::string chips_text(const Board& board) {
  std::vector<std::string> parts;
  for (const Chip& chip : board.chips) parts.push_back(chip.name + " '" + chip.label + "'");
  return parts.empty() ? "this board shows no GPIO chip" : "there are: " + joined(parts, ", ");
}

std::string names_text(const Board& board) {
  std::vector<std::string> names;
  for (const Chip& chip : board.chips) {
    for (const std::string& name : chip.lines) {
      if (!name.empty() && names.size() <= kNamesTold) names.push_back(name);
    }
  }
  if (board.chips.empty()) return chips_text(board);
  if (names.empty()) return "no line has a name here: give chip and offset; " + chips_text(board);
  const bool more = names.size() > kNamesTold;
  if (more) names.pop_back();
  return "there are: " + joined(names, ", ") + (more ? ", ..." : "");
}

Result<Place> by_name(const std::string& name, const Board& board) {
  std::vector<std::string> found;
  Place place;
  for (const Chip& chip : board.chips) {
    for (std::size_t offset = 0; offset < chip.lines.size(); ++offset) {
      if (chip.lines[offset] != name) continue;
      place = {chip.path, static_cast<unsigned>(offset),
               name + " (" + place_text(chip, offset) + ")"};
      found.push_back(place_text(chip, offset));
    }
  }
  if (found.size() == 1) return place;
  if (found.empty()) {
    return Error{ErrorCode::not_found,
                 "no line is named '" + name + "'; " + names_text(board) + closed_text(board)};
  }
  return Error{ErrorCode::refused, "the name '" + name + "' is there more than once (" +
                                       joined(found, "; ") +
                                       "): give chip and offset instead of line"};
}

Result<Place> by_offset(const Wanted& wanted, const Board& board) {
  std::vector<const Chip*> found;
  for (const Chip& chip : board.chips) {
    if (wanted.chip == chip.name || wanted.chip == chip.path || wanted.chip == chip.label) {
      found.push_back(&chip);
    }
  }
  if (found.empty()) {
    return Error{ErrorCode::not_found,
                 "no chip is '" + wanted.chip + "'; " + chips_text(board) + closed_text(board)};
  }
  if (found.size() > 1) {
    std::vector<std::string> names;
    for (const Chip* chip : found) names.push_back(chip->path);
    return Error{ErrorCode::refused, "more than one chip is '" + wanted.chip + "' (" +
                                         joined(names, ", ") + "): give chip as one of these"};
  }
  const Chip& chip = *found[0];
  if (wanted.offset >= chip.lines.size()) {
    return Error{ErrorCode::refused, "offset is " + std::to_string(wanted.offset) + "; " +
                                         chip.name + " '" + chip.label + "' has " +
                                         std::to_string(chip.lines.size()) +
                                         " lines, counted from 0"};
  }
  const std::string& name = chip.lines[wanted.offset];
  const std::string where = place_text(chip, wanted.offset);
  return Place{chip.path, wanted.offset, name.empty() ? where : name + " (" + where + ")"};
}

}  // namespace

Result<Place> choose(const Wanted& wanted, const Board& board) {
  return wanted.line.empty() ? by_offset(wanted, board) : by_name(wanted.line, board);
}

}  // namespace tubwarden::gpio
