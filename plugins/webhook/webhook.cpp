// A channel: each message is one HTTP POST. The verdict is the status code; what else the other
// side writes is read for politeness, up to a limit, and repeated nowhere.

#include <cstdint>
#include <string>

#include "courier/courier.hpp"
#include "sdk/entry.hpp"
#include "sdk/note.hpp"
#include "sdk/plugin.h"
#include "sdk/rows.hpp"
#include "sdk/secret.hpp"
#include "sdk/wiring.hpp"
#include "webhook/body.hpp"

namespace {

using namespace tubwarden;
using webhook::Escape;

constexpr const char* kJsonBody = R"({"site":"{site}","rank":"{rank}","state":"{state}",)"
                                  R"("title":"{title}","text":"{text}","key":"{key}"})";

constexpr tw_option kOptions[] = {
    {"url", "text", "", "",
     "Where it is posted: https://..., or http:// in a network of your own."},
    {"url_file", "text", "", "",
     "In place of url: a file that holds it, where the URL is a secret."},
    {"as", "text", "json|form|text", "json",
     "How placeholders are escaped, and the content's type."},
    {"body", "text", "", "",
     "The body, with {site} {rank} {state} {title} {text} {key}; "
     "all of them as JSON when it is left out."},
    {"content_type", "text", "", "", "Another Content-Type than that of 'as'."},
    {"token_file", "text", "", "", "A file that holds the bearer token."},
    {"ca_file", "text", "", "", "The certificates to trust, in place of the system's."},
    {"timeout", "duration", "1s..60s", "20s", "After this long a try has failed."},
};
constexpr std::uint32_t kOptionCount = sizeof kOptions / sizeof kOptions[0];

Error wrong(std::string text) { return {ErrorCode::bad_input, "wiring: " + std::move(text)}; }

struct Post {
  courier::Terms terms;
  std::string body, content_type, token, key;
};

Result<courier::Address> address_of(const Rows& rows) {
  const std::string& url = rows.text("url");
  const std::string& file = rows.text("url_file");
  if (url.empty() == file.empty()) return wrong("one of url and url_file is required");
  if (file.empty()) return courier::parse_address(url, "http|https");
  const Result<std::string> secret = read_secret(file);
  return secret ? courier::parse_address(*secret, "http|https") : secret.error();
}

struct Kind {
  Escape escape;
  const char* content_type;
  const char* body;
};
Kind kind_of(const std::string& word) {
  if (word == "form") {
    return {Escape::form, "application/x-www-form-urlencoded",
            "site={site}&rank={rank}&state={state}&title={title}&text={text}&key={key}"};
  }
  if (word == "text") return {Escape::none, "text/plain; charset=utf-8", "{title}\n{text}"};
  return {Escape::json, "application/json", kJsonBody};
}

bool is_one_line(const std::string& text) {
  for (const char c : text) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) return false;
  }
  return true;
}

Result<Post> post_of(const char* wiring, const char* site_json, const char* message) {
  const Result<Rows> rows = Rows::read(kOptions, kOptionCount, wiring);
  if (!rows) return rows.error();
  const Result<Note> note = parse_note(message);
  if (!note) return note.error();
  const Result<Wiring> site = Wiring::parse(site_json);
  Post post;
  const Result<courier::Address> address = address_of(*rows);
  if (!address) return address.error();
  post.terms = {*address, rows->text("ca_file"), rows->duration("timeout")};
  const Kind kind = kind_of(rows->text("as"));
  const std::string& pattern = rows->text("body");
  const Result<std::string> body =
      webhook::fill_body(pattern.empty() ? kind.body : pattern, *note,
                         site ? site->text_or("site", "") : "", kind.escape);
  if (!body) return body.error();
  if (kind.escape == Escape::json && !is_json(*body)) {
    return wrong("body is no JSON once it is filled in; a placeholder stands between quotes");
  }
  post.body = *body;
  const std::string& type = rows->text("content_type");
  if (!is_one_line(type)) return wrong("content_type must be one line");
  post.content_type = type.empty() ? kind.content_type : type;
  if (const std::string& file = rows->text("token_file"); !file.empty()) {
    if (address->scheme != "https" && !address->loopback) {
      return wrong("a token goes over https only: anybody on the way could read it");
    }
    const Result<std::string> token = read_secret(file);
    if (!token) return token.error();
    post.token = *token;
  }
  post.key = note->key;
  return post;
}

/// RFC 9110, section 15: 2xx is delivered; of the rest some mean later, most mean never.
std::int32_t judge(const tw_host* host, const std::string& shown, long status) {
  if (status >= 200 && status < 300) return TW_OK;
  const std::string answers = shown + " answers " + std::to_string(status);
  if (status >= 300 && status < 400) {
    return fail(host, TW_REFUSED, answers + ", a redirection: give the url it leads to");
  }
  if (status == 401 || status == 403) {
    return fail(host, TW_REFUSED, answers + ": it does not accept us; look at token_file");
  }
  if (status == 408 || status == 425 || status == 429) return fail(host, TW_FAILED, answers);
  if (status >= 400 && status < 500) {
    return fail(host, TW_REFUSED, answers + ": it does not accept this; look at url, as and body");
  }
  return fail(host, TW_FAILED, answers);
}

/// The key as a quoted string of visible ASCII, whatever stands in it.
std::string quoted(const std::string& key) {
  std::string out = "\"";
  for (const char c : key) out += c > 0x20 && c < 0x7f && c != '"' && c != '\\' ? c : '-';
  return out + '"';
}

std::int32_t send(const tw_host* host, const Post& post) {
  courier::Transfer transfer(post.terms, "http,https");
  courier::Lines headers;
  headers.add("Content-Type: " + post.content_type);
  headers.add("User-Agent: tubwarden");
  headers.add("Idempotency-Key: " + quoted(post.key));
  headers.add("Expect:");  // a small body does not wait to be asked for
  CURL* h = transfer.handle();
  curl_easy_setopt(h, CURLOPT_HTTPHEADER, headers.get());
  curl_easy_setopt(h, CURLOPT_POSTFIELDSIZE_LARGE, static_cast<curl_off_t>(post.body.size()));
  curl_easy_setopt(h, CURLOPT_POSTFIELDS, post.body.c_str());
  if (!post.token.empty()) {
    curl_easy_setopt(h, CURLOPT_HTTPAUTH, CURLAUTH_BEARER);
    curl_easy_setopt(h, CURLOPT_XOAUTH2_BEARER, post.token.c_str());
  }
  const auto why = transfer.run();
  // Whatever came of the rest: a status line is an answer.
  const long status = transfer.status();
  if (status >= 200) return judge(host, post.terms.address.shown, status);
  return fail(host, TW_FAILED,
              why.value_or(post.terms.address.shown + " does not answer as HTTP does"));
}

std::int32_t deliver(const tw_host* host, const char* wiring, const char* site,
                     const char* message) {
  return guarded(host, [&] {
    const Result<Post> post = post_of(wiring, site, message);
    return post ? send(host, *post) : fail(host, post.error());
  });
}

constexpr tw_plugin kPlugin = channel("webhook", kOptions, deliver);

}  // namespace

extern "C" const tw_plugin* tubwarden_plugin(void) { return &kPlugin; }
