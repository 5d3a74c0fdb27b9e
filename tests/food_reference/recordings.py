"""Random recordings of a village-hall cook with known truth: what the core really did, and what its probe said.

The same seed gives the same recording. Whether a moved probe can be known from its readings (the step is more
than a core could do between two samples) is known too: `knowable`."""
import math
import random
from dataclasses import dataclass, field

import air
import rules
import stays
from rules import HOUR, celsius

VESSEL_KINDS = {"oven": "oven", "smoker": "smoker", "pot": "pot", "fridge": "fridge", "hot-box": "hot-box",
                "ice-bath": "bath", "counter": "room"}
CADENCES = [1, 2, 5, 10, 15, 30, 30, 60, 60, 120, 300]
COOKED_FOODS = ["ground-poultry", "whole-poultry", "stuffed", "bear-boar", "venison", "ground-meat", "whole-meat",
                "fresh-ham", "cured-ham", "fish", "egg-dish", "stock", "vegetable"]


@dataclass
class Stage:
    name: str
    does: str
    vessel: str
    begin: float
    end: float
    until_degf: float = 0  # a core target of the plan's; 0: only time


@dataclass
class Recording:
    STAGE = Stage
    seed: int
    kind: str = ""
    food: str = ""
    thickness_m: float = 0.0
    cooling_rule: str = ""
    cadence: float = 30
    stages: list = field(default_factory=list)
    grid_s: float = 10
    truth: list = field(default_factory=list)     # degC of the core, every grid_s
    times: list = field(default_factory=list)
    core: list = field(default_factory=list)      # a number of degC, or a word, or "" (no reading)
    media: dict = field(default_factory=dict)     # vessel: list of degC, as its probe reads
    true_probe: list = field(default_factory=list)  # per row: the core's own reading?
    knowable: bool = True
    has_core: bool = True
    unit: str = "degF"
    done_to_it: list = field(default_factory=list)

    @property
    def end(self):
        return self.times[-1]

    def readings(self):
        return [(t, c if isinstance(c, float) else None) for t, c in zip(self.times, self.core)]

    def true_readings(self):
        return [(t, c) for t, c, ok in zip(self.times, self.core, self.true_probe) if ok and isinstance(c, float)]

    def medium_readings(self):
        """Of the vessel that the dish is in at each moment, where that has a probe."""
        found = []
        for stage in self.stages:
            if stage.vessel in self.media:
                found += [(t, m) for t, m in zip(self.times, self.media[stage.vessel]) if stage.begin <= t < stage.end]
        return found

    def true_core(self, t):
        return self.truth[min(len(self.truth) - 1, int(t / self.grid_s))]

    def true_core_between(self, t):
        """On the straight line between the grid's points."""
        n, part = divmod(t / self.grid_s, 1)
        a, b = (self.truth[min(len(self.truth) - 1, int(n) + k)] for k in (0, 1))
        return a + (b - a) * part


class Kitchen:
    """A dish of two layers, moved from vessel to vessel; it writes down its stages and its truth as it goes."""

    def __init__(self, recording, rng, start_c, thickness_m, room_c):
        self.r, self.rng, self.core, self.shell = recording, rng, start_c, start_c
        radius = thickness_m / 2
        self.tau = radius ** 2 / (1.5e-7 * 5.78)
        self.vessels, self.room_c = {}, room_c
        recording.truth.append(start_c)

    def now(self):
        return (len(self.r.truth) - 1) * self.r.grid_s

    def stage(self, does, vessel, medium_c, most_s, until=None, slow=1.0, target_degf=0):
        """In a vessel until `until(core)` is true or most_s have passed."""
        begin, dt = self.now(), self.r.grid_s
        self.vessels.setdefault(vessel, medium_c)
        medium = min(self.vessels[vessel], 99.0)
        most = max(2, int(most_s / dt))
        for _ in range(most):
            self.shell += (medium - self.shell) * dt / max(0.35 * self.tau * slow, 2 * dt)
            self.core += (self.shell - self.core) * dt / max(0.65 * self.tau, 2 * dt)
            self.r.truth.append(self.core)
            if until and until(self.core):
                break
        self.r.stages.append(Stage(f"{does}-{len(self.r.stages) + 1}", does, vessel, begin, self.now(), target_degf))


def random_recording(seed, plain=False, cadence=None):
    """`plain`: nothing befalls its probe, which has no noise; `cadence`: seconds between its rows."""
    rng = random.Random(seed)
    r = Recording(seed)
    if seed % 8 == 7:
        air.tip_in_air(r, rng, plain, cadence)
        return r
    kinds = [cook, cook_and_chill, chill_warm, cook_chill_reheat, reheat, brine, hot_hold, cold_hold, cycles, bear]
    make = stays.hot_stays if seed % 40 == 26 else kinds[seed % len(kinds)]
    r.kind = make.__name__.replace("_", "-")
    r.thickness_m = rng.choice([0.03, 0.05, 0.07, 0.09, 0.12])
    r.food = rng.choice(COOKED_FOODS)
    r.unit = rng.choice(["degF", "degF", "degC"])
    kitchen = make(r, rng)
    if rng.random() < 0.06:
        r.food = ""
    if rng.random() < 0.15:
        r.cooling_rule = rng.choice(["fsis-1", "fsis-3"])
    sample(r, rng, kitchen, plain, cadence)
    if make is stays.hot_stays and r.has_core:
        r.media = {}  # it was no one level
    if rng.random() < 0.5:
        r.thickness_m = 0.0  # the kitchen file does not say it
    return r


def heat(rng):
    return rng.choice([("oven", celsius(rng.uniform(300, 420))), ("smoker", celsius(rng.uniform(190, 250))),
                       ("pot", celsius(rng.uniform(178, 205)))])


def cold(rng):
    return rng.choice([("fridge", rng.uniform(1.5, 6.5), rng.uniform(1.5, 5)), ("ice-bath", 0.5, 1.0),
                       ("fridge", rng.uniform(1.5, 4.0), rng.uniform(1, 2))])


def begin(r, rng, start_c):
    return Kitchen(r, rng, start_c, r.thickness_m, rng.uniform(17, 24))


def near_target(r, rng):
    """Sometimes well over what the class asks for, sometimes just below it."""
    target = rules.TARGETS.get(r.food)
    degf = target.degf if target else rng.choice([150, 170, 190])
    return celsius(degf + rng.choice([-12, -6, -2, 1, 3, 8, 15]))


def do_cook(r, rng, k):
    vessel, medium = heat(rng)
    goal = near_target(r, rng)
    plan_target = rng.choice([0, 0, 0, rng.choice([120, 145, 150, 160, 165])])
    k.stage("cook", vessel, medium, rng.uniform(3, 7) * HOUR, lambda c: c >= goal, target_degf=plan_target)


def do_chill(r, rng, k, most_h=9):
    if rng.random() < 0.35:
        k.stage("rest", "counter", k.room_c, rng.uniform(0.1, 3.2) * HOUR, slow=rng.uniform(1, 4))
    vessel, medium, slow = cold(rng)
    goal = rng.choice([3.0, 4.5, 4.8, 8.0, 15.0])
    k.stage("chill", vessel, medium, rng.uniform(2, most_h) * HOUR, lambda c: c <= goal, slow)
    if rng.random() < 0.5:
        k.stage("cold-hold", vessel, medium, rng.uniform(0.5, 3) * HOUR, slow=slow)


def cook(r, rng):
    k = begin(r, rng, rng.uniform(2, 20))
    do_cook(r, rng, k)
    if rng.random() < 0.5:
        k.stage("rest", "counter", k.room_c, rng.uniform(5, 60) * 60, slow=3)
    return k


def cook_and_chill(r, rng):
    k = begin(r, rng, rng.uniform(2, 20))
    do_cook(r, rng, k)
    do_chill(r, rng, k)
    return k


def chill_warm(r, rng):
    k = begin(r, rng, celsius(rng.uniform(100, 200)))
    do_chill(r, rng, k)
    return k


def cook_chill_reheat(r, rng):
    k = cook_and_chill(r, rng)
    do_reheat(rng, k)
    return k


def do_reheat(rng, k):
    vessel, medium = heat(rng)
    goal = celsius(rng.choice([120, 138, 155, 163, 167, 172]))
    k.stage("reheat", vessel, medium, rng.uniform(1, 4) * HOUR, lambda c: c >= goal, rng.choice([1, 1, 3]))


def reheat(r, rng):
    r.food = rng.choice(["leftover", "leftover", r.food])
    k = begin(r, rng, rng.uniform(2, 8))
    do_reheat(rng, k)
    if rng.random() < 0.5:
        k.stage("hot-hold", "hot-box", celsius(rng.uniform(120, 175)), rng.uniform(0.5, 3) * HOUR, slow=2)
    return k


def brine(r, rng):
    r.food = rng.choice(["whole-poultry", "fresh-ham", "venison", "fish"])
    r.grid_s = 30
    k = begin(r, rng, rng.uniform(1, 9))
    warm = rng.random() < 0.3
    k.stage("brine", "fridge", rng.uniform(0.8, 4.5), rng.uniform(5, 20) * HOUR, slow=2)
    if warm:
        k.stage("brine", "counter", k.room_c, rng.uniform(0.5, 5) * HOUR, slow=2)
        k.stage("brine", "fridge", 3.0, rng.uniform(3, 10) * HOUR, slow=2)
    return k


def hot_hold(r, rng):
    k = begin(r, rng, celsius(rng.uniform(138, 185)))
    k.stage("hot-hold", "hot-box", celsius(rng.choice([118, 128, 142, 150, 160, 175]) + rng.uniform(-3, 3)),
            rng.uniform(2, 6) * HOUR, slow=2)
    return k


def cold_hold(r, rng):
    r.grid_s = 30
    k = begin(r, rng, rng.uniform(1, 5))
    for _ in range(rng.choice([1, 1, 2, 3])):
        k.stage("cold-hold", "fridge", rng.uniform(0.8, 4.6), rng.uniform(3, 10) * HOUR, slow=2)
        if rng.random() < 0.4:
            k.stage("cold-hold", "counter", k.room_c, rng.uniform(0.2, 4) * HOUR, slow=2)
    return k


def cycles(r, rng):
    k = begin(r, rng, celsius(rng.uniform(150, 175)))
    for _ in range(rng.choice([1, 2, 3])):
        low, high = celsius(rng.uniform(75, 125)), celsius(rng.choice([128, 140, 150, 168]))
        k.stage("rest", "counter", k.room_c, 5 * HOUR, lambda c: c <= low, 1.5)
        k.stage("cook", "pot", celsius(190), 3 * HOUR, lambda c: c >= high)
    do_chill(r, rng, k)
    return k


def bear(r, rng):
    r.food = "bear-boar"
    k = begin(r, rng, rng.uniform(2, 8))
    vessel, medium = heat(rng)
    goal = celsius(rng.choice([140, 150, 158, 162, 164, 166, 168, 172]))
    k.stage("cook", vessel, medium, 8 * HOUR, lambda c: c >= goal,
            target_degf=rng.choice([0, 0, 120, 145, 165]))
    k.stage("rest", "counter", k.room_c, rng.uniform(5, 40) * 60, slow=4)
    return k


# What the probe says, and what befalls it.
def sample(r, rng, kitchen, plain, cadence):
    end = kitchen.now()
    r.cadence = cadence or max(rng.choice(CADENCES), math.ceil(end / 4500))
    jitter = 0 if plain else rng.choice([0, 0, 0.1])
    t = 0.0
    while t <= end:
        r.times.append(round(t, 1))
        t += r.cadence * (1 if plain else 1 + rng.uniform(-jitter, jitter))  # a plain one draws nothing for its rows
    for vessel, level in kitchen.vessels.items():
        if vessel != "counter" and rng.random() < 0.6:
            r.media[vessel] = [round(level + (0 if plain else rng.gauss(0, 0.3)), 2) for _ in r.times]
    if plain:
        r.core = [round(r.true_core_between(t), 3) for t in r.times]
        r.true_probe = [True] * len(r.times)
        return
    if rng.random() < 0.04 and r.media:
        r.has_core = False
        for stage in r.stages:
            stage.until_degf = 0  # nothing could end it
        r.done_to_it.append("no core probe")
    away = displacements(r, rng, kitchen)
    read_probe(r, rng, away)
    spoil(r, rng)


def displacements(r, rng, kitchen):
    """(begin, end, degC of what the probe lies in) for each time that it is not in the core."""
    found, end = [], kitchen.now()
    for _ in range(rng.choice([0, 0, 0, 1, 1, 2])):
        at_begin = rng.random() < 0.3
        begin_s = 0.0 if at_begin else rng.uniform(0, end * 0.9)
        length = rng.choice([rng.uniform(60, 300), rng.uniform(300, 2400), rng.uniform(600, 7200)])
        stage = next(s for s in r.stages if s.begin <= begin_s < s.end or s is r.stages[-1])
        level = rng.choice([kitchen.vessels[stage.vessel], kitchen.vessels[stage.vessel], kitchen.room_c])
        if any(a < begin_s + length + 900 and begin_s < b + 900 for a, b, _ in found):
            continue
        step = min(abs(r.true_core(begin_s) - level), abs(r.true_core(min(end, begin_s + length)) - level))
        needed = max(25.0, 1.2 * rules.FASTEST_K_PER_S * r.cadence + 5)
        if step < needed:
            if rng.random() < 0.85:
                continue
            r.knowable = False
        found.append((begin_s, begin_s + length, level))
        r.done_to_it.append(f"probe in {level:.0f} degC from {begin_s:.0f} to {begin_s + length:.0f} s")
    return found


def read_probe(r, rng, away):
    noise, lag = rng.choice([0.03, 0.08, 0.15]), rng.uniform(8, 22)
    at, before, in_core = None, 0.0, True
    for t in r.times:
        level = next((c for a, b, c in away if a <= t < b), None)
        goal = r.true_core(t) if level is None else level
        at = goal if at is None else goal + (at - goal) * math.exp(-(t - before) / lag)
        in_core = level is None and (in_core or abs(at - goal) < 0.4)
        if level is None and in_core:
            at = goal
        before = t
        r.core.append(round(at + rng.gauss(0, noise), 2))
        r.true_probe.append(in_core)


def spoil(r, rng):
    """Gaps and faults, at the begin, in the middle, at the end; single spikes."""
    end = r.times[-1]
    for _ in range(rng.choice([0, 0, 1, 1, 2, 3])):
        length = min(rng.choice([rng.uniform(1, 15) * 60, rng.uniform(15, 90) * 60, rng.uniform(1, 6) * HOUR]),
                     end * rng.choice([0.15, 0.4, 0.9]))
        where = rng.choice(["begin", "middle", "middle", "end"])
        a = 0.0 if where == "begin" else end - length if where == "end" else rng.uniform(0, end)
        word = rng.choice(["open", "short", "", "garbled"])
        for i, t in enumerate(r.times):
            if a <= t <= a + length:
                r.core[i] = word
        r.done_to_it.append(f"{word or 'nothing'} from {a:.0f} to {a + length:.0f} s")
    if rng.random() < 0.3:
        spiked = set()
        for _ in range(rng.choice([1, 2, 5])):
            i = rng.randrange(len(r.times))
            spiked.add(i)
            if isinstance(r.core[i], float):
                r.core[i] = round(r.core[i] + rng.choice([-1, 1]) * rng.uniform(6, 60), 2)
                r.true_probe[i] = False
        # Two wild readings side by side, within what a core can do at this rhythm, are a core's to any judge.
        pairs = [(r.core[i], r.core[i + 1]) for i in spiked if i + 1 in spiked]
        r.knowable = r.knowable and not any(
            isinstance(a, float) and isinstance(b, float) and abs(a - b) <= rules.FASTEST_K_PER_S * r.cadence
            for a, b in pairs)
        r.done_to_it.append("spikes")


# As files.
def shown(r, value):
    if not isinstance(value, float):
        return value
    return f"{value * 9 / 5 + 32:.3f}" if r.unit == "degF" else f"{value:.3f}"


def csv_text(r):
    names = ["core"] if r.has_core else []
    columns = [r.core] if r.has_core else []
    for vessel, values in r.media.items():
        names.append(vessel + "-medium")
        columns.append(values)
    lines = ["time," + ",".join(f"{n} [{r.unit}]" for n in names)]
    for i, t in enumerate(r.times):
        lines.append(f"{t:g}," + ",".join(shown(r, column[i]) for column in columns))
    return "\n".join(lines) + "\n"


def kitchen_text(r):
    probes = (["core"] if r.has_core else []) + [v + "-medium" for v in r.media]
    text = '[kitchen]\nname = "village hall"\nunits = "degF"\n'
    for name in probes:
        text += f'\n[[probe]]\nname = "{name}"\ndriver = "recorded"\nfile = "x.csv"\ncolumn = "{name}"\n'
    for vessel in dict.fromkeys(s.vessel for s in r.stages):
        medium = f'medium = "{vessel}-medium"\n' if vessel in r.media else ""
        text += f'\n[[vessel]]\nname = "{vessel}"\nkind = "{VESSEL_KINDS[vessel]}"\n{medium}'
    text += f'\n[[dish]]\nname = "d"\nvessel = "{r.stages[0].vessel}"\nplan = "supper"\n'
    text += 'core = "core"\n' if r.has_core else ""
    text += f'food = "{r.food}"\n' if r.food else ""
    text += f'cooling-rule = "{r.cooling_rule}"\n' if r.cooling_rule else ""
    text += f'shape = "sphere"\nthickness = "{r.thickness_m * 100:g} cm"\n' if r.thickness_m else ""
    return text


def plan_text(r):
    text = 'name = "supper"\n'
    for stage in r.stages:
        text += f'\n[[stage]]\nname = "{stage.name}"\nvessel = "{stage.vessel}"\ndoes = "{stage.does}"\n'
        if stage is not r.stages[-1]:
            text += f'until = {{ time = "{stage.end - stage.begin:g} s" }}\n'
        elif stage.until_degf:
            text += f'until = {{ core = "{stage.until_degf:g} degF" }}\n'
    return text
