// What webhook and email have in common: one transfer by libcurl with limits on everything, TLS
// verified, and words for what went wrong.
// Threading: one thread a transfer; blocks up to its timeout. Failure: a sentence that names the
// host, never the URL, a header or what the other side wrote.
#pragma once

#include <curl/curl.h>

#include <chrono>
#include <memory>
#include <optional>
#include <string>

#include "courier/address.hpp"

namespace tubwarden::courier {

struct Terms {
  Address address;
  std::string ca_file;  ///< "": the system's
  std::chrono::milliseconds timeout{20000};
};

/// A list of lines as libcurl takes it.
class Lines {
 public:
  Lines() = default;
  ~Lines() { curl_slist_free_all(list_); }
  Lines(const Lines&) = delete;
  Lines& operator=(const Lines&) = delete;
  void add(const std::string& line);
  curl_slist* get() const { return list_; }

 private:
  curl_slist* list_ = nullptr;
};

class Transfer {
 public:
  /// TLS 1.2 or newer, certificate and host name verified; no proxy, no redirect, no signal.
  /// `protocols`: what may be spoken, "http,https".
  Transfer(const Terms& terms, const char* protocols);

  CURL* handle() const { return handle_.get(); }
  /// Nothing when the transfer ran to its end, whatever the status; else what went wrong. It is cut
  /// when the other side writes more than 64 KiB.
  std::optional<std::string> run();
  /// The last status code heard, 0 when there was none.
  long status() const;
  /// How many of its answers began with 4 or 5, as those of SMTP do that refuse something.
  std::size_t refusals() const { return refusals_; }
  CURLcode code() const { return code_; }

 private:
  struct Free {
    void operator()(CURL* handle) const { curl_easy_cleanup(handle); }
  };
  static std::size_t on_line(char* data, std::size_t size, std::size_t count, void* self);
  static std::size_t on_bytes(char* data, std::size_t size, std::size_t count, void* self);
  std::string words() const;

  Terms terms_;
  std::unique_ptr<CURL, Free> handle_;
  char error_[CURL_ERROR_SIZE] = "";
  std::size_t heard_bytes_ = 0;
  std::size_t refusals_ = 0;
  CURLcode code_ = CURLE_OK;
};

}  // namespace tubwarden::courier
