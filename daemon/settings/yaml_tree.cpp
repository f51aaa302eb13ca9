#include "settings/yaml_tree.hpp"

#include <yaml-cpp/anchor.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <sstream>

namespace tubwarden {
namespace {

constexpr std::size_t kNodesMax = 20000;
constexpr std::size_t kDepthMax = 12;

class Builder : public YAML::EventHandler {
 public:
  Builder(const std::string& file, std::vector<Finding>& findings)
      : file_(file), findings_(findings) {}

  YamlNode take() { return std::move(root_); }

  void OnDocumentStart(const YAML::Mark&) override {}
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    plain(mark, anchor, "");
    put(node(YamlNode::Kind::empty, mark));
  }
  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    refuse(mark, "an alias (*name) is not allowed; write the value out");
    put(node(YamlNode::Kind::empty, mark));
  }
  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    plain(mark, anchor, tag);
    YamlNode scalar = node(YamlNode::Kind::scalar, mark);
    scalar.text = value;
    put(std::move(scalar));
  }
  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value) override {
    plain(mark, anchor, tag);
    open(node(YamlNode::Kind::list, mark));
  }
  void OnSequenceEnd() override { close(); }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value) override {
    plain(mark, anchor, tag);
    open(node(YamlNode::Kind::map, mark));
  }
  void OnMapEnd() override { close(); }

 private:
  struct Open {
    YamlNode node;
    std::vector<YamlNode> waiting;  ///< a map's key until its value comes
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

  void plain(const YAML::Mark& mark, YAML::anchor_t anchor, const std::string& tag) {
    if (++count_ > kNodesMax) throw YAML::ParserException(mark, "the file is too large");
    if (anchor != YAML::NullAnchor) {
      refuse(mark, "an anchor (&name) is not allowed; write the value out");
    }
    // yaml-cpp names an untagged plain scalar "?" and a quoted one "!".
    if (!tag.empty() && tag != "?" && tag != "!") {
      refuse(mark, "a tag (" + tag + ") is not allowed; leave it away");
    }
  }

  void open(YamlNode n) {
    if (open_.size() >= kDepthMax) {
      throw YAML::ParserException(YAML::Mark::null_mark(), "nested too deeply");
    }
    open_.push_back({std::move(n), {}});
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
    } else if (parent.waiting.empty()) {
      parent.waiting.push_back(std::move(n));
    } else {
      add_member(parent, std::move(n));
    }
  }

  void add_member(Open& parent, YamlNode value) {
    YamlNode key = std::move(parent.waiting.back());
    parent.waiting.clear();
    if (key.kind != YamlNode::Kind::scalar) {
      findings_.push_back({Severity::error, file_, key.line, key.column, "a key must be a word"});
      return;
    }
    for (const auto& [known, unused] : parent.node.members) {
      if (known.text != key.text) continue;
      findings_.push_back({Severity::error, file_, key.line, key.column,
                           "key '" + key.text + "' stands here a second time (first in line " +
                               std::to_string(known.line) + "); keep one"});
      return;
    }
    parent.node.members.emplace_back(std::move(key), std::move(value));
  }

  const std::string& file_;
  std::vector<Finding>& findings_;
  std::vector<Open> open_;
  YamlNode root_;
  std::size_t count_ = 0;
};

}  // namespace

YamlNode read_yaml(const std::string& text, const std::string& file,
                   std::vector<Finding>& findings) {
  Builder builder(file, findings);
  try {
    std::istringstream stream(text);
    YAML::Parser parser(stream);
    if (!parser.HandleNextDocument(builder)) {
      findings.push_back({Severity::error, file, 0, 0, "the file is empty"});
      return {};
    }
    Builder second(file, findings);
    if (parser.HandleNextDocument(second)) {
      findings.push_back({Severity::error, file, 0, 0,
                          "more than one document (---) stands in the file; keep one"});
    }
  } catch (const YAML::Exception& error) {
    const bool placed = !error.mark.is_null();
    findings.push_back({Severity::error, file, placed ? error.mark.line + 1 : 0,
                        placed ? error.mark.column + 1 : 0,
                        "this is not well-formed YAML: " + error.msg});
    return {};
  }
  return builder.take();
}

}  // namespace tubwarden
