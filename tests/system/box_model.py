"""What a box cooks by, and what is true of it: for box_test.py."""
import re
import time

from kitchen_rig import POT_KITCHEN

KITCHEN = POT_KITCHEN.replace("{zone}", "").replace('food = "ground-poultry"', 'food = "ground-poultry"\nplan = "poaching"').replace(
    'medium = "stock"\nband = ["60 degC", "70 degC"]', 'medium = "stock"').replace('unit = "degC"', 'unit = "degC"\ncomma = "separator"') + """
[[probe]]
name = "pan-air"
driver = "serial-line"
port = "{port}"
channel = "3"
unit = "degC"
comma = "separator"
every = "100 ms"

[[probe]]
name = "oven-air"
driver = "serial-line"
port = "{port}"
channel = "4"
unit = "degC"
comma = "separator"
every = "100 ms"

[[vessel]]
name = "pan"
kind = "pot"
medium = "pan-air"
band = ["60 degC", "70 degC"]
on-delay = "0 s"
off-delay = "0 s"

[[vessel]]
name = "oven"
kind = "oven"
medium = "oven-air"
"""
PROBE = """
[[probe]]
name = "{name}-air"
driver = "serial-line"
port = "{port}"
channel = "{channel}"
unit = "degC"
comma = "separator"
every = "100 ms"

[[vessel]]
name = "{name}"
kind = "pot"
medium = "{name}-air"
band = ["{low} degC", "{high} degC"]
"""
LOAF = """
[[dish]]
name = "loaf-{number}"
vessel = "rack-{number}"
food = "whole-meat"
"""
PLAN = """
name = "poaching"
[[stage]]
name = "{first}"
band = ["{low} degC", "{high} degC"]
[[stage]]
name = "rest"
"""
FIRST_STAGES, SECOND_STAGE = ("poach", "simmer"), "rest"
NEVER = ("core-target", "lethality", "cooling", "hot-hold", "cold-hold")  # of a core that has 40 degC all the time
TIMER_S = 20 * 3600


class Files:
    """What the cook wrote into the kitchen file and the plan."""

    def __init__(self, port, http):
        self.base = KITCHEN.format(port=port, http=http)
        self.port, self.first, self.stage_low, self.tub_low, self.racks, self.serve_day, self.book = port, "poach", 60, 55, 0, None, None

    def plan(self):
        return PLAN.format(first=self.first, low=self.stage_low, high=self.stage_low + 10)

    def kitchen(self):
        text = self.base
        if self.book:
            text = text.replace("[kitchen]\n", f'[kitchen]\nlogbook = "{self.book}"\n')
        if self.serve_day:
            text = text.replace('plan = "poaching"', f'plan = "poaching"\nserve-at = "{self.serve_at()}"')
        text += PROBE.format(name="tub", port=self.port, channel=5, low=self.tub_low, high=self.tub_low + 10)
        for number in range(1, self.racks + 1):
            text += PROBE.format(name=f"rack-{number}", port=self.port, channel=5 + number, low=15, high=25) + LOAF.format(number=number)
        return text

    def serve_at(self):
        return self.serve_day and f"2026-12-{self.serve_day:02}T18:30:00Z"

    def wrong(self, now):
        """What is in force is not what the file says."""
        vessels, racks = {v["name"]: v for v in now["vessels"]}, [f"rack-{n}" for n in range(1, self.racks + 1)]
        if set(vessels) != {"stockpot", "pan", "oven", "tub", *racks}:
            return f"the vessels are {sorted(vessels)}, and {racks} were added"
        if [d["name"] for d in now["dishes"]] != ["roll", *(f"loaf-{n}" for n in range(1, self.racks + 1))]:
            return f"the dishes are {[d['name'] for d in now['dishes']]}"
        if limits(vessels["tub"]["band"]) != (self.tub_low, self.tub_low + 10):
            return f"the tub's band is {vessels['tub']['band']}, and the file says {self.tub_low}"
        if now["dishes"][0]["serve_at"] != self.serve_at():
            return f"to be served at {now['dishes'][0]['serve_at']}, and the file says {self.serve_at()}"
        return None


def limits(band):
    return band and (round(band["low_c"], 3), round(band["high_c"], 3))


def spans_in(answer):
    """Of a verdict: "2 min 10 s to 3 min" in seconds."""
    seconds = {"h": 3600, "min": 60, "s": 1}
    return [sum(float(n) * seconds[unit] for n, unit in re.findall(r"([\d.]+) (h|min|s)\b", part)) for part in answer.split(" to ")]


class Things:
    """Timers or reminders, by their texts: each is there, or not, or either where a command was not answered."""

    def __init__(self, what):
        self.what, self.may, self.since = what, {}, {}

    def set(self, text, done, since):
        self.may[text], self.since[text] = {True} if done else {True, False}, since if done else None

    def stopped(self, text, done):
        self.may[text] = {False} if done else {True, False}

    def surely(self):
        return [text for text, may in self.may.items() if may == {True}]

    def wrong(self, listed):
        texts = [one["text"] for one in listed]
        if len(texts) != len(set(texts)) or not set(texts) <= set(self.may):
            return f"the {self.what}s are {texts}, and were {self.may}"
        for text, may in self.may.items():
            if (text in texts) not in may:
                return f"{self.what} {text}: {text in texts}, and it was one of {may}; {texts}"
        for one in listed:
            since, left = self.since[one["text"]], one["left_s"]
            over = one.get("over") or one.get("due")
            if since is not None and left is not None and not over and abs(left - (TIMER_S - (time.monotonic() - since))) > 5:
                return f"{self.what} {one['text']} has {left} s left, and {TIMER_S - (time.monotonic() - since):.0f} are true"
            if since is not None and over:
                return f"{self.what} {one['text']} is said to have come"
        return None

    def learn(self, listed):
        texts = {one["text"] for one in listed}
        self.may = {text: {True} for text in self.may if text in texts}

    def another_boot(self):
        self.since = {text: None for text in self.since}


class Model:
    """What is true. Where a command was not answered it may or may not have been done: then there are several truths."""

    def __init__(self):
        self.notes = []  # said to be on disk
        self.bands = {None}
        self.cooks = {None}
        self.stages = {0}
        self.alarm = None
        self.alarm_states = {"unacknowledged"}
        self.timers, self.reminders = Things("timer"), Things("reminder")
        self.out = {False}  # the oven, of service
        self.highest_cook = 0
        self.began = None  # of the cook, monotonic
        self.one_boot = True  # since then

    def may(self, done, options, new):
        """The truths after a command that leads to `new`."""
        return {new} if done else options | {new}

    def wrong(self, now, files):
        m, dish = self, now["dishes"][0]
        cook = dish["cook"] if dish["begun"] else None
        if cook not in m.cooks:
            return f"the cook is {cook}, and it was one of {m.cooks}"
        if cook is not None:
            stage = 0 if dish["stage"] in FIRST_STAGES else 1 if dish["stage"] == SECOND_STAGE else None
            if stage not in m.stages:
                return f"the stage is {dish['stage']}, number {stage}, and it was one of {m.stages}"
            band = limits(next(v for v in now["vessels"] if v["name"] == "stockpot")["band"])
            if stage == 0 and band != (files.stage_low, files.stage_low + 10):
                return f"the stage's band is {band}, and the plan says {files.stage_low}"
            for verdict in dish["verdicts"]:  # the core has 40 degC all the time
                if verdict["rule"] in NEVER and verdict["answer"] in ("met", "reached"):
                    return f"never hot, never cooled, never held, and called so: {verdict}"
                if verdict["rule"] == "danger-zone" and m.began is not None and m.one_boot and verdict["answer"] != "unknown" and (
                        verdict["answer"].startswith("missed") or spans_in(verdict["answer"])[0] > time.monotonic() - m.began + 5):
                    return f"{time.monotonic() - m.began:.0f} s since its begin, and {verdict}"
            if m.began is not None and m.one_boot and dish["began_age_s"] is not None and abs(dish["began_age_s"] - (time.monotonic() - m.began)) > 5:
                return f"the cook began {dish['began_age_s']} s ago, and it was {time.monotonic() - m.began:.1f} s"
        band = next(v for v in now["vessels"] if v["name"] == "oven")["band"]
        band = band and (round(band["low_c"]), round(band["high_c"]))
        if band not in m.bands:
            return f"the oven's band is {band}, and it was one of {m.bands}"
        if m.alarm is not None:
            alarm = [a for a in now["alarms"] if a["id"] == m.alarm]
            if not alarm:
                return f"alarm {m.alarm} is gone: {now['alarms']}"
            state = "shelved" if alarm[0].get("shelved_for_s") else alarm[0]["state"]
            if state not in m.alarm_states and state != "suppressed-by-design":
                return f"alarm {m.alarm} is {state}, and it was one of {m.alarm_states}"
        return self.timers.wrong(now["timers"]) or self.reminders.wrong(now["reminders"]) or files.wrong(now)

    def silence_is_right(self, now):
        """Its alarm comes with the second after the order."""
        shown = any(a["alarm"] == "out-of-service" and a["active"] and "oven is out" in a["text"] for a in now["alarms"])
        if shown in self.out:
            self.out = {shown}
            return True
        return False

    def learn(self, now):
        m, dish = self, now["dishes"][0]
        m.cooks = {dish["cook"] if dish["begun"] else None}
        m.highest_cook = max(m.highest_cook, dish["cook"] or 0)
        if dish["begun"]:
            m.stages = {0 if dish["stage"] in FIRST_STAGES else 1}
        band = next(v for v in now["vessels"] if v["name"] == "oven")["band"]
        m.bands = {band and (round(band["low_c"]), round(band["high_c"]))}
        for alarm in now["alarms"]:
            if alarm["id"] == m.alarm and alarm["state"] != "suppressed-by-design":
                m.alarm_states = {"shelved" if alarm.get("shelved_for_s") else alarm["state"]}
        m.timers.learn(now["timers"])
        m.reminders.learn(now["reminders"])
