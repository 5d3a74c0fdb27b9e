#!/usr/bin/env python3
"""The manual pages have every command, option and key that the programs and the sources have, and the shells really
complete them: bash and zsh at a terminal with a Tab, fish by its own `complete -C`."""
import json
import os
import pty
import re
import select
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

from driven_test import commands_in, text_of
from kitchen_rig import BUILD, INGLE, INGLED, SOURCE, main

FOLDER = Path(tempfile.mkdtemp(prefix="ingle-manual-"))


def run(*words, **more):
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, timeout=60, **more)
    assert done.returncode == 0, f"{words}: {done.stdout}{done.stderr}"
    return done


def shown(name, section):
    """The page as a reader sees it, a line for each paragraph; the formatter warns of nothing."""
    file = FOLDER / f"share/man/man{section}/{name}.{section}"
    done = run("man", "--warnings", "-l", file, env={"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8", "MANWIDTH": "5000", "MAN_KEEP_FORMATTING": ""})
    assert not done.stderr, done.stderr
    return done.stdout


def helped(*words):
    text = run(INGLE, *words, "--help", env={"HOME": "~"}).stdout
    yield words, text
    for name in commands_in(text):
        yield from helped(*words, name)


def options_in(text):
    part = re.split(r"^example:", re.split(r"^options:\n", text, flags=re.M | re.I)[1], flags=re.M | re.I)[0]
    return set(re.findall(r"(?<![\w-])--[a-z-]+", "\n".join(line[:30] for line in part.splitlines() if line.lstrip().startswith("-"))))


def every_command_and_option_is_on_the_page():
    page = shown("ingle", 1)
    parts = {head.strip(): text for head, text in re.findall(r"^   (ingle [^\n]*)\n((?:(?!   ingle |[A-Z]).*\n)*)", page, re.M)}
    told = 0
    for words, text in helped():
        name = " ".join(["ingle", *words])
        if not words:
            part = page
        else:
            heads = [head for head in parts if re.fullmatch(re.escape(name) + r"(?:| [A-Z\[].*)", head)]
            assert len(heads) == 1, f"{name} has {len(heads)} places on the page: {heads}"
            part = parts[heads[0]]
        on_page = set(re.findall(r"(?<![\w-])--[a-z-]+", "\n".join(line.strip().split("  ")[0] for line in part.splitlines() if line.strip().startswith("-"))))
        lacking = options_in(text) - on_page - {"--help"}
        assert not lacking, f"of {name} the page lacks {lacking}"
        if words:
            more = on_page - options_in(text)
            assert not more, f"of {name} the page has {more}, which it does not take"
        told += 1
    assert told == len(parts) + 1 > 40, f"{told} commands, {len(parts)} on the page"
    declared = json.loads(run(INGLE, "explain", "commands").stdout)
    assert [one["name"] for one in declared["commands"]] == commands_in(run(INGLE, "--help").stdout)


def every_option_of_the_daemon_is_on_its_page():
    page, text = shown("ingled", 8), run(INGLED, "--help", env={"HOME": "~"}).stdout
    lacking = [name for name in options_in(text) if name not in page]
    assert not lacking, lacking
    for line in ("the kitchen file (TOML)", "folder of the logbook and the socket"):
        assert line in page, f"ingled(8) does not say: {line}"


def every_key_is_on_the_page_of_its_file():
    kitchen, plan = shown("ingle-kitchen", 5), shown("ingle-plan", 5)
    for section, text in re.findall(r"std::array (\w+)_keys\{(.*?)\n\};", text_of("config/keys.cpp"), re.S):
        for key in re.findall(r'KeyHelp\{"([a-z-]+)"', text):
            page = kitchen if section in ("kitchen", "probe", "vessel", "dish", "channel", "serve") else plan
            assert re.search(rf"^ +{key}\b", page, re.M), f"{key} of {section} is on no page"
    for file, kind in (("drivers/drivers.def", "driver"), ("daemon/notices/notices.def", "kind")):
        for name in re.findall(r"^([a-z][a-z0-9_]*)", text_of(file), re.M):
            name = name.replace("_", "-")
            if run(INGLE, "explain", "channel" if kind == "kind" else kind).stdout.find(f"{name}: ") >= 0:
                assert f'{kind} = "{name}"' in kitchen, f"{kind} {name} is not on the page"
    for file in SOURCE.glob("config/plans/*.toml"):
        assert re.search(rf"^ +{file.stem}\b", plan, re.M), f"{file.stem} is not among the plans"


class Shell:
    """An interactive shell at a terminal, in which `ingle` prints what it was given."""

    def __init__(self, words, setup):
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.chdir(FOLDER)
            os.execvpe(words[0], words, {"PATH": os.environ["PATH"], "HOME": str(FOLDER), "TERM": "dumb", "PS1": "$ ", "LC_ALL": "C.UTF-8"})
        self.type(setup + "\ningle() { printf '<%s>\\n' \"$*\"; }\necho re''ady\n", "ready")

    def type(self, keys, until, limit=60):
        os.write(self.fd, keys.encode())
        text, end = "", time.monotonic() + limit
        while time.monotonic() < end:
            if select.select([self.fd], [], [], 0.2)[0]:
                text += os.read(self.fd, 65536).decode(errors="replace")
                if found := re.search(until, text):
                    return found
        raise AssertionError(f"waited for {until!r} after {keys!r}; the terminal shows: {text!r}")

    def completed(self, line):
        """What `ingle` is given when this was typed, with each Tab answered before the next key."""
        for part in re.split(r"(?<=\t)", line):
            os.write(self.fd, part.encode())
            end = time.monotonic() + 30
            quiet = 0
            while quiet < (4 if part.endswith("\t") else 1) and time.monotonic() < end:
                quiet = 0 if select.select([self.fd], [], [], 0.25)[0] and os.read(self.fd, 65536) else quiet + 1
        return self.type("\n", r"<([^>%]*)>").group(1)

    def close(self):
        os.close(self.fd)
        os.waitpid(self.pid, 0)


TYPED = {"ingle hol\tstockpot --fo\t": "hold stockpot --for", "ingle probe cal\tstock --accept\t": "probe calibrate stock --accept-large",
         "ingle --state /nowhere his\t": "--state /nowhere history", "ingle calc word --chip max318\t": "calc word --chip max3185",
         "ingle out\tfridge": "out-of-service fridge", "ingle check kitchen-of\t": "check kitchen-of-the-hall.toml"}


def at_a_terminal(words, setup):
    (FOLDER / "kitchen-of-the-hall.toml").touch()
    shell = Shell(words, setup)
    try:
        for line, wanted in TYPED.items():
            given = shell.completed(line).strip()
            assert given == wanted, f"{words[0]}: {line!r} became {given!r}, not {wanted!r}"
    finally:
        shell.close()


def bash_completes():
    at_a_terminal(["bash", "--norc", "--noprofile", "-i"], f"bind 'set bell-style none'; . {FOLDER}/share/bash-completion/completions/ingle")


def zsh_completes():
    at_a_terminal(["zsh", "-f", "-i"], f"fpath=({FOLDER}/share/zsh/vendor-completions $fpath); autoload -Uz compinit; compinit -u -D; "
                                       "setopt no_list_beep no_auto_menu no_always_last_prompt; PROMPT_SP=")


def fish_completes():
    def offered(line):
        script = f"source {FOLDER}/share/fish/vendor_completions.d/ingle.fish; complete -C {line!r}"
        said = run("fish", "--no-config", "-c", script, cwd=FOLDER, env={"PATH": os.environ["PATH"], "HOME": str(FOLDER), "LC_ALL": "C.UTF-8"}).stdout
        return [row.split("\t")[0] for row in said.splitlines()]
    assert offered("ingle hol") == ["hold"], offered("ingle hol")
    assert offered("ingle probe cal") == ["calibrate"], offered("ingle probe cal")
    assert offered("ingle probe calibrate stock --accept") == ["--accept-large"]
    assert offered("ingle --state /nowhere his") == ["history"]
    assert sorted(offered("ingle calc word --chip max")) == ["max31855", "max31856", "max6675"]
    assert set(commands_in(run(INGLE, "--help").stdout)) <= set(offered("ingle "))


if __name__ == "__main__":
    try:
        run(SOURCE / "tools/manual", BUILD, FOLDER)
        main([every_command_and_option_is_on_the_page, every_option_of_the_daemon_is_on_its_page, every_key_is_on_the_page_of_its_file,
              bash_completes, zsh_completes, fish_completes])
    finally:
        shutil.rmtree(FOLDER, ignore_errors=True)
