"""Recordings of a tip that is not in the food: in air that warms or cools as slowly as a small core might, on the
pan, through the far side. The truth is the core of the dish that lies beside it. No probe tells of the medium, and
no thickness is said, so that only the way of the reading can show it."""
import math

import rules
from rules import HOUR, celsius

# Air that is slower still moves no faster than the core of a thin dish may (18 K in 25 min): by its way alone nobody
# can tell it from one.
TIME_CONSTANTS_MIN = [5, 10, 20, 30, 40]


def tip_in_air(r, rng, plain, cadence):
    """Fills `r`: its stages, its truth, its readings."""
    make = rng.choice([warming, warming, lit, lit, on_the_pan, through_the_far_side, cooling, left_lying])
    r.kind = "air-" + make.__name__.replace("_", "-")
    r.food = rng.choice(["ground-poultry", "whole-poultry", "stuffed", "bear-boar", "venison", "ground-meat",
                         "whole-meat", "fresh-ham", "cured-ham", "fish", "egg-dish", "vegetable", "leftover"])
    tau = 60 * rng.choice(TIME_CONSTANTS_MIN) * rng.uniform(0.9, 1.1)
    tip, core = make(r, rng, tau)
    end = r.stages[-1].end
    r.truth = [core(i * r.grid_s) for i in range(int(end / r.grid_s) + 1)]
    r.cadence = cadence or max(rng.choice([1, 2, 5, 10, 15, 30, 60]), math.ceil(end / 4500))
    noise = 0 if plain else rng.choice([0.03, 0.08, 0.15, 0.3])
    t = 0.0
    while t <= end:
        r.times.append(round(t, 1))
        r.core.append(round(tip(t) + rng.gauss(0, noise), 2))
        t += r.cadence
    r.true_probe = [False] * len(r.times)
    r.done_to_it.append(f"the tip is not in the food; time constant {tau / 60:.0f} min")


def dish_core(begin_s, start_c, medium_c):
    """A joint of 10 to 12 cm: its core lags by a quarter of an hour or more and then follows over hours."""
    def core(t):
        since = max(0.0, t - begin_s - 900)
        return start_c + (min(medium_c, 99) - start_c) * (1 - math.exp(-since / 9000)) * (1 - math.exp(-since / 3000))
    return core


def stage(r, does, vessel, begin, end):
    r.stages.append(type(r).STAGE(f"{does}-{len(r.stages) + 1}", does, vessel, begin, end))


def exponential(begin_s, from_c, to_c, tau):
    return lambda t: to_c + (from_c - to_c) * math.exp(-max(0.0, t - begin_s) / tau)


def warming(r, rng, tau):
    """An oven or a smoker that warms from the begin on."""
    to = rng.uniform(75, 125)
    stage(r, "cook", rng.choice(["oven", "smoker"]), 0, rng.uniform(1.5, 3) * HOUR)
    return exponential(0, rng.uniform(8, 30), to, tau), dish_core(0, rng.uniform(3, 8), to)


def lit(r, rng, tau):
    """A cold smoker that is lit after a while, with what the fire needs to burn well."""
    to, at, burns = rng.uniform(80, 125), rng.uniform(300, 3000), rng.choice([0, 0, 20, 60])
    begin = rng.uniform(5, 22)
    stage(r, "cook", "smoker", 0, at + rng.uniform(1.5, 3) * HOUR)

    def tip(t):
        since = max(0.0, t - at)
        if not burns:
            return to + (begin - to) * math.exp(-since / tau)
        way = (tau * math.exp(-since / tau) - burns * math.exp(-since / burns)) / (tau - burns)
        return to + (begin - to) * way
    return tip, dish_core(at, begin, to)


def on_the_pan(r, rng, tau):
    """The tip lies on the tin, which follows the oven in minutes."""
    to = rng.uniform(90, 102)
    stage(r, "cook", "oven", 0, rng.uniform(1, 2) * HOUR)
    return exponential(0, rng.uniform(8, 22), to, max(200, tau / 4)), dish_core(0, rng.uniform(3, 8), to)


def through_the_far_side(r, rng, tau):
    """Most of it is in the air, some of its length in the food."""
    to, share = rng.uniform(85, 125), rng.uniform(0, 0.15)
    stage(r, "cook", "oven", 0, rng.uniform(1.5, 3) * HOUR)
    core, around = dish_core(0, rng.uniform(3, 8), to), exponential(0, rng.uniform(10, 20), to, tau)
    return (lambda t: share * core(t) + (1 - share) * around(t)), core


def cooling(r, rng, tau):
    """Air of a refrigerator that was warm inside, called chilled."""
    r.food = rng.choice(["leftover", "whole-meat", "cured-ham"])
    start, to = rng.uniform(60, 75), rng.uniform(1, 4)
    stage(r, "chill", "fridge", 0, rng.uniform(5, 8) * HOUR)
    return exponential(0, start, to, min(tau, 45 * 60)), exponential(0, start, to, 5.5 * HOUR)


def left_lying(r, rng, tau):
    """Taken out undone; the probe is left on the counter, and in the smoker again while that warms up."""
    out, room, to = rng.uniform(0.8, 1.5) * HOUR, rng.uniform(17, 24), rng.uniform(85, 102)
    start = rng.uniform(3, 8)
    stage(r, "cook", "oven", 0, out + rng.uniform(1.5, 2.5) * HOUR)
    core = dish_core(0, start, 110)
    level, again = core(out), out + rng.uniform(600, 1800)

    def tip(t):
        if t < out:
            return core(t)
        if t < again:
            return room + (level - room) * math.exp(-(t - out) / 12)
        return to + (room - to) * math.exp(-(t - again) / tau)
    return tip, lambda t: core(t) if t < out else room + (level - room) * math.exp(-(t - out) / (3 * HOUR))
