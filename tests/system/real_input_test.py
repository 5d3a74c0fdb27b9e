#!/usr/bin/env python3
"""From a real wire to a real notice: measured series (tests/reference/series, sources in the files) are played
through a pseudo-terminal as a serial instrument would, to the real daemon, with a real mail server and a real web
server at the other end. Time is compressed: one minute of the pot in two seconds. Of the turkey only what no core
would contradict can be played: its last 25 minutes, one in 2.5 s, which is at most 9 K a minute (what moves faster
than a core can is taken for a probe that was moved, and at the begin it has to move slowly for a minute). At that
pace only thin food could warm: it is said to be."""
import random
import sys
import time
from pathlib import Path

from kitchen_rig import Instrument, Kitchen, MailServer, Webhook, main, wait_for

SERIES = Path(__file__).resolve().parent.parent / "reference/series"
HERTZ = 5

KITCHEN = """
[kitchen]
name = "village hall"
units = "degF"
altitude = "0 m"

[[probe]]
name = "pot"
driver = "serial-line"
port = "{port}"
channel = "T1"
unit = "degF"
every = "200 ms"

[[probe]]
name = "breast"
driver = "serial-line"
port = "{port}"
channel = "T2"
unit = "degF"
every = "200 ms"

[[vessel]]
name = "kettle"
kind = "pot"
medium = "pot"
band = ["170 degF", "190 degF"]
on-delay = "1 s"

[[vessel]]
name = "oven"
kind = "oven"

[[dish]]
name = "bird"
vessel = "oven"
core = "breast"
food = "whole-poultry"
thickness = "3 cm"
plan = "roast"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
least = "low"

[[channel]]
name = "post"
kind = "email"
server = "smtp://127.0.0.1:{smtp}"
from = "ingle@village.example"
to = ["cook@village.example"]
least = "low"
"""

PLAN = """
name = "roast"
[[stage]]
name = "roast"
until = { core = "160 degF" }
"""


def rows(name):
    for line in (SERIES / name).read_text().splitlines():
        if line and not line.startswith("#") and line[0].isdigit():
            yield line.split(",")


def interpolated(points, seconds_per_minute):
    """Values at HERTZ between the measured points, in the instrument's own 0.1 degF."""
    out = []
    for (m0, v0), (m1, v1) in zip(points, points[1:]):
        steps = max(1, round((m1 - m0) * seconds_per_minute * HERTZ))
        out += [round(v0 + (v1 - v0) * i / steps, 1) for i in range(steps)]
    return out + [points[-1][1]]


def turkey():
    points = [(float(m), float(f)) for m, f, year in rows("turkey_oven_2015.csv") if year == "2015"]
    return interpolated([p for p in points if p[0] >= 83], 2.5)


def pot():
    points = [(float(m), float(f)) for m, cups, f, _, trial in rows("pot_boil_times.csv") if cups == "4" and f]
    return interpolated(sorted(dict(points).items()), 2)


def celsius(fahrenheit):
    return (fahrenheit - 32) * 5 / 9


def a_measured_series_becomes_rows_alarms_and_notices():
    mails, hook = MailServer(), Webhook()
    import tempfile
    folder = tempfile.mkdtemp(prefix="ingle-test-")
    instrument = Instrument(folder)
    (Path(folder) / "roast.toml").write_text(PLAN)  # what this cook was after, below the class's own 165 degF
    kitchen = Kitchen(KITCHEN.format(port=instrument.path, http=hook.port, smtp=mails.port), folder)
    noise = random.Random(7)
    kitchen.start()
    kitchen.cli("begin", "bird")

    pots, birds = pot(), turkey()
    length = len(birds) + 45 * HERTZ  # hold the last value: a reading counts when half a minute bears it out
    sent = {"pot": [], "breast": []}

    def say(t1, t2, number):
        line = f"T1={t1:.1f} T2={t2:.1f}\r\n".encode()
        if number % 61 == 60:  # noise on the line, and a sensor that says no
            instrument.send(noise.choice([b"\x00\xff\x80\x80\r\n", b"T1=ERR T2=ERR\r\n", b"T1=59000\r\n", b"T1=nan\r\n"]))
        if number % 7 == 3:    # the line comes in pieces
            cut = noise.randrange(1, len(line))
            instrument.send(line[:cut])
            time.sleep(0.03)
            instrument.send(line[cut:])
        else:
            instrument.send(line)
        sent["pot"].append(celsius(t1))
        sent["breast"].append(celsius(t2))

    for warm in range(4 * HERTZ):  # the daemon opens the port, drops a tail, lets the instrument settle
        say(pots[0], birds[0], warm)
        time.sleep(1 / HERTZ)
    began = time.monotonic()
    for number in range(length):
        say(pots[min(number, len(pots) - 1)], birds[min(number, len(birds) - 1)], number)
        time.sleep(max(0.0, began + (number + 1) / HERTZ - time.monotonic()))

    alarms = lambda: kitchen.sql("SELECT name, subject, change FROM alarm ORDER BY utc")
    raised = lambda name, subject: [row for row in alarms() if row == (name, subject, "raised")]
    wait_for("core-target of the bird", 20, lambda: raised("core-target", "bird"))
    wait_for("the pot above its band", 5, lambda: raised("above-band", "kettle"))

    # What the wire carried is what the logbook has, value for value, from the moment the port was open.
    kitchen.cli("note", "played to the end")
    time.sleep(11)  # one commit interval
    for name in ("pot", "breast"):
        kept = [c for (c,) in kitchen.sql("SELECT celsius FROM reading WHERE probe = ? AND quality != 'rejected' ORDER BY boot_ms", name)]
        assert len(kept) >= len(sent[name]) - 4 * HERTZ, f"{name}: {len(kept)} of {len(sent[name])} readings kept"
        for back in range(1, len(kept) + 1):
            assert abs(kept[-back] - sent[name][-back]) < 0.002, \
                f"{name}: {back} from the end: kept {kept[-back]}, sent {sent[name][-back]}"

    # Each alarm that was raised was told once, by each channel: the core's together with the end of its stage.
    told = [(body["alarm"], body["subject"]) for body in hook.bodies if body["kind"] == "raised"]
    reached = [body["text"] for body in hook.bodies if "bird: the core has reached 160.0 degF" in body["text"]]
    assert len(reached) == 1 and "not yet 165.0 degF" in reached[0], hook.bodies
    assert len(hook.keys) == len(set(hook.keys)), "a message came twice"
    assert all(body["id"] == key for body, key in zip(hook.bodies, hook.keys))
    of_the_bird = [m for m in mails.messages if "bird: the core has reached 160.0 degF" in m]
    assert len(of_the_bird) == 1, mails.messages
    for name, subject, text in kitchen.sql("SELECT name, subject, text FROM alarm WHERE change = 'raised'"):
        assert (name, subject) in told or any(text in body["text"] for body in hook.bodies), (name, told)

    # Pulled, and put back.
    instrument.pull()
    wait_for("probe-silent after the plug was pulled", 60, lambda: raised("probe-silent", "pot"))
    instrument.plug()
    cleared = lambda: ("probe-silent", "pot", "cleared") in alarms()
    end = time.monotonic() + 60
    number = 0
    while not cleared():
        assert time.monotonic() < end, "probe-silent did not clear after the plug was back"
        say(pots[-1], birds[-1], number)
        number += 1
        time.sleep(1 / HERTZ)
    assert kitchen.stop() < 5


main([a_measured_series_becomes_rows_alarms_and_notices])
