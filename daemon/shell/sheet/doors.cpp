#include "shell/sheet/doors.hpp"

#include <arpa/inet.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <charconv>

namespace tubwarden::sheet {
namespace {

constexpr Duration kLookAtFileEvery = seconds(1);
constexpr std::size_t kShownBytesMax = 256;

std::string lower(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(),
                 [](unsigned char c) { return c < 128 ? std::tolower(c) : c; });
  return out;
}

bool is_address(std::string_view text) {
  std::array<unsigned char, sizeof(in6_addr)> bytes{};
  const std::string plain(text.substr(0, text.find('%')));
  return ::inet_pton(AF_INET, plain.c_str(), bytes.data()) == 1 ||
         ::inet_pton(AF_INET6, plain.c_str(), bytes.data()) == 1;
}

/// "host:port" without its port, "[::1]:80" without that and the brackets.
std::string_view host_in(std::string_view text) {
  if (text.starts_with('[')) {
    const std::size_t end = text.find(']');
    return end == std::string_view::npos ? std::string_view{} : text.substr(1, end - 1);
  }
  return text.substr(0, text.find(':'));
}

std::string_view trimmed_blank(std::string_view text) {
  while (text.starts_with(' ')) text.remove_prefix(1);
  while (text.ends_with(' ')) text.remove_suffix(1);
  return text;
}

std::string_view cookie_named(std::string_view cookies, std::string_view name) {
  while (!cookies.empty()) {
    const std::string_view all = cookies.substr(0, cookies.find(';'));
    cookies.remove_prefix(std::min(all.size() + 1, cookies.size()));
    const std::string_view one = trimmed_blank(all);
    if (one.starts_with(name) && one.substr(name.size()).starts_with('=')) {
      return one.substr(name.size() + 1);
    }
  }
  return {};
}

}  // namespace

Doors::Doors(const Clock& clock, const SheetOptions& options, SheetCounters& counters,
             SheetServer::Log log)
    : clock_(clock), options_(options), counters_(counters), log_(std::move(log)) {
  names_ = {"localhost"};
  std::array<char, 256> board{};
  if (::gethostname(board.data(), board.size() - 1) == 0 && board[0] != 0) {
    names_.push_back(lower(board.data()));
    names_.push_back(lower(board.data()) + ".local");
  }
  if (!options.name.empty()) names_.push_back(lower(options.name));
}

Outcome Doors::open() {
  if (!asks_for_tokens()) return Done{};
  auto tokens = read_tokens(options_.tokens_file);
  if (!tokens.ok()) return tokens.error();
  tokens_ = std::move(*tokens);
  if (::stat(options_.tokens_file.c_str(), &file_) != 0) file_ = {};
  if (tokens_.empty()) {
    log_(
        fmt::format("nobody can open the sheet: {} has no token; sudo tubwarden sheet token add "
                    "NAME --may act",
                    options_.tokens_file));
  }
  return Done{};
}

/// A token that is taken back is out at once, and a new one in.
void Doors::look_at_file() {
  const Instant now = clock_.now();
  if (!asks_for_tokens() || now - looked_ < kLookAtFileEvery) return;
  looked_ = now;
  struct stat about {};
  if (::stat(options_.tokens_file.c_str(), &about) != 0) about = {};
  const bool same_file = about.st_ino == file_.st_ino && about.st_size == file_.st_size &&
                         about.st_mtim.tv_sec == file_.st_mtim.tv_sec &&
                         about.st_mtim.tv_nsec == file_.st_mtim.tv_nsec &&
                         about.st_mode == file_.st_mode;
  if (same_file && trouble_.empty()) return;
  file_ = about;
  auto tokens = read_tokens(options_.tokens_file);
  const std::string trouble = tokens.ok() ? "" : tokens.error().text;
  if (!trouble.empty() && trouble != trouble_) {
    log_(trouble + "; the sheet goes on with the tokens it had");
  }
  trouble_ = trouble;
  if (tokens.ok()) tokens_ = std::move(*tokens);
}

void Doors::look_behind_proxy(Request& request) const {
  if (options_.proxy.empty() || request.peer != options_.proxy) return;
  // The last one is what our proxy saw; those before it are anybody's words.
  const std::string& all = request.forwarded_for;
  const std::size_t comma = all.rfind(',');
  const std::string_view last =
      trimmed_blank(std::string_view(all).substr(comma == std::string::npos ? 0 : comma + 1));
  if (is_address(last)) request.peer = last;
  request.encrypted = request.forwarded_proto == "https";
}

/// An address cannot be made to lead elsewhere, a name can: by its owner, to here.
bool Doors::is_our_name(std::string_view host) const {
  const std::string name = lower(host_in(host));
  return is_address(name) || std::find(names_.begin(), names_.end(), name) != names_.end();
}

std::optional<Answer> Doors::foreign(const Request& request, Needs needs) {
  const auto refuse = [&](int status, const std::string& text) {
    ++counters_.foreign;
    return refusal(status, "forbidden", text);
  };
  if (!is_our_name(request.host)) {
    return refuse(421,
                  "the sheet is not called by this name; allowed: its address, localhost, the "
                  "board's name, and sheet: name: of tubwarden.yaml");
  }
  // A page may be led to from elsewhere; it has nothing in it. What is in it is asked for by
  // itself.
  if (needs == Needs::nothing && request.method == "GET") return std::nullopt;
  const std::string& site = request.fetch_site;
  if (!site.empty() && site != "same-origin" && site != "none") {
    return refuse(403, "a page of another site may not ask here");
  }
  const std::string& origin = request.origin;
  const std::size_t scheme = origin.find("://");
  if (!origin.empty() &&
      (scheme == std::string::npos || lower(origin.substr(scheme + 3)) != lower(request.host))) {
    return refuse(403, "a page of another site may not ask here");
  }
  if (needs == Needs::act && request.act != "act") {
    return refuse(403, "a request to act carries the header X-Tubwarden: act");
  }
  return std::nullopt;
}

std::optional<Answer> Doors::must_wait(const Request& request) {
  const auto wait = lockout_.wait(household(request.peer), clock_.now());
  if (!wait) return std::nullopt;
  ++counters_.locked_out;
  const auto left = static_cast<int>(seconds_of(*wait)) + 1;
  Answer answer =
      refusal(429, "too_many", fmt::format("too many wrong tokens from here; wait {} s", left));
  answer.headers.emplace_back("Retry-After", std::to_string(left));
  return answer;
}

const Token* Doors::bearer(const Request& request) const {
  constexpr std::string_view kScheme = "bearer ";
  const std::string& given = request.authorization;
  if (given.size() > kShownBytesMax || lower(given.substr(0, kScheme.size())) != kScheme) {
    return nullptr;
  }
  return known_token(tokens_, trimmed_blank(std::string_view(given).substr(kScheme.size())));
}

std::variant<Caller, Answer> Doors::admit(const Request& request, Needs needs) {
  if (!asks_for_tokens() || needs == Needs::nothing) return Caller{"sheet", May::act};
  look_at_file();
  const Token* token = nullptr;
  if (!request.authorization.empty()) {
    if (auto wait = must_wait(request)) return std::move(*wait);
    token = bearer(request);
    if (!token) {
      ++counters_.wrong_tokens;
      lockout_.wrong(household(request.peer), clock_.now());
    }
  } else {
    token = of_cookie(request);
  }
  if (!token) {
    Answer answer = refusal(401, "sign_in",
                            "this sheet asks for a token; sign in at /signin, or send "
                            "Authorization: Bearer TOKEN");
    answer.headers.emplace_back("WWW-Authenticate", "Bearer");
    return answer;
  }
  if (needs == Needs::act && token->may != May::act) {
    return refusal(403, "forbidden",
                   "the token '" + token->name + "' may read; this needs one that may act");
  }
  return Caller{token->name, token->may};
}

Answer Doors::sign_in(const Request& request) {
  if (!asks_for_tokens()) return see_other("/");
  look_at_file();
  if (must_wait(request)) return see_other("/signin#later");
  const auto fields = form_in(request.body);
  const Token* token = nullptr;
  for (const auto& [name, value] :
       fields.value_or(std::vector<std::pair<std::string, std::string>>{})) {
    if (name == "token" && value.size() <= kShownBytesMax) {
      token = known_token(tokens_, trimmed_blank(value));
    }
  }
  if (!token) {
    ++counters_.wrong_tokens;
    lockout_.wrong(household(request.peer), clock_.now());
    return see_other("/signin#wrong");
  }
  lockout_.right(household(request.peer));
  Answer answer = see_other("/");
  const std::string value = cookie_value(*token, wall_s() + kSignedInFor.count());
  answer.headers.emplace_back("Set-Cookie", cookie(request, value, kSignedInFor));
  return answer;
}

Answer Doors::sign_out(const Request& request) {
  Answer answer = see_other("/signin");
  answer.headers.emplace_back("Set-Cookie", cookie(request, "", seconds(0)));
  return answer;
}

/// NAME.UNTIL.MAC: nothing is kept here for it. The MAC takes in the token's hash, so that a token
/// that is taken back takes its cookies with it.
std::string Doors::cookie_value(const Token& token, std::int64_t until_s) const {
  const std::string head = fmt::format("{}.{}", token.name, until_s);
  return head + "." + hex(hmac_sha256(options_.cookie_key, head + "." + hex(token.hash)));
}

const Token* Doors::of_cookie(const Request& request) const {
  const std::string_view value = cookie_named(request.cookie, cookie_name(request));
  const std::size_t dot = value.find('.');
  if (value.size() > kShownBytesMax || dot == std::string_view::npos) return nullptr;
  std::int64_t until = 0;
  const std::string_view rest = value.substr(dot + 1);
  if (std::from_chars(rest.data(), rest.data() + rest.size(), until).ec != std::errc() ||
      until <= wall_s()) {
    return nullptr;
  }
  for (const Token& token : tokens_) {
    if (token.name != value.substr(0, dot)) continue;
    // Of their hashes, so that the comparison takes the same time whatever is the same in them.
    if (same(sha256(cookie_value(token, until)), sha256(value))) return &token;
  }
  return nullptr;
}

/// With TLS the browser itself holds the name to this host and to encryption.
std::string Doors::cookie_name(const Request& request) const {
  return request.encrypted ? "__Host-tubwarden" : "tubwarden";
}

std::string Doors::cookie(const Request& request, const std::string& value, seconds lasts) const {
  return fmt::format("{}={}; Path=/; Max-Age={}; HttpOnly; SameSite=Strict{}", cookie_name(request),
                     value, lasts.count(), request.encrypted ? "; Secure" : "");
}

std::int64_t Doors::wall_s() const {
  return duration_cast<seconds>(clock_.wall().time_since_epoch()).count();
}

}  // namespace tubwarden::sheet
