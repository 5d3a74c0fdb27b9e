#!/usr/bin/env python3
"""Every route, command and key that the sources offer was driven with success against the real program in this
run: the other scripts wrote down what they did (kitchen_rig.Driven). A new one without a test fails here."""
import re
import subprocess
import sys
from pathlib import Path

from kitchen_rig import BUILD, INGLE, SOURCE


def text_of(*patterns):
    return "\n".join(path.read_text() for pattern in patterns for path in sorted(SOURCE.glob(pattern)))


def offered():
    table = text_of("daemon/web/routes*.cpp")
    routes = re.findall(r'^\s*\{"[A-Z]+",\s*"(/[^"]*)"', table, re.M)
    assert len(routes) == len(re.findall(r'\{"(?:GET|HEAD|POST|PUT|PATCH|DELETE)",', table)) > 15, routes
    names = re.search(r"command_names\(\) \{\s*return \{(.*?)\}", text_of("daemon/web/commands.cpp"), re.S).group(1)
    out = {f"route {route}" for route in routes}
    out |= {f"order {name}" for name in re.findall(r'"([a-z-]+)"', names)}
    top = subprocess.run([INGLE, "--help"], capture_output=True, text=True, check=True).stdout
    for name in commands_in(top):
        below = commands_in(subprocess.run([INGLE, name, "--help"], capture_output=True, text=True, check=True).stdout)
        out |= {f"command {name} {sub}" for sub in below} or {f"command {name}"}
    calls = r'(?:reader|top|probe)\.(?:text|word|flag|number|texts|quantity|range|take|tables)\("([a-z-]+)"|references?\(reader, "([a-z-]+)"'
    keys = {a or b for a, b in re.findall(calls, text_of("config/*.cpp"))}
    keys |= set(re.findall(r'\{\s*"([a-z-]+)",\s*OptionKind', text_of("drivers/*/driver.cpp", "drivers/bus/spi.hpp", "daemon/notices/*.cpp", "daemon/notices/*/*.cpp")))
    # Of the sections that Ingle explains, in its own: `token-env` of a channel says nothing of `token-env` of [serve].
    for section, text in re.findall(r"std::array (\w+)_keys\{(.*?)\n\};", text_of("config/keys.cpp"), re.S):
        keys |= {f"{section}.{key}" for key in re.findall(r'KeyHelp\{"([a-z-]+)"', text)}
    return out | {f"key {key}" for key in keys}


def commands_in(text):
    part = re.search(r"^(?:Subcommands|SUBCOMMANDS):\n((?:  .*\n?)+)", text, re.M)
    return re.findall(r"^  ([a-z][a-z-]*)", part.group(1), re.M) if part else []


def writes_it_down(name):
    return "kitchen_rig" in (SOURCE / f"tests/system/{name}_test.py").read_text()


def driven(thing, ran):
    kind, name = thing.split(" ", 1)
    if kind == "order":
        return f"route /api/commands/{name}" in ran
    if kind == "route" and "{" in name:
        asked = re.compile("route " + re.sub(r"\\\{\w+\\\}", "[^/]+", re.escape(name)))
        return any(asked.fullmatch(line) for line in ran)
    return thing in ran


def main():
    listed = re.findall(r"ingle_system_test\((\w+)\)", (SOURCE / "tests/system/CMakeLists.txt").read_text())
    scripts = [name for name in listed if name not in ("name", "driven") and writes_it_down(name)]
    files = {name: BUILD / "driven" / f"{name}_test.txt" for name in scripts}
    absent = [name for name, file in files.items() if not file.exists()]
    for name in absent:
        print(f"FAILED system/{name} did not run before this one")
    ran = {line for name, file in files.items() if file.exists() for line in file.read_text().splitlines()}
    things = offered()
    lacking = sorted(thing for thing in things if not driven(thing, ran))
    print(f"{len(things)} routes, orders, commands and keys; {len(things) - len(lacking)} were driven against the real daemon")
    for thing in lacking:
        print(f"FAILED no test drove: {thing}")
    return 1 if lacking or absent else 0


if __name__ == "__main__":
    sys.exit(main())
