#!/usr/bin/env python3
"""Holds the tree against tools/layers.txt: who may include whom, no clock or I/O in the core, no global state,
files of a readable length. Prints every offence as file:line: what; exit status 1 if there is one."""
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PURE = ("daemon/model", "daemon/conditioning", "daemon/food", "daemon/watches", "daemon/alarms", "daemon/cook",
        "daemon/kitchen", "daemon/review", "drivers/thermocouple")
IMPURE_CALL = re.compile(r"\bBootClock::now|system_clock::now|steady_clock::now|\btime\(nullptr\)|\bstd::cout|\bstd::cerr"
                         r"|\bfopen\(|std::(if|of|f)stream|std::thread|std::mutex|std::getenv")
MUTABLE_STATIC = re.compile(r"^\s*(?:inline\s+)?(?:static|thread_local)\s+(?!const|constexpr|inline const|_assert)[\w:<>,\s*&]+\s\w+\s*(=|;|\{)")
LINES = {".cpp": 400, ".hpp": 400}


def read_rules():
    folders, outside = {}, {}
    for line in (ROOT / "tools/layers.txt").read_text().splitlines():
        line = line.split("#")[0].strip()
        if not line:
            continue
        if " !" in line:
            name, rest = line.split(" !", 1)
            outside[name.strip()] = rest.split()
        else:
            name, rest = line.split(":", 1)
            folders[name.strip()] = rest.split()
    return folders, outside


def rule_for(rules, folder):
    if folder in rules:
        return rules[folder]
    parent = folder.rsplit("/", 1)[0] + "/*"
    return rules.get(parent)


def allowed(rule, folder, target):
    if folder == target or target in rule:
        return True
    return target.rsplit("/", 1)[0] + "/*" in rule


def tracked():
    out = subprocess.run(["git", "ls-files", "--cached", "--others", "--exclude-standard", "*.cpp", "*.hpp"], cwd=ROOT, capture_output=True, text=True, check=True)
    return [f for f in out.stdout.split() if f.startswith(("config/", "drivers/", "daemon/", "tools/", "tests/")) and (ROOT / f).exists()]


def main():
    folders, outside = read_rules()
    offences = []
    files = tracked()
    for name in files:
        folder = str(Path(name).parent)
        text = (ROOT / name).read_text()
        lines = text.splitlines()
        if len(lines) > LINES[Path(name).suffix]:
            offences.append(f"{name}:{len(lines)}: longer than {LINES[Path(name).suffix]} lines")
        if folder.startswith("tests"):
            continue
        rule, foreign = rule_for(folders, folder), rule_for(outside, folder) or []
        if rule is None:
            offences.append(f"{name}:1: the folder {folder} has no line in tools/layers.txt")
            continue
        pure = folder.startswith(PURE)
        for number, line in enumerate(lines, 1):
            found = re.match(r'\s*#\s*include\s*([<"])([^>"]+)[>"]', line)
            if found and found[1] == '"' and "/" in found[2]:
                target = str(Path(found[2]).parent)
                if not allowed(rule, folder, target):
                    offences.append(f"{name}:{number}: {folder} may not include {target}")
            elif found and found[1] == "<":
                header = found[2]
                std = "/" not in header and not header.endswith((".h", ".hpp"))
                c_std = header in ("cmath", "cstdint")
                if not std and not c_std and not header.startswith(tuple(foreign) or ("\0",)):
                    offences.append(f"{name}:{number}: {folder} may not include <{header}>")
            code = line.split("//")[0]
            if pure and IMPURE_CALL.search(code):
                offences.append(f"{name}:{number}: the core does no I/O and reads no clock: {code.strip()}")
            if MUTABLE_STATIC.match(code) and "(" not in code.split("=")[0] and not name.endswith("main.cpp"):
                offences.append(f"{name}:{number}: mutable static state: {code.strip()}")
    print("\n".join(offences) or f"{len(files)} files follow tools/layers.txt")
    return 1 if offences else 0


if __name__ == "__main__":
    sys.exit(main())
