// The tokens that open the sheet: made, kept as hashes in a file, and known again. A token is 256
// random bits, so that its plain SHA-256 is as hard to turn round as guessing it; a slow hash would
// only guard words that people choose. Threading: any one thread; reads and writes small files.
// Failure: errors with the way out; a file that others may write is not believed.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"

namespace tubwarden::sheet {

enum class May { read, act };
const char* name_of(May may);

using Hash = std::array<unsigned char, 32>;

struct Token {
  std::string name;  ///< letters, digits, "-" and "_", at most 40
  May may = May::read;
  Hash hash{};
};

inline constexpr std::size_t kTokensMax = 64;

/// The file's tokens; none where there is no file yet.
Result<std::vector<Token>> read_tokens(const std::string& path);
/// The token a caller shows, or nothing. Compares with each of them in constant time.
const Token* known_token(const std::vector<Token>& tokens, std::string_view shown);

/// Makes a token, keeps its hash, and returns the token itself: nobody can read it again.
/// The file is made with mode 0600, for the owner of its folder.
Result<std::string> add_token(const std::string& path, const std::string& name, May may);
Outcome remove_token(const std::string& path, const std::string& name);

/// Bytes that nobody can foretell, as base64 for URLs without padding.
std::string random_text(std::size_t bytes);
Hash sha256(std::string_view text);
Hash hmac_sha256(std::string_view key, std::string_view text);
bool same(const Hash& a, const Hash& b);  ///< in constant time
std::string hex(const Hash& hash);

}  // namespace tubwarden::sheet
