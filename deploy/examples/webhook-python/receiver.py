#!/usr/bin/env python3
"""A receiver of hotday's webhooks, signed as Standard Webhooks says: it checks the signature and its age, keeps each event once, and
answers as soon as the event is on disk. What is to be done with events is done later, from the file.

    HOTDAY_WEBHOOK_SECRET=whsec_… receiver.py 127.0.0.1:9000 events.jsonl
"""
import base64
import hashlib
import hmac
import json
import os
import sys
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

MAX_AGE = 5 * 60  # seconds, of a signature, and how far ahead it may be
MAX_BODY = 1 << 20


class Inbox:
    """Events in a file, a line each."""

    def __init__(self, name):
        self.lock = threading.Lock()  # also keeps two deliveries of one event apart
        self.file = open(name, "a+", encoding="utf-8")
        self.seen = set()
        self.file.seek(0)
        for line in self.file:
            try:
                self.seen.add(json.loads(line)["id"])
            except ValueError:
                pass  # the last line may be half written

    def keep(self, event_id, body):
        """Writes an event to disk unless it is there: attempts and replays of a delivery have the same ID."""
        with self.lock:
            if event_id in self.seen:
                return
            self.file.write(json.dumps({"id": event_id, "body": json.loads(body)}) + "\n")
            self.file.flush()
            os.fsync(self.file.fileno())
            self.seen.add(event_id)


def fault(key, headers, body, now):
    """What is wrong with a delivery, None if nothing: one of the signatures must be v1 and that of ID, timestamp and body."""
    event_id, timestamp = headers.get("webhook-id", ""), headers.get("webhook-timestamp", "")
    if not event_id or not timestamp.isdecimal():
        return "no webhook-id or webhook-timestamp"
    if abs(now - int(timestamp)) > MAX_AGE:
        return "the signature is of another time; check this machine's clock"
    want = base64.b64encode(hmac.new(key, f"{event_id}.{timestamp}.".encode() + body, hashlib.sha256).digest())
    for signature in headers.get("webhook-signature", "").split():
        version, _, text = signature.partition(",")
        if version == "v1" and hmac.compare_digest(text.encode(), want):  # takes as long whichever byte differs
            return None
    return "no signature is valid"


class Handler(BaseHTTPRequestHandler):
    timeout = 10

    def do_POST(self):
        length = int(self.headers.get("Content-Length", 0))
        if length > MAX_BODY:
            return self.answer(413, "too large")
        body = self.rfile.read(length)
        wrong = fault(self.server.key, self.headers, body, time.time())
        if wrong:
            return self.answer(401, wrong)
        self.server.inbox.keep(self.headers["webhook-id"], body)  # if this fails, it is sent again
        self.answer(204)

    def answer(self, status, text=""):
        self.send_response(status)
        self.send_header("Content-Length", str(len(text.encode())))
        self.end_headers()
        self.wfile.write(text.encode())


def main():
    if len(sys.argv) != 3:
        sys.exit("usage: receiver.py ADDRESS FILE")
    host, _, port = sys.argv[1].rpartition(":")
    server = ThreadingHTTPServer((host, int(port)), Handler)
    server.key = base64.b64decode(os.environ.get("HOTDAY_WEBHOOK_SECRET", "").removeprefix("whsec_"))
    if not server.key:
        sys.exit("HOTDAY_WEBHOOK_SECRET is not a secret such as whsec_…")
    server.inbox = Inbox(sys.argv[2])
    server.serve_forever()


main()
