#!/usr/bin/python3
"""Mail servers for the tests of email, on loopback.

mail.py JOURNAL CERT.pem KEY.key   prints the ports of: STARTTLS, TLS from the start, in the clear,
in the clear with no login, one that accepts and says nothing, one that greets and then talks and
talks. Logins: grower with "s3cret pass". Each letter becomes one line of JSON in JOURNAL. A
recipient that begins with gone is refused for good, one that begins with later for now.
"""
import asyncio
import json
import ssl
import sys

from aiosmtpd.smtp import SMTP, AuthResult

JOURNAL = open(sys.argv[1], "a", buffering=1, encoding="utf-8")


class Box:
    async def handle_RCPT(self, _server, _session, envelope, address, _options):
        if address.startswith("gone"):
            return "550 no such box"
        if address.startswith("later"):
            return "451 try again"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        JOURNAL.write(json.dumps({
            "from": envelope.mail_from, "to": envelope.rcpt_tos,
            "tls": server.transport.get_extra_info("ssl_object") is not None,
            "login": bool(session.authenticated),
            "letter": envelope.content.decode("ascii")}) + "\n")
        return "250 OK"


def login(_server, _session, _envelope, _mechanism, data):
    right = (data.login, data.password) == (b"grower", b"s3cret pass")
    return AuthResult(success=right, handled=right)  # one that is not handled is answered with 535


async def silent(_reader, writer):
    await asyncio.Event().wait()
    writer.close()


async def endless(_reader, writer):
    try:
        writer.write(b"220 here\r\n")
        while True:
            writer.write(b"250-" + b"x" * 400 + b"\r\n")
            await writer.drain()
    except ConnectionError:
        pass


async def main():
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(sys.argv[2], sys.argv[3])
    loop = asyncio.get_running_loop()

    def smtp(**how):
        return lambda: SMTP(Box(), authenticator=login, hostname="localhost", loop=loop, **how)
    safe = {"auth_required": True}
    servers = [
        await loop.create_server(smtp(tls_context=context, require_starttls=True, **safe),
                                 "127.0.0.1", 0),
        await loop.create_server(smtp(auth_require_tls=False, **safe), "127.0.0.1", 0,
                                 ssl=context),
        await loop.create_server(smtp(auth_require_tls=False, **safe), "127.0.0.1", 0),
        await loop.create_server(smtp(), "127.0.0.1", 0),
        await asyncio.start_server(silent, "127.0.0.1", 0),
        await asyncio.start_server(endless, "127.0.0.1", 0),
    ]
    print(*(server.sockets[0].getsockname()[1] for server in servers), flush=True)
    await asyncio.Event().wait()

asyncio.run(main())
