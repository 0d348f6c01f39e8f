"""Follows a job by Server-Sent Events and prints each stop point. Misses none, however often the link drops.

python3 follow.py [ADDRESS] [JOB]
"""

import json
import sys
import time
import urllib.request

ADDRESS = sys.argv[1] if len(sys.argv) > 1 else "http://127.0.0.1:8000"
JOB = sys.argv[2] if len(sys.argv) > 2 else "bay-1.1"


def events(answer):
    """Name, data and id of each event (HTML standard, section 9.2.6)."""
    event = {}
    for raw in answer:
        text = raw.decode().rstrip("\r\n")
        name, _, value = text.partition(":")
        if text and name:
            event[name] = value.removeprefix(" ")
        elif not text:
            if "data" in event:
                yield event["event"], json.loads(event["data"]), event.get("id")
            event = {}


seen = "0"  # the beginning; a program that has run before begins with the last id that it has seen
while True:
    request = urllib.request.Request(f"{ADDRESS}/v1/jobs/{JOB}/stream", headers={"Last-Event-ID": seen})
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:  # a comment comes at least every 10 s
            for name, data, position in events(answer):
                if name == "stop_point":
                    print(f"{data['severity']}: {data['id']} is {data['after']}. {data['text']}", flush=True)
                seen = position or seen
    except OSError:
        pass
    time.sleep(1)
