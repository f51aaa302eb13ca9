"""What the tests of the sheet share: one connection, requests as bytes, and what came back."""
import http.client
import json
import socket
import ssl


class Sheet:
    """The sheet at a port of this board, as one caller sees it."""

    def __init__(self, port, token=None, ca=None):
        self.port, self.token = port, token
        self.tls = ssl.create_default_context(cafile=ca) if ca else None

    def connect(self):
        host = "127.0.0.1"
        if self.tls:
            return http.client.HTTPSConnection(host, self.port, timeout=10, context=self.tls)
        return http.client.HTTPConnection(host, self.port, timeout=10)

    def ask(self, method, path, body=None, **headers):
        """-> (status, headers, body as text)."""
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if self.token and "Authorization" not in sent and "Cookie" not in sent:
            sent["Authorization"] = "Bearer " + self.token
        if isinstance(body, dict):
            sent.setdefault("Content-Type", "application/json")
            body = json.dumps(body)
        link = self.connect()
        try:
            link.request(method, path, body, sent)
            response = link.getresponse()
            return response.status, dict(response.getheaders()), response.read()
        finally:
            link.close()

    def get(self, path, **headers):
        return self.ask("GET", path, **headers)

    def act(self, word, body, **headers):
        headers.setdefault("X_Tubwarden", "act")
        return self.ask("POST", "/api/act/" + word, body, **headers)

    def raw(self, data):
        """Bytes as they are; -> all that comes back until the end."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=10) as link:
            link.sendall(data)
            got = b""
            try:
                while chunk := link.recv(65536):
                    got += chunk
            except ConnectionResetError:
                pass
            return got


class Events:
    """The events of one open page."""

    def __init__(self, sheet):
        self.link = sheet.connect()
        sent = {"Authorization": "Bearer " + sheet.token} if sheet.token else {}
        self.link.request("GET", "/api/live", headers=sent)
        self.response = self.link.getresponse()
        assert self.response.status == 200, self.response.status
        assert self.response.getheader("Content-Type") == "text/event-stream"

    def next(self):
        """-> (event, data); comments are passed over."""
        name = data = None
        while True:
            line = self.response.readline().decode()
            assert line, "the events have ended"
            line = line.rstrip("\n")
            if line.startswith("event: "):
                name = line[7:]
            elif line.startswith("data: "):
                data = json.loads(line[6:])
            elif not line and name:
                return name, data

    def wait_for(self, test, most=30):
        for _ in range(most):
            name, data = self.next()
            if test(name, data):
                return data
        raise AssertionError("no such event")


class Tally:
    """Ends with the failed sentences, if any."""

    def __init__(self):
        self.failed = []

    def check(self, holds, sentence):
        if not holds:
            self.failed.append(str(sentence))
        return holds

    def end(self):
        for sentence in self.failed:
            print("failed:", sentence)
        raise SystemExit(1 if self.failed else 0)
