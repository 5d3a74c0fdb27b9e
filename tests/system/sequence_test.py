#!/usr/bin/env python3
"""A restart is no all-clear, on the real daemon: two of them hear the same instrument in quick time (libfaketime), one
undisturbed, the other killed and started again at random moments, seeded. Their webhooks are sent the same: the same
alarms of the same priorities raised and ended, none twice, none too few, but for the delays that are stated here.

    sequence_test.py [seed ...]"""
import math
import random
import signal
import sys
import threading
import time

from handling_test import HEAD, LIBRARY, PROBE, along
from kitchen_rig import LONG, Instrument, Kitchen, Webhook

SPEED, LENGTH, KILLS = 24, 1200, 5  # s in a second; s; of the one that is disturbed
# After a restart what is judged by its past alone gathers it anew; what was raised is over when it was found over for a
# while (the README: "after a restart"). At both ends the machine may be busy for so long.
RAISED_LATER, CLEARED_LATER, BUSY = {"leaving-band": 900, "heat-lost": 900}, 720, 30
RAISED_USUALLY = 120
# A daemon that did not see how it was before the fall cannot take it for something cold that went in, and waits less.
RAISED_EARLIER = {"below-band": 180}
# Of a fire that is out whichever comes first is told: the one suppresses the other.
SAME_FACT = {"below-band": "heat-lost", "heat-lost": "below-band"}
PRIORITIES = ["low", "medium", "high"]
PLAN = 'name = "poach"\n[[stage]]\nname = "poach"\nband = ["80 degC", "90 degC"]\nuntil = { time = "5 min" }\n[[stage]]\nname = "rest"\nuntil = { time = "1 h" }\n'
DISH = '[[dish]]\nname = "goose-roll"\nvessel = "braiser"\nplan = "poach"\n'


def fire_out(second):
    return 105.0 if second < 540 else 25 + 80 * math.exp(-(second - 540) / 600)


# The kind of each vessel, its band, and what its probe reads (nothing: the wire is cut).
VESSELS = {
    "kettle": ("pot", 'band = ["60 degC", "70 degC"]\non-delay = "5 s"\noff-delay = "5 s"',
               along((0, 65), (150, 65), (180, 73), (330, 73), (360, 65), (780, 65), (800, 53))),
    "smoker": ("smoker", 'band = ["95 degC", "115 degC"]', fire_out),
    "fridge": ("fridge", 'band = ["0 degC", "5 degC"]\non-delay = "30 s"', along((0, 3), (240, 3), (280, 9))),
    "braiser": ("pot", "", along((0, 85))),
    "oven": ("oven", 'band = ["180 degC", "200 degC"]', lambda second: None if 420 < second < 500 else 190.0),
}
# What the story itself asks for: the alarm, its subject, the second from which on it is true, and how long its watch may
# take (a pot that falls at once may have been filled, a smoker opened).
TRUE = [("above-band", "kettle", 169, 71), ("below-band", "kettle", 785, 240), ("above-band", "fridge", 253, 117), ("below-band", "smoker", 550, 240),
        ("stage-over", "goose-roll", 290, 60), ("probe-silent", "oven-tip", 420, 120)]


class Timed(Webhook):
    """A webhook that knows the second of the story at which each notice came."""

    def __init__(self, story):
        self.times = []
        super().__init__()
        outer, plain = self, self.server.RequestHandlerClass.do_POST

        def do_POST(handler):
            outer.times.append(story.at())
            plain(handler)
        self.server.RequestHandlerClass.do_POST = do_POST


class Side:
    """One daemon with its own instrument and its own webhook."""

    def __init__(self, story):
        self.story, self.hook, self.kitchen = story, Timed(story), Kitchen("")
        self.instrument = Instrument(self.kitchen.folder)
        text = HEAD.format(http=self.hook.port)
        for channel, (name, (kind, more, _)) in enumerate(VESSELS.items(), 1):
            text += PROBE.format(name=name, kind=kind, more=more, port=self.instrument.path, channel=channel)
        self.kitchen.file.write_text(text + DISH)
        (self.kitchen.folder / "poach.toml").write_text(PLAN)

    def start(self):
        ahead = (time.monotonic() - self.story.first) * (SPEED - 1)  # a daemon that begins later finds the same clock
        self.kitchen.start(LD_PRELOAD=LIBRARY[0], FAKETIME=f"+{ahead:.3f} x{SPEED}", FAKETIME_NO_CACHE="1")

    def told(self):
        """(second, kind, alarm, subject, priority), without reminders; what got worse is one message of its last priority."""
        told = []
        for at, body in zip(self.hook.times, self.hook.bodies):
            message = (at, body["kind"], body["alarm"], body["subject"], body["priority"])
            open_ = next((i for i in reversed(range(len(told))) if told[i][2:4] == message[2:4]), None)
            if message[1] == "raised" and open_ is not None and told[open_][1] == "raised" and PRIORITIES.index(message[4]) > PRIORITIES.index(told[open_][4]):
                told[open_] = (*told[open_][:4], message[4])
            elif message[1] != "reminder":
                told.append(message)
        return told


class Story:
    def __init__(self, seed):
        assert LIBRARY, "libfaketime is not here: install Debian's package faketime"
        self.chance, self.first = random.Random(seed), time.monotonic()
        self.began, self.going = self.first, True
        self.steady, self.shaken = Side(self), Side(self)
        self.kills = sorted(self.chance.uniform(60, LENGTH - 120) for _ in range(KILLS))
        self.off = [self.chance.choice([0, 0, 5, 20, 40]) for _ in self.kills]

    def at(self):
        return (time.monotonic() - self.began) * SPEED

    def feed(self):
        noise, number = random.Random(7), 0
        while self.going:
            values = [value(self.at()) for _, _, value in VESSELS.values()]
            line = " ".join(f"T{i}={c + noise.gauss(0, 0.05):.1f}" for i, c in enumerate(values, 1) if c is not None) + "\r\n"
            for side in (self.steady, self.shaken):
                side.instrument.send(line)
            number += 1
            time.sleep(max(0.0, self.began + number / 10 - time.monotonic()))

    def wait_until(self, second):
        time.sleep(max(0.0, (second - self.at()) / SPEED))

    def play(self):
        for side in (self.steady, self.shaken):
            side.start()
        self.began = time.monotonic()
        threading.Thread(target=self.feed, daemon=True).start()
        for side in (self.steady, self.shaken):
            side.kitchen.cli("begin", "goose-roll")
        for moment, off in zip(self.kills, self.off):
            self.wait_until(moment)
            self.shaken.kitchen.stop(signal.SIGKILL)
            self.wait_until(max(moment, self.at()) + off)
            self.shaken.start()
        self.wait_until(LENGTH)
        self.going = False
        for side in (self.steady, self.shaken):
            side.kitchen.stop()


def match(message, others):
    """The message of the undisturbed daemon that this one stands for, and how much later it came."""
    at, kind, alarm, subject, priority = message
    later = CLEARED_LATER if kind == "cleared" else RAISED_LATER.get(alarm, RAISED_USUALLY)
    wanted = [message[1:], (kind, SAME_FACT.get(alarm, alarm), subject, priority)]
    for other in sorted(others, key=lambda other: other[1:] != message[1:]):
        earlier = RAISED_EARLIER.get(alarm, 60) if kind == "raised" else 60
        if tuple(other[1:]) in map(tuple, wanted) and -earlier <= at - other[0] <= later + BUSY:
            others.remove(other)
            return at - other[0]
    return None


def what_is_told_is_told_over_kills():
    for seed in [int(word) for word in sys.argv[1:] if word.isdigit()] or range(11, 21 if LONG else 12):
        story = Story(seed)
        story.play()
        steady, shaken = story.steady.told(), story.shaken.told()
        show = lambda told: "\n  ".join(f"{m[0]:6.0f} s  " + " ".join(m[1:]) for m in told)
        where = (f"seed {seed}, killed at {', '.join(f'{k:.0f} s for {o} s' for k, o in zip(story.kills, story.off))}\nundisturbed:\n  {show(steady)}\n"
                 f"killed:\n  {show(shaken)}\n{story.shaken.kitchen.folder}")
        for alarm, subject, second, within in TRUE:
            names = {alarm, SAME_FACT.get(alarm, alarm)}
            assert any(m[1] == "raised" and m[2] in names and m[3] == subject and second <= m[0] <= second + within + BUSY for m in steady), f"the undisturbed one did not tell {alarm} of {subject}\n{where}"
        left, worst = list(steady), {"raised": 0.0, "cleared": 0.0}
        for message in shaken:
            later = match(message, left)
            assert later is not None, f"told once too often, or too late: {message}\n{where}"
            worst[message[1]] = max(worst[message[1]], later)
        for message in left:  # what came at the end has no time left to be late, nor has what was over before it was due
            later = CLEARED_LATER if message[1] == "cleared" else RAISED_LATER.get(message[2], RAISED_USUALLY)
            brief = any(a in left and b in left and b[0] < a[0] + RAISED_LATER.get(a[2], RAISED_USUALLY) + BUSY and message in (a, b)
                        for a, b in zip(steady, steady[1:]) if a[2:] == b[2:] and (a[1], b[1]) == ("raised", "cleared"))
            assert brief or message[0] + later + BUSY > LENGTH, f"never told: {message}\n{where}"
        print(f"  seed {seed}: {len(steady)} messages undisturbed, {len(shaken)} over {KILLS} kills; at most {worst['raised']:.0f} s later raised, "
              f"{worst['cleared']:.0f} s later ended; {len(left)} not yet due", flush=True)


if __name__ == "__main__":
    what_is_told_is_told_over_kills()
