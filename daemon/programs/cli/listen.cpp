#include "programs/cli/listen.hpp"

#include "programs/cli/ear.hpp"

namespace tubwarden::cli {
namespace {

std::string subscription(const Listen& wanted) {
  std::string under = wanted.under;
  while (under.ends_with('/') || under.ends_with('#')) under.pop_back();
  return under.empty() ? "#" : under + "/#";
}

}  // namespace

Result<Overheard> overhear(const Listen& wanted,
                           const std::function<void(const ListenBook&, Duration)>& tick) {
  Overheard heard;
  const auto told = [&](Duration, Duration left) {
    if (tick) tick(heard.book, left);
    return true;
  };
  const auto done = hear(
      {wanted, subscription(wanted), wanted.length,
       [&](const BrokerMessage& m) { heard.book.hear(m.topic, m.payload, m.retained, m.arrived); },
       told});
  if (!done.ok()) return done.error();
  heard.url = done->url;
  heard.lasted = done->lasted;
  heard.dropped = done->dropped;
  heard.lost = done->lost;
  return heard;
}

}  // namespace tubwarden::cli
