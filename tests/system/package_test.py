#!/usr/bin/env python3
"""The package of the programs as built, without a kitchen of this machine: what is in it, what lintian and dpkg say of
it, and what of a cook's files lives through an upgrade, a removal and a purge."""
import gzip
import hashlib
import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from kitchen_rig import BUILD, SOURCE, main

FOLDER = Path(tempfile.mkdtemp(prefix="ingle-package-"))


def run(*words, **more):
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, timeout=300, **more)
    assert done.returncode == 0, f"{words}: {done.stdout}{done.stderr}"
    return done.stdout


def made(name):
    """The package, made in a folder of this name."""
    quickly = {"DPKG_DEB_COMPRESSOR_TYPE": "gzip", "DPKG_DEB_COMPRESSOR_LEVEL": "1"}
    run(SOURCE / "tools/package", "--built", BUILD, "--into", FOLDER / name, env={**os.environ, **quickly})
    return next((FOLDER / name).glob("*.deb"))


def the_package():
    return next((FOLDER / "first").glob("*.deb"), None) or made("first")


def contents():
    return {line.split()[5].lstrip("."): line.split()[0] for line in run("dpkg-deb", "-c", the_package()).splitlines()}


def two_packages_are_the_same_bytes():
    first, second = (hashlib.sha256(file.read_bytes()).hexdigest() for file in (the_package(), made("second")))
    assert first == second, "the same programs were packed twice and the packages differ"


def it_has_what_the_system_and_the_cook_need():
    inside = contents()
    for file in ("/usr/bin/ingle", "/usr/bin/ingled", "/usr/lib/sysusers.d/ingle.conf", "/usr/lib/tmpfiles.d/ingle.conf",
                 "/usr/share/ingle/plans/poach.toml", "/usr/share/ingle/kitchens/harvest-supper.toml", "/usr/share/man/man1/ingle.1.gz",
                 "/usr/share/man/man8/ingled.8.gz", "/usr/share/man/man5/ingle-kitchen.5.gz", "/usr/share/man/man5/ingle-plan.5.gz",
                 "/usr/share/bash-completion/completions/ingle", "/usr/share/zsh/vendor-completions/_ingle",
                 "/usr/share/fish/vendor_completions.d/ingle.fish", "/usr/share/doc/ingle/copyright",
                 "/usr/share/doc/ingle/guide/first-kitchen.md", "/usr/share/doc/ingle/changelog.gz"):
        assert file in inside, f"{file} is not in the package"
    assert [name for name in inside if name.endswith("/udev/rules.d/70-ingle.rules")], "no udev rules"
    unit = next(name for name in inside if name.endswith("/systemd/system/ingled.service"))
    assert not [name for name in inside if name.startswith(("/etc", "/var"))], "it owns files of the cook"
    root = FOLDER / "unpacked"
    run("dpkg-deb", "-x", the_package(), root)
    text = (root / unit.lstrip("/")).read_text()
    for kind, place in re.findall(r"(file|man):(\S+)", text):
        if kind == "file":
            assert place in inside, f"the unit's Documentation={place} is not in the package"
        else:
            page, section = re.fullmatch(r"(.+)\((\d)\)", place).groups()
            assert f"/usr/share/man/man{section}/{page}.{section}.gz" in inside, f"the unit's man:{place} is not in the package"
    for program in ("ingle", "ingled"):
        sections = run("readelf", "-SW", root / "usr/bin" / program)
        assert ".symtab" not in sections and ".debug_info" not in sections, f"{program} is not stripped"
    for place in root.glob("usr/share/ingle/kitchens/*.toml"):
        run(root / "usr/bin/ingle", "check", place, env={"PATH": os.environ["PATH"], "HOME": str(FOLDER)})


def its_version_is_that_of_the_programs():
    told = run("dpkg-deb", "--field", the_package(), "Version").strip()
    assert run(BUILD / "tools/ingle", "--version").strip() == told == run(BUILD / "daemon/ingled", "--version").strip()
    with gzip.open(FOLDER / "unpacked/usr/share/doc/ingle/changelog.gz", "rt") as changelog:
        assert changelog.readline().startswith(f"ingle ({told}) ")


def lintian_has_nothing_to_say():
    # Debian's hardening is of the package's own build, not of the one that is packed here; neither is a warning.
    said = run("lintian", "--fail-on", "error,warning", *(["--allow-root"] if os.geteuid() == 0 else []), the_package())
    assert not re.search(r"^[EW]:", said, re.M), said


class Root:
    """An empty root for dpkg, whose maintainer scripts run outside it (DPKG_ROOT). The service manager of this machine
    is not theirs: stand-ins write down what it is asked for."""

    def __init__(self, name):
        self.path, self.asked = FOLDER / name, FOLDER / f"{name}.asked"
        for folder in ("var/lib/dpkg/info", "var/lib/dpkg/updates", "var/lib/dpkg/triggers", "etc", "usr/lib"):
            (self.path / folder).mkdir(parents=True)
        for file in ("var/lib/dpkg/status", "var/lib/dpkg/available", "etc/passwd", "etc/group"):
            (self.path / file).touch()
        self.asked.touch()
        self.bin = FOLDER / f"{name}.bin"
        self.bin.mkdir()
        for tool in ("systemctl", "deb-systemd-invoke", "udevadm"):
            (self.bin / tool).write_text(f'#!/bin/sh\necho {tool} "$@" >>{self.asked}\n')
            (self.bin / tool).chmod(0o755)

    def dpkg(self, *words):
        path = f"{self.bin}:/usr/local/sbin:/usr/sbin:/sbin:{os.environ['PATH']}"
        return run("dpkg", f"--root={self.path}", "--force-script-chrootless", "--force-depends", "--force-unsafe-io", "--log=/dev/null", *words,
                   env={**os.environ, "PATH": path})

    def file(self, name):
        return self.path / name.lstrip("/")


def later_package():
    """The same package as a later version."""
    tree, file = FOLDER / "later", FOLDER / "later.deb"
    run("dpkg-deb", "-R", the_package(), tree)
    control = tree / "DEBIAN/control"
    control.write_text(re.sub(r"^Version: .*", "Version: 99.0", control.read_text(), flags=re.M))
    run("dpkg-deb", "--root-owner-group", "-Znone", "-b", tree, file)
    return file


def what_is_the_cooks_lives_until_a_purge():
    if os.geteuid() != 0:
        print("    (only root can install: not tried)")
        return
    root = Root("root")
    said = root.dpkg("-i", the_package())
    assert "ingle init /etc/ingle/kitchen.toml" in said, f"it does not say how to go on: {said}"
    kitchen, book = root.file("/etc/ingle/kitchen.toml"), root.file("/var/lib/ingle/logbook.db")
    assert "ingle:" in root.file("/etc/passwd").read_text() and "ingle" in root.file("/etc/group").read_text(), "the user was not made"
    mode = {folder.name: oct(folder.stat().st_mode & 0o7777) for folder in (kitchen.parent, book.parent)}
    assert kitchen.parent.is_dir() and oct(book.parent.stat().st_mode & 0o7777) == "0o750", mode
    enabled = root.file("/etc/systemd/system/multi-user.target.wants/ingled.service")
    assert enabled.is_symlink(), "the unit is not enabled"
    said = run(root.file("/usr/bin/ingle"), "init", kitchen, "--units", "degC", "--vessel", "stockpot pot")
    assert "systemctl start ingled" in said, said
    os.chown(kitchen, 0, 4321)
    kitchen.chmod(0o640)
    run(root.file("/usr/bin/ingle"), "dish", "tart", "--vessel", "stockpot", "--kitchen", kitchen)
    assert (kitchen.stat().st_gid, kitchen.stat().st_mode & 0o777) == (4321, 0o640), "the service cannot read it any more"
    kitchen.write_text(kitchen.read_text() + "\n# changed by the cook\n")
    book.write_text("the record")
    written = kitchen.read_bytes()
    said = root.dpkg("-i", later_package())
    assert kitchen.read_bytes() == written and book.read_text() == "the record", "the upgrade touched them"
    assert "nothing is watched" not in said, "it forgets that there is a kitchen"
    root.dpkg("-r", "ingle")
    assert not root.file("/usr/bin/ingled").exists(), "the daemon is still there"
    assert kitchen.read_bytes() == written and book.read_text() == "the record", "the removal took them"
    root.dpkg("-P", "ingle")
    left = [str(one) for one in (kitchen.parent, book.parent, enabled) if one.exists() or one.is_symlink()]
    assert not left, f"left after a purge: {left}"


if __name__ == "__main__":
    try:
        main([two_packages_are_the_same_bytes, it_has_what_the_system_and_the_cook_need, its_version_is_that_of_the_programs,
              lintian_has_nothing_to_say, what_is_the_cooks_lives_until_a_purge])
    finally:
        shutil.rmtree(FOLDER, ignore_errors=True)
