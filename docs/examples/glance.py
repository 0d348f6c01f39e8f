"""Prints the mass whenever something changes: the glance with a long poll. Standard library only.

python3 glance.py [ADDRESS] [BAY]
"""

import json
import sys
import time
import urllib.error
import urllib.request

ADDRESS = sys.argv[1] if len(sys.argv) > 1 else "http://127.0.0.1:8000"
BAY = sys.argv[2] if len(sys.argv) > 2 else "bay-1"


def line(glance):
    """One line for people. A mass that is not live is not shown."""
    if glance["job"] is None:
        return "no job"
    mass = (
        f"{glance['charged_kg'] * 1000:.0f} g of {glance['aim_kg'] * 1000:.0f} g" if glance["mass_live"] else "no mass"
    )
    return f"{mass}  {glance['text'] or ''}".rstrip()


tag = None
while True:
    request = urllib.request.Request(f"{ADDRESS}/v1/bays/{BAY}/glance?wait=20")
    if tag is not None:
        request.add_header("If-None-Match", tag)
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            tag = answer.headers["ETag"]
            print(line(json.load(answer)), flush=True)
    except urllib.error.HTTPError as error:
        if error.code != 304:  # 304: nothing new within 20 s
            raise
    except OSError:
        tag = None
        print("the service does not answer", flush=True)
        time.sleep(2)
