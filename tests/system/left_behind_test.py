#!/usr/bin/env python3
"""A kitchen file that lacks a vessel for one read (half written, its name mistyped) while a person holds that vessel: a
reload is refused; a start tells of it, keeps what was known, and goes on with it where the vessel is back."""
import signal
import time

from kitchen_rig import Instrument, Kitchen, Webhook, main, wait_for
from reload_test import Feed

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

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
least = "low"
"""
VESSEL = """
[[vessel]]
name = "stockpot"
kind = "pot"
medium = "pot"
on-delay = "1 s"
off-delay = "1 s"
"""


class Supper:
    def __init__(self):
        self.hook, self.kitchen = Webhook(), Kitchen("")
        instrument = Instrument(self.kitchen.folder)
        self.lacking = KITCHEN.format(port=instrument.path, http=self.hook.port)
        self.feed = Feed(instrument, 65)
        self.write(self.lacking + VESSEL)
        self.kitchen.start()
        self.kitchen.cli("hold", "stockpot", "60 degC", "70 degC")
        wait_for("the pot in its band", 60, lambda: self.phase() == "in band")

    def write(self, text):
        self.kitchen.file.write_text(text)

    def killed_and_started(self, text):
        wait_for("its commit", 20, lambda: self.kitchen.json("now")["daemon"]["committed_age_s"] < 1)
        self.kitchen.stop(signal.SIGKILL)
        self.write(text)
        self.kitchen.start()

    def phase(self):
        return self.kitchen.json("now")["vessels"][0]["phase"]

    def alarms(self, name):
        return [a for a in self.kitchen.json("now")["alarms"] if a["alarm"] == name]

    def told(self, alarm, kind):
        return [b["text"] for b in self.hook.bodies if (b["alarm"], b["kind"]) == (alarm, kind)]

    def end(self):
        self.feed.going = False
        self.kitchen.stop()


def an_alarm_of_what_is_held_goes_on():
    supper = Supper()
    supper.feed.celsius = 75
    before = wait_for("the alarm", 60, lambda: [a for a in supper.alarms("above-band") if a["active"]])[0]
    wait_for("its notice", 30, lambda: supper.told("above-band", "raised"))
    supper.write(supper.lacking)
    supper.kitchen.process.send_signal(signal.SIGHUP)
    refused = wait_for("the refusal", 20, lambda: supper.alarms("kitchen-file-refused"))[0]["text"]
    assert "stockpot is held, and the kitchen file has no such vessel any more" in refused, refused
    for _ in range(3):
        supper.killed_and_started(supper.lacking)
        wait_for("word of what is not watched", 20, lambda: supper.alarms("order-dropped"))
        time.sleep(2)
    for name in ("order-dropped", "alarm-dropped"):
        texts = [a["text"] for a in supper.alarms(name)]
        assert len(texts) == 1 and texts[0].count("stockpot") == 1 and texts[0].count("What was found last") <= 1, texts
    assert any("has no stockpot any more" in body["text"] for body in supper.hook.bodies), supper.hook.bodies
    supper.killed_and_started(supper.lacking + VESSEL)
    again = wait_for("the same alarm", 20, lambda: [a for a in supper.alarms("above-band") if a["active"]])[0]
    assert again["id"] == before["id"], (before, again)
    time.sleep(8)
    assert supper.phase() == "above band", supper.phase()
    assert supper.alarms("above-band")[0]["active"] and not supper.told("above-band", "cleared"), supper.hook.bodies
    supper.end()


def what_left_its_band_meanwhile_is_told():
    supper = Supper()
    supper.killed_and_started(supper.lacking)
    wait_for("word of what is not watched", 20, lambda: supper.alarms("order-dropped"))
    supper.feed.celsius = 75
    time.sleep(3)
    supper.killed_and_started(supper.lacking + VESSEL)
    wait_for("what it is now", 40, lambda: any(a["active"] for a in supper.alarms("above-band")))
    wait_for("its notice", 30, lambda: supper.told("above-band", "raised"))
    supper.end()


def two_dishes_that_cook_have_two_cores():
    supper = Supper()
    larger = supper.lacking + VESSEL + "".join(
        f'\n[[probe]]\nname = "core-{n}"\ndriver = "simulated"\nof = "{core}"\n\n[[dish]]\nname = "roll-{n}"\nvessel = "stockpot"\n'
        f'core = "core-{n}"\nfood = "ground-poultry"\n' for n, core in ((1, "goose-core"), (2, "boar-core")))
    supper.write(larger)
    supper.kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the dishes", 20, lambda: len(supper.kitchen.json("now")["dishes"]) == 2)
    supper.kitchen.cli("begin", "roll-1")
    supper.kitchen.cli("begin", "roll-2")
    one_core = larger.replace('core = "core-2"', 'core = "core-1"')
    supper.write(one_core)
    supper.kitchen.process.send_signal(signal.SIGHUP)
    refused = wait_for("the refusal", 20, lambda: supper.alarms("kitchen-file-refused"))[0]["text"]
    assert "roll-1 and roll-2 cook, and the kitchen file gives both the core probe core-1" in refused, refused
    supper.killed_and_started(one_core)  # which nobody can refuse: the kitchen is watched
    told = wait_for("word of it", 20, lambda: supper.alarms("core-in-two-dishes"))[0]["text"]
    assert "core-1 is the core probe of roll-1 and of roll-2" in told, told
    supper.kitchen.cli("end", "roll-2")
    wait_for("its end", 20, lambda: not any(a["active"] for a in supper.alarms("core-in-two-dishes")))
    supper.end()


if __name__ == "__main__":
    main([an_alarm_of_what_is_held_goes_on, what_left_its_band_meanwhile_is_told, two_dishes_that_cook_have_two_cores])
