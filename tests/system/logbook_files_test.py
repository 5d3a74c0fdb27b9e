#!/usr/bin/env python3
"""The logbook's files change under the running daemon: shortened, overwritten, deleted, replaced, on a disk that is
unmounted. The daemon lives, says so once, alarms go on, and the next life knows the cook, the band and the numbers."""
import os
import shutil
import sqlite3
import subprocess
import threading
import time

from disk_test import SmallDisk, own_mounts
from drive_test import Local
from kitchen_rig import LONG, POT_KITCHEN, Instrument, Kitchen, Webhook, main, wait_for

BOOK = "logbook.db"


class Scene:
    """A pot with a cook begun, a band set by hand and a note; one daemon for as many mishaps as follow each other."""

    def __init__(self, disk=False):
        self.hook = Webhook()
        self.kitchen = Kitchen("")
        if disk:
            self.kitchen.state.rmdir()
            self.disk = SmallDisk(self.kitchen.folder)
        self.instrument = Instrument(self.kitchen.folder)
        self.kitchen.file.write_text(POT_KITCHEN.format(port=self.instrument.path, http=self.hook.port, zone=""))
        self.celsius, self.notes = 65.0, 0
        threading.Thread(target=self._play, daemon=True).start()
        self.kitchen.start()
        self.kitchen.cli("begin", "roll")
        self.kitchen.cli("hold", "stockpot", "61 degC", "71 degC")
        wait_for("the pot in its band", 20, lambda: self.now()["vessels"][0]["phase"] == "in band")
        self.number = self.now()["dishes"][0]["cook"]

    def _play(self):
        while True:
            try:
                self.instrument.send(f"{self.celsius:.2f},40.00\n")
            except (OSError, TypeError):
                pass
            time.sleep(0.1)

    def now(self):
        return self.kitchen.json("now")

    def note(self):
        """A commit, and whether it was answered as being on disk."""
        self.notes += 1
        answer = self.kitchen.cli("note", f"note {self.notes}", check=False)
        return answer.returncode == 0 and "not on disk" not in answer.stdout

    def alarm_passes(self):
        seen = len(self.hook.bodies)
        self.celsius = 80.0
        wait_for("the pot's notice", 40, lambda: any("above its band" in b["text"] for b in self.hook.bodies[seen:]))
        self.celsius = 65.0

    def kept(self):
        """The running cook, its band, and the newest note stand in the file that the next life begins with."""
        dish = self.now()["dishes"][0]
        assert dish["begun"] and dish["cook"] == self.number, dish
        return self.kitchen.sql("PRAGMA integrity_check") == [("ok",)] and (f"note {self.notes}",) in self.kitchen.sql("SELECT text FROM note")

    def next_life(self):
        self.kitchen.stop(limit=10)
        self.kitchen.start()
        self.kept()
        band = self.now()["vessels"][0]["band"]
        assert (round(band["low_c"]), round(band["high_c"])) == (61, 71), band

    def path(self, suffix=""):
        return self.kitchen.state / (BOOK + suffix)


def after(scene, what, event, more=lambda: True):
    """Once the mishap is made: the daemon says it, and everything is as it was."""
    assert scene.kitchen.alive(), f"{what}: ended with {scene.kitchen.process.poll()}\n{scene.kitchen.log()[-1500:]}"
    began = time.monotonic()
    wait_for(f"{what}: a commit that is on disk", 30, scene.note)
    wait_for(f"{what}: the notes and the cook in the file", 15, lambda: scene.kept() and more())
    wait_for(f"{what}: the event {event}", 15, lambda: scene.kitchen.sql("SELECT 1 FROM event WHERE name = ?", event))
    print(f"  {what}: recording again after {time.monotonic() - began:.1f} s", flush=True)


def shorten(path, size):
    os.truncate(path, size)


def the_index_is_shortened():
    scene = Scene()
    for size in (0, 3, 100, 4096, 20000) if LONG else (0, 4096):
        for _ in range(2 if LONG else 1):
            shorten(scene.path("-shm"), size)
            scene.kitchen.cli("history", "stock", "last 1 min", check=False)
            after(scene, f"an index of {size} bytes", "logbook-side-files")
    scene.alarm_passes()
    scene.next_life()
    scene.kitchen.stop()


def the_rows_that_wait_are_damaged():
    scene = Scene()

    def overwrite():
        with open(scene.path("-wal"), "r+b") as wal:
            wal.seek(32 + 24 + 2000)
            wal.write(b"\xff" * 500)
    for what, make in (("overwritten", overwrite), ("shortened", lambda: shorten(scene.path("-wal"), 5000)), ("emptied", lambda: shorten(scene.path("-wal"), 0)))[:None if LONG else 2]:
        wait_for("rows that wait", 15, lambda: scene.note() and scene.path("-wal").stat().st_size > 10000)
        before = set(scene.kitchen.state.glob(BOOK + ".damaged-*"))
        make()
        # Said by itself, without a question: readings are committed all the time.
        wait_for(f"{what}: the damaged copy", 40, lambda: set(scene.kitchen.state.glob(BOOK + ".damaged-*")) - before)
        after(scene, f"a write-ahead file that is {what}", "logbook-damaged")
        assert scene.kitchen.cli("doctor", check=False).stdout.count("damaged copy") >= 1
    scene.alarm_passes()
    scene.next_life()
    scene.kitchen.stop()


def the_logbook_is_deleted_replaced_and_shortened():
    scene = Scene()
    spare = scene.kitchen.folder / "spare.db"
    scene.kitchen.cli("export", "--logbook", spare)

    def replace():
        shutil.copy(spare, str(spare) + ".new")
        os.replace(str(spare) + ".new", scene.path())

    after_replaced = lambda: list(scene.kitchen.state.glob(BOOK + ".saved-*")) != []
    scene.path().unlink()
    after(scene, "a deleted logbook", "logbook-missing")
    replace()
    after(scene, "a replaced logbook", "logbook-missing", after_replaced)
    for suffix in ("-wal", "-shm"):
        scene.note()
        scene.path(suffix).unlink()
        after(scene, f"a deleted {suffix}", "logbook-side-files")
    for size in (0, 8192):
        shorten(scene.path(), size)
        after(scene, f"a logbook of {size} bytes", "logbook-damaged")
    scene.alarm_passes()
    scene.next_life()
    scene.kitchen.stop()


def a_slip_of_a_name_writes_nothing_over():
    scene = Scene()
    book, kitchen_file = scene.kitchen.state / BOOK, scene.kitchen.file.read_text()
    scene.note()
    for words in (["export", "stock", "last 5 min", "-o", book], ["export", "stock", "last 5 min", "-o", scene.kitchen.file],
                  ["review", "roll", "--html", book], ["schedule", "--kitchen", scene.kitchen.file, "--ics", scene.kitchen.file]):
        done = scene.kitchen.cli(*words, check=False)
        assert done.returncode == 2 and "is not written over" in done.stderr, (words, done)
    assert scene.kitchen.file.read_text() == kitchen_file and scene.note() and scene.kitchen.sql("PRAGMA integrity_check") == [("ok",)]
    out = scene.kitchen.folder / "pot.csv"
    for _ in range(2):  # a recording may be written anew
        scene.kitchen.cli("export", "stock", "last 5 min", "-o", out)
    page = scene.kitchen.folder / "roll.html"
    for _ in range(2):
        scene.kitchen.cli("review", "roll", "--html", page)
    scene.kitchen.stop()


def the_disk_is_unmounted():
    scene = Scene(disk=True)
    scene.note()
    scene.disk.mount("-t", "tmpfs", "-o", "size=8m,mode=0755", "tmpfs", scene.disk.path)  # another disk over it: the socket is hidden, too
    scene.alarm_passes()
    assert scene.kitchen.alive()
    wait_for("the logbook on the disk that is there now", 30, lambda: scene.path().exists() and scene.kitchen.sql("SELECT 1 FROM event WHERE name = 'logbook-missing'"))
    subprocess.run(["umount", "--lazy", scene.disk.path], check=True)
    wait_for("a commit on the first disk", 30, scene.note)
    wait_for("the cook in the file", 30, scene.kept)
    scene.next_life()
    scene.kitchen.stop()


def what_is_refused_today_is_told():
    """An old logbook holds a calibration and an air pressure that no command would take now."""
    scene = Scene()
    kitchen = scene.kitchen
    link = Local(kitchen.state / "ingled.sock")
    link.request("POST", "/api/commands/calibrate", '{"probe":"stock","points":[{"reads":"65 degC","is":"66 degC"}]}', {"Content-Type": "application/json"})
    assert link.getresponse().status == 200
    kitchen.stop()
    with sqlite3.connect(kitchen.state / BOOK) as book:
        changed = book.execute("UPDATE memory SET value = '120' WHERE key = 'probe.stock.calibration.0.is'").rowcount
        book.execute("INSERT OR REPLACE INTO memory VALUES('kitchen.pressure', '100')")
    assert changed == 1
    kitchen.start()
    for told in ("the calibration of stock moves the reading by", "the measured air pressure is not the station pressure"):
        assert told in kitchen.log(), kitchen.log()[-1500:]
        assert told in kitchen.cli("doctor", check=False).stdout, kitchen.cli("doctor", check=False).stdout
        assert any(told in text for (text,) in kitchen.sql("SELECT text FROM event WHERE name = 'not-restored'"))
    wait_for("what the probe really reads", 15, lambda: abs((kitchen.json("now")["vessels"][0]["celsius"] or 0) - 65) < 0.1)
    kitchen.stop()
    kitchen.start()  # it is gone, and not told again
    assert kitchen.sql("SELECT count(*) FROM event WHERE name = 'not-restored'") == [(2,)]
    kitchen.stop()


if __name__ == "__main__":
    own_mounts()
    main([the_index_is_shortened, the_rows_that_wait_are_damaged, the_logbook_is_deleted_replaced_and_shortened, a_slip_of_a_name_writes_nothing_over, the_disk_is_unmounted,
          what_is_refused_today_is_told])
