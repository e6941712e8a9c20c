#!/usr/bin/env python3
"""A till that posts sales to hotday and loses none: each count is on disk before it is sent, and sent again with the same Idempotency-Key
until the service has answered.

    till.py add ITEM WINDOW_START WINDOW_END COUNT
    till.py send                                    sends what is there, oldest first, until all is taken

HOTDAY_URL, HOTDAY_SITE, HOTDAY_KEY; HOTDAY_SOURCE (till-1) and SPOOL (spool) if they are others.
"""
import json
import os
import random
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

SPOOL = Path(os.environ.get("SPOOL", "spool"))
REFUSED = SPOOL / "refused"
HOPELESS = {400, 409, 413, 415, 422}  # the same will never be taken
LONGEST_WAIT = 300  # seconds


def sync(path):
    handle = os.open(path, os.O_RDONLY)
    os.fsync(handle)
    os.close(handle)


def add(item, start, end, count):
    post = {"source": os.environ.get("HOTDAY_SOURCE", "till-1"),
            "counts": [{"item": item, "window_start": start, "window_end": end, "count": float(count)}]}
    name = f"{time.time_ns()}-{os.getpid()}"
    part = SPOOL / (name + ".part")
    part.write_text(json.dumps(post))
    sync(part)
    part.rename(SPOOL / (name + ".json"))
    sync(SPOOL)


def post(file):
    """Sends one file and returns the status, 0 if nothing answered, the Retry-After, None without, and the answer."""
    site = urllib.parse.quote(os.environ["HOTDAY_SITE"], safe="")
    request = urllib.request.Request(f"{os.environ['HOTDAY_URL']}/v1/sites/{site}/sales-counts", data=file.read_bytes(), method="POST", headers={
        "Authorization": "Bearer " + os.environ["HOTDAY_KEY"], "Content-Type": "application/json", "Idempotency-Key": file.stem})
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, None, answer.read()
    except urllib.error.HTTPError as problem:
        return problem.code, problem.headers.get("Retry-After"), problem.read()
    except OSError:  # no network, no answer, a broken connection
        return 0, None, b""


def send():
    wait = 1
    for file in sorted(SPOOL.glob("*.json")):
        while True:
            status, after, answer = post(file)
            if status == 200:
                file.unlink()
                wait = 1
                break
            if status in HOPELESS:  # keep it for a person, with the reason
                (REFUSED / (file.name + ".why")).write_bytes(answer)
                file.rename(REFUSED / file.name)
                break
            time.sleep(int(after) if after else wait * random.uniform(0.5, 1))
            wait = min(2 * wait, LONGEST_WAIT)


REFUSED.mkdir(parents=True, exist_ok=True)
if len(sys.argv) == 6 and sys.argv[1] == "add":
    add(*sys.argv[2:])
elif sys.argv[1:] == ["send"]:
    send()
else:
    sys.exit("usage: till.py add ITEM WINDOW_START WINDOW_END COUNT | till.py send")
