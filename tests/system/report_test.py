#!/usr/bin/env python3
"""`ingle doctor --report`: what can be attached to a question. Secrets are planted under every key that may hold one, and
none of them stands in it; what is no secret does."""
import stat

from kitchen_rig import Instrument, Kitchen, Webhook, free_port, main, wait_for

# Each is looked for by its part in capitals.
KITCHEN = """
# a comment with PLANTED-comment
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
broker = "127.0.0.1:{nobody}"
user = "PLANTED-user"
password-file = "PLANTED-mqtt.secret"
topic = "PLANTED/topic"
unit = "degC"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
band = ["60 degC", "70 degC"]

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/PLANTED-path?key=PLANTED-query"
token-env = "BOARD_TOKEN"
headers = ["X-Key: PLANTED-header", 'Authorization: Basic PLANTED-basic']
body = '''
{{"key": "PLANTED-body",
"text": "{{text}}"}}
'''

[[channel]]
name = "nobody"
kind = "webhook"
url = "http://127.0.0.1:{nobody}/PLANTED-notice"
token-file = "PLANTED-hook.secret"
signing-key-file = "PLANTED-sign.secret"

[[channel]]
name = "program"
kind = "command"
command = ["/usr/bin/true", "--token", "PLANTED-argument", "PLANTED \\"quoted\\" argument"]

[[channel]]
name = "mail"
kind = "email"
server = "smtp://127.0.0.1:{nobody}"
from = "PLANTED-from@example.org"
to = ["PLANTED-to@example.org"]
user = "PLANTED-login"
password-file = "PLANTED-mail.secret"
tls = "always"

[serve]
port = {api}
token-file = "PLANTED-api.secret"
"""


def secrets_are_left_out():
    kitchen = Kitchen("")
    for name in ("mqtt", "hook", "sign", "mail", "api"):
        file = kitchen.folder / f"PLANTED-{name}.secret"
        file.write_text(f"PLANTED-{name}-inside-the-file-of-it-and-long\n")
        file.chmod(0o600)
    hook, instrument = Webhook(), Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, nobody=free_port(), api=free_port()))
    kitchen.start(BOARD_TOKEN="PLANTED-environment")

    def heard():
        instrument.send("65.0\n")
        return kitchen.json("now")["probes"][0]["celsius"] is not None
    wait_for("a reading", 20, heard)
    for channel in ("phone", "nobody", "program", "mail"):  # what they say stands among the findings
        kitchen.cli("notices", "test", channel, check=False)
    kitchen.cli("note", "ask PLANTED-note at PLANTED-cook@example.org")
    report = kitchen.folder / "report.txt"
    said = kitchen.cli("doctor", "--report", report).stdout
    assert "Read it before you hand it on" in " ".join(said.split()).replace("read it", "Read it"), said
    text = report.read_text()
    assert stat.S_IMODE(report.stat().st_mode) == 0o600
    assert "PLANTED" not in text, [line for line in text.splitlines() if "PLANTED" in line]
    for part in ("village hall", "BOARD_TOKEN", 'name = "stockpot"', "probe stock", "schema ", "last events", "started", "boot 1", "channel nobody",
                 "kernel: Linux", "last lines of the log", "token-file = (left out)", "url = (left out)"):
        assert part in text, (part, text)
    again = kitchen.cli("doctor", "--report", report, check=False)
    assert again.returncode == 2 and "is there already" in again.stderr and report.read_text() == text, again
    link = kitchen.folder / "link.txt"
    link.symlink_to(kitchen.folder / "elsewhere.txt")
    assert kitchen.cli("doctor", "--report", link, check=False).returncode != 0 and not (kitchen.folder / "elsewhere.txt").exists()

    # A file that cannot be read as TOML: a value may end anywhere, so none is shown.
    text = kitchen.file.read_text().replace("PLANTED-notice", "notice").replace('url = "http://', 'url = "http://PLANTED-name:PLANTED-p@ss@')
    kitchen.file.write_text(text)
    login = kitchen.folder / "login.txt"
    kitchen.cli("doctor", "--report", login)
    assert "PLANTED" not in login.read_text() and "FAIL" in login.read_text(), login.read_text()
    kitchen.file.write_text(text.replace('name = "village hall"', 'name = ["village hall'))
    broken = kitchen.folder / "broken.txt"
    kitchen.cli("doctor", "--report", broken)
    text = broken.read_text()
    assert "PLANTED" not in text and "it has mistakes" in text, [line for line in text.splitlines() if "PLANTED" in line]
    kitchen.stop()

    # Without a daemon there is a report, too.
    alone = kitchen.folder / "alone.txt"
    kitchen.cli("doctor", "--report", alone)
    assert "No daemon runs" in alone.read_text() and "PLANTED" not in alone.read_text()


if __name__ == "__main__":
    main([secrets_are_left_out])
