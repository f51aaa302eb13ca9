// The body of a webhook: a template whose {placeholders} become the message, escaped.
// Threading: pure. Failure: an unknown placeholder is an Error that names the known ones.
#pragma once

#include <string>
#include <string_view>

#include "base/result.hpp"
#include "sdk/note.hpp"

namespace tubwarden::webhook {

enum class Escape { json, form, none };

/// A placeholder is {name} with a name of small letters; any other brace stands for itself.
Result<std::string> fill_body(std::string_view pattern, const Note& note, const std::string& site,
                              Escape escape);

}  // namespace tubwarden::webhook
