#!/usr/bin/env python3
"""The record of a day holds what was fed, and nothing that was not: recordings and a real daemon, held against the sheet,
its CSV and its JSON."""
import csv
import datetime
import html.parser
import io
import json
import math
import os
import re
import shutil
import subprocess
import tempfile
import threading
import time
import zoneinfo
from pathlib import Path

from kitchen_rig import INGLE, POT_KITCHEN, Instrument, Kitchen, free_port, main, wait_for

ZONE = zoneinfo.ZoneInfo("America/New_York")
PLAN = """
name = "roast-and-chill"
[[stage]]
name = "roast"
does = "cook"
vessel = "oven"
until = { core = "165 degF" }
[[stage]]
name = "chill"
does = "chill"
vessel = "fridge"
until = { core = "41 degF" }
[[stage]]
name = "keep"
does = "cold-hold"
vessel = "fridge"
"""
KITCHEN = """
[kitchen]
name = "village hall <script>alert(1)</script>"
units = "degF"
zone = "America/New_York"
altitude = "0 m"

[[probe]]
name = "oven-air"
driver = "simulated"
of = "oven"
every = "10 s"
[[probe]]
name = "fridge-air"
driver = "simulated"
of = "fridge"
every = "10 s"
[[probe]]
name = "core"
driver = "simulated"
of = "roast"
every = "10 s"

[[vessel]]
name = "oven"
kind = "oven"
medium = "oven-air"
[[vessel]]
name = "fridge"
kind = "fridge"
medium = "fridge-air"

[[dish]]
name = "roast"
vessel = "oven"
core = "core"
food = "whole-poultry"
shape = "slab"
thickness = "8 cm"
plan = "roast-and-chill"
[[dish]]
name = "tart"
vessel = "oven"
food = "egg-dish"
"""
CAUTION = "Local codes and licensed practice come first"


def fahrenheit(c):
    return c * 9 / 5 + 32


class Fed:
    """What the probes showed from 23:00 on Nov 27: a roast over midnight, chilled; a fridge that was warm from 02:00 to
    02:10, and was not read from 03:00 to 03:40."""

    def __init__(self, begin=datetime.datetime(2025, 11, 27, 23, 0, tzinfo=ZONE), hours=9):
        self.begin, self.rows = begin, []
        core, out = 5.0, None
        for t in range(0, hours * 3600, 10):
            wobble = 0.06 * math.sin(t / 37)
            core += 10 * ((175 - core) / 9000 if out is None else (3 - core) / 5400)
            if out is None and core >= 76:
                out = t
            warm = 3 * 3600 <= t < 3 * 3600 + 600
            hole = 4 * 3600 <= t < 4 * 3600 + 2400
            self.rows.append((t, 175 + 9 * wobble, None if hole else (8 if warm else 3) + wobble, core + wobble / 3))

    def at(self, t):
        return self.begin + datetime.timedelta(seconds=t)

    def of(self, day, column):
        """(time, degC) of that day on the kitchen's clock."""
        return [(self.at(row[0]), row[column]) for row in self.rows if self.at(row[0]).date() == day and row[column] is not None]

    def csv(self):
        lines = ["time,oven-air [degC],fridge-air [degC],core [degC]"]
        return "\n".join(lines + [f"{t},{a:.3f},{'' if b is None else round(b, 3)},{c:.3f}" for t, a, b, c in self.rows]) + "\n"


class State:
    def __init__(self):
        self.folder = Path(tempfile.mkdtemp(prefix="ingle-record-"))
        self.book = self.folder / "state/imported/supper.db"
        (self.folder / "roast-and-chill.toml").write_text(PLAN)
        (self.folder / "kitchen.toml").write_text(KITCHEN)

    def ingle(self, *words, status=0):
        done = subprocess.run([INGLE, "--state", self.folder / "state", *words], capture_output=True,
                              env={**os.environ, "TZ": "Asia/Tokyo", "LC_ALL": "C.UTF-8", "COLUMNS": "160"})
        text = (done.stdout + done.stderr).decode()
        assert done.returncode == status, (words, done.returncode, text)
        return text

    def feed(self, fed, *dishes):
        (self.folder / "supper.csv").write_text(fed.csv())
        begun = [word for dish in dishes for word in ("--begin", dish)]
        self.ingle("import", self.folder / "supper.csv", "--as", "supper", "--kitchen", self.folder / "kitchen.toml", *begun,
                   "--at", "2025-11-27 23:00")

    def record(self, day, *words):
        return self.ingle("record", "--logbook", self.book, "--day", day, *words)

    def json(self, day):
        return json.loads(self.record(day, "--json"))


def moment(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00"))


def near(a, b, s):
    assert abs((moment(a) - b).total_seconds()) <= s, (a, b)


def a_cook_over_midnight_is_told_on_each_day():
    state, fed = State(), Fed()
    state.feed(fed, "roast", "tart")
    eve, day = datetime.date(2025, 11, 27), datetime.date(2025, 11, 28)

    first = state.json("2025-11-27")
    assert first["over"] and first["from"] == "2025-11-27T00:00:00-05:00" and first["to"] == "2025-11-28T00:00:00-05:00", first
    roast, tart = sorted(first["cooking"], key=lambda row: row["dish"])
    assert roast["dish"] == "roast" and roast["probe"] == "core" and roast["reached"] is None and roast["answer"] != "met", roast
    at, hottest = max(fed.of(eve, 3), key=lambda one: one[1])
    assert abs(roast["highest"]["celsius"] - hottest) < 0.1 and abs((moment(roast["highest"]["at"]) - at).total_seconds()) < 60, roast
    # Of a dish without a core probe no temperature is told.
    assert tart["probe"] is None and tart["highest"] is None and tart["reached"] is None and tart["answer"] != "met", tart
    assert first["cooling"] == [], first["cooling"]

    second = state.json("2025-11-28")
    roast = next(row for row in second["cooking"] if row["dish"] == "roast")
    reached = next(at for at, c in fed.of(day, 3) if fahrenheit(c) >= 165)
    near(roast["reached"], reached, 15)
    assert abs(roast["highest"]["celsius"] - max(c for _, c in fed.of(day, 3))) < 0.1, roast
    assert roast["answer"] == "met" and abs(fahrenheit(roast["asked_c"]) - 165) < 0.01, roast
    cooling, = second["cooling"]
    down = lambda limit: next(at for at, c in fed.of(day, 3) if at > reached and fahrenheit(c) <= limit)
    near(cooling["from"], down(135), 15)
    assert abs(fahrenheit(cooling["from_c"]) - 135) < 0.01, cooling
    for step, limit, most in zip(cooling["limits"], (70, 41), (2, 6), strict=True):
        assert abs(fahrenheit(step["limit_c"]) - limit) < 0.01, step
        near(step["at"], down(limit), 15)
        assert step["answer"] == "met", step
        assert step["allowed_s"] <= most * 3600, step
    fridge = next(row for row in second["cold_holding"] if row.get("vessel") == "fridge")
    air = [c for _, c in fed.of(day, 2)]
    assert abs(fridge["lowest"]["celsius"] - min(air)) < 0.01 and abs(fridge["highest"]["celsius"] - max(air)) < 0.01, fridge
    assert abs(fahrenheit(fridge["limit_c"]) - 40) < 0.01 and abs(fridge["beyond_s"] - 600) < 30, fridge
    # Nothing was read from 03:00 to 03:40, and after the recording's end: not one minute of it is filled.
    assert abs(fridge["not_read_s"] - (2400 + 16 * 3600)) < 60, fridge
    hole, after = (one for one in second["not_read"] if one["probe"] == "fridge-air")
    near(hole["from"], fed.at(4 * 3600), 20)
    near(hole["to"], fed.at(4 * 3600 + 2400), 20)
    near(after["from"], fed.at(9 * 3600), 20)
    assert all(near(one["from"], fed.at(9 * 3600), 20) is None for one in second["not_read"] if one["probe"] == "core")


class Page(html.parser.HTMLParser):
    EMPTY = {"meta"}

    def __init__(self, text):
        super().__init__()
        self.open, self.seen, self.text = [], [], ""
        self.feed(text)
        assert self.open == [], self.open

    def handle_starttag(self, tag, attrs):
        self.seen.append(tag)
        assert not [key for key, _ in attrs if key.startswith("on") or key in ("src", "href")], attrs
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open and self.open[-1] == tag, f"</{tag}> closes {self.open[-3:]}"
        self.open.pop()

    def handle_data(self, data):
        self.text += data


def every_form_tells_the_same():
    state = State()
    state.feed(Fed(), "roast")
    facts = state.json("2025-11-28")
    said = state.record("2025-11-28", "--html", state.folder / "record.html", "--csv", state.folder / "record.csv")
    assert "record.html" in said and "record.csv" in said, said
    text = state.record("2025-11-28")
    page = Page((state.folder / "record.html").read_text())
    table = list(csv.DictReader(io.StringIO((state.folder / "record.csv").read_text(), newline="")))
    data = (state.folder / "record.csv").read_bytes()
    assert data.count(b"\n") == data.count(b"\r\n") == len(table) + 1
    assert all(None not in row and None not in row.values() for row in table)  # as many cells as names
    assert state.record("2025-11-28", "--csv", "-").encode() == data, state.record("2025-11-28", "--csv", "-")
    assert CAUTION in text and CAUTION in page.text and CAUTION in facts["caution"]
    assert any(row["item"] == "caution" and CAUTION in row["words"] for row in table)
    assert "script" not in page.seen and "<script>" in page.text  # it is the hall's name, and only that
    roast, = facts["cooking"]
    clock = moment(roast["reached"]).astimezone(ZONE).strftime("%H:%M")
    assert clock in text and clock in page.text, (clock, text)
    target = next(row for row in table if row["form"] == "cooking" and row["item"] == "core target")
    assert target["at"] == roast["reached"] and float(target["limit [degF]"]) == 165 and target["answer"] == "met", target
    highest = next(row for row in table if row["form"] == "cooking" and row["item"] == "highest core")
    assert abs(float(highest["temperature [degF]"]) - fahrenheit(roast["highest"]["celsius"])) < 0.01, highest
    passed = [row for row in table if row["form"] == "cooling" and row["item"] == "limit passed"]
    assert [row["at"] for row in passed] == [step["at"] for step in facts["cooling"][0]["limits"]], passed
    # Another kind of file is not written over.
    state.ingle("record", "--logbook", state.book, "--day", "2025-11-28", "--html", state.folder / "kitchen.toml", status=2)
    assert (state.folder / "kitchen.toml").read_text() == KITCHEN


def a_day_without_readings_is_blank():
    state = State()
    state.feed(Fed(hours=2), "roast")
    for day, clock in (("2025-11-20", 24), ("2025-11-02", 25), ("2025-03-09", 23)):
        facts = state.json(day)
        assert facts["readings"] == 0 and facts["cooking"] == [] and facts["cooling"] == [], facts
        length = (moment(facts["to"]) - moment(facts["from"])).total_seconds()
        assert length == clock * 3600, (day, length)
        for row in facts["cold_holding"]:
            assert row["lowest"] is None and row["highest"] is None and row["beyond_s"] is None, row
        text = state.record(day)
        assert "No probe was read" in text and "None recorded" in text and CAUTION in text, text
    assert "still to come" in state.ingle("record", "--logbook", state.book, "--day", "2126-11-20", status=2)
    assert "not a day" in state.ingle("record", "--logbook", state.book, "--day", "soup", status=2)


def what_a_daemon_was_told_stands_on_it():
    place = tempfile.mkdtemp(prefix="ingle-record-")
    line = Instrument(place)
    kitchen = Kitchen(POT_KITCHEN.replace("{port}", str(line.path)).replace("{http}", str(free_port())).replace("{zone}", ""), place)
    kitchen.start()
    stock = [65.0]

    def feed():
        while True:
            line.send(f"{stock[0]:.1f},20.0\n")
            time.sleep(0.1)
    threading.Thread(target=feed, daemon=True).start()
    wait_for("a reading", 20, lambda: kitchen.json("now")["probes"][0]["celsius"] is not None)
    time.sleep(3)
    kitchen.cli("begin", "roll")
    kitchen.cli("back", "roll")
    nasty = "<b>=cmd</b> \x1b[31mred\x1b[0m"
    kitchen.cli("note", "--about", "stockpot", nasty, check=False)
    kitchen.cli("note", "--about", "stockpot", "=1+1 <i>lid</i>, \"off\"")

    stock[0] = 90.0
    number = wait_for("an alarm", 60, lambda: [alarm for alarm in kitchen.json("now")["alarms"] if alarm["alarm"] == "above-band"])[0]
    number = number.get("id", number.get("number"))
    kitchen.cli("ack", str(number))
    facts = kitchen.json("record")
    assert not facts["over"] and facts["cooking"] == [], facts  # the cook was taken back
    assert any("taken back" in note["text"] for note in facts["notes"]), facts["notes"]
    assert any(note["text"].startswith("=1+1") and note["by"] is None for note in facts["notes"]), facts["notes"]
    alarm = next(one for one in facts["corrective_actions"] if one["alarm"] == "above-band")
    act = next(one for one in alarm["acts"] if one["what"] == "acknowledged")
    assert act["by"] and abs((moment(act["at"]) - datetime.datetime.now(datetime.timezone.utc)).total_seconds()) < 60, act
    kitchen.cli("record", "--html", kitchen.folder / "record.html")
    page = Page((kitchen.folder / "record.html").read_text())
    assert "b" not in page.seen and "i" not in page.seen and "<i>lid</i>" in page.text and "\x1b" not in page.text
    said = kitchen.cli("record").stdout
    assert "\x1b" not in said and act["by"] in said, said
    table = list(csv.DictReader(io.StringIO(kitchen.cli("record", "--csv", "-").stdout, newline="")))
    note = next(row for row in table if row["form"] == "note" and "lid" in row["words"])
    assert note["words"] == "'=1+1 <i>lid</i>, \"off\"", note
    kitchen.stop()


def it_prints_on_one_sheet():
    browser = shutil.which("chromium")
    if not browser:
        print("chromium is not installed: not printed")
        return
    state = State()
    state.feed(Fed(), "roast", "tart")
    page, paper = state.folder / "record.html", state.folder / "record.pdf"
    state.record("2025-11-28", "--html", page)
    subprocess.run([browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-pdf-header-footer",
                    f"--print-to-pdf={paper}", page.as_uri()], check=True, capture_output=True, timeout=120)
    sheets = len(re.findall(rb"/Type\s*/Page\b(?!s)", paper.read_bytes()))
    assert sheets == 1, sheets


if __name__ == "__main__":
    main([a_cook_over_midnight_is_told_on_each_day, every_form_tells_the_same, a_day_without_readings_is_blank,
          what_a_daemon_was_told_stands_on_it, it_prints_on_one_sheet])
