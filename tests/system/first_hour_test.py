#!/usr/bin/env python3
"""The first hour of a cook with Ingle, in terminals of 80 x 24 and 60 columns, on the simulated kitchen."""
import fcntl
import os
import pty
import re
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import time
from pathlib import Path

from kitchen_rig import INGLE, SOURCE, Kitchen, Webhook, main, wait_for

DEMO = (SOURCE / "config/kitchens/harvest-supper.toml").read_text().split("[serve]")[0]  # others may serve there
SCREENS = os.environ.get("INGLE_SCREENS")  # a folder: what was shown is kept there, to be looked at


def terminal(kitchen, columns, rows, *words, typed=b""):
    """What a person sees: the command in a real terminal of that size. Colours are taken out."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    if typed:
        os.write(master, typed)
    process = subprocess.Popen([INGLE, "--state", kitchen.state, *words], stdin=slave, stdout=slave, stderr=slave)
    os.close(slave)
    shown = b""
    while True:
        try:
            part = os.read(master, 65536)
        except OSError:
            break
        if not part:
            break
        shown += part
    os.close(master)
    text = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", shown.decode()).replace("\r\n", "\n")
    if SCREENS:
        name = "-".join(word for word in words if word.isalnum())[:40]
        (Path(SCREENS) / f"{columns}-{name}.txt").write_text(text)
    return process.wait(30), text


def fits(text, columns, rows):
    lines = text.splitlines()
    assert len(lines) <= rows, f"{len(lines)} lines on a screen of {rows}:\n{text}"
    for line in lines:
        assert len(line) <= columns, f"{len(line)} columns of {columns}: {line!r}"


def started(text=DEMO):
    folder = Path(tempfile.mkdtemp(prefix="ingle-first-hour-"))
    kitchen = Kitchen(text, folder)
    kitchen.start()
    return kitchen


def dish(kitchen, name="goose-roll"):
    return next(one for one in kitchen.json("now")["dishes"] if one["name"] == name)


def what_was_not_meant_is_taken_back():
    kitchen = started()
    kitchen.cli("begin", "goose-roll", "--when", "1 min ago")
    said = kitchen.cli("next", "goose-roll").stdout
    second = dish(kitchen)["stage"]
    assert second != "poach" and second in said and "ingle back goose-roll" in said, said
    twice = kitchen.cli("next", "goose-roll", check=False)
    assert twice.returncode == 1 and f"went on to {second}" in twice.stderr and "--again" in twice.stderr, twice
    assert dish(kitchen)["stage"] == second
    assert "poach goes on" in kitchen.cli("back", "goose-roll").stdout
    assert dish(kitchen)["stage"] == "poach"
    kitchen.cli("end", "goose-roll")
    kitchen.cli("note", "--about", "stockpot", "skimmed")
    assert kitchen.stop() < 6
    kitchen.start()
    assert "poach goes on" in kitchen.cli("back", "goose-roll").stdout
    assert dish(kitchen)["begun"]
    assert "skimmed" in kitchen.cli("note", "--back").stdout
    nothing = kitchen.cli("note", "--back", check=False)
    assert nothing.returncode == 1 and "no note to take back" in nothing.stderr, nothing
    # The record has what was done and what was taken back; the review has the stages that counted.
    names = [name for name, in kitchen.sql("SELECT name FROM event WHERE name IN ('note', 'taken-back') OR name LIKE 'stage-%' ORDER BY id")]
    assert names.count("taken-back") == 3 and names.count("stage-began") == 2, names
    assert kitchen.sql("SELECT count(*) FROM cook WHERE ended_ms IS NULL") == [(1,)]
    review = kitchen.json("review", "goose-roll")
    assert [stage["stage"] for stage in review["stages"]] == ["poach"], review["stages"]
    assert kitchen.stop() < 6


def a_begin_said_afterwards_knows_what_was_read_before():
    """The readings that count are in the logbook: a reload has no memory of them."""
    kitchen = started()
    running = lambda: kitchen.json("now")["daemon"]["running_s"]
    wait_for("some readings", 60, lambda: running() > 22)
    kitchen.cli("dish", "eel", "--vessel", "smoker")  # the file is written, and read anew
    wait_for("the reload", 20, lambda: kitchen.sql("SELECT count(*) FROM event WHERE name = 'kitchen-file-read'")[0][0])
    kitchen.cli("begin", "goose-roll", "--when", "20 s ago")
    poach = dish(kitchen)
    assert poach["stage"] == "poach" and poach["stage_left_s"] < 7200 - 10, poach
    kitchen.cli("end", "goose-roll")
    within = kitchen.cli("begin", "goose-roll", "--when", "10 s ago", check=False)
    assert within.returncode == 1 and "in an earlier cook" in within.stderr, within
    assert kitchen.stop() < 6


def a_pot_is_held_for_a_while():
    kitchen = started()
    said = kitchen.cli("hold", "stockpot", "180", "to", "190", "degF", "--for", "2 h").stdout
    assert "holding 180.0 to 190.0 degF for 2 h" in said, said
    assert "holding" in kitchen.cli("hold", "stockpot", "180F", "190F").stdout
    wrong = kitchen.cli("hold", "stockpot", "180", "190", check=False)
    assert wrong.returncode == 2 and "has no unit" in wrong.stderr, wrong
    assert kitchen.stop() < 6


def a_first_kitchen_file_is_written_by_questions():
    folder = Path(tempfile.mkdtemp(prefix="ingle-first-hour-"))
    blank = Kitchen("", folder)
    blank.file.unlink()
    status, shown = terminal(blank, 80, 24, "init", str(blank.file), typed=b"village hall\nkelvin\ndegC\n240\n240 m\nstockpot kettle\nstockpot pot\nfridge fridge\n\n\n")
    assert status == 0 and "is written" in shown and "no kind of vessel" in shown, shown
    assert "no mistakes" in blank.cli("check", blank.file).stdout
    again = blank.cli("init", blank.file, "--vessel", "stockpot pot", check=False)
    assert again.returncode == 1 and "is there already and stays" in again.stderr, again
    other = folder / "other.toml"
    said = blank.cli("init", other, "--name", "hall", "--units", "degF", "--altitude", "0 m", "--vessel", "oven oven", "--phone", "http://127.0.0.1:9/notice").stdout
    assert "ingle now" in said and "hold oven" not in said, f"an oven is told to be held at a simmer: {said}"
    assert "no mistakes" in blank.cli("check", other).stdout
    for words, right in (("plan", "poach-and-hold"), ("plan poach", "in the dish's vessel"), ("driver w1", "[[probe]]"), ("channel email", "[[channel]]"), ("kitchen", "look-ahead"), ("kitchen vessel", "room-for"), ("stage", "excursion")):
        assert right in blank.cli("explain", *words.split()).stdout, words
    assert "no mistakes" in blank.cli("check", SOURCE / "config/plans/poach.toml").stdout
    # The plans that come with Ingle are found from any folder, and listed where one is not.
    said = blank.cli("dish", "ham", "--kitchen", other, "--vessel", "oven", "--plan", "roast-and-holt", check=False)
    assert 'did you mean "roast-and-hold"' in said.stderr and '"smoke"' in said.stderr, said
    bad = blank.cli("init", folder / "bad.toml", "--vessel", "oven oven", "--units", "kelvin", check=False)
    assert bad.returncode == 2 and "kelvin" in bad.stderr and not (folder / "bad.toml").exists(), bad
    blank.start()
    assert "holding" in blank.cli("hold", "stockpot", "82 to 88 degC", "--for", "2 h").stdout
    wait_for("a reading", 20, lambda: blank.json("now")["vessels"][0]["celsius"] is not None)
    for columns in (80, 60):
        status, shown = terminal(blank, columns, 24, "now")
        assert status == 0 and "degF" not in shown, shown
        fits(shown, columns, 24)
    assert blank.stop() < 6


def a_dish_is_begun_without_a_file():
    hook = Webhook()
    kitchen = started(DEMO + f'[[channel]]\nname = "phone"\nkind = "webhook"\nurl = "http://127.0.0.1:{hook.port}/notice"\nafter = "0 min"\n')
    kitchen.cli("begin", "goose-roll")
    wrong = kitchen.cli("begin", "eel", "--vessel", "smoaker", "--food", "fish", check=False)
    assert wrong.returncode == 2 and "smoaker" in wrong.stderr and "nothing was changed" in wrong.stderr, wrong
    said = kitchen.cli("begin", "eel", "--vessel", "smoker", "--food", "fish", "--core", "boar-core", "--serve-at", "in 6 h").stdout
    assert "to be served" in said and "eel begun" in said, said
    before = kitchen.file.read_text()
    unclear = kitchen.cli("begin", "pike", "--vessel", "smoker", "--when", "this morning", check=False)
    assert unclear.returncode == 2 and "several hours" in unclear.stderr and kitchen.file.read_text() == before, unclear
    assert "no mistakes" in kitchen.cli("check", kitchen.file).stdout
    assert (kitchen.folder / "kitchen.toml.before").read_text() != kitchen.file.read_text()
    # Its probe goes to another dish, its serving time changes; cooks go on.
    moved = kitchen.cli("dish", "eel", "--core", "none", "--vessel", "oven").stdout
    assert "eel cooks: from now on in oven, without a core probe." in moved, moved
    kitchen.cli("dish", "boar-shoulder", "--core", "boar-core", "--serve-at", "tomorrow 5 pm")
    assert dish(kitchen, "eel")["begun"] and dish(kitchen, "goose-roll")["begun"]
    assert dish(kitchen, "eel")["core"]["probe"] is None, dish(kitchen, "eel")
    assert kitchen.stop() < 6
    kitchen.start()
    assert dish(kitchen, "eel")["begun"]
    kitchen.cli("end", "eel")
    assert "is dropped" in kitchen.cli("dish", "eel", "--drop").stdout
    assert "eel" not in kitchen.cli("now").stdout
    kitchen.cli("timer", "2 s", "turn the tart")
    wait_for("the notice of the timer", 30, lambda: any("turn the tart" in body["text"] for body in hook.bodies))
    for name in ("boar-shoulder", "quince-tart", "trout"):
        kitchen.cli("begin", name)
    for columns in (80, 60):
        status, shown = terminal(kitchen, columns, 24, "now")
        assert status == 0 and shown.splitlines()[0].startswith("village hall"), shown
        fits(shown, columns, 24)
        assert "turn the tart" in "\n".join(shown.splitlines()[:5]), shown
    assert kitchen.stop() < 6


def what_is_old_is_not_shown_as_live():
    kitchen = started()
    watch = subprocess.Popen([INGLE, "--state", kitchen.state, "now", "--watch"], stdout=subprocess.PIPE, text=True)
    assert "village hall" in watch.stdout.readline()
    kitchen.process.send_signal(signal.SIGSTOP)
    try:
        stopped = time.monotonic()
        for line in watch.stdout:
            if line.startswith("no news"):
                break
        assert time.monotonic() - stopped < 10, "the old page stood there as if it were live"
        glance = kitchen.cli("now", check=False)
        assert glance.returncode == 1 and "does not answer" in glance.stderr, glance
        assert time.monotonic() - stopped < 25
    finally:
        kitchen.process.send_signal(signal.SIGCONT)
        watch.kill()
    assert kitchen.stop() < 6


def no_cook_is_lost_and_no_core_counts_twice():
    kitchen = started()
    kitchen.cli("begin", "goose-roll")
    wait_for("the core", 20, lambda: dish(kitchen)["core"]["celsius"])
    said = kitchen.cli("next", "goose-roll").stdout
    assert re.search("before its end: (the core was at|no reading of the core counted)", said) and "165.0 degF was asked" in said and "of 2 h have counted" in said, said
    kitchen.cli("back", "goose-roll")
    twice = kitchen.cli("begin", "eel", "--vessel", "smoker", "--food", "fish", "--core", "goose-core", check=False)
    assert twice.returncode == 1 and "goose-core is in goose-roll, which cooks" in twice.stderr, twice
    dropped = kitchen.cli("dish", "goose-roll", "--drop", check=False)
    assert dropped.returncode == 2 and "end it first" in dropped.stderr, dropped
    text = kitchen.file.read_text()
    planless = kitchen.cli("dish", "goose-roll", "--plan", "none", check=False)
    assert planless.returncode == 2 and "goes on by the plan that it began with" in planless.stderr, planless
    assert kitchen.file.read_text() == text
    # By an editor: without its plan, without the dish, then without the vessel that it is in.
    begun = re.search(r'\[\[dish\]\]\nname = "goose-roll".*?\n\n', text, flags=re.S)[0]
    kitchen.file.write_text(text.replace(begun, re.sub("(?m)^plan = .*\n", "", begun)))
    kitchen.process.send_signal(signal.SIGHUP)
    wait_for("the word that the cook keeps its plan", 20, lambda: "it began with" in "".join(row[0] or "" for row in kitchen.sql("SELECT text FROM event")))
    assert dish(kitchen)["stage"] == "poach", dish(kitchen)
    for gone, why in ((re.sub(r'\[\[dish\]\]\nname = "goose-roll".*?\n\n', "", text, flags=re.S), "no such dish"),
                      (re.sub(r'\[\[vessel\]\]\nname = "stockpot".*?\n\n', "", text, flags=re.S).replace('vessel = "stockpot"', 'vessel = "oven"').replace('of = "stockpot"', 'of = "oven"'), "no such vessel")):
        assert gone != text
        kitchen.file.write_text(gone)
        kitchen.process.send_signal(signal.SIGHUP)
        wait_for("the refusal", 20, lambda: why in kitchen.log())
        assert dish(kitchen)["begun"] and dish(kitchen)["vessel"] == "stockpot"
    kitchen.file.write_text(text)
    kitchen.cli("end", "goose-roll")
    assert "is dropped" in kitchen.cli("dish", "goose-roll", "--drop").stdout
    assert kitchen.sql("SELECT count(*) FROM cook WHERE ended_ms IS NULL") == [(0,)]
    assert kitchen.stop() < 6


def the_examples_work_as_they_stand():
    """Of the README and of `ingle begin --help`, on the demo's kitchen."""
    kitchen = started()
    example = re.search(r"`ingle (dish trout-2 [^`]*)`", (SOURCE / "README.md").read_text())[1]
    kitchen.cli(*example.split())
    assert not dish(kitchen, "trout-2")["begun"]
    kitchen.cli("dish", "trout-2", "--drop")
    example = re.search(r"ingle (begin trout-2 .*)", kitchen.cli("begin", "--help").stdout)[1]
    kitchen.cli(*example.split())
    assert dish(kitchen, "trout-2")["begun"]
    # What cannot begin changes no file; what asks too little is said when it is entered.
    before = kitchen.file.read_text()
    for words in ("trout-2 --plan brine", "duck --vessel oven --core goose-core"):
        kitchen.cli("begin", "goose-roll", check=False)
        refused = kitchen.cli("begin", *words.split(), check=False)
        assert refused.returncode != 0 and "nothing was changed" in refused.stderr, refused
        assert kitchen.file.read_text() == before, words
    said = kitchen.cli("dish", "duck", "--vessel", "oven", "--core", "boar-core", "--food", "whole-poultry", "--plan", "roast-and-hold").stdout
    assert "warning" in said and "165.0 degF" in said, said
    # A recording is the same on the standard output and in a file.
    wait_for("readings", 30, lambda: kitchen.cli("export", "stock", "last 5 min", check=False).returncode == 0)
    out = kitchen.folder / "out.csv"
    shown = subprocess.run([INGLE, "--state", kitchen.state, "export", "stock", "last 5 min"], capture_output=True).stdout
    kitchen.cli("export", "stock", "last 5 min", "-o", out)
    rows, kept = shown.split(b"\r\n"), out.read_bytes().split(b"\r\n")
    assert len(rows) > 2 and rows[:-1] == kept[: len(rows) - 1], (rows[:3], kept[:3])
    assert kitchen.stop() < 6


# What a beginner types, and what the one line of the answer must lead to.
WRONG = [
    ("hodl stockpot 180F 190F", "did you mean `ingle hold`?"),
    ("", "`ingle --help` lists the commands"),
    ("undo goose-roll", "did you mean `ingle back`?"),
    ("start goose-roll", "did you mean `ingle begin`?"),
    ("status", "did you mean `ingle now`?"),
    ("explain", "one of: food, plan, driver, channel, kitchen, stage"),
    ("explain kichen", "did you mean `ingle explain kitchen`?"),
    ("explain plan poch", 'did you mean "poach"?'),
    ("now goose-rol", 'did you mean "goose-roll"?'),
    ("hold stockpott 180F 190F", 'did you mean "stockpot"?'),
    ("out-of-service smokre", 'did you mean "smoker"?'),
    ("end goose-rolll", 'did you mean "goose-roll"?'),
    ("shelve stokpot", 'did you mean "stockpot"?'),
    ("notices test phon", "`ingle notices` lists them"),
    ("now --wach", 'did you mean "--watch"?'),
    ("timer 5 pm", "not a length"),
    ("timer 0 min", "longer than nothing"),
    ("hold stockpot 180F 190F --for 5pm", "not a length"),
    ("schedule --at whenever", "is not a time"),
    ("explain kitchen stove", "there are: kitchen, probe, vessel"),
    ("hold stockpot", "180 to 190 degF"),
    ("hold stockpot 180F", "that is one end"),
    ("hold stockpot 180 190", 'write "180 degF"'),
    ("hold stockpot 190F 180F", "the low end"),
    ("hold kettle 180F 190F", "there are: stockpot"),
    ("hold fridge 33C 41C", "did you mean degF?"),
    ("hold stockpot warm", "180 to 190 degF"),
    ("begin goose", "there are: goose-roll"),
    ("begin goose-roll --when soon", "20 min ago"),
    ("begin goose-roll --when 5", '"5 am" or "5 pm"'),
    ("next trout", "has not begun"),
    ("back trout", "nothing to take back"),
    ("timer turn-the-tart", "does not begin with a number"),
    ("timer 20", "has no unit"),
    ("note", "ingle note"),
    ("history lately", "last 3 h"),
    ("dish goose-roll --serve-at yesterday", "a time to come"),
    ("dish goose-roll", "--serve-at"),
    ("now goose", "there is no dish"),
    ("shelve stove", "see `ingle alarms`"),
    ("hold stockpot 180F 190F --fro 2h", "`ingle hold --help`"),
]


def wrong_words_lead_to_the_right_ones():
    kitchen = started()
    for words, right in WRONG:
        done = kitchen.cli(*words.split(), check=False)
        lines = done.stderr.strip().splitlines() or done.stdout.strip().splitlines()
        assert done.returncode in (1, 2) and right in " ".join(lines), (words, right, done)
        assert len(lines) == 1, (words, lines)
    assert kitchen.stop() < 6


main([what_was_not_meant_is_taken_back, a_begin_said_afterwards_knows_what_was_read_before, a_pot_is_held_for_a_while, a_first_kitchen_file_is_written_by_questions,
      a_dish_is_begun_without_a_file, what_is_old_is_not_shown_as_live, no_cook_is_lost_and_no_core_counts_twice, the_examples_work_as_they_stand,
      wrong_words_lead_to_the_right_ones])
