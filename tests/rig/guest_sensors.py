"""Inside the rig's machine: sensors that the kernel reads for us (w1_therm on an emulated 1-Wire bus, lm75 behind
i2c-stub), and switches on lines."""
import ctypes
import fcntl
import glob
import time
from pathlib import Path

from guest_parts import Drivers, ask, read, tell, wait_for

I2C_SLAVE_FORCE, I2C_SMBUS = 0x0706, 0x0720  # <linux/i2c-dev.h>
SENSORS = [f"28-00000000000{i}" for i in range(1, 5)]


class _Data(ctypes.Union):
    _fields_ = [("byte", ctypes.c_uint8), ("word", ctypes.c_uint16), ("block", ctypes.c_uint8 * 34)]


class _Order(ctypes.Structure):
    _fields_ = [("read_write", ctypes.c_uint8), ("command", ctypes.c_uint8), ("size", ctypes.c_uint32),
                ("data", ctypes.POINTER(_Data))]


class Plate:
    """An LM75 whose registers are those of i2c-stub; what it measures is written there, high byte first."""

    def __init__(self):
        self.bus = next(Path(name) for name in glob.glob("/sys/bus/i2c/devices/i2c-*")
                        if read(name + "/name").startswith("SMBus stub"))
        self.number = int(self.bus.name.removeprefix("i2c-"))

    def measures(self, celsius):
        code = int(celsius * 2) << 7 & 0xFFFF
        data = _Data(word=code >> 8 | (code & 0xFF) << 8)
        with open(f"/dev/i2c-{self.number}", "r+b", buffering=0) as device:
            fcntl.ioctl(device, I2C_SLAVE_FORCE, 0x48)
            fcntl.ioctl(device, I2C_SMBUS, _Order(0, 0, 3, ctypes.pointer(data)))  # write a word to register 0

    def plug(self):
        (self.bus / "new_device").write_text("lm75 0x48\n")
        wait_for("the lm75", 3, lambda: glob.glob(str(self.bus / f"{self.number}-0048/hwmon/hwmon*")))

    def pull(self):
        (self.bus / "delete_device").write_text("0x48\n")


def w1(programs, count=1, limit=20000):
    """What each of the four sensors says: at the same time, since every read waits for its conversion."""
    for program, sensor in zip(programs, SENSORS):
        program.send("read", "w1", count, limit, 10, f"id={sensor}")
    return [program.receive()["probes"][0] for program in programs]


def value(said):
    return said[-1].get("celsius"), said[-1].get("fault")


def the_kernel_s_w1_therm_and_its_lies(check):
    wait_for("four sensors on the bus", 15, lambda: all(Path("/sys/bus/w1/devices", s).exists() for s in SENSORS))
    programs = [Drivers() for _ in SENSORS]
    tell("sensor1/measured", hex(401))              # 25.0625 degC
    tell("sensor2/browns_out", 1)                   # shows what it has before its first conversion
    tell("sensor3/flips", 0x55)                     # its checksum is wrong
    tell("sensor4/there", 0)                        # pulled off the cable
    said = w1(programs)
    check.equal("a good value", value(said[0]), (25.0625, None))
    # The kernel itself may refuse such a value (its file is empty then); told not to, it passes it on.
    check.true(f"85 at power-on: {said[1]}", value(said[1]) in ((None, "no-reply"), (None, "power-on-value")))
    check.true("a wrong checksum", said[2][-1].get("fault") in ("garbled", "no-reply"))
    check.equal("a sensor that is gone", value(said[3]), (None, "no-reply"))
    for sensor in SENSORS:
        features = Path("/sys/bus/w1/devices", sensor, "features")
        if features.exists():
            features.write_text("0\n")
    check.equal("85 at power-on, passed on", value(w1(programs)[1]), (None, "power-on-value"))
    conversions = ask("sensor1/conversions")

    tell("sensor1/measured", hex(-162 & 0xFFFF))    # -10.125 degC
    tell("sensor2/browns_out", 0)
    tell("sensor2/measured", hex(85 * 16))          # a kettle that really has 85 degC
    tell("sensor3/flips", 0)
    tell("sensor3/measured", hex(0x07FF))           # what a sensor without power shows
    tell("sensor4/there", 1)
    tell("sensor4/measured", hex(3 * 16 + 8))
    said = w1(programs)
    check.equal("below zero", value(said[0]), (-10.125, None))
    check.equal("a real 85", value(said[1]), (85.0, None))
    check.equal("without power", value(said[2]), (None, "not-powered"))
    check.equal("plugged in again", value(said[3]), (3.5, None))
    check.true("each read is a conversion of its own", ask("sensor1/conversions") > conversions)

    tell("w1_shorted", 1)
    said = w1(programs)
    tell("w1_shorted", 0)
    check.equal("the data line at ground", [value(each) for each in said], [(None, "no-reply")] * 4)
    check.equal("never there", programs[0].one("w1", "id=28-0000000000ff").get("fault"), "absent")
    said = w1(programs)
    check.equal("all again", [value(each) for each in said],
                [(-10.125, None), (85.0, None), (None, "not-powered"), (3.5, None)])
    for program in programs:
        program.__exit__()


def hwmon_of_an_lm75(check):
    plate = Plate()
    with Drivers() as drivers:
        plate.plug()
        for celsius in (25.0, 0.0, -10.5, 62.5, 125.0):
            plate.measures(celsius)
            check.equal("by its name", drivers.one("hwmon", "device=lm75").get("celsius"), celsius)
        check.equal("by its place", drivers.one("hwmon", f"device=lm75@{plate.number}-0048")["celsius"], 125.0)
        plate.pull()
        check.equal("pulled", drivers.one("hwmon", "device=lm75").get("fault"), "absent")
        plate.plug()
        plate.measures(4.5)
        check.equal("back", drivers.one("hwmon", "device=lm75")["celsius"], 4.5)


def a_lid_switch(check):
    lid = "chip=ingle-rig,line=RIG_LID"
    with Drivers() as drivers:
        tell("lid_closed", 0)
        said = drivers.order("read", "gpio-switch", 1, 700, 20, lid + ",bias=as-is")
        check.equal("a line in the air is believed in nothing", said["probes"], [[]])
        tell("lid_closed", 1)
        drivers.send("read", "gpio-switch", 3, 8000, 20, lid)
        for closed in (0, 1):
            time.sleep(1.5)
            tell("lid_closed", closed)
        check.equal("closed, open, closed", drivers.receive()["probes"], [[{"closed": each} for each in (True, False, True)]])
        said = drivers.order("read", "gpio-switch", 1, 3000, 20, lid + ",closed=high")
        check.equal("a contact the other way round", said["probes"], [[{"closed": False}]])
        tell("lid_closed", 0)
        check.equal("a resistor to ground", drivers.order("read", "gpio-switch", 1, 3000, 20, lid + ",bias=pull-down")
                    ["probes"], [[{"closed": True}]])
        tell("get_error", 5)
        said = drivers.order("read", "gpio-switch", 1, 500, 20, lid)
        tell("get_error", 0)
        check.true("told that it is lost", any("switch-lost" in event for event in said["events"]))


TESTS = [the_kernel_s_w1_therm_and_its_lies, hwmon_of_an_lm75, a_lid_switch]
