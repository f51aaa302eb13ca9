#include <gmock/gmock.h>
#include <pwd.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <fstream>

#include "server.hpp"
#include "shell/control/control_client.hpp"

namespace control_test {
namespace {

using ::testing::HasSubstr;
using tubwarden::ask_daemon;
using tubwarden::ErrorCode;
using tubwarden::seconds;

tubwarden::Result<std::string> ask(const Served& served, const std::string& what,
                                   const std::string& args = "{}") {
  return ask_daemon(served.path, what, args, seconds(5));
}

TEST(Control, AnswersWithTheResultOfWhatWasAsked) {
  Served served;
  ASSERT_TRUE(served.start().ok());
  const auto answer = ask(served, "note", R"({"tub":"tub-1","text":"wet \"caps\" \n"})");
  ASSERT_TRUE(answer.ok()) << answer.error().text;
  EXPECT_EQ(*answer, R"({"heard":{"tub":"tub-1","text":"wet \"caps\" \n"}})");
  ASSERT_EQ(served.asked().size(), 1u);
  EXPECT_EQ(served.asked()[0].what, "note");
  EXPECT_EQ(served.asked()[0].who, ::getpwuid(::getuid())->pw_name);
}

TEST(Control, HandsTheHandlersErrorOnWithItsCode) {
  Served served;
  ASSERT_TRUE(served.start().ok());
  const auto answer = ask(served, "no");
  ASSERT_FALSE(answer.ok());
  EXPECT_EQ(answer.error().code, ErrorCode::refused);
  EXPECT_EQ(answer.error().text, "not now: \"hands\" in the tub");
  Raw raw(served.path);
  raw.say("{\"do\":\"no\"}\n");
  EXPECT_EQ(raw.line(), R"({"ok":false,"error":{"code":"refused",)"
                        R"("text":"not now: \"hands\" in the tub"}})");
}

TEST(Control, AnIndentedResultIsStillOneLine) {
  Served served;
  served.hold();
  ASSERT_TRUE(served.start().ok());
  Raw raw(served.path);
  raw.say("{\"do\":\"status\"}\n");
  ASSERT_TRUE(parts::wait_until([&] { return served.asked().size() == 1; }, 5s));
  served.answer_oldest(std::string("{\n  \"a\": \"x\\ny\"\n}"));
  EXPECT_EQ(raw.line(), R"({"ok":true,"result":{   "a": "x\ny" }})");
}

TEST(Control, TheGroupMayUseTheSocketAndNobodyElse) {
  Served served;
  ASSERT_TRUE(served.start().ok());
  struct stat made {};
  ASSERT_EQ(::stat(served.path.c_str(), &made), 0);
  EXPECT_EQ(made.st_mode & 07777, 0660u);
}

TEST(Control, PipelinedLinesAreAnsweredInTheirOrder) {
  Served served;
  served.hold();
  ASSERT_TRUE(served.start().ok());
  Raw raw(served.path);
  raw.say("{\"do\":\"first\"}\n{\"do\":\"second\"}\nnonsense\n{\"do\":\"third\"}\n");
  raw.half_close();
  for (const char* what : {"first", "second", "third"}) {
    ASSERT_TRUE(parts::wait_until(
        [&] { return !served.asked().empty() && served.asked().back().what == what; }, 5s));
    if (std::string(what) == "first") {
      EXPECT_EQ(served.asked().size(), 1u) << "the second waits";
    }
    served.answer_oldest("\"" + std::string(what) + "\"");
  }
  EXPECT_EQ(raw.line(), R"({"ok":true,"result":"first"})");
  EXPECT_EQ(raw.line(), R"({"ok":true,"result":"second"})");
  EXPECT_THAT(raw.line(), HasSubstr(R"({"ok":false,"error":{"code":"bad_input")"));
  EXPECT_EQ(raw.line(), R"({"ok":true,"result":"third"})");
  EXPECT_EQ(raw.line(), "(closed)");
}

TEST(Control, WhatIsNoRequestIsAnsweredAndCounted) {
  Served served;
  ASSERT_TRUE(served.start().ok());
  Raw raw(served.path);
  const std::string deep = std::string(30000, '[') + std::string(30000, ']');
  const std::vector<std::string> lines = {"",
                                          "{",
                                          "[]",
                                          "7",
                                          R"({"args":{}})",
                                          R"({"do":7})",
                                          R"({"do":"status","args":[]})",
                                          "{\"do\":\"\xff\"}",
                                          R"({"do":"note","args":{"text":)" + deep + "}}"};
  for (const std::string& line : lines) {
    raw.say(line + "\n");
    EXPECT_THAT(raw.line(), HasSubstr(R"({"ok":false,"error":{"code":"bad_input","text":")"))
        << line.substr(0, 60);
  }
  EXPECT_EQ(served.counters().malformed, lines.size());
  EXPECT_EQ(served.counters().requests, 0u);
  raw.say("{\"do\":\"status\"}\n");
  EXPECT_EQ(raw.line(), R"({"ok":true,"result":{"heard":{}}})") << "it still listens";
}

TEST(Control, ALineTooLongIsSaidAndCutOff) {
  Served served;
  ASSERT_TRUE(served.start().ok());
  Raw fits(served.path), over(served.path);
  const std::string frame = R"({"do":"note","args":{"text":""}})";
  fits.say(R"({"do":"note","args":{"text":")" + std::string(65535 - frame.size(), 'x') + "\"}}\n");
  EXPECT_THAT(fits.line(), HasSubstr(R"({"ok":true)"));
  over.say(R"({"do":"note","args":{"text":")" + std::string(65536 - frame.size(), 'x') + "\"}}\n");
  EXPECT_EQ(over.line(),
            R"({"ok":false,"error":{"code":"bad_input","text":"the line is longer than 64 KiB"}})");
  EXPECT_EQ(over.line(), "(closed)");
  EXPECT_EQ(served.counters().too_long, 1u);
}

TEST(Control, TheThirtyThirdClientIsToldAndTheRestGoOn) {
  Served served;
  ASSERT_TRUE(served.start().ok());
  std::vector<std::unique_ptr<Raw>> clients;
  for (int i = 0; i < 32; ++i) clients.push_back(std::make_unique<Raw>(served.path));
  ASSERT_TRUE(parts::wait_until([&] { return served.counters().clients == 32; }, 5s));
  Raw more(served.path);
  EXPECT_THAT(more.line(), HasSubstr("too many clients"));
  EXPECT_EQ(more.line(), "(closed)");
  EXPECT_EQ(served.counters().too_many, 1u);
  clients[31]->say("{\"do\":\"status\"}\n");
  EXPECT_THAT(clients[31]->line(), HasSubstr("\"ok\":true"));
  clients.pop_back();
  ASSERT_TRUE(parts::wait_until([&] { return served.counters().clients == 31; }, 5s));
  EXPECT_TRUE(ask(served, "status").ok()) << "a place is free again";
}

TEST(Control, AnIdleClientIsCutOffAndOneThatWaitsIsNot) {
  ControlLimits limits;
  limits.idle_max = std::chrono::milliseconds(100);
  Served served(limits);
  served.hold();
  ASSERT_TRUE(served.start().ok());
  Raw waits(served.path);
  waits.say("{\"do\":\"slow\"}\n");
  ASSERT_TRUE(parts::wait_until([&] { return served.asked().size() == 1; }, 5s));
  Raw idle(served.path), half(served.path);
  half.say("{\"do\":\"sta");
  EXPECT_EQ(idle.line(), "(closed)");
  EXPECT_EQ(half.line(), "(closed)") << "half a line is no request";
  EXPECT_EQ(served.counters().cut_off, 2u);
  // By now the first has waited longer than the limit, too.
  served.answer_oldest(std::string("1"));
  EXPECT_EQ(waits.line(), R"({"ok":true,"result":1})");
}

TEST(Control, AClientThatDoesNotReadItsAnswerIsCutOff) {
  ControlLimits limits;
  limits.untaken_max = std::chrono::milliseconds(100);
  Served served(limits);
  ASSERT_TRUE(served.start().ok());
  Raw deaf(served.path);
  deaf.say("{\"do\":\"big\"}\n");
  EXPECT_TRUE(parts::wait_until(
      [&] {
        const ControlCounters now = served.counters();
        return now.cut_off == 1 && now.clients == 0;
      },
      5s));
}

TEST(Control, AnAnswerLargerThanTheSocketsBufferArrivesWhole) {
  Served served;
  ASSERT_TRUE(served.start().ok());
  const auto answer = ask_daemon(served.path, "big", "{}", seconds(50));
  ASSERT_TRUE(answer.ok()) << answer.error().text;
  EXPECT_EQ(answer->size(), 8u * 1024 * 1024 + 2);
}

TEST(Control, AClientThatLeftIsForgottenWithItsAnswer) {
  Served served;
  served.hold();
  ASSERT_TRUE(served.start().ok());
  {
    Raw gone(served.path);
    gone.say("{\"do\":\"slow\"}\n");
    ASSERT_TRUE(parts::wait_until([&] { return served.asked().size() == 1; }, 5s));
  }
  served.answer_oldest(std::string("1"));
  EXPECT_TRUE(parts::wait_until([&] { return served.counters().clients == 0; }, 5s));
}

TEST(Control, ALiveSocketIsRefusedAndAStaleOneReplaced) {
  Served first;
  ASSERT_TRUE(first.start().ok());
  boost::asio::io_context loop;
  const auto nothing = [](const ControlRequest&, ControlServer::Reply) {};
  ControlServer second(loop, first.path, nothing);
  const auto refused = second.start();
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.error().code, ErrorCode::refused);
  EXPECT_THAT(refused.error().text, HasSubstr("another tubwardend answers at " + first.path));
  EXPECT_TRUE(ask(first, "status").ok()) << "the first still answers";

  parts::TempFolder folder;
  const std::string stale = (folder.path() / "stale.sock").string();
  const int fd = ::socket(AF_UNIX, SOCK_STREAM, 0);
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  stale.copy(address.sun_path, stale.size());
  ASSERT_EQ(::bind(fd, reinterpret_cast<const sockaddr*>(&address), sizeof(address)), 0);
  ::close(fd);
  ASSERT_TRUE(std::filesystem::is_socket(stale));
  ControlServer third(loop, stale, nothing);
  EXPECT_TRUE(third.start().ok());
}

TEST(Control, AFileThatIsNoSocketIsLeftAlone) {
  parts::TempFolder folder;
  folder.write("notes.txt", "mine");
  boost::asio::io_context loop;
  ControlServer server(loop, (folder.path() / "notes.txt").string(), {});
  const auto refused = server.start();
  ASSERT_FALSE(refused.ok());
  EXPECT_THAT(refused.error().text, HasSubstr("is no socket"));
  EXPECT_EQ(parts::read_file(folder.path() / "notes.txt"), "mine");
}

TEST(Control, AnEndRemovesItsOwnFileOnly) {
  Served served;
  ASSERT_TRUE(served.start().ok());
  Raw connected(served.path);
  ASSERT_TRUE(parts::wait_until([&] { return served.counters().clients == 1; }, 5s));
  served.stop();
  EXPECT_FALSE(std::filesystem::exists(served.path));
  EXPECT_EQ(connected.line(), "(closed)");
  ASSERT_TRUE(served.start().ok()) << "it can stand again";
  std::filesystem::remove(served.path);
  std::ofstream(served.path) << "another's";
  served.stop();
  EXPECT_EQ(parts::read_file(served.path), "another's");
}

TEST(Control, APathTooLongIsSaid) {
  boost::asio::io_context loop;
  ControlServer server(loop, "/tmp/" + std::string(200, 'x'), {});
  const auto refused = server.start();
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.error().code, ErrorCode::bad_input);
  EXPECT_THAT(refused.error().text, HasSubstr("1 to 107 bytes"));
}

TEST(ControlClient, SaysWhatToDoWhereNoDaemonIs) {
  parts::TempFolder folder;
  const auto answer =
      ask_daemon((folder.path() / "none.sock").string(), "status", "{}", seconds(1));
  ASSERT_FALSE(answer.ok());
  EXPECT_EQ(answer.error().code, ErrorCode::unavailable);
  EXPECT_THAT(answer.error().text, HasSubstr("no daemon answers at"));
  EXPECT_THAT(answer.error().text, HasSubstr("Start tubwardend"));
}

TEST(ControlClient, DoesNotWaitForever) {
  Served served;
  served.hold();
  ASSERT_TRUE(served.start().ok());
  const auto answer = ask_daemon(served.path, "slow", "{}", std::chrono::milliseconds(50));
  ASSERT_FALSE(answer.ok());
  EXPECT_EQ(answer.error().code, ErrorCode::timed_out);
}

TEST(ControlClient, NoticesADaemonThatGoesAway) {
  Served served;
  served.hold();
  ASSERT_TRUE(served.start().ok());
  auto answer = std::async(std::launch::async, [&] { return ask(served, "slow"); });
  ASSERT_TRUE(parts::wait_until([&] { return served.asked().size() == 1; }, 5s));
  served.stop();
  const auto got = answer.get();
  ASSERT_FALSE(got.ok());
  EXPECT_THAT(got.error().text, HasSubstr("hung up before it answered"));
}

TEST(ControlClient, BytesThatAreNoTextDoNotEndIt) {
  Served served;
  ASSERT_TRUE(served.start().ok());
  const auto answer = ask(served, "caf\xe9");
  ASSERT_TRUE(answer.ok()) << answer.error().text;
  EXPECT_EQ(served.asked()[0].what, "caf\xef\xbf\xbd");
}

TEST(ControlClient, WhatIsTooMuchForALineIsSaidBeforeItIsSent) {
  Served served;
  ASSERT_TRUE(served.start().ok());
  const auto answer = ask(served, "note", R"({"text":")" + std::string(70000, 'x') + "\"}");
  ASSERT_FALSE(answer.ok());
  EXPECT_EQ(answer.error().code, ErrorCode::bad_input);
  EXPECT_EQ(served.counters().clients, 0);
}

}  // namespace
}  // namespace control_test
