"""Receives webhooks, checks who sent them, and prints each change of a stop point once. Standard library only.

FILLMARK_WEBHOOK_SECRET=whsec_… python3 receiver.py [PORT]
"""

import base64
import hashlib
import hmac
import http.server
import json
import os
import sys
import time

KEY = base64.b64decode(os.environ["FILLMARK_WEBHOOK_SECRET"].removeprefix("whsec_"))
TOLERANCE_S = 300
seen = set()  # keep it on disk where a message must not be acted on twice


def is_genuine(headers, body):
    """Whether the body was signed with our key, not long ago (Standard Webhooks, scheme v1)."""
    message_id, timestamp = headers.get("webhook-id", ""), headers.get("webhook-timestamp", "")
    if not timestamp.isdigit() or abs(time.time() - int(timestamp)) > TOLERANCE_S:
        return False
    digest = hmac.new(KEY, f"{message_id}.{timestamp}.".encode() + body, hashlib.sha256).digest()
    wanted = "v1," + base64.b64encode(digest).decode()
    return any(hmac.compare_digest(wanted, given) for given in headers.get("webhook-signature", "").split())


class Receiver(http.server.BaseHTTPRequestHandler):
    """Answers 204 for what it has taken and 401 for what it does not believe."""

    def do_POST(self):
        body = self.rfile.read(int(self.headers.get("content-length", 0)))
        genuine = is_genuine(self.headers, body)
        self.send_response(204 if genuine else 401)
        self.end_headers()
        if genuine and self.headers["webhook-id"] not in seen:
            seen.add(self.headers["webhook-id"])
            moved = json.loads(body)["data"]
            print(f"{moved['bay']}: {moved['id']} is {moved['after']}. {moved['text']}", flush=True)

    def log_message(self, *_):
        """Print nothing else."""


server = http.server.ThreadingHTTPServer(("127.0.0.1", int(sys.argv[1]) if len(sys.argv) > 1 else 9000), Receiver)
print(f"receiving on port {server.server_address[1]}", flush=True)
server.serve_forever()
