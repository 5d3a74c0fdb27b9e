#!/usr/bin/env python3
"""kill -9 at 50 random moments: no alarm is lost, at most one commit interval of readings is, and the cook goes on."""
import random
import signal
import tempfile
import threading
import time

from kitchen_rig import Instrument, Kitchen, Webhook, main, wait_for

COMMIT_INTERVAL = 10

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


def fifty_kills_lose_nothing():
    hook, folder = Webhook(), tempfile.mkdtemp(prefix="ingle-test-")
    instrument = Instrument(folder)
    kitchen = Kitchen(KITCHEN.format(port=instrument.path, http=hook.port), folder)
    chance = random.Random(20261124)
    running = True

    def play():
        began = time.monotonic()
        while running:
            second = time.monotonic() - began
            # Inside the band, then above it, then inside: an alarm and its end, again and again.
            instrument.send(f"{65 + (9 if second % 9 > 6 else 0) + 0.01 * (int(second * 10) % 50):.2f},{40 + second / 60:.2f}\n")
            time.sleep(0.1)

    threading.Thread(target=play, daemon=True).start()
    kitchen.start()
    kitchen.cli("begin", "roll")
    cook = kitchen.json("now")["dishes"][0]["cook"]
    acknowledged = []  # what the daemon said was done before it was killed
    for kill in range(50):
        long = kill % 10 == 9
        time.sleep(13 if long else chance.uniform(0.05, 2.2))
        text = f"kill {kill}"
        if kitchen.cli("note", text, check=False).returncode == 0:
            acknowledged.append(text)
        if chance.random() < 0.5:
            time.sleep(chance.uniform(0, 0.3))
        killed_ms = time.time() * 1000
        kitchen.stop(signal.SIGKILL)
        if long:
            newest = kitchen.sql("SELECT max(strftime('%s', utc)) * 1000 FROM reading")[0][0]
            assert newest is not None and killed_ms - newest < (COMMIT_INTERVAL + 2) * 1000, \
                f"kill {kill}: the newest reading is {(killed_ms - newest) / 1000:.1f} s old"
        kitchen.start()
        dish = kitchen.json("now")["dishes"][0]
        assert dish["begun"] and dish["cook"] == cook, f"kill {kill}: the cook did not go on: {dish}"
    running = False
    time.sleep(1)
    assert kitchen.sql("PRAGMA integrity_check") == [("ok",)]
    notes = {text for (text,) in kitchen.sql("SELECT text FROM event WHERE name = 'note'")}
    lost = [text for text in acknowledged if text not in notes]
    assert not lost, f"acknowledged, but gone: {lost}"
    # Whatever was told is in the logbook: an alarm goes in before anybody hears of it.
    rows = kitchen.sql("SELECT name, subject FROM alarm WHERE change = 'raised'")
    told = [b for b in hook.bodies if b["kind"] == "raised"]
    assert told, "no alarm was told in 50 lives"
    assert len({b["id"] for b in told}) <= len(rows), f"{len(told)} told, {len(rows)} in the logbook"
    # And whatever is in the logbook was told in the end, though perhaps by the next life.
    pending = lambda: kitchen.sql("SELECT count(*) FROM outbox WHERE state = 'pending'")[0][0]
    wait_for("the last notices", 30, lambda: pending() == 0)
    kitchen.stop()


main([fifty_kills_lose_nothing])
