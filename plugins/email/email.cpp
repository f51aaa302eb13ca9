// A channel: each message is one letter, handed to a mail server over TLS.

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <ctime>
#include <string>

#include "courier/courier.hpp"
#include "email/letter.hpp"
#include "sdk/entry.hpp"
#include "sdk/note.hpp"
#include "sdk/plugin.h"
#include "sdk/rows.hpp"
#include "sdk/secret.hpp"
#include "sdk/wiring.hpp"

namespace {

using namespace tubwarden;

constexpr std::size_t kRecipientsMax = 20;

constexpr tw_option kOptions[] = {
    {"url", "text", "", nullptr, "The mail server: smtp://host:587 (STARTTLS) or smtps://host."},
    {"from", "text", "", nullptr, "The sender's address, which the server lets us use."},
    {"to", "list", "", nullptr, "Who is told: one address or more."},
    {"user", "text", "", "", "The name we log in by; with password_file."},
    {"password_file", "text", "", "", "A file that holds the password."},
    {"tls", "text", "required|none", "required",
     "'none': in the clear, to a server on this board only."},
    {"ca_file", "text", "", "", "The certificates to trust, in place of the system's."},
    {"timeout", "duration", "1s..60s", "30s", "After this long a try has failed."},
};
constexpr std::uint32_t kOptionCount = sizeof kOptions / sizeof kOptions[0];

Error wrong(std::string text) { return {ErrorCode::bad_input, "wiring: " + std::move(text)}; }

struct Post {
  courier::Terms terms;
  email::Letter letter;
  std::string user, password, text;
  bool encrypted = true;
};

Result<email::Letter> letter_of(const Rows& rows, const char* site_json) {
  const Result<Wiring> site = Wiring::parse(site_json);
  email::Letter letter;
  letter.site = site ? site->text_or("site", "") : "";
  letter.from = rows.text("from");
  letter.to = rows.list("to");
  letter.unix_s = std::time(nullptr);
  if (!email::is_address(letter.from)) {
    return wrong("from is '" + letter.from + "'; allowed: one address, box@host");
  }
  for (const std::string& to : letter.to) {
    if (!email::is_address(to)) return wrong("to has '" + to + "'; allowed: addresses, box@host");
  }
  if (letter.to.size() > kRecipientsMax) return wrong("to has more than 20 addresses");
  return letter;
}

Result<Post> post_of(const char* wiring, const char* site_json, const char* message) {
  const Result<Rows> rows = Rows::read(kOptions, kOptionCount, wiring);
  if (!rows) return rows.error();
  const Result<Note> note = parse_note(message);
  if (!note) return note.error();
  const Result<courier::Address> address = courier::parse_address(rows->text("url"), "smtp|smtps");
  if (!address) return address.error();
  const Result<email::Letter> letter = letter_of(*rows, site_json);
  if (!letter) return letter.error();
  Post post;
  post.terms = {*address, rows->text("ca_file"), rows->duration("timeout")};
  post.letter = *letter;
  post.encrypted = rows->text("tls") == "required";
  if (!post.encrypted && (!address->loopback || address->scheme == "smtps")) {
    return wrong(
        "tls: none is for a server on this board only (smtp://127.0.0.1:25): on the way "
        "anybody could read password and letters");
  }
  post.user = rows->text("user");
  const std::string& file = rows->text("password_file");
  if (post.user.empty() != file.empty()) return wrong("user and password_file go together");
  if (!file.empty()) {
    const Result<std::string> password = read_secret(file);
    if (!password) return password.error();
    post.password = *password;
  }
  post.text = email::written_out(post.letter, *note);
  return post;
}

struct Unread {
  std::string_view rest;
};
std::size_t read_on(char* to, std::size_t size, std::size_t count, void* context) {
  Unread& unread = *static_cast<Unread*>(context);
  const std::size_t length = std::min(size * count, unread.rest.size());
  std::memcpy(to, unread.rest.data(), length);
  unread.rest.remove_prefix(length);
  return length;
}

/// RFC 5321, 4.2.1: 4yz may be mended by time, 5yz is not.
std::int32_t judge(const tw_host* host, const Post& post, const courier::Transfer& transfer,
                   const std::string& why) {
  const long status = transfer.status();
  const std::string answers = post.terms.address.shown + " answers " + std::to_string(status);
  const bool for_good = status >= 500 && status < 600;
  switch (static_cast<int>(transfer.code())) {
    case CURLE_LOGIN_DENIED:
      return fail(host, for_good ? TW_REFUSED : TW_FAILED,
                  why +
                      ": look at user and password_file, and whether the server wants a password "
                      "made for programs");
    case CURLE_SEND_ERROR:  // what libcurl makes of a refused sender, recipient or letter
    case CURLE_RECV_ERROR:
    case CURLE_WEIRD_SERVER_REPLY:
    case CURLE_QUOTE_ERROR:
      if (!for_good) return fail(host, TW_FAILED, status >= 400 ? answers : why);
      return fail(host, TW_REFUSED, answers + ": it does not accept from, to or the letter");
    default:  // an open set: no answer to judge by
      return fail(host, TW_FAILED, why);
  }
}

std::int32_t send(const tw_host* host, const Post& post) {
  courier::Transfer transfer(post.terms, "smtp,smtps");
  courier::Lines to;
  for (const std::string& each : post.letter.to) to.add("<" + each + ">");
  Unread unread{post.text};
  CURL* h = transfer.handle();
  curl_easy_setopt(h, CURLOPT_USE_SSL, post.encrypted ? CURLUSESSL_ALL : CURLUSESSL_NONE);
  curl_easy_setopt(h, CURLOPT_MAIL_FROM, ("<" + post.letter.from + ">").c_str());
  curl_easy_setopt(h, CURLOPT_MAIL_RCPT, to.get());
  // One address that is no more does not keep the others from being told.
  curl_easy_setopt(h, CURLOPT_MAIL_RCPT_ALLLOWFAILS, 1L);
  curl_easy_setopt(h, CURLOPT_UPLOAD, 1L);
  curl_easy_setopt(h, CURLOPT_READFUNCTION, read_on);
  curl_easy_setopt(h, CURLOPT_READDATA, static_cast<void*>(&unread));
  curl_easy_setopt(h, CURLOPT_INFILESIZE_LARGE, static_cast<curl_off_t>(post.text.size()));
  if (!post.user.empty()) {
    curl_easy_setopt(h, CURLOPT_USERNAME, post.user.c_str());
    curl_easy_setopt(h, CURLOPT_PASSWORD, post.password.c_str());
  }
  const auto why = transfer.run();
  if (why) return judge(host, post, transfer, *why);
  if (transfer.refusals() > 0 && transfer.refusals() < post.letter.to.size()) {
    const std::string some = "the server refused " + std::to_string(transfer.refusals()) + " of " +
                             std::to_string(post.letter.to.size()) + " recipients";
    host->say(host->context, TW_WARNING, some.c_str());
  }
  return TW_OK;
}

std::int32_t deliver(const tw_host* host, const char* wiring, const char* site,
                     const char* message) {
  return guarded(host, [&] {
    const Result<Post> post = post_of(wiring, site, message);
    return post ? send(host, *post) : fail(host, post.error());
  });
}

constexpr tw_plugin kPlugin = channel("email", kOptions, deliver);

}  // namespace

extern "C" const tw_plugin* tubwarden_plugin(void) { return &kPlugin; }
