#include "shell/sheet/doors.hpp"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include "clock.hpp"
#include "parts/parts.hpp"

namespace tubwarden::sheet {
namespace {

Request get(const std::string& path) {
  Request r;
  r.method = "GET";
  r.path = path;
  r.host = "127.0.0.1:8437";
  r.peer = "192.0.2.7";
  return r;
}

class DoorsTest : public testing::Test {
 protected:
  DoorsTest() {
    options.tokens_file = (folder.path() / "tokens").string();
    options.cookie_key = std::string(32, 'k');
  }
  Doors open() {
    Doors doors(clock, options, counters, [this](const std::string& line) { log += line + "\n"; });
    EXPECT_TRUE(doors.open().ok());
    return doors;
  }
  std::string token(const std::string& name, May may) {
    const auto made = add_token(options.tokens_file, name, may);
    EXPECT_TRUE(made.ok());
    return *made;
  }
  static int status(const std::variant<Caller, Answer>& admitted) {
    const auto* refused = std::get_if<Answer>(&admitted);
    return refused ? refused->status : 200;
  }
  Request bearing(const std::string& shown) {
    Request r = get("/api/status");
    r.authorization = "Bearer " + shown;
    return r;
  }
  Answer sign_in(Doors& doors, const std::string& shown) {
    Request r = get("/signin");
    r.method = "POST";
    r.body = "token=" + shown;
    return doors.sign_in(r);
  }
  static std::string header(const Answer& answer, const std::string& name) {
    for (const auto& [known, value] : answer.headers) {
      if (known == name) return value;
    }
    return "";
  }

  parts::TempFolder folder;
  StandingClock clock;
  SheetOptions options;
  SheetCounters counters;
  std::string log;
};

TEST_F(DoorsTest, WithoutAFileOfTokensNobodyNeedsOne) {
  options.tokens_file.clear();
  Doors doors = open();
  const auto admitted = doors.admit(get("/api/status"), Needs::act);
  ASSERT_TRUE(std::holds_alternative<Caller>(admitted));
  EXPECT_EQ(std::get<Caller>(admitted).who, "sheet");
}

TEST_F(DoorsTest, ATokenThatReadsMayNotAct) {
  const std::string reads = token("phone", May::read), acts = token("hand", May::act);
  Doors doors = open();
  EXPECT_EQ(status(doors.admit(get("/api/status"), Needs::read)), 401);
  EXPECT_EQ(status(doors.admit(bearing(reads), Needs::read)), 200);
  EXPECT_EQ(status(doors.admit(bearing(reads), Needs::act)), 403);
  const auto admitted = doors.admit(bearing(acts), Needs::act);
  ASSERT_EQ(status(admitted), 200);
  EXPECT_EQ(std::get<Caller>(admitted).who, "hand");
  EXPECT_EQ(counters.wrong_tokens, 0u);
}

TEST_F(DoorsTest, WrongTokensLockTheirAddressOutAndNobodyElse) {
  const std::string acts = token("hand", May::act);
  Doors doors = open();
  for (int i = 0; i < Lockout::kFree; ++i) {
    EXPECT_EQ(status(doors.admit(bearing("wrong"), Needs::read)), 401);
  }
  EXPECT_EQ(counters.wrong_tokens, 3u);
  const auto locked = doors.admit(bearing(acts), Needs::read);
  ASSERT_EQ(status(locked), 429);
  EXPECT_EQ(header(std::get<Answer>(locked), "Retry-After"), "2");
  EXPECT_EQ(header(sign_in(doors, acts), "Location"), "/signin#later");
  EXPECT_EQ(counters.locked_out, 2u);
  Request other = bearing(acts);
  other.peer = "192.0.2.8";
  EXPECT_EQ(status(doors.admit(other, Needs::read)), 200);
  clock.at += seconds(2);
  EXPECT_EQ(status(doors.admit(bearing(acts), Needs::read)), 200);
}

TEST_F(DoorsTest, ACookieOpensUntilItEndsOrItsTokenIsTakenBack) {
  const std::string acts = token("hand", May::act);
  token("other", May::read);
  Doors doors = open();
  EXPECT_EQ(header(sign_in(doors, "wrong"), "Location"), "/signin#wrong");
  const std::string cookie = header(sign_in(doors, acts), "Set-Cookie");
  EXPECT_NE(cookie.find("; HttpOnly; SameSite=Strict"), std::string::npos) << cookie;
  EXPECT_EQ(cookie.find("Secure"), std::string::npos) << cookie;
  Request r = get("/api/status");
  r.cookie = "theme=dark; " + cookie.substr(0, cookie.find(';'));
  EXPECT_EQ(status(doors.admit(r, Needs::act)), 200);

  Request forged = r;
  forged.cookie.back() = forged.cookie.back() == '0' ? '1' : '0';
  EXPECT_EQ(status(doors.admit(forged, Needs::read)), 401);
  Request renamed = r;
  renamed.cookie.replace(renamed.cookie.find("=hand."), 6, "=other.");
  EXPECT_EQ(status(doors.admit(renamed, Needs::read)), 401);
  EXPECT_EQ(status(doors.admit(r, Needs::read)), 200) << "a wrong cookie locks nobody out";

  clock.wall_at += kSignedInFor;
  EXPECT_EQ(status(doors.admit(r, Needs::read)), 401);
  clock.wall_at -= hours(1);
  EXPECT_EQ(status(doors.admit(r, Needs::read)), 200);
  ASSERT_TRUE(remove_token(options.tokens_file, "hand").ok());
  clock.at += seconds(2);
  EXPECT_EQ(status(doors.admit(r, Needs::read)), 401);
}

TEST_F(DoorsTest, WithTlsTheCookieIsForThisHostAndTlsAlone) {
  const std::string acts = token("hand", May::act);
  options.proxy = "192.0.2.7";
  Doors doors = open();
  Request r = get("/signin");
  r.method = "POST";
  r.body = "token=" + acts;
  r.forwarded_for = "203.0.113.5, 198.51.100.9";
  r.forwarded_proto = "https";
  doors.look_behind_proxy(r);
  EXPECT_EQ(r.peer, "198.51.100.9") << "the last one is the proxy's own word";
  const std::string cookie = header(doors.sign_in(r), "Set-Cookie");
  EXPECT_TRUE(cookie.starts_with("__Host-tubwarden=hand.")) << cookie;
  EXPECT_NE(cookie.find("; Secure"), std::string::npos) << cookie;
}

TEST_F(DoorsTest, ForwardedWordsOfOthersAreNotBelieved) {
  Doors doors = open();
  Request r = get("/");
  r.forwarded_for = "203.0.113.5";
  r.forwarded_proto = "https";
  doors.look_behind_proxy(r);
  EXPECT_EQ(r.peer, "192.0.2.7");
  EXPECT_FALSE(r.encrypted);
}

TEST_F(DoorsTest, ANameOfAnothersThatLeadsHereIsRefused) {
  options.name = "tubs.example.org";
  Doors doors = open();
  for (const char* ours : {"127.0.0.1:8437", "[::1]:8437", "localhost", "LOCALHOST:8437",
                           "tubs.example.org", "192.0.2.1:8437"}) {
    Request r = get("/");
    r.host = ours;
    EXPECT_FALSE(doors.foreign(r, Needs::nothing)) << ours;
  }
  for (const char* others : {"evil.example", "localhost.evil.example", "", "127.0.0.1.evil.example",
                             "[::1", "tubs.example.org.evil.example"}) {
    Request r = get("/");
    r.host = others;
    const auto refused = doors.foreign(r, Needs::nothing);
    ASSERT_TRUE(refused) << others;
    EXPECT_EQ(refused->status, 421);
  }
  EXPECT_EQ(counters.foreign, 6u);
}

TEST_F(DoorsTest, APageOfAnotherSiteNeitherAsksNorActs) {
  Doors doors = open();
  Request r = get("/api/status");
  EXPECT_FALSE(doors.foreign(r, Needs::read));
  r.fetch_site = "cross-site";
  EXPECT_TRUE(doors.foreign(r, Needs::read));
  EXPECT_FALSE(doors.foreign(r, Needs::nothing)) << "a page may be led to from elsewhere";
  r.fetch_site = "same-site";
  EXPECT_TRUE(doors.foreign(r, Needs::read));
  r.fetch_site = "same-origin";
  r.method = "POST";
  EXPECT_TRUE(doors.foreign(r, Needs::act)) << "without the header of ours";
  r.act = "act";
  EXPECT_FALSE(doors.foreign(r, Needs::act));
  for (const char* origin : {"http://evil.example", "null", "http://127.0.0.1:9999"}) {
    r.origin = origin;
    EXPECT_TRUE(doors.foreign(r, Needs::act)) << origin;
    EXPECT_TRUE(doors.foreign(r, Needs::nothing)) << origin << ": nor does it sign anybody in";
  }
  r.origin = "http://127.0.0.1:8437";
  EXPECT_FALSE(doors.foreign(r, Needs::act));
}

TEST_F(DoorsTest, AFileOfTokensThatBreaksKeepsThoseItHad) {
  const std::string acts = token("hand", May::act);
  Doors doors = open();
  folder.write("tokens", "hand act\n");
  ASSERT_EQ(::chmod(options.tokens_file.c_str(), 0600), 0);
  clock.at += seconds(2);
  EXPECT_EQ(status(doors.admit(bearing(acts), Needs::read)), 200);
  EXPECT_NE(log.find("tokens:1: no token"), std::string::npos) << log;
}

TEST(Tokens, AreKeptAsHashesForTheirOwnerAlone) {
  parts::TempFolder folder;
  const std::string file = (folder.path() / "tokens").string();
  const auto token = add_token(file, "phone", May::read);
  ASSERT_TRUE(token.ok());
  EXPECT_EQ(token->size(), 43u);  // 256 bits, six a character
  EXPECT_EQ(parts::read_file(file).find(*token), std::string::npos);
  struct stat about {};
  ASSERT_EQ(::stat(file.c_str(), &about), 0);
  EXPECT_EQ(about.st_mode & 0777, 0600u);
  EXPECT_EQ(add_token(file, "phone", May::act).error().code, ErrorCode::refused);
  EXPECT_EQ(add_token(file, "my phone", May::act).error().code, ErrorCode::bad_input);
  EXPECT_EQ(remove_token(file, "tablet").error().code, ErrorCode::not_found);
  ASSERT_EQ(::chmod(file.c_str(), 0640), 0);
  EXPECT_EQ(read_tokens(file).error().code, ErrorCode::refused);
}

// Check value: SHA-256 of "abc" in FIPS 180-4's example (from memory), HMAC of RFC 4231 test 2
// (from memory).
TEST(Tokens, HashAsTheStandardsDo) {
  EXPECT_EQ(hex(sha256("abc")), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(hex(hmac_sha256("Jefe", "what do ya want for nothing?")),
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
}

TEST(LockoutTest, WaitsDoubleUpToALimitAndAreForgotten) {
  Lockout lockout;
  Instant now{hours(1)};
  for (int i = 0; i < 5; ++i) lockout.wrong("a", now);
  EXPECT_EQ(lockout.wait("a", now), Duration(seconds(4)));
  for (int i = 0; i < 100; ++i) lockout.wrong("a", now);
  EXPECT_EQ(lockout.wait("a", now), Lockout::kLongest);
  now += hours(2);
  lockout.wrong("a", now);
  EXPECT_EQ(lockout.wait("a", now), std::nullopt);
  for (int i = 0; i < 3000; ++i) lockout.wrong(std::to_string(i), now + seconds(i));
  EXPECT_EQ(lockout.known(), Lockout::kKnownMax);
  EXPECT_EQ(household("2001:db8:1:2:3:4:5:6"), household("2001:db8:1:2::9"));
  EXPECT_NE(household("2001:db8:1:2::9"), household("2001:db8:1:3::9"));
}

}  // namespace
}  // namespace tubwarden::sheet
