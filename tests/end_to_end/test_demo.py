"""`fillmark demo` as a person starts it: it ends by itself, at Ctrl-C or a termination signal, leaving nothing."""

from __future__ import annotations

import re
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

StartPart = Callable[..., Any]
Wait = Callable[..., None]

SCENARIO = "camper-liquid-then-vapour"
WINDOW_KG = (0.55, 0.59)
LATE_KG = 0.08
GONE_WITHIN_S = 15.0
"""Ample for a busy machine; it takes some two to five seconds."""


def address(said: str) -> str:
    """The address in what the demo has said so far, or nothing."""
    found = re.search(r"http://127\.0\.0\.1:\d+", said)
    return found[0] if found else ""


def charged_kg(url: str) -> float:
    answer = httpx.get(f"{url}/v1/bays/bay-1/glance", trust_env=False, timeout=10.0)
    return answer.json()["charged_kg"] or 0.0 if answer.is_success else 0.0


def assert_gone(url: str, folder: Path) -> None:
    """Nobody listens, and no folder stays behind."""
    with pytest.raises(httpx.ConnectError):
        httpx.get(f"{url}/health", trust_env=False)
    assert list(folder.iterdir()) == []


def test_it_ends_by_itself_with_the_mass(part: StartPart, wait: Wait, tmp_path: Path) -> None:
    folder = tmp_path / "temporary"
    folder.mkdir()
    arguments = ("--until-closed", "--quiet", "--speed", "25", "--port", "0", "--scenario", SCENARIO)
    demo = part("demo", *arguments, TMPDIR=str(folder))
    assert demo.process.wait(90.0) == 0, demo.said
    first, *_ = demo.said.splitlines()
    assert first.startswith(f"{SCENARIO} at 25 times the speed of life. The page: http://127.0.0.1:")
    mass = re.search(r"(\d+\.\d) g  ± (\d+\.\d) g \(k = 2\)", demo.said)
    assert mass is not None, demo.said
    # The simulated technician looks every fifth of a real second: he closes late by 5 s of this clock, more when busy.
    assert WINDOW_KG[0] <= float(mass[1]) / 1e3 <= WINDOW_KG[1] + LATE_KG
    assert "Traceback" not in demo.said
    wait("everything to be gone", lambda: not demo.alive(), GONE_WITHIN_S)
    assert_gone(address(demo.said), folder)


@pytest.mark.parametrize("how", ["Ctrl-C", "SIGTERM"])
def test_a_signal_in_mid_charge_ends_all_of_it(part: StartPart, wait: Wait, tmp_path: Path, how: str) -> None:
    folder = tmp_path / "temporary"
    folder.mkdir()
    demo = part("demo", "--speed", "30", "--port", "0", "--scenario", SCENARIO, TMPDIR=str(folder))
    wait("the address", lambda: address(demo.said) != "" or not demo.alive())
    url = address(demo.said)
    wait("50 g in the circuit", lambda: charged_kg(url) > 0.05)
    begun = time.monotonic()
    if how == "Ctrl-C":
        demo.signal(signal.SIGINT)  # a terminal signals the whole group
    else:
        demo.process.terminate()
    demo.process.wait(30.0)
    wait("everything to be gone", lambda: not demo.alive(), GONE_WITHIN_S)
    assert time.monotonic() - begun < GONE_WITHIN_S
    assert demo.process.returncode == 0, demo.said
    assert "stopped" in demo.said
    assert "Traceback" not in demo.said
    assert_gone(url, folder)


def test_over_bluetooth_in_memory_the_readings_come_through_the_real_drivers(
    part: StartPart, wait: Wait, tmp_path: Path
) -> None:
    folder = tmp_path / "temporary"
    folder.mkdir()
    arguments = ("--bluetooth", "--speed", "30", "--port", "0", "--scenario", SCENARIO)
    demo = part("demo", *arguments, TMPDIR=str(folder))
    wait("the address", lambda: address(demo.said) != "" or not demo.alive())
    url = address(demo.said)
    wait("50 g in the circuit", lambda: charged_kg(url) > 0.05)
    log = httpx.get(f"{url}/v1/jobs/bay-1.1/log", params={"format": "stream"}, trust_env=False, timeout=10.0).text
    for channel in ("scale/mass", "scale/stable", "low/pressure", "high/pressure", "vent/temperature", "action"):
        assert f'"n":"bay-1/{channel}"' in log
    assert "/fault" not in log
    demo.signal(signal.SIGINT)
    demo.process.wait(30.0)
    wait("everything to be gone", lambda: not demo.alive(), GONE_WITHIN_S)
    assert demo.process.returncode == 0, demo.said
    assert "Traceback" not in demo.said
    assert_gone(url, folder)
