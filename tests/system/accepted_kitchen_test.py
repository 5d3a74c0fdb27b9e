#!/usr/bin/env python3
"""A kitchen file that cannot be used at a start, after a power cut above all: what was watched before is watched on and it is
told. And one that was cut off where a line ends: a good file that lacks parts."""
import shutil
import signal
import stat
import subprocess

from kitchen_rig import INGLED, Instrument, Kitchen, Webhook, free_port, main, wait_for
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

[[dish]]
name = "roll"
vessel = "stockpot"
plan = "simmer"

[[channel]]
name = "phone"
kind = "webhook"
url = "http://127.0.0.1:{http}/notice?key=sesame-of-the-query"

[[channel]]
name = "board"
kind = "webhook"
url = "http://127.0.0.1:{http}/board"
token-file = "board.secret"

[serve]
port = {page}
token-file = "page.secret"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "pot"

[[vessel]]
name = "larder"
kind = "room"
"""
PLAN = """
name = "simmer"

[[stage]]
name = "simmer"
band = ["60 degC", "70 degC"]
at-least = "2 h"
"""
SECRETS = ("board.secret", "page.secret")
UNUSABLE, LACKS = "kitchen-file-unusable", "kitchen-file-lacks"


class Supper:
    def __init__(self):
        self.hook, self.kitchen = Webhook(), Kitchen("")
        instrument = Instrument(self.kitchen.folder)
        self.text = KITCHEN.format(port=instrument.path, http=self.hook.port, page=free_port())
        for name in SECRETS:
            self.secret(name)
        self.feed = Feed(instrument, 65)
        self.file, self.plan = self.kitchen.file, self.kitchen.folder / "simmer.toml"
        self.kept = self.kitchen.state / "kitchen.accepted"
        self.file.write_text(self.text)
        self.plan.write_text(PLAN)
        self.kitchen.start()
        self.kitchen.cli("begin", "roll")
        wait_for("the pot in its band", 60, lambda: self.phase() == "in band")
        self.commit()

    def secret(self, name):
        file = self.kitchen.folder / name
        file.write_text("sesame-of-the-file\n")
        file.chmod(0o600)
        return file

    def phase(self):
        return self.kitchen.json("now")["vessels"][0]["phase"]

    def commit(self):
        wait_for("its commit", 20, lambda: (self.kitchen.json("now")["daemon"]["committed_age_s"] or 9) < 1)
        wait_for("the kitchen to be kept", 20, self.kept.exists)

    def power_cut(self):
        self.commit()
        self.kitchen.stop(signal.SIGKILL)

    def reload(self):
        self.kitchen.process.send_signal(signal.SIGHUP)

    def alarms(self, name):
        return [a for a in self.kitchen.json("now")["alarms"] if a["alarm"] == name and a["active"] and a["state"] != "acknowledged"]

    def told(self, alarm, kind="raised"):
        return [b["text"] for b in self.hook.bodies if (b["alarm"], b["kind"]) == (alarm, kind)]

    def is_watched(self):
        now = self.kitchen.json("now")
        assert [v["name"] for v in now["vessels"]] == ["stockpot", "larder"], now["vessels"]
        assert now["dishes"][0]["begun"] and now["dishes"][0]["stage"] == "simmer", now["dishes"]
        wait_for("the pot in its band", 60, lambda: self.phase() == "in band")

    def end(self):
        self.feed.going = False
        self.kitchen.stop()


def a_start_with_a_file_that_cannot_be_used_goes_on_with_the_one_of_before():
    supper = Supper()
    unusable = {"a mistake": supper.text.replace("altitude", "altitud"), "nothing": "", "zeros": "\0" * 4096,
                "half a line": supper.text[:supper.text.index("stockpot") + 3], "none": None}
    for what, text in unusable.items():
        supper.power_cut()
        supper.file.unlink() if text is None else supper.file.write_text(text)
        supper.kitchen.start()
        supper.is_watched()
        alarm = wait_for(f"word of {what}", 20, lambda: supper.alarms(UNUSABLE))[0]
        assert alarm["priority"] == "medium" and str(supper.file) in alarm["text"], alarm
        wait_for(f"the notice of {what}", 30, lambda: supper.told(UNUSABLE))
    assert any("altitud" in text for text in supper.told(UNUSABLE)), supper.told(UNUSABLE)
    told = [text for (text,) in supper.kitchen.sql("SELECT text FROM event WHERE name = 'reload-refused'")]
    assert len(told) == len(unusable) and "altitud" in told[0], told

    # A reload of what is still wrong keeps both words; of what is right it ends them.
    supper.file.write_text(supper.text.replace("altitude", "altitud"))
    supper.reload()
    wait_for("the refusal", 20, lambda: supper.alarms("kitchen-file-refused"))
    assert supper.alarms(UNUSABLE)
    supper.file.write_text(supper.text.replace('name = "village hall"', 'name = "barn"'))
    supper.reload()
    wait_for("the end of it", 60, lambda: supper.told(UNUSABLE, "cleared"))
    assert not supper.alarms(UNUSABLE) and not supper.alarms("kitchen-file-refused")
    supper.is_watched()
    # What was taken up is the one of before from now on.
    wait_for("the barn to be kept", 20, lambda: "barn" in supper.kept.read_text())
    supper.power_cut()
    supper.file.write_text("[kitchen]\nname = \"shed\"\nunits = \"furlongs\"\n")
    supper.kitchen.start()
    supper.is_watched()
    assert supper.kitchen.log().count("barn: 1 probes") == 2, supper.kitchen.log()
    supper.end()


def a_plan_that_is_gone_is_the_one_of_before():
    supper = Supper()
    supper.power_cut()
    supper.plan.unlink()
    supper.kitchen.start()
    supper.is_watched()
    wait_for("word of it", 20, lambda: supper.told(UNUSABLE))
    assert "there is no plan" in supper.told(UNUSABLE)[0], supper.told(UNUSABLE)
    supper.plan.write_text(PLAN)
    supper.power_cut()
    supper.kitchen.start()
    supper.is_watched()
    wait_for("the end of it", 60, lambda: supper.told(UNUSABLE, "cleared"))
    supper.end()


def what_a_file_names_is_gone_and_the_kitchen_is_watched():
    for break_it in (lambda file: file.unlink(), lambda file: file.chmod(0o644)):
        supper = Supper()
        supper.power_cut()
        for name in SECRETS:
            break_it(supper.kitchen.folder / name)
        supper.kitchen.start()
        supper.is_watched()
        word = wait_for("word of it", 20, lambda: supper.alarms(UNUSABLE) and supper.alarms(LACKS))[0]["text"]
        assert "no channel board and no page any more" in word, word
        assert "board.secret" in supper.alarms(UNUSABLE)[0]["text"], supper.alarms(UNUSABLE)
        wait_for("a notice of it", 30, lambda: supper.hook.bodies)
        for name in SECRETS:
            supper.secret(name)
        supper.reload()
        wait_for("the end of both", 60, lambda: not supper.alarms(UNUSABLE) and not supper.alarms(LACKS))
        supper.end()


def a_file_cut_off_where_a_line_ends_is_told():
    supper = Supper()
    cut = supper.text[:supper.text.rindex("[[vessel]]")]
    supper.file.write_text(cut)
    supper.reload()
    text = wait_for("word of it", 20, lambda: supper.alarms(LACKS))[0]["text"]
    assert "no vessel larder any more" in text, text
    wait_for("its notice", 30, lambda: supper.told(LACKS))
    supper.power_cut()
    supper.kitchen.start()
    assert len(supper.alarms(LACKS)) == 1, "it stays until somebody has seen it"
    supper.kitchen.cli("ack", str(supper.alarms(LACKS)[0]["id"]))
    wait_for("that somebody has seen it", 20, lambda: not supper.alarms(LACKS))

    wait_for("its end", 20, lambda: not any(a["alarm"] == LACKS for a in supper.kitchen.json("now")["alarms"]))

    # What is there again is missed no more.
    supper.file.write_text(supper.text)
    supper.reload()
    wait_for("the larder", 20, lambda: "larder" in supper.kept.read_text())
    supper.file.write_text(cut)
    supper.reload()
    wait_for("word of it", 20, lambda: supper.alarms(LACKS))
    assert "larder" in supper.kept.read_text(), "it is kept once the alarm is"
    supper.file.write_text(supper.text)
    supper.reload()
    wait_for("the larder again", 20, lambda: not supper.alarms(LACKS) and len(supper.kitchen.json("now")["vessels"]) == 2)

    # At a start, without a reload before; the plug is pulled again before the alarm is on the disk.
    supper.power_cut()
    supper.file.write_text(cut)
    for _ in range(3):
        supper.kitchen.start()
        supper.kitchen.stop(signal.SIGKILL)
    supper.file.write_text(cut)
    supper.kitchen.start()
    wait_for("word of it", 20, lambda: supper.alarms(LACKS))
    # Another name is no loss.
    supper.kitchen.cli("ack", str(supper.alarms(LACKS)[0]["id"]))
    wait_for("that somebody has seen it", 20, lambda: not supper.alarms(LACKS))
    supper.file.write_text(supper.text.replace("larder", "cellar"))
    supper.reload()
    wait_for("the cellar", 20, lambda: "cellar" in supper.kept.read_text())
    supper.file.write_text(supper.text.replace("larder", "pantry"))
    supper.reload()
    wait_for("the pantry", 20, lambda: "pantry" in supper.kept.read_text())
    assert not supper.alarms(LACKS), supper.alarms(LACKS)
    supper.end()


def what_is_kept_is_secret_and_serves_its_own_file_alone():
    supper = Supper()
    assert "sesame-of-the-query" in supper.kept.read_text(), "the channel must work"
    assert stat.S_IMODE(supper.kept.stat().st_mode) == 0o600, oct(supper.kept.stat().st_mode)
    supper.kitchen.stop()
    assert "cannot be written" not in supper.kitchen.log(), supper.kitchen.log()
    before = supper.kept.stat().st_mtime_ns
    supper.kitchen.start()
    supper.commit()
    assert supper.kept.stat().st_mtime_ns == before, "what is kept already is not written again"
    supper.kitchen.stop()

    def ends_with_its_mistakes(kitchen, state):
        done = subprocess.run([INGLED, "--kitchen", kitchen, "--state", state], capture_output=True, text=True, timeout=20)
        assert done.returncode == 2 and "furlongs" in done.stderr, (done.returncode, done.stderr)

    wrong = supper.text.replace('"degC"\naltitude', '"furlongs"\naltitude')
    other = supper.kitchen.folder / "other.toml"
    other.write_text(wrong)
    ends_with_its_mistakes(other, supper.kitchen.state)
    supper.file.write_text(wrong)
    empty = supper.kitchen.folder / "empty"
    empty.mkdir()
    ends_with_its_mistakes(supper.file, empty)
    good = supper.kept.read_text()
    with open(supper.kept, "r+b") as file:
        file.truncate(1 << 30)
    ends_with_its_mistakes(supper.file, supper.kitchen.state)
    for what in (good[:len(good) // 2], "", "[]", '{"file": 1}', good.replace('"text": "\\n[kitchen]', '"text": "[[kitchen]')):
        supper.kept.write_text(what)
        ends_with_its_mistakes(supper.file, supper.kitchen.state)
    supper.kept.write_text(good)
    supper.kept.chmod(0o666)
    ends_with_its_mistakes(supper.file, supper.kitchen.state)
    supper.kept.unlink()
    supper.kept.write_text(good)
    supper.kept.chmod(0o600)
    linked = supper.kitchen.folder.with_name(supper.kitchen.folder.name + "-linked")
    linked.symlink_to(supper.kitchen.folder)
    supper.kitchen.file = linked / "kitchen.toml"
    supper.kitchen.start()
    supper.kitchen.stop()
    linked.unlink()
    supper.kept.unlink()
    shutil.copy(supper.file, supper.kept)
    ends_with_its_mistakes(supper.file, supper.kitchen.state)
    supper.feed.going = False


if __name__ == "__main__":
    main([a_start_with_a_file_that_cannot_be_used_goes_on_with_the_one_of_before, a_plan_that_is_gone_is_the_one_of_before,
          what_a_file_names_is_gone_and_the_kitchen_is_watched, a_file_cut_off_where_a_line_ends_is_told, what_is_kept_is_secret_and_serves_its_own_file_alone])
