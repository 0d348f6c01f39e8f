"""`fillmark demo --bluetooth`: its configuration is one that a user could write, and what is missing is named."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fillmark.cli.demo import CONFIG
from fillmark.cli.demo_radio import configuration
from fillmark.wire import extras
from fillmark.wire.clock import Clock
from fillmark_agent.bluetooth.broadcast import BroadcastDevice
from fillmark_agent.bluetooth.device import BluetoothDevice
from fillmark_agent.config_file import parse
from fillmark_agent.drivers.build import build_devices
from fillmark_agent.drivers.simulated import SimulatedDevice

Run = Callable[..., Any]


async def test_every_instrument_is_a_device_of_its_own_and_the_bay_keeps_the_technician() -> None:
    text = CONFIG.format(url='"http://127.0.0.1:8000"', scenario='"harvester-clean"', seed=1) + configuration()
    bay, *instruments = build_devices(parse(text, Path("bay.toml"), {}), Clock())
    assert isinstance(bay, SimulatedDevice)
    kinds = [type(one) for one in instruments]
    assert kinds == [BluetoothDevice] * 3 + [BroadcastDevice] * 5
    channels = sorted(channel for one in instruments for channel in one.info.channels)
    assert channels == [
        "bay-1/ambient/temperature", "bay-1/container/temperature", "bay-1/high/pressure", "bay-1/liquid/temperature",
        "bay-1/low/pressure", "bay-1/scale/mass", "bay-1/scale/stable", "bay-1/suction/temperature",
        "bay-1/vent/temperature",
    ]  # fmt: skip


def test_without_the_stack_in_memory_the_demo_says_what_to_install(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [one for one in sys.modules if one.startswith("fillmark_sim.bluetooth")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setattr(extras, "PACKAGES", {**extras.PACKAGES, "bluetooth-sim": ("no_such_stack", "bumble")})
    outcome = run("demo", "--bluetooth", "--port", "0")
    assert outcome.status != 0
    assert "pip install 'fillmark[bluetooth-sim]'" in outcome.one_line
