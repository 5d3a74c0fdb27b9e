#!/usr/bin/env python3
"""What is heard of a notice: the real daemon through the real ALSA, whose own `file` device writes down what a speaker would
be given. Counted there: strokes, their tones and lengths, how loud; that it goes on until somebody attends and ends then.
A device that is absent, and one that hangs when it is opened, are told of and hold nothing up."""
import array
import math
import os
import time
from datetime import datetime

from kitchen_rig import Instrument, Kitchen, Webhook, main, wait_for
from reload_test import Feed
from told_test import KITCHEN

RATE = 48000
CHANNEL = """
[[channel]]
name = "{name}"
kind = "sound"
device = "{name}"
loudness = 80
"""
DEVICE = 'pcm.{name} {{ type file slave.pcm {{ type null }} file "{path}" format "raw" truncate {anew} }}\n'


def start(hook, channels, devices, band=""):
    kitchen = Kitchen("")
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=hook.port, band=band).replace('plan = "poach"\n', "")
    kitchen.file.write_text(text + "".join(CHANNEL.format(name=name) for name in channels))
    (kitchen.folder / "asound.conf").write_text("".join(DEVICE.format(name=name, path=kitchen.folder / f"{name}.raw", anew="false" if name == "speaker" else "true") for name in devices))
    return kitchen, Feed(instrument, 65)


def begin(kitchen):
    kitchen.start(ALSA_CONFIG_PATH=str(kitchen.folder / "asound.conf"))


def heard(kitchen, name="speaker"):
    """Each time that the device was played on, oldest first, as samples."""
    files = sorted((f for f in kitchen.folder.glob(f"{name}.raw*") if f.stat().st_size), key=lambda f: f.name)
    return [array.array("h", f.read_bytes()[: f.stat().st_size // 2 * 2]) for f in files]


def strokes(samples):
    """Where it sounds: (begin, end) in samples; a pause is 30 ms without a sound."""
    found, last = [], None
    for i, value in enumerate(samples):
        if value:
            if last is None or i - last > 0.03 * RATE:
                found.append([i, i])
            last = found[-1][1] = i
    return found


def tone(samples, begin, end):
    """The candidate that has the most of the power (Goertzel)."""
    def power(hertz):
        k, a, b = 2 * math.cos(2 * math.pi * hertz / RATE), 0.0, 0.0
        for value in samples[begin : min(end, begin + 4800)]:
            a, b = value + k * a - b, a
        return a * a + b * b - k * a * b
    return max((310, 620, 700, 775, 850, 930, 1085, 1240, 1500, 1860), key=power)


def effective(samples):
    return math.sqrt(sum(v * v for v in samples) / len(samples))


def it_is_heard_until_somebody_attends():
    hook = Webhook()
    kitchen, feed = start(hook, ["speaker"], ["speaker"], 'band = ["60 degC", "70 degC"]')
    begin(kitchen)
    said = kitchen.cli("notices", "test", "speaker")
    assert said.stdout == "speaker: delivered\n", said
    test = heard(kitchen)[0]
    tones = [tone(test, *s) for s in strokes(test)]
    assert tones == [620] + [620, 775, 930] + [930, 1240] * 4, tones
    lengths = [round((end - begin) / RATE, 2) for begin, end in strokes(test)]
    assert lengths == [0.4] + [0.28] * 3 + [0.17] * 8, lengths
    low, medium, high = ([s for s, l in zip(strokes(test), lengths) if l == length] for length in (0.4, 0.28, 0.17))
    peak = max(map(abs, test))
    assert 0.1 < peak / 32767 < 0.2, peak  # a quarter of 80 %, less what dies away and does not come together
    dense = lambda some: (len(some) - 1) / ((some[-1][0] - some[0][0]) / RATE)
    assert dense(high) > 1.4 * dense(medium), (dense(high), dense(medium))
    assert len(low) < len(medium) < len(high)

    wait_for("the band", 60, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band")
    feed.celsius = 85
    wait_for("the pot to be heard", 30, lambda: len(heard(kitchen)) >= 2)
    wait_for("it to be heard again, though nothing new is told", 20, lambda: len(heard(kitchen)) >= 3)
    told = [n for n in kitchen.json("notices")["notices"] if n["channel"] == "speaker" and n["alarm"] == "above-band"]
    assert len(told) == 1 and told[0]["priority"] == "high", told
    whole = heard(kitchen)[1]
    assert len(strokes(whole)) == 8 and abs(len(whole) / RATE - 8 * 0.32) < 0.05, (strokes(whole), len(whole))
    kitchen.cli("ack")
    time.sleep(1)
    sizes = [len(samples) for samples in heard(kitchen)]
    time.sleep(6)  # longer than from one time to the next
    assert [len(samples) for samples in heard(kitchen)] == sizes, "it went on"
    feed.going = False
    assert kitchen.stop() < 5


def a_device_that_is_absent_or_hangs_holds_nothing_up():
    """In a kitchen of its own, while the other one is heard."""
    hook = Webhook()
    kitchen, feed = start(hook, ["absent", "hung"], ["hung"])
    os.mkfifo(kitchen.folder / "hung.raw")  # nobody reads it: opening it for writing never comes back
    begin(kitchen)
    told = lambda word: [b for b in hook.bodies if word in b["text"]]
    kitchen.cli("timer", "1 s", "peel")
    it_is_heard_until_somebody_attends()
    timer = told("peel")[0]
    assert datetime.fromisoformat(timer["at"]).timestamp() - datetime.fromisoformat(timer["since"]).timestamp() < 6, timer
    state = lambda name: {c["name"]: c for c in kitchen.json("notices")["channels"]}[name]
    wait_for("both to be told", 90, lambda: told("absent does not deliver") and state("hung")["state"] == "failing")
    assert 'the sound device "absent"' in state("absent")["reason"], state("absent")
    assert "did not answer within" in state("hung")["reason"], state("hung")
    feed.going = False
    assert kitchen.stop() < 5


if __name__ == "__main__":
    main([a_device_that_is_absent_or_hangs_holds_nothing_up])
