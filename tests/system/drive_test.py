#!/usr/bin/env python3
"""Orders, routes and keys that no other test needs, each driven once against the real daemon and its answer held against
what was asked and what the file says."""
import http.client
import json
import socket

from kitchen_rig import Kitchen, free_port, main, wait_for

PLAN = """
name = "glaze"
[[stage]]
name = "warm"
does = "cook"
band = ["60 degC", "70 degC"]
at-least = "1 min"
at-most = "2 h"
excursion = "5 min"
until = { core = "75 degC", lethality = 7.0 }
[[stage]]
name = "rest"
does = "rest"
core-most = "80 degC"
until = { time = "1 min" }
"""
KITCHEN = """
[kitchen]
name = "village hall"
units = "degC"
pressure = "986 hPa"
cooling-rule = "fsis-1"
logbook = "kept/supper.db"

[[probe]]
name = "stock"
driver = "simulated"
of = "stockpot"
story = "steady"
seed = 7
speed = 1
plausible = ["-20 degC", "130 degC"]

[[probe]]
name = "core"
driver = "simulated"
of = "goose-core"

[[probe]]
name = "core-b"
driver = "simulated"
of = "goose-core"

[[probe]]
name = "lid"
driver = "gpio-switch"
chip = "no-such-chip"
line = 3
closed = "low"
bias = "pull-up"
acknowledges = false

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
band = ["85 degC", "95 degC"]
deadband = "1 degC"
look-ahead = "10 min"
reach-within = "2 h"
salt = "1 %"
liquid = "water"

[[dish]]
name = "roll"
vessel = "stockpot"
core = "core"
more-cores = ["core-b"]
food = "ground-poultry"
preparation = ["ground", "injected"]
shape = "cylinder"
thickness = "6 cm"
mass = "1 kg"
plan = "glaze"

[[channel]]
name = "log"
kind = "command"
command = ["/usr/bin/tee", "-a", "notices.log"]
after = "1 min"
least = "medium"

[serve]
tcp = true
port = {port}
token-file = "api.secret"
"""


class Local(http.client.HTTPConnection):
    """HTTP through the daemon's Unix socket."""

    def __init__(self, path):
        super().__init__("localhost", timeout=20)
        self.path = str(path)

    def connect(self):
        self.sock = socket.socket(socket.AF_UNIX)
        self.sock.settimeout(20)
        self.sock.connect(self.path)


def every_order_does_what_it_says():
    kitchen = Kitchen("")
    (kitchen.folder / "glaze.toml").write_text(PLAN)
    (kitchen.folder / "api.secret").write_text("sesame\n")
    (kitchen.folder / "api.secret").chmod(0o600)
    port = free_port()
    kitchen.file.write_text(KITCHEN.replace("{port}", str(port)))
    (kitchen.state / "kept").mkdir()
    kitchen.start()

    def ask(method, target, body=None, link=None, **headers):
        link = link or Local(kitchen.state / "ingled.sock")
        link.request(method, target, json.dumps(body) if body is not None else None, {"Content-Type": "application/json", **headers})
        answer = link.getresponse()
        return answer.status, answer.read().decode(), dict(answer.getheaders())

    def order(path, **body):
        status, text, _ = ask("POST", path, body)
        assert status == 200 and json.loads(text)["done"], (path, status, text)
        return json.loads(text)["text"]

    now = lambda: json.loads(ask("GET", "/api/now")[1])
    wait_for("a reading", 20, lambda: now()["probes"][0]["celsius"] is not None)
    assert "stockpot: holding 60.0 to 70.0 degC" in order("/api/commands/hold", vessel="stockpot", low="60 degC", high="70 degC")
    assert "no longer held" in order("/api/commands/hold", vessel="stockpot", band=None)
    assert "roll begun" in order("/api/commands/begin", dish="roll")
    assert json.dumps(now()["dishes"]).count('"warm"') >= 1
    assert "rest" in order("/api/commands/next", dish="roll")
    assert "taken back; warm goes on" in order("/api/commands/back", dish="roll")
    order("/api/commands/note", text="skimmed")
    assert "skimmed" in order("/api/commands/note-back")
    assert "roll ended" in order("/api/commands/end", dish="roll")
    assert "baste (every 40 min)" in order("/api/commands/remind", text="baste", every="40 min")
    assert "reminder 1 is stopped" in order("/api/commands/stop-reminder", reminder=1)
    order("/api/commands/timer", **{"for": "20 min", "text": "turn the tart"})
    timers = [t for t in now()["timers"]]
    assert len(timers) == 1 and "turn the tart" in json.dumps(timers), timers
    order("/api/commands/stop-timer", timer=timers[0].get("timer", timers[0].get("number", 1)))
    assert not now()["timers"]
    assert "out of service" in order("/api/commands/out-of-service", subject="stock", out=True)
    assert "in service again" in order("/api/commands/out-of-service", subject="stock", out=False)
    order("/api/commands/switch", vessel="stockpot", open=True)
    order("/api/commands/switch", vessel="stockpot", open=False)
    order("/api/commands/pressure", pressure="1000 hPa")
    order("/api/commands/acknowledge")
    order("/api/commands/timer", **{"for": "1 s", "text": "the tart"})
    alarm = lambda: next((a for a in now()["alarms"] if "the tart" in json.dumps(a)), None)
    wait_for("the alarm of the timer", 20, alarm)
    number = next(value for key, value in alarm().items() if key in ("number", "id", "alarm") and isinstance(value, int))
    assert order("/api/commands/shelve", alarm=number, **{"for": "1 h"}).startswith("shelved: ")
    assert order("/api/commands/unshelve", alarm=number).startswith("unshelved: ")
    cooks = json.loads(ask("GET", "/api/cooks")[1])["cooks"]
    assert [cook["dish"] for cook in cooks] == ["roll"], cooks
    kitchen.cli("note", "kept")
    table = ask("GET", "/api/export?last=1+h")[1].splitlines()
    assert table[0].startswith("time,") and "stock [degC]" in table[0] and len(table) > 1, table[:2]
    status, _, headers = ask("POST", "/api/session", link=http.client.HTTPConnection("127.0.0.1", port, timeout=20), Authorization="Bearer sesame")
    assert status == 204 and headers["Set-Cookie"].startswith("ingle-token=") and "HttpOnly" in headers["Set-Cookie"], (status, headers)
    assert (kitchen.state / "kept/supper.db").stat().st_size > 0 and not (kitchen.state / "logbook.db").exists()
    kitchen.stop()


def the_calculations_answer_published_values():
    """ITS-90: 4.096 mV at 100 degC, type K (NIST Monograph 175); water boils at 99.974 degC at 1013.25 hPa (IAPWS); the
    word is read as the kernel's own MAX31855 driver reads it (see tests/rig)."""
    kitchen = Kitchen("")
    first = lambda *words: float(kitchen.cli(*words).stdout.split()[0])
    assert abs(first("calc", "emf", "--type", "K", "--celsius", "100") - 4.096) < 0.0006
    assert abs(first("calc", "temperature", "--type", "K", "--millivolts", "4.096") - 100) < 0.05
    assert abs(first("calc", "boiling-point", "--pressure", "1013.25 hPa") - 99.974) < 0.01
    assert kitchen.cli("calc", "word", "--chip", "max31855", "01900190").stdout.startswith("25.00 degC = 77.00 degF, cold junction 1.56 degC")
    assert "ground-poultry" in kitchen.cli("explain", "food").stdout


if __name__ == "__main__":
    main([every_order_does_what_it_says, the_calculations_answer_published_values])
