#!/usr/bin/env python3
"""Mutation of the food rules: each number and comparison of daemon/food, one at a time, must be caught by a test.

    food_mutation.py --build BUILD [--work FOLDER] [--jobs N] [--share 1/3] [--only FILE] [--table FILE]

BUILD is a finished build with unit_daemon_food. The long form: minutes. Prints every survivor by name and, with
--table, writes what came out as a small table. Exit status 1 below 95 %."""
import argparse
import collections
import datetime
import json
import multiprocessing
import multiprocessing.pool
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import mutants

SOURCE = Path(__file__).resolve().parent.parent.parent
FOOD, TESTS = "daemon/food", "tests/unit/daemon/food"
# Calculators, forecasts and words; the cells of fsis_tables.inc have a test of their own.
NOT_RULES = {"boiling", "brine", "conduction", "outlook", "calculate", "fsis_tables", "ledger_words", "sources"}
GOAL = 0.95
LIMIT_S = 120  # a run that takes this long was caught: it hangs


def rule_files():
    return sorted(p for p in (SOURCE / FOOD).iterdir()
                  if p.suffix in (".cpp", ".hpp") and p.stem not in NOT_RULES)


def write_if_new(path, text):
    if path.exists() and path.read_text() == text:
        return False
    path.write_text(text)
    return True


class Build:
    """All mutants in one library, and the test program over it."""

    def __init__(self, build, work):
        self.build, self.work = Path(build).resolve(), Path(work).resolve()
        self.known = self.work / "plain.json"  # lines that stay as they are, from the last time
        self.plain = collections.defaultdict(set)
        if self.known.exists():
            self.plain.update({name: set(lines) for name, lines in json.loads(self.known.read_text()).items()})
        self.tree = self.work / "tree"
        (self.tree / FOOD).mkdir(parents=True, exist_ok=True)
        compdb = json.loads(subprocess.run(["ninja", "-C", self.build, "-t", "compdb"], check=True,
                                           capture_output=True, text=True).stdout)
        words = next(shlex.split(c["command"]) for c in compdb if f"{TESTS}/ledger_test.cpp" in c["file"])
        self.flags = [w for w in words if w.startswith(("-DTEST", "-std"))]

    def write(self):
        """Instrumented copies; returns (mutants, how many numbers and comparisons stay as they are, files that
        changed)."""
        found, count, changed = [], 0, set()
        write_if_new(self.tree / "mutation.hpp", mutants.HEADER)
        for path in sorted((SOURCE / FOOD).iterdir()):
            text = path.read_text()
            if path in rule_files():
                text, new, counted = mutants.instrument(path.name, text, count + 1, self.plain[path.name])
                found, count = found + new, count + counted
            if write_if_new(self.tree / FOOD / path.name, text):
                changed.add(path.name)
        return found, count - len(found), changed

    def compile(self, source, target):
        """One file with the project's own flags against the instrumented tree; returns the compiler's words."""
        at = source if TESTS in str(source) else self.tree / FOOD / source.name
        command = ["c++", f"-I{self.tree}", *self.flags, f"-I{SOURCE}", "-O0", "-w", "-Wno-narrowing", "-fpermissive",
                   "-include", str(self.tree / "mutation.hpp"), "-c", str(at), "-o", str(target)]
        return subprocess.run(command, capture_output=True, text=True, cwd=self.build).stderr

    def complaints(self, words):
        """Lines of instrumented files that the compiler names."""
        lines = collections.defaultdict(set)
        for name, line in re.findall(rf"{FOOD}/([\w.]+):(\d+):\d+: (?:error|note: .*declared here)", words):
            lines[name].add(int(line))
        return lines

    def precompile(self):
        """The header that every file begins with, once."""
        header = self.tree / "mutation.hpp"
        subprocess.run(["c++", "-std=c++20", "-O0", "-w", "-Wno-narrowing", "-fpermissive", "-x", "c++-header",
                        str(header), "-o", f"{header}.gch"], check=True)

    def all_objects(self, jobs):
        """Compiles until all compiles; what a line does not bear is left on it as it was."""
        sources = sorted((SOURCE / FOOD).glob("*.cpp")) + sorted((SOURCE / TESTS).glob("*_test.cpp"))
        objects = {p: self.work / (("test_" if TESTS in str(p) else "") + p.stem + ".o") for p in sources}
        failed = set(sources)
        for _ in range(12):
            found, left, changed = self.write()
            if not (self.tree / "mutation.hpp.gch").exists():
                self.precompile()
            every = any(name.endswith((".hpp", ".inc")) for name in changed)
            due = [p for p in sources if every or p in failed or p.name in changed and TESTS not in str(p)]
            with multiprocessing.pool.ThreadPool(jobs) as pool:
                words = dict(zip(due, pool.starmap(self.compile, [(p, objects[p]) for p in due])))
            failed = {p for p, said in words.items() if "error" in said}
            if not failed:
                return found, left, [str(o) for o in objects.values()]
            before = {name: set(lines) for name, lines in self.plain.items()}
            for path in failed:
                for name, lines in self.complaints(words[path]).items():
                    self.plain[name] |= lines
            if {name: set(lines) for name, lines in self.plain.items()} == before:
                raise SystemExit("does not compile:\n" + "\n".join(words[p][:2000] for p in failed))
            self.known.write_text(json.dumps({name: sorted(lines) for name, lines in self.plain.items()}))
            print(f"{len(failed)} of {len(due)} files do not compile yet", flush=True)
        raise SystemExit("does not compile after 12 attempts")

    def link(self, objects):
        """The project's own link command of unit_daemon_food, with the instrumented objects in front."""
        words = subprocess.run(["ninja", "-C", self.build, "-t", "commands", "unit_daemon_food"], check=True,
                               capture_output=True, text=True).stdout.strip().splitlines()[-1]
        words = shlex.split(words.split("&&")[1])
        libraries = [w for w in words if w.endswith((".a", ".so")) or w.startswith("-l")]
        libraries = [w for w in libraries if not w.endswith("libdaemon_food.a")]
        program = self.work / "unit_mutants"
        subprocess.run(["c++", *objects, *libraries, *libraries, "-o", str(program)], check=True, cwd=self.build)
        return program


def caught(job):
    """(id, how) of one mutant: "failed", "hung" or "" for a survivor."""
    programs, number = job
    for words in programs:
        try:
            done = subprocess.run(words, capture_output=True, timeout=LIMIT_S,
                                  env={**os.environ, "MUTANT": str(number)})
        except subprocess.TimeoutExpired:
            return number, "hung"
        if done.returncode != 0:
            return number, "failed"
    return number, ""


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--build", required=True)
    parser.add_argument("--work", default="/tmp/ingle-mutation")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--share", default="1/1", help="one mutant of so many, such as 1/3")
    parser.add_argument("--only", help="one file, such as cooling.cpp")
    parser.add_argument("--table", help="write the result there")
    options = parser.parse_args()
    Path(options.work).mkdir(parents=True, exist_ok=True)
    build = Build(options.build, options.work)
    found, left, objects = build.all_objects(options.jobs)
    programs = [[str(build.link(objects)), "--abort"]]
    if caught((programs, 0))[1]:
        raise SystemExit("the tests fail without any mutant")
    every = int(options.share.split("/")[1])
    chosen = [m for m in found if m.id % every == 0 and options.only in (None, m.file)]
    print(f"{len(found)} mutants, {left} numbers and comparisons stay as they are; {len(chosen)} run", flush=True)
    with multiprocessing.Pool(options.jobs) as pool:
        results = dict(pool.imap_unordered(caught, [(programs, m.id) for m in chosen], chunksize=4))
    return report(chosen, results, left, options)


def report(chosen, results, left, options):
    survivors = [m for m in chosen if not results[m.id]]
    for m in survivors:
        print(f"survived: {m.file}:{m.line}: {m.what}: {m.code}")
    per_file = collections.OrderedDict()
    for m in chosen:
        row = per_file.setdefault(m.file, [0, 0])
        row[0] += 1
        row[1] += bool(results[m.id])
    share = 1 - len(survivors) / max(1, len(chosen))
    lines = ["| file | mutants | caught |", "|---|---|---|"]
    lines += [f"| {name} | {total} | {killed} |" for name, (total, killed) in per_file.items()]
    lines += [f"| all | {len(chosen)} | {len(chosen) - len(survivors)} ({100 * share:.1f} %) |"]
    print("\n".join(lines))
    if options.table:
        head = [f"Mutation of the food rules, {datetime.date.today():%d %B %Y}; one mutant of {options.share[2:]}.",
                f"{left} numbers and comparisons in constant expressions were not mutated.", ""]
        tail = ["", "Survivors:", ""] + [f"- `{m.file}:{m.line}` {m.what}: `{m.code}`" for m in survivors]
        Path(options.table).write_text("\n".join(head + lines + tail) + "\n")
    return 0 if share >= GOAL else 1


if __name__ == "__main__":
    sys.exit(main())
