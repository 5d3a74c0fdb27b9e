#!/usr/bin/env python3
"""Every peer that the daemon talks to lies, hangs, drips, redirects or pours at once: nothing crashes, memory stays
bounded, and an alarm's way from reading to the good channel is at most twice its usual."""
import json
import time

from attack_test import LARGEST_GROWTH_MB, LyingBroker, Target, processor_s
from kitchen_rig import LONG, main
from peers import MailTrap, ModbusPeer, Receiver

MODBUS = """
[[probe]]
name = "{name}"
driver = "modbus"
host = "127.0.0.1:{port}"
address = 1
register = 1
format = "int16"
unit = "degC"
every = "500 ms"
"""
WEBHOOK = """
[[channel]]
name = "{name}"
kind = "webhook"
least = "low"
url = "http://127.0.0.1:{port}/n"
"""
MAIL = """
[[channel]]
name = "mail-{name}"
kind = "email"
least = "low"
server = "smtp://127.0.0.1:{port}"
from = "hall@village.example"
to = ["cook@village.example"]
"""


def every_peer_lies_hangs_or_pours():
    undisturbed = Target(holding=True)
    usual = undisturbed.way_of_an_alarm()
    undisturbed.kitchen.stop()

    liars = {lie: ModbusPeer({1: 50}, lie) for lie in ("length", "count", "another", "flood", "drip")}
    receivers = {kind: Receiver(kind) for kind in ("hang", "drip", "redirect", "pour", "headers", "later")}
    traps = {kind: MailTrap(kind) for kind in ("hang", "drip", "pour")}
    broker = LyingBroker()
    more = f'[[probe]]\nname = "store"\ndriver = "mqtt"\nbroker = "127.0.0.1:{broker.port}"\ntopic = "store"\nunit = "degC"\n'
    more += "".join(MODBUS.format(name=f"liar-{name}", port=peer.port) for name, peer in liars.items())
    more += "".join(WEBHOOK.format(name=name, port=peer.port) for name, peer in receivers.items())
    more += "".join(MAIL.format(name=name, port=peer.port) for name, peer in traps.items())
    target = Target(more, holding=True)
    ways = [target.way_of_an_alarm() for _ in range(3 if LONG else 1)]
    spent, began = processor_s(target.kitchen.process), time.monotonic()
    time.sleep(60 if LONG else 6)
    load = (processor_s(target.kitchen.process) - spent) / (time.monotonic() - began)
    for name, peer in {**receivers, **traps}.items():
        assert peer.connections > 0, f"{name} was not met"
    for name, peer in {**liars, **receivers, **traps}.items():
        print(f"  {type(peer).__name__} {name}: {peer.connections} connections, {peer.sent >> 20} MB taken", flush=True)
        assert peer.connections < 200 + 10 * (time.monotonic() - began), f"{name} was asked {peer.connections} times"
    now = {probe["name"]: probe for probe in target.kitchen.json("now")["probes"]}
    for lie in ("count", "another"):  # beside a wrong length of the frame the answer itself was right
        assert now[f"liar-{lie}"]["celsius"] is None, f"a lie was taken for a reading: {json.dumps(now['liar-' + lie])}"
    target.unhurt("every peer lies, hangs or pours")
    print(f"  an alarm's way: {usual:.2f} s as usual, at most {max(ways):.2f} s then; {load:.2f} of a processor; bound of growth {LARGEST_GROWTH_MB} MB", flush=True)
    assert max(ways) <= 2 * usual + 1, "twice the usual, and a second for the watches' own step"
    assert target.kitchen.stop(limit=12) < 8


if __name__ == "__main__":
    main([every_peer_lies_hangs_or_pours])
