#!/usr/bin/env python3
"""What `ingle notices` says of each message and channel, against what the receiver saw: a server that answers 500, 500,
204, then 400, then hangs up, over a kill of the daemon; a channel is proven by what it delivered, a test included."""
import hmac
import http.server
import json
import signal
import threading
import time
from datetime import datetime

from kitchen_rig import Instrument, Kitchen, Webhook, free_port, main, wait_for
from reload_test import Feed
from told_test import KITCHEN

SECOND = """
[[channel]]
name = "mail"
kind = "email"
server = "smtp://127.0.0.1:1"
from = "kitchen@hall.example"
to = "cook@hall.example"
"""


class Receiver:
    """Answers by a list: a status, or "" to hang up without an answer; then 204 for ever."""

    def __init__(self, answers):
        self.answers, self.seen, self.requests, outer = list(answers), [], [], self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_POST(self):
                raw = self.rfile.read(int(self.headers.get("Content-Length", 0)))
                outer.requests.append((self.path, self.headers, raw))
                body = json.loads(raw)
                aside = body["alarm"] == "not-delivered"  # the other channel's: it may come at any time
                answer = outer.answers.pop(0) if outer.answers and not aside else 204
                if not aside:
                    outer.seen.append((time.time(), body["id"], body["kind"], answer))
                if answer:
                    self.send_response(answer)
                    self.end_headers()
                else:
                    self.close_connection = True

            def log_message(self, *_):
                pass

        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()


def kitchen_with(answers):
    hook, kitchen = Receiver(answers), Kitchen("")
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, band="") + SECOND)
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed = Feed(instrument, 65)
    kitchen.start()
    return hook, kitchen, feed


NIGHT = """
[[channel]]
name = "night"
kind = "webhook"
url = "http://127.0.0.1:{http}/night"
quiet = ["{begin}", "{end}"]
most-per-hour = 100
sign-of-life = "{sign}"
content-type = "application/json"
body = '{{"id": "{{id}}", "kind": "{{kind}}", "alarm": "{{alarm}}", "priority": "{{priority}}", "text": "{{text}}"}}'
headers = ["Title: {{subject}}", "Key: {{token}}"]
token-file = "night.token"
signing-key-file = "night.key"

[[channel]]
name = "beside"
kind = "webhook"
url = "http://127.0.0.1:{http}/beside"
signing-key-env = "BESIDE_KEY"
"""


def of(kitchen, channel, kind=None):
    """The notices of a channel, oldest first, but for those about another one."""
    found = kitchen.json("notices")["notices"][::-1]
    return [n for n in found if n["channel"] == channel and n["alarm"] != "not-delivered" and (kind is None or n["kind"] == kind)]


TYPES = {"object": dict, "array": list, "string": str, "integer": int, "null": type(None)}


def conform(value, schema, document, where="the answer"):
    """To a schema of openapi.json, as far as it is used there; every field is described."""
    if "$ref" in schema:
        schema = document["components"]["schemas"][schema["$ref"].rsplit("/", 1)[1]]
    if "enum" in schema:
        assert value in schema["enum"], (where, value)
        return
    kinds = [schema["type"]] if isinstance(schema["type"], str) else schema["type"]
    assert isinstance(value, tuple(TYPES[kind] for kind in kinds)), (where, value, kinds)
    if isinstance(value, list):
        for each in value:
            conform(each, schema["items"], document, where)
    elif isinstance(value, dict):
        assert set(schema.get("required", ())) <= set(value) <= set(schema["properties"]), (where, sorted(value))
        for key, part in value.items():
            conform(part, schema["properties"][key], document, f"{where}.{key}")


def seconds(iso):
    return datetime.fromisoformat(iso).timestamp()


def every_attempt_is_told_and_outlives_a_kill():
    hook, kitchen, feed = kitchen_with([500, 500, 204, 400, ""])
    state = lambda name: {c["name"]: c for c in kitchen.json("notices")["channels"]}[name]
    assert state("phone")["state"] == "unproven" and state("phone")["last_delivered"] is None, state("phone")
    assert "not proven" in kitchen.cli("notices").stdout

    kitchen.cli("timer", "1 s", "first")
    wait_for("two refusals and a delivery", 60, lambda: len(hook.seen) >= 3)
    first = wait_for("its record", 10, lambda: [n for n in of(kitchen, "phone") if n["state"] == "delivered"])[0]
    assert [a["outcome"] for a in first["attempts"]] == ["retry", "retry", "delivered"], first
    assert "500" in first["attempts"][0]["reason"] and first["attempts"][2]["reason"] is None, first
    assert first["id"] == hook.seen[0][1] == hook.seen[2][1] and first["alarm"] == "timer-over", first
    assert (first["kind"], first["subject"], first["priority"]) == ("raised", "village hall", "medium"), first
    for attempt, seen in zip(first["attempts"], hook.seen):
        assert abs(seconds(attempt["at"]) - seen[0]) < 2, (attempt, seen)
    assert state("phone")["state"] == "proven" and state("phone")["reason"] is None, state("phone")
    assert abs(seconds(state("phone")["last_delivered"]) - hook.seen[2][0]) < 2

    kitchen.cli("ack")
    kitchen.cli("timer", "1 s", "second")
    wait_for("the refusal for good", 60, lambda: any(seen[3] == 400 for seen in hook.seen))
    wait_for("its record", 10, lambda: [n for n in of(kitchen, "phone") if n["state"] == "failed"])
    failed = [n for n in of(kitchen, "phone") if n["state"] == "failed"][0]
    assert failed["attempts"][-1]["outcome"] == "gave-up" and "400" in failed["attempts"][-1]["reason"], failed
    assert "NOT DELIVERED" in kitchen.cli("notices").stdout

    # Nobody listens on the mail channel's port: its notices wait, each for its own pause, and the next try is told.
    waiting = wait_for("the mail that waits", 120, lambda: [n for n in of(kitchen, "mail") if n["attempts"] and n["state"] == "pending"])[0]
    assert waiting["attempts"][0]["outcome"] == "retry" and waiting["attempts"][0]["reason"], waiting
    assert seconds(waiting["next_try"]) >= time.time() - 60, waiting
    wait_for("that it fails", 90, lambda: state("mail")["state"] == "failing")
    assert state("mail")["reason"], state("mail")

    kitchen.stop(signal.SIGKILL)
    kitchen.start()
    again = [n for n in of(kitchen, "phone") if n["id"] == first["id"]][0]
    tried = lambda notice: [(a["outcome"], a["reason"]) for a in notice["attempts"]]
    assert tried(again) == tried(first) and again["state"] == "delivered", again
    # The clock is read anew at a start: the same moments to a fraction of a second.
    assert all(abs(seconds(a["at"]) - seconds(b["at"])) < 1 for a, b in zip(again["attempts"], first["attempts"])), again
    assert state("phone")["state"] in ("proven", "failing"), state("phone")
    answer, document = kitchen.get("/api/notices"), kitchen.get("/api/openapi.json")
    assert {n["state"] for n in answer["notices"]} >= {"delivered", "failed"}, answer
    for each in (answer, kitchen.json("notices")):
        conform(each, document["paths"]["/api/notices"]["get"]["responses"]["200"]["content"]["application/json"]["schema"], document)
    feed.going = False
    kitchen.stop()


def a_test_is_a_real_message_and_proves_its_channel():
    hook, kitchen, feed = kitchen_with([])
    offer = "Notices by {} have not been proven to arrive this week. Try it: ingle notices test {}"
    begun = kitchen.cli("begin", "goose-roll").stdout
    assert all(offer.format(name, name) in begun for name in ("phone", "mail")), begun
    kitchen.cli("back", "goose-roll")
    said = kitchen.cli("notices", "test", "phone")
    assert said.stdout == "phone: delivered\n" and [seen[2] for seen in hook.seen] == ["test"], said
    assert of(kitchen, "phone", "test")[0]["state"] == "delivered"
    channels = {c["name"]: c["state"] for c in kitchen.json("notices")["channels"]}
    assert channels["phone"] == "proven", channels
    begun = kitchen.cli("begin", "goose-roll").stdout
    assert offer.format("phone", "phone") not in begun and offer.format("mail", "mail") in begun, begun
    kitchen.cli("end", "goose-roll")
    failed = kitchen.cli("notices", "test", check=False)
    assert failed.returncode == 1 and "phone: delivered" in failed.stdout and "mail: " in failed.stdout, failed
    answer = json.loads(kitchen.cli("notices", "test", "--json", check=False).stdout)
    assert [(t["channel"], t["delivered"]) for t in answer["tests"]] == [("phone", True), ("mail", False)], answer
    unknown = kitchen.cli("notices", "test", "fone", check=False)
    assert unknown.returncode == 2 and 'no channel "fone"' in unknown.stderr, unknown
    assert kitchen.cli("notices", "--last", "soon", check=False).returncode != 0
    kitchen.stop()
    kitchen.start()
    assert {c["name"]: c["state"] for c in kitchen.json("notices")["channels"]}["phone"] == "proven"
    feed.going = False
    kitchen.stop()


def clock(minutes):
    """A time of the day, from now on."""
    return time.strftime("%H:%M", time.localtime(time.time() + 60 * minutes))


def quiet_hours_hold_and_high_priority_breaks_them():
    """One channel is quiet and has a body, headers and a key of its own; another has none of it; a third has a wrong
    certificate file of another server and nobody behind it, which is said at the start and to all."""
    hook, kitchen = Receiver([]), Kitchen("")
    instrument = Instrument(kitchen.folder)
    for name in ("night.token", "night.key"):
        (kitchen.folder / name).write_text("sesame of " + name)
        (kitchen.folder / name).chmod(0o600)
    pem = Webhook(kitchen.folder).certificates
    text = KITCHEN.format(port=instrument.path, http=hook.port, band="") + NIGHT.format(http=hook.port, begin=clock(-120), end=clock(120), sign=clock(2))
    kitchen.file.write_text(text + SECOND + f'certificates = "{pem}"\n')
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nat-most = "1 s"\n')
    checked = kitchen.cli("check", kitchen.file).stdout
    assert f"quiet from {clock(-120)} to {clock(120)} but for high, timers, reminders and ends of stages that need you, at most 100 an hour" in checked, checked
    feed = Feed(instrument, 65)
    kitchen.start(BESIDE_KEY="sesame of beside")
    kitchen.cli("begin", "goose-roll")
    held = wait_for("the dish's notice to be held", 20, lambda: of(kitchen, "night"))[0]
    assert held["alarm"] == "stage-overdue", held
    # What the cook set himself for that time sounds, and the end of a plan.
    kitchen.cli("timer", "1 s", "turn the tart")
    wait_for("the timer at night", 20, lambda: [r for r in hook.requests if r[0] == "/night" and b"turn the tart" in r[2]])
    kitchen.cli("remind", "baste", "--at", clock(1))
    assert held["state"] == "held" and "quiet until" in held["reason"] and held["attempts"] == [], held
    assert "held back: quiet until" in kitchen.cli("notices").stdout
    # The dead mail server is said without anything to send; that is high, and breaks the quiet.
    broken = wait_for("the word of the mail server", 40, lambda: [r for r in hook.requests if r[0] == "/night" and b"not-delivered" in r[2]])[0]
    path, headers, body = broken
    said = json.loads(body)
    assert said["alarm"] == "not-delivered" and said["priority"] == "high" and "mail" in said["text"], said
    assert headers["Title"] == "village hall" and headers["Key"] == "sesame of night.token" and headers["Authorization"] is None, headers
    assert headers["Ingle-Signature"] == "sha256=" + hmac.new(b"sesame of night.key", body, "sha256").hexdigest(), headers
    assert of(kitchen, "night")[0]["state"] == "held", of(kitchen, "night")
    beside = wait_for("the dish beside", 20, lambda: [r for r in hook.requests if r[0] == "/beside"])[0]
    assert beside[1]["Ingle-Signature"] == "sha256=" + hmac.new(b"sesame of beside", beside[2], "sha256").hexdigest()
    wait_for("the reminder at night", 80, lambda: [r for r in hook.requests if r[0] == "/night" and b"baste" in r[2]])
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 s" }\n')
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the plan", 20, lambda: kitchen.cli("now", check=False).returncode == 0)
    kitchen.cli("end", "goose-roll")
    kitchen.cli("begin", "goose-roll")
    wait_for("the end of the plan at night", 20, lambda: [r for r in hook.requests if r[0] == "/night" and b"dish-ready" in r[2]])
    doctor = kitchen.cli("doctor", check=False).stdout
    assert "channel mail" in doctor and "Couldn't connect" in doctor and "last delivered" in doctor, doctor
    feed.going = False
    kitchen.stop()


def the_limit_of_an_hour_outlives_kill_and_reload():
    """Two an hour: over a kill and a reload the third waits. What was over before it could be told is told with its end."""
    hook, kitchen = Receiver([]), Kitchen("")
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, band="") + 'most-per-hour = 2\n')
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed = Feed(instrument, 65)
    kitchen.start()
    for number, moment in enumerate(("before", "after a kill", "after a reload")):
        kitchen.cli("timer", "1 s", f"the tart {moment}")
        if number < 2:
            wait_for(f"the message {moment}", 30, lambda: len(hook.seen) == number + 1)
            wait_for("the word that it was delivered", 10, lambda: [n["state"] for n in kitchen.get("/api/notices")["notices"]].count("delivered") == number + 1)
        if number == 0:
            kitchen.stop(signal.SIGKILL)
            kitchen.start()
        elif number == 1:
            kitchen.process.send_signal(signal.SIGHUP)
            wait_for("the reload", 20, lambda: kitchen.log().count("probes,") >= 3 and kitchen.cli("now", check=False).returncode == 0)
    waits = wait_for("the third to be held", 30, lambda: [n for n in kitchen.get("/api/notices")["notices"] if n["state"] == "held"])[0]
    assert "at most 2 messages an hour" in waits["reason"] and "after a reload" in waits["text"], waits
    assert len(hook.seen) == 2, hook.seen
    feed.going = False
    kitchen.stop()


FURTHER = """
[[channel]]
name = "{name}"
kind = "webhook"
url = "http://127.0.0.1:{port}/{name}"
least = "low"
{more}
"""


def a_further_channel_that_fails_is_told_where_it_arrives():
    """At 1 s the bell is refused, at about 6 s the chef, who is told of what nobody acknowledges: the phone learns of each,
    once; the bell works again meanwhile, and is told of the chef only."""
    hook, bell, chef, kitchen = Receiver([]), Receiver([400]), Receiver([400] * 9), Kitchen("")
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=hook.port, band="") + FURTHER.format(name="bell", port=bell.port, more="")
    kitchen.file.write_text(text + FURTHER.format(name="chef", port=chef.port, more='after = "4 s"'))
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed = Feed(instrument, 65)
    kitchen.start()
    kitchen.cli("timer", "1 s", "baste")
    of_channels = lambda receiver: [body for _, _, raw in receiver.requests if (body := json.loads(raw))["alarm"] == "not-delivered" and body["kind"] == "raised"]
    wait_for("the word of both", 40, lambda: len(of_channels(hook)) == 2)
    first, second = (body["text"] for body in of_channels(hook))
    assert first.startswith("the channel bell does not deliver") and "chef" not in first, first
    assert second.startswith("Worse: the channel chef does not deliver"), second
    told = wait_for("the bell's", 20, lambda: of_channels(bell))
    assert len(told) == 1 and "channel chef" in told[0]["text"] and "channel bell" not in told[0]["text"], told
    # It fails again: no news.
    kitchen.cli("timer", "1 s", "stir")
    wait_for("the second refusal", 40, lambda: len(of(kitchen, "chef")) >= 2)
    assert len(of_channels(hook)) == 2, of_channels(hook)
    feed.going = False
    kitchen.stop()


def who_is_told_second_does_not_wait_for_a_dead_channel():
    """The phone is dead, which the first alarm shows; the chef, who is told after 10 min, is told within seconds of both."""
    chef, kitchen = Receiver([]), Kitchen("")
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=free_port(), band='band = ["60 degC", "70 degC"]')
    kitchen.file.write_text(text + FURTHER.format(name="chef", port=chef.port, more='after = "10 min"'))
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed = Feed(instrument, 65)
    kitchen.start()
    told = lambda alarm: [body for _, _, raw in chef.requests if (body := json.loads(raw))["alarm"] == alarm and body["kind"] == "raised"]
    wait_for("the band", 60, lambda: '"in band"' in kitchen.cli("now", "--json").stdout)
    feed.celsius = 95
    pot = wait_for("the word of the pot", 90, lambda: told("above-band"))[0]
    assert pot["text"].startswith("stockpot is at 95") and "Turn the heat down" in pot["text"], pot
    wait_for("the word of the phone", 30, lambda: "the channel phone does not deliver" in " ".join(json.loads(raw)["text"] for _, _, raw in chef.requests))
    feed.going = False
    kitchen.stop()


def what_is_low_is_said_again_too_and_an_end_names_what_it_was():
    """400 to a low notice: it waits a quarter of an hour, over a kill. The all-clears are in a cook's words, with what it was."""
    hook, beside, kitchen = Receiver([400]), Receiver([]), Kitchen("")
    instrument = Instrument(kitchen.folder)
    right = KITCHEN.format(port=instrument.path, http=hook.port, band="") + FURTHER.format(name="beside", port=beside.port, more="")
    kitchen.file.write_text(right)
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed = Feed(instrument, 65)
    kitchen.start()
    kitchen.file.write_text("nonsense =")
    kitchen.process.send_signal(signal.SIGHUP)
    low = lambda: [n for n in of(kitchen, "phone") if n["alarm"] == "kitchen-file-refused"]
    states = lambda: [n["state"] for n in low()]
    wait_for("the refusal", 30, lambda: states() == ["failed", "pending"])
    refused, again = low()
    assert again["id"] != refused["id"] and again["priority"] == "low", again
    assert 800 < seconds(again["next_try"]) - seconds(refused["attempts"][0]["at"]) < 905, again
    kitchen.file.write_text(right)
    kitchen.cli("timer", "1 s", "stir")  # what is delivered proves the phone
    over = lambda receiver, alarm: [body for _, _, raw in receiver.requests if (body := json.loads(raw))["alarm"] == alarm and body["kind"] == "cleared"]
    end = wait_for("the end of the phone's failing", 90, lambda: over(beside, "not-delivered"))[0]["text"]
    assert end.startswith("village hall has no channel any more that fails. It lasted") and "the channel phone does not deliver" in end, end
    kitchen.process.send_signal(signal.SIGHUP)
    end = wait_for("the end of the refusal", 90, lambda: over(beside, "kitchen-file-refused"))[0]["text"]
    assert end.startswith("village hall goes by its kitchen file again. It lasted"), end
    feed.going = False
    kitchen.stop()


def what_was_refused_is_said_again_until_somebody_attends_to_it():
    """While its settings are wrong, the phone refuses: 403 to the high alarm, which it is told a minute later; 400 to a
    timer, which is acknowledged meanwhile: not told any more, and why is in the record. The mail to nobody waits, too."""
    hook, kitchen = Receiver([403]), Kitchen("")
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, band='band = ["60 degC", "70 degC"]') + SECOND)
    (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
    feed = Feed(instrument, 65)
    kitchen.start()
    wait_for("the band", 60, lambda: '"in band"' in kitchen.cli("now", "--json").stdout)
    feed.celsius = 95
    wait_for("the refusal", 60, lambda: any(seen[3] == 403 for seen in hook.seen))
    high = lambda: [n for n in of(kitchen, "phone") if n["alarm"] == "above-band"]
    refused = wait_for("its record", 10, lambda: [n for n in high() if n["state"] == "failed"])[0]
    assert [a["outcome"] for a in refused["attempts"]] == ["gave-up"] and "403" in refused["attempts"][0]["reason"], refused
    again = [n for n in high() if n["state"] == "pending"][0]
    assert again["id"] != refused["id"] and refused["priority"] == again["priority"] == "high", again
    assert 0 < seconds(again["next_try"]) - seconds(refused["attempts"][0]["at"]) <= 62, again
    # Killed meanwhile, it is not lost.
    kitchen.stop(signal.SIGKILL)
    kitchen.start()
    told = wait_for("the high alarm", 90, lambda: [n for n in high() if n["state"] == "delivered"])[0]
    assert told["id"] == again["id"] and hook.seen[-1][1] == again["id"], (told, hook.seen)

    hook.answers[:] = [400]
    kitchen.cli("timer", "1 s", "baste")
    of_timer = lambda channel: [n for n in of(kitchen, channel) if n["alarm"] == "timer-over"]
    wait_for("the refused timer and the mail of it", 60, lambda: [n["state"] for n in of_timer("phone")] == ["failed", "pending"] and of_timer("mail"))
    kitchen.cli("ack", "--by", "maria")
    wait_for("that both are made pointless", 20, lambda: not [n for c in ("phone", "mail") for n in of_timer(c) if n["state"] == "pending"])
    for channel in ("phone", "mail"):
        last = of_timer(channel)[-1]
        assert last["state"] == "failed" and "not sent any more: acknowledged meanwhile by maria" in last["attempts"][-1]["reason"], last
    feed.going = False
    kitchen.stop()


if __name__ == "__main__":
    main([who_is_told_second_does_not_wait_for_a_dead_channel, what_is_low_is_said_again_too_and_an_end_names_what_it_was, what_was_refused_is_said_again_until_somebody_attends_to_it, a_further_channel_that_fails_is_told_where_it_arrives, the_limit_of_an_hour_outlives_kill_and_reload, quiet_hours_hold_and_high_priority_breaks_them, every_attempt_is_told_and_outlives_a_kill, a_test_is_a_real_message_and_proves_its_channel])
