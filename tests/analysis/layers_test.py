#!/usr/bin/env python3
"""The include check must fail when a rule is broken: plant a breach of each kind in a scratch copy."""
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
BREACHES = {
    "drivers/reading/breach.hpp": '#include "daemon/model/alarm.hpp"\n',
    "daemon/food/breach.cpp": "#include <sqlite3.h>\n",
    "daemon/alarms/breach.cpp": "auto t = ingle::BootClock::now();\n",
    "config/breach.cpp": "static int counter = 0;\n",
    "daemon/cook/breach.cpp": "\n" * 401,
}
# Two folders that layers.txt lets include each other: still a circle.
CIRCLE = {"daemon/one/a.hpp": '#include "daemon/two/b.hpp"\n', "daemon/two/b.hpp": '#include "daemon/one/a.hpp"\n'}


def check(folder):
    return subprocess.run([sys.executable, folder / "tools/check_layers.py"], capture_output=True, text=True)


def main():
    with tempfile.TemporaryDirectory() as scratch:
        tree = Path(scratch)
        (tree / "tools").mkdir()
        for name in ("check_layers.py", "layers.txt"):
            shutil.copy(ROOT / "tools" / name, tree / "tools")
        subprocess.run(["git", "init", "-q", tree], check=True)
        if check(tree).returncode != 0:
            sys.exit("an empty tree should pass")
        for name, text in BREACHES.items():
            path = tree / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
            result = check(tree)
            if result.returncode == 0 or name not in result.stdout:
                sys.exit(f"not caught: {name}\n{result.stdout}{result.stderr}")
            path.unlink()
        with (tree / "tools/layers.txt").open("a") as layers:
            layers.write("daemon/one : daemon/two\ndaemon/two : daemon/one\n")
        for name, text in CIRCLE.items():
            (tree / name).parent.mkdir(parents=True)
            (tree / name).write_text(text)
        if "include each other" not in check(tree).stdout:
            sys.exit("a circle of two folders was not caught")
        shutil.rmtree(tree / "daemon")
        (tree / "DEVELOPERS.md").write_text("```mermaid\nflowchart TD\n    a --> b\n```\n")
        if "the picture" not in check(tree).stdout:
            sys.exit("a picture that is not what the includes say was not caught")
    print(f"{len(BREACHES) + 2} breaches caught")


main()
