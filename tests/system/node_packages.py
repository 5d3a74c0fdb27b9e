"""Packages of npm that a test needs, at the versions of its lock file, kept in the build's folder."""
import shutil
import subprocess
import time

from kitchen_rig import BUILD


def node_packages(source, what):
    """The folder that holds node_modules; without node or a network this fails, and says what is missing."""
    folder = (BUILD / what).absolute()
    folder.mkdir(exist_ok=True)
    lock = (source / "package-lock.json").read_text()
    done = folder / "installed.json"
    if not done.exists() or done.read_text() != lock:
        for name in ("package.json", "package-lock.json"):
            shutil.copy(source / name, folder)
        for wait in (2, 10, None):  # a network may stumble
            made = subprocess.run(["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"], cwd=folder, capture_output=True, text=True, timeout=120)
            if made.returncode == 0:
                break
            if wait is None:
                raise AssertionError(f"npm could not install what the {what} needs: {made.stderr}")
            time.sleep(wait)
        done.write_text(lock)
    return folder
