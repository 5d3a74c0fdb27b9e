#!/usr/bin/env python3
"""Kitchen files, plans and recordings with small mistakes and with garbage in them: an answer or a sentence, never a
crash; and what `check` accepts the daemon starts with, watches and ends cleanly. INGLE_LONG=1: 3,000 files of kitchens
and plans, 1,000 recordings."""
import random
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from kitchen_rig import INGLE, LONG, SOURCE, Kitchen, main, wait_for

random.seed(20261126)
PLAIN = """
[kitchen]
name = "hall"
[[probe]]
name = "pot"
driver = "recorded"
file = "rows.csv"
[[probe]]
name = "core"
driver = "recorded"
file = "rows.csv"
[[vessel]]
name = "kettle"
kind = "pot"
medium = "pot"
[[dish]]
name = "roll"
vessel = "kettle"
core = "core"
plan = "poach"
"""
ROWS = b"time,pot [degC],core [degC]\n" + b"".join(b"%d,%d.5,%d.25\n" % (i * 30, 80 + i % 5, 20 + i) for i in range(60))


def garbage(text):
    data = bytearray(text)
    for _ in range(random.randrange(1, 6)):
        at = random.randrange(len(data))
        kind = random.randrange(6)
        if kind == 0:
            data[at] = random.randrange(256)
        elif kind == 1:
            del data[at:at + random.randrange(1, 60)]
        elif kind == 2:
            data[at:at] = data[at:at + 40]
        elif kind == 3:
            data[at:at] = random.choice([b"1e400", b"-nan", b"\xff\xfe", b"\x1b[2J", b"[" * 300, b'"' * 3, b"99999999999999999999", b"2062-01-01T00:00:00Z"])
        elif kind == 4:
            data = data[:at + 1]
        else:
            other = random.randrange(len(data))
            data[at], data[other] = data[other], data[at]
    return bytes(data)


def slip(text):
    """One slip of the hand: another number, another unit, a line left out, doubled or moved, a name with another letter."""
    lines = text.decode().split("\n")
    kept = [i for i, line in enumerate(lines) if line.strip() and not line.startswith("#")]
    at = random.choice(kept)
    kind = random.choice([0, 0, 0, 0, 0, 1, 2, 3, 4] + [5] * (b'"' in text))
    if kind == 0:
        numbered = random.choice([i for i in kept if re.search(r"\d", lines[i])])
        number = random.choice(list(re.finditer(r"-?\d+(\.\d+)?", lines[numbered])))
        other = random.choice([float(number[0]) * random.choice([0.9, 0.95, 1.05, 1.1, 0, 0.5, 2, -1, 1000])] * 3 + [random.randrange(300)])
        lines[numbered] = lines[numbered][:number.start()] + f"{other:g}" + lines[numbered][number.end():]
    elif kind == 1:
        lines[at] = lines[at].replace("degF", "degC") if "degF" in lines[at] else lines[at].replace("min", "h")
    elif kind == 2:
        del lines[at]
    elif kind == 3:
        other = random.choice(kept)
        lines[at], lines[other] = lines[other], lines[at]
    elif kind == 4:
        lines.insert(at, lines[at])
    else:
        named = random.choice([i for i in kept if '"' in lines[i]])
        word = re.search(r'"([^"]*)"', lines[named])
        letters = list(word[1])
        letters.insert(random.randrange(len(letters) + 1), random.choice("aZ9 -_'ü°%"))
        lines[named] = lines[named][:word.start(1)] + "".join(letters) + lines[named][word.end(1):]
    return "\n".join(lines).encode()


class Bench:
    def __init__(self):
        self.folder = Path(tempfile.mkdtemp(prefix="ingle-test-"))
        shutil.copytree(SOURCE / "config/plans", self.folder / "plans")
        (self.folder / "rows.csv").write_bytes(ROWS)
        (self.folder / "fixed.toml").write_text(PLAIN)
        self.counts = {}

    def harmless(self, what, *words):
        done = subprocess.run([INGLE, "--state", self.folder / "state", *words], capture_output=True, timeout=30)
        assert done.returncode in (0, 1, 2), (words, done.returncode, done.stderr[-500:])
        assert b"\x1b" not in done.stdout + done.stderr, words
        self.counts.setdefault(what, [0, 0])[done.returncode != 0] += 1
        return done.returncode

    def lives(self, text, plan=None):
        """The daemon takes what `check` took."""
        kitchen = Kitchen("")
        shutil.copytree(self.folder / "plans", kitchen.folder / "plans")
        (kitchen.folder / "rows.csv").write_bytes(ROWS)
        if plan:
            (kitchen.folder / "poach.toml").write_bytes(plan)
        kitchen.file.write_bytes(text)
        kitchen.start()
        for dish in kitchen.json("now")["dishes"]:
            kitchen.cli("begin", dish["name"], check=False)
        wait_for("its first seconds", 15, lambda: kitchen.json("now")["daemon"]["running_s"] > 1.5)
        assert kitchen.stop() < 5 and kitchen.process.returncode == 0, kitchen.log()
        shutil.rmtree(kitchen.folder)
        self.counts.setdefault("kitchen that the daemon ran", [0, 0])[0] += 1


def mutants_of_files():
    bench = Bench()
    kitchen = (SOURCE / "config/kitchens/harvest-supper.toml").read_bytes().replace(b'address = "127.0.0.1"', b"tcp = false")
    plan = (SOURCE / "config/plans/poach.toml").read_bytes()
    each = 12  # of those accepted so many are run once
    accepted = 0
    for number in range(1500 if LONG else 60):
        changed = (garbage if number % 4 == 0 else slip)(kitchen)
        (bench.folder / "mutant.toml").write_bytes(changed)
        if bench.harmless("kitchen", "check", bench.folder / "mutant.toml") == 0:
            accepted += 1
            if accepted % each == 0:
                bench.lives(changed)
        changed = (garbage if number % 4 == 0 else slip)(plan)
        (bench.folder / "poach.toml").write_bytes(changed)  # found before the one in plans/
        if bench.harmless("plan", "check", bench.folder / "fixed.toml") == 0:
            accepted += 1
            if accepted % each == 0:
                bench.lives(PLAIN.encode(), changed)
        (bench.folder / "poach.toml").write_bytes(plan)
    for number in range(1000 if LONG else 12):
        file = bench.folder / "mutant.csv"
        file.write_bytes((garbage if number % 3 else slip)(ROWS))
        bench.harmless("recording", "replay", file, "--kitchen", bench.folder / "fixed.toml")
        if number % 10 == 0:
            bench.harmless("recording to be kept", "import", file, "--as", f"m{number}", "--medium", "pot", "--core", "core")
            bench.harmless("recording to be reviewed", "review", f"m{number}")
            bench.harmless("recording to be judged", "calc", "lethality", file, "--probe", "core", "--food", "ground-poultry")
            bench.harmless("recording to be judged", "calc", "cooling", file, "--probe", "core")
    for what, (right, wrong) in bench.counts.items():
        print(f"  {right + wrong} times a {what}: {right} accepted, {wrong} refused with a sentence", flush=True)
    for what in ("kitchen", "plan"):
        assert bench.counts[what][0] >= sum(bench.counts[what]) / 10, bench.counts
    assert bench.counts["kitchen that the daemon ran"][0] > 0


if __name__ == "__main__":
    main([mutants_of_files])
