#include "courier/courier.hpp"

#include <new>

#include "base/ensure.hpp"

namespace tubwarden::courier {

namespace {

/// Of what the other side writes nothing is used but the status line: the rest is read for
/// politeness.
constexpr std::size_t kHeardBytesMax = 64 * 1024;

void begin_once() {
  static const CURLcode begun = curl_global_init(CURL_GLOBAL_DEFAULT);
  ENSURE(begun == CURLE_OK);
}

template <class Value>
void set(CURL* handle, CURLoption option, Value value) {
  ENSURE(curl_easy_setopt(handle, option, value) == CURLE_OK);
}

}  // namespace

void Lines::add(const std::string& line) {
  curl_slist* longer = curl_slist_append(list_, line.c_str());
  if (longer == nullptr) throw std::bad_alloc();
  list_ = longer;
}

Transfer::Transfer(const Terms& terms, const char* protocols) : terms_(terms) {
  begin_once();
  handle_.reset(curl_easy_init());
  if (!handle_) throw std::bad_alloc();
  CURL* h = handle_.get();
  set(h, CURLOPT_URL, terms_.address.url.c_str());
  set(h, CURLOPT_PROTOCOLS_STR, protocols);
  set(h, CURLOPT_FOLLOWLOCATION, 0L);
  set(h, CURLOPT_PROXY, "");  // nothing in an environment leads it elsewhere
  set(h, CURLOPT_NOSIGNAL, 1L);
  set(h, CURLOPT_QUICK_EXIT, 1L);  // a resolver that hangs does not hold the end up
  set(h, CURLOPT_TIMEOUT_MS, static_cast<long>(terms_.timeout.count()));
  set(h, CURLOPT_CONNECTTIMEOUT_MS, static_cast<long>(terms_.timeout.count()));
  set(h, CURLOPT_SSLVERSION, static_cast<long>(CURL_SSLVERSION_TLSv1_2));
  set(h, CURLOPT_SSL_VERIFYPEER, 1L);
  set(h, CURLOPT_SSL_VERIFYHOST, 2L);
  if (!terms_.ca_file.empty()) {  // this one alone is trusted
    set(h, CURLOPT_CAINFO, terms_.ca_file.c_str());
    set(h, CURLOPT_CAPATH, static_cast<const char*>(nullptr));
  }
  set(h, CURLOPT_ERRORBUFFER, static_cast<char*>(error_));
  set(h, CURLOPT_WRITEFUNCTION, &Transfer::on_bytes);
  set(h, CURLOPT_WRITEDATA, static_cast<void*>(this));
  set(h, CURLOPT_HEADERFUNCTION, &Transfer::on_line);
  set(h, CURLOPT_HEADERDATA, static_cast<void*>(this));
}

std::size_t Transfer::on_bytes(char*, std::size_t size, std::size_t count, void* self) {
  Transfer& transfer = *static_cast<Transfer*>(self);
  transfer.heard_bytes_ += size * count;
  return transfer.heard_bytes_ > kHeardBytesMax ? 0 : size * count;
}

std::size_t Transfer::on_line(char* data, std::size_t size, std::size_t count, void* self) {
  // Of an answer in several lines the last alone has a space there (RFC 5321, 4.2.1).
  const bool last = size * count > 3 && data[3] == ' ';
  const bool refuses = last && (data[0] == '4' || data[0] == '5');
  if (refuses) ++static_cast<Transfer*>(self)->refusals_;
  return on_bytes(data, size, count, self);
}

std::optional<std::string> Transfer::run() {
  code_ = curl_easy_perform(handle_.get());
  if (code_ == CURLE_OK) return std::nullopt;
  return words();
}

long Transfer::status() const {
  long status = 0;
  curl_easy_getinfo(handle_.get(), CURLINFO_RESPONSE_CODE, &status);
  return status;
}

std::string Transfer::words() const {
  const std::string& shown = terms_.address.shown;
  switch (static_cast<int>(code_)) {
    case CURLE_OPERATION_TIMEDOUT:
      return shown + " did not answer within " + std::to_string(terms_.timeout.count()) + " ms";
    case CURLE_COULDNT_RESOLVE_HOST:
      return "no address is known for " + shown + ": is the network up, the name right?";
    case CURLE_COULDNT_CONNECT:
      return shown + " cannot be reached, or refuses the connection";
    case CURLE_PEER_FAILED_VERIFICATION:  // what OpenSSL says of a certificate holds no secret
      return "the certificate of " + shown + " is not trusted: " + error_;
    case CURLE_SSL_CACERT_BADFILE:
      return (terms_.ca_file.empty() ? "the system's list of certificates (ca-certificates)"
                                     : "ca_file " + terms_.ca_file) +
             " cannot be read, or holds none";
    case CURLE_USE_SSL_FAILED:
      return shown + " offers no encryption (STARTTLS)";
    case CURLE_WRITE_ERROR:  // ours, of on_bytes
      return shown + " wrote more than 64 KiB";
    case CURLE_LOGIN_DENIED:
      return shown + " refuses the login";
    default:  // an open set: libcurl's own word for it, which repeats nothing of ours
      return shown + ": " + curl_easy_strerror(code_);
  }
}

}  // namespace tubwarden::courier
