#!/usr/bin/env python3
"""A change of the kitchen file while the logbook cannot be written, to another logbook too; and a start with a logbook that
is not the one of before: what is not recorded is said, what goes on is in the new one, what is not known is told."""
import signal
import sqlite3
import time

from kitchen_rig import main, wait_for
from logbook_files_test import Scene


class Changed(Scene):
    def logbook(self, path):
        text = self.kitchen.file.read_text()
        kept = [line for line in text.splitlines() if not line.startswith("logbook = ")]
        if path:
            kept.insert(kept.index("[kitchen]") + 1, f'logbook = "{path}"')
        self.kitchen.file.write_text("\n".join(kept) + "\n")

    def reload(self):
        before = self.kitchen.log().count("was read again")
        self.kitchen.process.send_signal(signal.SIGHUP)
        wait_for("the reload", 20, lambda: self.kitchen.log().count("was read again") > before)

    def hold_file(self, path):
        holder = sqlite3.connect(path, isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        return holder

    def told(self, alarm):
        return [a["text"] for a in self.now()["alarms"] if a["alarm"] == alarm and a["active"] and a["state"] != "acknowledged"]

    def cook_in(self, path):
        with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as book:
            return book.execute("SELECT id, dish FROM cook WHERE ended_ms IS NULL").fetchall()


def a_change_while_it_is_held_hides_nothing():
    scene = Changed()
    holder = scene.hold_file(scene.path())
    time.sleep(2)
    scene.reload()
    wait_for("that nothing is recorded", 60, lambda: scene.told("not-recording"))
    assert not scene.now()["daemon"]["recording"], scene.now()["daemon"]
    assert "FAIL" in scene.kitchen.cli("doctor", check=False).stdout
    scene.kitchen.cli("timer", "1 h", "tea")
    holder.execute("ROLLBACK")
    holder.close()
    wait_for("that it is", 60, lambda: scene.now()["daemon"]["recording"] and not scene.told("not-recording"))
    scene.next_life()
    assert [t["text"] for t in scene.now()["timers"]] == ["tea"], scene.now()["timers"]
    scene.kitchen.stop()


def power_goes_just_after_a_change_of_the_logbook():
    """Whatever moment it is, the cook and the timer are there or it is told that they are in the other file."""
    for i, wait in enumerate((0.01, 0.02, 0.025, 0.03, 0.05)):
        scene = Changed()
        scene.kitchen.cli("timer", "1 h", "tea")
        scene.logbook(scene.kitchen.folder / f"other{i}.db")
        scene.kitchen.process.send_signal(signal.SIGHUP)
        time.sleep(wait)
        scene.kitchen.stop(signal.SIGKILL)
        scene.kitchen.start()
        kept = scene.now()["dishes"][0]["begun"] and [t["text"] for t in scene.now()["timers"]] == ["tea"]
        kept or wait_for(f"word of the other file after {wait} s", 10, lambda: scene.told("logbook-new"))
        scene.kitchen.stop()


def another_disk_does_not_wait_for_the_one_that_fails():
    scene = Changed()
    other = scene.kitchen.folder / "other.db"
    holder = scene.hold_file(scene.path())
    scene.logbook(other)
    scene.reload()
    wait_for("the cook in it", 30, lambda: other.exists() and scene.cook_in(other) == [(scene.number, "roll")])
    wait_for("its commit", 20, lambda: (scene.now()["daemon"]["committed_age_s"] or 99) < 1)
    assert not scene.told("logbook-new"), scene.told("logbook-new")
    scene.kitchen.stop(signal.SIGKILL)
    scene.kitchen.start()
    dish, band = scene.now()["dishes"][0], scene.now()["vessels"][0]["band"]
    assert dish["begun"] and dish["cook"] == scene.number, dish
    assert (round(band["low_c"]), round(band["high_c"])) == (61, 71), band
    assert not scene.told("logbook-new"), scene.told("logbook-new")
    holder.close()
    scene.kitchen.stop()


def another_logbook_at_a_start_is_told():
    scene = Changed()
    other = scene.kitchen.folder / "card" / "other.db"
    other.parent.mkdir()
    scene.kitchen.stop()
    scene.logbook(other)
    scene.kitchen.start()
    text = wait_for("word of it", 20, lambda: scene.told("logbook-new"))[0]
    assert str(other) in text and str(scene.path()) in text and "is not known here" in text, text
    assert not scene.now()["dishes"][0]["begun"]
    wait_for("its notice", 20, lambda: any(b["alarm"] == "logbook-new" for b in scene.hook.bodies))
    scene.kitchen.cli("begin", "roll")
    scene.kitchen.cli("ack")
    wait_for("that somebody has seen it", 20, lambda: not scene.told("logbook-new"))
    scene.kitchen.stop()

    scene.kitchen.start()  # the same one: no word
    time.sleep(3)
    assert scene.now()["dishes"][0]["begun"] and not scene.told("logbook-new"), scene.now()["alarms"]
    scene.kitchen.stop()

    other.parent.rename(scene.kitchen.folder / "card-taken-out")
    other.parent.mkdir()
    scene.kitchen.start()
    text = wait_for("word of the card", 20, lambda: scene.told("logbook-new"))[0]
    assert "is not there (is its card or disk mounted?)" in text, text
    scene.kitchen.stop()


if __name__ == "__main__":
    main([a_change_while_it_is_held_hides_nothing, another_disk_does_not_wait_for_the_one_that_fails, another_logbook_at_a_start_is_told,
      power_goes_just_after_a_change_of_the_logbook])
