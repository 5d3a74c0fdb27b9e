#!/usr/bin/env python3
"""Inside the rig's machine: the drivers' bit-banging against the kernel's own drivers on the same emulated chips,
what they say when something is wrong with the wires, and that the rig catches careless bit-banging; then the sensors
that the kernel reads for us."""
import glob
import sys
import time

import guest_sensors
from guest_parts import (COUNTERS, LINES, MAX31855, MAX31856, MAX6675, NOTHING, Checks, Drivers, ask, read, tell,
                         wait_for)

drivers = Drivers()
SOCKETS = range(4)


def two_s_complement(value, bits):
    return value & ((1 << bits) - 1)


def word_55(hot_quarters, cold_sixteenths, faults=0):
    """A MAX31855's word: 14 bits of hot end, the fault bit, 12 bits of cold junction, three causes."""
    return (two_s_complement(hot_quarters, 14) << 18 | (1 << 16 if faults else 0)
            | two_s_complement(cold_sixteenths, 12) << 4 | faults)


def words_55():
    hot = [1, 4, 100, 400, 401, 855, 2048, 4000, 5400, -1, -4, -80, -400, -800]
    cold = [400, 1, -1, -16, -880, 2000, 352, 0]
    words = [word_55(h, cold[i % len(cold)]) for i, h in enumerate(hot)]
    words += [word_55(1 << bit, 352) for bit in range(0, 12, 2)]
    words += [word_55(352, 1 << bit) for bit in range(11)]
    words += [word_55(8191, 2047), word_55(-8192, -2048)]      # no thermocouple goes there
    words += [word_55(400, 400, faults) for faults in (1, 2, 4, 3, 5, 6, 7)]
    words += [word_55(400, 400) | 1 << 16, 0xFFFFFFFF]         # a fault without a cause; nobody at home
    return words + words[:-len(words) % len(SOCKETS)]


def words_75():
    words = [n << 3 for n in (3, 5, 7, 80, 100, 352, 400, 401, 855, 999, 1000, 1023, 1025, 2000, 2047, 2050, 3000, 3333,
                              4000, 4001, 4094, 4095)]
    words += [1 << bit for bit in range(3, 15)]
    words += [0xAAA << 3 & 0x7FF8, 0x555 << 3]
    words += [400 << 3 | 4, 1 << 3 | 4, 4095 << 3 | 4]         # the wire is broken
    words += [400 << 3 | 1, 352 << 3 | 1, 0xFFFF]              # the last bit floats; nobody at home
    return words + words[:-len(words) % len(SOCKETS)]


def sockets(kind, conv_us=0):
    for i in SOCKETS:
        tell(f"socket{i}/kind", kind)
        tell(f"socket{i}/conv_us", conv_us)


def through_the_kernel():
    """Raw counts of all four chips from the kernel's driver, and what our driver for kernel sensors makes of them."""
    tell("kernel_spi", 1)
    try:
        devices = [wait_for(f"the IIO device of chip {i}", 3,
                            lambda: glob.glob(f"/sys/bus/spi/devices/spi7.{i}/iio:device*"))[0] for i in SOCKETS]
        raw = [(read(f"{device}/in_temp_raw"), read(f"{device}/in_temp_ambient_raw")) for device in devices]
        name = read(devices[0] + "/name")
        ours = [drivers.one("iio", f"device={name}@spi7.{i}") for i in SOCKETS]
    finally:
        tell("kernel_spi", 0)
    return raw, ours


def lines(i, more="type=K"):
    return f"{LINES},select=RIG_CS{i},{more}"


def value(said):
    return said.get("celsius"), said.get("fault"), said.get("cold")


def fours(words):
    return [words[start:start + len(SOCKETS)] for start in range(0, len(words), len(SOCKETS))]


def counters():
    return {name: ask(name) for name in COUNTERS} | {
        f"{name}{i}": ask(f"socket{i}/{name}") for i in SOCKETS for name in ("short_frames", "long_frames")}


def a_max31855_reads_the_same_through_lines_and_kernel(check):
    sockets(MAX31855)
    words, before = words_55(), counters()
    check.true("at least 40 words", len(set(words)) >= 40)
    for four in fours(words):
        for i in SOCKETS:
            tell(f"socket{i}/frame", four[i])
        raw, kernel = through_the_kernel()
        ours = drivers.read("max31855", *[lines(i) for i in SOCKETS])
        for i in SOCKETS:
            word, said = four[i], ours[i][0]
            check.equal("the word", said["word"], word)
            if word & 1 << 16:
                check.equal(f"{word:08x} through the kernel", raw[i][0], "Invalid argument")
                check.equal(f"{word:08x} through the kernel", kernel[i].get("fault"), "unspecified")
                kind = ("no-reply" if word == 0xFFFFFFFF else "short-to-supply" if word & 4 else
                        "short-to-ground" if word & 2 else "open" if word & 1 else "unspecified")
                check.equal(f"{word:08x} through lines", said.get("fault"), kind)
                continue
            check.equal("the kernel's counts", word_55(int(raw[i][0]), int(raw[i][1])), word)
            check.equal(f"{word:08x}", value(said), value(kernel[i]))
    check.equal("no frame was cut, no clock lost", counters(), before)
    check.note(f"MAX31855: {len(set(words))} words agree")


def a_max6675_reads_the_same_through_lines_and_kernel(check):
    sockets(MAX6675)
    words, before = words_75(), counters()
    check.true("at least 40 words", len(set(words)) >= 40)
    for four in fours(words):
        for i in SOCKETS:
            tell(f"socket{i}/frame", four[i])
        raw, kernel = through_the_kernel()
        ours = drivers.read("max6675", *[lines(i) for i in SOCKETS])
        for i in SOCKETS:
            word, said = four[i], ours[i][0]
            check.equal("the word", said["word"], word)
            if word & 4:
                check.equal(f"{word:04x} through the kernel", raw[i][0], "Invalid argument")
                check.equal(f"{word:04x} through the kernel", kernel[i].get("fault"), "unspecified")
                check.equal(f"{word:04x} through lines", said.get("fault"), "no-reply" if word == 0xFFFF else "open")
                continue
            check.equal("the kernel's counts", int(raw[i][0]), word >> 3)
            check.equal(f"{word:04x}", value(said), value(kernel[i]))
    check.equal("no frame was cut, no clock lost", counters(), before)
    check.note(f"MAX6675: {len(set(words))} words agree")


def registers_56(hot, cold, status=0):
    """Registers 0Ah to 0Fh: 14 bits of cold junction, 19 bits of hot end, the fault status."""
    return (two_s_complement(cold, 14) << 2) << 32 | (two_s_complement(hot, 19) << 5) << 8 | status


def words_56():
    hot = [1, 2, 128, 3200, 12800, 27360, 65536, 128000, 172800, -1, -128, -2560, -25600, 0]
    cold = [1600, 64, 1, -1, -64, -3520, 7999, 1408, 0]
    words = [registers_56(h, cold[i % len(cold)]) for i, h in enumerate(hot)]
    words += [registers_56(1 << bit, 1408) for bit in range(18)]
    words += [registers_56(11264, 1 << bit) for bit in range(13)]
    words += [registers_56(11264, 1408, status) for status in (0x01, 0x02, 0x03, 0x3C, 0x40, 0x80, 0xC1)]
    return words + words[:-len(words) % len(SOCKETS)]


def a_max31856_reads_the_same_through_lines_and_kernel(check):
    sockets(MAX31856)
    words, before = words_56(), counters()
    check.true("at least 40 words", len(set(words)) >= 40)
    for four in fours(words):
        for i in SOCKETS:
            tell(f"socket{i}/measured", four[i])
        raw, kernel = through_the_kernel()  # leaves the chips converting as we want them: type K, 60 Hz
        ours = drivers.read("max31856", *[lines(i, "mosi=RIG_SI,type=K,mains=60") for i in SOCKETS])
        for i in SOCKETS:
            word, said, status = four[i], ours[i][0], four[i] & 0xFF
            check.equal("the word", said["word"], word >> 8 & 0xFFFFFF)
            hot, cold = said["word"] >> 5, word >> 34
            if status & 3:
                check.equal(f"{word:012x} through the kernel", raw[i][0], "Input/output error")
                check.equal(f"{word:012x} through the kernel", kernel[i].get("fault"),
                            "open" if status & 1 else "short")
                check.equal(f"{word:012x} through lines", said.get("fault"), "short" if status & 2 else "open")
                continue
            check.equal("the kernel's counts",
                        (two_s_complement(int(raw[i][0]), 19), two_s_complement(int(raw[i][1]), 14)), (hot, cold))
            if status & 0xC0:  # the kernel passes such a value on
                check.equal(f"{word:012x} through lines", said.get("fault"), "out-of-range")
                continue
            check.equal(f"{word:012x}", value(said), value(kernel[i]))
    check.equal("no frame was cut, no clock lost", counters(), before)
    check.note(f"MAX31856: {len(set(words))} sets of registers agree")


def a_max31856_is_set_up_anew_after_its_power_was_gone(check):
    sockets(MAX31856, conv_us=200000)
    registers = lambda i: bytes.fromhex(read(f"/sys/kernel/debug/ingle_rig/socket{i}/registers"))
    for i, (options, zero, one) in enumerate([("type=K,mains=50", 0x91, 0x03), ("type=T,mains=60,average=4", 0x90, 0x27),
                                              ("type=B,mains=50,average=16", 0x91, 0x40)]):
        tell(f"socket{i}/measured", registers_56(12800 + i, 1600))
        said = drivers.read("max31856", lines(i, "mosi=RIG_SI," + options), count=2, limit=4000)[0]
        check.equal("at first", said[0].get("fault"), "power-on-value")
        check.equal("then", said[1].get("celsius"), (12800 + i) / 128)
        check.equal("control registers", (registers(i)[0], registers(i)[1]), (zero, one))
    tell("socket0/kind", MAX31856)  # power gone and back
    check.equal("registers are fresh", registers(0)[:3].hex(), "0003ff")
    said = drivers.read("max31856", lines(0, "mosi=RIG_SI,type=K"), count=2, limit=4000)[0]
    check.equal("noticed, then right", [value(one)[:2] for one in said], [(None, "power-on-value"), (100.0, None)])


def words_that_no_chip_sends_are_no_temperature(check):
    sockets(MAX31855)
    for word, fault in [(0, "no-reply"), (word_55(400, 400) | 8, "garbled"), (word_55(400, 400) | 1 << 17, "garbled"),
                        (word_55(400, 400) | 1, "garbled")]:
        tell("socket1/frame", word)
        check.equal(f"{word:08x}", drivers.one("max31855", lines(1)).get("fault"), fault)
    sockets(MAX6675)
    for word, fault in [(0, "out-of-range"), (1, "out-of-range"), (0x8C80, "garbled"), (0x0C82, "garbled")]:
        tell("socket1/frame", word)
        check.equal(f"{word:04x}", drivers.one("max6675", lines(1)).get("fault"), fault)


def chips_on_the_same_lines_do_not_mix(check):
    sockets(MAX31855)
    before = counters()
    for one, other in [(0xFFFFFFFF, 0), (0, 0xFFFFFFFF), (0xAAAA5555, 0x5555AAAA), (0x80000000, 1), (0x01900190, 0xF0600190)]:
        tell("socket0/frame", one)
        tell("socket3/frame", other)
        for said in drivers.read("max31855", lines(0), lines(3), count=2, limit=3000)[0:1]:
            check.equal("one", [each["word"] for each in said], [one, one])
        check.equal("both", [said[0]["word"] for said in drivers.read("max31855", lines(3), lines(0))], [other, one])
    check.equal("never two at once", counters(), before)


def an_empty_socket_is_no_temperature(check):
    """Field case: no chip answers, the data line lies high or low."""
    sockets(NOTHING)
    for level in "1", "0":
        tell("floating", level)
        for driver, more in ("max31855", "type=K"), ("max6675", "type=K"), ("max31856", "mosi=RIG_SI,type=K"):
            said = drivers.one(driver, lines(2, more))
            expected = "out-of-range" if (driver, level) == ("max6675", "0") else "no-reply"
            check.equal(f"{driver}, line at {level}", (said.get("celsius"), said.get("fault")), (None, expected))
            check.true("says so", "no chip answer" in said["reason"])
    tell("floating", "0")


def lines_that_are_not_to_be_had_are_named(check):
    sockets(MAX31855)
    tell("socket0/frame", word_55(400, 400))
    tell("socket1/frame", word_55(404, 400))
    chip, = glob.glob("/dev/gpiochip*")
    with Drivers() as other:
        other.order("hold", chip, 1, "oven-lamp")  # the data line
        said = drivers.one("max31855", lines(0))
        check.equal("held by a program", said.get("fault"), "refused")
        check.true("names the holder", "oven-lamp" in said["reason"])
    check.equal("free again", drivers.one("max31855", lines(0))["word"], word_55(400, 400))

    with Drivers() as other:
        other.order("hold", chip, 3, "oven-lamp")  # the select of one chip: the other one is read none the less
        said = drivers.read("max31855", lines(0), lines(1))
        check.equal("one select held", [each[0].get("fault") for each in said], ["refused", None])

    tell("kernel_spi", 1)
    try:
        said = drivers.one("max31855", lines(0))
    finally:
        tell("kernel_spi", 0)
    check.equal("held by the kernel", said.get("fault"), "refused")
    check.true("names the holder", "kernel-spi" in said["reason"])

    said = drivers.one("max31855", lines(0).replace("ingle-rig", "pinctrl-none"))
    check.equal("no such chip", said.get("fault"), "absent")
    check.true("says which there are", "ingle-rig" in said["reason"])
    said = drivers.one("max31855", lines(0).replace("RIG_SO", "17"))
    check.equal("no such line", said.get("fault"), "absent")
    said = drivers.one("max31855", lines(0).replace("RIG_SO", "RIG_S0"))
    check.equal("no such name", said.get("fault"), "absent")


def a_line_that_cannot_be_read_is_a_fault_and_comes_back(check):
    sockets(MAX31855)
    tell("socket0/frame", word_55(400, 400))
    drivers.send("read", "max31855", 8, 4000, 110, lines(0))
    time.sleep(0.25)
    tell("get_error", 5)
    time.sleep(0.3)
    tell("get_error", 0)
    said = drivers.receive()["probes"][0]
    faults = [each.get("fault") for each in said]
    check.equal("eight readings", len(said), 8)
    check.true("good at first", faults[0] is None)
    check.true("a fault between", "no-reply" in faults)
    check.true("good at last", faults[-1] is None and said[-1]["word"] == word_55(400, 400))


def a_chip_is_left_its_time_to_convert(check):
    """Chosen too soon, a chip gives its old word again: a driver in a hurry would never see a new one."""
    for kind, driver, conv_ms, old, new in (MAX31855, "max31855", 90, word_55(400, 352), word_55(800, 352)), \
                                           (MAX6675, "max6675", 200, 400 << 3, 800 << 3):
        sockets(kind, conv_us=conv_ms * 1000)
        tell("socket0/frame", old)
        tell("socket0/frames", 0)
        time.sleep(0.3)
        drivers.send("read", driver, 4, 4000, 5, lines(0))
        wait_for("the driver's first reading", 5, lambda: ask("socket0/frames"), pause=0)
        tell("socket0/frame", new)
        said = [each["word"] for each in drivers.receive()["probes"][0]]
        check.true(f"{driver} saw the new word: {said}", said[0] == old and said[-1] == new)
        length = 4 if kind == MAX31855 else 2
        time.sleep(0.3)  # the driver's last conversion is done
        tell("socket0/conv_us", 20_000_000)
        for frame in old, new:
            tell("socket0/frame", frame)
            got = drivers.order("bits", "none", 0, length)
        check.equal("a driver in a hurry gets the old word", got, list(old.to_bytes(length, "big")))


def careless_bit_banging_is_caught(check):
    frames = {MAX31855: [0xA1B2C3D4, word_55(401, -17)], MAX6675: [0x0C88, 0x7AA8]}
    for kind, length in (MAX31855, 4), (MAX6675, 2):
        sockets(kind)
        for frame in frames[kind]:
            tell("socket0/frame", frame)
            tell("socket1/frame", frame ^ 0x0FF0)
            for mistake in ("none", "late", "lowest-bit-first", "one-clock-less", "one-clock-more",
                            "clock-rests-high", "never-chosen", "never-released", "both-chosen"):
                before = counters()
                got = drivers.order("bits", mistake, 0, length)
                right = got == list(frame.to_bytes(length, "big")) and counters() == before
                check.equal(f"{mistake}, {frame:x}: read {got}", right, mistake == "none")


def the_kernel_s_spidev_reads_every_chip(check):
    for i, (kind, file, content) in enumerate([(MAX31855, "frame", word_55(400, 352)), (MAX6675, "frame", 400 << 3),
                                               (MAX31856, "measured", registers_56(12800, 1408)),
                                               (MAX31855, "frame", word_55(-80, 352))]):
        tell(f"socket{i}/kind", kind)
        tell(f"socket{i}/conv_us", 0)
        tell(f"socket{i}/{file}", content)
        tell(f"socket{i}/as_spidev", 1)
    tell("kernel_spi", 1)
    try:
        wait_for("the spidev files", 3, lambda: len(glob.glob("/dev/spidev7.*")) == 4)
        of = lambda i: f"spi=/dev/spidev7.{i},type=K"
        said = drivers.one("max31855", of(0))
        check.equal("MAX31855", (said["word"], said["cold"]), (word_55(400, 352), 22.0))
        check.equal("MAX31855 below zero", drivers.one("max31855", of(3))["word"], word_55(-80, 352))
        check.equal("MAX6675", drivers.one("max6675", of(1))["celsius"], 100.0)
        said = drivers.read("max31856", of(2), count=2)[0]
        check.equal("MAX31856", [value(each) for each in said], [(None, "power-on-value", None), (100.0, None, 22.0)])
    finally:
        tell("kernel_spi", 0)
        for i in SOCKETS:
            tell(f"socket{i}/as_spidev", 0)
    said = drivers.one("max31855", "spi=/dev/spidev7.0,type=K")
    check.equal("gone", said.get("fault"), "absent")


def frames_a_second(check):
    sockets(MAX31855)
    bench = drivers.order("bench", 0, 500)
    check.true("some", bench["frames"] > 10)
    check.note(f"bench: {bench['per_second']:.0f} frames of 32 bits a second by bit-banging, on an emulated processor")


TESTS = [a_max31855_reads_the_same_through_lines_and_kernel, a_max6675_reads_the_same_through_lines_and_kernel,
         a_max31856_reads_the_same_through_lines_and_kernel, a_max31856_is_set_up_anew_after_its_power_was_gone,
         words_that_no_chip_sends_are_no_temperature, chips_on_the_same_lines_do_not_mix,
         an_empty_socket_is_no_temperature, lines_that_are_not_to_be_had_are_named,
         a_line_that_cannot_be_read_is_a_fault_and_comes_back, a_chip_is_left_its_time_to_convert,
         careless_bit_banging_is_caught, the_kernel_s_spidev_reads_every_chip, frames_a_second,
         *guest_sensors.TESTS]

if __name__ == "__main__":
    checks = Checks()
    with drivers:
        status = checks.run(TESTS)
    sys.exit(status)
