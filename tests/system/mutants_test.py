#!/usr/bin/env python3
"""Files with bytes changed, cut and doubled, through the real command line; INGLE_LONG=1 takes thousands."""
import random
import shutil
import subprocess
import tempfile
from pathlib import Path

from kitchen_rig import INGLE, LONG, SOURCE, main

random.seed(20261126)


def mutants_of_files():
    """Kitchen files, plans and recordings with bytes changed, cut, doubled: an answer or a sentence, never a crash."""
    folder = Path(tempfile.mkdtemp(prefix="ingle-test-"))
    shutil.copytree(SOURCE / "config/plans", folder / "plans")
    kitchen = (SOURCE / "config/kitchens/harvest-supper.toml").read_bytes()
    plan = (SOURCE / "config/plans/poach.toml").read_bytes()
    rows = b"time,pot [degC],core [degC]\n" + b"".join(b"%d,%d.5,%d.25\n" % (i * 30, 80 + i % 5, 20 + i) for i in range(60))

    def mutant(text):
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

    def harmless(*words):
        done = subprocess.run([INGLE, "--state", folder / "state", *words], capture_output=True, timeout=30)
        assert done.returncode in (0, 1, 2), (words, done.returncode, done.stderr[-500:])
        assert b"\x1b" not in done.stdout + done.stderr, words
        return done.returncode

    counts = {"kitchen": [0, 0, 0], "plan": [0, 0, 0], "recording": [0, 0, 0]}
    plain = '[kitchen]\nname = "hall"\n[[probe]]\nname = "pot"\ndriver = "recorded"\nfile = "rows.csv"\n[[probe]]\nname = "core"\ndriver = "recorded"\nfile = "rows.csv"\n' \
            '[[vessel]]\nname = "kettle"\nkind = "pot"\nmedium = "pot"\n[[dish]]\nname = "roll"\nvessel = "kettle"\ncore = "core"\nplan = "poach"\n'
    (folder / "rows.csv").write_bytes(rows)
    (folder / "fixed.toml").write_text(plain)
    for _ in range(1500 if LONG else 20):
        (folder / "mutant.toml").write_bytes(mutant(kitchen))
        counts["kitchen"][harmless("check", folder / "mutant.toml")] += 1
        (folder / "poach.toml").write_bytes(mutant(plan))
        counts["plan"][harmless("check", folder / "fixed.toml")] += 1
    (folder / "poach.toml").write_bytes(plan)
    for number in range(1000 if LONG else 12):
        (folder / "mutant.csv").write_bytes(mutant(rows))
        counts["recording"][harmless("replay", folder / "mutant.csv", "--kitchen", folder / "fixed.toml")] += 1
        if number % 10 == 0:
            harmless("import", folder / "mutant.csv", "--as", f"m{number}", "--medium", "pot", "--core", "core")
            harmless("calc", "lethality", folder / "mutant.csv", "--probe", "core", "--food", "ground-poultry")
            harmless("calc", "cooling", folder / "mutant.csv", "--probe", "core")
    for kind, (right, _, wrong) in counts.items():
        print(f"  {right + wrong} mutants of a {kind}: {right} accepted, {wrong} refused with a sentence", flush=True)


if __name__ == "__main__":
    main([mutants_of_files])
