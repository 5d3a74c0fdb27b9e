#!/usr/bin/env python3
"""Notices by mail through servers and parsers that are not ours: npm's smtp-server with STARTTLS and a login, read by npm's
mailparser. A wrong password is told before anything is to be sent; once it is right, each mail comes once, whole, with its
chart and its links; an answer "not now" is followed by the same mail again."""
import base64
import json
import shutil
import subprocess
import threading
import time
from datetime import datetime
from pathlib import Path

from kitchen_rig import Instrument, Kitchen, Webhook, die_with_parent, free_port, main, wait_for
from links_test import LINKS, SERVE
from mail_chart_test import pixels_of
from node_packages import node_packages
from page_test import browser_packages
from reload_test import Feed
from told_test import KITCHEN

HERE = Path(__file__).resolve().parent / "mail"
CHANNEL = """
[[channel]]
name = "mail"
kind = "email"
server = "smtp://localhost:{mail}"
from = "hall@village.example"
to = ["cook@village.example", "helper@village.example"]
user = "cook"
password-file = "mail.secret"
certificates = "{pem}"
"""


class IndependentServer:
    def __init__(self, folder, password, *answers):
        self.lines = []
        self.certificates = Webhook(folder).certificates
        self.process = subprocess.Popen(["node", HERE / "server.mjs", folder / "server.key", self.certificates, password, *map(str, answers)],
                                        cwd=node_packages(HERE, "mail"), stdout=subprocess.PIPE, text=True, preexec_fn=die_with_parent)
        threading.Thread(target=lambda: self.lines.extend(map(json.loads, self.process.stdout)), daemon=True).start()
        self.port = wait_for("the mail server", 30, lambda: self.of("listens"))[0]["port"]

    def of(self, event):
        return [line for line in list(self.lines) if line["event"] == event]


def looks_right_on_a_phone(folder, html, png, link):
    """The mail and the page behind its link, 360 px wide: nothing to scroll sideways, in their order, with the chart; a word of
    70 letters breaks."""
    html = html.replace("cid:chart@ingle.invalid", "data:image/png;base64," + png)
    pages = {"mail": html, "long": html.replace("stockpot", "Rindfleischetikettierungsueberwachungsaufgabenuebertragungsgesetz-pot")}
    for name, text in pages.items():
        (folder / f"{name}.html").write_text(text)
    seen = subprocess.run(["node", HERE / "look.mjs", browser_packages(), shutil.which("chromium"), folder,
                           *[(folder / f"{name}.html").as_uri() for name in pages], link], capture_output=True, text=True, timeout=60)
    assert seen.returncode == 0, seen.stderr
    mail, long, asks = map(json.loads, seen.stdout.splitlines())
    for page in (mail, long, asks):
        assert page["width"] <= 360 and page["smallest"] >= 16 and page["pictures"], page
    order = [mail["text"].index(word) for word in ("stockpot is at", "Acknowledge", "Shelve for 30 min", "The page", "stockpot from ", "since ")]
    assert order == sorted(order), mail["text"]
    order = [asks["text"].index(word) for word in ("village hall", "Acknowledge this?", "stockpot is at", "The page of this kitchen")]
    assert order == sorted(order), asks["text"]
    for page, begins in ((mail, ("StaticText: stockpot is at", "link: Acknowledge", "link: Shelve for 30 min", "link: The page",
                                 "StaticText: stockpot from ", "image: The same as a chart", "StaticText: since ")),
                         (asks, ("heading: village hall", "heading: Acknowledge this?", "StaticText: stockpot is at", "button: Acknowledge", "link: The page of this kitchen"))):
        order = [next((n for n, said in enumerate(page["spoken"]) if said.startswith(begin)), begin) for begin in begins]
        assert all(isinstance(place, int) for place in order) and order == sorted(order), (order, page["spoken"])


def a_mail_comes_once_and_whole():
    hook, kitchen, port = Webhook(), Kitchen(""), free_port()
    server = IndependentServer(kitchen.folder, "right", 451)
    instrument = Instrument(kitchen.folder)
    secret = kitchen.folder / "mail.secret"
    secret.write_text("wrong")
    secret.chmod(0o600)
    text = KITCHEN.format(port=instrument.path, http=hook.port, band='band = ["60 degC", "70 degC"]').replace('plan = "poach"\n', "")
    kitchen.file.write_text(text + CHANNEL.format(mail=server.port, pem=server.certificates) + LINKS.format(port=port) + SERVE.format(port=port).replace('token-file = "page.token"\n', ""))
    feed = Feed(instrument, 65)
    began = time.time()
    kitchen.start()

    # At once, and before there is anything to send.
    told = wait_for("the word of the wrong password", 30, lambda: [b for b in hook.bodies if b["alarm"] == "not-delivered" and b["kind"] == "raised"])[0]
    assert "refused user or password (535)" in told["text"] and not server.of("mail"), told
    assert datetime.fromisoformat(told["at"]).timestamp() - began < 15, told
    assert not server.of("login")[0]["right"] and all(line["encrypted"] for line in server.of("login"))
    secret.write_text("right")  # counts without a restart
    wait_for("the band, and 20 s for a chart", 60, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band" and kitchen.json("now")["daemon"]["running_s"] > 22)
    feed.celsius = 85
    first, second = wait_for("the mail and its repetition", 60, lambda: [m for m in server.of("mail") if "stockpot" in m["subject"]][:2][1:] and
                             [m for m in server.of("mail") if "stockpot" in m["subject"]][:2])
    assert (first["answer"], second["answer"]) == (451, 250) and first["id"] == second["id"], (first["id"], second["id"])
    assert 1.4 < second["at"] - first["at"] < 20, second["at"] - first["at"]  # 2 s, a quarter more or less

    mail = second
    body = next(b for b in hook.bodies if b["alarm"] == "above-band")
    assert mail["from"] == "hall@village.example" and mail["to"] == ["cook@village.example", "helper@village.example"], mail
    assert mail["subject"].startswith("! stockpot is at 85.0 degC"), mail["subject"]
    assert mail["text"].splitlines()[0] == body["text"].splitlines()[0], (mail["text"], body["text"])
    assert "Auto-Submitted: auto-generated" in mail["headers"].values(), mail["headers"]
    assert abs(datetime.fromisoformat(mail["date"].replace("Z", "+00:00")).timestamp() - mail["at"]) < 30
    # In the order in which a screen reader speaks: what, then what can be done, then the chart in words, then the rest.
    order = [mail["text"].index(word) for word in ("stockpot is at", "Acknowledge:", "Shelve for 30 min:", "The page:", "stockpot from ", "since ", "notice ")]
    assert order == sorted(order), mail["text"]
    order = [mail["html"].index(word) for word in ("stockpot is at", ">Acknowledge</a>", ">Shelve for 30 min</a>", ">The page</a>", "stockpot from ", "alt=", "since ")]
    assert order == sorted(order) and 'lang="en"' in mail["html"], mail["html"]
    link = next(word for word in mail["text"].split() if "/link/acknowledge." in word)
    assert f'href="{link}"' in mail["html"]
    chart, = mail["parts"]
    assert chart["type"] == "image/png" and chart["related"], chart
    rows = pixels_of(base64.b64decode(chart["png"]))
    assert (len(rows[0]), len(rows)) == (640, 240)
    looks_right_on_a_phone(kitchen.folder, mail["html"], chart["png"], link)
    wait_for("its record", 10, lambda: [n for n in kitchen.json("notices")["notices"] if n["channel"] == "mail" and n["alarm"] == "above-band" and n["state"] == "delivered"])
    assert len([m for m in server.of("mail") if m["id"] == mail["id"] and m["answer"] == 250]) == 1
    feed.going = False
    assert kitchen.stop() < 5
    server.process.terminate()


if __name__ == "__main__":
    main([a_mail_comes_once_and_whole])
