// How work comes to an io_context: what the broker's room wants to know of a loop.
// Threading: `post` from any thread; `later` on the loop's. Failure: none; the loop outlives both.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <memory>
#include <utility>

#include "shell/broker/paho_broker.hpp"

namespace tubwarden {

inline LoopHooks hooks_on(boost::asio::io_context& loop) {
  return {[&loop](std::function<void()> work) { boost::asio::post(loop, std::move(work)); },
          [&loop](Duration after, std::function<void()> work) {
            auto later = std::make_shared<boost::asio::steady_timer>(loop, after);
            later->async_wait([later, work = std::move(work)](boost::system::error_code code) {
              if (!code) work();
            });
          }};
}

}  // namespace tubwarden
