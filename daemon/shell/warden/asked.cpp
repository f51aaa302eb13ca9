#include "shell/warden/asked.hpp"

#include <fmt/format.h>

#include "base/text.hpp"

namespace tubwarden {

using Json = nlohmann::ordered_json;

Args::Args(const std::string& text) : json_(Json::parse(text, nullptr, false)) {}

std::string Args::text(const char* name) const {
  const auto it = json_.find(name);
  return it != json_.end() && it->is_string() ? it->get<std::string>() : std::string();
}

std::optional<double> Args::number(const char* name) const {
  const auto it = json_.find(name);
  if (it == json_.end() || !it->is_number()) return std::nullopt;
  return it->get<double>();
}

std::vector<std::string> Args::texts(const char* name) const {
  std::vector<std::string> found;
  const auto it = json_.find(name);
  if (it == json_.end()) return found;
  if (it->is_string()) return {it->get<std::string>()};
  for (const Json& item : it->is_array() ? *it : Json::array()) {
    if (item.is_string()) found.push_back(item.get<std::string>());
  }
  return found;
}

std::vector<double> Args::numbers(const char* name) const {
  std::vector<double> found;
  const auto it = json_.find(name);
  if (it == json_.end()) return found;
  if (it->is_number()) return {it->get<double>()};
  for (const Json& item : it->is_array() ? *it : Json::array()) {
    if (item.is_number()) found.push_back(item.get<double>());
  }
  return found;
}

bool Args::yes(const char* name) const {
  const auto it = json_.find(name);
  return it != json_.end() && it->is_boolean() && it->get<bool>();
}

Error unknown(const std::string& kind, const std::string& given,
              const std::vector<std::string>& known) {
  std::vector<std::string_view> words(known.begin(), known.end());
  const auto near = nearest(given, words);
  return {ErrorCode::not_found,
          fmt::format("no {} is called '{}'{}; there {}: {}", kind, given,
                      near ? fmt::format(" (nearest: {})", *near) : "",
                      known.size() == 1 ? "is" : "are", fmt::join(known, ", "))};
}

Tub* tub_named(Asked& asked) {
  const std::string id = asked.args.text("tub");
  const auto found = asked.s.tubs.find(id);
  if (found != asked.s.tubs.end()) return &found->second;
  std::vector<std::string> known;
  for (const auto& [name, tub] : asked.s.tubs) known.push_back(name);
  asked.reply(unknown("tub", id, known));
  return nullptr;
}

void append_and_tell(Asked& asked, std::vector<Entry> entries, const std::string& text) {
  const Json done = {{"entry", nullptr}, {"on_disk", true}, {"text", text}};
  Json late = done;
  late["on_disk"] = false;
  late["text"] = text + " (done, not yet on disk)";
  asked.s.append_and_answer(std::move(entries), late.dump(), std::move(asked.reply),
                            [done](std::int64_t entry) {
                              Json answer = done;
                              answer["entry"] = entry;
                              return answer.dump();
                            });
}

}  // namespace tubwarden
