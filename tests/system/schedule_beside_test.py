#!/usr/bin/env python3
"""While the daemon makes a long schedule, every other question is answered and no reading waits."""
import http.client
import json
import signal
import threading
import time
from datetime import datetime, timedelta, timezone

from kitchen_rig import Instrument, Kitchen, free_port, main, wait_for
from reload_test import Feed

HEAD = """
[kitchen]
name = "village hall"
units = "degC"
zone = "UTC"
altitude = "0 m"
[serve]
port = {http}
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
"""
PLAN = """
name = "bread"
[[stage]]
name = "bake"
does = "cook"
band = ["{low} degC", "{high} degC"]
until = {{ time = "{minutes} min" }}
hands = "15 min"
"""


def crowded(folder, instrument, http_port):
    """Two ovens, and many dishes of different heat that all want to be served at one time."""
    serve = (datetime.now(timezone.utc) + timedelta(hours=9)).strftime("%Y-%m-%dT%H:%M:00Z")
    text = HEAD.format(port=instrument.path, http=http_port)
    for n in range(2):
        text += f'[[vessel]]\nname = "oven-{n}"\nkind = "oven"\n'
    (folder / "plans").mkdir(exist_ok=True)
    for n in range(16):
        low = 150 + 10 * (n % 5)
        (folder / "plans" / f"bread-{n}.toml").write_text(
            PLAN.format(low=low, high=low + 12, minutes=25 + 7 * (n % 4)).replace('"bread"', f'"bread-{n}"'))
        text += f'[[dish]]\nname = "bread-{n}"\nvessel = "oven-{n % 2}"\nplan = "bread-{n}"\nfood = "shelf-stable"\nserve-at = "{serve}"\n'
    return text


class Ask(threading.Thread):
    def __init__(self, port, path):
        super().__init__(daemon=True)
        self.port, self.path, self.took, self.ended, self.status, self.body = port, path, None, None, None, b""

    def run(self):
        began = time.monotonic()
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        link.request("GET", self.path)
        try:
            answer = link.getresponse()
            self.status, self.body = answer.status, answer.read()
        except (OSError, http.client.HTTPException):
            pass  # the daemon was told to stop or to read its file again
        self.ended = time.monotonic()
        self.took = self.ended - began




def begun():
    kitchen, port = Kitchen(""), free_port()
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(crowded(kitchen.folder, instrument, port))
    feed = Feed(instrument, 65)
    kitchen.start()
    wait_for("a reading in the logbook", 30, lambda: kitchen.sql("SELECT count(*) FROM reading")[0][0] > 0)
    return kitchen, port, feed


def a_crowded_kitchen_is_planned_and_the_rest_goes_on():
    """16 dishes in two ovens at one hour cannot be in time: it is said so in bounded time, with what helps."""
    kitchen, port, feed = begun()
    schedule = Ask(port, "/api/schedule")
    schedule.start()
    time.sleep(0.2)
    asked = 0
    while schedule.is_alive():
        history = Ask(port, "/api/history?probe=pot")
        history.start()
        history.join()
        assert history.status == 200 and b"pot" in history.body, history.body
        asked += history.ended < (schedule.ended or 1e99)
    assert schedule.status == 200, schedule.body
    print(f"  planned in {schedule.took:.1f} s, {asked} histories answered meanwhile")
    assert asked >= 2, "a history waits for the schedule"
    made = json.loads(schedule.body)
    assert len(made["dishes"]) == 16 and all(dish["ready_at"] for dish in made["dishes"]), made["dishes"]
    assert made["conflicts"] and not made["fits"], made["conflicts"]
    feed.going = False
    kitchen.stop()
    stamps = [ms for (ms,) in kitchen.sql("SELECT boot_ms FROM reading WHERE probe = 'pot' ORDER BY boot_ms")]
    holes = [b - a for a, b in zip(stamps, stamps[1:]) if b - a > 1500]
    assert not holes, f"readings are missing: {holes} ms"


def a_stop_and_a_reload_do_not_wait_for_it():
    kitchen, port, feed = begun()
    Ask(port, "/api/schedule").start()
    time.sleep(0.1)
    kitchen.file.write_text(kitchen.file.read_text().replace("village hall", "barn"))
    began = time.monotonic()
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the new file", 5, lambda: kitchen.json("now")["kitchen"] == "barn")
    print(f"  read again after {time.monotonic() - began:.1f} s")
    Ask(port, "/api/schedule").start()
    time.sleep(0.1)
    kitchen.stop(limit=5)
    feed.going = False


if __name__ == "__main__":
    main([a_crowded_kitchen_is_planned_and_the_rest_goes_on, a_stop_and_a_reload_do_not_wait_for_it])
