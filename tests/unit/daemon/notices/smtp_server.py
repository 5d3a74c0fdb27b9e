"""A real SMTP server (aiosmtpd): prints its port and its process id, then one line of JSON per mail. Modes: good, login, mute, refuse,
starttls and tls (with a login; then the files of certificate and key); slow STEP SECONDS: answers late to one step
(greeting, EHLO, AUTH, MAIL, RCPT, DATA, mail, QUIT) and refuses every login; pour: a greeting without end; full CODE: the
waiter is refused with it, and where it is below 500 only once."""
import asyncio
import json
import os
import ssl
import sys

from aiosmtpd.smtp import SMTP, AuthResult


class Handler:
    refused = 0

    async def handle_RCPT(self, server, session, envelope, address, options):
        if sys.argv[1] == "full" and address.startswith("waiter") and not (Handler.refused and sys.argv[2] < "5"):
            Handler.refused += 1
            return sys.argv[2] + " mailbox full"
        envelope.rcpt_tos.append(address)
        return "250 good"

    async def handle_DATA(self, server, session, envelope):
        mail = {"from": envelope.mail_from, "to": envelope.rcpt_tos, "data": envelope.content.decode("utf-8")}
        print(json.dumps(mail), flush=True)
        return "550 no such mailbox" if sys.argv[1] == "refuse" else "250 kept"


def authenticate(server, session, envelope, mechanism, data):
    return AuthResult(success=data.password == b"right", handled=False)


async def mute(reader, writer):
    await asyncio.sleep(3600)


async def slow(reader, writer):
    late, seconds = sys.argv[2], float(sys.argv[3])

    async def answer(step, text):
        if step == late:
            await asyncio.sleep(seconds)
        writer.write(text.encode() + b"\r\n")

    await answer("greeting", "220 here")
    while line := await reader.readline():
        word = line.decode().split()[0].upper()
        if word == "AUTH":
            await answer("AUTH", "535 wrong")
        elif word == "DATA":
            await answer("DATA", "354 go on")
            text = await reader.readuntil(b"\r\n.\r\n")
            await answer("mail", "250 kept")
            print(json.dumps({"data": text.decode()}), flush=True)
        else:
            await answer(word, "250-here\r\n250 AUTH PLAIN" if word == "EHLO" else "250 good")


async def pour(reader, writer):
    while True:
        writer.write(b"220-more\r\n" * 1000)
        await writer.drain()


async def main():
    loop = asyncio.get_running_loop()
    if by_hand := {"mute": mute, "slow": slow, "pour": pour}.get(sys.argv[1]):
        server = await asyncio.start_server(by_hand, "127.0.0.1", 0)
    elif sys.argv[1] in ("starttls", "tls"):
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(sys.argv[2], sys.argv[3])
        wrapped = sys.argv[1] == "tls"
        lets_in = {"authenticator": authenticate, "auth_required": True, "auth_require_tls": not wrapped}
        make = lambda: SMTP(Handler(), **lets_in, **({} if wrapped else {"tls_context": context, "require_starttls": True}))
        server = await loop.create_server(make, "127.0.0.1", 0, ssl=context if wrapped else None)
    else:
        login = {"authenticator": authenticate, "auth_require_tls": False} if sys.argv[1] == "login" else {}
        server = await loop.create_server(lambda: SMTP(Handler(), enable_SMTPUTF8=True, **login), "127.0.0.1", 0)
    print(server.sockets[0].getsockname()[1], os.getpid(), sep="\n", flush=True)
    await asyncio.sleep(60)


asyncio.run(main())
