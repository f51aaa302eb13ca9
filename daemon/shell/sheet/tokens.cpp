#include "shell/sheet/tokens.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/hmac.h>
#include <openssl/rand.h>
#include <openssl/sha.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <optional>
#include <sstream>

namespace tubwarden::sheet {
namespace {

constexpr std::size_t kTokenBytes = 32;
constexpr std::size_t kTokensFileBytesMax = 16 * 1024;
constexpr std::size_t kTokenNameMax = 40;
constexpr std::string_view kHashWord = "sha256:";

class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_(fd) {}
  ~Descriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  operator int() const { return fd_; }

 private:
  int fd_;
};

Error cannot(const std::string& path, const char* what) {
  return {ErrorCode::unavailable,
          fmt::format("{} cannot be {}: {}", path, what, std::strerror(errno))};
}

bool is_token_name(std::string_view name) {
  return !name.empty() && name.size() <= kTokenNameMax &&
         std::all_of(name.begin(), name.end(), [](unsigned char c) {
           return (c < 128 && std::isalnum(c)) || c == '-' || c == '_';
         });
}

std::optional<Hash> hash_in(std::string_view text) {
  if (!text.starts_with(kHashWord)) return std::nullopt;
  text.remove_prefix(kHashWord.size());
  Hash hash{};
  if (text.size() != 2 * hash.size()) return std::nullopt;
  for (std::size_t i = 0; i < text.size(); ++i) {
    constexpr std::string_view kDigits = "0123456789abcdef";
    const std::size_t digit = kDigits.find(text[i]);
    if (digit == std::string_view::npos) return std::nullopt;
    hash[i / 2] = static_cast<unsigned char>(hash[i / 2] * 16 + digit);
  }
  return hash;
}

std::optional<Token> token_in(const std::string& line) {
  std::istringstream words(line);
  Token token;
  std::string may, hash, more;
  if (!(words >> token.name >> may >> hash) || words >> more) return std::nullopt;
  const auto known = hash_in(hash);
  if (!is_token_name(token.name) || !known || (may != "read" && may != "act")) return std::nullopt;
  token.may = may == "act" ? May::act : May::read;
  token.hash = *known;
  return token;
}

Result<std::vector<Token>> tokens_in(const std::string& path, const std::string& text) {
  std::vector<Token> tokens;
  std::istringstream lines(text);
  int number = 0;
  for (std::string line; std::getline(lines, line);) {
    ++number;
    if (line.empty() || line.starts_with('#')) continue;
    auto token = token_in(line);
    if (!token || tokens.size() == kTokensMax) {
      return Error{
          ErrorCode::bad_input,
          fmt::format("{}:{}: {}; allowed: NAME read|act sha256:HEX, as `tubwarden sheet "
                      "token add` writes it, {} of them",
                      path, number, token ? "one token too many" : "no token", kTokensMax)};
    }
    tokens.push_back(std::move(*token));
  }
  return tokens;
}

/// Locks the folder, so that of two writers one waits, and puts a whole file in place of the old.
Outcome write_tokens(const std::string& path, const std::vector<Token>& tokens) {
  std::string text = "# Tokens of the sheet, as hashes. Written by `tubwarden sheet token`.\n";
  for (const Token& t : tokens) {
    text += fmt::format("{} {} {}{}\n", t.name, name_of(t.may), kHashWord, hex(t.hash));
  }
  const std::string part = path + ".new";
  const std::filesystem::path folder = std::filesystem::absolute(path).parent_path();
  struct stat owner {};
  if (::stat(path.c_str(), &owner) != 0 && ::stat(folder.c_str(), &owner) != 0) {
    return cannot(folder.string(), "read");
  }
  const Descriptor file(
      ::open(part.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0600));
  if (file < 0) return cannot(part, "written");
  // As root: for the daemon's user to read, who owns the folder.
  const bool ours = ::geteuid() != 0 || ::fchown(file, owner.st_uid, owner.st_gid) == 0;
  const bool written =
      ours && ::fchmod(file, 0600) == 0 &&
      ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()) &&
      ::fsync(file) == 0 && ::rename(part.c_str(), path.c_str()) == 0;
  if (written) return Done{};
  const Error error = cannot(path, "written");
  ::unlink(part.c_str());
  return error;
}

Outcome change_tokens(const std::string& path, auto change) {
  const std::filesystem::path folder = std::filesystem::absolute(path).parent_path();
  const Descriptor lock(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (lock < 0) return cannot(folder.string(), "opened");
  if (::flock(lock, LOCK_EX) != 0) return cannot(folder.string(), "locked");
  auto tokens = read_tokens(path);
  if (!tokens.ok()) return tokens.error();
  if (const Outcome changed = change(*tokens); !changed.ok()) return changed;
  return write_tokens(path, *tokens);
}

auto named_token(std::vector<Token>& tokens, const std::string& name) {
  return std::find_if(tokens.begin(), tokens.end(), [&](const Token& t) { return t.name == name; });
}

}  // namespace

const char* name_of(May may) { return may == May::act ? "act" : "read"; }

Result<std::vector<Token>> read_tokens(const std::string& path) {
  // Not blocking: a pipe in its place would hold the loop.
  const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
  if (file < 0 && errno == ENOENT) return std::vector<Token>{};
  if (file < 0) return cannot(path, "read");
  struct stat about {};
  if (::fstat(file, &about) != 0) return cannot(path, "read");
  if (!S_ISREG(about.st_mode)) return Error{ErrorCode::bad_input, path + " is no file"};
  if ((about.st_mode & 077) != 0) {
    return Error{ErrorCode::refused,
                 fmt::format("{} is open to others than its owner; chmod 600 {}", path, path)};
  }
  std::string text(kTokensFileBytesMax + 1, '\0');
  const ssize_t got = ::read(file, text.data(), text.size());
  if (got < 0) return cannot(path, "read");
  text.resize(static_cast<std::size_t>(got));
  if (text.size() > kTokensFileBytesMax) {
    return Error{ErrorCode::bad_input, path + " is too large for a file of tokens"};
  }
  return tokens_in(path, text);
}

const Token* known_token(const std::vector<Token>& tokens, std::string_view shown) {
  const Hash hash = sha256(shown);
  const Token* found = nullptr;
  for (const Token& token : tokens) {
    if (same(token.hash, hash)) found = &token;
  }
  return found;
}

Result<std::string> add_token(const std::string& path, const std::string& name, May may) {
  if (!is_token_name(name)) {
    return Error{ErrorCode::bad_input,
                 fmt::format("'{}' is no name; allowed: letters, digits, - and _, at most {}", name,
                             kTokenNameMax)};
  }
  const std::string token = random_text(kTokenBytes);
  const Outcome added = change_tokens(path, [&](std::vector<Token>& tokens) -> Outcome {
    if (named_token(tokens, name) != tokens.end()) {
      return Error{
          ErrorCode::refused,
          fmt::format("there is a token '{}' already; name another, or take that one back: "
                      "tubwarden sheet token remove {}",
                      name, name)};
    }
    if (tokens.size() >= kTokensMax) {
      return Error{ErrorCode::refused, fmt::format("there are {} tokens; remove one", kTokensMax)};
    }
    tokens.push_back({name, may, sha256(token)});
    return Done{};
  });
  return added.ok() ? Result<std::string>(token) : added.error();
}

Outcome remove_token(const std::string& path, const std::string& name) {
  return change_tokens(path, [&](std::vector<Token>& tokens) -> Outcome {
    const auto found = named_token(tokens, name);
    if (found == tokens.end()) {
      return Error{ErrorCode::not_found,
                   fmt::format("no token is called '{}'; tubwarden sheet token list", name)};
    }
    tokens.erase(found);
    return Done{};
  });
}

std::string random_text(std::size_t bytes) {
  std::string raw(bytes, '\0');
  ENSURE(::RAND_bytes(reinterpret_cast<unsigned char*>(raw.data()), static_cast<int>(bytes)) == 1);
  std::string text(4 * ((bytes + 2) / 3) + 1, '\0');
  const int size = ::EVP_EncodeBlock(reinterpret_cast<unsigned char*>(text.data()),
                                     reinterpret_cast<const unsigned char*>(raw.data()),
                                     static_cast<int>(bytes));
  text.resize(static_cast<std::size_t>(size));
  text.erase(std::min(text.find('='), text.size()));
  std::replace(text.begin(), text.end(), '+', '-');
  std::replace(text.begin(), text.end(), '/', '_');
  return text;
}

Hash sha256(std::string_view text) {
  Hash hash{};
  ::SHA256(reinterpret_cast<const unsigned char*>(text.data()), text.size(), hash.data());
  return hash;
}

Hash hmac_sha256(std::string_view key, std::string_view text) {
  Hash hash{};
  unsigned int size = 0;
  ENSURE(::HMAC(::EVP_sha256(), key.data(), static_cast<int>(key.size()),
                reinterpret_cast<const unsigned char*>(text.data()), text.size(), hash.data(),
                &size) != nullptr);
  return hash;
}

bool same(const Hash& a, const Hash& b) {
  return ::CRYPTO_memcmp(a.data(), b.data(), a.size()) == 0;
}

std::string hex(const Hash& hash) {
  std::string text;
  for (const unsigned char byte : hash) text += fmt::format("{:02x}", byte);
  return text;
}

}  // namespace tubwarden::sheet
