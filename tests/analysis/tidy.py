#!/usr/bin/env python3
"""clang-tidy over the program's own sources (not the tests). The list of checks is made for Debian 12's version.

A source that was found clean is not read again until it, a file that it includes, its command or the checks change;
what it includes is what the build's compiler saw. The clean ones are kept in $XDG_CACHE_HOME/ingle-tidy.
usage: tidy.py BUILD-FOLDER
"""
import hashlib
import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[2]
TIDY = ["clang-tidy", "--quiet", "--extra-arg=-Wno-unknown-warning-option",
        "--extra-arg=-D__cpp_impl_coroutine=201902L", "--extra-arg=-DBOOST_ASIO_HAS_CO_AWAIT=1"]


@lru_cache(maxsize=None)
def digest(path):
    return hashlib.sha256(Path(path).read_bytes()).hexdigest()


def included(build):
    """Of every object that the build has made: the files that its compiler read."""
    told = subprocess.run(["ninja", "-C", build, "-t", "deps"], capture_output=True, text=True, check=True).stdout
    found, files = {}, []
    for line in told.splitlines():
        if line.startswith("    "):
            files.append(os.path.normpath(os.path.join(build, line.strip())))
        elif ": #deps" in line:
            files = []
            if line.endswith("(VALID)"):
                found[line.split(": #deps")[0]] = files
    return found


def key(version, entry, files):
    """Of all that the answer depends on; the folder of the checkout is not part of it."""
    parts = [version, digest(SOURCE / ".clang-tidy"), *TIDY, entry["command"]]
    parts += [f"{file} {digest(file)}" for file in sorted(files)]
    return hashlib.sha256("\n".join(parts).replace(str(SOURCE), ".").encode()).hexdigest()


def main():
    build = os.path.realpath(sys.argv[1])
    version = subprocess.run(["clang-tidy", "--version"], capture_output=True, text=True).stdout
    if "version 14." not in version:
        print("skipped: not clang-tidy 14")
        return 77
    clean = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "ingle-tidy"
    clean.mkdir(parents=True, exist_ok=True)
    entries = {e["file"]: e for e in json.loads(Path(build, "compile_commands.json").read_text())}
    listed = subprocess.run(["git", "ls-files", *(f"{top}/*.cpp" for top in ("config", "drivers", "daemon", "tools"))],
                            cwd=SOURCE, capture_output=True, text=True, check=True).stdout.split()
    known, todo = included(build), []
    for file in listed:
        entry = entries.get(str(SOURCE / file))
        if entry is None:
            continue
        files = known.get(entry.get("output") or entry["command"].split(" -o ")[1].split()[0])
        mark = clean / key(version, entry, files) if files else None
        if mark is None or not mark.exists():
            todo.append((file, mark))
    print(f"{len(todo)} of {len(listed)} sources to read, the others are as they were found clean", flush=True)

    def check(one):
        file, mark = one
        ran = subprocess.run([*TIDY, "-p", build, file], cwd=SOURCE, capture_output=True, text=True)
        print(ran.stdout, end="", flush=True)
        if ran.returncode == 0 and not ran.stdout and mark:
            mark.touch()
        return ran.returncode == 0

    with ThreadPoolExecutor(len(os.sched_getaffinity(0))) as pool:
        return 0 if all(list(pool.map(check, todo))) and listed else 1


if __name__ == "__main__":
    sys.exit(main())
