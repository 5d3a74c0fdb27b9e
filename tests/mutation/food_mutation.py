#!/usr/bin/env python3
"""Mutation of the food rules: each number and comparison of daemon/food, one at a time, must be caught by a test.

    food_mutation.py --build BUILD [--work FOLDER] [--jobs N] [--sample N] [--only FILE...] [--table FILE]

BUILD is a build of the program (no sanitizers): what the rules rest on is taken from it, the rules are compiled with all
mutants in them, and the tests as they are. Prints every survivor, and with --table writes what came out as a small
table. Exit status 1 if one survives that survivors.txt does not name, and, unless it is a sample, below 95 %. --sample
N: only N of them, chosen by --seed, for CI."""
import argparse
import collections
import datetime
import json
import multiprocessing
import multiprocessing.pool
import os
import random
import re
import shlex
import subprocess
import sys
import time
from pathlib import Path

import mutants

HERE = Path(__file__).resolve().parent
SOURCE = HERE.parent.parent
FOOD, TESTS = "daemon/food", "tests/unit/daemon/food"
# Calculators, forecasts and words; the cells of fsis_tables.inc have a test of their own.
NOT_RULES = {"boiling", "brine", "conduction", "outlook", "calculate", "fsis_tables", "ledger_words", "sources"}
GOAL = 0.95
LIMIT_S = 120  # a run that takes this long was caught: it hangs
FLAGS = ["-std=c++20", "-O1", "-w", "-Wno-narrowing", "-fpermissive"]
TEST_FLAGS = ["-std=c++20", "-O0", "-w"]


def is_rule(path):
    return path.suffix in (".cpp", ".hpp") and path.stem not in NOT_RULES


def write_if_new(path, text):
    if not path.exists() or path.read_text() != text:
        path.write_text(text)


def compiler():
    return ["ccache", "c++"] if subprocess.run(["which", "ccache"], capture_output=True).returncode == 0 else ["c++"]


class Build:
    """All mutants in one set of objects, and the test program over it."""

    def __init__(self, build, work, jobs, built_tests):
        self.built_tests = built_tests  # the tests' objects are those of BUILD: quicker, if they are there
        self.build, self.work, self.jobs = Path(build).resolve(), Path(work).resolve(), jobs
        self.tree = self.work / "tree"
        (self.tree / FOOD).mkdir(parents=True, exist_ok=True)
        self.sources = [p for p in sorted((SOURCE / FOOD).glob("*.cpp")) if is_rule(p)]
        self.objects = {p: self.work / (p.stem + ".o") for p in self.sources}
        tests = [*sorted((SOURCE / TESTS).glob("*_test.cpp")), SOURCE / "tests/support/main.cpp"]
        self.tests = {p: self.work / f"test_{p.stem}.o" for p in tests}

    def write(self):
        """Writes the instrumented copies; returns the mutants."""
        found, highest = [], 0
        write_if_new(self.tree / "mutation.hpp", mutants.HEADER)
        for path in sorted((SOURCE / FOOD).iterdir()):
            text = path.read_text()
            if is_rule(path):
                text, new, highest = mutants.instrument(path.name, text, highest + 1)
                found += new
            write_if_new(self.tree / FOOD / path.name, text)
        return found

    def compile(self, source, target, by_itself=False):
        """A rule from the instrumented tree, or a test as it is; returns the compiler's complaints."""
        if source in self.tests:
            # The size of what a header declares must be the same in the tests.
            header = [f"-I{self.tree}", *FLAGS, "-include", str(self.tree / "mutation.hpp")] if by_itself else []
            words = [*header, f"-I{SOURCE}", *TEST_FLAGS, f'-DTEST_DATA="{SOURCE}/tests"', f'-DTEST_SOURCE="{SOURCE}"',
                     f'-DTEST_BUILD="{self.build}"', "-c", str(source)]
        else:
            words = [f"-I{self.tree}", f"-I{SOURCE}", *FLAGS, "-include", str(self.tree / "mutation.hpp"), "-c",
                     str(self.tree / FOOD / source.name)]
        done = subprocess.run([*compiler(), *words, "-o", str(target)], capture_output=True, text=True)
        return done.stderr if done.returncode else ""

    def compile_all(self, sources, objects, by_itself=False):
        with multiprocessing.pool.ThreadPool(self.jobs) as pool:
            said = pool.starmap(self.compile, [(p, objects[p], by_itself) for p in sources])
        return "\n".join(words[:3000] for words in said if words)

    def program(self):
        """(the test program with all mutants, the mutants)."""
        found = self.write()
        everything = {**self.objects, **self.tests}
        wrong = self.compile_all(self.objects if self.built_tests else everything, everything)
        if wrong:
            raise SystemExit("does not compile:\n" + wrong)
        return self.link(everything, "unit_mutants"), found

    def link(self, objects, name):
        """The project's own link command of unit_daemon_food, with these objects in front of the library's. The rules
        come first, so that a header's constant is the one that is computed and not a read-only one of a test."""
        words = subprocess.run(["ninja", "-C", self.build, "-t", "commands", "unit_daemon_food"], check=True,
                               capture_output=True, text=True).stdout.strip().splitlines()[-1]
        words = shlex.split(words.split("&&")[1])
        libraries = [w for w in words if w.endswith(".a") or ".so" in w or w.startswith("-l")]
        libraries = [w for w in libraries if not w.endswith("libtest_main.a")]
        if self.built_tests:
            rules = [o for p, o in objects.items() if p not in self.tests]
            objects = dict(enumerate(rules + [w for w in words if w.endswith(".o")]))
            libraries += [w for w in words if w.endswith("libtest_main.a")]
        program = self.work / name
        subprocess.run(["c++", *map(str, objects.values()), *libraries, *libraries, "-o", str(program)],
                       check=True, cwd=self.build)
        return str(program)

    def by_itself(self, mutant):
        """How a mutant is caught that has to be compiled for itself."""
        file = self.tree / FOOD / mutant.file
        all_in_one, (start, end, other) = file.read_text(), mutant.at
        text = (SOURCE / FOOD / mutant.file).read_text()
        everything = {**self.objects, **self.tests}
        due = everything if mutant.file.endswith(".hpp") else [SOURCE / FOOD / mutant.file]
        objects = {p: self.work / ("itself_" + o.name) if p in due else o for p, o in everything.items()}
        file.write_text(text[:start] + other + text[end:])
        try:
            if self.compile_all(due, objects, by_itself=True):
                return "does not compile"
            return caught(([[self.link(objects, "unit_itself"), "--abort"]], "0"))[1]
        finally:
            file.write_text(all_in_one)


class Tests:
    """The test cases of the program, and which mutants each of them comes to."""

    def __init__(self, program, work):
        self.program = program
        names = subprocess.run([program, "--list-test-names-only"], capture_output=True, text=True).stdout.splitlines()
        self.names = [name.strip() for name in names if name.strip()]
        if not self.names:
            raise SystemExit("the test program does not start")
        self.time, self.by_id = {}, collections.defaultdict(list)
        trace = work / "reached.txt"
        for name in self.names:
            began = time.monotonic()
            done = subprocess.run([program, self.quoted(name)], capture_output=True, text=True,
                                  env={**os.environ, "MUTANTS_REACHED": str(trace)})
            self.time[name] = time.monotonic() - began
            if done.returncode or "No tests ran" in done.stdout:
                raise SystemExit(f"without any mutant: {name}\n{done.stdout[-2000:]}")
            for number in trace.read_text().split():
                self.by_id[number].append(name)

    def quoted(self, name):
        return re.sub(r'([\\,\["])', r"\\\1", name)

    def of(self, mutant):
        """The runs that decide on a mutant: of the test cases that come to it, the quick ones first."""
        names = sorted(self.by_id[mutant.id[:-1]], key=self.time.get)
        quick, sum_s = 0, 0
        while quick < len(names) and sum_s < 0.1:
            sum_s += self.time[names[quick]]
            quick += 1
        parts = [part for part in (names[:quick], names[quick:]) if part]
        return [[self.program, "--abort", ",".join(map(self.quoted, part))] for part in parts]


def caught(job):
    """(id, how) of one mutant: "failed", "hung" or "" for a survivor."""
    runs, number = job
    for words in runs:
        try:
            done = subprocess.run(words, capture_output=True, timeout=LIMIT_S, env={**os.environ, "MUTANT": number})
        except subprocess.TimeoutExpired:
            return number, "hung"
        if done.returncode != 0:
            return number, "failed"
    return number, ""


def known_survivors():
    """{name of a mutant: why it may survive}, from survivors.txt: a reason and, indented below it, its mutants; `*` for
    what becomes of it stands for every mutant of that line."""
    known, why = {}, ""
    for line in (HERE / "survivors.txt").read_text().splitlines():
        if line.startswith("#") or not line.strip():
            continue
        if line.startswith("    "):
            known[line.strip()] = why
        else:
            why = line.strip()
    return known


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--build", required=True)
    parser.add_argument("--work", default="/tmp/ingle-mutation")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--built-tests", action="store_true", help="take unit_daemon_food's tests from BUILD")
    parser.add_argument("--sample", type=int, help="run only so many, none that is compiled by itself")
    parser.add_argument("--seed", type=int, default=1, help="chooses the sample")
    parser.add_argument("--only", nargs="+", help="these files, such as cooling.cpp")
    parser.add_argument("--again", action="store_true", help="only what survived the last time in WORK")
    parser.add_argument("--table", help="write the result there")
    options = parser.parse_args()
    Path(options.work).mkdir(parents=True, exist_ok=True)
    build = Build(options.build, options.work, options.jobs, options.built_tests)
    program, found = build.program()
    tests = Tests(program, build.work)
    chosen = [m for m in found if not options.only or m.file in options.only]
    if options.again:
        names = set(json.loads((Path(options.work) / "survivors.json").read_text()))
        chosen = [m for m in chosen if m.name in names]
    if options.sample:
        chosen = [m for m in chosen if not m.at]
        # By name, so that a change of one line leaves the others in.
        chosen = sorted(chosen, key=lambda m: random.Random(f"{options.seed} {m.name}").random())[:options.sample]
    print(f"{len(found)} mutants; {len(chosen)} run", flush=True)
    with multiprocessing.Pool(options.jobs) as pool:
        # The first kind before the second, and each in a random order: what was run when it is stopped is a sample.
        order = sorted(chosen, key=lambda m: (not m.first, random.Random(m.name).random()))
        jobs = [(tests.of(m), m.id) for m in order if not m.at]
        results = {}
        for number, how in pool.imap_unordered(caught, jobs, chunksize=2):
            results[number] = how
            if not how:
                name = next(m.name for m in chosen if m.id == number)
                print(f"{len(results)} run; {number} survived: {name}", flush=True)
    for m in chosen:
        if m.at:
            results[m.id] = build.by_itself(m)
    last = Path(options.work) / "survivors.json"
    last.write_text(json.dumps([m.name for m in chosen if not results[m.id]]))
    return report([m for m in chosen if results[m.id] != "does not compile"], results, options)


def table(chosen, results):
    rows = collections.OrderedDict()
    for m in chosen:
        for name in (m.file, "all"):
            row = rows.setdefault(name, [0, 0, 0, 0])
            row[0 if m.first else 2] += 1
            row[1 if m.first else 3] += bool(results[m.id])
    rows.setdefault("all", [0, 0, 0, 0])
    rows.move_to_end("all")
    percent = lambda part, whole: f"{part} ({100 * part / whole:.1f} %)" if whole else "-"
    lines = ["| file | a tenth more, comparison turned | caught | a tenth less, limit on the other side | caught |",
             "|---|---|---|---|---|"]
    return lines + [f"| {name} | {r[0]} | {percent(r[1], r[0])} | {r[2]} | {percent(r[3], r[2])} |"
                    for name, r in rows.items()]


def report(chosen, results, options):
    known = known_survivors()
    survivors = [m for m in chosen if not results[m.id]]
    why = {m.id: known.get(m.name) or known.get(f"{m.file}: *: {m.code}", "") for m in survivors}
    equivalent = [m for m in survivors if why[m.id].startswith("equivalent")]
    new = [m for m in survivors if not why[m.id]]
    for m in survivors:
        print(f"survived: {m.file}:{m.line}: {m.what}: {m.code}   [{why[m.id] or 'NOT NAMED in survivors.txt'}]")
    counted = [m for m in chosen if m not in equivalent]
    lines = table(counted, results)
    share = sum(bool(results[m.id]) for m in counted) / max(1, len(counted))
    lines += ["", f"{len(chosen)} mutants, {len(equivalent)} of them equivalent and left out of the table; of the other "
              f"{len(counted)} are caught {100 * share:.1f} %; {len(survivors) - len(equivalent)} survive."]
    print("\n".join(lines))
    if options.table:
        head = ["# Mutation of the food rules: last result", "", f"{datetime.date.today():%d %B %Y}.", ""]
        tail = ["", "Survivors:", ""]
        tail += [f"- `{m.file}`: {m.what}: `{m.code}` ({why[m.id] or 'no reason named'})" for m in survivors]
        Path(options.table).write_text("\n".join(head + lines + tail) + "\n")
    return 0 if not new and (options.sample or share >= GOAL) else 1


if __name__ == "__main__":
    sys.exit(main())
