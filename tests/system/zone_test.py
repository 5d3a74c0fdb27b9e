#!/usr/bin/env python3
"""The zone in which the real daemon and CLI tell times, a machine without zones, and moments that are none."""
import http.client
import json
import os
import re
import signal
import subprocess
import threading
from datetime import datetime, timedelta
from unittest import mock
from urllib.parse import quote
from zoneinfo import ZoneInfo

from disk_test import own_mounts
from drive_test import Local
from kitchen_rig import Kitchen, main, wait_for

HALL = """
[kitchen]
name = "hall"
units = "degC"
{zone}
[serve]
tcp = false
[[probe]]
name = "a"
driver = "simulated"
of = "stockpot"
[[vessel]]
name = "pot"
kind = "pot"
medium = "a"
"""


def hall(zone):
    return HALL.format(zone=f'zone = "{zone}"' if zone else "")


def get(kitchen, target):
    link = Local(kitchen.state / "ingled.sock")
    link.request("GET", target)
    answer = link.getresponse()
    return answer.status, answer.read().decode()


def offset_of(text):
    return datetime.fromisoformat(text).utcoffset()


def offset_told(kitchen):
    return offset_of(json.loads(get(kitchen, "/api/now")[1])["at"])


def offset_unless_reloading(kitchen):
    try:
        return offset_told(kitchen)
    except (OSError, http.client.HTTPException):
        return None  # the moment of a reload


def zone_offset(name):
    return datetime.now(ZoneInfo(name)).utcoffset()


def a_zone_that_a_reload_changes():
    """While others read: each time is told in the zone of the file as it was or as it is, and without one in the machine's."""
    kitchen, told, reading = Kitchen(hall("Asia/Kathmandu")), set(), True
    kitchen.start(TZ="<-03>3")

    def read():
        while reading:
            try:
                told.add(offset_told(kitchen))
                rows = get(kitchen, "/api/export?last=10+s")[1].split()[1:]
                told.update(offset_of(row.split(",")[0]) for row in rows if len(row.split(",")[0]) > len("2026-11-26T17:00:00"))
            except (OSError, http.client.HTTPException):
                pass  # the moment of a reload

    readers = [threading.Thread(target=read) for _ in range(4)]
    for reader in readers:
        reader.start()
    expected = []
    for zone, offset in (("Asia/Kathmandu", timedelta(hours=5, minutes=45)), ("Australia/Darwin", timedelta(hours=9, minutes=30)),
                         ("", timedelta(hours=-3)), ("Asia/Kathmandu", timedelta(hours=5, minutes=45))):
        kitchen.file.write_text(hall(zone))
        kitchen.process.send_signal(signal.SIGHUP)
        wait_for(f"times in {zone or 'the zone of TZ'}", 15, lambda: offset_unless_reloading(kitchen) == offset)
        expected.append(offset)
    reading = False
    for reader in readers:
        reader.join()
    assert told == set(expected), f"{told} were told"
    # The log is written in the same zone.
    stamps = [offset_of(stamp) for stamp in re.findall(r"^(\S+) info: .*was read again", kitchen.log(), re.M)]
    assert stamps[-1] == expected[-1] and timedelta(hours=-3) in stamps, stamps
    kitchen.stop()


def a_machine_without_zones():
    """No zone files: times are in UTC, it is said once, and nothing is refused. A POSIX rule needs no files."""
    vienna = zone_offset("Europe/Vienna")
    subprocess.run(["mount", "-t", "tmpfs", "tmpfs", "/usr/share/zoneinfo"], check=True)
    try:
        kitchen = Kitchen(hall("Europe/Vienna"))
        checked = kitchen.cli("check", kitchen.file)
        assert "has no time zones" in checked.stdout, checked
        for zone, tz, offset, said in (("Europe/Vienna", "<-03>3", timedelta(0), "this machine has no time zones"),
                                       ("", "Europe/Vienna", timedelta(0), "times are in UTC"),
                                       ("", "CET-1CEST,M3.5.0,M10.5.0/3", vienna, "")):
            kitchen = Kitchen(hall(zone))
            kitchen.start(TZ=tz)
            assert offset_told(kitchen) == offset, (zone, tz, offset_told(kitchen))
            kitchen.cli("note", "still here")
            if said:
                assert kitchen.log().count(said) == 1, kitchen.log()
            assert ("UTC" in kitchen.log()) == bool(said), kitchen.log()
            with mock.patch.dict(os.environ, TZ=tz):
                shown = kitchen.cli("export", "a", "last 1 h")
            assert shown.stderr.count("times are in UTC") == (1 if tz == "Europe/Vienna" else 0), shown.stderr
            kitchen.stop()
    finally:
        subprocess.run(["umount", "/usr/share/zoneinfo"], check=True)
    refused = kitchen.cli("check", Kitchen(hall("Europe/Nowhere")).file, check=False)
    assert refused.returncode == 2 and "knows no such time zone" in refused.stdout, refused


DISH = """
[[dish]]
name = "tart"
vessel = "pot"
food = "vegetable"
"""


def the_command_line_goes_by_the_kitchens_zone():
    """The machine is in another zone: what is typed and what is told are the kitchen's, with a daemon and without."""
    kitchen, name = Kitchen(hall("Asia/Kathmandu") + DISH), "Asia/Kathmandu"
    with mock.patch.dict(os.environ, TZ="<-03>3"):
        kitchen.cli("dish", "tart", "--serve-at", "5 pm", "--kitchen", str(kitchen.file))
        kitchen.start()
        here = datetime.now(ZoneInfo(name))
        assert 'serve-at = "' in kitchen.file.read_text()
        written = re.search(r'serve-at = "(.*)"', kitchen.file.read_text()).group(1)
        assert (datetime.fromisoformat(written).hour, offset_of(written)) == (17, zone_offset(name)), written
        a_while_ago = (here - timedelta(minutes=10)).strftime("%H:%M")
        said = kitchen.cli("begin", "tart", "--when", a_while_ago).stdout
        assert f"{a_while_ago}, 10 min ago" in said or f"{a_while_ago}, 11 min ago" in said, said
        assert here.strftime("%a %Y-%m-%d %H:") in kitchen.cli("now").stdout
        soon = (here + timedelta(hours=1)).strftime("%H:%M")
        assert f"{soon}" in kitchen.cli("remind", "turn it", "--at", soon).stdout
        assert soon in kitchen.cli("remind").stdout
        kitchen.stop()
        assert a_while_ago in kitchen.cli("cooks").stdout


def moments_that_are_none():
    """Times beyond what a number of milliseconds or four digits of a year can be: each is refused with the reason."""
    kitchen = Kitchen(hall(""))
    kitchen.start(TZ="<-03>3")
    for path in ("history", "alarms", "cooks", "export"):
        for name in ("from", "to"):
            for value in (-2**63, 2**63 - 1, 2**63, -62_167_219_200_001, 253_402_300_800_000, "1e300", "9999-12-31T23:59:59-00:01",
                          "0000-01-01T00:00:00+00:01", "99999-01-01T00:00:00Z"):
                status, text = get(kitchen, f"/api/{path}?{name}={quote(str(value))}")
                assert status == 400 and "in the years 0 to 9999" in text, (path, name, value, status, text)
        for value in ("101000 days", "1e30 s", "9223372036854775807 s", "1e400 s", "-1 h"):
            status, text = get(kitchen, f"/api/{path}?last={quote(value)}")
            assert status == 400 and '\\"last\\"' in text or "last: " in text, (path, value, status, text)
    for value in ("101000 days", "9223372036854775807 h"):
        status, text = get(kitchen, f"/api/history?grain={quote(value)}")
        assert status == 400 and "100 years at most" in text, (value, status, text)
    # The first and the last moment that can be written are answered as what they are, in any zone.
    first, last = -62_167_219_200_000, 253_402_300_799_999
    for path in ("history", "alarms", "cooks"):
        status, text = get(kitchen, f"/api/{path}?from={first}&to={last}")
        assert status == 200, (path, status, text)
    assert json.loads(get(kitchen, f"/api/alarms?from={first}&to={last}")[1])["from"] == "0000-01-01T00:00:00Z"
    assert json.loads(get(kitchen, f"/api/alarms?to={first + 1}")[1])["from"] == "0000-01-01T00:00:00Z"
    for words in (("history", "last 101000 days"), ("history", "last 9223372036854775807 h"), ("history", "99999-01-01"), ("export", "a", "9999-12-31T23:59:59-05:00"),
                  ("history", "a", "last 1 h", "--grain", "101000 days"), ("note", "x", "--when", "9999-12-31T23:59:59-05:00"),
                  ("timer", "9223372036854775807 h"), ("timer", "31 days"), ("shelve", "1", "9223372036854775807 h")):
        done = kitchen.cli(*words, check=False)
        assert done.returncode in (1, 2) and done.stderr, (words, done)
    assert kitchen.json("now")["clock"] != "unknown"
    kitchen.stop()


if __name__ == "__main__":
    own_mounts()
    main([a_zone_that_a_reload_changes, a_machine_without_zones, the_command_line_goes_by_the_kitchens_zone, moments_that_are_none])
