#!/usr/bin/env python3
"""One timeline with five receivers that fail in ways of their own: one hangs after reading, one resets the connection, one
asks for an hour, one is away, one kills the daemon between the message and its record. Each message of each alarm arrives
under one identity, and of what waited while the network was away the newest word is told once, marked late. The long form
takes the network away for 40 min: the daemon has one of its own, at the end of a cable."""
import ctypes
import http.server
import json
import os
import signal
import socket
import struct
import subprocess
import threading
import time

from kitchen_rig import LONG, Instrument, Kitchen, die_with_parent, free_port, main, wait_for
from notices_test import seconds
from reload_test import Feed
from told_test import KITCHEN

CHANNEL = '\n[[channel]]\nname = "{name}"\nkind = "webhook"\nurl = "http://127.0.0.1:{port}/notice"\n'


class Failing:
    """Does `misdeed` to the first message about a timer whose text has `word`, if that is given; else answers 204."""

    def __init__(self, misdeed=None, word="", port=0, address="127.0.0.1"):
        self.bodies, self.came, self.done, outer = [], [], False, self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_POST(self):
                body = json.loads(self.rfile.read(int(self.headers.get("Content-Length", 0))))
                if body["alarm"] != "not-delivered" or body["kind"] == "summary":
                    outer.bodies.append(body)
                    outer.came.append(time.monotonic())
                    if misdeed and word in body["text"] and not outer.done:
                        outer.done = True
                        return misdeed(self)
                self.send_response(204)
                self.end_headers()

            def log_message(self, *_):
                pass

        self.server = http.server.ThreadingHTTPServer((address, port), Handler)
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def ids_of(self, word):
        return [body["id"] for body in self.bodies if word in body["text"]]


def hangs(handler):
    time.sleep(30)


def resets(handler):
    handler.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    handler.connection.close()


def asks_for_an_hour(handler):
    handler.send_response(429)
    handler.send_header("Retry-After", "3600")
    handler.end_headers()


def every_failure_has_its_right_end():
    kitchen = Kitchen("")

    def kills(handler):
        os.kill(kitchen.process.pid, signal.SIGKILL)
        time.sleep(1)  # it never had an answer

    hang, reset, hour, kill = Failing(hangs, "peel"), Failing(resets, "peel"), Failing(asks_for_an_hour, "peel"), Failing(kills, "carve")
    away = free_port()
    instrument = Instrument(kitchen.folder)
    ports = {"reset": reset.port, "hour": hour.port, "kill": kill.port, "away": away}
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hang.port, band="")
                            + "".join(CHANNEL.format(name=name, port=port) for name, port in ports.items()))
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed = Feed(instrument, 65)
    kitchen.start()
    of = lambda channel, word: [n for n in kitchen.json("notices")["notices"] if n["channel"] == channel and word in n["text"]]
    kitchen.cli("timer", "1 s", "peel")
    kitchen.cli("timer", "6 s", "stir")  # a burst of 3 s would be one message

    asked = wait_for("the wish for an hour", 30, lambda: [n for n in of("hour", "peel") if n["attempts"]])[0]
    assert "429" in asked["attempts"][0]["reason"], asked
    assert seconds(asked["next_try"]) - seconds(asked["attempts"][0]["at"]) <= 5 * 60 + 1, asked
    failing = {c["name"]: c for c in kitchen.json("notices")["channels"]}["hour"]
    assert failing["state"] == "failing" and "429" in failing["reason"], failing
    wait_for("the reset and its repetition", 30, lambda: len(reset.ids_of("peel")) >= 2)
    wait_for("the hang and its repetition", 40, lambda: len(hang.ids_of("peel")) >= 2)
    for server in (reset, hang):
        assert len(set(server.ids_of("peel"))) == 1, server.bodies

    kitchen.cli("timer", "1 s", "carve")
    wait_for("the kill", 40, lambda: kitchen.process.poll() is not None)
    before = kill.ids_of("carve")
    assert len(before) == 1, before
    back = Failing(port=away)
    kitchen.start()
    wait_for("the message again", 30, lambda: len(kill.ids_of("carve")) >= 2)
    assert set(kill.ids_of("carve")) == set(before), kill.bodies
    wait_for("the newest word", 30, lambda: back.bodies)
    late = back.bodies[0]
    assert late["late"] is True and all(word in late["text"] for word in ("peel", "stir", "carve")), late
    wait_for("its record", 10, lambda: [n for n in of("away", "carve") if n["state"] == "delivered"])
    assert len(back.bodies) == 1, back.bodies
    feed.going = False
    kitchen.stop()


MINUTE = 60.0
VESSELS = {"stockpot": ("pot", 60, 70), "smoker": ("smoker", 90, 110), "fridge": ("fridge", 1, 5), "bath": ("bath", 50, 60)}
HALL = '[kitchen]\nname = "village hall"\nunits = "degC"\naltitude = "0 m"\n'
VESSEL = """
[[probe]]
name = "in-{name}"
driver = "serial-line"
port = "{port}"
channel = "{number}"
unit = "degC"
every = "500 ms"
[[vessel]]
name = "{name}"
kind = "{kind}"
medium = "in-{name}"
band = ["{low} degC", "{high} degC"]
on-delay = "20 s"
"""
KEPT = '\n[[channel]]\nname = "kept"\nkind = "command"\ncommand = ["/bin/sh", "-c", "cat >>{file}; echo >>{file}"]\n'


class Cable:
    """The daemon's network and the receiver's, and a cable between them that can be pulled at either end. As root."""

    def __init__(self):
        new_network = 0x40000000  # CLONE_NEWNET; of this thread and those that it starts
        assert ctypes.CDLL(None, use_errno=True).unshare(new_network) == 0, "a network of its own needs root"
        self.house = subprocess.Popen(["unshare", "-n", "sleep", "infinity"], preexec_fn=die_with_parent)
        mine = os.readlink("/proc/thread-self/ns/net")
        wait_for("the other network", 10, lambda: os.readlink(f"/proc/{self.house.pid}/ns/net") != mine)
        self.here("ip link set lo up; ip link add town type veth peer name house netns", str(self.house.pid))
        self.here("ip addr add 10.99.0.1/24 dev town; ip link set town up")
        self.there("ip link set lo up; ip addr add 10.99.0.2/24 dev house; ip link set house up")

    def enter(self):
        return ["nsenter", "-t", str(self.house.pid), "-n"]

    def here(self, *words):
        subprocess.run(["sh", "-ec", " ".join(words)], check=True)

    def there(self, words):
        subprocess.run([*self.enter(), "sh", "-ec", words], check=True)


class Ovens:
    """All vessels on one line of text; each moves to where it is sent by 6 K a minute."""

    def __init__(self, instrument):
        self.at = {name: (low + high) / 2 for name, (_, low, high) in VESSELS.items()}
        self.to, self.going = dict(self.at), True
        self.thread = threading.Thread(target=self.run, args=(instrument,), daemon=True)
        self.thread.start()

    def run(self, instrument):
        while self.going:
            for name, goal in self.to.items():
                self.at[name] += max(-0.05, min(0.05, goal - self.at[name]))
            instrument.send(",".join(f"{value:.2f}" for value in self.at.values()) + "\r\n")
            time.sleep(0.5)


def forty_minutes_without_network_are_one_summary():
    if not LONG:
        return
    cable = Cable()
    town, kitchen = Failing(address="10.99.0.1"), Kitchen("")
    instrument, kept = Instrument(kitchen.folder), kitchen.folder / "kept"
    kitchen.file.write_text(HALL + "".join(VESSEL.format(name=name, port=instrument.path, number=1 + i, kind=kind, low=low, high=high)
                                           for i, (name, (kind, low, high)) in enumerate(VESSELS.items()))
                            + CHANNEL.format(name="phone", port=town.port).replace("127.0.0.1", "10.99.0.1") + KEPT.format(file=kept))
    plain = kitchen.command()
    kitchen.command = lambda: [*cable.enter(), *plain]
    ovens = Ovens(instrument)
    kitchen.start()
    wait_for("all to hold", 300, lambda: [v["phase"] for v in kitchen.json("now")["vessels"]].count("in band") >= 3)  # a smoker settles for longer
    of = lambda channel: [n for n in kitchen.json("notices", "--last", "2 h")["notices"] if n["channel"] == channel and n["alarm"] != "not-delivered"]
    ovens.to["fridge"] = 8
    wait_for("the fridge, while the cable is there", 300, lambda: any("fridge" in body["text"] for body in town.bodies))
    time.sleep(20)
    before, began = len(town.bodies), time.monotonic()

    def at(minute):
        time.sleep(max(0, began + minute * MINUTE - time.monotonic()))
        print(f"{minute} min", flush=True)

    cable.here("ip link set town down")
    ovens.to["fridge"] = 3
    at(3)
    ovens.to["smoker"] = 84
    at(5)
    kitchen.cli("timer", "1 s", "peel")
    at(8)
    for alarm in [a for a in kitchen.json("alarms")["alarms"] if a["alarm"] == "timer-over"]:
        kitchen.cli("ack", str(alarm["id"]))
    at(10)
    ovens.to["bath"] = 64
    at(16)
    ovens.to["bath"] = 55
    at(20)
    cable.there("ip link set house down")
    cable.here("ip link set town up")
    at(25)
    ovens.to["bath"] = 64
    at(36)
    kitchen.cli("timer", "1 s", "carve")
    at(40)
    assert len(town.bodies) == before, town.bodies[before:]
    cable.there("ip link set house up")
    back = time.monotonic()
    late = wait_for("the summary", 7 * 60, lambda: town.bodies[before:])[0]
    print(f"after {town.came[before] - back:.0f} s: {json.dumps(late, ensure_ascii=False, indent=1)}", flush=True)
    alarms = kitchen.json("alarms")["alarms"]
    assert late["kind"] == "summary" and late["late"] is True, late
    still, over = late["text"].split("Still open:")[1].split("Over by now, or covered by what is open:")
    assert all(word in still for word in ("smoker", "bath", "carve")), still
    assert "fridge is no longer above its band" in over and "no longer about to boil over" in over and "carve" not in over, over
    assert "peel" not in late["text"], late["text"]  # somebody saw it meanwhile, and a newer one stands
    for alarm in alarms:
        if alarm["active"] and alarm["alarm"] != "not-delivered" and not alarm["muted_by"]:
            assert (alarm["text"].split(" (")[0] if alarm["subject_kind"] == "kitchen" else alarm["subject"]) in still, (alarm, still)
    time.sleep(3 * MINUTE)
    print(json.dumps(town.bodies[before:], ensure_ascii=False, indent=1), flush=True)
    assert len(town.bodies) == before + 1, town.bodies[before:]
    assert {n["state"] for n in of("phone")} <= {"delivered", "failed"}, of("phone")
    ids = [json.loads(line)["id"] for line in kept.read_text().splitlines() if line]
    assert len(ids) == len(set(ids)) and any("does not deliver" in line for line in kept.read_text().splitlines()), ids
    ovens.going = False
    kitchen.stop()
    cable.house.kill()


if __name__ == "__main__":
    main([every_failure_has_its_right_end, forty_minutes_without_network_are_one_summary])
