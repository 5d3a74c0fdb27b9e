#!/usr/bin/env python3
"""Inside the rig's machine: the drivers' bit-banging against the kernel's own drivers on the same emulated chips,
what they say when something is wrong with the wires, and that the rig catches careless bit-banging."""
import sys

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
    words = [n << 3 for n in (1, 2, 3, 4, 80, 100, 352, 400, 401, 855, 1000, 1023, 1024, 2000, 2047, 2048, 3000, 4000,
                              4094, 4095)]
    words += [1 << bit for bit in range(3, 15)]
    words += [0xAAA << 3 & 0x7FF8, 0x555 << 3]
    words += [400 << 3 | 4, 1 << 3 | 4, 4095 << 3 | 4]         # the wire is broken
    words += [400 << 3 | 1, 352 << 3 | 1, 0xFFFF]              # the last bit floats; nobody at home
    return words + words[:-len(words) % len(SOCKETS)]


def sockets(kind, conv_us=0):
    for i in SOCKETS:
        tell(f"socket{i}/kind", kind)
        tell(f"socket{i}/conv_us", conv_us)


def through_the_kernel(hot="in_temp_raw", cold="in_temp_ambient_raw"):
    """Raw counts of all four chips from the kernel's driver, and what our driver for kernel sensors makes of them."""
    tell("kernel_spi", 1)
    try:
        folder = lambda i: f"/sys/bus/spi/devices/spi7.{i}"
        import glob
        devices = [wait_for(f"the IIO device of chip {i}", 3, lambda: glob.glob(folder(i) + "/iio:device*"))[0]
                   for i in SOCKETS]
        raw = [(read(f"{device}/{hot}"), read(f"{device}/{cold}")) for device in devices]
        name = read(devices[0] + "/name")
        ours = [said[0] for said in drivers_of_the_kernel(name)]
    finally:
        tell("kernel_spi", 0)
    return raw, ours


def drivers_of_the_kernel(name):
    return [drivers.read("iio", f"device={name}@spi7.{i}")[0] for i in SOCKETS]


def counters():
    return {name: ask(name) for name in COUNTERS} | {
        f"{name}{i}": ask(f"socket{i}/{name}") for i in SOCKETS for name in ("short_frames", "long_frames")}


def a_max31855_reads_the_same_through_lines_and_kernel(check):
    sockets(MAX31855)
    words, before = words_55(), counters()
    check.true("at least 40 words", len(set(words)) >= 40)
    for start in range(0, len(words), len(SOCKETS)):
        four = words[start:start + len(SOCKETS)]
        for i in SOCKETS:
            tell(f"socket{i}/frame", four[i])
        raw, kernel = through_the_kernel()
        ours = drivers.read("max31855", *[f"{LINES},select=RIG_CS{i},type=K" for i in SOCKETS])
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
            hot, cold = int(raw[i][0]), int(raw[i][1])
            check.equal("the kernel's counts", word_55(hot, cold), word)
            check.equal(f"{word:08x}", (said.get("celsius"), said.get("fault"), said["cold"]),
                        (kernel[i].get("celsius"), kernel[i].get("fault"), kernel[i]["cold"]))
            check.equal("the cold junction", said["cold"], cold / 16)
    check.equal("no frame was cut, no clock lost", counters(), before)
    check.note(f"MAX31855: {len(set(words))} words agree")


TESTS = [a_max31855_reads_the_same_through_lines_and_kernel]

if __name__ == "__main__":
    checks = Checks()
    status = checks.run(TESTS)
    drivers.end()
    sys.exit(status)
