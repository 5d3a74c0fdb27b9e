#!/usr/bin/env python3
"""The page in a real headless Chromium, against the real daemon: page/drive.mjs looks and taps, this script keeps the
kitchen. The harvest supper is simulated at speed; the kettle hangs on a serial line that can fall silent."""
import gzip
import http.client
import json
import re
import shutil
import signal
import socket
import subprocess
import threading
import time
from pathlib import Path

from kitchen_rig import SOURCE, Instrument, Kitchen, free_port, main
from node_packages import node_packages

HERE = Path(__file__).resolve().parent / "page"
TOKEN = "sesame-and-quince"
KETTLE = """
[[probe]]
name = "kettle-water"
driver = "serial-line"
port = "{port}"
channel = "1"
unit = "degC"
every = "200 ms"

[[vessel]]
name = "kettle"
kind = "pot"
medium = "kettle-water"
band = ["140 degF", "158 degF"]
"""


def browser_packages():
    """playwright-core and axe-core."""
    return node_packages(HERE, "browser") / "node_modules"


def crowd():
    """25 ovens that stand in a room and are to be hot."""
    far = "a-very-long-name-of-a-vessel-in-a-kitchen-with-many-pots-and-people-"
    parts = ['[kitchen]\nname = "The Refectory of All the Gleaners & their Donaudampfschifffahrtsgesellschaft beyond the Weir"\nunits = "degC"']
    for n in range(25):
        parts.append(f'[[probe]]\nname = "p{n}"\ndriver = "simulated"\nof = "hall"')
        parts.append(f'[[vessel]]\nname = "{far if n < 3 else "v"}{n}"\nkind = "oven"\nmedium = "p{n}"\nband = ["{150 + n} degC", "{170 + n} degC"]')
    return "\n".join(parts) + "\n"


class Scene:
    """The harvest supper at twentyfold speed, with a kettle; served on `address` with a token."""

    def __init__(self, address="127.0.0.1", keys=('token-file = "page.token"',), kitchen=None):
        self.port = free_port()
        self.kitchen = Kitchen("")
        shutil.copytree(SOURCE / "config/plans", self.kitchen.folder / "plans")
        self.instrument, self.silent = Instrument(self.kitchen.folder), False
        token = self.kitchen.folder / "page.token"
        token.write_text(TOKEN)
        token.chmod(0o600)
        text = (SOURCE / "config/kitchens/harvest-supper.toml").read_text().replace('driver = "simulated"', 'driver = "simulated"\nspeed = 20')
        text = kitchen or re.sub(r"\n\[serve\].*", "\n", text, flags=re.S) + KETTLE.format(port=self.instrument.path)
        self.kitchen.file.write_text(text + f'\n[serve]\naddress = "{address}"\nport = {self.port}\n' + "\n".join(keys) + "\n")
        threading.Thread(target=self._play, daemon=True).start()
        self.kitchen.start()

    def _play(self):
        step = 0
        while True:
            step += 1
            if not self.silent:
                self.instrument.send(f"{65 + 0.3 * (step % 20):.1f}\n")
            time.sleep(0.2)

    def act(self, what):
        """What the script in the browser cannot do itself."""
        if what in ("silence", "speak"):
            self.silent = what == "silence"
        elif what == "kill":
            self.kitchen.stop(signal.SIGKILL)
        elif what == "freeze":
            self.kitchen.process.send_signal(signal.SIGSTOP)
        elif what == "thaw":
            self.kitchen.process.send_signal(signal.SIGCONT)
        elif what == "start":
            self.kitchen.start()
        elif what.startswith("cli "):
            self.kitchen.cli(*json.loads(what[4:]))
        else:
            raise AssertionError(f"nobody knows how to {what}")


def drive(scene, *tests):
    packages = browser_packages()
    browser = shutil.which("chromium")
    assert browser, "chromium is not installed: tools/check installs it"
    words = ["node", HERE / "drive.mjs", packages, browser, f"http://127.0.0.1:{scene.port}/", TOKEN, *tests]
    script = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    try:
        for line in script.stdout:
            if line.startswith("DO "):
                scene.act(line[3:].strip())
                script.stdin.write("done\n")
                script.stdin.flush()
            else:
                print(line, end="", flush=True)
        assert script.wait(20) == 0, "the script in the browser found faults, see above"
    finally:
        script.kill()
        if scene.kitchen.alive():
            scene.kitchen.process.send_signal(signal.SIGCONT)
            scene.kitchen.stop()


def the_modules_use_each_other_by_their_types():
    checker = browser_packages() / ".bin/tsc"
    told = subprocess.run([checker, "--project", SOURCE / "daemon/page/jsconfig.json"], capture_output=True, text=True, timeout=120)
    assert told.returncode == 0, told.stdout


def a_cook_sees_and_does_everything_on_the_page():
    drive(Scene())


def beyond_this_machine_the_page_asks_for_the_token():
    drive(Scene("0.0.0.0"), "signIn", "guest")


def with_many_vessels_what_needs_the_cook_stays_in_sight():
    drive(Scene(kitchen=crowd()), "crowded")


def a_past_cook_and_a_serving_time():
    drive(Scene(), "movedCook", "servingTime")


def every_described_route_is_there():
    scene = Scene()

    def fetch(target):
        link = http.client.HTTPConnection("127.0.0.1", scene.port, timeout=20)
        link.request("GET", target, headers={"Authorization": f"Bearer {TOKEN}"})
        answer = link.getresponse()
        return answer.status, answer.read().decode()

    def knock(method, target):
        """Only whether it is there: past the rig, for which it would count as driven."""
        with socket.create_connection(("127.0.0.1", scene.port), timeout=20) as link:
            link.sendall(f"{method} {target} HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {TOKEN}\r\nConnection: close\r\n\r\n".encode())
            head = link.recv(4096).decode(errors="replace")
            return int(head.split(" ")[1]), head

    for file in ("/", "/page.css", "/page.js", "/page.webmanifest", "/icon.svg"):
        status, text = fetch(file)
        assert status == 200, file
        link = http.client.HTTPConnection("127.0.0.1", scene.port, timeout=20)
        link.request("GET", file, headers={"Accept-Encoding": "gzip"})
        answer = link.getresponse()
        packed = answer.read()
        assert answer.getheader("Content-Encoding") == "gzip" and gzip.decompress(packed).decode() == text and len(packed) < len(text), file
    assert json.loads(fetch("/api/session")[1])["changes"] == "allowed"
    document = json.loads(fetch("/api/openapi.json")[1])
    for path, operations in document["paths"].items():
        for method in operations:
            status, text = knock(method.upper(), path.replace("{channel}", "nobody"))
            whole = method == "get" or path in ("/api/commit", "/api/session", "/api/session/end", "/api/commands/acknowledge")
            # An order without its fields is refused by their names; one that needs none is done, or says why not (409).
            # A link that nobody was sent is answered by a page of its own; what is no route, in JSON.
            there = status == 404 and "text/html" in text if path in ("/link/{link}", "/guest/{pass}") else status in (200, 204) if whole else status in (400, 409) or "no channel" in text
            assert there, (method, path, status, text)
    assert knock("GET", "/api/nothing")[0] == 404 and knock("POST", "/api/commands/nothing")[0] == 404
    scene.kitchen.stop()


def the_daemon_makes_a_token_of_its_own():
    scene = Scene(keys=())
    state = scene.kitchen.state

    def order(token):
        link = http.client.HTTPConnection("127.0.0.1", scene.port, timeout=20)
        link.request("POST", "/api/commands/note", json.dumps({"text": "thyme"}), {"Content-Type": "application/json", "Authorization": f"Bearer {token}"})
        return link.getresponse().status

    token = (state / "page.token").read_text().strip()
    assert len(token) == 24 and (state / "page.token").stat().st_mode & 0o777 == 0o600
    assert order(token) == 200 and order("x" * 24) == 401

    def post(path, body):
        link = http.client.HTTPConnection("127.0.0.1", scene.port, timeout=20)
        link.request("POST", path, json.dumps(body), {"Content-Type": "application/json", "Authorization": f"Bearer {token}"})
        answer = link.getresponse()
        return answer.status, json.loads(answer.read())

    def serving_time():
        return next(dish["serve_at"] for dish in scene.kitchen.json("now")["dishes"] if dish["name"] == "trout")

    assert serving_time() is None
    day = time.strftime("%Y-%m-%d", time.localtime(time.time() + 3 * 86_400))
    status, told = post("/api/commands/serve", {"dish": "trout", "at": f"{day}T17:00"})
    assert status == 200 and told["text"].startswith("trout is to be served"), told
    assert serving_time().startswith(f"{day}T17:00:00")
    status, told = post("/api/commands/serve", {"dish": "trout", "at": "2020-01-01T17:00"})
    assert status == 409 and "over already" in told["error"], told
    scene.kitchen.stop()
    scene.kitchen.start()
    assert serving_time().startswith(f"{day}T17:00:00")
    # What the command line writes is meant, also where the file has it already.
    tomorrow = time.strftime("%Y-%m-%d", time.localtime(time.time() + 86_400))
    for _ in range(2):
        scene.kitchen.cli("dish", "trout", "--serve-at", "tomorrow 18:00")
        assert serving_time().startswith(f"{tomorrow}T18:00:00"), serving_time()
        assert post("/api/commands/serve", {"dish": "trout", "at": None})[0] == 200 and serving_time() is None
    assert order(token) == 200
    assert token not in scene.kitchen.log()

    status, made = post("/api/guest", {"for": "2 h"})
    assert status == 200, made

    def as_guest(method, path, link):
        ask = http.client.HTTPConnection("127.0.0.1", scene.port, timeout=20)
        ask.request(method, path, headers={"Cookie": f"ingle-guest={link.removeprefix('/guest/')}"})
        return ask.getresponse().status

    assert as_guest("GET", made["link"], "") == 303
    assert as_guest("GET", "/api/now", made["link"]) == 200 and as_guest("POST", "/api/commands/acknowledge", made["link"]) == 403
    assert made["link"] not in scene.kitchen.log() and (state / "guest.key").stat().st_mode & 0o777 == 0o600
    scene.kitchen.stop()
    (state / "guest.key").unlink()  # another secret, and no link is good any more
    scene.kitchen.start()
    assert as_guest("GET", made["link"], "") == 404 and as_guest("POST", "/api/commands/acknowledge", made["link"]) == 401

    def session(path, shown):
        link = http.client.HTTPConnection("127.0.0.1", scene.port, timeout=20)
        link.request("POST", path, headers=shown)
        answer = link.getresponse()
        return answer.status, answer.getheader("Set-Cookie") or ""

    status, kept = session("/api/session", {"Authorization": f"Bearer {token}"})
    assert status == 204 and f"ingle-token={token};" in kept and "Max-Age=2592000" in kept, (status, kept)
    status, kept = session("/api/session/end", {"Cookie": f"ingle-token={token}"})
    assert status == 204 and "ingle-token=;" in kept and "Max-Age=0" in kept, (status, kept)
    scene.kitchen.stop()


if __name__ == "__main__":
    main([the_modules_use_each_other_by_their_types, every_described_route_is_there, the_daemon_makes_a_token_of_its_own, a_cook_sees_and_does_everything_on_the_page, a_past_cook_and_a_serving_time, with_many_vessels_what_needs_the_cook_stays_in_sight, beyond_this_machine_the_page_asks_for_the_token])
