"""Parts for the scripts that run inside the rig's machine: the rig's files, the drivers' program, a list of checks
that is written to the share. Only Python's own library; nothing is judged outside Checks."""
import json
import os
import subprocess
import time
import traceback
from pathlib import Path

BUILD, SHARE = Path(os.environ["INGLE_BUILD"]), Path(os.environ["RIG_SHARE"])
RIG = Path("/sys/kernel/debug/ingle_rig")
NOTHING, MAX31855, MAX6675, MAX31856 = range(4)
LINES = "chip=ingle-rig,clock=RIG_SCK,data=RIG_SO"
COUNTERS = ["contention", "idle_clocks", "clock_errors"]


def tell(name, value):
    (RIG / name).write_text(f"{value}\n")


def ask(name):
    """A number, whatever its base; the kernel writes switches as Y and N."""
    text = (RIG / name).read_text().strip()
    return int(text == "Y") if text in "YN" else int(text, 0)


def read(path):
    """A sysfs file's text, or the name of the error."""
    try:
        return Path(path).read_text().strip()
    except OSError as error:
        return os.strerror(error.errno)


def wait_for(what, limit, condition, pause=0.05):
    end = time.monotonic() + limit
    while time.monotonic() < end:
        value = condition()
        if value:
            return value
        time.sleep(pause)
    raise AssertionError(f"waited {limit} s in vain for {what}")


class Drivers:
    """rig_probe, kept running: the program's drivers, one order at a time."""

    def __init__(self):
        self.process = subprocess.Popen([BUILD / "tests/rig/rig_probe"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                        text=True, bufsize=1)
        self.order("ready")

    def send(self, *words):
        self.process.stdin.write(" ".join(map(str, words)) + "\n")

    def receive(self):
        line = self.process.stdout.readline()
        if not line:
            raise AssertionError(f"rig_probe ended with {self.process.wait()}")
        answer = json.loads(line)
        if "error" in answer:
            raise AssertionError(f"rig_probe: {answer['error']}")
        return answer

    def order(self, *words):
        self.send(*words)
        return self.receive()

    def read(self, driver, *options, count=1, limit=3000, every=10):
        """What each probe said, a list of `count` each."""
        answer = self.order("read", driver, count, limit, every, *options)
        self.log, self.events = answer["log"], answer["events"]
        for one, said in zip(options, answer["probes"]):
            if len(said) < count:
                raise AssertionError(f"{driver} {one} said only {said} within {limit} ms; log: {self.log}")
        return answer["probes"]

    def one(self, driver, options, **more):
        return self.read(driver, options, **more)[0][-1]

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.stdin.close()
        self.process.wait(10)


class Checks:
    """Counts what was compared; the first lines of what failed are kept."""

    def __init__(self):
        self.done, self.failures, self.notes, self.began = [], [], [], time.monotonic()

    def equal(self, what, is_, should_be):
        if is_ != should_be:
            raise AssertionError(f"{what}: {is_!r}, should be {should_be!r}")
        self.count += 1

    def true(self, what, value):
        if not value:
            raise AssertionError(f"{what}: {value!r}")
        self.count += 1

    def note(self, text):
        self.notes.append(text)

    def run(self, tests):
        for test in tests:
            self.count, began = 0, time.monotonic()
            name = test.__name__.replace("_", " ")
            try:
                test(self)
                if self.count == 0:
                    raise AssertionError("nothing was checked")
                self.done.append({"name": name, "compared": self.count, "seconds": round(time.monotonic() - began, 2)})
            except Exception as error:  # noqa: BLE001 - a test may fail in any way
                where = traceback.extract_tb(error.__traceback__)[-1]
                inner = [frame for frame in traceback.extract_tb(error.__traceback__) if "guest" in frame.filename][-1]
                self.failures.append(f"{name}: {error} (line {inner.lineno}: {inner.line}; {where.name})")
            print("rig:", name, f"{time.monotonic() - began:.1f} s", flush=True)
            self.write()
        return 1 if self.failures else 0

    def write(self):
        """After each test: where a boot hangs, what it got to is known."""
        (SHARE / "result.json").write_text(json.dumps(
            {"kernel": os.uname().release, "done": self.done, "failed": self.failures, "notes": self.notes,
             "seconds": round(time.monotonic() - self.began, 2), "up": read("/proc/uptime").split()[0]}))
