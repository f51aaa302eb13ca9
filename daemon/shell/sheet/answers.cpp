#include "shell/sheet/answers.hpp"

#include <nlohmann/json.hpp>

#include "shell/sheet/compress.hpp"
#include "shell/sheet/metrics.hpp"
#include "shell/sheet/page_files.hpp"

namespace tubwarden::sheet {
namespace {

bool takes_gzip(const Request& request) {
  const std::string& coded = request.accept_encoding;
  return coded.empty() || coded.find("gzip") != std::string::npos ||
         coded.find('*') != std::string::npos;
}

/// A program that says nothing of it is spared the unpacking.
bool names_gzip(const Request& request) {
  return request.accept_encoding.find("gzip") != std::string::npos;
}

Answer refused_method() {
  Answer answer = refusal(405, "bad_input", "this is asked or done in another way; allowed: Allow");
  answer.headers.emplace_back("Allow", "GET, POST");
  return answer;
}

}  // namespace

std::optional<Answer> Answers::of_page(const Request& request) const {
  for (const PageFile& file : page_files()) {
    if (file.path != request.path) continue;
    if (request.method != "GET") return refused_method();
    Answer answer;
    answer.headers = {{"ETag", std::string(file.etag)},
                      {"Cache-Control", "no-cache"},
                      {"Vary", "Accept-Encoding"}};
    if (request.if_none_match.find(file.etag) != std::string::npos) {
      answer.status = 304;
      answer.type.clear();
      return answer;
    }
    if (!takes_gzip(request)) return refusal(406, "bad_input", "the page is sent as gzip only");
    answer.type = file.type;
    answer.fixed = file.gzip;
    answer.headers.emplace_back("Content-Encoding", "gzip");
    return answer;
  }
  return std::nullopt;
}

Answer Answers::of_caller(const Caller& caller) const {
  Answer answer;
  answer.body =
      nlohmann::ordered_json{
          {"who", caller.who}, {"may", name_of(caller.may)}, {"tokens", doors_.asks_for_tokens()}}
          .dump();
  return answer;
}

Answer Answers::of_live() const {
  if (counters_.live >= limits_.live_max) {
    return refusal(503, "unavailable", "too many pages are open; close one");
  }
  Answer answer;
  answer.type = "text/event-stream";
  answer.live = true;
  return answer;
}

void Answers::of_metrics(Answered reply) {
  ask_("status", "{}", "sheet", [this, reply = std::move(reply)](Result<std::string> status) {
    if (!status.ok()) return reply(refusal(status.error()));
    Answer answer;
    answer.type = "text/plain; version=0.0.4; charset=utf-8";
    answer.body = metrics_text(*status, counters_);
    reply(std::move(answer));
  });
}

void Answers::of_warden(const Route& route, const Request& request, const Caller& caller,
                        Answered reply) {
  const bool acts = route.desk == Desk::act;
  if (acts && !request.content_type.starts_with("application/json")) {
    return reply(refusal(415, "bad_input", "what is to be done comes as application/json"));
  }
  const auto args = acts ? args_in(request.body) : args_of(route, request.path, request.query);
  if (!args.ok()) return reply(refusal(args.error()));
  ask_(std::string(route.word), *args, caller.who,
       [gzip = names_gzip(request), reply = std::move(reply)](Result<std::string> result) {
         if (!result.ok()) return reply(refusal(result.error()));
         Answer answer;
         answer.body = std::move(result.value());
         compress(answer, gzip);
         reply(std::move(answer));
       });
}

void Answers::answer(Request& request, Answered reply) {
  doors_.look_behind_proxy(request);
  bool path_known = false;
  const Route* route = route_for(request.method, request.path, path_known);
  const Needs needs = route ? route->needs : Needs::nothing;
  if (auto refused = doors_.foreign(request, needs)) return reply(std::move(*refused));
  if (!route) {
    if (auto page = of_page(request)) return reply(std::move(*page));
    return reply(path_known ? refused_method()
                            : refusal(404, "not_found", "there is no such page or question here"));
  }
  auto admitted = doors_.admit(request, needs);
  if (auto* refused = std::get_if<Answer>(&admitted)) return reply(std::move(*refused));
  const Caller& caller = std::get<Caller>(admitted);
  switch (route->desk) {
    case Desk::ask:
    case Desk::act:
      return of_warden(*route, request, caller, std::move(reply));
    case Desk::me:
      return reply(of_caller(caller));
    case Desk::live:
      return reply(of_live());
    case Desk::metrics:
      return of_metrics(std::move(reply));
    case Desk::signin:
      return reply(doors_.sign_in(request));
    case Desk::signout:
      return reply(doors_.sign_out(request));
  }
}

}  // namespace tubwarden::sheet
