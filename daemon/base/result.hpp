// Errors as values: a result is a value or an Error whose code says what the caller can do about
// it. Threading: plain values. Failure: reading the side that is not there is a bug and stops the
// program.
#pragma once

#include <string>
#include <utility>
#include <variant>

#include "base/ensure.hpp"

namespace tubwarden {

/// One code per thing a caller can do about it.
enum class ErrorCode {
  bad_input,    ///< what was given is wrong: change it
  not_found,    ///< no such thing: name another
  refused,      ///< understood, and not allowed now: the text says the way out
  unavailable,  ///< a part is away: try again later
  timed_out,    ///< no answer in time: it may or may not have happened
  broken,       ///< a part failed for good: a person must look
};

struct Error {
  ErrorCode code;
  std::string text;  ///< one sentence for the grower: what is wrong, what is allowed
};

template <class T>
class [[nodiscard]] Result {
 public:
  Result(T value) : data_(std::move(value)) {}
  Result(Error error) : data_(std::move(error)) {}

  bool ok() const { return data_.index() == 0; }
  explicit operator bool() const { return ok(); }

  const T& value() const& {
    ENSURE(ok());
    return std::get<0>(data_);
  }
  T& value() & {
    ENSURE(ok());
    return std::get<0>(data_);
  }
  T&& value() && {
    ENSURE(ok());
    return std::get<0>(std::move(data_));
  }
  const T& operator*() const& { return value(); }
  T& operator*() & { return value(); }
  const T* operator->() const { return &value(); }

  const Error& error() const {
    ENSURE(!ok());
    return std::get<1>(data_);
  }

 private:
  std::variant<T, Error> data_;
};

/// The value of a thing that is only done, not returned.
struct Done {};
using Outcome = Result<Done>;

}  // namespace tubwarden
