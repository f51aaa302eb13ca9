#include "shell/log/log.hpp"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <chrono>
#include <stdexcept>
#include <string>
#include <thread>

namespace {

using namespace tubwarden;

/// stderr as a pipe of ours for a while.
class CaughtStderr {
 public:
  CaughtStderr() : kept_(::dup(STDERR_FILENO)) {
    if (::pipe2(ends_, O_CLOEXEC) != 0) throw std::runtime_error("no pipe");
    ::dup2(ends_[1], STDERR_FILENO);
    ::close(ends_[1]);
  }
  ~CaughtStderr() {
    put_back();
    ::close(ends_[0]);
  }
  void put_back() {
    if (kept_ < 0) return;
    ::dup2(kept_, STDERR_FILENO);
    ::close(kept_);
    kept_ = -1;
  }
  std::string all() {
    std::string text;
    char bytes[65536];
    ssize_t n = 0;
    while ((n = ::read(ends_[0], bytes, sizeof(bytes))) > 0) {
      text.append(bytes, static_cast<std::size_t>(n));
    }
    return text;
  }
  int read_end() const { return ends_[0]; }

 private:
  int kept_;
  int ends_[2] = {-1, -1};
};

TEST(Log, LinesCarryLevelAndOrderAndLevelsBelowAreLeftOut) {
  CaughtStderr caught;
  log::start(log::Level::info);
  log::debug("too small");
  log::info("first");
  log::warning("second");
  log::stop();
  caught.put_back();
  const std::string text = caught.all();
  EXPECT_EQ(text.find("too small"), std::string::npos);
  const auto first = text.find("info: first");
  const auto second = text.find("warning: second");
  ASSERT_NE(first, std::string::npos) << text;
  ASSERT_NE(second, std::string::npos) << text;
  EXPECT_LT(first, second);
}

TEST(Log, AReaderThatDoesNotReadNeverHoldsUpTheWriter) {
  const auto lost_before = log::lost();
  CaughtStderr caught;
  ASSERT_GT(::fcntl(caught.read_end(), F_SETPIPE_SZ, 4096), 0);
  log::start(log::Level::info);
  const std::string line(200, 'x');
  const auto begun = std::chrono::steady_clock::now();
  for (int i = 0; i < 50'000; ++i) log::info(line + std::to_string(i));
  const auto took = std::chrono::steady_clock::now() - begun;
  EXPECT_LT(took, std::chrono::seconds(5)) << "10 MB into a full pipe of 4 kB";
  EXPECT_GT(log::lost() - lost_before, 10'000U) << "what is lost is counted";
  // Read, so that the writer's thread can end.
  ::fcntl(caught.read_end(), F_SETFL, O_NONBLOCK);
  std::string text;
  std::thread reader([&] {
    while (text.find("the end") == std::string::npos) text += caught.all();
  });
  log::error("the end");
  log::stop();
  reader.join();
}

TEST(Log, AnEndDoesNotWaitForAReaderThatDoesNotRead) {
  const auto lost_before = log::lost();
  CaughtStderr caught;
  ASSERT_GT(::fcntl(caught.read_end(), F_SETPIPE_SZ, 4096), 0);
  log::start(log::Level::info);
  for (int i = 0; i < 200; ++i) log::info(std::string(200, 'x') + std::to_string(i));
  const auto begun = std::chrono::steady_clock::now();
  log::stop();
  EXPECT_LT(std::chrono::steady_clock::now() - begun, std::chrono::seconds(3));
  EXPECT_GT(log::lost() - lost_before, 150U) << "a pipe of 4 kB takes some twenty of them";
  EXPECT_LT(log::lost() - lost_before, 200U);
}

TEST(Log, AFloodOfOneLineIsCountedAndHidesNoOther) {
  CaughtStderr caught;
  log::start(log::Level::info);
  for (int i = 0; i < 10'000; ++i) log::info("the same again");
  log::info("another");
  for (int i = 0; i < 20; ++i) log::warning("the same again");
  log::stop();
  caught.put_back();
  const std::string text = caught.all();
  const auto times = [&](const std::string& piece) {
    int n = 0;
    for (std::size_t at = 0; (at = text.find(piece, at)) != std::string::npos; ++at) ++n;
    return n;
  };
  EXPECT_EQ(times("info: the same again\n"), 5);
  EXPECT_EQ(times("warning: the same again\n"), 5);
  EXPECT_EQ(times("info: another\n"), 1);
  EXPECT_EQ(times("info: (9995 more times: the same again)\n"), 1) << text;
  EXPECT_EQ(times("warning: (15 more times: the same again)\n"), 1) << text;
}

TEST(Log, ALineTooLongForAPipeIsCut) {
  CaughtStderr caught;
  log::start(log::Level::info);
  log::info(std::string(5000, 'x'));
  log::info("after it");
  log::stop();
  caught.put_back();
  const std::string text = caught.all();
  EXPECT_EQ(text.find("...\n"), 4096U - 4);
  EXPECT_NE(text.find("info: after it\n"), std::string::npos);
}

}  // namespace
