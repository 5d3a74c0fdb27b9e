#!/usr/bin/env python3
"""What hands do, live: a serial instrument of nine channels at a pseudo-terminal, the real daemon, a real web server
for its notices, and `ingle now` asked every second. A probe is dipped, lifted and put back, lifted and forgotten; two
are swapped; a cold spoon is held against one; a pot rises to the boil of a high place and stands there; a fryer stays
at 185 degC. Whatever is shown or told lies within what the wire carried; nothing medium or high is told but what is
true; and `hold` refuses what only another unit can mean."""
import math
import random
import re
import tempfile
import time

from kitchen_rig import Instrument, Kitchen, Webhook, main, wait_for

HERTZ, LENGTH_S, ALLOWED_K, NEWEST_S = 5, 42, 1.05, 30
NOTICE_ON_ITS_WAY_S = 12  # gathered with others, sent, received

HEAD = """
[kitchen]
name = "village hall"
units = "degC"
altitude = "240 m"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
least = "low"
"""

VESSEL = """
[[probe]]
name = "{name}-tip"
driver = "serial-line"
port = "{port}"
channel = "T{channel}"
unit = "degC"
every = "200 ms"

[[vessel]]
name = "{name}"
kind = "{kind}"
medium = "{name}-tip"
{more}
"""

POACHED = 'band = ["82 degC", "88 degC"]'
AIR = 22.0


class Tip:
    """A tip with a time constant, read with noise in steps of 0.1 K; `around` is what it touches at a second."""

    def __init__(self, name, kind, more, around, tau_s=2.0, begins=None):
        self.name, self.kind, self.more, self.around, self.tau_s = name, kind, more, around, tau_s
        self.celsius = around(0) if begins is None else begins
        self.sent = []  # (time, value)

    def read(self, second, noise):
        self.celsius += (self.around(second) - self.celsius) * -math.expm1(-1 / (HERTZ * self.tau_s))
        return round(self.celsius + noise.gauss(0, 0.08), 1)

    def newest(self, now, more_s=0.0):
        """Lowest and highest of what was sent in the newest 30 s, or of the last three."""
        values = [c for at, c in self.sent if at >= now - NEWEST_S - more_s] or [c for _, c in self.sent[-3:]]
        return min(values), max(values)


def tips():
    return [
        Tip("dipped", "pot", POACHED, lambda s: AIR if s < 6 else 85.0),
        Tip("put-back", "pot", POACHED, lambda s: AIR + 8 if 8 <= s < 15 else 85.0),
        Tip("forgotten", "pot", POACHED, lambda s: AIR + 3 if s >= 6 else 85.0, tau_s=3.0),
        Tip("first", "pot", POACHED, lambda s: 85.0 if s < 10 else 70.0),
        Tip("second", "pot", 'band = ["66 degC", "74 degC"]', lambda s: 70.0 if s < 10 else 85.0),
        Tip("spooned", "pot", POACHED, lambda s: 45.0 if 12 <= s < 17 else 85.0, tau_s=6.0),
        # A rise that takes a quarter of an hour, in 20 s; then it boils at 92 degC, as some 2300 m up.
        Tip("high-up", "pot", "", lambda s: min(92.0, 60 + 1.6 * s), tau_s=0.5),
        Tip("fryer", "pot", 'liquid = "fat"\nband = ["170 degC", "190 degC"]', lambda s: 185.0),
        Tip("fridge", "fridge", 'band = ["1 degC", "5 degC"]', lambda s: 3.5),
    ]


# The only ones that are true, and of whom: what was lifted is out of its pot, and what was swapped tells of another.
TRUE = {("probe-displaced", "forgotten-tip"), ("probe-displaced", "put-back-tip"), ("below-band", "first"), ("above-band", "second"),
        ("probe-displaced", "first-tip"), ("probe-displaced", "second-tip")}


def within(tip, celsius, now, what, more_s=0.0):
    low, high = tip.newest(now, more_s)
    assert low - ALLOWED_K <= celsius <= high + ALLOWED_K, f"{what}: {celsius}, but {tip.name} read {low} to {high}"


def levels_of(text):
    return [float(c) for c in re.findall(r" (?:is|stands|boils|reads|stands still) at (-?[\d.]+) degC", text)]


def what_hands_do_is_told_as_it_was_read():
    hook, folder, noise = Webhook(), tempfile.mkdtemp(prefix="ingle-test-"), random.Random(11)
    instrument = Instrument(folder)
    all_tips = tips()
    text = HEAD.format(http=hook.port)
    for channel, tip in enumerate(all_tips, 1):
        text += VESSEL.format(name=tip.name, kind=tip.kind, more=tip.more, port=instrument.path, channel=channel)
    kitchen = Kitchen(text, folder)
    kitchen.start()
    by_name = {tip.name: tip for tip in all_tips} | {tip.name + "-tip": tip for tip in all_tips}

    shown = told = 0
    began, next_look = time.monotonic(), 4.0
    for number in range(LENGTH_S * HERTZ):
        second = number / HERTZ
        values = [tip.read(second, noise) for tip in all_tips]
        at = time.monotonic() - began
        for tip, value in zip(all_tips, values):
            tip.sent.append((at, value))
        instrument.send(" ".join(f"T{i}={v:.1f}" for i, v in enumerate(values, 1)) + "\r\n")
        if second >= next_look:
            next_look = second + 1
            now = kitchen.json("now")
            asked = time.monotonic() - began
            for probe in now["probes"]:
                if probe["celsius"] is not None:
                    within(by_name[probe["name"]], probe["celsius"], asked, "shown")
                    shown += 1
            for alarm in now["alarms"]:
                for celsius in levels_of(alarm["text"].split("what was told before")[0]):
                    within(by_name[alarm["subject"]], celsius, asked, f"shown: {alarm['text']}")
                    shown += 1
        for body in hook.bodies[told:]:
            told += 1
            if body["kind"] != "raised":
                continue
            for celsius in levels_of(body["text"]):
                within(by_name[body["subject"]], celsius, time.monotonic() - began, f"told: {body['text']}", NOTICE_ON_ITS_WAY_S)
            if body["priority"] != "low":
                assert (body["alarm"], body["subject"]) in TRUE, f"told, and not true: {body}"
        time.sleep(max(0.0, began + (number + 1) / HERTZ - time.monotonic()))

    assert shown > 100, f"only {shown} values were shown: nothing was judged"
    raised = lambda: [b for b in hook.bodies if b["kind"] == "raised" and b["alarm"] == "probe-displaced" and b["subject"] == "forgotten-tip"]
    wait_for("the notice that the forgotten probe is out of its pot", 15, raised)
    for name, subject, text in kitchen.sql("SELECT name, subject, text FROM alarm WHERE change = 'raised' AND priority != 'low'"):
        assert (name, subject) in TRUE, f"recorded, and not true: {name} of {subject}: {text}"

    # A fridge of 33 to 41 is one in degF: asked back, and nothing changed.
    before = next(v for v in kitchen.json("now")["vessels"] if v["name"] == "fridge")["band"]
    refused = kitchen.cli("hold", "fridge", "33 degC", "41 degC", check=False)
    assert refused.returncode != 0 and "did you mean degF?" in refused.stdout + refused.stderr, refused
    assert next(v for v in kitchen.json("now")["vessels"] if v["name"] == "fridge")["band"] == before
    assert kitchen.stop() < 6


main([what_hands_do_is_told_as_it_was_read])
