#include "shell/sheet/wire.hpp"

#include <fmt/format.h>
#include <openssl/ssl.h>

#include <array>
#include <boost/asio/post.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/asio/write.hpp>

namespace tubwarden::sheet {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

/// Reading and writing of either kind of stream. The stream is shared with its handlers, for a
/// connection may be given up while they wait.
template <class Stream>
class StreamWire : public Wire {
 public:
  explicit StreamWire(std::shared_ptr<Stream> s) : stream(std::move(s)) {}

  void read(std::function<void(std::string_view)> then) override {
    stream->async_read_some(asio::buffer(*buffer), [then = std::move(then), kept = stream,
                                                    in = buffer](error_code code, std::size_t n) {
      then(code ? std::string_view{} : std::string_view(in->data(), n));
    });
  }

  void write(std::string_view bytes, std::function<void(bool)> then) override {
    asio::async_write(
        *stream, asio::buffer(bytes.data(), bytes.size()),
        [then = std::move(then), kept = stream](error_code code, std::size_t) { then(!code); });
  }

  void finish() override {
    error_code ignored;
    stream->lowest_layer().shutdown(tcp::socket::shutdown_send, ignored);
  }

  void close() override {
    error_code ignored;
    auto& socket = stream->lowest_layer();
    socket.shutdown(tcp::socket::shutdown_both, ignored);
    socket.close(ignored);
  }

 protected:
  std::shared_ptr<Stream> stream;
  std::shared_ptr<std::array<char, 8192>> buffer = std::make_shared<std::array<char, 8192>>();
};

class PlainWire : public StreamWire<tcp::socket> {
 public:
  using StreamWire::StreamWire;
  void open(std::function<void(bool)> then) override {
    asio::post(stream->get_executor(), [then = std::move(then)] { then(true); });
  }
};

using TlsStream = asio::ssl::stream<tcp::socket>;

class TlsWire : public StreamWire<TlsStream> {
 public:
  using StreamWire::StreamWire;
  void open(std::function<void(bool)> then) override {
    stream->async_handshake(TlsStream::server, [then = std::move(then),
                                                kept = stream](error_code code) { then(!code); });
  }
};

class TlsContext : public TlsFiles {
 public:
  asio::ssl::context context{asio::ssl::context::tls_server};
  std::unique_ptr<Wire> wire(tcp::socket socket) override {
    return std::make_unique<TlsWire>(std::make_shared<TlsStream>(std::move(socket), context));
  }
};

}  // namespace

Result<std::shared_ptr<TlsFiles>> TlsFiles::read(const std::string& cert_file,
                                                 const std::string& key_file) {
  auto files = std::make_shared<TlsContext>();
  error_code code;
  files->context.set_options(asio::ssl::context::default_workarounds |
                                 asio::ssl::context::no_tlsv1 | asio::ssl::context::no_tlsv1_1 |
                                 asio::ssl::context::no_compression,
                             code);
  // A client that asks for a new handshake over and over costs us more than itself.
  ::SSL_CTX_set_options(files->context.native_handle(), SSL_OP_NO_RENEGOTIATION);
  // Nobody is at hand to type a password.
  files->context.set_password_callback(
      [](std::size_t, asio::ssl::context::password_purpose) { return std::string(); }, code);
  const auto cannot = [](const std::string& file, const error_code& why) {
    return Error{
        ErrorCode::bad_input,
        fmt::format("{} cannot be used by the sheet: {}; allowed: PEM, without a password, "
                    "for the daemon's user to read",
                    file, why.message())};
  };
  files->context.use_certificate_chain_file(cert_file, code);
  if (code) return cannot(cert_file, code);
  files->context.use_private_key_file(key_file, asio::ssl::context::pem, code);
  if (code) return cannot(key_file, code);
  if (::SSL_CTX_check_private_key(files->context.native_handle()) != 1) {
    return Error{ErrorCode::bad_input, key_file + " is not the key of " + cert_file};
  }
  return std::shared_ptr<TlsFiles>(std::move(files));
}

std::unique_ptr<Wire> plain_wire(tcp::socket socket) {
  return std::make_unique<PlainWire>(std::make_shared<tcp::socket>(std::move(socket)));
}

}  // namespace tubwarden::sheet
