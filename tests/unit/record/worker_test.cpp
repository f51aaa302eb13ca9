// The record's worker: one thing after another, and its tick whatever else there is to do.
#include <gtest/gtest.h>

#include <atomic>
#include <vector>

#include "parts/parts.hpp"
#include "shell/record/worker.hpp"

namespace {

using namespace tubwarden;

TEST(Worker, TicksAlsoWhileWorkKeepsComing) {
  std::atomic<int> ticks{0}, works{0};
  Worker worker(100, milliseconds(20), [&] { ++ticks; });
  std::function<void()> again = [&] {
    ++works;
    if (ticks < 3) worker.push(again);  // there is always work
  };
  worker.push(again);
  EXPECT_TRUE(parts::wait_until([&] { return ticks >= 3; }, std::chrono::seconds(10)));
  worker.finish();
  EXPECT_GT(works, 3);
}

TEST(Worker, DoesWhatWaitsInOrderThenTicksOnceMoreAndEnds) {
  std::vector<int> done;
  Worker worker(100, hours(1), [&] { done.push_back(-1); });
  for (int i = 0; i < 50; ++i) worker.push([&done, i] { done.push_back(i); });
  worker.finish();
  ASSERT_EQ(done.size(), 51U);
  for (int i = 0; i < 50; ++i) EXPECT_EQ(done[static_cast<std::size_t>(i)], i);
  EXPECT_EQ(done.back(), -1);
  EXPECT_FALSE(worker.push([] {}));
}

TEST(Worker, TakesNoMoreThanItsLimit) {
  std::atomic<bool> go{false};
  Worker worker(2, hours(1), {});
  std::atomic<bool> begun{false};
  worker.push([&] {
    begun = true;
    parts::wait_until([&] { return go.load(); }, std::chrono::seconds(10));
  });
  ASSERT_TRUE(parts::wait_until([&] { return begun.load(); }, std::chrono::seconds(10)));
  EXPECT_TRUE(worker.push([] {}));
  EXPECT_TRUE(worker.push([] {}));
  EXPECT_FALSE(worker.push([] {}));
  go = true;
}

}  // namespace
