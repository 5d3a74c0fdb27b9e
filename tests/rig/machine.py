"""One boot of the rig: QEMU without hardware help, wired to sockets that the test holds."""
import json
import os
import socket
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from kernel import RigError


class Machine:
    """Starts at once. `lines`: how many serial ports besides the console; the test's ends are `ports`. The end of
    the USB serial adapter is `usb`. `system`: a folder that is laid over the host's files, and the machine is brought
    up by the host's own systemd as process 1 (rig.target in that folder)."""

    ADAPTER = {"driver": "usb-serial", "chardev": "usb", "id": "adapter", "bus": "uhci.0", "serial": "RIG0001"}

    def __init__(self, kernel, initramfs, script, share, build, lines=0, usb=False, system=None):
        self.share = Path(share)
        self.share.mkdir(parents=True, exist_ok=True)
        for old in self.share.iterdir():
            old.unlink()
        self.sockets = Path(tempfile.mkdtemp(prefix="ingle-rig-"))
        self.ports = []
        words = ["qemu-system-x86_64", "-accel", "tcg", "-machine", "q35", "-m", "512", "-nographic", "-nodefaults",
                 "-no-user-config", "-no-reboot", "-serial", f"file:{self.share}/console",
                 "-fsdev", "local,id=root,path=/,security_model=none,readonly=on,multidevs=remap",
                 "-device", "virtio-9p-pci,fsdev=root,mount_tag=hostroot",
                 "-fsdev", f"local,id=share,path={self.share},security_model=none",
                 "-device", "virtio-9p-pci,fsdev=share,mount_tag=share",
                 "-device", "isa-debug-exit,iobase=0xf4,iosize=4",
                 "-qmp", f"unix:{self.sockets}/qmp,server=on,wait=off"]
        for number in range(lines):
            self.ports.append(self._listen(f"line{number}"))
            words += ["-chardev", f"socket,id=line{number},path={self.sockets}/line{number}", "-serial", f"chardev:line{number}"]
        if usb:
            self.usb = self._listen("usb")
            words += ["-chardev", f"socket,id=usb,path={self.sockets}/usb", "-device", "piix3-usb-uhci,id=uhci",
                      "-device", ",".join(f"{key}={value}" for key, value in self.ADAPTER.items())]
        words += ["-kernel", str(kernel.home / "vmlinux"), "-initrd", str(initramfs), "-append",
                  "console=ttyS0 quiet loglevel=4 panic=-1 oops=panic 8250.nr_uarts=4 "
                  f"rig.python={sys.executable} rig.script={script} rig.share={self.share} rig.build={build}"
                  + (f" rig.system={system}" if system else "")]
        self.began = time.monotonic()
        try:
            self.process = subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                            stderr=subprocess.STDOUT, text=True)
        except FileNotFoundError:
            raise RigError("qemu-system-x86_64 is not installed; tools/check installs what the tests need") from None

    def _listen(self, name):
        server = socket.socket(socket.AF_UNIX)
        server.bind(str(self.sockets / name))
        server.listen(1)
        return server

    def manage(self, command, **arguments):
        """One order to the emulator (its machine protocol)."""
        with socket.socket(socket.AF_UNIX) as link:
            link.settimeout(20)
            link.connect(str(self.sockets / "qmp"))
            file = link.makefile("rw")
            file.readline()
            for order in ({"execute": "qmp_capabilities"}, {"execute": command, "arguments": arguments}):
                file.write(json.dumps(order) + "\n")
                file.flush()
                answer = {}
                while "return" not in answer and "error" not in answer:
                    answer = json.loads(file.readline())
            if "error" in answer:
                raise AssertionError(f"the emulator refuses {command}: {answer['error']}")

    def wait(self, limit):
        """Its exit status, or None if it had to be ended."""
        try:
            self.said, _ = self.process.communicate(timeout=limit)
            status = self.process.returncode
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.said, _ = self.process.communicate()
            status = None
        self.seconds = time.monotonic() - self.began
        return status

    def console(self):
        file = self.share / "console"
        text = file.read_text(errors="replace") if file.exists() else ""
        return text[-6000:]


class Answering(threading.Thread):
    """The host's end of one serial line: accepts QEMU's connection, then runs `serve(link)` until the line ends."""

    def __init__(self, server, serve):
        super().__init__(daemon=True)
        self.server, self.serve = server, serve
        self.start()

    def run(self):
        self.server.settimeout(60)
        try:
            link, _ = self.server.accept()
            self.serve(link)
        except OSError:
            pass  # the machine is gone
