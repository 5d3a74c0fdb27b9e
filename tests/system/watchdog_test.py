#!/usr/bin/env python3
"""What the service manager hears where nothing is measured (field case E14; that a probe which is never heard stops its
pings is run_test's). A thermometer whose read never returns is a fault that is told, and no reason to end the daemon, whose
other instruments are read on; a daemon that does nothing any more is not vouched for, and what the manager does then leaves
a record of both starts."""
import os
import signal
import socket
import threading
import time

from kitchen_rig import Instrument, Kitchen, Webhook, main, wait_for
from reload_test import Feed
from told_test import KITCHEN

BLOCKED = """
[[probe]]
name = "hall-air"
driver = "hwmon"
device = "lm75"
channel = "temp1"
root = "{root}"
every = "1 s"
"""
LIMIT_S = 4  # the manager's


class Manager:
    """What a service manager hears, and when."""

    def __init__(self, folder):
        self.path, self.pings = folder / "notify", []
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(str(self.path))
        threading.Thread(target=self.run, daemon=True).start()

    def run(self):
        while True:
            if b"WATCHDOG=1" in self.socket.recv(4096):
                self.pings.append(time.monotonic())

    def silent_for(self):
        return time.monotonic() - self.pings[-1]


def what_measures_nothing_is_not_vouched_for():
    hook, kitchen = Webhook(), Kitchen("")
    instrument = Instrument(kitchen.folder)
    chip = kitchen.folder / "class/hwmon/hwmon0"
    chip.mkdir(parents=True)
    (chip / "name").write_text("lm75\n")
    (chip / "temp1_input").write_text("21000\n")
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, band="") + BLOCKED.format(root=kitchen.folder))
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed, manager = Feed(instrument, 65), Manager(kitchen.folder)
    told = {"NOTIFY_SOCKET": str(manager.path), "WATCHDOG_USEC": str(LIMIT_S * 1_000_000)}
    kitchen.start(**told)
    air = lambda: next(p for p in kitchen.json("now")["probes"] if p["name"] == "hall-air")
    wait_for("the hall's air", 20, lambda: air()["celsius"] == 21)
    wait_for("a ping", 20, lambda: manager.pings)

    os.mkfifo(chip / "new")  # a read of it waits for a writer, for ever
    os.rename(chip / "new", chip / "temp1_input")
    wait_for("the fault", 60, lambda: air()["celsius"] is None and air()["fault"])
    time.sleep(2 * LIMIT_S)
    assert manager.silent_for() < LIMIT_S, "one device that hangs ends the watching of all others"
    assert next(p for p in kitchen.json("now")["probes"] if p["name"] == "pot")["celsius"] == 65

    kitchen.process.send_signal(signal.SIGSTOP)
    time.sleep(LIMIT_S + 1)
    assert manager.silent_for() > LIMIT_S, "a daemon that stands still is vouched for"
    os.unlink(chip / "temp1_input")
    (chip / "temp1_input").write_text("22000\n")
    os.kill(kitchen.process.pid, signal.SIGCONT)
    kitchen.stop(signal.SIGABRT)  # as the manager does at its limit
    kitchen.start(**told)
    wait_for("the hall's air again", 30, lambda: air()["celsius"] == 22)
    wait_for("a ping of the new one", 30, lambda: manager.silent_for() < LIMIT_S)
    wait_for("the record of both starts", 20, lambda: kitchen.sql("SELECT count(*) FROM event WHERE name = 'started'")[0][0] == 2)
    feed.going = False
    kitchen.stop()


if __name__ == "__main__":
    main([what_measures_nothing_is_not_vouched_for])
