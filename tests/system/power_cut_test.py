#!/usr/bin/env python3
"""The power is cut at any write to the disk (8 lives and more; with INGLE_LONG=1 100), under the whole daemon: what no
sync had made durable is lost, torn, or there, at random. Nothing that was acknowledged is lost, at most one commit
interval of readings is, the file is sound, and the cook goes on."""
import os
import signal
import shutil
import time
from pathlib import Path

from kitchen_rig import BUILD, LONG, Kitchen, main
from lives import Lives

DAEMON = BUILD / "tests/system/cut_daemon"


class LosingPower(Kitchen):
    """cut_daemon instead of ingled; what its disk held at the cut is what the next life finds."""

    def __init__(self, text, folder):
        super().__init__(text, folder)
        self.starts = self.early = 0
        self.spared = False
        self.survivors = Path(folder) / "survivors"

    def command(self):
        self.starts += 1
        # Every other start is cut while it makes or opens the file; the rest at some write of their work.
        opening = self.starts % 2 == 0
        cut_at = 10**9 if self.spared else self.starts * 7919 % (29 if opening else 1499) + (1 if opening else 20)
        shutil.rmtree(self.survivors, ignore_errors=True)
        self.survivors.mkdir()
        return [DAEMON, self.file, self.state, str(cut_at), self.survivors, str(self.starts)]

    def start(self, **environment):
        while True:
            try:
                return super().start(**environment)
            except AssertionError:
                if self.process.poll() != 0:  # it died of something else than the cut
                    raise
                self.early += 1
                self.find_survivors()

    def find_survivors(self):
        for old in self.state.glob("logbook.db*"):
            old.unlink()
        # The cut itself, and not the time that it took to write down what is left.
        self.ended_ms = min((file.stat().st_mtime for file in self.survivors.iterdir()), default=time.time()) * 1000
        for file in self.survivors.iterdir():
            os.rename(file, self.state / file.name)

    def cut(self, when):
        if self.alive():
            self.process.send_signal(signal.SIGUSR1)
            if when == "now":  # a command makes a write at once
                self.cli("note", "the last straw", check=False)
        self.process.wait(30)
        self.find_survivors()


def cuts_lose_nothing():  # field cases D5, D6
    lives = Lives(LosingPower, LosingPower.cut, 20261125)
    lives.run(100 if LONG else 8, 10 if LONG else 8)
    print(f"  {lives.kitchen.starts - 1} cuts, {lives.kitchen.early} of them before the first answer", flush=True)


main([cuts_lose_nothing])
