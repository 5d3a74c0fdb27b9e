#!/usr/bin/env python3
"""A cook's slips on the real daemon and program: an order too many, one that is taken back, an empty variable, a
daemon that is not there. What is said afterwards is what is so."""
import json
import time

from kitchen_rig import Kitchen, main, wait_for

KITCHEN = """
[kitchen]
name = "village hall"
units = "degF"
altitude = "0 m"
[[probe]]
name = "stock"
driver = "simulated"
of = "stockpot"
[[probe]]
name = "cold"
driver = "simulated"
of = "fridge"
[[probe]]
name = "core-a"
driver = "simulated"
of = "goose-core"
[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
[[vessel]]
name = "fridge"
kind = "fridge"
medium = "cold"
band = ["33 degF", "41 degF"]
[[dish]]
name = "roll"
food = "ground-poultry"
vessel = "stockpot"
core = "core-a"
[[dish]]
name = "ham"
food = "fresh-ham"
vessel = "stockpot"
[[channel]]
name = "phone"
kind = "command"
command = ["/bin/true"]
"""


def started():
    kitchen = Kitchen(KITCHEN)
    kitchen.start()
    wait_for("a reading", 20, lambda: kitchen.json("now")["probes"][0]["celsius"])
    return kitchen


def of(kitchen, name, kind="dishes"):
    return next(one for one in kitchen.json("now")[kind] if one["name"] == name)


def a_daemon_that_is_not_there_reads_as_no_calm():
    kitchen = started()
    assert kitchen.cli("alarms", "--json").returncode == 0
    kitchen.stop()
    dead = kitchen.cli("alarms", "--json", check=False)
    assert dead.returncode == 1 and not dead.stdout and "no daemon answers" in dead.stderr, dead
    dead = kitchen.cli("alarms", check=False)
    assert dead.returncode == 1 and "not known" in dead.stdout, dead


def a_fridge_that_is_let_go_says_that_nothing_watches_it():
    kitchen = started()
    kitchen.cli("hold", "fridge", "35 to 40 degF")
    said = kitchen.cli("hold", "fridge", "--off").stdout
    assert "no longer held" in said and "file's band is not watched either" in said, said
    assert of(kitchen, "fridge", "vessels").get("band") is None
    words = said[said.index("`") + 1:said.rindex("`")].split()[1:]
    kitchen.cli(*words)
    assert of(kitchen, "fridge", "vessels")["band"] is not None, words
    assert "was not held" in kitchen.cli("hold", "stockpot", "--off").stdout
    kitchen.stop()


def an_empty_variable_is_no_option_left_away():
    kitchen = started()
    for words in (("begin", "roll", "--when", ""), ("hold", "fridge", "35 to 40 degF", "--for", "")):
        refused = kitchen.cli(*words, check=False)
        assert refused.returncode == 2 and "is empty" in refused.stderr, refused
    assert not of(kitchen, "roll")["begun"]
    refused = kitchen.cli("hold", "stockpot", "185F", "185F", check=False)
    assert refused.returncode != 0 and "both ends of the band are 185" in refused.stderr, refused
    kitchen.stop()


def what_was_taken_back_stands_in_no_way_and_in_no_review():
    kitchen = started()
    assert "has not been cooked yet" in kitchen.cli("history", "roll", check=False).stderr
    for _ in range(3):
        kitchen.cli("begin", "roll", "--when", "30 min ago")
        said = kitchen.cli("back", "roll").stdout
        assert "it counts as not begun" in said and "30 min ago" in said, said
    kitchen.cli("begin", "roll")
    kitchen.cli("end", "roll")
    kitchen.cli("back", "roll")
    kitchen.cli("back", "roll")
    kitchen.cli("begin", "roll", "--when", "40 min ago")  # no earlier cook is in its way
    time.sleep(1)
    kitchen.cli("end", "roll")
    over = kitchen.cli("now", "roll").stdout
    assert "its last cook ended" in over and "ingle review roll" in over, over
    wait_for("the review", 20, lambda: kitchen.cli("review", "roll", "--json", check=False).returncode == 0)
    review = json.loads(kitchen.cli("review", "roll", "--json").stdout)
    assert len(review["stages"]) == 1, review["stages"]
    # The settings are those that the order was given with: what was before the first start had none.
    text = kitchen.cli("review", "roll").stdout
    assert "village hall" in text and "degF" in text and "no core probe" not in text, text
    kitchen.stop()


def one_probe_is_not_the_core_of_two():
    kitchen = started()
    kitchen.cli("begin", "roll")
    kitchen.cli("begin", "ham")
    refused = kitchen.cli("dish", "ham", "--core", "core-a", check=False)
    assert refused.returncode == 1 and "core-a is in roll, which cooks" in refused.stderr, refused
    assert kitchen.file.read_text().count("core-a") == 2
    kitchen.stop()


def a_file_that_breaks_off_says_nothing_of_what_follows():
    kitchen = Kitchen(KITCHEN.replace('altitude = "0 m"', 'altitude = "0 m'))
    said = kitchen.cli("check", kitchen.file, check=False)
    assert said.returncode == 2 and "syntax" in said.stdout + said.stderr and "none for notices" not in said.stdout, said
    refused = kitchen.cli("init", kitchen.folder / "new.toml", "--vessel", "stockpot pot", "--phone", "phone", check=False)
    assert refused.returncode == 2 and "nothing was written" in refused.stderr, refused
    assert not (kitchen.folder / "new.toml").exists()


if __name__ == "__main__":
    main([a_daemon_that_is_not_there_reads_as_no_calm, a_fridge_that_is_let_go_says_that_nothing_watches_it,
          an_empty_variable_is_no_option_left_away, what_was_taken_back_stands_in_no_way_and_in_no_review,
          one_probe_is_not_the_core_of_two, a_file_that_breaks_off_says_nothing_of_what_follows])
