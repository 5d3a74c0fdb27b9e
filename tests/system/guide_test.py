#!/usr/bin/env python3
"""The cook's guide (config/guide): every command in it is run as it stands, by a shell whose service manager and folders
are stand-ins, and its table of alarms is that of the sources, with their priorities."""
import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from kitchen_rig import BUILD, SOURCE, main

GUIDE = SOURCE / "config/guide"
# The real programs on folders of the test; what only the machine's root and service manager can do is stood in for.
TOOLS = {
    "ingle": 'INGLE_STATE={0}/var/lib/ingle exec {1}/tools/ingle "$@"',
    "sudo": '[ "$1" = chown ] || exec "$@"',
    # On a busy machine a timer of a second takes longer than the cook waits.
    "sleep": 'for i in $(seq 300); do ingle alarms | grep -q timer-over && exit 0; /bin/sleep 0.2; done; exit 1',
    "systemctl": '''case $1 in
  start) setsid {1}/daemon/ingled --kitchen {0}/etc/ingle/kitchen.toml --state {0}/var/lib/ingle </dev/null >>{0}/log 2>&1 &
         echo $! >{0}/pid; for i in $(seq 600); do ingle now >/dev/null 2>&1 && exit 0; /bin/sleep 0.1; done; exit 1 ;;
  stop) kill $(cat {0}/pid); for i in $(seq 300); do [ -d /proc/$(cat {0}/pid) ] || exit 0; /bin/sleep 0.1; done; exit 1 ;;
  reload) kill -HUP $(cat {0}/pid); /bin/sleep 2 ;;
esac''',
}


def commands(page):
    return [line[4:] for line in (GUIDE / page).read_text().splitlines() if line.startswith("    ")]


class Machine:
    def __init__(self):
        self.root = Path(tempfile.mkdtemp(prefix="ingle-guide-"))
        for folder in ("bin", "etc/ingle", "var/lib/ingle", "home"):
            (self.root / folder).mkdir(parents=True)
        for name, text in TOOLS.items():
            (self.root / "bin" / name).write_text("#!/bin/bash\n" + text.format(self.root, BUILD) + "\n")
            (self.root / "bin" / name).chmod(0o755)

    def follow(self, page):
        assert len(commands(page)) > 5, f"{page} has hardly a command"
        script = "\n".join(commands(page)).replace("/etc/ingle", f"{self.root}/etc/ingle").replace("/var/lib/ingle", f"{self.root}/var/lib/ingle")
        done = subprocess.run(["bash", "-exc", script], cwd=self.root / "home", capture_output=True, text=True, timeout=300,
                              env={**os.environ, "PATH": f"{self.root}/bin:{os.environ['PATH']}"})
        log = self.root / "log"
        assert done.returncode == 0, f"{page}: {done.stdout}{done.stderr}{log.read_text() if log.exists() else ''}"
        return done.stdout

    def end(self):
        if (self.root / "pid").exists():
            subprocess.run([self.root / "bin/systemctl", "stop"], env={**os.environ, "PATH": f"{self.root}/bin:{os.environ['PATH']}"})
        shutil.rmtree(self.root, ignore_errors=True)


def a_first_kitchen_and_then_its_record():
    machine = Machine()
    try:
        said = machine.follow("first-kitchen.md")
        for words in ("no mistakes", "village hall", "taste the stock", "acknowledged", "holding 180.0 to 190.0 degF"):
            assert words in said, f"{words!r} was not said: {said}"
        said = machine.follow("keeping.md")
        assert "no mistakes" in said and "every page is sound" in said, said
    finally:
        machine.end()


def each_alarm_is_told_of():
    sources = {}
    for file in [*SOURCE.glob("daemon/**/*.cpp"), *SOURCE.glob("daemon/**/*.hpp")]:
        for body in re.findall(r"AlarmType (?:const )?\w+(?:\[\])?\s*=?\s*\{(.*?)\};", file.read_text(), re.S):
            for name, priority in re.findall(r'\.name = "([a-z-]+)",\s*\.priority = Priority::(\w+)', body):
                sources[name] = priority
    rows = re.findall(r"^\| ([a-z-]+) \| (\w+) \| (.+) \| (.+) \|$", (GUIDE / "alarms.md").read_text(), re.M)
    told = {name: priority for name, priority, _, _ in rows if name != "alarm"}
    assert len(sources) > 40 and len(rows) - 4 == len(told), (len(sources), len(rows), len(told))
    assert told == sources, f"not the same in the guide and in the sources: {set(told.items()) ^ set(sources.items())}"


if __name__ == "__main__":
    main([a_first_kitchen_and_then_its_record, each_alarm_is_told_of])
