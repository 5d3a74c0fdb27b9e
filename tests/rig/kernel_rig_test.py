#!/usr/bin/env python3
"""Boots Debian's real kernel in an emulator, with chips that are emulated line by line, and runs the program's own
drivers and the daemon there. A boot counts as passed only if the machine says so by its exit status and left its
results. `kernel_rig_test.py chips` runs one boot alone."""
import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

from kernel import HERE, RigError, obtain
from machine import Answering, Machine

BUILD = Path(os.environ["INGLE_BUILD"])
PASSED = 1  # the guest wrote a zero to the exit device; a panic or a power-off gives 0


def chips(kernel, initramfs):
    return Machine(kernel, initramfs, HERE / "guest_chips.py", BUILD / "rig/chips", BUILD)


class Instruments:
    """At the host's ends of the machine's serial lines: two that say a temperature four times a second, and one that
    takes the guest's orders."""

    def __init__(self, machine):
        self.machine, self.says = machine, {"boar": "-", "oven": "-"}
        Answering(machine.ports[0], lambda link: self.talk(link, "boar", "boar={}\r\n"))
        Answering(machine.usb, lambda link: self.talk(link, "oven", "{}\r\n"))
        Answering(machine.ports[1], self.obey)

    def talk(self, link, name, form):
        link.setblocking(False)
        while True:
            if self.says[name] != "-":
                try:
                    link.send(form.format(self.says[name]).encode())
                except BlockingIOError:
                    pass  # nobody takes it: the plug is pulled
            time.sleep(0.25)

    def obey(self, link):
        for line in link.makefile("r"):
            words = line.split()
            try:
                if words[0] == "say":
                    self.says[words[1]] = words[2]
                elif words[0] == "pull":
                    self.machine.manage("device_del", id="adapter")
                elif words[0] == "plug":
                    self.machine.manage("device_add", **self.machine.ADAPTER)
                link.sendall(b"done\n")
            except Exception as error:  # noqa: BLE001 - the guest's check fails with this sentence
                link.sendall(f"failed: {error}\n".encode())


def daemon(kernel, initramfs):
    machine = Machine(kernel, initramfs, HERE / "guest_daemon.py", BUILD / "rig/daemon", BUILD, lines=2, usb=True)
    Instruments(machine)
    return machine


RIG_TARGET = """[Unit]
Requires=basic.target systemd-journald.service rig-check.service
Wants=systemd-journald.socket systemd-journald-dev-log.socket
After=basic.target
AllowIsolate=yes
"""
# The verdict is the emulator's exit status, as in the other boots.
RIG_CHECK = """[Unit]
After=basic.target
[Service]
Type=oneshot
Environment=RIG_SHARE={share} INGLE_BUILD={build} PYTHONDONTWRITEBYTECODE=1 LC_ALL=C.UTF-8
ExecStart={python} {script}
ExecStopPost=/bin/sh /etc/systemd/system/rig-verdict
StandardOutput=tty
StandardError=tty
TTYPath=/dev/ttyS0
TimeoutStartSec=430
"""
RIG_VERDICT = r"""sync
[ "$EXIT_STATUS" = 0 ] && code=000 || code=001
printf "\\$code" | dd of=/dev/port bs=1 seek=244 count=1
poweroff -ff
"""
WATCHDOG = "[Service]\nWatchdogSec=8\n"  # the test does not wait half a minute for a daemon that hangs


def service(kernel, initramfs):
    """What `cmake --install` puts into a system, with the real unit under the real systemd."""
    root, share = BUILD / "rig/system", BUILD / "rig/service"
    shutil.rmtree(root, ignore_errors=True)
    done = subprocess.run(["cmake", "--install", BUILD, "--prefix", "/usr"], env={**os.environ, "DESTDIR": str(root)}, capture_output=True, text=True)
    if done.returncode != 0:
        raise RigError(f"cmake --install: {done.stderr}")
    units = root / "etc/systemd/system"
    (units / "ingled.service.d").mkdir(parents=True)
    (units / "ingled.service.d/watchdog.conf").write_text(WATCHDOG)
    (units / "rig.target").write_text(RIG_TARGET)
    (units / "rig-verdict").write_text(RIG_VERDICT)
    (units / "rig-check.service").write_text(RIG_CHECK.format(share=share, build=BUILD, python=sys.executable, script=HERE / "guest_service.py"))
    return Machine(kernel, initramfs, HERE / "guest_service.py", share, BUILD, system=root)


BOOTS = {"chips": (chips, 16), "daemon": (daemon, 7), "service": (service, 7)}  # and how many checks its result must have


def judge(name, machine, least):
    status = machine.wait(450)
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
    wanted = sys.argv[1:] or ["chips", "daemon"]
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
