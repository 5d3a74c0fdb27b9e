#!/usr/bin/env python3
"""The kitchen at a real broker: every topic and payload is as asyncapi.json says; what the broker keeps is not live once
the daemon is gone; a login, encryption and an identity; brokers that are away, hang or refuse hold up nobody."""
import json
import os
import shutil
import signal
import socket
import subprocess
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from pathlib import Path

import jsonschema
from kitchen_rig import LONG, Instrument, Kitchen, Webhook, die_with_parent, free_port, main, wait_for
from reload_test import Feed
from told_test import KITCHEN

CHANNEL = """
[[channel]]
name = "house"
kind = "mqtt"
broker = "localhost:{port}"
topic = "hall/ingle"
client = "hall-kitchen"
every = "1 s"
user = "cook"
password-file = "broker.secret"
tls = "always"
certificates = "{folder}/server.pem"
certificate = "{folder}/cook.pem"
certificate-key = "{folder}/cook.key"
"""
PASSWORD = "sesame-of-the-broker"


def certificate(folder, name, subject):
    subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout", folder / f"{name}.key",
                    "-out", folder / f"{name}.pem", "-days", "30", "-subj", f"/CN={subject}", "-addext", "subjectAltName=DNS:localhost"],
                   check=True, capture_output=True)
    (folder / f"{name}.key").chmod(0o600)


class Broker:
    """Mosquitto, which lets in only who has the certificate and knows the password, and what a subscriber hears."""

    def __init__(self, folder):
        for tool in ("mosquitto", "mosquitto_sub", "mosquitto_pub"):
            assert shutil.which(tool), f"{tool} is not there; see tools/packages.sh"
        self.folder, self.port, self.heard = Path(folder), free_port(), []
        certificate(self.folder, "server", "localhost")
        certificate(self.folder, "cook", "kitchen")
        subprocess.run(["mosquitto_passwd", "-b", "-c", self.folder / "passwords", "cook", PASSWORD], check=True, capture_output=True)
        (self.folder / "passwords").chmod(0o644)
        (self.folder / "broker.secret").write_text(PASSWORD + "\n")
        (self.folder / "broker.secret").chmod(0o600)
        (self.folder / "mosquitto.conf").write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous false\npassword_file {self.folder}/passwords\ncertfile {self.folder}/server.pem\n"
            f"keyfile {self.folder}/server.key\ncafile {self.folder}/cook.pem\nrequire_certificate true\n" + ("user root\n" if os.getuid() == 0 else ""))
        self.start()

    def start(self):
        log = open(self.folder / "mosquitto.log", "a")
        self.process = subprocess.Popen(["mosquitto", "-v", "-c", self.folder / "mosquitto.conf"], stdout=log, stderr=log, preexec_fn=die_with_parent)
        wait_for("the broker", 20, lambda: "running" in self.log())

    def log(self):
        return (self.folder / "mosquitto.log").read_text()

    def way_in(self):
        return ["-h", "localhost", "-p", str(self.port), "-u", "cook", "-P", PASSWORD, "--cafile", self.folder / "server.pem", "--cert", self.folder / "cook.pem",
                "--key", self.folder / "cook.key"]

    def listen(self):
        """From now on all messages, with what the sender asked for; a late subscriber sees retained ones as such."""
        command = ["mosquitto_sub", *self.way_in(), "-V", "5", "--retain-as-published", "-t", "#", "-q", "2", "-F", "%j"]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, preexec_fn=die_with_parent)

        def read():
            for line in process.stdout:
                self.heard.append(json.loads(line))
        threading.Thread(target=read, daemon=True).start()

    def publish(self, topic, payload):
        subprocess.run(["mosquitto_pub", *self.way_in(), "-t", topic, "-m", payload, "-r"], check=True, timeout=20)

    def kept(self):
        """What a client that comes now is given of what the broker keeps."""
        lines = subprocess.run(["mosquitto_sub", *self.way_in(), "-t", "#", "-F", "%j", "--retained-only", "-W", "1"], capture_output=True, text=True, timeout=20).stdout
        return {m["topic"]: m["payload"] for m in map(json.loads, lines.splitlines())}

    def last(self, topic):
        payloads = [m["payload"] for m in self.heard if m["topic"] == "hall/ingle/" + topic and m["payload"]]
        if not payloads:
            return None
        return payloads[-1] if topic == "availability" else json.loads(payloads[-1])


def hold_against(document, messages):
    """Each message to the schema, the quality of service and the retaining of its channel; gives the channels that were seen."""
    seen = set()
    for message in messages:
        words = message["topic"].removeprefix("hall/ingle/").split("/")
        name = words[0]
        channel = document["channels"].get(name)
        assert channel and channel["address"].count("/") == len(words), message
        asked = document["operations"][name]["bindings"]["mqtt"]
        assert (message["qos"], bool(message["retain"])) == (asked["qos"], asked["retain"]), (message, asked)
        kind = document["components"]["messages"][name]
        payload = message["payload"] if kind.get("contentType") == "text/plain" else json.loads(message["payload"])
        jsonschema.Draft7Validator({**kind["payload"], "components": document["components"]}).validate(payload)
        if len(words) > 1:
            assert payload[name] == words[1], message
        seen.add(name)
    return seen


def age(iso):
    return time.time() - datetime.fromisoformat(iso.replace("Z", "+00:00")).timestamp()


def what_is_on_the_wire_is_what_is_described():
    kitchen = Kitchen("")
    broker, instrument, hook = Broker(kitchen.folder), Instrument(kitchen.folder), Webhook()
    text = KITCHEN.format(port=instrument.path, http=hook.port, band='band = ["60 degC", "70 degC"]').replace('plan = "poach"\n', "")
    kitchen.file.write_text(text + CHANNEL.format(port=broker.port, folder=kitchen.folder))
    broker.listen()
    # Left by an earlier kitchen file, and by another house.
    broker.publish("hall/ingle/vessel/kettle", '{"kitchen": "village hall", "vessel": "kettle", "celsius": 99.0}')
    broker.publish("hall/ingle/dish/pie", '{"kitchen": "another hall"}')
    wait_for("both of them", 10, lambda: len(broker.kept()) == 2)
    broker.heard.clear()
    feed = Feed(instrument, 65)
    kitchen.start()
    wait_for("the pot", 20, lambda: (broker.last("vessel/stockpot") or {}).get("celsius") == 65.0)
    assert "as hall-kitchen" in broker.log() and PASSWORD not in broker.log() + kitchen.log()
    pot = broker.last("vessel/stockpot")
    assert -1 < age(pot["read_at"]) < 5 and pot["band"] == {"low_c": 60.0, "high_c": 70.0}, pot
    assert broker.last("vessel/oven")["celsius"] is None and broker.last("vessel/oven")["reason"] == "no probe"
    assert broker.last("dish/goose-roll")["cooking"] is False and broker.last("availability") == "online"
    wait_for("the kettle to be forgotten", 10, lambda: "hall/ingle/vessel/kettle" not in broker.kept())
    assert "hall/ingle/dish/pie" in broker.kept()

    assert kitchen.cli("notices", "test", "house").stdout == "house: delivered\n"
    wait_for("the test's notice", 10, lambda: (broker.last("notice") or {}).get("kind") == "test")
    feed.celsius = 85
    alarm = wait_for("the alarm", 40, lambda: [a for a in broker.last("alarms")["alarms"] if a["alarm"] == "above-band"])[0]
    assert (alarm["subject"], alarm["state"], alarm["acknowledged_by"]) == ("stockpot", "unacknowledged", None), alarm
    wait_for("its notice", 20, lambda: broker.last("notice")["alarm"] == "above-band")
    told = {body["id"]: body for body in hook.bodies}
    assert broker.last("notice")["text"] in [body["text"] for body in told.values()], (broker.last("notice"), told)
    began = time.monotonic()
    kitchen.cli("ack")
    wait_for("who acknowledged it", 10, lambda: [a for a in broker.last("alarms")["alarms"] if a["state"] == "acknowledged" and a["acknowledged_by"]])
    assert time.monotonic() - began < 5

    # What is not read is not said, and what the broker keeps is the newest.
    feed.going = False
    feed.thread.join()
    wait_for("that the pot is silent", 30, lambda: broker.last("vessel/stockpot")["celsius"] is None)
    silent = broker.last("vessel/stockpot")
    assert silent["read_at"] is None and silent["reason"], silent
    assert json.loads(broker.kept()["hall/ingle/vessel/stockpot"])["celsius"] is None

    # Killed: the broker itself says so. Stopped: we do.
    kitchen.stop(signal.SIGKILL)
    wait_for("the last will", 10, lambda: broker.last("availability") == "offline")
    kitchen.start()
    wait_for("that it is back", 20, lambda: broker.last("availability") == "online")
    # Another file while it runs: what it does not have any more goes, and it stays live.
    kitchen.file.write_text(kitchen.file.read_text().replace('name = "oven"\n', 'name = "second-oven"\n'))
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the other oven", 20, lambda: broker.last("vessel/second-oven"))
    wait_for("the first oven to be forgotten", 20, lambda: "hall/ingle/vessel/oven" not in broker.kept())
    wait_for("that it is live", 10, lambda: broker.kept()["hall/ingle/availability"] == "online")
    if LONG:  # a daemon that hangs: the broker misses its sign of life after 22 s
        kitchen.process.send_signal(signal.SIGSTOP)
        wait_for("that it hangs", 60, lambda: broker.last("availability") == "offline")
        kitchen.process.send_signal(signal.SIGCONT)
        wait_for("that it goes on", 60, lambda: broker.last("availability") == "online")

    document = kitchen.get("/api/asyncapi.json")
    mine = [m for m in broker.heard if m["payload"]]
    assert hold_against(document, mine) == set(document["channels"]), "each channel that is described was seen"
    assert kitchen.stop() < 5
    wait_for("the farewell", 10, lambda: broker.last("availability") == "offline")


class Deaf:
    """Takes connections and says nothing."""

    def __init__(self):
        self.socket = socket.create_server(("127.0.0.1", 0))
        self.port, self.taken = self.socket.getsockname()[1], []
        threading.Thread(target=self.take, daemon=True).start()

    def take(self):
        while True:
            self.taken.append(self.socket.accept()[0])


def a_broker_in_trouble_holds_up_nobody():
    kitchen = Kitchen("")
    broker, instrument, hook, deaf, away = Broker(kitchen.folder), Instrument(kitchen.folder), Webhook(), Deaf(), free_port()
    other = lambda name, port: f'\n[[channel]]\nname = "{name}"\nkind = "mqtt"\nbroker = "127.0.0.1:{port}"\n'
    refused = CHANNEL.format(port=broker.port, folder=kitchen.folder).replace('"house"', '"refused"').replace('password-file = "broker.secret"', 'password-env = "BROKER"')
    stranger = other("stranger", broker.port).replace("127.0.0.1", "localhost") + 'tls = "always"\n'
    text = KITCHEN.format(port=instrument.path, http=hook.port, band="").replace('plan = "poach"\n', "")
    kitchen.file.write_text(text + other("away", away) + other("deaf", deaf.port) + refused + stranger)
    kitchen.start(BROKER="guessed")
    sent, send = [], instrument.send
    instrument.send = lambda line: (send(line), sent.append(line))
    feed = Feed(instrument, 65)
    state = lambda name: {c["name"]: c for c in kitchen.json("notices")["channels"]}[name]
    kitchen.cli("timer", "1 s", "peel")
    with ThreadPoolExecutor() as pool:
        said = dict(pool.map(lambda name: (name, kitchen.cli("notices", "test", name, check=False).stdout), ("away", "deaf", "refused", "stranger")))
    assert "127.0.0.1:" in said["away"] and "refused user or password" in said["refused"], said
    assert "its certificate is not trusted" in said["stranger"], said
    # That the others fail is told through it, too, and that comes before a test of it, which then says so.
    late = ("did not let us in within 7 s", "broken off, because something had to be told", "not known yet: its attempts before are not done")
    assert any(words in said["deaf"] for words in late), said
    wait_for("why it is deaf", 30, lambda: [a for n in kitchen.json("notices")["notices"] if n["channel"] == "deaf"
                                            for a in n["attempts"] if "did not let us in within 7 s" in (a["reason"] or "")])
    wait_for("the timer at the webhook", 10, lambda: [b for b in hook.bodies if "peel" in b["text"]])
    assert "guessed" not in kitchen.log()
    # It comes: no restart is needed.
    plain = kitchen.folder / "plain.conf"
    plain.write_text(f"listener {away} 127.0.0.1\nallow_anonymous true\n")
    process = subprocess.Popen(["mosquitto", "-c", plain], stderr=subprocess.DEVNULL, preexec_fn=die_with_parent)
    wait_for("the broker that was away", 20, lambda: kitchen.cli("notices", "test", "away", check=False).returncode == 0)
    assert state("away")["state"] == "proven" and state("refused")["state"] == "failing", (state("away"), state("refused"))
    read = next(p for p in kitchen.json("now")["probes"])["readings"]
    assert read > 0.8 * len(sent) > 20, (read, len(sent))
    feed.going = False
    assert kitchen.stop() < 6
    process.kill()


if __name__ == "__main__":
    main([what_is_on_the_wire_is_what_is_described, a_broker_in_trouble_holds_up_nobody])
