// The page of `status` as it is written, and its lines of an air: a strip a reading, and what
// follows from the readings together. For the files of `status` only. Threading: one owner.
// Failure: none; what is missing in the answer is left out.
#pragma once

#include <string>

#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {

inline constexpr std::size_t kNameLeast = 10;

/// The page is written from top to bottom; `look` decides the ink.
struct Page {
  const Look& look;
  std::size_t name_width = kNameLeast;  ///< of readings and actuators, one for the whole page
  std::string text;

  void line(const std::string& l) { text += l + "\n"; }
  void gap() { text += "\n"; }
  void beside(const std::string& head, const std::string& told, Ink ink = Ink::plain) {
    text += cli::beside(head, told, ink, look);
  }
  std::string ink(const std::string& t, Ink i) const { return inked(t, i, look); }
  std::string said(const Json& object, const char* name) const {
    return clean(cli::text(object, name), look);
  }
};

enum class Mark { none, runs, wrong };

/// The margin of a line, for a glance from afar and for readers without colour.
std::string mark(const Page& page, Mark m);

void air_line(Page& page, const Json& air);
/// A strip is for what is read; this is a sentence, with the band of what is kept or warned of.
void derived_lines(Page& page, const Json& chamber);

}  // namespace tubwarden::cli
