#include "settings/yaml_tree.hpp"

#include <yaml-cpp/anchor.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <optional>
#include <sstream>
#include <unordered_map>

namespace tubwarden {
namespace {

constexpr std::size_t kNodesMax = 20000;
constexpr std::size_t kDepthMax = 16;
constexpr std::size_t kQuotedMax = 60;

/// The file asks for more than it may; ends its reading.
struct OverLimit {
  Place at;
  std::string what;
};

class Builder : public YAML::EventHandler {
 public:
  Builder(const std::string& file, std::vector<Finding>& findings)
      : file_(file), findings_(findings) {}

  /// The tree, or after an interruption the outermost thing as far as it had come.
  YamlNode take() {
    if (!open_.empty()) return std::move(open_.front().node);
    return std::move(root_);
  }
  Place first() const { return first_; }
  Place last() const { return last_; }

  void OnDocumentStart(const YAML::Mark&) override {}
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    meet(mark, anchor);
    put(node(YamlNode::Kind::empty, mark));
  }
  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    meet(mark, YAML::NullAnchor);
    refuse(mark, "an alias (*name) is not allowed; write the value out");
    put(node(YamlNode::Kind::refused, mark));
  }
  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    meet(mark, anchor);
    // yaml-cpp names an untagged plain scalar "?" and a quoted one "!".
    if (tag != "!") refuse_tag(mark, tag);
    YamlNode scalar = node(YamlNode::Kind::scalar, mark);
    scalar.text = value;
    put(std::move(scalar));
  }
  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value) override {
    meet(mark, anchor);
    refuse_tag(mark, tag);
    open(node(YamlNode::Kind::list, mark));
  }
  void OnSequenceEnd() override { close(); }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value) override {
    meet(mark, anchor);
    refuse_tag(mark, tag);
    open(node(YamlNode::Kind::map, mark));
  }
  void OnMapEnd() override { close(); }

 private:
  struct Open {
    YamlNode node;
    std::optional<YamlNode> key;                ///< a map's key until its value comes
    std::unordered_map<std::string, int> seen;  ///< a map's keys, and the line of each
  };

  static YamlNode node(YamlNode::Kind kind, const YAML::Mark& mark) {
    YamlNode n;
    n.kind = kind;
    n.line = mark.line + 1;
    n.column = mark.column + 1;
    return n;
  }

  void refuse(const YAML::Mark& mark, const std::string& text) {
    findings_.push_back({Severity::error, file_, mark.line + 1, mark.column + 1, text});
  }

  void meet(const YAML::Mark& mark, YAML::anchor_t anchor) {
    if (!mark.is_null()) last_ = {mark.line + 1, mark.column + 1};
    if (count_ == 0) first_ = last_;
    if (++count_ > kNodesMax) {
      throw OverLimit{last_, "more than " + std::to_string(kNodesMax) + " values"};
    }
    if (anchor != YAML::NullAnchor) {
      refuse(mark, "an anchor (&name) is not allowed; write the value out at each place");
    }
  }

  void refuse_tag(const YAML::Mark& mark, const std::string& tag) {
    if (tag.empty() || tag == "?") return;
    refuse(mark, "a tag (" + tag + ") is not allowed; leave it out");
  }

  void open(YamlNode n) {
    if (open_.size() >= kDepthMax) {
      throw OverLimit{n, "nested deeper than " + std::to_string(kDepthMax)};
    }
    open_.push_back({std::move(n), std::nullopt, {}});
  }

  void close() {
    YamlNode done = std::move(open_.back().node);
    open_.pop_back();
    put(std::move(done));
  }

  void put(YamlNode n) {
    if (open_.empty()) {
      root_ = std::move(n);
      return;
    }
    Open& parent = open_.back();
    if (parent.node.kind == YamlNode::Kind::list) {
      parent.node.items.push_back(std::move(n));
    } else if (!parent.key) {
      parent.key = std::move(n);
    } else {
      add_member(parent, std::move(n));
    }
  }

  void add_member(Open& parent, YamlNode value) {
    YamlNode key = std::move(*parent.key);
    parent.key.reset();
    if (key.kind != YamlNode::Kind::scalar) {
      findings_.push_back({Severity::error, file_, key.line, key.column,
                           "a key must be one word; write key: value"});
      return;
    }
    const auto [known, fresh] = parent.seen.emplace(key.text, key.line);
    if (!fresh) {
      findings_.push_back({Severity::error, file_, key.line, key.column,
                           "key " + in_quotes(key.text) +
                               " stands here a second time (first in line " +
                               std::to_string(known->second) + "); keep one"});
      return;
    }
    // A value that is not there has the place of whatever comes next: say its key's instead.
    if (value.kind == YamlNode::Kind::empty) static_cast<Place&>(value) = key;
    parent.node.members.emplace_back(std::move(key), std::move(value));
  }

  const std::string& file_;
  std::vector<Finding>& findings_;
  std::vector<Open> open_;
  YamlNode root_;
  Place first_, last_;
  std::size_t count_ = 0;
};

/// How many bytes of a UTF-8 sequence begin with this one; 0: none does.
std::size_t sequence_length(unsigned char first) {
  if (first < 0x80) return 1;
  if (first >= 0xC2 && first <= 0xDF) return 2;
  if (first >= 0xE0 && first <= 0xEF) return 3;
  if (first >= 0xF0 && first <= 0xF4) return 4;
  return 0;
}

/// The place of the first byte that is no UTF-8 text (RFC 3629; control characters are no text).
std::optional<Place> not_text(const std::string& text) {
  Place at{1, 1};
  for (std::size_t i = 0; i < text.size();) {
    const auto first = static_cast<unsigned char>(text[i]);
    const std::size_t length = sequence_length(first);
    const bool control = (first < 0x20 && first != '\t' && first != '\n' && first != '\r');
    if (length == 0 || control || first == 0x7F || i + length > text.size()) return at;
    for (std::size_t k = 1; k < length; ++k) {
      if ((static_cast<unsigned char>(text[i + k]) & 0xC0) != 0x80) return at;
    }
    const auto second = length > 2 ? static_cast<unsigned char>(text[i + 1]) : 0x80;
    const bool overlong = (first == 0xE0 && second < 0xA0) || (first == 0xF0 && second < 0x90);
    if (overlong || (first == 0xED && second > 0x9F) || (first == 0xF4 && second > 0x8F)) return at;
    if (first == '\n') {
      at = {at.line + 1, 1};
    } else {
      ++at.column;
    }
    i += length;
  }
  return std::nullopt;
}

/// Whether a tab stands in the white space that begins this line.
bool tab_indents(const std::string& text, int line) {
  std::size_t at = 0;
  for (int i = 1; i < line && at != std::string::npos; ++i) {
    at = text.find('\n', at);
    if (at != std::string::npos) ++at;
  }
  if (at == std::string::npos) return false;
  const std::size_t end = text.find_first_not_of(" \t", at);
  return text.substr(at, end - at).find('\t') != std::string::npos;
}

}  // namespace

std::string in_quotes(std::string_view text) {
  std::string shown;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto c = static_cast<unsigned char>(text[i]);
    const bool whole = (c & 0xC0) != 0x80;  // never cut within a character
    if (shown.size() >= kQuotedMax && whole) {
      shown += "...";
      break;
    }
    shown += c < 0x20 || c == 0x7F ? ' ' : text[i];
  }
  return "'" + shown + "'";
}

YamlFile read_yaml(const std::string& text, const std::string& file,
                   std::vector<Finding>& findings) {
  if (const auto at = not_text(text)) {
    findings.push_back({Severity::error, file, at->line, at->column,
                        "this byte is no text; save the file as UTF-8"});
    return {};
  }
  const std::size_t before = findings.size();
  bool parsed = false;
  Builder builder(file, findings);
  try {
    std::istringstream stream(text);
    YAML::Parser parser(stream);
    if (!parser.HandleNextDocument(builder)) {
      findings.push_back({Severity::error, file, 0, 0, "the file is empty"});
      return {};
    }
    std::vector<Finding> unused;
    Builder second(file, unused);
    if (parser.HandleNextDocument(second)) {
      const Place at = second.first();
      findings.push_back({Severity::error, file, at.line, at.column,
                          "a second document (---) begins before this; a file holds one"});
    }
    parsed = true;
  } catch (const OverLimit& over) {
    findings.push_back({Severity::error, file, over.at.line, over.at.column,
                        over.what + "; the rest of the file was not read"});
  } catch (const YAML::Exception& error) {
    const Place at =
        error.mark.is_null() ? builder.last() : Place{error.mark.line + 1, error.mark.column + 1};
    const char* tab = tab_indents(text, at.line) ? "; a tab cannot indent, write spaces" : "";
    findings.push_back({Severity::error, file, at.line, at.column,
                        "this is not well-formed YAML (" + error.msg + tab +
                            "); the rest of the file was not read"});
  }
  return {builder.take(), parsed, parsed && findings.size() == before};
}

}  // namespace tubwarden
