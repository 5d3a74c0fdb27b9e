#!/usr/bin/env python3
"""The whole path, side by side in one run with a bare loop that reads the same values and does one INSERT and one
commit each: CPU per reading, resident memory, share of a core at 8 and at 1,000 recorded probes and 1 Hz. Prints a
table of ratios.
usage: path_bench.py BUILD [seconds]"""
import math
import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

BUILD, SECONDS = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 60
PROBES, MANY = 8, 1000
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


def recording_of(folder, probes):
    noise = random.Random(1)
    path = folder / f"recording-{probes}.csv"
    names = [f"p{i + 1}" for i in range(probes)]
    with open(path, "w") as file:
        print("time," + ",".join(f"{name} [degC]" for name in names), file=file)
        for second in range(SECONDS + 60):
            row = [round(4 * (60 + 5 * (i % 8) + math.sin(second / 60 + i) + noise.gauss(0, 0.15))) / 4 for i in range(probes)]
            print(f"{second}," + ",".join(f"{value:.2f}" for value in row), file=file)
    return path, names


def daemon_on(folder, recording, names):
    """Seconds of CPU that the daemon used, in how many seconds, with a watched vessel for each probe; its memory in MiB."""
    kitchen = ['[kitchen]\nname = "bench"\nunits = "degC"\naltitude = "0 m"\n']
    for i, name in enumerate(names):
        low = 40 + 5 * (i % 8)
        kitchen.append(f'[[probe]]\nname = "{name}"\ndriver = "recorded"\nfile = "{recording}"\ncolumn = "{name}"\nevery = "1 s"\n')
        kitchen.append(f'[[vessel]]\nname = "v{i + 1}"\nkind = "oven"\nmedium = "{name}"\nband = ["{low} degC", "{low + 40} degC"]\n')
    file, state = folder / f"kitchen-{len(names)}.toml", folder / f"state-{len(names)}"
    file.write_text("\n".join(kitchen))
    state.mkdir()
    daemon = subprocess.Popen([BUILD / "daemon/ingled", "--kitchen", file, "--state", state],
                              stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    time.sleep(3 + len(names) / 100)  # a thousand probes are a long file to read
    before, began = precise_cpu(daemon.pid), time.monotonic()
    time.sleep(SECONDS)
    used, lasted = precise_cpu(daemon.pid) - before, time.monotonic() - began
    memory = resident_mib(daemon.pid)
    daemon.send_signal(signal.SIGTERM)
    assert daemon.wait(20) == 0, "the daemon did not end well"
    with sqlite3.connect(state / "logbook.db") as book:
        recorded = book.execute("SELECT count(*) FROM reading WHERE celsius IS NOT NULL").fetchone()[0]
    assert recorded > 0.9 * len(names) * SECONDS, f"only {recorded} readings were recorded"  # else the figures mean nothing
    return used, lasted, memory


def main():
    folder = Path(tempfile.mkdtemp(prefix="ingle-bench-"))
    recording, names = recording_of(folder, PROBES)
    used, lasted, memory = daemon_on(folder, recording, names)
    many_used, many_lasted, many_memory = daemon_on(folder, *recording_of(folder, MANY))

    bare = subprocess.run([BUILD / "tests/bench/bare_loop", recording, folder / "bare.db"], capture_output=True, text=True, check=True)
    readings, bare_cpu = bare.stdout.split()
    per_reading, bare_per_reading = used / (lasted * PROBES), float(bare_cpu) / int(readings)
    rows = [("CPU per reading, whole path at 1 Hz", f"{per_reading * 1e6:.1f} us", ""),
            ("CPU per reading, bare loop", f"{bare_per_reading * 1e6:.1f} us", ""),
            ("  ratio", f"{per_reading / bare_per_reading:.2f}", "goal: under 0.33"),
            ("share of a core, 8 probes at 1 Hz", f"{100 * used / lasted:.3f} %", "goal: under 1 %"),
            ("resident memory", f"{memory:.1f} MiB", "goal: under 25 MiB"),
            ("share of a core, 1,000 probes at 1 Hz", f"{100 * many_used / many_lasted:.1f} %", "goal: under 25 %"),
            ("  per reading, beside 8 probes", f"{many_used / (many_lasted * MANY) / per_reading:.2f}", "goal: under 1"),
            ("  resident memory", f"{many_memory:.0f} MiB", "")]
    for name, value, goal in rows:
        print(f"{name:38} {value:>12}   {goal}")


main()
