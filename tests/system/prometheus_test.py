#!/usr/bin/env python3
"""A real Prometheus scrapes the real daemon: what it keeps is what was read, a level that is not fresh is not there, and
the rules that are shipped say when the kitchen is gone, a probe is silent or an alarm is high."""
import json
import shutil
import signal
import subprocess
import tempfile
import threading
import urllib.parse
import urllib.request
from pathlib import Path

from kitchen_rig import POT_KITCHEN, SOURCE, Instrument, Kitchen, Webhook, free_port, main, wait_for

RULES = SOURCE / "config/system/ingle-alerts.yml"
SERVED = "\n[serve]\naddress = \"127.0.0.1\"\nport = {port}\n"
SCRAPED = """
global: {{scrape_interval: 1s, evaluation_interval: 1s}}
rule_files: ["{rules}"]
scrape_configs:
  - job_name: ingle
    scrape_timeout: 1s
    static_configs: [{{targets: ["127.0.0.1:{port}"]}}]
"""
FORETOLD = """
rule_files: ["{rules}"]
evaluation_interval: 10s
tests:
  - interval: 10s
    input_series:
      - {{series: 'up{{job="ingle", instance="hall"}}', values: '1x5 0x30'}}
      - {{series: 'ingle_probe_up{{probe="core", instance="hall"}}', values: '0x60'}}
      - {{series: 'ingle_notices_pending{{channel="phone", instance="hall"}}', values: '2x70'}}
      - {{series: 'ingle_recording{{instance="hall"}}', values: '1x10 0x20 1x40'}}
    alert_rule_test:
      - {{eval_time: 2m, alertname: KitchenNotWatched, exp_alerts: []}}
      - eval_time: 3m10s
        alertname: KitchenNotWatched
        exp_alerts:
          - exp_labels: {{severity: critical, instance: hall, job: ingle}}
            exp_annotations: {{summary: "hall does not answer: nobody watches this kitchen"}}
      - {{eval_time: 4m, alertname: ProbeSilent, exp_alerts: []}}
      - eval_time: 6m
        alertname: ProbeSilent
        exp_alerts:
          - exp_labels: {{severity: warning, instance: hall, probe: core}}
            exp_annotations: {{summary: "probe core of hall has given no reading for 5 min: what it watches is not known"}}
      - eval_time: 11m
        alertname: NoticesNotDelivered
        exp_alerts:
          - exp_labels: {{severity: critical, instance: hall, channel: phone}}
            exp_annotations: {{summary: "notices wait in channel phone of hall"}}
      - {{eval_time: 6m, alertname: NotRecording, exp_alerts: []}}
"""


class Prometheus:
    def __init__(self, target):
        self.folder, self.port = Path(tempfile.mkdtemp(prefix="ingle-test-")), free_port()
        (self.folder / "scraped.yml").write_text(SCRAPED.format(rules=RULES, port=target))
        words = ["prometheus", f"--config.file={self.folder / 'scraped.yml'}", f"--storage.tsdb.path={self.folder / 'data'}",
                 f"--web.listen-address=127.0.0.1:{self.port}", "--log.level=error"]
        self.process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=open(self.folder / "log", "w"))

    def asked(self, query):
        """Labels and value of each series."""
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/api/v1/query?query={urllib.parse.quote(query)}", timeout=5) as answer:
                return [(one["metric"], float(one["value"][1])) for one in json.load(answer)["data"]["result"]]
        except OSError:
            return []

    def stop(self):
        self.process.terminate()
        self.process.wait(20)
        shutil.rmtree(self.folder)


def the_rules_say_what_they_mean():
    for words in (["check", "rules", RULES], ["test", "rules"]):
        folder = Path(tempfile.mkdtemp(prefix="ingle-test-"))
        (folder / "foretold.yml").write_text(FORETOLD.format(rules=RULES))
        done = subprocess.run(["promtool", *words, *([folder / "foretold.yml"] if words[0] == "test" else [])], capture_output=True, text=True, timeout=60)
        assert done.returncode == 0, done.stdout + done.stderr


def what_is_scraped_is_what_was_read():
    folder, port, hook = Path(tempfile.mkdtemp(prefix="ingle-test-")), free_port(), Webhook()
    instrument, level, silent = Instrument(folder), {"stock": 65.5, "core": 20.25}, threading.Event()
    text = POT_KITCHEN.format(port=instrument.path, http=hook.port, zone="") + SERVED.format(port=port)
    kitchen = Kitchen(text, folder)

    def play():
        while not silent.wait(0.2):
            instrument.send(f"{level['stock']},{level['core']}\n")
    threading.Thread(target=play, daemon=True).start()
    kitchen.start()
    for _ in range(2):
        kitchen.cli("timer", "1 s", "turn the tart")
    scraper = Prometheus(port)
    try:
        wait_for("the first scrape", 30, lambda: scraper.asked('ingle_vessel_temperature_celsius{vessel="stockpot"}'))
        assert scraper.asked('ingle_vessel_temperature_celsius{vessel="stockpot"}')[0][1] == 65.5
        assert scraper.asked('ingle_probe_temperature_celsius{probe="core"}')[0][1] == 20.25
        assert scraper.asked("ingle_band_low_celsius")[0][1] == 60 
        over = wait_for("two timers in one series", 10, lambda: scraper.asked('ingle_alarm_active{alarm="timer-over"}'))
        assert len(over) == 1, over

        silent.set()
        wait_for("no level without a reading", 30, lambda: not scraper.asked("ingle_vessel_temperature_celsius") and scraper.asked('ingle_probe_up{probe="stock"} == 0'))
        wait_for("a probe that is silent is foreseen", 10, lambda: scraper.asked('ALERTS{alertname="ProbeSilent"}'))

        kitchen.process.send_signal(signal.SIGKILL)
        kitchen.process.wait(5)
        wait_for("the kitchen is gone", 20, lambda: scraper.asked('ALERTS{alertname="KitchenNotWatched"}'))
        assert not scraper.asked("ingle_probe_up"), "a dead kitchen's probes are shown as they were"
    finally:
        scraper.stop()
        if kitchen.alive():
            kitchen.stop()


if __name__ == "__main__":
    main([the_rules_say_what_they_mean, what_is_scraped_is_what_was_read])
