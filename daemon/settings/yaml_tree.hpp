// A YAML file as a tree that knows where each thing stood. Duplicate keys, anchors, aliases and
// tags are refused here: they make a file say something else than what is seen. Threading: pure.
// Failure: findings; a syntax error ends the file's list.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "settings/settings.hpp"

namespace tubwarden {

struct YamlNode {
  enum class Kind { empty, scalar, list, map };
  Kind kind = Kind::empty;
  int line = 0;  ///< 1-based
  int column = 0;
  std::string text;                                    ///< scalar
  std::vector<YamlNode> items;                         ///< list
  std::vector<std::pair<YamlNode, YamlNode>> members;  ///< map, in the file's order
};

/// `text` is the file's content, `file` its name for findings. An empty tree when it cannot be
/// read.
YamlNode read_yaml(const std::string& text, const std::string& file,
                   std::vector<Finding>& findings);

}  // namespace tubwarden
