#!/usr/bin/env python3
"""The worst moments: the plug is pulled in a reload, in a begin, in a migration of the logbook; the kitchen file or a plan
is a folder, a pipe or a gigabyte; one reload runs into another; the clock goes back by a day during a cook; the state
folder cannot be written any more; a receiver accepts twenty alarms and never answers."""
import http.client
import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import threading
import time

from attack_test import memory_mb
from clock_test import SteppedClock, utc
from disk_test import SmallDisk, own_mounts
from kitchen_rig import INGLE, LONG, POT_KITCHEN, SOURCE, Instrument, Kitchen, Webhook, die_with_parent, free_port, main, wait_for
from peers import Receiver
from reload_test import PLAN

GIGABYTE = 1 << 30
TIMES = 40 if LONG else 6  # that the plug is pulled in each kind of moment
chance = random.Random(20261126)


class Scene:
    """The pot at 65 degC with a roll by a plan; `celsius` moves it."""

    def __init__(self, more="", disk=False, environment=None):
        self.hook, self.kitchen, self.environment = Webhook(), Kitchen(""), environment or {}
        if disk:
            self.kitchen.state.rmdir()
            self.disk = SmallDisk(self.kitchen.folder)
        self.instrument, self.celsius = Instrument(self.kitchen.folder), 65.0
        self.text = POT_KITCHEN.format(port=self.instrument.path, http=self.hook.port, zone="").replace(
            'food = "ground-poultry"', 'food = "ground-poultry"\nplan = "poaching"') + more
        self.kitchen.file.write_text(self.text)
        self.plan = self.kitchen.folder / "poaching.toml"
        self.plan.write_text(PLAN.format(first="poach"))
        threading.Thread(target=self._play, daemon=True).start()
        self.start()

    def start(self):
        self.kitchen.start(**self.environment)

    def _play(self):
        while True:
            self.instrument.send(f"{self.celsius:.2f},40.00" + f",{self.celsius:.2f}" * 20 + "\n")
            time.sleep(0.1)

    def now(self):
        return self.kitchen.json("now")

    def dish(self):
        return self.now()["dishes"][0]

    def in_band(self):
        wait_for("the pot in its band", 40, lambda: self.now()["vessels"][0]["phase"] == "in band")

    def refusals(self):
        return [text for (text,) in self.kitchen.sql("SELECT text FROM event WHERE name = 'reload-refused' ORDER BY id")]


def trap(path, kind):
    if path.is_dir():
        path.rmdir()
    path.unlink(missing_ok=True)
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "gigabyte":
        with path.open("wb") as out:
            out.truncate(GIGABYTE)


def a_file_that_is_a_folder_a_pipe_or_a_gigabyte():
    scene = Scene()
    scene.kitchen.cli("begin", "roll")
    before, count = memory_mb(scene.kitchen.process), 0
    for path in (scene.kitchen.file, scene.plan):
        good = path.read_text()
        for kind in ("folder", "pipe", "gigabyte"):
            trap(path, kind)
            count += 1
            began = time.monotonic()
            scene.kitchen.process.send_signal(signal.SIGHUP)
            wait_for(f"the refusal of a {kind} as {path.name}", 10, lambda: len(scene.refusals()) == count)
            took = time.monotonic() - began
            assert path.name.split(".")[0] in scene.refusals()[-1], scene.refusals()[-1]
            checked = subprocess.run([INGLE, "check", scene.kitchen.file], capture_output=True, text=True, timeout=10)
            assert checked.returncode in (1, 2) and path.name.split(".")[0] in checked.stdout + checked.stderr, checked
            assert scene.kitchen.alive() and scene.dish()["begun"]
            grown = memory_mb(scene.kitchen.process) - before
            print(f"  {path.name} is a {kind}: refused after {took:.1f} s, grown by {grown:.0f} MB", flush=True)
            assert grown < 20
        trap(path, "")
        path.write_text(good)
    scene.kitchen.stop()
    trap(scene.kitchen.file, "pipe")
    (scene.kitchen.state / "kitchen.accepted").unlink()
    refused = subprocess.run(scene.kitchen.command(), capture_output=True, text=True, timeout=10)
    assert refused.returncode in (1, 2) and "kitchen.toml" in refused.stderr, refused


def the_newest_of_two_files_is_the_one_in_force():
    scene = Scene()
    names = lambda: scene.now()["kitchen"]
    turns = 12 if LONG else 3
    for turn in range(turns):
        for half in "ab":
            scene.kitchen.file.write_text(scene.text.replace("village hall", f"barn {turn}{half}"))
            scene.kitchen.process.send_signal(signal.SIGHUP)
            time.sleep(chance.choice([0, 0.002, 0.01, 0.03, 0.1]))
        # Four are taken up at once, the next ones 30 s after the first.
        wait_for("the newest file", 10 if turn < 2 else 45, lambda: names() == f"barn {turn}b")
    scene.kitchen.cli("note", "after the reloads")
    read = lambda: [at for (at,) in scene.kitchen.sql("SELECT boot_ms FROM reading WHERE probe = 'stock' ORDER BY boot_ms")]
    reloaded_ms = scene.now()["daemon"]["running_s"] * 1000
    stamps = wait_for("what was read since, in the logbook", 60, lambda: (lambda all: all if len(all) > 1 and all[-1] - all[0] > 0 and scene.now()["daemon"]["running_s"] * 1000 > reloaded_ms + 15000 else None)(read()))
    widest = max(b - a for a, b in zip(stamps, stamps[1:]))
    print(f"  {turns * 2} reloads: at most {widest} ms between two readings", flush=True)
    assert widest < 1000, "what a changed name leaves as it is reads on"
    scene.kitchen.stop()


def the_plug_is_pulled_in_a_reload_and_in_a_begin():
    scene = Scene()
    kitchen = scene.kitchen
    kitchen.cli("hold", "stockpot", "61 degC", "71 degC")
    cook, begun = 0, False
    for turn in range(TIMES):
        if not begun:
            order = subprocess.Popen([INGLE, "--state", kitchen.state, "begin", "roll"], stdout=subprocess.PIPE, text=True)
            time.sleep(chance.uniform(0, 0.15))
            kitchen.stop(signal.SIGKILL)
            said = order.communicate(timeout=30)[0]
            done = order.returncode == 0 and "not on disk" not in said
        else:
            done = True
            scene.plan.write_text(PLAN.format(first=("simmer", "poach")[turn % 2]))
            kitchen.file.write_text(scene.text.replace("village hall", f"barn {turn}"))
            kitchen.process.send_signal(signal.SIGHUP)
            time.sleep(chance.uniform(0, 0.15))
            kitchen.stop(signal.SIGKILL)
        scene.start()
        dish = scene.dish()
        assert dish["begun"] or not done, f"turn {turn}: {dish}"
        assert not begun or dish["cook"] == cook, f"turn {turn}: cook {cook} became {dish['cook']}"
        assert dish["cook"] is None or dish["cook"] >= cook, dish
        band = scene.now()["vessels"][0]["band"]
        assert round(band["low_c"]) in (60, 61), band  # the stage's own, or the one that is held
        begun, cook = dish["begun"], dish["cook"] or cook
        if begun and turn % 3 == 2:
            kitchen.cli("end", "roll")
            kitchen.cli("hold", "stockpot", "61 degC", "71 degC")  # the band went with the last dish
            begun = False
    kitchen.stop()
    assert kitchen.sql("PRAGMA integrity_check") == [("ok",)]
    assert kitchen.sql("SELECT count(*) FROM cook WHERE ended_ms IS NULL")[0][0] <= 1


def the_plug_is_pulled_in_a_migration():
    """Of each old logbook there is: the next start goes on with it, and nothing that stood in it is gone."""
    for old in sorted((SOURCE / "tests/unit/daemon/logbook/old").glob("*.sql")):
        scene = Scene()
        kitchen = scene.kitchen
        kitchen.stop()
        source = kitchen.folder / "old.db"
        with sqlite3.connect(source) as book:
            book.executescript(old.read_text())
            tables = [name for (name,) in book.execute("SELECT name FROM sqlite_master WHERE type = 'table'") if name in ("event", "cook", "boot", "reading")]
            kept = {name: book.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in tables}
        cut, usual = 0, 0.3  # s that a start takes here and now
        for _ in range(TIMES):
            for left in kitchen.state.glob("logbook.db*"):
                left.unlink()
            shutil.copy(source, kitchen.state / "logbook.db")
            kitchen.process = subprocess.Popen(kitchen.command(), stderr=open(kitchen.folder / "ingled.log", "a"), preexec_fn=die_with_parent)
            time.sleep(usual * chance.uniform(0.1, 1.2))
            kitchen.stop(signal.SIGKILL)
            with sqlite3.connect(kitchen.state / "logbook.db") as book:
                cut += book.execute("PRAGMA user_version").fetchone()[0] == sqlite3.connect(source).execute("PRAGMA user_version").fetchone()[0]
            began = time.monotonic()
            scene.start()
            usual = time.monotonic() - began
            wait_for("it to be recording", 20, lambda: scene.now()["daemon"]["recording"])
            kitchen.cli("note", "after the migration")
            kitchen.stop()
            assert kitchen.sql("PRAGMA integrity_check") == [("ok",)]
            assert not list(kitchen.state.glob("*damaged*")), "a sound old file was taken for a damaged one"
            for name, count in kept.items():
                assert kitchen.sql(f"SELECT count(*) FROM {name}")[0][0] >= count, f"{old.name}: rows of {name} are gone"
        print(f"  {old.name}: {TIMES} times, {cut} of them before the migration was done", flush=True)


def the_clock_goes_back_by_a_day_during_a_cook():
    folder = Kitchen("").folder
    clock = SteppedClock(folder)
    clock.set(utc("2026-09-26T10:00:00"))
    clock.synchronised()
    scene = Scene(environment=clock.environment())
    scene.kitchen.cli("begin", "roll")
    scene.in_band()
    began = time.monotonic() - scene.dish()["began_age_s"]
    for how in ("while it runs", "over a kill", "ahead again"):
        clock.step(86_400 if how == "ahead again" else -86_400)
        if how == "over a kill":
            scene.kitchen.stop(signal.SIGKILL)
            scene.start()
        time.sleep(2)
        dish = scene.dish()
        assert abs(dish["began_age_s"] - (time.monotonic() - began)) < 5, f"{how}: {dish}"
        assert not [v for v in dish["verdicts"] if v["answer"] in ("met", "reached", "missed")], f"{how}: {dish['verdicts']}"
        assert not [a for a in scene.now()["alarms"] if a["subject"] in ("roll", "stockpot")], scene.now()["alarms"]
    scene.celsius = 80.0
    wait_for("the pot's notice", 40, lambda: any(b["alarm"] == "above-band" for b in scene.hook.bodies))
    scene.kitchen.stop()


def the_state_folder_cannot_be_written_any_more():
    """A card that turned read-only: while the daemon runs, and before it starts. What was known comes back with the card."""
    port = free_port()
    scene = Scene(f"[serve]\nport = {port}\n", disk=True)
    kitchen = scene.kitchen
    kitchen.cli("begin", "roll")
    scene.in_band()
    cook = scene.dish()["cook"]
    for words in (("--bind", kitchen.state, kitchen.state), ("-o", "remount,ro,bind", kitchen.state)):
        scene.disk.mount(*words)
    scene.celsius = 80.0
    wait_for("the pot's notice", 40, lambda: any(b["alarm"] == "above-band" for b in scene.hook.bodies))
    kitchen.cli("note", "while nothing new can be made there")
    kitchen.stop(signal.SIGKILL)
    scene.celsius = 65.0

    kitchen.process = subprocess.Popen(kitchen.command(), stderr=open(kitchen.folder / "ingled.log", "a"), preexec_fn=die_with_parent)
    def now():  # no socket can be made in that folder
        link = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        try:
            link.request("GET", "/api/now")
            return json.loads(link.getresponse().read())
        except OSError:
            assert kitchen.alive(), kitchen.log()[-1500:]
            return None
    wait_for("an answer", 20, now)
    wait_for("the word of it", 60, lambda: any(a["alarm"] == "not-recording" for a in now()["alarms"]))
    assert "cannot be written" in kitchen.log()
    seen, scene.celsius = len(scene.hook.bodies), 95.0
    wait_for("the pot's notice without a card", 60, lambda: any("stockpot" in b["text"] for b in scene.hook.bodies[seen:]))
    scene.disk.mount("-o", "remount,rw,bind", kitchen.state)
    wait_for("what the card holds", 60, lambda: (lambda n: n["daemon"]["recording"] and n["dishes"][0]["begun"])(now()))
    assert now()["dishes"][0]["cook"] == cook
    kitchen.stop()
    assert ("while nothing new can be made there",) in kitchen.sql("SELECT text FROM event WHERE name = 'note'")


PAN = """
[[probe]]
name = "air-{n}"
driver = "serial-line"
port = "{port}"
channel = "{channel}"
unit = "degC"
every = "200 ms"
[[vessel]]
name = "pan-{n}"
kind = "pot"
medium = "air-{n}"
band = ["60 degC", "70 degC"]
on-delay = "{delay} s"
"""


def twenty_alarms_and_a_receiver_that_never_answers():
    deaf = Receiver("hang")
    scene = Scene(f'[[channel]]\nname = "deaf"\nkind = "webhook"\nleast = "low"\nurl = "http://127.0.0.1:{deaf.port}/n"\n')
    scene.kitchen.file.write_text(scene.text + "".join(PAN.format(n=n, channel=n + 3, port=scene.instrument.path, delay=n % 10) for n in range(20)))
    scene.kitchen.process.send_signal(signal.SIGHUP)
    wait_for("all the pans in their band", 60, lambda: [v["phase"] for v in scene.now()["vessels"]].count("in band") == 21)
    before, began, scene.celsius = memory_mb(scene.kitchen.process), time.monotonic(), 80.0
    told = lambda: {f"pan-{n}" for n in range(20) if any(f"pan-{n}" in b["text"].replace(",", " ").replace(".", " ").split() + [b["subject"]] for b in scene.hook.bodies)}
    raised = lambda: scene.kitchen.sql("SELECT count(DISTINCT subject) FROM alarm_change WHERE name = 'above-band' AND change = 'raised'")[0][0]
    wait_for("twenty alarms", 60, lambda: raised() == 21)
    wait_for("all of them at the good channel", 60, lambda: len(told()) == 20)
    print(f"  all told after {time.monotonic() - began:.1f} s beside one that hangs ({deaf.connections} connections), grown by {memory_mb(scene.kitchen.process) - before:.0f} MB", flush=True)
    assert memory_mb(scene.kitchen.process) - before < 20
    assert scene.kitchen.stop(limit=12) < 7
    waiting = scene.kitchen.sql("SELECT count(*) FROM outbox WHERE state = 'pending'")[0][0]
    assert waiting > 0, "what was not delivered is kept for the next life"
    scene.start()
    assert len(scene.now()["alarms"]) >= 21
    scene.kitchen.stop(limit=12)


if __name__ == "__main__":
    own_mounts()
    main([a_file_that_is_a_folder_a_pipe_or_a_gigabyte, the_newest_of_two_files_is_the_one_in_force, the_plug_is_pulled_in_a_reload_and_in_a_begin,
          the_plug_is_pulled_in_a_migration, the_clock_goes_back_by_a_day_during_a_cook, the_state_folder_cannot_be_written_any_more,
          twenty_alarms_and_a_receiver_that_never_answers])
