// Small values all rooms share: a queue with a limit, results, quantities, durations.
#include <gtest/gtest.h>

#include <memory>
#include <set>
#include <string>

#include "base/bounded_queue.hpp"
#include "base/quantity.hpp"
#include "base/result.hpp"
#include "base/time.hpp"

namespace tubwarden {
namespace {

TEST(BoundedQueue, KeepsTheOldestAndCountsWhatItDrops) {
  BoundedQueue<int> queue(2);
  EXPECT_TRUE(queue.empty());
  EXPECT_TRUE(queue.push(1));
  EXPECT_TRUE(queue.push(2));
  EXPECT_FALSE(queue.push(3));
  EXPECT_FALSE(queue.push(4));
  EXPECT_EQ(queue.dropped(), 2u);
  EXPECT_EQ(queue.size(), 2u);
  EXPECT_EQ(queue.pop(), 1);
  EXPECT_TRUE(queue.push(5));
  EXPECT_EQ(queue.pop(), 2);
  EXPECT_EQ(queue.pop(), 5);
  EXPECT_TRUE(queue.empty());
  EXPECT_EQ(queue.dropped(), 2u);
}

TEST(BoundedQueue, HoldsWhatCanOnlyBeMoved) {
  BoundedQueue<std::unique_ptr<int>> queue(1);
  EXPECT_TRUE(queue.push(std::make_unique<int>(7)));
  EXPECT_EQ(*queue.pop(), 7);
}

TEST(BoundedQueueDeath, StopsAtAnEmptyPopAndAtNoRoomAtAll) {
  BoundedQueue<int> queue(1);
  EXPECT_DEATH(queue.pop(), "broken: !items_.empty\\(\\)");
  EXPECT_DEATH(BoundedQueue<int>(0), "broken: limit > 0");
}

TEST(Result, IsAValueOrAnError) {
  Result<std::string> good(std::string("word"));
  ASSERT_TRUE(good.ok());
  EXPECT_TRUE(static_cast<bool>(good));
  EXPECT_EQ(*good, "word");
  EXPECT_EQ(good->size(), 4u);
  good.value() += "s";
  EXPECT_EQ(std::move(good).value(), "words");

  const Result<std::string> bad(Error{ErrorCode::refused, "not now"});
  EXPECT_FALSE(bad.ok());
  EXPECT_EQ(bad.error().code, ErrorCode::refused);
  EXPECT_EQ(bad.error().text, "not now");

  EXPECT_TRUE(Outcome(Done{}).ok());
}

TEST(ResultDeath, StopsWhenTheWrongSideIsRead) {
  const Result<int> good(1), bad(Error{ErrorCode::broken, ""});
  EXPECT_DEATH((void)bad.value(), "broken: ok\\(\\)");
  EXPECT_DEATH((void)good.error(), "broken: !ok\\(\\)");
}

TEST(Quantity, HasAWordAndAKeyAndAUnitEachOfItsOwn) {
  std::set<std::string_view> names, words, members;
  for (Quantity q : kAllQuantities) {
    EXPECT_TRUE(names.insert(name_of(q)).second);
    EXPECT_TRUE(words.insert(word_of(q)).second);
    EXPECT_TRUE(members.insert(member_of(q)).second);
    EXPECT_EQ(kAllQuantities[index_of(q)], q);
  }
  EXPECT_EQ(unit_of(Quantity::humidity), "%");
  EXPECT_EQ(unit_of(Quantity::air_temperature), "C");
  EXPECT_EQ(unit_of(Quantity::substrate_temperature), "C");
  EXPECT_EQ(unit_of(Quantity::co2), "ppm");
}

TEST(Quantity, UnitsMeetAtTheirFixedPoints) {
  // Water freezes at 32 F and 273.15 K and boils at 212 F; a volume percent is 10,000 ppm.
  static_assert(celsius_from_fahrenheit(32.0) == 0.0);
  static_assert(celsius_from_fahrenheit(212.0) == 100.0);
  static_assert(celsius_from_kelvin(273.15) == 0.0);
  static_assert(ppm_from_percent(0.1) == 1000.0);
  EXPECT_DOUBLE_EQ(celsius_from_fahrenheit(-40.0), -40.0);
}

TEST(Time, IsCountedInNanosecondsAndSecondsAlike) {
  static_assert(seconds_of(milliseconds(1500)) == 1.5);
  static_assert(from_seconds(1.5) == milliseconds(1500));
  static_assert(days(1) == hours(24));
  EXPECT_EQ(from_seconds(-0.25), -milliseconds(250));
}

}  // namespace
}  // namespace tubwarden
