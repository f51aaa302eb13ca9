// Who may come in: host names, other sites' pages, tokens, cookies. For the files of this room
// only. Threading: the loop's thread; looks at the tokens' file at most once a second. Failure: a
// refusal to answer with; a file of tokens that cannot be read keeps those it had.
#pragma once

#include <sys/stat.h>

#include <string>
#include <variant>
#include <vector>

#include "ports/clock.hpp"
#include "shell/sheet/lockout.hpp"
#include "shell/sheet/message.hpp"
#include "shell/sheet/routes.hpp"
#include "shell/sheet/sheet_server.hpp"
#include "shell/sheet/tokens.hpp"

namespace tubwarden::sheet {

struct Caller {
  std::string who;
  May may = May::read;
};

/// How long a browser stays signed in.
inline constexpr seconds kSignedInFor = hours(24 * 30);

class Doors {
 public:
  Doors(const Clock& clock, const SheetOptions& options, SheetCounters& counters,
        SheetServer::Log log);

  /// Reads the tokens, where there is a file of them.
  Outcome open();
  /// Fills in who is behind a proxy that is believed.
  void look_behind_proxy(Request& request) const;
  /// A host name that is not ours (a name of another's that leads here), or a page of another site:
  /// the refusal.
  std::optional<Answer> foreign(const Request& request, Needs needs);
  /// The caller, by token or cookie, if what is asked is theirs to ask.
  std::variant<Caller, Answer> admit(const Request& request, Needs needs);
  Answer sign_in(const Request& request);
  Answer sign_out(const Request& request);
  bool asks_for_tokens() const { return !options_.tokens_file.empty(); }

 private:
  bool is_our_name(std::string_view host) const;
  void look_at_file();
  const Token* bearer(const Request& request) const;
  const Token* of_cookie(const Request& request) const;
  std::string cookie_value(const Token& token, std::int64_t until_s) const;
  std::string cookie_name(const Request& request) const;
  std::string cookie(const Request& request, const std::string& value, seconds lasts) const;
  std::int64_t wall_s() const;
  std::optional<Answer> must_wait(const Request& request);

  const Clock& clock_;
  const SheetOptions& options_;
  SheetCounters& counters_;
  SheetServer::Log log_;
  std::vector<std::string> names_;
  std::vector<Token> tokens_;
  struct stat file_ {};
  Instant looked_{};
  std::string trouble_;
  Lockout lockout_;
};

}  // namespace tubwarden::sheet
