"""Many short lives of one kitchen: readings, alarms, notices and commands are under way when each of them ends, and
the next one must know everything that was acknowledged. For the tests of kill -9 and of power cuts."""
import json
import random
import tempfile
import threading
import time

from kitchen_rig import POT_KITCHEN, Instrument, Kitchen, Webhook, wait_for

COMMIT_INTERVAL = 10  # s: the bound that the README states

# Beside the pot a vessel of its own for the commands, so that they do not silence the pot's alarm.
KITCHEN = POT_KITCHEN.replace("{zone}", "") + """
[[probe]]
name = "oven-air"
driver = "serial-line"
port = "{port}"
channel = "3"
unit = "degC"
every = "100 ms"

[[vessel]]
name = "oven"
kind = "oven"
medium = "oven-air"
band = ["60 degC", "70 degC"]
"""

# An alarm that was active when a life ended is believed over only 10 min later: many pans, each hot for a moment in its
# turn, make alarms and notices of their own all the time.
PANS, TURN, HOT = 60, 5.5, 12.0  # how many; s from one's turn to the next one's; s
PAN = """
[[probe]]
name = "pan-{number}"
driver = "serial-line"
port = "{{port}}"
channel = "{channel}"
unit = "degC"
every = "1 s"

[[vessel]]
name = "pan-{number}"
kind = "pot"
medium = "pan-{number}"
band = ["60 degC", "70 degC"]
on-delay = "0 s"
off-delay = "0 s"
"""
BUSY_KITCHEN = KITCHEN + "".join(PAN.format(number=number, channel=number + 4) for number in range(PANS))


class Lives:
    """`end(kitchen, when)`: how a life ends. It is given "now", or "next write". A kitchen that is `spared` is to live
    until it is ended."""

    def __init__(self, kitchen_class, end, seed):
        self.hook, folder = Webhook(), tempfile.mkdtemp(prefix="ingle-test-")
        self.instrument = Instrument(folder)
        self.kitchen = kitchen_class(BUSY_KITCHEN.format(port=self.instrument.path, http=self.hook.port), folder)
        self.end, self.chance = end, random.Random(seed)
        self.notes = []  # acknowledged: the command said that it was done before the life ended
        self.bands = {(60, 70)}  # what the oven's band may be now
        self.cook, self.may_have_ended = None, False
        self.worst_loss, self.commands, self.unanswered = 0.0, 0, 0
        self.playing = True
        threading.Thread(target=self._play, daemon=True).start()

    def _play(self):
        began = time.monotonic()
        while self.playing:
            second = time.monotonic() - began
            pans = ",".join("74" if (second - TURN * pan) % (TURN * PANS) < HOT and second > TURN else "65" for pan in range(PANS))
            # The pot: inside the band, then above it, then inside, again and again.
            self.instrument.send(f"{65 + (9 if second % 7 > 3 else 0) + 0.01 * (int(second * 10) % 50):.2f},{40 + second / 60:.2f},65.00,{pans}\n")
            time.sleep(0.1)

    def _done(self, *words):
        """True: acknowledged, and said to be on disk."""
        self.commands += 1
        answer = self.kitchen.cli(*words, check=False)
        done = answer.returncode == 0 and "not on disk" not in answer.stdout
        self.unanswered += not done
        return done

    def _note(self, text):
        if self._done("note", text):
            self.notes.append(text)

    def _hold(self):
        low = self.chance.randint(56, 61)
        if self._done("hold", "oven", f"{low} degC", f"{low + 10} degC"):
            self.bands = {(low, low + 10)}
        else:
            self.bands.add((low, low + 10))

    def _new_cook(self):
        self.may_have_ended = True
        if self.cook is not None and not self._done("end", "roll"):
            return
        if self._done("begin", "roll"):
            self._learn_cook()

    def _learn_cook(self):
        answer = self.kitchen.cli("now", "--json", check=False)
        if answer.returncode == 0:
            self.cook, self.may_have_ended = json.loads(answer.stdout)["dishes"][0]["cook"], False

    def _resumed(self, what):
        answer = self.kitchen.cli("now", "--json", check=False)
        if answer.returncode != 0:
            return  # it is gone already; the next life will tell
        now = json.loads(answer.stdout)
        dish, band = now["dishes"][0], next(v["band"] for v in now["vessels"] if v["name"] == "oven")
        if self.cook is not None and not self.may_have_ended:
            assert dish["begun"] and dish["cook"] == self.cook, f"{what}: the cook did not go on: {dish}"
        self.cook, self.may_have_ended = (dish["cook"] if dish["begun"] else None), False
        held = (round(band["low_c"], 3), round(band["high_c"], 3))
        assert held in self.bands, f"{what}: the band is {held}, and it was set to one of {self.bands}"
        self.bands = {held}

    @staticmethod
    def waits_for_a_notice(number):
        return number % 4 == 2

    def live(self, number, long=False, next_long=False):
        what = f"life {number}"
        if self.waits_for_a_notice(number):  # it ends while an alarm is active and the way to its reader is open
            told = len(self.hook.keys)
            wait_for("a notice", 30, lambda: len(self.hook.keys) > told)
            self._note(f"{what}, told")
            self._note(f"{what}, told and gone on")
            self.end(self.kitchen, "now")
        elif long:  # nothing but readings, so that they wait as long as they ever do
            time.sleep(COMMIT_INTERVAL + self.chance.uniform(1, 4))
            self.end(self.kitchen, "next write")
        else:
            latest = time.monotonic() + self.chance.uniform(0.3, 6)
            step = 0
            while self.kitchen.alive() and time.monotonic() < latest:
                step += 1
                if number % 4 == 1 and step % 3 == 2:
                    self._hold()
                elif self.cook is None or (number % 7 == 6 and step == 3):
                    self._new_cook()
                else:
                    self._note(f"{what}, step {step}")
                time.sleep(self.chance.uniform(0, 0.2))
            self.end(self.kitchen, "now")
        ended_ms = getattr(self.kitchen, "ended_ms", time.time() * 1000)
        newest = self.kitchen.sql("SELECT max(boot_ms + offset_ms) FROM reading JOIN boot ON boot.id = reading.boot")[0][0]
        if long:
            assert newest is not None, f"{what}: nothing was recorded"
            self.worst_loss = max(self.worst_loss, (ended_ms - newest) / 1000)
            assert self.worst_loss < COMMIT_INTERVAL + 2, f"{what}: the newest reading is {self.worst_loss:.1f} s old"
        if number % 10 == 9:
            self.check_file()
        self.kitchen.spared = self.waits_for_a_notice(number + 1) or next_long
        self.kitchen.start()
        self._resumed(what)

    def check_file(self):
        assert self.kitchen.sql("PRAGMA integrity_check") == [("ok",)]
        kept = {text for (text,) in self.kitchen.sql("SELECT text FROM event WHERE name = 'note'")}
        lost = [text for text in self.notes if text not in kept]
        assert not lost, f"acknowledged, but gone: {lost}"
        assert not list(self.kitchen.state.glob("*damaged*")), "a sound file was taken for a damaged one"

    def check_readings(self):
        """Inside a life no reading is missing; and none is there twice."""
        starts = sorted(ms for (ms,) in self.kitchen.sql("SELECT started_ms FROM run"))
        rows = self.kitchen.sql("SELECT boot_ms, raw FROM reading WHERE probe = 'stock' ORDER BY boot_ms")
        assert len(rows) == len(set(rows)), "a reading is there twice"  # (two lines in one millisecond differ)
        stamps = [ms for ms, _ in rows]
        holes = [(a, b) for a, b in zip(stamps, stamps[1:]) if b - a > 1500 and not any(a < s <= b for s in starts)]
        assert not holes, f"readings are missing inside a life: {holes[:5]}"

    def run(self, lives, long_each):
        self.kitchen.start()
        self._resumed("the first life")
        for number in range(lives):
            self.live(number, number % long_each == long_each - 1, (number + 1) % long_each == long_each - 1)
        self.playing = False
        pending = lambda: self.kitchen.sql("SELECT count(*) FROM outbox WHERE state = 'pending'")[0][0]
        wait_for("the last notices", 60, lambda: pending() == 0)
        self.kitchen.stop()
        self.check_file()
        self.check_readings()
        # Whatever was to be told was told in the end, though perhaps by a later life.
        outbox = [identity for (identity,) in self.kitchen.sql("SELECT id FROM outbox")]
        missing = [identity for identity in outbox if identity not in set(self.hook.keys)]
        assert not missing, f"in the outbox, but never told: {missing}"
        alarms = self.kitchen.sql("SELECT count(*) FROM alarm WHERE change = 'raised'")[0][0]
        assert alarms >= lives / 4 and len(outbox) > 0, f"only {alarms} alarms and {len(outbox)} notices"
        assert len(self.notes) > lives / 2, f"only {len(self.notes)} notes were acknowledged"
        print(f"  {lives} lives: {self.commands} commands, {self.unanswered} of them cut short; {len(self.notes)} notes, {alarms} alarms,"
              f" {len(outbox)} notices, none lost; readings lost at the end of a long life: at most {self.worst_loss:.1f} s", flush=True)
