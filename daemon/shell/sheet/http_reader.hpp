// Bytes into requests: Beast's parser within our limits, fed by hand, so that it needs no socket.
// Threading: the loop's thread. Failure: what is no request names the status to refuse it with.
#pragma once

#include <memory>
#include <string_view>

#include "shell/sheet/message.hpp"
#include "shell/sheet/sheet_server.hpp"

namespace tubwarden::sheet {

class HttpReader {
 public:
  enum class State { begin, header, body, whole, wrong };

  explicit HttpReader(const SheetLimits& limits);
  ~HttpReader();
  /// Takes bytes; what belongs to a further request waits.
  State take(std::string_view bytes);
  State state() const;
  /// The request, once it is whole; the reader then begins the next with what has waited.
  Request next();
  /// After `wrong`: 400, 413, 431 or another, and why.
  int status() const;
  const char* why() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden::sheet
