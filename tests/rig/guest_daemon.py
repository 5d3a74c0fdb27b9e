#!/usr/bin/env python3
"""Inside the rig's machine: the daemon with every kind of wire at once, and plugs that are pulled while it runs. The
instruments are at the host's end of the serial lines; a third line takes orders to the host (pull and plug the USB
adapter, let an instrument say something else)."""
import glob
import json
import os
import re
import select
import signal
import subprocess
import sys
import time
import tty
from pathlib import Path

import guest_sensors
from guest_parts import BUILD, MAX31855, Checks, Drivers, ask, read, tell, wait_for

PORT, ADAPTER = "/dev/ttyS1", "/dev/serial/by-id/usb-QEMU_QEMU_USB_SERIAL_RIG0001-if00-port0"
PLACE = Path("/dev/shm/kitchen")
LINES = 'driver = "max31855"\nchip = "ingle-rig"\nclock = "0"\ndata = "1"\ntype = "K"\nevery = "200 ms"'  # by number:
# after the chip was unplugged, its lines have no names
KITCHEN = f"""
[kitchen]
name = "village hall"
units = "degC"
altitude = "240 m"

[[probe]]
name = "stock"
select = "3"
{LINES}

[[probe]]
name = "smoke"
select = "4"
{LINES}

[[probe]]
name = "brine"
driver = "w1"
id = "28-000000000001"
every = "1 s"

[[probe]]
name = "hall-air"
driver = "hwmon"
device = "lm75"
every = "500 ms"

[[probe]]
name = "boar-core"
driver = "serial-line"
port = "{PORT}"
channel = "boar"
unit = "degC"
every = "500 ms"

[[probe]]
name = "oven-air"
driver = "serial-line"
port = "{ADAPTER}"
unit = "degC"
every = "500 ms"

[[probe]]
name = "lid"
driver = "gpio-switch"
chip = "ingle-rig"
line = "7"

[[vessel]]
name = "smoker"
kind = "smoker"
medium = "smoke"
door = "lid"
band = ["90 degC", "110 degC"]
"""


def word_55(hot, cold, faults=0):
    return (int(hot * 4) & 0x3FFF) << 18 | (1 << 16 if faults else 0) | (int(cold * 16) & 0xFFF) << 4 | faults


class Host:
    """The host, at the other end of a serial line: one order a line, answered by "done"."""

    def __init__(self):
        self.line = open("/dev/ttyS2", "r+b", buffering=0)
        tty.setraw(self.line)

    def order(self, *words):
        self.line.write(" ".join(map(str, words)).encode() + b"\n")
        answer = b""
        while not answer.endswith(b"\n"):
            if not select.select([self.line], [], [], 30)[0]:
                raise AssertionError(f"the host does not answer {words}")
            answer += self.line.read(1)
        if answer.strip() != b"done":
            raise AssertionError(f"the host answers {answer!r}")


def serial_links():
    """What udev does on a whole system: stable names for USB serial adapters, from what the adapter says of itself."""
    folder = Path("/dev/serial/by-id")
    folder.mkdir(parents=True, exist_ok=True)
    for link in folder.iterdir():
        link.unlink()
    for tty_folder in glob.glob("/sys/class/tty/ttyUSB*"):
        interface = Path(tty_folder, "device").resolve().parent
        said = [read(interface.parent / name) for name in ("manufacturer", "product", "serial")]
        name = re.sub(r"[^\w.-]", "_", "_".join(said))
        port = read(Path(tty_folder, "device/port_number"))
        (folder / f"usb-{name}-if{read(interface / 'bInterfaceNumber')}-port{port}").symlink_to(
            f"../../{Path(tty_folder).name}")
    return sorted(str(link) for link in folder.iterdir())


class Daemon:
    def __init__(self):
        PLACE.mkdir(exist_ok=True)
        (PLACE / "kitchen.toml").write_text(KITCHEN)
        self.log = open(PLACE / "log", "w+")
        self.process = subprocess.Popen([BUILD / "daemon/ingled", "--kitchen", PLACE / "kitchen.toml", "--state", PLACE / "state"],
                                        stdout=self.log, stderr=self.log)

    def cli(self, *words):
        return subprocess.run([BUILD / "tools/ingle", "--state", PLACE / "state", *words], capture_output=True, text=True)

    def now(self):
        if self.process.poll() is not None:
            raise AssertionError(f"ingled ended with {self.process.returncode}: {(PLACE / 'log').read_text()[-2000:]}")
        done = self.cli("now", "--json")
        return json.loads(done.stdout) if done.returncode in (0, 1) and done.stdout.startswith("{") else None

    def probes(self):
        now = self.now()
        return {probe["name"]: probe for probe in now["probes"]} if now else {}

    def until(self, what, *conditions, limit=30):
        """Waits until every condition holds of the same look at the probes; else says what they were."""
        seen = {}

        def look():
            seen.update(self.probes())
            return seen and all(condition(seen) for condition in conditions)
        try:
            wait_for(what, limit, look, pause=0.2)
        except AssertionError as error:
            brief = {name: (probe["celsius"], probe["reason"]) for name, probe in seen.items()}
            raise AssertionError(f"{error}: {brief}; log: {(PLACE / 'log').read_text()[-1500:]}") from None
        return dict(seen)


def reads(name, celsius):
    return lambda probes: probes[name]["celsius"] is not None and abs(probes[name]["celsius"] - celsius) <= 1


def fails(name, *words):
    """No value, and the reason has these words; a last value is never shown as one."""
    return lambda probes: probes[name]["celsius"] is None and all(word in (probes[name]["reason"] or "") for word in words)


host = daemon = plate = None


def every_wire_at_once(check):
    global host, daemon, plate
    host, plate = Host(), guest_sensors.Plate()
    plate.plug()
    check.equal("the adapter's link", wait_for("the USB adapter", 10, serial_links), [ADAPTER])
    for i, celsius in (0, 82.0), (1, 98.0):
        tell(f"socket{i}/kind", MAX31855)
        tell(f"socket{i}/conv_us", 90_000)
        tell(f"socket{i}/frame", word_55(celsius, 24))
    tell("sensor1/measured", hex(int(3.5 * 16)))
    tell("lid_closed", 1)
    plate.measures(21.5)
    host.order("say", "boar", 68.5)
    host.order("say", "oven", 176.25)
    daemon = Daemon()
    daemon.until("all six", reads("stock", 82), reads("smoke", 98), reads("brine", 3.5), reads("hall-air", 21.5),
                 reads("boar-core", 68.5), reads("oven-air", 176.25))
    for name in ("stock", "brine", "hall-air", "boar-core"):
        done = daemon.cli("probe", "read", name)
        check.true(f"probe read: {done.stdout}{done.stderr}", done.returncode == 0 and done.stdout.startswith(name))
    host.order("say", "boar", 70.0)
    tell("socket0/frame", word_55(84, 24))
    daemon.until("they follow", reads("stock", 84), reads("boar-core", 70))
    check.count += 1


def a_broken_wire_and_a_pulled_sensor_are_faults_of_their_own(check):
    tell("socket0/frame", word_55(0, 24, 1))
    tell("sensor1/there", 0)
    seen = daemon.until("two faults", fails("stock", "open"), fails("brine"), reads("smoke", 98), reads("hall-air", 21.5),
                        reads("boar-core", 70), reads("oven-air", 176.25))
    check.equal("the cook is told", daemon.cli("probe", "read", "stock").returncode, 1)
    check.true("the last value keeps its age", (seen["stock"]["last"] or {}).get("age_s", 1) > 0)
    tell("socket0/frame", word_55(84, 24))
    tell("sensor1/there", 1)
    daemon.until("both again", reads("stock", 84), reads("brine", 3.5))
    check.count += 1


def a_real_lid_is_the_smoker_s_door(check):
    phase = lambda: (daemon.now() or {"vessels": [{}]})["vessels"][0].get("phase")
    check.true(f"shut: {phase()}", phase() not in ("door open", None))
    tell("lid_closed", 0)
    wait_for("the open lid", 10, lambda: phase() == "door open")
    tell("lid_closed", 1)
    wait_for("the shut lid", 10, lambda: phase() != "door open")
    check.count += 1


def a_usb_adapter_pulled_and_plugged_in_again(check):
    host.order("pull")
    wait_for("the node to go", 10, lambda: not glob.glob("/dev/ttyUSB*"))
    serial_links()
    daemon.until("its fault", fails("oven-air"), reads("stock", 84), reads("boar-core", 70))
    host.order("say", "oven", 181.5)
    host.order("plug")
    check.equal("the same name", wait_for("the adapter", 10, serial_links), [ADAPTER])
    daemon.until("it reads again", reads("oven-air", 181.5), limit=45)
    again = [line for line in (PLACE / "log").read_text().splitlines() if "open again" in line or "opened again" in line]
    check.true("the record says so", again)


def a_serial_port_that_goes_quiet_or_is_taken(check):
    host.order("say", "boar", "-")
    daemon.until("silence is a fault", fails("boar-core"), reads("oven-air", 181.5))
    host.order("say", "boar", 71.0)
    daemon.until("it speaks again", reads("boar-core", 71))
    with Drivers() as second:
        answer = second.order("read", "serial-line", 1, 2500, 200, f"port={PORT},unit=degC")
        check.equal("a second program gets nothing of it", answer["probes"], [[]])
    daemon.until("the first goes on", reads("boar-core", 71))


def a_gpio_chip_unplugged_while_its_lines_are_held(check):
    tell("present", 0)
    seen = daemon.until("its probes fail", fails("stock"), fails("smoke"), reads("brine", 3.5), reads("hall-air", 21.5),
                        reads("boar-core", 71), reads("oven-air", 181.5))
    check.true("says why", "ingle-rig" in seen["stock"]["reason"] or "device" in seen["stock"]["reason"])
    tell("present", 1)
    tell("socket0/frame", word_55(85, 24))
    daemon.until("they read again", reads("stock", 85), reads("smoke", 98))
    phase = lambda: (daemon.now() or {"vessels": [{}]})["vessels"][0].get("phase")
    tell("lid_closed", 0)
    wait_for("the open lid", 15, lambda: phase() == "door open")
    check.count += 1


def it_stops_at_once(check):
    about_lid = [alarm for alarm in daemon.now()["alarms"] if alarm["subject"] == "lid"]
    check.equal("a lid that does not move is not called silent", about_lid, [])
    began = time.monotonic()
    daemon.process.send_signal(signal.SIGTERM)
    check.equal("its exit status", daemon.process.wait(20), 0)
    check.note(f"the daemon stopped within {time.monotonic() - began:.1f} s")
    check.equal("two selects at rest", (ask("contention"), ask("clock_errors")), (0, 0))


TESTS = [every_wire_at_once, a_broken_wire_and_a_pulled_sensor_are_faults_of_their_own,
         a_real_lid_is_the_smoker_s_door, a_usb_adapter_pulled_and_plugged_in_again,
         a_serial_port_that_goes_quiet_or_is_taken, a_gpio_chip_unplugged_while_its_lines_are_held, it_stops_at_once]

if __name__ == "__main__":
    status = Checks().run(TESTS)
    if daemon and daemon.process.poll() is None:
        daemon.process.kill()
    if daemon and status:
        print((PLACE / "log").read_text()[-4000:])
    sys.exit(status)
