#!/usr/bin/env python3
"""The life of a box, seeded: the real daemon is started again and again (14 lives; with INGLE_LONG=1 twenty minutes of
them) under a stepped clock, on a disk that fills up, with a logbook that opens late, edited plans, pulled plugs, reloads,
SIGTERM and SIGKILL, also in the middle of a write. A model knows the truth; after each life the cook, its stage, the
bands, the alarm, its shelving, the numbers and the verdicts are the model's, or unknown: no life begins with less.

    box_test.py [seed]"""
import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time

from clock_test import SteppedClock, utc
from disk_test import SmallDisk, own_mounts
from kitchen_rig import INGLE, LONG, POT_KITCHEN, Instrument, Kitchen, Webhook, wait_for
from reload_test import PLAN

KITCHEN = POT_KITCHEN.replace("{zone}", "").replace('food = "ground-poultry"', 'food = "ground-poultry"\nplan = "poaching"').replace(
    'medium = "stock"\nband = ["60 degC", "70 degC"]', 'medium = "stock"').replace('unit = "degC"', 'unit = "degC"\ncomma = "separator"') + """
[[probe]]
name = "pan-air"
driver = "serial-line"
port = "{port}"
channel = "3"
unit = "degC"
comma = "separator"
every = "100 ms"

[[probe]]
name = "oven-air"
driver = "serial-line"
port = "{port}"
channel = "4"
unit = "degC"
comma = "separator"
every = "100 ms"

[[vessel]]
name = "pan"
kind = "pot"
medium = "pan-air"
band = ["60 degC", "70 degC"]
on-delay = "0 s"
off-delay = "0 s"

[[vessel]]
name = "oven"
kind = "oven"
medium = "oven-air"
"""
FIRST_STAGES, SECOND_STAGE = {"poach", "simmer"}, "rest"


class Model:
    """What is true. Where a command was not answered it may or may not have been done: then there are several truths."""

    def __init__(self):
        self.notes = []  # said to be on disk
        self.bands = {None}
        self.cooks = {None}
        self.stages = {0}
        self.alarm = None
        self.alarm_states = {"unacknowledged"}
        self.highest_cook = 0
        self.began = None  # of the cook, monotonic
        self.one_boot = True  # since then

    def may(self, done, options, new):
        """The truths after a command that leads to `new`."""
        return {new} if done else options | {new}


class Box:
    def __init__(self, seed):
        self.chance, self.model = random.Random(seed), Model()
        folder = tempfile.mkdtemp(prefix="ingle-test-")
        self.disk, self.hook, self.instrument, self.clock = SmallDisk(folder, "32m"), Webhook(), Instrument(folder), SteppedClock(folder)
        self.kitchen = Kitchen(KITCHEN.format(port=self.instrument.path, http=self.hook.port), folder)
        self.plan = self.kitchen.folder / "poaching.toml"
        self.plan.write_text(PLAN.format(first="poach"))
        self.clock.set(utc("2026-09-27T10:00:00"))
        self.clock.synchronised()
        self.pan, self.life, self.synchronised, self.counts = 65.0, 0, True, {}
        threading.Thread(target=self._play, daemon=True).start()

    def _play(self):
        while True:
            try:
                self.instrument.send(f"65.{self.chance.randrange(10)}0,40.{random.randrange(10)}0,{self.pan:.2f},165.00\n")
            except (OSError, TypeError):
                pass
            time.sleep(0.1)

    def start(self):
        self.kitchen.start(**self.clock.environment())

    def count(self, what):
        self.counts[what] = self.counts.get(what, 0) + 1

    def now(self):
        answer = self.kitchen.cli("now", "--json", check=False)
        return json.loads(answer.stdout) if answer.returncode == 0 else None

    def order(self, *words):
        """True: done, and said to be on disk."""
        answer = self.kitchen.cli(*words, check=False)
        return answer.returncode == 0 and "not on disk" not in answer.stdout

    # What a cook does.

    def note(self):
        text = f"life {self.life}, {self.chance.randrange(10**9)}"
        if self.order("note", text):
            self.model.notes.append(text)

    def hold(self):
        low = self.chance.randint(150, 180)
        self.model.bands = self.model.may(self.order("hold", "oven", f"{low} degC", f"{low + 10} degC"), self.model.bands, (low, low + 10))

    def begin_or_end(self):
        m = self.model
        if m.cooks == {None}:
            began = time.monotonic()
            if self.order("begin", "roll"):
                m.highest_cook += 1
                m.cooks, m.stages, m.began, m.one_boot = {m.highest_cook}, {0}, began, True
            else:
                self.unsure_of_the_cook()
        elif m.cooks and None not in m.cooks and self.chance.random() < 0.3:
            if self.order("end", "roll"):
                m.cooks = {None}
            else:
                self.unsure_of_the_cook()
        elif m.stages == {0} and self.chance.random() < 0.4:
            m.stages = m.may(self.order("next", "roll"), m.stages, 1)

    def unsure_of_the_cook(self):
        m = self.model
        m.cooks = m.cooks | {None, m.highest_cook + 1}
        m.stages = {0, 1}
        m.began = None

    def see_or_silence(self):
        m = self.model
        if m.alarm is None:
            return
        if m.alarm_states == {"shelved"}:
            done = self.order("shelve", str(m.alarm), "--off")
            m.alarm_states = {"unacknowledged", "acknowledged"} if done else {"shelved", "unacknowledged", "acknowledged"}
        elif self.chance.random() < 0.5:
            m.alarm_states = m.may(self.order("shelve", str(m.alarm), "6 h"), m.alarm_states, "shelved")
        elif "shelved" not in m.alarm_states:
            m.alarm_states = m.may(self.order("ack", str(m.alarm)), m.alarm_states, "acknowledged")

    # What happens to the box.

    def reload(self):
        self.plan.write_text(PLAN.format(first=self.chance.choice(sorted(FIRST_STAGES))))
        self.kitchen.process.send_signal(signal.SIGHUP)
        time.sleep(self.chance.uniform(0, 0.6))

    def bad_reload(self):
        good = self.kitchen.file.read_text()
        self.kitchen.file.write_text(good.replace("[kitchen]", "[kitchin]"))
        self.kitchen.process.send_signal(signal.SIGHUP)
        time.sleep(self.chance.uniform(0.1, 0.6))
        self.kitchen.file.write_text(good)

    def pull(self):
        self.instrument.pull()
        time.sleep(self.chance.uniform(0.1, 1.5))
        self.instrument.plug()

    def step_clock(self):
        self.clock.step(self.chance.choice([-7200, -61, -1.5, 2, 75, 3600]))

    def full_disk(self):
        self.disk.fill()
        self.note()
        self.hold()
        time.sleep(self.chance.uniform(0, 1))
        if self.chance.random() < 0.5:
            self.disk.free()

    def one_thing(self):
        thing = self.chance.choice([self.note, self.note, self.hold, self.begin_or_end, self.begin_or_end, self.see_or_silence, self.reload,
                                    self.bad_reload, self.pull, self.step_clock, self.full_disk])
        self.count(thing.__name__)
        thing()

    def end(self):
        how = self.chance.choice(["SIGKILL", "SIGKILL", "SIGTERM", "SIGKILL in a write", "SIGTERM in a write"])
        self.count(how)
        if "write" in how:
            text = f"life {self.life}, cut short"
            writer = subprocess.Popen([INGLE, "--state", self.kitchen.state, "note", text], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
            time.sleep(self.chance.uniform(0, 0.15))
        self.kitchen.process.send_signal(signal.SIGKILL if "KILL" in how else signal.SIGTERM)
        assert self.kitchen.process.wait(15) in (0, -9), f"life {self.life} ended with {self.kitchen.process.returncode}\n{self.kitchen.log()[-2000:]}"
        if "write" in how:
            said = writer.communicate(timeout=30)[0]
            if writer.returncode == 0 and "not on disk" not in said:
                self.model.notes.append(text)

    def between(self):
        """How long the box is off, and what it knows of the time when it is on again."""
        kind = self.chance.choice(["at once", "at once", "plan", "reboot", "reboot, behind", "reboot, ahead"])
        self.count(kind)
        if kind == "plan":
            self.plan.write_text(PLAN.format(first=self.chance.choice(sorted(FIRST_STAGES))))
        if not kind.startswith("reboot"):
            return
        self.clock.boot_again()
        self.model.one_boot = False
        self.clock.step({"reboot": 900, "reboot, behind": -1800, "reboot, ahead": 5400}[kind])
        if kind == "reboot":
            self.clock.synchronised()

    def live(self):
        self.life += 1
        late = None
        if self.chance.random() < 0.2 and self.kitchen.state.joinpath("logbook.db").exists():
            self.count("a logbook that opens late")
            late = sqlite3.connect(self.kitchen.state / "logbook.db", isolation_level=None, check_same_thread=False)
            late.execute("BEGIN IMMEDIATE")
            threading.Timer(self.chance.uniform(2.5, 12 if LONG else 5), late.close).start()
        full = (self.kitchen.state / "other-file").exists()
        self.start()
        if full:
            time.sleep(self.chance.uniform(0, 1))
            self.disk.free()
        self.check(strict=not late and not full)
        end = time.monotonic() + self.chance.uniform(0.2, 3)
        while self.kitchen.alive() and time.monotonic() < end:
            self.one_thing()
        assert self.kitchen.alive(), f"life {self.life} ended by itself with {self.kitchen.process.returncode}\n{self.kitchen.log()[-2000:]}"
        if not self.clock_known and self.chance.random() < 0.7:
            self.clock.synchronised()
        self.end()
        self.between()

    @property
    def clock_known(self):
        return os.path.exists(self.clock.sign)

    def check(self, strict):
        """The first thing that is shown must not be less than what was; the rest of it comes with the logbook."""
        if not strict:
            wait_for(f"life {self.life}: the logbook", 60, lambda: (lambda n: n and n["daemon"]["recording"] and not self.wrong(n))(self.now()))
        for _ in range(2):
            now = wait_for("an answer", 15, self.now)
            wrong = self.wrong(now)
            assert not wrong, f"life {self.life}: {wrong}\n{self.kitchen.log()[-1500:]}"
            time.sleep(0.5)
        self.learn(now)

    def wrong(self, now):
        m, dish = self.model, now["dishes"][0]
        cook = dish["cook"] if dish["begun"] else None
        if cook not in m.cooks:
            return f"the cook is {cook}, and it was one of {m.cooks}"
        if cook is not None:
            stage = 0 if dish["stage"] in FIRST_STAGES else 1 if dish["stage"] == SECOND_STAGE else None
            if stage not in m.stages:
                return f"the stage is {dish['stage']}, number {stage}, and it was one of {m.stages}"
            if stage == 0 and not next(v for v in now["vessels"] if v["name"] == "stockpot")["band"]:
                return "the stage's band is off"
            for verdict in dish["verdicts"]:  # the core has 40 degC all the time
                if verdict["rule"] in ("core-target", "lethality") and verdict["answer"] in ("met", "reached"):
                    return f"never hot, and called so: {verdict}"
            if m.began is not None and m.one_boot and dish["began_age_s"] is not None and abs(dish["began_age_s"] - (time.monotonic() - m.began)) > 5:
                return f"the cook began {dish['began_age_s']} s ago, and it was {time.monotonic() - m.began:.1f} s"
        band = next(v for v in now["vessels"] if v["name"] == "oven")["band"]
        band = band and (round(band["low_c"]), round(band["high_c"]))
        if band not in m.bands:
            return f"the oven's band is {band}, and it was one of {m.bands}"
        if m.alarm is not None:
            alarm = [a for a in now["alarms"] if a["id"] == m.alarm]
            if not alarm:
                return f"alarm {m.alarm} is gone: {now['alarms']}"
            state = "shelved" if alarm[0].get("shelved_for_s") else alarm[0]["state"]
            if state not in m.alarm_states and state != "suppressed-by-design":
                return f"alarm {m.alarm} is {state}, and it was one of {m.alarm_states}"
        return None

    def learn(self, now):
        m, dish = self.model, now["dishes"][0]
        m.cooks = {dish["cook"] if dish["begun"] else None}
        m.highest_cook = max(m.highest_cook, dish["cook"] or 0)
        if dish["begun"]:
            m.stages = {0 if dish["stage"] in FIRST_STAGES else 1}
        band = next(v for v in now["vessels"] if v["name"] == "oven")["band"]
        m.bands = {band and (round(band["low_c"]), round(band["high_c"]))}
        for alarm in now["alarms"]:
            if alarm["id"] == m.alarm and alarm["state"] != "suppressed-by-design":
                m.alarm_states = {"shelved" if alarm.get("shelved_for_s") else alarm["state"]}

    def check_file(self):
        assert self.kitchen.sql("PRAGMA integrity_check") == [("ok",)]
        kept = [text for (text,) in self.kitchen.sql("SELECT text FROM event WHERE name = 'note' AND text LIKE 'life %'")]
        lost, twice = [t for t in self.model.notes if t not in kept], sorted(t for t in set(kept) if kept.count(t) > 1)
        assert not lost and not twice, f"acknowledged, but gone: {lost}; twice: {twice}"
        numbers = [number for number, *_ in self.kitchen.sql("SELECT DISTINCT alarm, name, subject_kind, subject FROM alarm_change")]
        assert len(numbers) == len(set(numbers)), f"a number was given to two alarms: {numbers}"
        assert not list(self.kitchen.state.glob("*damaged*")) and not list(self.kitchen.state.glob("*saved*")), "a sound file was taken for a damaged one"

    def run(self, lives, seconds):
        self.start()
        wait_for("the pan in its band", 40, lambda: next(v for v in self.now()["vessels"] if v["name"] == "pan")["phase"] == "in band")
        self.pan = 74.0
        alarm = wait_for("the pan's alarm", 30, lambda: [a for a in self.now()["alarms"] if a["alarm"] == "above-band"])[0]
        self.model.alarm = alarm["id"]
        self.order("note", "the box begins")
        self.kitchen.stop()
        began = time.monotonic()
        while self.life < lives and time.monotonic() - began < seconds:
            self.live()
            if self.life % 10 == 9:
                self.check_file()
        if (self.kitchen.state / "other-file").exists():
            self.disk.free()
        self.clock.synchronised()
        self.start()
        self.check(strict=False)
        self.kitchen.stop(limit=10)
        self.check_file()
        print(f"  {self.life} lives in {time.monotonic() - began:.0f} s, {len(self.model.notes)} notes acknowledged and none lost; " +
              ", ".join(f"{what} {n}" for what, n in sorted(self.counts.items())), flush=True)


def the_life_of_a_box():
    seeds = [int(word) for word in sys.argv[1:] if word.isdigit()] or ([20261126, 20261127] if LONG else [20261126])
    for seed in seeds:
        box = Box(seed)
        try:
            box.run(100_000 if LONG else 12, 1200 if LONG else 40)
        except BaseException:  # the disk goes with this process
            shutil.copytree(box.kitchen.state, box.kitchen.folder / "left", ignore=shutil.ignore_patterns("*.sock"), ignore_dangling_symlinks=True)
            print(f"seed {seed}, life {box.life}: see {box.kitchen.folder}", flush=True)
            raise


if __name__ == "__main__":
    own_mounts()
    the_life_of_a_box()
