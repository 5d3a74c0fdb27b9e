#!/usr/bin/env python3
"""Links in notices, by mail and webhook, against the real daemon behind a login: looking at one does nothing, its button does
its one act, once, over a kill; an expired, a forged and a used one are told apart. Signatures are made anew here, by
Python's own hmac with the daemon's key."""
import email
import email.policy
import hmac
import http.client
import http.server
import json
import signal
import stat
import threading
import time

from kitchen_rig import Instrument, Kitchen, MailServer, Webhook, free_port, main, wait_for
from mail_chart_test import CHANNEL as MAIL
from reload_test import Feed
from told_test import KITCHEN

SERVE = """
[serve]
port = {port}
token-file = "page.token"
"""


LINKS = 'links = "http://127.0.0.1:{port}/"\n'


def ask(method, address, **headers):
    """Status and text of what stands at an address; without a token."""
    host, path = address.removeprefix("http://").split("/", 1)
    link = http.client.HTTPConnection(host, timeout=20)
    link.request(method, "/" + path, headers=headers)
    answer = link.getresponse()
    return answer.status, answer.read().decode()


def a_link_does_its_act_once():
    hook, mail, kitchen, port = Webhook(), MailServer(), Kitchen(""), free_port()
    instrument = Instrument(kitchen.folder)
    (kitchen.folder / "page.token").write_text("sesame")
    (kitchen.folder / "page.token").chmod(0o600)
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, band="") + LINKS.format(port=port) + MAIL.format(mail=mail.port)
                            + LINKS.format(port=port) + SERVE.format(port=port))
    feed = Feed(instrument, 65)
    kitchen.start()
    about = lambda word: [b for b in hook.bodies if word in b["text"]]
    alarm = lambda word: next(a for a in kitchen.json("now")["alarms"] if word in a["text"])
    base = f"http://127.0.0.1:{port}"

    kitchen.cli("timer", "1 s", "peel & <cut>")
    told = wait_for("the notice", 30, lambda: about("peel"))[0]
    links = told["links"]
    assert set(links) == {"page", "acknowledge", "shelve"} and links["page"] == base + "/", links
    text = wait_for("the mail", 30, lambda: [m for m in mail.messages if "peel" in m])[0]
    plain, html = (part.get_content() for part in email.message_from_bytes(text.encode(), policy=email.policy.default).walk()
                   if part.get_content_type() in ("text/plain", "text/html"))
    by_mail = next(line for line in plain.split() if "/link/acknowledge." in line)
    assert f'href="{by_mail}"' in html and ".mail." in by_mail and ".phone." in links["acknowledge"], (plain, html)

    # A program that looks at links, and one that has no token, changes nothing.
    for method in ("GET", "HEAD", "GET"):
        status, text = ask(method, links["acknowledge"], **{"Authorization": "Bearer no"} if method == "HEAD" else {})
        assert status == 200 and (method == "HEAD" or ("peel &amp; &lt;cut&gt;" in text and "<button" in text and "<script" not in text)), text
    assert alarm("peel")["state"] == "unacknowledged"
    assert ask("POST", base + "/api/commands/acknowledge")[0] == 401

    # What was not signed here is nothing, whatever it says.
    token = links["acknowledge"].rsplit("/", 1)[1]
    act, alarms, at, until, channel, signature = token.split(".")
    key = (kitchen.state / "notice.key").read_text().strip().encode()
    sign = lambda said: base + "/link/" + said + "." + hmac.new(key, said.encode(), "sha256").hexdigest()[:32]
    assert sign(f"{act}.{alarms}.{at}.{until}.{channel}") == links["acknowledge"]
    flipped = signature[:-1] + ("0" if signature[-1] != "0" else "1")
    for forged in (f"shelve.{alarms}.{at}.{until}.{channel}.{signature}", f"{act}.{alarms}0.{at}.{until}.{channel}.{signature}",
                   f"{act}.{alarms}.{at}.{int(until) + 9}.{channel}.{signature}", f"{act}.{alarms}.{at}.{until}.{channel}.{flipped}", signature, "." * 900):
        status, text = ask("POST", base + "/link/" + forged)
        assert status == 404 and "not one of this kitchen" in text, (forged, status, text)
    status, text = ask("POST", sign(f"{act}.{alarms}.{at}.{int(time.time()) - 1}.{channel}"))
    assert status == 410 and "expired" in text, text
    assert 0 < int(until) - time.time() <= 12 * 3600
    assert alarm("peel")["state"] == "unacknowledged"

    status, text = ask("POST", links["acknowledge"])
    assert status == 200 and "acknowledged: timer-over" in text, text
    past = next(a for a in kitchen.get("/api/alarms?last=1%20h")["alarms"] if a["alarm"] == "timer-over")
    assert past["acknowledged_by"] == "the link sent to phone", past
    again = lambda: ask("POST", links["acknowledge"])
    assert again()[0] == 410 and "used already" in again()[1] and "<button" not in ask("GET", links["acknowledge"])[1]
    status, text = ask("POST", by_mail)
    assert status == 409 and "nothing to acknowledge" in text, text  # another link, unused; but the alarm is over
    kitchen.stop(signal.SIGKILL)
    kitchen.start()
    assert again()[0] == 410, again()
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the reload", 20, lambda: kitchen.log().count("probes,") >= 3)
    assert wait_for("an answer", 10, lambda: again())[0] == 410

    # Who opens an old notice does not silence a timer that he knows nothing of.
    kitchen.cli("timer", "1 s", "knead")
    first = wait_for("the notice", 30, lambda: about("knead"))[0]["links"]["acknowledge"]
    time.sleep(1)
    kitchen.cli("timer", "1 s", "prove")
    newest = wait_for("the notice of the other", 30, lambda: about("prove"))[-1]["links"]["acknowledge"]
    status, text = ask("POST", first)
    assert status == 409 and "newer" in text and "prove" in text and alarm("prove")["state"] == "unacknowledged", text
    status, text = ask("POST", newest)
    assert status == 200 and "acknowledged: timer-over" in text, text

    kitchen.cli("timer", "1 s", "stir")
    shelve = wait_for("the next notice", 30, lambda: about("stir"))[0]["links"]["shelve"]
    status, text = ask("GET", shelve)
    assert status == 200 and "Shelve for 30 min" in text, text
    status, text = ask("POST", shelve)
    assert status == 200 and "shelved: timer-over" in text and alarm("stir")["state"] == "shelved", text
    assert ask("POST", shelve)[0] == 410

    assert stat.S_IMODE((kitchen.state / "notice.key").stat().st_mode) == 0o600
    feed.going = False
    kitchen.stop()
    for file in kitchen.folder.rglob("*"):
        if file.is_file() and file.name != "notice.key":
            data = file.read_bytes()
            assert key not in data and b"/link/" not in data, file


def what_waited_is_one_message_with_links_and_the_same_one_after_a_kill():
    """The phone is away; the pot leaves its band and a timer runs out. The receiver that comes back kills the daemon before it
    answers, twice: each time the same summary, whose link acknowledges all of it."""
    kitchen, port, away, seen = Kitchen(""), free_port(), free_port(), []
    instrument = Instrument(kitchen.folder)
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=away, band='band = ["60 degC", "70 degC"]') + LINKS.format(port=port)
                            + SERVE.format(port=port).replace('token-file = "page.token"\n', ""))
    feed = Feed(instrument, 65)
    kitchen.start()
    wait_for("the band", 60, lambda: '"in band"' in kitchen.cli("now", "--json").stdout)
    feed.celsius = 95
    waits = lambda: {n["alarm"] for n in kitchen.json("notices")["notices"] if n["state"] == "pending"}
    wait_for("the pot to wait", 60, lambda: "above-band" in waits())
    kitchen.cli("timer", "6 s", "peel")  # a burst of 3 s would be one message
    wait_for("both to wait", 60, lambda: {"above-band", "timer-over"} <= waits())

    class Kills(http.server.BaseHTTPRequestHandler):
        def do_POST(self):
            seen.append(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))
            if len(seen) <= 2:
                kitchen.process.send_signal(signal.SIGKILL)
                kitchen.process.wait()
                return
            self.send_response(204)
            self.end_headers()

        def log_message(self, *_):
            pass

    kitchen.stop(signal.SIGKILL)
    threading.Thread(target=http.server.HTTPServer(("127.0.0.1", away), Kills).serve_forever, daemon=True).start()
    for number in (1, 2, 3):
        try:
            kitchen.start()
        except AssertionError:
            assert number < 3, kitchen.log()  # killed while it starts
        wait_for(f"the summary, time {number}", 30, lambda: len(seen) >= number)
        if number < 3:
            wait_for("the kill", 10, lambda: kitchen.process.poll() is not None)
    assert [(one["kind"], one["id"], one["priority"]) for one in seen[:3]] == [("summary", seen[0]["id"], "high")] * 3, seen
    assert all(word in seen[2]["text"] for word in ("stockpot", "peel")), seen[2]
    is_open = lambda: {a["alarm"] for a in kitchen.json("now")["alarms"] if a["state"] == "unacknowledged" and a["alarm"] != "not-delivered"}
    wait_for("the alarms again", 30, lambda: is_open() == {"above-band", "timer-over"})
    status, text = ask("POST", seen[2]["links"]["acknowledge"])
    assert status == 200 and "above-band of stockpot" in text and "timer-over" in text, text
    assert not is_open(), is_open()
    feed.going = False
    kitchen.stop()


def without_a_key_of_its_own_there_is_none():
    """A key that others may read signs nothing; the page's address is still there, and it is said."""
    hook, kitchen, port = Webhook(), Kitchen(""), free_port()
    instrument = Instrument(kitchen.folder)
    (kitchen.state / "notice.key").write_text("a" * 52 + "\n")
    (kitchen.state / "notice.key").chmod(0o644)
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    serve = SERVE.replace('token-file = "page.token"\n', "").format(port=port)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, band="") + LINKS.format(port=port) + serve)
    feed = Feed(instrument, 65)
    kitchen.start()
    kitchen.cli("timer", "1 s", "peel")
    told = wait_for("the notice", 30, lambda: hook.bodies)[0]
    assert told["links"] == {"page": f"http://127.0.0.1:{port}/"}, told
    assert "notice.key cannot be made, or others may read it" in kitchen.log()
    said = f"acknowledge.1.{int(time.time()) + 900}.phone"
    for key in (b"a" * 52, b""):
        assert ask("POST", f"http://127.0.0.1:{port}/link/{said}." + hmac.new(key, said.encode(), "sha256").hexdigest()[:32])[0] == 404
    feed.going = False
    kitchen.stop()
    good = kitchen.file.read_text()
    for wrong, what in ((good.replace(f"{port}/", f"{port}/kitchen"), 'such as "http://192.168.1.20:8094"'), (good.split("[serve]")[0], "has no page to lead to")):
        kitchen.file.write_text(wrong)
        checked = kitchen.cli("check", kitchen.file, check=False)
        said = checked.stdout + checked.stderr
        assert checked.returncode != 0 and "channel.phone.links" in said and what in said, said


if __name__ == "__main__":
    main([what_waited_is_one_message_with_links_and_the_same_one_after_a_kill, a_link_does_its_act_once, without_a_key_of_its_own_there_is_none])
