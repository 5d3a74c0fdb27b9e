#!/usr/bin/env python3
"""ingle schedule on kitchens of its own, without a daemon and beside the real one; its JSON as the contract has it, and
its calendar as Debian's icalendar reads it, across a change of daylight saving."""
import json
import shutil
import subprocess
from datetime import datetime, timedelta, timezone
from pathlib import Path
from tempfile import TemporaryDirectory

import icalendar

from kitchen_rig import INGLE, LONG, Kitchen, main, wait_for

HALL = """
[kitchen]
name = "hall"
units = "degF"
zone = "America/New_York"
awake = ["06:30", "23:00"]
[serve]
tcp = false
[[probe]]
name = "a"
driver = "simulated"
of = "stockpot"
[[vessel]]
name = "oven"
kind = "oven"
room-for = {room}
[[vessel]]
name = "pot"
kind = "pot"
medium = "a"
[[vessel]]
name = "fridge"
kind = "fridge"
band = ["33 degF", "41 degF"]
room-for = 4
[[dish]]
name = "tart"
vessel = "oven"
plan = "tart"
serve-at = "{day}T17:00:00{offset}"
[[dish]]
name = "loaf"
vessel = "oven"
plan = "loaf"
serve-at = "{day}T17:00:00{offset}"
"""
TART = """
name = "tart"
[[stage]]
name = "dough"
does = "chill"
vessel = "fridge"
until = { time = "15 min" }
at-most = "1 day"
hands = "10 min"
[[stage]]
name = "bake"
band = ["385 degF", "415 degF"]
until = { time = "45 min" }
hands = "10 min"
"""
LOAF = """
name = "loaf"
[[stage]]
name = "bake"
band = ["430 degF", "460 degF"]
until = { time = "40 min" }
hands = "5 min"
[[stage]]
name = "carve"
does = "rest"
vessel = "none"
until = { time = "10 min" }
hands = "10 min"
"""


LONG_NAME = "dough-that-is-rolled-out-thin-and-laid-into-its-tin-before-the-guests-come"


def files(room=1, day="2026-11-26", offset="-05:00"):
    return {"kitchen.toml": HALL.format(room=room, day=day, offset=offset), "tart.toml": TART, "loaf.toml": LOAF}


def write(folder, **changed):
    for name, text in files(**changed).items():
        Path(folder, name).write_text(text)
    return Path(folder, "kitchen.toml")


def schedule(state, kitchen, *words):
    done = subprocess.run([INGLE, "--state", state, "schedule", "--kitchen", kitchen, *words], capture_output=True, text=True)
    return done.returncode, done.stdout, done.stderr


def planned(state, kitchen, *words):
    status, out, err = schedule(state, kitchen, "--json", *words)
    assert not err, err
    answer = json.loads(out)
    assert (status == 0) == answer["fits"], out
    return answer


def at(text):
    moment = datetime.fromisoformat(text)
    assert moment.tzinfo, text
    return moment


def the_contract():
    """Two dishes of one oven at temperatures that exclude each other: the tart waits for nothing, so one of them is late,
    the conflict names the oven, and each remedy that moves a serving time is one."""
    with TemporaryDirectory() as folder:
        kitchen = write(folder)
        answer = planned(folder, kitchen, "--at", "2026-11-26T08:00:00-05:00")
        assert list(answer)[:4] == ["at", "fits", "dishes", "conflicts"] and answer["at"] == "2026-11-26T08:00:00-05:00", answer
        assert not answer["fits"]
        for dish in answer["dishes"]:
            assert dish["state"] in ("fits", "tight", "late", "impossible")
            assert {"dish", "serve_at", "ready_at", "chance", "state", "stages"} <= set(dish)
            ends = [at(stage["end"]) for stage in dish["stages"]]
            begins = [at(stage["begin"]) for stage in dish["stages"]]
            assert ends[:-1] == begins[1:] and ends[-1] == at(dish["ready_at"]) >= at(dish["serve_at"]), dish
            for stage in dish["stages"]:
                assert {"stage", "vessel", "begin", "end", "latest_begin", "length_s", "low_s", "high_s", "hands_s", "source"} <= set(stage)
                assert at(stage["latest_begin"]) >= at(stage["begin"]), stage
        late = [dish["dish"] for dish in answer["dishes"] if dish["state"] == "late"]
        assert len(late) == 1, late
        (conflict,) = answer["conflicts"]
        assert conflict["vessel"] == "oven" and sorted(conflict["dishes"]) == ["loaf", "tart"] and conflict["remedies"], conflict
        assert at(conflict["from"]) < at(conflict["to"])


def overlapping_bands_and_room():
    """Room for two does not help at two temperatures; at one it does."""
    with TemporaryDirectory() as folder:
        kitchen = write(folder, room=2)
        assert not planned(folder, kitchen, "--at", "2026-11-26T08:00:00-05:00")["fits"]
        Path(folder, "loaf.toml").write_text(LOAF.replace('"430 degF", "460 degF"', '"400 degF", "430 degF"'))
        answer = planned(folder, kitchen, "--at", "2026-11-26T08:00:00-05:00")
        assert answer["fits"] and not answer["conflicts"], answer
        hands = sorted((at(stage["begin"]), at(stage["begin"]) + timedelta(seconds=stage["hands_s"]))
                       for dish in answer["dishes"] for stage in dish["stages"] if stage["hands_s"])
        assert len(hands) == 4 and all(a[1] <= b[0] for a, b in zip(hands, hands[1:])), hands


def the_night():
    """A dish that would begin at night begins on the evening before and waits in the cold."""
    with TemporaryDirectory() as folder:
        kitchen = write(folder, room=2)
        text = kitchen.read_text().replace("T17:00:00", "T07:20:00")
        kitchen.write_text(text[:text.index('[[dish]]\nname = "loaf"')])
        answer = planned(folder, kitchen, "--at", "2026-11-25T08:00:00-05:00")
        first, second = answer["dishes"][0]["stages"]
        assert answer["fits"] and at(first["begin"]).isoformat() == "2026-11-25T22:50:00-05:00", answer
        assert first["length_s"] == 900 and at(second["begin"]).isoformat() == "2026-11-26T06:35:00-05:00", answer


def calendar_of_the_change(folder):
    kitchen = write(folder, room=2, day="2026-11-01")
    Path(folder, "loaf.toml").write_text(LOAF.replace('"430 degF", "460 degF"', '"400 degF", "430 degF"'))
    # A summary that is folded, and a description with what is escaped.
    Path(folder, "tart.toml").write_text(TART.replace('name = "dough"', f'name = "{LONG_NAME}"').replace('at-most = "1 day"', 'at-least = "10 min"\nat-most = "1 day"'))
    return planned(folder, kitchen, "--at", "2026-10-31T22:00:00-04:00", "--ics", str(Path(folder, "supper.ics")))


def the_calendar():
    """The instants of the file are those of the JSON, in a kitchen whose clocks go back in the night."""
    with TemporaryDirectory() as folder:
        answer = calendar_of_the_change(folder)
        text = Path(folder, "supper.ics").read_bytes()
        assert all(len(line) <= 75 for line in text.split(b"\r\n")) and b"\n" not in text.replace(b"\r\n", b"")
        assert b"\r\n " in text
        read = icalendar.Calendar.from_ical(text)
        events = {str(event["SUMMARY"]): event for event in read.walk("VEVENT")}
        assert len({str(event["UID"]) for event in events.values()}) == len(events)
        for dish in answer["dishes"]:
            for stage in dish["stages"]:
                where = f" in {stage['vessel']}" if stage["vessel"] else ""
                event = events.pop(f"{dish['dish']}: {stage['stage']}{where}")
                assert event.decoded("DTSTART").astimezone(timezone.utc) == at(stage["begin"]), stage
                assert event.decoded("DTEND").astimezone(timezone.utc) == at(stage["end"]), stage
                assert f"by {stage['source']}" in str(event["DESCRIPTION"]) and ("your hands" in str(event["DESCRIPTION"])) == (stage["hands_s"] > 0)
                alarms = event.walk("VALARM")
                assert len(alarms) == 1 and alarms[0].decoded("TRIGGER") == timedelta(minutes=-10), stage
            event = events.pop(f"serve {dish['dish']}")
            assert event.decoded("DTSTART").astimezone(timezone.utc) == at(dish["serve_at"]), dish
        assert not events, events


def the_other_reader():
    """The same file as ical.js reads it. With INGLE_LONG=1, for it is fetched with npm."""
    if not LONG or not shutil.which("npm"):
        return
    script = """
import ICAL from "ical.js";
import { readFileSync } from "node:fs";
const file = new ICAL.Component(ICAL.parse(readFileSync("supper.ics", "utf8")));
for (const part of file.getAllSubcomponents("vevent")) {
  const event = new ICAL.Event(part);
  console.log(JSON.stringify([event.summary, event.startDate.toJSDate().toISOString(), event.endDate.toJSDate().toISOString()]));
}"""
    with TemporaryDirectory() as folder:
        answer = calendar_of_the_change(folder)
        subprocess.run(["npm", "install", "--silent", "--no-audit", "--no-fund", "ical.js@2.2.1"], cwd=folder, check=True)
        Path(folder, "read.mjs").write_text(script)
        out = subprocess.run(["node", "read.mjs"], cwd=folder, check=True, capture_output=True, text=True).stdout
        read = {name: (at(begin), at(end)) for name, begin, end in map(json.loads, out.replace("Z", "+00:00").splitlines())}
        for dish in answer["dishes"]:
            for stage in dish["stages"]:
                where = f" in {stage['vessel']}" if stage["vessel"] else ""
                assert read.pop(f"{dish['dish']}: {stage['stage']}{where}") == (at(stage["begin"]), at(stage["end"])), stage
            assert read.pop(f"serve {dish['dish']}")[0] == at(dish["serve_at"]), dish
        assert not read, read


def beside_the_daemon():
    """What cooks is planned from where it is, also from a moment to come; at one that is over nothing is known to cook."""
    with TemporaryDirectory() as folder:
        soon = datetime.now(timezone.utc) + timedelta(hours=20)
        text = files(day=f"{soon:%Y-%m-%d}", offset="+00:00", room=2)
        text = {name: body.replace("T17:00:00", f"T{soon:%H:%M}:00").replace('["06:30", "23:00"]', '["00:00", "23:59"]') for name, body in text.items()}
        for name, body in text.items():
            Path(folder, name).write_text(body)
        kitchen = Kitchen(text["kitchen.toml"], Path(folder))
        try:
            kitchen.start()
            kitchen.cli("begin", "tart")
            answer = wait_for("the schedule knows that the tart was begun", 10, lambda: begun(planned(kitchen.state, Path(folder, "kitchen.toml"))))
            tart = next(dish for dish in answer["dishes"] if dish["dish"] == "tart")
            assert abs(at(tart["stages"][0]["begin"]) - datetime.now(timezone.utc)) < timedelta(minutes=5), tart
            wait_for("the daemon's own is the same", 10, lambda: same_as_the_daemons(kitchen, Path(folder, "kitchen.toml")))
            soon_at, past = ((datetime.now(timezone.utc) + timedelta(minutes=minutes)).isoformat() for minutes in (10, -10))
            assert begun(planned(kitchen.state, Path(folder, "kitchen.toml"), "--at", soon_at))
            assert not begun(planned(kitchen.state, Path(folder, "kitchen.toml"), "--at", past))
            status, out, _ = schedule(kitchen.state, Path(folder, "kitchen.toml"))
            assert "since" in out and "tart" in out and status in (0, 1), out
        finally:
            kitchen.stop()


def same_as_the_daemons(kitchen, file):
    """Within one minute, and up to the seconds that the tart has been begun for."""
    answers = planned(kitchen.state, file), kitchen.get("/api/schedule")
    for answer in answers:
        for dish in answer["dishes"]:
            for stage in dish["stages"]:
                if stage.get("began"):
                    stage["begin"] = stage["latest_begin"] = at(stage["begin"]).strftime("%H:%M")
    return answers[0] == answers[1] and begun(answers[1])


def begun(answer):
    return answer if any(stage.get("began") for dish in answer["dishes"] for stage in dish["stages"]) else None


def mistakes():
    with TemporaryDirectory() as folder:
        kitchen = write(folder)
        status, _, err = schedule(folder, kitchen, "--at", "tomorrow")
        assert status == 2 and "--at" in err, err
        kitchen.write_text(kitchen.read_text().replace('"06:30"', '"6.30"'))
        status, _, err = schedule(folder, kitchen)
        assert status == 2 and "kitchen.toml:6:" in err and "kitchen.awake" in err, err


if __name__ == "__main__":
    main([the_contract, overlapping_bands_and_room, the_night, the_calendar, the_other_reader, beside_the_daemon, mistakes])
