#!/usr/bin/env python3
"""Boots Debian's real kernel in an emulator, with chips that are emulated line by line, and runs the program's own
drivers and the daemon there. A boot counts as passed only if the machine says so by its exit status and left its
results. `kernel_rig_test.py chips` runs one boot alone."""
import json
import os
import sys
import threading
import time
from pathlib import Path

from kernel import HERE, RigError, obtain
from machine import Machine

BUILD = Path(os.environ["INGLE_BUILD"])
PASSED = 1  # the guest wrote a zero to the exit device; a panic or a power-off gives 0


def chips(kernel, initramfs):
    return Machine(kernel, initramfs, HERE / "guest_chips.py", BUILD / "rig/chips", BUILD)


BOOTS = {"chips": (chips, 1)}  # and how many checks its result must have


def judge(name, machine, least):
    status = machine.wait(150)
    file = machine.share / "result.json"
    result = json.loads(file.read_text()) if file.exists() else {"done": [], "failed": [], "notes": []}
    for done in result["done"]:
        print(f"  passed {done['name']} ({done['compared']} compared, {done['seconds']} s)")
    for note in result["notes"]:
        print(f"  {note}")
    for failure in result["failed"]:
        print(f"  FAILED {failure}")
    good = status == PASSED and not result["failed"] and len(result["done"]) >= least
    print(f"{'passed' if good else 'FAILED'} boot {name} on {result.get('kernel', '?')}: {machine.seconds:.1f} s"
          f" in all, up after {result.get('up', '?')} s, exit status {status}")
    if not good:
        print(machine.said, machine.console())
    return good


def main():
    began = time.monotonic()
    wanted = sys.argv[1:] or list(BOOTS)
    try:
        kernel, fetching = obtain(BUILD / "rig/kernel")
        initramfs = kernel.initramfs(kernel.build_module())
        print(f"kernel {kernel.release}, module and initramfs: {time.monotonic() - began:.1f} s"
              f" ({fetching:.1f} s of it fetching)", flush=True)
        machines = {name: BOOTS[name][0](kernel, initramfs) for name in wanted}
    except RigError as error:
        print(f"FAILED the rig cannot be set up: {error}")
        return 1
    results = [judge(name, machines[name], BOOTS[name][1]) for name in wanted]
    print(f"whole rig: {time.monotonic() - began:.1f} s")
    return 0 if all(results) else 1


if __name__ == "__main__":
    sys.exit(main())
