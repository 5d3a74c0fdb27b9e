#!/usr/bin/env python3
"""Every route, command and key that the sources offer is named in a test that runs the real daemon (tests/system,
tests/rig), or stands in OPEN below: a new one without a test fails here, and so does one of OPEN that has got its test."""
import re
import subprocess
import sys
from pathlib import Path

from kitchen_rig import INGLE, SOURCE

OPEN = set(filter(None, (SOURCE / "tests/system/driven_open.txt").read_text().split("\n")))


def text_of(*patterns):
    return "\n".join(path.read_text() for pattern in patterns for path in sorted(SOURCE.glob(pattern)))


def offered():
    routes = set(re.findall(r'"(/(?:api/[a-z/]+|metrics|healthz))"', text_of("daemon/web/routes.cpp")))
    names = re.search(r"command_names\(\) \{\s*return \{(.*?)\}", text_of("daemon/web/commands.cpp"), re.S).group(1)
    out = {f"route {route}" for route in routes if not route.endswith("/")}
    out |= {f"order {name}" for name in re.findall(r'"([a-z-]+)"', names)}
    top = subprocess.run([INGLE, "--help"], capture_output=True, text=True, check=True).stdout
    for name in commands_in(top):
        below = commands_in(subprocess.run([INGLE, name, "--help"], capture_output=True, text=True, check=True).stdout)
        out |= {f"command {name} {sub}" for sub in below} or {f"command {name}"}
    calls = r'(?:reader|top|probe)\.(?:text|word|flag|number|texts|quantity|range|take|tables)\("([a-z-]+)"|references?\(reader, "([a-z-]+)"'
    keys = {a or b for a, b in re.findall(calls, text_of("config/*.cpp"))}
    keys |= set(re.findall(r'\{\s*"([a-z-]+)",\s*OptionKind', text_of("drivers/*/driver.cpp", "drivers/bus/spi.hpp", "daemon/notices/*/*.cpp")))
    return out | {f"key {key}" for key in keys}


def commands_in(text):
    part = re.search(r"^(?:Subcommands|SUBCOMMANDS):\n((?:  .*\n?)+)", text, re.M)
    return re.findall(r"^  ([a-z][a-z-]*)", part.group(1), re.M) if part else []


def driven(thing, tests):
    kind, name = thing.split(" ", 1)
    if kind == "route":
        return name in tests
    if kind == "order":
        return f"/api/commands/{name}" in tests or f'b"{name}"' in tests
    if kind == "command":
        words = r'",\s*"'.join(map(re.escape, name.split()))
        return re.search(rf'(?:cli|json|harmless|ingle|first)\w*\(\s*"{words}"', tests) is not None or re.search(rf'INGLE[^\n]*"{words}"', tests) is not None
    if f"[{name}]" in tests:
        return True
    return re.search(rf'(?:^|[{{,\n"\'\\n ]){re.escape(name)} = ', tests) is not None


def main():
    tests = "\n".join(path.read_text() for folder in ("tests/system", "tests/rig") for path in sorted((SOURCE / folder).glob("*.py"))
                      if path.name != Path(__file__).name)
    things = offered()
    lacking = {thing for thing in things if not driven(thing, tests)}
    print(f"{len(things)} routes, orders, commands and keys; {len(things - lacking)} are driven against the real daemon, {len(lacking)} are open")
    for thing in sorted(lacking - OPEN):
        print(f"FAILED no test on the real daemon drives: {thing}")
    for thing in sorted(OPEN - lacking):
        print(f"FAILED has its test or is gone, take it out of driven_open.txt: {thing}")
    return 1 if lacking != OPEN else 0


if __name__ == "__main__":
    sys.exit(main())
