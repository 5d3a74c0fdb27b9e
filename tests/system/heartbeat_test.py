#!/usr/bin/env python3
"""The sign of life to an outside watcher: what the watcher gets and what it never gets, that its failing is told once
through another channel and its recovery once, and that nothing of it is stored."""
import http.server
import json
import signal
import threading
import time
from datetime import datetime, timedelta, timezone

from kitchen_rig import LONG, Instrument, Kitchen, Webhook, main, wait_for
from reload_test import Feed
from told_test import KITCHEN, notices

WATCHER = """
[[channel]]
name = "outside"
kind = "heartbeat"
url = "http://127.0.0.1:{port}/beat/of-the-hall"
every = "1 s"
method = "post"
token-file = "watcher.token"

[[channel]]
name = "plain"
kind = "heartbeat"
url = "http://127.0.0.1:{port}/plain"
every = "1 s"
"""


class Watcher:
    """Notes each request with its time, and answers `answer`."""

    def __init__(self):
        self.seen, self.answer, outer = [], 204, self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_POST(self):
                body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
                outer.seen.append((time.monotonic(), self.command, self.path, self.headers, body))
                self.send_response(outer.answer)
                self.end_headers()

            do_GET = do_POST

            def log_message(self, *_):
                pass

        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def of(self, method):
        return [one for one in list(self.seen) if one[1] == method]


def a_watcher_hears_the_round_and_nothing_else():
    watcher, hook, kitchen = Watcher(), Webhook(), Kitchen("")
    instrument = Instrument(kitchen.folder)
    token = kitchen.folder / "watcher.token"
    token.write_text("sesame")
    token.chmod(0o600)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, band="") + WATCHER.format(port=watcher.port))
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed = Feed(instrument, 65)
    kitchen.start()
    wait_for("signs of life", 20, lambda: len(watcher.of("POST")) >= 3 and len(watcher.of("GET")) >= 3)
    _, _, path, headers, body = watcher.of("POST")[0]
    said = json.loads(body)
    assert path == "/beat/of-the-hall" and headers["Authorization"] == "Bearer sesame", (path, headers)
    assert said["kind"] == "heartbeat" and said["text"].startswith("village hall is watched: ") and "1 probes" in said["text"], said
    assert watcher.of("GET")[0][4] == b"" and watcher.of("GET")[0][3]["Authorization"] is None
    times = [one[0] for one in watcher.of("GET")]
    assert all(later - earlier > 0.5 for earlier, later in zip(times, times[1:])), times
    state = lambda: {c["name"]: c for c in kitchen.json("notices")["channels"]}
    assert state()["outside"]["state"] == "proven" and state()["outside"]["last_delivered"], state()

    kitchen.cli("timer", "1 s", "peel")
    wait_for("the timer on the phone", 20, lambda: notices(hook, "timer-over"))
    watcher.answer = 503
    wait_for("that the watcher does not answer", 40, lambda: notices(hook, "not-delivered"))
    told = notices(hook, "not-delivered")[0]["text"]
    assert "gives no sign of life" in told and "503" in told and "of-the-hall" not in told, told
    wait_for("that the one outside fails, too", 20, lambda: state()["outside"]["state"] == "failing")
    watcher.answer = 204
    wait_for("that it answers again", 20, lambda: state()["outside"]["state"] == "proven")
    again = "SELECT boot_ms FROM alarm_change WHERE name = 'not-delivered' AND change = 'cleared'"
    wait_for("the end of the alarm", 20, lambda: kitchen.sql(again))
    if LONG:  # an end is told after 30 s without a new begin
        wait_for("the word of it", 60, lambda: notices(hook, "not-delivered", "cleared"))
        assert len(notices(hook, "not-delivered", "cleared")) == 1, hook.bodies
    assert len(notices(hook, "not-delivered")) == 1, hook.bodies
    kinds = {json.loads(body)["kind"] for _, _, _, _, body in watcher.of("POST")}
    assert kinds == {"heartbeat"}, kinds
    assert {n["channel"] for n in kitchen.json("notices")["notices"]} == {"phone"}
    assert kitchen.cli("notices", "test", "plain").stdout == "plain: delivered\n"

    feed.going = False
    kitchen.stop()


DAILY = """
[[channel]]
name = "{name}"
kind = "webhook"
url = "http://127.0.0.1:{port}/notice"
sign-of-life = "{at}"
"""


def once_a_day_it_is_said_that_the_kitchen_is_watched():
    """Off at the time for a moment: said when it is back, and only once, whatever is killed and read anew in between; off for
    longer than an hour: not any more."""
    hook, missed, to_come, kitchen = Webhook(), Webhook(), Webhook(), Kitchen("")
    instrument = Instrument(kitchen.folder)
    utc = datetime.now(timezone.utc)
    ahead = 12 - utc.hour  # it is between noon and one there
    local = utc + timedelta(hours=ahead)
    clock = lambda minutes: (local + timedelta(minutes=minutes)).strftime("%H:%M")
    text = KITCHEN.format(port=instrument.path, http=hook.port, band="").replace("[kitchen]", f'[kitchen]\nzone = "Etc/GMT{-ahead:+d}"', 1)
    at = (("daily", hook, -2), ("missed", missed, -90), ("to-come", to_come, 120))
    kitchen.file.write_text(text + "".join(DAILY.format(name=name, port=to.port, at=clock(minutes)) for name, to, minutes in at))
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed = Feed(instrument, 65)
    kitchen.start()
    signs = lambda of: [b for b in of.bodies if b["text"].startswith("Daily sign of life of village hall:")]
    wait_for("the sign of life", 20, lambda: signs(hook))
    wait_for("the word that it was delivered", 20, lambda: kitchen.sql("SELECT 1 FROM outbox WHERE id LIKE 'life-%' AND state = 'sent'"))
    for _ in range(2):
        kitchen.stop(signal.SIGKILL)
        kitchen.start()
        wait_for("the logbook", 20, lambda: kitchen.json("now")["daemon"]["committed_age_s"] is not None)
        time.sleep(3)
    kitchen.file.write_text(kitchen.file.read_text().replace("village hall", "village hall again"))
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the reload", 20, lambda: kitchen.json("now")["kitchen"] == "village hall again")
    time.sleep(3)
    assert len(signs(hook)) == 1 and hook.bodies[0]["id"] == f"life-{local.date()}-daily", hook.bodies
    assert not signs(missed) and not signs(to_come), (missed.bodies, to_come.bodies)
    feed.going = False
    kitchen.stop()


if __name__ == "__main__":
    main([a_watcher_hears_the_round_and_nothing_else, once_a_day_it_is_said_that_the_kitchen_is_watched])
