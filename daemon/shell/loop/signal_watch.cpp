#include "shell/loop/signal_watch.hpp"

#include <signal.h>

#include <boost/asio/signal_set.hpp>
#include <utility>

namespace tubwarden {

struct SignalWatch::Impl : std::enable_shared_from_this<Impl> {
  boost::asio::signal_set signals;
  Handlers handlers;
  bool ended = false;

  Impl(boost::asio::io_context& loop, Handlers h)
      : signals(loop, SIGTERM, SIGINT, SIGHUP), handlers(std::move(h)) {}

  void wait() {
    signals.async_wait(
        [me = shared_from_this()](const boost::system::error_code& error, int number) {
          if (error || me->ended) return;
          me->wait();  // first: the handler may end us
          if (number == SIGHUP) {
            if (me->handlers.reload) me->handlers.reload();
          } else if (me->handlers.stop) {
            me->handlers.stop(number);
          }
        });
  }
};

SignalWatch::SignalWatch(boost::asio::io_context& loop, Handlers handlers)
    : impl_(std::make_shared<Impl>(loop, std::move(handlers))) {
  impl_->wait();
}

SignalWatch::~SignalWatch() {
  impl_->ended = true;
  impl_->signals.cancel();
}

}  // namespace tubwarden
