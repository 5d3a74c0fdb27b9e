#!/usr/bin/env python3
"""The life of a box, seeded: the real daemon is started again and again (14 lives; with INGLE_LONG=1 twenty minutes of
them) under a stepped clock, on a disk that fills up, with a logbook that opens late, edited plans and kitchen files, another
logbook, pulled plugs, reloads, SIGTERM and SIGKILL, also in the middle of a write. A model knows the truth (box_model.py);
after each life the cook, its stage, the bands by their values, timers, reminders, what is out of service, the serving time,
the alarm, its shelving, the numbers, the notices and the verdicts are the model's, or unknown: no life begins with less.

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
from box_model import FIRST_STAGES, Files, Model
from kitchen_rig import INGLE, LONG, Instrument, Kitchen, Webhook, wait_for


class Box:
    def __init__(self, seed):
        self.chance, self.model = random.Random(seed), Model()
        folder = tempfile.mkdtemp(prefix="ingle-test-")
        self.disk, self.hook, self.instrument, self.clock = SmallDisk(folder, "32m"), Webhook(), Instrument(folder), SteppedClock(folder)
        self.files = Files(self.instrument.path, self.hook.port)
        self.kitchen = Kitchen(self.files.kitchen(), folder)
        self.plan = self.kitchen.folder / "poaching.toml"
        self.plan.write_text(self.files.plan())
        self.plan_edited, self.books = False, [self.kitchen.state / "logbook.db"]
        self.clock.set(utc("2026-09-27T10:00:00"))
        self.clock.synchronised()
        self.pan, self.life, self.synchronised, self.counts = 65.0, 0, True, {}
        threading.Thread(target=self._play, daemon=True).start()

    def _play(self):
        while True:
            try:
                self.instrument.send(f"65.{self.chance.randrange(10)}0,40.{random.randrange(10)}0,{self.pan:.2f},165.00,20.00,20.00,20.00\n")
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
        done = self.order("note", text)
        if done:
            self.model.notes.append(text)
        return done

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

    def timer(self):
        self.set_or_stop(self.model.timers, "timer", lambda text: ("timer", "20 h", text))

    def remind(self):
        self.set_or_stop(self.model.reminders, "reminder", lambda text: ("remind", text, "--every", "20 h"))

    def set_or_stop(self, things, what, words):
        there = things.surely()
        if len(there) > 2 and self.chance.random() < 0.5:
            text = self.chance.choice(there)
            number = next((one[what] for one in (self.now() or {what + "s": []})[what + "s"] if one["text"] == text), None)
            if number is not None:
                things.stopped(text, self.order(words("")[0], "stop", str(number)))
        elif len(there) < 8:
            text, began = f"{what} of life {self.life}, {self.chance.randrange(10**9)}", time.monotonic()
            things.set(text, self.order(*words(text)), began)

    def silence(self):
        m = self.model
        if len(m.out) == 1:
            out = True not in m.out
            m.out = m.may(self.order("out-of-service", "oven", *([] if out else ["--off"])), m.out, out)

    # What happens to the box.

    def edit_plan(self):
        """One thing in a life, so that it is clear what is meant."""
        if self.plan_edited:
            return
        self.plan_edited = True
        if self.chance.random() < 0.5:
            self.files.first = self.chance.choice(FIRST_STAGES)
        else:
            self.files.stage_low = self.chance.randint(58, 62)
        self.plan.write_text(self.files.plan())

    def write_file(self):
        new = self.kitchen.file.with_suffix(".new")
        new.write_text(self.files.kitchen())
        new.rename(self.kitchen.file)

    def change_file(self):
        f, what = self.files, self.chance.choice(["tub", "racks", "serve"])
        if what == "tub":
            f.tub_low = self.chance.randint(40, 60)
        elif what == "racks":
            f.racks = self.chance.randint(0, 2)
        else:
            f.serve_day = self.chance.choice([None, *range(10, 25)])
        self.write_file()
        self.kitchen.process.send_signal(signal.SIGHUP)
        if self.writes() and self.chance.random() < 0.5:
            wait_for("the changed file", 40, lambda: (lambda now: now and not self.model.wrong(now, f))(self.now()))

    def writes(self):
        """The logbook is open, and there is room."""
        now = self.now()
        return now and now["daemon"]["recording"] and now["daemon"]["past_known"] and not (self.kitchen.state / "other-file").exists()

    def move_logbook(self):
        """What goes on is in the new one as soon as a word is on disk there."""
        if len(self.books) > (6 if LONG else 1) or not self.writes():
            return
        self.books.append(self.kitchen.state / f"book-{len(self.books)}.db")
        self.files.book = self.books[-1]
        self.write_file()
        self.kitchen.process.send_signal(signal.SIGHUP)
        named = self.kitchen.state / "logbook.path"  # until it names the new one, a start tells of another logbook
        wait_for("the other logbook", 40, lambda: self.books[-1].exists() and named.exists() and str(self.books[-1]) in named.read_text() and self.note() and any(
            text == self.model.notes[-1] for (text,) in self.sql(self.books[-1], "SELECT text FROM note")))

    def sql(self, book, query):
        try:
            with sqlite3.connect(f"file:{book}?mode=ro", uri=True, timeout=20) as link:
                return link.execute(query).fetchall()
        except sqlite3.OperationalError:
            return []  # it is just being made

    def reload(self):
        self.edit_plan()
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
                                    self.bad_reload, self.pull, self.step_clock, self.full_disk, self.timer, self.remind, self.silence,
                                    self.change_file, self.move_logbook])
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
            self.edit_plan()
        if not kind.startswith("reboot"):
            return
        self.clock.boot_again()
        self.model.one_boot = False
        self.model.timers.another_boot()
        self.model.reminders.another_boot()
        self.clock.step({"reboot": 900, "reboot, behind": -1800, "reboot, ahead": 5400}[kind])
        if kind == "reboot":
            self.clock.synchronised()

    def live(self):
        self.life += 1
        late = None
        if self.chance.random() < 0.2 and self.books[-1].exists():
            self.count("a logbook that opens late")
            late = sqlite3.connect(self.books[-1], isolation_level=None, check_same_thread=False)
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
            wait_for(f"life {self.life}: the logbook", 60, lambda: (lambda n: n and n["daemon"]["recording"] and not self.model.wrong(n, self.files))(self.now()))
        for _ in range(2):
            now = wait_for("an answer", 15, self.now)
            wrong = self.model.wrong(now, self.files)
            assert not wrong, f"life {self.life}: {wrong}\n{self.kitchen.log()[-1500:]}"
            time.sleep(0.5)
        wait_for(f"life {self.life}: what is out of service, one of {self.model.out}", 10, lambda: (lambda n: n and self.model.silence_is_right(n))(self.now()))
        self.model.learn(now)
        self.plan_edited = False

    def check_file(self):
        kept = []
        for book in self.books:
            assert self.sql(book, "PRAGMA integrity_check") == [("ok",)], book
            kept += [text for (text,) in self.sql(book, "SELECT text FROM event WHERE name = 'note' AND text LIKE 'life %'")]
            numbers = [number for number, *_ in self.sql(book, "SELECT DISTINCT alarm, name, subject_kind, subject FROM alarm_change")]
            assert len(numbers) == len(set(numbers)), f"a number was given to two alarms: {numbers}"
        lost, twice = [t for t in self.model.notes if t not in kept], sorted(t for t in set(kept) if kept.count(t) > 1)
        assert not lost and not twice, f"acknowledged, but gone: {lost}; twice: {twice}"
        assert not list(self.kitchen.state.glob("*damaged*")) and not list(self.kitchen.state.glob("*saved*")), "a sound file was taken for a damaged one"

    def check_notices(self):
        """The pan was told of, and never as over; what was to be told was told, though perhaps by a later life."""
        of_pan = [b for b in self.hook.bodies if b["alarm"] == "above-band" and b["subject"] == "pan"]
        assert any(b["kind"] == "raised" for b in of_pan), self.hook.bodies
        assert not [b for b in of_pan if b["kind"] == "cleared"], "the pan has 74 degC all the time"
        wait_for("the last notices", 60, lambda: self.sql(self.books[-1], "SELECT count(*) FROM outbox WHERE state = 'pending'") == [(0,)])
        missing = [i for (i,) in self.sql(self.books[-1], "SELECT id FROM outbox WHERE state = 'sent'") if i not in self.hook.keys]
        assert not missing, f"delivered, it says: {missing}"

    def run(self, lives, seconds):
        self.start()
        wait_for("the pan in its band", 40, lambda: next(v for v in self.now()["vessels"] if v["name"] == "pan")["phase"] == "in band")
        self.pan = 74.0
        alarm = wait_for("the pan's alarm", 30, lambda: [a for a in self.now()["alarms"] if a["alarm"] == "above-band"])[0]
        self.model.alarm = alarm["id"]
        wait_for("the pan's notice", 60, lambda: any(b["alarm"] == "above-band" for b in list(self.hook.bodies)))
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
        self.check_notices()
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
