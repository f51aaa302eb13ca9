#include "parts/parts.hpp"

#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

namespace {

using namespace std::chrono_literals;

TEST(Parts, ProcessKeepsOutputsAndStatus) {
  const parts::Ran ran = parts::run({"sh", "-c", "echo yes; echo no >&2; exit 3"});
  EXPECT_EQ(ran.status, 3);
  EXPECT_EQ(ran.out, "yes\n");
  EXPECT_EQ(ran.err, "no\n");
}

TEST(Parts, ProcessTakesVariables) {
  parts::Process process({"sh", "-c", "echo $TUB_WORD"}, {{"TUB_WORD=damp"}, false});
  EXPECT_EQ(process.wait(10s), 0);
  EXPECT_EQ(process.out(), "damp\n");
}

TEST(Parts, ProcessIsKilledWithItsObject) {
  int pid = 0;
  {
    parts::Process process({"sleep", "600"});
    pid = process.pid();
    EXPECT_EQ(process.wait(20ms), std::nullopt);
    EXPECT_EQ(::kill(pid, 0), 0);
  }
  EXPECT_EQ(::kill(pid, 0), -1) << "still there";
}

TEST(Parts, SignalledProcessTells128PlusSignal) {
  parts::Process process({"sleep", "600"});
  process.signal(SIGTERM);
  EXPECT_EQ(process.wait(10s), 128 + SIGTERM);
}

TEST(Parts, ChildrenAreFoundByWord) {
  parts::Process process({"sh", "-c", "sleep 600 & wait"}, {{}, true});
  EXPECT_TRUE(parts::wait_until([&] { return process.children("sleep 600").size() == 1; }, 10s));
  EXPECT_TRUE(process.children("no such word").empty());
}

TEST(Parts, MissingProgramIsSaid) {
  EXPECT_THROW(parts::Process({"no-such-program-here"}), std::runtime_error);
}

TEST(Parts, FolderGoesAway) {
  std::filesystem::path path;
  {
    parts::TempFolder folder;
    path = folder.path();
    folder.write("a/b.txt", "one");
    EXPECT_EQ(parts::read_file(path / "a/b.txt"), "one");
    folder.write_by_rename("a/b.txt", "two");
    EXPECT_EQ(parts::read_file(path / "a/b.txt"), "two");
  }
  EXPECT_FALSE(std::filesystem::exists(path));
}

TEST(Parts, ListenerHearsRetainedAndLive) {
  parts::Mosquitto broker;
  parts::publish(broker, "tub/old", "kept", true);
  parts::Listener listener(broker.url(), {"tub/#"});
  const auto old = listener.wait_for(
      "tub/old", [](const auto&) { return true; }, 5s);
  ASSERT_TRUE(old);
  EXPECT_EQ(old->payload, "kept");
  EXPECT_TRUE(old->retained);
  parts::publish(broker, "tub/new", "live");
  const auto live = listener.wait_for(
      "tub/new", [](const auto&) { return true; }, 5s);
  ASSERT_TRUE(live);
  EXPECT_FALSE(live->retained);
  EXPECT_EQ(listener.heard().size(), 2u);
  listener.clear();
  EXPECT_TRUE(listener.heard().empty());
}

TEST(Parts, ListenerComesBackAfterBrokerRestart) {
  parts::Mosquitto broker;
  parts::Listener listener(broker.url(), {"tub/air"});
  broker.restart();
  EXPECT_TRUE(parts::wait_until(
      [&] {
        parts::publish(broker, "tub/air", "again");
        return !listener.heard("tub/air").empty();
      },
      15s));
}

TEST(Parts, ListenerSaysWhyItCannot) {
  EXPECT_THROW(parts::Listener("mqtt://127.0.0.1:" + std::to_string(parts::free_port()), {"a"}),
               std::runtime_error);
}

TEST(Parts, MosquittoRefusesBrokenConfigurationWithItsWords) {
  try {
    parts::Mosquitto broker("no_such_option 1");
    FAIL() << "it runs";
  } catch (const std::runtime_error& error) {
    EXPECT_NE(std::string(error.what()).find("no_such_option"), std::string::npos) << error.what();
  }
}

}  // namespace
