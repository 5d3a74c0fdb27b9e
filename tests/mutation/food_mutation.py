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
FOOD = "daemon/food"
NOT_RULES = {"boiling", "brine", "fsis_tables.inc"}  # a calculator each; the tables' cells have their own test
GOAL = 0.95
LIMIT_S = 120  # a run that takes this long was caught: it hangs


def rule_files():
    return sorted(p for p in (SOURCE / FOOD).iterdir()
                  if p.suffix in (".cpp", ".hpp") and p.stem not in NOT_RULES)


class Build:
    """All mutants in one library, and the test program over it."""

    def __init__(self, build, work):
        self.build, self.work, self.plain = Path(build).resolve(), Path(work).resolve(), collections.defaultdict(set)
        self.tree = self.work / "tree"
        (self.tree / FOOD).mkdir(parents=True, exist_ok=True)
        commands = json.loads((self.build / "compile_commands.json").read_text()) \
            if (self.build / "compile_commands.json").exists() else self.from_ninja()
        self.commands = {c["file"]: c for c in commands}

    def from_ninja(self):
        return json.loads(subprocess.run(["ninja", "-C", self.build, "-t", "compdb"], check=True,
                                         capture_output=True, text=True).stdout)

    def write(self):
        """Instrumented copies; returns (mutants, how many numbers and comparisons stay as they are)."""
        found, left = [], 0
        (self.tree / "mutation.hpp").write_text(mutants.HEADER)
        for path in sorted((SOURCE / FOOD).iterdir()):
            text = path.read_text()
            if path in rule_files():
                text, new, stays = mutants.instrument(path.name, text, len(found) + 1, self.plain[path.name])
                found, left = found + new, left + stays
            target = self.tree / FOOD / path.name
            if not target.exists() or target.read_text() != text:
                target.write_text(text)
        return found, left

    def compile(self, source, target):
        """One file with the project's own flags against the instrumented tree; returns the compiler's words."""
        words = shlex.split(self.commands[str(source)]["command"])
        flags = [w for w in words if w.startswith(("-D", "-I", "-std")) or w == "-isystem"]
        at = source if FOOD not in str(source.parent) or "tests" in str(source) else self.tree / FOOD / source.name
        command = ["nice", "c++", f"-I{self.tree}", *flags, f"-I{SOURCE}", "-O1", "-w", "-Wno-narrowing", "-fpermissive",
                   "-include", str(self.tree / "mutation.hpp"), "-c", str(at), "-o", str(target)]
        return subprocess.run(command, capture_output=True, text=True, cwd=self.build).stderr

    def complaints(self, words):
        """Lines of instrumented files that the compiler names."""
        lines = collections.defaultdict(set)
        for name, line in re.findall(rf"{FOOD}/([\w.]+):(\d+):\d+: (?:error|note|fatal)", words):
            lines[name].add(int(line))
        return lines

    def all_objects(self, jobs):
        sources = [p for p in sorted((SOURCE / FOOD).glob("*.cpp"))]
        sources += sorted((SOURCE / "tests/unit/daemon/food").glob("*_test.cpp"))
        work = [(p, self.work / (("test_" if "tests" in str(p) else "") + p.stem + ".o")) for p in sources]
        for attempt in range(12):
            found, left = self.write()
            with multiprocessing.pool.ThreadPool(jobs) as pool:
                results = pool.starmap(self.compile, work)
            bad = collections.defaultdict(set)
            for words in results:
                if "error" in words:
                    for name, lines in self.complaints(words).items():
                        bad[name] |= lines
            if not any("error" in words for words in results):
                return found, left, [str(o) for _, o in work]
            new = {n: lines - self.plain[n] for n, lines in bad.items()}
            if not any(new.values()):
                raise SystemExit("does not compile:\n" + "\n".join(w[:2000] for w in results if "error" in w))
            for name, lines in new.items():
                self.plain[name] |= lines
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
