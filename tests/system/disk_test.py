#!/usr/bin/env python3
"""The disk under the daemon fills up, or another program holds the logbook, while an alarm is on: alarms and notices go
on, readings wait, it is said once, and what waited is written when there is room again. The disk is a small tmpfs in a mount
namespace of its own (root or unprivileged user namespaces; where there are neither, the test says so and fails)."""
import atexit
import os
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from kitchen_rig import Instrument, Kitchen, Webhook, main, wait_for
from lives import KITCHEN


def own_mounts():
    """Runs this script again where it may mount; everything that it mounts is gone when it ends."""
    if os.environ.get("INGLE_OWN_MOUNTS"):
        return
    words = ["unshare", "--mount"] if os.geteuid() == 0 else ["unshare", "--mount", "--map-root-user", "--user"]
    if subprocess.run(words + ["true"], capture_output=True).returncode != 0:
        words += ["--propagation", "unchanged"]  # in a chroot there is no root mount that could be made private
    done = subprocess.run(words + [sys.executable, *sys.argv], env={**os.environ, "INGLE_OWN_MOUNTS": "1"})
    sys.exit(done.returncode)


class SmallDisk:
    def __init__(self, folder, size="8m"):
        self.path = Path(folder) / "state"
        self.path.mkdir()
        self.mount("-t", "tmpfs", "-o", f"size={size},mode=0755", "tmpfs", self.path)
        atexit.register(subprocess.run, ["umount", "--lazy", str(self.path)])

    def mount(self, *words):
        subprocess.run(["mount", *map(str, words)], check=True)

    def fill(self):
        with open(self.path / "other-file", "wb", buffering=0) as other:
            try:
                while True:
                    other.write(b"x" * 65536)
            except OSError:
                pass
            try:
                while True:
                    other.write(b"x" * 512)
            except OSError:
                pass

    def free(self):
        (self.path / "other-file").unlink()


class Scene:
    """A pot that goes above its band whenever `celsius` is set so, on a small disk."""

    def __init__(self):
        folder = tempfile.mkdtemp(prefix="ingle-test-")
        self.disk, self.hook, self.instrument = SmallDisk(folder), Webhook(), Instrument(folder)
        self.kitchen = Kitchen(KITCHEN.format(port=self.instrument.path, http=self.hook.port), folder)
        self.celsius, self.playing = 65.0, True
        threading.Thread(target=self._play, daemon=True).start()
        self.kitchen.start()
        wait_for("the pot in its band", 30, lambda: self.vessel()["phase"] == "in band")
        self.kitchen.cli("note", "all is well")

    def _play(self):
        while self.playing:
            self.instrument.send(f"{self.celsius:.2f},40.00,65.00\n")
            time.sleep(0.1)

    def vessel(self):
        return next(v for v in self.kitchen.json("now")["vessels"] if v["name"] == "stockpot")

    def told(self, alarm, kind="raised"):
        """Notices of that alarm; several troubles at once are one notice with a line for each."""
        sign = {"above-band": "stockpot", "not-recording": "ecord"}[alarm]
        return [b for b in self.hook.bodies if b["kind"] == kind and (b["alarm"] == alarm or sign in b["text"])]

    def recording(self):
        return self.kitchen.json("now")["daemon"]["recording"]

    def figures_of_trouble(self):
        """What waits and since when are those of now, and both grow."""
        first = self.kitchen.json("now")["daemon"]
        second = wait_for("more readings that wait", 10, lambda: (lambda d: d if d["readings_waiting"] > first["readings_waiting"] else None)(
            self.kitchen.json("now")["daemon"]))
        assert first["readings_waiting"] > 0 and second["committed_age_s"] > first["committed_age_s"] > 1, (first, second)

    def trouble_and_back(self, make, end, lasting=0, shown=lambda: None):
        make()
        self.celsius = 74.0  # the alarm begins on a disk that cannot be written
        # Several troubles at once may be one notice; each is in its text or its alarm.
        wait_for("the notice of the pot", 20, lambda: self.told("above-band"))
        wait_for("the word that nothing is recorded", 25, lambda: not self.recording())
        wait_for("the notice of the logbook", 25, lambda: self.told("not-recording"))
        assert self.vessel()["celsius"] > 73, "the daemon no longer measures"
        doctor = self.kitchen.cli("doctor", check=False)
        assert doctor.returncode == 1 and "not recording" in doctor.stdout, doctor.stdout
        self.figures_of_trouble()
        shown()
        time.sleep(lasting)
        self.celsius = 65.0
        time.sleep(1)
        end()
        wait_for("recording again", 30, self.recording)
        status = self.kitchen.json("now")["daemon"]
        assert status["readings_lost"] == 0, status
        assert self.kitchen.cli("note", "and well again").returncode == 0
        self.kitchen.stop()
        self.playing = False
        stamps = [ms for (ms,) in self.kitchen.sql("SELECT boot_ms FROM reading WHERE probe = 'stock' ORDER BY boot_ms")]
        holes = [b - a for a, b in zip(stamps, stamps[1:]) if b - a > 1500]
        assert not holes, f"readings are missing: {holes} ms"
        alarms = {name for (name,) in self.kitchen.sql("SELECT name FROM alarm WHERE change = 'raised'")}
        assert {"above-band", "not-recording"} <= alarms, alarms
        assert self.kitchen.sql("PRAGMA integrity_check") == [("ok",)]
        lines = [line for line in self.kitchen.log().splitlines() if "logbook" in line and "warn" in line]
        assert len(lines) < 12, "\n".join(lines)
        return lines


def the_disk_is_full():  # field case D1
    scene = Scene()

    def shown():
        """What was done and cannot be recorded is not said to be undone."""
        alarm = next(a for a in scene.kitchen.json("now")["alarms"] if a["alarm"] == "not-recording")
        assert alarm["text"].startswith("Nothing is recorded: the disk is full. Free some space"), alarm["text"]
        scene.kitchen.cli("begin", "roll")
        cook = next(d["cook"] for d in scene.kitchen.json("now")["dishes"] if d["name"] == "roll")
        listed = " ".join(scene.kitchen.cli("cooks").stdout.split())
        assert f"{cook} " in listed and "still running, not recorded yet" in listed and "cannot be written at present" in listed, listed
        told = " ".join(scene.kitchen.cli("notices").stdout.split())
        assert "works; last delivered" in told and "Nothing is recorded since" in told, told
        for untrue in ("never delivered", "nothing was sent"):
            assert untrue not in told + scene.kitchen.cli("doctor", check=False).stdout, told
    scene.trouble_and_back(scene.disk.fill, scene.disk.free, shown=shown)


def another_program_holds_the_lock():  # field case D9
    scene = Scene()
    with sqlite3.connect(scene.disk.path / "logbook.db", isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        scene.celsius = 74.0
        wait_for("the notice of the pot", 15, lambda: scene.told("above-band"))
        time.sleep(20)
        assert scene.vessel()["age_s"] < 2
        other.execute("ROLLBACK")
    other.close()
    scene.celsius = 65.0
    scene.kitchen.cli("note", "the other program is gone")
    assert not scene.told("not-recording"), "a lock of 20 s is no trouble"
    scene.kitchen.stop()
    scene.playing = False
    stamps = [ms for (ms,) in scene.kitchen.sql("SELECT boot_ms FROM reading WHERE probe = 'stock' ORDER BY boot_ms")]
    assert all(b - a < 1500 for a, b in zip(stamps, stamps[1:])), "readings are missing"


def a_stop_and_a_start_on_a_full_disk():
    """What the logbook holds is known though nothing can be written; what is lost with a stop is said at the stop."""
    scene = Scene()
    scene.kitchen.cli("begin", "roll")
    scene.kitchen.cli("timer", "60 min", "turn the roll")
    scene.disk.fill()
    wait_for("the word that nothing is recorded", 25, lambda: not scene.recording())
    scene.kitchen.cli("timer", "50 min", "never recorded")
    scene.kitchen.stop(limit=12)
    lost = [line for line in scene.kitchen.log().splitlines() if "without having recorded the last" in line]
    assert len(lost) == 1 and "readings, and what was done meanwhile, are lost" in lost[0] and "the disk is full" in lost[0], scene.kitchen.log()

    scene.kitchen.start()
    wait_for("readings", 15, lambda: scene.vessel()["celsius"])
    assert not scene.recording()

    def as_before():
        now = scene.kitchen.json("now")
        assert [d["begun"] for d in now["dishes"] if d["name"] == "roll"] == [True], now["dishes"]
        assert not [a for a in now["alarms"] if a["alarm"] == "timer-over"], now["alarms"]
        timers = scene.kitchen.json("timer")["timers"]
        assert [t["text"] for t in timers] == ["turn the roll"] and 3400 < timers[0]["left_s"] < 3600, timers

    as_before()
    scene.disk.free()
    wait_for("recording again", 30, scene.recording)
    as_before()
    gaps = [text for (text,) in scene.kitchen.sql("SELECT text FROM event WHERE name = 'gap'")]
    assert len(gaps) == 1 and gaps[0].startswith("nothing was recorded for ") and gaps[0].endswith(" s before this start."), gaps
    scene.kitchen.stop()
    scene.playing = False


if __name__ == "__main__":
    own_mounts()
    main([the_disk_is_full, a_stop_and_a_start_on_a_full_disk, another_program_holds_the_lock])
