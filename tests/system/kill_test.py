#!/usr/bin/env python3
"""kill -9 at random moments (8; with INGLE_LONG=1 500): nothing that was acknowledged is lost, at most one commit
interval of readings is, and the cook goes on."""
import signal

from kitchen_rig import LONG, Kitchen, main
from lives import Lives


def kills_lose_nothing():  # field cases D5, D6
    Lives(Kitchen, lambda kitchen, when: kitchen.stop(signal.SIGKILL), 20261124).run(500 if LONG else 8, 10 if LONG else 8)


main([kills_lose_nothing])
