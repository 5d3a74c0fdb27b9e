#!/usr/bin/env python3
"""One timeline with five receivers that fail in ways of their own: one hangs after reading, one resets the connection, one
asks for an hour, one is away, one kills the daemon between the message and its record. Each message of each alarm arrives
under one identity, and of what waited while the network was away the newest word is told once, marked late."""
import http.server
import json
import os
import signal
import socket
import struct
import threading
import time

from kitchen_rig import Instrument, Kitchen, free_port, main, wait_for
from notices_test import seconds
from reload_test import Feed
from told_test import KITCHEN

CHANNEL = '\n[[channel]]\nname = "{name}"\nkind = "webhook"\nurl = "http://127.0.0.1:{port}/notice"\n'


class Failing:
    """Does `misdeed` to the first message about a timer whose text has `word`, if that is given; else answers 204."""

    def __init__(self, misdeed=None, word="", port=0):
        self.bodies, self.done, outer = [], False, self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_POST(self):
                body = json.loads(self.rfile.read(int(self.headers.get("Content-Length", 0))))
                if body["alarm"] != "not-delivered":
                    outer.bodies.append(body)
                    if misdeed and word in body["text"] and not outer.done:
                        outer.done = True
                        return misdeed(self)
                self.send_response(204)
                self.end_headers()

            def log_message(self, *_):
                pass

        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", port), Handler)
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


if __name__ == "__main__":
    main([every_failure_has_its_right_end])
