#!/usr/bin/env python3
"""In the emulated machine, under Debian's systemd as process 1: the installed unit as it is. It fills its logbook, is
reloaded, hangs, is started again by the watchdog, and stops; the kernel's filters are the real ones."""
import json
import os
import signal
import sqlite3
import stat
import subprocess
import sys
import time
from pathlib import Path

from guest_parts import Checks

KITCHEN = """
[kitchen]
name = "{name}"
units = "degC"
altitude = "0 m"

[[probe]]
name = "stock"
driver = "simulated"
of = "stockpot"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"

[[dish]]
name = "goose-roll"
vessel = "stockpot"
food = "ground-poultry"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:9/notice"
"""
FILE, STATE = Path("/etc/ingle/kitchen.toml"), Path("/var/lib/ingle")


def run(*words, may_fail=False):
    done = subprocess.run(words, capture_output=True, text=True, timeout=60)
    if done.returncode != 0 and not may_fail:
        raise AssertionError(f"{' '.join(words)}: {done.stdout}{done.stderr}{journal()}")
    return done.stdout.strip()


def journal():
    return subprocess.run(["journalctl", "-u", "ingled", "-n", "30", "--no-pager"], capture_output=True, text=True).stdout


def shown(name):
    return run("systemctl", "show", "ingled", "-p", name, "--value")


def now():
    return json.loads(run("ingle", "--state", str(STATE), "now", "--json"))


def readings():
    with sqlite3.connect(f"file:{STATE}/logbook.db?mode=ro", uri=True, timeout=20) as book:
        return book.execute("SELECT count(*) FROM raw_reading").fetchone()[0]


def wait_for(what, limit, condition):
    end = time.monotonic() + limit
    while time.monotonic() < end:
        try:
            if condition():
                return
        except (AssertionError, sqlite3.Error):
            pass
        time.sleep(0.2)
    raise AssertionError(f"waited {limit} s in vain for {what}: {shown('ActiveState')} {shown('Result')}\n{journal()}")


def users_and_folders_come_with_the_installation(checks):
    run("systemd-sysusers")
    FILE.parent.mkdir(exist_ok=True)
    FILE.write_text(KITCHEN.format(name="village hall"))
    run("systemd-tmpfiles", "--create", "ingle.conf", may_fail=True)
    checks.equal("the kitchen file's mode", oct(stat.S_IMODE(FILE.stat().st_mode)), "0o640")
    groups = run("id", "-Gn", "ingle").split()
    checks.equal("the daemon's groups", groups, ["ingle", "dialout"])


def it_starts_and_fills_its_logbook(checks):
    run("systemctl", "start", "ingled")
    checks.equal("its state", shown("ActiveState"), "active")
    wait_for("readings", 40, lambda: readings() > 5)
    checks.equal("its user", os.stat(f"/proc/{shown('MainPID')}").st_uid, STATE.stat().st_uid)
    checks.equal("the state folder's mode", oct(stat.S_IMODE(STATE.stat().st_mode)), "0o750")
    checks.equal("the logbook's mode", oct(stat.S_IMODE((STATE / "logbook.db").stat().st_mode)), "0o640")
    run("ingle", "--state", str(STATE), "begin", "goose-roll")


def a_reload_keeps_the_process_and_the_cook(checks):
    before = shown("MainPID")
    FILE.write_text(KITCHEN.format(name="barn"))
    run("systemctl", "reload", "ingled")
    wait_for("the changed file", 20, lambda: now()["kitchen"] == "barn")
    checks.equal("the process", shown("MainPID"), before)
    checks.equal("the cook", now()["dishes"][0]["cook"], 1)


def the_watchdog_is_fed(checks):
    time.sleep(10)
    checks.equal("restarts", shown("NRestarts"), "0")


def the_watchdog_ends_one_that_hangs(checks):
    pid = int(shown("MainPID"))
    os.kill(pid, signal.SIGSTOP)
    wait_for("a new process", 40, lambda: shown("NRestarts") == "1" and shown("ActiveState") == "active")
    checks.equal("the process is another one", int(shown("MainPID")) != pid, True)
    wait_for("the cook of before", 20, lambda: now()["dishes"][0]["cook"] == 1)


def it_stops_in_time(checks):
    run("systemctl", "stop", "ingled")
    stamp = lambda name: int(shown(f"{name}TimestampMonotonic")) / 1e6
    checks.note(f"stopped within {stamp('InactiveEnter') - stamp('ActiveExit'):.1f} s of the emulated machine")
    # One that does not end by itself within TimeoutStopSec is killed, and its result is "timeout".
    checks.equal("its result", shown("Result"), "success")
    checks.equal("its status", shown("ExecMainStatus"), "0")
    checks.equal("calls that the filter ended it for", "SIGSYS" in journal() or "Bad system call" in journal(), False)


def its_exposure_is_small(checks):
    text = run("systemd-analyze", "security", "--no-pager", "ingled.service", may_fail=True)
    line = next(line for line in text.splitlines() if "Overall exposure" in line)
    figure = float(line.split(":")[1].split()[0])
    checks.note(f"systemd-analyze security: {figure}")
    checks.equal("at most 1.5", figure <= 1.5, True)


if __name__ == "__main__":
    sys.exit(Checks().run([users_and_folders_come_with_the_installation, it_starts_and_fills_its_logbook, a_reload_keeps_the_process_and_the_cook,
                           the_watchdog_is_fed, the_watchdog_ends_one_that_hangs, it_stops_in_time, its_exposure_is_small]))
