#!/usr/bin/env python3
"""The daemon under a clock that is really stepped (libfaketime; only wall time is moved): readings keep their spacing
and their order, each step is recorded, no alarm is invented, and what is printed says what it must."""
import glob
import json
import os
import random
import re
import tempfile
import threading
import time
from datetime import datetime, timezone

from kitchen_rig import BUILD, LONG, POT_KITCHEN, Instrument, Kitchen, Webhook, main, wait_for

LIBRARY = sorted(glob.glob("/usr/lib/*/faketime/libfaketimeMT.so.1"))


def utc(text):
    return datetime.fromisoformat(text).replace(tzinfo=timezone.utc).timestamp()


class SteppedClock:
    """The wall time of the daemon, and of it alone, on a board without a battery clock (board.cpp)."""

    def __init__(self, folder):
        assert LIBRARY, "libfaketime is not here: install Debian's package faketime"
        self.file = os.path.join(folder, "clock")
        self.boot, self.sign = os.path.join(folder, "boot_id"), os.path.join(folder, "synchronised")
        self.offset, self.boots = 0.0, 0
        self.boot_again()

    def boot_again(self):
        """What a time service said of the clock is gone with the boot."""
        self.boots += 1
        with open(self.boot, "w") as out:
            out.write(f"boot-{self.boots}\n")
        if os.path.exists(self.sign):
            os.unlink(self.sign)

    def synchronised(self):
        open(self.sign, "w").close()

    def set(self, wall):
        self.offset = wall - time.time()
        with open(self.file + ".new", "w") as out:
            out.write(f"{self.offset:+.3f}\n")
        os.rename(self.file + ".new", self.file)

    def step(self, seconds):
        self.set(self.now() + seconds)

    def now(self):
        return time.time() + self.offset

    def environment(self):
        return {"LD_PRELOAD": f"{BUILD}/tests/system/libboard.so {LIBRARY[0]}", "BOARD_BOOT_ID": self.boot, "BOARD_SYNCHRONISED": self.sign, "FAKETIME_TIMESTAMP_FILE": self.file, "FAKETIME_NO_CACHE": "1",
                "FAKETIME_DONT_FAKE_MONOTONIC": "1"}


class ClockKitchen:
    def __init__(self, start, zone="", secure=False):
        folder = tempfile.mkdtemp(prefix="ingle-test-")
        self.hook, self.celsius = Webhook(folder if secure else None), 65
        self.instrument, self.clock, self.playing = Instrument(folder), SteppedClock(folder), True
        text = POT_KITCHEN.format(port=self.instrument.path, http=self.hook.port, zone=f'zone = "{zone}"' if zone else "")
        if secure:
            text = text.replace("http://127.0.0.1", "https://localhost") + f'certificates = "{self.hook.certificates}"\n'
        self.kitchen = Kitchen(text, folder)
        self.zone = {"TZ": zone} if zone else {}
        self.clock.set(start)
        threading.Thread(target=self._play, daemon=True).start()

    def _play(self):
        chance = random.Random(4)
        while self.playing:
            self.instrument.send(f"{self.celsius + chance.uniform(-0.3, 0.3):.2f},40.00\n")
            time.sleep(0.1)

    def start(self):
        self.kitchen.start(**self.clock.environment(), **self.zone)

    def live(self, seconds):
        time.sleep(seconds)

    def stop(self):
        self.kitchen.stop()
        self.playing = False

    def moved(self):
        return [json.loads(numbers)["moved_s"] for (numbers,) in
                self.kitchen.sql("SELECT numbers FROM event WHERE name = 'clock-set' ORDER BY id")]

    def check_cadence(self):
        """No hole, nothing twice, wall times in order and as far apart as the readings were."""
        rows = self.kitchen.sql("SELECT boot_ms, strftime('%s', utc) * 1000 + CAST(substr(utc, 21, 3) AS INTEGER), celsius"
                                " FROM reading WHERE probe = 'stock' ORDER BY boot_ms")
        assert len(rows) > 30, f"only {len(rows)} readings"
        # Lines that a busy machine hands over in one read have one time: they may stand there with two values.
        assert len(set(rows)) == len(rows), "a reading stands there twice"
        for (a, wall_a, _), (b, wall_b, _) in zip(rows, rows[1:]):
            assert 0 <= b - a < 1500, f"{b - a} ms between two readings"
            assert wall_b - wall_a == b - a, f"{b - a} ms became {wall_b - wall_a} ms of wall time"
        return rows

    def alarms(self):
        return {name for (name,) in self.kitchen.sql("SELECT DISTINCT name FROM alarm")}


def weeks_ahead_an_hour_back_and_a_second_twice():  # field cases C1, C3, C7
    # "starts at an old date, jumps weeks ahead when the network answers"
    kitchen = ClockKitchen(utc("2026-06-15T19:45:53"))
    kitchen.start()
    kitchen.kitchen.cli("begin", "roll")
    began = time.monotonic()
    kitchen.live(4)
    kitchen.clock.set(utc("2026-08-23T07:01:47"))
    kitchen.live(4)
    kitchen.clock.step(-3600)
    kitchen.live(4)
    for _ in range(3):  # a second that comes twice, three times
        kitchen.clock.step(-1.2)
        kitchen.live(1.6)
    end = kitchen.clock.now()
    now = kitchen.kitchen.json("now")
    age = now["dishes"][0]["began_age_s"]
    assert abs(age - (time.monotonic() - began)) < 3, f"the cook is {age} s old"
    assert now["vessels"][0]["age_s"] < 2, now["vessels"][0]
    kitchen.stop()
    rows = kitchen.check_cadence()
    assert abs(rows[-1][1] / 1000 - end) < 3, f"the newest reading is dated {rows[-1][1] / 1000 - end:.1f} s off"
    # The rows from before the time was known are dated by it, too.
    spent = rows[-1][0] - rows[0][0]
    assert rows[-1][1] - rows[0][1] == spent and rows[0][1] > utc("2026-08-23T00:00:00") * 1000
    steps = [s for s in kitchen.moved() if abs(s) > 0.5]
    wanted = [utc("2026-08-23T07:01:47") - utc("2026-06-15T19:45:53") - 4, -3600]
    assert len(steps) >= 2 and abs(steps[0] - wanted[0]) < 4 and abs(steps[1] - wanted[1]) < 1, f"steps told: {steps}"
    assert kitchen.alarms() <= {"clock-uncertain"}, f"alarms out of nothing: {kitchen.alarms()}"
    told = {body["alarm"] for body in kitchen.hook.bodies}
    assert told <= {"clock-uncertain"}, f"notices out of nothing: {told}"


def the_hour_that_is_missing():  # field cases C5, C6
    kitchen = ClockKitchen(utc("2026-03-29T00:59:57"), "Europe/Berlin")
    kitchen.start()
    kitchen.kitchen.cli("begin", "roll")
    kitchen.live(6)
    kitchen.stop()
    rows = kitchen.check_cadence()
    assert rows[0][1] < utc("2026-03-29T01:00:00") * 1000 < rows[-1][1]
    shown = local(kitchen, "Europe/Berlin", "export", "stock", "2026-03-29T00:59:00Z to 2026-03-29T01:01:00Z").stdout
    assert "T01:59:59" in shown and "T03:00:00" in shown and "T02:" not in shown, shown[:400]
    asked = local(kitchen, "Europe/Berlin", "history", "stock", "2026-03-29 02:30", check=False)
    assert asked.returncode == 2 and "there was no 02:30 on 2026-03-29" in asked.stderr, asked
    # The zone is changed afterwards, in the kitchen file: the same instants, shown with the other offset and never mixed.
    kitchen.kitchen.file.write_text(kitchen.kitchen.file.read_text().replace("Europe/Berlin", "Europe/Lisbon"))
    kitchen.start()
    kitchen.live(1)
    kitchen.stop()
    shown = local(kitchen, "Asia/Tokyo", "export", "stock", "2026-03-29T00:59:00Z to 2026-03-29T01:01:00Z").stdout
    assert "T00:59:59" in shown and "T02:00:00" in shown, shown[:400]
    cook = kitchen.kitchen.sql("SELECT zone FROM cook")
    assert cook == [("Europe/Berlin",)], cook
    assert kitchen.alarms() <= {"clock-uncertain"}, kitchen.alarms()


def the_hour_that_comes_twice():  # field cases C3, C4
    kitchen = ClockKitchen(utc("2026-10-25T00:59:57"), "Europe/Berlin")
    kitchen.start()
    kitchen.live(6)
    kitchen.stop()
    kitchen.check_cadence()
    # 02:59:59 in summer time is followed by 02:00:00 in winter time: both are there, each with its offset.
    shown = local(kitchen, "Europe/Berlin", "export", "stock", "2026-10-25T00:59:00Z to 2026-10-25T01:01:00Z").stdout
    assert "T02:59:59" in shown and "+02:00" in shown and "T02:00:00" in shown and "+01:00" in shown, shown[:400]
    text = local(kitchen, "Europe/Berlin", "history", "stock", "2026-10-25T00:59:00Z to 2026-10-25T01:01:00Z", "--csv").stdout
    assert len(set(text.splitlines())) == len(text.splitlines()), "a time stands there twice"
    assert kitchen.alarms() <= {"clock-uncertain"}, kitchen.alarms()


def local(kitchen, zone, *words, check=True):
    before = os.environ.get("TZ")
    os.environ["TZ"] = zone
    try:
        return kitchen.kitchen.cli(*words, check=check)
    finally:
        os.environ.pop("TZ") if before is None else os.environ.update(TZ=before)


def a_restart_dates_before_the_last_row():  # field case C2
    # As far as one boot of this machine goes: within it the boot's own clock keeps the order. (Another boot's rows:
    # tests/unit/daemon/logbook/clock_test.cpp.)
    kitchen = ClockKitchen(utc("2026-10-03T19:08:40"))
    kitchen.start()
    kitchen.live(3)
    kitchen.kitchen.stop()
    kitchen.clock.set(utc("2026-10-03T19:02:00"))
    time.sleep(2)
    kitchen.start()
    kitchen.live(4)
    newest = kitchen.kitchen.json("now")["probes"][0]["age_s"]
    assert newest < 2, newest
    kitchen.stop()
    rows = kitchen.kitchen.sql("SELECT boot_ms, utc FROM reading WHERE probe = 'stock' ORDER BY boot_ms")
    walls = [wall for _, wall in rows]
    assert walls == sorted(walls), "rows overlap"
    gaps = [b - a for (a, _), (b, _) in zip(rows, rows[1:]) if b - a > 1500]
    assert len(gaps) == 1, f"one gap is wanted, and there are {gaps}"


def no_secure_connection_until_the_clock_is_right():  # field case C8
    # "boot in 2019, ... above limit, webhook https; time sync after 6 min"
    kitchen = ClockKitchen(utc("2019-01-01T00:00:00"), secure=True)
    kitchen.start()
    wait_for("the pot in its band", 30, lambda: kitchen.kitchen.json("now")["vessels"][0]["phase"] == "in band")
    kitchen.celsius = 74

    def channel():
        return kitchen.kitchen.json("now")["daemon"]["channels"][0]

    wait_for("a try that fails", 20, lambda: "its clock is not set yet" in (channel()["trouble"] or ""))
    kitchen.live(360 if LONG else 20)
    assert not kitchen.hook.bodies, "the certificate was not looked at"
    assert channel()["pending"] >= 1, channel()
    kitchen.clock.set(time.time())
    wait_for("the notice that waited", 5, lambda: [b for b in kitchen.hook.bodies if b["alarm"] == "above-band"])
    wait_for("the channel well again", 5, lambda: not channel()["trouble"] and channel()["pending"] == 0)
    kitchen.stop()
    raised = kitchen.kitchen.sql("SELECT count(*) FROM alarm WHERE name = 'above-band' AND change = 'raised'")
    assert raised == [(1,)], raised


def a_power_cut_on_a_board_without_a_battery_clock():
    """Off for 42 min with a saved time that is 30 min behind, off for 5 min with one that is 20 min ahead, then two cuts
    with no time between them. Until something vouches for the clock an outage has no length, and then the true one."""
    kitchen = ClockKitchen(utc("2026-11-26T10:00:00"))
    kitchen.clock.synchronised()
    kitchen.start()
    kitchen.kitchen.cli("begin", "roll")
    began = kitchen.clock.now()
    kitchen.live(3)

    def cut(off_min, wrong_min):
        kitchen.kitchen.process.kill()
        kitchen.kitchen.process.wait()
        kitchen.clock.boot_again()
        kitchen.clock.step(60 * (off_min + wrong_min))
        kitchen.start()
        kitchen.live(2)
        told = gaps()
        assert told[-1] is None, f"an outage that nobody can know was told as {told[-1]} s"
        assert verdict("danger-zone") == "unknown", verdicts()

    def learn(wrong_min):
        kitchen.clock.step(-60 * wrong_min)
        kitchen.clock.synchronised()

    def gaps():
        rows = kitchen.kitchen.sql("SELECT numbers FROM event WHERE name = 'gap' ORDER BY id")
        return [json.loads(numbers)["length_s"] if numbers else None for (numbers,) in rows]

    def verdicts():
        return kitchen.kitchen.json("now")["dishes"][0]["verdicts"]

    def verdict(rule):
        return next(v["answer"] for v in verdicts() if v["rule"] == rule)

    for off_min, wrong_min in (42, -30), (5, 20):
        cut(off_min, wrong_min)
        kitchen.live(600 if LONG else 3)
        learn(wrong_min)
        wait_for("the outage's length", 10, lambda: gaps()[-1] is not None)
        assert abs(gaps()[-1] - 60 * off_min) < 15, gaps()
        age = kitchen.kitchen.json("now")["dishes"][0]["began_age_s"]
        assert abs(age - (kitchen.clock.now() - began)) < 5, f"the cook is {age} s old"
        if LONG:  # what the core was is known of readings of half a minute and more
            assert verdict("danger-zone") != "unknown", verdicts()
    before = len(gaps())
    cut(10, -8)
    cut(10, -10)
    learn(-18)
    kitchen.live(3)
    wait_for("the length of both outages together", 10, lambda: gaps()[-1] is not None)
    assert gaps()[before:-1] == [None, None] and abs(gaps()[-1] - 60 * 20) < 15, gaps()
    age = kitchen.kitchen.json("now")["dishes"][0]["began_age_s"]
    assert abs(age - (kitchen.clock.now() - began)) < 10, f"the cook is {age} s old of {kitchen.clock.now() - began}, {gaps()}"
    assert verdict("danger-zone") == "unknown", verdicts()
    assert kitchen.kitchen.json("now")["dishes"][0]["cook"] == 1
    kitchen.stop()


def a_ring_that_nobody_could_know_is_taken_back():
    """A timer over a power cut: while nothing vouches for the clock it may be over; then it is known not to be."""
    kitchen = ClockKitchen(utc("2026-11-26T10:00:00"))
    kitchen.clock.synchronised()
    kitchen.start()
    kitchen.kitchen.cli("timer", "60 min", "turn the tart")
    assert "vouches" not in kitchen.kitchen.cli("doctor", check=False).stdout
    kitchen.live(2)
    kitchen.kitchen.process.kill()
    kitchen.kitchen.process.wait()
    kitchen.clock.boot_again()
    kitchen.clock.step(60 * (10 - 30))
    kitchen.start()

    def said(kind):
        return [body for body in kitchen.hook.bodies if body["alarm"] == "timer-over" and body["kind"] == kind]

    wait_for("the ring", 20, lambda: said("raised"))
    assert said("raised")[0]["text"].startswith("perhaps 1 h are over: turn the tart. The program was off for an unknown"), said("raised")
    assert "no time service and no clock battery vouches for it" in kitchen.kitchen.cli("doctor", check=False).stdout
    assert kitchen.kitchen.json("now")["daemon"]["clock_proven"] is False
    assert kitchen.kitchen.json("now")["clock"] == kitchen.kitchen.get("/healthz")["clock"] == "unverified"
    kitchen.clock.step(60 * 30)
    kitchen.clock.synchronised()
    wait_for("the word that it is not over", 60, lambda: said("cleared"))
    assert re.match("Not over yet: turn the tart, (49|50) min left of 1 h[.]", said("cleared")[0]["text"]), said("cleared")
    timer = kitchen.kitchen.json("now")["timers"][0]
    assert not timer["over"] and 48 * 60 < timer["left_s"] < 50 * 60, timer
    assert kitchen.kitchen.json("now")["daemon"]["clock_proven"] is True
    assert kitchen.kitchen.json("now")["clock"] == kitchen.kitchen.get("/healthz")["clock"] == "known"
    told = [text for (text,) in kitchen.kitchen.sql("SELECT text FROM event WHERE name = 'clock-set' ORDER BY id")]
    assert "nothing vouches for it yet" in told[-2] and told[-1].startswith("the time of day is known"), told
    kitchen.stop()


if __name__ == "__main__":
    main([weeks_ahead_an_hour_back_and_a_second_twice, the_hour_that_is_missing, the_hour_that_comes_twice,
          a_restart_dates_before_the_last_row, no_secure_connection_until_the_clock_is_right,
          a_power_cut_on_a_board_without_a_battery_clock, a_ring_that_nobody_could_know_is_taken_back])
