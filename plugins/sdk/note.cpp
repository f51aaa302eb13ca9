#include "sdk/note.hpp"

#include <nlohmann/json.hpp>

namespace tubwarden {

Result<Note> parse_note(std::string_view text) {
  const nlohmann::json json = nlohmann::json::parse(text, nullptr, false);
  if (!json.is_object()) return Error{ErrorCode::bad_input, "the message is not a JSON object"};
  Note note;
  struct Member {
    const char* name;
    std::string& value;
  };
  for (const auto& [name, value] :
       {Member{"key", note.key}, Member{"rank", note.rank}, Member{"state", note.state},
        Member{"title", note.title}, Member{"text", note.text}}) {
    const auto found = json.find(name);
    if (found == json.end()) continue;
    if (!found->is_string()) {
      return Error{ErrorCode::bad_input, std::string("the message's ") + name + " is no text"};
    }
    value = found->get<std::string>();
  }
  return note;
}

std::string json_escaped(std::string_view text) {
  const std::string quoted = nlohmann::json(std::string(text))
                                 .dump(-1, ' ', true, nlohmann::json::error_handler_t::replace);
  return quoted.substr(1, quoted.size() - 2);
}

bool is_json(std::string_view text) { return nlohmann::json::accept(text); }

}  // namespace tubwarden
