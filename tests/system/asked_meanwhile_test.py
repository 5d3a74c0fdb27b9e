#!/usr/bin/env python3
"""Whoever asks the daemon something while its kitchen file is taken up anew has an answer: on the socket, over TCP, on a
connection that was open before, from a channel that hangs, and on the event stream."""
import http.client
import json
import signal
import socket
import threading
import time

from kitchen_rig import Instrument, Kitchen, Webhook, free_port, main, wait_for
from peers import Receiver
from reload_test import KITCHEN, Feed

SERVE = """
[serve]
tcp = true
port = {page}

[[channel]]
name = "stuck"
kind = "webhook"
url = "http://127.0.0.1:{stuck}/notice"
least = "low"
"""


class Asker:
    """Asks without a pause until it is told to stop; keeps what went wrong."""

    def __init__(self, ask):
        self.ask, self.going, self.answered, self.wrong = ask, True, 0, []
        self.thread = threading.Thread(target=self.run, daemon=True)
        self.thread.start()

    def run(self):
        while self.going:
            try:
                self.ask()
                self.answered += 1
            except Exception as error:  # noqa: BLE001 - kept for the report
                self.wrong.append(repr(error))
                time.sleep(0.1)

    def end(self):
        self.going = False
        self.thread.join(30)
        return self


def link_to(kitchen):
    link = http.client.HTTPConnection("localhost", timeout=20)
    link.sock = socket.socket(socket.AF_UNIX)
    link.sock.settimeout(20)
    link.sock.connect(str(kitchen.state / "ingled.sock"))
    return link


def answer_of(link, method, target, body=None, status=200):
    link.request(method, target, None if body is None else json.dumps(body), {"Content-Type": "application/json"})
    answer = link.getresponse()
    text = answer.read().decode()
    assert answer.status == status, (target, answer.status, text)
    return text


def a_reload_leaves_nobody_without_an_answer():
    hook, stuck, page = Webhook(), Receiver("hang"), free_port()
    kitchen = Kitchen("")
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=hook.port) + SERVE.format(page=page, stuck=stuck.port)
    kitchen.file.write_text(text)
    feed = Feed(instrument, 65)
    kitchen.start()
    wait_for("the band to be held", 60, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band")

    kept, over_tcp, writer = link_to(kitchen), http.client.HTTPConnection("127.0.0.1", page, timeout=20), link_to(kitchen)
    said = []

    def write():
        said.append(f"note number {len(said)}")
        outcome = json.loads(answer_of(writer, "POST", "/api/commands/note", {"text": said[-1]}))
        assert outcome["done"], outcome

    askers = {
        "a new connection each time": Asker(lambda: answer_of(link_to(kitchen), "GET", "/api/now")),
        "one connection": Asker(lambda: answer_of(kept, "GET", "/healthz")),
        "one connection over TCP": Asker(lambda: answer_of(over_tcp, "GET", "/api/now")),
        "the past": Asker(lambda: answer_of(link_to(kitchen), "GET", "/api/history?probe=pot")),
        "a table": Asker(lambda: answer_of(link_to(kitchen), "GET", "/api/export?last=1h")),
        "notes": Asker(write),
        "the program": Asker(lambda: kitchen.json("now")),
    }
    events = link_to(kitchen)
    events.request("GET", "/api/events")
    stream = events.getresponse()
    heard = []

    def listen():
        try:
            for line in stream:
                if line.startswith(b"data: {\"api_version\""):
                    heard.append(json.loads(line[6:])["kitchen"])
        except OSError:
            heard.append("cut")

    threading.Thread(target=listen, daemon=True).start()
    tried = []
    stuck_test = "/api/channels/stuck/test"
    trial = threading.Thread(target=lambda: tried.append(answer_of(link_to(kitchen), "POST", stuck_test, {}, 409)))
    trial.start()
    time.sleep(1)
    for name in ("barn", "mill", "hall", "barn"):
        kitchen.file.write_text(text.replace("village hall", name))
        kitchen.process.send_signal(signal.SIGHUP)
        wait_for(f"the {name}", 10, lambda: kitchen.json("now")["kitchen"] == name)
        time.sleep(0.3)
    trial.join(20)
    for who, asker in askers.items():
        asker.end()
        print(f"  {who}: {asker.answered} answers")
        assert not asker.wrong, (who, asker.wrong[:3], kitchen.log())
        assert asker.answered > 5, who
    assert heard == ["village hall", "barn", "mill", "hall", "barn"], heard
    assert tried and "kitchen file" in tried[0] and "try it again" in tried[0], tried
    feed.going = False
    kitchen.cli("note", "the last one")
    kitchen.stop()
    kept_notes = [note for (note,) in kitchen.sql("SELECT text FROM event WHERE name = 'note' ORDER BY id")]
    missing = [note for note in said if note not in kept_notes]
    assert not missing and len(kept_notes) == len(said) + 1, (missing, len(kept_notes), len(said))


if __name__ == "__main__":
    main([a_reload_leaves_nobody_without_an_answer])
