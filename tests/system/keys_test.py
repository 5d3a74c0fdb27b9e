#!/usr/bin/env python3
"""Keys of drivers and channels that no other test needs: one daemon has them all, and each reading is what its key makes
of what was sent; where the part is missing on this machine, that is told of its probe and of no other."""
import base64
import struct
import threading
import time

from drive_test import Local
from kitchen_rig import Instrument, Kitchen, main, mqtt_publish, wait_for
from peers import ModbusPeer, Peer
from secrets_test import SECRETS, Broker

KITCHEN = """
[kitchen]
name = "village hall"
units = "degC"
altitude = "0 m"
keep-readings = "400 days"

[[probe]]
name = "tape"
driver = "recorded"
file = "tape.csv"
column = "second"

[[probe]]
name = "comma"
driver = "serial-line"
port = "{port}"
baud = 19200
parity = "even"
comma = "decimal"
unit = "degC"

[[probe]]
name = "store"
driver = "mqtt"
broker = "127.0.0.1:{broker}"
user = "cook"
password-env = "BROKER_PASSWORD"
topic = "store"
status = "store/status"
field = "air.celsius"
time-field = "measured"
unit = "degC"

[[probe]]
name = "float"
driver = "modbus"
host = "127.0.0.1:{modbus}"
address = 17
function = 3
register = 8
format = "float32"
word-order = "CDAB"
unit = "degC"

[[probe]]
name = "tenths"
driver = "modbus"
host = "127.0.0.1:{modbus}"
address = 17
function = 4
register = 20
format = "int16"
scale = 0.1
fault-values = [32767]
unit = "degC"

[[probe]]
name = "broken"
driver = "modbus"
host = "127.0.0.1:{modbus}"
address = 17
register = 21
format = "int16"
fault-values = [32767]
unit = "degC"

[[probe]]
name = "board"
driver = "hwmon"
device = "lm75"
root = "{root}"

[[probe]]
name = "wire"
driver = "w1"
id = "28-000000000001"
root = "{root}"
supply-chip = "no-such-chip"
supply-line = "4"
supply-cut = "low"

[[probe]]
name = "spi"
driver = "max31856"
spi = "/dev/spidev-none"
type = "K"
mains = 60
average = 4
mode = "one-shot"

[[probe]]
name = "lines"
driver = "max31856"
chip = "no-such-chip"
clock = 1
data = 2
mosi = 3
select = 4
type = "K"

[[vessel]]
name = "stockpot"
kind = "pot"
medium = "comma"
more = ["float"]

[[dish]]
name = "roll"
vessel = "stockpot"
food = "ground-poultry"
plan = "slow"

[[channel]]
name = "beeps"
kind = "buzzer"
chip = "no-such-chip"
line = 5
sounds = "low"

[[channel]]
name = "mail"
kind = "email"
server = "smtp://127.0.0.1:{mail}"
from = "hall@village.example"
to = ["cook@village.example"]
user = "hall"
password-env = "MAIL_PASSWORD"
tls = "{tls}"
"""


PLAN = """
name = "slow"
[[stage]]
name = "poach"
band = ["70 degC", "80 degC"]
counts = "{counts}"
until = {{ time = "2 h" }}
"""


class LoginServer(Peer):
    """SMTP as far as the login (RFC 5321, RFC 4954); no STARTTLS. Keeps what it was told."""

    def __init__(self):
        self.lines = []
        super().__init__()

    def talk(self, link):
        link.sendall(b"220 here\r\n")
        answers = {b"EHLO": b"250-here\r\n250 AUTH PLAIN\r\n", b"AUTH": b"334 \r\n", b"DATA": b"354 go on\r\n", b"QUIT": b"221 bye\r\n"}
        text, mail = link.makefile("rb"), False
        for line in text:
            self.lines.append(line)
            if len(self.lines) > 1 and self.lines[-2].startswith(b"AUTH"):
                link.sendall(b"235 in\r\n")
                continue
            mail = (mail or line.startswith(b"DATA")) and line != b".\r\n"
            if not mail or line.startswith(b"DATA"):
                link.sendall(answers.get(line[:4].upper(), b"250 good\r\n"))


def every_key_does_what_it_says():
    kitchen = Kitchen("")
    root = kitchen.folder / "sys"
    for name, text in {"class/hwmon/hwmon0/name": "lm75\n", "class/hwmon/hwmon0/temp1_input": "4250\n",
                       # The DS18B20's own example: 0x0191 is 25.0625 degC (data sheet, table 1).
                       "bus/w1/devices/28-000000000001/w1_slave": "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n"}.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text)
    high, low = struct.unpack(">HH", struct.pack(">f", 87.25))
    modbus = ModbusPeer({8: low, 9: high, 20: 815, 21: 32767})
    broker, instrument, mail = Broker(kitchen.folder), Instrument(kitchen.folder), LoginServer()
    text = lambda tls: KITCHEN.format(port=instrument.path, broker=broker.port, modbus=modbus.port, root=root, mail=mail.port, tls=tls)
    kitchen.file.write_text(text("no"))
    (kitchen.folder / "slow.toml").write_text(PLAN.format(counts="from-begin"))
    (kitchen.folder / "tape.csv").write_text("time,first [degC],second [degC]\n" + "".join(f"{i},11,22\n" for i in range(600)))

    def speak():
        while True:
            instrument.send("65,25\r\n")
            time.sleep(0.2)
    threading.Thread(target=speak, daemon=True).start()
    kitchen.start(BROKER_PASSWORD=SECRETS["mqtt"], MAIL_PASSWORD=SECRETS["env"])
    wait_for("both registers", 20, lambda: {(17, 3, 8, 2), (17, 4, 20, 1)} <= set(modbus.asked))

    def probes():
        broker.publish('{"celsius": 99, "air": {"celsius": 4.5}, "measured": "%s"}' % time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()))
        return {probe["name"]: probe for probe in kitchen.json("now")["probes"]}
    wanted = {"comma": 65.25, "store": 4.5, "float": 87.25, "tenths": 81.5, "board": 4.25, "wire": 25.0625, "tape": 22}
    wait_for("every reading", 30, lambda: all(abs((probes()[name]["celsius"] or -99) - value) < 0.01 for name, value in wanted.items()))
    found = probes()
    assert found["broken"]["celsius"] is None and found["broken"]["fault"], found["broken"]
    for name, what in (("spi", "/dev/spidev-none"), ("lines", "no-such-chip")):
        assert found[name]["celsius"] is None and what in str(found[name]), found[name]

    # The stage's clock runs below its band, for the plan says so; the pot's second probe is its, too.
    kitchen.cli("begin", "roll")
    wait_for("the stage's clock", 20, lambda: 7000 < (kitchen.json("now")["dishes"][0]["stage_left_s"] or 0) < 7199)
    mqtt_publish(broker.port, "store/status", b"offline", "cook", SECRETS["mqtt"])
    wait_for("the word of its last will", 20, lambda: "the sender is gone" in str(next(p for p in kitchen.json("now")["probes"] if p["name"] == "store")))

    def tested(channel):
        link = Local(kitchen.state / "ingled.sock")
        link.request("POST", f"/api/channels/{channel}/test")
        return link.getresponse().read().decode()
    assert "no-such-chip" in tested("beeps")
    tested("mail")
    login = base64.b64encode(f"\0hall\0{SECRETS['env']}".encode())
    wait_for("the login", 10, lambda: any(login in line for line in mail.lines))
    assert any(b"cook@village.example" in line for line in mail.lines)
    kitchen.stop()

    # A server that cannot encrypt gets nothing where it always must, and no password where it may.
    for tls in ("always", "try"):
        mail.lines.clear()
        kitchen.file.write_text(text(tls))
        kitchen.start(BROKER_PASSWORD=SECRETS["mqtt"], MAIL_PASSWORD=SECRETS["env"])
        assert "false" in tested("mail")
        assert mail.lines and not any(line.startswith((b"AUTH", b"MAIL")) for line in mail.lines), mail.lines
        kitchen.stop()


TWO_RULES = """
[kitchen]
name = "village hall"
cooling-rule = "fsis-1"
[[probe]]
name = "a"
driver = "simulated"
of = "goose-core"
[[probe]]
name = "b"
driver = "simulated"
of = "goose-core"
[[vessel]]
name = "stockpot"
kind = "pot"
[[dish]]
name = "roll"
vessel = "stockpot"
core = "a"
food = "ground-poultry"
[[dish]]
name = "broth"
vessel = "stockpot"
core = "b"
food = "ground-poultry"
cooling-rule = "food-code"
"""


def a_dish_is_judged_by_its_own_rule_of_cooling():
    kitchen = Kitchen(TWO_RULES)
    kitchen.start()
    for dish in ("roll", "broth"):
        kitchen.cli("begin", dish)
    source = lambda dish: next((v["source"] for v in dish["verdicts"] if v["rule"] == "cooling"), "")
    sources = wait_for("both verdicts", 20, lambda: (lambda found: found if all(found.values()) else None)(
        {d["name"]: source(d) for d in kitchen.json("now")["dishes"]}))
    assert "Appendix B" in sources["roll"] and "Food Code" in sources["broth"], sources
    kitchen.stop()


def the_calculations_keep_to_what_is_known():
    """A cup of table salt is 292 g and a gallon of water 3785 ml (USDA SR; NIST SP 811): 7.2 % by mass. Twice the
    thickness takes four times as long where the surface takes the medium's temperature at once, and less otherwise."""
    kitchen = Kitchen("")
    brine = kitchen.json("calc", "brine", "--water", "1 gal", "--salt", "1 cup")
    share = 292 / (292 + 3785.4)
    assert any(abs(value - part) < 0.0005 * (part / share) for value in brine.values() if isinstance(value, (int, float)) for part in (share, 100 * share)), brine
    words = ("calc", "cook-time", "--food", "ground-poultry", "--shape", "cylinder", "--start", "5 degC", "--medium", "85 degC", "--target", "74 degC", "--thickness")
    hours = lambda thickness: next(value for key, value in kitchen.json(*words, thickness).items() if key.endswith("_s") and isinstance(value, (int, float)))
    assert 3 < hours("18 cm") / hours("9 cm") < 4, (hours("18 cm"), hours("9 cm"))


if __name__ == "__main__":
    main([every_key_does_what_it_says, a_dish_is_judged_by_its_own_rule_of_cooling, the_calculations_keep_to_what_is_known])
