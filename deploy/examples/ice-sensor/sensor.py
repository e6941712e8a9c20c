#!/usr/bin/env python3
"""A level sensor in the ice bin that posts stock counts to hotday: how much ice is in the bin, whenever that has changed by a kilogram.

    read-level | sensor.py

reads the level from standard input, a line for each reading: how full the bin is, in percent. A level is the present state, so that
nothing is kept for later: a reading that cannot be sent is replaced by the next. HOTDAY_URL, HOTDAY_SITE, HOTDAY_KEY (scope kitchen);
BIN_KG, what the bin holds when it is full (60).
"""
import json
import os
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from datetime import datetime, timezone

BIN_G = 1000 * float(os.environ.get("BIN_KG", "60"))
STEP_G = 1000


def post(grams):
    """Sends a count and returns how many seconds to send nothing, 0 if it was taken."""
    site = urllib.parse.quote(os.environ["HOTDAY_SITE"], safe="")
    count = {"counted_at": datetime.now(timezone.utc).isoformat(timespec="milliseconds"), "ice_g": grams}
    request = urllib.request.Request(f"{os.environ['HOTDAY_URL']}/v1/sites/{site}/stock-counts", data=json.dumps(count).encode(), method="POST",
                                     headers={"Authorization": "Bearer " + os.environ["HOTDAY_KEY"], "Content-Type": "application/json"})
    try:
        with urllib.request.urlopen(request, timeout=10):
            return 0
    except urllib.error.HTTPError as problem:
        print(problem.read().decode(), file=sys.stderr)
        return int(problem.headers.get("Retry-After", "60"))
    except OSError as why:
        print(why, file=sys.stderr)
        return 10


def main():
    sent, quiet_until = None, 0
    for line in sys.stdin:
        try:
            percent = float(line)
        except ValueError:
            percent = -1
        if not 0 <= percent <= 100:  # a broken sensor: no count is better than a wrong one
            print(f"{line.strip()!r} is not a level from 0 to 100", file=sys.stderr)
            continue
        grams = round(BIN_G * percent / 100, -2)
        if time.monotonic() < quiet_until or (sent is not None and abs(grams - sent) < STEP_G):
            continue
        wait = post(grams)
        if wait:
            quiet_until = time.monotonic() + wait
        else:
            sent = grams


main()
