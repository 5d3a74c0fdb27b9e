#!/usr/bin/env python3
"""Everyday recordings in which a verdict could say more than was seen: replay, review and the calculators say
the same of each, at every rhythm from one reading a second to one in five minutes, and never what was not
seen. What each recording is, and what may never be said of it, stands in tests/cases/food/README.md."""
import csv
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[2]
INGLE = Path(os.environ.get("INGLE_BUILD", SOURCE / "build")) / "tools/ingle"
CASES = SOURCE / "tests/cases/food"
RHYTHMS = (1, 5, 10, 30, 60, 300)


def ingle(*words, state):
    done = subprocess.run([INGLE, "--state", state, *map(str, words)], capture_output=True, text=True,
                          env={**os.environ, "TZ": "UTC", "LC_ALL": "C.UTF-8"})
    assert done.returncode == 0, f"{words}: {done.returncode} {done.stdout}{done.stderr}"
    return done.stdout


class Case:
    """One recording, thinned to one reading in `rhythm` seconds, and all that is said of it."""

    def __init__(self, name, rhythm, folder):
        self.name, self.rhythm = name, rhythm
        rows = list(csv.reader((CASES / f"{name}.csv").open()))
        kept, newest = [], -1e9
        for row in rows[1:]:
            if float(row[0]) >= newest + rhythm - 1e-6:
                kept.append(row)
                newest = float(row[0])
        self.recording = Path(folder) / f"{name}-{rhythm}.csv"
        self.recording.write_text("\n".join(",".join(row) for row in [rows[0], *kept]) + "\n")
        kitchen = CASES / f"{name}.toml"
        state = Path(folder) / "state"
        self.lines = [json.loads(line) for line in ingle(
            "replay", self.recording, "--kitchen", kitchen, "--begin", "d", "--json", state=state).splitlines()]
        self.dish = self.lines[-1]["dishes"]["d"]
        imported = f"c{name[:2]}-{rhythm}" + ("b" if name.endswith("60s") else "")
        ingle("import", self.recording, "--as", imported, "--kitchen", kitchen, "--begin", "d", "--at",
              "2026-11-20 08:00", state=state)
        self.review = json.loads(ingle("review", imported, "--json", state=state))
        self.cooling = json.loads(ingle("calc", "cooling", self.recording, "--probe", "core", "--json",
                                        state=state))

    def told(self, alarm):
        return [line for line in self.lines if line["kind"] == "alarm" and line["alarm"] == alarm]

    def ended_by_itself(self):
        return [line for line in self.lines if line.get("event") == "stage-ended"
                and "waited for" in line.get("text", "")]

    def verdict(self, rule):
        found = [v for v in self.review["verdicts"] if v["rule"] == rule]
        return found[0] if found else None


def never_reached(case):
    assert not case.told("core-target"), case.told("core-target")
    assert not case.ended_by_itself(), case.ended_by_itself()
    verdict = case.verdict("core-target")
    assert verdict is None or verdict["answer"] != "met", verdict
    assert case.dish["peak_core_c"] is None or case.dish["peak_core_c"] < 70, case.dish


def never_cooled(case):
    assert case.dish["cooling"] != "met", case.dish
    assert case.verdict("cooling")["answer"] != "met", case.verdict("cooling")
    assert case.cooling["cooling"] != "met", case.cooling


# What is judged by which readings count; the rules' own rows are in their own tests.
TABLE = {
    "01-hot-at-begin": never_reached,
    "05-oven-400": never_reached,
    "07-pulled-into-fridge-air-30s": never_cooled,
    "07-pulled-into-fridge-air-60s": never_cooled,
    "09-dead-10h-then-cold": never_cooled,
    "17-fsis2-stays-at-54F": None,
    "19-no-food-class": None,
    "25-142F-425s": None,
    "27-six-warm-cycles": None,
    "31-probe-only-ever-in-liquid": never_reached,
    "33-brine-dead-first-day": None,
}
CAUTION = {"met": 0, "not-applicable": 1, "unknown": 1, "missed": 1}


def main():
    failures = []
    with tempfile.TemporaryDirectory() as folder:
        for name, never in TABLE.items():
            answers = {}
            for rhythm in RHYTHMS if os.environ.get("INGLE_LONG") else (1, 60, 300):
                case = Case(name, rhythm, folder)
                answers[rhythm] = case.dish["cooling"]
                try:
                    if never:
                        never(case)
                    reviewed = case.verdict("cooling")
                    assert reviewed is None or reviewed["answer"] == case.dish["cooling"], \
                        f"replay {case.dish['cooling']}, review {reviewed}"
                except AssertionError as wrong:
                    failures.append(f"{name} at {rhythm} s: {wrong}")
            finest = CAUTION[answers[min(answers)]]
            for rhythm, answer in answers.items():
                if CAUTION[answer] < finest:
                    failures.append(f"{name}: at {rhythm} s it says {answer}, at {min(answers)} s "
                                    f"{answers[min(answers)]}")
            print(name, answers, flush=True)
    print("\n".join(failures) or "all recordings are borne out by their readings")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
