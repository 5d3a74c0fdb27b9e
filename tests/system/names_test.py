#!/usr/bin/env python3
"""Names and notes with quotes, HTML, braces, commas and what turns a terminal: wherever they come out, in the terminal,
the review's HTML, a CSV, a mail, a webhook and a label of the metrics, they are text and nothing else. Wrong tokens take
as long as each other, however much of the right one they begin with."""
import email
import email.policy
import html.parser
import http.client
import json
import re
import time

from kitchen_rig import Instrument, Kitchen, MailServer, Webhook, free_port, main, wait_for
from reload_test import Feed

NAME = 'pot"><script>alert(1)</script> {%s} \' & ü'
KITCHEN = """
[kitchen]
name = {name}
units = "degC"
altitude = "0 m"
[[probe]]
name = "stock"
driver = "serial-line"
port = "{port}"
unit = "degC"
every = "100 ms"
[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
[[dish]]
name = "roll"
vessel = "stockpot"
food = "ground-poultry"
[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
[[channel]]
name = "mail"
kind = "email"
server = "smtp://127.0.0.1:{mail}"
tls = "no"
from = "hall@village.example"
to = ["cook@village.example"]
[serve]
port = {api}
token-file = "api.secret"
"""
TOKEN = "s" * 20 + "esame-of-the-api"
NOTE = "</td><img src=x onerror=alert(1)>\" ' {{7*7}} =1+1, ;"
HARMFUL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


class Tags(html.parser.HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.text = [], ""

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, attributes))

    def handle_data(self, data):
        self.text += data


def kitchen_of_such_names():
    hook, mail, kitchen, port = Webhook(), MailServer(), Kitchen(""), free_port()
    secret = kitchen.folder / "api.secret"
    secret.write_text(TOKEN + "\n")
    secret.chmod(0o600)
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(name=json.dumps(NAME, ensure_ascii=False), port=instrument.path,
                                           http=hook.port, mail=mail.port, api=port))
    feed = Feed(instrument, 65)
    kitchen.start()
    return hook, mail, kitchen, port, feed


def what_is_named_so_comes_out_as_text():
    hook, mail, kitchen, port, feed = kitchen_of_such_names()
    kitchen.cli("begin", "roll")
    kitchen.cli("note", NOTE)
    for refused in ("a\x1b[2Jb", "a\u202eb", "a\rb"):
        assert kitchen.cli("note", refused, check=False).returncode != 0, f"taken: {refused!r}"
    kitchen.cli("timer", "1 s", NOTE)
    body = wait_for("the webhook", 20, lambda: [b for b in hook.bodies if NOTE in b["text"]])[0]
    assert not HARMFUL.search(body["text"].replace("\n", "")), body
    raw = wait_for("the mail", 20, lambda: [m for m in mail.messages if "onerror" in email.message_from_string(m, policy=email.policy.default).as_string()
                                            or "onerror" in str(email.message_from_string(m, policy=email.policy.default).get_body(("plain",)).get_content())])[0]
    message = email.message_from_string(raw, policy=email.policy.default)
    head = raw.split("\n\n", 1)[0].split("\r\n\r\n", 1)[0]
    assert sorted(set(message.keys())) == sorted(message.keys()), f"a header twice: {message.keys()}"
    assert message["To"] == "cook@village.example" and not {"Bcc", "Cc"} & set(message.keys()), message.keys()
    assert all(line[:1] in " \t" or re.match(r"[A-Za-z-]+:", line) for line in head.splitlines()), head
    shown = "".join(kitchen.cli(*words, check=False).stdout for words in (("now",), ("history", "last 10 min"), ("alarms",), ("notices",), ("cooks",), ("doctor",)))
    assert not HARMFUL.search(shown.replace("\n", "")), HARMFUL.search(shown.replace("\n", ""))
    assert "onerror" in shown and NAME.split("<")[0] in shown, shown[:2000]
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    link.request("GET", "/metrics")
    for line in link.getresponse().read().decode().splitlines():
        assert line.startswith("#") or re.fullmatch(r'[a-z_]+(\{([a-z_]+="([^"\\\n]|\\.)*",?)*\})? \S+', line), line
    kitchen.cli("end", "roll")
    page = kitchen.folder / "review.html"
    kitchen.cli("review", "roll", "--html", page)
    parsed = Tags()
    parsed.feed(page.read_text())
    assert not [t for t in parsed.tags if t[0] == "img" or any(key.startswith("on") for key, _ in t[1])], parsed.tags
    assert "alert(1)" not in "".join(re.findall(r"<script[^>]*>(.*?)</script>", page.read_text(), re.S))
    assert NOTE in parsed.text, "the note is not in the review as it was said"
    feed.going = False
    kitchen.stop()


def wrong_tokens_take_as_long_as_each_other():
    """The answer to a wrong token is held back for a second and compared in one time: how much of it is right does not show."""
    _, _, kitchen, port, feed = kitchen_of_such_names()
    took = {}
    for what, token in (("nothing right", "x" * len(TOKEN)), ("all but the last", TOKEN[:-1] + "x"), ("shorter", "s"), ("longer", TOKEN + "x")):
        times = []
        for _ in range(2):
            link = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
            began = time.monotonic()
            link.request("POST", "/api/commit", headers={"Authorization": f"Bearer {token}"})
            assert link.getresponse().status == 401, what
            times.append(time.monotonic() - began)
        took[what] = min(times)
    print("  " + ", ".join(f"{what} {seconds * 1000:.0f} ms" for what, seconds in took.items()), flush=True)
    assert max(took.values()) - min(took.values()) < 0.25 and min(took.values()) > 0.9, took
    assert TOKEN not in kitchen.log()
    feed.going = False
    kitchen.stop()


if __name__ == "__main__":
    main([what_is_named_so_comes_out_as_text, wrong_tokens_take_as_long_as_each_other])
