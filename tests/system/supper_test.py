#!/usr/bin/env python3
"""One supper from the word that it is time to begin to the plate, with the real daemon and CLI: a roll that is brined,
poached, rested and kept hot by the clock, with reminders on the way and the power cut in between. The instrument at the
end of the line and the plan are the truth that stages, alarms, notices and the schedule are held against."""
import re
import signal
import subprocess
import threading
import time
from datetime import datetime, timedelta, timezone

from kitchen_rig import INGLE, LONG, Instrument, Kitchen, Webhook, main, wait_for

KITCHEN = """
[kitchen]
name = "hall"
units = "degC"
zone = "America/New_York"
[[probe]]
name = "stock"
driver = "serial-line"
port = "{port}"
channel = "1"
unit = "degC"
[[probe]]
name = "core"
driver = "serial-line"
port = "{port}"
channel = "2"
unit = "degC"
[[vessel]]
name = "tub"
kind = "fridge"
[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
[[dish]]
name = "roll"
vessel = "stockpot"
core = "core"
food = "ground-poultry"
plan = "supper"
serve-at = "{serve}"
[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
"""
PLAN = """
name = "supper"
[[stage]]
name = "brine"
does = "brine"
vessel = "tub"
until = { time = "6 s" }
[[stage]]
name = "poach"
until = { time = "LENGTH s" }
[[stage]]
name = "rest"
does = "rest"
until = { time = "4 s" }
[[stage]]
name = "keep"
does = "hot-hold"
until = { time = "2 min" }
"""


class Supper:
    """The stock is at 60 degC until the roll is in the pot, and gains 1 K in a second from then on."""

    def __init__(self):
        self.hook = Webhook()
        self.kitchen = Kitchen("")
        self.line = Instrument(self.kitchen.folder)
        self.serve = datetime.now(timezone.utc).replace(microsecond=0) + timedelta(minutes=6)
        self.kitchen.file.write_text(KITCHEN.format(port=self.line.path, http=self.hook.port, serve=self.serve.isoformat()))
        (self.kitchen.folder / "supper.toml").write_text(PLAN.replace("LENGTH", "60" if LONG else "12"))
        self.in_pot = None  # since when
        self.open = False
        threading.Thread(target=self._play, daemon=True).start()
        self.kitchen.start()

    def stock(self):
        return 60.0 if self.in_pot is None else min(82.0, 60 + (time.monotonic() - self.in_pot))

    def _play(self):
        while True:
            self.line.send(("open" if self.open else f"{self.stock():.2f}") + ",20.0\n")
            time.sleep(0.5)

    def dish(self):
        return next(dish for dish in self.kitchen.get("/api/now")["dishes"] if dish["name"] == "roll")

    def told(self, alarm, kind="raised"):
        return [body["text"] for body in self.hook.bodies if body["alarm"] == alarm and body["kind"] == kind]

    def ended(self):
        """The name and the length in seconds of each stage that ended, as the logbook has them."""
        rows = self.kitchen.sql("SELECT text FROM event WHERE name='stage-ended'")
        read = [re.match(r"roll: (\w+) ended after (?:(\d+) min ?)?(?:(\d+) s)?", row[0]) for row in rows]
        return [(one[1], 60 * int(one[2] or 0) + int(one[3] or 0)) for one in read]


def from_the_word_to_begin_to_the_plate():
    supper = Supper()
    kitchen = supper.kitchen
    # Before it is begun: its last begin is minutes away, which is told while it can still be begun.
    (text,) = wait_for("the word that its begin is passing", 25, lambda: supper.told("late-for-serving"))
    assert "roll is not begun (stage brine in tub)" in text and "poach" not in text, text
    schedule = kitchen.get("/api/schedule")
    (plan,) = schedule["dishes"]
    assert [stage["stage"] for stage in plan["stages"]] == ["brine", "poach", "rest", "keep"], plan
    kitchen.cli("begin", "roll")
    kitchen.cli("remind", "turn", "the", "roll", "--end-of", "roll")
    kitchen.cli("remind", "skim it", "--at", "68 degC", "--of", "stockpot")
    kitchen.cli("remind", "stir", "--every", "40 min")
    kitchen.cli("remind", "light the lamps", "--at", "in 2 h")
    assert "skim it" in kitchen.cli("remind").stdout and len(kitchen.json("remind")["reminders"]) == 4
    assert "reminders" in kitchen.cli("now").stdout
    kitchen.cli("remind", "stop", "4")
    # The brine ends by itself and the roll waits to be moved; the reminder is of that.
    text = wait_for("the end of the brine", 20, lambda: supper.told("reminder-due"))[0]
    assert "turn the roll (the end of brine of roll)." in text, text
    assert "over; next is poach" == supper.dish()["stage_clock"], supper.dish()
    kitchen.cli("ack")
    supper.in_pot = time.monotonic()
    kitchen.cli("next", "roll")
    time_in_pot = supper.in_pot
    # A broken wire is no crossing; the power goes while the stock climbs.
    wait_for("the stock above 62 degC as it was read", 20, lambda: (kitchen.get("/api/now")["vessels"][1]["celsius"] or 0) > 62)
    supper.open = True
    kitchen.stop(signal.SIGKILL)
    kitchen.start()
    assert supper.dish()["stage"] == "poach", supper.dish()
    assert len(kitchen.json("remind")["reminders"]) == 2
    supper.open = False
    if LONG:
        texts = wait_for("the reminder at 68 degC", 60, lambda: [body["text"] for body in supper.hook.bodies if "skim it" in body["text"]])
        assert time.monotonic() - time_in_pot > 8 + 25, (time.monotonic() - time_in_pot, texts)
    assert "poach" not in dict(supper.ended()), supper.ended()
    # By the clock of the plan, over the outage: then a next stage that needs no other vessel begins by itself.
    wait_for("the roll that is kept hot", 90, lambda: supper.dish()["stage"] == "keep")
    ended = dict(supper.ended())
    assert set(ended) == {"brine", "poach", "rest"}, ended
    assert 5 <= ended["brine"] <= 9 and 3 <= ended["rest"] <= 7 and ended["poach"] >= (60 if LONG else 12), ended
    # Begun and in time: the word that it was late is taken back, and the schedule ends at the table.
    assert not [alarm for alarm in kitchen.get("/api/now")["alarms"] if alarm["alarm"] == "late-for-serving" and alarm["active"]]
    plan = kitchen.get("/api/schedule")["dishes"][0]
    assert [stage["stage"] for stage in plan["stages"]] == ["keep"] and plan["stages"][0]["began"], plan
    # Without --kitchen it is the daemon's.
    own = subprocess.run([INGLE, "--state", kitchen.state, "schedule", "--json"], capture_output=True, text=True)
    assert '"keep"' in own.stdout, own
    kitchen.cli("end", "roll")
    kitchen.stop()


if __name__ == "__main__":
    main([from_the_word_to_begin_to_the_plate])
