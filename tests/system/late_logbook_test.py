#!/usr/bin/env python3
"""A logbook that opens late: another program holds it when the daemon starts. The kitchen is watched at once, and once
the logbook opens every cook, hold and shelving of before is there, with what was done meanwhile."""
import signal
import sqlite3
import time

from kitchen_rig import LONG, Instrument, Kitchen, Webhook, free_port, main, wait_for
from reload_test import Feed

KITCHEN = """
[kitchen]
name = "village hall"
units = "degC"
altitude = "0 m"

[[probe]]
name = "pot"
driver = "serial-line"
port = "{port}"
unit = "degC"
every = "200 ms"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "pot"
on-delay = "0 s"

[[dish]]
name = "goose-roll"
vessel = "stockpot"
food = "ground-poultry"

[[dish]]
name = "quince-tart"
vessel = "stockpot"
food = "egg-dish"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
least = "low"
"""


def everything_of_before_is_taken_up():
    hook = Webhook()
    kitchen = Kitchen("")
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port))
    feed = Feed(instrument, 65)
    kitchen.start()
    kitchen.cli("hold", "stockpot", "60 degC", "70 degC")
    kitchen.cli("begin", "goose-roll")
    wait_for("the band to be held", 60, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band")
    feed.celsius = 75
    number = wait_for("the alarm", 30, lambda: [a["id"] for a in kitchen.json("now")["alarms"] if a["alarm"] == "above-band"])[0]
    kitchen.cli("shelve", str(number), "1 h")
    kitchen.cli("out-of-service", "quince-tart")
    kitchen.cli("timer", "2 h", "tea")
    kitchen.cli("remind", "baste", "--at", "40 degC", "--of", "stockpot")
    unseen = wait_for("an alarm nobody has seen", 20, lambda: [a["id"] for a in kitchen.json("now")["alarms"] if a["alarm"] == "out-of-service"])[0]
    kitchen.stop()

    holder = sqlite3.connect(kitchen.state / "logbook.db", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    began = time.monotonic()
    kitchen.start()
    assert time.monotonic() - began < 8, "the kitchen was not watched while the logbook did not open"
    wait_for("readings", 5, lambda: kitchen.json("now")["vessels"][0]["celsius"])
    assert not kitchen.json("now")["dishes"][0]["begun"], "the logbook cannot have been read"
    shown = kitchen.cli("now").stdout
    assert "not been read yet" in shown and "whether it cooks is not known yet" in shown and "not begun" not in shown, shown
    assert "no alarms\n" not in shown, shown
    health = kitchen.json("now")["daemon"]
    assert not health["recording"] and not health["past_known"], health
    assert kitchen.cli("doctor", check=False).returncode != 0, "the doctor says that readings reach the logbook"
    refused = kitchen.cli("ack", str(number), check=False)
    assert refused.returncode != 0 and "is not read yet" in refused.stderr, refused
    kitchen.cli("ack")  # of what is shown, and of nothing that the logbook holds
    kitchen.cli("begin", "quince-tart")
    kitchen.cli("begin", "goose-roll")  # which cooks: what is said to it now is said to no running cook
    kitchen.cli("end", "goose-roll")
    # Numbers begin at 1 meanwhile: what is stopped by one of them is what was shown under it.
    kitchen.cli("timer", "1 h", "bread")
    kitchen.cli("timer", "3 h", "broth")
    kitchen.cli("timer", "stop", "1")
    kitchen.cli("remind", "stir", "--at", "41 degC", "--of", "stockpot")
    kitchen.cli("remind", "stop", "1")
    assert [t["text"] for t in kitchen.json("now")["timers"]] == ["broth"], kitchen.json("now")["timers"]
    time.sleep(60 if LONG else max(0.0, 13 - (time.monotonic() - began)))
    holder.execute("ROLLBACK")
    holder.close()
    wait_for("what the logbook held", 20, lambda: kitchen.json("now")["dishes"][0]["begun"])
    now = kitchen.json("now")
    assert [d["cook"] for d in now["dishes"]] == [1, 2], now["dishes"]
    assert now["daemon"]["past_known"] and "not been read" not in kitchen.cli("now").stdout
    assert now["vessels"][0]["band"], now["vessels"][0]
    shelved = [a for a in now["alarms"] if a["id"] == number]
    assert shelved and shelved[0]["state"] == "shelved", now["alarms"]
    assert [a["state"] for a in now["alarms"] if a["id"] == unseen] == ["unacknowledged"], now["alarms"]
    assert now["daemon"]["recording"], now["daemon"]
    assert sorted(t["text"] for t in now["timers"]) == ["broth", "tea"], now["timers"]
    assert [r["text"] for r in kitchen.json("remind")["reminders"]] == ["baste"], kitchen.json("remind")
    time.sleep(1)
    kitchen.stop()
    assert kitchen.sql("SELECT id, dish FROM cook WHERE ended_ms IS NULL ORDER BY id") == [(1, "goose-roll"), (2, "quince-tart")]
    assert kitchen.sql("SELECT count(*) FROM event WHERE name = 'past-taken-up'") == [(1,)]
    twice = kitchen.sql("SELECT alarm FROM (SELECT DISTINCT alarm, name, subject FROM alarm_change) GROUP BY alarm HAVING count(*) > 1")
    assert not twice, f"one number for two alarms: {twice}"

    kitchen.start()  # and it is all on disk
    assert [d["cook"] for d in kitchen.json("now")["dishes"]] == [1, 2]
    feed.going = False
    kitchen.stop()


def a_change_read_before_it_opens_is_taken_up_then():
    hook, kitchen = Webhook(), Kitchen("")
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=hook.port)
    kitchen.file.write_text(text)
    feed = Feed(instrument, 65)
    kitchen.start()
    kitchen.cli("begin", "goose-roll")
    kitchen.stop()
    holder = sqlite3.connect(kitchen.state / "logbook.db", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    kitchen.start()
    kitchen.file.write_text(text.replace("village hall", "barn"))
    kitchen.process.send_signal(signal.SIGHUP)
    refused = lambda: [a["text"] for a in kitchen.json("now")["alarms"] if a["alarm"] == "kitchen-file-refused" and a["active"]]
    said = wait_for("that it is not taken up yet", 20, refused)[0]
    assert said.startswith("The changed kitchen file is not taken up yet") and "Once it is, the file is read again" in said, said
    assert kitchen.json("now")["kitchen"] == "village hall"
    holder.execute("ROLLBACK")
    holder.close()
    wait_for("the change", 30, lambda: kitchen.json("now")["kitchen"] == "barn")
    wait_for("the end of the refusal", 20, lambda: not refused())
    assert [(d["name"], d["cook"]) for d in kitchen.json("now")["dishes"] if d["begun"]] == [("goose-roll", 1)], kitchen.json("now")["dishes"]
    feed.going = False
    kitchen.stop()


def a_notice_of_the_late_time_is_of_its_own_alarm():
    """What was acknowledged before has numbers, too. The receiver is away until the logbook is open."""
    port, kitchen = free_port(), Kitchen("")
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=port))
    feed = Feed(instrument, 65)
    rings = lambda: [a for a in kitchen.json("now")["alarms"] if a["alarm"] == "timer-over" and a["state"] == "unacknowledged"]
    kitchen.start()
    for word in ("tea", "broth", "bread"):
        kitchen.cli("timer", "1 s", word)
        wait_for(word, 20, rings)
        kitchen.cli("ack")
    wait_for("its commit", 20, lambda: kitchen.json("now")["daemon"]["committed_age_s"] < 1)
    kitchen.stop(signal.SIGKILL)
    holder = sqlite3.connect(kitchen.state / "logbook.db", isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    kitchen.start()
    kitchen.cli("timer", "1 s", "tart")
    late = wait_for("the timer", 20, rings)[0]["id"]
    holder.execute("ROLLBACK")
    holder.close()
    wait_for("what the logbook held", 30, lambda: kitchen.json("now")["daemon"]["past_known"])
    now = wait_for("the timer still", 20, rings)
    assert now[0]["id"] < 1000 < late, (now, late)
    time.sleep(3)
    hook = Webhook(port=port)
    wait_for("the notice", 60, lambda: [b for b in hook.bodies if "tart" in b["text"]])
    kitchen.cli("ack", str(late), check=False)  # nothing has that number any more
    assert rings(), kitchen.json("now")["alarms"]
    feed.going = False
    kitchen.stop()


def a_stop_before_it_opens_says_what_is_lost():
    hook, kitchen = Webhook(), Kitchen("")
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port))
    feed = Feed(instrument, 65)
    kitchen.start()
    kitchen.stop()
    holder = sqlite3.connect(kitchen.state / "logbook.db", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    kitchen.start()
    wait_for("readings", 10, lambda: kitchen.json("now")["vessels"][0]["celsius"])
    kitchen.stop(limit=20)
    assert "stopped before the logbook opened" in kitchen.log() or "stopped without having recorded" in kitchen.log(), kitchen.log()
    holder.close()
    feed.going = False


def damage_found_at_a_start_is_an_alarm():
    hook = Webhook()
    kitchen = Kitchen("")
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port))
    feed = Feed(instrument, 65)
    kitchen.start()
    kitchen.cli("begin", "goose-roll")
    kitchen.cli("timer", "3 h", "tea")
    kitchen.stop()
    size = kitchen.sql("PRAGMA page_size")[0][0]
    page = kitchen.sql("SELECT rootpage FROM sqlite_master WHERE name = 'memory'")[0][0]
    with open(kitchen.state / "logbook.db", "r+b") as book:
        book.seek((page - 1) * size)
        book.write(b"\xa5" * size)
    kitchen.start()
    told = wait_for("word of the damage", 30, lambda: [b for b in hook.bodies if b["alarm"] == "logbook-damaged"])[0]
    assert "begin it again" in told["text"] and "goose-roll (1)" in told["text"], told
    alarm = [a for a in kitchen.json("now")["alarms"] if a["alarm"] == "logbook-damaged"][0]
    assert alarm["priority"] == "high", alarm
    time.sleep(1)
    kitchen.stop()
    kitchen.start()  # nobody has seen it: it is no all-clear
    assert [a["state"] for a in kitchen.json("now")["alarms"] if a["alarm"] == "logbook-damaged"] == ["unacknowledged"], kitchen.json("now")["alarms"]
    kitchen.cli("ack", str(alarm["id"]))
    wait_for("its end", 10, lambda: not any(a["alarm"] == "logbook-damaged" and a["state"] == "unacknowledged" for a in kitchen.json("now")["alarms"]))
    feed.going = False
    kitchen.stop()


if __name__ == "__main__":
    main([everything_of_before_is_taken_up, a_change_read_before_it_opens_is_taken_up_then, a_notice_of_the_late_time_is_of_its_own_alarm,
          a_stop_before_it_opens_says_what_is_lost, damage_found_at_a_start_is_an_alarm])
