# A small screen with MicroPython: the glance on an ESP32, an RP2040 or the like.
# Once, on the device: import mip; mip.install("requests")
import time

import requests

ADDRESS = "http://192.0.2.7:8000"
BAY = "bay-1"


def join(name, password):
    """Join the workshop's wireless network."""
    import network

    card = network.WLAN(network.STA_IF)
    card.active(True)
    if not card.isconnected():
        card.connect(name, password)
    while not card.isconnected():
        time.sleep(0.2)


def show(rows):
    """Put your display's calls here."""
    for row in rows:
        print(row)


def rows(glance):
    """Three short rows. A mass that is not live is not shown."""
    if glance["job"] is None:
        return ["NO JOB", "", ""]
    mass = f"{glance['charged_kg'] * 1000:.0f} g" if glance["mass_live"] else "- g"
    aim = f"aim {glance['aim_kg'] * 1000:.0f} g"
    return ["CLOSE VALVE" if glance["close_valve"] else mass, aim, glance["stop_point"] or ""]


def look(tag, address=ADDRESS, bay=BAY):
    """One look; the tag of what was seen, for the next one."""
    headers = {} if tag is None else {"If-None-Match": tag}
    answer = requests.get(address + "/v1/bays/" + bay + "/glance?wait=10", headers=headers, timeout=20)
    try:
        if answer.status_code == 304:
            return tag
        show(rows(answer.json()))
        return {key.lower(): value for key, value in answer.headers.items()}.get("etag")
    finally:
        answer.close()


def run():
    """For ever."""
    tag = None
    while True:
        try:
            tag = look(tag)
        except OSError:
            tag = None
            show(["NO SERVICE", "", ""])
            time.sleep(2)


if __name__ == "__main__":
    join("workshop", "the password of the network")
    run()
