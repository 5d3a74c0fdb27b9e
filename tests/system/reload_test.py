#!/usr/bin/env python3
"""The kitchen file is changed while the daemon watches (field case G7): a valid change is taken up on SIGHUP
without losing the cook or the alarm, a broken one is refused with its reason and the earlier one goes on."""
import fcntl
import os
import signal
import socket
import subprocess
import threading
import time
from datetime import datetime

from kitchen_rig import BUILD, LONG, Instrument, Kitchen, Webhook, die_with_parent, main, wait_for

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
band = ["60 degC", "70 degC"]
on-delay = "1 s"

[[dish]]
name = "goose-roll"
vessel = "stockpot"
food = "ground-poultry"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
least = "low"
"""


class Feed:
    """An instrument that keeps saying the same value."""

    def __init__(self, instrument, celsius):
        self.instrument, self.celsius, self.going = instrument, celsius, True
        self.thread = threading.Thread(target=self.run, daemon=True)
        self.thread.start()

    def run(self):
        while self.going:
            self.instrument.send(f"{self.celsius:.2f}\r\n")
            time.sleep(0.2)


def raised(kitchen):
    return kitchen.sql("SELECT count(*) FROM alarm_change WHERE name = 'above-band' AND change = 'raised'")[0][0]


def a_valid_change_keeps_the_cook_and_the_alarm():
    hook = Webhook()
    kitchen = Kitchen("")
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=hook.port)
    kitchen.file.write_text(text)
    feed = Feed(instrument, 65)
    kitchen.start()
    started = time.monotonic()
    kitchen.cli("begin", "goose-roll")
    wait_for("the band to be held", 120, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band")
    feed.celsius = 75
    wait_for("the alarm", 60, lambda: raised(kitchen) == 1)
    wait_for("its notice", 30, lambda: any(body["alarm"] == "above-band" for body in hook.bodies))

    kitchen.file.write_text(text.replace('name = "village hall"', 'name = "barn"')
                            + '\n[[vessel]]\nname = "larder"\nkind = "room"\n')
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the new vessel", 20, lambda: kitchen.cli("now", check=False).returncode == 0
             and [v["name"] for v in kitchen.json("now")["vessels"]] == ["stockpot", "larder"])
    assert kitchen.process.poll() is None
    now = kitchen.json("now")
    assert now["daemon"]["running_s"] > time.monotonic() - started - 2, "the program runs on, whatever file it reads"
    assert [d["begun"] for d in now["dishes"]] == [True], now["dishes"]
    assert [a["alarm"] for a in now["alarms"]] == ["above-band"], now["alarms"]
    last = kitchen.sql("SELECT max(boot_ms) FROM raw_reading")[0][0] or 0
    wait_for("readings after the change", 30,
             lambda: (kitchen.sql("SELECT max(boot_ms) FROM raw_reading")[0][0] or 0) > last)
    time.sleep(3)
    assert raised(kitchen) == 1, "the alarm was raised again"
    assert sum(body["alarm"] == "above-band" for body in hook.bodies) == 1, hook.bodies

    kitchen.file.write_text(text.replace('["60 degC", "70 degC"]', '["70 degC", "60 degC"]').replace("altitude", "altitud"))
    kitchen.process.send_signal(signal.SIGHUP)
    why = wait_for("the refusal", 20,
                   lambda: kitchen.sql("SELECT text FROM event WHERE name = 'reload-refused'"))[0][0]
    assert "altitud" in why and "60 degC" in why and str(kitchen.file) in why, why
    assert [v["name"] for v in kitchen.json("now")["vessels"]] == ["stockpot", "larder"]
    refused = wait_for("the refusal on the phone", 20,
                       lambda: [b for b in hook.bodies if b["alarm"] == "kitchen-file-refused" and b["kind"] == "raised"])[0]
    assert "altitud" in refused["text"] and "And 1 more" in refused["text"] and refused["priority"] == "low", refused
    feed.celsius = 65
    # Such a fall may be a hand's for a minute and a half.
    wait_for("the all-clear", 240, lambda: any(b["kind"] == "cleared" and b["alarm"] == "above-band" for b in hook.bodies))
    kitchen.file.write_text(text)
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("that the file is good again", 20, lambda: not [a for a in kitchen.json("now")["alarms"]
                                                             if a["alarm"] == "kitchen-file-refused" and a["active"]])
    feed.going = False
    assert kitchen.stop() < 5
    told = [name for (name,) in kitchen.sql("SELECT name FROM event WHERE name IN ('started', 'kitchen-file-read', 'clock-set') ORDER BY id")]
    assert told.count("started") == 1 and told.count("kitchen-file-read") == 2 and told.count("clock-set") <= 1, told


def a_vessel_that_loses_its_probe_is_told():
    """A dish cooks in it, and from the reload on nobody measures there: an alarm, until the probe is back; over a kill too."""
    hook, kitchen = Webhook(), Kitchen("")
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=hook.port)
    kitchen.file.write_text(text)
    feed = Feed(instrument, 65)
    kitchen.start()
    kitchen.cli("begin", "goose-roll")
    kitchen.file.write_text(text.replace('medium = "pot"\nband = ["60 degC", "70 degC"]\n', ""))
    kitchen.process.send_signal(signal.SIGHUP)
    body = wait_for("its notice", 30, lambda: [b for b in hook.bodies if b["alarm"] == "vessel-unwatched"])[0]
    assert body["kind"] == "raised" and body["subject"] == "stockpot", body
    assert "In stockpot cooks goose-roll, and stockpot has no probe in the kitchen file any more" in body["text"], body
    wait_for("that it is noted as delivered", 20, lambda: kitchen.sql("SELECT count(*) FROM outbox WHERE state != 'pending'")[0][0])  # else it comes twice
    kitchen.stop(signal.SIGKILL)
    kitchen.start()
    time.sleep(3)
    assert [a["alarm"] for a in kitchen.json("now")["alarms"] if a["active"]] == ["vessel-unwatched"], kitchen.json("now")["alarms"]
    kitchen.file.write_text(text)
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("its end", 60, lambda: not any(a["active"] for a in kitchen.json("now")["alarms"] if a["alarm"] == "vessel-unwatched"))
    assert sum(b["alarm"] == "vessel-unwatched" and b["kind"] == "raised" for b in hook.bodies) == 1, hook.bodies
    feed.going = False
    kitchen.stop()


def what_a_file_lacks_for_one_start_is_kept():
    """Killed, started with a file in which everything has another name, killed, and started with the first one: the cook, the
    band that was asked for, the shelving, what is out of service and the reminder are there again."""
    hook, kitchen = Webhook(), Kitchen("")
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=hook.port)
    text += text[text.index("[[vessel]]"):text.index("[[dish]]")].replace("stockpot", "kettle").replace('medium = "pot"\n', "").replace(
        'band = ["60 degC", "70 degC"]\n', "")
    kitchen.file.write_text(text)
    feed = Feed(instrument, 65)
    kitchen.start()
    for words in (("begin", "goose-roll"), ("hold", "stockpot", "58 degC", "69 degC", "--for", "2 h"), ("out-of-service", "kettle"),
                  ("remind", "baste", "--at", "40 degC", "--of", "stockpot")):
        kitchen.cli(*words)
    wait_for("the pot in its band", 60, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band")
    feed.celsius = 74
    wait_for("the alarm", 60, lambda: any(a["alarm"] == "above-band" and a["active"] for a in kitchen.json("now")["alarms"]))
    kitchen.cli("shelve", "stockpot", "3 h")

    def state():
        now = kitchen.json("now")
        vessel = next(v for v in now["vessels"] if v["name"] == "stockpot")
        return {"dishes": [(d["name"], d["cook"]) for d in now["dishes"]], "band": vessel["band"],
                "shelved": [(a["id"], a["state"]) for a in now["alarms"] if a["alarm"] == "above-band"],
                "out": [a["text"] for a in now["alarms"] if a["alarm"] == "out-of-service"],
                "reminders": [r["text"] for r in kitchen.json("remind")["reminders"]]}

    def began():
        return datetime.fromisoformat(kitchen.json("now")["dishes"][0]["began"]).timestamp()
    before, begun_at = state(), began()
    assert before["shelved"] and before["shelved"][0][1] == "shelved" and before["reminders"] == ["baste"], before
    wait_for("its commit", 20, lambda: kitchen.json("now")["daemon"]["committed_age_s"] < 1)
    for name in ("stockpot", "goose-roll", "kettle"):
        kitchen.file.write_text(kitchen.file.read_text().replace(f'"{name}"', f'"{name}-2"'))
    for _ in range(2):
        kitchen.stop(signal.SIGKILL)
        kitchen.start()
        time.sleep(6)
    texts = [a["text"] for a in kitchen.json("now")["alarms"] if a["alarm"] == "cook-left-behind"]
    assert texts and texts[0].startswith("goose-roll cooks, and the kitchen file has no such dish any more"), texts
    kitchen.stop(signal.SIGKILL)
    kitchen.file.write_text(text)
    kitchen.start()
    wait_for("all of it again", 20, lambda: state() == before)
    assert abs(began() - begun_at) < 0.5, "a start reads the wall clock anew, to a millisecond or two"
    feed.going = False
    kitchen.stop()


def many_signals_in_a_row_lose_nothing():
    kitchen = Kitchen(KITCHEN.format(port="/dev/null/none", http=9))
    manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    manager.bind(str(kitchen.folder / "notify"))
    manager.settimeout(20)
    kitchen.start(NOTIFY_SOCKET=str(kitchen.folder / "notify"), WATCHDOG_USEC="2000000")
    for _ in range(5):
        kitchen.process.send_signal(signal.SIGHUP)
        time.sleep(0.05)
    wait_for("its answer", 20, lambda: kitchen.cli("now", check=False).returncode == 0)
    assert kitchen.process.poll() is None, kitchen.log()
    kitchen.process.send_signal(signal.SIGHUP)
    said = []
    while said.count("READY=1") < 2 or said[-1] != "WATCHDOG=1":  # the watchdog is fed after a reload as before it
        said.append(manager.recv(4096).decode().splitlines()[0])
    assert "RELOADING=1" in said and "STOPPING=1" not in said, said
    assert kitchen.stop(limit=10) < 10
    assert kitchen.process.returncode == 0, kitchen.log()
    while said[-1] != "STOPPING=1":
        said.append(manager.recv(4096).decode().splitlines()[0])


def a_storm_of_signals_blinds_nobody():
    """Ten a second for 20 s: the probe is read as ever, and what leaves its band meanwhile is told."""
    hook, kitchen = Webhook(), Kitchen("")
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port))
    feed = Feed(instrument, 65)
    kitchen.start()
    wait_for("the band to be held", 60, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band")
    began, left = time.monotonic(), None
    while time.monotonic() - began < 20:
        kitchen.process.send_signal(signal.SIGHUP)
        time.sleep(0.1)
        if not left and time.monotonic() - began > 5:
            left, feed.celsius = time.monotonic(), 75
    assert any(body["alarm"] == "above-band" for body in hook.bodies), "left its band 15 s ago, and nobody was told"
    kitchen.file.write_text(kitchen.file.read_text().replace("village hall", "barn"))
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the last of the changes", 45, lambda: kitchen.json("now")["kitchen"] == "barn")
    time.sleep(2)
    feed.going = False
    kitchen.stop()
    assert sum(body["alarm"] == "above-band" for body in hook.bodies) == 1, hook.bodies
    stamps = [at for (at,) in kitchen.sql("SELECT boot_ms FROM raw_reading ORDER BY boot_ms")]
    widest = max(b - a for a, b in zip(stamps, stamps[1:]))
    print(f"  at most {widest} ms between two readings, {kitchen.log().count('was read again')} changes taken up")
    assert widest < 1000, f"nothing was read for {widest} ms"


PLAN = """
name = "poaching"
[[stage]]
name = "{first}"
band = ["60 degC", "70 degC"]
[[stage]]
name = "rest"
"""


def an_edited_plan_never_ends_a_cook():
    kitchen = Kitchen("")
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=9).replace('band = ["60 degC", "70 degC"]\n', "").replace(
        'food = "ground-poultry"', 'food = "ground-poultry"\nplan = "poaching"'))
    plan = kitchen.folder / "poaching.toml"
    plan.write_text(PLAN.format(first="poach"))
    feed = Feed(instrument, 65)
    kitchen.start()
    kitchen.cli("begin", "goose-roll")

    def stage_after(text, reloads):
        plan.write_text(text)
        kitchen.process.send_signal(signal.SIGHUP)
        told = wait_for("what became of the plan", 20, lambda: (lambda rows: rows if len(rows) == reloads else None)(
            kitchen.sql("SELECT text FROM event WHERE name = 'plan-changed' ORDER BY id")))
        now = kitchen.json("now")
        assert now["vessels"][0]["band"], "its band is off"
        return now["dishes"][0]["stage"], told[-1][0]

    # Nothing but the name of the running stage has changed: it is that one.
    stage, told = stage_after(PLAN.format(first="simmer"), 1)
    assert stage == "simmer" and "changed plan" in told, (stage, told)
    # Which stage is it now? The cook goes on by the plan it began with.
    stage, told = stage_after('name = "poaching"\n[[stage]]\nname = "smoke"\n[[stage]]\nname = "bake"\n[[stage]]\nname = "cool"\n', 2)
    assert stage == "simmer" and "the plan it began with" in told, (stage, told)
    about_the_plan = lambda: [a for a in kitchen.json("now")["alarms"] if a["alarm"] == "plan-not-taken-up" and a["active"]]
    assert "the plan it began with" in wait_for("its alarm", 10, about_the_plan)[0]["text"]
    kitchen.stop(signal.SIGKILL)  # the same after a restart, and told once
    kitchen.start()
    time.sleep(2)
    assert len(about_the_plan()) == 1 and kitchen.sql(
        "SELECT count(*) FROM alarm_change WHERE name = 'plan-not-taken-up' AND change = 'raised'") == [(1,)]
    kitchen.cli("next", "goose-roll")
    assert kitchen.json("now")["dishes"][0]["stage"] == "rest", "the plan it began with goes on to its rest"
    kitchen.cli("end", "goose-roll")
    kitchen.cli("begin", "goose-roll")
    assert kitchen.json("now")["dishes"][0]["stage"] == "smoke", "the next cook is by the plan of now"
    if LONG:
        wait_for("its end", 700, lambda: not about_the_plan())
    feed.going = False
    kitchen.stop()


HANGING = """
[[channel]]
name = "{name}"
kind = "webhook"
url = "http://hangs.example/notice"
least = "low"
"""


def a_resolver_that_hangs_leaves_nothing_unwatched():
    """Over a reload readings go on within two seconds, alarms are told as ever, and the daemon stops in time."""
    hook = Webhook()
    kitchen = Kitchen("")
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=hook.port).replace('on-delay', 'off-delay = "1 s"\non-delay') + HANGING.format(name="mute")
    kitchen.file.write_text(text)
    feed = Feed(instrument, 65)
    kitchen.start(LD_PRELOAD=f"{BUILD}/tests/system/libboard.so")
    wait_for("the band to be held", 60, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band")
    feed.celsius = 75
    wait_for("the notice", 30, lambda: any(body["alarm"] == "above-band" for body in hook.bodies))
    time.sleep(1)  # the other channel asks for its receiver's address
    began = time.monotonic()
    kitchen.file.write_text(text.replace('name = "village hall"', 'name = "barn"'))
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the changed file", 5, lambda: kitchen.json("now")["kitchen"] == "barn")
    print(f"  taken up after {time.monotonic() - began:.1f} s")
    feed.celsius = 65
    wait_for("readings of now", 5, lambda: (kitchen.json("now")["vessels"][0]["celsius"] or 99) < 66)
    if LONG:
        wait_for("the all-clear", 120, lambda: any(body["kind"] == "cleared" for body in hook.bodies))
    length = kitchen.stop(limit=20)
    print(f"  stopped after {length:.1f} s")
    assert length < 8 and kitchen.process.returncode == 0, f"{length} s, {kitchen.process.returncode}"
    stamps = [at for (at,) in kitchen.sql("SELECT boot_ms FROM raw_reading ORDER BY boot_ms")]
    widest = max(b - a for a, b in zip(stamps, stamps[1:]))
    print(f"  at most {widest} ms between two readings")
    assert widest < 2000, f"nothing was watched for {widest} ms"
    assert kitchen.sql("SELECT count(*) FROM event WHERE name = 'gap'") == [(0,)]
    feed.going = False


def a_file_that_cannot_be_read_or_is_a_trap_is_refused():
    kitchen = Kitchen(KITCHEN.format(port="/dev/null/none", http=9))
    good = kitchen.file.read_text()
    kitchen.start()

    def refused(count, word):
        kitchen.process.send_signal(signal.SIGHUP)
        rows = wait_for("the refusal", 20, lambda: (lambda rows: rows if len(rows) == count else None)(
            kitchen.sql("SELECT text FROM event WHERE name = 'reload-refused' ORDER BY id")))
        assert word in rows[-1][0], rows[-1][0]
        assert kitchen.alive() and kitchen.json("now")["kitchen"] == "village hall"

    kitchen.file.unlink()
    kitchen.file.symlink_to("/proc/self/mem")  # reading it is an I/O error
    refused(1, "cannot be read")
    kitchen.file.unlink()
    kitchen.file.write_text(good + ".".join(["a"] * 25_000) + " = 1\n")
    refused(2, f":{len(good.splitlines()) + 1}:")
    kitchen.file.write_text("#" * 2_000_000)
    refused(3, "cannot be read")
    kitchen.stop()


def a_log_that_nobody_reads_holds_up_nothing():
    kitchen = Kitchen(KITCHEN.format(port="/dev/null/none", http=9))
    read_end, write_end = os.pipe()
    fcntl.fcntl(write_end, fcntl.F_SETPIPE_SZ, 4096)
    kitchen.process = subprocess.Popen(kitchen.command(), stderr=write_end, preexec_fn=die_with_parent)
    os.close(write_end)
    wait_for("the daemon's first answer", 15, lambda: kitchen.cli("now", check=False).returncode == 0)
    kitchen.file.write_text(kitchen.file.read_text().replace("altitude", "altitud"))
    for count in range(40):  # each a line of some 200 bytes
        kitchen.process.send_signal(signal.SIGHUP)
        wait_for("the refusal", 10, lambda: kitchen.sql("SELECT count(*) FROM event WHERE name = 'reload-refused'")[0][0] > count)
    assert kitchen.json("now")["kitchen"] == "village hall"
    os.close(read_end)  # and now there is not even a reader
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the refusal", 10, lambda: kitchen.sql("SELECT count(*) FROM event WHERE name = 'reload-refused'")[0][0] > 40)
    assert kitchen.alive()
    kitchen.stop()


if __name__ == "__main__":
    main([a_valid_change_keeps_the_cook_and_the_alarm, a_vessel_that_loses_its_probe_is_told,
          what_a_file_lacks_for_one_start_is_kept, a_storm_of_signals_blinds_nobody, many_signals_in_a_row_lose_nothing, an_edited_plan_never_ends_a_cook,
          a_resolver_that_hangs_leaves_nothing_unwatched, a_file_that_cannot_be_read_or_is_a_trap_is_refused,
          a_log_that_nobody_reads_holds_up_nothing])
