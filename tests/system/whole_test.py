#!/usr/bin/env python3
"""What joins the parts, on the real daemon: the watchdog's pings over minutes in which nothing changes, a switch that is
not there, a day of raw history, a receiver that wants to be left alone, a channel that was dead, the state folder."""
import json
import os
import socket
import sqlite3
import subprocess
import threading
import time

from attack_test import memory_mb
from drive_test import Local
from kitchen_rig import INGLE, LONG, POT_KITCHEN, Instrument, Kitchen, Webhook, free_port, main, wait_for
from peers import Receiver

QUIET = """
[kitchen]
name = "hall"
[[probe]]
name = "old"
driver = "recorded"
file = "rows.csv"
[[probe]]
name = "lid"
driver = "gpio-switch"
chip = "no-such-chip"
line = 3
[[vessel]]
name = "pot"
kind = "pot"
medium = "old"
door = "lid"
[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
"""


class Quiet:
    """Runs beside the other tests: a recording that has ended and a switch that cannot be read."""

    def __init__(self):
        self.hook = Webhook()
        self.kitchen = Kitchen(QUIET.format(http=self.hook.port))
        (self.kitchen.folder / "rows.csv").write_text("time,old [degC]\n0,20\n1,20\n")
        self.manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.manager.bind(str(self.kitchen.folder / "notify"))
        self.began, self.pings = time.monotonic(), []
        self.kitchen.start(NOTIFY_SOCKET=str(self.kitchen.folder / "notify"), WATCHDOG_USEC="4000000")
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self):
        while True:
            if b"WATCHDOG=1" in self.manager.recv(4096):
                self.pings.append(time.monotonic() - self.began)


class Scene:
    """The pot at 65 degC with one more channel; `celsius` moves it."""

    def __init__(self, more=""):
        self.hook = Webhook()
        self.kitchen = Kitchen("")
        self.instrument = Instrument(self.kitchen.folder)
        self.kitchen.file.write_text(POT_KITCHEN.format(port=self.instrument.path, http=self.hook.port, zone="") + more)
        self.celsius = 65.0
        threading.Thread(target=self._play, daemon=True).start()
        self.kitchen.start()

    def _play(self):
        while True:
            self.instrument.send(f"{self.celsius:.2f},40.00\n")
            time.sleep(0.1)

    def in_band(self):
        wait_for("the pot in its band", 40, lambda: self.kitchen.json("now")["vessels"][0]["phase"] == "in band")


def a_switch_that_is_not_there_is_told():
    alarm = wait_for("its alarm", 10, lambda: [a for a in quiet.kitchen.json("now")["alarms"] if a["alarm"] == "switch-lost"])[0]
    assert "no-such-chip" in alarm["text"] and "lid" in alarm["text"], alarm
    wait_for("its notice", 15, lambda: [b for b in quiet.hook.bodies if b["alarm"] == "switch-lost"])


def a_day_of_raw_history_needs_little_memory():
    """86,400 readings of 8 probes, written as the daemon writes its open tail."""
    text = '[kitchen]\nname = "hall"\n'
    for number in range(8):
        text += f'[[probe]]\nname = "p{number}"\ndriver = "simulated"\nof = "{["stockpot", "smoker", "oven", "fridge", "hall", "trout-tub", "goose-core", "boar-core"][number]}"\n'
    kitchen = Kitchen(text)
    kitchen.start()
    wait_for("a calibration of each probe", 20, lambda: kitchen.cli("note", "x") and kitchen.sql("SELECT count(*) FROM calibration")[0][0] == 8)
    kitchen.stop()
    with sqlite3.connect(kitchen.state / "logbook.db") as book:
        ids = [number for (number,) in book.execute("SELECT id FROM calibration ORDER BY id")]
        boot, last = book.execute("SELECT id, last_ms FROM boot ORDER BY id DESC LIMIT 1").fetchone()
        book.execute("UPDATE boot SET first_ms = 0")
        begin = max(0, last - 86_400_000)
        step = (last - begin) // 86_400
        columns = [name for (_, name, *_) in book.execute("PRAGMA table_info(tail)")]
        assert {"boot", "t0", "step", "v"} <= set(columns), columns
        for row in range(8640):
            t0 = begin + row * 10 * step
            v = [[i * step, ids[0], *[72000 + (row * 10 + i + p) % 900 for p in range(8)]] for i in range(10)]
            book.execute("INSERT INTO tail(boot, t0, step, v) VALUES(?,?,?,?)", (boot, t0, 20, json.dumps(v, separators=(",", ":"))))
    kitchen.start()
    wait_for("the tail to be packed", 60, lambda: kitchen.sql("SELECT count(*) FROM tail")[0][0] < 100)
    before = memory_mb(kitchen.process)
    worst = before

    def ask(target):
        nonlocal worst
        link = Local(kitchen.state / "ingled.sock")
        link.request("GET", target)
        answer, body = link.getresponse(), b""
        while part := answer.read(1 << 16):
            body += part
            worst = max(worst, memory_mb(kitchen.process))
        print(f"  {target}: {answer.status}, {len(body) >> 10} KB, grown by {worst - before:.0f} MB", flush=True)
        return answer.status, body

    status, said = ask("/api/history?last=48+h&grain=raw")
    assert status >= 400 and b"coarser grain or a shorter span" in said, (status, said[:300])
    status, body = ask("/api/history?last=48+h&grain=5+min")
    assert status == 200, body[:300]
    grains = (last - begin) // 300_000  # less than a day's where the machine has not run for a day
    for series in json.loads(body)["series"]:
        read = [c for c in series["mean_c"] if c is not None]
        assert len(read) >= grains - 2, (series["probe"], len(read), grains)
    status, body = ask("/api/export?last=48+h")
    assert status == 200, body[:300]
    assert body.count(b"\n") > 86_400
    assert worst - before < 40, f"grown by {worst - before:.0f} MB"
    kitchen.stop()


def a_receiver_that_wants_to_be_left_alone_gets_what_is_high():
    """Retry-After of a day for everything that is low: a high alarm is tried all the same, within its minute."""
    receiver = Receiver("later")
    scene = Scene(f'[[channel]]\nname = "busy"\nkind = "webhook"\nleast = "low"\nurl = "http://127.0.0.1:{receiver.port}/n"\n')
    scene.in_band()
    scene.kitchen.cli("timer", "1 s", "the tart")
    wait_for("the first try", 15, lambda: receiver.connections > 0)
    tried = receiver.connections
    began, scene.celsius = time.monotonic(), 80.0
    wait_for("the other channel", 60, lambda: any("stockpot" in b["text"] for b in scene.hook.bodies))
    wait_for("another try", 75, lambda: receiver.connections > tried)
    print(f"  tried again after {time.monotonic() - began:.1f} s, and not after a day", flush=True)
    wait_for("the word of it", 20, lambda: any("not-delivered" in json.dumps(a) for a in scene.kitchen.json("now")["alarms"]))
    scene.kitchen.stop()


def a_channel_that_was_dead_gets_the_newest_word_once():
    port = free_port()
    scene = Scene(f'[[channel]]\nname = "dead"\nkind = "webhook"\nurl = "http://127.0.0.1:{port}/n"\n')
    scene.in_band()
    scene.celsius = 80.0
    wait_for("the alarm", 60, lambda: any("stockpot" in b["text"] for b in scene.hook.bodies))
    scene.celsius = 65.0
    scene.kitchen.cli("ack")
    wait_for("its end", 240, lambda: any("stockpot" in b["text"] and b["kind"] == "cleared" for b in scene.hook.bodies))
    late = Webhook(port=port)
    wait_for("what is left to say", 90, lambda: late.bodies)
    time.sleep(2)
    told = [(b["alarm"], b["kind"]) for b in late.bodies]
    assert told == [("above-band", "cleared")], told
    scene.kitchen.stop()


def one_state_folder_for_the_daemon_and_the_command():
    kitchen = Kitchen('[kitchen]\nname = "hall"\nlogbook = "supper.db"\n[[probe]]\nname = "a"\ndriver = "simulated"\nof = "stockpot"\n')
    for number, environment in enumerate(({"INGLE_STATE": "own"}, {"STATE_DIRECTORY": "service"}, {"XDG_STATE_HOME": "home"})):
        variables = {**{name: value for name, value in os.environ.items() if name not in ("INGLE_STATE", "STATE_DIRECTORY", "XDG_STATE_HOME")},
                     **{name: str(kitchen.folder / value) for name, value in environment.items()}}
        kitchen.process = subprocess.Popen([*kitchen.command()[:3]], env=variables, stdout=open(kitchen.folder / "ingled.log", "a"), stderr=subprocess.STDOUT)
        ask = lambda *words: subprocess.run([INGLE, *words], env=variables, capture_output=True, text=True, timeout=30)
        wait_for(f"an answer with {environment}", 15, lambda: ask("now").returncode == 0)
        assert ask("note", f"life {number}").returncode == 0
        kitchen.stop()
        past = ask("history", "a", "last 10 min")  # without the daemon, and with a name of the logbook that only the kitchen file has
        assert past.returncode == 0, past.stderr
        rows = kitchen.folder / "rows.csv"
        rows.write_text("time,pot [degC],core [degC]\n" + "".join(f"{i * 30},80,{20 + i}\n" for i in range(40)))
        kept = ask("import", str(rows), "--as", f"kept-{number}", "--medium", "pot", "--core", "core")
        assert kept.returncode == 0, kept.stderr


def the_watchdog_is_fed_while_nothing_changes():
    time.sleep(max(0.0, (130 if LONG else 68) - (time.monotonic() - quiet.began)))
    gaps = [b - a for a, b in zip([0.0, *quiet.pings], [*quiet.pings, time.monotonic() - quiet.began])]
    print(f"  {len(quiet.pings)} pings in {time.monotonic() - quiet.began:.0f} s, at most {max(gaps):.1f} s apart", flush=True)
    assert max(gaps) < 4.0, f"the service manager would have killed it: {max(gaps):.1f} s without a ping"
    quiet.kitchen.stop()


if __name__ == "__main__":
    quiet = Quiet()
    main([a_switch_that_is_not_there_is_told, one_state_folder_for_the_daemon_and_the_command, a_day_of_raw_history_needs_little_memory,
          a_receiver_that_wants_to_be_left_alone_gets_what_is_high, a_channel_that_was_dead_gets_the_newest_word_once,
          the_watchdog_is_fed_while_nothing_changes])
