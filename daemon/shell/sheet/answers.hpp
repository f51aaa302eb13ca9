// What each request of the sheet is answered with. For the files of this room only.
// Threading: the loop's thread. Failure: a refusal is an answer.
#pragma once

#include <memory>

#include "shell/sheet/doors.hpp"
#include "shell/sheet/message.hpp"

namespace tubwarden::sheet {

class Answers {
 public:
  Answers(Doors& doors, SheetServer::Ask ask, const SheetLimits& limits, SheetCounters& counters)
      : doors_(doors), ask_(std::move(ask)), limits_(limits), counters_(counters) {}

  /// Answered once, now or later. The request is told who stands behind a proxy.
  void answer(Request& request, Answered reply);

 private:
  std::optional<Answer> of_page(const Request& request) const;
  void of_warden(const Route& route, const Request& request, const Caller& caller, Answered reply);
  void of_metrics(Answered reply);
  Answer of_live() const;
  Answer of_caller(const Caller& caller) const;

  Doors& doors_;
  SheetServer::Ask ask_;
  const SheetLimits& limits_;
  SheetCounters& counters_;
};

}  // namespace tubwarden::sheet
