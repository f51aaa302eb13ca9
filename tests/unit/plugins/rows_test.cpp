// What the channels read their options, secrets and messages with.
#include "sdk/rows.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <stdlib.h>
#include <sys/stat.h>

#include "parts/parts.hpp"
#include "sdk/note.hpp"
#include "sdk/secret.hpp"

namespace tubwarden {
namespace {

using namespace std::chrono_literals;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::Not;

constexpr tw_option kRows[] = {
    {"must", "text", "", nullptr, "It must."},
    {"word", "text", "one|two", "one", "A word."},
    {"left_out", "text", "", "", "It may be left out."},
    {"count", "integer", "1..9", "3", "A count."},
    {"wait", "duration", "1s..1m", "2s", "A while."},
    {"yes", "boolean", "", "false", "Whether."},
    {"where", "topic", "", "", "A topic."},
    {"many", "list", "", "", "Some."},
};

Result<Rows> read(const std::string& json) { return Rows::read(kRows, 8, json); }

TEST(Rows, GiveWhatStandsThereOrTheFallback) {
  const auto rows = read(R"({"must":7,"wait":"1500ms","many":["a",2]})");
  ASSERT_TRUE(rows.ok()) << rows.error().text;
  EXPECT_EQ(rows->text("must"), "7");
  EXPECT_EQ(rows->text("word"), "one");
  EXPECT_EQ(rows->text("left_out"), "");
  EXPECT_EQ(rows->duration("wait"), 1500ms);
  EXPECT_THAT(rows->list("many"), ElementsAre("a", "2"));
  EXPECT_TRUE(read(R"({"must":"x"})")->list("many").empty());
  EXPECT_EQ(read(R"({"must":"x"})")->duration("wait"), 2s);
}

TEST(Rows, RefuseWhatDoesNotFit) {
  struct Case {
    const char* json;
    const char* word;
  };
  for (const Case& c :
       {Case{"no JSON", "not a JSON object"}, Case{"{}", "'must' is required (text): It must."},
        Case{R"({"must":""})", "'must' is ''"}, Case{R"({"must":["x"]})", "'must' is required"},
        Case{R"({"must":"x","word":"three"})", "allowed: one|two"},
        Case{R"({"must":"x","count":10})", "allowed: 1..9"},
        Case{R"({"must":"x","count":2.5})", "'count' is '2.5'"},
        Case{R"({"must":"x","wait":"61s"})", "allowed: 1s..1m"},
        Case{R"({"must":"x","wait":"soon"})", "allowed: 1s..1m"},
        Case{R"({"must":"x","yes":"maybe"})", "allowed: true, false"},
        Case{R"({"must":"x","where":"a/+"})", "one topic"},
        Case{R"({"must":"x","many":"a"})", "'many'"},
        Case{R"({"must":"x","mutt":"y"})", "no option 'mutt'; known: must, word"}}) {
    const auto rows = read(c.json);
    ASSERT_FALSE(rows.ok()) << c.json;
    EXPECT_EQ(rows.error().code, ErrorCode::bad_input);
    EXPECT_THAT(rows.error().text, HasSubstr(c.word)) << c.json;
  }
}

class Secret : public testing::Test {
 protected:
  std::string file(const std::string& text, mode_t mode = 0600) const {
    folder_.write("secret", text);
    const std::string path = (folder_.path() / "secret").string();
    EXPECT_EQ(::chmod(path.c_str(), mode), 0);
    return path;
  }
  const parts::TempFolder folder_;
};

TEST_F(Secret, IsTheFirstLine) {
  EXPECT_EQ(*read_secret(file("pass word\r\nmore\n")), "pass word");
  EXPECT_EQ(*read_secret(file("no line end", 0640)), "no line end");
  EXPECT_EQ(read_secret(file(std::string(4096, 'x')))->size(), 4096u);
}

TEST_F(Secret, IsRefusedWhereItIsNoneOrNoLongerOne) {
  for (const auto& [text, mode] :
       std::vector<std::pair<std::string, mode_t>>{{"", 0600},
                                                   {"\nsecond", 0600},
                                                   {"a\tb", 0600},
                                                   {std::string(4097, 'x'), 0600},
                                                   {"s3cret", 0604},
                                                   {"s3cret", 0602}}) {
    const auto secret = read_secret(file(text, mode));
    ASSERT_FALSE(secret.ok()) << text;
    EXPECT_EQ(secret.error().code, ErrorCode::bad_input);
    EXPECT_THAT(secret.error().text, Not(HasSubstr("s3cret")));
  }
  EXPECT_EQ(read_secret("/dev/null").error().code, ErrorCode::bad_input);
  const std::string pipe = (folder_.path() / "pipe").string();
  ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
  EXPECT_EQ(read_secret(pipe).error().code, ErrorCode::bad_input) << "and it does not wait";
  EXPECT_EQ(read_secret((folder_.path() / "absent").string()).error().code, ErrorCode::unavailable);
}

TEST_F(Secret, MayBeACredentialByItsName) {
  file("s3cret");
  ::unsetenv("CREDENTIALS_DIRECTORY");
  EXPECT_THAT(read_secret("secret").error().text, HasSubstr("LoadCredential="));
  ::setenv("CREDENTIALS_DIRECTORY", folder_.path().c_str(), 1);
  EXPECT_EQ(*read_secret("secret"), "s3cret");
  for (const char* name : {"", ".", "..", "../x", "a/b"}) {
    EXPECT_EQ(read_secret(name).error().code, ErrorCode::bad_input) << name;
  }
  ::unsetenv("CREDENTIALS_DIRECTORY");
}

TEST(ChannelNote, IsReadAndItsTextIsEscaped) {
  const auto note = parse_note(R"({"key":"k","rank":"now","title":"t","text":"x","later":{}})");
  ASSERT_TRUE(note.ok());
  EXPECT_EQ(note->state, "raised");
  EXPECT_EQ(note->text, "x");
  EXPECT_FALSE(parse_note("[]").ok());
  EXPECT_FALSE(parse_note(R"({"title":7})").ok());
  EXPECT_EQ(json_escaped("\"\\\n\x01\xC3\xA4"), R"(\"\\\n\u0001\u00e4)");
  EXPECT_EQ(json_escaped("\xFF"), R"(\ufffd)");
}

}  // namespace
}  // namespace tubwarden
