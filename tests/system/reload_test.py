#!/usr/bin/env python3
"""The kitchen file is changed while the daemon watches (field case G7): a valid change is taken up on SIGHUP
without losing the cook or the alarm, a broken one is refused with its reason and the earlier one goes on."""
import signal
import socket
import threading
import time

from kitchen_rig import Instrument, Kitchen, Webhook, main, wait_for

KITCHEN = """
[kitchen]
name = "village hall"
units = "degC"
altitude = "0 m"

[[probe]]
name = "pot"
driver = "serial-line"
port = "{port}"
unit = "degC"
every = "200 ms"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "pot"
band = ["60 degC", "70 degC"]
on-delay = "1 s"

[[dish]]
name = "goose-roll"
vessel = "stockpot"
food = "ground-poultry"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
least = "low"
"""


class Feed:
    """An instrument that keeps saying the same value."""

    def __init__(self, instrument, celsius):
        self.instrument, self.celsius, self.going = instrument, celsius, True
        self.thread = threading.Thread(target=self.run, daemon=True)
        self.thread.start()

    def run(self):
        while self.going:
            self.instrument.send(f"{self.celsius:.2f}\r\n")
            time.sleep(0.2)


def raised(kitchen):
    return kitchen.sql("SELECT count(*) FROM alarm_change WHERE name = 'above-band' AND change = 'raised'")[0][0]


def a_valid_change_keeps_the_cook_and_the_alarm():
    hook = Webhook()
    kitchen = Kitchen("")
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=hook.port)
    kitchen.file.write_text(text)
    feed = Feed(instrument, 65)
    kitchen.start()
    kitchen.cli("begin", "goose-roll")
    wait_for("the band to be held", 120, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band")
    feed.celsius = 75
    wait_for("the alarm", 60, lambda: raised(kitchen) == 1)
    wait_for("its notice", 30, lambda: any(body["alarm"] == "above-band" for body in hook.bodies))

    kitchen.file.write_text(text.replace('name = "village hall"', 'name = "barn"')
                            + '\n[[vessel]]\nname = "larder"\nkind = "room"\n')
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the new vessel", 20, lambda: kitchen.cli("now", check=False).returncode == 0
             and [v["name"] for v in kitchen.json("now")["vessels"]] == ["stockpot", "larder"])
    assert kitchen.process.poll() is None
    now = kitchen.json("now")
    assert [d["begun"] for d in now["dishes"]] == [True], now["dishes"]
    assert [a["alarm"] for a in now["alarms"]] == ["above-band"], now["alarms"]
    last = kitchen.sql("SELECT max(boot_ms) FROM raw_reading")[0][0] or 0
    wait_for("readings after the change", 30,
             lambda: (kitchen.sql("SELECT max(boot_ms) FROM raw_reading")[0][0] or 0) > last)
    time.sleep(3)
    assert raised(kitchen) == 1, "the alarm was raised again"
    assert sum(body["alarm"] == "above-band" for body in hook.bodies) == 1, hook.bodies

    kitchen.file.write_text(text.replace('["60 degC", "70 degC"]', '["70 degC", "60 degC"]').replace("altitude", "altitud"))
    kitchen.process.send_signal(signal.SIGHUP)
    why = wait_for("the refusal", 20,
                   lambda: kitchen.sql("SELECT text FROM event WHERE name = 'reload-refused'"))[0][0]
    assert "altitud" in why and "60 degC" in why and str(kitchen.file) in why, why
    assert [v["name"] for v in kitchen.json("now")["vessels"]] == ["stockpot", "larder"]
    feed.celsius = 65
    wait_for("the all-clear", 60, lambda: any(body["kind"] == "cleared" for body in hook.bodies))
    feed.going = False
    assert kitchen.stop() < 5


def many_signals_in_a_row_lose_nothing():
    kitchen = Kitchen(KITCHEN.format(port="/dev/null/none", http=9))
    manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    manager.bind(str(kitchen.folder / "notify"))
    manager.settimeout(20)
    kitchen.start(NOTIFY_SOCKET=str(kitchen.folder / "notify"), WATCHDOG_USEC="2000000")
    for _ in range(5):
        kitchen.process.send_signal(signal.SIGHUP)
        time.sleep(0.05)
    wait_for("its answer", 20, lambda: kitchen.cli("now", check=False).returncode == 0)
    assert kitchen.process.poll() is None, kitchen.log()
    kitchen.process.send_signal(signal.SIGHUP)
    said = []
    while said.count("READY=1") < 2 or said[-1] != "WATCHDOG=1":  # the watchdog is fed after a reload as before it
        said.append(manager.recv(4096).decode().splitlines()[0])
    assert "RELOADING=1" in said and "STOPPING=1" not in said, said
    assert kitchen.stop(limit=10) < 10
    assert kitchen.process.returncode == 0, kitchen.log()
    while said[-1] != "STOPPING=1":
        said.append(manager.recv(4096).decode().splitlines()[0])


if __name__ == "__main__":
    main([a_valid_change_keeps_the_cook_and_the_alarm, many_signals_in_a_row_lose_nothing])
