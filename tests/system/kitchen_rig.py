"""Parts for the system tests, all of them real: the daemon and the CLI as built, a pseudo-terminal with an
instrument at its other end, an SMTP server (aiosmtpd), an HTTP server. Paths come from INGLE_BUILD."""
import ctypes
import http.client
import http.server
import json
import os
import pty
import queue
import re
import signal
import socket
import sqlite3
import ssl
import subprocess
import sys
import tempfile
import threading
import time
import tomllib
import tty
from pathlib import Path

BUILD = Path(os.environ["INGLE_BUILD"])
INGLED, INGLE = BUILD / "daemon/ingled", BUILD / "tools/ingle"
LONG = os.environ.get("INGLE_LONG") == "1"  # take as long as the kitchen's mishaps did
SOURCE = Path(__file__).resolve().parent.parent.parent


class Driven:
    """What a test script really ran, with success: the commands, the requests and the keys of the files that a daemon started with or
    a command accepted. A file for each script; driven_test.py holds them against what is offered."""

    folder = BUILD / "driven"

    def __init__(self):
        self.folder.mkdir(exist_ok=True)
        self.file, self.known = self.folder / (Path(sys.argv[0]).stem + ".txt"), set()
        self.file.write_text("")
        self.answers_count()
        self.exits_count()

    def answers_count(self):
        """A route is driven by a request that was answered with success."""
        ask, answered, outer = http.client.HTTPConnection.putrequest, http.client.HTTPConnection.getresponse, self

        def putrequest(link, method, target, *more, **named):
            link.driven_target = target
            return ask(link, method, target, *more, **named)

        def getresponse(link):
            answer = answered(link)
            if answer.status < 400:
                outer.add(f"route {link.driven_target.split('?')[0]}")
            return answer
        http.client.HTTPConnection.putrequest, http.client.HTTPConnection.getresponse = putrequest, getresponse

    def exits_count(self):
        """A command is driven by a run that ended with success."""
        begin, outer = subprocess.Popen.__init__, self

        def popen(process, args, *more, **named):
            process.driven_words = args[1:] if isinstance(args, list) and args and str(args[0]) == str(INGLE) else None
            return begin(process, args, *more, **named)

        def seen(plain):
            def ended(process, *more, **named):
                status = plain(process, *more, **named)
                if status == 0 and process.driven_words is not None:
                    outer.command(process.driven_words)
                return status
            return ended
        subprocess.Popen.__init__ = popen
        subprocess.Popen.wait, subprocess.Popen.poll = seen(subprocess.Popen.wait), seen(subprocess.Popen.poll)

    def add(self, thing):
        if thing not in self.known:
            self.known.add(thing)
            with self.file.open("a") as out:
                out.write(thing + "\n")

    def command(self, words):
        words = [str(word) for word in words]
        words = words[2:] if words[:1] == ["--state"] else words
        if "--help" in words:
            return
        self.add(" ".join(["command", *words[:1]]))
        self.add(" ".join(["command", *words[:2]]))

    def request(self, data, answer):
        words = data[:200].split(b" ")
        if re.match(rb"HTTP/1\.1 [123]", answer) and len(words) > 2 and words[1].startswith(b"/"):
            self.add("route " + words[1].split(b"?")[0].decode(errors="replace"))

    def keys(self, folder):
        def walk(node, section):
            for child in node if isinstance(node, list) else ():
                walk(child, section)
            for key, child in node.items() if isinstance(node, dict) else ():
                self.add(f"key {key}")
                self.add(f"key {section}.{key}")
                walk(child, key)
        for file in [*Path(folder).glob("*.toml"), *Path(folder).glob("plans/*.toml")]:
            try:
                text = tomllib.loads(file.read_text())
                walk(text, "file" if "kitchen" in text else "plan")
            except (OSError, ValueError):
                pass


DRIVEN = Driven()


# A pot with a roll in it, on one serial line; `zone`: a line of the kitchen's, or nothing.
POT_KITCHEN = """
[kitchen]
name = "village hall"
units = "degC"
altitude = "0 m"
{zone}

[[probe]]
name = "stock"
driver = "serial-line"
port = "{port}"
channel = "1"
unit = "degC"
every = "100 ms"

[[probe]]
name = "core"
driver = "serial-line"
port = "{port}"
channel = "2"
unit = "degC"
every = "100 ms"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
band = ["60 degC", "70 degC"]
on-delay = "0 s"
off-delay = "0 s"

[[dish]]
name = "roll"
vessel = "stockpot"
core = "core"
food = "ground-poultry"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
"""


def wait_for(what, limit, condition):
    """Waits until condition() is true; fails with a sentence after `limit` seconds."""
    end = time.monotonic() + limit
    while time.monotonic() < end:
        value = condition()
        if value:
            return value
        time.sleep(0.1)
    raise AssertionError(f"waited {limit} s in vain for {what}")


def die_with_parent():
    """A daemon that outlived its test would hold the next test's terminal (prctl PR_SET_PDEATHSIG)."""
    ctypes.CDLL(None).prctl(1, signal.SIGKILL)


class Instrument:
    """The other end of a serial line. The port path is a link, so that it can be pulled and put back."""

    def __init__(self, folder):
        self.path = Path(folder) / "instrument"
        self.master = self.slave = None
        self.plug()

    def plug(self):
        self.master, self.slave = pty.openpty()
        tty.setraw(self.slave)
        name = os.ttyname(self.slave)
        self.path.unlink(missing_ok=True)
        self.path.symlink_to(name)

    def pull(self):
        self.path.unlink(missing_ok=True)
        os.close(self.slave)
        os.close(self.master)
        self.master = None

    def send(self, data):
        os.write(self.master, data if isinstance(data, bytes) else data.encode())


class Webhook:
    """A real HTTP server that keeps every body it was given; with a folder, an HTTPS one that signs for itself there."""

    def __init__(self, folder=None, port=0):
        self.bodies, self.keys, self.tokens, self.paths, outer = [], [], [], [], self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_POST(self):
                body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
                outer.bodies.append(json.loads(body))
                outer.keys.append(self.headers.get("Idempotency-Key"))
                outer.tokens.append(self.headers.get("Authorization"))
                outer.paths.append(self.path)
                self.send_response(204)
                self.end_headers()

            def log_message(self, *_):
                pass

        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", port), Handler)
        self.port = self.server.server_address[1]
        self.certificates = folder and self._secure(Path(folder))
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def _secure(self, folder):
        """The certificate begins to be valid now, as one that was made this year does."""
        key, certificates = folder / "server.key", folder / "server.pem"
        subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout", key, "-out",
                        certificates, "-days", "30", "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost"],
                       check=True, capture_output=True)
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(certificates, key)
        # The handshake is the connection's own thread's work: one that fails must not hold up the others.
        self.server.socket = context.wrap_socket(self.server.socket, server_side=True, do_handshake_on_connect=False)
        return certificates


class MailServer:
    """A real SMTP server that keeps every message it accepted."""

    def __init__(self):
        from aiosmtpd.controller import Controller
        self.messages, outer = [], self

        class Keep:
            async def handle_DATA(self, server, session, envelope):
                outer.messages.append(envelope.content.decode())
                return "250 kept"

        self.port = free_port()
        self.controller = Controller(Keep(), hostname="127.0.0.1", port=self.port)
        self.controller.start()


def free_port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def mqtt_packet(kind, body):
    """One packet of MQTT 3.1.1: the type with its flags, the length in groups of seven bits, the rest."""
    length, digits = len(body), b""
    while True:
        length, low = divmod(length, 128)
        digits += bytes([low | (0x80 if length else 0)])
        if not length:
            return bytes([kind]) + digits + body


def mqtt_text(text):
    data = text.encode()
    return len(data).to_bytes(2, "big") + data


def mqtt_publish(port, topic, payload, user="", password=""):
    """One message at quality of service 0, from a client that comes and goes."""
    flags = 0x02 | (0xC0 if user else 0)
    login = mqtt_text(user) + mqtt_text(password) if user else b""
    with socket.create_connection(("127.0.0.1", port), timeout=10) as link:
        link.sendall(mqtt_packet(0x10, mqtt_text("MQTT") + bytes([4, flags, 0, 60]) + mqtt_text("rig") + login))
        if link.recv(4)[:4] != b"\x20\x02\x00\x00":
            raise AssertionError("the broker refused the publisher")
        link.sendall(mqtt_packet(0x30, mqtt_text(topic) + payload) + b"\xe0\x00")
        link.recv(1)


class Kitchen:
    """A state folder with a kitchen file, and the daemon on it."""

    def __init__(self, text, folder=None):
        self.folder = Path(folder or tempfile.mkdtemp(prefix="ingle-test-"))
        self.state = self.folder / "state"
        self.state.mkdir(exist_ok=True)
        self.file = self.folder / "kitchen.toml"
        self.file.write_text(text)
        self.process = None

    def command(self):
        return [INGLED, "--kitchen", self.file, "--state", self.state]

    def alive(self):
        return self.process is not None and self.process.poll() is None

    def start(self, **environment):
        log = open(self.folder / "ingled.log", "a")
        self.process = subprocess.Popen(self.command(), stdout=log, stderr=log, env={**os.environ, **environment},
                                        preexec_fn=die_with_parent)
        wait_for("the daemon's first answer", 15, lambda: self._answers())
        DRIVEN.keys(self.folder)

    def _answers(self):
        if self.process.poll() is not None:
            raise AssertionError(f"ingled ended with {self.process.returncode}:\n{self.log()}")
        return self.cli("now", check=False).returncode == 0

    def stop(self, how=signal.SIGTERM, limit=5):
        self.process.send_signal(how)
        began = time.monotonic()
        self.process.wait(limit)
        return time.monotonic() - began

    def log(self):
        return (self.folder / "ingled.log").read_text()

    def cli(self, *words, check=True):
        done = subprocess.run([INGLE, "--state", self.state, *words], stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60)
        if check and done.returncode != 0:
            raise AssertionError(f"ingle {' '.join(map(str, words))} ended with {done.returncode}: {done.stdout}{done.stderr}\n{self.log()}")
        return done

    def json(self, *words):
        return json.loads(self.cli(*words, "--json").stdout)

    def get(self, path):
        """What the API answers, asked over the socket as the CLI does."""
        link = http.client.HTTPConnection("localhost", timeout=20)
        link.sock = socket.socket(socket.AF_UNIX)
        link.sock.settimeout(20)
        link.sock.connect(str(self.state / "ingled.sock"))
        link.request("GET", path)
        answer = link.getresponse()
        text = answer.read().decode()
        assert answer.status == 200, (path, answer.status, text)
        return json.loads(text)

    def sql(self, query, *values):
        with sqlite3.connect(f"file:{self.state / 'logbook.db'}?mode=ro", uri=True, timeout=20) as book:
            return book.execute(query, values).fetchall()


def main(tests):
    """Runs the named functions and says how each went."""
    chosen = sys.argv[1:]
    failed = 0
    for test in tests:
        if chosen and test.__name__ not in chosen:
            continue
        began = time.monotonic()
        try:
            test()
            print(f"passed {test.__name__} ({time.monotonic() - began:.1f} s)", flush=True)
        except Exception as error:  # noqa: BLE001 - a test may fail in any way
            failed += 1
            import traceback
            traceback.print_exc()
            print(f"FAILED {test.__name__}: {error}", flush=True)
    sys.exit(1 if failed else 0)
