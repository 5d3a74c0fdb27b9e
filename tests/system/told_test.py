#!/usr/bin/env python3
"""What is told of everyday handling: an alarm that was acknowledged and comes back, a timer, the clock of a stage and
its end. The real daemon and CLI, an instrument on a pseudo-terminal, a webhook."""
import signal
import time

from kitchen_rig import Instrument, Kitchen, Webhook, main, wait_for
from reload_test import Feed

KITCHEN = """
[kitchen]
name = "village hall"
units = "degC"
altitude = "0 m"

[[probe]]
name = "pot"
driver = "serial-line"
port = "{port}"
unit = "degC"
every = "200 ms"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "pot"
{band}
on-delay = "1 s"
off-delay = "1 s"

[[vessel]]
name = "oven"
kind = "oven"

[[dish]]
name = "goose-roll"
vessel = "stockpot"
plan = "poach"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice"
"""

BEET = """
[[dish]]
name = "beet"
vessel = "stockpot"
plan = "simmer"
"""

PLAN = """
name = "poach"
[[stage]]
name = "poach"
band = ["60 degC", "70 degC"]
until = { time = "8 s" }
[[stage]]
name = "rest"
until = { time = "10 s" }
[[stage]]
name = "bake"
vessel = "oven"
until = { time = "3 s" }
"""

OTHER_PLAN = """
name = "simmer"
[[stage]]
name = "simmer"
band = ["90 degC", "95 degC"]
until = { time = "1 h" }
"""


def kitchen_at(celsius, band='band = ["60 degC", "70 degC"]'):
    hook = Webhook()
    kitchen = Kitchen("")
    instrument = Instrument(kitchen.folder)
    kitchen.file.write_text(KITCHEN.format(port=instrument.path, http=hook.port, band=band) + BEET)
    (kitchen.folder / "poach.toml").write_text(PLAN)
    (kitchen.folder / "simmer.toml").write_text(OTHER_PLAN)
    feed = Feed(instrument, celsius)
    kitchen.start()
    return hook, kitchen, feed


def notices(hook, alarm, kind="raised"):
    return [body for body in hook.bodies if body["alarm"] == alarm and body["kind"] == kind]


def stop(kitchen, feed):
    feed.going = False
    kitchen.stop()


def an_acknowledged_alarm_that_comes_back_is_told():
    hook, kitchen, feed = kitchen_at(65)
    wait_for("the band to be held", 60, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band")
    feed.celsius = 80
    wait_for("the alarm", 90, lambda: notices(hook, "above-band"))
    kitchen.cli("ack")
    feed.celsius = 65
    wait_for("its end", 240, lambda: notices(hook, "above-band", "cleared"))  # such a fall may be a hand's for 90 s
    feed.celsius = 80
    wait_for("the second notice", 90, lambda: len(notices(hook, "above-band")) == 2)
    alarms = kitchen.json("alarms")["alarms"]
    mine = [a for a in alarms if a["alarm"] == "above-band"]
    assert mine[0]["state"] == "unacknowledged" and mine[0]["age_s"] < 60, alarms
    stop(kitchen, feed)


def a_timer_is_told_and_outlives_a_kill():
    hook, kitchen, feed = kitchen_at(65, band="")
    said = kitchen.cli("timer", "2 s", "turn", "the", "tart").stdout
    assert "turn the tart" in said, said
    kitchen.cli("timer", "1 h", "stir")
    assert [t["timer"] for t in kitchen.json("timer")["timers"]] == [1, 2]
    wait_for("the timer's notice", 20, lambda: notices(hook, "timer-over"))
    assert "turn the tart" in notices(hook, "timer-over")[0]["text"]
    assert notices(hook, "timer-over")[0]["priority"] == "medium"
    kitchen.stop(signal.SIGKILL)
    kitchen.start()
    assert [t["timer"] for t in kitchen.json("timer")["timers"]] == [1, 2]
    kitchen.cli("ack")
    assert [t["timer"] for t in kitchen.json("timer")["timers"]] == [2]
    assert "stir" in kitchen.cli("timer").stdout
    assert kitchen.json("alarms")["alarms"] == []
    kitchen.cli("timer", "stop", "2")
    assert kitchen.cli("timer").stdout == "no timers\n"
    for wrong in (["timer", "soon"], ["timer", "stop"], ["timer", "stop", "x"]):
        assert kitchen.cli(*wrong, check=False).returncode == 2, wrong
    assert kitchen.cli("timer", "stop", "9", check=False).returncode == 1
    # A kill between delivery and its record sends the same notice again, under the same id.
    assert len({body["id"] for body in notices(hook, "timer-over")}) == 1, "told again after the kill"
    stop(kitchen, feed)


def a_silence_without_an_end_is_told_itself():
    hook, kitchen, feed = kitchen_at(65, band="")
    kitchen.cli("out-of-service", "stockpot", "--by", "maria")
    said = wait_for("the word of it", 20, lambda: notices(hook, "out-of-service"))[0]["text"]
    assert "stockpot is out of service (maria): none of its alarms is told" in said, said
    kitchen.stop(signal.SIGKILL)
    kitchen.start()
    standing = lambda: [a["text"] for a in kitchen.json("alarms")["alarms"] if a["alarm"] == "out-of-service" and a["active"]]
    assert len(wait_for("the same after a kill", 10, standing)) == 1 and "(maria)" in standing()[0], standing()
    kitchen.cli("out-of-service", "stockpot", "--off")
    assert kitchen.cli("out-of-service", "nothing", check=False).returncode != 0
    stop(kitchen, feed)


def a_stage_counts_at_its_band_and_its_end_is_told():
    hook, kitchen, feed = kitchen_at(40, band="")
    kitchen.cli("begin", "goose-roll")
    dish = lambda: kitchen.json("now")["dishes"][0]
    wait_for("a reading", 20, lambda: dish()["stage_clock"] == "waits for its band")
    time.sleep(2)
    assert dish()["stage_left_s"] == 8, dish()
    assert "8 s left (waits for its band)" in kitchen.cli("now").stdout
    feed.celsius = 65
    wait_for("the clock to run", 60, lambda: dish()["stage"] == "poach" and dish()["stage_left_s"] < 8)
    wait_for("the next stage", 60, lambda: dish()["stage"] == "rest" or notices(hook, "stage-over"))
    wait_for("its notice", 20, lambda: notices(hook, "stage-over"))
    wait_for("rest to be over", 30, lambda: "next is bake" in (dish()["stage_clock"] or ""))
    assert dish()["vessel"] == "stockpot", dish()
    wait_for("that it waits to be moved", 20, lambda: len(notices(hook, "stage-over")) == 2)
    assert "ingle next goose-roll" in notices(hook, "stage-over")[1]["text"]
    kitchen.cli("next", "goose-roll")
    assert dish()["vessel"] == "oven" and dish()["stage"] == "bake", dish()
    wait_for("dish-ready", 30, lambda: notices(hook, "dish-ready"))
    kitchen.cli("ack")
    assert kitchen.json("alarms")["alarms"] == []
    kitchen.cli("end", "goose-roll")
    assert "Counted: " in kitchen.cli("review", "goose-roll").stdout
    stop(kitchen, feed)


def two_dishes_that_exclude_each_other_in_one_pot_are_told():
    """The pot keeps the band of the dish that was in it first, over a kill too, until a person says what holds. Then the dish goes from
    the kitchen file: its cook does not."""
    hook, kitchen, feed = kitchen_at(40, band="")
    low = lambda: kitchen.json("now")["vessels"][0]["band"]["low_c"]
    kitchen.cli("begin", "goose-roll")
    said = kitchen.cli("begin", "beet").stdout
    assert "stockpot is held at 60.0 degC to 70.0 degC for goose-roll (poach), and simmer of beet asks for 90.0 degC to 95.0 degC" in said, said
    assert low() == 60, kitchen.json("now")
    kitchen.stop(signal.SIGKILL)
    kitchen.start()
    assert low() == 60, kitchen.json("now")
    wait_for("the notice", 100, lambda: notices(hook, "band-conflict"))
    assert notices(hook, "band-conflict")[0]["subject"] == "beet"
    kitchen.cli("hold", "stockpot", "90 degC", "95 degC")
    assert low() == 90, kitchen.json("now")
    wait_for("its end", 30, lambda: all(a["alarm"] != "band-conflict" or a["state"].startswith("returned") for a in kitchen.json("now")["alarms"]))
    # The dish goes from the file while the program is off: its cook is kept, and somebody is told that it is not watched.
    kitchen.stop()
    whole = kitchen.file.read_text()
    kitchen.file.write_text(whole.replace(BEET, ""))
    kitchen.start()
    wait_for("word of the cook that is not watched", 30, lambda: notices(hook, "cook-left-behind"))
    assert "beet cooks, and the kitchen file has no such dish" in notices(hook, "cook-left-behind")[0]["text"]
    kitchen.stop()
    kitchen.file.write_text(whole)
    kitchen.start()
    assert [d["stage"] for d in kitchen.json("now")["dishes"] if d["name"] == "beet"] == ["simmer"], kitchen.json("now")
    stop(kitchen, feed)


def a_program_that_stands_still_blames_no_probe():
    """Nothing was asked of any probe while the machine slept or had no time for the program, right after a restart too."""
    hook, kitchen, feed = kitchen_at(65)
    wait_for("the band to be held", 60, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band")
    for still_s, runs, sleeps in ((9, 2, False), (25, 1, True)):
        kitchen.stop(signal.SIGKILL)
        kitchen.start()
        wait_for("readings", 20, lambda: kitchen.json("now")["vessels"][0]["celsius"] == 65)
        for _ in range(runs):
            kitchen.process.send_signal(signal.SIGSTOP)
            feed.going = not sleeps
            time.sleep(still_s)
            kitchen.process.send_signal(signal.SIGCONT)
            time.sleep(0.2)
        if sleeps:  # the instrument slept, too, and takes some seconds to wake
            time.sleep(4)
            feed = Feed(feed.instrument, 65)
        wait_for("readings", 20, lambda: kitchen.json("now")["vessels"][0]["celsius"] == 65)
        time.sleep(2)
    raised = kitchen.sql("SELECT name, text FROM alarm_change WHERE change = 'raised'")
    assert raised == [], raised
    told = [text for (text,) in kitchen.sql("SELECT text FROM event WHERE name = 'gap'") if "stood still" in text]
    assert len(told) == 1, told
    feed.going = False  # this time it is the instrument
    wait_for("the alarm", 60, lambda: kitchen.sql("SELECT name FROM alarm_change WHERE change = 'raised' AND name = 'probe-silent'"))
    stop(kitchen, feed)


if __name__ == "__main__":
    main([an_acknowledged_alarm_that_comes_back_is_told, a_timer_is_told_and_outlives_a_kill, a_silence_without_an_end_is_told_itself,
          a_stage_counts_at_its_band_and_its_end_is_told, two_dishes_that_exclude_each_other_in_one_pot_are_told,
          a_program_that_stands_still_blames_no_probe])
