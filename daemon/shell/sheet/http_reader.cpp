#include "shell/sheet/http_reader.hpp"

#include <boost/beast/http/error.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/string_body.hpp>
#include <optional>
#include <string>

namespace tubwarden::sheet {
namespace {

namespace http = boost::beast::http;
using Parser = http::request_parser<http::string_body>;
using boost::system::error_code;

constexpr std::size_t kTargetBytesMax = 2048;

template <class Name>
std::string header(const Parser& parser, Name name) {
  const auto value = parser.get()[name];
  return {value.data(), value.size()};
}

std::size_t count(const Parser& parser, http::field name) { return parser.get().count(name); }

/// What one side of a proxy could read in another way than the other.
const char* ambiguous(const Parser& parser) {
  if (count(parser, http::field::host) != 1) return "a request names one Host";
  if (count(parser, http::field::content_length) > 1) return "Content-Length stands twice";
  if (count(parser, http::field::transfer_encoding) > 0 &&
      count(parser, http::field::content_length) > 0) {
    return "Content-Length and Transfer-Encoding do not go together";
  }
  if (count(parser, http::field::authorization) > 1) return "Authorization stands twice";
  if (count(parser, http::field::origin) > 1) return "Origin stands twice";
  return nullptr;
}

}  // namespace

struct HttpReader::Impl {
  explicit Impl(const SheetLimits& l) : limits(l) { renew(); }

  const SheetLimits& limits;
  std::optional<Parser> parser;
  std::string waiting;  ///< at most one header and one body, and what one read brings
  State state = State::begin;
  int status = 400;
  const char* why = "this is no request of HTTP/1.1";

  void renew() {
    parser.emplace();
    parser->header_limit(static_cast<std::uint32_t>(limits.header_bytes_max));
    parser->body_limit(limits.body_bytes_max);
    parser->eager(true);
    state = State::begin;
  }

  void wrong(int as, const char* because) {
    state = State::wrong;
    status = as;
    why = because;
  }

  void refuse(error_code code) {
    if (code == http::error::header_limit || code == http::error::buffer_overflow) {
      return wrong(431, "the header is larger than 8 KiB");
    }
    if (code == http::error::body_limit) return wrong(413, "the body is larger than 64 KiB");
    wrong(400, "this is no request of HTTP/1.1");
  }

  void go_on() {
    if (state == State::whole || state == State::wrong) return;
    std::size_t at = 0;
    while (at < waiting.size() && !parser->is_done()) {
      error_code code;
      const std::size_t used =
          parser->put(boost::asio::buffer(waiting.data() + at, waiting.size() - at), code);
      at += used;
      if (code == http::error::need_more) break;
      if (code) return refuse(code);
      if (used == 0) break;
    }
    waiting.erase(0, at);
    if (parser->is_done()) {
      state = State::whole;
    } else if (parser->is_header_done()) {
      state = State::body;
    } else if (at > 0 || !waiting.empty()) {
      state = State::header;
      if (waiting.size() > limits.header_bytes_max) wrong(431, "the header is larger than 8 KiB");
    }
    if (state == State::whole || state == State::body) look_at_header();
  }

  void look_at_header() {
    if (const char* because = ambiguous(*parser)) return wrong(400, because);
    if (parser->get().version() != 11 && parser->get().version() != 10) {
      return wrong(400, "this is no request of HTTP/1.1");
    }
    if (parser->get().target().size() > kTargetBytesMax) {
      wrong(431, "the address is longer than 2 KiB");
    }
  }
};

HttpReader::HttpReader(const SheetLimits& limits) : impl_(std::make_unique<Impl>(limits)) {}
HttpReader::~HttpReader() = default;

HttpReader::State HttpReader::take(std::string_view bytes) {
  impl_->waiting.append(bytes);
  impl_->go_on();
  return impl_->state;
}

HttpReader::State HttpReader::state() const { return impl_->state; }

Request HttpReader::next() {
  ENSURE(impl_->state == State::whole);
  const Parser& p = *impl_->parser;
  Request r;
  r.method = std::string(p.get().method_string());
  const std::string target(p.get().target());
  const std::size_t question = target.find('?');
  r.path = target.substr(0, question);
  if (question != std::string::npos) r.query = target.substr(question + 1);
  r.host = header(p, http::field::host);
  r.origin = header(p, http::field::origin);
  r.fetch_site = header(p, "Sec-Fetch-Site");
  r.authorization = header(p, http::field::authorization);
  r.cookie = header(p, http::field::cookie);
  r.content_type = header(p, http::field::content_type);
  r.accept_encoding = header(p, http::field::accept_encoding);
  r.if_none_match = header(p, http::field::if_none_match);
  r.act = header(p, "X-Tubwarden");
  r.forwarded_for = header(p, "X-Forwarded-For");
  r.forwarded_proto = header(p, "X-Forwarded-Proto");
  r.keep_alive = p.get().keep_alive();
  r.body = p.get().body();
  impl_->renew();
  impl_->go_on();
  return r;
}

int HttpReader::status() const { return impl_->status; }
const char* HttpReader::why() const { return impl_->why; }

}  // namespace tubwarden::sheet
