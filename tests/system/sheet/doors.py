"""doors.py PORT: on loopback without tokens: who is let in, and what is refused with no effect."""
import gzip
import json
import sys

from visitor import Events, Sheet, Tally


def main():
    sheet, tally = Sheet(int(sys.argv[1])), Tally()
    here = "127.0.0.1:%d" % sheet.port

    # The page's own request acts, and an open page is told.
    page = Events(sheet)
    name, state = page.next()
    tally.check(name == "state" and state["tubs"][0]["id"] == "tub-1", state)
    tally.check("elapsed_s" not in state["tubs"][0], "an event has no ages")
    status, _, body = sheet.act("attend", {"tub": "tub-1", "for": "20m"}, Origin="http://" + here,
                                Sec_Fetch_Site="same-origin")
    tally.check(status == 200 and "hands in tub-1" in json.loads(body)["text"], body)
    change = page.wait_for(lambda n, d: n == "change" and any(
        c["hands"] for c in d.get("chambers", ())))
    tally.check(change["chambers"][0]["hands"][0]["kind"] == "attend", change)
    tally.check("tubs" not in change, "a tub that did not change is not told")

    # Everything else does not.
    word = ("attend", {"tub": "tub-1", "for": "end"})
    for said, headers in (("without our header", {"X_Tubwarden": ""}),
                          ("from another site", {"Sec_Fetch_Site": "cross-site"}),
                          ("from another origin", {"Origin": "http://evil.example"}),
                          ("from nowhere", {"Origin": "null"}),
                          ("as a form", {"Content_Type": "text/plain"}),
                          ("by another name", {"Host": "evil.example:%d" % sheet.port})):
        status, _, body = sheet.act(*word, **headers)
        tally.check(status in (403, 415, 421), "%s: %d %r" % (said, status, body))
    status, _, _ = sheet.get("/api/status", Host="evil.example")
    tally.check(status == 421, "a name that leads here reads nothing: %d" % status)
    status, _, _ = sheet.get("/api/act/attend")
    tally.check(status == 405, status)
    status, _, _ = sheet.act("attend", {"tub": "tub-9", "for": "20m"})
    tally.check(status == 404, status)
    status, _, _ = sheet.get("/api/nothing")
    tally.check(status == 404, status)

    # Wrong bytes are refused; the next caller is served.
    host = b"Host: localhost\r\n"
    for said, data, expected in (
            ("no HTTP", b"\x16\x03\x01\x00\xa5nonsense\r\n\r\n", b"HTTP/1.1 400"),
            ("two hosts", b"GET / HTTP/1.1\r\n" + host + host + b"\r\n", b"HTTP/1.1 400"),
            ("a large header", b"GET / HTTP/1.1\r\n" + host + b"A: " + b"a" * 9000 + b"\r\n\r\n",
             b"HTTP/1.1 431"),
            ("a large body", b"POST /signin HTTP/1.1\r\n" + host + b"Content-Length: 70000\r\n\r\n"
             + b"a" * 70000, b"HTTP/1.1 413"),
            ("no JSON", b"POST /api/act/note HTTP/1.1\r\n" + host + b"X-Tubwarden: act\r\n"
             b"Content-Type: application/json\r\nContent-Length: 4\r\nConnection: close\r\n\r\n"
             b"[[[[",
             b"HTTP/1.1 400")):
        got = sheet.raw(data)
        tally.check(got.startswith(expected), "%s: %r" % (said, got[:80]))

    status, headers, body = sheet.get("/api/status")
    counts = json.loads(body)["sheet"]
    tally.check(counts["malformed"] == 2 and counts["too_large"] == 2, counts)
    tally.check(counts["foreign"] == 6, counts)
    hands = json.loads(body)["chambers"][0]["hands"]
    tally.check(len(hands) == 1, "refused requests had no effect: %s" % hands)
    policy = headers["Content-Security-Policy"]
    tally.check("default-src 'none'" in policy and "unsafe" not in policy, policy)
    tally.check(headers["X-Content-Type-Options"] == "nosniff", headers)
    tally.check(headers["Cache-Control"] == "no-store", headers)

    # An answer is packed for whom asks so, and is the same.
    _, headers, packed = sheet.get("/api/status", Accept_Encoding="gzip, deflate")
    tally.check(headers.get("Content-Encoding") == "gzip", headers)
    tally.check(json.loads(gzip.decompress(packed))["site"] == "shed", "it is a whole status")

    # The page's files: compressed, and not sent twice.
    status, headers, body = sheet.get("/chart.js", Accept_Encoding="gzip")
    tally.check(status == 200 and headers["Content-Encoding"] == "gzip", headers)
    tally.check(len(body) > 1000, "the charts' library is there")
    status, _, body = sheet.get("/chart.js", If_None_Match=headers["ETag"])
    tally.check(status == 304 and not body, status)
    tally.end()


main()
