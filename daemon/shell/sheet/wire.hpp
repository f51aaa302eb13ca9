// One connection as bytes, plain or with TLS. For the files of this room only.
// Threading: the loop's thread. Failure: false; every handler is called exactly once, never from
// within the call that it was given to.
#pragma once

#include <boost/asio/ip/tcp.hpp>
#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "base/result.hpp"

namespace tubwarden::sheet {

class Wire {
 public:
  virtual ~Wire() = default;
  /// The handshake, where there is one.
  virtual void open(std::function<void(bool)> then) = 0;
  /// What has come; nothing at the end, or after a failure.
  virtual void read(std::function<void(std::string_view)> then) = 0;
  /// All of it; it stays where it is until then.
  virtual void write(std::string_view bytes, std::function<void(bool)> then) = 0;
  /// Nothing more will be written; the other end reads an end.
  virtual void finish() = 0;
  virtual void close() = 0;
};

/// Certificate and key, read once.
class TlsFiles {
 public:
  static Result<std::shared_ptr<TlsFiles>> read(const std::string& cert_file,
                                                const std::string& key_file);
  virtual ~TlsFiles() = default;
  virtual std::unique_ptr<Wire> wire(boost::asio::ip::tcp::socket socket) = 0;
};

std::unique_ptr<Wire> plain_wire(boost::asio::ip::tcp::socket socket);

}  // namespace tubwarden::sheet
