// A YAML file as a tree that knows where each thing stood. Duplicate keys, anchors, aliases and
// tags are refused here: they make a file say something else than what is seen. Threading: pure.
// Failure: findings; a syntax error ends the file's list.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "settings/settings.hpp"

namespace tubwarden {

/// Where something stands in a file, counted from 1; 0: the file as a whole.
struct Place {
  int line = 0;
  int column = 0;
};

struct YamlNode : Place {
  enum class Kind { empty, scalar, list, map, refused };  // refused: a finding says why
  Kind kind = Kind::empty;
  std::string text;                                    ///< scalar
  std::vector<YamlNode> items;                         ///< list
  std::vector<std::pair<YamlNode, YamlNode>> members;  ///< map, in the file's order
};

struct YamlFile {
  YamlNode root;        ///< after a syntax error: what came before it of the outermost map
  bool parsed = false;  ///< well-formed to its end
  bool whole = false;   ///< parsed, and nothing in it was refused; false: a finding says why
};

/// `text` is the file's content, `file` its name for findings.
YamlFile read_yaml(const std::string& text, const std::string& file,
                   std::vector<Finding>& findings);

/// A text as a finding quotes it: in quotes, on one line, at most 60 bytes of it.
std::string in_quotes(std::string_view text);

}  // namespace tubwarden
