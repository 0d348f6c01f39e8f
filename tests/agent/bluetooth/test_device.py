"""A connected device from its first advertisement to records of channels, over bumble's stack in memory."""

from __future__ import annotations

import logging
import struct
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from typing import Any

import pytest

from fillmark_agent.device import Device
from fillmark_sim.bluetooth.instruments import FINE_STABLE, RAW_MESSAGE, Probe, Scale

Until = Callable[..., Any]
Run = Callable[..., AbstractAsyncContextManager[Any]]
MakeDriver = Callable[..., Device]
Table = dict[str, Any]


async def test_a_scale_that_describes_itself_gives_its_mass_battery_and_signal(
    scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    scale_table["channels"].append({"channel": "scale/stable", "characteristic": FINE_STABLE})
    device = driver(scale_table)
    async with running(device) as log:
        await until(lambda: scale.subscribed(scale.stable))
        await scale.weigh(1.2143, stable=False)
        await scale.weigh(1.2145, stable=True)
        await until(lambda: len(log.values("scale/stable")) == 2)
    assert log.values("scale/mass") == [1.2143, 1.2145]
    assert log.values("scale/stable") == [False, True]
    assert log.values("scale/battery") == [87.0]
    assert len(log.values("scale/rssi")) == 1
    assert {r.name: r.unit for r in log.records if r.value is not None} == {
        "bay-1/scale/mass": "kg", "bay-1/scale/battery": "%EL", "bay-1/scale/rssi": "dBW",
    }  # fmt: skip
    assert device.info.battery_percent == 87.0
    assert "scale: manufacturer Invented Instruments, model SIM-SCALE" in caplog.text
    assert not scale.connected


async def test_the_weight_scale_profile_is_read_by_its_number(
    scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    scale_table["channels"] = [{"channel": "scale/mass", "characteristic": "2a9d"}]
    async with running(driver(scale_table)) as log:
        await until(lambda: scale.subscribed(scale.weight))
        await scale.send(scale.weight, struct.pack("<BH", 0, 2003))
        await scale.send(scale.weight, struct.pack("<BH", 0, 0xFFFF))
        await scale.send(scale.weight, struct.pack("<BH", 1, 2003))
        await scale.send(scale.weight, b"\0")
        await scale.send(scale.weight, struct.pack("<BH", 0, 2004))
        await until(lambda: len(log.values("scale/mass")) == 2)
    assert log.values("scale/mass") == [10.015, 10.02]
    faults = [str(fault).partition(":")[0] for fault in log.values("scale/mass/fault")]
    assert faults == ["unsuccessful", "unit-changed", "truncated", "none"]


async def test_the_environmental_sensing_profile_feeds_three_channels(
    probe: Probe, driver: MakeDriver, running: Run, until: Until
) -> None:
    channels = {"low/pressure": "2a6d", "suction/temperature": "2a6e", "ambient/humidity": "0x2A6F"}
    table = {
        "driver": "bluetooth", "name": "low", "local_name": "SIM-PROBE",
        "channels": [{"channel": name, "characteristic": uuid} for name, uuid in channels.items()],
    }  # fmt: skip
    async with running(driver(table)) as log:
        await until(lambda: probe.subscribed(probe.humidity))
        await probe.press(310_000.3)
        await probe.warm(-12.34)
        await probe.moisten(55.5)
        await until(lambda: bool(log.values("ambient/humidity")))
    assert log.values("low/pressure") == [310_000.3]
    assert log.values("suction/temperature") == [-12.34]
    assert log.values("ambient/humidity") == [55.5]


async def test_raw_messages_are_read_by_a_declared_layout(
    scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    mass = {"offset": 1, "format": "sint32", "scale": 0.0001, "unit": "kg", "length": 6, "starts_with": "a1"}
    scale_table["channels"] = [
        {"channel": "scale/mass", "characteristic": RAW_MESSAGE, "layout": mass},
        {
            "channel": "scale/stable",
            "characteristic": RAW_MESSAGE,
            "layout": {"offset": 5, "format": "uint8", "bit": 0},
        },
    ]
    async with running(driver(scale_table)) as log:
        await until(lambda: scale.subscribed(scale.raw))
        await scale.weigh(2.5, stable=True)
        await until(lambda: bool(log.values("scale/stable")))
    assert log.values("scale/mass") == [2.5]
    assert log.values("scale/stable") == [True]


@pytest.mark.usefixtures("scale")
async def test_a_value_that_is_not_sent_is_asked_for(
    scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    # The feature characteristic stands in for a reading that can only be read; its first byte is 56.
    layout = {"offset": 0, "format": "uint8", "scale": 0.1, "unit": "kg"}
    scale_table["channels"] = [
        {"channel": "scale/mass", "characteristic": "2a9e", "poll_s": 0.01, "layout": layout},
    ]
    async with running(driver(scale_table)) as log:
        await until(lambda: len(log.values("scale/mass")) >= 3)
    assert set(log.values("scale/mass")) == {5.6}


async def test_a_channel_that_nothing_describes_is_an_event_and_the_others_go_on(
    scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    scale_table["channels"].append({"channel": "other/mass", "characteristic": RAW_MESSAGE})
    async with running(driver(scale_table)) as log:
        await until(lambda: scale.subscribed(scale.mass))
        await scale.weigh(1.0)
        await until(lambda: bool(log.values("scale/mass")))
    (fault,) = log.values("other/mass/fault")
    assert str(fault).startswith("unreadable: ")
    assert log.values("other/mass") == []


async def test_a_device_that_keeps_its_battery_to_itself_is_read_all_the_same(
    scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    scale.battery_percent = None
    async with running(driver(scale_table)) as log:
        await until(lambda: scale.subscribed(scale.mass))
        await scale.weigh(1.0)
        await until(lambda: log.values("scale/mass") == [1.0])
    assert log.values("scale/battery") == []


async def test_a_battery_that_drains_is_told(
    scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    device = driver(scale_table)
    async with running(device) as log:
        await until(lambda: scale.subscribed(scale.mass))
        await scale.drain(15)
        await scale.weigh(1.0)
        await until(lambda: log.values("scale/battery") == [87.0, 15.0])
    assert device.info.battery_percent == 15.0
