#!/usr/bin/python3
"""A web server for the tests of webhook: plain HTTP, and HTTPS for each certificate named.

web.py JOURNAL [CERT.pem KEY.key]...   prints its ports in that order, and serves until killed.
Each request becomes one line of JSON in JOURNAL. The path says what is answered: /status/CODE,
/flaky (500 once, then 200), /silent (never), /trickle (200, then a byte now and then), /huge (200
and no end), /huge-head, /moved.
"""
import http.server
import json
import ssl
import sys
import threading

JOURNAL = open(sys.argv[1], "a", buffering=1, encoding="utf-8")
LOCK = threading.Lock()
NEVER = threading.Event()


class Answer(http.server.BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    seen = set()

    def log_message(self, *_):
        pass

    def head(self, code, length=0, **more):
        self.send_response(code)
        for name, value in more.items():
            self.send_header(name, value)
        if length is not None:
            self.send_header("Content-Length", str(length))
        self.end_headers()

    def do_POST(self):
        body = self.rfile.read(int(self.headers.get("Content-Length", "0")))
        with LOCK:
            first = self.path not in self.seen
            self.seen.add(self.path)
            JOURNAL.write(json.dumps({
                "path": self.path, "body": body.decode(),
                "headers": {name.lower(): value for name, value in self.headers.items()}}) + "\n")
        if self.path.startswith("/status/"):
            self.head(int(self.path.split("/")[2]))
        elif self.path == "/flaky":
            self.head(500 if first else 200)
        elif self.path == "/silent":
            NEVER.wait()
        elif self.path == "/moved":
            self.head(302, Location="/status/200?secret=in-the-location")
        elif self.path == "/huge-head":
            self.wfile.write(b"HTTP/1.1 200 OK\r\n")
            while True:
                self.wfile.write(b"X-Filler: " + b"x" * 8000 + b"\r\n")
        elif self.path in ("/huge", "/trickle"):
            self.head(200, None)
            while not NEVER.wait(0.2 if self.path == "/trickle" else 0):
                self.wfile.write(b"x" if self.path == "/trickle" else b"x" * 65536)
        else:
            self.head(200)


class Server(http.server.ThreadingHTTPServer):
    def handle_error(self, *_):
        pass  # a client that leaves in the middle is what some tests are about


def serve(cert=None, key=None):
    server = Server(("127.0.0.1", 0), Answer)
    if cert:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(cert, key)
        server.socket = context.wrap_socket(server.socket, server_side=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server.server_address[1]


ports = [serve()] + [serve(*sys.argv[i:i + 2]) for i in range(2, len(sys.argv), 2)]
print(*ports, flush=True)
NEVER.wait()
