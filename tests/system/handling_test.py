#!/usr/bin/env python3
"""An evening of everyday handling, live: the real daemon and CLI, an instrument on a pseudo-terminal, a webhook. The
daemon's clocks run twelve times as fast (libfaketime), so that eight minutes of a kitchen fit into one. What is told must
be true, told once, and told again when it is news: an alarm that comes back, worse or by its other side; a stage that
is over and waits; a burner turned off for good; a timer that rang while nobody could hear it; a door, and no guess."""
import glob
import math
import random
import signal
import threading
import time

from kitchen_rig import Instrument, Kitchen, Webhook, main, wait_for

SPEED = 12
LIBRARY = sorted(glob.glob("/usr/lib/*/faketime/libfaketimeMT.so.1"))

HEAD = """
[kitchen]
name = "village hall"
units = "degC"
altitude = "0 m"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
least = "low"
"""
# Said to be slow, so that a busy machine makes no gaps.
PROBE = """
[[probe]]
name = "{name}-tip"
driver = "serial-line"
port = "{port}"
channel = "T{channel}"
unit = "degC"
every = "10 s"

[[vessel]]
name = "{name}"
kind = "{kind}"
medium = "{name}-tip"
{more}
"""
DISH = """
[[dish]]
name = "goose-roll"
vessel = "braiser"
plan = "poach"
"""
PLAN = """
name = "poach"
[[stage]]
name = "poach"
band = ["80 degC", "90 degC"]
until = { time = "1 min" }
[[stage]]
name = "bake"
vessel = "oven"
band = ["180 degC", "200 degC"]
until = { time = "150 s" }
excursion = "2 min"
"""


def along(*points):
    """Straight lines between (second, degC)."""
    def at(second):
        for (t0, c0), (t1, c1) in zip(points, points[1:]):
            if second <= t1:
                return c0 + (c1 - c0) * max(0.0, second - t0) / (t1 - t0)
        return points[-1][1]
    return at


def opened(*begins):
    """A chamber at 105 degC whose door is open for half a minute, and nothing is put in."""
    def at(second):
        celsius = 105.0
        for begin in begins:
            if second >= begin:
                away = 45 * -math.expm1(-min(second - begin, 30) / 12)
                celsius -= away * math.exp(-max(0.0, second - begin - 30) / 25)
        return celsius
    return at


VESSELS = {
    "stockpot": ("pot", 'band = ["80 degC", "90 degC"]', 85.0),
    "kettle": ("pot", 'band = ["40 degC", "50 degC"]\non-delay = "5 s"\noff-delay = "5 s"', 45.0),
    "smoker": ("smoker", 'band = ["95 degC", "115 degC"]', 105.0),
    "braiser": ("pot", "", 85.0),
    "oven": ("oven", "", lambda second: 190 + 8 * math.sin(second / 50)),
}


class Evening:
    """A kitchen in quick time and what its probes read; `at` is its second."""

    def __init__(self):
        assert LIBRARY, "libfaketime is not here: install Debian's package faketime"
        self.hook, self.kitchen, self.noise = Webhook(), Kitchen(""), random.Random(7)
        self.instrument = Instrument(self.kitchen.folder)
        text = HEAD.format(http=self.hook.port)
        for channel, (name, (kind, more, _)) in enumerate(VESSELS.items(), 1):
            text += PROBE.format(name=name, kind=kind, more=more, port=self.instrument.path, channel=channel)
        self.kitchen.file.write_text(text + DISH)
        (self.kitchen.folder / "poach.toml").write_text(PLAN)
        self.values = {name: value for name, (_, _, value) in VESSELS.items()}
        self.first = time.monotonic()
        self.start()
        self.began, self.going = time.monotonic(), True
        self.thread = threading.Thread(target=self.feed, daemon=True)
        self.thread.start()

    def start(self):
        ahead = (time.monotonic() - self.first) * (SPEED - 1)  # a daemon that begins later finds the same clock
        self.kitchen.start(LD_PRELOAD=LIBRARY[0], FAKETIME=f"+{ahead:.3f} x{SPEED}", FAKETIME_NO_CACHE="1")

    def at(self):
        return (time.monotonic() - self.began) * SPEED

    def feed(self):
        number = 0
        while self.going:
            second = self.at()
            values = [value(second) if callable(value) else value for value in self.values.values()]
            self.instrument.send(" ".join(f"T{i}={c + self.noise.gauss(0, 0.05):.1f}" for i, c in enumerate(values, 1)) + "\r\n")
            number += 1
            time.sleep(max(0.0, self.began + number / SPEED - time.monotonic()))

    def wait_until(self, second):
        time.sleep(max(0.0, (second - self.at()) / SPEED))

    def wait(self, what, condition, limit=40):
        return wait_for(f"{what} (second {self.at():.0f})", limit, condition)

    def notices(self, alarm, subject, kind="raised"):
        return [b for b in self.hook.bodies if (b["alarm"], b["subject"], b["kind"]) == (alarm, subject, kind)]

    def now(self):
        return self.kitchen.json("now")

    def vessel(self, name):
        return next(v for v in self.now()["vessels"] if v["name"] == name)

    def alarm(self, alarm, subject):
        return next((a for a in self.now()["alarms"] if (a["alarm"], a["subject"]) == (alarm, subject)), None)

    def dish(self):
        return self.now()["dishes"][0]


def heat(evening, low, high, seconds_per_kelvin=4):
    """The kettle from now on, no faster than a pot can: what leaps is asked about. Gives the second at which it is there."""
    begin = evening.at()
    there = begin + seconds_per_kelvin * (high - low)
    evening.values["kettle"] = along((begin, low), (there, high))
    return there


def back_worse_and_by_the_other_side(evening):
    """The kettle: acknowledged and back; shelved, over, and back far above its band, too slowly to boil soon."""
    told = lambda: evening.notices("above-band", "kettle")
    active = lambda: (evening.alarm("above-band", "kettle") or {}).get("active", False)
    evening.wait("the kettle's band", lambda: evening.vessel("kettle")["phase"] == "in band")
    there = heat(evening, 45.0, 52.0)
    evening.wait("the kettle's alarm", told)
    evening.wait_until(there)
    evening.kitchen.cli("ack", "kettle")
    evening.values["kettle"] = 45.0
    evening.wait("its end", lambda: not active())
    there = heat(evening, 45.0, 52.0)
    evening.wait("the notice of the second time", lambda: len({b["since"] for b in told()}) == 2)
    evening.wait_until(there)
    again = evening.alarm("above-band", "kettle")
    assert again["state"] == "unacknowledged" and again["age_s"] < 60, again
    evening.kitchen.cli("shelve", str(again["id"]), "1 h")
    evening.values["kettle"] = 45.0
    evening.wait("the end of what is shelved", lambda: not active())
    heat(evening, 45.0, 57.0, seconds_per_kelvin=14)
    evening.wait("the notice that it is worse than what was shelved", lambda: told()[-1]["priority"] == "high")
    assert "above its band" in told()[-1]["text"], told()[-1]
    worse = evening.wait("its priority", lambda: (a := evening.alarm("above-band", "kettle")) and a["priority"] == "high" and a)
    assert worse["state"] == "unacknowledged", worse
    assert not evening.notices("boil-over-risk", "kettle"), evening.notices("boil-over-risk", "kettle")
    for notice in told():
        assert "Worse: Whether" not in notice["text"], notice
    evening.values["kettle"] = 45.0


def a_stage_is_over_and_its_burner_is_turned_off(evening):
    evening.wait("the end of the stage", lambda: evening.notices("stage-over", "goose-roll"))
    assert "ingle next goose-roll" in evening.notices("stage-over", "goose-roll")[0]["text"]
    shown = evening.kitchen.cli("now").stdout
    assert "goose-roll: poach is over; next is bake" in shown, shown
    assert evening.dish()["vessel"] == "braiser", evening.dish()
    off = evening.at()
    evening.values["braiser"] = lambda second: 22 + 63 * math.exp(-(second - off) / 1500)
    return off


def a_door_is_a_question(evening):
    """Three times, and nothing is put in."""
    first = evening.at() + 2
    doors = (first, first + 105, first + 210)
    evening.values["smoker"] = opened(*doors)
    shown = []
    while evening.at() < first + 60:
        shown.append(evening.vessel("smoker")["phase"])
        time.sleep(0.2)
    assert "door open?" in shown and "door open" not in shown, shown
    assert shown[-1] != "door open?", shown  # it was shut half a minute ago
    return doors


def leaves_at_the_top_then_at_the_bottom(evening):
    evening.wait("leaving at the top", lambda: evening.notices("leaving-band", "stockpot"))
    assert "at the top" in evening.notices("leaving-band", "stockpot")[0]["text"]
    evening.kitchen.cli("ack", "stockpot")
    evening.wait("leaving at the bottom", lambda: len(evening.notices("leaving-band", "stockpot")) == 2)
    text = evening.notices("leaving-band", "stockpot")[1]["text"]
    assert "at the bottom" in text and "Turn the heat" in text and "up" in text, text
    assert evening.alarm("leaving-band", "stockpot")["state"] == "unacknowledged"


def the_clock_goes_on_over_a_kill(evening):
    """The bake began when the cook said so, and its plan lets two minutes unread count; a timer rings while the program is off."""
    evening.kitchen.cli("next", "goose-roll")
    assert evening.dish()["vessel"] == "oven" and evening.dish()["stage"] == "bake"
    evening.wait("the clock at the oven's rim", lambda: evening.dish()["stage_left_s"] < 145, limit=10)
    evening.kitchen.cli("timer", "10 s", "turn", "the", "tart")
    left, killed = evening.dish()["stage_left_s"], evening.at()
    evening.kitchen.stop(signal.SIGKILL)
    evening.wait_until(killed + 90)
    evening.start()
    # Until then what was read before the kill is shown, with its age.
    evening.wait("the first reading", lambda: evening.dish()["stage_clock"] != "stopped: no reading")
    dish, away = evening.dish(), evening.at() - killed
    assert left - away - 10 <= dish["stage_left_s"] <= left - 30, (left, away, dish)
    evening.wait("the timer", lambda: evening.notices("timer-over", "village hall"))
    assert "turn the tart (" in evening.notices("timer-over", "village hall")[0]["text"]
    evening.wait("the end of the plan", lambda: evening.notices("dish-ready", "goose-roll"))
    evening.kitchen.cli("ack")
    left_open = [a["alarm"] for a in evening.now()["alarms"] if a["state"] == "unacknowledged"]
    assert not {"dish-ready", "timer-over", "stage-over"} & set(left_open), left_open
    evening.kitchen.cli("end", "goose-roll")
    assert evening.vessel("oven")["band"] is None


def what_is_handled_is_told_as_it_is():
    evening = Evening()
    evening.kitchen.cli("begin", "goose-roll")
    back_worse_and_by_the_other_side(evening)
    off = a_stage_is_over_and_its_burner_is_turned_off(evening)
    now = evening.at()
    evening.values["stockpot"] = along((now, 85), (now + 150, 88.8), (now + 350, 81.2))
    doors = a_door_is_a_question(evening)
    leaves_at_the_top_then_at_the_bottom(evening)
    evening.wait_until(max(off + 330, doors[2] + 90))
    assert not evening.notices("heat-lost", "braiser"), evening.notices("heat-lost", "braiser")
    assert evening.vessel("smoker")["phase"].startswith("in band"), evening.vessel("smoker")
    the_clock_goes_on_over_a_kill(evening)
    evening.kitchen.stop()
    events = evening.kitchen.sql("SELECT name, text FROM event WHERE subject = 'smoker'")
    assert [name for name, _ in events].count("door-opened") == len(doors), events
    assert not any(name == "food-added" for name, _ in events), events
    for body in evening.hook.bodies:
        assert "that it last showed" not in body["text"], body
    for text, in evening.kitchen.sql("SELECT text FROM event UNION SELECT text FROM alarm_change"):
        assert "was opened" not in text, text  # there is no switch
    evening.going = False


if __name__ == "__main__":
    main([what_is_handled_is_told_as_it_is])
