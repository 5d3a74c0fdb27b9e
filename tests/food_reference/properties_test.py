#!/usr/bin/env python3
"""What must hold of Ingle's answers about food whatever the recording, by replaying it and a changed copy:

    removed    taking any stretch of readings away never improves an answer
    air        a stretch of air in place of the core never does
    sampling   the same curve read less often gives the same answer or a more cautious one
    a minute   begin and end moved by a minute change nothing but times

A tip that moves as air does is refused for the shape of its way. Where the change takes that shape away, or it is
read too seldom to be seen, nothing is left to refuse it by: such cases are counted apart, and may not be many.

    properties_test.py [--count N] [--first SEED] [--jobs N] [--keep FOLDER] [--show N]"""
import argparse
import collections
import copy
import multiprocessing
import os
import random
import shutil
import sys
import tempfile
from pathlib import Path

import ingle_runs
import recordings
import rules

GATE = 3_000_000
SAMPLINGS = [1, 5, 10, 30, 60, 300]
ACCUSED_SHARE = 0.06
LIMITS_DEGF = [40, 41, 70, 80, 130, 135, 140, 145, 160, 165]
GOOD = {"cooling": {"met", "not-applicable"}}


def answers(r, keep_folder=None):
    """{rule: answer word} and {number: value} that Ingle gives."""
    with tempfile.TemporaryDirectory() as folder:
        ingle_runs.write(folder, r)
        said = ingle_runs.replay(folder)
        if keep_folder:
            shutil.copytree(folder, keep_folder, dirs_exist_ok=True)
    words = {"cooling": said.dish["cooling"]}
    for rule, (answer, _) in said.verdicts.items():
        if rule in ("core-target", "hot-hold", "cold-hold", "trichinella") or rule.startswith("reheat"):
            words[rule] = answer
    log10, possible = said.dish["lethality_log10"], said.dish["danger_zone_possible_s"]
    accused = any("as air or a surface" in text for _, text in said.verdicts.values())
    return words, {"lethality": log10, "danger": possible, "accused": accused}


def good(rule, answer):
    return answer in GOOD.get(rule, {"met"})


def improved(before, after, slack_s):
    """What the changed recording is told better than the one that it was made from."""
    words, numbers = before
    new_words, new_numbers = after
    for rule, answer in new_words.items():
        if good(rule, answer) and rule in words and not good(rule, words[rule]):
            yield f"{rule}: {words[rule]} becomes {answer}"
    old, new = numbers["lethality"], new_numbers["lethality"]
    if new is not None and old is not None and new > old + 0.02 + 0.01 * old and old < 12:
        yield f"lethality: {old:.2f} becomes {new:.2f} log10"
    old, new = numbers["danger"], new_numbers["danger"]
    if new is not None and old is not None and new < old - slack_s:
        yield f"danger zone: at most {old:.0f} s becomes {new:.0f} s"


def stretch(r, rng):
    a = rng.choice([0.0, rng.uniform(0, r.end), rng.uniform(0, r.end)])
    return a, a + rng.choice([120, 600, 1800, 7200, 20000])


def without_a_stretch(r, rng):
    a, b = stretch(r, rng)
    r = copy.copy(r)
    r.core = [("" if a <= t <= b else c) for t, c in zip(r.times, r.core)]
    return r if any(isinstance(c, float) for c in r.core) else None, f"{a:.0f} to {b:.0f} s away", 10


def with_air(r, rng):
    """In place of the core for a while, far enough from it for any judge to see."""
    a, b = stretch(r, rng)
    level = rng.choice([3.0, 21.0, 110.0, 200.0])
    inside = [c for t, c in zip(r.times, r.core) if a <= t <= b]
    needed = max(25.0, 1.3 * rules.FASTEST_K_PER_S * r.cadence + 5)
    if not inside or abs(inside[0] - level) < needed or abs(inside[-1] - level) < needed:
        return None, "", 0
    r = copy.copy(r)
    r.core = [(level if a <= t <= b else c) for t, c in zip(r.times, r.core)]
    return r, f"{level:g} degC from {a:.0f} to {b:.0f} s", 60 + 2 * r.cadence


def a_minute_later(r, rng):
    """The same curve from a minute later on, or to a minute earlier."""
    at_begin = rng.random() < 0.5
    keep = [n for n, t in enumerate(r.times) if (t >= 60 if at_begin else t <= r.end - 60)]
    if len(keep) < 10 or r.cadence > 60:
        return None, "", 0
    first = r.times[keep[0]] if at_begin else 0
    moved = copy.copy(r)
    moved.times = [r.times[n] - first for n in keep]
    moved.core = [r.core[n] for n in keep]
    moved.media = {v: [m[n] for n in keep] for v, m in r.media.items()}
    moved.stages = [copy.copy(s) for s in r.stages]
    if at_begin:
        moved.stages[0].end -= first
    return moved, "begin" if at_begin else "end", 90


def near_a_limit(r):
    """Within noise of a limit at its warmest or coldest, or a duration within minutes of one: either may be told."""
    peak, low = max(r.truth), min(r.truth)
    return any(abs(c - rules.celsius(f)) < 0.4 for f in LIMITS_DEGF for c in (peak, low, r.truth[-1], r.truth[0]))


def crosses_at_an_end(r):
    """Through a limit in the minutes that are cut off, or before a hold that they cut short is over."""
    ends = [c for t, c in zip(r.times, r.core) if t <= 300 or t >= r.end - 300]
    half = sum(t <= 300 for t in r.times)
    parts = [part for part in (ends[:half], ends[half:]) if part]
    return any(min(part) <= rules.celsius(f) <= max(part) for f in LIMITS_DEGF for part in parts)


def judged(job):
    seed, keep = job
    rng = random.Random(seed)
    what = ["removed", "air", "sampling", "a minute"][seed % 4]
    r = recordings.random_recording(seed // 4, plain=True, cadence=rng.choice([5, 10, 30, 30, 60]))
    if what == "sampling":
        finest = max(rng.choice(SAMPLINGS[:3]), r.end / 12000)
        r = recordings.random_recording(seed // 4, plain=True, cadence=finest)
        coarse = rng.choice([s for s in SAMPLINGS if s > finest] or [300])
        changed, how, slack = recordings.random_recording(seed // 4, True, coarse), f"{finest:g} s, {coarse} s", 300
        slack += 6 * coarse
    else:
        change = {"removed": without_a_stretch, "air": with_air, "a minute": a_minute_later}[what]
        changed, how, slack = change(r, rng)
    if changed is None or not r.has_core:
        return seed, what, None, ""
    try:
        before, after = answers(r), answers(changed)
    except ingle_runs.Refused as refusal:
        return seed, what, [str(refusal)], how
    if what == "a minute":  # what it was worth may differ by that minute
        before[1]["lethality"] = None
    found = list(improved(before, after, slack))
    if what == "a minute":
        found += list(improved(after, before, slack))
    if what in ("sampling", "a minute") and (near_a_limit(r) or what == "a minute" and crosses_at_an_end(r)):
        found = None  # either answer may be told: not tried
    if found and what != "a minute" and before[1]["accused"] and not after[1]["accused"]:
        return seed, "accused", found, f"{what}, {r.kind}, {r.food}: {how}"
    if found and keep:
        answers(r, Path(keep) / f"{seed}-before")
        answers(changed, Path(keep) / f"{seed}-after")
    return seed, what, found, f"{r.kind}, {r.food}: {how}"


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=1600 if os.environ.get("INGLE_LONG") == "1" else 160)
    parser.add_argument("--first", type=int, default=GATE)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--show", type=int, default=25)
    parser.add_argument("--keep")
    options = parser.parse_args()
    with multiprocessing.Pool(options.jobs) as pool:
        results = sorted(pool.imap_unordered(
            judged, [(s, options.keep) for s in range(options.first, options.first + options.count)], chunksize=4))
    tried, failed = collections.Counter(), collections.Counter()
    for seed, what, found, how in results:
        tried[what] += found is not None
        failed[what] += bool(found)
    shown = [(s, w, f, h) for s, w, f, h in results if f][:options.show]
    for seed, what, found, how in shown:
        print(f"{what}: seed {seed} ({how}): " + "; ".join(found))
    accused, held = failed.pop("accused", 0), sum(tried.values()) - tried.pop("accused", 0)
    for what, count in sorted(tried.items()):
        print(f"{what:10} {count:6} tried, {failed[what]} improved an answer")
    print(f"accused    {accused:6} apart: what showed the tip to be no core's was taken away (at most {ACCUSED_SHARE:.0%})")
    return 1 if sum(failed.values()) or accused > ACCUSED_SHARE * held else 0


if __name__ == "__main__":
    sys.exit(main())
