#!/usr/bin/env python3
"""Tokens and passwords: they do their work from files and from the environment, and stand in no log, logbook, process
list, answer or error; an old logbook that holds one is cleaned; the state folder is nobody else's."""
import http.client
import sqlite3
import stat
import subprocess
import time
from pathlib import Path

from kitchen_rig import SOURCE, Instrument, Kitchen, Webhook, die_with_parent, free_port, main, mqtt_publish, wait_for

SECRETS = {"api": "sesame-of-the-api", "hook": "sesame-of-the-hook", "env": "sesame-of-the-environment", "mqtt": "sesame-of-the-broker",
           "path": "sesame-of-the-path", "query": "sesame-of-the-query"}
KITCHEN = """
[kitchen]
name = "village hall"
units = "degC"
altitude = "0 m"

[[probe]]
name = "stock"
driver = "serial-line"
port = "{port}"
unit = "degC"
every = "200 ms"

[[probe]]
name = "store"
driver = "mqtt"
broker = "127.0.0.1:{broker}"
user = "cook"
password-file = "mqtt.secret"
topic = "store"
unit = "degC"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
token-file = "hook.secret"

[[channel]]
name = "board"
kind = "webhook"
url = "http://127.0.0.1:{http}/board"
token-env = "BOARD_TOKEN"

[[channel]]
name = "door"
kind = "webhook"
url = "http://127.0.0.1:{http}/sesame-of-the-path/door?key=sesame-of-the-query"

[[channel]]
name = "nobody"
kind = "webhook"
url = "http://127.0.0.1:{nobody}/sesame-of-the-path/door?key=sesame-of-the-query"

[serve]
port = {api}
token-file = "api.secret"
"""


class Broker:
    """A real MQTT broker that lets in only who knows the password."""

    def __init__(self, folder):
        self.port = free_port()
        passwords, settings = Path(folder) / "passwords", Path(folder) / "mosquitto.conf"
        subprocess.run(["mosquitto_passwd", "-b", "-c", passwords, "cook", SECRETS["mqtt"]], check=True, capture_output=True)
        passwords.chmod(0o644)
        settings.write_text(f"listener {self.port} 127.0.0.1\nallow_anonymous false\npassword_file {passwords}\nuser root\n")
        self.log = open(Path(folder) / "mosquitto.log", "w")
        self.process = subprocess.Popen(["mosquitto", "-v", "-c", settings], stdout=self.log, stderr=self.log, preexec_fn=die_with_parent)

    def publish(self, text):
        mqtt_publish(self.port, "store", text.encode(), "cook", SECRETS["mqtt"])


def http_status(port, token, method="GET", path="/api/now"):
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    link.request(method, path, headers={"Authorization": f"Bearer {token}"} if token else {})
    answer = link.getresponse()
    return answer.status, answer.read()


def others_cannot(path):
    return stat.S_IMODE(path.stat().st_mode) & 0o007 == 0


def secrets_work_and_stand_nowhere():
    kitchen = Kitchen("")
    for name in ("api", "hook", "mqtt"):
        file = kitchen.folder / f"{name}.secret"
        file.write_text(SECRETS[name] + "\n")
        file.chmod(0o600)
    hook, instrument, broker, port = Webhook(), Instrument(kitchen.folder), Broker(kitchen.folder), free_port()
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, broker=broker.port, api=port, nobody=free_port()))
    kitchen.state.rmdir()  # made by the daemon, whatever the caller's mask is
    kitchen.start(BOARD_TOKEN=SECRETS["env"])

    # They do their work.
    assert kitchen.json("now") and http_status(port, SECRETS["api"], "POST", "/api/commit")[0] == 200
    began = time.monotonic()
    status, said = http_status(port, "sesame-of-somebody", "POST", "/api/commit")
    assert status == 401 and time.monotonic() - began > 0.9, "a guess is slowed down"
    assert SECRETS["api"].encode() not in said
    import http.client as client

    class Local(client.HTTPConnection):
        def connect(self):
            import socket
            self.sock = socket.socket(socket.AF_UNIX)
            self.sock.connect(str(kitchen.state / "ingled.sock"))

    def post(path):
        link = Local("localhost")
        link.request("POST", path)
        answer = link.getresponse()
        return answer.status, answer.read().decode()

    assert post("/api/channels/phone/test")[0] == 200 and post("/api/channels/board/test")[0] == 200
    assert post("/api/channels/door/test")[0] == 200 and post("/api/channels/nobody/test")[0] == 409
    assert f"/{SECRETS['path']}/door?key={SECRETS['query']}" in hook.paths, hook.paths
    hook.tokens.remove(None)
    assert set(hook.tokens) == {f"Bearer {SECRETS['hook']}", f"Bearer {SECRETS['env']}"}, hook.tokens

    def heard():
        broker.publish("4.5")
        return next(p for p in kitchen.json("now")["probes"] if p["name"] == "store")["celsius"] == 4.5
    wait_for("a reading through the broker", 15, heard)

    # A secret that becomes everybody's is used no more, and this is told without it.
    (kitchen.folder / "hook.secret").chmod(0o644)
    status, said = post("/api/channels/phone/test")
    assert status == 409 and "everybody on this machine" in said, said
    (kitchen.folder / "hook.secret").chmod(0o600)

    # They stand nowhere, while it runs and after it.
    shown = "".join([kitchen.cli("now").stdout, kitchen.cli("doctor", check=False).stdout, kitchen.cli("probe", "list").stdout,
                     kitchen.cli("check", kitchen.file).stdout, kitchen.cli("export").stdout, said,
                     Path(f"/proc/{kitchen.process.pid}/cmdline").read_text()])
    for path in ("/api/now", "/metrics", "/healthz", "/api/notices", "/api/alarms"):
        shown += http_status(port, None, "GET", path)[1].decode()
    kitchen.cli("note", "to be kept")
    kitchen.stop()
    accepted = kitchen.state / "kitchen.accepted"  # the kitchen file itself, to start with where that is broken
    assert stat.S_IMODE(accepted.stat().st_mode) == 0o600
    kept = kitchen.log().encode() + b"".join(path.read_bytes() for path in kitchen.state.rglob("*") if path.is_file() and path != accepted)
    for name, secret in SECRETS.items():
        assert secret not in shown, f"the secret of {name} is shown"
        assert secret.encode() not in kept, f"the secret of {name} is kept"
    assert "hook.secret" in kitchen.sql("SELECT text FROM setting ORDER BY id DESC LIMIT 1")[0][0], "its name is kept"


def the_api_s_token_from_the_environment():
    port = free_port()
    kitchen = Kitchen('[kitchen]\nname = "hall"\n[[probe]]\nname = "a"\ndriver = "simulated"\nof = "stockpot"\n'
                      f'[serve]\nport = {port}\ntoken-env = "API_TOKEN"\n')
    kitchen.start(API_TOKEN=SECRETS["api"])
    assert http_status(port, SECRETS["api"], "POST", "/api/commit")[0] == 200
    status, said = http_status(port, "sesame-of-somebody", "POST", "/api/commit")
    assert status == 401 and SECRETS["api"].encode() not in said + kitchen.log().encode(), said
    kitchen.stop()


def the_state_is_nobody_elses():
    import os
    before = os.umask(0)
    try:
        kitchen = Kitchen('[kitchen]\nname = "hall"\n[[probe]]\nname = "a"\ndriver = "simulated"\nof = "stockpot"\n')
        kitchen.state.rmdir()
        kitchen.start()
    finally:
        os.umask(before)
    kitchen.cli("note", "something to keep")
    for path in [kitchen.state, *kitchen.state.iterdir()]:
        assert others_cannot(path), f"{path.name}: {oct(path.stat().st_mode)}"
    kitchen.stop()
    # One of earlier days was open to all.
    kitchen.state.chmod(0o755)
    for path in kitchen.state.iterdir():
        path.chmod(0o644)
    kitchen.start()
    for path in [kitchen.state, *kitchen.state.glob("logbook.db*")]:
        assert others_cannot(path), f"{path.name}: {oct(path.stat().st_mode)}"
    kitchen.stop()


def an_old_logbook_is_cleaned():
    kitchen = Kitchen('[kitchen]\nname = "hall"\n[[probe]]\nname = "a"\ndriver = "simulated"\nof = "stockpot"\n')
    file = kitchen.state / "logbook.db"
    old = sqlite3.connect(file)
    old.executescript((SOURCE / "tests/unit/daemon/logbook/old/logbook-v1.sql").read_text())
    old.execute("INSERT INTO setting VALUES(7, ?)", ('[kitchen]\nname = "hall"\n[serve]\ntoken = "sesame-of-old"\n' + "# long\n" * 2000,))
    old.execute("INSERT INTO setting VALUES(8, ?)", ('[kitchen]\nname = "hall"\n[[channel]]\nname = "a"\nkind = "webhook"\n'
                                                     'url = "https://host/sesame-of-the-path"\n' + "# long\n" * 2000,))
    old.commit()
    old.close()
    assert b"sesame-of-old" in file.read_bytes() and b"sesame-of-the-path" in file.read_bytes()
    kitchen.start()
    assert kitchen.sql("SELECT text FROM setting WHERE id = 7")[0][0].startswith('[kitchen]\nname = "hall"\n[serve]\ntoken = "removed"')
    assert all(b"sesame-of" not in path.read_bytes() for path in kitchen.state.glob("logbook.db*"))
    kitchen.stop()
    assert all(b"sesame-of" not in path.read_bytes() for path in kitchen.state.glob("logbook.db*"))


if __name__ == "__main__":
    main([secrets_work_and_stand_nowhere, the_api_s_token_from_the_environment, the_state_is_nobody_elses, an_old_logbook_is_cleaned])
