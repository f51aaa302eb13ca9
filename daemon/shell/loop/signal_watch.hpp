// Signals as work on the loop: SIGTERM and SIGINT mean stop, SIGHUP means read the settings again.
// Threading: constructed, told and destroyed on the loop's thread. Failure: none.
#pragma once

#include <boost/asio/io_context.hpp>
#include <functional>
#include <memory>

namespace tubwarden {

class SignalWatch {
 public:
  struct Handlers {
    std::function<void(int signal)> stop;
    std::function<void()> reload;
  };
  SignalWatch(boost::asio::io_context& loop, Handlers handlers);
  ~SignalWatch();

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace tubwarden
