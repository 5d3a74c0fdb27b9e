#!/usr/bin/env python3
"""A summary of what an earlier run of the daemon left to tell says of each what is open now, as one of this run does."""
import json
import signal

from kitchen_rig import Instrument, Kitchen, main, wait_for
from notices_test import Receiver, of
from reload_test import Feed
from told_test import KITCHEN


def what_a_killed_daemon_left_is_told_with_what_is_open():
    """At 95 degC the pot is told, and a timer: the receiver answers 500 to both. Killed, and started again with a receiver
    that works: one message, with both as still open. So it is after a reload in place of the kill."""
    for ends in (signal.SIGKILL, signal.SIGHUP):
        hook, kitchen = Receiver([]), Kitchen("")
        instrument = Instrument(kitchen.folder)
        kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, band='band = ["60 degC", "70 degC"]'))
        (kitchen.folder / "poach.toml").write_text('name = "poach"\n[[stage]]\nname = "poach"\nuntil = { time = "1 h" }\n')
        feed = Feed(instrument, 65)
        kitchen.start()
        wait_for("the band", 60, lambda: '"in band"' in kitchen.cli("now", "--json").stdout)
        hook.answers[:] = [500] * 1000
        feed.celsius = 95
        kitchen.cli("timer", "1 s", "baste")
        waiting = lambda: {n["alarm"] for n in of(kitchen, "phone") if n["state"] == "pending" and n["attempts"]}
        wait_for("both to be refused", 90, lambda: waiting() >= {"above-band", "timer-over"})
        if ends == signal.SIGKILL:
            kitchen.stop(signal.SIGKILL)
            hook.answers.clear()
            kitchen.start()
        else:
            hook.answers.clear()
            kitchen.process.send_signal(signal.SIGHUP)
        told = wait_for("the summary", 30, lambda: [body for _, _, raw in hook.requests if (body := json.loads(raw))["kind"] == "summary"])[-1]
        still = told["text"].partition("Still open:")[2]
        assert "stockpot is at 95" in still and "baste" in still and "Over by now" not in still, told["text"]
        assert told["priority"] == "high" and told["late"] is True, told
        feed.going = False
        kitchen.stop()


if __name__ == "__main__":
    main([what_a_killed_daemon_left_is_told_with_what_is_open])
