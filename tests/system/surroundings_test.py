#!/usr/bin/env python3
"""The daemon where the machine is not as it should be: no /proc and no /sys, links planted in the state folder, clients
that ask a byte at a time and never end. It watches all the same, and touches nothing that is not its own."""
import resource
import signal
import socket
import subprocess
import time
import urllib.request
from pathlib import Path

from kitchen_rig import INGLED, Kitchen, Webhook, die_with_parent, free_port, main, wait_for

KITCHEN = """
[kitchen]
name = "village hall"
[[probe]]
name = "stock"
driver = "simulated"
of = "stockpot"
[[vessel]]
name = "stockpot"
kind = "pot"
medium = "stock"
"""
BARE = 'mount -t tmpfs none /proc && mount -t tmpfs none /sys && exec "$@"'


def reads(kitchen):
    wait_for("an answer", 20, lambda: kitchen.cli("now", check=False).returncode == 0)
    wait_for("a reading", 20, lambda: kitchen.json("now")["probes"][0]["celsius"])


def without_proc_and_sys_each_start_is_a_boot_of_its_own():
    kitchen = Kitchen(KITCHEN)
    for _ in range(2):
        with open(kitchen.folder / "ingled.log", "a") as log:
            kitchen.process = subprocess.Popen(["unshare", "-m", "sh", "-c", BARE, "sh", *map(str, kitchen.command())],
                                               stdout=log, stderr=log, preexec_fn=die_with_parent)
        reads(kitchen)
        kitchen.cli("note", "still here")
        kitchen.stop()
    boots = [uid for uid, in kitchen.sql("SELECT uid FROM boot")]
    # That the clock since the boot went on between them is not known.
    assert len(boots) == len(set(boots)) == 2, boots
    assert kitchen.sql("SELECT count(*) FROM note")[0][0] == 2, kitchen.log()


def a_socket_that_somebody_deletes_is_made_anew():
    kitchen = Kitchen(KITCHEN)
    kitchen.start()
    reads(kitchen)
    (kitchen.state / "ingled.sock").unlink()
    wait_for("an answer again", 10, lambda: kitchen.cli("now", check=False).returncode == 0)
    kitchen.cli("note", "here again")
    (kitchen.state / "ingled.sock").unlink()
    with socket.socket(socket.AF_UNIX) as dead:  # one that nobody listens at
        dead.bind(str(kitchen.state / "ingled.sock"))
    wait_for("an answer again", 10, lambda: kitchen.cli("now", check=False).returncode == 0)
    kitchen.stop()
    assert not (kitchen.state / "ingled.sock").exists()


def two_daemons_never_write_to_one_logbook():
    first, second = Kitchen(KITCHEN), Kitchen(KITCHEN)
    book = first.folder / "shared.db"
    for kitchen in (first, second):
        kitchen.file.write_text(KITCHEN.replace("[kitchen]\n", f'[kitchen]\nlogbook = "{book}"\n', 1))
    first.start()
    reads(first)
    first.cli("timer", "1 h", "tea")
    refused = subprocess.run(second.command(), capture_output=True, text=True, timeout=30)
    assert refused.returncode == 1 and f"another ingled writes to {book}" in refused.stderr, refused
    first.process.send_signal(signal.SIGHUP)  # its own is no other one
    wait_for("the reload", 20, lambda: "kitchen-file-read" in [e["event"] for e in first.json("history", "stock", "last 5 min")["events"]])
    first.stop(signal.SIGKILL)
    second.start()  # whose the logbook is now
    reads(second)
    second.stop()


def the_kitchen_as_a_whole_is_never_out_of_service():
    kitchen = Kitchen(KITCHEN)
    kitchen.start()
    reads(kitchen)
    refused = kitchen.cli("out-of-service", "kitchen", check=False)
    assert refused.returncode != 0 and "cannot be out of service" in refused.stdout + refused.stderr, refused
    kitchen.cli("timer", "1 s", "peel")
    wait_for("the timer", 15, lambda: [a for a in kitchen.json("now")["alarms"]
                                       if (a["alarm"], a["state"]) == ("timer-over", "unacknowledged")])
    kitchen.stop()


def what_a_link_points_at_stays_as_it_is():
    kitchen = Kitchen(KITCHEN)
    other = kitchen.folder / "someone-elses.txt"
    for name in ("logbook.db", "logbook.db-wal"):
        other.write_text("keep this\n" * 1000)
        for file in kitchen.state.glob("logbook.db*"):
            file.unlink()
        (kitchen.state / name).symlink_to(other)
        kitchen.start()
        reads(kitchen)
        wait_for("a logbook", 30, lambda: (kitchen.state / "logbook.db").exists() and kitchen.sql("SELECT count(*) FROM boot")[0][0])
        assert other.read_text() == "keep this\n" * 1000, f"{name}: written through the link"
        assert not other.is_symlink() and other.stat().st_size == 10_000, name
        kitchen.stop()
        assert other.read_text() == "keep this\n" * 1000, f"{name}: written through the link at the stop"
    (kitchen.state / "ingled.sock").unlink(missing_ok=True)
    (kitchen.state / "ingled.sock").symlink_to(other)
    refused = subprocess.run(kitchen.command(), capture_output=True, text=True, timeout=20)
    assert refused.returncode == 1 and "that is no socket" in refused.stderr, refused
    assert other.read_text() == "keep this\n" * 1000, "the socket's link"


def clients_that_drip_hold_nobody_up():
    """Sixty connections that send a byte a second, in the first line, in a header or in the body, and never end."""
    kitchen = Kitchen(KITCHEN)
    kitchen.start()
    reads(kitchen)
    starts = [b"GET /api/now", b"GET /api/now HTTP/1.1\r\nX-Long: ",
              b"POST /api/commands/note HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 900\r\n\r\n"]
    links, closed, slowest = [], 0, 0.0
    for number in range(60):
        link = socket.socket(socket.AF_UNIX)
        link.connect(str(kitchen.state / "ingled.sock"))
        link.sendall(starts[number % 3])
        link.setblocking(False)
        links.append(link)
    end = time.monotonic() + 45
    while links and time.monotonic() < end:
        for link in list(links):
            try:
                link.send(b"a")
            except OSError:
                links.remove(link)
                closed += 1
        began = time.monotonic()
        assert kitchen.cli("now", check=False).returncode == 0, "locked out by clients that drip"
        slowest = max(slowest, time.monotonic() - began)
        time.sleep(1)
    print(f"  {closed} of 60 were closed; the slowest answer meanwhile took {slowest:.2f} s", flush=True)
    assert closed == 60, f"{len(links)} connections still hold their places"
    kitchen.stop()


def a_port_that_another_program_has_leaves_no_kitchen_unwatched():
    taken = socket.socket()
    taken.bind(("127.0.0.1", 0))
    taken.listen()
    port = taken.getsockname()[1]
    kitchen = Kitchen(KITCHEN + f"[serve]\naddress = \"127.0.0.1\"\nport = {port}\n")
    kitchen.start()
    reads(kitchen)
    assert f"not served on 127.0.0.1:{port}" in kitchen.log(), kitchen.log()
    taken.close()

    def served():
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=2) as answer:
                return answer.status == 200
        except OSError:
            return False
    wait_for("the page once the port is free", 15, served)
    assert kitchen.log().count("not served") == 1, kitchen.log()
    kitchen.stop()



def clients_cannot_take_the_last_descriptor():
    """64 open files, and more clients than that on both sockets: mail, past and logbook have theirs."""
    hook, port = Webhook(), free_port()
    kitchen = Kitchen(KITCHEN + f'[[channel]]\nname = "phone"\nkind = "webhook"\nurl = "http://127.0.0.1:{hook.port}/"\n[serve]\nport = {port}\n')

    def few_files():
        die_with_parent()
        resource.setrlimit(resource.RLIMIT_NOFILE, (64, 64))
    with open(kitchen.folder / "ingled.log", "a") as log:
        kitchen.process = subprocess.Popen(kitchen.command(), stdout=log, stderr=log, preexec_fn=few_files)
    reads(kitchen)
    links = []
    for family, place in [(socket.AF_INET, ("127.0.0.1", port)), (socket.AF_UNIX, str(kitchen.state / "ingled.sock"))]:
        for number in range(60):
            links.append(socket.socket(family))
            try:
                links[-1].settimeout(5)
                links[-1].connect(place)
                if number % 2:
                    links[-1].sendall(b"GET /api/events HTTP/1.1\r\nHost: localhost\r\n\r\n")
            except OSError:
                pass  # refused while the places are taken
    time.sleep(1)
    opened = len(list(Path(f"/proc/{kitchen.process.pid}/fd").iterdir()))
    print(f"  {len(links)} clients, {opened} of 64 files open")
    assert opened < 56, opened
    for link in links[60:]:
        link.close()  # the cook's own socket has a place again; the page's is still full
    wait_for("an answer", 20, lambda: kitchen.cli("now", check=False).returncode == 0)
    kitchen.cli("note", "the clients are still there")
    kitchen.cli("history", "stock")
    kitchen.cli("notices", "test", "phone")
    wait_for("the notice", 20, lambda: hook.bodies)
    wait_for("the note", 20, lambda: kitchen.sql("SELECT count(*) FROM note")[0][0])
    for link in links[:60]:
        link.close()
    kitchen.stop()

if __name__ == "__main__":
    assert INGLED.exists()
    main([a_socket_that_somebody_deletes_is_made_anew, two_daemons_never_write_to_one_logbook, the_kitchen_as_a_whole_is_never_out_of_service, without_proc_and_sys_each_start_is_a_boot_of_its_own, what_a_link_points_at_stays_as_it_is, a_port_that_another_program_has_leaves_no_kitchen_unwatched,
          clients_that_drip_hold_nobody_up, clients_cannot_take_the_last_descriptor])
