#!/usr/bin/env python3
"""Holds the tree against tools/layers.txt: who may include whom, no clock or I/O in the core, no global state,
files of a readable length, no two folders that include each other, and the picture in DEVELOPERS.md as the includes
are. Prints every offence as file:line: what; exit status 1 if there is one. --picture writes the picture anew."""
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PURE = ("daemon/model", "daemon/conditioning", "daemon/food", "daemon/forecast", "daemon/schedule", "daemon/watches", "daemon/alarms", "daemon/cook",
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


def included(names):
    """Folder -> folders of the project that its files include, and (folder, folder) -> one place that does it."""
    arrows, places = {}, {}
    for name in names:
        folder = str(Path(name).parent)
        arrows.setdefault(folder, set())
        for number, line in enumerate((ROOT / name).read_text().splitlines(), 1):
            found = re.match(r'\s*#\s*include\s*"([^"]+/)[^"/]+"', line)
            target = found and found[1].rstrip("/")
            if found and target != folder and (ROOT / target).is_dir():
                arrows[folder].add(target)
                places.setdefault((folder, target), f"{name}:{number}")
    return arrows, places


def reached(arrows, folder):
    """Every folder that `folder` includes, directly or through others."""
    seen, waiting = set(), list(arrows.get(folder, ()))
    while waiting:
        one = waiting.pop()
        if one not in seen:
            seen.add(one)
            waiting += arrows.get(one, ())
    return seen


def circles(arrows, places):
    return [f"{places[a, b]}: {a} and {b} include each other" for a in sorted(arrows) for b in sorted(arrows[a])
            if a in reached(arrows, b)]


def picture(arrows):
    """Mermaid: an arrow from each folder to those that it includes, without what follows from other arrows. The
    folders of one kind that include the same (drivers, watches, notices) are one box."""
    def box(folder):
        parent, _, name = folder.rpartition("/")
        lists = {"drivers": {"api", "bus", "reading", "thermocouple"}, "daemon/watches": set(), "daemon/notices": set()}
        return f"{parent}/*" if parent in lists and name not in lists[parent] else folder
    joined = {}
    for folder, targets in arrows.items():
        joined.setdefault(box(folder), set()).update(box(t) for t in targets if box(t) != box(folder))
    lines = ["flowchart TD"]
    for folder in sorted(joined):
        through = set().union(*(reached(joined, t) for t in joined[folder])) if joined[folder] else set()
        for target in sorted(joined[folder] - through):
            lines.append(f'    {node(folder)}["{folder}"] --> {node(target)}["{target}"]')
    return "\n".join(lines) + "\n"


def node(folder):
    return re.sub(r"\W", "_", folder.replace("*", "each"))


PICTURE = re.compile(r"(?<=```mermaid\n).*?(?=```)", re.S)


def picture_offences(arrows, write):
    page = ROOT / "DEVELOPERS.md"
    if not page.exists():
        return []
    text, drawn = page.read_text(), picture(arrows)
    if write:
        page.write_text(PICTURE.sub(lambda _: drawn, text))
    elif PICTURE.findall(text) != [drawn]:
        return ["DEVELOPERS.md:1: the picture of the folders is not what the includes say: tools/check_layers.py --picture"]
    return []


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
    arrows, places = included(f for f in files if not f.startswith("tests/"))
    offences += circles(arrows, places)
    offences += picture_offences(arrows, "--picture" in sys.argv)
    print("\n".join(offences) or f"{len(files)} files follow tools/layers.txt")
    return 1 if offences else 0


if __name__ == "__main__":
    sys.exit(main())
