#!/usr/bin/env python3
"""Random recordings with known truth: what Ingle says of the food against an independent reference of the rules.

    food_reference_test.py [--count N] [--first SEED] [--jobs N] [--keep FOLDER] [--show N] [--boast]

Never "met" or reached where the reference or the truth says missed or unknown; where Ingle is more cautious it
says why. The counts are printed. Seeds below 1,000,000 are for development; the gate uses those above. With
--boast every answer is taken for "met" and opposite orders are given, and it passes only where both are found out."""
import argparse
import collections
import multiprocessing
import os
import re
import shutil
import sys
import tempfile
from pathlib import Path

import compare
import ingle_runs
import recordings
import verdicts

GATE, SHORT, LONG = 1_000_000, 2_000, 10_000
# For one recording in so many: `ingle` as a process of its own, import, review and the calculators. Prime to the
# number of kinds (random_recording), so that each kind comes up.
REVIEW_EVERY = 7
SAME_EVERY = 63  # and of one in so many the one that is kept running must say the same


def judged(job):
    """(seed, kind, findings, refusal) of one recording."""
    seed, options = job
    r = recordings.random_recording(seed)
    with tempfile.TemporaryDirectory() as folder:
        ingle_runs.write(folder, r)
        try:
            whole = seed % REVIEW_EVERY == 0
            said = ingle_runs.replay(folder, by=ingle_runs.run if whole else ingle_runs.run_kept)
            if seed % SAME_EVERY == 0 and ingle_runs.replay(folder).lines != said.lines:
                raise RuntimeError(f"seed {seed}: kept_ingle does not say what ingle does")
            if options.boast:
                said.boast()
            found = list(compare.compare(r, said))
            if whole and not options.boast:
                found += list(of_one_moment(folder, r) if moments(r) < 2 else elsewhere(folder, r, said))
        except ingle_runs.Refused as refusal:
            return seed, r.kind, [], str(refusal)
        if options.keep and any(f.kind in ("beyond", "unexplained") for f in found):
            shutil.copytree(folder, Path(options.keep) / str(seed), dirs_exist_ok=True)
            (Path(options.keep) / str(seed) / "truth.txt").write_text("\n".join(
                [r.kind, *r.done_to_it, *(str(s) for s in r.stages), *(str(f) for f in found)]) + "\n")
    return seed, r.kind, found, ""


def same_words(one, other):
    """But for the last figure: the logbook keeps milliseconds, and a minute or a tenth may turn by that."""
    figure = r"(\d+) min(?: \d+ s)?|(\d+\.\d) log10"
    pairs = zip(re.finditer(figure, one), re.finditer(figure, other))
    near = all(abs(float(a[1] or 0) - float(b[1] or 0)) <= 1 and abs(float(a[2] or 0) - float(b[2] or 0)) < 0.11
               for a, b in pairs)
    return near and re.sub(figure, "#", one) == re.sub(figure, "#", other)


def moments(r):
    """How many rows have a reading or a fault."""
    rows = zip(*([r.core] if r.has_core else []), *r.media.values())
    return sum(any(cell != "" for cell in row) for row in rows)


def of_one_moment(folder, r):
    """No cook is made of one reading: the import says so, and takes nothing."""
    try:
        ingle_runs.review(folder)
    except ingle_runs.Refused as refusal:
        kind = "agree" if "one moment" in str(refusal) else "beyond"
        yield compare.Finding(r.seed, "import", kind, "refused", "refused", str(refusal))
        return
    yield compare.Finding(r.seed, "import", "beyond", "taken", "refused", "a recording of one moment")


def elsewhere(folder, r, said):
    """Review says what replay says; the calculators never say more than the readings bear out."""
    for rule, (answer, text) in ingle_runs.review(folder).items():
        here = said.verdicts.get(rule, ("nothing", ""))[0]
        kind = "agree" if same_words(answer, here) else "beyond"
        yield compare.Finding(r.seed, "review " + rule, kind, answer, here, text)
    if not r.has_core:
        return
    refs = compare.References(r, only_probe=True)
    word = r.cooling_rule or "food-code"
    try:
        answer = ingle_runs.calc_cooling(folder, word)
        yield compare.finding(refs, "calc cooling", answer["cooling"], lambda d: verdicts.cooling(d, word, "cured-ham"),
                              answer["why"])
        if r.food:
            answer = ingle_runs.calc_lethality(folder, r.food)
            for f in compare.lethality(r, refs, answer["log10"], answer["why"]):
                f.rule = "calc " + f.rule
                yield f
        # Where a rule asks for a cure a calculator takes that for kept; a dish is asked.
        if len(r.stages) == 1 and not r.stages[0].until_degf and r.cooling_rule != "fsis-3":
            yield from told_all(folder, r, said)
    except ingle_runs.Refused as refusal:
        yield compare.Finding(r.seed, "calc", "cautious", "refused", "", str(refusal)[-60:])


def told_all(folder, r, said):
    """Told all that the dish says, a calculator's answer is the dish's own."""
    stage = r.stages[0]
    more = ["--does", stage.does]
    more += ["--medium", stage.vessel + "-medium"] if stage.vessel in r.media else []
    more += ["--thickness", f"{r.thickness_m * 100:g} cm", "--shape", "sphere"] if r.thickness_m else []
    if r.food:
        answer = ingle_runs.calc_cooling(folder, r.cooling_rule or "food-code", "--food", r.food, *more)
        kind = "agree" if answer["cooling"] == said.dish["cooling"] else "beyond"
        yield compare.Finding(r.seed, "calc of one stage", kind, answer["cooling"], said.dish["cooling"], answer["why"])
        answer, here = ingle_runs.calc_lethality(folder, r.food, *more)["log10"], said.dish.get("lethality_log10")
        same = (answer or 0) - (here or 0) < 0.05
        yield compare.Finding(r.seed, "calc of one stage", "agree" if same else "beyond", answer, here, "lethality")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=LONG if os.environ.get("INGLE_LONG") == "1" else SHORT)
    parser.add_argument("--first", type=int, default=GATE)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--keep")
    parser.add_argument("--show", type=int, default=25)
    parser.add_argument("--boast", action="store_true")
    options = parser.parse_args()
    jobs = [(seed, options) for seed in range(options.first, options.first + options.count)]
    with multiprocessing.Pool(options.jobs) as pool:
        results = list(pool.imap_unordered(judged, jobs, chunksize=4))
    return report(sorted(results, key=lambda result: result[0]), options)


def report(results, options):
    rules_seen, reasons, faults, refused = {}, collections.Counter(), [], []
    for seed, kind, found, refusal in results:
        if refusal:
            refused.append((seed, kind, refusal))
        for f in found:
            rules_seen.setdefault(f.rule, collections.Counter())[f.kind] += 1
            rules_seen[f.rule][f"{f.ingle} where the reference says {f.reference}"] += f.kind == "cautious"
            if f.kind == "cautious":
                reasons[f"{f.rule}: {f.why or 'both say that it is not met'}"] += 1
            if f.kind in ("beyond", "unexplained"):
                faults.append((f, kind))
    kinds = ("agree", "cautious", "unexplained", "beyond")
    print(f"{len(results)} recordings\n{'rule':26}" + "".join(f"{k:>13}" for k in kinds))
    for rule, counts in sorted(rules_seen.items()):
        print(f"{rule:26}" + "".join(f"{counts[k]:>13}" for k in kinds))
    print("\nmore cautious than the reference, by reason:")
    for reason, count in sorted(reasons.items()):
        print(f"  {count:6}  {reason}")
    for seed, kind, refusal in refused[:options.show]:
        print(f"refused: seed {seed} ({kind}): {refusal}")
    for f, kind in faults[:options.show]:
        print(f"{f.kind}: seed {f.seed} ({kind}), {f.rule}: Ingle says {f.ingle}; reference: {f.reference}. {f.why[:160]}")
    bad = {f.seed for f, _ in faults}
    print(f"\n{len(results) - len(bad) - len(refused)} of {len(results)} recordings agree; "
          f"{len(bad)} do not; {len(refused)} refused")
    if options.boast:
        rules_beyond = {f.rule for f, _ in faults if f.kind == "beyond"}
        return 0 if {"cooling", "orders"} <= rules_beyond and not refused else 1
    return 1 if bad or refused else 0


if __name__ == "__main__":
    sys.exit(main())
