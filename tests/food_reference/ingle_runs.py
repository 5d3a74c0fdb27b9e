"""What Ingle says of a recording: replay, import and review, and the calculators, each as built. Most replays
go through `kept_ingle`, the same program over many recordings."""
import functools
import json
import os
import subprocess
from pathlib import Path

import recordings

BUILD = Path(os.environ["INGLE_BUILD"])
INGLE, KEPT = BUILD / "tools/ingle", BUILD / "tests/food_reference/kept_ingle"
ENVIRONMENT = {**os.environ, "TZ": "UTC", "LC_ALL": "C.UTF-8"}


class Refused(Exception):
    """Ingle would not run it: a wrong configuration, by its own words."""


def write(folder, r):
    """The recording, its kitchen and its plan in an empty folder."""
    folder = Path(folder)
    (folder / "plans").mkdir(parents=True, exist_ok=True)
    (folder / "x.csv").write_text(recordings.csv_text(r))
    (folder / "x.toml").write_text(recordings.kitchen_text(r))
    (folder / "plans/supper.toml").write_text(recordings.plan_text(r))


def run(*words):
    done = subprocess.run([INGLE, *words], capture_output=True, text=True, env=ENVIRONMENT, timeout=120)
    if done.returncode != 0:
        raise Refused(f"{' '.join(str(w) for w in words[:2])}: {done.returncode}: {done.stderr.strip()[:300]}")
    return done.stdout


@functools.cache
def kept():
    """One for each process of the test; it ends with its standard input."""
    return subprocess.Popen([KEPT], stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=ENVIRONMENT)


def run_kept(*words):
    program = kept()
    program.stdin.write("\t".join(map(str, words)).encode() + b"\n")
    program.stdin.flush()
    head = program.stdout.readline().split()
    if not head:
        raise RuntimeError(f"kept_ingle ended, by {program.wait()}, at {words}")
    status, said, wrong = map(int, head)
    out, errors = program.stdout.read(said).decode(), program.stdout.read(wrong).decode()
    if status != 0:
        raise Refused(f"{' '.join(str(w) for w in words[:2])}: {status}: {errors.strip()[:300]}")
    return out


class Said:
    """Of the dish `d`: its summary, its verdicts {rule: (answer, text)}, and its alarms and events in order."""

    def __init__(self, lines):
        self.lines = [json.loads(line) for line in lines.splitlines()]
        self.dish = self.lines[-1]["dishes"]["d"]
        self.verdicts = {v["rule"]: (v["answer"], v["text"]) for v in reversed(self.dish.get("verdicts", []))}

    def boast(self):
        """As a program would that calls everything met, and asks to chill and to heat."""
        self.dish["cooling"] = "met"
        self.verdicts = {rule: ("met", text) for rule, (_, text) in self.verdicts.items()}
        self.lines += [{"t": 0, "kind": "alarm", "alarm": name, "subject": "d", "state": "raised", "action": action}
                       for name, action in (("cooling-late", "chill"), ("danger-zone", "raise-heat"))]

    def raised(self, *names):
        return [line for line in self.lines if line["kind"] == "alarm" and line["state"] == "raised"
                and line["subject"] == "d" and line["alarm"] in names]

    def thrown_away(self):
        """It is told to throw it away, by whatever rule, and that is not taken back."""
        last = {line["alarm"]: line for line in self.lines if line["kind"] == "alarm" and line["subject"] == "d"}
        return any(line.get("action") == "discard" and line["state"] != "cleared" for line in last.values())

    def events(self, name):
        return [line for line in self.lines if line["kind"] == "event" and line["event"] == name
                and line["subject"] == "d"]


def replay(folder, by=run_kept):
    """`by`: run_kept, or run: a process of its own."""
    folder = Path(folder)
    return Said(by("replay", folder / "x.csv", "--kitchen", folder / "x.toml", "--begin", "d", "--json"))


def review(folder):
    """The verdicts of the same recording as a cook in the logbook: {rule: (answer, text)}."""
    folder = Path(folder)
    state = ("--state", folder / "state")
    run(*state, "import", folder / "x.csv", "--as", "x", "--kitchen", folder / "x.toml", "--begin", "d", "--at",
        "2026-11-21 10:00")
    page = json.loads(run(*state, "review", "x", "--json"))
    return {v["rule"]: (v["answer"], v["text"]) for v in reversed(page["verdicts"])}


def calc_cooling(folder, rule, *more):
    return json.loads(run("calc", "cooling", Path(folder) / "x.csv", "--probe", "core", "--rule", rule, *more, "--json"))


def calc_lethality(folder, food, *more):
    return json.loads(run("calc", "lethality", Path(folder) / "x.csv", "--probe", "core", "--food", food, *more,
                          "--json"))
