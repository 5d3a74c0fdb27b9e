#!/usr/bin/env python3
"""Notices on a desktop: a session bus of its own with Debian's dunst under Xvfb. Urgency, the buttons that acknowledge and
shelve, a notice that is withdrawn because somebody attended to its alarm elsewhere, a desktop that is not there."""
import json
import os
import select
import shutil
import signal
import subprocess
import time

from kitchen_rig import Instrument, Kitchen, Webhook, die_with_parent, main, wait_for
from reload_test import Feed
from told_test import KITCHEN

CHANNEL = """
[[channel]]
name = "counter"
kind = "desktop"
bus = "unix:path={bus}"
shelve-for = "20 min"
"""
BUS = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN" "busconfig.dtd">
<busconfig>
  <type>session</type>
  <listen>unix:path={bus}</listen>
  <policy context="default"><allow send_destination="*"/><allow eavesdrop="true"/><allow own="*"/></policy>
</busconfig>
"""
RULES = """
[global]
    monitor = 0
    dmenu = {folder}/choose
    idle_threshold = 0
    notification_limit = 0
[is_normal]
    msg_urgency = normal
    format = "NORMAL %s %b"
[is_critical]
    msg_urgency = critical
    format = "CRITICAL %s %b"
"""


class Desktop:
    """A bus, a display and dunst; what its menu is asked is answered by the word in the file `choice`."""

    def __init__(self, folder):
        for tool in ("Xvfb", "dunst", "dunstctl", "dbus-daemon"):
            assert shutil.which(tool), f"{tool} is not there; see tools/packages.sh"
        self.folder, self.bus = folder, folder / "bus"
        self.environment = {**os.environ, "DBUS_SESSION_BUS_ADDRESS": f"unix:path={self.bus}"}
        (folder / "bus.conf").write_text(BUS.format(bus=self.bus))  # starts nothing by itself
        self.run("dbus-daemon", "--nofork", f"--config-file={folder}/bus.conf")
        wait_for("the bus", 20, self.bus.exists)
        read, write = os.pipe()
        self.run("Xvfb", "-displayfd", str(write), "-screen", "0", "640x480x24", "-nolisten", "tcp", pass_fds=[write])
        assert select.select([read], [], [], 30)[0], "no display within 30 s"
        self.environment["DISPLAY"] = ":" + os.read(read, 20).decode().strip()
        (folder / "dunstrc").write_text(RULES.format(folder=folder))
        choose = folder / "choose"
        choose.write_text(f'#!/bin/sh\nword=$(cat {folder}/choice)\ntee {folder}/menu | grep -m1 -F "$word"\necho "$word" >{folder}/answered\n')
        choose.chmod(0o755)
        self.show()

    def run(self, *words, **more):
        log = open(self.folder / "desktop.log", "a")
        return subprocess.Popen(words, env=self.environment, stdout=log, stderr=log, preexec_fn=die_with_parent, **more)

    def show(self):
        self.dunst = self.run("dunst", "-config", str(self.folder / "dunstrc"))
        wait_for("dunst", 20, lambda: self.ask("count").returncode == 0)

    def ask(self, *words):
        return subprocess.run(["dunstctl", *words], env=self.environment, capture_output=True, text=True, timeout=20)

    def shown(self):
        return int(self.ask("count", "displayed").stdout or 0)

    def past(self):
        """Those that are closed, oldest first, with what they said."""
        data = json.loads(self.ask("history").stdout)["data"][0]
        return [{key: value["data"] for key, value in one.items()} for one in reversed(data)]

    def buttons(self):
        """What its menu offers."""
        menu = self.folder / "menu"
        menu.unlink(missing_ok=True)
        self.choose("none of them")
        limit = time.monotonic() + 3  # it opens on its own time
        while time.monotonic() < limit and not (menu.exists() and menu.read_text()):
            time.sleep(0.05)
        return menu.read_text() if menu.exists() else ""

    def choose(self, word):
        """Asked again where no menu came: none does while one is still open."""
        answered = self.folder / "answered"
        answered.unlink(missing_ok=True)
        (self.folder / "choice").write_text(word)
        for _ in range(4):
            self.ask("context")
            limit = time.monotonic() + 3
            while time.monotonic() < limit:
                if answered.exists() and word in answered.read_text():
                    return
                time.sleep(0.05)


def stays_over_a_reload_and_a_restart(kitchen, desktop):
    names = iter(("barn", "attic"))

    def read_anew(name):
        kitchen.file.write_text(kitchen.file.read_text().replace(kitchen.json("now")["kitchen"], name))
        kitchen.process.send_signal(signal.SIGHUP)
        wait_for("the changed file", 20, lambda: kitchen.json("now")["kitchen"] == name)

    waits = lambda what: [a for a in kitchen.json("alarms")["alarms"] if a["alarm"] == "timer-over" and what in a["text"] and a["state"] == "unacknowledged"]
    for what, change in (("baste", lambda: read_anew(next(names))), ("fold", lambda: (kitchen.stop(), kitchen.start()))):
        for answer in (lambda: desktop.choose("Acknowledge"), lambda: kitchen.cli("ack")):
            kitchen.cli("timer", "1 s", what)
            wait_for("the timer", 20, lambda: desktop.shown() == 1)
            before = len(desktop.past())
            change()
            # What was before the change ends on its own time: then the buttons must be there, and work.
            wait_for("the end of what was before", 20, lambda: "Acknowledge" in desktop.buttons())
            assert desktop.shown() == 1 and len(desktop.past()) == before, (what, desktop.past())
            assert waits(what)
            answer()
            wait_for("its end on the desktop", 10, lambda: desktop.shown() == 0)
            assert not waits(what), "withdrawn, and not acknowledged"


def a_desktop_shows_and_answers():
    hook, kitchen = Webhook(), Kitchen("")
    desktop, instrument = Desktop(kitchen.folder), Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, band='band = ["60 degC", "70 degC"]') + CHANNEL.format(bus=desktop.bus))
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed = Feed(instrument, 65)
    kitchen.start()
    alarms = lambda: {a["alarm"]: a for a in kitchen.json("alarms")["alarms"]}
    state = lambda: {c["name"]: c for c in kitchen.json("notices")["channels"]}["counter"]
    assert kitchen.cli("notices", "test", "counter").stdout == "counter: delivered\n"
    wait_for("the test on the desktop", 10, lambda: desktop.shown() == 1)
    desktop.ask("close-all")
    assert desktop.past()[0]["summary"] == "This is a test of the channel counter of village hall", desktop.past()

    # A button acknowledges, and who did it is in the record.
    kitchen.cli("timer", "1 s", "peel <b>")
    wait_for("the timer on the desktop", 20, lambda: desktop.shown() == 1)
    desktop.choose("Acknowledge")
    by = "SELECT who FROM alarm_change WHERE name = 'timer-over' AND change = 'acknowledged'"
    assert wait_for("the acknowledgement", 10, lambda: kitchen.sql(by)) == [("counter",)]
    wait_for("its end", 10, lambda: desktop.shown() == 0)
    assert desktop.past()[1]["message"].startswith("NORMAL ") and "peel" in desktop.past()[1]["message"], desktop.past()

    # Somebody attends to it at the command line: it is withdrawn.
    kitchen.cli("timer", "1 s", "stir")
    wait_for("the second timer", 20, lambda: desktop.shown() == 1)
    kitchen.cli("ack")
    wait_for("the withdrawal", 10, lambda: desktop.shown() == 0)

    feed.celsius = 85  # far above the band
    wait_for("the pot on the desktop", 40, lambda: desktop.shown() >= 1)
    desktop.choose("Shelve")
    shelved = wait_for("the shelving", 10, lambda: [a for a in alarms().values() if a["shelved_until"]])[0]
    assert 1100 < shelved["shelved_for_s"] <= 1200, shelved
    wait_for("that it goes", 10, lambda: desktop.shown() == 0)
    assert state()["state"] == "proven", state()
    assert [one["message"] for one in desktop.past() if one["message"].startswith("CRITICAL stockpot")], desktop.past()

    stays_over_a_reload_and_a_restart(kitchen, desktop)

    # Nothing shows anything: said, and shown when something does.
    desktop.dunst.kill()
    desktop.dunst.wait()
    kitchen.cli("timer", "1 s", "carve")
    tried = wait_for("a try in vain", 30, lambda: [n for n in kitchen.json("notices")["notices"] if n["channel"] == "counter" and "carve" in n["text"] and n["attempts"]])[0]
    assert "nothing shows notifications" in tried["attempts"][0]["reason"], tried
    desktop.show()
    wait_for("the timer on the new desktop", 40, lambda: desktop.shown() == 1)

    # One that hangs holds up neither the watching nor the end.
    os.kill(desktop.dunst.pid, signal.SIGSTOP)
    kitchen.cli("timer", "1 s", "garnish")
    wait_for("a notice on its way", 20, lambda: [n for n in kitchen.json("notices")["notices"] if n["channel"] == "counter" and "garnish" in n["text"]])
    feed.going = False
    assert kitchen.stop() < 5


if __name__ == "__main__":
    main([a_desktop_shows_and_answers])
