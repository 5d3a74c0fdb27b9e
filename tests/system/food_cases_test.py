#!/usr/bin/env python3
"""Everyday recordings in which a verdict could say more than was seen: replay, review (JSON, text, HTML) and the
calculators say the same of each, at one reading in 1, 5, 10, 30, 60 and 300 s, and never what was not seen. What each
recording is, and what may never be said of it, stands in tests/cases/food/README.md."""
import csv
import html
import json
import multiprocessing
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[2]
INGLE = Path(os.environ.get("INGLE_BUILD", SOURCE / "build")) / "tools/ingle"
CASES = SOURCE / "tests/cases/food"
RHYTHMS = (1, 5, 10, 30, 60, 300)
CAUTION = {"met": 0, "not-applicable": 1, "unknown": 1, "missed": 1}


def ingle(*words, state, status=(0,)):
    done = subprocess.run([INGLE, "--state", state, *map(str, words)], capture_output=True, text=True,
                          env={**os.environ, "TZ": "UTC", "LC_ALL": "C.UTF-8"})
    assert done.returncode in status, f"{words}: {done.returncode} {done.stdout}{done.stderr}"
    return done.stdout


def resampled(rows, rhythm):
    """The same curve with a row every `rhythm` s, on straight lines; a word or an empty cell stays until the next."""
    out, at = [], 0
    times = [float(row[0]) for row in rows]
    for n in range(int(times[-1] / rhythm) + 1):
        t = n * rhythm
        while at + 1 < len(rows) and times[at + 1] <= t:
            at += 1
        row, following = rows[at], rows[min(at + 1, len(rows) - 1)]
        share = (t - times[at]) / ((times[min(at + 1, len(rows) - 1)] - times[at]) or 1)
        out.append([f"{t}"] + [between(a, b, share) for a, b in zip(row[1:], following[1:])])
    return out


def between(a, b, share):
    try:
        return f"{float(a) + (float(b) - float(a)) * share:.4f}"
    except ValueError:
        return a


class Case:
    """One recording at one rhythm, and all that is said of it."""

    def __init__(self, name, rhythm, folder):
        self.name, self.rhythm, self.folder = name, rhythm, folder
        with (CASES / f"{name}.csv").open() as file:
            head, *rows = list(csv.reader(file))
        self.recording = Path(folder) / "x.csv"
        self.recording.write_text("\n".join(",".join(row) for row in [head, *resampled(rows, rhythm)]) + "\n")
        self.kitchen = Path(shutil.copy(CASES / f"{name}.toml", Path(folder) / "x.toml"))
        shutil.copytree(CASES / "plans", Path(folder) / "plans")
        text = self.kitchen.read_text()
        self.food = (re.search(r'^food = "(.*)"', text, re.M) or [None, None])[1]
        rule = (re.search(r'^cooling-rule = "(.*)"', text, re.M) or [None, "food-code"])[1]
        self.lines = [json.loads(line) for line in self.ingle(
            "replay", self.recording, "--kitchen", self.kitchen, "--begin", "d", "--json").splitlines()]
        self.dish = self.lines[-1]["dishes"]["d"]
        self.ingle("import", self.recording, "--as", "x", "--kitchen", self.kitchen, "--begin", "d", "--at",
                   "2026-11-20 08:00")
        self.review = json.loads(self.ingle("review", "x", "--json"))
        self.spoken = self.ingle("replay", self.recording, "--kitchen", self.kitchen, "--begin", "d")
        self.page = self.ingle("review", "x")
        self.ingle("review", "x", "--html", Path(folder) / "x.html")
        self.html = (Path(folder) / "x.html").read_text()
        medium = [name.split(" [")[0] for name in head[2:3]]
        around = ("--medium", *medium) if medium else ()
        for key in ("thickness", "shape"):
            said = re.search(f'^{key} = "(.*)"', text, re.M)
            around += (f"--{key}", said[1]) if said else ()
        calc = ("calc", "cooling", self.recording, "--probe", "core", "--rule", rule, *around)
        self.cooling, self.cooling_text = json.loads(self.ingle(*calc, "--json")), self.ingle(*calc)
        self.lethality = json.loads(self.ingle("calc", "lethality", self.recording, "--probe", "core", "--food",
                                               self.food, "--json", *around)) if self.food else None

    def ingle(self, *words):
        return ingle(*words, state=Path(self.folder) / "state")

    def told(self, alarm):
        return [line for line in self.lines if line["kind"] == "alarm" and line["alarm"] == alarm]

    def ended_by_itself(self):
        return [line for line in self.lines if line.get("event") == "stage-ended"
                and "by hand" not in line.get("text", "") and "was ended" not in line.get("text", "")]

    def answer(self, rule):
        """What review says; None: it says nothing of this rule."""
        return next((v["answer"] for v in self.review["verdicts"] if v["rule"] == rule), None)

    def everything(self):
        return "\n".join([json.dumps(self.lines), json.dumps(self.review["verdicts"]), self.spoken, self.page,
                          html.unescape(re.sub(r"<[^>]*>", " ", self.html))])


UNIT_S = {"days": 86400, "day": 86400, "h": 3600, "min": 60, "s": 1}
FIGURE = re.compile(r"([\d.]+) (days|day|h|min|s)\b|[\d.]+")


def same_answer(one, other):
    """The same words; the figures may be a minute apart: of a tip that was moved, replay counts one reading more."""
    if FIGURE.sub("#", one) == FIGURE.sub("#", other):
        pairs = zip(FIGURE.finditer(one), FIGURE.finditer(other))
        apart = sum((float(a[1]) - float(b[1])) * UNIT_S[a[2]] if a[2] else (a[0] != b[0]) * 1e9 for a, b in pairs)
        return abs(apart) <= 60
    return one == other


def same_everywhere(case):
    """Replay, review in its three forms, and calc give one answer; the caution stands beside it."""
    replayed, reviewed = ({v["rule"]: v["answer"] for v in verdicts}
                          for verdicts in (case.dish["verdicts"], case.review["verdicts"]))
    assert list(replayed) == list(reviewed), f"replay and review: {replayed.keys() ^ reviewed.keys()}"
    for rule, answer in replayed.items():
        assert same_answer(answer, reviewed[rule]), f"{rule}: replay says {answer}, review {reviewed[rule]}"
    assert case.answer("cooling") == case.dish["cooling"]
    calculated = case.cooling["cooling"]
    same = calculated == case.dish["cooling"]
    # A calculator knows no stages: it may only be more cautious.
    assert same or calculated in ("unknown", "missed") and case.dish["cooling"] != "missed", \
        f"calc says {calculated}, replay {case.dish['cooling']}"
    if case.lethality and case.dish["lethality_log10"] is not None and case.lethality["log10"] is not None:
        assert case.lethality["log10"] <= case.dish["lethality_log10"] + 0.01, (case.lethality, case.dish)
    same_in_writing(case)


def same_in_writing(case):
    assert f"cooling {case.dish['cooling']}" in case.spoken, case.spoken[-300:]
    assert case.cooling_text.startswith(f"cooling: {case.cooling['cooling']},")
    page = re.sub(r"\s+", " ", case.page)
    shown = re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]*>", " ", case.html)))
    for v in case.review["verdicts"]:
        said = f"{v['rule']} {v['answer']} {v['text']}"
        if v["rule"] == "in short":  # it stands before all rules, as the answer to a question
            no = v["answer"].startswith("missed") or v["answer"] == "not reached"
            said = f"? d: {'no. ' if no else 'not yet. ' if v['answer'] == 'not reached so far' else ''}{v['text']}"
        said = re.sub(r"\s+", " ", said)
        with_signs = re.sub(r"\bdeg([CF])\b", "\N{DEGREE SIGN}\\1", said)
        for where, wanted, words in (("text", said, page), ("HTML", with_signs, shown)):
            assert wanted in words, \
                f"{where} does not say {v['rule']}: {v['answer']}"
    for words in (case.spoken, page, shown, case.cooling_text, case.cooling["caution"]):
        assert "not a permit" in re.sub(r"\s+", " ", words)


def never_reached(case):
    assert not case.told("core-target"), case.told("core-target")
    assert not case.ended_by_itself(), case.ended_by_itself()
    assert case.answer("core-target") in (None, "unknown", "not reached", "not reached so far")
    assert case.dish["peak_core_c"] is None or case.dish["peak_core_c"] < 70, case.dish
    assert not case.lethality or (case.lethality["log10"] or 0) == 0, case.lethality


def never_cooled(case):
    assert case.dish["cooling"] in ("unknown", "missed"), case.dish
    assert case.cooling["cooling"] in ("unknown", "missed"), case.cooling


def never_reheated(case):
    reached = [a["t"] for a in case.told("core-target") if a["state"] == "raised" and a["t"] > 24000]
    assert not reached, reached
    assert case.answer("core-target") in ("not reached", "not reached so far"), case.answer("core-target")
    assert case.answer("reheating") in ("missed", "not reached", "not reached so far")


def never_kept_cold(case):
    never_cooled(case)
    assert case.answer("cold-hold") in ("unknown", "missed"), case.answer("cold-hold")


def never_come_up_in_time(case):
    assert case.answer("lethality") == "unknown", case.answer("lethality")
    assert "within the 6 h" not in case.everything()
    assert case.dish["cooling"] == "unknown"
    assert case.lethality["log10"] == 0


def never_levelled_off(case):
    said = case.everything().lower()
    for words in ("levelled off", "evaporation", "not called for"):
        assert words not in said, words
    assert case.answer("core-target") in ("not reached", "not reached so far")
    assert case.told("danger-zone")


def never_met_by_an_old_option(case):
    assert case.dish["cooling"] in ("unknown", "missed") and case.cooling["cooling"] in ("unknown", "missed")


def never_silent(case):
    assert case.told("danger-zone") or case.told("cooling-late")
    assert case.dish["cooling"] == "missed" and case.cooling["cooling"] == "missed"


def warned_by_check(case):
    said = case.ingle("check", case.kitchen)
    assert "165" in said, said
    never_bear(case)
    for notice in case.told("core-target"):
        assert "165.0 degF" in notice["text"], notice


def never_bear(case):
    for rule in ("in short", "core-target", "lethality", "trichinella"):
        assert case.answer(rule) in ("not reached", "not reached so far"), (rule, case.answer(rule))
    assert not case.ended_by_itself()


def never_credited_early(case):
    assert (case.dish["lethality_log10"] or 0) < 6.5 and case.lethality["log10"] < 6.5, case.dish
    assert case.answer("lethality") in ("not reached", "not reached so far")
    assert not case.ended_by_itself() and not case.told("core-target")


def never_good_after_cycles(case):
    never_cooled(case)
    assert case.told("danger-zone")


def says_discard(case):
    texts = [a["text"] for a in case.lines if a["kind"] == "alarm" and a["subject"] == "d"]
    assert any("Throw it away" in text for text in texts), texts
    for text in texts:
        assert "Heat it up again" not in text or ("165" in text and "2 h" in text), text
    assert case.answer("hot-hold") == "missed"


def never_a_core(case):
    never_reached(case)
    for rule in ("in short", "core-target", "lethality", "trichinella"):
        assert case.answer(rule) in (None, "unknown"), (rule, case.answer(rule))
    assert case.told("core-unread")


def never_shown(case):
    """What it read counts, and shows no target."""
    assert not case.told("core-target") and not case.ended_by_itself()
    assert case.answer("core-target") == "unknown" and case.answer("lethality") != "met"
    assert (case.lethality["log10"] or 0) == 0, case.lethality


TABLE = {
    "01-hot-at-begin": never_reached,
    "03-reheated-to-138": never_reheated,
    "05-oven-400": never_reached,
    "07-pulled-into-fridge-air-30s": never_cooled,
    "07-pulled-into-fridge-air-60s": never_cooled,
    "09-dead-10h-then-cold": never_kept_cold,
    "11-dead-8h-then-120F": never_come_up_in_time,
    "13-fish-130F-on-counter": never_levelled_off,
    "15-cured-ham-138F": never_levelled_off,
    "17-fsis2-stays-at-54F": never_met_by_an_old_option,
    "19-no-food-class": never_silent,
    "21-bear-plan-lethality": warned_by_check,
    "23-bear-158F": never_bear,
    "25-142F-425s": never_credited_early,
    "27-six-warm-cycles": never_good_after_cycles,
    "29-hot-hold-120F": says_discard,
    "31-probe-only-ever-in-liquid": never_reached,
    "33-brine-dead-first-day": never_kept_cold,
    "34-tip-lags-15-min": never_a_core,
    "36-tip-lags-50-min": never_a_core,
    "38-tip-slides-out": never_reached,
    "40-still-at-once": never_shown,
    "42-liquid-after-a-hole": never_reached,
    "44-slides-out-in-the-cold": never_cooled,
}


def judged(job):
    """(name, rhythm, cooling, what is wrong) of one recording at one rhythm."""
    name, rhythm = job
    with tempfile.TemporaryDirectory() as folder:
        wrong, cooling = [], None
        try:
            case = Case(name, rhythm, folder)
            cooling = case.dish["cooling"]
        except AssertionError as error:
            return name, rhythm, cooling, [str(error)]
        for check in (same_everywhere, TABLE[name]):
            try:
                check(case)
            except AssertionError as error:
                wrong.append(f"{check.__name__}: {str(error)[:600]}")
        return name, rhythm, cooling, wrong


def main():
    assert {p.stem for p in CASES.glob("*.csv")} == set(TABLE), "a recording is not judged"
    jobs = [(name, rhythm) for name in TABLE for rhythm in RHYTHMS]
    jobs.sort(key=lambda job: job[1])
    with multiprocessing.Pool(2) as pool:
        results = pool.map(judged, jobs, chunksize=1)
    failures = [f"{name} at {rhythm} s: {one}" for name, rhythm, _, wrong in results for one in wrong]
    for name in TABLE:
        answers = {rhythm: cooling for n, rhythm, cooling, _ in results if n == name}
        print(name, answers, flush=True)
        finest = answers[min(answers)]
        for rhythm, answer in answers.items():
            if CAUTION.get(answer, 0) < CAUTION.get(finest, 0):
                failures.append(f"{name}: at {rhythm} s it says {answer}, at {min(answers)} s {finest}")
    print(f"{len(jobs)} of {len(TABLE) * len(RHYTHMS)} recordings and rhythms")
    print("\n".join(failures) or "all recordings are borne out by their readings")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
