#!/usr/bin/env python3
"""The commands about probes, against the daemon on a real (pseudo) serial line: read, compare, calibrate, and
what the logbook keeps of it."""
import json
import os
import subprocess
import threading
import time

from kitchen_rig import INGLE, Instrument, Kitchen, main, wait_for


class Steady:
    """An instrument that says the same line again and again; `values` may change."""

    def __init__(self, instrument, **values):
        self.instrument, self.values, self.stopped = instrument, values, False
        self.thread = threading.Thread(target=self.run, daemon=True)
        self.thread.start()

    def run(self):
        while not self.stopped:
            line = " ".join(f"{name}={value:.2f}" for name, value in self.values.items())
            try:
                self.instrument.send(line + "\r\n")
            except OSError:
                pass
            time.sleep(0.4)


def kitchen_on(instrument, channels, more=""):
    probes = "".join(f'[[probe]]\nname = "{name}"\ndriver = "serial-line"\nport = "{instrument.path}"\n'
                     f'channel = "{channel}"\nunit = "degC"\nevery = "1 s"\n' for name, channel in channels.items())
    return Kitchen(f'[kitchen]\nname = "village hall"\nunits = "degC"\naltitude = "240 m"\n{more}{probes}')


def refused(kitchen, words, *calibrate):
    done = kitchen.cli("probe", "calibrate", *calibrate, check=False)
    assert done.returncode == 1, done
    assert words in done.stderr, done.stderr


# field case A23
def a_wet_probe_is_named_before_the_session():
    folder = Kitchen("").folder
    instrument = Instrument(folder)
    steady = Steady(instrument, T1=21.4, T2=21.9, T3=39.2)
    kitchen = kitchen_on(instrument, {"stock": "T1", "goose-core": "T2", "boar-core": "T3"})
    kitchen.start()
    wait_for("three values", 15, lambda: all(p["celsius"] for p in kitchen.json("now")["probes"]))
    done = kitchen.cli("probe", "test", "--within", "2 degC", check=False)
    assert done.returncode == 1, done.stdout
    rows = {line.split()[0]: line for line in done.stdout.splitlines()}
    assert "does not agree" in rows["boar-core"] and "does not agree" not in rows["stock"] + rows["goose-core"], done.stdout
    assert "boar-core: not as the others" in done.stdout, done.stdout
    steady.values["T3"] = 21.7
    wait_for("the dry probe", 60, lambda: kitchen.cli("probe", "test", "--within", "2 degC", check=False).returncode == 0)
    steady.stopped = True
    kitchen.stop()


def calibration_is_guided_stored_and_outlives_a_restart():
    """Numbers of the worked example in the calibration notes: 0.6 in ice, 95.1 where water boils at 94.642 degC."""
    folder = Kitchen("").folder
    instrument = Instrument(folder)
    steady = Steady(instrument, T1=0.6, T2=20.0)
    kitchen = kitchen_on(instrument, {"stock": "T1", "room": "T2"})
    kitchen.start()
    wait_for("a value", 15, lambda: kitchen.json("now")["probes"][0]["celsius"])
    quick = ["--steady-for", "5 s"]

    ice = json.loads(kitchen.cli("probe", "calibrate", "stock", "--at", "ice", "--json", *quick).stdout)
    assert abs(ice["offset_k"] + 0.6) < 1e-6 and ice["gain"] == 1.0, ice
    assert ice["measured"][0]["readings"] >= 5 and ice["before"] == [], ice
    # The second point is added to the first; made from raw values, so the first does not count twice.
    steady.values["T1"] = 95.1
    wait_for("the boil", 60, lambda: abs((kitchen.json("probe", "read", "stock")["raw"]["celsius"] or 0) - 95.1) < 0.01)
    both = json.loads(kitchen.cli("probe", "calibrate", "stock", "--at", "boiling", "--add", "--pressure", "835 hPa",
                                  "--json", *quick).stdout)
    assert abs(both["gain"] - 1.001502) < 2e-5 and abs(both["offset_k"] + 0.600901) < 2e-3, both

    steady.values["T1"] = 74.0
    def reads(celsius):
        value = kitchen.json("now")["probes"][0]["celsius"]
        return value is not None and abs(value - celsius) < 0.01
    wait_for("73.51 degC", 60, lambda: reads(73.51))
    text = kitchen.cli("probe", "read", "stock").stdout
    assert "the driver (serial-line): 74.0 degC" in text and "calibrated: reads 0.60 degC where it is 0.00 degC" in text, text
    kitchen.stop()
    lines = "SELECT gain, shift, boot_ms FROM calibration c JOIN probe p ON p.id = c.probe WHERE name = 'stock' ORDER BY c.id"
    made = kitchen.sql(lines)
    assert [round(row[0], 4) for row in made] == [1.0, 1.0, 1.0015], made
    kitchen.start()
    wait_for("73.51 degC after a restart", 30, lambda: reads(73.51))
    kitchen.cli("now")
    time.sleep(1)
    kitchen.stop()
    again = kitchen.sql(lines)
    assert again == made, (made, again)  # no new one, and the old one keeps its date
    raw, celsius = kitchen.sql("SELECT raw, celsius FROM reading WHERE probe='stock' AND raw BETWEEN 73.5 AND 74.5 LIMIT 1")[0]
    assert abs(raw - 74.0) < 0.01 and abs(celsius - 73.51) < 0.01, (raw, celsius)
    notes = [row[0] for row in kitchen.sql("SELECT text FROM event WHERE name='note' AND subject='stock'")]
    assert any("stock calibrated. In ice water: reads 0.60 degC, is 0.00 degC" in note and "scatter" in note for note in notes), notes
    # An old cook by the newest calibration: the readings in ice were recorded uncalibrated.
    rows = kitchen.cli("export", "stock", "--recalculate").stdout.splitlines()[1:]
    values = [float(row.split(",")[1]) for row in rows if row.split(",")[1].replace(".", "").replace("-", "").isdigit()]
    assert abs(values[0] - 0.0) < 0.01, values[:3]
    assert abs(float(kitchen.cli("export", "stock", "--raw").stdout.splitlines()[1].split(",")[1]) - 0.6) < 0.01
    # A word in the kitchen file that is newer wins.
    kitchen.file.write_text(kitchen.file.read_text().replace(
        'channel = "T1"\n', 'channel = "T1"\ncalibration = [{ reads = "74 degC", is = "75 degC" }]\n'))
    kitchen.start()
    wait_for("75 degC by the edited kitchen file", 30, lambda: reads(75.0))
    kitchen.stop()
    kitchen.start()
    wait_for("75 degC still", 30, lambda: reads(75.0))
    kitchen.stop()
    steady.stopped = True


# field cases F19, F20
def what_is_no_calibration_is_refused_and_twice_is_not_double():
    folder = Kitchen("").folder
    instrument = Instrument(folder)
    steady = Steady(instrument, T1=-5.5, T2=20.0)
    kitchen = kitchen_on(instrument, {"stock": "T1", "room": "T2"})
    kitchen.start()
    wait_for("a value", 15, lambda: kitchen.json("now")["probes"][0]["raw"])
    quick = ["--steady-for", "5 s", "--json"]
    refused(kitchen, "that is no matter for a calibration", "stock", "--at", "ice", *quick)
    steady.values["T1"] = 34.0
    time.sleep(1)
    refused(kitchen, "second point", "stock", "--at", "30 degC", *quick)
    for _ in range(2):
        made = json.loads(kitchen.cli("probe", "calibrate", "stock", "--at", "30 degC", "--accept-large", *quick).stdout)
        assert abs(made["offset_k"] + 4.0) < 1e-6, made
        wait_for("30 degC", 30, lambda: abs((kitchen.json("now")["probes"][0]["celsius"] or 0) - 30) < 0.01)
    # Falling by a degree a minute is never steady.
    stop = threading.Event()

    def fall():
        while not stop.wait(0.2):
            steady.values["T2"] -= 1 / 300
    threading.Thread(target=fall, daemon=True).start()
    time.sleep(3)
    refused(kitchen, "did not become steady", "room", "--at", "20 degC", "--give-up-after", "12 s", *quick)
    stop.set()
    # Against another probe, and away with it again.
    steady.values["T2"] = 29.5
    time.sleep(1)
    made = json.loads(kitchen.cli("probe", "calibrate", "room", "--at", "stock", *quick).stdout)
    assert abs(made["offset_k"] - 0.5) < 0.02, made
    kitchen.cli("probe", "calibrate", "room", "--clear", "--json")
    assert kitchen.json("now")["probes"][1]["calibration"] == []
    done = subprocess.run([INGLE, "--state", kitchen.state, "probe", "calibrate", "stock"], stdin=subprocess.DEVNULL,
                          capture_output=True, text=True)
    assert done.returncode == 2 and "--at ice" in done.stderr, done
    steady.stopped = True
    kitchen.stop()


def a_probe_is_listed_and_read_without_a_daemon():
    folder = Kitchen("").folder
    instrument = Instrument(folder)
    steady = Steady(instrument, T1=61.3)
    kitchen = kitchen_on(instrument, {"stock": "T1"})
    one = json.loads(kitchen.cli("probe", "read", "stock", "--kitchen", kitchen.file, "--json").stdout)
    assert one["celsius"] == 61.3, one
    listed = kitchen.cli("probe", "list", "--kitchen", kitchen.file).stdout
    assert "stock" in listed and "not read: " in listed and "drivers in this build" in listed, listed
    steady.stopped = True


main([a_wet_probe_is_named_before_the_session, calibration_is_guided_stored_and_outlives_a_restart,
      what_is_no_calibration_is_refused_and_twice_is_not_double, a_probe_is_listed_and_read_without_a_daemon])
