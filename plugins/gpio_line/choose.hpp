// Which line of which chip a wiring means: by the line's name, which must be there once, or by chip
// and offset. Threading: pure functions. Failure: a sentence that names what is there instead.
#pragma once

#include <string>
#include <vector>

#include "base/result.hpp"

namespace tubwarden::gpio {

/// A chip as the kernel tells of it, its lines by offset.
struct Chip {
  std::string path;                ///< "/dev/gpiochip0"
  std::string name;                ///< "gpiochip0": counted at each boot
  std::string label;               ///< "pinctrl-bcm2711": the same at each boot
  std::vector<std::string> lines;  ///< their names, mostly empty
};

/// A chip that is there and cannot be looked at.
struct ClosedChip {
  std::string path;
  std::string why;  ///< "Permission denied"
};

struct Board {
  std::vector<Chip> chips;
  std::vector<ClosedChip> closed;
};

/// What the wiring says: a line's name, or a chip (name, path or label) and an offset.
struct Wanted {
  std::string line;
  std::string chip;
  unsigned offset = 0;
};

struct Place {
  std::string path;
  unsigned offset = 0;
  std::string told;  ///< "FAN1 (gpiochip0, line 5)", for words
  bool operator==(const Place&) const = default;
};

/// not_found: it may come with its chip; refused: the wiring has to say more.
Result<Place> choose(const Wanted& wanted, const Board& board);

}  // namespace tubwarden::gpio
