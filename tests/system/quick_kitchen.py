"""A kitchen whose daemon and CLI live by the clock that supper_hall moves, and the hall itself: orders in, truth out."""
import json
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from kitchen_rig import BUILD, Instrument, Kitchen, die_with_parent, wait_for


class QuickKitchen(Kitchen):
    """The state lies in memory where there is such a place: seven days of commits in a minute are no test of a disk."""

    def __init__(self, text, wall, seed=1):
        place = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
        super().__init__("", tempfile.mkdtemp(prefix="ingle-test-", dir=place))
        self.line = Instrument(self.folder)
        self.file.write_text(text.replace("{port}", str(self.line.path)))
        self.clock, self.boot, self.synchronised = self.folder / "clock", self.folder / "boot_id", self.folder / "synchronised"
        self.clock.write_bytes(bytes(40))
        self.synchronised.touch()  # a time service vouches for the clock
        self.hall = subprocess.Popen([BUILD / "tests/system/supper_hall", self.clock, str(self.line.master), str(seed)], stdin=subprocess.PIPE,
                                     stdout=subprocess.PIPE, text=True, pass_fds=[self.line.master], preexec_fn=die_with_parent)
        self.boots = 0
        self.wall = wall
        self.boot_again(wall)

    def boot_again(self, wall):
        """Another boot, as after a power cut: its clock begins where this machine's stands, so that no wait of the
        daemon's for the kernel is over before it begins."""
        self.boots += 1
        self.boot.write_text(f"boot-{self.boots}\n")
        return self.order("clock", int(float(Path("/proc/uptime").read_text().split()[0])) + 60, wall)

    def order(self, *words):
        self.hall.stdin.write(" ".join(map(str, words)) + "\n")
        self.hall.stdin.flush()
        answer = self.hall.stdout.readline()
        assert answer, f"the hall ended with {self.hall.wait(5)} after {words}"
        self.truth = json.loads(answer)
        self.wall = self.truth["wall"]
        return self.truth

    def quick(self):
        return {"LD_PRELOAD": f"{BUILD}/tests/system/libquick_clock.so {BUILD}/tests/system/libboard.so", "QUICK_CLOCK": str(self.clock),
                "BOARD_BOOT_ID": str(self.boot), "BOARD_SYNCHRONISED": str(self.synchronised)}

    def start(self, **environment):
        super().start(**self.quick(), **environment)
        wait_for("the daemon at its serial line", 20, self._listens)
        self.order("hear", "yes")

    def _listens(self):
        names = [os.path.join(f"/proc/{self.process.pid}/fd", fd) for fd in os.listdir(f"/proc/{self.process.pid}/fd")]
        return any(os.path.realpath(name) == os.path.realpath(self.line.path) for name in names)

    def cut_power(self, seconds):
        """Killed without a word, the clocks go on, and another boot begins."""
        self.order("hear", "no")
        self.process.kill()
        self.process.wait()
        self.order("advance", seconds)
        self.boot_again(self.wall)
        self.start()

    def cli(self, *words, check=True):
        kept = {name: os.environ.get(name) for name in self.quick()}
        os.environ.update(self.quick())
        try:
            return super().cli(*words, check=check)
        finally:
            for name, value in kept.items():
                os.environ.pop(name) if value is None else os.environ.update({name: value})

    def clear_away(self):
        """After a test that passed: what lies in memory takes the machine's."""
        self.hall.kill()
        shutil.rmtree(self.folder)
