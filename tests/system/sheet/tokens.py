"""tokens.py PORT CA READING ACTING: over TLS, with tokens."""
import json
import ssl
import sys

from visitor import Sheet, Tally


def main():
    port, ca, reading, acting = int(sys.argv[1]), sys.argv[2], sys.argv[3], sys.argv[4]
    tally = Tally()
    nobody, reader = Sheet(port, None, ca), Sheet(port, reading, ca)
    actor, wrong = Sheet(port, acting, ca), Sheet(port, "wrong", ca)

    tally.check(nobody.get("/api/status")[0] == 401, "nobody reads without a token")
    tally.check(nobody.get("/metrics")[0] == 401, "nor the figures")
    tally.check(reader.get("/api/status")[0] == 200, "a reading token reads")
    note = {"tub": "tub-1", "text": "pins"}
    tally.check(reader.act("note", note)[0] == 403, "it does not act")
    tally.check(actor.act("note", note)[0] == 200, "an acting token acts")
    me = json.loads(actor.get("/api/me")[2])
    tally.check(me == {"who": "hand", "may": "act", "tokens": True}, me)

    form = {"Content_Type": "application/x-www-form-urlencoded"}
    status, headers, _ = nobody.ask("POST", "/signin", "token=" + acting, **form)
    cookie = headers.get("Set-Cookie", "")
    tally.check(status == 303 and headers["Location"] == "/", headers)
    for word in ("__Host-tubwarden=", "; Secure", "; HttpOnly", "; SameSite=Strict", "; Max-Age="):
        tally.check(word in cookie, cookie)
    cookie = cookie.split(";")[0]
    tally.check(nobody.act("note", note, Cookie=cookie)[0] == 200, "a browser acts by its cookie")
    status, headers, _ = nobody.ask("POST", "/signin", "token=" + acting,
                                    Origin="https://evil.example", **form)
    tally.check(status == 403 and "Set-Cookie" not in headers, "another site signs nobody in")

    answers = [wrong.get("/api/status")[0] for _ in range(4)]
    tally.check(answers == [401, 401, 401, 429], answers)
    tally.check(reader.get("/api/status")[0] == 429, "the right one waits, too, from there")
    status, _, body = nobody.get("/api/status", Cookie=cookie)
    tally.check(status == 200, "who has signed in is not locked out by others' wrong tokens")
    counts = json.loads(body)["sheet"]
    tally.check(counts["wrong_tokens"] == 3 and counts["locked_out"] == 2, counts)

    try:
        ssl.create_default_context()
        stranger = Sheet(port, acting)
        stranger.tls = ssl.create_default_context()
        stranger.get("/api/status")
        tally.check(False, "a certificate nobody knows was believed")
    except ssl.SSLCertVerificationError:
        pass
    tally.check(nobody.raw(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n").find(b"HTTP") < 0,
                "plain text is not served where TLS is asked for")
    tally.end()


main()
