#!/usr/bin/env python3
"""ingle schedule on kitchens of its own, without a daemon and beside the real one; its JSON as the contract has it, and
its calendar as Debian's icalendar reads it, across a change of daylight saving."""
import http.client
import json
import shutil
import signal
import subprocess
import time
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
        # Its 10 min of hands end at 23:00 at the latest; so close to the night nothing may go wrong, so a little earlier.
        assert answer["fits"] and at(first["latest_begin"]).isoformat() == "2026-11-25T22:50:00-05:00", answer
        assert at(first["begin"]).isoformat() == "2026-11-25T22:40:00-05:00", answer
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
            before = datetime.now(timezone.utc)
            kitchen.cli("begin", "tart")
            answer = wait_for("the schedule knows that the tart was begun", 10, lambda: begun(planned(kitchen.state, Path(folder, "kitchen.toml"))))
            tart = next(dish for dish in answer["dishes"] if dish["dish"] == "tart")
            assert before - timedelta(seconds=3) < at(tart["stages"][0]["begin"]) < datetime.now(timezone.utc) + timedelta(seconds=3), tart
            wait_for("the daemon's own is the same", 10, lambda: same_as_the_daemons(kitchen, Path(folder, "kitchen.toml")))
            soon_at, past = ((datetime.now(timezone.utc) + timedelta(minutes=minutes)).isoformat() for minutes in (10, -10))
            assert begun(planned(kitchen.state, Path(folder, "kitchen.toml"), "--at", soon_at))
            assert not begun(planned(kitchen.state, Path(folder, "kitchen.toml"), "--at", past))
            status, out, _ = schedule(kitchen.state, Path(folder, "kitchen.toml"))
            assert "since" in out and "tart" in out and status in (0, 1), out
        finally:
            kitchen.stop()


PAST = """
[kitchen]
name = "hall"
units = "degC"
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
[[vessel]]
name = "pan"
kind = "pot"
[[dish]]
name = "jam"
vessel = "VESSEL"
plan = "jam"
serve-at = "2040-11-26T17:00:00Z"
"""


def past_cooks_of_this_dish_in_this_vessel():
    """How long a stage takes that ends by hand is not known, but for three cooks of it here; one that was left before its
    end teaches nothing, and another vessel is another matter."""
    with TemporaryDirectory() as folder:
        Path(folder, "jam.toml").write_text('name = "jam"\n[[stage]]\nname = "boil"\n[[stage]]\nname = "set"\nuntil = { time = "1 h" }\n')
        kitchen = Kitchen(PAST.replace("VESSEL", "pot"), Path(folder))

        def boiled():
            other = Path(folder, "other.toml")  # of another kitchen with this logbook: by its past alone
            other.write_text(kitchen.file.read_text().replace('"hall"', '"other hall"'))
            (dish,) = json.loads(schedule(kitchen.state, other, "--json")[1])["dishes"]
            return dish["stages"]

        try:
            kitchen.start()
            for cook in range(3):
                assert boiled()[0]["length_s"] is None and "it ends when you say so" in boiled()[0]["source"], (cook, boiled())
                kitchen.cli("begin", "jam")
                time.sleep(2)  # the length that is to be learnt
                kitchen.cli("next", "jam")
                kitchen.cli("end", "jam")
            learnt = wait_for("three past cooks", 10, lambda: boiled() if boiled()[0]["length_s"] is not None else None)
            assert learnt[0]["source"] == "3 past cooks of it here" and 1 <= learnt[0]["low_s"] <= learnt[0]["length_s"] <= learnt[0]["high_s"] <= 30, learnt
            assert learnt[1]["source"] == "the plan" and learnt[1]["length_s"] == 3600, learnt  # never waited for
            # The daemon's own, for the next time that it is wanted.
            kitchen.file.write_text(kitchen.file.read_text().replace("2040-11-26", "2040-11-27"))
            kitchen.process.send_signal(signal.SIGHUP)
            again = wait_for("the new serving time", 15, lambda: daemons_dishes(kitchen))
            assert again[0]["stages"][0]["source"] == "3 past cooks of it here", again
            kitchen.file.write_text(PAST.replace("VESSEL", "pan"))
            assert boiled()[0]["length_s"] is None, boiled()
        finally:
            kitchen.stop()


def daemons_dishes(kitchen):
    """Over a reload a connection may end unanswered."""
    try:
        return kitchen.get("/api/schedule")["dishes"]
    except (OSError, http.client.HTTPException):
        return None


def what_is_not_done_and_what_is_over():
    """A stage that was left raw is not done; a dish whose time has passed is there, with the reason; one that was eaten is
    not asked for again; one that has cooked for days is not over by that."""
    with TemporaryDirectory() as folder:
        text = PAST.replace("VESSEL", "pot").replace("2040-11-26T17", "2020-11-26T17").replace("[[dish]]", '[[probe]]\nname = "c"\ndriver = "simulated"\nof = "goose-core"\n[[dish]]\ncore = "c"\nfood = "ground-poultry"', 1)
        Path(folder, "jam.toml").write_text('name = "jam"\n[[stage]]\nname = "boil"\nband = ["82 degC", "88 degC"]\nuntil = { core = "74 degC" }\n[[stage]]\nname = "keep"\ndoes = "hot-hold"\nat-most = "3 h"\n')
        kitchen = Kitchen(text, Path(folder))
        try:
            kitchen.start()
            first = kitchen.get("/api/schedule")
            assert first["dishes"][0]["state"] == "late" and "is not begun" in first["conflicts"][0]["text"] and first["conflicts"][0]["remedies"], first
            kitchen.cli("begin", "jam", "--when", "5 days ago")
            (dish,) = kitchen.get("/api/schedule")["dishes"]
            assert dish["stages"][0]["began"] and dish["state"] in ("tight", "late"), dish
            left = dish["stages"][0]["length_s"]
            assert left is None and "longer than was expected" in dish["stages"][0]["source"] or left > 600, dish
            kitchen.cli("next", "jam")
            raw = kitchen.get("/api/schedule")
            assert raw["dishes"][0]["state"] == "impossible" and raw["dishes"][0]["ready_at"] is None and not raw["fits"], raw
            assert "boil was left before its end" in raw["conflicts"][0]["text"], raw
            shown = schedule(kitchen.state, kitchen.file)
            assert shown[0] == 1 and "jam is not done by the end of its plan" in shown[1].replace("\n", " ") and "ingle back jam" in shown[1], shown
            kitchen.cli("back", "jam")
            assert kitchen.get("/api/schedule")["dishes"][0]["state"] != "impossible"
            kitchen.cli("end", "jam")
            after = kitchen.get("/api/schedule")
            assert not after["dishes"] and "its cook is ended" in after["left_out"][0]["why"], after
            assert "its cook is ended" in schedule(kitchen.state, kitchen.file)[1].replace("\n", " ")
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
    main([the_contract, overlapping_bands_and_room, the_night, the_calendar, the_other_reader, beside_the_daemon, past_cooks_of_this_dish_in_this_vessel, what_is_not_done_and_what_is_over, mistakes])
