#!/usr/bin/env python3
"""An attack on the real daemon: each way in, with what it came to. Nothing crashes or hangs, memory stays bounded, and an
alarm's way from the wire to the webhook is at most twice its usual. The short form is for CI; INGLE_LONG=1 takes the
full numbers of mutants, connections and seconds."""
import http.client
import json
import os
import random
import resource
import signal
import socket
import subprocess
import threading
import time
from pathlib import Path

from kitchen_rig import (DRIVEN, LONG, Instrument, Kitchen, Webhook, die_with_parent, free_port, main, mqtt_packet,
                         mqtt_text, wait_for)

KITCHEN = """
[kitchen]
name = "village hall"
units = "degC"
altitude = "0 m"

[[probe]]
name = "stock"
driver = "serial-line"
port = "{port}"
channel = "1"
unit = "degC"
every = "100 ms"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
band = ["60 degC", "70 degC"]
on-delay = "0 s"
off-delay = "0 s"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
least = "low"

[serve]
port = {api}
token-file = "api.secret"
"""
TOKEN = "sesame-of-the-api"
LARGEST_GROWTH_MB = 120  # of the daemon, over all that is done to it
random.seed(20261126)


def memory_mb(process):
    for line in Path(f"/proc/{process.pid}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1024
    return 0.0


def processor_s(process):
    fields = Path(f"/proc/{process.pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


class Target:
    """The daemon under attack, with an instrument that keeps speaking and a webhook that keeps listening."""

    def __init__(self, more="", holding=False):
        self.kitchen = Kitchen("")
        secret = self.kitchen.folder / "api.secret"
        secret.write_text(TOKEN + "\n")
        secret.chmod(0o600)
        self.hook, self.instrument, self.port = Webhook(), Instrument(self.kitchen.folder), free_port()
        self.kitchen.file.write_text(KITCHEN.format(port=self.instrument.path, http=self.hook.port, api=self.port) + more)
        self.celsius, self.speaking = 65.0, True
        threading.Thread(target=self.speak, daemon=True).start()
        self.kitchen.start()
        wait_for("a reading", 15, lambda: self.kitchen.json("now")["probes"][0]["celsius"])
        if holding:
            wait_for("the band to be held", 120, lambda: self.kitchen.json("now")["vessels"][0]["phase"] == "in band")
        self.before = memory_mb(self.kitchen.process)

    def speak(self):
        while self.speaking:
            try:
                self.instrument.send(f"{self.celsius:.2f}\r\n")
            except (OSError, TypeError):
                pass
            time.sleep(0.1)

    def way_of_an_alarm(self):
        """Seconds from the first hot line on the wire to the webhook."""
        seen = len(self.hook.bodies)
        began, self.celsius = time.monotonic(), 90.0
        wait_for("the alarm's notice", 60, lambda: any(b["alarm"] == "above-band" and b["kind"] == "raised" for b in self.hook.bodies[seen:]))
        took = time.monotonic() - began
        self.celsius = 65.0
        seen = len(self.hook.bodies)
        self.kitchen.cli("ack", check=False)
        wait_for("its end", 240, lambda: "above-band" not in json.dumps(self.kitchen.json("now")["alarms"]))
        return took

    def connect(self, limit=10):
        return socket.create_connection(("127.0.0.1", self.port), timeout=limit)

    def local(self):
        link = socket.socket(socket.AF_UNIX)
        link.settimeout(10)
        link.connect(str(self.kitchen.state / "ingled.sock"))
        return link

    def raw(self, data, local=False):
        """What the daemon answers to these bytes, until it closes or a second has passed."""
        with (self.local() if local else self.connect()) as link:
            link.settimeout(2)
            try:
                link.sendall(data)
                link.shutdown(socket.SHUT_WR)
                answer = b""
                while part := link.recv(65536):
                    answer += part
                    if len(answer) > 1 << 20:
                        break
                DRIVEN.request(data, answer)
                return answer
            except OSError:
                return b""

    def unhurt(self, what):
        assert self.kitchen.alive(), f"{what}: ingled ended with {self.kitchen.process.poll()}\n{self.kitchen.log()[-2000:]}"
        began = time.monotonic()
        self.kitchen.cli("now")
        grown = memory_mb(self.kitchen.process) - self.before
        print(f"  {what}: answers in {time.monotonic() - began:.2f} s, grown by {grown:.0f} MB", flush=True)
        assert grown < LARGEST_GROWTH_MB, f"{what}: grown by {grown:.0f} MB"
        assert "internal failure" not in self.kitchen.log()


def silent_and_slow_connections_lock_nobody_out():
    undisturbed, target = Target(holding=True), Target(holding=True)
    usual = undisturbed.way_of_an_alarm()
    undisturbed.kitchen.stop()
    resource.setrlimit(resource.RLIMIT_NOFILE, (4096, resource.getrlimit(resource.RLIMIT_NOFILE)[1]))
    links = []
    for _ in range(200):
        try:
            links.append(target.connect(2))
        except OSError:
            break
    for link in links:  # a byte each, and then nothing
        try:
            link.send(b"G")
        except OSError:
            pass
    target.kitchen.cli("note", "told past 200 silent connections")
    began = time.monotonic()
    with target.connect() as late:
        late.sendall(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
        assert late.recv(64).startswith(b"HTTP/1.1 200"), "a reader gets the place of the one that has been silent longest"
    took = time.monotonic() - began
    streams = []
    for _ in range(1000):  # event streams that nobody reads
        try:
            link = target.connect(2)
            link.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            link.sendall(b"GET /api/events HTTP/1.1\r\nHost: localhost\r\n\r\n")
            streams.append(link)
        except OSError:
            break
    # The page of somebody else has its answers all the same, and its own stream.
    for request in (b"GET /healthz HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", b"GET /api/events HTTP/1.1\r\nHost: localhost\r\n\r\n"):
        with target.connect() as page:
            page.sendall(request)
            assert page.recv(64).startswith(b"HTTP/1.1 200"), f"{len(streams)} idle event streams lock out {request}"
    target.unhurt(f"{len(links)} silent connections (a reader waits {took:.2f} s), {len(streams)} event streams that nobody reads")
    attacked = target.way_of_an_alarm()
    print(f"  an alarm's way: {usual:.2f} s as usual, {attacked:.2f} s under attack", flush=True)
    assert attacked <= 2 * usual + 1, "twice the usual, and a second for the watches' own step"
    for link in links + streams:
        link.close()
    target.kitchen.stop()


def guesses_garbage_and_foreign_pages():
    target = Target()
    # Wrong tokens: eight a second at most, and one line.
    tried, stop = [0], time.monotonic() + (10 if LONG else 3)

    def guess():
        while time.monotonic() < stop:
            target.raw(b"POST /api/commit HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer wrong\r\nConnection: close\r\n\r\n")
            tried[0] += 1
    before = target.kitchen.json("now")
    threads = [threading.Thread(target=guess) for _ in range(16)]
    answered = []
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    lines = target.kitchen.log().count("wrong token")
    print(f"  {tried[0]} tries with a wrong token, {lines} lines in the log", flush=True)
    assert lines == 1 and before
    page = lambda host, origin: target.raw(f"POST /api/commands/note HTTP/1.1\r\nHost: {host}\r\nOrigin: {origin}\r\nAuthorization: Bearer {TOKEN}\r\n"
                                           "Content-Type: application/json\r\nContent-Length: 12\r\n\r\n{\"text\":\"x\"}".encode())
    assert b" 403 " in page("evil.example", "http://evil.example").split(b"\r\n")[0]
    assert b" 403 " in page("localhost", "http://evil.example").split(b"\r\n")[0]
    assert b" 200 " in page(f"localhost:{target.port}", f"http://localhost:{target.port}").split(b"\r\n")[0]
    order = lambda headers, body=b'{"text":"x"}': target.raw(
        (f"POST /api/commands/note HTTP/1.1\r\nAuthorization: Bearer {TOKEN}\r\nContent-Type: application/json\r\n" + headers).encode()
        + (b"" if b"Transfer" in headers.encode() else b"Content-Length: %d\r\n" % len(body)) + b"Connection: close\r\n\r\n" + body).split(b"\r\n")[0]
    for headers, status in [  # what can be read in two ways is not read
            ("Host: localhost\r\nHost: evil.example\r\n", b"400"), ("Host: localhost:8094@evil.example\r\n", b"403"), ("Host: localhost:x\r\n", b"403"),
            ("Host: localhost\r\nAuthorization: Bearer other\r\n", b"400"), ("Host: localhost\r\nSec-Fetch-Site: cross-site\r\n", b"403"),
            ("Host: localhost\r\nSec-Fetch-Site: same-origin\r\n", b"200")]:
        assert status in order(headers), (headers, order(headers))
    chunked = b'c\r\n{"text":"x"}\r\n0\r\n\r\n'
    assert b"501" in order("Host: localhost\r\nTransfer-Encoding: gzip, chunked\r\n", chunked)
    assert b"200" in order("Host: localhost\r\nTransfer-Encoding: chunked\r\n", chunked)

    post = lambda name, body: target.raw(b"POST /api/commands/" + name + b" HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
                                         b"Connection: close\r\nContent-Length: " + str(len(body)).encode() + b"\r\n\r\n" + body, local=True)
    answers = {}
    for what, name, body in [
            ("1e400", b"shelve", b'{"alarm":1e400,"for":"1 h"}'), ("NaN", b"shelve", b'{"alarm":NaN,"for":"1 h"}'),
            ("30,000 levels", b"note", b'{"text":' + b"[" * 30000 + b"]" * 30000 + b"}"),
            ("100,000 levels", b"note", b'{"text":' + b"[" * 100_000 + b"]" * 100_000 + b"}"), ("no UTF-8", b"note", b'{"text":"\xff\xfe"}'),
            ("terminal", b"note", json.dumps({"text": "\x1b[2Jgone"}).encode()), ("turned", b"note", json.dumps({"text": "a\u202eb"}).encode()),
            ("ice at 60", b"calibrate", b'{"probe":"stock","points":[{"reads":"60 degC","is":"0 degC"}]}'),
            ("100 is 60", b"calibrate", b'{"probe":"stock","points":[{"reads":"100 degC","is":"60 degC"}]}'),
            ("shelved for ever", b"shelve", b'{"alarm":1,"for":"10000 h"}'), ("pressure", b"pressure", b'{"pressure":"1 hPa"}')]:
        answers[what] = post(name, body).split(b"\r\n")[0]
        assert answers[what][9:10] == b"4", (what, answers[what])
    for query in ("from=-9223372036854775808", "from=9223372036854775807", "last=1e400", "probe=" + "x" * 3000, "from=%ff", "grain=raw&last=100000+h"):
        first = target.raw(f"GET /api/history?{query} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n".encode()).split(b"\r\n")[0]
        assert first[9:10] in (b"4", b"2"), (query, first)
    pipelined = target.raw(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n" * 200)
    assert pipelined.count(b"HTTP/1.1 200") == 200, pipelined.count(b"HTTP/1.1 200")
    head = target.raw(b"HEAD /api/events HTTP/1.1\r\nHost: localhost\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 200") and head.endswith(b"\r\n\r\n"), "HEAD on the event stream ends"
    for _ in range(3000 if LONG else 300):
        size = random.choice([1, 10, 100, 1000, 9000])
        garbage = bytes(random.randrange(256) for _ in range(size))
        start = random.choice([b"", b"GET /", b"POST /api/commands/note HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n", b"GET / HTTP/9.9\r\n"])
        with target.connect() as link:
            try:
                link.sendall(start + garbage)
            except OSError:
                pass
    target.unhurt("guesses, garbage, foreign pages, bad numbers")
    target.kitchen.stop()


def a_flooded_wire_is_heard_at_its_period():
    target = Target()
    target.speaking = False
    usual_rows = target.kitchen.sql("SELECT count(*) FROM raw_reading")[0][0]
    burst, sent = b"65.00\r\n" * 500, 0
    os.set_blocking(target.instrument.master, False)
    end = time.monotonic() + (60 if LONG else 4)
    spent = processor_s(target.kitchen.process)
    began = time.monotonic()
    while time.monotonic() < end:
        try:
            sent += os.write(target.instrument.master, burst if random.random() < 0.9 else os.urandom(2000) + b"9" * 5000)
        except BlockingIOError:
            time.sleep(0.001)
    took = time.monotonic() - began
    os.set_blocking(target.instrument.master, True)
    target.kitchen.cli("note", "after the flood")
    rows = target.kitchen.sql("SELECT count(*) FROM raw_reading")[0][0] - usual_rows
    print(f"  {sent / took / 1e6:.1f} MB/s for {took:.0f} s: {rows} rows, {(processor_s(target.kitchen.process) - spent) / took:.2f} of a processor", flush=True)
    assert rows < took * 25 + 50, "twice its period, and a few at the begin"
    target.speaking = True
    threading.Thread(target=target.speak, daemon=True).start()
    target.unhurt("a flooded serial line")
    target.kitchen.stop()


class LyingBroker:
    """Accepts anybody, announces a message of 200 MB and sends as much of it as is taken."""

    def __init__(self):
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port, self.taken, self.clients = self.server.getsockname()[1], 0, 0
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        while True:
            link, _ = self.server.accept()
            self.clients += 1
            try:
                link.recv(1000)
                link.sendall(b"\x20\x02\x00\x00")
                link.recv(1000)
                size = 200 << 20
                head = mqtt_packet(0x30, b"")[:1]
                length, digits = size, b""
                while length:
                    length, low = divmod(length, 128)
                    digits += bytes([low | (0x80 if length else 0)])
                link.sendall(head + digits + mqtt_text("store"))
                for _ in range(200):
                    link.sendall(b"4" * (1 << 20))
                    self.taken += 1 << 20
            except OSError:
                pass
            link.close()


def peers_that_lie():
    broker = LyingBroker()
    target = Target(f'[[probe]]\nname = "store"\ndriver = "mqtt"\nbroker = "127.0.0.1:{broker.port}"\ntopic = "store"\nunit = "degC"\n')
    wait_for("the second connection", 20, lambda: broker.clients >= 2)
    print(f"  of a message of 200 MB {broker.taken >> 20} MB were taken", flush=True)
    assert broker.taken < 20 << 20
    assert "Packet" in target.kitchen.log() or "packet" in target.kitchen.log() or "size" in target.kitchen.log(), target.kitchen.log()
    target.unhurt("a broker that lies")
    target.kitchen.stop()


def signals_and_a_state_that_is_pulled_away():
    target = Target(holding=True)
    pid = target.kitchen.process
    for _ in range(200 if LONG else 40):
        pid.send_signal(signal.SIGHUP)
        time.sleep(0.005)
    wait_for("an answer after the storm", 20, lambda: target.kitchen.cli("now", check=False).returncode == 0)
    target.unhurt("a storm of SIGHUP")
    pid.send_signal(signal.SIGSTOP)
    time.sleep(60 if LONG else 3)
    pid.send_signal(signal.SIGCONT)
    target.unhurt("stopped and continued")
    second = subprocess.run(target.kitchen.command(), capture_output=True, text=True, timeout=20)
    assert second.returncode == 1 and "another ingled runs" in second.stderr, second.stderr
    wait_for("the logbook in its file", 20, lambda: target.kitchen.sql("SELECT count(*) FROM raw_reading")[0][0] > 0)
    for name in ("logbook.db", "logbook.db-wal", "logbook.db-shm"):
        (target.kitchen.state / name).unlink(missing_ok=True)
    target.kitchen.cli("note", "after the logbook was deleted", check=False)
    time.sleep(2)
    target.unhurt("a deleted logbook")
    usual = target.way_of_an_alarm()
    print(f"  an alarm's way after all that: {usual:.2f} s", flush=True)
    assert target.kitchen.stop(limit=10) < 7
    lock = target.kitchen.state / "ingled.lock"
    lock.unlink()
    lock.mkdir()
    refused = subprocess.run(target.kitchen.command(), capture_output=True, text=True, timeout=20)
    assert refused.returncode == 1 and "cannot be opened" in refused.stderr, refused.stderr
    lock.rmdir()
    lock.symlink_to("/etc/passwd")
    refused = subprocess.run(target.kitchen.command(), capture_output=True, text=True, timeout=20)
    assert refused.returncode == 1 and "cannot be opened" in refused.stderr, refused.stderr


def odd_surroundings():
    """No standard input or output, 64 open files, a strange locale and zone: it watches all the same."""
    kitchen = Kitchen('[kitchen]\nname = "hall"\n[[probe]]\nname = "a"\ndriver = "simulated"\nof = "stockpot"\n[[vessel]]\nname = "pot"\nkind = "pot"\nmedium = "a"\n')
    import resource

    def bare():
        die_with_parent()
        resource.setrlimit(resource.RLIMIT_NOFILE, (64, 64))
        for descriptor in (0, 1, 2):
            os.close(descriptor)
    for environment in ({"LC_ALL": "tlh_XX.UTF-8", "TZ": "Not/There"}, {"LC_ALL": "de_DE.UTF-8", "TZ": ":/etc/passwd"}):
        kitchen.process = subprocess.Popen(kitchen.command(), env={"PATH": "/usr/bin", **environment}, preexec_fn=bare)
        wait_for(f"an answer with {environment}", 15, lambda: kitchen.cli("now", check=False).returncode == 0)
        wait_for("a reading", 15, lambda: kitchen.json("now")["probes"][0]["celsius"])
        links = [socket.socket(socket.AF_UNIX) for _ in range(100)]
        for link in links:
            link.setblocking(False)
            try:
                link.connect(str(kitchen.state / "ingled.sock"))
            except OSError:
                pass
        time.sleep(1)
        for link in links:
            link.close()
        wait_for("an answer after more connections than descriptors", 20, lambda: kitchen.cli("now", check=False).returncode == 0)
        kitchen.stop()


if __name__ == "__main__":
    main([silent_and_slow_connections_lock_nobody_out, guesses_garbage_and_foreign_pages, a_flooded_wire_is_heard_at_its_period, peers_that_lie,
          signals_and_a_state_that_is_pulled_away, odd_surroundings])
