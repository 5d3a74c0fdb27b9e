#!/usr/bin/env python3
"""The whole path, side by side in one run with a bare loop that reads the same values and does one INSERT and one
commit each: CPU per reading, resident memory, share of a core at 8 probes and 1 Hz. Prints a table of ratios.
usage: path_bench.py BUILD [seconds]"""
import math
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

BUILD, SECONDS = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 60
PROBES = 8
TICKS = os.sysconf("SC_CLK_TCK")


def cpu_seconds(pid):
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


def precise_cpu(pid):
    total = 0
    for task in Path(f"/proc/{pid}/task").iterdir():
        total += int((task / "schedstat").read_text().split()[0])
    return total / 1e9


def resident_mib(pid):
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return math.nan


def main():
    folder = Path(tempfile.mkdtemp(prefix="ingle-bench-"))
    noise = random.Random(1)
    recording = folder / "recording.csv"
    names = [f"p{i + 1}" for i in range(PROBES)]
    with open(recording, "w") as file:
        print("time," + ",".join(f"{name} [degC]" for name in names), file=file)
        for second in range(SECONDS + 30):
            row = [round(4 * (60 + 5 * i + math.sin(second / 60 + i) + noise.gauss(0, 0.15))) / 4 for i in range(PROBES)]
            print(f"{second}," + ",".join(f"{value:.2f}" for value in row), file=file)

    kitchen = ['[kitchen]\nname = "bench"\nunits = "degC"\naltitude = "0 m"\n']
    for i, name in enumerate(names):
        kitchen.append(f'[[probe]]\nname = "{name}"\ndriver = "recorded"\nfile = "{recording}"\ncolumn = "{name}"\nevery = "1 s"\n')
        kitchen.append(f'[[vessel]]\nname = "v{i + 1}"\nkind = "oven"\nmedium = "{name}"\nband = ["{40 + 5 * i} degC", "{80 + 5 * i} degC"]\n')
    (folder / "kitchen.toml").write_text("\n".join(kitchen))
    (folder / "state").mkdir()
    daemon = subprocess.Popen([BUILD / "daemon/ingled", "--kitchen", folder / "kitchen.toml", "--state", folder / "state"],
                              stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    time.sleep(3)
    before, began = precise_cpu(daemon.pid), time.monotonic()
    time.sleep(SECONDS)
    used, lasted = precise_cpu(daemon.pid) - before, time.monotonic() - began
    memory = resident_mib(daemon.pid)
    daemon.send_signal(signal.SIGTERM)
    daemon.wait(10)

    bare = subprocess.run([BUILD / "tests/bench/bare_loop", recording, folder / "bare.db"], capture_output=True, text=True, check=True)
    readings, bare_cpu = bare.stdout.split()
    per_reading, bare_per_reading = used / (lasted * PROBES), float(bare_cpu) / int(readings)
    rows = [("CPU per reading, whole path at 1 Hz", f"{per_reading * 1e6:.1f} us", ""),
            ("CPU per reading, bare loop", f"{bare_per_reading * 1e6:.1f} us", ""),
            ("  ratio", f"{per_reading / bare_per_reading:.2f}", "goal: under 0.33"),
            ("share of a core, 8 probes at 1 Hz", f"{100 * used / lasted:.3f} %", "goal: under 1 %"),
            ("resident memory", f"{memory:.1f} MiB", "goal: under 25 MiB")]
    for name, value, goal in rows:
        print(f"{name:38} {value:>12}   {goal}")


main()
